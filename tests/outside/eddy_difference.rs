//! Difference between surface and core under steady heating by the skin: Ts - Tc = Psi q'' R/(2k).
//!
//! Psi was calculated from the exact loss distributions; Davies and Simpson, Induction Heating
//! Handbook, 1979, eq. 13.9 is its limit Psi = 1 for a thin skin.

use billet_thermal::inside::heater::field::{FieldOptions, LineSection, Mesh, Symmetry, Uniform};

use crate::eddy_exact as exact;

fn psi(symmetry: Symmetry, ratio: f64) -> f64 {
    let (rho, f) = (1.15e-6, 1000.0);
    let half = ratio * exact::skin(rho, 1.0, f);
    let mesh = Mesh::graded(half, 160, 4.0).unwrap();
    let section = LineSection::new(symmetry, &mesh);
    let mut work = section.workspace();
    let medium = Uniform {
        resistivity_ohm_m: rho,
        relative_permeability: 1.0,
    };
    section
        .solve(&medium, &[0.0; 160], f, 1.0, &FieldOptions::default(), &mut work)
        .unwrap();
    section.difference_factor(&work)
}

#[test]
fn difference_factor_against_skin_depth() {
    let x = [
        0.5, 1.0, 1.25, 1.5, 1.75, 2.0, 2.5, 3.0, 3.5, 4.0, 5.0, 6.0, 8.0, 10.0, 20.0,
    ];
    let cylinder = [
        0.5002, 0.5026, 0.5062, 0.5126, 0.5226, 0.5367, 0.5764, 0.6255, 0.6742, 0.7162, 0.7776, 0.8179, 0.8665, 0.8947,
        0.9487,
    ];
    let plate = [
        0.5003, 0.5047, 0.5112, 0.5223, 0.5387, 0.5605, 0.6142, 0.6688, 0.7146, 0.7502, 0.8001, 0.8333, 0.8750, 0.9,
        0.95,
    ];
    for i in 0..x.len() {
        for (symmetry, want) in [(Symmetry::Radial, cylinder[i]), (Symmetry::Planar, plate[i])] {
            let got = psi(symmetry, x[i]);
            assert!((got - want).abs() < 3e-4, "{symmetry:?} {}: {got} {want}", x[i]);
        }
    }
}
