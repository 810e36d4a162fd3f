//! Set-points: what is found holds, what is impossible is said to be, remedies work.

use billet_thermal::inside::heater::Fineness;
use billet_thermal::inside::heater::coil::Drive;
use billet_thermal::inside::heater::line::{HeaterLine, Motion, Target};
use billet_thermal::inside::heater::ratings::{Limits, Rating, Ratings};
use billet_thermal::inside::heater::search::{Goal, Least, Means, Miss, Remedy, Status, find_powers, remedies};

use crate::heater_line::{bar, three_coils};

fn goal(value_c: f64, difference_k: f64) -> Goal {
    Goal {
        target: Target::Mean,
        value_c,
        after_s: 0.0,
        difference_k: Some(difference_k),
        never_above_c: 1330.0,
        tolerance_k: 1.0,
        least: Least::Energy,
    }
}

/// The powers found, put into the line on their own, give the target and keep the limits.
#[test]
fn found_powers_hold_on_their_own() {
    let bar = bar(Fineness::quick());
    for motion in [Motion::Continuous, Motion::Indexed] {
        let line = three_coils(motion);
        let found = find_powers(&line, &bar, &goal(1240.0, 60.0), &[200e3; 3], None, 1).unwrap();
        assert_eq!(found.status, Status::Met, "{:?}", found.powers_w);
        let drives: Vec<Drive> = found.powers_w.iter().map(|p| Drive::Terminals(*p)).collect();
        let exit = line.steady(&bar, &drives, 1).unwrap().exit;
        assert!((exit.mean_c - 1240.0).abs() < 1.0, "{}", exit.mean_c);
        assert!((exit.surface_c - exit.core_c).abs() < 61.0);
        assert!(exit.peak_c < 1331.0);
        // The same question, the same answer.
        let again = find_powers(&line, &bar, &goal(1240.0, 60.0), &[200e3; 3], None, 1).unwrap();
        assert_eq!(found.powers_w, again.powers_w);
    }
}

/// A narrower difference costs energy; the least energy has the widest difference allowed.
#[test]
fn evenness_costs_energy() {
    let bar = bar(Fineness::quick());
    let line = three_coils(Motion::Continuous);
    let energy = |d: f64| {
        let found = find_powers(&line, &bar, &goal(1240.0, d), &[250e3; 3], None, 1).unwrap();
        assert_eq!(found.status, Status::Met, "{d}");
        found.steady.balance.terminals_w
    };
    let (wide, middle, narrow) = (energy(90.0), energy(50.0), energy(20.0));
    assert!(wide < middle && middle < narrow, "{wide} {middle} {narrow}");
}

/// Least time of scaling leaves less of it than least energy does.
#[test]
fn least_scaling_scales_less() {
    let bar = bar(Fineness::quick());
    let line = three_coils(Motion::Continuous);
    let scaling = |least| {
        let goal = Goal {
            least,
            ..goal(1230.0, 60.0)
        };
        let found = find_powers(&line, &bar, &goal, &[250e3; 3], None, 1).unwrap();
        assert!(!matches!(found.status, Status::Impossible(_)), "{:?}", found.status);
        found.steady.exit.scaling_s
    };
    assert!(scaling(Least::Scaling) <= scaling(Least::Energy) + 1.0);
}

/// The target may lie after the exit: the exit is then hotter by what the air takes.
#[test]
fn a_target_at_the_first_blow() {
    let bar = bar(Fineness::quick());
    let line = three_coils(Motion::Continuous);
    let later = Goal {
        target: Target::Surface,
        after_s: 4.2,
        ..goal(1190.0, 90.0)
    };
    let found = find_powers(&line, &bar, &later, &[250e3; 3], None, 1).unwrap();
    assert!((found.at_target.surface_c - 1190.0).abs() < 1.0, "{:?}", found.status);
    assert!(found.steady.exit.surface_c > found.at_target.surface_c + 25.0);
}

