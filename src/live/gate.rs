//! In: readings, one by one. Out: whether a vessel under a stream could have given them, and how far the level has jumped if it could not.
//!
//! Water only arrives, and not faster than `max_flow`: the rule by which `condition` parts samples from knocks, asked of each sample as it
//! comes. A reading that breaks it is off. Off ends when the reading is back, or when it has come to rest at another level: the level jumped.
//! From rest no stream lifts a lagged reading by much in one interval, and the tail of a knock looks like an onset: such a reading
//! waits for the next, which confirms it by climbing on.

use crate::estimate::Estimate;
use std::f64::consts::SQRT_2;

/// Noise allowed to the difference of two readings, in its sd: passed once in an hour of 50 readings a second.
const SDS: f64 = 4.5;
/// A draught moves any scale by this much, g.
const LEAST_SLACK_G: f64 = 0.15;
/// Evaporation and drift: a fall slower than this is no jump, g/s.
const LEAK_G_PER_S: f64 = 0.3;
/// A reading that stays for so long is calm, s.
const CALM_S: f64 = 0.8;
/// Once the level has jumped it is calm within this time of readings that a stream could give, or water runs, s.
const SETTLES_S: f64 = 2.5;

/// What a reading is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Passed {
    /// Possible.
    Yes,
    /// Possible, and so was the one before, which had to wait: its stamp and reading.
    Both(f64, f64),
    /// Impossible, or in need of the next one.
    Off,
    /// The readings have come to rest, or to what a stream could give, elsewhere: at this level, g.
    Settled(f64),
}

/// What the hand does, as far as it is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Hand {
    Rests,
    /// A pour was called a moment ago.
    Begins,
    Pours,
}

/// What has been read since the last sample that was possible.
#[derive(Debug, Clone, Copy)]
struct Off {
    last_s: f64,
    last_g: f64,
    /// Whether the last one was possible by itself, and whether all were.
    waits: bool,
    all_wait: bool,
    samples: usize,
    /// Whether readings were off a moment before, too: no knock but a swing, over only when it is calm.
    swings: bool,
    /// From when on, and at which level, the readings have been calm.
    calm_s: f64,
    calm_g: f64,
    /// From when on they have been such as a stream could give.
    sound_s: f64,
}

/// The gate, of constant size.
#[derive(Debug, Clone)]
pub(super) struct Gate {
    max_flow: f64,
    /// Of the scale, s.
    lag_s: f64,
    last: Option<(f64, f64)>,
    off: Option<Off>,
    last_off_s: f64,
}

impl Gate {
    pub(super) fn new(max_flow: f64, lag_s: f64) -> Self {
        Self { max_flow, lag_s: lag_s.max(1e-3), last: None, off: None, last_off_s: f64::NEG_INFINITY }
    }

    /// Holds a reading against the last possible one.
    pub(super) fn pass(
        &mut self,
        time_s: f64,
        reading_g: f64,
        sd_g: f64,
        hand: Hand,
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
        // From rest, a stream at its fastest is seen through the lag from its first drop on.
        let seen_s = || dt_s - self.lag_s * (1.0 - (-dt_s / self.lag_s).exp());
        let quick = |up_g: f64| up_g <= slack || up_g <= self.max_flow * seen_s() + slack;
        let sound = possible(last_s, last_g);
        let pours = hand != Hand::Rests;
        // While water runs the tail of a knock is found by what the filter expects, for as long as a knock may last.
        let likely = (reading_g - expected.value).abs() <= slack + SDS * expected.sd;
        let up_g = reading_g - last_g;
        let passed = match self.off {
            None if sound && (pours || quick(up_g)) => Passed::Yes,
            Some(off) if sound && !off.swings && pours && (likely || off.samples > 2) => Passed::Yes,
            Some(off) if sound && !off.swings && !pours && up_g.abs() <= slack => Passed::Yes,
            Some(off) if sound && off.all_wait && quick(up_g) => Passed::Yes,
            Some(off)
                if sound
                    && !pours
                    && !off.swings
                    && off.waits
                    && possible(off.last_s, off.last_g)
                    && reading_g > off.last_g + slack =>
            {
                Passed::Both(off.last_s, off.last_g)
            }
            _ => {
                let swings = hand != Hand::Pours && time_s - self.last_off_s < CALM_S;
                if !sound {
                    self.last_off_s = time_s;
                }
                self.off(time_s, reading_g, slack, sound, swings)
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
                sound_s: time_s,
            });
            return Passed::Off;
        };
        let (dt_s, up_g) = (time_s - off.last_s, reading_g - off.last_g);
        if (reading_g - off.calm_g).abs() > slack {
            (off.calm_s, off.calm_g) = (time_s, reading_g);
        }
        if up_g < -slack || up_g > self.max_flow * dt_s + slack {
            off.sound_s = time_s;
        }
        (off.last_s, off.last_g, off.waits) = (time_s, reading_g, waits);
        off.all_wait &= waits;
        off.samples += 1;
        let calm = time_s - off.calm_s >= CALM_S;
        let runs = time_s - off.sound_s >= SETTLES_S;
        if !(calm || runs) {
            return Passed::Off;
        }
        Passed::Settled(if calm { off.calm_g } else { reading_g })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What becomes of readings at ten a second after a second at rest, noise of 0.05 g, 30 g/s at most, a lag of 0.2 s.
    fn passed(hand: Hand, readings_g: &[f64]) -> Vec<Passed> {
        let mut gate = Gate::new(30.0, 0.2);
        let all: Vec<Passed> = [0.0; 10]
            .iter()
            .chain(readings_g)
            .enumerate()
            .map(|(i, &g)| gate.pass(0.1 * i as f64, g, 0.05, hand, Estimate::new(g, 0.1)))
            .collect();
        all[10..].to_vec()
    }

