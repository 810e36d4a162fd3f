//! What cannot be meant is refused by the check, with its place, the range and the reason; what is merely odd is
//! warned of. And what the declarations of keys promise: the schema and the reference hold all of them.

use std::process::Command;

use billet_thermal::inside::line::file::{Document, LineFileError, key_reference, schema};
use serde_json::Value;

use crate::line_file::GOOD;

/// The problems of a text as `code at line: message; help`.
fn problems(text: &str) -> Vec<String> {
    match Document::parse(text, "line.toml") {
        Err(LineFileError::Wrong(problems)) => problems
            .list
            .iter()
            .map(|p| {
                let help = p.kind.help().unwrap_or_default();
                format!("{} at {}: {}; {help}", p.kind.code(), p.line, p.kind)
            })
            .collect(),
        Err(other) => panic!("{other}"),
        Ok(_) => Vec::new(),
    }
}

/// A text with one piece in place of another is refused once, with these words.
#[track_caller]
fn refused(text: &str, old: &str, new: &str, words: &[&str]) {
    assert!(text.contains(old), "`{old}` is not in the text");
    let told = problems(&text.replacen(old, new, 1));
    assert_eq!(told.len(), 1, "{new}: {told:#?}");
    for word in words {
        assert!(told[0].contains(word), "`{word}` is not in: {}", told[0]);
    }
}

#[test]
fn numbers_that_cannot_be_meant_are_refused() {
    let shop = "[shop]\ntakt_s = 1e-9\n[heater]";
    refused(GOOD, "[heater]", shop, &["out-of-range", "takt_s", "0.1 to 36000 s"]);
    let blow = "contact_ms = 1e-9";
    refused(GOOD, "contact_ms = 50", blow, &["out-of-range", "0.01 to 60000 ms"]);
    for size in ["diameter_mm = 0.001", "diameter_mm = 5e-7"] {
        refused(GOOD, "diameter_mm = 60", size, &["out-of-range", "1 to 5000 mm"]);
    }
    let thread = GOOD.replace("length_mm = 140", "length_mm = 20000");
    let told = problems(&thread.replace("diameter_mm = 60", "diameter_mm = 1"));
    assert!(told.iter().any(|t| t.starts_with("slender at 5")), "{told:#?}");
}

/// A run of what is allowed can still be too much for any machine: it is told with what it needs.
#[test]
fn a_run_that_needs_too_much_is_refused_with_its_need() {
    let rail = GOOD.split("[[stage]]").next().unwrap();
    let rail = rail.replace("diameter_mm = 60", "section = \"square\"\nside_mm = 40");
    let rail = rail.replace("length_mm = 140", "length_mm = 20000");
    let wait = "[[stage]]\nkind = \"wait\"\nname = \"hall\"\nseconds = 5\n";
    let told = problems(&format!("resolution = \"fine\"\n{rail}{wait}"));
    assert!(
        told.iter()
            .any(|t| t.starts_with("over-budget at 3") && t.contains("--budget")),
        "{told:#?}"
    );
    assert_eq!(
        problems(&format!("resolution = \"quick\"\n{rail}{wait}")),
        Vec::<String>::new()
    );
    let billet = |arguments: &[&str]| {
        let output = Command::new(env!("CARGO_BIN_EXE_billet"))
            .args(arguments)
            .arg("examples/hub.toml")
            .output()
            .unwrap();
        let text = [output.stdout, output.stderr]
            .map(|bytes| String::from_utf8(bytes).unwrap())
            .concat();
        (output.status.code(), text)
    };
    let (status, text) = billet(&["check"]);
    assert!(
        status == Some(0) && text.contains("A run: about ") && text.contains(" cells, "),
        "{text}"
    );
    let (status, text) = billet(&["check", "--budget", "0.001"]);
    assert!(
        status == Some(2) && text.contains("the budget is 2 MB and 1 s"),
        "{text}"
    );
    // what a command adds to the run of the file counts too
    let (status, text) = billet(&["trace", "--budget", "0.006", "--estimate-error"]);
    assert!(status == Some(2) && text.contains("a run needs about"), "{text}");
    let (status, text) = billet(&["warmup", "--budget", "0.005", "--parts", "10000"]);
    assert!(status == Some(2) && text.contains("10000 runs need about"), "{text}");
}

