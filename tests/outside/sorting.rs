//! Risks of accepting and rejecting by a reading.

use billet_thermal::inside::measured::risk::risks;

fn normal(x: f64) -> f64 {
    (-0.5 * x * x).exp() / (2.0 * std::f64::consts::PI).sqrt()
}

/// Limits of two standard deviations: test ratios 4:1, and 2:1 with a guard factor of 0.91 (Deaver 1993, as quoted).
#[test]
fn risks_of_a_calibration() {
    let found = risks(&normal, (-9.0, 9.0), (-2.0, 2.0), (-2.0, 2.0), 0.25);
    assert!((found.false_accept - 0.008_006_1).abs() < 5e-8, "{found:?}");
    assert!((found.false_reject - 0.014_850_9).abs() < 5e-8);
    let found = risks(&normal, (-9.0, 9.0), (-2.0, 2.0), (-1.82, 1.82), 0.5);
    assert!((found.false_accept - 0.008_051_6).abs() < 5e-8, "{found:?}");
    assert!((found.false_reject - 0.066_106_5).abs() < 5e-8);
}

/// JCGM 106:2012, 9.5.4: a prior gamma distribution of shape 4 and rate 4, tolerance limit 2, uncertainty 0.25.
#[test]
fn the_worked_example_of_jcgm_106() {
    let gamma = |y: f64| {
        if y > 0.0 {
            256.0 * y.powi(3) * (-4.0 * y).exp() / 6.0
        } else {
            0.0
        }
    };
    let at = |accept: f64| risks(&gamma, (0.0, 15.0), (0.0, 2.0), (-1e9, accept), 0.25);
    let found = at(2.0);
    assert!((found.bad - 0.042_38).abs() < 5e-6, "{found:?}");
    assert!((found.false_accept - 0.008_019_11).abs() < 5e-9);
    assert!((at(1.671_83).false_accept - 0.001).abs() < 1e-7);
}
