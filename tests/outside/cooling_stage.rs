//! Cooling stages: parts on a conveyor, heaps, fans, belts, and what is refused.

use std::f64::consts::PI;

use billet_thermal::inside::condition::part::of_trace;
use billet_thermal::inside::line::Trace;
use billet_thermal::inside::line::file::Document;
use billet_thermal::inside::line::plan::Plan;
use billet_thermal::inside::line::run::{RunOptions, run};
use billet_thermal::inside::line::warmup::{WarmupOptions, warmup};
use billet_thermal::surface::shading::{acting_emissivity, among_cylinders, facing_rectangles, parallel_cylinders};

use super::cooling_views::cylinders_by_quadrature;
use super::exact::half_space::Pair;
use super::exact::lumped::radiation_k;
use super::exact::special::bisect;

const RHO_C: f64 = 7800.0 * 600.0;

/// A bar that conducts so well that it is of one temperature, without convection, and one stage.
fn line(billet: &str, stage: &str) -> String {
    format!(
        r#"title = "Cooling"
resolution = "fine"
[billet]
{billet}
emissivity = 0.8
steel = {{ conductivity_w_mk = 9000, specific_heat_j_kgk = 600, density_kg_m3 = 7800 }}
[shop]
ambient_c = 25
film_w_m2k = 0
tool_film_w_m2k = 0
[heater]
kind = "measured"
temperature_c = 1000
[die]
steel = {{ conductivity_w_mk = 27.7, specific_heat_j_kgk = 550, density_kg_m3 = 7700, emissivity = 0 }}
[[stage]]
kind = "cool"
name = "belt"
seconds = 200
{stage}"#
    )
}

fn document(text: &str) -> Document {
    Document::parse(text, "cooling.toml").unwrap_or_else(|error| panic!("{error}\n{text}"))
}

fn traced(text: &str) -> Trace {
    run(document(text).plan(), &RunOptions::default()).unwrap()
}

fn end(trace: &Trace, node: &str) -> f64 {
    let column = trace.nodes.iter().position(|n| n == node).unwrap();
    trace.moments.last().unwrap().temps_c[column].unwrap()
}

fn number(text: &str, path: &str) -> f64 {
    let document = document(text);
    let input = document.inputs().iter().find(|i| i.path == path);
    input.and_then(|i| i.number()).unwrap_or_else(|| panic!("no {path}"))
}

const SIGMA: f64 = 5.670_374_419e-8;

/// Grey surfaces of one temperature with the view factor F to the outside act with
/// σ (T⁴ - Ts⁴)/((1 - ε)/ε + 1/F) (network of radiation resistances).
fn network(emissivity: f64, open: f64) -> f64 {
    1.0 / ((1.0 - emissivity) / emissivity + 1.0 / open)
}

/// A long bar of one temperature between two neighbours: closed form of dT/dt = -k (T⁴ - Ts⁴) with the
/// view factor of crossed strings and the network of grey surfaces.
#[test]
fn a_bar_among_bars_cools_by_the_closed_form() {
    for spacing_mm in [0.0, 15.0, 300.0] {
        let text = line(
            "diameter_mm = 30",
            &format!("conveyor = {{ spacing_mm = {spacing_mm} }}"),
        );
        let open = 1.0 - 2.0 * parallel_cylinders(0.03, spacing_mm * 1e-3).unwrap();
        let rate = network(0.8, open) * SIGMA * 2.0 / (0.015 * RHO_C);
        let exact = radiation_k(1273.15, 298.15, rate, 200.0) - 273.15;
        let ours = end(&traced(&text), "mean");
        assert!((ours - exact).abs() < 0.3, "{spacing_mm}: {ours} {exact}");
    }
    assert!((acting_emissivity(0.8, 0.4).unwrap() * 0.4 - network(0.8, 0.4)).abs() < 1e-12);
}

/// The rate from 800 to 500 degC of the same bar: 300 K over the difference of the two times of the closed
/// form, at every node of a bar that is of one temperature.
#[test]
fn the_cooling_rate_is_that_of_the_closed_form() {
    let text = line("diameter_mm = 30", "conveyor = { spacing_mm = 20 }").replace("= 200", "= 600");
    let open = 1.0 - 2.0 * parallel_cylinders(0.03, 0.02).unwrap();
    let rate = network(0.8, open) * SIGMA * 2.0 / (0.015 * RHO_C);
    let time = |to: f64| bisect(0.0, 600.0, |t| radiation_k(1273.15, 298.15, rate, t) - 273.15 - to);
    let exact = 300.0 / (time(500.0) - time(800.0));
    let document = document(&text);
    let trace = run(document.plan(), &RunOptions::default()).unwrap();
    let nodes = of_trace(&trace, &document.plan().metal).unwrap();
    assert!(nodes.len() >= 3, "{nodes:?}");
    for node in &nodes {
        let ours = node.rate_800_500_k_s.unwrap();
        assert!((ours / exact - 1.0).abs() < 5e-3, "{}: {ours} {exact}", node.node);
    }
}

