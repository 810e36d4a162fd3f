//! A die face in its block over many parts, against two-dimensional solutions.
//!
//! The die of all cases: 120 mm high, 28 W/mK, 7700 kg/m³, 550 J/kgK, from 150 degC; it reaches 80 mm beyond what
//! the part touches. In each takt of 12 s the part, 1000 degC, touches a disc or ring with 2000 W/m²K for 2 s,
//! then 150 W/m²K act there to 25 degC. Beside it 15 W/m²K to 25 degC act all the time, and 3000 W/m²K to a
//! holder of 100 degC at the back.

use std::f64::consts::PI;
use std::sync::Arc;

use billet_thermal::body::{Axis, AxisKind, Grid};
use billet_thermal::conduction::{Columns, DeepEnd, Exchange, Law, Solver, Tolerance};
use billet_thermal::inside::die::settle::{Bounds, TRIAL_K, Takt, settle};
use billet_thermal::inside::die::{Across, DieBlock, DieCopy, Ground, Phase, Strip, Well};
use billet_thermal::steel::ThermalTable;

const HEIGHT_M: f64 = 0.12;
const BESIDE_M: f64 = 0.08;
const K: f64 = 28.0;

fn metal() -> Arc<ThermalTable> {
    Arc::new(ThermalTable::constant(K, 550.0, 7700.0))
}

fn block() -> DieBlock {
    let back = DeepEnd::Joined {
        temp_c: 100.0,
        w_m2k: 3000.0,
    };
    DieBlock {
        beside_m: Some(BESIDE_M),
        ..DieBlock::with_back(back)
    }
}

fn part() -> Exchange {
    Exchange::film(2000.0, 1000.0)
}

fn idle() -> Exchange {
    Exchange::film(150.0, 25.0)
}

fn air() -> Exchange {
    Exchange::film(15.0, 25.0)
}

fn columns(height_m: f64, start_c: f64) -> Columns {
    let depth = Axis::graded(AxisKind::Linear, 0.0, height_m, Some(5e-5), None, 1.45, 0.2 * height_m).unwrap();
    Columns::new(metal(), &depth, 1, start_c, DeepEnd::Fixed(start_c), 0)
}

/// A round face from `inner` to `outer` with columns some millimetres wide.
fn face(inner: f64, outer: f64) -> Ground {
    let count = 14;
    let radius = |i: usize| inner + (outer - inner) * i as f64 / count as f64;
    let spans = (0..count).map(|i| (radius(i).powi(2), radius(i + 1).powi(2))).collect();
    Ground::new(&columns(HEIGHT_M, 150.0), spans, PI).within(&block(), &Across::Disc, &air())
}

/// Takes a face through the time with the part; gives its mean at the end of that: between what it is before and after
/// heat has gone sideways.
fn touch(ground: &mut Ground) -> f64 {
    ground.rest_face(2.0, &part(), 0.3).unwrap();
    let before = ground.faces().mean_c;
    ground.spread(2.0, 0.3).unwrap();
    0.5 * (before + ground.faces().mean_c)
}

fn takt(ground: &mut Ground) -> (f64, f64) {
    let peak = touch(ground);
    ground.rest(10.0, &idle(), 0.3).unwrap();
    (peak, ground.faces().mean_c)
}

fn settled(ground: &Ground) -> Ground {
    let run = |x: &[f64]| {
        let mut ground = ground.clone();
        ground.set_temperatures(x);
        touch(&mut ground);
        let left = ground.temperatures();
        ground.rest(10.0, &idle(), 0.3).unwrap();
        Takt {
            left,
            after: ground.temperatures(),
            part: (),
        }
    };
    let start = ground.temperatures();
    let warmer: Vec<f64> = start.iter().map(|t| t + TRIAL_K).collect();
    let phases = vec![Phase {
        what: "air",
        seconds: 10.0,
        exchange: idle(),
    }];
    let bounds = Bounds {
        tolerance_k: 0.3,
        evaluations: 80,
        takts: 20_000,
    };
    let real = |x: &[f64]| Ok::<_, ()>(run(x));
    let tools = vec![DieCopy::new(ground, 2.0, phases)];
    let found = settle(tools, &start, run(&start), &run(&warmer).left, bounds, 5.0, real).unwrap();
    println!(
        "  {} takts, {} real, near from {}, residual {:.4} K, distance {:.3} K",
        found.takts, found.evaluations, found.near_from, found.residual_k, found.distance_k
    );
    assert!(found.converged);
    let mut ground = ground.clone();
    ground.set_temperatures(&found.state);
    ground
}

