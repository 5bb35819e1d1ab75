//! In: the disturbances, and one weight. Out: the disturbed weight, and the list of events.

use super::fault_recipe::Drift;
use super::fault_recipe::Knocks;
use super::fault_recipe::Lifts;
use super::fault_recipe::Stuck;
use super::fault_recipe::Swirls;
use super::fault_recipe::Zeroings;
use crate::condition::trace::EventKind;
use crate::math::random::Random;
use crate::simulate::fault_recipe::Faults;
use crate::simulate::range::Count;
use crate::simulate::truth::interpolate;
use crate::simulate::weight::{Quiet, Swing, Weight};

/// Time between the knots of a drifting zero, s.
const KNOT_S: f64 = 0.5;

/// Number of disturbances: that of the given instants, or a drawn count.
fn number(at_s: &[f64], count: Count, random: &mut Random) -> usize {
    if at_s.is_empty() { random.count(count) as usize } else { at_s.len() }
}

/// Instants anywhere in the log: the given ones, or a drawn number of drawn ones.
pub(super) fn anywhere(at_s: &[f64], count: Count, end_s: f64, random: &mut Random) -> Vec<f64> {
    (0..number(at_s, count, random))
        .map(|k| at_s.get(k).copied().unwrap_or_else(|| random.between([0.0, end_s])))
        .collect()
}

/// The k-th given instant, or a drawn one without pouring.
fn in_the_quiet(
    at_s: &[f64],
    k: usize,
    duration_s: f64,
    quiet: &mut Quiet,
    random: &mut Random,
) -> Option<f64> {
    at_s.get(k).copied().or_else(|| quiet.take(duration_s, random))
}

impl Weight {
    /// Applies all disturbances but knocks to the load and to the reading. `random` returns the random stream of that
    /// name.
    pub(super) fn disturb(&mut self, faults: &Faults, random: impl Fn(&str) -> Random) {
        self.lifts(&faults.lifts, &mut random("lifts"));
        self.swirls(&faults.swirls, &mut random("swirls"));
        self.zeroings(&faults.zeroings, &mut random("zeroings"));
        self.drift(&faults.drift, &mut random("drift"));
    }

    fn lifts(&mut self, lifts: &Lifts, random: &mut Random) {
        if !self.is_hit(lifts.hits) {
            return;
        }
        for k in 0..number(&lifts.at_s, lifts.count, random) {
            let swirl_s = if random.chance(lifts.swirl) {
                [random.between(lifts.swirl_s), random.between(lifts.swirl_s)]
            } else {
                [0.0; 2]
            };
            let off_s = random.between(lifts.duration_s);
            let hand_s = random.between(lifts.hand_s);
            let (fall, loses) = (random.between(lifts.fall_g), random.between(lifts.loses_g));
            let mut swing =
                Swing { size_g: random.between(lifts.swirl_g), hz: random.between(lifts.swirl_hz) };
            let lag = random.chance(lifts.through_lag);
            let whole_s = swirl_s[0] + off_s + swirl_s[1];
            let Some(start) = in_the_quiet(&lifts.at_s, k, whole_s, &mut self.quiet, random) else {
                continue;
            };
            let (off, back) = (start + swirl_s[0], start + swirl_s[0] + off_s);
            self.off(lag, off, back, hand_s, fall, loses);
            self.swing(lag, start, swirl_s[0], swing, random);
            self.swing(lag, back, swirl_s[1], swing, random);
            if random.chance(lifts.swung) {
                swing.size_g = random.between(lifts.swung_g);
                self.swing(lag, off, off_s, swing, random);
            }
            self.list(EventKind::Lift, start, start + whole_s, -fall, "vessel lifted and put back");
        }
    }

    fn swirls(&mut self, swirls: &Swirls, random: &mut Random) {
        if !self.is_hit(swirls.hits) {
            return;
        }
        for k in 0..number(&swirls.at_s, swirls.count, random) {
            let duration_s = random.between(swirls.duration_s);
            let swing = Swing { size_g: random.between(swirls.size_g), hz: random.between(swirls.hz) };
            let lag = random.chance(swirls.through_lag);
            if let Some(start) = in_the_quiet(&swirls.at_s, k, duration_s, &mut self.quiet, random) {
                self.swing(lag, start, duration_s, swing, random);
                self.list(
                    EventKind::Swirl,
                    start,
                    start + duration_s,
                    swing.size_g,
                    "vessel swirled on the scale",
                );
            }
        }
    }