/// Standing discs in three rows on a belt of another temperature: every face by itself, one lumped
/// equation by small steps.
#[test]
fn discs_in_rows_on_a_warm_belt() {
    let stage = "conveyor = { pose = \"standing\", spacing_mm = 20, rows = 3, row_spacing_mm = 30, belt_c = 300 }";
    let text = line("diameter_mm = 60\nlength_mm = 25", stage);
    let side = number(&text, "stage.belt.conveyor.side_view");
    let mut others = Vec::new();
    for (i, j) in (-2..=2).flat_map(|i| [(i, -1), (i, 0), (i, 1)]) {
        if (i, j) != (0, 0) {
            others.push((0.08 * f64::from(i), 0.09 * f64::from(j)));
        }
    }
    let hidden = among_cylinders(0.06, Some(0.025), &others).unwrap();
    assert!((side - (1.0 - hidden)).abs() < 1e-6, "{side} {hidden}");
    // More than the nearest along and across, less than all if none hid another, by quadrature.
    let nearest: f64 = [80.0, 90.0]
        .iter()
        .map(|pitch| 2.0 * cylinders_by_quadrature(pitch / 30.0, 25.0 / 30.0))
        .sum();
    let beyond: f64 = [80.0_f64.hypot(90.0), 160.0_f64.hypot(90.0)]
        .iter()
        .map(|pitch| 4.0 * cylinders_by_quadrature(pitch / 30.0, 25.0 / 30.0))
        .sum();
    assert!(
        hidden > nearest && hidden < nearest + beyond,
        "{hidden} {nearest} {beyond}"
    );
    let (end_m2, side_m2, volume) = (PI * 9e-4, PI * 0.06 * 0.025, PI * 9e-4 * 0.025);
    let (hall, belt) = (298.15_f64.powi(4), 573.15_f64.powi(4));
    let mut t: f64 = 1273.15;
    let steps = 20_000;
    for _ in 0..steps {
        let loss = |t: f64| {
            let t4 = t.powi(4);
            let up = 0.8 * end_m2 * (t4 - hall);
            let down = 0.8 * end_m2 * (t4 - belt);
            let round = network(0.8, side) * side_m2 * (t4 - 0.5 * (hall + belt));
            SIGMA * (up + down + round) / (RHO_C * volume)
        };
        let dt = 200.0 / f64::from(steps);
        let half = t - 0.5 * dt * loss(t);
        t -= dt * loss(half);
    }
    let ours = end(&traced(&text), "mean") + 273.15;
    assert!((ours - t).abs() < 0.3, "{ours} {t}");
    // A part of the outer row is shaded from one side only.
    let outer = number(
        &text.replace("rows = 3", "rows = 3, row = 1"),
        "stage.belt.conveyor.side_view",
    );
    assert!(outer > side + 0.01 && outer < 1.0, "{outer} {side}");
}

/// Lying bars end to end: the ends see (3 - √5)/2 of each other across a gap of one radius.
#[test]
fn lying_parts_hide_sides_and_ends() {
    let stage = "conveyor = { spacing_mm = 60, rows = 3, row_spacing_mm = 30 }";
    let text = line("diameter_mm = 60\nlength_mm = 140", stage);
    let ends = number(&text, "stage.belt.conveyor.end_view");
    assert!((ends - (1.0 - 0.381_966)).abs() < 2e-6, "{ends}");
    let two = text.replace("rows = 3", "rows = 2");
    assert!((number(&two, "stage.belt.conveyor.end_view") - (1.0 - 0.5 * 0.381_966)).abs() < 2e-6);
    let side = number(&text, "stage.belt.conveyor.side_view");
    let exact = 1.0 - 2.0 * cylinders_by_quadrature(4.0, 140.0 / 30.0);
    assert!((side - exact).abs() < 3e-4, "{side} {exact}");
    // Of a square bar two of four sides face a neighbour: endless strips, √(1 + w²) - w.
    let square = line("section = \"square\"\nside_mm = 50", "conveyor = { spacing_mm = 50 }");
    let exact = 1.0 - 0.5 * (2.0_f64.sqrt() - 1.0);
    assert!((number(&square, "stage.belt.conveyor.side_view") - exact).abs() < 1e-6);
}

