//! Coil, lining and skin-depth formulas against published and independently calculated values.

use std::f64::consts::PI;

use billet_thermal::inside::heater::coil::{
    Circuit, Coil, Drive, Load, long_coil_efficiency, nagaoka, short_coil_factor,
};
use billet_thermal::inside::heater::field::{FieldOptions, LineSection, Mesh, Symmetry, Uniform, skin_depth};
use billet_thermal::inside::heater::lining::{Lining, open_radiation};

use crate::eddy_exact as exact;

fn close(name: &str, got: f64, want: f64, absolute: f64) {
    assert!((got - want).abs() <= absolute, "{name}: got {got}, want {want}");
}

/// delta = 503.29 sqrt(rho/(mu f)): hot steel 1.15e-6, cold steel 2e-7 with mu 20, copper 2e-8.
#[test]
fn skin_depth_table() {
    let f = [50.0, 180.0, 500.0, 1e3, 2e3, 3e3, 4e3, 8e3, 1e4, 3e4];
    let hot = [76.33, 40.23, 24.14, 17.07, 12.07, 9.85, 8.53, 6.03, 5.40, 3.12];
    let cold = [7.12, 3.75, 2.25, 1.59, 1.13, 0.919, 0.796, 0.563, 0.503, 0.291];
    let copper = [10.07, 5.31, 3.18, 2.25, 1.59, 1.30, 1.13, 0.796, 0.712, 0.411];
    for i in 0..f.len() {
        // Half a unit of the last printed digit, at most 0.2 %.
        close("hot", skin_depth(1.15e-6, 1.0, f[i]) * 1e3, hot[i], 0.0051);
        close("cold", skin_depth(2e-7, 20.0, f[i]) * 1e3, cold[i], 0.0051);
        close("copper", skin_depth(2e-8, 1.0, f[i]) * 1e3, copper[i], 0.0051);
    }
}

/// A textbook problem on 0.4 % C steel at 1 kHz (resistivity in micro-ohm cm, skin depth in cm);
/// at 200 to 600 degC the depths are those of the listed permeability.
#[test]
fn skin_depth_of_the_textbook_problem() {
    for (rho, mu, want) in [
        (16.0, 40.0, 0.101),
        (29.6, 36.0, 0.144),
        (49.3, 30.0, 0.204),
        (76.6, 15.0, 0.360),
        (104.2, 1.0, 1.62),
        (114.6, 1.0, 1.70),
    ] {
        let got = skin_depth(rho * 1e-8, mu, 1000.0) * 100.0;
        close("textbook skin depth", got, want, 0.006 * want);
    }
}

/// Electrical efficiency of a long coil against D/delta, with K_T from the field solver.
#[test]
fn efficiency_table() {
    let ratio = [1.0, 1.5, 2.0, 2.5, 3.0, 3.5, 4.0, 5.0, 6.0, 10.0, 20.0];
    let rows = [
        (
            1.2,
            [
                0.143, 0.353, 0.547, 0.673, 0.743, 0.780, 0.799, 0.813, 0.817, 0.828, 0.836,
            ],
        ),
        (
            1.4,
            [
                0.125, 0.319, 0.508, 0.638, 0.713, 0.752, 0.773, 0.788, 0.793, 0.805, 0.814,
            ],
        ),
        (
            1.6,
            [
                0.111, 0.291, 0.475, 0.606, 0.685, 0.727, 0.748, 0.765, 0.771, 0.783, 0.793,
            ],
        ),
        (
            2.0,
            [
                0.091, 0.247, 0.420, 0.552, 0.634, 0.680, 0.704, 0.722, 0.729, 0.743, 0.754,
            ],
        ),
    ];
    let skin = exact::skin(1.15e-6, 1.0, 1000.0);
    for (over, row) in rows {
        for (x, want) in ratio.iter().zip(row) {
            let mesh = Mesh::for_skin(0.5 * x * skin, skin, 40.0).unwrap();
            let section = LineSection::new(Symmetry::Radial, &mesh);
            let mut work = section.workspace();
            let hot = Uniform {
                resistivity_ohm_m: 1.15e-6,
                relative_permeability: 1.0,
            };
            let temps = vec![1200.0; section.cells()];
            let z = section
                .solve(&hot, &temps, 1000.0, 1.0, &FieldOptions::default(), &mut work)
                .unwrap();
            let k_t = z.factors(1.15e-6, 1.0, 1000.0).0;
            let eta = long_coil_efficiency(over, 2e-8, 1.15e-6, 1.0, k_t, 0.85);
            close("efficiency", eta, want, 0.0008);
        }
    }
}

