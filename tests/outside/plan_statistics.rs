//! Statistics against published tables and worked examples.

use std::f64::consts::PI;

use billet_thermal::inside::ask::random::{Sampler, Scheme};
use billet_thermal::inside::ask::statistics::{Share, capability, clopper_pearson, shares, wilson};

/// R. G. Newcombe, "Two-sided confidence intervals for the single proportion", Statistics in
/// Medicine 17 (1998), 857-872, table I: methods 3 (Wilson) and 5 (Clopper and Pearson), 95 %.
#[test]
fn intervals_of_a_proportion_agree_with_newcombe() {
    let table = [
        (81, 263, (0.2553, 0.3662), (0.2527, 0.3676)),
        (15, 148, (0.0624, 0.1605), (0.0578, 0.1617)),
        (0, 20, (0.0, 0.1611), (0.0, 0.1684)),
        (1, 29, (0.0061, 0.1718), (0.0009, 0.1776)),
    ];
    for (count, runs, score, exact) in table {
        let found = wilson(count, runs, 0.95).unwrap();
        assert!((found.low - score.0).abs() < 6e-5 && (found.high - score.1).abs() < 6e-5);
        let found = clopper_pearson(count, runs, 0.95).unwrap();
        assert!((found.low - exact.0).abs() < 6e-5 && (found.high - exact.1).abs() < 6e-5);
    }
}

/// NIST/SEMATECH e-Handbook of Statistical Methods, section 6.1.6: limits 8 and 20, mean 16,
/// standard deviation 2 give Cp 1.0, Cpu 0.6667, Cpl 1.3333, Cpk 0.6667.
#[test]
fn capability_agrees_with_the_handbook_example() {
    let c = capability(16.0, 2.0, 50, Some(8.0), Some(20.0), 0.95).unwrap();
    assert!((c.cp.unwrap().estimate - 1.0).abs() < 1e-12);
    assert!((c.cpu.unwrap().estimate - 0.6667).abs() < 5e-5);
    assert!((c.cpl.unwrap().estimate - 1.3333).abs() < 5e-5);
    assert!((c.cpk.estimate - 0.6667).abs() < 5e-5);
    // One-sided: only the lower limit is there.
    let one = capability(16.0, 2.0, 50, Some(8.0), None, 0.95).unwrap();
    assert!(one.cp.is_none() && one.cpu.is_none());
    assert!((one.cpk.estimate - 1.3333).abs() < 5e-5);
    assert!(capability(16.0, 2.0, 50, None, None, 0.95).is_err());
    assert!(capability(16.0, 0.0, 50, Some(8.0), None, 0.95).is_err());
    assert!(capability(16.0, 2.0, 50, Some(20.0), Some(8.0), 0.95).is_err());
}

/// D. C. Montgomery, "Introduction to Statistical Quality Control", chapter on process capability:
/// limits 38 and 62, s 1.75, n 20 give Cp 2.29 with 95 % interval 1.57 to 3.01; Cpk 1.33 with n 20
/// gives 0.88 to 1.78 (quoted from memory, recalculated from the formulas there).
#[test]
fn capability_intervals_agree_with_the_textbook_examples() {
    let c = capability(50.0, 1.75, 20, Some(38.0), Some(62.0), 0.95).unwrap();
    let cp = c.cp.unwrap();
    assert!((cp.estimate - 2.29).abs() < 5e-3);
    assert!((cp.low - 1.57).abs() < 6e-3 && (cp.high - 3.01).abs() < 6e-3, "{cp:?}");
    let c = capability(3.99, 1.0, 20, Some(0.0), None, 0.95).unwrap();
    assert!(
        (c.cpk.low - 0.88).abs() < 5e-3 && (c.cpk.high - 1.78).abs() < 5e-3,
        "{c:?}"
    );
}

fn variance_shares(f: impl Fn(&[f64]) -> f64, inputs: usize, runs: u64) -> Vec<Share> {
    let sampler = Sampler::new(Scheme::QuasiRandom, 11, runs, 2 * inputs).unwrap();
    let (mut a, mut b) = (Vec::new(), Vec::new());
    let mut mixed = vec![Vec::new(); inputs];
    for i in 0..runs {
        let point = sampler.point(i);
        let (left, right) = point.split_at(inputs);
        a.push(f(left));
        b.push(f(right));
        for (j, list) in mixed.iter_mut().enumerate() {
            let mut x = left.to_vec();
            x[j] = right[j];
            list.push(f(&x));
        }
    }
    shares(&a, &b, &mixed).unwrap()
}

/// T. Ishigami and T. Homma (1990) with a = 7, b = 0.1; shares as tabulated by A. Saltelli et al.,
/// "Global Sensitivity Analysis: The Primer" (2008): first order 0.3139, 0.4424, 0; total 0.5576,
/// 0.4424, 0.2437.
#[test]
fn shares_of_the_ishigami_function() {
    let found = variance_shares(
        |u| {
            let x: Vec<f64> = u.iter().map(|u| PI * (2.0 * u - 1.0)).collect();
            x[0].sin() + 7.0 * x[1].sin().powi(2) + 0.1 * x[2].powi(4) * x[0].sin()
        },
        3,
        8192,
    );
    let table = [(0.3139, 0.5576), (0.4424, 0.4424), (0.0, 0.2437)];
    for (share, (first, total)) in found.iter().zip(table) {
        assert!((share.first - first).abs() < 0.008, "{share:?} for {first}");
        assert!((share.total - total).abs() < 0.008, "{share:?} for {total}");
        // The stated error is that of independent samples, so it must cover.
        assert!((share.first - first).abs() < 3.0 * share.first_error + 1e-4);
        assert!(share.first_error < 0.02 && share.total_error < 0.02);
    }
}

/// Sobol's g function with a = 0, 1, 4.5, 9, 99 x 4 (A. Saltelli and I. M. Sobol, 1995): partial
/// variances 1/(3 (1+a)^2), giving first order 0.716, 0.179, 0.024, 0.0072 and total 0.787, 0.242,
/// 0.034, 0.0105, and 0.0001 for the rest (A. Saltelli et al. 2010, table 5).
#[test]
fn shares_of_the_g_function() {
    let a = [0.0, 1.0, 4.5, 9.0, 99.0, 99.0, 99.0, 99.0];
    let found = variance_shares(
        |u| {
            u.iter()
                .zip(a)
                .map(|(x, a)| ((4.0 * x - 2.0).abs() + a) / (1.0 + a))
                .product()
        },
        8,
        8192,
    );
    let published = [(0.716, 0.787), (0.179, 0.242), (0.024, 0.034), (0.0072, 0.0105)];
    for (share, (first, total)) in found.iter().zip(published) {
        assert!((share.first - first).abs() < 0.006, "{share:?} for {first}");
        assert!((share.total - total).abs() < 0.006, "{share:?} for {total}");
    }
    for share in &found[4..] {
        assert!(share.first.abs() < 5e-4 && share.total.abs() < 5e-4, "{share:?}");
    }
}
