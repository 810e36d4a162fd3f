//! The eddy-current field against exact solutions and reference tables.
//!
//! The tables were calculated in 30-digit arithmetic from the Bessel, hyperbolic and Fourier-series
//! solutions for rho 1.15e-6 ohm m, mu 1, H0 1e5 A/m RMS, half size 25 mm.

use billet_thermal::inside::heater::field::{
    FieldOptions, FieldWorkspace, LineSection, Mesh, Rectangle, RectangleTransfer, Symmetry, Transfer, Uniform,
};

use crate::eddy_exact as exact;

const RHO: f64 = 1.15e-6;
const HALF: f64 = 0.025;
const H0: f64 = 1e5;

fn uniform(rho: f64, mu: f64) -> Uniform {
    Uniform {
        resistivity_ohm_m: rho,
        relative_permeability: mu,
    }
}

fn solved(symmetry: Symmetry, rho: f64, mu: f64, f: f64, half: f64, per_skin: f64) -> (LineSection, FieldWorkspace) {
    let mesh = Mesh::for_skin(half, exact::skin(rho, mu, f), per_skin).unwrap();
    let section = LineSection::new(symmetry, &mesh);
    let mut work = section.workspace();
    let temps = vec![20.0; section.cells()];
    section
        .solve(&uniform(rho, mu), &temps, f, H0, &FieldOptions::default(), &mut work)
        .unwrap();
    (section, work)
}

fn close(name: &str, got: f64, want: f64, relative: f64) {
    assert!(
        (got - want).abs() <= relative * want.abs(),
        "{name}: got {got:.8e}, want {want:.8e}, off by {:.2e}",
        (got - want).abs() / want.abs()
    );
}

/// The exact solutions of this test file reproduce the published digits.
#[test]
fn exact_solutions_reproduce_the_tables() {
    let k = exact::cylinder_factors(RHO, 1.0, 1000.0, HALF);
    close("cylinder K_T 1 kHz", k.re, 0.518226, 1e-6);
    close("cylinder K_X 1 kHz", k.im, 1.100989, 1e-6);
    let k = exact::cylinder_factors(RHO, 1.0, 3000.0, HALF);
    close("cylinder K_T 3 kHz", k.re, 0.810306, 1e-6);
    close("cylinder K_X 3 kHz", k.im, 1.021762, 1e-6);
    let k = exact::plate_factors(RHO, 1.0, 1000.0, HALF);
    close("plate K_T 1 kHz", k.re, 1.084879, 1e-6);
    close("plate K_X 1 kHz", k.im, 1.134936, 1e-6);
    for (f, k_t, k_x) in [(1000.0, 0.522146, 1.043572), (3000.0, 0.756989, 0.996238)] {
        let k = exact::square_factors(RHO, 1.0, f, 2.0 * HALF);
        close("square K_T", k.re, k_t, 2e-6);
        close("square K_X", k.im, k_x, 2e-6);
    }
}

/// Cylinder at 1 and 3 kHz: P'', Q'', field and loss over the radius.
#[test]
fn cylinder_matches_the_bessel_solution() {
    let table = [(1000.0, 3.491790e5, 7.418429e5), (3000.0, 9.456672e5, 1.192447e6)];
    for (f, p, q) in table {
        let (section, work) = solved(Symmetry::Radial, RHO, 1.0, f, HALF, 40.0);
        let z = work.impedance();
        close("P''", z.power(H0), p, 1e-3);
        close("Q''", z.reactive(H0), q, 1e-3);
        for (node, &r) in section.nodes().iter().enumerate() {
            let want = exact::cylinder_field(RHO, 1.0, f, HALF, r);
            let got = work.relative_field()[node];
            assert!((got - want).norm() < 1e-3, "H at {r}: {got} {want}");
        }
        let surface = exact::cylinder_loss(RHO, 1.0, f, HALF, HALF);
        for (cell, r) in section.middles().into_iter().enumerate() {
            let want = exact::cylinder_loss(RHO, 1.0, f, HALF, r) * H0 * H0;
            let got = section.loss_density(&work, cell, H0);
            assert!((got - want).abs() < 2e-3 * surface * H0 * H0, "p at {r}: {got} {want}");
        }
    }
}

