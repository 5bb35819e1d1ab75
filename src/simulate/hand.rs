//! In: how a person pours. Out: the true flow of water at the bed, as a function of time.

use crate::math::random::Random;
use crate::simulate::recipe::{Hand, PlannedPour, Shape};
use std::f64::consts::{PI, TAU};

/// Shortest time at full flow of a drawn pour, s: a shorter one does not reach that flow.
const SHORTEST_FULL_S: f64 = 0.5;
/// Lower bound of the flow under any tremor, as a fraction of the flow: a trembling hand does not stop the stream.
const LEAST_SHARE: f64 = 0.1;

struct Wave {
    share: f64,
    hz: f64,
    phase: f64,
}

/// One pour as a function of time.
pub(super) struct Stream {
    pub(super) start_s: f64,
    pub(super) end_s: f64,
    rise_s: f64,
    fall_s: f64,
    shapes: [Shape; 2],
    flow_g_per_s: f64,
    tilt: f64,
    waves: Vec<Wave>,
}

fn ramp(shape: Shape, u: f64) -> f64 {
    match shape {
        Shape::Mixed | Shape::Linear => u,
        Shape::Smooth => 0.5 - 0.5 * (PI * u).cos(),
        Shape::Exponential => (1.0 - (-3.0 * u).exp()) / (1.0 - (-3.0_f64).exp()),
    }
}

/// Mean of the ramp over its time, as a fraction of the full flow.
fn ramp_mean(shape: Shape) -> f64 {
    match shape {
        Shape::Mixed | Shape::Linear | Shape::Smooth => 0.5,
        Shape::Exponential => 1.0 / (1.0 - (-3.0_f64).exp()) - 1.0 / 3.0,
    }
}

impl Stream {
    /// A pour of that mass from `start_s`, without tremor.
    pub(super) fn new(start_s: f64, pour: &PlannedPour, shapes: [Shape; 2]) -> Self {
        let ramps_g =
            pour.flow_g_per_s * (pour.rise_s * ramp_mean(shapes[0]) + pour.fall_s * ramp_mean(shapes[1]));
        let full_s = ((pour.mass_g - ramps_g) / pour.flow_g_per_s).max(0.0);
        // A planned pour without time at full flow has its mass by a lower peak.
        let flow_g_per_s = pour.flow_g_per_s * (pour.mass_g / ramps_g).min(1.0);
        Self {
            start_s,
            end_s: start_s + pour.rise_s + full_s + pour.fall_s,
            rise_s: pour.rise_s,
            fall_s: pour.fall_s,
            shapes,
            flow_g_per_s,
            tilt: 0.0,
            waves: Vec::new(),
        }
    }

    /// Flow at an instant, g/s.
    pub(super) fn at(&self, t_s: f64) -> f64 {
        if t_s <= self.start_s || t_s >= self.end_s {
            return 0.0;
        }
        let rise = ((t_s - self.start_s) / self.rise_s).min(1.0);
        let fall = ((self.end_s - t_s) / self.fall_s).min(1.0);
        let along = (t_s - self.start_s) / (self.end_s - self.start_s) - 0.5;
        let tremor: f64 = self.waves.iter().map(|w| w.share * (TAU * w.hz * t_s + w.phase).sin()).sum();
        self.flow_g_per_s
            * ramp(self.shapes[0], rise)
            * ramp(self.shapes[1], fall)
            * (1.0 + self.tilt * along + tremor).max(LEAST_SHARE)
    }

    /// Adds the flow to a grid of `dt_s` from time zero.
    pub(super) fn add_to(&self, flow_g_per_s: &mut [f64], dt_s: f64) {
        let first = (self.start_s / dt_s) as usize;
        let after = ((self.end_s / dt_s).ceil() as usize + 1).min(flow_g_per_s.len());
        for (i, q) in flow_g_per_s.iter_mut().enumerate().take(after).skip(first) {
            *q += self.at(i as f64 * dt_s);
        }
    }
}

/// The pours of a brew, the first at `first_s`.
pub(super) fn pours(hand: &Hand, first_s: f64, random: &mut Random) -> Vec<Stream> {
    let planned = if hand.planned.is_empty() { draw(hand, random) } else { hand.planned.clone() };
    let tremor = random.between(hand.tremor);
    let mut start_s = first_s;
    let mut streams: Vec<Stream> = Vec::with_capacity(planned.len());
    for (k, pour) in planned.iter().enumerate() {
        if k > 0 {
            start_s += pour.rest_s;
        }
        let mut stream = Stream::new(start_s, pour, [shape(hand, random), shape(hand, random)]);
        stream.tilt = random.between(hand.tilt);
        stream.waves = waves(hand, tremor, random);
        start_s = stream.end_s;
        streams.push(stream);
    }
    streams
}

