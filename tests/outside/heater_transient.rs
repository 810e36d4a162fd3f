//! A cylinder heated by the eddy currents of a uniform field, against the exact transient solution.
//!
//! R 25 mm, k 28 W/mK, density 7700 kg/m3, c 680 J/kgK, adiabatic, constant 1e6 W/m2 into the surface
//! with the Bessel source of 3 kHz in 1.15e-6 ohm m. Rises calculated from the eigenfunction series
//! (Carslaw and Jaeger, Conduction of Heat in Solids, ch. 7).

use std::f64::consts::PI;
use std::sync::Arc;

use billet_thermal::body::{Axis, AxisKind, Grid};
use billet_thermal::conduction::{Solver, Tolerance};
use billet_thermal::inside::heater::field::{FieldOptions, LineSection, Mesh, Symmetry, Transfer, Uniform};
use billet_thermal::steel::ThermalTable;

const R: f64 = 0.025;

struct Bar {
    solver: Solver,
    centres: Vec<f64>,
}

fn bar(thermal_cells: usize, field_cells: usize) -> Bar {
    let (rho, f) = (1.15e-6, 3000.0);
    let mesh = Mesh::graded(R, field_cells, 3.0).unwrap();
    let section = LineSection::new(Symmetry::Radial, &mesh);
    let mut work = section.workspace();
    let medium = Uniform {
        resistivity_ohm_m: rho,
        relative_permeability: 1.0,
    };
    let temps = vec![0.0; field_cells];
    let z = section
        .solve(&medium, &temps, f, 1.0, &FieldOptions::default(), &mut work)
        .unwrap();
    // The field that gives exactly 1e6 W/m2.
    let h0 = (1e6 / z.resistance).sqrt();
    let axis = Axis::uniform(AxisKind::Radial, 0.0, R, thermal_cells).unwrap();
    let transfer = Transfer::new(&section, axis.faces(), 0.0).unwrap();
    let centres = (0..thermal_cells).map(|i| axis.centre(i)).collect();
    let mut heat = vec![0.0; thermal_cells];
    transfer.heat(&work, h0, &mut heat);
    let total: f64 = heat.iter().sum();
    assert!((total / (1e6 * 2.0 * PI * R) - 1.0).abs() < 1e-12);
    let metal = ThermalTable::constant(28.0, 680.0, 7700.0);
    let grid = Arc::new(Grid::new(vec![axis]).unwrap());
    let mut solver = Solver::uniform(grid, Arc::new(metal), 0.0, Tolerance::kelvin(0.01));
    let account = solver.account("induction");
    solver.set_source(account, &heat);
    Bar { solver, centres }
}

impl Bar {
    /// Temperature at r by the parabola through the three nearest cell middles, symmetric at 0.
    fn at(&self, r: f64) -> f64 {
        let n = self.centres.len();
        let t = |i: isize| self.solver.temperature((if i < 0 { -i - 1 } else { i }) as usize);
        let x = |i: isize| {
            if i < 0 {
                -self.centres[(-i - 1) as usize]
            } else {
                self.centres[i as usize]
            }
        };
        let i = (self.centres.partition_point(|c| *c < r) as isize).clamp(0, n as isize - 2);
        let k = [i - 1, i, i + 1];
        (0..3)
            .map(|a| {
                let weight: f64 = (0..3)
                    .filter(|b| *b != a)
                    .map(|b| (r - x(k[b])) / (x(k[a]) - x(k[b])))
                    .product();
                weight * t(k[a])
            })
            .sum()
    }
}

#[test]
fn bessel_source_transient() {
    let mut b = bar(50, 80);
    let rows = [
        (5.0, [9.629, 17.277, 42.611, 88.724, 127.165], 76.394),
        (10.0, [41.766, 57.523, 104.500, 175.019, 224.052], 152.788),
        (90.0, [1209.754, 1237.056, 1311.653, 1409.036, 1468.609], 1375.095),
    ];
    for (time, row, mean) in rows {
        b.solver.advance(time, &mut |_| {}).unwrap();
        for (share, want) in [0.0, 0.25, 0.5, 0.75, 1.0].into_iter().zip(row) {
            let got = b.at(share * R);
            assert!((got - want).abs() < 0.15, "t {time} r/R {share}: {got} {want}");
        }
        let got = b.solver.total_enthalpy() / b.solver.total_mass() / 680.0;
        // Enthalpy counts from 20 degC, the start is 0.
        assert!((got + 20.0 - mean).abs() < 0.002, "mean at {time}: {got} {mean}");
    }
    let steady = b.at(R) - b.at(0.0);
    assert!((steady - 258.855).abs() < 0.2, "{steady}");
    // Power off, adiabatic: two seconds later.
    b.solver.clear_source();
    b.solver.advance(92.0, &mut |_| {}).unwrap();
    let after = b.at(R) - b.at(0.0);
    assert!((after - 201.769).abs() < 0.2, "{after}");
}

/// Both grids refined together: the error of the surface-core difference falls with the square of
/// the cell size, or faster.
#[test]
fn bessel_source_transient_is_second_order() {
    let errors: Vec<f64> = [8, 16, 32]
        .into_iter()
        .map(|n| {
            let mut b = bar(n, 2 * n);
            b.solver.advance(10.0, &mut |_| {}).unwrap();
            (b.at(R) - b.at(0.0) - 182.285).abs()
        })
        .collect();
    let order = (errors[0] / errors[2]).log2() / 2.0;
    assert!(order > 1.7, "{errors:?} {order}");
}
