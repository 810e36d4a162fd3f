//! What `billet heat` says of a heater is what the line judges and what a run of it gives.

use billet_thermal::inside::heater::Fineness;
use billet_thermal::inside::heater::coil::Drive;
use billet_thermal::inside::heater::line::{
    Criteria, HeaterLine, Motion, StopMode, Target, hold_powers, hold_time, stoppage,
};
use serde_json::Value;

use crate::heater_command::{billet, example, file};
use crate::heater_line::{bar, drives, three_coils};
use crate::heater_transition::settled_powers;

/// The example with powers given.
fn with_powers(kw: [f64; 3]) -> String {
    let mut text = example("heater_line.toml");
    for (coil, kw) in ["coil 1", "coil 2", "coil 3"].iter().zip(kw) {
        let name = format!("name = \"{coil}\"\n");
        text = text.replacen(&name, &format!("{name}power_kw = {kw}\n"), 1);
    }
    text
}

/// Powers near those that meet the target.
const NEAR_KW: [f64; 3] = [103.3, 92.3, 51.1];

fn json(arguments: &[&str]) -> (i32, Value) {
    let (code, text, error) = billet(arguments);
    let value = serde_json::from_str(&text).unwrap_or_else(|_| panic!("{arguments:?}: {text}{error}"));
    (code, value)
}

fn number(value: &Value, name: &str) -> f64 {
    value[name].as_f64().unwrap_or_else(|| panic!("{name}: {value}"))
}

/// What was wrapped to the width of a terminal.
fn in_one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Mean at the exit in a trace.
fn traced_mean(trace: &Value) -> f64 {
    let nodes = trace["nodes"].as_array().unwrap();
    let at = nodes.iter().position(|n| n == "mean").unwrap();
    let moments = trace["moments"].as_array().unwrap();
    moments.iter().find(|m| m["label"] == "exit").unwrap()["temps_c"][at]
        .as_f64()
        .unwrap()
}

/// A file with a limit of its own behind the heater: a bar that is too hot for the target, or for its steel, is no pass.
#[test]
fn a_limit_of_ones_own_does_not_hide_a_burnt_bar() {
    let text = with_powers([118.0, 100.0, 56.0]).replace(
        "[[limit]]\nstage = \"heater\"\nmoment = \"exit\"\nnode = \"hottest\"\nmax_c = 1280\n",
        "",
    );
    let own = file(&text);
    let (code, trace) = json(&["trace", own.path().to_str().unwrap(), "--json", "-q"]);
    assert_eq!(code, 1, "{}", trace["verdicts"]);
    let broken: Vec<&Value> = trace["verdicts"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|v| v["holds"] == false)
        .map(|v| &v["limit"])
        .collect();
    assert!(broken.iter().any(|l| l["owner"] == "target"), "{broken:?}");
    assert!(broken.iter().any(|l| l["owner"] == "library"), "{broken:?}");
    assert!(
        broken.iter().any(|l| l["node"] == "mean" && l["moment"] == "exit"),
        "{broken:?}"
    );
}

