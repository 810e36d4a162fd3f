//! End quench of a bar of 25 x 100 mm.
//!
//! Cooling rates at some 700 degC against the distance from the quenched end: a table that two open programs carry
//! after ASTM A255 and a handbook, at second hand and without uncertainty; it agrees with other copies within 20 %.

use billet_thermal::body::AxisKind;
use billet_thermal::conduction::{Exchange, Signal};
use billet_thermal::steel::Library;

use super::Row;
use crate::conduction_support::*;

/// Distance in mm and rate in K/s; farther from the end the loss of the side decides, which the table does not tell.
const RATES: [(f64, f64); 4] = [(5.0, 70.0), (10.0, 27.0), (20.0, 9.0), (30.0, 4.5)];

/// Rates where the axis of a bar of 25 mm passes 704 degC, K/s: its end in the jet, its side in air of 20 degC
/// (emissivity 0.8, film 10 W/m²K). It starts at 905 degC, where the program takes this steel for austenite all through.
fn rates() -> Vec<f64> {
    let steel = Library::builtin()
        .unwrap_or_else(|e| panic!("{e}"))
        .find("42CrMo4")
        .unwrap_or_else(|e| panic!("{e}"));
    let along = towards_face(AxisKind::Linear, 0.1, 2.5e-4, 2.5e-3);
    let radius = uniform(AxisKind::Radial, 0.0125, 5);
    let mut bar = solver(vec![along, radius], &steel.thermal(), 905.0, 0.1);
    expose(&mut bar, HIGH, "jet", Exchange::film(2e4, Signal::from(20.0)));
    expose(&mut bar, 3, "air", Exchange::air(10.0, 0.8, 20.0));
    let mut found = vec![None; RATES.len()];
    let mut before: Vec<f64> = vec![905.0; RATES.len()];
    let mut t = 0.0;
    while t < 200.0 && found.iter().any(Option::is_none) {
        let step = if t < 20.0 { 0.1 } else { 1.0 };
        t += step;
        run(&mut bar, t);
        for (i, (mm, _)) in RATES.iter().enumerate() {
            let now = at(&bar, &[0.1 - mm / 1e3, 0.0], true);
            if found[i].is_none() && now < 704.0 {
                found[i] = Some((before[i] - now) / step);
            }
            before[i] = now;
        }
    }
    found.into_iter().map(|rate| rate.unwrap_or(0.0)).collect()
}

pub fn rows() -> Vec<Row> {
    RATES
        .iter()
        .zip(rates())
        .map(|((mm, rate), ours)| Row {
            check: format!("end quench, cooling rate at 704 degC, {mm:.0} mm from the end"),
            source: "ASTM A255 at second hand",
            unit: "K/s",
            reference: *rate,
            ours,
            uncertainty: "20 %",
            bound: 0.35 * rate,
        })
        .collect()
}
