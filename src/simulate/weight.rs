//! In: the load on one scale over time. Out: the reading without noise over time.
//!
//! A weight has two layers on one grid: the load, to which the lag applies, and a part that is added to the reading.

use crate::condition::trace::{Channel, Event, EventKind};
use crate::math::random::Random;
use crate::simulate::fault_recipe::Hits;
use crate::simulate::scale::lagged;
use std::f64::consts::TAU;

/// Least time between two contacts with a vessel, and between a contact and a pour, s.
pub(super) const MARGIN_S: f64 = 0.5;

/// Intervals without a pour and without an event.
#[derive(Debug, Clone)]
pub(super) struct Quiet(pub(super) Vec<(f64, f64)>);

impl Quiet {
    /// Reserves an interval of that duration and returns its start; none if there is no room.
    pub(super) fn take(&mut self, duration_s: f64, random: &mut Random) -> Option<f64> {
        let room = |&(from, to): &(f64, f64)| (to - from - duration_s).max(0.0);
        let mut at = random.unit() * self.0.iter().map(room).sum::<f64>();
        let k = self.0.iter().position(|stretch| {
            at -= room(stretch);
            at < 0.0
        })?;
        let (from, to) = self.0[k];
        let start = from + at + room(&(from, to));
        self.0.splice(k..=k, [(from, start - MARGIN_S), (start + duration_s + MARGIN_S, to)]);
        Some(start)
    }
}

/// An oscillation with an envelope.
#[derive(Debug, Clone, Copy)]
pub(super) struct Swing {
    pub(super) size_g: f64,
    pub(super) hz: f64,
}

/// One weight, its load and its reading, on a grid of `dt_s`.
pub(super) struct Weight {
    pub(super) channel: Channel,
    pub(super) dt_s: f64,
    /// Load on the scale, g.
    pub(super) load: Vec<f64>,
    /// Part added to the reading after the lag, g.
    pub(super) after_lag: Vec<f64>,
    /// Instants of the zero key, s, and whether the lag applies to it.
    pub(super) zeroed: Vec<(f64, bool)>,
    pub(super) quiet: Quiet,
    pub(super) events: Vec<Event>,
}

impl Weight {
    pub(super) fn new(channel: Channel, load: Vec<f64>, dt_s: f64, quiet: Quiet) -> Self {
        let after_lag = vec![0.0; load.len()];
        Self { channel, dt_s, load, after_lag, zeroed: Vec::new(), quiet, events: Vec::new() }
    }

    pub(super) fn end_s(&self) -> f64 {
        self.dt_s * self.load.len() as f64
    }

    pub(super) fn is_hit(&self, hits: Hits) -> bool {
        match hits {
            Hits::Both => true,
            Hits::Water => self.channel == Channel::Water,
            Hits::Beverage => self.channel == Channel::Beverage,
        }
    }

    pub(super) fn list(&mut self, kind: EventKind, start_s: f64, end_s: f64, size_g: f64, action: &str) {
        let (channel, action) = (self.channel, action.to_owned());
        self.events.push(Event { kind, channel, start_s, end_s, size_g, samples: 0, action });
    }

    /// Adds a function of time from `from_s` to `to_s`, to the load or to the reading.
    pub(super) fn add(&mut self, lag: bool, from_s: f64, to_s: f64, f: impl Fn(f64) -> f64) {
        let dt_s = self.dt_s;
        let grid = if lag { &mut self.load } else { &mut self.after_lag };
        let index = |t: f64| ((t / dt_s).ceil().max(0.0) as usize).min(grid.len());
        let (first, after) = (index(from_s), index(to_s));
        for (i, x) in grid.iter_mut().enumerate().take(after).skip(first) {
            *x += f(i as f64 * dt_s);
        }
    }

    /// Adds a swing from `from_s`, for `duration_s`.
    pub(super) fn swing(
        &mut self,
        lag: bool,
        from_s: f64,
        duration_s: f64,
        swing: Swing,
        random: &mut Random,
    ) {
        let phase = random.between([0.0, TAU]);
        self.add(lag, from_s, from_s + duration_s, |t| {
            let u = (t - from_s) / duration_s;
            let envelope = (5.0 * u).min(5.0 * (1.0 - u)).min(1.0);
            swing.size_g * envelope * (TAU * swing.hz * (t - from_s) + phase).sin()
        });
    }

    /// The vessel is lifted at `from_s` and is back at `to_s`, lighter by `loses_g`; each takes `transition_s`.
    pub(super) fn off(
        &mut self,
        lag: bool,
        from_s: f64,
        to_s: f64,
        transition_s: f64,
        fall_g: f64,
        loses_g: f64,
    ) {
        let (end_s, transition_s) = (self.end_s(), transition_s.max(self.dt_s));
        self.add(lag, from_s, end_s, |t| {
            let gone = ((t - from_s) / transition_s).clamp(0.0, 1.0);
            let back = ((t - to_s + transition_s) / transition_s).clamp(0.0, 1.0);
            -fall_g * (gone - back) - loses_g * back
        });
    }

