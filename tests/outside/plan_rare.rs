//! Rare events against the exact probability of a linear margin of normal inputs.

use std::convert::Infallible;

use billet_thermal::inside::ask::random::Stream;
use billet_thermal::inside::ask::rare::{ImportanceOptions, RareError, SubsetOptions, importance, subset};

use crate::exact::special::normal_cdf;

/// A margin in K that is normal: mean `beta` times its standard deviation (14.1 K, put together from
/// five spreads), so that P(margin < 0) = Phi(-beta).
fn linear(beta: f64) -> impl Fn(&[f64]) -> Result<f64, Infallible> + Sync {
    const SPREAD: [f64; 5] = [10.0, -9.2, 2.6, 2.7, 0.5];
    let total = SPREAD.iter().map(|s| s * s).sum::<f64>().sqrt();
    move |u| Ok(beta * total + u.iter().zip(SPREAD).map(|(u, s)| u * s).sum::<f64>())
}

const BETAS: [f64; 4] = [1.0, 2.326_347_874_040_841, 3.719_016_485_455_681, 4.753_424_308_822_899];

/// Exact: normal tail probability, here 0.159, 1e-2, 1e-4 and 1e-6.
#[test]
fn importance_sampling_agrees_with_the_exact_probability() {
    for beta in BETAS {
        let exact = normal_cdf(-beta);
        let mut scaled = 0.0;
        for seed in 1..=20 {
            let options = ImportanceOptions {
                seed,
                ..ImportanceOptions::default()
            };
            let found = importance(linear(beta), 5, &options).unwrap();
            assert!(found.relative_error < 0.06, "{found:?}");
            scaled += ((found.probability / exact - 1.0) / found.relative_error).powi(2) / 20.0;
            let distance = found.likely_point.iter().map(|x| x * x).sum::<f64>().sqrt();
            assert!((distance - beta).abs() < 1e-6);
        }
        // Mean square of the error in units of the stated error: chi-square with 20 degrees over 20,
        // 99.9 % of which lies between 0.30 and 2.4.
        assert!((0.30..2.4).contains(&scaled), "beta {beta}: {scaled}");
    }
}

#[test]
fn subset_simulation_agrees_with_the_exact_probability() {
    for beta in BETAS {
        let exact = normal_cdf(-beta);
        let mut scaled = 0.0;
        for seed in 1..=10 {
            let options = SubsetOptions {
                seed,
                ..SubsetOptions::default()
            };
            let found = subset(linear(beta), 5, &options).unwrap();
            assert!(found.relative_error < 0.8, "{found:?}");
            scaled += ((found.probability / exact).ln() / found.relative_error).powi(2) / 10.0;
        }
        // The stated error is an upper bound, so the scaled square may be well below 1; chi-square
        // with 10 degrees over 10 exceeds 2.96 once in a thousand.
        assert!(scaled < 2.96, "beta {beta}: {scaled}");
        assert!(scaled > 0.02, "beta {beta}: stated error far too wide, {scaled}");
    }
}

/// Two borders at +beta and -beta: 2 Phi(-beta). Importance sampling sees one of them only, subset
/// simulation both.
#[test]
fn subset_simulation_sees_two_regions() {
    let beta = 3.5;
    let margin = |u: &[f64]| Ok::<_, Infallible>(beta - u[0].abs());
    let mut mean = 0.0;
    for seed in 1..=10 {
        let options = SubsetOptions {
            seed,
            ..SubsetOptions::default()
        };
        mean += subset(margin, 4, &options).unwrap().probability / 10.0;
    }
    let exact = 2.0 * normal_cdf(-beta);
    assert!((mean / exact - 1.0).abs() < 0.2, "{mean} for {exact}");
}

#[test]
fn impossible_events_and_failures_are_typed() {
    let never = |_: &[f64]| Ok::<_, Infallible>(5.0);
    assert!(matches!(
        importance(never, 3, &ImportanceOptions::default()),
        Err(RareError::NotFound { .. })
    ));
    assert!(matches!(
        subset(never, 3, &SubsetOptions::default()),
        Err(RareError::NotFound { .. })
    ));
    let broken = |u: &[f64]| {
        if u[0] > 0.5 {
            Err("no convergence")
        } else {
            Ok(1.0 - u[0])
        }
    };
    assert_eq!(
        subset(broken, 1, &SubsetOptions::default()),
        Err(RareError::Margin("no convergence"))
    );
    let nan = |_: &[f64]| Ok::<_, Infallible>(f64::NAN);
    assert!(matches!(
        subset(nan, 1, &SubsetOptions::default()),
        Err(RareError::NotANumber { .. })
    ));
}

/// The sampling of the margin itself: counting must give the same probability where counting can.
#[test]
fn counting_agrees_at_one_per_cent() {
    let margin = linear(BETAS[1]);
    let n = 20_000;
    let count = (0..n)
        .filter(|&i| {
            let mut stream = Stream::new(3, i);
            let u: Vec<f64> = (0..5).map(|_| stream.normal()).collect();
            margin(&u).unwrap() < 0.0
        })
        .count();
    // 200 expected, standard deviation 14.
    assert!((150..250).contains(&count), "{count}");
}
