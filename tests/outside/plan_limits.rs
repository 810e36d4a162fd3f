//! Delay limits, exit band, stoppage and decisions against closed forms.

use std::sync::atomic::Ordering;

use billet_thermal::inside::ask::band::{Band, BandOptions, EndOf, exit_band, exit_for};
use billet_thermal::inside::ask::decide::{Decision, DecisionTable, Guard, Identity};
use billet_thermal::inside::ask::distribution::{Distribution, Normal, Uniform};
use billet_thermal::inside::ask::hand_overs::{HandOverTimes, State, Uncertain, exit_chart, hand_over_times, pairs};
use billet_thermal::inside::ask::model::{Change, Model, Probe};
use billet_thermal::inside::ask::risk::{GuardLine, Guards, Risk, Spread};
use billet_thermal::inside::ask::stoppage::{positions, survivals};
use billet_thermal::inside::ask::times::{Times, TimesOptions};
use billet_thermal::inside::ask::uncertainty::Scattered;
use billet_thermal::inside::judge::{Bound, Moment};

use crate::exact::special::normal_quantile;
use crate::plan_support::{BETA, Formula, lumped, lumped_seconds, radiating_line};

fn scattered(path: &str, nominal: f64, distribution: Distribution) -> Scattered {
    Scattered {
        path: path.to_owned(),
        nominal,
        distribution,
    }
}

fn times(line: &Formula, cheap: Option<&dyn Model>) -> Vec<HandOverTimes> {
    let planned = line.run(&[]).unwrap();
    hand_over_times(line, cheap, &planned, &Uncertain::default(), &TimesOptions::default()).unwrap()
}

/// Lumped radiating body: T^-3 = T0^-3 + 3 beta t, so the time to a limit is closed.
#[test]
fn latest_times_of_a_lumped_radiating_body() {
    let found = times(&radiating_line(), None);
    // First carry: the press limit allows t1, the trim limit t1 + t2; the smaller counts.
    let press = lumped_seconds(1240.0, 1150.0);
    let trim = lumped_seconds(1240.0, 1050.0);
    assert!(press < trim - 6.0);
    let edge = found[0].alone.latest().unwrap();
    assert!(
        edge.seconds <= press && press - edge.seconds < 0.01 && edge.limit == 0,
        "{edge:?} for {press}"
    );
    let edge = found[1].alone.latest().unwrap();
    let exact = trim - 4.2;
    assert!(
        edge.seconds <= exact && exact - edge.seconds < 0.01 && edge.limit == 1,
        "{edge:?} for {exact}"
    );
    // Nothing is too hot at any length, and nothing but the planned times is known of the spread.
    assert!(
        found
            .iter()
            .all(|t| t.alone.earliest().is_none() && t.reject.is_none() && t.others_worst.is_none())
    );
    // Slope at the planned time: -beta T^4 at the press.
    let slope = -BETA * (lumped(1240.0, 4.2) + 273.15).powi(4);
    assert!(
        (found[0].k_per_s[0] / slope - 1.0).abs() < 0.02,
        "{} for {slope}",
        found[0].k_per_s[0]
    );
    assert!((found[0].margins_k[0] - (lumped(1240.0, 4.2) - 1150.0)).abs() < 1e-9);
}

/// A part that is too hot for its trim tool must wait, and may then not wait too long: both ends by
/// the closed form, from a plan that is too fast, right, and too slow.
#[test]
fn a_hand_over_has_an_earliest_and_a_latest_time() {
    let (low, high) = (lumped_seconds(1240.0, 1000.0), lumped_seconds(1240.0, 900.0));
    for planned in [2.0, 0.5 * (low + high), high + 5.0] {
        let line = Formula::new(
            &[
                ("heater.temperature_c", "degC", 1240.0),
                ("stage.wait.seconds", "s", planned),
            ],
            &[
                ("trim", Bound::MaxC(1000.0)),
                ("trim", Bound::MinC(900.0)),
                ("exit", Bound::MaxC(1260.0)),
            ],
            |x| vec![lumped(x[0], x[1]), lumped(x[0], x[1]), x[0]],
        );
        let found = &times(&line, None)[0];
        let (earliest, latest) = (found.alone.earliest().unwrap(), found.alone.latest().unwrap());
        assert!(
            earliest.seconds >= low && earliest.seconds - low < 0.02 && earliest.limit == 0,
            "{earliest:?} {low}"
        );
        assert!(
            latest.seconds <= high && high - latest.seconds < 0.02 && latest.limit == 1,
            "{latest:?} {high}"
        );
        let states = [low - 0.1, low + 0.1, high - 0.1, high + 0.1].map(|s| found.state(s));
        assert_eq!(states, [State::Wait, State::Good, State::Good, State::Reject]);
    }
}