#[test]
fn a_stroke_is_no_longer_than_the_part_nor_than_a_minute() {
    let press = "machine = \"screw\"\nram_speed_m_s = 0.5";
    assert_eq!(problems(&GOOD.replace("contact_ms = 50", press)), Vec::<String>::new());
    let slow = "machine = \"screw\"\nram_speed_m_s = 1e-9";
    let told = problems(&GOOD.replace("contact_ms = 50", slow));
    assert!(
        told.iter().any(|t| t.contains("ram_speed_m_s") && t.contains("30 m/s")),
        "{told:#?}"
    );
    let slow = "machine = \"hydraulic\"\nram_speed_m_s = 1e-5";
    refused(
        GOOD,
        "contact_ms = 50",
        slow,
        &["stroke-time at 20", "0.01 to 60000 ms"],
    );
    let far = format!("{press}\nsqueeze_mm = 500");
    refused(
        GOOD,
        "contact_ms = 50",
        &far,
        &["squeeze_mm = 500 mm", "above 0 to 140 mm"],
    );
}

#[test]
fn a_heater_that_cannot_be_meant_is_refused() {
    let coils = std::fs::read_to_string("examples/heater_line.toml").unwrap();
    refused(
        &coils,
        "length_mm = 980 ",
        "length_mm = 0.98 ",
        &["length_mm = 0.98 mm", "5 to 100000 mm"],
    );
    refused(&coils, "lining_w_mk = 0.4", "lining_w_mk = 50", &["0.01 to 20 W/mK"]);
    refused(&coils, "\"coil 2\"", "\"coil 1\"", &["two zones are named \"coil 1\""]);
    let one = std::fs::read_to_string("examples/heater_static.toml").unwrap();
    let at = one.find("power_kw = ").unwrap();
    let old = one[at..].lines().next().unwrap();
    refused(
        &one,
        old,
        "power_kw = 100000",
        &["power_kw = 100000 kW", "0 to 20000 kW"],
    );
}

#[test]
fn odd_temperatures_are_warned_of() {
    let warned = |text: &str| -> Vec<String> {
        let document = Document::parse(text, "line.toml").unwrap();
        document
            .plan()
            .warnings
            .iter()
            .map(|w| format!("{}: {}", w.code, w.message))
            .collect()
    };
    assert_eq!(warned(GOOD), Vec::<String>::new());
    let hot = warned(&GOOD.replace("[heater]", "[shop]\nambient_c = 1200\n[die]\nbulk_c = 1300\n[heater]"));
    assert_eq!(hot.len(), 2, "{hot:?}");
    assert!(
        hot[0].contains("shop.ambient_c = 1200 degC is outside the usual range"),
        "{hot:?}"
    );
    assert!(
        hot[1].contains("die.bulk_c = 1300 degC is outside the usual range"),
        "{hot:?}"
    );
}

#[test]
fn texts_that_turn_the_direction_of_writing_are_refused() {
    for (old, new, code) in [
        ("\"to press\"", "\"to \u{202e}press\"", "8238"),
        ("\"Flange\"", "\"Fl\u{2066}ange\"", "8294"),
    ] {
        refused(GOOD, old, new, &["control-character", code]);
    }
}

/// A file whose study is wrong in many ways, and all else right.
const WRONG_STUDY: &str = r#"
[study]
samples = -5
sampels = 7
scheme = "sobol"
[[study.scatter]]
input = "stage.to pres.seconds"
kind = "normal"
sd = 0.5
[[study.scatter]]
input = "stage.to press.seconds"
kind = "retries"
[[study.move]]
stage = "to press"
distance_m = 2
speed_m_s = 1e300
acceleration_m_s2 = 5
"#;

#[test]
fn the_check_covers_the_study() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("line.toml");
    let check = |text: &str| {
        std::fs::write(&path, text).unwrap();
        let output = Command::new(env!("CARGO_BIN_EXE_billet"))
            .arg("check")
            .arg(&path)
            .env("NO_COLOR", "1")
            .output()
            .unwrap();
        (output.status.code(), String::from_utf8(output.stderr).unwrap())
    };
    let (status, told) = check(&format!("{GOOD}{WRONG_STUDY}"));
    assert_eq!(status, Some(2), "{told}");
    assert!(
        told.contains("unknown key `sampels`") && told.contains("did you mean `samples`"),
        "{told}"
    );
    let (status, told) = check(&format!("{GOOD}{}", WRONG_STUDY.replace("sampels = 7\n", "")));
    assert_eq!(status, Some(2), "{told}");
    for word in [
        "5 problems",
        "samples = -5 is out of range: allowed 1 to 10000000",
        "unknown scheme \"sobol\"",
        "did you mean `stage.to press.seconds`",
        "did you mean `retry`",
        "speed_m_s = 1e300 m/s is out of range: allowed above 0 to 50",
        ":33:11",
    ] {
        assert!(told.contains(word), "`{word}` is not in: {told}");
    }
    assert_eq!(check(GOOD).0, Some(0));
}

