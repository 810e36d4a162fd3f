//! Mixing of bits.

/// Maps 64 random bits to the middle of one of 2^52 equal slices of (0, 1).
#[allow(clippy::cast_precision_loss)]
pub(super) fn open_unit(bits: u64) -> f64 {
    ((bits >> 12) as f64 + 0.5) / (1_u64 << 52) as f64
}

/// Mixing step of G. L. Steele, D. Lea and C. H. Flood, "Fast splittable pseudorandom number
/// generators" (2014): every input bit reaches every output bit.
pub(super) fn mix(value: u64) -> u64 {
    let mut z = value.wrapping_add(0x9e37_79b9_7f4a_7c15);
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

/// A hash of three numbers.
pub(super) fn hash(a: u64, b: u64, c: u64) -> u64 {
    mix(mix(mix(a) ^ b) ^ c)
}
