//! The planning commands as a user meets them: answers, exit status, bad input.

use std::path::{Path, PathBuf};

use assert_cmd::Command;
use serde_json::Value;

use crate::plan_line::PLATE;

struct Shop(tempfile::TempDir);

impl Shop {
    fn new() -> Self {
        let shop = Shop(tempfile::tempdir().unwrap());
        shop.file("plate.toml", PLATE);
        shop
    }

    fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    fn file(&self, name: &str, text: &str) {
        std::fs::write(self.path(name), text).unwrap();
    }

    fn billet(&self, line: &str) -> (i32, String, String) {
        let output = Command::cargo_bin("billet")
            .unwrap()
            .current_dir(self.0.path())
            .args(line.split(' '))
            .output()
            .unwrap();
        (
            output.status.code().unwrap(),
            String::from_utf8(output.stdout).unwrap(),
            String::from_utf8(output.stderr).unwrap(),
        )
    }

    fn json(&self, line: &str) -> Value {
        let (status, out, err) = self.billet(&format!("{line} --json"));
        assert!(status <= 1, "{line}: {err}");
        serde_json::from_str(&out).unwrap()
    }
}

fn narrow(text: &str) {
    for line in text.lines() {
        assert!(line.chars().count() <= 80, "{} columns: {line}", line.chars().count());
    }
}

/// 15.66 s after the exit the plate has 1200 degC (see the plate's closed form): 10 planned.
#[test]
fn delays_print_seconds_rounded_to_the_safe_side() {
    let shop = Shop::new();
    let (status, out, err) = shop.billet("delays plate.toml");
    assert_eq!((status, err.as_str()), (0, ""));
    narrow(&out);
    assert!(out.contains("has least to spare: it may take "), "{out}");
    assert!(out.contains(" 9.6 ") && out.contains(" 11.6 "), "{out}");
    let value = shop.json("delays plate.toml");
    let first = &value["handovers"][0];
    assert_eq!(first["alone"]["latest_s"], 9.6);
    let alarm = first["alarm"]["latest_s"].as_f64();
    let reject = first["reject"]["latest_s"].as_f64();
    // The guard band (about 8 K at one sigma, 2.6 K/s) uses up more than the time there is.
    assert!(alarm <= reject && reject < Some(9.6), "{first}");
}

#[test]
fn a_controller_gets_its_tables() {
    let shop = Shop::new();
    let (status, _, err) = shop.billet("delays plate.toml --out out");
    assert_eq!(status, 0, "{err}");
    let csv = std::fs::read_to_string(shop.path("out/controller.csv")).unwrap();
    assert!(csv.starts_with(
        "exit_c,stage,planned_s,planned_state,earliest_s,alarm_s,alarm_clears_s,reject_s,reject_from_the_start,measured_on_each_part\n"
    ));
    assert_eq!(csv.lines().count(), 1 + 9 * 2);
    let (status, out, _) = shop.billet("decide out/decision-table.json --exit-c 1244 --elapsed 4.1");
    assert_eq!(status, 0, "{out}");
    // The margins of 28 and 16 K are above the reject guards (some 13 K) and below the alarm guards (some 24 K).
    assert!(out.starts_with("ALARM"), "{out}");
    let (status, out, _) = shop.billet("decide out/decision-table.json --exit-c 1240 --elapsed 25");
    assert_eq!(status, 1, "{out}");
    assert!(out.starts_with("REJECT"), "{out}");
    // Outside the table is a reject, not an error.
    let (status, out, _) = shop.billet("decide out/decision-table.json --exit-c 900");
    assert_eq!(status, 1, "{out}");
    assert!(out.contains("1192") && out.contains("1288"), "{out}");
    let (status, _, err) = shop.billet("decide out/decision-table.json --exit-c 1240 --part A-1");
    assert!(status == 2 && err.contains("not of A-1"), "{err}");
    for nonsense in ["--elapsed nan", "--elapsed=-5", "--elapsed 4,6,1"] {
        let (status, _, err) = shop.billet(&format!("decide out/decision-table.json --exit-c 1240 {nonsense}"));
        assert_eq!(status, 2, "{nonsense}: {err}");
    }
    let table = std::fs::read_to_string(shop.path("out/decision-table.json")).unwrap();
    shop.file("touched.json", &table.replacen("1192", "1191", 1));
    let (status, _, err) = shop.billet("decide touched.json --exit-c 1240");
    assert!(status == 2 && err.contains("digest"), "{err}");
    let (status, _, err) = shop.billet("decide out/delays.json --exit-c 1240");
    assert!(status == 2 && err.contains("not a decision table"), "{err}");
}