    fn zeroings(&mut self, zeroings: &Zeroings, random: &mut Random) {
        if !self.is_hit(zeroings.hits) {
            return;
        }
        for k in 0..number(&zeroings.at_s, zeroings.count, random) {
            let lag = random.chance(zeroings.through_lag);
            if let Some(at) = in_the_quiet(&zeroings.at_s, k, 0.0, &mut self.quiet, random) {
                self.zeroed.push((at, lag));
            }
        }
    }

    fn drift(&mut self, drift: &Drift, random: &mut Random) {
        let reach = random.between(drift.reach_g) * random.sign();
        let is_random_walk = random.chance(drift.walk);
        if reach == 0.0 || !self.is_hit(drift.hits) {
            return;
        }
        let mut path = vec![0.0];
        let mut at = 0.0;
        for _ in 0..=(self.end_s() / KNOT_S) as usize {
            at += if is_random_walk { random.normal() } else { 1.0 };
            path.push(at);
        }
        let furthest = path.iter().fold(0.0_f64, |far, x| far.max(x.abs()));
        path.iter_mut().for_each(|x| *x *= reach / furthest);
        self.add(false, 0.0, f64::INFINITY, |t| interpolate(&path, KNOT_S, t));
        let action = if is_random_walk { "zero drifts as a random walk" } else { "zero drifts linearly" };
        self.list(EventKind::Drift, 0.0, self.end_s(), interpolate(&path, KNOT_S, self.end_s()), action);
    }

    /// Knocks: on the load, or, returned by sample, on the reading.
    pub(super) fn knocks(
        &mut self,
        knocks: &Knocks,
        sampled_s: &[f64],
        random: &mut Random,
    ) -> Vec<(usize, f64)> {
        let mut on_reading = Vec::new();
        if !self.is_hit(knocks.hits) {
            return on_reading;
        }
        for at in anywhere(&knocks.at_s, knocks.count, self.end_s(), random) {
            let size = random.between(knocks.size_g) * random.sign();
            let samples = random.count(knocks.samples) as usize;
            let lag = random.chance(knocks.through_lag);
            let first = sampled_s.partition_point(|&t| t < at);
            let Some(hit) = sampled_s.get(first..first + samples).filter(|hit| !hit.is_empty()) else {
                continue;
            };
            let (from, to) = (hit[0], hit[samples - 1]);
            if lag {
                // From halfway after the sample before to the last sample.
                let before = first.checked_sub(1).map_or(0.0, |k| sampled_s[k]);
                self.add(true, 0.5 * (before + from), to + 2.0 * self.dt_s, |_| size);
                self.list(EventKind::Knock, from, to, size, "knock on the load");
            } else {
                // The sample after the first may still be high, or already swing back.
                let share = |k: usize, random: &mut Random| {
                    if k == 0 { 1.0 } else { random.between([-0.5, 1.0]) }
                };
                on_reading.extend((0..samples).map(|k| (first + k, size * share(k, random))));
                self.list(EventKind::Knock, from, to, size, "knock on the reading");
            }
        }
        on_reading
    }

    pub(super) fn stuck(
        &mut self,
        stuck: &Stuck,
        sampled_s: &[f64],
        readings: &mut [f64],
        random: &mut Random,
    ) {
        if !self.is_hit(stuck.hits) {
            return;
        }
        for at in anywhere(&stuck.at_s, stuck.count, self.end_s(), random) {
            let end = at + random.between(stuck.duration_s);
            let first = sampled_s.partition_point(|&t| t < at);
            let after = sampled_s.partition_point(|&t| t <= end);
            if let Some(&stuck_g) = readings.get(first) {
                readings[first..after].fill(stuck_g);
                self.list(EventKind::Stuck, at, end, 0.0, "reading is stuck");
            }
        }
    }
}
