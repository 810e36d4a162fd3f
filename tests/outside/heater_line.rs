//! The column of billets: energy, limits, order and direction of effects.

use std::time::Instant;

use billet_thermal::heater::coil::{Coil, Drive};
use billet_thermal::heater::line::{HeaterLine, Motion, Zone, ZoneKind};
use billet_thermal::heater::lining::Lining;
use billet_thermal::heater::{Bar, Fineness};

use crate::heater_steel::carbon_steel;

fn coil_zone(name: &str, length: f64, frequency: f64) -> Zone {
    Zone {
        name: name.into(),
        length_m: length,
        kind: ZoneKind::Coil {
            coil: Coil::new(length, 0.1, frequency).unwrap(),
            lining: Lining {
                inner_m: 0.072,
                outer_m: 0.092,
                conductivity: 0.3,
                emissivity: 0.8,
                coil_c: 50.0,
            },
        },
    }
}

fn open_zone(name: &str, length: f64) -> Zone {
    Zone {
        name: name.into(),
        length_m: length,
        kind: ZoneKind::Open,
    }
}

/// Three coils for a 60 mm bar of 140 mm billets at 14 s.
pub fn three_coils(motion: Motion) -> HeaterLine {
    HeaterLine {
        zones: vec![
            coil_zone("coil 1", 0.9, 1000.0),
            open_zone("gap 1", 0.1),
            coil_zone("coil 2", 0.9, 1000.0),
            open_zone("gap 2", 0.1),
            coil_zone("coil 3", 0.9, 2000.0),
        ],
        billet_m: 0.14,
        takt_s: 14.0,
        motion,
        start_c: 20.0,
        ambient_c: 25.0,
    }
}

pub const POWERS: [f64; 3] = [140e3, 110e3, 70e3];

fn bar(fineness: Fineness) -> Bar {
    Bar::round(0.03, carbon_steel(), 2000.0, fineness).unwrap()
}

fn drives(powers: &[f64]) -> Vec<Drive> {
    powers.iter().map(|p| Drive::Terminals(*p)).collect()
}

#[test]
fn probe() {
    for (name, fineness) in [
        ("quick", Fineness::quick()),
        ("standard", Fineness::standard()),
        ("fine", Fineness::fine()),
    ] {
        let bar = bar(fineness);
        for (motion, slices) in [(Motion::Continuous, 1), (Motion::Indexed, 1), (Motion::Indexed, 3)] {
            let t = Instant::now();
            let steady = three_coils(motion).steady(&bar, &drives(&POWERS), slices).unwrap();
            println!(
                "{name} {motion:?} {slices}: {:?} cells {:?} steps {} field {:?}\n  {:?} core {:.1} surf {:.1} mean {:.1} hot {:.1} peak {:.1}",
                t.elapsed(),
                bar.cells(),
                steady.steps,
                steady.field_solves,
                steady.balance,
                steady.exit.core_c,
                steady.exit.surface_c,
                steady.exit.mean_c,
                steady.exit.hottest_c,
                steady.exit.peak_c
            );
            for c in &steady.coils {
                println!("    {c:?}");
            }
        }
    }
}

#[test]
fn probe_column() {
    use billet_thermal::heater::line::*;
    for motion in [Motion::Continuous, Motion::Indexed] {
        let bar = bar(Fineness::standard());
        let line = three_coils(motion);
        let powers = drives(&[125e3, 85e3, 55e3]);
        let m = if motion == Motion::Indexed { 3 } else { 1 };
        let steady = line.steady(&bar, &powers, m).unwrap();
        println!(
            "{motion:?} exit {:.1} {:.1} {:.1} kWh/t {:.1}",
            steady.exit.core_c,
            steady.exit.surface_c,
            steady.exit.mean_c,
            steady.balance.terminals_kwh_t()
        );
        let criteria = Criteria {
            at_least: (Target::Mean, 1180.0),
            at_most_c: None,
            never_above_c: 1320.0,
            difference_k: Some(100.0),
        };
        let t = Instant::now();
        let s = start_up(&line, &bar, &powers, m, Filling::Uniform(20.0), 60, &criteria).unwrap();
        println!(
            "start {:?} first good {:?} rejected {}",
            t.elapsed(),
            s.first_good,
            s.rejected
        );
        for b in s.billets.iter().skip(50) {
            println!(
                "   {} {:.1} {:.1} {:.1} {:.1} {:?}",
                b.billet.number, b.billet.core_c, b.billet.surface_c, b.billet.mean_c, b.billet.peak_c, b.verdict
            );
        }
        let hold = hold_powers(&line, &bar, &powers, m).unwrap();
        println!("hold {hold:?}");
        let hold: Vec<_> = hold.into_iter().map(Drive::Load).collect();
        for (secs, mode) in [
            (0.0, StopMode::Off),
            (90.0, StopMode::Off),
            (90.0, StopMode::Hold(hold.clone())),
            (600.0, StopMode::Off),
            (600.0, StopMode::Hold(hold.clone())),
            (
                600.0,
                StopMode::RunOn {
                    takt_s: 42.0,
                    drives: drives(&[45e3, 35e3, 25e3]),
                },
            ),
        ] {
            let t = Instant::now();
            let s = stoppage(&line, &bar, &powers, m, secs, &mode, 40, &criteria).unwrap();
            println!(
                "stop {secs} {:?} first good {:?} rejected {} last {:.1}",
                t.elapsed(),
                s.first_good,
                s.rejected,
                s.billets.last().unwrap().billet.mean_c
            );
            let list: Vec<String> = s
                .billets
                .iter()
                .map(|b| {
                    format!(
                        "{}:{:.0}/{:.0}{}",
                        b.billet.number,
                        b.billet.mean_c,
                        b.billet.peak_c,
                        match b.verdict {
                            Verdict::Good => "",
                            Verdict::TooCold => "c",
                            Verdict::TooHot => "h",
                            Verdict::Uneven => "u",
                        }
                    )
                })
                .collect();
            println!("    {}", list.join(" "));
        }
    }
}

