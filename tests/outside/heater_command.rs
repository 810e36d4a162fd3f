//! `billet heat` and `billet trace` on line files with a computed heater.

use assert_cmd::Command;
use serde_json::Value;

pub fn billet(arguments: &[&str]) -> (i32, String, String) {
    let output = Command::new(env!("CARGO_BIN_EXE_billet"))
        .args(arguments)
        .output()
        .unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (output.status.code().unwrap(), text(output.stdout), text(output.stderr))
}

pub fn example(name: &str) -> String {
    std::fs::read_to_string(format!("{}/examples/{name}", env!("CARGO_MANIFEST_DIR"))).unwrap()
}

/// Writes a line file at the coarse resolution, to keep the tests short.
pub fn file(text: &str) -> tempfile::NamedTempFile {
    let file = tempfile::Builder::new().suffix(".toml").tempfile().unwrap();
    std::fs::write(file.path(), format!("resolution = \"quick\"\n{text}")).unwrap();
    file
}

#[test]
fn the_example_line_meets_its_target() {
    let file = file(&example("heater_line.toml"));
    let path = file.path().to_str().unwrap();
    let (code, text, _) = billet(&["heat", path, "--json", "-q"]);
    assert_eq!(code, 0, "{text}");
    let json: Value = serde_json::from_str(&text).unwrap();
    let mean = json["steady"]["exit"]["mean_c"].as_f64().unwrap();
    assert!((mean - 1230.0).abs() < 1.0, "{mean}");
    let kwh = json["mains_kwh_t"].as_f64().unwrap();
    assert!((300.0..420.0).contains(&kwh), "{kwh}");
    // The whole exit field reaches the line: the trace starts from the mean that was found.
    let (code, text, _) = billet(&["trace", path, "--json", "-q"]);
    assert_eq!(code, 0, "{text}");
    let json: Value = serde_json::from_str(&text).unwrap();
    let nodes: Vec<&str> = json["nodes"]
        .as_array()
        .unwrap()
        .iter()
        .filter_map(Value::as_str)
        .collect();
    let at = nodes.iter().position(|n| *n == "mean").unwrap();
    let exit = json["moments"]
        .as_array()
        .unwrap()
        .iter()
        .find(|m| m["label"] == "exit")
        .unwrap();
    let traced = exit["temps_c"][at].as_f64().unwrap();
    assert!((traced - mean).abs() < 2.0, "{traced} {mean}");
}

#[test]
fn a_stop_and_a_cold_start_are_answered() {
    let file = file(&example("heater_line.toml"));
    let folder = tempfile::tempdir().unwrap();
    let out = folder.path().join("heat");
    let arguments = ["--stop", "90", "--start-up", "--out", out.to_str().unwrap(), "-q"];
    let mut all = vec!["heat", file.path().to_str().unwrap()];
    all.extend(arguments);
    let (code, text, error) = billet(&all);
    assert_eq!(code, 0, "{text}{error}");
    assert!(text.contains("first good one") && text.contains("Stoppages"), "{text}");
    for name in [
        "heater.svg",
        "energy.svg",
        "stop_90s_off.svg",
        "stop_90s_hold.svg",
        "start_up.svg",
        "heater.json",
    ] {
        assert!(out.join(name).is_file(), "{name}");
    }
}

#[test]
fn an_impossible_target_ends_with_1_and_says_what_would_help() {
    let text = example("heater_line.toml").replace("highest_kw = 200", "highest_kw = 75");
    let file = file(&text);
    let (code, text, _) = billet(&["heat", file.path().to_str().unwrap(), "-q"]);
    assert_eq!(code, 1, "{text}");
    assert!(
        text.starts_with("Not possible: target 1230 °C is missed from below"),
        "{text}"
    );
    assert!(text.contains("A takt of"), "{text}");
}

#[test]
fn wrong_heaters_end_with_2() {
    let good = example("heater_line.toml");
    for (from, to, says) in [
        (
            "diameter_mm = 60",
            "diameter_mm = 80",
            "80.0 mm does not fit into a clear bore of 76.0 mm",
        ),
        ("length_mm = 770", "length_mm = 0", "length_mm = 0"),
        ("highest_kw = 200", "highest_kw = -5", "highest_kw = -5"),
        (
            "never_above_c = 1280",
            "never_above_c = 1200",
            "not below the never-exceed limit 1200",
        ),
        (
            "start_c = 5 ",
            "start_c = 1240 ",
            "target 1230 degC is not above start_c, 1240 degC",
        ),
        ("takt_s = 14", "", "takt_s"),
        ("kind = \"open\"", "kind = \"opne\"", "did you mean `open`"),
        ("temperature_c = 1230", "power_kw = 3", "unknown key `power_kw`"),
    ] {
        assert!(good.contains(from), "{from}");
        let file = file(&good.replacen(from, to, 1));
        let (code, _, error) = billet(&["heat", file.path().to_str().unwrap()]);
        assert_eq!(code, 2, "{from} -> {to}: {error}");
        assert!(error.contains(says), "{from} -> {to}: {error}");
    }
    let hub = format!("{}/examples/hub.toml", env!("CARGO_MANIFEST_DIR"));
    assert_eq!(billet(&["heat", &hub]).0, 2);
    let file = file(&good);
    assert_eq!(billet(&["heat", file.path().to_str().unwrap(), "--stop", "-3"]).0, 2);
}

