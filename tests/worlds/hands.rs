//! Kinds of hands: the flow of one pour on a grid of 1 ms.
//!
//! Written for what people do at a kettle. Usual flows are 4 to 12 g/s, usual pours last 6 to 20 s, and open and close
//! within .15 to .6 s.

use super::more_hands as more;
use super::{GRID_HZ, Random};
use std::f64::consts::TAU;

/// Water that falls as one drop.
#[derive(Debug, Clone, Copy)]
pub struct SingleDrop {
    pub time_s: f64,
    pub mass_g: f64,
}

/// One pour: the flow of its stream in each step of the grid, g/s, and its single drops.
#[derive(Debug, Clone, Default)]
pub struct Hand {
    pub flow: Vec<f64>,
    pub drops: Vec<SingleDrop>,
}

/// How hard start and end of a kind are to determine.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Opening {
    Usual,
    /// Opens in somewhat more than 1 s.
    Long,
    /// Drips first, or opens or closes in about 1.5 s.
    Longest,
}

/// A kind of hand.
pub struct Kind {
    pub name: &'static str,
    /// Least and most pours of a log.
    pub pours: (usize, usize),
    pub rest_s: (f64, f64),
    pub opening: Opening,
    pub draw: fn(&mut Random) -> Hand,
}

impl Kind {
    pub fn pour(&self, random: &mut Random) -> Hand {
        (self.draw)(random)
    }

    pub const fn new(name: &'static str, draw: fn(&mut Random) -> Hand) -> Self {
        Self { name, pours: (2, 4), rest_s: (15.0, 40.0), opening: Opening::Usual, draw }
    }

    const fn opens(self, opening: Opening) -> Self {
        Self { opening, ..self }
    }
}

static KINDS: [Kind; 52] = [
    Kind::new("level", level),
    Kind::new("level_alive", more::level_alive),
    Kind::new("taper", |r| sloped(r, -0.15, -0.08)),
    Kind::new("rising", |r| sloped(r, 0.27, 0.33)),
    Kind::new("falling", |r| sloped(r, -0.33, -0.27)),
    Kind::new("doubling", |r| sloped(r, 0.32, 0.35)),
    Kind::new("speeding_up", speeding_up),
    Kind::new("step", step),
    Kind::new("arch", |r| bent(r, -1.0)),
    Kind::new("dip", |r| bent(r, 1.0)),
    Kind::new("exponential", exponential),
    Kind::new("rough_1200", |r| rough(r, 1.2, (0.05, 0.12))),
    Kind::new("rough_400", |r| rough(r, 0.4, (0.05, 0.1))),
    Kind::new("fine", |r| rough(r, 0.15, (0.06, 0.08))),
    Kind::new("beat_025", |r| beat(r, 0.25)),
    Kind::new("beat_06", |r| beat(r, 0.6)),
    Kind::new("beat_1", |r| beat(r, 1.0)),
    Kind::new("beat_2", |r| beat(r, 2.0)),
    Kind::new("beat_25", |r| beat(r, 2.5)),
    Kind::new("spiral", more::spiral),
    Kind::new("glugs", more::glugs),
    Kind::new("drips", more::drips).opens(Opening::Longest),
    Kind::new("trickle", more::trickle),
    Kind::new("gentle_more", more::gentle_more),
    Kind::new("more_gentle", more::more_gentle),
    Kind::new("pulses_pauses", more::pulses_with_pauses),
    Kind::new("pulses_joined", more::pulses_without_pauses),
    Kind { pours: (2, 3), ..Kind::new("drop_by_drop", more::drop_by_drop) },
    Kind::new("dribble", more::dribble),
    Kind::new("s_opening", |r| opening(r, 1.2, Shape::Logistic)).opens(Opening::Long),
    Kind::new("slow_opening", |r| opening(r, 1.5, Shape::Linear)).opens(Opening::Longest),
    Kind::new("exp_opening", |r| opening(r, 1.6, Shape::Exponential)).opens(Opening::Longest),
    Kind::new("slow_closing", closing).opens(Opening::Longest),
    Kind::new("overshoot", more::overshoot),
    Kind::new("splash_at_end", more::splash_at_end),
    Kind::new("sharp", more::sharp),
    Kind::new("dip_low", |r| more::dip_to(r, 0.6, 2.0)),
    Kind::new("dip_1", |r| more::dip_to(r, 1.0, 1.5)),
    Kind::new("slip", more::slip),
    Kind { pours: (1, 2), ..Kind::new("two_near", more::two_near) },
    Kind::new("regimes", more::regimes),
    Kind::new("regimes_any", more::regimes_any),
    Kind::new("fast", more::fast),
    Kind::new("slow", more::slow),
    Kind::new("short", more::short),
    Kind::new("small", more::small),
    Kind { pours: (1, 1), ..Kind::new("long", more::long) },
    Kind { rest_s: (2.0, 6.0), ..Kind::new("short_rests", level) },
    Kind { pours: (6, 9), rest_s: (5.0, 12.0), ..Kind::new("many", more::many) },
    Kind { pours: (1, 1), ..Kind::new("single", level) },
    Kind::new("bloom_then", more::unlike),
    Kind::new("mixed", more::mixed),
];