#[test]
fn probe_noise() {
    use billet_thermal::heater::line::*;
    let bar = bar(Fineness::standard());
    let line = three_coils(Motion::Continuous);
    let powers = drives(&[125e3, 85e3, 55e3]);
    let steady = line.steady(&bar, &powers, 1).unwrap();
    for c in &steady.coils {
        println!("{:?}", c);
    }
    for p in steady.track.iter().step_by(4) {
        println!("{:.3} {:.1} {:.1} {:.1}", p.place_m, p.core_c, p.surface_c, p.mean_c);
    }
    let mut column = Column::steady(&line, &bar, &powers, 1).unwrap();
    for b in column.billets() {
        println!("{:.3} {:.1} {:.1} {:.1}", b.0, b.1.core_c, b.1.surface_c, b.1.mean_c);
    }
    let stored = column.stored_j();
    let phase = Phase {
        seconds: 300.0,
        takt_s: Some(14.0),
        drives: powers.clone(),
    };
    let mut n = 0;
    column
        .run(&phase, &mut |c, m| {
            n += 1;
            if n % 4 == 0 {
                println!(
                    "{:.1} {:?} H {:.0?} P {:.0?} n {} stored {:.0}",
                    m.time_s,
                    0,
                    m.field_a_m,
                    m.terminals_w,
                    c.billets().len(),
                    (c.stored_j() - stored) / 1e3
                );
            }
        })
        .unwrap();
    let e = column.energies();
    println!(
        "{e:?} closes {:.3e}",
        (e.load_j - e.loss_j - e.out_j - column.stored_j() + stored) / e.load_j
    );
}

#[test]
fn probe_search() {
    use billet_thermal::heater::line::*;
    use billet_thermal::heater::search::*;
    for (fineness, motion, m) in [
        (Fineness::standard(), Motion::Continuous, 1),
        (Fineness::standard(), Motion::Indexed, 3),
    ] {
        let bar = bar(fineness);
        let mut line = three_coils(motion);
        for (diff, max, takt, least, after) in [
            (None, 200e3, 14.0, Least::Energy, 0.0),
            (Some(60.0), 200e3, 14.0, Least::Energy, 0.0),
            (Some(30.0), 200e3, 14.0, Least::Energy, 0.0),
            (Some(60.0), 200e3, 14.0, Least::Scaling, 4.0),
            (Some(60.0), 90e3, 14.0, Least::Energy, 0.0),
            (Some(5.0), 200e3, 14.0, Least::Energy, 0.0),
            (Some(60.0), 200e3, 8.0, Least::Energy, 0.0),
        ] {
            line.takt_s = takt;
            let goal = Goal {
                target: Target::Mean,
                value_c: 1240.0,
                after_s: after,
                difference_k: diff,
                never_above_c: 1330.0,
                tolerance_k: 1.0,
                least,
            };
            let t = Instant::now();
            let f = find_powers(&line, &bar, &goal, &[max; 3], None, m).unwrap();
            println!(
                "{diff:?} {max} {takt} {least:?}: {:?} {:?} evals {} {:?} powers {:.1?} kWh/t {:.1} scaling {:.0} peak {:.1}",
                t.elapsed(),
                f.status,
                f.evaluations,
                f.at_target,
                f.powers_w,
                f.steady.balance.terminals_kwh_t(),
                f.steady.exit.scaling_s,
                f.steady.exit.peak_c
            );
            if let Status::Impossible(m2) = &f.status {
                for x in m2 {
                    println!("    {x}");
                }
                let t = Instant::now();
                println!(
                    "   {:?} {:?}",
                    remedies(&line, &bar, &goal, &f, m).unwrap(),
                    t.elapsed()
                );
            }
        }
    }
}
