//! The `billet` command: exit status, what goes to which stream, what is written.

use std::path::Path;
use std::process::{Command, Output, Stdio};

use serde_json::Value;

fn billet(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_billet"))
        .args(arguments)
        .env("NO_COLOR", "1")
        .output()
        .unwrap()
}

fn out(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).unwrap()
}

fn err(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).unwrap()
}

fn json(output: &Output) -> Value {
    serde_json::from_str(&out(output)).unwrap()
}

/// A line of two stages that runs in no time.
const QUICK: &str = r#"
title = "Pin"
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

fn write(folder: &Path, name: &str, content: impl AsRef<[u8]>) -> String {
    let path = folder.join(name);
    std::fs::write(&path, content).unwrap();
    path.to_str().unwrap().to_owned()
}

/// Runs a trace that must be refused: status 2, nothing on standard output, nothing written.
#[track_caller]
fn refused(name: &str, content: impl AsRef<[u8]>, words: &[&str]) {
    let folder = tempfile::tempdir().unwrap();
    let file = write(folder.path(), name, content);
    let results = folder.path().join("results");
    let output = billet(&["trace", &file, "--out", results.to_str().unwrap()]);
    let message = err(&output);
    assert_eq!(output.status.code(), Some(2), "{message}");
    assert!(output.stdout.is_empty(), "{}", out(&output));
    assert!(message.starts_with("billet: "), "{message}");
    for word in words {
        assert!(message.contains(word), "`{word}` is not in: {message}");
    }
    assert!(!results.exists(), "something was written");
    assert_eq!(billet(&["check", &file]).status.code(), Some(2));
}

#[test]
fn wrong_input_is_refused_with_status_2_and_nothing_is_written() {
    refused(
        "empty.toml",
        "",
        &["empty.toml", "empty: a line file has at least title"],
    );
    refused("blank.toml", " \n\t\n", &["blank.toml: empty"]);
    refused(
        "binary.toml",
        [0x7f, b'E', b'L', b'F', 0xff, 0xfe],
        &["not a text file", "byte 4 (0xFF)"],
    );
    refused("zero.toml", b"title = \"a\0b\"", &["not a text file", "byte 10 (0x00)"]);
    refused(
        "large.toml",
        vec![b'#'; 10_000_000],
        &["too large", "10000000 bytes", "limit 1 MB"],
    );
    refused("prose.toml", "This is no TOML.", &["prose.toml:1:", "not valid TOML"]);
    refused(
        "none.toml",
        "title = \"x\"\n[billet]\nsteel = \"C45\"\ndiameter_mm = 30\n[heater]\nkind = \"measured\"\ntemperature_c = 1200\n",
        &["no stages"],
    );
    refused(
        "comment.toml",
        "# nothing here\n",
        &[
            "title is missing",
            "[billet] is missing",
            "[heater] is missing",
            "no stages",
        ],
    );
    refused(
        "negative.toml",
        QUICK.replace("seconds = 2", "seconds = -2"),
        &[
            "negative.toml:14:11",
            "seconds = -2 s is out of range: allowed 0 to 1000000 s",
            "^^",
        ],
    );
    refused(
        "nan.toml",
        QUICK.replace("temperature_c = 1200", "temperature_c = nan"),
        &["temperature_c = nan degC"],
    );
    refused(
        "inf.toml",
        QUICK.replace("temperature_c = 1200", "temperature_c = inf"),
        &["temperature_c = inf degC"],
    );
    refused(
        "emissivity.toml",
        QUICK.replace("length_mm = 60", "length_mm = 60\nemissivity = 1.2"),
        &["emissivity = 1.2 is out of range: allowed 0 to 1"],
    );
    refused(
        "names.toml",
        QUICK.replace("name = \"die\"", "name = \"to die\""),
        &["two stages are named \"to die\"", "first used here"],
    );
    refused(
        "stage.toml",
        QUICK.replace("stage = \"die\"", "stage = \"dei\""),
        &["unknown stage \"dei\"", "did you mean `die`?"],
    );
    refused(
        "node.toml",
        QUICK.replace("node = \"surface\"", "node = \"skin\""),
        &["unknown node \"skin\"", "core, surface, grip_end"],
    );
    refused(
        "key.toml",
        QUICK.replace("diameter_mm", "diametre_mm"),
        &["unknown key `diametre_mm`", "did you mean `diameter_mm`?"],
    );
    refused(
        "blow.toml",
        QUICK.replace("name = \"die\"", "name = \"die\"\nblows = 2\ncontact_ms = 900"),
        &["a blow of 0.9 s is longer than its interval of 0.8 s"],
    );
    refused(
        "volume.toml",
        QUICK.replace(
            "name = \"die\"",
            "name = \"die\"\nshape = [{ outer_mm = 40, height_mm = 30 }]",
        ),
        &["11.11 % too little", "height_mm = 33.750 would fit"],
    );
    refused(
        "exclude.toml",
        QUICK.replace("min_c = 900", "min_c = 900\nmax_c = 850"),
        &["limits exclude each other"],
    );
    refused(
        "grip.toml",
        QUICK.replace("seconds = 2", "seconds = 2\ngrip = { length_mm = 61 }"),
        &["grips take 61 mm of a part 60 mm long"],
    );
    refused(
        "steel.toml",
        QUICK.replace("\"C45\"", "\"C54\""),
        &["unknown steel \"C54\""],
    );
}