/// A stepped part and a long one: the mean over the area of each step, or section, of the view past the same
/// step of its neighbours, with the dimensions of the two examples.
#[test]
fn steps_and_sections_hide_the_same_of_their_neighbours() {
    let view = |name: &str| {
        let document = Document::load(format!("examples/{name}.toml")).unwrap();
        let input = document.input("stage.conveyor.conveyor.side_view");
        input.and_then(|i| i.number()).unwrap()
    };
    // Hub: a flange of 124 x 22 and above it a body of 66 to a height of 67.4, 60 mm apart at the flange.
    let step = |d: f64, h: f64| {
        let pitch = 0.5e-3 * d;
        (d * h, 2.0 * cylinders_by_quadrature(0.184 / pitch, 1e-3 * h / pitch))
    };
    let [(a, fa), (b, fb)] = [step(124.0, 22.0), step(66.0, 45.4)];
    let exact = 1.0 - (a * fa + b * fb) / (a + b);
    assert!((view("hub") - exact).abs() < 2e-4, "{} {exact}", view("hub"));
    // Connecting rod: sections of width, height and length, 70 mm apart at the big end of 86.
    let mut sums = (0.0, 0.0);
    for (width, height, length) in [(86.0, 37.526, 92.0), (36.0, 29.92, 165.0), (46.0, 31.0, 63.0)] {
        let hidden = facing_rectangles(1e-3 * height, Some(1e-3 * length), 1e-3 * (156.0 - width)).unwrap();
        sums = (sums.0 + height * length * hidden, sums.1 + height * length);
    }
    let exact = 1.0 - sums.0 / sums.1;
    assert!(
        (view("connecting-rod") - exact).abs() < 1e-6,
        "{} {exact}",
        view("connecting-rod")
    );
}

/// A basket and a heap by hand: outside over the surface of all parts, then one lumped equation.
#[test]
fn a_basket_and_a_heap_by_hand() {
    let billet = "diameter_mm = 30\nlength_mm = 60";
    let (volume, area) = (PI * 0.015 * 0.015 * 0.06, 2.0 * PI * 0.015 * (0.015 + 0.06));
    let basket = "pile = { parts = 400, fill = 0.5, basket_length_mm = 500, basket_width_mm = 400 }";
    let height = 400.0 * volume / 0.5 / 0.2;
    let by_hand = (2.0 * 0.2 + 2.0 * 0.9 * height) / (400.0 * area);
    let text = line(billet, basket);
    let share = number(&text, "stage.belt.pile.exposed_share");
    assert!((share - by_hand).abs() < 1e-6, "{share} {by_hand}");
    let rate = network(0.8, share) * SIGMA * area / (RHO_C * volume);
    let exact = radiation_k(1273.15, 298.15, rate, 200.0) - 273.15;
    let ours = end(&traced(&text), "mean");
    assert!((ours - exact).abs() < 0.3, "{ours} {exact}");
    // A cone: V = π R² H/3 with H = R tan β, mantle π R √(R² + H²).
    let heap = line(billet, "pile = { parts = 1000, fill = 0.6, slope_deg = 30 }");
    let tan = 30.0_f64.to_radians().tan();
    let radius = (3.0 * 1000.0 * volume / 0.6 / (PI * tan)).cbrt();
    let by_hand = PI * radius * radius.hypot(radius * tan) / (1000.0 * area);
    assert!((number(&heap, "stage.belt.pile.exposed_share") - by_hand).abs() < 1e-6);
    // Given directly, with air: the film acts on the same share.
    let given = line(
        billet,
        "film_w_m2k = 40\nemissivity = 0\npile = { exposed_share = 0.25 }",
    );
    let exact = 25.0 + 975.0 * (-0.25 * 40.0 * area * 200.0 / (RHO_C * volume)).exp();
    let ours = end(&traced(&given), "mean");
    assert!((ours - exact).abs() < 0.3, "{ours} {exact}");
}