/// Load of a uniform cylinder that fills the coil's length.
fn load(rho: f64, mu: f64, f: f64, diameter: f64, length: f64) -> Load {
    let k = exact::cylinder_factors(rho, mu, f, 0.5 * diameter);
    let area = PI * diameter * length;
    let scale = rho / exact::skin(rho, mu, f);
    Load {
        active: area * scale * k.re,
        reactive: area * scale * k.im,
        section_m2: 0.25 * PI * diameter * diameter,
    }
}

/// Worked circuit: billet 50 mm, coil 80 mm bore and 500 mm long, 20 turns, k_s 0.85.
#[test]
fn equivalent_circuit_of_the_worked_coil() {
    // f, rho, mu, R_w, R_c, X_w, X_gap in mOhm; efficiency and cos phi, long and with X_e.
    let rows = [
        (
            1000.0, 1.15e-6, 1.0, 4.39, 2.10, 9.32, 19.35, 0.676, 0.649, 0.206, 0.201,
        ),
        (
            3000.0, 1.15e-6, 1.0, 11.88, 3.64, 14.98, 58.04, 0.765, 0.746, 0.198, 0.193,
        ),
        (
            1000.0, 2e-7, 16.0, 13.62, 2.10, 14.13, 19.35, 0.866, 0.849, 0.404, 0.382,
        ),
    ];
    for (f, rho, mu, r_w, r_c, x_w, x_gap, eta, eta_e, cos, cos_e) in rows {
        let mut coil = Coil::new(0.5, 0.08, f).unwrap();
        coil.turns = 20.0;
        coil.copper_resistivity = 2e-8;
        let c = Circuit::new(&coil, &load(rho, mu, f, 0.05, 0.5)).unwrap();
        close("R_w", c.load_resistance * 1e3, r_w, 0.006);
        close("R_c", c.winding_resistance * 1e3, r_c, 0.006);
        close("X_w", c.load_reactance * 1e3, x_w, 0.006);
        close("X_gap", c.gap_reactance * 1e3, x_gap, 0.006);
        close("efficiency", c.efficiency(true), eta, 0.0006);
        close("efficiency with X_e", c.efficiency(false), eta_e, 0.0006);
        close("power factor", c.power_factor(true), cos, 0.0006);
        close("power factor with X_e", c.power_factor(false), cos_e, 0.0006);
    }
}

/// Nagaoka's coefficient to all printed digits, and Wheeler's approximation within its 0.5 %.
#[test]
fn nagaoka_table() {
    for (u, want) in [
        (0.05, 0.979092),
        (0.1, 0.958807),
        (0.2, 0.920093),
        (0.25, 0.901649),
        (0.3, 0.883803),
        (0.4, 0.849853),
        (0.5, 0.818136),
        (0.6, 0.788525),
        (0.75, 0.747762),
        (1.0, 0.688423),
        (1.5, 0.595046),
        (2.0, 0.525510),
        (3.0, 0.429199),
        (5.0, 0.319825),
        (10.0, 0.203324),
    ] {
        let k = nagaoka(u, 1.0).unwrap();
        close("K_N", k, want, 6e-7);
        if u <= 2.7 {
            close("Wheeler", 1.0 / (1.0 + 0.45 * u), k, 0.005 * k);
        }
    }
    // The series for very long coils joins the closed form.
    let (a, b) = (nagaoka(0.999e-3, 1.0).unwrap(), nagaoka(1.001e-3, 1.0).unwrap());
    assert!((a - b).abs() < 1e-6 && a > b, "{a} {b}");
}