/// The offset of the exit is in every number: with powers given the exit is colder by it in the heater as in the line;
/// with powers to be found they make up for it.
#[test]
fn the_offset_of_the_exit_counts_everywhere() {
    let offset = |text: &str| text.replace("[heater.target]", "exit_offset_k = -35\n\n[heater.target]");
    let plain = file(&with_powers(NEAR_KW));
    let given = file(&offset(&with_powers(NEAR_KW)));
    let found = file(&offset(&example("heater_line.toml")));
    let stops = ["--stop", "20", "--stopped", "off", "--json", "-q"];
    let heat = |file: &tempfile::NamedTempFile| {
        let path = file.path().to_str().unwrap().to_owned();
        let mut all = vec!["heat", path.as_str()];
        all.extend(stops);
        let (code, heat) = json(&all);
        let (_, trace) = json(&["trace", path.as_str(), "--json", "-q"]);
        (code, heat, traced_mean(&trace))
    };
    let (_, before, _) = heat(&plain);
    let (code, colder, traced) = heat(&given);
    let exit = |heat: &Value, name: &str| number(&heat["steady"]["exit"], name);
    assert_eq!(code, 1, "{}", colder["missed"]);
    assert!((exit(&before, "mean_c") - exit(&colder, "mean_c") - 35.0).abs() < 1e-6);
    assert!((exit(&before, "peak_c") - exit(&colder, "peak_c") - 35.0).abs() < 1e-6);
    assert!((exit(&colder, "mean_c") - traced).abs() < 2.0, "{traced}");
    let first = |heat: &Value| heat["stops"][0]["at_once"]["billets"][0].clone();
    let (warm, cold) = (first(&before), first(&colder));
    assert!((number(&warm["billet"], "mean_c") - number(&cold["billet"], "mean_c") - 35.0).abs() < 1e-6);
    assert_eq!(cold["verdict"], "too_cold", "{cold}");
    let (code, heat, traced) = heat(&found);
    assert_eq!(code, 0, "{}", heat["search"]["status"]);
    assert!(
        (exit(&heat, "mean_c") - 1230.0).abs() < 1.0,
        "{}",
        exit(&heat, "mean_c")
    );
    assert!((traced - 1230.0).abs() < 2.0, "{traced}");
}

/// After a long stop without power no billet is called good whose surface and core lie further apart than the target
/// allows.
#[test]
fn billets_of_a_stop_are_judged_for_evenness() {
    let file = file(&with_powers(NEAR_KW).replace("difference_k = 50", "difference_k = 45"));
    let path = file.path().to_str().unwrap();
    let (_, heat) = json(&["heat", path, "--stop", "240", "--stopped", "off", "--json", "-q"]);
    let mut uneven = 0;
    for study in [&heat["stops"][0]["study"], &heat["stops"][0]["at_once"]] {
        for billet in study["billets"].as_array().unwrap() {
            let apart = (number(&billet["billet"], "surface_c") - number(&billet["billet"], "core_c")).abs();
            if billet["verdict"] == "good" {
                assert!(apart <= 45.0, "{billet}");
            }
            uneven += usize::from(billet["verdict"] == "uneven");
        }
    }
    assert!(uneven > 0, "none is too uneven");
}

/// The time that a hold may last is one after which the restart, followed on the same grid, rejects nothing.
#[test]
fn a_hold_of_the_time_told_rejects_nothing() {
    let line = HeaterLine {
        takt_s: 16.0,
        ..three_coils(Motion::Indexed)
    };
    let (coarse, bar) = (bar(Fineness::quick()), bar(Fineness::standard()));
    let powers = drives(&settled_powers(&line, &coarse));
    let hold: Vec<Drive> = hold_powers(&line, &bar, &powers, 3)
        .unwrap()
        .into_iter()
        .map(Drive::Load)
        .collect();
    let mean_c = line.steady(&bar, &powers, 3).unwrap().exit.mean_c;
    let peak_c = line.steady(&bar, &powers, 3).unwrap().exit.peak_c;
    let criteria = Criteria {
        at_least: (Target::Mean, mean_c - 30.0),
        at_most_c: Some(mean_c + 30.0),
        never_above_c: peak_c + 8.0,
        difference_k: None,
    };
    let time = hold_time(&line, &bar, (&powers, &hold), 3, (600.0, 30.0), &criteria).unwrap();
    for told in [time.until_restart_hot_s, time.until_rejects_s] {
        let told = told.expect("a hold this long is too long");
        let study = stoppage(
            &line,
            &bar,
            &powers,
            3,
            (told, &StopMode::Hold(hold.clone())),
            line.places() + 2,
            &criteria,
        )
        .unwrap();
        let hot = study
            .billets
            .iter()
            .filter(|b| b.billet.peak_c > criteria.never_above_c);
        assert_eq!(hot.count(), 0, "{told} s");
        if Some(told) == time.until_rejects_s {
            assert_eq!(study.rejected, 0, "{told} s");
        }
    }
}