#[test]
fn the_reference_holds_every_key_of_the_schema() {
    let (schema, reference) = (schema(), key_reference());
    let mut count = 0;
    let mut tables: Vec<(&str, &Value)> = vec![("File", &schema)];
    let definitions = schema["$defs"].as_object().unwrap();
    tables.extend(definitions.iter().map(|(name, table)| (name.as_str(), table)));
    for (name, table) in tables {
        let heading = format!("\n## {name} (");
        let start = reference
            .find(&heading)
            .unwrap_or_else(|| panic!("no heading for {name}"));
        let part = reference[start + 4..].split("\n## ").next().unwrap();
        assert_eq!(table["additionalProperties"], Value::Bool(false), "{name}");
        for (key, property) in table["properties"].as_object().unwrap() {
            let item = part.lines().find(|line| line.starts_with(&format!("- `{key}` (")));
            let item = item.unwrap_or_else(|| panic!("{name}.{key} is not in the reference"));
            assert!(item.ends_with(property["description"].as_str().unwrap()), "{item}");
            count += 1;
        }
    }
    assert!(count > 250, "{count} keys");
}

#[test]
fn a_change_keeps_comments_order_and_blank_lines() {
    let text = GOOD
        .replace("seconds = 4.2", "seconds =   4.2   # by stop watch\n\n# the tongs")
        .replace("[[limit]]", "# judged by the customer\n[[limit]]");
    let mut document = Document::parse(text.clone(), "line.toml").unwrap();
    document.set("stage.to press.seconds", 5.5).unwrap();
    assert_eq!(document.text(), text.replace("4.2   #", "5.5   #"));
    let returns = text.replace('\n', "\r\n");
    let mut document = Document::parse(returns.clone(), "line.toml").unwrap();
    document.set("limit.1.min_c", 1010.0).unwrap();
    assert_eq!(document.text(), returns.replace("min_c = 1100", "min_c = 1010"));
}

/// A press line whose only blow makes the zones that a trim takes off again.
const ZONES: &str = r#"
title = "carrier"
[billet]
steel = "16MnCr5"
diameter_mm = 45
length_mm = 110
[heater]
kind = "measured"
temperature_c = 1215
[die]
bulk_c = 190
[[stage]]
kind = "forge"
name = "finisher"
shape = [
  { zone = "body", outer_mm = 60, height_mm = 36 },
  { zone = "rim", inner_mm = 60, outer_mm = 96, bottom_mm = 4, top_mm = 22 },
  { zone = "flash", inner_mm = 96, outer_mm = 117.6, bottom_mm = 10, top_mm = 13 },
]
[[stage]]
kind = "trim"
name = "trim"
contact_ms = 60
removes = ["flash"]
[[limit]]
"#;

/// A limit is judged or refused, never left out: a zone is there from the end of the blow that makes it until it is
/// trimmed off.
#[test]
fn a_limit_on_a_zone_that_is_not_there_is_refused() {
    let of = |stage: &str, moment: &str, node: &str| {
        let limit = format!("stage = {stage:?}\nmoment = {moment:?}\nnode = {node:?}\nmin_c = 700\n");
        problems(&format!("{ZONES}{limit}"))
    };
    for (stage, moment, node) in [
        ("finisher", "last blow", "rim.mean"),
        ("finisher", "every blow", "flash.surface"),
        ("finisher", "start", "rim.mean"),
        ("trim", "end", "flash.mean"),
    ] {
        let told = of(stage, moment, node);
        assert_eq!(told.len(), 1, "{stage} {moment} {node}: {told:#?}");
        assert!(told[0].contains("no such zone then"), "{}", told[0]);
    }
    for (stage, moment, node) in [
        ("finisher", "end", "rim.mean"),
        ("finisher", "always", "rim.mean"),
        ("trim", "last blow", "flash.mean"),
        ("trim", "start", "flash.mean"),
        ("trim", "end", "rim.mean"),
    ] {
        assert_eq!(of(stage, moment, node), Vec::<String>::new(), "{stage} {moment} {node}");
        let limit = format!("stage = {stage:?}\nmoment = {moment:?}\nnode = {node:?}\nmin_c = 700\n");
        let text = format!("resolution = \"quick\"\n{ZONES}{limit}");
        let document = Document::parse(&text, "line.toml").unwrap();
        let trace = billet_thermal::run(document.plan(), &billet_thermal::RunOptions::default()).unwrap();
        assert_eq!(trace.verdicts.len(), 1, "{stage} {moment} {node}");
    }
}
