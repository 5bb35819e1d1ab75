//! In: what goes wrong, and one weight. Out: the weight with it, and the list of what was done.

use super::fault_recipe::{Drift, Faults, Hits, Knocks, Lifts, Stuck, Swirls};
use super::range::{Count, Range};
use super::scale;
use crate::math::random::Random;
use crate::{Channel, Event, EventKind};
use std::f64::consts::TAU;

/// Stretches in which nothing is poured and nothing happens yet.
#[derive(Debug, Clone)]
pub(super) struct Quiet(pub(super) Vec<(f64, f64)>);

impl Quiet {
    /// A place for something of that duration, taken out of the quiet; none where it fits nowhere.
    fn take(&mut self, duration_s: f64, random: &mut Random) -> Option<f64> {
        let room = |&(from, to): &(f64, f64)| (to - from - duration_s).max(0.0);
        let mut at = random.unit() * self.0.iter().map(room).sum::<f64>();
        let k = self.0.iter().position(|stretch| {
            at -= room(stretch);
            at < 0.0
        })?;
        let (from, to) = self.0[k];
        let start = from + (at + room(&(from, to)));
        self.0.splice(k..=k, [(from, start), (start + duration_s, to)]);
        Some(start)
    }
}

/// One weight on its way from load to reading, on a grid of `dt_s`.
pub(super) struct Weight {
    pub(super) channel: Channel,
    pub(super) dt_s: f64,
    /// What lies on the scale, g.
    pub(super) load: Vec<f64>,
    /// What comes on top of it behind the lag, g.
    pub(super) beyond: Vec<f64>,
    /// Instants of the zero key, s, and whether it shows through the lag.
    pub(super) zeroed: Vec<(f64, bool)>,
    pub(super) quiet: Quiet,
    pub(super) events: Vec<Event>,
}

pub(super) fn hits(hits: Hits, channel: Channel) -> bool {
    match hits {
        Hits::Both => true,
        Hits::Water => channel == Channel::Water,
        Hits::Beverage => channel == Channel::Beverage,
    }
}

/// The instants given, or as many drawn ones as the count says.
fn places(at_s: &[f64], count: Count, end_s: f64, random: &mut Random) -> Vec<f64> {
    if at_s.is_empty() {
        (0..random.count(count)).map(|_| random.between([0.0, end_s])).collect()
    } else {
        at_s.to_vec()
    }
}

impl Weight {
    pub(super) fn end_s(&self) -> f64 {
        self.dt_s * self.load.len() as f64
    }

    pub(super) fn list(&mut self, kind: EventKind, start_s: f64, end_s: f64, size_g: f64, action: &str) {
        let (channel, action) = (self.channel, action.to_owned());
        self.events.push(Event { kind, channel, start_s, end_s, size_g, samples: 0, action });
    }

    /// Adds a function of time from `from_s` to `to_s`.
    pub(super) fn add(&mut self, lag: bool, from_s: f64, to_s: f64, f: impl Fn(f64) -> f64) {
        let dt_s = self.dt_s;
        let grid = if lag { &mut self.load } else { &mut self.beyond };
        let first = (from_s / dt_s).ceil().max(0.0) as usize;
        let after = ((to_s / dt_s).ceil().max(0.0) as usize).min(grid.len());
        for (i, x) in grid.iter_mut().enumerate().take(after).skip(first) {
            *x += f(i as f64 * dt_s);
        }
    }

    /// A swing that comes and goes.
    fn swing(&mut self, lag: bool, from_s: f64, duration_s: f64, size_g: f64, hz: f64, random: &mut Random) {
        let phase = random.between([0.0, TAU]);
        self.add(lag, from_s, from_s + duration_s, |t| {
            let u = (t - from_s) / duration_s;
            size_g * (5.0 * u).min(5.0 * (1.0 - u)).min(1.0) * (TAU * hz * (t - from_s) + phase).sin()
        });
    }

