//! Observed orders of accuracy in space and time, asserted; and properties that every run must have.

use std::sync::Arc;

use billet_thermal::body::{Axis, AxisKind, Grid};
use billet_thermal::conduction::{Exchange, Law, Signal, Solver, Tolerance};
use billet_thermal::steel::ThermalTable;
use proptest::prelude::*;

use super::conduction_support::*;
use super::exact::{plane, radial};

/// Largest error over all cell middles of a wall or bar cooled with Bi = 2 at Fo = 0.2.
fn error_1d(kind: AxisKind, axis: Axis) -> f64 {
    let n = axis.cells();
    let mut body = solver(vec![axis.clone()], &metal(1.0, 1.0), 1000.0, 1e-6);
    expose(&mut body, HIGH, "fluid", Exchange::film(2.0, 0.0));
    run(&mut body, 0.2);
    (0..n)
        .map(|i| {
            let x = axis.centre(i);
            let exact = match kind {
                AxisKind::Linear => plane::convection(2.0, 0.2, x),
                AxisKind::Radial => radial::cylinder_convection(2.0, 0.2, x),
            };
            (body.temperature(i) - 1000.0 * exact).abs()
        })
        .fold(0.0, f64::max)
}

/// Second order in space on uniform and on smoothly graded axes, straight and radial.
#[test]
fn second_order_in_space() {
    let cells = [10, 20, 40, 80];
    let sizes = cells.map(|n| 1.0 / n as f64);
    for kind in [AxisKind::Linear, AxisKind::Radial] {
        let errors: Vec<f64> = cells.iter().map(|n| error_1d(kind, uniform(kind, 1.0, *n))).collect();
        let order = observed_order(&sizes, &errors);
        assert!((order - 2.0).abs() < 0.1, "{kind:?} uniform: {order} {errors:?}");
        // Faces on a smooth curve, fine at the cooled end (cell sizes 1 : 3).
        let graded = |n: usize| {
            let faces = (0..=n)
                .map(|i| {
                    let s = i as f64 / n as f64;
                    1.5 * s - 0.5 * s * s
                })
                .collect();
            Axis::new(kind, faces).unwrap()
        };
        let errors: Vec<f64> = cells.iter().map(|n| error_1d(kind, graded(*n))).collect();
        let order = observed_order(&sizes, &errors);
        assert!((order - 2.0).abs() < 0.15, "{kind:?} graded: {order} {errors:?}");
    }
}

/// Second order in space for a round billet (two axes): product of slab and cylinder.
#[test]
fn second_order_in_space_on_two_axes() {
    let cells = [8, 16, 32];
    let sizes = cells.map(|n| 1.0 / n as f64);
    let errors: Vec<f64> = cells
        .iter()
        .map(|n| {
            let (z, r) = (uniform(AxisKind::Linear, 1.0, *n), uniform(AxisKind::Radial, 1.0, *n));
            let mut body = solver(vec![z.clone(), r.clone()], &metal(1.0, 1.0), 1000.0, 3e-5);
            for group in [1, 3] {
                expose(&mut body, group, "fluid", Exchange::film(2.0, 0.0));
            }
            run(&mut body, 0.1);
            let mut worst: f64 = 0.0;
            for i in 0..*n {
                for j in 0..*n {
                    let exact =
                        plane::convection(2.0, 0.1, z.centre(i)) * radial::cylinder_convection(2.0, 0.1, r.centre(j));
                    worst = worst.max((body.temperature(body.grid().index([i, j, 0])) - 1000.0 * exact).abs());
                }
            }
            worst
        })
        .collect();
    let order = observed_order(&sizes, &errors);
    assert!((order - 2.0).abs() < 0.1, "{order} {errors:?}");
}

/// Temperatures at the end with steps of fixed length.
fn with_fixed_steps(make: &dyn Fn(Tolerance) -> Solver, until_s: f64, step_s: f64) -> Vec<f64> {
    let mut body = make(Tolerance {
        step_k: 1e12,
        longest_s: step_s,
    });
    run(&mut body, until_s);
    let steps = body.work().steps as f64;
    assert!((steps - until_s / step_s).abs() < 1.5, "{steps} steps of {step_s} s");
    body.temperatures()
}

fn order_in_time(make: &dyn Fn(Tolerance) -> Solver, until_s: f64, steps: [f64; 4]) -> (f64, Vec<f64>) {
    let reference = with_fixed_steps(make, until_s, steps[3] / 16.0);
    let errors: Vec<f64> = steps
        .iter()
        .map(|step| {
            let temps = with_fixed_steps(make, until_s, *step);
            temps
                .iter()
                .zip(&reference)
                .map(|(a, b)| (a - b).abs())
                .fold(0.0, f64::max)
        })
        .collect();
    (observed_order(&steps, &errors), errors)
}