    #[test]
    fn a_knock_is_off_and_the_tail_of_it_waits_for_the_next() {
        let found = passed(Hand::Rests, &[20.0, 0.8, 0.0, 0.0]);
        assert_eq!(found, [Passed::Off, Passed::Off, Passed::Yes, Passed::Yes]);
    }

    #[test]
    fn a_leap_from_rest_that_climbs_on_is_water_and_both_count() {
        // By hand: 30 g/s seen through 0.2 s for 0.1 s is 30 (0.1 - 0.2 (1 - exp(-0.5))) = 0.64 g; with 0.32 g of noise 0.96 g.
        assert_eq!(passed(Hand::Rests, &[0.9]), [Passed::Yes]);
        let found = passed(Hand::Rests, &[1.2, 2.9]);
        let Passed::Both(at_s, reading_g) = found[1] else { panic!("{found:?}") };
        assert!(found[0] == Passed::Off && (at_s - 1.0).abs() < 1e-9 && reading_g == 1.2);
        assert_eq!(passed(Hand::Pours, &[2.9]), [Passed::Yes], "30 g/s for 0.1 s, and noise");
        assert_eq!(passed(Hand::Pours, &[3.9]), [Passed::Off]);
    }

    #[test]
    fn a_level_that_stays_elsewhere_is_where_it_settles() {
        let found = passed(Hand::Rests, &[-200.0; 10]);
        assert!(found[..8].iter().all(|one| *one == Passed::Off), "{found:?}");
        assert_eq!(found[8], Passed::Settled(-200.0));
    }

    #[test]
    fn a_reading_may_fall_by_the_noise_and_by_what_a_scale_leaks_and_no_further() {
        // By hand: 4.5 sd of a difference, 0.05 g times root 2, are 0.318 g; a second leaks 0.3 g.
        let found = |reading_g: f64| {
            let mut gate = Gate::new(30.0, 0.2);
            gate.pass(0.0, 0.0, 0.05, Hand::Rests, Estimate::exact(0.0));
            gate.pass(1.0, reading_g, 0.05, Hand::Rests, Estimate::exact(0.0))
        };
        assert_eq!([-0.6, -0.64].map(found), [Passed::Yes, Passed::Off]);
    }

    #[test]
    fn readings_elsewhere_that_climb_as_a_stream_may_are_taken_after_two_and_a_half_seconds() {
        // At 30 g/s 3 g in a tenth of a second and 0.318 g of noise: 3.2 g each are possible, 3.4 g are not.
        let settled = |step_g: f64| {
            let climb: Vec<f64> = (0..40).map(|i| -400.0 + step_g * f64::from(i)).collect();
            passed(Hand::Rests, &climb).iter().position(|one| *one != Passed::Off)
        };
        assert_eq!([3.2, 3.4].map(settled), [Some(25), None]);
    }
}
