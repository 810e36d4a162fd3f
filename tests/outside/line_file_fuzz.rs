//! The parser never panics, whatever it is given, and what it takes is sound.

use billet_thermal::inside::line::file::Document;
use proptest::prelude::*;

const HUB: &str = include_str!("../../examples/hub.toml");

/// Values that have broken parsers before.
const NASTY: [&str; 14] = [
    "nan",
    "inf",
    "-inf",
    "-0.0",
    "1e308",
    "-1e308",
    "1e-320",
    "9223372036854775807",
    "\"\\u0000\"",
    "\"\"",
    "[]",
    "{}",
    "[[]]",
    "true",
];

/// Whether a text is taken; what is taken has finite times and a plan that prints.
fn sound(text: &str) -> bool {
    match Document::parse(text, "fuzz.toml") {
        Ok(document) => {
            for stage in &document.plan().stages {
                assert!(stage.seconds().is_finite() && stage.seconds() >= 0.0, "{}", stage.name);
            }
            assert!(!document.plan().stages.is_empty());
            true
        }
        Err(error) => {
            assert!(!error.to_string().is_empty());
            false
        }
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn random_bytes_never_panic(bytes in prop::collection::vec(any::<u8>(), 0..400)) {
        sound(&String::from_utf8_lossy(&bytes));
    }

    #[test]
    fn random_keys_and_values_never_panic(lines in prop::collection::vec("[a-z_\\[\\]]{1,12}( = [-0-9a-z\"{}\\[\\].]{1,12})?", 0..20)) {
        sound(&lines.join("\n"));
    }

    #[test]
    fn a_cut_file_never_panics(at in 0..HUB.len(), length in 0..80_usize) {
        let mut text = String::from(HUB.get(..at).unwrap_or(""));
        text.push_str(HUB.get(at + length..).unwrap_or(""));
        sound(&text);
    }

    #[test]
    fn a_line_left_out_or_twice_never_panics(line in 0..200_usize, twice: bool) {
        let mut lines: Vec<&str> = HUB.lines().collect();
        let line = line % lines.len();
        if twice { lines.insert(line, lines[line]); } else { lines.remove(line); }
        sound(&lines.join("\n"));
    }

    #[test]
    fn a_nasty_value_never_panics(line in 0..200_usize, value in 0..NASTY.len()) {
        let mut lines: Vec<String> = HUB.lines().map(str::to_owned).collect();
        let line = line % lines.len();
        if let Some((key, _)) = lines[line].clone().split_once('=') {
            lines[line] = format!("{key}= {}", NASTY[value]);
        }
        sound(&lines.join("\n"));
    }

    #[test]
    fn setting_any_input_to_any_value_never_panics(index in 0..200_usize, value in prop::num::f64::ANY) {
        let document = Document::parse(HUB, "fuzz.toml").unwrap();
        let inputs = document.inputs();
        let path = inputs[index % inputs.len()].path.clone();
        let allowed = inputs[index % inputs.len()].allowed;
        if let Ok(plan) = document.with(&[(&path, value)]) {
            prop_assert!(allowed.is_some_and(|allowed| allowed.contains(value)), "{path} = {value}");
            prop_assert_eq!(plan.stages.len(), document.plan().stages.len());
        }
    }
}

#[test]
fn deep_nesting_is_refused() {
    for text in [
        "[".repeat(100_000),
        "a={".repeat(100_000),
        format!("a = {}", "[".repeat(200_000)),
        "a.".repeat(100_000),
    ] {
        assert!(!sound(&text));
    }
}

#[test]
fn many_stages_and_limits_are_refused_by_number() {
    let stages = "[[stage]]\nkind = \"wait\"\nseconds = 1\n".repeat(501);
    let error = Document::parse(format!("{HUB}{stages}"), "x.toml")
        .unwrap_err()
        .to_string();
    assert!(error.contains("510 stages, at most 500"), "{error}");
}
