//! A whole chain (carry in air, lying on the lower die, a stroke, air) against a general-purpose
//! solver: SciPy's `solve_ivp` (BDF) on an independent finite-volume model, kept with its output and
//! versions in `reference/chain_scipy.py` and `reference/chain_scipy.json`.

use billet_thermal::inside::line::file::Document;
use billet_thermal::inside::line::run::{RunOptions, run};
use billet_thermal::inside::line::trace::Trace;

const REFERENCE: &str = include_str!("reference/chain_scipy.json");

/// The same problem as a line file; `steel` is the inline table of the billet.
fn line(steel: &str) -> String {
    format!(
        r#"
title = "Chain of the reference script"
[billet]
section = "round"
diameter_mm = 60
length_mm = 60
emissivity = 0.8
steel = {{ {steel}, density_kg_m3 = 7500 }}
[shop]
ambient_c = 25
film_w_m2k = 12
[heater]
kind = "measured"
temperature_c = 1200
[die]
bulk_c = 200
depth_mm = 60
resting_w_m2k = 1000
blow_w_m2k = 10000
steel = {{ conductivity_w_mk = 28, specific_heat_j_kgk = 560, density_kg_m3 = 7700 }}
[[stage]]
kind = "carry"
name = "carry"
seconds = 3
[[stage]]
kind = "forge"
name = "forge"
blows = 1
contact_ms = 20
lying_before_s = 1.0
lying_after_s = 0.5
[[stage]]
kind = "wait"
name = "wait"
seconds = 2
[[limit]]
moment = "exit"
node = "core"
max_c = 1250
"#
    )
}

fn at(trace: &Trace, stage: &str, label: &str, node: &str) -> f64 {
    let stage = trace.stages.iter().position(|s| s.name == stage).unwrap();
    let column = trace.nodes.iter().position(|n| n == node).unwrap();
    let moment = trace
        .moments
        .iter()
        .find(|m| m.stage == stage && m.moment.to_string() == label)
        .unwrap();
    moment.temps_c[column].unwrap()
}

/// Properties of the billet by name of the case. The linear ones are two points of k = 17.2 + 0.0098 T and
/// c = 540 + 0.10 T.
pub const CASES: [(&str, &str); 2] = [
    ("constant", "conductivity_w_mk = 28, specific_heat_j_kgk = 650"),
    (
        "linear",
        "conductivity_w_mk = { temp_c = [0, 1300], values = [17.2, 29.94] }, specific_heat_j_kgk = { temp_c = [0, 1300], values = [540, 670] }",
    ),
];

/// Largest difference of all nodes and moments, and where it is.
pub fn worst(case: &str, steel: &str) -> (f64, String) {
    let document = match Document::parse(line(steel), "chain.toml") {
        Ok(document) => document,
        Err(error) => panic!("{error}"),
    };
    let trace = run(document.plan(), &RunOptions::default()).unwrap();
    assert!(trace.ledger.imbalance.abs() < 1e-8, "{}", trace.ledger.imbalance);
    let reference: serde_json::Value = serde_json::from_str(REFERENCE).unwrap();
    let case = &reference["cases"][case];
    let mut worst = (0.0, String::new());
    for (moment, contact, stage, label) in [
        ("carry end", "in air", "carry", "end"),
        ("blow", "with the contact of the phase", "forge", "blow 1"),
        ("forge end", "with the contact of the phase", "forge", "end"),
        ("wait end", "in air", "wait", "end"),
    ] {
        let nodes = case["moments"][moment][contact].as_object().unwrap();
        assert_eq!(nodes.len(), 6);
        for (node, value) in nodes {
            let (ours, theirs) = (at(&trace, stage, label, node), value.as_f64().unwrap());
            let difference = (ours - theirs).abs();
            println!("{moment:10} {node:10} {ours:9.2} {theirs:9.2} {difference:6.2}");
            if difference > worst.0 {
                worst = (difference, format!("{moment}, {node}: {ours:.2} against {theirs:.2}"));
            }
        }
    }
    worst
}

#[test]
fn chain_with_constant_and_linear_properties() {
    for (case, steel) in CASES {
        let worst = worst(case, steel);
        assert!(worst.0 < 2.0, "{case}: {} K at {}", worst.0, worst.1);
    }
}