#[test]
fn a_frequency_that_cannot_heat_is_warned_of() {
    let text = example("heater_line.toml").replace("frequency_hz = 1000", "frequency_hz = 300");
    let file = file(&text);
    let (code, _, error) = billet(&["check", file.path().to_str().unwrap()]);
    assert_eq!(code, 0, "{error}");
    assert!(error.contains("skin depths thick"), "{error}");
}

#[test]
fn the_static_coil_heats_its_billet() {
    let file = file(&example("heater_static.toml"));
    let (code, text, _) = billet(&["heat", file.path().to_str().unwrap(), "--json", "-q"]);
    assert_eq!(code, 0, "{text}");
    let json: Value = serde_json::from_str(&text).unwrap();
    let exit = &json["static_coil"]["exit"];
    let mean = exit["mean_c"].as_f64().unwrap();
    assert!((1180.0..1260.0).contains(&mean), "{mean}");
}

/// A furnace of two zones: after a long soak the billet is at the temperature of the second.
#[test]
fn furnace_zones_follow_each_other() {
    let text = example("heater_static.toml");
    let at = text.find("[heater]").unwrap();
    let end = text.find("[[stage]]").unwrap();
    let furnace = "[heater]\nkind = \"furnace\"\ntemperature_c = 800\nminutes = 20\n\n\
                   [[heater.zone]]\nkind = \"furnace\"\ntemperature_c = 1220\nminutes = 300\n\n";
    let file = file(&format!("{}{furnace}{}", &text[..at], &text[end..]));
    let (code, text, error) = billet(&["trace", file.path().to_str().unwrap(), "--json", "-q"]);
    assert_eq!(code, 0, "{error}");
    let json: Value = serde_json::from_str(&text).unwrap();
    let exit = json["moments"]
        .as_array()
        .unwrap()
        .iter()
        .find(|m| m["label"] == "exit")
        .unwrap();
    for t in exit["temps_c"]
        .as_array()
        .unwrap()
        .iter()
        .filter_map(Value::as_f64)
        .take(3)
    {
        assert!((t - 1220.0).abs() < 20.0, "{t}");
    }
    assert_eq!(json["stages"][0]["start_s"].as_f64().unwrap(), -320.0 * 60.0);
}

/// Running on through a stop sets billets aside, and the energy of a tonne of good billets counts them.
#[test]
fn running_on_and_rejects_are_in_the_answer() {
    let file = file(&example("heater_line.toml"));
    let path = file.path().to_str().unwrap();
    let arguments = ["--stop", "90", "--stopped", "all", "--start-up", "--json", "-q"];
    let mut all = vec!["heat", path];
    all.extend(arguments);
    let (code, text, error) = billet(&all);
    assert_eq!(code, 0, "{text}{error}");
    let json: Value = serde_json::from_str(&text).unwrap();
    let stops = json["stops"].as_array().unwrap();
    let of = |mode: &str| stops.iter().find(|s| s["power"] == mode).unwrap();
    // One billet every 28 s leaves in 90 s.
    assert_eq!(of("run on")["pushed_out"].as_u64().unwrap(), 3);
    assert_eq!(of("off")["pushed_out"].as_u64().unwrap(), 0);
    let whole = json["mains_kwh_t"].as_f64().unwrap();
    let good = json["mains_kwh_per_good_t"].as_f64().unwrap();
    assert!(good > whole + 1.0 && good < 1.5 * whole, "{good} {whole}");
    // Spread over a longer time the same events weigh less.
    all.extend(["--shift", "24"]);
    let (_, text, _) = billet(&all);
    let day: Value = serde_json::from_str(&text).unwrap();
    let day = day["mains_kwh_per_good_t"].as_f64().unwrap();
    assert!(
        day < good && ((day - whole) * 3.0 / (good - whole) - 1.0).abs() < 0.15,
        "{day} {good}"
    );
    assert_eq!(billet(&["heat", path, "--run-on-takt", "0"]).0, 2);
}