    /// The vessel goes off at `from_s` and is back at `to_s`, lighter by `loses_g`.
    pub(super) fn off(&mut self, lag: bool, from_s: f64, to_s: f64, hand_s: f64, fall_g: f64, loses_g: f64) {
        let end_s = self.end_s();
        self.add(lag, from_s, end_s, |t| {
            let gone = ((t - from_s) / hand_s).clamp(0.0, 1.0);
            let back = ((t - to_s + hand_s) / hand_s).clamp(0.0, 1.0);
            -fall_g * (gone - back) - loses_g * back
        });
    }

    pub(super) fn lifts(&mut self, lifts: &Lifts, random: &mut Random) {
        if !hits(lifts.hits, self.channel) {
            return;
        }
        let n = if lifts.at_s.is_empty() { random.count(lifts.count) as usize } else { lifts.at_s.len() };
        for k in 0..n {
            let swirled = random.chance(lifts.swirl);
            let swirl = |random: &mut Random| if swirled { random.between(lifts.swirl_s) } else { 0.0 };
            let (before_s, after_s) = (swirl(random), swirl(random));
            let off_s = random.between(lifts.duration_s);
            let hand_s = random.between(lifts.hand_s).max(self.dt_s);
            let (fall, loses) = (random.between(lifts.fall_g), random.between(lifts.loses_g));
            let (size, hz) = (random.between(lifts.swirl_g), random.between(lifts.swirl_hz));
            let whole = before_s + off_s + after_s;
            let Some(start) = lifts.at_s.get(k).copied().or_else(|| self.quiet.take(whole, random)) else {
                continue;
            };
            let lag = lifts.through_lag;
            self.off(lag, start + before_s, start + before_s + off_s, hand_s, fall, loses);
            if swirled {
                self.swing(lag, start, before_s, size, hz, random);
                self.swing(lag, start + before_s + off_s, after_s, size, hz, random);
            }
            self.list(EventKind::Lift, start, start + whole, -fall, "lifted and put back");
        }
    }

    pub(super) fn swirls(&mut self, swirls: &Swirls, random: &mut Random) {
        if !hits(swirls.hits, self.channel) {
            return;
        }
        let n = if swirls.at_s.is_empty() { random.count(swirls.count) as usize } else { swirls.at_s.len() };
        for k in 0..n {
            let duration = random.between(swirls.duration_s);
            let (size, hz) = (random.between(swirls.size_g), random.between(swirls.hz));
            let Some(start) = swirls.at_s.get(k).copied().or_else(|| self.quiet.take(duration, random))
            else {
                continue;
            };
            self.swing(swirls.through_lag, start, duration, size, hz, random);
            self.list(EventKind::Swirl, start, start + duration, size, "swirled on the scale");
        }
    }

    pub(super) fn zeroings(&mut self, faults: &Faults, random: &mut Random) {
        let z = &faults.zeroings;
        if !hits(z.hits, self.channel) {
            return;
        }
        let n = if z.at_s.is_empty() { random.count(z.count) as usize } else { z.at_s.len() };
        for k in 0..n {
            if let Some(at) = z.at_s.get(k).copied().or_else(|| self.quiet.take(0.5, random)) {
                self.zeroed.push((at, z.through_lag));
            }
        }
    }

    pub(super) fn drift(&mut self, drift: &Drift, random: &mut Random) {
        const KNOT_S: f64 = 0.5;
        let reach = random.between(drift.reach_g) * random.sign();
        let walks = random.chance(drift.walk);
        if reach == 0.0 || !hits(drift.hits, self.channel) {
            return;
        }
        let end_s = self.end_s();
        let mut knots = vec![0.0];
        let mut at = 0.0;
        for _ in 0..=(end_s / KNOT_S) as usize {
            at += if walks { random.normal() } else { 1.0 };
            knots.push(at);
        }
        let furthest = knots.iter().fold(0.0_f64, |far, x| far.max(x.abs()));
        let path: Vec<f64> = knots.iter().map(|x| reach * x / furthest).collect();
        self.add(false, 0.0, end_s, |t| super::truth::interpolate(&path, KNOT_S, t));
        let action = if walks { "zero walks at random" } else { "zero runs straight" };
        self.list(EventKind::Drift, 0.0, end_s, path[path.len() - 1], action);
    }

