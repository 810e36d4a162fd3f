//! The conduction solver against exact solutions with constant properties.

use std::sync::Arc;

use billet_thermal::body::{Axis, AxisKind, Grid};
use billet_thermal::conduction::{Exchange, Law, Solver, Tolerance};

use super::conduction_support::*;
use super::exact::{half_space, lumped, plane, radial};

/// Convective heating of a slab at three Biot numbers: Carslaw and Jaeger as tabulated in the
/// verification suite of FDS (heat_conduction_a, _c, _d).
#[test]
fn slab_at_three_biot_numbers() {
    for (biot, times) in [
        (0.1, vec![5_000.0, 20_000.0, 50_000.0]),
        (10.0, vec![2_000.0, 10_000.0]),
        (100.0, vec![1_000.0, 2_000.0]),
    ] {
        let (length, alpha, h) = (0.1, 1e-6, 10.0);
        let k = h * length / biot;
        let axis = towards_face(AxisKind::Linear, length, 2e-4, 2e-3);
        let mut slab = solver(vec![axis], &metal(k, k / alpha), 20.0, 1e-3);
        expose(&mut slab, HIGH, "fluid", Exchange::film(h, 120.0));
        for t in times {
            run(&mut slab, t);
            for place in [0.0, 0.4, 0.8] {
                let exact = 120.0 - 100.0 * plane::convection(biot, alpha * t / 0.01, place);
                let ours = at(&slab, &[place * length], true);
                assert!((ours - exact).abs() < 0.02, "{biot} {t} {place}: {ours} {exact}");
            }
            let exact = 120.0 - 100.0 * plane::convection(biot, alpha * t / 0.01, 1.0);
            let ours = face(&slab, HIGH);
            assert!((ours - exact).abs() < 0.02, "{biot} {t} face: {ours} {exact}");
        }
    }
}

/// Long cylinder of a university lecture (D 200, h 200, k 40, 400 -> 50 degC, α 1e-5, 20 min): 184.84 on
/// the axis, 156.61 degC at the surface (series).
#[test]
fn long_cylinder() {
    let axis = towards_face(AxisKind::Radial, 0.1, 2e-4, 2e-3);
    let mut bar = solver(vec![axis], &metal(40.0, 40.0 / 1e-5), 400.0, 2e-3);
    expose(&mut bar, HIGH, "fluid", Exchange::film(200.0, 50.0));
    run(&mut bar, 1200.0);
    let (centre, surface) = (at(&bar, &[0.0], true), face(&bar, HIGH));
    assert!((centre - 184.84).abs() < 0.05, "{centre}");
    assert!((surface - 156.61).abs() < 0.05, "{surface}");
    let exact = 50.0 + 350.0 * radial::cylinder_convection(0.5, 1.2, 0.6);
    assert!((at(&bar, &[0.06], true) - exact).abs() < 0.05);
}

/// NAFEMS axisymmetric transient (Cameron, Casey, Simpson, Benchmark Tests for Thermal Analysis,
/// 1986; inputs from memory): all faces jump from 0 to 1000 degC, 186.5 degC at (0.1, 0.3) after 190 s.
#[test]
fn nafems_cylinder() {
    let ours = nafems_cylinder_c();
    assert!((ours - 186.485).abs() < 0.2, "{ours}");
}

/// Temperature of that benchmark, degC.
pub fn nafems_cylinder_c() -> f64 {
    let r = Axis::graded(AxisKind::Radial, 0.0, 0.3, None, Some(2e-3), 1.1, 8e-3).unwrap();
    let z = Axis::graded(AxisKind::Linear, 0.0, 0.4, Some(2e-3), Some(2e-3), 1.1, 8e-3).unwrap();
    let mut body = solver(vec![z, r], &metal(52.0, 7850.0 * 460.0), 0.0, 0.02);
    for group in [0, 1, 3] {
        hold(&mut body, group, "faces", 1000.0);
    }
    run(&mut body, 190.0);
    at(&body, &[0.3, 0.1], false)
}

