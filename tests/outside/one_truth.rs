//! One line, one truth: the seconds of a hand-over and the value of a limit are the same numbers whoever is
//! asked and however the answer is written, and the line run with them says that they are right.
//!
//! The line is invented: a forging whose flash is too hot for its trim tool as planned, and a belt at whose
//! end the part must not be too cold.

use std::path::Path;
use std::process::Command;

use billet_thermal::inside::ask::band::{Band, BandOptions};
use billet_thermal::inside::ask::decide::Guard;
use billet_thermal::inside::ask::enquiry::Enquiry;
use billet_thermal::inside::ask::hand_overs::HandOverTimes;
use billet_thermal::inside::ask::model::{Change, Model};
use billet_thermal::inside::ask::stoppage::Hold;
use billet_thermal::inside::ask::times::Times;
use billet_thermal::inside::line::file::Document;
use billet_thermal::inside::show::number::{down, up};
use serde_json::Value;

const LINE: &str = r#"
title = "One truth"
resolution = "quick"
[billet]
steel = "C45"
diameter_mm = 50
length_mm = 80
[heater]
kind = "measured"
temperature_c = 1220
[[stage]]
kind = "carry"
name = "to press"
seconds = 3
[[stage]]
kind = "forge"
name = "press"
lying_after_s = 0
shape = [
  { zone = "body", outer_mm = 84, height_mm = 26 },
  { zone = "flash", inner_mm = 84, outer_mm = 100, height_mm = 5.6 },
]
[[stage]]
kind = "carry"
name = "to trim"
seconds = 20
[[stage]]
kind = "trim"
name = "trim"
removes = ["flash"]
[[stage]]
kind = "cool"
name = "belt"
seconds = 40
[[limit]]
stage = "trim"
moment = "first blow"
node = "flash.mean"
min_c = 700.4
[[limit]]
stage = "trim"
moment = "first blow"
node = "flash.mean"
max_c = 950.6
[[limit]]
stage = "belt"
moment = "end"
node = "mean"
min_c = 920.4
"#;

fn enquiry() -> Enquiry {
    Enquiry::new(Document::parse(LINE, Path::new("truth.toml")).unwrap(), None).unwrap()
}

/// Earliest and latest seconds as they are printed: on the safe side at 0.1 s.
struct Printed {
    earliest_s: f64,
    latest_s: f64,
    belt_s: f64,
}

fn of<'a>(times: &'a [HandOverTimes], stage: &str) -> &'a HandOverTimes {
    times.iter().find(|t| t.stage == stage).unwrap()
}

fn printed(times: &[HandOverTimes]) -> Printed {
    let trim = &of(times, "to trim").alone;
    Printed {
        earliest_s: up(trim.earliest().unwrap().seconds, 1),
        latest_s: down(trim.latest().unwrap().seconds, 1),
        belt_s: down(of(times, "belt").alone.latest().unwrap().seconds, 1),
    }
}

#[test]
fn every_question_gets_the_same_seconds() {
    let enquiry = enquiry();
    let judged = enquiry.judged().unwrap();
    let times = judged.times().unwrap();
    let (trim, belt) = (of(&times, "to trim"), of(&times, "belt"));
    let (early, late) = (trim.alone.earliest().unwrap(), belt.alone.latest().unwrap());
    assert_eq!((early.limit, late.limit), (1, 2));

    let verdicts = enquiry.trace().unwrap().verdicts;
    assert_eq!(verdicts[1].margin_stage.as_deref(), Some("to trim"));
    assert_eq!(verdicts[1].earliest_s, Some(early.seconds));
    assert_eq!(verdicts[2].margin_stage.as_deref(), Some("belt"));
    assert_eq!(verdicts[2].latest_s, Some(late.seconds));

    let stops = judged.stops(&[5.0], 600.0, false).unwrap();
    let held = stops
        .iter()
        .find(|s| s.position.stage == "to trim" && s.position.hold == Hold::InPlace)
        .unwrap();
    assert_eq!(held.alone, trim.alone);

    // A margin read off the table at the true end, guard band put back, is never above nothing, and below it
    // by what the table takes off for its errors: some kelvin.
    let table = judged.decision_table().unwrap();
    let exit_c = enquiry.model.exit_inputs().unwrap().surface.1;
    for (stage, edge) in [("to trim", early), ("belt", late)] {
        let index = table.stages.iter().position(|s| s.stage == stage).unwrap();
        let mut seconds: Vec<f64> = table.stages[..index].iter().map(|s| s.planned_s).collect();
        seconds.push(edge.seconds);
        let margin = table.margins_k(exit_c, &seconds, Guard::Reject).unwrap()[edge.limit];
        let margin = margin + table.guard_k[edge.limit];
        assert!(margin < 0.05 && margin > -6.0, "{stage}: {margin} K");
        let alone = table.times(index, exit_c, Guard::Reject, Some(edge.limit)).unwrap();
        let safe = match alone {
            Times::Between { earliest, latest } => {
                earliest.is_none_or(|e| e.limit != early.limit || e.seconds >= early.seconds - 0.05)
                    && latest.is_none_or(|e| e.limit != late.limit || e.seconds <= late.seconds + 0.05)
            }
            Times::Never { .. } => true,
        };
        assert!(safe, "{stage}: {alone:?}");
    }
}