fn draw(hand: &Hand, random: &mut Random) -> Vec<PlannedPour> {
    (0..random.count(hand.pours))
        .map(|_| {
            let (rise_s, fall_s) = (random.between(hand.rise_s), random.between(hand.fall_s));
            let mass_g = random.between(hand.mass_g);
            let fastest = mass_g / (SHORTEST_FULL_S + 0.5 * (rise_s + fall_s));
            let flow_g_per_s = random.between(hand.flow_g_per_s).min(fastest);
            PlannedPour { rest_s: random.between(hand.rest_s), mass_g, flow_g_per_s, rise_s, fall_s }
        })
        .collect()
}

fn shape(hand: &Hand, random: &mut Random) -> Shape {
    let linear = random.chance(0.5);
    match hand.shape {
        Shape::Mixed if linear => Shape::Linear,
        Shape::Mixed => Shape::Smooth,
        named => named,
    }
}

fn waves(hand: &Hand, tremor: f64, random: &mut Random) -> Vec<Wave> {
    let n = random.count(hand.tremor_waves);
    let share = tremor / f64::from(n.max(1)).sqrt();
    (0..n)
        .map(|_| Wave { share, hz: random.between(hand.tremor_hz), phase: random.between([0.0, TAU]) })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_stream_delivers_its_mass_whatever_its_shape() {
        for shape in [Shape::Linear, Shape::Smooth, Shape::Exponential] {
            for mass_g in [2.0, 40.0] {
                let pour = PlannedPour { rest_s: 0.0, mass_g, flow_g_per_s: 8.0, rise_s: 0.4, fall_s: 0.6 };
                let stream = Stream::new(1.0, &pour, [shape, shape]);
                let sum: f64 = (0..20_000).map(|i| stream.at(f64::from(i) * 1e-3) * 1e-3).sum();
                assert!((sum - mass_g).abs() < 1e-3, "{shape:?}: {sum} g of {mass_g} g");
            }
        }
    }

    #[test]
    fn a_drawn_pour_has_its_full_flow_for_half_a_second_at_least() {
        // For any drawn flow: mass over flow is the time at full flow and half of both ramps.
        let hand = Hand { flow_g_per_s: [1e3, 1e3], ..Hand::default() };
        for seed in 0..20 {
            for pour in draw(&hand, &mut Random::new(seed)) {
                let full_s = pour.mass_g / pour.flow_g_per_s - 0.5 * (pour.rise_s + pour.fall_s);
                assert!((full_s - 0.5).abs() < 1e-9, "{full_s}");
            }
        }
    }

    #[test]
    fn a_ramp_rises_from_0_to_1_and_has_the_stated_mean() {
        for shape in [Shape::Linear, Shape::Smooth, Shape::Exponential] {
            assert!(ramp(shape, 0.0).abs() < 1e-12 && (ramp(shape, 1.0) - 1.0).abs() < 1e-12);
            let mean = (0..10_000).map(|i| ramp(shape, (f64::from(i) + 0.5) * 1e-4) * 1e-4).sum::<f64>();
            assert!((mean - ramp_mean(shape)).abs() < 1e-6, "{shape:?}: {mean}");
        }
        // Half way: by hand 0.5, 0.5 and (1 - e^-1.5)/(1 - e^-3).
        assert!((ramp(Shape::Smooth, 0.25) - (0.5 - 0.5 * 0.5_f64.sqrt())).abs() < 1e-12);
        assert!((ramp(Shape::Exponential, 0.5) - 0.817_574).abs() < 1e-6);
    }

    #[test]
    fn a_tilt_goes_by_the_share_of_the_pour_that_is_over_and_a_tremor_never_stops_the_stream() {
        let pour = PlannedPour { rest_s: 0.0, mass_g: 80.0, flow_g_per_s: 8.0, rise_s: 0.2, fall_s: 0.2 };
        let mut stream = Stream::new(30.0, &pour, [Shape::Linear; 2]);
        stream.tilt = 0.4;
        // 80 g less 1.6 g of ramps: 9.8 s at 8 g/s and 0.4 s more.
        assert!((stream.end_s - 40.2).abs() < 1e-9);
        for (share, by_hand) in [(0.25, 8.0 * 0.9), (0.5, 8.0), (0.75, 8.0 * 1.1)] {
            let found = stream.at(30.0 + share * 10.2);
            assert!((found - by_hand).abs() < 1e-9, "{found}, not {by_hand}");
        }
        stream.waves = vec![Wave { share: 2.0, hz: 0.25, phase: 0.0 }];
        // sin(2 pi 0.25 x 35) is -1: a tenth remains.
        assert!((stream.at(35.0) - 0.8).abs() < 1e-9, "{}", stream.at(35.0));
    }
}