/// A fan from 40 to 110 s: three pieces of exponential decay.
#[test]
fn a_fan_blows_for_a_part_of_the_stage() {
    let billet = "section = \"plate\"\nthickness_mm = 12";
    let base = "film_w_m2k = 15\nemissivity = 0\n";
    let text = line(
        billet,
        &format!("{base}fan = {{ film_w_m2k = 80, from_s = 40, until_s = 110 }}"),
    );
    let per_second = 2.0 / (RHO_C * 0.012);
    let exact = 25.0 + 975.0 * (-per_second * (15.0 * 130.0 + 80.0 * 70.0)).exp();
    let trace = traced(&text);
    let ours = end(&trace, "mean");
    assert!((ours - exact).abs() < 0.2, "{ours} {exact}");
    let phases: Vec<(&str, f64)> = trace
        .bill
        .iter()
        .map(|e| (e.phase.as_str(), e.seconds.round()))
        .collect();
    assert!(
        phases.ends_with(&[("air", 40.0), ("fan", 70.0), ("air", 90.0)]),
        "{phases:?}"
    );
    // Without its ends it blows all the time; as a speed it is that speed of the stage.
    let all = line(billet, &format!("{base}fan = {{ film_w_m2k = 80 }}"));
    let exact = 25.0 + 975.0 * (-per_second * 80.0 * 200.0_f64).exp();
    assert!((end(&traced(&all), "mean") - exact).abs() < 0.2);
    let still = text.replace("\nfilm_w_m2k = 0\n", "\n").replace(base, "");
    let fan = still.replace(
        "fan = { film_w_m2k = 80, from_s = 40, until_s = 110 }",
        "fan = { air_speed_m_s = 6 }",
    );
    let wind = fan.replace("fan = { air_speed_m_s = 6 }", "air_speed_m_s = 6");
    assert_ne!(fan, wind);
    assert_eq!(end(&traced(&fan), "mean"), end(&traced(&wind), "mean"));
    // A stage cut short by a study cuts the fan short.
    let mut short = document(&text);
    short.set("stage.belt.fan.until_s", 60.0).unwrap();
    let short = run(short.plan(), &RunOptions::default()).unwrap();
    assert!(end(&short, "mean") > ours + 20.0);
}

/// A part that stands on a belt: two half-spaces with a contact coefficient, and the same as in a rest.
#[test]
fn a_belt_takes_heat_like_a_half_space() {
    let text = line("diameter_mm = 200\nlength_mm = 150", "emissivity = 0\n")
        .replace("conductivity_w_mk = 9000", "conductivity_w_mk = 28")
        .replace("seconds = 200", "seconds = 4")
        + "support = { pose = \"standing\", share = 1, bulk_c = 60, w_m2k = 900, depth_mm = 120 }\n";
    let trace = traced(&text);
    let pair = Pair {
        effusivity: [(28.0 * RHO_C).sqrt(), (27.7 * 550.0 * 7700.0_f64).sqrt()],
        start_c: [1000.0, 60.0],
        h: 900.0,
    };
    let faces = pair.faces_c(4.0);
    assert!(
        (end(&trace, "grip_end") - faces[0]).abs() < 0.5,
        "{} {faces:?}",
        end(&trace, "grip_end")
    );
    let belt = trace.dies.iter().find(|d| d.body == "support").unwrap();
    assert!((belt.face_end_c - faces[1]).abs() < 0.5, "{belt:?} {faces:?}");
    let booked = trace.ledger.entries.iter().find(|e| e.name == "support").unwrap();
    let exact = -1e-3 * pair.heat(4.0) * PI * 0.01;
    assert!((booked.energy_kj / exact - 1.0).abs() < 2e-3, "{booked:?} {exact}");
    let rest = traced(&text.replace("kind = \"cool\"", "kind = \"rest\""));
    assert!((end(&rest, "mean") - end(&trace, "mean")).abs() < 0.01);
    // On a conveyor the belt that it stands on is the one that it sees.
    let on = text + "conveyor = { spacing_mm = 50 }\n";
    assert_eq!(number(&on, "stage.belt.conveyor.belt_c"), 60.0);
}

