//! Sheet and report: valid HTML for any title, complete, self-contained, the same bytes again, and
//! printed by a real browser on the stated number of pages.

use std::path::{Path, PathBuf};

use billet_thermal::inside::ask::enquiry::Enquiry;
use billet_thermal::inside::ask::model::Model;
use billet_thermal::inside::line::file::Document;
use billet_thermal::inside::line::plan::Resolution;
use billet_thermal::inside::line::run::{RunOptions, run};
use billet_thermal::inside::report::{DelayRow, Dossier, Language, Paper, View, report_html, sheet_html, stops, times};
use billet_thermal::inside::show::{Block, Cell, Column, Quantity, Table};
use billet_thermal::units::Display;
use html5ever::tendril::TendrilSink;

use super::browser::headless;
use super::report_fixture::invented;
use super::report_pictures::well_formed;

const FILE: &str = "title = \"Pump coupling hub (invented)\"\n[billet]\nsteel = \"42CrMo4\"\n";

fn folder() -> PathBuf {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR")).join("report-look");
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

/// Parse errors of the HTML standard's own algorithm, by html5ever.
fn faults(html: &str) -> Vec<String> {
    let dom = html5ever::parse_document(markup5ever_rcdom::RcDom::default(), Default::default()).one(html);
    dom.errors.borrow().iter().map(ToString::to_string).collect()
}

fn full<'a>(trace: &'a billet_thermal::inside::line::Trace) -> Dossier<'a> {
    let mut dossier = Dossier::new(trace, "hub.toml", FILE);
    dossier.part = "FL-2085".into();
    dossier.revision = "C".into();
    dossier.date = "2026-11-25".into();
    dossier.exit_band_c = Some((1205.3, 1257.8));
    dossier.delays = [
        ("heater to upsetter", 6.13, 8.29, "surface"),
        ("to blocker", 2.6, 3.8, "edge"),
        ("to trimming press", 4.4, 6.9, "flash.mean"),
    ]
    .map(|(stage, alarm, reject, node)| DelayRow {
        stage: stage.into(),
        alarm_s: Some(alarm),
        planned_s: 4.2,
        earliest_s: None,
        reject_s: Some(reject),
        node: node.into(),
        guard_used: false,
    })
    .to_vec();
    let stop = |stop_s: f64, what: &str, reject: usize| {
        vec![
            Cell::number(stop_s, Quantity::Seconds),
            Cell::name(what),
            Cell::count(reject),
        ]
    };
    let columns = vec![
        Column::numbers(Cell::name("stop"), Quantity::Seconds),
        Column::words(Cell::name("do")),
        Column::numbers(Cell::name("reject"), Quantity::Count),
    ];
    let table = Table::new(columns)
        .caption(Cell::name("stop of the hammer"))
        .row(stop(20.0, "carry on", 0))
        .row(stop(60.0, "reject what is on the line", 3));
    dossier.stops = Some(vec![Block::sentence(Cell::name("Invented rows.")), Block::Table(table)]);
    dossier
}

#[test]
fn pages_are_valid_in_every_language() {
    for broken in [false, true] {
        let trace = invented(broken);
        let dossier = full(&trace);
        for language in Language::ALL {
            let view = View::new(Display::Metric, language);
            let sheet = sheet_html(&dossier, &view, Paper::A4);
            let report = report_html(&dossier, &view, Paper::A4);
            for (name, html) in [("sheet", &sheet), ("report", &report)] {
                assert_eq!(faults(html), [""; 0], "{name} {}", language.code());
                assert!(html.contains(&format!("<html lang=\"{}\"", language.tag())));
                assert!(html.contains(language.say("caution.support")));
                assert!(html.len() < 2_000_000);
                let state = if broken { "-broken" } else { "" };
                std::fs::write(folder().join(format!("{name}-{}{state}.html", language.code())), html).unwrap();
            }
        }
    }
}

