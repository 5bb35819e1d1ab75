//! In: readings, one by one. Out: whether a vessel with inflow could have given them, and the new level after a jump.
//!
//! Water only arrives, and not faster than `max_flow`. `condition` separates samples from knocks by the same rule;
//! here it is applied to each sample as it arrives. A reading that violates it is off. This ends when the reading is
//! back, or at rest at another level: the level jumped. From rest no stream raises a lagged reading by much in one
//! interval, and the tail of a knock resembles an onset. Such a reading waits for the next one, which confirms it by
//! a further rise.

use crate::estimate::Estimate;
use std::f64::consts::SQRT_2;

/// Limit of the difference of two readings, in its sd: exceeded by noise once per hour at 50 readings per second.
const SDS: f64 = 4.5;
/// A draught moves any scale by this much: a smaller deviation is possible, g.
const LEAST_SLACK_G: f64 = 0.15;
/// Evaporation and drift: a fall slower than this is no jump, g/s.
const LEAK_G_PER_S: f64 = 0.3;
/// A pour hardly ever has more flow than this, g/s: a reading that needs more and was not expected waits for the next.
const USUAL_G_PER_S: f64 = 30.0;
/// A reading that does not move for this time is calm, s.
const CALM_S: f64 = 0.8;
/// After a jump the level is calm within this time of possible readings, or water flows, s.
const SETTLES_S: f64 = 2.5;

/// Classification of a reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Passed {
    /// Possible.
    Yes,
    /// Possible, and so is the waiting one before it: stamp and reading of that one.
    Both(f64, f64),
    /// Impossible, or waiting for the next one.
    Off,
    /// The readings are at rest, or possible for long enough, at another level: this one, g.
    Settled(f64),
}

/// Whether water arrives, according to the watch.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Inflow {
    None,
    /// The start of a pour was detected a moment ago.
    Starting,
    Running,
}

/// Summary of the readings since the last possible sample.
#[derive(Debug, Clone, Copy)]
struct Off {
    last_s: f64,
    last_g: f64,
    /// Whether the last one was possible by itself, and whether all of them were.
    waits: bool,
    all_wait: bool,
    samples: usize,
    /// Whether readings were off a moment before, too: a swing, over only when it is calm, and no knock.
    swings: bool,
    /// Start and level of the calm readings.
    calm_s: f64,
    calm_g: f64,
    /// Start of the possible readings.
    possible_s: f64,
}

/// The gate; its size is constant.
#[derive(Debug, Clone)]
pub(super) struct Gate {
    max_flow: f64,
    /// Lag of the scale, s.
    lag_s: f64,
    last: Option<(f64, f64)>,
    off: Option<Off>,
    last_off_s: f64,
}

impl Gate {
    pub(super) fn new(max_flow: f64, lag_s: f64) -> Self {
        Self { max_flow, lag_s: lag_s.max(1e-3), last: None, off: None, last_off_s: f64::NEG_INFINITY }
    }

    /// Compares a reading with the last possible one.
    pub(super) fn pass(
        &mut self,
        time_s: f64,
        reading_g: f64,
        sd_g: f64,
        inflow: Inflow,
        expected: Estimate,
    ) -> Passed {
        let slack = (SDS * SQRT_2 * sd_g).max(LEAST_SLACK_G);
        let Some((last_s, last_g)) = self.last else {
            self.last = Some((time_s, reading_g));
            return Passed::Yes;
        };
        let possible = |from_s: f64, from_g: f64| {
            let (dt_s, up_g) = (time_s - from_s, reading_g - from_g);
            up_g >= -slack - LEAK_G_PER_S * dt_s && up_g <= self.max_flow * dt_s + slack
        };
        let dt_s = time_s - last_s;
        // From rest, the fastest stream shows through the lag from its first drop on.
        let lagged_s = || dt_s - self.lag_s * (1.0 - (-dt_s / self.lag_s).exp());
        let most = self.max_flow.min(USUAL_G_PER_S);
        let reachable = |up_g: f64| up_g <= slack || up_g <= most * lagged_s() + slack;
        let usual = |up_g: f64| up_g <= most * dt_s + slack;
        let consistent = possible(last_s, last_g);
        let pours = inflow != Inflow::None;
        // During a pour the filter's prediction identifies the tail of a knock, up to the longest knock.
        let likely = (reading_g - expected.value).abs() <= slack + SDS * expected.sd;
        let up_g = reading_g - last_g;
        let passed = match self.off {
            None if consistent && (reachable(up_g) || pours && (likely || usual(up_g))) => Passed::Yes,
            Some(off) if consistent && !off.swings && pours && (likely || off.samples > 2) => Passed::Yes,
            Some(off) if consistent && !off.swings && !pours && up_g.abs() <= slack => Passed::Yes,
            Some(off) if consistent && off.all_wait && reachable(up_g) => Passed::Yes,
            Some(off)
                if consistent
                    && !pours
                    && !off.swings
                    && off.waits
                    && possible(off.last_s, off.last_g)
                    && reading_g > off.last_g + slack =>
            {
                Passed::Both(off.last_s, off.last_g)
            }
            _ => {
                let swings = inflow != Inflow::Running && time_s - self.last_off_s < CALM_S;
                if !consistent {
                    self.last_off_s = time_s;
                }
                self.off(time_s, reading_g, slack, consistent, swings)
            }
        };
        if passed != Passed::Off {
            (self.last, self.off) = (Some((time_s, reading_g)), None);
        }
        passed
    }