/// Against finite volumes of a program of its own (SciPy: 48 to 72 rings and some 60 layers, two-stage SDIRK with 24
/// growing steps in each piece of a takt, the periodic state by GMRES on the map of a takt; twice as fine it
/// differs by less than 0.3 K): mean face as the part leaves and before the next, parts 1, 3, 10, 30, steady.
#[test]
fn faces_are_those_of_a_two_dimensional_die() {
    let cases = [
        (
            0.0,
            0.014,
            [
                (326.04, 162.29),
                (339.56, 171.5),
                (347.54, 179.07),
                (346.61, 177.32),
                (322.08, 147.38),
            ],
        ),
        (
            0.0,
            0.03,
            [
                (339.79, 173.6),
                (367.13, 195.82),
                (390.8, 219.96),
                (399.96, 230.0),
                (393.21, 221.54),
            ],
        ),
        (
            0.0,
            0.06,
            [
                (345.83, 179.5),
                (381.48, 211.22),
                (422.45, 255.49),
                (449.13, 286.49),
                (464.45, 305.27),
            ],
        ),
        (
            0.0,
            0.1,
            [
                (348.25, 181.92),
                (387.36, 217.75),
                (437.16, 272.75),
                (477.68, 320.76),
                (509.86, 360.41),
            ],
        ),
        (
            0.04,
            0.07,
            [
                (339.76, 173.53),
                (367.33, 196.43),
                (395.48, 226.47),
                (415.58, 249.83),
                (427.65, 264.5),
            ],
        ),
    ];
    for (inner, outer, known) in cases {
        let mut ground = face(inner, outer);
        let mut found = Vec::new();
        for part in 1..=30 {
            let faces = takt(&mut ground);
            if [1, 3, 10, 30].contains(&part) {
                found.push(faces);
            }
        }
        let mut last = settled(&ground);
        let couple = last.couple().unwrap();
        found.push(takt(&mut last));
        for (found, known) in found.iter().zip(&known) {
            println!(
                "{inner} {outer}: {found:.2?} {known:?} {:.2} {:.2} {couple:?}",
                found.0 - known.0,
                found.1 - known.1
            );
        }
        for (found, known) in found.iter().zip(&known) {
            assert!(
                (found.0 - known.0).abs() < 5.0 && (found.1 - known.1).abs() < 5.0,
                "{found:?} {known:?}"
            );
        }
    }
}

