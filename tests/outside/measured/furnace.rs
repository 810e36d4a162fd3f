//! Steel in furnaces and room fires whose exposure was measured by plate thermometers.
//!
//! Data: fire research data base of NIST (github firemodels/exp, folders SP_AST and NIST_E119_Compartment), public
//! domain of the United States; original tests of the Swedish testing institute 2008 (tube) and NIST 2018 (beams).
//! No uncertainty is stated; a type K couple of class 2 has 0.75 %.

use std::sync::Arc;

use billet_thermal::body::{Axis, AxisKind};
use billet_thermal::conduction::{Exchange, Signal, Solver};
use billet_thermal::steel::Library;

use super::Row;
use crate::conduction_support::*;

/// Adiabatic surface temperature around station A of a tube of 100 x 200 x 8 mm (mean of four sides): s, degC.
const TUBE_AST: [(f64, f64); 34] = [
    (0.6, 26.0),
    (10.8, 40.2),
    (21.0, 183.2),
    (30.0, 276.5),
    (40.8, 299.0),
    (60.0, 317.2),
    (80.4, 338.5),
    (120.0, 380.5),
    (160.8, 409.0),
    (240.0, 461.0),
    (320.4, 492.5),
    (440.4, 523.2),
    (560.4, 542.5),
    (720.0, 559.5),
    (900.0, 578.2),
    (1080.0, 592.2),
    (1260.6, 602.0),
    (1440.0, 614.2),
    (1620.0, 618.2),
    (1790.4, 625.5),
    (1800.6, 627.8),
    (1810.8, 602.8),
    (1821.0, 556.8),
    (1840.2, 513.8),
    (1860.0, 484.5),
    (1880.4, 462.0),
    (1920.0, 427.2),
    (1960.2, 403.2),
    (2000.4, 383.2),
    (2080.2, 354.2),
    (2160.6, 332.0),
    (2240.4, 314.0),
    (2320.2, 298.8),
    (2380.8, 289.0),
];

/// Its steel, mean of the seven couples that worked.
const TUBE_STEEL: [(f64, f64); 7] = [
    (440.4, 259.1),
    (900.0, 454.4),
    (1440.0, 552.6),
    (1800.6, 584.3),
    (2000.4, 532.9),
    (2240.4, 473.9),
    (2380.8, 444.6),
];

/// Plate thermometer 1 of test 3, by the wall: s, degC; from 900 to 4400 s means over 150 s.
const BEAM_PLATE: [(f64, f64); 53] = [
    (0.0, 18.3),
    (60.0, 26.2),
    (120.0, 56.2),
    (180.0, 98.9),
    (240.0, 176.3),
    (300.0, 276.7),
    (360.0, 403.3),
    (420.0, 490.1),
    (480.0, 550.9),
    (540.0, 577.6),
    (600.0, 598.9),
    (660.0, 623.4),
    (720.0, 633.4),
    (780.0, 652.9),
    (840.0, 665.0),
    (900.0, 676.2),
    (1080.0, 697.6),
    (1260.0, 737.4),
    (1440.0, 766.4),
    (1620.0, 797.1),
    (1800.0, 829.7),
    (1980.0, 850.7),
    (2160.0, 866.4),
    (2340.0, 867.0),
    (2520.0, 875.8),
    (2700.0, 913.9),
    (2880.0, 908.4),
    (3060.0, 918.7),
    (3240.0, 945.4),
    (3420.0, 958.1),
    (3600.0, 975.2),
    (3780.0, 983.9),
    (3960.0, 976.7),
    (4140.0, 991.9),
    (4320.0, 1005.7),
    (4500.0, 1017.3),
    (4515.0, 1017.6),
    (4530.0, 1003.2),
    (4545.0, 917.1),
    (4560.0, 840.6),
    (4590.0, 745.1),
    (4620.0, 687.0),
    (4650.0, 643.0),
    (4680.0, 611.1),
    (4740.0, 555.3),
    (4800.0, 519.4),
    (4860.0, 488.5),
    (4950.0, 448.5),
    (5040.0, 417.3),
    (5130.0, 386.2),
    (5220.0, 358.9),
    (5310.0, 336.0),
    (5400.0, 315.0),
];

/// Lower flange of the beam by the wall (couple 1).
const BEAM_STEEL: [(f64, f64); 12] = [
    (900.0, 411.6),
    (1440.0, 631.6),
    (1800.0, 713.7),
    (2160.0, 776.3),
    (2700.0, 852.9),
    (3240.0, 907.6),
    (4500.0, 987.4),
    (4680.0, 843.4),
    (4860.0, 748.3),
    (5040.0, 680.9),
    (5220.0, 618.9),
    (5400.0, 566.5),
];

/// A plate of `thickness_m` with insulated back that sees one measured temperature as gas and as walls: emissivity 0.7
/// and film 25 W/m²K, the values of EN 1991-1-2 for such exposure.
fn plate(grade: &str, thickness_m: f64, course: &[(f64, f64)]) -> Solver {
    let steel = Library::builtin()
        .unwrap_or_else(|e| panic!("{e}"))
        .find(grade)
        .unwrap_or_else(|e| panic!("{e}"));
    let axis = Axis::uniform(AxisKind::Linear, 0.0, thickness_m, 4).unwrap();
    let mut body = solver(vec![axis], &steel.thermal(), course[0].1, 0.05);
    let around = Signal::Points(Arc::from(course));
    expose(
        &mut body,
        HIGH,
        "furnace",
        Exchange {
            film: 25.0.into(),
            fluid_c: around.clone(),
            emissivity: 0.7.into(),
            radiant_c: around,
            ..Exchange::none()
        },
    );
    body
}

pub fn tube_rows() -> Vec<Row> {
    let mut body = plate("S355J2", 0.008, &TUBE_AST);
    TUBE_STEEL
        .iter()
        .map(|(t, measured)| {
            run(&mut body, *t);
            Row {
                check: format!(
                    "steel of the tube after {t:.0} s{}",
                    if *t > 1805.0 { ", cooling" } else { "" }
                ),
                source: "NIST data base, SP 2008",
                unit: "degC",
                reference: *measured,
                ours: body.temperature(1),
                uncertainty: "10 K (taken)",
                bound: 25.0,
            }
        })
        .collect()
}

/// Thickness with which the plate meets the first reading of the beam.
fn effective_thickness_m() -> f64 {
    let (t, measured) = BEAM_STEEL[0];
    let (mut thin, mut thick) = (0.006, 0.016);
    for _ in 0..16 {
        let middle = 0.5 * (thin + thick);
        let mut body = plate("S355J2", middle, &BEAM_PLATE);
        run(&mut body, t);
        if body.temperature(1) > measured {
            thin = middle;
        } else {
            thick = middle;
        }
    }
    0.5 * (thin + thick)
}

pub fn beam_rows() -> Vec<Row> {
    let mut body = plate("S355J2", effective_thickness_m(), &BEAM_PLATE);
    BEAM_STEEL
        .iter()
        .skip(1)
        .map(|(t, measured)| {
            run(&mut body, *t);
            let cooling = *t > 4515.0;
            Row {
                check: format!(
                    "flange of the beam after {t:.0} s{}",
                    if cooling { ", cooling" } else { "" }
                ),
                source: "NIST data base, E119 test 3",
                unit: "degC",
                reference: *measured,
                ours: body.temperature(1),
                uncertainty: "10 K (couple), 30 K (gas uneven)",
                // Just after the burners went off the plates fall faster than what the beam sees.
                bound: if cooling && *t < 4800.0 { 40.0 } else { 30.0 },
            }
        })
        .collect()
}