#[test]
fn every_planning_command_answers_within_80_columns() {
    let shop = Shop::new();
    shop.file("family.csv", "part,heater.temperature_c\nA,1240\nB,1205\n");
    shop.file(
        "colder.toml",
        &PLATE.replace("temperature_c = 1240", "temperature_c = 1215"),
    );
    shop.file(
        "moves.toml",
        &format!(
            "{PLATE}[[study.move]]\nstage = \"first\"\ndevices = [\"robot\"]\ndistance_m = 3\nspeed_m_s = 1.5\nacceleration_m_s2 = 3\n"
        ),
    );
    shop.file(
        "press.toml",
        &format!("{PLATE}[[stage]]\nkind = \"forge\"\nname = \"press\"\nlying_after_s = 0.3\n"),
    );
    // One blow more brings a second limit of the steel, so it is not set against the one there is.
    shop.file(
        "flash.toml",
        "title = \"ring\"\n[billet]\nsteel = \"C45\"\ndiameter_mm = 50\nlength_mm = 80\n[heater]\nkind = \"measured\"\n\
         temperature_c = 1200\n[[stage]]\nkind = \"forge\"\nname = \"press\"\nshape = [{ zone = \"body\", outer_mm = 84, height_mm = 26 }, \
         { zone = \"flash\", inner_mm = 84, outer_mm = 100, height_mm = 5.6 }]\n",
    );
    for (line, status, word) in [
        (
            "sensitivities flash.toml --resolution quick",
            0,
            "blows, press is left out",
        ),
        ("sensitivities press.toml", 0, "lying before, press"),
        ("inputs plate.toml", 0, "heater.temperature_c"),
        ("exit-band plate.toml", 0, "Exit 1226 – 1260 °C"),
        ("sensitivities plate.toml", 0, "heater exit"),
        ("stops plate.toml --seconds 2,5,20", 0, "Already 2.0 s costs parts"),
        (
            "scatter plate.toml --samples 64 --causes 16",
            0,
            "of parts break a limit",
        ),
        ("compare plate.toml colder.toml", 1, "B BREAKS"),
        ("family plate.toml family.csv", 1, "1 hold, 1 break a limit"),
        ("moves moves.toml", 0, "limits the takt"),
        (
            "delays plate.toml --together first second",
            0,
            "What second may take when first takes so long",
        ),
    ] {
        let (found, out, err) = shop.billet(line);
        assert_eq!(found, status, "{line}: {err}{out}");
        assert!(out.contains(word), "{line}: {out}");
        narrow(&out);
        let (_, us, _) = shop.billet(&format!("{line} --units us"));
        narrow(&us);
    }
}

/// The drives of the move give 2.5 s (3 m, 1.5 m/s, 3 m/s2); temperature allows 5.6 s more in all.
#[test]
fn moves_are_shared_up_to_the_limit() {
    let shop = Shop::new();
    shop.file(
        "moves.toml",
        &format!("{PLATE}[[study.move]]\nstage = \"first\"\ndistance_m = 3\nspeed_m_s = 1.5\nacceleration_m_s2 = 3\n"),
    );
    // With the guard band it is less.
    let guarded = shop.json("moves moves.toml");
    assert!(guarded["shared"]["total_s"].as_f64() < Some(9.5), "{guarded}");
    assert!(guarded["moves"][0]["slack_s"].as_f64() < Some(7.0), "{guarded}");
    let value = shop.json("moves moves.toml --no-guard");
    let near = |pointer: &str, wanted: f64| {
        let found = value.pointer(pointer).and_then(Value::as_f64).unwrap();
        assert!((found - wanted).abs() < 0.03, "{pointer}: {found} for {wanted}");
    };
    near("/moves/0/timing/minimum_s", 2.5);
    near("/shared/total_s", 9.66);
    near("/shared/moves/0/seconds", 9.66);
    // Triangular: 4 s / t^2.
    near("/shared/moves/0/acceleration_m_s2", 12.0 / 9.66 / 9.66);
    // Temperatures and cycle run with what the drives give: 2.5 s and the 6 s of the other stage.
    near("/cycle/hot_time_s", 8.5);
    near("/moves/0/slack_s", 9.66 - 2.5);
}