#[test]
fn us_units_reach_the_sheet() {
    let trace = invented(false);
    let view = View::new(Display::Us, Language::En);
    let sheet = sheet_html(&full(&trace), &view, Paper::Letter);
    // 1150 degC is 2102 degF; the exit band 1205.3 to 1257.8 degC is 2201.54 to 2296.04 degF and is
    // rounded inwards
    assert!(sheet.contains("\u{2265}\u{a0}2102\u{a0}\u{b0}F"));
    assert!(sheet.contains("2202\u{a0}\u{2013}\u{a0}2296\u{a0}\u{b0}F"));
    assert!(!sheet.contains("\u{b0}C"));
    std::fs::write(folder().join("sheet-us.html"), sheet).unwrap();
    let report = report_html(&full(&trace), &view, Paper::Letter);
    std::fs::write(folder().join("report-us.html"), report).unwrap();
}

#[test]
fn times_on_the_sheet_are_rounded_to_the_safe_side() {
    let trace = invented(false);
    let view = View::new(Display::Metric, Language::De);
    let sheet = sheet_html(&full(&trace), &view, Paper::A4);
    for text in ["6,1\u{a0}s", "8,2\u{a0}s", "1206\u{a0}\u{2013}\u{a0}1257\u{a0}\u{b0}C"] {
        assert!(sheet.contains(text), "{text}");
    }
    // without a guard band: 9.54 s, printed 9.5 s, not before 3.21 s, printed 3.3 s, and no alarm time
    let mut plain = Dossier::new(&trace, "hub.toml", FILE);
    plain.delays = vec![DelayRow {
        stage: "heater to upsetter".into(),
        planned_s: 4.2,
        earliest_s: Some(3.21),
        alarm_s: None,
        reject_s: Some(9.54),
        node: "surface".into(),
        guard_used: false,
    }];
    let sheet = sheet_html(&plain, &view, Paper::A4);
    assert!(sheet.contains("9,5\u{a0}s") && sheet.contains("3,3\u{a0}s"));
    assert!(sheet.contains(Language::De.say("sheet.guard_missing")));
}

#[test]
fn missing_results_say_why() {
    let trace = invented(false);
    let report = report_html(&Dossier::new(&trace, "hub.toml", ""), &View::default(), Paper::A4);
    for reason in ["reason.not_run", "reason.measured", "reason.no_file"] {
        assert!(report.contains(Language::En.say(reason)), "{reason}");
    }
}

#[test]
fn hostile_titles_do_no_harm() {
    let titles = [
        "<script>alert(1)</script><img src=x onerror=alert(2)>".to_owned(),
        "\"quotes\" 'single' & </title></style></script> ]]> {n}".to_owned(),
        "\u{1f525}\u{1f468}\u{200d}\u{1f3ed} \u{0627}\u{0644}\u{062d}\u{062f}\u{0627}\u{062f}\u{0629} \u{9505}\u{9020}"
            .to_owned(),
        "\u{0}\u{1b}[31m\u{202e}gnorw\u{7}\r\n\t".to_owned(),
        "x".repeat(10_000),
        "wide words ".repeat(900),
    ];
    for title in titles {
        let mut trace = invented(true);
        trace.title = title.clone();
        trace.nodes[1] = title.clone();
        trace.stages[1].name = title.clone();
        trace.warnings[0].message = title.clone();
        trace.inputs[0].value = title.clone();
        for verdict in &mut trace.verdicts {
            verdict.limit.source = title.clone();
            verdict.margin_stage = Some(title.clone());
        }
        for map in &mut trace.maps {
            map.title = title.clone();
        }
        let mut dossier = full(&trace);
        dossier.part = title.clone();
        dossier.note = title.clone();
        dossier.file_text = title.clone();
        let view = View::default();
        let report = report_html(&dossier, &view, Paper::A4);
        let sheet = sheet_html(&dossier, &view, Paper::A4);
        for html in [&report, &sheet] {
            assert_eq!(faults(html), [""; 0], "{}", title.chars().take(40).collect::<String>());
            assert!(!html.contains("<script>alert") && !html.contains("<img"));
            assert!(!html.contains('\u{202e}') && !html.contains('\u{1b}'));
            assert!(html.len() < 2_000_000, "{}", html.len());
        }
        // exactly the two scripts of the page itself
        assert_eq!(report.matches("<script").count(), 2);
        assert_eq!(report.matches("</script").count(), 2);
        well_formed(&billet_thermal::inside::report::history_svg(&trace, Display::Metric));
        for line in billet_thermal::inside::report::verdict_text(&trace, Display::Metric).lines() {
            assert!(unicode_width::UnicodeWidthStr::width(line) <= 80, "{line}");
        }
    }
}

