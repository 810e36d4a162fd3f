//! Hot flow stress laws at published points.

use billet_thermal::steel::{FlowLaw, FlowStress, HenselSpittel, Library, Provenance, shida_pa, shida_transformation};

fn law(law: FlowLaw) -> FlowStress {
    FlowStress::new(law, "test", Provenance::Given)
}

fn close(what: &str, value: f64, expected: f64, tolerance: f64) {
    assert!(
        (value - expected).abs() <= tolerance,
        "{what}: {value}, expected {expected} within {tolerance}"
    );
}

fn grade(name: &str) -> FlowStress {
    let library = Library::builtin().unwrap_or_else(|e| panic!("{e}"));
    library.find(name).unwrap().flow_stress.clone().unwrap()
}

/// Shida 1969, strain 0.3, rates 1, 10 and 100 1/s, MPa; calculated from the corrected equations.
#[test]
fn shida_table() {
    let temps = [900.0, 1000.0, 1100.0, 1200.0, 1250.0];
    let table = [
        (
            0.1,
            [
                [155.0, 197.0, 250.0],
                [108.0, 141.0, 184.0],
                [79.0, 106.0, 142.0],
                [60.0, 83.0, 114.0],
                [53.0, 74.0, 104.0],
            ],
        ),
        (
            0.45,
            [
                [154.0, 204.0, 269.0],
                [107.0, 146.0, 198.0],
                [78.0, 109.0, 153.0],
                [60.0, 85.0, 123.0],
                [53.0, 76.0, 111.0],
            ],
        ),
    ];
    for (carbon, rows) in table {
        let shida = law(FlowLaw::Shida { carbon });
        for (t, row) in temps.iter().zip(rows) {
            for (rate, mpa) in [1.0, 10.0, 100.0].into_iter().zip(row) {
                let what = format!("{carbon} % C, {t} degC, {rate} 1/s");
                close(&what, shida.stress_pa(*t, 0.3, rate) / 1e6, mpa, 0.6);
            }
        }
    }
}

/// With the right signs Shida's two branches meet within 1.5 % at T_p for 0.1 to 0.8 % C.
#[test]
fn shida_is_continuous_at_the_transformation() {
    for carbon in [0.1, 0.2, 0.3, 0.45, 0.6, 0.8] {
        let tp = 1000.0 * shida_transformation(carbon) - 273.0;
        let above = shida_pa(carbon, tp + 1e-6, 0.3, 10.0);
        let below = shida_pa(carbon, tp - 1e-6, 0.3, 10.0);
        close(&format!("{carbon} % C"), below / above, 1.0, 0.015);
        let fast = shida_pa(carbon, tp + 100.0, 0.3, 100.0);
        assert!(fast > shida_pa(carbon, tp + 100.0, 0.3, 10.0));
    }
}

/// Four laws for C45 at two hammer and press conditions, MPa: Shida 0.45 C, Hensel-Spittel sets a and b
/// (Spittel and Spittel 2009), Misaka and Yoshimoto 1967 (mean), Medina and Hernández 1996 (peak).
#[test]
fn laws_side_by_side() {
    let set_b = HenselSpittel {
        a: 2731.39,
        m1: -0.00268,
        m2: 0.31076,
        m4: -0.00056,
        m5: 0.00046,
        m7: -0.98375,
        m8: 0.000139,
        ..Default::default()
    };
    let medina = law(FlowLaw::HyperbolicSine {
        ln_a: 1.18e10_f64.ln(),
        alpha_per_mpa: 0.0118,
        n: 4.458,
        activation_j_mol: 275.0e3,
    });
    let shida = law(FlowLaw::Shida { carbon: 0.45 });
    let misaka = law(FlowLaw::Misaka { carbon: 0.45 });
    for (t, rate, expected) in [
        (1100.0, 10.0, [109.0, 114.0, 119.0, 107.0, 124.0]),
        (1200.0, 100.0, [123.0, 132.0, 140.0, 119.0, 136.0]),
    ] {
        let values = [
            shida.stress_pa(t, 0.3, rate),
            grade("C45").stress_pa(t, 0.3, rate),
            law(FlowLaw::HenselSpittel(set_b)).stress_pa(t, 0.3, rate),
            misaka.mean_stress_pa(t, 0.3, rate),
            medina.stress_pa(t, 0.3, rate),
        ];
        for (i, (value, mpa)) in values.iter().zip(expected).enumerate() {
            close(&format!("law {i} at {t}"), value / 1e6, mpa, 1.0);
        }
    }
}

