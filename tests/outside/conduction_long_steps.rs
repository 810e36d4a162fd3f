//! What must hold in long marches with long steps: the maximum principle of the heat equation (Protter
//! and Weinberger, Maximum Principles in Differential Equations, 1967, chapter 3), the same answer as with
//! many short steps, and events that are met.

use std::sync::Arc;

use billet_thermal::body::{Axis, AxisKind, Grid, Mesh, Shape, Skin, Touched};
use billet_thermal::body::{Fineness, Growth};
use billet_thermal::conduction::{Exchange, Law, Signal, Solver, Tolerance};
use billet_thermal::steel::{Library, ThermalTable};

/// The tolerance of `standard`, K.
const USUAL_K: f64 = 3.0;

/// The cells of `standard`.
const CELLS: Fineness = Fineness {
    contact_m: 3e-5,
    free_m: 2e-4,
    inner_share: 0.04,
    growth: Growth {
        gentle: 1.3,
        until_m: 5e-4,
        then: 1.4,
    },
    span_share: 0.14,
};

fn metal(name: &str) -> Arc<ThermalTable> {
    Library::builtin().unwrap().find(name).unwrap().thermal()
}

fn in_air(mesh: &Mesh, metal: Arc<ThermalTable>, start_c: f64, ambient_c: f64, tolerance: Tolerance) -> Solver {
    let mut body = Solver::uniform(mesh.grid.clone(), metal, start_c, tolerance);
    let account = body.account("air");
    for group in [Skin::Bottom, Skin::Top, Skin::Side] {
        let exchange = Exchange::air(12.0, 0.8, ambient_c);
        let law = Law::Exchange {
            exchange,
            share: 1.0,
            account,
        };
        body.set_law(group as usize, law);
    }
    body
}

fn billet() -> Mesh {
    let shape = Shape::disc(0.06, 0.14);
    Mesh::rings(&shape, &CELLS, Touched::default()).unwrap()
}

/// A billet in air or in a furnace for 24 h is at no step outside its start and its surroundings, and ends
/// at its surroundings, within 0.05 K.
#[test]
fn nothing_leaves_the_range_of_start_and_surroundings_in_a_day() {
    for (start_c, ambient_c) in [
        (1200.0, -40.0),
        (1200.0, 25.0),
        (1200.0, 400.0),
        (20.0, 700.0),
        (20.0, 1250.0),
    ] {
        let mesh = billet();
        let mut body = in_air(&mesh, metal("42CrMo4"), start_c, ambient_c, Tolerance::kelvin(USUAL_K));
        let (low, high) = (f64::min(start_c, ambient_c) - 0.05, f64::max(start_c, ambient_c) + 0.05);
        body.advance(86_400.0, &mut |body| {
            for t in body.temperatures() {
                assert!(t > low && t < high, "{ambient_c} degC, at {} s: {t}", body.time_s());
            }
        })
        .unwrap();
        for t in body.temperatures() {
            assert!((t - ambient_c).abs() < 0.05, "{ambient_c} degC: {t} after a day");
        }
        assert!(body.ledger().imbalance().abs() < 1e-11);
        assert!(body.work().steps < 250, "{:?}", body.work());
    }
}

/// Cooling through the transformation: every cell within 0.6 K of a march with a hundredth of the
/// tolerance, in few steps.
#[test]
fn the_transformation_is_seen() {
    let bar = Mesh::round_section(0.03, &CELLS, Touched::default()).unwrap();
    let round = (bar, "C45", 850.0, [100.0, 400.0, 900.0]);
    let hot = (billet(), "42CrMo4", 1200.0, [100.0, 600.0, 3600.0]);
    for (mesh, name, start_c, times) in [round, hot] {
        let make = |tolerance_k| in_air(&mesh, metal(name), start_c, 25.0, Tolerance::kelvin(tolerance_k));
        let (mut usual, mut sharp) = (make(USUAL_K), make(0.03));
        for t in times {
            usual.advance(t, &mut |_| {}).unwrap();
            sharp.advance(t, &mut |_| {}).unwrap();
            let (ours, theirs) = (usual.temperatures(), sharp.temperatures());
            let worst = ours.iter().zip(&theirs).map(|(a, b)| (a - b).abs()).fold(0.0, f64::max);
            println!("{name} {t} s: {worst:.3} K, {:?}", usual.work());
            assert!(worst < 0.6, "{name} after {t} s: {worst} K");
        }
    }
}

fn slab() -> (Arc<Grid>, ThermalTable) {
    let axis = Axis::graded(AxisKind::Linear, 0.0, 0.02, None, Some(2e-4), 1.3, 2e-3).unwrap();
    (
        Arc::new(Grid::new(vec![axis]).unwrap()),
        ThermalTable::constant(30.0, 650.0, 7850.0),
    )
}

/// A pulse of 20 MW/m2 for 20 ms in the middle of a quiet minute brings its 0.4 MJ/m2, as a list of points
/// and as a function with its breaks told; so does a triangle between steps.
#[test]
fn a_short_pulse_is_met() {
    let pulse = |t: f64| if (30.0..30.02).contains(&t) { 2e7 } else { 0.0 };
    let points = vec![(30.0, 0.0), (30.0, 2e7), (30.02, 2e7), (30.02, 0.0)];
    let triangle = vec![(30.0, 0.0), (30.02, 4e7), (30.04, 0.0)];
    let (first, second) = (Signal::Points(points.into()), Signal::broken(pulse, vec![30.0, 30.02]));
    for (signal, within) in [(first, 1e-9), (second, 1e-9), (Signal::Points(triangle.into()), 2e-3)] {
        let (grid, metal) = slab();
        let mut body = Solver::uniform(grid, Arc::new(metal), 20.0, Tolerance::kelvin(USUAL_K));
        let account = body.account("pulse");
        let exchange = Exchange::flux(signal.clone());
        body.set_law(
            1,
            Law::Exchange {
                exchange,
                share: 1.0,
                account,
            },
        );
        body.advance(60.0, &mut |_| {}).unwrap();
        let (got, want) = (body.ledger().energy("pulse"), if within > 1e-6 { 8e5 } else { 4e5 });
        assert!((got / want - 1.0).abs() < within, "{signal:?}: {got} J/m2 of {want}");
    }
}
