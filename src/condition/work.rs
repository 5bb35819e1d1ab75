//! One weight during the stage: its samples, their flags, and the events and breaks detected so far.

use crate::condition::breaks::BreakKind;
use crate::condition::options::ConditionOptions;
use crate::condition::order::{Order, gaps};
use crate::condition::resolution;
use crate::condition::trace::{Channel, ChannelTrace, Event, EventKind, Flag};
use crate::estimate::Estimate;
use crate::model::noise;

/// A break of level whose offset was subtracted.
#[derive(Debug, Clone, Copy)]
pub(super) struct Repaired {
    pub kind: BreakKind,
    /// Last sample before it and first sample after it that are used, in the order of time.
    pub before: usize,
    pub after: usize,
    /// Reading after it, g.
    pub reading_g: f64,
    /// Offset subtracted, g.
    pub offset_g: f64,
}

pub(super) struct Work<'a> {
    pub channel: Channel,
    pub order: &'a Order,
    pub options: &'a ConditionOptions,
    pub mass_g: Vec<f64>,
    pub flag: Vec<Flag>,
    pub noise_g: Estimate,
    pub resolution_g: f64,
    pub drift_g_per_s: Estimate,
    /// Intensity of the random walk of zero, estimated from the rests, g2/s.
    pub walk_g2_per_s: f64,
    pub events: Vec<Event>,
    /// Breaks of level whose offsets were subtracted, in order.
    pub breaks: Vec<Repaired>,
}

impl<'a> Work<'a> {
    /// Puts the readings in order, flags missing and duplicate ones, and estimates resolution and noise.
    pub fn new(channel: Channel, order: &'a Order, logged: &[f64], options: &'a ConditionOptions) -> Self {
        let mass_g: Vec<f64> = order.log_index.iter().map(|&i| logged[i]).collect();
        let flag = mass_g
            .iter()
            .zip(&order.duplicate)
            .map(|(y, &twice)| match (y.is_finite(), twice) {
                (_, true) => Flag::Duplicate,
                (false, _) => Flag::Missing,
                _ => Flag::Used,
            })
            .collect();
        let mut work = Self {
            channel,
            order,
            options,
            mass_g,
            flag,
            noise_g: Estimate::exact(0.0),
            resolution_g: 0.0,
            drift_g_per_s: Estimate::exact(0.0),
            walk_g2_per_s: 0.0,
            events: Vec::new(),
            breaks: Vec::new(),
        };
        work.list_order();
        let (_, t, y) = work.live();
        work.resolution_g = resolution::readout_resolution(&y);
        work.noise_g = match options.noise_sd_g {
            Some(sd) => Estimate::exact(sd),
            None => noise::noise(&t, &y, order.interval_s, work.resolution_g),
        };
        work
    }

    /// The samples that are used: their indices, stamps and masses.
    pub fn live(&self) -> (Vec<usize>, Vec<f64>, Vec<f64>) {
        let index: Vec<usize> = (0..self.flag.len()).filter(|&i| self.flag[i] == Flag::Used).collect();
        let t = index.iter().map(|&i| self.order.time_s[i]).collect();
        let y = index.iter().map(|&i| self.mass_g[i]).collect();
        (index, t, y)
    }

    /// Lists an event between two samples.
    pub fn list(
        &mut self,
        kind: EventKind,
        first: usize,
        last: usize,
        size_g: f64,
        samples: usize,
        action: String,
    ) {
        let (start_s, end_s) = (self.order.time_s[first], self.order.time_s[last]);
        self.events.push(Event { kind, channel: self.channel, start_s, end_s, size_g, samples, action });
    }

    fn list_order(&mut self) {
        let last = self.flag.len() - 1;
        if self.order.moved > 0 {
            let n = self.order.moved;
            let action = format!("{n} samples logged after a later stamp were put in order of time");
            self.list(EventKind::Reordered, 0, last, 0.0, n, action);
        }
        if let Some((action, n)) = self.order.retimed.clone() {
            self.list(EventKind::Retimed, 0, last, 0.0, n, action);
        }
        let twice = if self.order.retimed.is_some() {
            "a packet that was logged twice: the first is used"
        } else {
            "same stamp as the sample before: the first is used"
        };
        for (kind, flag, action) in [
            (EventKind::Duplicate, Flag::Duplicate, twice),
            (EventKind::Missing, Flag::Missing, "no reading: not used, not filled"),
        ] {
            // That values are repeated is said once.
            let said = flag == Flag::Duplicate && self.order.updates;
            for (a, b) in runs(&self.flag, flag).into_iter().filter(|_| !said) {
                self.list(kind, a, b, 0.0, b - a + 1, action.into());
            }
        }
        let (live, _, _) = self.live();
        for (a, b) in gaps(self.order, &live, self.options.gap_s) {
            let pause = self.order.time_s[b] - self.order.time_s[a];
            self.list(EventKind::Gap, a, b, 0.0, 0, format!("no samples for {pause:.2} s: not filled"));
        }
    }

    /// The conditioned channel and its events.
    pub fn finish(self) -> (ChannelTrace, Vec<Event>) {
        let trace = ChannelTrace {
            mass_g: self.mass_g,
            flag: self.flag,
            noise_sd_g: self.noise_g,
            step_g: self.resolution_g,
            drift_g_per_s: self.drift_g_per_s,
            walk_g2_per_s: self.walk_g2_per_s,
        };
        (trace, self.events)
    }
}

/// First and last index of each run of one flag.
pub(super) fn runs(flag: &[Flag], wanted: Flag) -> Vec<(usize, usize)> {
    let mut found: Vec<(usize, usize)> = Vec::new();
    for i in (0..flag.len()).filter(|&i| flag[i] == wanted) {
        match found.last_mut() {
            Some((_, last)) if *last + 1 == i => *last = i,
            _ => found.push((i, i)),
        }
    }
    found
}
