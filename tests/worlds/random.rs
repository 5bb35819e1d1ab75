//! A small generator of pseudorandom numbers: the same numbers for a seed, everywhere.

/// SplitMix64: a counter and a mixing function (Steele, Lea, Flood 2014; constants from memory).
pub struct Random {
    state: u64,
}

impl Random {
    pub fn new(seed: u64) -> Self {
        let mut random = Self { state: seed.wrapping_mul(0x2545_F491_4F6C_DD1D) ^ 0x1234_5678_9ABC_DEF1 };
        for _ in 0..4 {
            random.next();
        }
        random
    }

    fn next(&mut self) -> u64 {
        self.state = self.state.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.state;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// Uniform in 0 to 1.
    pub fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Uniform between the two.
    pub fn within(&mut self, from: f64, to: f64) -> f64 {
        from + (to - from) * self.unit()
    }

    /// A whole number from `from` to `to`, both included.
    pub fn count(&mut self, from: usize, to: usize) -> usize {
        from + (self.unit() * (to - from + 1) as f64) as usize
    }

    pub fn chance(&mut self, share: f64) -> bool {
        self.unit() < share
    }

    /// +1 or -1.
    pub fn sign(&mut self) -> f64 {
        if self.chance(0.5) { 1.0 } else { -1.0 }
    }

    /// Standard normal (Box and Muller).
    pub fn normal(&mut self) -> f64 {
        let (u, v) = (1.0 - self.unit(), self.unit());
        (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * v).cos()
    }
}
