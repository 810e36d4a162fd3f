//! Pictures of the report: valid SVG for any trace, the same bytes for the same input.

use std::path::PathBuf;

use billet_thermal::inside::picture as chart;
use billet_thermal::inside::report::{self, Span, View};
use billet_thermal::units::Display;

use super::report_fixture::invented;

/// Where the pictures of this check are left for a person to look at.
fn look(name: &str, svg: &str) {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("report-look");
    std::fs::create_dir_all(&folder).unwrap();
    std::fs::write(folder.join(name), svg).unwrap();
}

#[test]
fn history_names_nodes_stages_and_limits() {
    for (broken, name) in [(false, "history.svg"), (true, "history-broken.svg")] {
        let trace = invented(broken);
        let svg = report::history_svg(&trace, Display::Metric);
        look(name, &svg);
        for text in ["core", "surface", "flash.mean", "heater to upsetter", "finisher"] {
            assert!(svg.contains(text), "{text}");
        }
        assert_eq!(svg.contains('\u{2717}'), broken);
        assert_eq!(svg, report::history_svg(&trace, Display::Metric));
    }
    let trace = invented(false);
    let view = View::from(Display::Us);
    look("history-us.svg", &report::history(&trace, &view, Span::Line).svg);
    look("history-whole.svg", &report::history(&trace, &view, Span::Whole).svg);
}

#[test]
fn maps_draw_every_kind_of_section() {
    let trace = invented(false);
    let range = report::common_range(&trace.maps);
    for (i, map) in trace.maps.iter().enumerate() {
        let svg = report::map_svg(map, Display::Metric);
        look(&format!("map-{i}.svg"), &svg);
        assert!(svg.contains(&map.title));
        assert!(svg.len() < 150_000, "{} bytes", svg.len());
        let shared = report::section(map, &View::from(Display::Us), range);
        look(&format!("map-{i}-us.svg"), &shared.svg);
    }
}

