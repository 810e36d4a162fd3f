//! Control charts and capability against the NIST/SEMATECH e-Handbook of Statistical Methods.

use billet_thermal::inside::ask::statistics::capability as capability_of;
use billet_thermal::inside::measured::charts::{Ewma, Individuals, Rule, signals};

const SERIES: [f64; 20] = [
    52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6,
    52.1,
];

/// Handbook 6.3.2.4: weight 0.3, target 50, standard deviation 2.0539.
#[test]
fn weighted_means() {
    let found = Ewma::of(&SERIES, 50.0, 2.0539, 0.3);
    assert!((found.means[19] - 51.99).abs() < 5e-3);
    assert!(
        (found.limits.1 - 52.5884).abs() < 1e-4 && (found.limits.0 - 47.4115).abs() < 1e-4,
        "{found:?}"
    );
    assert_eq!(found.first_outside(), None);
}

/// Handbook 6.3.2.2: the last ten values.
#[test]
fn individuals() {
    let found = Individuals::of(&SERIES[10..]).unwrap();
    assert!((found.mean - 50.81).abs() < 1e-9 && (found.range - 1.8778).abs() < 5e-5);
    assert!(
        (found.limits.1 - 55.8041).abs() < 5e-5 && (found.limits.0 - 45.8159).abs() < 5e-5,
        "{found:?}"
    );
}

/// Handbook 6.1.6: limits 8 and 20, mean 16, standard deviation 2.
#[test]
fn capability() {
    let found = capability_of(16.0, 2.0, 50, Some(8.0), Some(20.0), 0.95).unwrap();
    let cp = found.cp.unwrap();
    for (found, value) in [
        (cp.estimate, 1.0),
        (found.cpk.estimate, 2.0 / 3.0),
        (found.cpu.unwrap().estimate, 2.0 / 3.0),
        (found.cpl.unwrap().estimate, 4.0 / 3.0),
    ] {
        assert!((found - value).abs() < 1e-12);
    }
    assert!(cp.low < 1.0 && cp.high > 1.0);
}

/// Each rule on a series that breaks it and no other before.
#[test]
fn rules_of_runs() {
    let chart = Individuals {
        count: 100,
        mean: 0.0,
        range: 1.128,
        sigma: 1.0,
        sigma_error: 0.087,
        limits: (-3.0, 3.0),
        range_limit: 10.0,
    };
    let first = |values: &[f64]| signals(values, &chart).first().copied();
    assert_eq!(first(&[0.0, 3.1]), Some((1, Rule::Beyond)));
    assert_eq!(first(&[2.1, 0.0, 2.1]), Some((2, Rule::TwoOfThree)));
    assert_eq!(first(&[1.1, 1.1, 0.0, 1.1, 1.1]), Some((4, Rule::FourOfFive)));
    assert_eq!(first(&[0.1; 8]), Some((7, Rule::Eight)));
    assert_eq!(first(&[-2.9, 0.0, -2.9, 2.9, 0.0, 2.9]), Some((2, Rule::TwoOfThree)));
    assert_eq!(first(&[0.5, -0.5, 0.5, -0.5]), None);
}
