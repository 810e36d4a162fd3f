//! Every example is run, and one number of each is held against physics.

use std::path::PathBuf;

use billet_thermal::inside::line::Trace;
use billet_thermal::inside::line::file::Document;
use billet_thermal::inside::line::plan::{Plan, Section};
use billet_thermal::inside::line::run::{RunOptions, run};

use super::exact::radial;

#[path = "../../examples/one_part.rs"]
mod one_part;
#[path = "../../examples/quench_of_a_bar.rs"]
mod quench_of_a_bar;

fn line_files() -> Vec<PathBuf> {
    let mut files: Vec<PathBuf> = std::fs::read_dir("examples")
        .unwrap()
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.extension().is_some_and(|e| e == "toml"))
        .filter(|path| std::fs::read_to_string(path).unwrap().contains("[[stage]]"))
        .collect();
    files.sort();
    files
}

/// Mass by hand: section area times length (or one metre) times the cold density.
fn mass_kg(plan: &Plan) -> f64 {
    let length = plan.piece.length_m.unwrap_or(1.0);
    let area = match plan.piece.section {
        Section::Round { radius_m } => std::f64::consts::PI * radius_m * radius_m,
        Section::Square { side_m } => side_m * side_m,
        Section::Rectangle { width_m, height_m } => width_m * height_m,
        Section::Plate { thickness_m } => thickness_m,
    };
    area * length * plan.metal.density_kg_m3.value
}

fn value(trace: &Trace, stage: usize, label: &str, node: &str) -> Option<f64> {
    let column = trace.nodes.iter().position(|n| n == node)?;
    let moment = trace
        .moments
        .iter()
        .find(|m| m.stage == stage && m.moment.to_string() == label)?;
    moment.temps_c[column]
}

/// The mean temperature falls in every hand-over by what the ledger of that stage says has left,
/// through the enthalpy of the metal (first law, from the outside: ledger and field are two
/// different sums of the program).
fn first_law(trace: &Trace, plan: &Plan, name: &str) {
    let table = plan.metal.thermal();
    let mut checked = 0;
    for (stage, span) in trace.stages.iter().enumerate().skip(1) {
        if !["carry", "wait", "cool"].contains(&span.kind.word()) {
            continue;
        }
        let (Some(from), Some(to)) = (value(trace, stage, "start", "mean"), value(trace, stage, "end", "mean")) else {
            continue;
        };
        // On the cooling branch, where every part of these lines is once it has been austenite.
        let h = |t: f64| table.branch(true).enthalpy(t);
        let booked: f64 = trace
            .ledger
            .entries
            .iter()
            .filter(|e| e.stage == stage)
            .map(|e| e.energy_kj)
            .sum();
        // Flash and web may be gone: the mass is at most that of the billet, and all of it before
        // the first trim.
        let trimmed = trace.stages[..stage].iter().any(|s| s.kind.word() == "trim");
        if trimmed {
            continue;
        }
        // Scale takes its mass with it at the first new shape.
        let shaped = trace.stages[..stage].iter().any(|s| s.kind.word() == "forge");
        let kept = if shaped { 1.0 - plan.scale_loss } else { 1.0 };
        let by_mean = kept * trace.mass_kg * (h(to) - h(from)) * 1e-3;
        let apart = (by_mean - booked).abs() / booked.abs().max(1e-9);
        assert!(
            apart < 1e-6,
            "{name}, {}: {by_mean} kJ by the mean, {booked} kJ booked",
            span.name
        );
        checked += 1;
    }
    assert!(checked > 0, "{name}: no hand-over to check");
}

#[test]
fn every_line_file_runs_and_obeys_the_first_law() {
    let files = line_files();
    assert!(!files.is_empty());
    for path in files {
        let name = path.display().to_string();
        let document = Document::load(&path).unwrap_or_else(|error| panic!("{error}"));
        let plan = document.plan();
        let trace = run(plan, &RunOptions::default()).unwrap();
        assert!(
            trace.ledger.imbalance.abs() < 1e-8,
            "{name}: {}",
            trace.ledger.imbalance
        );
        let by_hand = mass_kg(plan);
        assert!(
            (trace.mass_kg / by_hand - 1.0).abs() < 1e-9,
            "{name}: {} kg, {by_hand} by hand",
            trace.mass_kg
        );
        assert!(!trace.verdicts.is_empty(), "{name}: no verdict");
        first_law(&trace, plan, &name);
    }
}

/// In still or slowly moving air a 60 mm bar at 1240 degC loses some 5 K/s at the skin at first and
/// 1.0 to 2.5 K/s in the mean: (ε σ T⁴ + h ΔT) A/(V ρ c) with ε = 0.8, h = 10 to 30 W/m²K gives
/// 1.6 K/s for the side alone (calculated).
#[test]
fn the_hub_cools_in_the_first_move_as_a_hand_calculation_says() {
    let document = Document::load("examples/hub.toml").unwrap();
    let trace = run(document.plan(), &RunOptions::bare()).unwrap();
    let span = &trace.stages[1];
    let fall = value(&trace, 1, "start", "mean").unwrap() - value(&trace, 1, "end", "mean").unwrap();
    let rate = fall / (span.end_s - span.start_s);
    let kelvin: f64 = 1220.0 + 273.15;
    let flux = 0.8 * 5.67e-8 * kelvin.powi(4) + 15.0 * 1195.0;
    let (r, l) = (0.03, 0.14);
    let by_hand = flux * (2.0 / r + 2.0 / l) / (7830.0 * 650.0);
    assert!((rate / by_hand - 1.0).abs() < 0.2, "{rate} K/s, {by_hand} by hand");
}

/// The quench against the exact series of a cylinder with a film (Carslaw and Jaeger,
/// Conduction of Heat in Solids, section 7.7).
#[test]
fn the_quench_agrees_with_the_series() {
    use quench_of_a_bar::{BATH, FROM_TO_C, METAL, RADIUS_M, quench};
    let seconds = quench().unwrap();
    let (k, c, rho) = METAL;
    let biot = BATH.0 * RADIUS_M / k;
    let fourier = k / (rho * c) * seconds / (RADIUS_M * RADIUS_M);
    let core = BATH.1 + (FROM_TO_C.0 - BATH.1) * radial::cylinder_convection(biot, fourier, 0.0);
    assert!(
        (core - FROM_TO_C.1).abs() < 0.5,
        "{core} degC on the axis after {seconds} s"
    );
    quench_of_a_bar::main().unwrap();
}

/// A later or colder part has less to spare; one that is too hot is refused for that.
#[test]
fn one_part_is_judged_by_what_was_measured() {
    let line = Document::load("examples/hub.toml").unwrap();
    let of = |surface, seconds| one_part::verdict(&line, surface, seconds).unwrap();
    let (burning, node) = of(1310.0, 4.2);
    assert!(burning < 0.0 && node.starts_with("hottest"), "{burning} {node}");
    let (late, node) = of(1240.0, 30.0);
    assert!(late < 0.0 && node.starts_with("surface"), "{late} {node}");
    one_part::main().unwrap();
}
