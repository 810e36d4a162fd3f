//! Properties and laws against measured values.

use std::sync::Arc;

use billet_thermal::inside::condition::{ScaleLaw, scale};
use billet_thermal::steel::{FlowLaw, FlowStress, Library, Provenance, Steel};

use super::Row;

fn grade(name: &str) -> Arc<Steel> {
    Library::builtin()
        .unwrap_or_else(|e| panic!("{e}"))
        .find(name)
        .unwrap_or_else(|e| panic!("{e}"))
}

/// Grade, trade name, source, points.
type Measured = (&'static str, &'static str, &'static str, &'static [(f64, f64)]);

/// Measured conductivities, W/mK at K: all as carried by an open data base (github
/// CMB-S4/Cryogenic_Material_Properties, BSD-3 licence), in part digitised. None of them made the tables of
/// the grades. Reference materials are good for 2 to 5 %.
const CONDUCTIVITY: [Measured; 4] = [
    (
        "1.4301",
        "304",
        "Moeller 1969, 8th Thermal Conductivity Conf.",
        &[(302.0, 14.88), (575.0, 19.74), (865.0, 23.53)],
    ),
    (
        "1.4301",
        "304",
        "Filoni 1987",
        &[(436.4, 16.51), (633.0, 19.38), (801.7, 21.82)],
    ),
    (
        "1.4404",
        "316",
        "Bogaard et al. 1993",
        &[(432.6, 17.30), (795.7, 23.55), (1174.1, 28.55), (1371.5, 31.64)],
    ),
    (
        "Ti-6Al-4V",
        "Ti-6Al-4V",
        "Deem, Wood and Lucks 1958",
        &[(366.0, 7.70), (533.0, 9.58), (700.0, 11.92), (811.0, 13.47)],
    ),
];

pub fn conductivity_rows() -> Vec<Row> {
    let mut rows = Vec::new();
    for (name, specimen, source, points) in CONDUCTIVITY {
        let steel = grade(name);
        for (kelvin, measured) in points {
            rows.push(Row {
                check: format!(
                    "conductivity of {name} at {:.0} degC, measured on {specimen}",
                    kelvin - 273.15
                ),
                source,
                unit: "W/mK",
                reference: *measured,
                ours: steel.conductivity.at(kelvin - 273.15),
                uncertainty: "5 %",
                bound: 0.08 * measured,
            });
        }
    }
    rows
}

/// Heat of a steel between two temperatures (degC), kJ/kg.
fn heat(steel: &Steel, from: f64, to: f64) -> f64 {
    let table = steel.thermal();
    (table.heating.enthalpy(to) - table.heating.enthalpy(from)) / 1e3
}

/// Specific heat of a rolled C-Mn steel of the C15 class, digitised, open data of a technical university
/// (Freiberg): K and J/kgK.
pub const C15_HEAT: [(f64, f64); 22] = [
    (368.975, 490.6),
    (469.8, 534.7),
    (561.1, 572.6),
    (655.1, 612.9),
    (755.2, 664.2),
    (843.0, 725.5),
    (911.2, 801.2),
    (970.6, 907.1),
    (991.9, 942.4),
    (1007.9, 1028.0),
    (1032.7, 1412.0),
    (1051.3, 1371.0),
    (1060.2, 1190.0),
    (1073.5, 1062.0),
    (1086.8, 866.0),
    (1099.2, 786.0),
    (1172.7, 623.8),
    (1212.6, 621.3),
    (1260.5, 633.1),
    (1354.5, 649.9),
    (1440.4, 657.4),
    (1509.6, 680.1),
];

