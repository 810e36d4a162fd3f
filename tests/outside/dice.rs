//! Random numbers from a seed, the same on every machine.

/// SplitMix64 (Steele, Lea, Flood, OOPSLA 2014; from memory).
pub struct Dice(pub u64);

impl Dice {
    pub fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// Between 0 and 1.
    pub fn next(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1_u64 << 53) as f64
    }

    pub fn below(&mut self, n: usize) -> usize {
        (self.bits() % n.max(1) as u64) as usize
    }

    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.next()
    }

    /// Even on a logarithmic scale.
    pub fn spread(&mut self, low: f64, high: f64) -> f64 {
        low * (high / low).powf(self.next())
    }

    pub fn chance(&mut self, share: f64) -> bool {
        self.next() < share
    }

    pub fn pick<'a>(&mut self, of: &[&'a str]) -> &'a str {
        of[(self.next() * of.len() as f64) as usize]
    }
}