    fn off(&mut self, time_s: f64, reading_g: f64, slack: f64, waits: bool, swings: bool) -> Passed {
        let Some(off) = &mut self.off else {
            let (calm_g, last_g) = (reading_g, reading_g);
            self.off = Some(Off {
                last_s: time_s,
                last_g,
                waits,
                all_wait: waits,
                samples: 1,
                swings,
                calm_s: time_s,
                calm_g,
                possible_s: time_s,
            });
            return Passed::Off;
        };
        let (dt_s, up_g) = (time_s - off.last_s, reading_g - off.last_g);
        if (reading_g - off.calm_g).abs() > slack {
            (off.calm_s, off.calm_g) = (time_s, reading_g);
        }
        if up_g < -slack || up_g > self.max_flow * dt_s + slack {
            off.possible_s = time_s;
        }
        (off.last_s, off.last_g, off.waits) = (time_s, reading_g, waits);
        off.all_wait &= waits;
        off.samples += 1;
        let calm = time_s - off.calm_s >= CALM_S;
        let runs = time_s - off.possible_s >= SETTLES_S;
        if !(calm || runs) {
            return Passed::Off;
        }
        Passed::Settled(if calm { off.calm_g } else { reading_g })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Classification of readings at 10 Hz after a second at rest: noise 0.05 g, at most 30 g/s, a lag of 0.2 s.
    fn passed(inflow: Inflow, readings_g: &[f64]) -> Vec<Passed> {
        let mut gate = Gate::new(30.0, 0.2);
        let all: Vec<Passed> = [0.0; 10]
            .iter()
            .chain(readings_g)
            .enumerate()
            .map(|(i, &g)| gate.pass(0.1 * i as f64, g, 0.05, inflow, Estimate::new(g, 0.1)))
            .collect();
        all[10..].to_vec()
    }

    #[test]
    fn a_knock_is_off_and_the_tail_of_it_waits_for_the_next() {
        let found = passed(Inflow::None, &[20.0, 0.8, 0.0, 0.0]);
        assert_eq!(found, [Passed::Off, Passed::Off, Passed::Yes, Passed::Yes]);
    }

    #[test]
    fn a_jump_from_rest_that_rises_further_is_water_and_both_readings_count() {
        // By hand: 30 g/s through a lag of 0.2 s for 0.1 s is 30 (0.1 - 0.2 (1 - exp(-0.5))) = 0.64 g; with 0.32 g of
        // noise 0.96 g.
        assert_eq!(passed(Inflow::None, &[0.9]), [Passed::Yes]);
        let found = passed(Inflow::None, &[1.2, 2.9]);
        let Passed::Both(at_s, reading_g) = found[1] else { panic!("{found:?}") };
        assert!(found[0] == Passed::Off && (at_s - 1.0).abs() < 1e-9 && reading_g == 1.2);
        assert_eq!(passed(Inflow::Running, &[2.9]), [Passed::Yes], "30 g/s for 0.1 s, and noise");
        assert_eq!(passed(Inflow::Running, &[3.9]), [Passed::Off]);
    }

    #[test]
    fn a_calm_reading_at_another_level_is_settled() {
        let found = passed(Inflow::None, &[-200.0; 10]);
        assert!(found[..8].iter().all(|one| *one == Passed::Off), "{found:?}");
        assert_eq!(found[8], Passed::Settled(-200.0));
    }

    #[test]
    fn a_reading_may_fall_by_the_noise_and_the_evaporation_and_no_further() {
        // By hand: 4.5 sd of a difference, 0.05 g times root 2, are 0.318 g; 0.3 g evaporate per second.
        let found = |reading_g: f64| {
            let mut gate = Gate::new(30.0, 0.2);
            gate.pass(0.0, 0.0, 0.05, Inflow::None, Estimate::exact(0.0));
            gate.pass(1.0, reading_g, 0.05, Inflow::None, Estimate::exact(0.0))
        };
        assert_eq!([-0.6, -0.64].map(found), [Passed::Yes, Passed::Off]);
    }

    #[test]
    fn possible_readings_at_another_level_are_accepted_after_two_and_a_half_seconds() {
        // At 30 g/s 3 g in a tenth of a second and 0.318 g of noise: 3.2 g each are possible, 3.4 g are not.
        let settled = |rise_g: f64| {
            let climb: Vec<f64> = (0..40).map(|i| -400.0 + rise_g * f64::from(i)).collect();
            passed(Inflow::None, &climb).iter().position(|one| *one != Passed::Off)
        };
        assert_eq!([3.2, 3.4].map(settled), [Some(25), None]);
    }
}
