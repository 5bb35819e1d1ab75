//! In: samples of the water weight, one by one. Out: the state at each, from gate, filter and onset test. The size is
//! constant.

use crate::estimate::Estimate;
use crate::live::gate::{Gate, Inflow, Passed};
use crate::live::noise::Noise;
use crate::live::now::{LiveFlag, LivePhase, LiveState};
use crate::live::onset::Test;
use crate::model::mixture::Filter;
use crate::segment::options::SegmentOptions;

/// The reading of a vessel that is put back agrees with the earlier one within this, g.
const BACK_G: f64 = 0.5;

/// Parameters that are given beforehand.
#[derive(Debug, Clone)]
pub(super) struct Known {
    pub lag_s: Estimate,
    pub noise_sd_g: Option<f64>,
    pub max_flow_g_per_s: f64,
    pub gap_s: f64,
    pub segment: SegmentOptions,
}

/// A swing of the vessel is identified within this time, s.
const STARTING_S: f64 = 1.5;

/// The current pour.
#[derive(Debug, Clone, Copy)]
struct CurrentPour {
    start_s: f64,
    detected_s: f64,
    /// Water on the scale before it, g.
    before_g: f64,
    /// Last instant at which the flow was that of a pour, s.
    last_s: f64,
}

/// The state from sample to sample.
#[derive(Debug, Clone)]
pub(super) struct Watch {
    known: Known,
    gate: Gate,
    noise: Noise,
    test: Test,
    filter: Option<Filter>,
    last_s: f64,
    last_used_s: f64,
    /// Whether the last reading was off.
    off: bool,
    /// Reading less water, g.
    offset_g: f64,
    pours: usize,
    poured_g: f64,
    current: Option<CurrentPour>,
}

impl Watch {
    pub(super) fn new(known: Known) -> Self {
        Self {
            gate: Gate::new(known.max_flow_g_per_s, known.lag_s.value),
            noise: Noise::new(known.noise_sd_g),
            test: Test::new(),
            filter: None,
            last_s: f64::NEG_INFINITY,
            last_used_s: f64::NAN,
            off: false,
            offset_g: 0.0,
            pours: 0,
            poured_g: 0.0,
            current: None,
            known,
        }
    }

    /// Takes in a sample: a finite stamp, and a reading that is finite or NaN.
    pub(super) fn update(&mut self, time_s: f64, reading_g: f64) -> LiveState {
        let mut events = Events::default();
        let flag = if time_s <= self.last_s {
            LiveFlag::Late
        } else {
            self.predict(time_s);
            if reading_g.is_nan() { LiveFlag::Missing } else { self.read(time_s, reading_g, &mut events) }
        };
        // Unused samples are not informative about an end.
        if matches!(flag, LiveFlag::Used | LiveFlag::AfterGap) {
            self.end(time_s, &mut events);
        }
        self.state(time_s, flag, events)
    }

    fn predict(&mut self, time_s: f64) {
        if let Some(filter) = &mut self.filter {
            filter.pass(time_s - self.last_s);
        }
        self.last_s = time_s;
    }

    fn read(&mut self, time_s: f64, reading_g: f64, events: &mut Events) -> LiveFlag {
        let sd_g = self.noise.sd_g();
        let after_gap = time_s - self.last_used_s > self.known.gap_s;
        let mut expected = self.filter.as_ref().map_or(Estimate::exact(reading_g), Filter::reading_g);
        expected.value += self.offset_g;
        let after_off = std::mem::take(&mut self.off);
        match self.gate.pass(time_s, reading_g, sd_g, self.inflow(time_s), expected) {
            Passed::Off => {
                self.noise.restart();
                self.off = true;
                return LiveFlag::Off;
            }
            Passed::Yes => {
                self.water(reading_g);
                // The first one after a knock may contain its tail, which resembles a climb.
                if !after_off {
                    self.test(time_s, reading_g, events);
                }
            }
            Passed::Both(before_s, before_g) => {
                // The filter is past the waiting reading; the test is not.
                self.test(before_s, before_g, events);
                self.water(reading_g);
                self.test(time_s, reading_g, events);
            }
            Passed::Settled(level_g) => self.settle(level_g, events),
        }
        self.last_used_s = time_s;
        if after_gap { LiveFlag::AfterGap } else { LiveFlag::Used }
    }

    fn inflow(&self, time_s: f64) -> Inflow {
        match self.current {
            None => Inflow::None,
            Some(current) if time_s - current.detected_s < STARTING_S => Inflow::Starting,
            Some(_) => Inflow::Running,
        }
    }

    fn water(&mut self, reading_g: f64) {
        if self.filter.is_none() {
            self.offset_g = reading_g;
            let ramp_s = self.known.segment.ramp_s;
            self.filter = Some(Filter::new(self.known.lag_s, ramp_s, 0.0, self.noise.sd_g()));
        }
        let sd_g = self.noise.sd_g();
        if let Some(filter) = &mut self.filter {
            filter.see(reading_g - self.offset_g, sd_g);
        }
    }