/// A start field in line with the boundary, so that the solution is smooth in time: the first mode.
fn first_mode(biot: f64, axis: &Axis) -> Vec<f64> {
    let zeta = plane::eigenvalues(biot, 1)[0];
    (0..axis.cells())
        .map(|i| 1000.0 * (zeta * axis.centre(i)).cos())
        .collect()
}

/// Order three in time on one axis, and better than two on two axes, where the splitting leaves an
/// error term in the matrix (a W-method keeps the order, with a reduction for stiff modes).
#[test]
fn order_in_time_with_constant_properties() {
    let axis = || uniform(AxisKind::Linear, 1.0, 12);
    let one = |tolerance| {
        let start = first_mode(2.0, &axis());
        let grid = Arc::new(Grid::new(vec![axis()]).unwrap());
        let mut body = Solver::new(grid, metal(1.0, 1.0), &start, tolerance);
        expose(&mut body, HIGH, "fluid", Exchange::film(2.0, 0.0));
        body
    };
    let (order, errors) = order_in_time(&one, 0.1, [3.2e-3, 1.6e-3, 8e-4, 4e-4]);
    assert!(order > 2.8, "one axis: {order} {errors:?}");
    let two = |tolerance| {
        let mode = first_mode(2.0, &axis());
        let start: Vec<f64> = mode
            .iter()
            .flat_map(|a| mode.iter().map(move |b| a * b * 1e-3))
            .collect();
        let grid = Arc::new(Grid::new(vec![axis(), axis()]).unwrap());
        let mut body = Solver::new(grid, metal(1.0, 1.0), &start, tolerance);
        for group in [1, 3] {
            expose(&mut body, group, "fluid", Exchange::film(2.0, 0.0));
        }
        body
    };
    let (order, errors) = order_in_time(&two, 0.1, [3.2e-3, 1.6e-3, 8e-4, 4e-4]);
    assert!(order > 2.3, "two axes: {order} {errors:?}");
}

/// At least second order with everything at once: k(T), c(T), radiation and a gas that changes with
/// time.
#[test]
fn order_in_time_with_everything() {
    let table = Arc::new(ThermalTable::from_functions(
        7850.0,
        (-50.0, 1500.0),
        &|t| 54.0 - 0.02 * t,
        &|t| 450.0 + 0.2 * t,
        None,
        f64::INFINITY,
    ));
    let make = move |tolerance| {
        let grid = Arc::new(Grid::new(vec![uniform(AxisKind::Radial, 0.03, 6)]).unwrap());
        let mut body = Solver::uniform(grid, table.clone(), 800.0, tolerance);
        // The gas starts in equilibrium and then swings, so that the start is smooth.
        let gas = Signal::function(|t: f64| 800.0 + 150.0 * (1.0 - (t / 20.0).cos()));
        expose(
            &mut body,
            HIGH,
            "gas",
            Exchange {
                film: 60.0.into(),
                fluid_c: gas.clone(),
                emissivity: 0.8.into(),
                radiant_c: gas,
                ..Exchange::none()
            },
        );
        body
    };
    let (order, errors) = order_in_time(&make, 64.0, [0.8, 0.4, 0.2, 0.1]);
    assert!(order > 2.0, "{order} {errors:?}");
}

/// The error estimate keeps its promise: the worst node lies within a few tolerances, and a smaller
/// tolerance gives a smaller error.
#[test]
fn tolerance_governs_the_error() {
    let end = |step_k: f64| {
        let (z, r) = (
            towards_face(AxisKind::Linear, 0.07, 5e-4, 5e-3),
            towards_face(AxisKind::Radial, 0.03, 5e-4, 3e-3),
        );
        let mut body = solver(vec![z, r], &metal(28.0, 7500.0 * 650.0), 1240.0, step_k);
        for group in [1, 3] {
            expose(&mut body, group, "air", Exchange::air(10.0, 0.8, 25.0));
        }
        run(&mut body, 60.0);
        (body.temperatures(), body.work())
    };
    let fine = end(1e-4).0;
    let error = |step_k: f64| {
        end(step_k)
            .0
            .iter()
            .zip(&fine)
            .map(|(a, b)| (a - b).abs())
            .fold(0.0, f64::max)
    };
    let (loose, tight) = (error(0.5), error(0.02));
    assert!(loose < 0.5 && tight < 0.02 && tight < loose, "{loose} {tight}");
    // The cost is part of the answer: 1 000 times less tolerance may cost about ten times the steps
    // of a third-order method, and few are thrown away.
    let (cheap, dear) = (end(0.1).1, end(1e-4).1);
    assert!(cheap.steps < 40 && cheap.rejected <= 5, "{cheap:?}");
    assert!(
        dear.steps < 14 * cheap.steps && dear.rejected < dear.steps / 5,
        "{cheap:?} {dear:?}"
    );
}