/// Limits that exclude each other leave no time, and both are named; a limit that no time mends does not
/// stand in the way of the others.
#[test]
fn where_no_time_is_right_both_limits_are_named() {
    let line = Formula::new(
        &[
            ("heater.temperature_c", "degC", 1240.0),
            ("stage.wait.seconds", "s", 10.0),
        ],
        &[("trim", Bound::MaxC(900.0)), ("trim", Bound::MinC(1000.0))],
        |x| vec![lumped(x[0], x[1]), lumped(x[0], x[1])],
    );
    let found = &times(&line, None)[0];
    assert!(
        matches!(
            found.alone,
            Times::Never {
                limit: 1,
                other: Some(0),
                ..
            }
        ),
        "{:?}",
        found.alone
    );
    let line = Formula::new(
        &[
            ("heater.temperature_c", "degC", 1240.0),
            ("stage.wait.seconds", "s", 2.0),
        ],
        &[("exit", Bound::MaxC(1200.0)), ("press", Bound::MinC(1150.0))],
        |x| vec![x[0], lumped(x[0], x[1])],
    );
    let found = &times(&line, None)[0];
    assert_eq!(found.alone.latest().unwrap().limit, 1);
}

/// A cheaper model that is wrong by an offset and a factor must lead to the same answer.
#[test]
fn a_cheap_model_changes_the_cost_but_not_the_answer() {
    let cheap = Formula::new(
        &[
            ("heater.temperature_c", "degC", 1240.0),
            ("stage.first.seconds", "s", 4.2),
            ("stage.second.seconds", "s", 6.0),
        ],
        &[
            ("surface", Bound::MinC(1150.0)),
            ("mean", Bound::MinC(1050.0)),
            ("exit", Bound::MaxC(1260.0)),
        ],
        |x| {
            vec![
                lumped(x[0], 1.07 * x[1]) + 9.0,
                lumped(x[0], 1.07 * (x[1] + x[2])) - 6.0,
                x[0] - 1.0,
            ]
        },
    );
    let alone = radiating_line();
    let direct = times(&alone, None);
    let full = radiating_line();
    let helped = times(&full, Some(&cheap));
    for (a, b) in direct.iter().zip(&helped) {
        let (a, b) = (a.alone.latest().unwrap().seconds, b.alone.latest().unwrap().seconds);
        assert!((a - b).abs() < 0.02, "{a} and {b}");
    }
    let (many, few) = (alone.runs.load(Ordering::Relaxed), full.runs.load(Ordering::Relaxed));
    assert!(2 * few < many, "{few} full runs with help, {many} without");
}

/// Exit band of the same body: the lower end is where the trim limit is just met after both carries
/// (or the press limit after the first), the upper end the exit limit.
#[test]
fn exit_band_of_a_lumped_radiating_body() {
    let line = radiating_line();
    let back = |limit_c: f64, t: f64| lumped(limit_c, -t);
    let low = back(1150.0, 4.2).max(back(1050.0, 10.2));
    let Band::Open { low: found, high } =
        exit_band(&line, None, &[], &GuardLine::default(), &BandOptions::default()).unwrap()
    else {
        panic!("there is a band");
    };
    assert!(
        (found.exit_c - low).abs() < 0.06 && found.by == EndOf::Limit(0),
        "{found:?} for {low}"
    );
    assert!((high.exit_c - 1260.0).abs() < 0.06 && high.limit() == Some(2));
    // From a nominal exit outside the band the same band is found.
    let start = [Change::new("stage.first.seconds", 4.2)];
    let mut cold = radiating_line_at(1100.0);
    assert!(cold.run(&[]).unwrap().verdicts[0].margin_k < 0.0);
    for _ in 0..2 {
        let Band::Open { low: again, .. } =
            exit_band(&cold, None, &start, &GuardLine::default(), &BandOptions::default()).unwrap()
        else {
            panic!("there is a band");
        };
        assert!((again.exit_c - low).abs() < 0.06, "{again:?}");
        cold = radiating_line_at(1400.0);
    }
}

