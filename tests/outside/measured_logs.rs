//! Logs as shops have them, through the command: what is wrong is named by row, nothing is silently dropped.

use std::path::Path;

use assert_cmd::Command;
use serde_json::Value;

use crate::measured_support::{LINE, MEASURED, Truth, log, parts};

fn billet(folder: &Path, line: &[&str]) -> (i32, String, String) {
    let output = Command::cargo_bin("billet")
        .unwrap()
        .current_dir(folder)
        .args(line)
        .output()
        .unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (output.status.code().unwrap(), text(output.stdout), text(output.stderr))
}

fn json(folder: &Path, line: &[&str]) -> Value {
    let mut all = line.to_vec();
    all.push("--json");
    let (status, out, err) = billet(folder, &all);
    assert!(status <= 1, "{err}");
    serde_json::from_str(&out).unwrap()
}

/// A log with the rows changed by `change`, which gets the number of the part from 1 and its cells.
fn shop(change: impl Fn(usize, &mut Vec<String>)) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let truth = Truth {
        parts: 40,
        ..Truth::default()
    };
    let text = log(&parts(LINE, &truth, 11));
    let rows = text.lines().enumerate().map(|(k, row)| {
        let mut cells: Vec<String> = row.split(';').map(str::to_owned).collect();
        if k > 0 {
            change(k, &mut cells);
        }
        cells.join(";") + "\n"
    });
    std::fs::write(folder.path().join("log.csv"), rows.collect::<String>()).unwrap();
    std::fs::write(folder.path().join("line.toml"), format!("{LINE}{MEASURED}")).unwrap();
    folder
}

fn reasons(found: &Value) -> Vec<(u64, String)> {
    let rows = found["bad_rows"].as_array().unwrap();
    rows.iter()
        .map(|row| {
            (
                row["line"].as_u64().unwrap(),
                row["reason"].as_str().unwrap().to_owned(),
            )
        })
        .collect()
}

#[test]
fn a_run_of_the_truth_lies_within_the_scatter_of_its_instruments() {
    let folder = shop(|_, _| {});
    let found = json(folder.path(), &["measured", "line.toml"]);
    let places = found["comparison"]["places"].as_array().unwrap();
    assert_eq!(places.len(), 2);
    for place in places {
        assert_eq!(place["readings"], 40);
        let (mean, sd) = (place["mean_k"].as_f64().unwrap(), place["sd_k"].as_f64().unwrap());
        // A camera that scatters by 5 K and an exit by 3 K; 40 readings.
        assert!(mean.abs() < 3.5 && (3.5..8.5).contains(&sd), "{place}");
    }
}

#[test]
fn rows_with_something_wrong_are_named_with_line_and_reason() {
    let folder = shop(|part, cells| match part {
        3 => cells[2] = "Störung".to_owned(),
        5 => cells[5] = "-".to_owned(),
        8 => cells[5] = "2012,5".to_owned(),
        12 => cells.swap(2, 6),
        20 => cells[0] = "19".to_owned(),
        _ => {}
    });
    let found = json(folder.path(), &["measured", "line.toml"]);
    let told = reasons(&found);
    let of = |line: u64| {
        let all: Vec<&str> = told
            .iter()
            .filter(|(at, _)| *at == line)
            .map(|(_, why)| why.as_str())
            .collect();
        all.join(" | ")
    };
    // The head is line 1, so part 3 stands in line 4.
    assert!(of(4).contains("`Störung` is no number"), "{told:?}");
    assert!(of(9).contains("degF among degC"), "{told:?}");
    assert!(of(13).contains("swapped"), "{told:?}");
    assert!(of(21).contains("again"), "{told:?}");
    let (_, out, _) = billet(folder.path(), &["measured", "line.toml"]);
    assert!(out.contains("cells without a value: 1"), "{out}");
}

#[test]
fn whole_columns_in_degf_or_swapped_are_refused() {
    let folder = shop(|_, cells| {
        let value: f64 = cells[2].replace(',', ".").parse().unwrap();
        cells[2] = format!("{:.1}", 1.8 * value + 32.0).replace('.', ",");
    });
    let (status, _, err) = billet(folder.path(), &["measured", "line.toml"]);
    assert_eq!(status, 2);
    assert!(err.contains("unit = \"degF\""), "{err}");
    let folder = shop(|_, cells| cells.swap(2, 6));
    let (status, _, err) = billet(folder.path(), &["measured", "line.toml"]);
    assert_eq!(status, 2);
    assert!(err.contains("swapped"), "{err}");
}

#[test]
fn a_saturated_pyrometer_is_told() {
    let folder = shop(|_, cells| {
        let value: f64 = cells[2].replace(',', ".").parse().unwrap();
        if value > 1232.0 {
            cells[2] = "1232,0".to_owned();
        }
    });
    let found = json(folder.path(), &["measured", "line.toml"]);
    assert!(
        reasons(&found)
            .iter()
            .filter(|(_, why)| why.contains("saturated"))
            .count()
            > 5
    );
}