/// One billet of random size, properties and surroundings.
#[derive(Debug, Clone, Copy)]
struct Case {
    radius: f64,
    length: f64,
    k: f64,
    c: f64,
    film: f64,
    emissivity: f64,
    air_c: f64,
    start_c: f64,
    seconds: f64,
}

fn cases() -> impl Strategy<Value = Case> {
    (
        (0.005..0.08, 0.02..0.3, 12.0..60.0, 420.0..900.0),
        (0.0..3000.0, 0.0..1.0, -20.0..400.0, 600.0..1300.0, 0.5..60.0),
    )
        .prop_map(
            |((radius, length, k, c), (film, emissivity, air_c, start_c, seconds))| Case {
                radius,
                length,
                k,
                c,
                film,
                emissivity,
                air_c,
                start_c,
                seconds,
            },
        )
}

impl Case {
    fn cool(&self, start_c: f64, seconds: f64) -> Solver {
        let z = Axis::graded(AxisKind::Linear, 0.0, self.length, Some(5e-4), Some(5e-4), 1.4, 0.01).unwrap();
        let r = towards_face(AxisKind::Radial, self.radius, 5e-4, 5e-3);
        let table = Arc::new(ThermalTable::constant(self.k, self.c, 7800.0));
        let mut body = solver(vec![z, r], &table, start_c, 0.05);
        for group in [0, 1, 3] {
            expose(
                &mut body,
                group,
                "air",
                Exchange::air(self.film, self.emissivity, self.air_c),
            );
        }
        run(&mut body, seconds);
        body
    }
}

proptest! {
    #![proptest_config(ProptestConfig {
        cases: 24,
        failure_persistence: None,
        rng_seed: proptest::test_runner::RngSeed::Fixed(20_261_125),
        ..ProptestConfig::default()
    })]

    /// Energy closes to 1e-8 of the throughput, and the ledger is what the cells lost.
    #[test]
    fn energy_closes(case in cases()) {
        let body = case.cool(case.start_c, case.seconds);
        prop_assert!(body.ledger().imbalance().abs() < 1e-8, "{}", body.ledger().imbalance());
        let start = body.total_mass() * case.c * (case.start_c - 20.0);
        let stored = body.total_enthalpy() - start;
        let named: f64 = body.ledger().entries().map(|e| e.1).sum();
        prop_assert!((stored - named).abs() < 1e-8 * start.abs(), "{stored} {named}");
    }

    /// Hotter in is never colder out, at any cell.
    #[test]
    fn hotter_in_is_never_colder_out(case in cases(), rise in 1.0..100.0_f64) {
        let (cold, hot) = (case.cool(case.start_c, case.seconds), case.cool(case.start_c + rise, case.seconds));
        for (a, b) in cold.temperatures().iter().zip(hot.temperatures()) {
            // Two runs with different steps differ by their step errors.
            prop_assert!(b > *a - 0.3, "{a} {b}");
        }
        prop_assert!(hot.total_enthalpy() > cold.total_enthalpy());
    }

    /// More delay is never a hotter mean, and no cell leaves the span of start and surroundings.
    #[test]
    fn cooling_only_cools(case in cases()) {
        let (early, late) = (case.cool(case.start_c, case.seconds), case.cool(case.start_c, 2.0 * case.seconds));
        prop_assert!(late.total_enthalpy() <= early.total_enthalpy() + 1e-9);
        for t in early.temperatures().into_iter().chain(late.temperatures()) {
            prop_assert!(t < case.start_c + 0.3 && t > case.air_c - 0.3, "{t}");
        }
    }
}

/// Same input, same bytes.
#[test]
fn runs_repeat_exactly() {
    let once = || {
        let mut body = solver(
            vec![
                uniform(AxisKind::Linear, 0.1, 20),
                towards_face(AxisKind::Radial, 0.03, 5e-4, 3e-3),
            ],
            &metal(28.0, 7500.0 * 650.0),
            1240.0,
            0.05,
        );
        let account = body.account("air");
        for group in [0, 1, 3] {
            body.set_law(
                group,
                Law::Exchange {
                    exchange: Exchange::air(12.0, 0.8, 30.0),
                    share: 1.0,
                    account,
                },
            );
        }
        run(&mut body, 20.0);
        body.enthalpy().to_vec()
    };
    assert_eq!(once(), once());
}