    /// The reading without noise over time, with the zero key applied.
    pub(super) fn shown(&mut self, lag_s: f64) -> Vec<f64> {
        self.zeroed.sort_by(|a, b| a.0.total_cmp(&b.0));
        let zeroed = std::mem::take(&mut self.zeroed);
        let dt_s = self.dt_s;
        let index = |t: f64| (t / dt_s).ceil().max(0.0) as usize;
        for &(at, _) in zeroed.iter().filter(|z| z.1) {
            // The part added to the reading is zeroed with the load.
            let value_g = lower(&mut self.load, index(at)) + lower(&mut self.after_lag, index(at));
            self.list(EventKind::Zeroing, at, at, -value_g, "zero key");
        }
        let mut shown = lagged(&self.load, lag_s, dt_s);
        shown.iter_mut().zip(&self.after_lag).for_each(|(s, b)| *s += b);
        for &(at, _) in zeroed.iter().filter(|z| !z.1) {
            let value_g = lower(&mut shown, index(at));
            self.list(EventKind::Zeroing, at, at, -value_g, "zero key");
        }
        shown
    }
}

/// Shifts the signal to zero from an index on; returns the value there.
fn lower(signal: &mut [f64], from: usize) -> f64 {
    let value_g = signal.get(from).copied().unwrap_or(0.0);
    signal.iter_mut().skip(from).for_each(|x| *x -= value_g);
    value_g
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reserved_intervals_do_not_overlap() {
        let mut random = Random::new(5);
        let mut quiet = Quiet(vec![(0.0, 20.0), (30.0, 31.0), (40.0, 60.0)]);
        let mut taken: Vec<f64> = std::iter::from_fn(|| quiet.take(3.0, &mut random)).collect();
        assert!(taken.len() >= 4, "{taken:?}");
        taken.sort_by(f64::total_cmp);
        assert!(taken.windows(2).all(|w| w[1] - w[0] >= 3.0 + MARGIN_S - 1e-9), "{taken:?}");
        assert!(taken.iter().all(|t| (0.0..=17.0).contains(t) || (40.0..=57.0).contains(t)));
    }

    #[test]
    fn the_zero_key_acts_at_once_or_through_the_lag() {
        for (through_lag, soon) in [(false, 0.0), (true, 50.0 * (-0.4_f64).exp())] {
            let mut weight = Weight::new(Channel::Water, vec![50.0; 4000], 1e-3, Quiet(Vec::new()));
            weight.zeroed.push((1.0, through_lag));
            let shown = weight.shown(0.25);
            assert!((shown[999] - 50.0).abs() < 1e-9);
            // 50 exp(-t/tau), 0.1 s after the key with a lag of 0.25 s; half of the grid spacing counts.
            assert!((shown[1100] - soon).abs() < 0.1, "{}", shown[1100]);
            assert!(shown[3999].abs() < 1e-3);
        }
    }

    #[test]
    fn reserved_intervals_begin_anywhere_in_the_quiet() {
        // Uniform over 97 s: the sd of the mean of 200 is 2 s, and a quarter of them begins after 72.75 s.
        let first = |seed| Quiet(vec![(0.0, 100.0)]).take(3.0, &mut Random::new(seed)).unwrap();
        let all: Vec<f64> = (0..200).map(first).collect();
        let mean = all.iter().sum::<f64>() / 200.0;
        assert!((mean - 48.5).abs() < 6.0, "{mean}");
        assert!((30..70).contains(&all.iter().filter(|t| **t > 72.75).count()));
        assert!(all.iter().all(|t| (0.0..=97.0).contains(t)));
    }

    #[test]
    fn a_lifted_vessel_changes_the_reading_within_the_transition_and_returns_lighter() {
        let mut weight = Weight::new(Channel::Water, vec![50.0; 10_000], 1e-3, Quiet(Vec::new()));
        weight.off(false, 2.0, 6.0, 0.4, 300.0, 7.0);
        let at = |t: f64| weight.after_lag[(t / 1e-3_f64).round() as usize];
        // Down by 300 g over 0.4 s from 2 s on; up again over the 0.4 s before 6 s, to 7 g less.
        for (t, by_hand) in
            [(1.9, 0.0), (2.2, -150.0), (2.4, -300.0), (5.6, -300.0), (5.8, -153.5), (6.0, -7.0), (9.0, -7.0)]
        {
            assert!((at(t) - by_hand).abs() < 0.8, "{} at {t}", at(t));
        }
    }

    #[test]
    fn a_swing_rises_within_a_fifth_of_its_time_and_decays_within_another() {
        let mut weight = Weight::new(Channel::Water, vec![0.0; 12_000], 1e-3, Quiet(Vec::new()));
        weight.swing(false, 1.0, 10.0, Swing { size_g: 8.0, hz: 5.0 }, &mut Random::new(1));
        let largest = |from: f64, to: f64| {
            let range = (from / 1e-3) as usize..(to / 1e-3) as usize;
            weight.after_lag[range].iter().fold(0.0_f64, |most, x| most.max(x.abs()))
        };
        assert!(
            (largest(3.1, 8.9) - 8.0).abs() < 0.01
                && largest(0.0, 0.999) == 0.0
                && largest(11.01, 12.0) == 0.0
        );
        // Half way up the envelope, within a beat of 0.2 s.
        assert!((3.4..4.6).contains(&largest(1.9, 2.1)) && (3.4..4.6).contains(&largest(9.9, 10.1)));
    }
}