/// The camera in a file of its own, with a clock 211.7 s behind and rows missing: joined by order, never to a neighbour.
#[test]
fn a_file_with_another_clock_is_joined() {
    let folder = shop(|_, _| {});
    let text = std::fs::read_to_string(folder.path().join("log.csv")).unwrap();
    let mut camera = String::from("when,t\n");
    for (k, row) in text.lines().skip(1).enumerate().filter(|(k, _)| k % 9 != 4) {
        let cells: Vec<&str> = row.split(';').collect();
        let clock: Vec<f64> = cells[1]
            .split(':')
            .map(|c| c.replace(',', ".").parse().unwrap())
            .collect();
        let late: f64 = cells[3].replace(',', ".").parse().unwrap();
        let seconds = 3600.0 * clock[0] + 60.0 * clock[1] + clock[2] - 211.7 + late + 0.05 * (k % 3) as f64;
        camera.push_str(&format!("{seconds:.2},{}\n", cells[5].replace(',', ".")));
    }
    std::fs::write(folder.path().join("camera.csv"), camera).unwrap();
    let other = MEASURED.replace(
        "file = \"log.csv\"\ncolumn = \"T camera\"",
        "file = \"camera.csv\"\ncolumn = \"t\"\ntime_column = \"when\"",
    );
    std::fs::write(folder.path().join("line.toml"), format!("{LINE}{other}")).unwrap();
    let found = json(folder.path(), &["measured", "line.toml"]);
    let join = &found["joins"][0];
    assert_eq!(
        (join["joined"].as_u64(), join["rows"].as_u64()),
        (Some(36), Some(36)),
        "{join}"
    );
    let offset = join["by"]["clock"]["seconds"].as_f64().unwrap();
    assert!((offset - 211.7).abs() < 0.2, "{offset}");
    let places = found["comparison"]["places"].as_array().unwrap();
    assert!(places[0]["sd_k"].as_f64().unwrap() < 8.5, "{places:?}");
}

/// What a fit found is taken by a line file that names it, with its owner; and refused when it does not fit the line.
#[test]
fn a_calibration_belongs_to_its_line() {
    let folder = shop(|_, _| {});
    let calibration =
        "readings = 80\ndate = \"2026-11-28\"\n[[number]]\ninput = \"billet.emissivity\"\nvalue = 0.81\nsd = 0.012\n";
    std::fs::write(folder.path().join("cal.toml"), calibration).unwrap();
    std::fs::write(
        folder.path().join("with.toml"),
        format!("calibration = \"cal.toml\"\n{LINE}"),
    )
    .unwrap();
    let found = json(folder.path(), &["inputs", "with.toml"]);
    let inputs = found["inputs"].as_array().unwrap();
    let emissivity = inputs.iter().find(|i| i["path"] == "billet.emissivity").unwrap();
    assert_eq!(emissivity["value"].as_f64(), Some(0.81), "{emissivity}");
    assert_eq!(emissivity["owner"], "measured");
    assert!(
        emissivity["source"]
            .as_str()
            .unwrap()
            .contains("cal.toml, 2026-11-28, n = 80")
    );
    std::fs::write(
        folder.path().join("cal.toml"),
        calibration.replace("billet.emissivity", "stage.nowhere.seconds"),
    )
    .unwrap();
    let (status, _, err) = billet(folder.path(), &["inputs", "with.toml"]);
    assert_eq!(status, 2);
    assert!(err.contains("stage.nowhere.seconds"), "{err}");
}

/// A shift says what it could not judge, by its status too, and never writes over what it reads.
#[test]
fn a_shift_of_rows_that_cannot_be_judged_is_not_good() {
    let folder = shop(|part, cells| {
        if part == 7 {
            cells[2] = "over".to_owned();
        }
    });
    let camera = MEASURED.replace(
        "file = \"log.csv\"\ncolumn = \"T camera\"",
        "file = \"camera.csv\"\ncolumn = \"T camera\"\npart_column = \"part\"",
    );
    let path = |name: &str| folder.path().join(name);
    std::fs::write(path("line.toml"), format!("{LINE}{camera}")).unwrap();
    std::fs::copy(path("log.csv"), path("camera.csv")).unwrap();
    let shift = |more: &[&str]| {
        let mut line = vec!["shift", "log.csv", "--line", "line.toml", "--no-guard"];
        line.extend(more);
        billet(folder.path(), &line)
    };
    let before = std::fs::read(path("camera.csv")).unwrap();
    for more in [
        ["--parts", "camera.csv", "--page", "page.html"],
        ["--parts", "same", "--page", "./same"],
    ] {
        let (status, _, err) = shift(&more);
        assert_eq!(status, 2, "{err}");
    }
    assert_eq!(std::fs::read(path("camera.csv")).unwrap(), before);
    assert!(!path("same").exists() && !path("page.html").exists());
    let (status, out, _) = shift(&["--parts", "parts.csv"]);
    assert_eq!(status, 1, "{out}");
    assert!(out.contains("Rows not judged: 1"), "{out}");
    assert_eq!(std::fs::read_to_string(path("parts.csv")).unwrap().lines().count(), 40);
    // Nothing at all is judged of a log without exits.
    let folder = shop(|_, cells| cells[2] = "over".to_owned());
    for line in [
        &["shift", "log.csv", "--line", "line.toml"][..],
        &["measured", "line.toml"],
        &["sort", "line.toml", "--exit-sd", "10"],
    ] {
        let (status, _, err) = billet(folder.path(), line);
        assert_eq!(status, 2, "{line:?} {err}");
    }
}
