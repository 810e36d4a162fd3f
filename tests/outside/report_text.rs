//! Answers, tables and files of the report.

use billet_thermal::inside::report::{self, View, files};
use billet_thermal::units::Display;
use unicode_width::UnicodeWidthStr;

use super::report_fixture::invented;

#[test]
fn the_answer_comes_first_and_fits_the_screen() {
    for (broken, lead) in [
        (false, "PASS: 7 limits judged, none broken"),
        (true, "FAIL: 2 of 7 limits broken"),
    ] {
        let text = report::verdict_text(&invented(broken), Display::Metric);
        println!("{text}");
        assert_eq!(text.lines().nth(1), Some(lead));
        assert!(text.lines().nth(2).unwrap().starts_with("Limiting: "));
        for line in text.lines() {
            assert!(line.width() <= 80, "{} {line}", line.width());
        }
        assert!(!text.contains('\u{1b}'));
    }
}

#[test]
fn a_broken_limit_says_everything() {
    let trace = invented(true);
    let verdict = trace.verdicts.iter().find(|v| !v.holds).unwrap();
    let text = report::sentence(&trace, verdict)
        .whole(&View::default())
        .replace('\u{a0}', " ");
    // value 1074.3 goes down, limit 1080 stays, 5.7 K short goes up to 6, 0.81 s too long to 0.9
    for part in [
        "too cold",
        "edge",
        "blocker",
        "blow 3",
        "1074 °C, ≥ 1080 °C",
        "margin -6 K",
        "0.9 s too long in to blocker",
        "limit given",
        "7.466 s",
    ] {
        assert!(text.contains(part), "{part}: {text}");
    }
}

#[test]
fn us_units_reach_every_number() {
    let text = report::verdict_text(&invented(false), Display::Us);
    assert!(text.contains("°F"));
    let judged = text.split("warning: ").next().unwrap();
    assert!(!judged.contains("°C"));
    // 1150 degC is 2102 degF
    assert!(text.contains("≥ 2102"), "{text}");
}

#[test]
fn csv_files_read_back() {
    let trace = invented(true);
    let text = report::csv::trace_csv(&trace).unwrap();
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let head: Vec<String> = reader.headers().unwrap().iter().map(str::to_owned).collect();
    assert_eq!(&head[..4], ["time_s", "stage", "core", "surface"]);
    let mut rows = 0;
    for (record, sample) in reader.records().zip(&trace.samples) {
        let record = record.unwrap();
        let time: f64 = record[0].parse().unwrap();
        assert!((time - sample.time_s).abs() <= 5e-5);
        for (i, temp) in sample.temps_c.iter().enumerate() {
            match temp {
                None => assert_eq!(&record[i + 2], ""),
                Some(t) => assert!((record[i + 2].parse::<f64>().unwrap() - t).abs() <= 5e-4),
            }
        }
        rows += 1;
    }
    assert_eq!(rows, trace.samples.len());
    let limits = report::csv::limits_csv(&trace).unwrap();
    assert_eq!(limits.lines().count(), trace.verdicts.len() + 1);
}

#[test]
fn json_reads_back_and_refuses_what_is_not_a_number() {
    let mut trace = invented(false);
    let text = report::json::result_json(&trace).unwrap();
    let value: serde_json::Value = serde_json::from_str(&text).unwrap();
    assert_eq!(value["schema_version"], 1);
    assert_eq!(value["samples"].as_array().unwrap().len(), trace.samples.len());
    assert!(value["samples"][0]["temps_c"][6].is_null());
    assert_eq!(text, report::json::result_json(&trace).unwrap());
    trace.samples[3].temps_c[1] = Some(f64::NAN);
    for error in [
        report::json::result_json(&trace).unwrap_err(),
        report::csv::trace_csv(&trace).unwrap_err(),
    ] {
        assert!(error.to_string().contains("row 3"), "{error}");
    }
}

#[test]
fn an_unwritable_folder_leaves_old_results() {
    // a folder of the result's own name cannot be replaced by a file, for any user
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("trace.csv"), "old").unwrap();
    std::fs::create_dir(folder.path().join("result.json")).unwrap();
    let set = [
        files::OutFile::text("trace.csv", "new"),
        files::OutFile::text("result.json", "new"),
    ];
    assert!(report::write_set(folder.path(), &set).is_err());
    assert_eq!(std::fs::read_to_string(folder.path().join("trace.csv")).unwrap(), "old");
}