#[test]
fn the_times_printed_are_true() {
    let enquiry = enquiry();
    let times = enquiry.judged().unwrap().times().unwrap();
    let found = printed(&times);
    let margins = |stage: &str, seconds: f64| {
        let change = Change::new(format!("stage.{stage}.seconds"), seconds);
        enquiry.model.run(&[change]).unwrap().margins_k()
    };
    let holds = |margins: &[f64]| margins.iter().all(|margin| *margin >= 0.0);
    assert!(holds(&margins("to trim", found.earliest_s)));
    assert!(margins("to trim", found.earliest_s - 0.1)[1] < 0.0);
    assert!(holds(&margins("to trim", found.latest_s)));
    assert!(!holds(&margins("to trim", found.latest_s + 0.1)));
    // The belt cannot mend the trim, but its own limit ends where it is said to end.
    assert!(margins("belt", found.belt_s)[2] >= 0.0);
    assert!(margins("belt", found.belt_s + 0.1)[2] < 0.0);
}

fn billet(folder: &Path, arguments: &str) -> String {
    let output = Command::new(env!("CARGO_BIN_EXE_billet"))
        .current_dir(folder)
        .args(arguments.split(' '))
        .output()
        .unwrap();
    let error = String::from_utf8_lossy(&output.stderr).into_owned();
    assert!(matches!(output.status.code(), Some(0 | 1)), "{arguments}: {error}");
    String::from_utf8(output.stdout).unwrap().replace('\u{a0}', " ")
}

/// The option that leaves guard bands out, where a command has it.
fn bare(command: &str) -> &'static str {
    if matches!(command, "delays" | "stops" | "exit-band") {
        "--no-guard"
    } else {
        "--quiet"
    }
}

/// The lines of a text that start with a name, in one.
fn row(text: &str, starts: &str) -> String {
    let rows: Vec<&str> = text
        .lines()
        .filter(|line| line.trim_start().starts_with(starts))
        .collect();
    assert!(!rows.is_empty(), "no row `{starts}` in: {text}");
    rows.join("\n")
}