#[test]
fn a_missing_file_and_a_folder_are_refused() {
    for (path, words) in [("no/such/file.toml", "cannot be read"), ("examples", "cannot be read")] {
        let output = billet(&["check", path]);
        assert_eq!(output.status.code(), Some(2));
        assert!(err(&output).contains(words), "{}", err(&output));
    }
}

#[test]
fn a_large_file_is_refused_fast() {
    let folder = tempfile::tempdir().unwrap();
    let file = write(folder.path(), "large.toml", QUICK.repeat(40_000));
    let start = std::time::Instant::now();
    let output = billet(&["check", &file]);
    assert_eq!(output.status.code(), Some(2));
    // It is refused by its length, unread; a second is far more than starting the program takes.
    assert!(start.elapsed().as_secs_f64() < 1.0, "{:?}", start.elapsed());
}

#[test]
fn a_wrong_command_line_is_refused() {
    for arguments in [
        &["trace"][..],
        &["forge"],
        &["check", "a.toml", "--units", "furlongs"],
        &[],
    ] {
        let output = billet(arguments);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        assert!(output.stdout.is_empty());
    }
    assert!(err(&billet(&["trace"])).starts_with("billet: "));
    for arguments in [&["--help"][..], &["--version"], &["trace", "--help"]] {
        let output = billet(arguments);
        assert_eq!(output.status.code(), Some(0), "{arguments:?}");
        assert!(!output.stdout.is_empty());
    }
    assert!(out(&billet(&["--help"])).contains("1  the run is valid and a limit is broken"));
}

#[test]
fn the_status_tells_whether_limits_hold() {
    let folder = tempfile::tempdir().unwrap();
    let good = write(folder.path(), "good.toml", QUICK);
    let output = billet(&["trace", &good, "--quiet"]);
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
    assert!(output.stderr.is_empty(), "{}", err(&output));
    let broken = write(
        folder.path(),
        "broken.toml",
        QUICK.replace("min_c = 900", "min_c = 1190"),
    );
    let output = billet(&["trace", &broken]);
    assert_eq!(output.status.code(), Some(1), "{}", err(&output));
    assert!(out(&output).contains("1190"));
}

#[test]
fn results_are_written_whole_or_not_at_all() {
    let folder = tempfile::tempdir().unwrap();
    let file = write(folder.path(), "good.toml", QUICK);
    let results = folder.path().join("results");
    let output = billet(&["trace", &file, "--out", results.to_str().unwrap()]);
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
    for name in ["trace.csv", "limits.csv", "result.json", "history.svg"] {
        assert!(results.join(name).metadata().unwrap().len() > 0, "{name}");
    }
    let result: Value = serde_json::from_str(&std::fs::read_to_string(results.join("result.json")).unwrap()).unwrap();
    assert_eq!(result["title"], "Pin");
    // A file stands where the folder should be: nothing is touched.
    let occupied = write(folder.path(), "occupied", "mine");
    let output = billet(&["trace", &file, "--out", &occupied]);
    assert_eq!(output.status.code(), Some(3), "{}", err(&output));
    assert!(output.stdout.is_empty());
    assert_eq!(std::fs::read_to_string(&occupied).unwrap(), "mine");
}

#[test]
fn json_is_the_whole_of_standard_output() {
    let folder = tempfile::tempdir().unwrap();
    let file = write(folder.path(), "good.toml", QUICK);
    let trace = json(&billet(&["trace", &file, "--json"]));
    assert_eq!(trace["title"], "Pin");
    let traced = json(&billet(&["trace", &file, "--json", "--estimate-error"]));
    assert_eq!(traced["error_estimate"]["against"], "standard");
    let checked = json(&billet(&["check", &file, "--json"]));
    assert_eq!(checked["valid"], true);
    assert_eq!(checked["stages"][1]["name"], "die");
    let wrong = write(
        folder.path(),
        "wrong.toml",
        QUICK.replace("seconds = 2", "seconds = -2"),
    );
    let output = billet(&["check", &wrong, "--json"]);
    assert_eq!(output.status.code(), Some(2));
    let problem = &json(&output)["problems"][0];
    assert_eq!(
        (&problem["code"], &problem["line"]),
        (&"out-of-range".into(), &14.into())
    );
    assert!(json(&billet(&["steels", "--json"])).as_array().unwrap().len() >= 22);
    assert_eq!(json(&billet(&["steels", "1.7225", "--json"]))["name"], "42CrMo4");
}

