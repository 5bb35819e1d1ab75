//! What is put on the scale before the first pour: a step in the load that shows the scale's response.

use super::{GRID_HZ, Random, Shape};
use std::f64::consts::TAU;

/// What is put on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Put {
    /// 12 to 25 g; the zero key is pressed after it in half of the logs.
    Dose,
    /// 150 to 600 g; the zero key is pressed after it.
    Vessel,
}

/// How it was put on.
#[derive(Debug, Clone, Copy)]
pub struct Placed {
    pub mass_g: f64,
    /// The first instant at which it weighs.
    pub from_s: f64,
    pub takes_s: f64,
    pub shape: Shape,
    /// A swing of the load after it: share of the mass, Hz, time constant, s.
    pub bounce: Option<(f64, f64, f64)>,
    pub zeroed_s: Option<f64>,
}

/// Time before the first pour that it takes, s.
pub const PLACED_S: f64 = 6.0;

impl Put {
    pub fn draw(self, random: &mut Random) -> Placed {
        let mass_g = match self {
            Self::Dose => random.within(12.0, 25.0),
            Self::Vessel => random.within(150.0, 600.0),
        };
        let from_s = random.within(1.5, 3.0);
        let bounces = random.chance(0.5);
        let bounce = (random.within(0.05, 0.3), random.within(4.0, 9.0), random.within(0.05, 0.15));
        let zeroed = self == Self::Vessel || random.chance(0.5);
        Placed {
            mass_g,
            from_s,
            takes_s: random.within(0.1, 0.4),
            shape: [Shape::Linear, Shape::HalfCosine][random.count(0, 1)],
            bounce: bounces.then_some(bounce),
            zeroed_s: zeroed.then_some(from_s + random.within(3.0, 4.5)),
        }
    }
}

impl Placed {
    /// Its load at an instant, g.
    pub fn load_g(&self, time_s: f64) -> f64 {
        let swing = self.bounce.map_or(0.0, |(share, hz, within_s)| {
            let t = (time_s - self.from_s - self.takes_s).max(0.0);
            share * (-t / within_s).exp() * (TAU * hz * t).sin()
        });
        self.mass_g * (self.shape.at((time_s - self.from_s) / self.takes_s) + swing)
    }

    /// The mean of the instants at which its load comes, s: the middle of it, but for the swing.
    pub fn middle_s(&self) -> f64 {
        let swing_s = self.bounce.map_or(0.0, |(share, hz, within_s)| {
            let w = TAU * hz;
            share * w * within_s.powi(2) / (1.0 + (w * within_s).powi(2))
        });
        self.from_s + 0.5 * self.takes_s - swing_s
    }

    /// Adds its load to that on the points of the grid.
    pub fn add_to(&self, load_g: &mut [f64]) {
        let from = (self.from_s * GRID_HZ) as usize;
        load_g.iter_mut().enumerate().skip(from).for_each(|(i, g)| *g += self.load_g(i as f64 / GRID_HZ));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mass_is_put_on_in_its_time_and_stays() {
        for (put, least, most) in [(Put::Dose, 12.0, 25.0), (Put::Vessel, 150.0, 600.0)] {
            for seed in 0..20 {
                let placed = put.draw(&mut Random::new(seed));
                assert!((least..most).contains(&placed.mass_g) && (0.1..0.4).contains(&placed.takes_s));
                assert_eq!(placed.load_g(placed.from_s), 0.0);
                // Both shapes are even about their middle, where they are a half.
                let half = placed.load_g(placed.from_s + 0.5 * placed.takes_s);
                assert!((half - 0.5 * placed.mass_g).abs() < 1e-9);
                assert!((placed.load_g(placed.from_s + placed.takes_s) - placed.mass_g).abs() < 1e-9);
                // A swing has decayed by e^13 after 2 s, at the slowest.
                assert!((placed.load_g(placed.from_s + 2.4) - placed.mass_g).abs() < 1e-3);
                let zeroed = placed.zeroed_s.is_none_or(|s| s > placed.from_s + 2.9 && s < PLACED_S + 2.0);
                assert!(zeroed && (put == Put::Dose || placed.zeroed_s.is_some()));
            }
        }
    }

    #[test]
    fn a_bounce_overshoots() {
        let placed = Placed {
            mass_g: 100.0,
            from_s: 1.0,
            takes_s: 0.2,
            shape: Shape::Linear,
            bounce: Some((0.2, 5.0, 0.1)),
            zeroed_s: None,
        };
        // A quarter of a period after it: 20 g that have decayed by exp(-.5).
        assert!((placed.load_g(1.25) - 100.0 - 20.0 * (-0.5f64).exp()).abs() < 1e-9);
    }

    #[test]
    fn a_load_comes_in_the_mean_when_what_it_lacks_says() {
        // The mean of a distribution from 0 on is the integral of one less its distribution function, here by the
        // trapezium rule up to 10 s.
        for seed in 0..20 {
            let placed = Put::Dose.draw(&mut Random::new(seed));
            let mut load_g = vec![0.0; 10_001];
            placed.add_to(&mut load_g);
            let lacks = |w: &[f64]| 1.0 - 0.5 * (w[0] + w[1]) / placed.mass_g;
            let mean_s = load_g.windows(2).map(lacks).sum::<f64>() / GRID_HZ;
            assert!((placed.middle_s() - mean_s).abs() < 1e-5);
        }
    }
}