/// The same die as one fine grid of the solver, on a plane or round an axis: mean face before parts 2 and 31.
fn fine(kind: AxisKind, half_m: f64) -> [f64; 2] {
    let height = Axis::graded(AxisKind::Linear, 0.0, HEIGHT_M, Some(1e-4), None, 1.25, 6e-3).unwrap();
    let under = Axis::graded(kind, 0.0, half_m, None, Some(5e-4), 1.3, 3e-3).unwrap();
    let out = Axis::graded(AxisKind::Linear, half_m, half_m + BESIDE_M, Some(5e-4), None, 1.3, 8e-3).unwrap();
    let across: Vec<f64> = under.faces().iter().chain(&out.faces()[1..]).copied().collect();
    let mut grid = Grid::new(vec![height, Axis::new(kind, across).unwrap()]).unwrap();
    let (low, touched) = (grid.faces().iter().map(|f| f.group).min().unwrap(), under.cells());
    let positions: Vec<usize> = (0..grid.cells()).map(|cell| grid.position(cell)[1]).collect();
    grid.group_faces(|face| match (face.group == low, positions[face.cell] < touched) {
        (true, true) => 4,
        (true, false) => low,
        _ => face.group,
    });
    let grid = Arc::new(grid);
    let mut die = Solver::uniform(grid.clone(), metal(), 150.0, Tolerance::kelvin(0.1));
    let account = die.account("all");
    let law = |exchange| Law::Exchange {
        exchange,
        share: 1.0,
        account,
    };
    die.set_law(low, law(air()));
    die.set_law(1, law(Exchange::film(3000.0, 100.0)));
    let mut means = Vec::new();
    for takt in 0..30 {
        let start = 12.0 * f64::from(takt);
        for (exchange, end) in [(part(), 2.0), (idle(), 12.0)] {
            die.set_law(4, law(exchange));
            die.advance(start + end, &mut |_| {}).unwrap();
        }
        let temps = die.face_temperatures();
        let of = grid.faces().iter().zip(&temps).filter(|(face, _)| face.group == 4);
        let (sum, area) = of.fold((0.0, 0.0), |(s, a), (face, t)| (s + face.area * t, a + face.area));
        means.push(sum / area);
    }
    assert!(die.ledger().imbalance().abs() < 1e-9);
    [means[0], means[29]]
}

/// Our own solver on a fine grid, for a disc and for a strip under a long part, of which half is there.
#[test]
fn faces_are_those_of_a_fine_grid() {
    let count = 12;
    let place = |i: usize| 0.03 * i as f64 / count as f64;
    // Lying along a line: as wide as area over length.
    let line = [(0.0, 0.1), (0.1, 0.25)].to_vec();
    let strip = Strip {
        offset: 0.0,
        length_m: 0.2,
        symmetric: true,
    };
    let strips = (0..count).map(|i| (0.2 * place(i), 0.2 * place(i + 1))).collect();
    let along = Ground::new(&columns(HEIGHT_M, 150.0), line, 0.06).within(&block(), &Across::Along, &air());
    let strip =
        Ground::new(&columns(HEIGHT_M, 150.0), strips, 1.0).within(&block(), &Across::Strips(vec![strip]), &air());
    let cases = [
        ("disc", AxisKind::Radial, face(0.0, 0.03), 2.0),
        ("strip", AxisKind::Linear, strip, 3.0),
        ("along", AxisKind::Linear, along, 8.0),
    ];
    for (name, kind, mut ground, within) in cases {
        let faces: Vec<f64> = (0..30).map(|_| takt(&mut ground).1).collect();
        let known = fine(kind, 0.03);
        println!("{name}: {:.2} {:.2}, fine {known:.2?}", faces[0], faces[29]);
        assert!(
            (faces[0] - known[0]).abs() < within && (faces[29] - known[1]).abs() < within,
            "{name}"
        );
    }
}

