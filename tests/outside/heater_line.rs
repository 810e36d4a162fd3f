//! The column of billets: energy, limits, order and direction of effects.

use billet_thermal::inside::heater::coil::{Coil, Drive};
use billet_thermal::inside::heater::line::{
    Column, Criteria, Feed, Filling, HeaterLine, Motion, Phase, StopMode, Target, Verdict, Zone, ZoneKind, hold_powers,
    start_up, stoppage,
};
use billet_thermal::inside::heater::lining::Lining;
use billet_thermal::inside::heater::{Bar, Fineness};
use billet_thermal::steel::en1993;
use proptest::prelude::*;

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
        converters: Vec::new(),
        billet_m: 0.14,
        takt_s: 14.0,
        motion,
        start_c: 20.0,
        ambient_c: 25.0,
    }
}

/// Terminal powers that bring the bar to forging heat.
pub const POWERS: [f64; 3] = [120e3, 80e3, 55e3];

pub fn bar(fineness: Fineness) -> Bar {
    Bar::round(0.03, carbon_steel(), 2000.0, fineness).unwrap()
}

pub fn drives(powers: &[f64]) -> Vec<Drive> {
    powers.iter().map(|p| Drive::Terminals(*p)).collect()
}

const MOTIONS: [(Motion, usize); 2] = [(Motion::Continuous, 1), (Motion::Indexed, 3)];

pub fn criteria() -> Criteria {
    Criteria {
        at_least: (Target::Mean, 1180.0),
        at_most_c: None,
        never_above_c: 1320.0,
        difference_k: Some(100.0),
    }
}

/// From the mains side to the steel nothing is lost without a name: 1e-6 by contract.
#[test]
fn energy_closes_from_terminals_to_steel() {
    for (motion, slices) in MOTIONS {
        let bar = bar(Fineness::standard());
        let line = three_coils(motion);
        let steady = line.steady(&bar, &drives(&POWERS), slices).unwrap();
        let b = steady.balance;
        assert!(b.imbalance.abs() < 1e-9, "{motion:?} {}", b.imbalance);
        for (coil, power) in steady.coils.iter().zip(POWERS) {
            assert!((coil.terminals_w / power - 1.0).abs() < 2e-4, "{coil:?}");
            assert!((coil.winding_w + coil.load_w - coil.terminals_w).abs() < 1e-6 * power);
        }
        let mut column = Column::steady(&line, &bar, &drives(&POWERS), slices).unwrap();
        let before = column.stored_j();
        let phase = Phase {
            seconds: 100.0,
            takt_s: Some(14.0),
            drives: drives(&POWERS),
            feed: Feed::USUAL,
        };
        column.run(&phase, &mut |_, _| {}).unwrap();
        let e = column.energies();
        let rest = e.terminals_j - e.winding_j - e.loss_j - e.out_j - (column.stored_j() - before);
        assert!((rest / e.terminals_j).abs() < 1e-9, "{motion:?} {e:?} {rest}");
    }
}

/// kWh/t against the enthalpy rise of EN 1993-1-2:2005 3.4.1.2 (827.1 kJ/kg to 1200 degC).
#[test]
fn energy_in_the_steel_is_its_enthalpy_rise() {
    let bar = bar(Fineness::standard());
    let steady = three_coils(Motion::Continuous)
        .steady(&bar, &drives(&POWERS), 1)
        .unwrap();
    let rise = steady.balance.steel_w / steady.balance.kg_s;
    let want = en1993::carbon_enthalpy(steady.exit.mean_c);
    assert!((rise / want - 1.0).abs() < 2e-3, "{rise} {want}");
    assert!((en1993::carbon_enthalpy(1200.0) / 827.1e3 - 1.0).abs() < 1e-4);
}

/// A plant audit (trade article on an ISO 50001 audit) found 64.8 % from the grid into billets at
/// 1250 degC, coil about 75 %, planning value 400 to 450 kWh/t; best claims are below 333 kWh/t. The
/// computed line lies between the best claim and the planning value.
#[test]
fn efficiency_lies_where_plants_measure() {
    let bar = bar(Fineness::standard());
    let steady = three_coils(Motion::Continuous)
        .steady(&bar, &drives(&POWERS), 1)
        .unwrap();
    assert!((1200.0..1300.0).contains(&steady.exit.mean_c), "{}", steady.exit.mean_c);
    for hot in &steady.coils[1..] {
        assert!((0.68..0.82).contains(&hot.efficiency), "{hot:?}");
    }
    let mains = steady.balance.terminals_kwh_t() / 0.93;
    assert!((333.0..450.0).contains(&mains), "{mains}");
}

/// `standard` stays within 1 K of `fine` at every node of the exit.
#[test]
fn standard_is_within_a_kelvin() {
    for (motion, slices) in [(Motion::Continuous, 1), (Motion::Indexed, 1)] {
        let at = |fineness| {
            three_coils(motion)
                .steady(&bar(fineness), &drives(&POWERS), slices)
                .unwrap()
                .exit
        };
        let (standard, fine) = (at(Fineness::standard()), at(Fineness::fine()));
        for (a, b) in [
            (standard.core_c, fine.core_c),
            (standard.surface_c, fine.surface_c),
            (standard.mean_c, fine.mean_c),
            (standard.peak_c, fine.peak_c),
        ] {
            assert!((a - b).abs() < 1.0, "{motion:?}: {a} {b}");
        }
    }
}