/// Short-coil factor against an axisymmetric A-phi solution (bar 50 mm, coil 80 mm bore, current
/// sheet, 1.15e-6 ohm m).
#[test]
fn short_coil_table() {
    let rows = [
        (0.080, 1000.0, 0.7148),
        (0.080, 3000.0, 0.7491),
        (0.080, 10000.0, 0.7691),
        (0.150, 1000.0, 0.8293),
        (0.150, 3000.0, 0.8517),
        (0.150, 10000.0, 0.8640),
        (0.300, 1000.0, 0.9098),
        (0.300, 3000.0, 0.9217),
        (0.300, 10000.0, 0.9283),
    ];
    for (length, f, field_solution) in rows {
        let k = short_coil_factor(0.08, length, 0.05, skin_depth(1.15e-6, 1.0, f)).unwrap();
        let error = k / field_solution - 1.0;
        assert!(error.abs() < 0.004, "{length} {f}: {error}");
    }
}

/// Energy at the terminals is that in the winding and in the load, to rounding.
#[test]
fn terminal_power_is_winding_and_load() {
    let coil = Coil::new(0.6, 0.09, 1500.0).unwrap();
    let load = load(1.15e-6, 1.0, 1500.0, 0.06, 0.6);
    for k_sc in [1.0, 0.9] {
        let h = coil.field(Drive::Terminals(250e3), &load, k_sc).unwrap();
        let sum = load.active * h * h + coil.winding_loss(h, k_sc);
        close("terminals", sum, 250e3, 1e-9 * 250e3);
        let h = coil.field(Drive::Load(150e3), &load, k_sc).unwrap();
        close("load", load.active * h * h, 150e3, 1e-9 * 150e3);
    }
    assert!(coil.field(Drive::Terminals(-1.0), &load, 1.0).is_err());
    assert!(coil.field(Drive::Load(1.0), &Load::default(), 1.0).is_err());
}

/// A lining of 30/38 mm radius and 1 W/mK with its hot face at 1150 degC against a 50 degC coil
/// conducts 29.2 kW/m, 186 kW/m2 of a 50 mm bar.
#[test]
fn lining_example() {
    let lining = Lining {
        inner_m: 0.060,
        outer_m: 0.076,
        conductivity: 1.0,
        emissivity: 0.8,
        coil_c: 50.0,
    };
    close("conduction", lining.conducted(1150.0), 29.2e3, 60.0);
    close("per bar surface", lining.conducted(1150.0) / (PI * 0.05), 186e3, 500.0);
    // The billet that drives it: both resistances in series give the same heat.
    let (heat, face) = lining.loss(0.05, 0.8, 1250.0);
    let eps = 1.0 / (1.0 / 0.8 + 50.0 / 60.0 * (1.0 / 0.8 - 1.0));
    let (ts, tl) = (1250.0 + 273.15, face + 273.15);
    let h_rad = eps * 5.670374419e-8 * (ts * ts + tl * tl) * (ts + tl);
    let series = 2.0 * PI * 1200.0 / ((38f64 / 30.0).ln() / 1.0 + 1.0 / (0.025 * h_rad));
    close("series", heat, series, 1e-6 * series);
    close("face", lining.conducted(face), heat, 1e-6 * heat);
    // A cold billet in a lining behind a warmer coil is warmed.
    assert!(lining.loss(0.05, 0.8, 20.0).0 < 0.0);
    assert!(lining.check(0.0601).is_err());
}

/// A black body at 1250 degC radiates 305 kW/m2.
#[test]
fn open_end_of_a_coil() {
    close("black body", open_radiation(1.0, 1250.0, -273.15), 305e3, 500.0);
}