#[test]
fn nothing_is_fetched_and_the_same_input_gives_the_same_bytes() {
    let trace = invented(true);
    let dossier = full(&trace);
    let view = View::new(Display::Metric, Language::Fr);
    let one = report_html(&dossier, &view, Paper::A4);
    assert_eq!(one, report_html(&dossier, &view, Paper::A4));
    assert!(one.contains("default-src 'none'"));
    for link in ["src=", "url(", "@import", "href=\"http", "<link"] {
        assert!(!one.contains(link), "{link}");
    }
    // the line file stands in the report in full
    for line in FILE.lines() {
        assert!(one.contains(&line.replace('"', "&quot;")), "{line}");
    }
}

#[test]
fn structure_of_the_report() {
    let trace = invented(true);
    let html = report_html(&full(&trace), &View::default(), Paper::A4);
    // headings in order, one main heading, every picture with words, every table with heads
    let headings: Vec<&str> = html
        .split("<h2>")
        .skip(1)
        .filter_map(|rest| rest.split("</h2>").next())
        .collect();
    insta::assert_snapshot!(headings.join("\n").replace('\u{2002}', " "), @r"
    1 Verdict
    2 Temperature history
    3 Margins
    4 Temperatures at the moments
    5 Section maps
    6 Dies and other tools
    7 Heat bill
    8 After a stop
    9 Warnings
    10 Inputs and their owners
    11 Energy ledger
    12 Line file
    ");
    assert_eq!(html.matches("<h1>").count(), 1);
    // what was not asked for is one line, not a section each
    assert!(
        html.contains("Not in this report: how certain, Delay limits, Sensitivities, Scatter"),
        "{html}"
    );
    let sheet = sheet_html(&full(&trace), &View::default(), Paper::A4);
    assert_eq!(sheet.matches("<h1>").count(), 1);
    assert_eq!(
        html.matches("<svg").count(),
        html.matches("role=\"img\" aria-label=\"").count()
    );
    assert_eq!(html.matches("<table").count(), html.matches("<thead").count());
    let title = html.split("<title>").nth(1).unwrap().split("</title>").next().unwrap();
    assert_eq!(title, "Report \u{2013} Pump coupling hub (invented)");
}

/// Prints a page to PDF; gives the number of pages and what the browser said on its console.
fn print(page: &Path) -> Option<(usize, String)> {
    let (mut browser, profile) = headless()?;
    let pdf = profile.path().join("out.pdf");
    let output = browser
        .args(["--no-pdf-header-footer", "--enable-logging=stderr"])
        .arg(format!("--print-to-pdf={}", pdf.display()))
        .arg(format!("file://{}", page.display()))
        .output()
        .unwrap();
    let bytes = std::fs::read(&pdf).unwrap_or_default();
    let text = String::from_utf8_lossy(&bytes);
    let pages = text.matches("/Type /Page\n").count();
    let console: String = String::from_utf8_lossy(&output.stderr)
        .lines()
        .filter(|l| l.contains("CONSOLE"))
        .map(|l| format!("{l}\n"))
        .collect();
    Some((pages, console))
}

#[test]
fn a_browser_prints_the_pages() {
    let trace = invented(false);
    let broken = invented(true);
    let mut without_stops = full(&trace);
    without_stops.stops = None;
    let english = View::default();
    let polish = View::new(Display::Metric, Language::Pl);
    let pages = [
        ("one.html", sheet_html(&without_stops, &polish, Paper::A4), 1..=1),
        ("two.html", sheet_html(&full(&trace), &english, Paper::Letter), 2..=2),
        ("void.html", sheet_html(&full(&broken), &english, Paper::Letter), 1..=1),
        ("report.html", report_html(&full(&broken), &english, Paper::A4), 5..=12),
    ];
    for (name, html, expected) in pages {
        let path = folder().join(name);
        std::fs::write(&path, html).unwrap();
        let Some((pages, console)) = print(&path) else {
            println!("skipped: no chromium on this machine to print {name}");
            return;
        };
        assert!(expected.contains(&pages), "{name}: {pages} pages");
        assert_eq!(console, "", "{name}");
    }
}

/// A sheet that is not released gives no times, nobody to release it, and looks void.
#[test]
fn a_sheet_that_is_not_released_looks_so() {
    let trace = invented(true);
    let sheet = sheet_html(&full(&trace), &View::default(), Paper::A4);
    assert!(sheet.contains("class=\"sheet void\"") && sheet.contains("NOT RELEASED"));
    for words in ["released by", "reject after", "After a stop"] {
        assert!(!sheet.contains(words), "{words}");
    }
    let good = sheet_html(&full(&invented(false)), &View::default(), Paper::A4);
    assert!(!good.contains("class=\"sheet void\"") && good.contains("released by"));
    // each of its pages bears part, revision, hash and its number
    assert_eq!(good.matches("part FL-2085 \u{b7} revision C").count(), 2);
    assert!(
        good.contains("<span>1 / 2</span>") && good.contains("<span>2 / 2</span>"),
        "{good}"
    );
}

/// Two pages at most in every language, with the stop table of a real line.
#[test]
fn a_sheet_takes_two_pages_in_every_language() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/hub.toml");
    let document = Document::load(&file).unwrap();
    let enquiry = Enquiry::new(document.clone(), Some(Resolution::Quick)).unwrap();
    let trace = enquiry.trace().unwrap();
    let judged = enquiry.judged().unwrap();
    let times = judged.times().unwrap();
    let stops_s = [5.0, 10.0, 20.0, 60.0, 300.0];
    let found = judged.stops(&stops_s, 3600.0, false).unwrap();
    let asked = stops::Asked {
        stops_s: &stops_s,
        longest_s: 3600.0,
    };
    let mut dossier = Dossier::new(&trace, "hub.toml", document.text());
    dossier.part = "FL-2085".into();
    dossier.delays = times::delay_rows(&times, enquiry.model.limits());
    dossier.stops = Some(stops::section(&judged, &found, &asked));
    for language in Language::ALL {
        let path = folder().join(format!("hub-sheet-{}.html", language.code()));
        std::fs::write(
            &path,
            sheet_html(&dossier, &View::new(Display::Metric, language), Paper::A4),
        )
        .unwrap();
        let Some((pages, console)) = print(&path) else {
            println!("skipped: no chromium on this machine");
            return;
        };
        assert_eq!((pages, console.as_str()), (2, ""), "{}", language.code());
    }
}