/// The steady state is one: the same numbers again, and the column stays in it when run in time.
#[test]
fn the_column_stays_in_its_steady_state() {
    let bar = bar(Fineness::quick());
    let line = three_coils(Motion::Indexed);
    let steady = line.steady(&bar, &drives(&POWERS), 3).unwrap();
    assert_eq!(steady, line.steady(&bar, &drives(&POWERS), 3).unwrap());
    let mut column = Column::steady(&line, &bar, &drives(&POWERS), 3).unwrap();
    let phase = Phase {
        seconds: 30.0 * 14.0,
        takt_s: Some(14.0),
        drives: drives(&POWERS),
        feed: Feed::USUAL,
    };
    let gone = column.run(&phase, &mut |_, _| {}).unwrap();
    assert_eq!(gone.len(), 30);
    for billet in gone {
        assert!(
            (billet.mean_c - steady.exit.mean_c).abs() < 2.0,
            "{billet:?} {:?}",
            steady.exit
        );
        // Pieces that lie in two zones by share begin with the skin of neither, a few K off for one passage.
        assert!(
            (billet.surface_c - steady.exit.surface_c).abs() < 5.0,
            "{billet:?} {:?}",
            steady.exit
        );
    }
}

#[test]
fn a_stop_of_no_length_changes_nothing() {
    for (motion, slices) in MOTIONS {
        let bar = bar(Fineness::quick());
        let line = three_coils(motion);
        let powers = drives(&POWERS);
        let stopped = stoppage(&line, &bar, &powers, slices, (0.0, &StopMode::Off), 25, &criteria()).unwrap();
        let mut column = Column::steady(&line, &bar, &powers, slices).unwrap();
        let phase = Phase {
            seconds: 25.0 * 14.0,
            takt_s: Some(14.0),
            drives: powers,
            feed: Feed::USUAL,
        };
        let ran = column.run(&phase, &mut |_, _| {}).unwrap();
        let after: Vec<_> = stopped.billets.into_iter().map(|b| b.billet).collect();
        assert_eq!(after, ran, "{motion:?}");
    }
}

#[test]
fn stoppage_and_hold() {
    let bar = bar(Fineness::quick());
    let line = three_coils(Motion::Indexed);
    let powers = drives(&POWERS);
    let hold: Vec<Drive> = hold_powers(&line, &bar, &powers, 3)
        .unwrap()
        .into_iter()
        .map(Drive::Load)
        .collect();
    let stop =
        |seconds: f64, mode: StopMode| stoppage(&line, &bar, &powers, 3, (seconds, &mode), 45, &criteria()).unwrap();
    let (short, long) = (stop(60.0, StopMode::Off), stop(600.0, StopMode::Off));
    let held = stop(600.0, StopMode::Hold(hold));
    // A longer stop without power leaves every hot billet inside colder, and more of them too cold; a
    // cold one takes a little from the winding behind the lining.
    for (a, b) in short.inside.iter().zip(&long.inside).filter(|(a, _)| a.mean_c > 100.0) {
        assert!(b.mean_c <= a.mean_c + 1e-6, "{a:?} {b:?}");
    }
    assert!(long.rejected > short.rejected, "{} {}", long.rejected, short.rejected);
    assert!(long.billets[0].verdict == Verdict::TooCold);
    // Hold power keeps the heat content, to a few per cent over ten minutes.
    let content = |s: &billet_thermal::inside::heater::line::Study| s.inside.iter().map(|b| b.mean_c).sum::<f64>();
    let running = content(&stop(0.0, StopMode::Off));
    assert!(content(&long) < 0.9 * running);
    assert!(
        (content(&held) / running - 1.0).abs() < 0.05,
        "{} {running}",
        content(&held)
    );
    // In the end the line is as before.
    let last = &long.billets[long.billets.len() - 1].billet;
    let steady = line.steady(&bar, &powers, 3).unwrap();
    assert!((last.mean_c - steady.exit.mean_c).abs() < 3.0);
}

#[test]
fn cold_start_reaches_the_steady_state() {
    let bar = bar(Fineness::quick());
    let line = three_coils(Motion::Indexed);
    let powers = drives(&POWERS);
    let study = start_up(&line, &bar, &powers, 3, Filling::Uniform(20.0), 70, &criteria()).unwrap();
    let first = study.first_good.unwrap();
    // About one content of the heater goes cold; nothing good comes out before.
    assert!((10..40).contains(&first), "{first}");
    assert_eq!(study.rejected, first - 1);
    let steady = line.steady(&bar, &powers, 3).unwrap();
    let last = &study.billets[study.billets.len() - 1].billet;
    assert!(
        (last.mean_c - steady.exit.mean_c).abs() < 3.0,
        "{} {}",
        last.mean_c,
        steady.exit.mean_c
    );
}

