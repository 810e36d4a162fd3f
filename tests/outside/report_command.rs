//! `billet report` and `billet sheet`: what is written, what is said, with which exit status.

use std::path::Path;
use std::process::{Command, Output};

const QUICK: &str = r#"
title = "Pin <b>\"1\"</b>"
part = "P-1"
resolution = "quick"
[billet]
steel = "C45"
diameter_mm = 30
length_mm = 60
[heater]
kind = "measured"
temperature_c = 1200
[[stage]]
kind = "carry"
name = "to die"
seconds = 2
[[stage]]
kind = "forge"
name = "die"
lying_before_s = 0.2
lying_after_s = 0
[[limit]]
stage = "die"
moment = "first blow"
node = "surface"
min_c = 900
"#;

fn billet(folder: &Path, arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_billet"))
        .current_dir(folder)
        .args(arguments)
        .env("NO_COLOR", "1")
        .output()
        .unwrap()
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap()
}

#[test]
fn pages_are_written_where_asked() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("pin.toml"), QUICK).unwrap();
    let output = billet(folder.path(), &["report", "pin.toml"]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    assert!(text(&output.stdout).starts_with("PASS: 1 limit judged, not broken"));
    let page = std::fs::read_to_string(folder.path().join("pin.report.html")).unwrap();
    assert!(page.contains("Pin &lt;b&gt;&quot;1&quot;&lt;/b&gt;") && !page.contains("<b>"));
    // the same again, byte for byte, on standard output
    let again = billet(folder.path(), &["report", "pin.toml", "--out", "-"]);
    assert_eq!(text(&again.stdout), page);
    let output = billet(
        folder.path(),
        &["sheet", "pin.toml", "--language", "de", "--out", "sub/s.html"],
    );
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let sheet = std::fs::read_to_string(folder.path().join("sub/s.html")).unwrap();
    assert!(sheet.contains("Einstellblatt") && sheet.contains("P-1"));
    // the carry may last longer, so the sheet has a reject time for it
    assert!(sheet.contains("to die"));
}

#[test]
fn wrong_words_and_places_are_told() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("pin.toml"), QUICK).unwrap();
    let output = billet(folder.path(), &["report", "pin.toml", "--language", "xx"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("en, de, fr"));
    let output = billet(folder.path(), &["sheet", "missing.toml"]);
    assert_eq!(output.status.code(), Some(2));
    // a folder of the page's name cannot be replaced
    std::fs::create_dir(folder.path().join("pin.report.html")).unwrap();
    let output = billet(folder.path(), &["report", "pin.toml"]);
    assert_eq!(output.status.code(), Some(3));
    assert!(text(&output.stderr).contains("nothing was changed"));
}

#[test]
fn a_broken_limit_shows_in_status_and_page() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(
        folder.path().join("pin.toml"),
        QUICK.replace("min_c = 900", "min_c = 1190"),
    )
    .unwrap();
    let output = billet(folder.path(), &["report", "pin.toml", "--full"]);
    assert_eq!(output.status.code(), Some(1), "{}", text(&output.stderr));
    let page = std::fs::read_to_string(folder.path().join("pin.report.html")).unwrap();
    assert!(page.contains("1 of 1 limit broken"));
    assert!(page.contains("a limit is broken already without any delay"));
    let output = billet(folder.path(), &["sheet", "pin.toml"]);
    assert_eq!(output.status.code(), Some(1));
    let sheet = std::fs::read_to_string(folder.path().join("pin.sheet.html")).unwrap();
    assert!(sheet.contains("NOT RELEASED"));
}

/// A part with a flange that cools on a belt: what happened to the metal of each zone stands in the answer of
/// `trace`, in the JSON of both commands and in the page, and it is the same everywhere.
#[test]
fn the_metal_of_every_zone_reaches_terminal_page_and_json() {
    const SHAPE: &str = "lying_after_s = 0\nshape = [\n\
        { zone = \"body\", outer_mm = 30, height_mm = 30 },\n\
        { zone = \"flange\", inner_mm = 30, outer_mm = 50, height_mm = 16.875 },\n]\n\
        [[stage]]\nkind = \"cool\"\nname = \"belt\"\nseconds = 900\nconveyor = { spacing_mm = 30 }\n";
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(
        folder.path().join("pin.toml"),
        QUICK.replacen("lying_after_s = 0\n", SHAPE, 1),
    )
    .unwrap();
    let json = |arguments: &[&str]| -> serde_json::Value {
        let output = billet(folder.path(), arguments);
        assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
        serde_json::from_slice(&output.stdout).unwrap()
    };
    let traced = json(&["trace", "pin.toml", "--metal", "--json"]);
    let reported = json(&["report", "pin.toml", "--json"]);
    assert_eq!(traced["metal"], reported["metal"]);
    let nodes = traced["metal"].as_array().unwrap();
    let named = |name: &str| {
        nodes
            .iter()
            .find(|n| n["node"] == name)
            .unwrap_or_else(|| panic!("no {name}"))
    };
    let rate = |name: &str| named(name)["rate_800_500_k_s"].as_f64().unwrap();
    // So small a part is nearly of one temperature by then: every zone falls at the rate of the whole.
    for name in ["flange.mean", "body.core", "flange.surface", "surface"] {
        assert!((rate(name) / rate("mean") - 1.0).abs() < 0.03, "{name}: {nodes:?}");
    }
    assert!(named("flange.surface")["decarburised_um"]["typical"].as_f64().unwrap() > 0.0);
    let page = std::fs::read_to_string(folder.path().join("pin.report.html")).unwrap();
    let terminal = text(&billet(folder.path(), &["trace", "pin.toml", "--metal"]).stdout);
    for name in ["flange.mean", "body.core"] {
        let shown = format!("{:.2}", rate(name));
        let row = page.split("<tr").find(|row| row.contains(name) && row.contains(&shown));
        assert!(row.is_some(), "{name} {shown}");
        let row = terminal
            .lines()
            .find(|row| row.starts_with(name) && row.contains(&shown));
        assert!(row.is_some(), "{name} {shown}:\n{terminal}");
    }
    assert!(page.contains("cooling rate 800") && page.contains("coarse grain"));
}
