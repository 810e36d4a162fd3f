//! Sampling schemes against their defining properties and known integrals.

use billet_thermal::inside::ask::random::{Sampler, Scheme};

/// McKay, Beckman and Conover (1979): each input has exactly one value in each of n equal slices.
#[test]
fn latin_hypercube_fills_every_slice_once() {
    for n in [1_u64, 7, 100, 1001] {
        let sampler = Sampler::new(Scheme::LatinHypercube, 42, n, 6).unwrap();
        let mut seen = vec![vec![false; n as usize]; 6];
        for i in 0..n {
            for (j, u) in sampler.point(i).iter().enumerate() {
                let slice = (u * n as f64) as usize;
                assert!(!seen[j][slice], "n {n}, input {j}, slice {slice}");
                seen[j][slice] = true;
            }
        }
    }
}

/// Integral over the unit cube of prod (|4x-2| + a)/(1 + a) is 1 (Sobol's g function). Scrambled
/// Sobol points must gain about n^-1 or better where independent points gain n^-1/2 (Owen 1998).
#[test]
fn quasi_random_integration_converges_faster() {
    let a = [0.0, 1.0, 4.5, 9.0, 99.0, 99.0, 99.0, 99.0];
    let error = |scheme, n: u64| {
        // Root mean square over 16 seeds.
        let square: f64 = (1..=16)
            .map(|seed| {
                let sampler = Sampler::new(scheme, seed, n, 8).unwrap();
                let sum: f64 = (0..n)
                    .map(|i| {
                        sampler
                            .point(i)
                            .iter()
                            .zip(a)
                            .map(|(x, a)| ((4.0 * x - 2.0).abs() + a) / (1.0 + a))
                            .product::<f64>()
                    })
                    .sum();
                (sum / n as f64 - 1.0).powi(2)
            })
            .sum();
        (square / 16.0).sqrt()
    };
    let order = |scheme| (error(scheme, 64) / error(scheme, 4096)).ln() / 64.0_f64.ln();
    let (plain, latin, quasi) = (
        order(Scheme::Independent),
        order(Scheme::LatinHypercube),
        order(Scheme::QuasiRandom),
    );
    assert!((0.3..0.7).contains(&plain), "independent order {plain}");
    assert!(quasi > 0.9, "quasi-random order {quasi}");
    let (e_plain, e_latin, e_quasi) = (
        error(Scheme::Independent, 4096),
        error(Scheme::LatinHypercube, 4096),
        error(Scheme::QuasiRandom, 4096),
    );
    assert!(e_latin < 0.5 * e_plain, "{e_latin} against {e_plain} (order {latin})");
    assert!(e_quasi < 1e-3 && e_quasi < 0.1 * e_plain, "{e_quasi} against {e_plain}");
}