/// Plate of 50 mm: P'' per face and the loss over the thickness.
#[test]
fn plate_matches_the_hyperbolic_solution() {
    for (f, k_t, k_x, p) in [
        (1000.0, 1.084879, 1.134936, 7.309879e5),
        (3000.0, 1.007165, 0.983862, 1.175411e6),
    ] {
        let (section, work) = solved(Symmetry::Planar, RHO, 1.0, f, HALF, 40.0);
        let (got_t, got_x) = work.impedance().factors(RHO, 1.0, f);
        close("K_T", got_t, k_t, 1e-3);
        close("K_X", got_x, k_x, 1e-3);
        close("P''", work.impedance().power(H0), p, 1e-3);
        let surface = exact::plate_loss(RHO, 1.0, f, HALF, HALF) * H0 * H0;
        for (cell, x) in section.middles().into_iter().enumerate() {
            let want = exact::plate_loss(RHO, 1.0, f, HALF, x) * H0 * H0;
            let got = section.loss_density(&work, cell, H0);
            assert!((got - want).abs() < 2e-3 * surface, "p at {x}: {got} {want}");
        }
    }
}

/// K_T and K_X of the cylinder against D/delta.
#[test]
fn cylinder_factors_against_diameter_over_skin() {
    let table = [
        (0.5, 0.003905, 0.249919),
        (1.0, 0.031028, 0.497415),
        (1.5, 0.101784, 0.730941),
        (2.0, 0.224410, 0.925506),
        (2.5, 0.382518, 1.052758),
        (3.0, 0.538658, 1.104180),
        (3.5, 0.660255, 1.100405),
        (4.0, 0.738617, 1.073067),
        (5.0, 0.807691, 1.024030),
        (6.0, 0.833467, 1.006580),
        (8.0, 0.870678, 1.004442),
        (10.0, 0.897586, 1.003186),
        (15.0, 0.932242, 1.001274),
        (20.0, 0.949381, 1.000692),
    ];
    let f = 1000.0;
    let skin = exact::skin(RHO, 1.0, f);
    for (ratio, k_t, k_x) in table {
        let half = 0.5 * ratio * skin;
        let want = exact::cylinder_factors(RHO, 1.0, f, half);
        // Half a unit of the table's last digit.
        assert!(
            (want.re - k_t).abs() < 6e-7 && (want.im - k_x).abs() < 6e-7,
            "{ratio}: {want}"
        );
        let (_, work) = solved(Symmetry::Radial, RHO, 1.0, f, half, 30.0);
        let (got_t, got_x) = work.impedance().factors(RHO, 1.0, f);
        close("K_T", got_t, k_t, 2e-3);
        close("K_X", got_x, k_x, 2e-3);
    }
}

/// The active power of a cylinder per area and field, K_T/x, is largest at R/delta = 1.778373 and
/// is 0.377452 there.
#[test]
fn best_coupling_is_at_the_published_ratio() {
    let f = 1000.0;
    let skin = exact::skin(RHO, 1.0, f);
    let value = |x: f64| {
        let (_, work) = solved(Symmetry::Radial, RHO, 1.0, f, x * skin, 60.0);
        work.impedance().factors(RHO, 1.0, f).0 / x
    };
    close("p at the maximum", value(1.778373), 0.377452, 1e-3);
    // Vertex of the parabola through three points 5 % apart.
    let (a, b, c) = (value(1.70), value(1.79), value(1.88));
    let vertex = 1.79 + 0.09 * 0.5 * (a - c) / (a - 2.0 * b + c);
    close("place of the maximum", vertex, 1.778373, 5e-3);
}

/// Linear magnetic cases of a 50 mm bar.
#[test]
fn linear_magnetic_cylinder() {
    for (rho, mu, f, k_t, p) in [
        (2.0e-7, 16.0, 1000.0, 0.964097, 1.083616e6),
        (2.0e-7, 16.0, 3000.0, 0.979348, 1.906569e6),
        (9.0e-7, 10.0, 3000.0, 0.944116, 3.082388e6),
    ] {
        let (_, work) = solved(Symmetry::Radial, rho, mu, f, HALF, 30.0);
        close("K_T", work.impedance().factors(rho, mu, f).0, k_t, 1e-3);
        close("P''", work.impedance().power(H0), p, 1e-3);
    }
}