/// Spreading resistance of a disc on a half-space: 1/(4 k a) at one temperature, 8/(3π² k a) for the mean face under an
/// even flux (H. S. Carslaw and J. C. Jaeger, Conduction of Heat in Solids, 2nd ed., 8.2). On a block of radius R and
/// height H that is held at its back, H/(k π R²) is added and the first falls by 1.409 a/R, the second by 1.305 a/R
/// of itself (M. M. Yovanovich, from memory); here a/R is 0.08.
#[test]
fn spreading_resistance_is_that_of_a_disc() {
    let (a, beside, height) = (0.02f64, 0.23f64, 0.25f64);
    let wide = DieBlock {
        beside_m: Some(beside),
        ..DieBlock::with_back(DeepEnd::Fixed(0.0))
    };
    let count = 16;
    // Narrower towards the edge, where the flux under one temperature has its pole.
    let radius = |i: usize| a * (1.0 - (1.0 - i as f64 / count as f64).powi(2));
    let spans: Vec<(f64, f64)> = (0..count).map(|i| (radius(i).powi(2), radius(i + 1).powi(2))).collect();
    let through = height / (K * PI * (a + beside).powi(2));
    let share = a / (a + beside);
    for (even, exact) in [
        (false, (1.0 - 1.409 * share) / (4.0 * K * a)),
        (true, (1.0 - 1.305 * share) * 8.0 / (3.0 * PI * PI * K * a)),
    ] {
        let ground = Ground::new(&columns(height, 0.0), spans.clone(), PI);
        let mut ground = ground.within(&wide, &Across::Disc, &Exchange::none());
        let exchange = if even {
            Exchange::flux(1e5)
        } else {
            Exchange::film(1e6, 100.0)
        };
        for _ in 0..12_000 {
            ground.rest(3.0, &exchange, 0.5).unwrap();
        }
        let before = ground.heat();
        ground.rest(30.0, &exchange, 0.5).unwrap();
        let power = (ground.heat().open - before.open) / 30.0;
        let out = -(ground.heat().back - before.back) / 30.0;
        assert!((out / power - 1.0).abs() < 2e-3, "{out} {power}");
        let resistance = ground.faces().mean_c / power - through;
        println!(
            "even flux {even}: {resistance:.4} K/W, exact {exact:.4}, {:+.1} %",
            100.0 * (resistance / exact - 1.0)
        );
        assert!((resistance / exact - 1.0).abs() < 0.03, "{resistance} {exact}");
    }
}

/// What a block holds is what it has taken in through faces, back, channel and heater, whatever passes sideways.
#[test]
fn the_heat_of_a_block_closes() {
    let mut with_wells = block();
    with_wells.wells = vec![
        Well::Channel {
            depth_m: 0.03,
            w_k: 25.0,
            temp_c: 40.0,
        },
        Well::Heater {
            depth_m: 0.06,
            power_w: 300.0,
            up_to_c: Some(160.0),
        },
    ];
    let spans = vec![(0.0, 4e-4), (4e-4, 9e-4)];
    let ground = Ground::new(&columns(HEIGHT_M, 150.0), spans, PI);
    let mut ground = ground.within(&with_wells, &Across::Disc, &air());
    let start = ground.enthalpy();
    for _ in 0..5 {
        takt(&mut ground);
    }
    let heat = ground.heat();
    let change = ground.enthalpy() - start;
    let booked = heat.open + heat.back + heat.wells;
    assert!(heat.wells.abs() > 1.0 && heat.back < -1.0, "{heat:?}");
    assert!(
        (change - booked).abs() < 1e-9 * (heat.open.abs() + heat.back.abs()),
        "{change} {heat:?}"
    );
}

/// A channel draws a die down, a heater warms it; both are met by the search as by many parts.
#[test]
fn channels_and_heaters_move_the_steady_state() {
    let steady = |well: Option<Well>| {
        let mut inputs = block();
        inputs.wells.extend(well);
        let spans = (0..8).map(|i| (1e-4 * f64::from(i), 1e-4 * f64::from(i + 1))).collect();
        let ground = Ground::new(&columns(HEIGHT_M, 150.0), spans, PI).within(&inputs, &Across::Disc, &air());
        let mut brute = ground.clone();
        let mut last = 0.0;
        for _ in 0..1500 {
            last = takt(&mut brute).1;
        }
        let found = takt(&mut settled(&ground)).1;
        println!("{well:?}: {last:.2} by parts, {found:.2} by the search");
        assert!((found - last).abs() < 0.5, "{found} {last}");
        found
    };
    let plain = steady(None);
    let channel = Well::Channel {
        depth_m: 0.04,
        w_k: 35.0,
        temp_c: 30.0,
    };
    let heater = |up_to_c| Well::Heater {
        depth_m: 0.04,
        power_w: 350.0,
        up_to_c,
    };
    assert!(steady(Some(channel)) < plain - 10.0);
    let heated = steady(Some(heater(None)));
    assert!(heated > plain + 10.0);
    // The thermostat is content with less.
    assert!(steady(Some(heater(Some(60.0)))) < heated - 5.0);
}