fn radiating_line_at(exit_c: f64) -> Formula {
    Formula::new(
        &[
            ("heater.temperature_c", "degC", exit_c),
            ("stage.first.seconds", "s", 4.2),
            ("stage.second.seconds", "s", 6.0),
        ],
        &[
            ("surface", Bound::MinC(1150.0)),
            ("mean", Bound::MinC(1050.0)),
            ("exit", Bound::MaxC(1260.0)),
        ],
        |x| vec![lumped(x[0], x[1]), lumped(x[0], x[1] + x[2]), x[0]],
    )
}

/// Too long a carry: the press limit wants more than the exit limit allows. The carry must get
/// shorter by its length minus the time from 1260 to 1150 degC.
#[test]
fn no_band_names_the_pair_and_the_step() {
    let line = Formula::new(
        &[
            ("heater.temperature_c", "degC", 1240.0),
            ("stage.first.seconds", "s", 25.0),
            ("stage.second.seconds", "s", 1.0),
        ],
        &[
            ("surface", Bound::MinC(1150.0)),
            ("mean", Bound::MinC(900.0)),
            ("exit", Bound::MaxC(1260.0)),
        ],
        |x| vec![lumped(x[0], x[1]), lumped(x[0], x[1] + x[2]), x[0]],
    );
    let Band::Closed {
        wants_hotter,
        wants_colder,
        openings,
        ..
    } = exit_band(&line, None, &[], &GuardLine::default(), &BandOptions::default()).unwrap()
    else {
        panic!("there is no band");
    };
    assert_eq!((wants_hotter, wants_colder), (0, 2));
    let exact = 25.0 - lumped_seconds(1260.0, 1150.0);
    assert_eq!(openings.len(), 1);
    assert_eq!(openings[0].stage, "first");
    assert!(
        (openings[0].shorten_s / exact - 1.0).abs() < 0.05,
        "{openings:?} for {exact}"
    );
}

/// Semi-infinite body with constant surface flux q: T_s = T0 - (2q/k) sqrt(a t / pi) (Carslaw and
/// Jaeger 2.9), so the coldest exit for a surface limit is the limit plus that drop.
#[test]
fn exit_band_of_a_semi_infinite_body() {
    // q 250 kW/m2, k 28 W/mK, a 5.6e-6 m2/s.
    fn drop(t: f64) -> f64 {
        2.0 * 250e3 / 28.0 * (5.6e-6 * t / std::f64::consts::PI).sqrt()
    }
    let line = Formula::new(
        &[
            ("heater.temperature_c", "degC", 1240.0),
            ("stage.first.seconds", "s", 4.2),
        ],
        &[("surface", Bound::MinC(1150.0)), ("core", Bound::MaxC(1250.0))],
        |x| vec![x[0] - drop(x[1]), x[0]],
    );
    let Band::Open { low, high } = exit_band(&line, None, &[], &GuardLine::default(), &BandOptions::default()).unwrap()
    else {
        panic!("there is a band");
    };
    assert!((low.exit_c - 1150.0 - drop(4.2)).abs() < 0.06, "{low:?}");
    assert!((high.exit_c - 1250.0).abs() < 0.06);
    let probe = Probe {
        stage: "press".into(),
        moment: Moment::Start,
        node: "surface".into(),
    };
    let exit = exit_for(&line, &probe, 1180.0, &BandOptions::default()).unwrap();
    assert!((exit - 1180.0 - drop(4.2)).abs() < 0.06);
    assert!(exit_for(&line, &probe, 5000.0, &BandOptions::default()).is_err());
}