#[test]
fn a_static_coil_of_next_to_no_power_is_answered() {
    let text = example("heater_static.toml");
    let (at, end) = (text.find("[[heater.step]]").unwrap(), text.find("[[stage]]").unwrap());
    let target = "highest_kw = 0.05\n\n[heater.target]\ntemperature_c = 1200\n\n";
    let file = file(&format!("{}{target}{}", &text[..at], &text[end..]));
    let (code, text, error) = billet(&["heat", file.path().to_str().unwrap(), "-q"]);
    assert_eq!(code, 1, "{text}{error}");
    assert!(in_one_line(&text).contains("missed from below"), "{text}");
}

#[test]
fn a_power_above_the_highest_is_refused_with_both() {
    let line = with_powers(NEAR_KW).replace("highest_kw = 200", "highest_kw = 100");
    let fixed = example("heater_static.toml").replace("frequency_hz = 1000", "frequency_hz = 1000\nhighest_kw = 100");
    for (text, given) in [(line, "103.3"), (fixed, "116")] {
        let file = file(&text);
        let (code, _, error) = billet(&["heat", file.path().to_str().unwrap(), "-q"]);
        assert_eq!(code, 2, "{error}");
        let says = format!("power_kw = {given} is above highest_kw = 100");
        assert!(error.contains(&says), "{error}");
    }
}

/// A gate without width rejects every billet, and a warning says why.
#[test]
fn an_exit_outside_its_gate_is_no_success() {
    let gate = |text: &str| {
        let text = text.replace("accept_below_k = 45", "accept_below_k = 0");
        text.replace("accept_above_k = 25", "accept_above_k = 0")
    };
    let file = file(&gate(&example("heater_line.toml")));
    let (code, text, error) = billet(&["heat", file.path().to_str().unwrap()]);
    assert_eq!(code, 1, "{text}");
    assert!(in_one_line(&text).contains("is outside the exit gate"), "{text}");
    assert!(
        in_one_line(&error).contains("narrower than what the search holds"),
        "{error}"
    );
}

#[test]
fn melting_is_named() {
    let file = file(&with_powers([190.0, 190.0, 120.0]));
    let path = file.path().to_str().unwrap();
    let (code, text, _) = billet(&["heat", path, "-q"]);
    assert_eq!(code, 1, "{text}");
    assert!(in_one_line(&text).contains("above the solidus estimate"), "{text}");
    let (_, text, error) = billet(&["trace", path]);
    let told = in_one_line(&format!("{text}{error}"));
    assert!(told.contains("above the solidus estimate"), "{told}");
}

/// A limit of the file on the hottest point in the heater is what stops are planned and judged by, though the target
/// allows more.
#[test]
fn a_limit_of_ones_own_counts_in_stops_as_in_the_line() {
    let own = "[[limit]]\nstage = \"heater\"\nmoment = \"always\"\nnode = \"hottest\"\nmax_c = 1262\n\n[[limit]]";
    let file = file(&example("heater_line.toml").replacen("[[limit]]", own, 1));
    let path = file.path().to_str().unwrap();
    let (_, heat) = json(&["heat", path, "--stop", "60", "--stopped", "hold", "--json", "-q"]);
    let study = &heat["stops"][0]["study"];
    for billet in study["billets"].as_array().unwrap() {
        let peak_c = number(&billet["billet"], "peak_c");
        assert_eq!(peak_c > 1262.0, billet["verdict"] == "too_hot", "{billet}");
    }
    assert!(number(&heat["steady"]["exit"], "peak_c") <= 1262.0);
}

