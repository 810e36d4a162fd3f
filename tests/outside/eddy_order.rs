//! Observed order of the field solver in its grid, against exact solutions.

use billet_thermal::inside::heater::field::{FieldOptions, LineSection, Mesh, Rectangle, Symmetry, Uniform};
use num_complex::Complex64;

use crate::eddy_exact as exact;

const RHO: f64 = 1.15e-6;
const HALF: f64 = 0.025;

fn slope(errors: &[f64]) -> f64 {
    // Mean over successive halvings.
    (errors[0] / errors[errors.len() - 1]).log2() / (errors.len() - 1) as f64
}

fn medium(mu: f64) -> Uniform {
    Uniform {
        resistivity_ohm_m: RHO,
        relative_permeability: mu,
    }
}

fn line_errors(symmetry: Symmetry, f: f64, mu: f64) -> (Vec<f64>, Vec<f64>) {
    let mut impedance = Vec::new();
    let mut field = Vec::new();
    for cells in [20, 40, 80, 160] {
        let mesh = Mesh::graded(HALF, cells, 6.0).unwrap();
        let section = LineSection::new(symmetry, &mesh);
        let mut work = section.workspace();
        let z = section
            .solve(
                &medium(mu),
                &vec![0.0; cells],
                f,
                1e5,
                &FieldOptions::default(),
                &mut work,
            )
            .unwrap();
        let (k_t, k_x) = z.factors(RHO, mu, f);
        let g = exact::propagation(RHO, mu, f);
        let (want, profile): (Complex64, Box<dyn Fn(f64) -> Complex64>) = match symmetry {
            Symmetry::Radial => (
                exact::cylinder_factors(RHO, mu, f, HALF),
                Box::new(move |r| exact::cylinder_field(RHO, mu, f, HALF, r)),
            ),
            Symmetry::Planar => (
                exact::plate_factors(RHO, mu, f, HALF),
                Box::new(move |x| (g * x).cosh() / (g * HALF).cosh()),
            ),
        };
        impedance.push((Complex64::new(k_t, k_x) - want).norm());
        let worst = section
            .nodes()
            .iter()
            .zip(work.relative_field())
            .map(|(&x, h)| (h - profile(x)).norm())
            .fold(0.0, f64::max);
        field.push(worst);
    }
    (impedance, field)
}

#[test]
fn second_order_on_a_radius_and_across_a_plate() {
    for symmetry in [Symmetry::Radial, Symmetry::Planar] {
        for (f, mu) in [(1000.0, 1.0), (3000.0, 10.0)] {
            let (impedance, field) = line_errors(symmetry, f, mu);
            let (a, b) = (slope(&impedance), slope(&field));
            println!("{symmetry:?} {f} {mu}: {impedance:?} {a:.3} {field:?} {b:.3}");
            assert!(
                (a - 2.0).abs() < 0.15 || a > 2.0,
                "impedance {symmetry:?} {f}: {a} {impedance:?}"
            );
            assert!((b - 2.0).abs() < 0.15, "field {symmetry:?} {f}: {b} {field:?}");
        }
    }
}

/// The cells' characteristic impedance is exact, so a deep plate (b/delta = 25) has the impedance
/// of a half space on any grid, however coarse: error far below (h/delta)^2.
#[test]
fn a_half_space_is_exact_on_a_coarse_grid() {
    let f = 3000.0;
    let mu = 100.0;
    let skin = exact::skin(RHO, mu, f);
    let mesh = Mesh::graded(25.0 * skin, 60, 2.0).unwrap();
    let section = LineSection::new(Symmetry::Planar, &mesh);
    let mut work = section.workspace();
    let z = section
        .solve(&medium(mu), &[0.0; 60], f, 1e5, &FieldOptions::default(), &mut work)
        .unwrap();
    let (k_t, k_x) = z.factors(RHO, mu, f);
    assert!((k_t - 1.0).abs() < 1e-9 && (k_x - 1.0).abs() < 1e-9, "{k_t} {k_x}");
}

#[test]
fn second_order_over_a_square() {
    let f = 1000.0;
    let want = exact::square_factors(RHO, 1.0, f, 2.0 * HALF);
    let errors: Vec<f64> = [6, 12, 24]
        .into_iter()
        .map(|cells| {
            let mesh = Mesh::graded(HALF, cells, 2.0).unwrap();
            let section = Rectangle::new(&mesh, &mesh);
            let mut work = section.workspace();
            let temps = vec![0.0; cells * cells];
            let z = section
                .solve(&medium(1.0), &temps, f, 1e5, &FieldOptions::default(), &mut work)
                .unwrap();
            let (k_t, k_x) = z.factors(RHO, 1.0, f);
            (Complex64::new(k_t, k_x) - want).norm()
        })
        .collect();
    let order = slope(&errors);
    println!("square {errors:?} {order:.3}");
    assert!((order - 2.0).abs() < 0.15, "{order} {errors:?}");
}

/// A rectangle whose height is many times its width behaves as a plate on the long faces: the
/// power tends to that of two faces of the plate. The short faces add a share that falls as 1/height
/// and is less than their area, for corners carry no power.
#[test]
fn a_tall_rectangle_tends_to_the_plate() {
    let f = 3000.0;
    let want = exact::plate_factors(RHO, 1.0, f, HALF).re;
    let mut off = Vec::new();
    for ratio in [4.0, 8.0] {
        let x = Mesh::graded(HALF, 20, 4.0).unwrap();
        let y = Mesh::graded(ratio * HALF, 40, 12.0).unwrap();
        let section = Rectangle::new(&x, &y);
        let mut work = section.workspace();
        let temps = vec![0.0; 800];
        let z = section
            .solve(&medium(1.0), &temps, f, 1e5, &FieldOptions::default(), &mut work)
            .unwrap();
        // Power per metre over that of two faces of the plate.
        let faces = 4.0 * ratio * HALF;
        off.push(z.factors(RHO, 1.0, f).0 * section.perimeter() / faces / want - 1.0);
    }
    assert!(off[0] > 0.0 && off[0] < 0.25, "{off:?}");
    assert!((off[0] / off[1] - 2.0).abs() < 0.1, "{off:?}");
}
