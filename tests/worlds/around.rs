//! What else presses on a scale while somebody pours.

use super::truth::TruePour;
use super::{GRID_HZ, Random, Shape};
use std::f64::consts::TAU;

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Around {
    /// A hand that rests on the rim with 1 to 5 g, from up to 1 s before each pour until up to .5 s after it.
    Rim,
    /// A kettle that is set on the same table .5 to 2 s after each pour: a swing, and .1 to .3 g that stay, either way.
    Table,
    /// A bench that shakes by .1 to .5 g at 2 to 12 Hz, now more, now less.
    Shaking,
}

impl Around {
    /// Adds what presses to the load on the points of the grid.
    pub fn add_to(self, load_g: &mut [f64], pours: &[TruePour], random: &mut Random) {
        match self {
            Self::Rim => pours.iter().for_each(|pour| {
                let (from_s, to_s) =
                    (pour.start_s - random.within(0.2, 1.0), pour.end_s + random.within(0.1, 0.5));
                let (pressed_g, takes_s) = (random.within(1.0, 5.0), random.within(0.1, 0.2));
                add(load_g, |t| {
                    let on = Shape::HalfCosine.at((t - from_s) / takes_s);
                    pressed_g * on * Shape::HalfCosine.at((to_s - t) / takes_s)
                });
            }),
            Self::Table => pours.iter().for_each(|pour| {
                let at_s = pour.end_s + random.within(0.5, 2.0);
                let (swing_g, hz) = (random.within(0.5, 4.0), random.within(3.0, 9.0));
                let (within_s, stays_g) = (random.within(0.05, 0.2), random.sign() * random.within(0.1, 0.3));
                add(load_g, |t| {
                    let after_s = (t - at_s).max(0.0);
                    let swing = (-after_s / within_s).exp() * (TAU * hz * after_s).sin();
                    swing_g * swing + stays_g * Shape::Linear.at((t - at_s) / 0.05)
                });
            }),
            Self::Shaking => {
                let (shaken_g, hz) = (random.within(0.1, 0.5), random.within(2.0, 12.0));
                let (swells_s, phase) = (random.within(4.0, 15.0), random.within(0.0, TAU));
                add(load_g, |t| {
                    let swell = 0.5 - 0.5 * (TAU * t / swells_s + phase).cos();
                    shaken_g * swell * (TAU * hz * t).sin()
                });
            }
        }
    }
}

fn add(load_g: &mut [f64], of: impl Fn(f64) -> f64) {
    load_g.iter_mut().enumerate().for_each(|(i, g)| *g += of(i as f64 / GRID_HZ));
}

#[cfg(test)]
mod tests {
    use super::super::true_pours;
    use super::*;

    /// A pour of 6 g/s from 5 to 15 s: what presses on the scale about it.
    fn pressed(around: Around, seed: u64) -> (Vec<f64>, TruePour) {
        let mut flow = vec![0.0; 25_000];
        flow[5_000..15_000].fill(6.0);
        let pours = true_pours(&flow, &[]);
        let mut load = vec![0.0; 25_001];
        around.add_to(&mut load, &pours, &mut Random::new(seed));
        (load, pours[0].clone())
    }

    fn largest(load: &[f64]) -> f64 {
        load.iter().fold(0.0, |most, g| g.abs().max(most))
    }

    #[test]
    fn a_hand_presses_over_the_whole_pour_and_leaves() {
        for seed in 0..20 {
            let (load, pour) = pressed(Around::Rim, seed);
            let at = |s: f64| (s * GRID_HZ) as usize;
            let held = load[at(10.0)];
            assert!((1.0..5.0).contains(&held) && (load[at(pour.start_s) + 1] - held).abs() < 1e-9);
            assert!(largest(&load[..at(pour.start_s - 1.01)]) == 0.0);
            assert!(largest(&load[at(pour.end_s + 0.51)..]) == 0.0);
            // A raised cosine has a half of its height in the middle: the hand is there a little before the pour.
            let half = load.iter().position(|g| *g > 0.5 * held).unwrap() as f64 / GRID_HZ;
            assert!(half < pour.start_s - 0.09 && half > pour.start_s - 0.96);
        }
    }

    #[test]
    fn a_kettle_swings_after_the_pour_and_tilts() {
        for seed in 0..20 {
            let (load, pour) = pressed(Around::Table, seed);
            assert_eq!(largest(&load[..((pour.end_s + 0.5) * GRID_HZ) as usize]), 0.0);
            // Six time constants and more after it only what stays is left: 4 exp(-6) g = .01 g at most.
            let last = load[((pour.end_s + 3.3) * GRID_HZ) as usize].abs();
            assert!((0.09..0.31).contains(&last) && largest(&load) > last);
        }
    }

    #[test]
    fn a_bench_shakes_about_zero() {
        for seed in 0..20 {
            let (load, _) = pressed(Around::Shaking, seed);
            let mean = load.iter().sum::<f64>() / load.len() as f64;
            assert!((0.05..0.5).contains(&largest(&load)) && mean.abs() < 0.01);
        }
    }
}