/// Without the power for it the target is impossible; the nearest result has all coils at their
/// end, and the remedies named meet the goal.
#[test]
fn impossible_goals_name_reason_and_remedy() {
    let bar = bar(Fineness::quick());
    let line = three_coils(Motion::Continuous);
    let goal = goal(1240.0, 80.0);
    let found = find_powers(&line, &bar, &goal, &[80e3; 3], None, 1).unwrap();
    let Status::Impossible(missed) = &found.status else {
        panic!("{:?}", found.status);
    };
    assert_eq!(missed[0].miss, Miss::TooCold);
    assert!(missed[0].value < 1239.0);
    let ratings = Ratings::default();
    let means = Means {
        highest_w: &[80e3; 3],
        ratings: &ratings,
        gives_hz: &[],
    };
    let help = remedies(&line, (&bar, 1), &goal, &found, &means);
    let mut seen = 0;
    for remedy in help {
        match remedy {
            Remedy::Takt { takt_s, powers_w } => {
                seen += 1;
                assert!(powers_w.iter().all(|p| *p <= 80e3 * (1.0 + 1e-9)));
                let slower = HeaterLine { takt_s, ..line.clone() };
                let drives: Vec<Drive> = powers_w.iter().map(|p| Drive::Terminals(*p)).collect();
                let exit = slower.steady(&bar, &drives, 1).unwrap().exit;
                assert!((exit.mean_c - 1240.0).abs() < 1.5, "{takt_s} {}", exit.mean_c);
            }
            Remedy::Power { powers_w } => {
                seen += 1;
                assert!(powers_w.iter().sum::<f64>() > 240e3);
            }
            Remedy::Frequency { .. } => {}
        }
    }
    assert_eq!(seen, 2, "both a slower takt and more power help here");
}

#[test]
fn contradicting_goals_are_refused() {
    let bar = bar(Fineness::quick());
    let line = three_coils(Motion::Continuous);
    let error = find_powers(&line, &bar, &goal(1340.0, 50.0), &[200e3; 3], None, 1).unwrap_err();
    assert!(
        error.to_string().contains("1340") && error.to_string().contains("1330"),
        "{error}"
    );
    assert!(find_powers(&line, &bar, &goal(1240.0, -5.0), &[200e3; 3], None, 1).is_err());
    assert!(find_powers(&line, &bar, &goal(1240.0, 50.0), &[200e3, 0.0, 200e3], None, 1).is_err());
    assert!(find_powers(&line, &bar, &goal(1240.0, 50.0), &[200e3; 2], None, 1).is_err());
}

/// A slower takt or another frequency is a remedy only with what the coils may carry.
#[test]
fn remedies_keep_what_coils_may_carry() {
    let bar = bar(Fineness::quick());
    let line = three_coils(Motion::Continuous);
    let goal = goal(1240.0, 80.0);
    let found = find_powers(&line, &bar, &goal, &[80e3; 3], None, 1).unwrap();
    let seen = line.readings(&found.steady.coils);
    // Nine tenths of the current that the nearest result takes.
    let limits = |amperes: f64| Limits {
        amperes: Some(0.9 * amperes),
        ..Limits::default()
    };
    let ratings = Ratings {
        coils: seen.coils.iter().map(|r| limits(r.amperes)).collect(),
        converters: Vec::new(),
    };
    let means = Means {
        highest_w: &[80e3; 3],
        ratings: &ratings,
        gives_hz: &[],
    };
    // Whether the shortest takt that would do breaks what the coils may carry.
    let breaks = |means: &Means| {
        let remedies = remedies(&line, (&bar, 1), &goal, &found, means);
        let takt = remedies.into_iter().find_map(|remedy| match remedy {
            Remedy::Takt { takt_s, powers_w } => Some((takt_s, powers_w)),
            _ => None,
        });
        let (takt_s, powers_w) = takt.unwrap();
        let slower = HeaterLine { takt_s, ..line.clone() };
        let steady = slower.steady(&bar, &slower.at_powers(&powers_w), 1).unwrap();
        let readings = ratings.of(&slower, &slower.readings(&steady.coils));
        readings.iter().any(Rating::is_broken)
    };
    assert!(!breaks(&means));
    let free = Means {
        ratings: &Ratings::default(),
        ..means
    };
    assert!(breaks(&free), "the ratings change nothing");
}