/// Medina and Hernández, Acta Mater. 44 (1996) 137: peak stress of 42CrMo4, MPa. The table, Q and A are
/// all rounded, which is worth 1 MPa.
#[test]
fn hyperbolic_sine_of_42crmo4() {
    let peak = law(FlowLaw::HyperbolicSine {
        ln_a: 1.87e10_f64.ln(),
        alpha_per_mpa: 0.0118,
        n: 4.458,
        activation_j_mol: 282.2e3,
    });
    for (t, row) in [
        (900.0, [161.0, 204.0, 247.0]),
        (1000.0, [121.0, 162.0, 205.0]),
        (1100.0, [90.0, 127.0, 169.0]),
        (1200.0, [67.0, 100.0, 138.0]),
        (1250.0, [58.0, 88.0, 125.0]),
    ] {
        for (rate, mpa) in [1.0, 10.0, 100.0].into_iter().zip(row) {
            close(&format!("{t} {rate}"), peak.stress_pa(t, 0.3, rate) / 1e6, mpa, 1.0);
        }
    }
}

/// Measured peaks of BSt500, Institute of Metal Forming, TU Bergakademie Freiberg (open data): the
/// hyperbolic sine fit of these nine peaks (rms 2.9 %), and the peak of the Hensel-Spittel set that the
/// same institute published in 2022, which lies up to 16 % below.
#[test]
fn measured_peak_stress() {
    let fit = law(FlowLaw::HyperbolicSine {
        ln_a: 27.94,
        alpha_per_mpa: 0.00707,
        n: 6.04,
        activation_j_mol: 293.9e3,
    });
    let bst500 = law(FlowLaw::HenselSpittel(HenselSpittel {
        a: 4877.12,
        m1: -0.00273339,
        m2: 0.302309,
        m3: -0.0407581,
        m4: 0.000222222,
        m5: -0.000383134,
        m6: 0.0,
        m7: -0.492672,
        m8: 0.000175044,
        m9: -0.0611783,
    }));
    let mut sum = 0.0;
    for (t, row) in [
        (900.0, [125.0, 167.0, 206.0]),
        (1000.0, [84.0, 126.0, 163.0]),
        (1200.0, [51.0, 68.0, 101.0]),
    ] {
        for (rate, mpa) in [0.1, 1.0, 10.0].into_iter().zip(row) {
            sum += (fit.stress_pa(t, 0.5, rate) / 1e6 / mpa - 1.0_f64).powi(2);
            let peak = (5..120)
                .map(|e| bst500.stress_pa(t, f64::from(e) / 100.0, rate) / 1e6)
                .fold(0.0, f64::max);
            assert!((0.83..1.01).contains(&(peak / mpa)), "{t} {rate}: {peak} {mpa}");
        }
    }
    close("rms of the published fit", (sum / 9.0).sqrt(), 0.029, 0.004);
}

/// Medina and Hernández on the analysis, in the grades that have no set of their own: Q and ln A as in the file, the
/// peak from a strain of 0.45 on, and at a strain of 0.3 what four other laws say within 12 %.
#[test]
fn medina_follows_from_the_analysis() {
    let library = Library::builtin().unwrap_or_else(|e| panic!("{e}"));
    let mut grades = 0;
    for g in library.grades() {
        let Some((flow, analysis)) = g.flow_stress.as_ref().zip(g.composition.as_ref()) else {
            continue;
        };
        let FlowLaw::Medina {
            carbon,
            ln_a,
            activation_j_mol,
        } = flow.law
        else {
            continue;
        };
        grades += 1;
        assert_eq!(carbon, analysis.c, "{}", g.name);
        close(&g.name, activation_j_mol, analysis.flow_activation_j_mol(), 51.0);
        close(&g.name, ln_a, analysis.flow_ln_a(), 5e-3);
        let at = |strain| flow.stress_pa(1100.0, strain, 50.0);
        assert!(
            at(0.1) < at(0.2) && at(0.2) < at(0.4) && at(0.4) < at(0.5),
            "{}",
            g.name
        );
        close(&g.name, at(0.5) / at(3.0), 1.0, 1e-9);
        // The start of hardening is where other laws have it: Shida at 0.1 over 0.4.
        let shida = |strain| shida_pa(carbon, 1100.0, strain, 50.0);
        close(&g.name, (at(0.1) / at(0.4)) / (shida(0.1) / shida(0.4)), 1.0, 1e-9);
    }
    assert_eq!(grades, 13);
    let steel = grade("42CrMo4");
    for (t, rate, others) in [
        (1100.0, 10.0, [109.0, 114.0, 119.0, 107.0]),
        (1200.0, 100.0, [123.0, 132.0, 140.0, 119.0]),
    ] {
        let mean: f64 = others.iter().sum::<f64>() / 4.0;
        close("four laws", steel.stress_pa(t, 0.3, rate) / 1e6 / mean, 1.0, 0.12);
        assert_eq!(steel.out_of_range(t, 2.5, rate), None);
    }
}