/// All kinds.
pub fn kinds() -> &'static [Kind] {
    &KINDS
}

/// How a flow opens or closes, from 0 at 0 to 1 at 1.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Shape {
    Linear,
    HalfCosine,
    Exponential,
    /// The same backwards: it closes quickly at first, and ever more slowly.
    Decay,
    Logistic,
}

impl Shape {
    fn opening(random: &mut Random) -> Self {
        [Self::Linear, Self::HalfCosine, Self::Exponential][random.count(0, 2)]
    }

    fn closing(random: &mut Random) -> Self {
        [Self::Linear, Self::HalfCosine, Self::Decay][random.count(0, 2)]
    }

    pub fn at(self, x: f64) -> f64 {
        let x = x.clamp(0.0, 1.0);
        match self {
            Self::Linear => x,
            Self::HalfCosine => 0.5 - 0.5 * (0.5 * TAU * x).cos(),
            Self::Exponential => (1.0 - (-4.0 * x).exp()) / (1.0 - (-4f64).exp()),
            Self::Decay => ((4.0 * x).exp() - 1.0) / (4f64.exp() - 1.0),
            Self::Logistic => {
                let s = |x: f64| 1.0 / (1.0 + (-10.0 * (x - 0.5)).exp());
                (s(x) - s(0.0)) / (s(1.0) - s(0.0))
            }
        }
    }
}

/// The opening and the closing of a pour.
#[derive(Debug, Clone, Copy)]
pub struct Ramps {
    pub open: (f64, Shape),
    pub close: (f64, Shape),
}

impl Ramps {
    /// Usual ramps of a pour of that length.
    pub fn usual(random: &mut Random, seconds: f64) -> Self {
        let most = 0.6f64.min(0.3 * seconds);
        let most = most.max(0.16);
        Self {
            open: (random.within(0.15, most), Shape::opening(random)),
            close: (random.within(0.15, most), Shape::closing(random)),
        }
    }

    pub fn at(&self, t: f64, seconds: f64) -> f64 {
        self.open.1.at(t / self.open.0) * self.close.1.at((seconds - t) / self.close.0)
    }
}

/// A pour of a mean flow, of a profile over its time, with ramps. The profile gets the share of the time and the time,
/// s.
pub fn shaped(seconds: f64, ramps: &Ramps, flow: impl Fn(f64, f64) -> f64) -> Hand {
    let n = (seconds * GRID_HZ) as usize;
    let at = |i: usize| (i as f64 + 0.5) / GRID_HZ;
    let flow = (0..n).map(|i| flow(at(i) / seconds, at(i)).max(0.0) * ramps.at(at(i), seconds)).collect();
    Hand { flow, drops: Vec::new() }
}

/// Seconds, flow and ramps of a usual pour.
pub fn usual(random: &mut Random) -> (f64, f64, Ramps) {
    let (seconds, flow) = (random.within(6.0, 20.0), random.within(4.0, 12.0));
    let ramps = Ramps::usual(random, seconds);
    (seconds, flow, ramps)
}

pub fn level(random: &mut Random) -> Hand {
    let (seconds, flow, ramps) = usual(random);
    shaped(seconds, &ramps, |_, _| flow)
}

/// A straight line from `1 - half` to `1 + half` of its mean.
fn sloped(random: &mut Random, from: f64, to: f64) -> Hand {
    let (seconds, flow, ramps) = usual(random);
    let half = random.within(from, to);
    shaped(seconds, &ramps, |u, _| flow * (1.0 + half * (2.0 * u - 1.0)))
}

/// A kettle that is tilted ever more.
fn speeding_up(random: &mut Random) -> Hand {
    let (seconds, flow, ramps) = usual(random);
    let grows = random.within(0.6, 1.6);
    shaped(seconds, &ramps, |u, _| 0.7 * flow * (1.0 + grows * u * u))
}

fn step(random: &mut Random) -> Hand {
    let (seconds, flow, ramps) = usual(random);
    let (at, sign) = (random.within(0.35, 0.65), random.sign());
    let takes_s = random.within(0.05, 0.4);
    shaped(seconds, &ramps, |_, t| {
        let done = Shape::HalfCosine.at((t - at * seconds) / takes_s + 0.5);
        flow * (1.0 + 0.25 * sign * (1.0 - 2.0 * done))
    })
}

/// A parabola: -1 for an arch, 1 for a dip, by 20 to 35 % of the mean.
fn bent(random: &mut Random, sign: f64) -> Hand {
    let (seconds, flow, ramps) = usual(random);
    let depth = sign * random.within(0.2, 0.35);
    shaped(seconds, &ramps, |u, _| flow * (1.0 + depth * (6.0 * (u - 0.5).powi(2) - 0.5)))
}

