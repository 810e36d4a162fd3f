//! Latin hypercube with random access.

use super::hash::{hash, open_unit};

/// Coordinate `dimension` of sample `index` out of `samples`: a random place in slice p(index),
/// where p is a random permutation of the slices that belongs to (seed, dimension).
#[allow(clippy::cast_precision_loss)]
pub(super) fn coordinate(seed: u64, index: u64, samples: u64, dimension: usize) -> f64 {
    let key = hash(seed, 0x4c48, dimension as u64);
    let slice = permute(key, index, samples);
    let within = open_unit(hash(key, 0x4a49, index));
    // The product may round up to the slice's end; the next slice's start is still below 1
    // except in the last slice, which is kept open.
    ((slice as f64 + within) / samples as f64).min(1.0 - f64::EPSILON)
}

/// Place of `index` in a permutation of 0..`size` chosen by `key`, without building it: a Feistel
/// network on the next even power of two, walked until it lands inside (J. Black and P. Rogaway,
/// "Ciphers with arbitrary finite domains", CT-RSA 2002).
fn permute(key: u64, index: u64, size: u64) -> u64 {
    if size <= 1 {
        return 0;
    }
    let bits = 64 - (size - 1).leading_zeros();
    let half = bits.div_ceil(2);
    let mask = (1_u64 << half) - 1;
    let mut value = index;
    loop {
        let (mut left, mut right) = (value >> half, value & mask);
        for round in 0..8 {
            let next = left ^ (hash(key, round, right) & mask);
            left = right;
            right = next;
        }
        value = (left << half) | right;
        if value < size {
            return value;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn permutation_is_a_bijection() {
        for size in [1_u64, 2, 3, 7, 64, 1000] {
            let mut seen = vec![false; usize::try_from(size).unwrap()];
            for i in 0..size {
                let place = usize::try_from(permute(99, i, size)).unwrap();
                assert!(!seen[place], "{place} twice in {size}");
                seen[place] = true;
            }
        }
    }
}