    /// What the scale shows over time, the zero key pressed.
    pub(super) fn shown(&mut self, lag_s: f64) -> Vec<f64> {
        self.zeroed.sort_by(|a, b| a.0.total_cmp(&b.0));
        let zeroed = std::mem::take(&mut self.zeroed);
        let dt_s = self.dt_s;
        let index = |t: f64| (t / dt_s).ceil().max(0.0) as usize;
        for &(at, _) in zeroed.iter().filter(|z| z.1) {
            let first = index(at);
            let standing = self.load.get(first).copied().unwrap_or(0.0);
            self.load.iter_mut().skip(first).for_each(|x| *x -= standing);
        }
        let mut shown = scale::lagged(&self.load, lag_s, self.dt_s);
        shown.iter_mut().zip(&self.beyond).for_each(|(s, b)| *s += b);
        for (at, through_lag) in zeroed {
            let first = index(at);
            let standing = shown.get(first).copied().unwrap_or(0.0);
            if !through_lag {
                shown.iter_mut().skip(first).for_each(|x| *x -= standing);
            }
            self.list(EventKind::Zeroing, at, at, -standing, "zero key");
        }
        shown
    }

    /// Knocks: on the load, or (returned, by sample) on the reading.
    pub(super) fn knocks(
        &mut self,
        knocks: &Knocks,
        looks: &[f64],
        random: &mut Random,
    ) -> Vec<(usize, f64)> {
        let mut on_reading = Vec::new();
        if !hits(knocks.hits, self.channel) {
            return on_reading;
        }
        for at in places(&knocks.at_s, knocks.count, self.end_s(), random) {
            let size = random.between(knocks.size_g) * random.sign();
            let wide = random.count(knocks.samples) as usize;
            let first = looks.partition_point(|&t| t < at);
            let last = (first + wide).saturating_sub(1);
            let Some(&end) = looks.get(last) else { continue };
            if knocks.through_lag {
                let interval = (end - looks[0]) / last.max(1) as f64;
                self.add(true, at, at + interval * wide as f64, |_| size);
                self.list(EventKind::Knock, at, at + interval * wide as f64, size, "knock on the load");
            } else {
                for k in first..=last {
                    let share = if k == first { 1.0 } else { random.between([-0.5, 1.0]) };
                    on_reading.push((k, size * share));
                }
                self.list(EventKind::Knock, looks[first], end, size, "knock on the reading");
            }
        }
        on_reading
    }

    pub(super) fn stuck(&mut self, stuck: &Stuck, looks: &[f64], readings: &mut [f64], random: &mut Random) {
        if !hits(stuck.hits, self.channel) {
            return;
        }
        for at in places(&stuck.at_s, stuck.count, self.end_s(), random) {
            let end = at + random.between(stuck.duration_s);
            let first = looks.partition_point(|&t| t < at);
            let after = looks.partition_point(|&t| t <= end);
            if let Some(&held) = readings.get(first) {
                readings[first..after].fill(held);
                self.list(EventKind::Stuck, at, end, 0.0, "reading stands still");
            }
        }
    }
}

/// Stretches of the log that get lost, as start and end.
pub(super) fn gaps(faults: &Faults, end_s: f64, random: &mut Random) -> Vec<(f64, f64)> {
    let duration: Range = faults.gaps.duration_s;
    places(&faults.gaps.at_s, faults.gaps.count, end_s, random)
        .into_iter()
        .map(|at| (at, at + random.between(duration)))
        .collect()
}