/// Finite cylinder with convection: product of slab and cylinder (Carslaw and Jaeger, 8.4), at the
/// centre, at both face centres and at the rim.
#[test]
fn finite_cylinder_is_a_product() {
    let (radius, half, h, k, rho_c) = (0.03, 0.07, 400.0, 30.0, 7500.0 * 650.0);
    let z = towards_face(AxisKind::Linear, half, 2e-4, 2e-3);
    let r = towards_face(AxisKind::Radial, radius, 2e-4, 1.5e-3);
    let grid = Grid::masked(vec![z.clone(), r.clone()], vec![true; z.cells() * r.cells()], 2.0).unwrap();
    let mut billet = Solver::uniform(Arc::new(grid), metal(k, rho_c), 1200.0, Tolerance::kelvin(0.01));
    for group in [1, 3] {
        expose(&mut billet, group, "fluid", Exchange::film(h, 100.0));
    }
    let t = 25.0;
    run(&mut billet, t);
    let alpha = k / rho_c;
    let exact = |x: f64, y: f64| {
        100.0
            + 1100.0
                * plane::convection(h * half / k, alpha * t / half.powi(2), x)
                * radial::cylinder_convection(h * radius / k, alpha * t / radius.powi(2), y)
    };
    for (x, y) in [(0.0, 0.0), (0.5, 0.5), (0.9, 0.9), (0.0, 0.95)] {
        let ours = at(&billet, &[x * half, y * radius], true);
        assert!((ours - exact(x, y)).abs() < 0.15, "{x} {y}: {ours} {}", exact(x, y));
    }
    // Face at mid-length: the first side face lies at the middle of the first cell of z.
    let faces = billet.face_temperatures();
    let grid = billet.grid();
    let (i, f) = grid.faces().iter().enumerate().find(|(_, f)| f.group == 3).unwrap();
    let want = exact(f.at[0] / half, 1.0);
    assert!((faces[i] - want).abs() < 0.15, "{} {want}", faces[i]);
}

/// Square bar cooled on its four sides: product of two slabs, computed over the whole section.
#[test]
fn square_bar_with_four_equal_sides() {
    let (side, h, k, rho_c) = (0.05, 500.0, 28.0, 7500.0 * 650.0);
    let axis = || Axis::graded(AxisKind::Linear, 0.0, side, Some(2e-4), Some(2e-4), 1.1, 1e-3).unwrap();
    let mut bar = solver(vec![axis(), axis()], &metal(k, rho_c), 1100.0, 0.01);
    for group in 0..4 {
        expose(&mut bar, group, "fluid", Exchange::film(h, 50.0));
    }
    let t = 20.0;
    run(&mut bar, t);
    let one = |x: f64| {
        plane::convection(
            h * 0.5 * side / k,
            k / rho_c * t / (0.25 * side * side),
            2.0 * x / side - 1.0,
        )
    };
    for (x, y) in [(0.025, 0.025), (0.01, 0.025), (0.045, 0.04), (0.002, 0.048)] {
        let exact = 50.0 + 1050.0 * one(x) * one(y);
        let ours = at(&bar, &[x, y], false);
        assert!((ours - exact).abs() < 0.15, "{x} {y}: {ours} {exact}");
    }
    // The four sides are one: the field keeps its symmetry to the error of the axis splitting.
    let grid = bar.grid();
    let n = grid.shape()[0];
    for (i, j) in [(0, 3), (2, 9), (5, 1)] {
        let t = |a, b| bar.temperature(grid.index([a, b, 0]));
        assert!((t(i, j) - t(n - 1 - i, j)).abs() < 1e-6);
        assert!((t(i, j) - t(i, n - 1 - j)).abs() < 1e-6);
        assert!((t(i, j) - t(j, i)).abs() < 0.01, "{} {}", t(i, j), t(j, i));
    }
}

/// Block of three different sides: product of three slabs, on an eighth of the block.
#[test]
fn block_is_a_product_of_three_slabs() {
    let (h, k, rho_c) = (600.0, 28.0, 7500.0 * 650.0);
    let half = [0.02, 0.03, 0.04];
    let axes: Vec<Axis> = half
        .iter()
        .map(|l| towards_face(AxisKind::Linear, *l, 6e-4, 2.5e-3))
        .collect();
    let cells = axes.iter().map(Axis::cells).product();
    let grid = Grid::masked(axes, vec![true; cells], 8.0).unwrap();
    assert!((grid.total_volume() - 8.0 * 0.02 * 0.03 * 0.04).abs() < 1e-15);
    let mut block = Solver::uniform(Arc::new(grid), metal(k, rho_c), 1200.0, Tolerance::kelvin(0.05));
    for group in [1, 3, 5] {
        expose(&mut block, group, "fluid", Exchange::film(h, 20.0));
    }
    let t = 30.0;
    run(&mut block, t);
    let exact = |p: [f64; 3]| {
        20.0 + 1180.0
            * p.iter()
                .zip(half)
                .map(|(x, l)| plane::convection(h * l / k, k / rho_c * t / (l * l), x / l))
                .product::<f64>()
    };
    for p in [[0.0; 3], [0.01, 0.0, 0.02], [0.018, 0.028, 0.038], [0.0, 0.029, 0.0]] {
        let ours = at(&block, &p, true);
        assert!((ours - exact(p)).abs() < 0.6, "{p:?}: {ours} {}", exact(p));
    }
}

