//! Exact and independent solutions that a number can be shown for. The tests themselves, with their sources, are in
//! the files that this one calls.

use super::Row;
use crate::{chain_scipy, conduction_contact, conduction_fire, conduction_linear, conduction_nonlinear};

const EXACT: &str = "exact";

fn row(check: &str, source: &'static str, unit: &'static str, (ours, reference): (f64, f64), bound: f64) -> Row {
    Row {
        check: check.into(),
        source,
        unit,
        reference,
        ours,
        uncertainty: EXACT,
        bound,
    }
}

pub fn rows() -> Vec<Row> {
    let pair = conduction_contact::faces_after_a_blow();
    let mut rows = vec![
        row(
            "cylinder whose faces jump to 1000 degC, inside after 190 s",
            "NAFEMS 1986, axisymmetric transient",
            "degC",
            (conduction_linear::nafems_cylinder_c(), 186.485),
            0.2,
        ),
        row(
            "wall with an oscillating face, 0.02 m deep after 32 s",
            "NAFEMS T3",
            "degC",
            (conduction_linear::nafems_oscillating_c(), 36.603),
            0.02,
        ),
        row(
            "bar that radiates from its end, steady",
            "NAFEMS T2",
            "K",
            (conduction_nonlinear::nafems_radiating_k(), 927.0),
            0.05,
        ),
        row(
            "billet of 1150 on die of 200 degC, 10 kW/m2K, billet after 50 ms",
            "Carslaw and Jaeger, two half-spaces",
            "degC",
            pair[0],
            0.4,
        ),
        row(
            "the same, die",
            "Carslaw and Jaeger, two half-spaces",
            "degC",
            pair[1],
            0.4,
        ),
        row(
            "steel plate of 40 mm in the standard fire after 1800 s",
            "SFPE S.02 case 1",
            "degC",
            (conduction_fire::sfpe_plate_c(1800.0), 751.9),
            1.0,
        ),
        row(
            "unprotected steel, 200 1/m, standard fire after 30 min",
            "EN 1993-1-2:2005 4.2.5.1, steps of 10 ms",
            "degC",
            conduction_fire::eurocode_c(200.0, 1800.0),
            0.25,
        ),
    ];
    for (case, steel) in chain_scipy::CASES {
        rows.push(row(
            &format!("carry, lying, stroke and air, {case} properties: worst of six nodes at four moments"),
            "SciPy solve_ivp (BDF) on an independent model",
            "K",
            (chain_scipy::worst(case, steel).0, 0.0),
            2.0,
        ));
    }
    rows
}