pub fn heat_rows() -> Vec<Row> {
    let measured: f64 = C15_HEAT
        .windows(2)
        .map(|w| 0.5e-3 * (w[0].1 + w[1].1) * (w[1].0 - w[0].0))
        .sum();
    let mut rows = vec![Row {
        check: "heat of C15 from 96 to 1236 degC".into(),
        source: "open data, TU Bergakademie Freiberg",
        unit: "kJ/kg",
        reference: measured,
        ours: heat(&grade("C15"), 368.975 - 273.15, 1509.6 - 273.15),
        uncertainty: "3 % (taken)",
        bound: 0.035 * measured,
    }];
    // Int. J. Thermophys., doi 10.1007/BF00506274: c = 1127 - 0.7265 T + 2.884e-4 T², 1400 to 1700 K.
    let nist = |t: f64| 1127.0 - 0.7265 * t + 2.884e-4 * t * t;
    for kelvin in [1400.0, 1550.0, 1650.0] {
        rows.push(Row {
            check: format!(
                "specific heat of 1.4301 at {:.0} degC, pulse heating of 304L",
                kelvin - 273.15
            ),
            source: "Cezairliyan and Miiller, doi 10.1007/BF00506274",
            unit: "J/kgK",
            reference: nist(kelvin),
            ours: grade("1.4301").specific_heat.at(kelvin - 273.15),
            uncertainty: "3 %",
            bound: 0.04 * nist(kelvin),
        });
    }
    // The peak of c above the line through its foot, 600 to 900 degC: mostly the transformation.
    let c60 = grade("C60");
    let line = 0.5e-3 * (c60.specific_heat.at(600.0) + c60.specific_heat.at(900.0)) * 300.0;
    rows.push(Row {
        check: "heat of the transformation of C60, austenite to pearlite in eutectoid steel".into(),
        source: "Hagel, Pound and Mehl (abstract)",
        unit: "kJ/kg",
        reference: 82.0,
        ours: heat(&c60, 600.0, 900.0) - line,
        uncertainty: "5 %",
        bound: 8.2,
    });
    rows
}

/// Peak stress of a 0.2 % C reinforcing steel (means of two tests): degC, 1/s, MPa. Open data, Institute of Metal
/// Forming, TU Bergakademie Freiberg, MIT licence.
const PEAKS: [(f64, f64, f64); 9] = [
    (900.0, 0.1, 125.0),
    (900.0, 1.0, 167.0),
    (900.0, 10.0, 206.0),
    (1000.0, 0.1, 84.0),
    (1000.0, 1.0, 126.0),
    (1000.0, 10.0, 163.0),
    (1200.0, 0.1, 51.0),
    (1200.0, 1.0, 68.0),
    (1200.0, 10.0, 101.0),
];

pub fn flow_rows() -> Vec<Row> {
    // 0.2 C, 0.2 Si, 0.8 Mn: the usual analysis of the grade (from memory).
    let analysis = billet_thermal::steel::Composition {
        c: 0.2,
        si: 0.2,
        mn: 0.8,
        ..Default::default()
    };
    let law = FlowStress::new(
        FlowLaw::Medina {
            carbon: analysis.c,
            ln_a: analysis.flow_ln_a(),
            activation_j_mol: analysis.flow_activation_j_mol(),
        },
        "",
        Provenance::Given,
    );
    PEAKS
        .iter()
        .map(|(temp_c, rate, measured)| Row {
            check: format!("peak stress of 0.2 % C steel at {temp_c:.0} degC and {rate} 1/s"),
            source: "open data, TU Bergakademie Freiberg",
            unit: "MPa",
            reference: *measured,
            ours: law.stress_pa(*temp_c, 0.6, *rate) / 1e6,
            uncertainty: "5 % (taken)",
            bound: if *rate < 0.5 { 0.15 * measured } else { 0.08 * measured },
        })
        .collect()
}

/// Tube steel heated at 5 K/min to 1000 degC, 15 min there, cooled at 5 K/min in air: Materials 18 (2025) no. 11,
/// 2463. The other kinetics in print give 189 um.
pub fn scale_rows() -> Vec<Row> {
    let ramp_s = 980.0 / (5.0 / 60.0);
    let history = [
        (0.0, 20.0),
        (ramp_s, 1000.0),
        (ramp_s + 900.0, 1000.0),
        (2.0 * ramp_s + 900.0, 20.0),
    ];
    let ours = scale(ScaleLaw::default(), &history, 0.0).unwrap();
    vec![Row {
        check: "scale after 5 K/min to 1000 degC, 15 min and 5 K/min down".into(),
        source: "Materials 18 (2025) no. 11, 2463",
        unit: "um",
        reference: 401.0,
        ours: 1e6 * ours.thickness_m,
        uncertainty: "4.3 um",
        bound: 60.0,
    }]
}