/// Constant flux into a long cylinder and into a slab with insulated back (Carslaw and Jaeger, 7.8
/// and 3.8), early and late.
#[test]
fn constant_flux_into_cylinder_and_slab() {
    let (size, q, k, rho_c): (f64, f64, f64, f64) = (0.03, 4e5, 30.0, 7500.0 * 650.0);
    let alpha = k / rho_c;
    let unit = q * size / k;
    for kind in [AxisKind::Radial, AxisKind::Linear] {
        let mut body = solver(vec![towards_face(kind, size, 1e-4, 5e-4)], &metal(k, rho_c), 20.0, 2e-3);
        expose(&mut body, HIGH, "flux", Exchange::flux(q));
        let rise = |fourier, place| match kind {
            AxisKind::Radial => radial::cylinder_flux(fourier, place),
            AxisKind::Linear => plane::flux(fourier, place),
        };
        for t in [1.0, 10.0, 60.0] {
            run(&mut body, t);
            let fourier = alpha * t / (size * size);
            for place in [0.0, 0.5, 0.9] {
                let exact = 20.0 + unit * rise(fourier, place);
                let ours = at(&body, &[place * size], true);
                assert!((ours - exact).abs() < 0.05, "{kind:?} {t} {place}: {ours} {exact}");
            }
            let exact = 20.0 + unit * rise(fourier, 1.0);
            let ours = face(&body, HIGH);
            assert!((ours - exact).abs() < 0.05, "{kind:?} {t} face: {ours} {exact}");
            let area = body.grid().group_area(HIGH);
            let given = body.ledger().energy("flux");
            assert!((given / (q * area * t) - 1.0).abs() < 1e-10, "{given}");
        }
    }
}

/// Semi-infinite steel under a flux: Holman, Heat Transfer, Ex. 4-2: 79.3 degC (79.314 exact).
#[test]
fn thick_wall_under_flux() {
    let wall = towards_face(AxisKind::Linear, 0.25, 5e-4, 2e-3);
    let mut body = solver(vec![wall], &metal(45.0, 45.0 / 1.4e-5), 35.0, 2e-3);
    expose(&mut body, HIGH, "flux", Exchange::flux(3.2e5));
    run(&mut body, 30.0);
    let ours = at(&body, &[0.25 - 0.025], false);
    assert!((ours - 79.314).abs() < 0.02, "{ours}");
}

/// Semi-infinite body with convection (Carslaw and Jaeger, 2.7): a 20 ms quench of 20 kW/m²K, the
/// order of a descaling jet, on steel of 1200 degC.
#[test]
fn short_quench_of_a_thick_wall() {
    let (k, rho_c, h) = (28.0, 7470.0 * 650.0, 20_000.0);
    let wall = Axis::graded(AxisKind::Linear, 0.0, 0.05, None, Some(1e-5), 1.1, 4e-3).unwrap();
    let mut body = solver(vec![wall], &metal(k, rho_c), 1200.0, 0.02);
    expose(&mut body, HIGH, "water", Exchange::film(h, 20.0));
    for t in [0.001, 0.005, 0.02] {
        run(&mut body, t);
        let exact = 1200.0 - 1180.0 * half_space::convection(h, k, k / rho_c, 0.0, t);
        let ours = face(&body, HIGH);
        assert!((ours - exact).abs() < 0.5, "{t}: {ours} {exact}");
    }
}