/// A node that feels half of the exit temperature: one step of the size of the error does not reach the answer, the
/// whole range does. 600 degC at the node are 1200 degC at the exit.
#[test]
fn an_exit_beyond_the_first_step_is_found() {
    let line = Formula::new(
        &[("heater.temperature_c", "degC", 1240.0)],
        &[("surface", Bound::MinC(500.0))],
        |x| vec![0.5 * x[0]],
    );
    let probe = Probe {
        stage: "press".into(),
        moment: Moment::Start,
        node: "surface".into(),
    };
    let exit = exit_for(&line, &probe, 600.0, &BandOptions::default()).unwrap();
    assert!((exit - 1200.0).abs() < 0.2, "{exit}");
}

/// A broken limit that the heater cannot mend is named, not searched for.
#[test]
fn hopeless_limits_are_told() {
    let line = Formula::new(
        &[
            ("heater.temperature_c", "degC", 1240.0),
            ("stage.first.seconds", "s", 4.2),
        ],
        &[("surface", Bound::MinC(1150.0)), ("die", Bound::MaxC(400.0))],
        |x| vec![x[0] - 10.0 * x[1], 450.0],
    );
    let band = exit_band(&line, None, &[], &GuardLine::default(), &BandOptions::default()).unwrap();
    assert!(matches!(band, Band::Hopeless { limit: 1, .. }), "{band:?}");
}

/// Linear line: margin 50 K at nominal, 5 K/s in the carry, 1 K/K of exit. With sigma 10 K of exit
/// and 0.4 s (2 K) of another wait, the guard band at risk 5 % is 1.645 sqrt(104) K; the carry's own
/// scatter (3 s) is measured by the timer and must not count.
#[test]
fn guard_bands_of_a_linear_line() {
    let line = Formula::new(
        &[
            ("heater.temperature_c", "degC", 1240.0),
            ("stage.carry.seconds", "s", 4.0),
            ("stage.wait.seconds", "s", 1.0),
        ],
        &[("surface", Bound::MinC(1165.0))],
        |x| vec![x[0] - 5.0 * (x[1] + x[2])],
    );
    let nominal = line.run(&[]).unwrap();
    assert!((nominal.verdicts[0].margin_k - 50.0).abs() < 1e-9);
    let inputs = [
        scattered(
            "heater.temperature_c",
            1240.0,
            Distribution::Normal(Normal::new(1240.0, 10.0).unwrap()),
        ),
        scattered(
            "stage.carry.seconds",
            4.0,
            Distribution::Uniform(Uniform::new(2.0, 8.0).unwrap()),
        ),
        scattered(
            "stage.wait.seconds",
            1.0,
            Distribution::Normal(Normal::new(1.0, 0.4).unwrap()),
        ),
    ];
    let spread = Spread {
        scattered: &inputs,
        ..Spread::default()
    };
    let risk = Risk::new(&line, &spread, None).unwrap().unwrap();
    assert!(risk.error_k()[0] < 1e-9, "a plane is met exactly");
    let spread = Uncertain {
        scattered: &inputs,
        risk: Some(&risk),
    };
    let found = hand_over_times(&line, None, &nominal, &spread, &TimesOptions::default()).unwrap();
    let carry = &found[0];
    let sigma = (100.0_f64 + 4.0).sqrt();
    let expect = |z: f64| 4.0 + (50.0 - z * sigma) / 5.0;
    let seconds = |times: &Times| times.latest().unwrap().seconds;
    let near = |found: &Times, wanted: f64| {
        let seconds = seconds(found);
        assert!(
            seconds <= wanted + 1e-9 && wanted - seconds < 0.06,
            "{seconds} for {wanted}"
        );
    };
    // A quantile of samples is safe by up to a thirtieth of the standard deviation, 0.3 K or 0.06 s.
    near(&carry.alone, 14.0);
    near(carry.reject.as_ref().unwrap(), expect(normal_quantile(0.95)));
    near(carry.alarm.as_ref().unwrap(), expect(-normal_quantile(0.001_35)));
    // Worst of the other time: three standard deviations, 1.2 s.
    near(carry.others_worst.as_ref().unwrap(), 14.0 - 1.2);
    // Worst case is never looser than planned, alarm never later than reject.
    for f in &found {
        assert!(seconds(f.others_worst.as_ref().unwrap()) <= seconds(&f.alone));
        assert!(seconds(f.alarm.as_ref().unwrap()) <= seconds(f.reject.as_ref().unwrap()));
    }
}