/// What the target leaves to the program is judged by the line as by the heater, and shown as a default.
#[test]
fn defaults_of_the_target_are_limits_of_the_line() {
    let text = with_powers(NEAR_KW);
    let keep = |line: &&str| {
        !["accept_below_k", "accept_above_k", "difference_k"]
            .iter()
            .any(|k| line.starts_with(k))
    };
    let text = text.lines().filter(keep).collect::<Vec<_>>().join("\n");
    let file = file(&text);
    let (_, trace) = json(&["trace", file.path().to_str().unwrap(), "--json", "-q"]);
    let limits: Vec<&Value> = trace["verdicts"]
        .as_array()
        .unwrap()
        .iter()
        .map(|v| &v["limit"])
        .collect();
    for key in ["accept_below_k", "accept_above_k", "difference_k"] {
        let source = format!("heater.target.{key}");
        let limit = limits.iter().find(|l| l["source"] == source.as_str());
        let limit = limit.unwrap_or_else(|| panic!("{key}: {limits:?}"));
        assert_eq!(limit["owner"], "default", "{limit}");
    }
}

/// Powers given that miss the aim by some kelvin and stay inside the exit gate are good; the miss is told.
#[test]
fn inside_the_gate_is_good_though_the_aim_is_missed() {
    let file = file(&with_powers([102.3, 91.3, 50.6]));
    let path = file.path().to_str().unwrap();
    let (code, heat) = json(&["heat", path, "--json", "-q"]);
    assert!(!heat["missed"].as_array().unwrap().is_empty());
    assert_eq!(code, 0, "{} {}", heat["missed"], heat["exit_limits"]);
}

/// An order for another heater is a wrong input; a billet below zero is none.
#[test]
fn another_heater_is_a_wrong_input() {
    let own = file(&with_powers(NEAR_KW));
    let other = file(&with_powers(NEAR_KW).replace("bore_mm = 100", "bore_mm = 110"));
    let (own, other) = (own.path().to_str().unwrap(), other.path().to_str().unwrap());
    let (code, _, error) = billet(&["heat", own, "--next", other, "-q"]);
    assert_eq!(code, 2, "{error}");
    let (code, _, error) = billet(&["heat", own, "--warm-billet", "-41", "-q"]);
    assert_eq!(code, 2);
    assert!(error.contains("must be -40"), "{error}");
}

/// Neighbours that nobody asked for and that do not settle cost the answer nothing.
#[test]
fn tables_nobody_asked_for_do_not_end_the_answer() {
    let zone =
        |name: &str, mm: f64| format!("[[heater.zone]]\nkind = \"coil\"\nname = \"{name}\"\nlength_mm = {mm}\n\n");
    let text = format!(
        "title = \"Fast\"\n[billet]\nsteel = \"42CrMo4\"\nsection = \"round\"\ndiameter_mm = 60\nlength_mm = 140\n\
         [shop]\nambient_c = 20\ntakt_s = 12\n[heater]\nkind = \"coil_line\"\nmotion = \"steady\"\nstart_c = 20\n\
         bore_mm = 100\nlining_mm = 12\nlining_w_mk = 0.4\nfrequency_hz = 8000\nhighest_kw = 300\nturns = 40\n\
         [heater.target]\ntemperature_c = 1230\ndifference_k = 42\nnever_above_c = 1280\n\
         [[heater.converter]]\nname = \"A\"\ncoils = [\"one\", \"two\"]\nshare = \"voltage\"\n\
         lowest_hz = 7000\nhighest_hz = 9000\n\n{}{}{}\
         [[stage]]\nkind = \"carry\"\nname = \"to press\"\nseconds = 4\nair_speed_m_s = 1.0\n",
        zone("one", 980.0),
        zone("two", 980.0),
        zone("three", 770.0)
    );
    let file = file(&text);
    let (code, _, error) = billet(&["heat", file.path().to_str().unwrap(), "-q"]);
    assert_ne!(code, 3, "{error}");
}