/// From part to part a support under a cooling part warms up as one in a rest does; on the way to the last die
/// it holds one part at a time.
#[test]
fn a_support_warms_up_from_part_to_part() {
    let stands = "support = { share = 0.3, bulk_c = 60 }\n";
    let text = line("diameter_mm = 60\nlength_mm = 80", stands)
        .replace("seconds = 200", "seconds = 8")
        .replace("[shop]", "[shop]\ntakt_s = 20")
        .replace("\"fine\"", "\"quick\"")
        + "[[stage]]\nkind = \"forge\"\n[[limit]]\nmoment = \"always\"\nnode = \"hottest\"\nmax_c = 1300\n";
    let options = WarmupOptions {
        parts: 3,
        preheat: false,
        ..WarmupOptions::default()
    };
    let shift = |text: &str| warmup(document(text).plan(), &options);
    let cool = shift(&text).unwrap();
    let at = cool.dies.iter().position(|d| d.body == "support").unwrap();
    let before: Vec<f64> = cool.parts.iter().map(|p| p.faces[at].before_c).collect();
    assert!(
        (before[0] - 60.0).abs() < 0.01 && before[1] > 70.0 && before[2] > before[1],
        "{before:?}"
    );
    let rest = shift(&text.replace("kind = \"cool\"", "kind = \"rest\"")).unwrap();
    let same: Vec<f64> = rest.parts.iter().map(|p| p.faces[at].before_c).collect();
    for (a, b) in before.iter().zip(&same) {
        // The cooling takes smaller steps.
        assert!((a - b).abs() < 1.0, "{before:?} {same:?}");
    }
    assert!(shift(&text.replace("seconds = 8", "seconds = 30")).is_err());
    let belt = format!("[[stage]]\nkind = \"cool\"\nname = \"long belt\"\nseconds = 300\n{stands}");
    assert!(shift(&text.replace("[[limit]]", &format!("{belt}[[limit]]"))).is_ok());
}

/// Each of these is refused once, with the numbers, at its line.
#[test]
fn wrong_keys_of_cooling_are_refused() {
    let round = "diameter_mm = 60\nlength_mm = 140";
    for (billet, stage, words) in [
        (
            round,
            "conveyor = { spacing_mm = -1 }",
            &["spacing_mm = -1 mm is out of range", "0 to 5000 mm"][..],
        ),
        (round, "conveyor = { rows = 2 }", &["`spacing_mm` is missing"]),
        (
            round,
            "conveyor = { spacing_mm = 30, rows = 2, row = 3 }",
            &["row = 3 is out of range", "1 to 2"],
        ),
        (
            round,
            "conveyor = { spacing_mm = 30, row_spacing_mm = 3 }",
            &["`row_spacing_mm` has no meaning with one row"],
        ),
        (
            round,
            "conveyor = { spacing_mm = 30, rows = 1.5 }",
            &["expected a whole number"],
        ),
        (
            round,
            "conveyor = { spacing_mm = 30, end_view = 0.5 }",
            &["`end_view` has no meaning"],
        ),
        (
            round,
            "conveyor = { spacing_mm = 30, pose = \"hanging\" }",
            &["unknown pose \"hanging\""],
        ),
        (
            round,
            "conveyor = { spacing = 30 }",
            &["unknown key `spacing`", "spacing_mm"],
        ),
        (
            round,
            "conveyor = { spacing_mm = 30, pose = \"lying\" }\nsupport = { pose = \"standing\" }",
            &["`pose` has no meaning here other than in the support"],
        ),
        (
            "diameter_mm = 60",
            "conveyor = { spacing_mm = 30, pose = \"standing\" }",
            &["needs the length of the billet"],
        ),
        (
            "section = \"plate\"\nthickness_mm = 9",
            "conveyor = { spacing_mm = 30 }",
            &["a conveyor needs a part with sides"],
        ),
        (
            round,
            "conveyor = { spacing_mm = 9 }\npile = { parts = 90 }",
            &["`conveyor` and `pile` cannot both be given"],
        ),
        (
            round,
            "conveyor = { spacing_mm = 9 }\nview_factor = 0.7",
            &["`conveyor` and `view_factor` cannot both"],
        ),
        (
            round,
            "pile = { parts = 50 }\nview_factor = 0.7",
            &["`pile` and `view_factor` cannot both be given"],
        ),
        (
            round,
            "pile = { parts = 50 }\nsupport = { share = 0.1 }",
            &["`pile` and `support` cannot both be given"],
        ),
        (round, "pile = { fill = 0.5 }", &["`parts` is missing"]),
        (
            round,
            "pile = { parts = 1 }",
            &["parts = 1 is out of range", "2 to 1000000"],
        ),
        (
            round,
            "pile = { parts = 50, fill = 1.2 }",
            &["fill = 1.2 is out of range", "0.05 to 0.95"],
        ),
        (
            round,
            "pile = { parts = 50, basket_width_mm = 300 }",
            &["`basket_length_mm` is missing"],
        ),
        (
            round,
            "pile = { parts = 50, basket_width_mm = 300, basket_length_mm = 300, slope_deg = 30 }",
            &["`slope_deg` has no meaning beside a basket"],
        ),
        (
            round,
            "pile = { parts = 4, basket_length_mm = 900, basket_width_mm = 600 }",
            &["the outside of a heap of 4 parts would be", "times their surface"],
        ),
        (
            round,
            "pile = { exposed_share = 0 }",
            &["exposed_share = 0 is out of range", "above 0 to 1"],
        ),
        (
            round,
            "pile = { exposed_share = 0.2, fill = 0.4 }",
            &["`fill` has no meaning without parts"],
        ),
        (
            "diameter_mm = 60",
            "pile = { parts = 40 }",
            &["a pile needs parts with a surface"],
        ),
        (
            round,
            "fan = { from_s = 10 }",
            &["`air_speed_m_s` of the fan is missing"],
        ),
        (
            round,
            "fan = { air_speed_m_s = 4, film_w_m2k = 40 }",
            &["`air_speed_m_s` and `film_w_m2k` cannot both"],
        ),
        (
            round,
            "fan = { air_speed_m_s = 4, until_s = 201 }",
            &["until_s = 201 s is out of range", "0 to 200 s"],
        ),
        (
            round,
            "fan = { air_speed_m_s = 4, from_s = 9, until_s = 8 }",
            &["until_s = 8 s", "9 to 200 s"],
        ),
        (
            round,
            "fan = { air_speed_m_s = 4, from_s = 300 }",
            &["from_s = 300 s is out of range", "0 to 200 s"],
        ),
        (
            round,
            "grip = { end = \"both\" }",
            &["`grip` has no meaning for a cool stage"],
        ),
    ] {
        let text = line(billet, stage);
        let Err(error) = Document::parse(&text, "cooling.toml") else {
            panic!("taken: {stage}");
        };
        let told = error.to_string();
        for word in words {
            assert!(told.contains(word), "{stage}: {told}");
        }
        assert_eq!(told.lines().count(), 1, "{stage}: {told}");
        assert!(told.starts_with("cooling.toml:"), "{told}");
    }
    for key in [
        "conveyor = { spacing_mm = 9 }",
        "pile = { parts = 40 }",
        "fan = { air_speed_m_s = 1 }",
    ] {
        let text = line(round, key).replace("kind = \"cool\"", "kind = \"wait\"");
        let told = Document::parse(&text, "cooling.toml").unwrap_err().to_string();
        assert!(
            told.contains("has no meaning for a wait stage") && told.contains("it belongs to cool"),
            "{told}"
        );
    }
}