/// 304 by the hyperbolic sine law: 160 to 175 MPa at 1000 degC and 1 1/s (Ryan and McQueen 1990, from
/// memory).
#[test]
fn stainless_at_its_calibration_point() {
    let mpa = grade("1.4301").stress_pa(1000.0, 0.3, 1.0) / 1e6;
    assert!((160.0..=175.0).contains(&mpa), "{mpa}");
}

/// Means against closed integrals: Misaka's formula is a mean itself; Shida integrates by hand.
#[test]
fn mean_over_strain() {
    let misaka = law(FlowLaw::Misaka { carbon: 0.4 });
    let direct = billet_thermal::steel::misaka_mean_pa(0.4, 1100.0, 0.4, 100.0);
    close("Misaka", misaka.mean_stress_pa(1100.0, 0.4, 100.0) / direct, 1.0, 2e-4);

    let (c, strain): (f64, f64) = (0.45, 0.6);
    let shida = law(FlowLaw::Shida { carbon: c });
    let n = 0.41 - 0.07 * c;
    let r = strain / 0.2;
    let at_strain = 1.3 * r.powf(n) - 0.3 * r;
    let mean = 1.3 / (n + 1.0) * r.powf(n) - 0.15 * r;
    let expected = shida.stress_pa(1100.0, strain, 10.0) * mean / at_strain;
    close(
        "Shida",
        shida.mean_stress_pa(1100.0, strain, 10.0) / expected,
        1.0,
        1e-4,
    );

    // Work adds up: 0 to 0.2 and 0.2 to 0.6 make 0 to 0.6. The three integrals are taken on points
    // of their own, and near zero the stress is held constant, a kink that the rule rounds.
    let total = 0.6 * shida.mean_stress_pa(1100.0, 0.6, 10.0);
    let parts =
        0.2 * shida.mean_between_pa(1100.0, 0.0, 0.2, 10.0) + 0.4 * shida.mean_between_pa(1100.0, 0.2, 0.6, 10.0);
    close("work", parts / total, 1.0, 2e-5);
}

#[test]
fn out_of_range_names_the_quantity() {
    let shida = law(FlowLaw::Shida { carbon: 0.45 });
    assert_eq!(shida.out_of_range(1100.0, 0.3, 10.0), None);
    let hot = shida.out_of_range(1230.0, 0.3, 10.0).unwrap();
    assert_eq!((hot.quantity, hot.range), ("temperature", (700.0, 1200.0)));
    let text = shida.out_of_range(1100.0, 0.3, 300.0).unwrap().to_string();
    assert_eq!(text, "strain rate 300.0000 1/s is outside 0.1 to 100 1/s");
    assert_eq!(shida.out_of_range(1100.0, 0.9, 10.0).unwrap().quantity, "strain");
}

/// No law may give nonsense at the ends of what a line can ask for: die-chilled skin, flash, drift.
#[test]
fn stress_is_positive_finite_and_falls_with_temperature() {
    let library = Library::builtin().unwrap_or_else(|e| panic!("{e}"));
    let mut laws = 0;
    for g in library.grades() {
        let Some(flow) = &g.flow_stress else { continue };
        laws += 1;
        for rate in [0.0, 1e-3, 1.0, 100.0, 5e3] {
            for strain in [0.0, 1e-6, 0.05, 0.3, 1.0, 5.0] {
                let at = |t| flow.stress_pa(t, strain, rate);
                for t in [-60.0, 20.0, 600.0, 900.0, 1200.0, 1400.0] {
                    let pa = at(t);
                    assert!(pa > 0.0 && pa < 1.5e9, "{} {t} {strain} {rate}: {pa}", g.name);
                }
                assert!(at(1000.0) >= at(1200.0), "{}", g.name);
            }
        }
    }
    assert!(laws >= 20, "{laws}");
}