/// A plan that is faster than its drives is no plan.
#[test]
fn a_move_faster_than_its_drives_is_refused() {
    let shop = Shop::new();
    shop.file(
        "moves.toml",
        &format!("{PLATE}[[study.move]]\nstage = \"first\"\ndistance_m = 9\nspeed_m_s = 1.5\nacceleration_m_s2 = 3\n"),
    );
    let (status, out, err) = shop.billet("moves moves.toml");
    assert_eq!((status, out.as_str()), (2, ""));
    assert!(
        err.contains("`first` is planned to take 4 s, its drives need at least 6.50 s"),
        "{err}"
    );
}

#[test]
fn a_study_can_be_split_resumed_and_merged() {
    let shop = Shop::new();
    let whole = shop.json("scatter plate.toml --samples 60");
    for part in 1..=3 {
        let (status, out, err) = shop.billet(&format!(
            "scatter plate.toml --samples 60 --shard {part}/3 --results p{part}"
        ));
        assert_eq!(status, 0, "{err}");
        assert!(out.contains("20 samples"), "{out}");
    }
    let merged = shop.json("scatter plate.toml --samples 60 --merge p1 p2 p3");
    assert_eq!(merged, whole);
    // A finished part is not run again, a missing one is told.
    let (status, _, err) = shop.billet("scatter plate.toml --samples 60 --shard 2/3 --results p2");
    assert!(status == 0 && err.contains("going on after 20 samples"), "{err}");
    let (status, _, err) = shop.billet("scatter plate.toml --samples 60 --merge p1 p3");
    assert!(
        status == 2 && err.contains("20 samples are not done yet, the first is 20"),
        "{err}"
    );
    let (status, _, err) = shop.billet("scatter plate.toml --samples 61 --merge p1 p2 p3");
    assert!(status == 2 && err.contains("different studies"), "{err}");
}

#[test]
fn bad_input_is_told_with_numbers() {
    let shop = Shop::new();
    shop.file("damaged", "{\"layout\":1");
    shop.file("no-scatter.toml", PLATE.split("[study]").next().unwrap());
    shop.file("wide.toml", &PLATE.replace("sd = 8", "sd = 400"));
    shop.file(
        "near.toml",
        &PLATE.replace("\"stage.second.seconds\"", "\"stage.secnd.seconds\""),
    );
    for (line, word) in [
        (
            "scatter plate.toml --samples 3 --shard 1/4 --results p",
            "4 parts for 3 samples",
        ),
        ("scatter plate.toml --shard 5/4 --results p", "no part 5 of 4"),
        ("scatter plate.toml --shard two --results p", "2/8 for part 2 of 8"),
        ("scatter plate.toml --samples 60 --results damaged", "damaged at line 1"),
        ("scatter plate.toml --samples 0", "1..=4294967296"),
        ("scatter no-scatter.toml", "[[study.scatter]]"),
        ("scatter wide.toml", "physical range"),
        ("delays near.toml", "did you mean `stage.second.seconds`"),
        ("delays plate.toml --together first secnd", "did you mean `second`"),
        ("moves plate.toml", "[[study.move]]"),
        ("stops plate.toml --seconds 0", "above 0"),
        ("family plate.toml none.csv", "none.csv"),
        (
            "exit-band plate.toml --wanted-c 1000 --node x --moment end --stage first",
            "node `x`",
        ),
        ("inputs none.toml", "none.toml"),
    ] {
        let (status, out, err) = shop.billet(line);
        assert_eq!(status, 2, "{line}: {out}{err}");
        assert!(err.contains(word), "{line}: {err}");
        assert!(err.starts_with("billet: ") && out.is_empty(), "{line}: {err}");
    }
    assert!(!Path::new(&shop.path("p")).exists());
}