#[test]
fn every_example_gives_pages_that_a_browser_prints() {
    let examples = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples");
    let mut files: Vec<PathBuf> = std::fs::read_dir(examples)
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e == "toml"))
        .collect();
    files.sort();
    assert!(files.len() >= 4);
    let view = View::default();
    let mut skipped = false;
    for file in files {
        let name = file.file_stem().unwrap().to_string_lossy().into_owned();
        let document = Document::load(&file).unwrap();
        let options = RunOptions {
            resolution: Some(Resolution::Quick),
            ..RunOptions::default()
        };
        let trace = run(document.plan(), &options).unwrap();
        let dossier = Dossier::new(&trace, format!("{name}.toml"), document.text());
        let sheet = sheet_html(&dossier, &view, Paper::A4);
        let report = report_html(&dossier, &view, Paper::A4);
        well_formed(&billet_thermal::inside::report::history_svg(&trace, Display::Metric));
        for (kind, html, most) in [("sheet", sheet, 1), ("report", report, 25)] {
            assert_eq!(faults(&html), [""; 0], "{name} {kind}");
            assert!(html.len() < 2_000_000, "{name} {kind}: {} bytes", html.len());
            let word = trace.title.split_whitespace().next().unwrap();
            assert!(html.contains(word), "{name} {kind}");
            let path = folder().join(format!("example-{name}-{kind}.html"));
            std::fs::write(&path, html).unwrap();
            match print(&path) {
                None => skipped = true,
                Some((pages, console)) => {
                    assert!((1..=most).contains(&pages), "{name} {kind}: {pages} pages");
                    assert_eq!(console, "", "{name} {kind}");
                }
            }
        }
    }
    if skipped {
        println!("printing skipped: no chromium on this machine");
    }
}