/// Hotter exit never allows less delay against limits that want the part hot; pairs of delays trade
/// off along T^-3, which for one limit means a constant sum.
#[test]
fn delays_are_monotone_and_add_up() {
    let line = radiating_line();
    let options = TimesOptions::default();
    let temperatures: Vec<f64> = (0..9).map(|k| 1200.0 + 7.0 * f64::from(k)).collect();
    let chart = exit_chart(&line, &line.handovers()[0], &temperatures, &options).unwrap();
    let seconds: Vec<f64> = chart
        .by_limit
        .iter()
        .map(|row| row[0].latest().unwrap().seconds)
        .collect();
    assert!(seconds.windows(2).all(|w| w[1] > w[0]), "{seconds:?}");
    for (t, s) in temperatures.iter().zip(&seconds) {
        assert!((s - lumped_seconds(*t, 1150.0)).abs() < 0.01);
    }
    let (first, second) = (&line.handovers()[0], &line.handovers()[1]);
    let planned = line.run(&[]).unwrap();
    let found = pairs((&line, None), &planned, first, second, 4, &options).unwrap();
    assert_eq!(found.len(), 5);
    let total = lumped_seconds(1240.0, 1050.0);
    for pair in found {
        let sum = pair.first_s + pair.second.latest().unwrap().seconds;
        assert!((sum - total).abs() < 0.02, "{sum} for {total}");
    }
}

/// A stop of n seconds adds n seconds where the part is: survival is the delay limit there.
#[test]
fn stops_are_survived_up_to_the_delay_limit() {
    let line = radiating_line();
    let nominal = line.run(&[]).unwrap();
    let places = positions(&line, &nominal);
    assert_eq!(places.len(), 2);
    let stops = [5.0, 10.0, 30.0];
    let found = survivals((&line, None), &nominal, &places, &Uncertain::default(), &stops, 600.0).unwrap();
    let exact = lumped_seconds(1240.0, 1150.0) - 4.2;
    assert!((found[0].longest_s().unwrap() - exact).abs() < 0.02);
    // The same number as the hand-over has, whoever asks.
    let latest = times(&line, None)[0].alone.latest().unwrap().seconds;
    assert_eq!(found[0].alone.latest().unwrap().seconds, latest);
    for survival in &found {
        let longest = survival.longest_s().unwrap();
        for (stop, state) in stops.iter().zip(&survival.states) {
            assert_eq!(*state == State::Good, *stop <= longest, "{stop} of {longest}");
        }
    }
}

