//! In: a seed. Out: the same random numbers for ever, whatever the release of any dependency.
//!
//! Method: xoshiro256++ seeded through splitmix64 (Blackman and Vigna 2021, ACM Trans. Math. Softw. 47, 36); normal
//! deviates by the polar method (Marsaglia and Bray 1964, SIAM Review 6, 260).

/// One stream of random numbers.
#[derive(Debug, Clone)]
pub(crate) struct Random {
    state: [u64; 4],
    spare: Option<f64>,
}

fn splitmix64(state: &mut u64) -> u64 {
    *state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let mut z = *state;
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

impl Random {
    /// The stream of that name under that seed. Streams of different names are independent, so that a further draw
    /// from one does not move the others.
    pub(crate) fn stream(seed: u64, name: &str) -> Self {
        let mut state = seed;
        let mut mixed = splitmix64(&mut state);
        for byte in name.bytes() {
            state = mixed ^ u64::from(byte);
            mixed = splitmix64(&mut state);
        }
        Self::new(mixed)
    }

    /// A stream from a seed.
    pub(crate) fn new(mut seed: u64) -> Self {
        let state = std::array::from_fn(|_| splitmix64(&mut seed));
        Self { state, spare: None }
    }

    /// The next 64 bits.
    pub(crate) fn bits(&mut self) -> u64 {
        let s = &mut self.state;
        let result = s[0].wrapping_add(s[3]).rotate_left(23).wrapping_add(s[0]);
        let t = s[1] << 17;
        s[2] ^= s[0];
        s[3] ^= s[1];
        s[1] ^= s[2];
        s[0] ^= s[3];
        s[2] ^= t;
        s[3] = s[3].rotate_left(45);
        result
    }

    /// Uniform in [0, 1).
    pub(crate) fn unit(&mut self) -> f64 {
        (self.bits() >> 11) as f64 * (1.0 / (1_u64 << 53) as f64)
    }

    /// Uniform between the two ends.
    pub(crate) fn between(&mut self, range: [f64; 2]) -> f64 {
        range[0] + (range[1] - range[0]) * self.unit()
    }

    /// A whole number from the first to the last of the range, both included.
    pub(crate) fn count(&mut self, range: [u32; 2]) -> u32 {
        let span = f64::from(range[1].saturating_sub(range[0])) + 1.0;
        range[0] + (span * self.unit()) as u32
    }

    /// True with that probability.
    pub(crate) fn chance(&mut self, probability: f64) -> bool {
        self.unit() < probability
    }

    /// -1 or 1.
    pub(crate) fn sign(&mut self) -> f64 {
        if self.chance(0.5) { 1.0 } else { -1.0 }
    }

    /// Standard normal.
    pub(crate) fn normal(&mut self) -> f64 {
        if let Some(spare) = self.spare.take() {
            return spare;
        }
        loop {
            let (u, v) = (self.between([-1.0, 1.0]), self.between([-1.0, 1.0]));
            let s = u * u + v * v;
            if s > 0.0 && s < 1.0 {
                let factor = (-2.0 * s.ln() / s).sqrt();
                self.spare = Some(v * factor);
                return u * factor;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_bits_are_those_of_the_reference_program() {
        // xoshiro256++ from state 1, 2, 3, 4: output of the authors' C program, as published in the tests of several
        // libraries; the first is rotl(1 + 4, 23) + 1 by hand.
        let mut random = Random { state: [1, 2, 3, 4], spare: None };
        for expected in [41943041, 58720359, 3588806011781223, 3591011842654386, 9228616714210784205] {
            assert_eq!(random.bits(), expected);
        }
    }

    #[test]
    fn the_seeding_is_that_of_the_reference_program() {
        // splitmix64 from seed 1234567: output of the author's C program, as published in the tests of several
        // libraries.
        let mut state = 1234567;
        for expected in [6457827717110365317, 3203168211198807973, 9817491932198370423_u64] {
            assert_eq!(splitmix64(&mut state), expected);
        }
    }

    #[test]
    fn uniform_and_normal_have_their_moments() {
        let n = 200_000;
        let mut random = Random::stream(1, "moments");
        let (mut mean, mut square, mut fourth, mut unit) = (0.0, 0.0, 0.0, 0.0);
        for _ in 0..n {
            let x = random.normal();
            mean += x;
            square += x * x;
            fourth += x.powi(4);
            unit += random.unit();
        }
        let n = f64::from(n);
        // Five standard errors of the mean, the variance, the fourth moment (3, variance 96) and the uniform mean.
        assert!((mean / n).abs() < 5.0 / n.sqrt());
        assert!((square / n - 1.0).abs() < 5.0 * (2.0 / n).sqrt());
        assert!((fourth / n - 3.0).abs() < 5.0 * (96.0 / n).sqrt());
        assert!((unit / n - 0.5).abs() < 5.0 * (1.0 / 12.0 / n).sqrt());
    }

    #[test]
    fn a_count_reaches_both_ends() {
        let mut random = Random::stream(2, "count");
        let mut seen = [0; 4];
        for _ in 0..400 {
            seen[random.count([0, 3]) as usize] += 1;
        }
        assert!(seen.iter().all(|&k| k > 60), "{seen:?}");
    }
}