#[test]
fn us_units_reach_every_sentence() {
    let text = example("heater_line.toml").replace("highest_kw = 200", "highest_kw = 75");
    let file = file(&text);
    let path = file.path().to_str().unwrap();
    let (code, text, _) = billet(&["heat", path, "--units", "us", "--stop", "90", "--start-up", "-q"]);
    assert_eq!(code, 1, "{text}");
    assert!(
        text.starts_with("Not possible: target 2246 °F is missed from below"),
        "{text}"
    );
    assert!(!text.contains("°C") && !text.contains("degC"), "{text}");
    assert!(text.contains("lb/h"), "{text}");
}

/// A static coil keeps limits of its own.
#[test]
fn a_static_coil_has_limits() {
    let target = "[heater.target]\nnever_above_c = 1100\n\n[[heater.step]]";
    let file1 = file(&example("heater_static.toml").replacen("[[heater.step]]", target, 1));
    let (code, text, _) = billet(&["heat", file1.path().to_str().unwrap(), "-q"]);
    assert_eq!(code, 1, "{text}");
    assert!(text.contains("must never exceed, 1100 °C"), "{text}");
    // A programme given is judged against a target given.
    let target = "[heater.target]\ntemperature_c = 1100\n\n[[heater.step]]";
    let file2 = file(&example("heater_static.toml").replacen("[[heater.step]]", target, 1));
    let (code, text, error) = billet(&["heat", file2.path().to_str().unwrap(), "-q"]);
    assert_eq!(code, 1, "{error}");
    assert!(text.contains("target 1100 °C is missed from"), "{text}");
    for option in ["--start-up", "--run-out", "--search"] {
        let (code, _, error) = billet(&["heat", file2.path().to_str().unwrap(), "-q", option]);
        assert!(code == 2 && error.contains("row of coils"), "{option}: {error}");
    }
    let (code, _, error) = billet(&["heat", file2.path().to_str().unwrap(), "-q", "--stop", "60"]);
    assert!(code == 2 && error.contains("--stop"), "{error}");
}

/// Without steps a static coil gets the programme for its target, and `trace` heats by it.
#[test]
fn a_static_coil_finds_its_programme() {
    let text = example("heater_static.toml");
    let (at, end) = (text.find("[[heater.step]]").unwrap(), text.find("[[stage]]").unwrap());
    let target = "[heater.target]\ntemperature_c = 1200\ndifference_k = 40\nnever_above_c = 1280\n\n";
    let file = file(&format!("{}{target}{}", &text[..at], &text[end..]));
    let path = file.path().to_str().unwrap();
    let (code, text, error) = billet(&["heat", path, "--json", "-q"]);
    assert_eq!(code, 0, "{text}{error}");
    let json: Value = serde_json::from_str(&text).unwrap();
    let exit = &json["static_coil"]["exit"];
    let of = |name: &str| exit[name].as_f64().unwrap();
    assert!((of("mean_c") - 1200.0).abs() < 5.0, "{exit}");
    assert!(
        (of("surface_c") - of("core_c")).abs() < 45.0 && of("peak_c") < 1285.0,
        "{exit}"
    );
    let (code, text, error) = billet(&["trace", path, "--json", "-q"]);
    assert!(code < 2, "{error}");
    let trace: Value = serde_json::from_str(&text).unwrap();
    let seconds = json["seconds"].as_f64().unwrap();
    assert!((trace["stages"][0]["start_s"].as_f64().unwrap() + seconds).abs() < 1e-6);
}

/// Powers given are judged against the target; where one is missing it alone is found, and that is said.
#[test]
fn given_powers_are_judged_and_kept() {
    let with = |powers: [&str; 3]| {
        let mut text = example("heater_line.toml");
        for (name, power) in ["coil 1", "coil 2", "coil 3"].iter().zip(powers) {
            text = text.replacen(
                &format!("name = \"{name}\"\n"),
                &format!("name = \"{name}\"\n{power}\n"),
                1,
            );
        }
        file(&text)
    };
    let run = |file: &tempfile::NamedTempFile| billet(&["heat", file.path().to_str().unwrap(), "--json"]);
    let cold = with(["power_kw = 60", "power_kw = 90", "power_kw = 40"]);
    let (code, text, _) = run(&cold);
    assert_eq!(code, 1, "{text}");
    let json: Value = serde_json::from_str(&text).unwrap();
    assert_eq!(json["missed"][0]["miss"], "TooCold", "{}", json["missed"]);
    let (code, text, error) = run(&with(["power_kw = 70", "power_kw = 130", ""]));
    assert_eq!(code, 0, "{text}{error}");
    assert!(error.contains("no power is given for coil 3"), "{error}");
    let json: Value = serde_json::from_str(&text).unwrap();
    let powers: Vec<f64> = json["search"]["powers_w"]
        .as_array()
        .unwrap()
        .iter()
        .map(|p| p.as_f64().unwrap())
        .collect();
    assert!(
        powers[0] == 70e3 && powers[1] == 130e3 && powers[2] > 20e3,
        "{powers:?}"
    );
    let (code, _, error) = run(&with(["load_kw = 60", "", ""]));
    assert!(
        code == 2 && error.contains("coil 1 must be given as power_kw"),
        "{error}"
    );
}