/// The look-up never says good where the run says broken, is not wasteful, and takes microseconds.
#[test]
fn decisions_are_safe_close_and_fast() {
    let line = radiating_line();
    let planned = line.run(&[]).unwrap().margins_k();
    let identity = || Identity {
        title: "test".to_owned(),
        part: Some("A-1".to_owned()),
        revision: None,
        input_sha256: String::new(),
        program: String::new(),
        reject_risk: 0.05,
        alarm_risk: 0.001_35,
    };
    let none = || Guards {
        reject: vec![0.0; 3],
        alarm: vec![0.0; 3],
    };
    let table = DecisionTable::build(&line, &planned, none(), identity()).unwrap();
    let (mut worst, mut good) = (0.0_f64, 0);
    for e in 0..45 {
        for a in 0..40 {
            for b in [0.0, 3.0, 6.0, 8.0, 13.0] {
                let (exit, first, second) = (1193.0 + 2.0 * f64::from(e), 0.5 * f64::from(a), b);
                let decision = table.decide(exit, &[first, second]);
                let exact = [
                    lumped(exit, first) - 1150.0,
                    lumped(exit, first + second) - 1050.0,
                    1260.0 - exit,
                ];
                let least = exact.iter().copied().fold(f64::INFINITY, f64::min);
                if let Decision::Good { margin_k, .. } = decision {
                    good += 1;
                    assert!(margin_k <= least + 1e-9, "unsafe at {exit} {first} {second}");
                    if b == 6.0 {
                        worst = worst.max(least - margin_k);
                    }
                }
            }
        }
    }
    assert!(
        good > 1000 && worst < 12.0,
        "{good} good, wastes {worst} K with one late hand-over"
    );
    let latest = table
        .times(0, 1240.0, Guard::Reject, None)
        .unwrap()
        .latest()
        .unwrap()
        .seconds;
    let exact = lumped_seconds(1240.0, 1150.0);
    assert!(latest <= exact && exact - latest < 1.5, "{latest} for {exact}");
    assert!((latest * 10.0 - (latest * 10.0).round()).abs() < 1e-9);
    // Nothing is good by default.
    for (exit, times) in [
        (1500.0, vec![4.2, 6.0]),
        (f64::NAN, vec![4.2, 6.0]),
        (1240.0, vec![400.0, 6.0]),
        (1240.0, vec![-5.0, 6.0]),
        (1240.0, vec![4.2, f64::NAN]),
        (1240.0, vec![4.2, 6.0, 1.0]),
    ] {
        assert_eq!(table.decide(exit, &times), Decision::Outside, "{exit} {times:?}");
    }
    // Hand-overs still to come count as planned.
    assert_eq!(table.decide(1240.0, &[4.2]), table.decide(1240.0, &[4.2, 6.0]));
    let start = std::time::Instant::now();
    for _ in 0..1000 {
        std::hint::black_box(table.decide(1234.5, &[6.7, 7.8]));
    }
    // A thousand decisions in the time that one may take.
    assert!(start.elapsed().as_secs_f64() < 0.1, "{:?} for 1000", start.elapsed());
    // A table that was touched, of another version, or with numbers that are none, is refused.
    table.check().unwrap();
    let mut other = table.clone();
    other.guard_k[0] = -1000.0;
    assert!(other.check().is_err());
    let mut other = table.clone();
    other.schema_version = 1;
    assert!(other.check().unwrap_err().to_string().contains("version 1"));
}

/// A part faster than planned is hotter: the table must see it where a limit wants the part cold, and
/// say how long to wait.
#[test]
fn a_part_too_fast_for_its_trim_tool_waits() {
    let line = Formula::new(
        &[
            ("heater.temperature_c", "degC", 1240.0),
            ("stage.wait.seconds", "s", 80.0),
        ],
        &[("trim", Bound::MaxC(1000.0)), ("trim", Bound::MinC(850.0))],
        |x| vec![lumped(x[0], x[1]), lumped(x[0], x[1])],
    );
    let planned = line.run(&[]).unwrap().margins_k();
    let identity = Identity {
        title: String::new(),
        part: None,
        revision: None,
        input_sha256: String::new(),
        program: String::new(),
        reject_risk: 0.05,
        alarm_risk: 0.001_35,
    };
    let guards = Guards {
        reject: vec![2.0; 2],
        alarm: vec![8.0; 2],
    };
    let table = DecisionTable::build(&line, &planned, guards, identity).unwrap();
    let exact = lumped_seconds(1240.0, 998.0);
    match table.decide(1240.0, &[10.0]) {
        Decision::Wait { until_s, limit: 0, .. } => {
            assert!(until_s >= exact && until_s < exact + 5.0, "{until_s} for {exact}");
            assert!(table.decide(1240.0, &[until_s]).goes_on());
        }
        other => panic!("{other:?}"),
    }
    assert!(matches!(
        table.decide(1240.0, &[exact + 0.8]),
        Decision::Alarm { .. } | Decision::Wait { .. }
    ));
    assert!(matches!(table.decide(1240.0, &[59.0]), Decision::Wait { .. }));
    assert!(matches!(table.decide(1240.0, &[95.0]), Decision::Good { .. }));
    assert_eq!(table.decide(1240.0, &[200.0]), Decision::Outside);
}