    /// Handles readings that are at rest again, possibly at another level.
    fn settle(&mut self, reading_g: f64, events: &mut Events) {
        let sd_g = self.noise.sd_g();
        let water_g = self.filter.as_ref().map_or(0.0, |filter| filter.water_g().value);
        let before_g =
            self.current.map(|current| current.before_g).or(self.test.level_g()).unwrap_or(water_g);
        let back = (reading_g - self.offset_g - before_g).abs() <= (4.0 * sd_g).max(BACK_G);
        // A detected start followed by a swing, or by the old level, was no pour.
        let is_false = |current: &CurrentPour| back || current.last_s - current.detected_s < STARTING_S;
        if let Some(current) = self.current.take_if(|current| is_false(current)) {
            self.pours -= 1;
            events.withdrawn = Some(current.start_s);
        }
        let water_g = if self.current.is_none() { before_g } else { water_g };
        if !back {
            self.offset_g = reading_g - water_g;
        }
        self.filter = Some(Filter::new(self.known.lag_s, self.known.segment.ramp_s, water_g, sd_g));
        self.test.restart();
        self.noise.restart();
    }

    fn test(&mut self, time_s: f64, reading_g: f64, events: &mut Events) {
        self.noise.update_resolution(reading_g);
        if self.current.is_some() {
            return;
        }
        let level_g = reading_g - self.offset_g;
        let Some(onset) = self.test.update(time_s, level_g, &self.noise, self.known.segment.flow_g_per_s)
        else {
            self.noise.update(reading_g);
            return;
        };
        let start_s = onset.time_s - self.known.lag_s.value;
        self.pours += 1;
        self.current =
            Some(CurrentPour { start_s, detected_s: time_s, before_g: onset.level_g, last_s: time_s });
        events.began = Some(start_s);
    }

    /// Ends the current pour if its flow has been too slow for longer than a pause.
    fn end(&mut self, time_s: f64, events: &mut Events) {
        let (Some(current), Some(filter)) = (&mut self.current, &self.filter) else { return };
        if filter.flow_g_per_s().value >= self.known.segment.flow_g_per_s && filter.rest() < 0.5 {
            current.last_s = time_s;
        } else if time_s - current.last_s > self.known.segment.pause_s {
            let (current, mass_g) = (*current, filter.water_g().value - current.before_g);
            if mass_g < self.known.segment.mass_g {
                self.pours -= 1;
                events.withdrawn = Some(current.start_s);
            } else {
                self.poured_g += mass_g;
                events.ended = Some(current.last_s);
            }
            self.current = None;
            self.test.restart();
            self.noise.restart();
        }
    }

    fn state(&self, time_s: f64, flag: LiveFlag, events: Events) -> LiveState {
        let unknown = Estimate::new(f64::NAN, f64::NAN);
        let water_g = self.filter.as_ref().map_or(unknown, Filter::water_g);
        let running_g = self.current.map_or(0.0, |current| (water_g.value - current.before_g).max(0.0));
        let state = match self.current {
            None => LivePhase::Rest,
            Some(current) => {
                LivePhase::Pouring { pour: self.pours, start_s: current.start_s, mass_g: running_g }
            }
        };
        LiveState {
            time_s,
            flag,
            water_g,
            flow_g_per_s: self.filter.as_ref().map_or(unknown, Filter::flow_g_per_s),
            state,
            poured_g: self.poured_g + running_g,
            began: events.began,
            ended: events.ended,
            withdrawn: events.withdrawn,
            provisional: true,
        }
    }
}

#[derive(Default)]
struct Events {
    began: Option<f64>,
    ended: Option<f64>,
    withdrawn: Option<f64>,
}

#[cfg(test)]
mod tests {
    use super::*;

    fn watched(load_g: impl Fn(f64) -> f64) -> Vec<LiveState> {
        let known = Known {
            lag_s: Estimate::exact(0.2),
            noise_sd_g: Some(0.05),
            max_flow_g_per_s: 30.0,
            gap_s: 0.5,
            segment: SegmentOptions::default(),
        };
        let mut watch = Watch::new(known);
        (0..600)
            .map(|i| {
                let noise = 0.05 * ((i * i * 37 % 101) as f64 / 50.0 - 1.0);
                watch.update(0.1 * i as f64, load_g(0.1 * i as f64) + noise)
            })
            .collect()
    }

    fn pour(t: f64) -> f64 {
        6.0 * (t - 10.0).clamp(0.0, 5.0)
    }

    #[test]
    fn a_vessel_that_is_lifted_and_put_back_does_not_change_the_water() {
        let off = |t: f64| if (25.0..30.0).contains(&t) { -300.0 } else { 0.0 };
        for vessel_g in [0.0, 400.0] {
            let now = watched(|t| vessel_g + pour(t) + off(t));
            let last = &now[599];
            assert!((last.water_g.value - 30.0).abs() < 0.3, "{vessel_g}: {}", last.water_g);
            assert!(
                (last.poured_g - 30.0).abs() < 0.5 && last.state == LivePhase::Rest,
                "{vessel_g}: {last:?}"
            );
            assert!((now[320].water_g.value - 30.0).abs() < 0.3, "{vessel_g}: {}", now[320].water_g);
        }
    }

    #[test]
    fn a_vessel_that_returns_lighter_does_not_change_the_water() {
        let off = |t: f64| {
            if t < 25.0 {
                0.0
            } else if t < 30.0 {
                -300.0
            } else {
                -5.0
            }
        };
        let last = watched(|t| 400.0 + pour(t) + off(t)).pop().unwrap();
        assert!((last.water_g.value - 30.0).abs() < 0.2, "{}", last.water_g);
    }
}