#[test]
fn a_file_is_shown_with_its_defaults() {
    let folder = tempfile::tempdir().unwrap();
    let file = write(folder.path(), "good.toml", QUICK);
    let output = billet(&["check", &file, "--show-defaults"]);
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
    let complete = out(&output);
    assert!(complete.contains("ambient_c = 25  # default: "), "{complete}");
    assert!(
        complete.contains("contact_ms = 5  # default: hammer blow"),
        "{complete}"
    );
    let again = write(folder.path(), "complete.toml", &complete);
    assert_eq!(billet(&["check", &again]).status.code(), Some(0));
}

#[test]
fn us_units_are_shown_and_files_stay_metric() {
    let text = out(&billet(&["check", "examples/hub.toml", "--units", "us"]));
    assert!(
        text.contains("Ø 2.36 in × 5.51 in") && text.contains("2264 °F"),
        "{text}"
    );
}

#[test]
fn steels_are_listed_shown_and_drawn() {
    let list = out(&billet(&["steels"]));
    for grade in ["42CrMo4", "38MnVS6", "100Cr6", "X38CrMoV5-1"] {
        assert!(list.contains(grade), "{grade}");
    }
    let folder = tempfile::tempdir().unwrap();
    let picture = folder.path().join("c45.svg");
    let output = billet(&["steels", "C45", "--svg", picture.to_str().unwrap()]);
    assert_eq!(output.status.code(), Some(0), "{}", err(&output));
    let svg = std::fs::read_to_string(&picture).unwrap();
    for panel in ["thermal conductivity", "specific heat", "emissivity"] {
        assert!(svg.contains(panel), "{panel}");
    }
    let output = billet(&["steels", "C54"]);
    assert_eq!(output.status.code(), Some(2));
    assert!(err(&output).contains("no steel is called `C54`"), "{}", err(&output));
}

#[test]
fn a_closed_pipe_is_quiet() {
    let mut child = Command::new(env!("CARGO_BIN_EXE_billet"))
        .arg("schema")
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    drop(child.stdout.take());
    let output = child.wait_with_output().unwrap();
    assert_eq!(output.status.code(), Some(0));
    assert!(output.stderr.is_empty(), "{}", err(&output));
}

#[test]
fn the_same_input_gives_the_same_bytes() {
    let folder = tempfile::tempdir().unwrap();
    let file = write(folder.path(), "good.toml", QUICK);
    let first = billet(&["trace", &file, "--json"]);
    let second = billet(&["trace", &file, "--json"]);
    assert_eq!(first.stdout, second.stdout);
}

/// Tables and sentences come in the language, the width and the units asked for, and as CSV.
#[test]
fn results_speak_the_language_and_keep_the_width() {
    let german = out(&billet(&["steels", "C45", "--language", "de", "--width", "60"]));
    assert!(
        german.contains("Wärmeleitfähigkeit") && german.contains("nie über"),
        "{german}"
    );
    assert!(german.lines().all(|line| line.chars().count() <= 60), "{german}");
    let csv = out(&billet(&["steels", "--format", "csv", "--language", "fr"]));
    assert!(csv.lines().any(|line| line.starts_with("42CrMo4;")), "{csv}");
    let wrong = billet(&["steels", "--language", "xx"]);
    assert_eq!(wrong.status.code(), Some(2));
    let check = out(&billet(&[
        "check",
        "examples/hub.toml",
        "--format",
        "csv",
        "--language",
        "de",
    ]));
    assert!(check.lines().any(|line| line.starts_with("Arbeitsgang;")), "{check}");
    let inputs = out(&billet(&[
        "inputs",
        "examples/hub.toml",
        "--language",
        "de",
        "--width",
        "60",
    ]));
    assert!(
        inputs.contains("erlaubt") && inputs.lines().all(|line| line.chars().count() <= 60),
        "{inputs}"
    );
    let wrong = billet(&["schema", "--format", "csv"]);
    assert_eq!(wrong.status.code(), Some(2), "{}", out(&wrong));
}