#[test]
fn every_rendering_has_the_same_numbers() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("truth.toml"), LINE).unwrap();
    let enquiry = enquiry();
    let judged = enquiry.judged().unwrap();
    let times = judged.times().unwrap();
    let found = printed(&times);
    let [early, late, belt] = [found.earliest_s, found.latest_s, found.belt_s].map(|s| format!("{s:.1}"));
    let ask = |arguments: &str| billet(folder.path(), arguments);
    let ask_bare = |command: &str, more: &str| ask(&format!("{command} truth.toml {} {more}", bare(command)));
    let json =
        |command: &str| -> Value { serde_json::from_str(&ask(&format!("{command} truth.toml --json"))).unwrap() };

    // Limits are whole degrees on the safe side: 700.4 is 701, 950.6 is 950, 920.4 is 921.
    for command in ["delays", "stops", "trace", "exit-band"] {
        let text = ask(&format!("{command} truth.toml --width 160"));
        let csv = ask(&format!("{command} truth.toml --format csv"));
        for limit in ["\u{2265} 701 \u{b0}C", "\u{2264} 950 \u{b0}C", "\u{2265} 921 \u{b0}C"] {
            assert!(text.contains(limit), "{command}: {limit} is not in {text}");
            assert!(csv.contains(limit), "{command}: {limit} is not in {csv}");
        }
        assert!(
            csv.lines().all(|line| !line.starts_with(',') && !line.contains(",,")) || command == "trace",
            "{csv}"
        );
    }
    for kind in ["--width 160", "--format csv"] {
        let text = ask_bare("delays", kind);
        let trim = row(&text, "to trim");
        assert!(trim.contains(&early) && trim.contains(&late), "{trim}");
        assert!(row(&text, "belt").contains(&belt), "{text}");
        let text = ask(&format!("trace truth.toml {kind}"));
        let separator = if kind.ends_with("csv") { "," } else { "" };
        assert!(row(&text, &format!("2{separator}")).contains(&early), "{text}");
        assert!(row(&text, &format!("3{separator}")).contains(&belt), "{text}");
        let text = ask_bare("stops", kind);
        let stop = format!(
            "{:.1}",
            down(of(&times, "to trim").alone.latest().unwrap().seconds - 20.0, 1)
        );
        assert!(row(&text, "to trim").contains(&stop), "{stop} is not in {text}");
    }

    let delays = json("delays");
    let handovers = delays["handovers"].as_array().unwrap();
    let trim = handovers.iter().find(|h| h["stage"] == "to trim").unwrap();
    assert_eq!(trim["alone"]["earliest_s"], found.earliest_s);
    assert_eq!(trim["alone"]["latest_s"], found.latest_s);
    let stops = json("stops");
    let positions = stops["positions"].as_array().unwrap();
    let held = positions.iter().find(|p| p["stage"] == "to trim").unwrap();
    assert_eq!(held["alone"], trim["alone"]);
    let trace = json("trace");
    let seconds = |k: usize, key: &str| trace["verdicts"][k][key].as_f64().unwrap();
    assert_eq!(up(seconds(1, "earliest_s"), 1), found.earliest_s);
    assert_eq!(down(seconds(2, "latest_s"), 1), found.belt_s);

    let band = judged.band(&BandOptions::default()).unwrap().bare;
    let text = ask("exit-band truth.toml");
    match &band {
        Band::Open { low, high } => {
            assert_eq!(json("exit-band")["band"]["low_c"], low.exit_c);
            for end in [up(low.exit_c, 0), down(high.exit_c, 0)] {
                assert!(text.contains(&format!("{end:.0}")), "{end} is not in {text}");
            }
        }
        Band::Closed { short_k, .. } => {
            assert_eq!(json("exit-band")["band"]["short_k"], *short_k);
            assert!(
                text.contains(&format!("{:.1} K", up(*short_k, 1))),
                "{short_k} is not in {text}"
            );
        }
        Band::Hopeless { .. } => panic!("{band:?}"),
    }

    // Pages state what keeps the guard band of the program's own values.
    let reject = |stage: &str| of(&times, stage).reject.unwrap();
    let guarded = [
        up(reject("to trim").earliest().unwrap().seconds, 1),
        down(reject("to trim").latest().unwrap().seconds, 1),
        down(reject("belt").latest().unwrap().seconds, 1),
    ]
    .map(|s| format!("{s:.1}"));
    for page in [
        "sheet truth.toml --out -",
        "sheet truth.toml --brief --out -",
        "report truth.toml --full --out -",
    ] {
        let html = ask(page);
        // A sheet of a line whose limits do not hold is void: it states no times that somebody might use.
        if page.starts_with("sheet") {
            for number in &guarded {
                assert!(
                    !html.contains(&format!(">{number} s<")) && !html.contains(&format!(">{number}<")),
                    "{page}: {number}"
                );
            }
            continue;
        }
        for number in [&guarded[0], &guarded[1], &guarded[2]] {
            let cells = [format!(">{number} s<"), format!(">{number}<"), format!(">{number} s ")];
            assert!(cells.iter().any(|cell| html.contains(cell)), "{page}: {number}");
        }
        for limit in ["\u{2265} 701 \u{b0}C", "\u{2264} 950 \u{b0}C", "\u{2265} 921 \u{b0}C"] {
            assert!(html.contains(limit), "{page}: {limit}");
        }
    }
}
