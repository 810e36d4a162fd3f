//! Saturated steel against its nonlinear solution in time, and the magnetisation of iron against temperature.

use std::f64::consts::{PI, SQRT_2};

use billet_thermal::inside::heater::field::{FieldOptions, FnMedium, LineSection, Mesh, Symmetry};
use billet_thermal::steel::spontaneous_share;

use crate::eddy_exact::MU_0;

/// B = µ0 H + J H/(|H| + a).
#[derive(Clone, Copy)]
struct Law {
    js: f64,
    knee: f64,
}

impl Law {
    fn b(self, h: f64) -> f64 {
        MU_0 * h + self.js * h / (h.abs() + self.knee)
    }

    fn slope(self, h: f64) -> f64 {
        MU_0 + self.js * self.knee / (h.abs() + self.knee).powi(2)
    }
}

/// Half-space under a sinusoidal field, step by step in time (implicit Euler, Newton's method, three periods to
/// settle): R and X of the fundamental of E over H, ohm.
fn in_time(h0: f64, f: f64, rho: f64, law: Law) -> (f64, f64) {
    let (n, steps, periods) = (250, 600, 3);
    let omega = 2.0 * PI * f;
    let mu = 1.0 + law.js / (MU_0 * (h0 + law.knee));
    let depth = 8.0 * (2.0 * rho / (omega * MU_0 * mu)).sqrt();
    let x: Vec<f64> = (0..=n).map(|i| depth * (i as f64 / n as f64).powf(1.3)).collect();
    let dx: Vec<f64> = x.windows(2).map(|w| w[1] - w[0]).collect();
    let mut volume = vec![0.0; n + 1];
    for i in 0..n {
        volume[i] += 0.5 * dx[i];
        volume[i + 1] += 0.5 * dx[i];
    }
    let dt = 1.0 / f / steps as f64;
    let mut h = vec![0.0; n + 1];
    let (mut sine, mut cosine) = (0.0, 0.0);
    for k in 1..=periods * steps {
        let before: Vec<f64> = h.iter().map(|q| law.b(*q)).collect();
        h[0] = SQRT_2 * h0 * (omega * k as f64 * dt).sin();
        for _ in 0..60 {
            let mut rest: Vec<f64> = (0..=n).map(|i| volume[i] * (law.b(h[i]) - before[i]) / dt).collect();
            let mut diagonal: Vec<f64> = (0..=n).map(|i| volume[i] * law.slope(h[i]) / dt).collect();
            for i in 0..n {
                let flux = rho * (h[i + 1] - h[i]) / dx[i];
                rest[i] -= flux;
                rest[i + 1] += flux;
                diagonal[i] += rho / dx[i];
                diagonal[i + 1] += rho / dx[i];
            }
            let (mut c, mut d) = (vec![0.0; n + 1], vec![0.0; n + 1]);
            for i in 1..=n {
                let low = -rho / dx[i - 1];
                let pivot = diagonal[i] - low * c[i - 1];
                c[i] = if i < n { -rho / dx[i] / pivot } else { 0.0 };
                d[i] = (-rest[i] - low * d[i - 1]) / pivot;
            }
            let mut step = vec![0.0; n + 1];
            step[n] = d[n];
            for i in (0..n).rev() {
                step[i] = d[i] - c[i] * step[i + 1];
            }
            h.iter_mut().zip(&step).for_each(|(h, s)| *h += s);
            if step.iter().all(|s| s.abs() < 1e-7 * h0) {
                break;
            }
        }
        if k > (periods - 1) * steps {
            let e: f64 = (0..=n).map(|i| volume[i] * (law.b(h[i]) - before[i]) / dt).sum();
            let phase = omega * (k as f64 - 0.5) * dt;
            sine += e * phase.sin();
            cosine += e * phase.cos();
        }
    }
    let scale = 2.0 / (steps as f64 * SQRT_2 * h0);
    (scale * sine, scale * cosine)
}

/// Power factor of the load within 3 % of the solution in time, active power within 3 % too. The half-space is a
/// plate many skins thick.
#[test]
fn power_factor_of_saturated_steel() {
    for (h0, f, rho, js) in [
        (3e4, 1e3, 2e-7, 2.01),
        (1e5, 1e3, 2e-7, 2.01),
        (2e5, 1e3, 2e-7, 2.01),
        (1e5, 1e3, 8e-7, 1.3),
        (5e4, 3e3, 8e-7, 1.3),
        (1e5, 1e3, 1.05e-6, 0.4),
        (5e3, 1e3, 2e-7, 2.01),
    ] {
        let law = Law { js, knee: 1067.0 };
        let (r, x) = in_time(h0, f, rho, law);
        let medium = FnMedium {
            resistivity: move |_: f64| rho,
            permeability: move |h: f64, _: f64| 1.0 + js / (MU_0 * (h + 1067.0)),
        };
        let skin = (2.0 * rho / (2.0 * PI * f * MU_0 * (1.0 + js / (MU_0 * (h0 + 1067.0))))).sqrt();
        let section = LineSection::new(Symmetry::Planar, &Mesh::for_skin(12.0 * skin, skin, 40.0).unwrap());
        let mut work = section.workspace();
        let temps = vec![20.0; section.cells()];
        let z = section
            .solve(&medium, &temps, f, h0, &FieldOptions::default(), &mut work)
            .unwrap();
        let (want, got) = (r / r.hypot(x), z.resistance / z.resistance.hypot(z.reactance));
        println!(
            "{h0:e} {f} {rho:e} {js}: cos {want:.4} {got:.4}, R {:+.4}",
            z.resistance / r - 1.0
        );
        assert!((got / want - 1.0).abs() < 0.02, "{h0} {f}: {got} {want}");
        assert!((z.resistance / r - 1.0).abs() < 0.045, "{h0} {f}");
    }
}

/// Bloch's constant of iron, M = M0 (1 − C T^1.5), C = (3.4 ± 0.2)e-6 K^-1.5 (Kittel, Introduction to Solid State
/// Physics, from memory); and what tables of iron hold over its value when cold: 0.90, 0.78, 0.57 at 400, 600, 700 degC
/// (from memory).
#[test]
fn magnetisation_of_iron() {
    let curie = 770.0;
    let bloch = |t: f64| (1.0 - spontaneous_share(t - 273.15, curie)) / t.powf(1.5);
    assert!((bloch(100.0) - 3.4e-6).abs() < 0.2e-6, "{}", bloch(100.0));
    for (t, want) in [(400.0, 0.90), (600.0, 0.78), (700.0, 0.57)] {
        let share = spontaneous_share(t, curie) / spontaneous_share(20.0, curie);
        assert!((share - want).abs() < 0.035, "{t}: {share}");
    }
    assert_eq!(spontaneous_share(770.0, curie), 0.0);
    assert_eq!(spontaneous_share(1200.0, curie), 0.0);
}