/// Turns give volts, amperes and reactive power, P = U I cos phi; and every effect on the exit has the right sign.
#[test]
fn the_panel_shows_what_instruments_show() {
    let text = example("heater_line.toml").replace("frequency_hz = 1000\n", "frequency_hz = 1000\nturns = 24\n");
    let file = file(&text);
    let path = file.path().to_str().unwrap();
    let (code, text, error) = billet(&["heat", path, "--json", "-q"]);
    assert_eq!(code, 0, "{error}");
    let json: Value = serde_json::from_str(&text).unwrap();
    for coil in json["steady"]["coils"].as_array().unwrap() {
        let of = |name: &str| coil["electrical"][name].as_f64().unwrap();
        let power = coil["terminals_w"].as_f64().unwrap();
        let apparent = of("volts") * of("amperes");
        assert!(
            (apparent * coil["power_factor"].as_f64().unwrap() / power - 1.0).abs() < 1e-9,
            "{coil}"
        );
        assert!((apparent.powi(2) - power.powi(2) - of("reactive_var").powi(2)).abs() < 1e-6 * apparent.powi(2));
        assert!((20.0..3000.0).contains(&of("volts")), "{coil}");
    }
    for effect in json["effects"].as_array().unwrap() {
        let exit = effect["exit_k"].as_f64().unwrap();
        // More heat, and a longer time in it.
        let up = matches!(effect["cause"].as_str().unwrap(), "power" | "start" | "takt");
        assert!(up == (exit > 0.0) && exit.abs() > 0.1, "{effect}");
    }
    let (_, text, _) = billet(&["heat", path, "-q"]);
    assert!(text.contains("kvar") && text.contains("what moves the exit"), "{text}");
}

/// An empty start and running out at the steady fields reject nothing and burn nothing.
#[test]
fn empty_start_and_running_out() {
    let file = file(&example("heater_line.toml"));
    let path = file.path().to_str().unwrap();
    let (code, text, error) = billet(&["heat", path, "--start-empty", "--run-out", "--json", "-q"]);
    assert_eq!(code, 0, "{error}");
    let json: Value = serde_json::from_str(&text).unwrap();
    for name in ["start_empty", "run_out"] {
        let study = &json[name];
        assert_eq!(study["rejected"], 0, "{name}");
        assert!(
            study["peak_c"].as_f64().unwrap() <= 1282.0,
            "{name}: {}",
            study["peak_c"]
        );
        assert!(study["billets"].as_array().unwrap().len() >= 19, "{name}");
    }
}

#[test]
fn a_square_bar_goes_from_the_coils_to_the_line() {
    let text = example("heater_line.toml")
        .replace("section = \"round\"", "section = \"square\"")
        .replace("diameter_mm = 60", "side_mm = 50");
    let file = file(&text);
    let path = file.path().to_str().unwrap();
    let (code, text, error) = billet(&["heat", path, "--json", "-q"]);
    assert_eq!(code, 0, "{text}{error}");
    let json: Value = serde_json::from_str(&text).unwrap();
    let exit = &json["steady"]["exit"];
    let mean = exit["mean_c"].as_f64().unwrap();
    assert!((mean - 1230.0).abs() < 1.0, "{mean}");
    let (code, text, error) = billet(&["trace", path, "--json", "-q"]);
    assert!(code < 2, "{error}");
    let json: Value = serde_json::from_str(&text).unwrap();
    let nodes: Vec<&str> = json["nodes"]
        .as_array()
        .unwrap()
        .iter()
        .filter_map(Value::as_str)
        .collect();
    let at = |name: &str| nodes.iter().position(|n| *n == name).unwrap();
    let moments = json["moments"].as_array().unwrap();
    let temps = &moments.iter().find(|m| m["label"] == "exit").unwrap()["temps_c"];
    for (name, want) in [("mean", mean), ("core", exit["core_c"].as_f64().unwrap())] {
        let traced = temps[at(name)].as_f64().unwrap();
        assert!((traced - want).abs() < 2.0, "{name}: {traced} {want}");
    }
}