/// Square of 50 mm: mean over the perimeter, and no power in the corners.
#[test]
fn square_matches_the_series_solution() {
    for (f, k_t, k_x, p_line) in [
        (1000.0, 0.522146, 1.043572, 7.036408e4),
        (3000.0, 0.756989, 0.996238, 1.766887e5),
    ] {
        let mesh = Mesh::graded(HALF, 32, 4.0).unwrap();
        let section = Rectangle::new(&mesh, &mesh);
        let mut work = section.workspace();
        let temps = vec![1200.0; 32 * 32];
        let z = section
            .solve(&uniform(RHO, 1.0), &temps, f, H0, &FieldOptions::default(), &mut work)
            .unwrap();
        let (got_t, got_x) = z.factors(RHO, 1.0, f);
        close("K_T", got_t, k_t, 1e-3);
        close("K_X", got_x, k_x, 1e-3);
        close("P'", z.power(H0) * section.perimeter(), p_line, 1e-3);
        let corner = work.cell_loss()[32 * 32 - 1];
        let face = work.cell_loss()[31];
        let area = |a: usize, b: usize| {
            let n = mesh.nodes();
            (n[a + 1] - n[a]) * (n[b + 1] - n[b])
        };
        assert!(corner / area(31, 31) < 1e-2 * face / area(31, 0));
    }
}

/// The heat given to a thermal grid sums to the power through the surface: to 1e-6 by contract, to
/// rounding in fact, on grids that have nothing to do with the field's grid.
#[test]
fn heat_is_handed_over_without_loss() {
    for f in [50.0, 1000.0, 30000.0] {
        let (section, work) = solved(Symmetry::Radial, RHO, 1.0, f, HALF, 8.0);
        let faces: Vec<f64> = (0..=23).map(|i| HALF * (i as f64 / 23.0).sqrt()).collect();
        let transfer = Transfer::new(&section, &faces, 0.0).unwrap();
        let mut heat = vec![0.0; 23];
        transfer.heat(&work, H0, &mut heat);
        let want = work.impedance().power(H0) * 2.0 * std::f64::consts::PI * HALF;
        close("radial", heat.iter().sum(), want, 1e-12);

        let (section, work) = solved(Symmetry::Planar, RHO, 1.0, f, HALF, 8.0);
        let faces: Vec<f64> = (0..=17).map(|i| 2.0 * HALF * i as f64 / 17.0).collect();
        let transfer = Transfer::new(&section, &faces, HALF).unwrap();
        let mut heat = vec![0.0; 17];
        transfer.heat(&work, H0, &mut heat);
        close("both faces", heat.iter().sum(), 2.0 * work.impedance().power(H0), 1e-12);
        assert!((heat[3] - heat[13]).abs() < 1e-9 * heat[3], "mirrored cells differ");

        let mesh = Mesh::graded(HALF, 14, 5.0).unwrap();
        let tall = Mesh::graded(0.04, 12, 5.0).unwrap();
        let section = Rectangle::new(&mesh, &tall);
        let mut work = section.workspace();
        let temps = vec![1200.0; 14 * 12];
        let z = section
            .solve(&uniform(RHO, 1.0), &temps, f, H0, &FieldOptions::default(), &mut work)
            .unwrap();
        let across: Vec<f64> = (0..=9).map(|i| HALF * i as f64 / 9.0).collect();
        let up: Vec<f64> = (0..=11).map(|i| -0.04 + 0.08 * i as f64 / 11.0).collect();
        let transfer = RectangleTransfer::new(&section, (&across, 0.0), (&up, 0.0)).unwrap();
        let mut heat = vec![0.0; 99];
        transfer.heat(&work, H0, &mut heat);
        let whole = z.power(H0) * section.perimeter();
        // The flux is the small sum of large reactions here, hence fewer digits.
        close("rectangle", 2.0 * heat.iter().sum::<f64>(), whole, 1e-10);
    }
}

/// Faces that do not end where the section ends are refused, with the numbers.
#[test]
fn a_grid_of_another_size_is_refused() {
    let (section, _) = solved(Symmetry::Radial, RHO, 1.0, 1000.0, HALF, 8.0);
    let error = Transfer::new(&section, &[0.0, 0.01, 0.024], 0.0).unwrap_err();
    assert!(error.to_string().contains("0.024"), "{error}");
}
