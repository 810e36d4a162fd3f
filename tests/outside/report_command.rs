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
    assert!(text(&output.stdout).starts_with("PASS: the one limit holds."));
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
    assert!(page.contains("1 of 1 limits broken"));
    assert!(page.contains("a limit is broken already without any delay"));
    let output = billet(folder.path(), &["sheet", "pin.toml"]);
    assert_eq!(output.status.code(), Some(1));
    let sheet = std::fs::read_to_string(folder.path().join("pin.sheet.html")).unwrap();
    assert!(sheet.contains("NOT RELEASED"));
}
