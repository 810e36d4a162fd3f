//! The exact solutions that the other checks lean on, against published tables.

use super::exact::half_space::{self, Pair};
use super::exact::{lumped, plane, radial, special};

/// First eigenvalue and coefficient for Bi 0.01 .. 10: the one-term (Heisler) table of the heat
/// transfer textbooks, to its four printed decimals.
#[test]
fn one_term_table() {
    // Bi, wall, cylinder, sphere: ζ1 and C1 each.
    const TABLE: [(f64, [f64; 6]); 9] = [
        (0.01, [0.0998, 1.0017, 0.1412, 1.0025, 0.1730, 1.0030]),
        (0.05, [0.2218, 1.0082, 0.3143, 1.0124, 0.3854, 1.0150]),
        (0.1, [0.3111, 1.0161, 0.4417, 1.0246, 0.5423, 1.0298]),
        (0.2, [0.4328, 1.0311, 0.6170, 1.0483, 0.7593, 1.0592]),
        (0.5, [0.6533, 1.0701, 0.9408, 1.1143, 1.1656, 1.1441]),
        (1.0, [0.8603, 1.1191, 1.2558, 1.2071, 1.5708, 1.2732]),
        (2.0, [1.0769, 1.1785, 1.5994, 1.3384, 2.0288, 1.4793]),
        (5.0, [1.3138, 1.2402, 1.9898, 1.5029, 2.5704, 1.7870]),
        (10.0, [1.4289, 1.2620, 2.1795, 1.5677, 2.8363, 1.9249]),
    ];
    for (biot, row) in TABLE {
        let wall = plane::eigenvalues(biot, 1)[0];
        let cylinder = radial::cylinder_eigenvalues(biot, 1)[0];
        let sphere = radial::sphere_eigenvalues(biot, 1)[0];
        let ours = [
            wall,
            plane::coefficient(wall),
            cylinder,
            radial::cylinder_coefficient(cylinder),
            sphere,
            radial::sphere_coefficient(sphere),
        ];
        for (a, b) in ours.iter().zip(row) {
            assert!((a - b).abs() <= 0.51e-4, "Bi {biot}: {a} {b}");
        }
    }
}

/// Convective heating of a slab at three Biot numbers: Carslaw and Jaeger as tabulated in the
/// verification suite of FDS (cases heat_conduction_a, _c, _d). L = 0.1 m, α = 1e-6, 20 -> 120 degC.
#[test]
fn slab_at_three_biot_numbers() {
    const TABLE: [(f64, f64, [f64; 4]); 7] = [
        (0.1, 5_000.0, [23.20, 23.94, 26.16, 27.82]),
        (0.1, 20_000.0, [36.27, 36.91, 38.85, 40.29]),
        (0.1, 50_000.0, [57.36, 57.85, 59.29, 60.37]),
        (10.0, 2_000.0, [37.07, 49.30, 84.28, 107.75]),
        (10.0, 10_000.0, [103.62, 106.22, 113.21, 117.68]),
        (100.0, 1_000.0, [24.79, 37.43, 83.88, 118.22]),
        (100.0, 2_000.0, [42.06, 56.06, 94.37, 118.75]),
    ];
    for (biot, t, row) in TABLE {
        for (place, published) in [0.0, 0.4, 0.8, 1.0].into_iter().zip(row) {
            let ours = 120.0 - 100.0 * plane::convection(biot, 1e-6 * t / 0.01, place);
            assert!((ours - published).abs() < 0.006, "{biot} {t} {place}: {ours}");
        }
    }
}

/// Insulated face of a cooling slab: first validation example of DIN EN 1991-1-2/NA annex CC, as
/// FDS case convective_cooling.
#[test]
fn cooling_slab_of_the_fire_standard() {
    const TABLE: [(f64, f64); 7] = [
        (60.0, 999.3),
        (300.0, 891.8),
        (600.0, 717.7),
        (900.0, 574.9),
        (1200.0, 460.4),
        (1500.0, 368.7),
        (1800.0, 295.3),
    ];
    for (t, published) in TABLE {
        let ours = 1000.0 * plane::convection(1.0, t / 1000.0, 0.0);
        assert!((ours - published).abs() < 0.06, "{t}: {ours} {published}");
    }
}