/// Lumped body radiating to cold surroundings, closed form: a thin plate of very high conductivity.
#[test]
fn lumped_radiation() {
    let (thickness, rho_c, emissivity) = (0.004, 7850.0 * 650.0, 0.8);
    let plate = uniform(AxisKind::Linear, thickness, 4);
    let mut body = solver(vec![plate], &metal(1e5, rho_c), 1250.0, 1e-3);
    for group in [LOW, HIGH] {
        expose(&mut body, group, "radiation", Exchange::air(0.0, emissivity, 25.0));
    }
    let rate = 5.670_374_419e-8 * emissivity * 2.0 / (thickness * rho_c);
    for t in [5.0, 30.0, 120.0] {
        run(&mut body, t);
        let exact = lumped::radiation_k(1523.15, 298.15, rate, t) - 273.15;
        let ours = body.temperature(1);
        assert!((ours - exact).abs() < 0.02, "{t}: {ours} {exact}");
    }
}

/// NAFEMS one-dimensional transient T3: a wall of 0.1 m with one face at 100 sin(π t/40) and the other at
/// 0: 36.60 degC, 0.02 m from the oscillating face, after 32 s.
#[test]
fn nafems_oscillating_end() {
    let ours = nafems_oscillating_c();
    assert!((ours - 36.60).abs() < 0.02, "{ours}");
}

/// Temperature of that benchmark, degC.
pub fn nafems_oscillating_c() -> f64 {
    let bar = uniform(AxisKind::Linear, 0.1, 100);
    let mut body = solver(vec![bar], &metal(35.0, 440.5 * 7200.0), 0.0, 1e-3);
    hold(
        &mut body,
        HIGH,
        "hot end",
        billet_thermal::conduction::Signal::function(|t| 100.0 * (std::f64::consts::PI * t / 40.0).sin()),
    );
    hold(&mut body, LOW, "cold end", 0.0);
    run(&mut body, 32.0);
    at(&body, &[0.08], false)
}

/// A masked grid is the smaller grid, and a radial x linear grid with insulated ends is the radial one.
#[test]
fn grids_that_must_agree() {
    let metal = metal(30.0, 7500.0 * 650.0);
    let lay = |axes: Vec<Axis>, mask: Option<Vec<bool>>, air: &[usize]| {
        let cells = axes.iter().map(Axis::cells).product();
        let grid = Grid::masked(axes, mask.unwrap_or(vec![true; cells]), 1.0).unwrap();
        let mut body = Solver::uniform(Arc::new(grid), metal.clone(), 1000.0, Tolerance::kelvin(0.01));
        for group in air {
            expose(&mut body, *group, "air", Exchange::air(20.0, 0.8, 25.0));
        }
        run(&mut body, 15.0);
        body
    };
    let y = uniform(AxisKind::Linear, 0.02, 8);
    let small = lay(
        vec![uniform(AxisKind::Linear, 0.03, 12), y.clone()],
        None,
        &[0, 1, 2, 3],
    );
    // The last four of 16 cells along x are cut away.
    let mask = (0..16 * 8).map(|c| c / 8 < 12).collect();
    let cut = lay(vec![uniform(AxisKind::Linear, 0.04, 16), y], Some(mask), &[0, 1, 2, 3]);
    for c in 0..12 * 8 {
        assert!((small.temperature(c) - cut.temperature(c)).abs() < 1e-9);
    }
    let r = towards_face(AxisKind::Radial, 0.03, 3e-4, 3e-3);
    let long = lay(vec![r.clone()], None, &[1]);
    let short = lay(vec![uniform(AxisKind::Linear, 0.1, 3), r.clone()], None, &[3]);
    for i in 0..r.cells() {
        let (a, b) = (long.temperature(i), short.temperature(short.grid().index([1, i, 0])));
        assert!((a - b).abs() < 0.02, "{a} {b}");
    }
}

/// A share of a face group exchanges in proportion.
#[test]
fn share_of_a_face() {
    let metal = metal(1e6, 7500.0 * 650.0);
    let fall = |share: f64| {
        let mut body = solver(vec![uniform(AxisKind::Linear, 0.01, 2)], &metal, 500.0, 1e-4);
        let account = body.account("film");
        body.set_law(
            HIGH,
            Law::Exchange {
                exchange: Exchange::film(100.0, 20.0),
                share,
                account,
            },
        );
        run(&mut body, 50.0);
        (body.temperature(0) - 20.0) / 480.0
    };
    // Lumped: θ = exp(-share h t/(ρ c L)).
    let exact = |share: f64| (-share * 100.0 * 50.0 / (7500.0 * 650.0 * 0.01)).exp();
    for share in [1.0, 0.4, 0.0] {
        assert!(
            (fall(share) - exact(share)).abs() < 1e-5,
            "{share}: {} {}",
            fall(share),
            exact(share)
        );
    }
}