/// A flow that decays until it stops: the kettle runs empty.
fn exponential(random: &mut Random) -> Hand {
    let (tau_s, flow) = (random.within(3.0, 6.0), random.within(6.0, 14.0));
    // Where the stream breaks off, g/s.
    let least = random.within(0.02, 0.3);
    let seconds = tau_s * (flow / least).ln();
    let ramps = Ramps { close: (0.05, Shape::Linear), ..Ramps::usual(random, seconds) };
    shaped(seconds, &ramps, |_, t| flow * (-t / tau_s).exp())
}

/// A usual pour with a random share on top.
fn rough(random: &mut Random, correlation_s: f64, cv: (f64, f64)) -> Hand {
    let (seconds, flow, ramps) = usual(random);
    let cv = random.within(cv.0, cv.1);
    let noise = noise(random, seconds, correlation_s);
    shaped(seconds, &ramps, |_, t| flow * (1.0 + cv * noise[(t * GRID_HZ) as usize]).max(0.05))
}

/// White noise in steps of this length is white for each filter in use.
const HELD_S: f64 = 0.005;

/// Stationary noise of unit variance whose autocorrelation falls to 1/e after the correlation time. Its paths are
/// rough (first order), or smoother (second order, or Gaussian), as drawn.
pub fn noise(random: &mut Random, seconds: f64, correlation_s: f64) -> Vec<f64> {
    let n = (seconds * GRID_HZ) as usize + 1;
    let order = random.count(0, 2);
    // One, two or eight first-order filters in a row: the time constant at which their autocorrelation is 1/e after
    // 1 s, and the integral of their squared impulse response, in units of 1 / time constant.
    let (filters, tau_s, squares) =
        [(1, 1.0, 0.5), (2, 1.0 / 2.146, 0.25), (8, 1.0 / 5.53, 0.104_737)][order];
    let kept = (-1.0 / (GRID_HZ * correlation_s * tau_s)).exp();
    let warm = (12.0 * correlation_s * GRID_HZ) as usize;
    let mut states = vec![0.0; filters];
    let mut values = Vec::with_capacity(n);
    let mut drawn = 0.0;
    for i in 0..warm + n {
        if i % 5 == 0 {
            drawn = random.normal();
        }
        let mut input = drawn;
        for state in &mut states {
            *state = kept * *state + (1.0 - kept) * input;
            input = *state;
        }
        if i >= warm {
            values.push(input);
        }
    }
    let sd = (HELD_S * squares / (correlation_s * tau_s)).sqrt();
    values.iter_mut().for_each(|v| *v /= sd);
    values
}

/// A sinusoid in the flow: the hand sways, or circles.
fn beat(random: &mut Random, hz: f64) -> Hand {
    let (seconds, flow, ramps) = usual(random);
    let (hz, amplitude) = (hz * random.within(0.94, 1.06), random.within(0.05, 0.08) * 2f64.sqrt());
    let phase = random.within(0.0, TAU);
    shaped(seconds, &ramps, |_, t| flow * (1.0 + amplitude * (TAU * hz * t + phase).sin()))
}

fn opening(random: &mut Random, takes_s: f64, shape: Shape) -> Hand {
    let (seconds, flow, mut ramps) = usual(random);
    ramps.open = (takes_s * random.within(0.85, 1.2), shape);
    shaped(seconds, &ramps, |_, _| flow)
}

fn closing(random: &mut Random) -> Hand {
    let (seconds, flow, mut ramps) = usual(random);
    let shape = [Shape::Linear, Shape::Decay, Shape::Logistic][random.count(0, 2)];
    ramps.close = (random.within(1.0, 2.0), shape);
    shaped(seconds, &ramps, |_, _| flow)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn noise_has_unit_variance_and_its_correlation_time() {
        for correlation_s in [0.15, 1.2] {
            let (mut sum, mut product, mut n) = (0.0, 0.0, 0.0);
            let mut random = Random::new(1);
            for _ in 0..60 {
                let values = noise(&mut random, 200.0 * correlation_s, correlation_s);
                let lag = (correlation_s * GRID_HZ) as usize;
                for i in (0..values.len() - lag).step_by(20) {
                    sum += values[i] * values[i];
                    product += values[i] * values[i + lag];
                    n += 1.0;
                }
            }
            assert!((sum / n - 1.0).abs() < 0.05, "{}", sum / n);
            assert!((product / sum - (-1f64).exp()).abs() < 0.04, "{}", product / sum);
        }
    }

    #[test]
    fn names_differ() {
        let names: std::collections::BTreeSet<_> = kinds().iter().map(|k| k.name).collect();
        assert_eq!(names.len(), kinds().len());
    }
}