/// NAFEMS axisymmetric transient (Cameron, Casey, Simpson, Benchmark Tests for Thermal Analysis,
/// 1986; inputs from memory): 186.5 degC.
#[test]
fn nafems_cylinder_is_a_product() {
    let alpha = 52.0 / (7850.0 * 460.0);
    let t = 190.0;
    // T(r = 0.1, z = 0.3) in R = 0.3, H = 0.4 m: z is 0.1 from mid-height of half-height 0.2.
    let side = radial::cylinder_fixed(alpha * t / 0.09, 0.1 / 0.3);
    let ends = plane::fixed(alpha * t / 0.04, 0.1 / 0.2);
    let ours = 1000.0 * (1.0 - side * ends);
    assert!((ours - 186.5).abs() < 0.05, "{ours}");
}

/// A long cylinder of a university lecture (D 200, h 200, k 40, 400 -> 50 degC, α 1e-5, 20 min; values
/// calculated from the series): centre 184.84, surface 156.61 degC.
#[test]
fn long_cylinder_of_a_lecture() {
    for (place, published) in [(0.0, 184.84), (1.0, 156.61)] {
        let ours = 50.0 + 350.0 * radial::cylinder_convection(0.5, 1.2, place);
        assert!((ours - published).abs() < 0.006, "{ours}");
    }
}

/// Steel ball of Sukhatme Ex. 2.11 (D 50, ρ 8000, c 420, k 46, h 115, 450 -> 150 in 90 degC): the centre
/// takes 446.3 s, a lumped body 436.3 s (calculated from the series and the exponential).
#[test]
fn steel_ball() {
    let (radius, h): (f64, f64) = (0.025, 115.0);
    let alpha = 46.0 / (8000.0 * 420.0);
    let centre = |t: f64| 90.0 + 360.0 * radial::sphere_convection(h * radius / 46.0, alpha * t / radius.powi(2), 0.0);
    let t = special::bisect(300.0, 600.0, |t| 150.0 - centre(t));
    assert!((t - 446.3).abs() < 0.06, "{t}");
    let t = lumped::convection_s(450.0, 150.0, 90.0, h, 8000.0 * 420.0 * radius / 3.0);
    assert!((t - 436.3).abs() < 0.06, "{t}");
}

/// Semi-infinite steel under a flux: Holman, Heat Transfer, Ex. 4-2: 79.3 degC.
#[test]
fn half_space_under_flux() {
    let ours = 35.0 + half_space::flux(3.2e5, 45.0, 1.4e-5, 0.025, 30.0);
    assert!((ours - 79.3).abs() < 0.05, "{ours}");
}

/// A thick slab with convection is a half-space as long as the far side is cold.
#[test]
fn half_space_with_convection_is_a_thick_slab() {
    let (h, k, alpha, t) = (500.0, 30.0, 6e-6, 40.0);
    let length = 0.2;
    for x in [0.0, 0.005, 0.02] {
        let slab = 1.0 - plane::convection(h * length / k, alpha * t / (length * length), 1.0 - x / length);
        let half = half_space::convection(h, k, alpha, x, t);
        assert!((slab - half).abs() < 1e-9, "{x}: {slab} {half}");
    }
}