#[test]
fn other_charts_can_be_looked_at() {
    let style = chart::Style::default();
    let bars = chart::BarChart {
        title: "heat by cause".into(),
        axis: chart::Axis::new("heat", "kJ"),
        bars: [
            ("radiation and convection", -67.0),
            ("lower dies", -118.0),
            ("deformation", 45.0),
        ]
        .map(|(name, value)| chart::Bar {
            name: name.into(),
            value,
            note: String::new(),
            alarm: value < -100.0,
        })
        .to_vec(),
        decimals: 0,
    };
    look("bars.svg", &bars.draw(&style).svg);
    let step = |name: &str, kind, value, note: &str| chart::Step {
        name: name.into(),
        kind,
        value,
        note: note.into(),
    };
    let fall = chart::Waterfall {
        title: "surface from heater exit to last blow".into(),
        axis: chart::Axis::new("temperature", "\u{b0}C"),
        steps: vec![
            step("heater exit", chart::StepKind::Level, 1240.0, ""),
            step("heater to upsetter", chart::StepKind::Change, -48.0, "4.2 s"),
            step("upsetter", chart::StepKind::Change, -31.0, "0.9 s"),
            step("to blocker", chart::StepKind::Change, 12.0, "1.6 s"),
            step("blocker", chart::StepKind::Change, -88.0, "3.0 s"),
            step("last blow", chart::StepKind::Level, 1085.0, ""),
        ],
        limit: Some((950.0, "at least 950 \u{b0}C".into())),
        decimals: 0,
    };
    look("waterfall.svg", &fall.draw(&style).svg);
    let histogram = chart::Histogram {
        title: "first blow, surface".into(),
        axis: chart::Axis::new("temperature", "\u{b0}C"),
        counted: "parts".into(),
        values: (0..4000)
            .map(|i| {
                let a = f64::from(i * 7919 % 4001) / 4001.0;
                let b = f64::from(i * 104_729 % 4003) / 4003.0;
                1185.0 + 14.0 * (-2.0 * (a + 1e-6).ln()).sqrt() * (std::f64::consts::TAU * b).cos()
            })
            .collect(),
        given: vec![],
        low_limit: Some(1150.0),
        high_limit: Some(1250.0),
        rules: vec![chart::Rule {
            value: 1185.0,
            upright: true,
            label: "mean 1185".into(),
        }],
    };
    look("histogram.svg", &histogram.draw(&style).svg);
    let bar = |name: &str, from: f64, to: f64, idle| chart::CycleBar {
        name: name.into(),
        x: (from, to),
        idle,
    };
    let cycle = chart::CycleChart {
        above: None,
        title: "one takt".into(),
        axis: chart::Axis::new("time", "s"),
        rows: vec![
            chart::CycleRow {
                name: "heater".into(),
                bars: vec![bar("extract", 0.0, 1.1, false), bar("sort", 1.1, 1.8, false)],
            },
            chart::CycleRow {
                name: "robot 1".into(),
                bars: vec![
                    bar("grip", 1.8, 2.1, false),
                    bar("move", 2.1, 3.9, false),
                    bar("wait for ram at top", 3.9, 4.2, true),
                    bar("place", 4.2, 4.7, false),
                ],
            },
            chart::CycleRow {
                name: "hammer".into(),
                bars: vec![bar("blows", 4.9, 8.4, false)],
            },
        ],
        rules: vec![chart::Rule {
            value: 12.0,
            upright: true,
            label: "takt 12.0 s".into(),
        }],
    };
    look("cycle.svg", &cycle.draw(&style).svg);
    let family = chart::LineChart {
        title: "allowed wait by exit temperature".into(),
        x: chart::Axis::new("exit temperature", "\u{b0}C"),
        y: chart::Axis::new("allowed wait", "s"),
        series: ["surface 1150", "edge 1100", "mean 1180"]
            .iter()
            .enumerate()
            .map(|(k, name)| chart::Series {
                name: (*name).into(),
                points: (0..9)
                    .map(|i| {
                        let x = 1180.0 + 10.0 * f64::from(i);
                        (x, Some(2.0 + 0.2 * (x - 1180.0) * (1.0 - 0.2 * k as f64)))
                    })
                    .collect(),
                ink: k,
                dots: k == 0,
                hidden: false,
            })
            .collect(),
        rules: vec![chart::Rule {
            value: 9.0,
            upright: false,
            label: "robot 9.0 s".into(),
        }],
        ..chart::LineChart::default()
    };
    look("family.svg", &family.draw(&style).svg);
}

#[test]
fn every_picture_is_well_formed() {
    // the XML reader of the quick-xml crate checks names, nesting and escapes
    let trace = invented(true);
    let mut pictures = vec![report::history_svg(&trace, Display::Metric)];
    pictures.extend(trace.maps.iter().map(|m| report::map_svg(m, Display::Us)));
    for svg in pictures {
        well_formed(&svg);
    }
}

/// Fails unless the text is one well-formed XML element.
pub fn well_formed(svg: &str) {
    let mut reader = quick_xml::Reader::from_str(svg);
    reader.config_mut().check_end_names = true;
    let (mut depth, mut roots) = (0_i32, 0);
    loop {
        match reader.read_event() {
            Ok(quick_xml::events::Event::Start(tag)) => {
                for attribute in tag.attributes() {
                    attribute.unwrap().unescape_value().unwrap();
                }
                roots += i32::from(depth == 0);
                depth += 1;
            }
            Ok(quick_xml::events::Event::End(_)) => depth -= 1,
            Ok(quick_xml::events::Event::Empty(tag)) => {
                for attribute in tag.attributes() {
                    attribute.unwrap().unescape_value().unwrap();
                }
            }
            Ok(quick_xml::events::Event::Eof) => break,
            Ok(_) => {}
            Err(e) => panic!("{e} at {}", reader.error_position()),
        }
    }
    assert_eq!((depth, roots), (0, 1));
    assert!(!svg.contains("NaN") && !svg.contains("inf,") && !svg.contains("\"inf"));
}