#[test]
fn bad_lines_are_refused_with_numbers() {
    let small = Bar::round(0.04, carbon_steel(), 2000.0, Fineness::quick()).unwrap();
    let line = three_coils(Motion::Indexed);
    let error = line.steady(&small, &drives(&POWERS), 1).unwrap_err().to_string();
    assert!(error.contains("80.0 mm") && error.contains("72.0 mm"), "{error}");
    let bar = bar(Fineness::quick());
    let error = line
        .steady(&bar, &drives(&[1e5, -1.0, 1e5]), 1)
        .unwrap_err()
        .to_string();
    assert!(error.contains("-1"), "{error}");
    let error = line.steady(&bar, &drives(&[1e5]), 1).unwrap_err().to_string();
    assert!(error.contains('3') && error.contains('1'), "{error}");
    let nothing = HeaterLine {
        zones: vec![open_zone("gap", 1.0)],
        ..line
    };
    assert!(nothing.steady(&bar, &[], 1).is_err());
}

fn one_coil(frequency: f64) -> HeaterLine {
    HeaterLine {
        zones: vec![coil_zone("coil", 2.5, frequency)],
        ..three_coils(Motion::Continuous)
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 12, failure_persistence: None, ..ProptestConfig::default() })]

    /// More power in any coil never leaves any node colder at the exit.
    #[test]
    fn more_power_is_never_colder(coil in 0usize..3, low in 30e3..90e3f64, more in 1.02..1.6f64) {
        let bar = bar(Fineness::quick());
        let line = three_coils(Motion::Continuous);
        let mut powers = [80e3, 60e3, 40e3];
        powers[coil] = low;
        let a = line.steady(&bar, &drives(&powers), 1).unwrap().exit;
        powers[coil] = low * more;
        let b = line.steady(&bar, &drives(&powers), 1).unwrap().exit;
        // The settings are met to 1e-4 of the power, 0.1 K.
        prop_assert!(b.mean_c > a.mean_c - 0.2 && b.core_c > a.core_c - 0.2 && b.surface_c > a.surface_c - 0.2,
            "{} {} {} / {} {} {}", a.mean_c, a.core_c, a.surface_c, b.mean_c, b.core_c, b.surface_c);
    }

    /// At the same mean a higher frequency never leaves the core hotter.
    #[test]
    fn higher_frequency_is_never_hotter_in_the_core(low in 500.0..3000.0f64, factor in 1.2..4.0f64) {
        let high = low * factor;
        let bar = Bar::round(0.03, carbon_steel(), high, Fineness::quick()).unwrap();
        let at = |f: f64, load: f64| one_coil(f).steady(&bar, &[Drive::Load(load)], 1).unwrap().exit;
        let a = at(low, 195e3);
        // The hotter surface loses more: bring the mean back to that of the lower frequency.
        let (b0, b1) = (at(high, 195e3), at(high, 200e3));
        let load = 195e3 + 5e3 * (a.mean_c - b0.mean_c) / (b1.mean_c - b0.mean_c);
        let b = at(high, load);
        prop_assert!((a.mean_c - b.mean_c).abs() < 1.0, "{} {}", a.mean_c, b.mean_c);
        prop_assert!(b.core_c < a.core_c + 1.0, "{} {}", a.core_c, b.core_c);
    }
}

/// The exit is smooth in every length: a millimetre more of a gap, a coil or a billet moves no node by more than 1 K beyond
/// what it does anyhow, though an indexed billet stands where it stands.
#[test]
fn the_exit_is_smooth_in_every_length() {
    let bar = bar(Fineness::quick());
    let exit = |gap: f64, coil: f64, slices: usize| {
        let mut line = three_coils(Motion::Indexed);
        line.zones[3].length_m = gap;
        line.zones[2] = coil_zone("coil 2", coil, 1000.0);
        line.steady(&bar, &drives(&POWERS), slices).unwrap().exit
    };
    for slices in [1, 3] {
        let mut before: Option<billet_thermal::inside::heater::line::Exit> = None;
        for step in 0..16 {
            let mm = step as f64 * 1e-3;
            // Past a place of 140 mm and past pieces of it.
            let now = exit(0.066 + mm, 0.900 - mm, slices);
            if let Some(before) = &before {
                for (a, b) in [
                    (before.core_c, now.core_c),
                    (before.surface_c, now.surface_c),
                    (before.mean_c, now.mean_c),
                    (before.peak_c, now.peak_c),
                ] {
                    assert!((a - b).abs() < 1.0, "{slices} pieces, gap {} mm: {a} {b}", 66 + step);
                }
            }
            before = Some(now);
        }
        // A longer heater, by places that come to be entered.
        let (short, long) = (exit(0.119, 0.9, slices), exit(0.120, 0.9, slices));
        assert!(
            (short.mean_c - long.mean_c).abs() < 1.0,
            "{} {}",
            short.mean_c,
            long.mean_c
        );
        let (short, long) = (exit(0.1399, 0.9, slices), exit(0.1401, 0.9, slices));
        assert!(
            (short.mean_c - long.mean_c).abs() < 1.0,
            "{} {}",
            short.mean_c,
            long.mean_c
        );
    }
}