/// Numbers of the tables can be set by path, the computed ones too, and defaults stand in the list.
#[test]
fn cooling_inputs_by_path() {
    let text = line(
        "diameter_mm = 60\nlength_mm = 140",
        "conveyor = { spacing_mm = 40, rows = 2 }",
    );
    let mut document = document(&text);
    let before = number(&text, "stage.belt.conveyor.side_view");
    document.set("stage.belt.conveyor.spacing_mm", 10.0).unwrap();
    let after = number(document.text(), "stage.belt.conveyor.side_view");
    assert!(after < before - 0.02, "{after} {before}");
    document.set("stage.belt.conveyor.rows", 4.0).unwrap();
    document.set("stage.belt.conveyor.side_view", 0.5).unwrap();
    assert_eq!(number(document.text(), "stage.belt.conveyor.side_view"), 0.5);
    assert_eq!(number(document.text(), "stage.belt.conveyor.row"), 2.0);
    // A changed plan and a changed text are the same; so are all tables of a stage.
    let changes = [("stage.belt.conveyor.rows", 3.0), ("stage.belt.conveyor.row", 1.0)];
    let plan = document.with(&changes).unwrap();
    document.set_all(&changes).unwrap();
    let kind = |plan: &Plan| format!("{:?}", plan.stages[0].kind);
    assert_eq!(kind(&plan), kind(document.plan()));
    assert!(document.set("stage.belt.conveyor.rows", 2.5).is_err());
    assert!(document.set("stage.belt.conveyor.spacing_mm", -3.0).is_err());
    let heap = line("diameter_mm = 60\nlength_mm = 140", "pile = { parts = 200 }");
    let mut heap = self::document(&heap);
    heap.set("stage.belt.pile.parts", 400.0).unwrap();
    heap.set("stage.belt.pile.fill", 0.4).unwrap();
    let share = number(heap.text(), "stage.belt.pile.exposed_share");
    assert!(share > 0.0 && share < 1.0);
    let complete = heap.complete().unwrap();
    assert!(complete.text().contains("slope_deg = 35"), "{}", complete.text());
}
