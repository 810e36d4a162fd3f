//! Sobol points with nested uniform scrambling, addressed by index.

use std::sync::OnceLock;

use super::hash::{hash, open_unit};
use super::joe_kuo::ROWS;

/// Most coordinates a quasi-random point can have.
pub(super) const MOST_DIMENSIONS: usize = ROWS.len() + 1;

const BITS: u32 = 32;

/// Direction numbers of all dimensions, computed once.
fn directions() -> &'static [[u32; BITS as usize]] {
    static TABLE: OnceLock<Vec<[u32; BITS as usize]>> = OnceLock::new();
    TABLE.get_or_init(|| {
        let mut table = Vec::with_capacity(MOST_DIMENSIONS);
        let mut reversal = [0_u32; BITS as usize];
        for (k, v) in reversal.iter_mut().enumerate() {
            *v = 1 << (BITS as usize - 1 - k);
        }
        table.push(reversal);
        for row in &ROWS {
            let s = row.degree as usize;
            let mut v = [0_u32; BITS as usize];
            for k in 0..BITS as usize {
                v[k] = if k < s {
                    row.start[k] << (BITS as usize - 1 - k)
                } else {
                    // Recurrence of the primitive polynomial, equation (3) of Joe and Kuo (2008).
                    let mut value = v[k - s] ^ (v[k - s] >> s);
                    for j in 1..s {
                        if (row.inner >> (s - 1 - j)) & 1 == 1 {
                            value ^= v[k - j];
                        }
                    }
                    value
                };
            }
            table.push(v);
        }
        table
    })
}

/// Coordinate `dimension` of point `index` before scrambling, as a 32-bit fraction; `index` is
/// taken in plain binary order (the Gray-code order has the same points in each block of 2^k).
fn plain(index: u64, dimension: usize) -> u32 {
    let v = &directions()[dimension];
    let mut x = 0;
    for (k, direction) in v.iter().enumerate() {
        if (index >> k) & 1 == 1 {
            x ^= direction;
        }
    }
    x
}

/// Scrambled coordinate, strictly between 0 and 1. Each binary digit is flipped or not by a coin
/// that depends on all digits before it (Owen 1998); the digits beyond the 32 of the sequence
/// are pure coins, as they are in the limit of the same construction.
pub(super) fn scrambled(seed: u64, index: u64, dimension: usize) -> f64 {
    let key = hash(seed, 0x534f, dimension as u64);
    let x = plain(index, dimension);
    let mut result = 0_u32;
    for k in 0..BITS {
        let shift = BITS - 1 - k;
        // The digits above this one, with a leading 1 so that prefixes of any length differ.
        let prefix = (1_u64 << k) | (u64::from(x) >> (shift + 1));
        let coin = u32::from(hash(key, 0x4f57, prefix) >> 63 == 1);
        result |= (((x >> shift) & 1) ^ coin) << shift;
    }
    let rest = hash(key, 0x5245, u64::from(x)) >> 32;
    open_unit((u64::from(result) << 32) | rest)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Points 1000 (Gray order) and 7 (Gray order) of the same table as computed by SciPy 1.17,
    /// `scipy.stats.qmc.Sobol(100, scramble=False)`; Gray index g(i) = i ^ (i >> 1).
    #[test]
    fn plain_points_agree_with_an_independent_program() {
        let scale = f64::from(u32::MAX) + 1.0;
        let gray = |i: u64| i ^ (i >> 1);
        for (dimension, expected) in [
            (0, 0.219_726_562_5),
            (1, 0.096_679_687_5),
            (5, 0.907_226_562_5),
            (40, 0.913_085_937_5),
            (99, 0.186_523_437_5),
        ] {
            assert_eq!(f64::from(plain(gray(1000), dimension)) / scale, expected);
        }
        for (dimension, expected) in [(2, 0.375), (9, 0.875), (63, 0.375)] {
            assert_eq!(f64::from(plain(gray(7), dimension)) / scale, expected);
        }
    }

    /// Scrambling keeps the net: the first 2^m points have one point in each of 2^m slices of every
    /// coordinate, and dimensions 1 and 2 one point in each of the 2^m boxes of any shape.
    #[test]
    fn scrambling_keeps_the_strata() {
        let m = 8_u32;
        let n = 1_u64 << m;
        for dimension in 0..MOST_DIMENSIONS {
            let mut seen = vec![false; 1 << m];
            for i in 0..n {
                let slice = (scrambled(5, i, dimension) * f64::from(1 << m)) as usize;
                assert!(!seen[slice], "dimension {dimension}");
                seen[slice] = true;
            }
        }
        for a in 0..=m {
            let (wide, high) = (1_usize << a, 1_usize << (m - a));
            let mut seen = vec![false; 1 << m];
            for i in 0..n {
                let x = (scrambled(5, i, 0) * wide as f64) as usize;
                let y = (scrambled(5, i, 1) * high as f64) as usize;
                assert!(!seen[x * high + y], "boxes 1/{wide} by 1/{high}");
                seen[x * high + y] = true;
            }
        }
    }
}