/// Two half-spaces with a contact coefficient: billet 1150 degC (k 28, ρ 7470, c 650) on a die of
/// 200 degC (k 27.7, ρ 7700, c 550). Table calculated from Carslaw and Jaeger; faces in degC and
/// heat in kJ/m².
#[test]
fn two_half_spaces_in_contact() {
    let effusivity = [(28.0_f64 * 7470.0 * 650.0).sqrt(), (27.7_f64 * 7700.0 * 550.0).sqrt()];
    const TABLE: [(f64, f64, f64, f64, f64); 9] = [
        (1000.0, 0.002, 1145.9, 204.4, 1.9),
        (1000.0, 1.0, 1070.8, 285.2, 836.0),
        (5000.0, 0.05, 1063.0, 293.7, 206.0),
        (10000.0, 0.01, 1070.8, 285.2, 83.6),
        (10000.0, 0.2, 916.8, 451.0, 1165.0),
        (20000.0, 0.01, 1011.6, 348.9, 149.0),
        (20000.0, 1.0, 762.4, 617.3, 4750.0),
        (50000.0, 0.002, 999.9, 361.6, 72.6),
        (50000.0, 1.0, 721.3, 661.5, 5458.0),
    ];
    for (h, t, hot, cold, heat) in TABLE {
        let pair = Pair {
            effusivity,
            start_c: [1150.0, 200.0],
            h,
        };
        assert!((pair.perfect_c() - 692.51).abs() < 0.01);
        let faces = pair.faces_c(t);
        assert!((faces[0] - hot).abs() < 0.06, "{h} {t}: {faces:?}");
        assert!((faces[1] - cold).abs() < 0.06, "{h} {t}: {faces:?}");
        let digits = if heat < 150.0 { 0.06 } else { 0.6 };
        assert!((pair.heat(t) * 1e-3 - heat).abs() < digits, "{h} {t}: {}", pair.heat(t));
    }
}

/// Constant flux: late in time both bodies rise by 2 Fo (cylinder) or Fo (slab) plus the steady
/// profile; early they are half-spaces (Carslaw and Jaeger, 3.8 and 7.8).
#[test]
fn constant_flux_meets_its_two_limits() {
    assert!((radial::cylinder_flux(3.0, 0.0) - (6.0 - 0.25)).abs() < 1e-12);
    assert!((radial::cylinder_flux(3.0, 1.0) - (6.0 + 0.25)).abs() < 1e-12);
    assert!((plane::flux(3.0, 1.0) - (3.0 + 1.0 / 3.0)).abs() < 1e-12);
    let early: f64 = 1e-4;
    let half_space = 2.0 * (early / std::f64::consts::PI).sqrt();
    assert!((plane::flux(early, 1.0) / half_space - 1.0).abs() < 1e-9);
    // The cylinder's curvature adds about half a diffusion length over the radius.
    let ratio = radial::cylinder_flux(early, 1.0) / half_space - 1.0;
    assert!(ratio > 0.0 && ratio < 0.01, "{ratio}");
}

/// The lumped radiation formula against a fine Runge-Kutta integration of its equation.
#[test]
fn lumped_radiation() {
    let (start, surroundings, rate) = (1473.15, 298.15, 1.1e-12);
    let slope = |x: f64| -rate * (x.powi(4) - f64::powi(surroundings, 4));
    let (mut x, dt) = (start, 0.05);
    for _ in 0..12_000 {
        let a = slope(x);
        let b = slope(x + 0.5 * dt * a);
        let c = slope(x + 0.5 * dt * b);
        let d = slope(x + dt * c);
        x += dt / 6.0 * (a + 2.0 * b + 2.0 * c + d);
    }
    let ours = lumped::radiation_k(start, surroundings, rate, 600.0);
    assert!((ours - x).abs() < 1e-7, "{ours} {x}");
}

/// exp(z²) erfc(z): 0.427583576155807 at 1, and the joint of both branches (Abramowitz and Stegun,
/// table 7.1: erfc(1) = 0.157299207).
#[test]
fn scaled_error_function() {
    assert!((special::scaled_erfc(1.0) - 0.427_583_576_155_807).abs() < 1e-14);
    let (below, above) = (special::scaled_erfc(3.999_999_999), special::scaled_erfc(4.0));
    assert!((below / above - 1.0).abs() < 1e-8);
    assert!((special::scaled_erfc(50.0) * 50.0 * std::f64::consts::PI.sqrt() - 1.0).abs() < 3e-4);
}
