//! Delay limits, exit band, stoppage and decisions against closed forms.

use std::sync::atomic::Ordering;

use billet_thermal::ask::band::{Band, BandOptions, exit_band, exit_for};
use billet_thermal::ask::decide::DecisionTable;
use billet_thermal::ask::delays::{Allowed, DelayOptions, combined, delay_limits, exit_chart};
use billet_thermal::ask::distribution::{Distribution, Normal, Uniform};
use billet_thermal::ask::model::{Change, Model, Probe};
use billet_thermal::ask::stoppage::{positions, survivals};
use billet_thermal::ask::uncertainty::{Scattered, uncertainty};
use billet_thermal::judge::Bound;

use crate::exact::special::normal_quantile;
use crate::plan_support::{BETA, Formula, lumped, lumped_seconds, radiating_line};

fn scattered(path: &str, nominal: f64, distribution: Distribution) -> Scattered {
    Scattered {
        path: path.to_owned(),
        nominal,
        distribution,
    }
}

/// Lumped radiating body: T^-3 = T0^-3 + 3 beta t, so the time to a limit is closed.
#[test]
fn delay_limit_of_a_lumped_radiating_body() {
    let line = radiating_line();
    let nominal = line.run(&[]).unwrap();
    let found = delay_limits(&line, None, &nominal, &[], None, &DelayOptions::default()).unwrap();
    // First carry: the press limit allows t1, the trim limit t1 + t2; the smaller counts.
    let press = lumped_seconds(1240.0, 1150.0) - 4.2;
    let trim = lumped_seconds(1240.0, 1050.0) - 10.2;
    assert!(press < trim);
    let Allowed::Extra { seconds, limit } = found[0].nominal else {
        panic!("{:?}", found[0]);
    };
    assert!(
        seconds <= press && press - seconds < 0.01 && limit == 0,
        "{seconds} for {press}"
    );
    let Allowed::Extra { seconds, limit } = found[1].nominal else {
        panic!("{:?}", found[1]);
    };
    assert!(
        seconds <= trim && trim - seconds < 0.01 && limit == 1,
        "{seconds} for {trim}"
    );
    // By limit: the second carry cannot break the press limit, nothing breaks the exit limit.
    assert!(matches!(found[1].by_limit[0], Allowed::Endless { .. }));
    assert!(matches!(found[0].by_limit[2], Allowed::Endless { .. }));
    let each = found[0].by_limit[1].seconds().unwrap();
    assert!((each - trim).abs() < 0.01);
    // Slope at the nominal time: -beta T^4 at the press.
    let slope = -BETA * (lumped(1240.0, 4.2) + 273.15).powi(4);
    assert!(
        (found[0].k_per_s / slope - 1.0).abs() < 0.02,
        "{} for {slope}",
        found[0].k_per_s
    );
    assert!((found[0].margin_k.unwrap() - (lumped(1240.0, 4.2) - 1150.0)).abs() < 1e-9);
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
    let options = DelayOptions {
        each_limit: false,
        ..DelayOptions::default()
    };
    let alone = radiating_line();
    let nominal = alone.run(&[]).unwrap();
    let direct = delay_limits(&alone, None, &nominal, &[], None, &options).unwrap();
    let full = radiating_line();
    let helped = delay_limits(&full, Some(&cheap), &nominal, &[], None, &options).unwrap();
    for (a, b) in direct.iter().zip(&helped) {
        let (a, b) = (a.nominal.seconds().unwrap(), b.nominal.seconds().unwrap());
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
    let Band::Open { low: found, high } = exit_band(&line, None, &[], &BandOptions::default()).unwrap() else {
        panic!("there is a band");
    };
    assert!(
        (found.exit_c - low).abs() < 0.06 && found.limit == Some(0),
        "{found:?} for {low}"
    );
    assert!((high.exit_c - 1260.0).abs() < 0.06 && high.limit == Some(2));
    // From a nominal exit outside the band the same band is found.
    let start = [Change::new("stage.first.seconds", 4.2)];
    let mut cold = radiating_line_at(1100.0);
    assert!(cold.run(&[]).unwrap().verdicts[0].margin_k < 0.0);
    for _ in 0..2 {
        let Band::Open { low: again, .. } = exit_band(&cold, None, &start, &BandOptions::default()).unwrap() else {
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
    } = exit_band(&line, None, &[], &BandOptions::default()).unwrap()
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
    let Band::Open { low, high } = exit_band(&line, None, &[], &BandOptions::default()).unwrap() else {
        panic!("there is a band");
    };
    assert!((low.exit_c - 1150.0 - drop(4.2)).abs() < 0.06, "{low:?}");
    assert!((high.exit_c - 1250.0).abs() < 0.06);
    let probe = Probe {
        stage: "press".into(),
        moment: "start".into(),
        node: "surface".into(),
    };
    let exit = exit_for(&line, &probe, 1180.0, &BandOptions::default()).unwrap();
    assert!((exit - 1180.0 - drop(4.2)).abs() < 0.06);
    assert!(exit_for(&line, &probe, 5000.0, &BandOptions::default()).is_err());
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
    let band = exit_band(&line, None, &[], &BandOptions::default()).unwrap();
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
    let u = uncertainty(&line, &inputs, &[], &nominal).unwrap();
    let options = DelayOptions::default();
    let found = delay_limits(&line, None, &nominal, &inputs, Some(&u), &options).unwrap();
    let carry = &found[0];
    let sigma = (100.0_f64 + 4.0).sqrt();
    let expect = |z: f64| (50.0 - z * sigma) / 5.0;
    let near = |found: Allowed, wanted: f64| {
        let seconds = found.seconds().unwrap();
        assert!(
            seconds <= wanted + 1e-9 && wanted - seconds < 0.02,
            "{seconds} for {wanted}"
        );
    };
    near(carry.nominal, 10.0);
    near(carry.reject.unwrap(), expect(normal_quantile(0.95)));
    near(carry.alarm.unwrap(), expect(-normal_quantile(0.001_35)));
    // Worst of the other time: three standard deviations, 1.2 s.
    near(carry.worst.unwrap(), 10.0 - 1.2);
    // Worst case is never looser than nominal, alarm never later than reject.
    for f in &found {
        assert!(f.worst.unwrap().seconds() <= f.nominal.seconds());
        assert!(f.alarm.unwrap().seconds() <= f.reject.unwrap().seconds());
    }
}

/// Hotter exit never allows less delay against limits that want the part hot; pairs of delays trade
/// off along T^-3, which for one limit means a constant sum.
#[test]
fn delays_are_monotone_and_add_up() {
    let line = radiating_line();
    let options = DelayOptions::default();
    let temperatures: Vec<f64> = (0..9).map(|k| 1200.0 + 7.0 * f64::from(k)).collect();
    let chart = exit_chart(&line, &line.handovers()[0], &temperatures, &options).unwrap();
    let seconds: Vec<f64> = chart.by_limit.iter().map(|row| row[0].seconds().unwrap()).collect();
    assert!(seconds.windows(2).all(|w| w[1] > w[0]), "{seconds:?}");
    for (t, s) in temperatures.iter().zip(&seconds) {
        assert!((s - (lumped_seconds(*t, 1150.0) - 4.2)).abs() < 0.01);
    }
    let pairs = combined(&line, None, &line.handovers()[0], &line.handovers()[1], 4, &options).unwrap();
    let total = lumped_seconds(1240.0, 1050.0) - 10.2;
    for (first, second) in pairs {
        assert!((first + second - total).abs() < 0.02, "{first} + {second} for {total}");
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
    let found = survivals(&line, None, &nominal, &places, &stops, 600.0).unwrap();
    let exact = lumped_seconds(1240.0, 1150.0) - 4.2;
    assert!((found[0].longest.seconds().unwrap() - exact).abs() < 0.02);
    for survival in &found {
        let longest = survival.longest.seconds().unwrap();
        for (stop, good) in stops.iter().zip(&survival.good) {
            assert_eq!(*good, *stop <= longest);
        }
    }
}

/// The lookup never says good where the run says broken, is not wasteful, and takes microseconds.
#[test]
fn decisions_are_safe_close_and_fast() {
    let line = radiating_line();
    let exits: Vec<f64> = (0..9).map(|k| 1180.0 + 10.0 * f64::from(k)).collect();
    let table = DecisionTable::build(&line, &exits, 30.0, &[]).unwrap();
    assert!(table.additive_error_k >= -1e-9, "{}", table.additive_error_k);
    let mut worst = 0.0_f64;
    for e in 0..40 {
        for a in 0..20 {
            for b in [0.0, 2.0, 7.0] {
                let exit = 1180.0 + 2.0 * f64::from(e);
                let (first, second) = (4.2 + f64::from(a), 6.0 + b);
                let decision = table.decide(exit, &[first, second]).unwrap();
                let exact = [
                    lumped(exit, first) - 1150.0,
                    lumped(exit, first + second) - 1050.0,
                    1260.0 - exit,
                ];
                let least = exact.iter().copied().fold(f64::INFINITY, f64::min);
                assert!(decision.margin_k <= least + 1e-9, "unsafe at {exit} {first} {second}");
                if b == 0.0 {
                    worst = worst.max(least - decision.margin_k);
                }
            }
        }
    }
    assert!(worst < 2.5, "wastes {worst} K with one late hand-over");
    let seconds = table.longest_s(0, 1240.0).unwrap().unwrap();
    let exact = lumped_seconds(1240.0, 1150.0);
    assert!(seconds <= exact && exact - seconds < 0.7, "{seconds} for {exact}");
    assert!((seconds * 10.0 - (seconds * 10.0).round()).abs() < 1e-9);
    assert!(table.decide(1500.0, &[4.2, 6.0]).is_err());
    assert!(!table.decide(1240.0, &[400.0, 6.0]).unwrap().good);
    assert!(table.decide(1240.0, &[4.2]).is_err());
    let start = std::time::Instant::now();
    for _ in 0..1000 {
        std::hint::black_box(table.decide(1234.5, &[6.7, 7.8]).unwrap());
    }
    // A thousand decisions in the time that one may take.
    assert!(start.elapsed().as_secs_f64() < 0.1, "{:?} for 1000", start.elapsed());
}
