//! In: the flow and one pour. Out: sums over the pour, each with its sd.
//!
//! The errors of the flow at neighbouring stamps are correlated, and the pour's mass is far better known than any of
//! them. So the error of a sum is split. Its component along the mass has the sd of the mass. The rest has the sd of
//! the flow, whose error is taken as one over the correlation time of a slope with that sd, and as independent beyond
//! it.

use crate::condition::trace::ChannelTrace;
use crate::estimate::{Estimate, Undefined};
use crate::math::distribution::normal_below;
use crate::segment::flow::Flow;
use crate::segment::pour::Pour;

/// Fewest stamps of the flow within a pour.
const FEWEST: usize = 4;
/// Accepted ratios of the integral of the flow to the pour's mass.
const SHARE: [f64; 2] = [0.7, 1.4];

/// Range of the integration for the largest flow, in sd to both sides, and its number of slices.
const FAR: f64 = 5.0;
const SLICES: usize = 200;
/// At this many sd above a flow the tail probability is 1e-9.
const CERTAIN: f64 = 6.0;
/// Least flow that counts for the peak, in sd.
const SIGNIFICANT: f64 = 3.0;

/// Correlation time of the level of a flow, at least, s: that of the slow process of the flow model.
const LEVEL_S: f64 = 2.0;

/// A function of the flow, g/s, with its first and second derivative.
pub(super) type Jet = [f64; 3];

/// The flow within one pour.
pub(super) struct Pouring {
    steps: Vec<Step>,
    pub mass_g: Estimate,
    pub duration_s: Estimate,
}

/// One stamp of the flow.
struct Step {
    flow_g_per_s: f64,
    sd_g_per_s: f64,
    /// Time that it represents, s.
    for_s: f64,
    /// Correlation time of its error, s.
    one_s: f64,
}

impl Pouring {
    pub(super) fn new(
        water: &ChannelTrace,
        rate_hz: f64,
        flow: &Flow,
        pour: &Pour,
    ) -> Result<Self, Undefined> {
        let (start, end) = (pour.start_s.value, pour.end_s.value);
        let from = flow.time_s.partition_point(|&t| t <= start);
        let to = flow.time_s.partition_point(|&t| t < end);
        let inside: Vec<usize> = (from..to).filter(|&i| flow.flow_sd_g_per_s[i].is_finite()).collect();
        if inside.len() < FEWEST {
            let found = inside.len();
            return Err(Undefined::because(format!(
                "{found} samples lie in the pour, and {FEWEST} are needed"
            )));
        }
        // Each stamp represents the time up to the midpoints to its neighbours.
        let middles = inside.windows(2).map(|w| f64::midpoint(flow.time_s[w[0]], flow.time_s[w[1]]));
        let bounds: Vec<f64> = std::iter::once(start).chain(middles).chain([end]).collect();
        // A slope has the sd s from readings of noise sigma, at f per second, that span (12 sigma^2/(f s^2))^(1/3).
        let span = |sd: f64| (12.0 * water.noise_sd_g.value.powi(2) / (rate_hz * sd * sd)).cbrt();
        let step = |(&i, w): (&usize, &[f64])| Step {
            flow_g_per_s: flow.flow_g_per_s[i],
            sd_g_per_s: flow.flow_sd_g_per_s[i],
            for_s: w[1] - w[0],
            one_s: span(flow.flow_sd_g_per_s[i]).clamp(w[1] - w[0], (end - start).max(w[1] - w[0])),
        };
        let steps: Vec<Step> = inside.iter().zip(bounds.windows(2)).map(step).collect();
        let mut pouring = Self { steps, mass_g: pour.mass_g, duration_s: pour.duration_s };
        let given: f64 = pouring.steps.iter().map(|s| s.flow_g_per_s * s.for_s).sum();
        let share = given / pour.mass_g.value;
        if !(SHARE[0]..=SHARE[1]).contains(&share) {
            let mass = pour.mass_g;
            return Err(Undefined::because(format!(
                "the flow in it gives {given:.1} g of the pour's {mass} g"
            )));
        }
        pouring.steps.iter_mut().for_each(|s| s.for_s /= share);
        Ok(pouring)
    }

    /// A constant flow for a time, exact except for the mass.
    #[cfg(test)]
    pub(super) fn even(flow_g_per_s: f64, for_s: f64, mass_sd_g: f64) -> Self {
        let step = Step { flow_g_per_s, sd_g_per_s: 0.0, for_s, one_s: for_s };
        let mass_g = Estimate::new(flow_g_per_s * for_s, mass_sd_g);
        Self { steps: vec![step], mass_g, duration_s: Estimate::exact(for_s) }
    }

    /// Integral over the pour of a function of the flow.
    pub(super) fn integral(&self, of: impl Fn(f64) -> Jet) -> Estimate {
        let (mut value, mut weight, mut slope) = (0.0, 0.0, 0.0);
        for s in &self.steps {
            let [f, by, curved] = of(s.flow_g_per_s);
            // The mean over the distribution of the flow.
            value += s.for_s * (f + 0.5 * curved * s.sd_g_per_s.powi(2));
            weight += s.for_s * s.sd_g_per_s.powi(2);
            slope += s.for_s * s.sd_g_per_s.powi(2) * by;
        }
        let slope = if weight > 0.0 { slope / weight } else { 0.0 };
        let apart = |s: &Step| s.for_s * s.one_s * ((of(s.flow_g_per_s)[1] - slope) * s.sd_g_per_s).powi(2);
        let var: f64 = self.steps.iter().map(apart).sum();
        Estimate::new(value, (slope * self.mass_g.sd).hypot(var.sqrt()))
    }

    /// Sum over the pour of time times a probability, s. A level near the limit is on one side of it for seconds.
    pub(super) fn time(&self, chance: impl Fn(Estimate) -> f64) -> Estimate {
        let (mut value, mut var) = (0.0, 0.0);
        for s in &self.steps {
            let p = chance(Estimate::new(s.flow_g_per_s, s.sd_g_per_s));
            value += s.for_s * p;
            var += s.for_s * s.one_s.max(LEVEL_S) * p * (1.0 - p);
        }
        // The sum is a share of the duration and scales with it.
        let by_duration = value * self.duration_s.sd / self.duration_s.value;
        Estimate::new(value, var.sqrt().hypot(by_duration))
    }

    /// The largest flow, g/s: the expected maximum over independent errors.
    pub(super) fn peak(&self) -> Estimate {
        // Near an edge the sd reflects the instant of the edge, not the height of the flow.
        let is_significant = |s: &&Step| s.flow_g_per_s >= SIGNIFICANT * s.sd_g_per_s;
        let significant: Vec<&Step> = self.steps.iter().filter(is_significant).collect();
        let steps = if significant.is_empty() { self.steps.iter().collect() } else { significant };
        let top = |over: f64| {
            let reach = |s: &&Step| s.flow_g_per_s + over * s.sd_g_per_s;
            steps.iter().map(reach).fold(0.0, f64::max)
        };
        let (low, high) = (top(-FAR), top(FAR));
        if high <= low {
            return Estimate::exact(high);
        }
        let below_all = |x: f64| -> f64 {
            let mut all = 1.0;
            for s in &steps {
                let beyond = (x - s.flow_g_per_s) / s.sd_g_per_s;
                // Most stamps lie far below the level with certainty.
                if beyond < CERTAIN {
                    all *= normal_below(beyond).powf(s.for_s / s.one_s);
                }
                if all < 1e-12 {
                    return 0.0;
                }
            }
            all
        };
        let slice = (high - low) / SLICES as f64;
        let (mut mean, mut square, mut before) = (0.0, 0.0, 0.0);
        for k in 0..SLICES {
            let upper = if k + 1 == SLICES { 1.0 } else { below_all(low + slice * (k as f64 + 1.0)) };
            let x = slice * (k as f64 + 0.5);
            mean += x * (upper - before);
            square += x * x * (upper - before);
            before = upper;
        }
        // The maximum of many errors varies less than one of them; their number is approximate, so the sd of one is the
        // lower bound.
        let highest = steps.iter().max_by(|a, b| a.flow_g_per_s.total_cmp(&b.flow_g_per_s));
        let one = highest.map_or(0.0, |s| s.sd_g_per_s);
        Estimate::new(low + mean, (square - mean * mean).max(one * one).sqrt())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(found: f64, by_hand: f64) {
        assert!((found - by_hand).abs() < 1e-9 * by_hand.abs().max(1.0), "{found}, not {by_hand}");
    }

    /// Flow, its sd, time that it represents, correlation time of its error.
    fn pouring(steps: &[[f64; 4]]) -> Pouring {
        let step = |s: &[f64; 4]| Step { flow_g_per_s: s[0], sd_g_per_s: s[1], for_s: s[2], one_s: s[3] };
        Pouring {
            steps: steps.iter().map(step).collect(),
            mass_g: Estimate::new(16.0, 0.1),
            duration_s: Estimate::new(3.0, 0.3),
        }
    }

    #[test]
    fn an_integral_over_a_pour_and_its_sd_agree_with_arithmetic() {
        let found = pouring(&[[4.0, 0.5, 1.0, 1.0], [6.0, 1.0, 2.0, 1.5]])
            .integral(|q| [q.powi(3), 3.0 * q * q, 6.0 * q]);
        // E q^3 = q^3 + 3 q s^2: 64 + 3 = 67 for one second, 216 + 18 = 234 for two.
        near(found.value, 67.0 + 2.0 * 234.0);
        // Weights t s^2 of 0.25 and 2 give the component along the mass; the rest has each error over its own
        // correlation time.
        let slope = (0.25 * 48.0 + 2.0 * 108.0) / 2.25;
        let apart = ((48.0 - slope) * 0.5_f64).powi(2) + 2.0 * 1.5 * (108.0 - slope).powi(2);
        near(found.sd, (slope * 0.1).hypot(apart.sqrt()));
    }

    #[test]
    fn the_integral_of_the_flow_itself_is_the_mass_with_the_sd_of_the_mass() {
        let found = pouring(&[[4.0, 0.5, 1.0, 1.0], [6.0, 1.0, 2.0, 1.5]]).integral(|q| [q, 1.0, 0.0]);
        near(found.value, 16.0);
        near(found.sd, 0.1);
    }

    #[test]
    fn a_time_sums_probabilities_and_its_sd_is_that_of_bernoulli_trials() {
        let found = pouring(&[[4.0, 0.5, 1.0, 1.0], [6.0, 1.0, 2.0, 1.5]])
            .time(|q| if q.value < 5.0 { 0.5 } else { 0.25 });
        near(found.value, 1.0);
        // p (1 - p) over 2 s: 1 x 2 x 0.25 and 2 x 2 x 0.1875; and a tenth of it by the duration.
        near(found.sd, (0.5 + 0.75 + 0.01_f64).sqrt());
    }

    #[test]
    fn the_peak_of_equal_flows_is_the_expected_maximum_of_the_errors() {
        // E max of two standard normals is 1/sqrt(pi), of three 3/(2 sqrt(pi)) (order statistics, closed form).
        let one = [5.0, 0.5, 1.0, 1.0];
        let root = std::f64::consts::PI.sqrt();
        for (steps, mean) in [(vec![one], 0.0), (vec![one; 2], 1.0 / root), (vec![one; 3], 1.5 / root)] {
            let found = pouring(&steps).peak();
            assert!((found.value - 5.0 - 0.5 * mean).abs() < 1e-3, "{found}");
            assert!((found.sd - 0.5).abs() < 2e-3, "at least the sd of one error: {found}");
        }
        // A flow far below does not change it, nor does one that is not significant.
        let found = pouring(&[one, [2.0, 0.1, 1.0, 1.0], [4.0, 2.0, 1.0, 1.0]]).peak();
        assert!((found.value - 5.0).abs() < 1e-3, "{found}");
        assert_eq!(pouring(&[[5.0, 0.0, 1.0, 1.0]]).peak(), Estimate::exact(5.0));
    }

    fn of(sd_g_per_s: f64, mass_g: f64) -> Result<Pouring, Undefined> {
        let time_s: Vec<f64> = (0..10).map(f64::from).collect();
        let flow = Flow {
            flow_g_per_s: vec![5.0; 10],
            flow_sd_g_per_s: vec![sd_g_per_s; 10],
            water_g: vec![0.0; 10],
            water_sd_g: vec![0.0; 10],
            time_s,
            source: None,
        };
        let water = ChannelTrace {
            mass_g: vec![0.0; 10],
            flag: vec![crate::condition::trace::Flag::Used; 10],
            noise_sd_g: Estimate::exact(0.1),
            step_g: 0.0,
            drift_g_per_s: Estimate::exact(0.0),
            walk_g2_per_s: 0.0,
        };
        let at = Estimate::exact;
        let pour = Pour {
            start_s: at(1.5),
            end_s: at(6.5),
            half_rise_s: Ok(at(1.7)),
            half_fall_s: Ok(at(6.3)),
            mass_g: at(mass_g),
            mean_flow_g_per_s: at(5.0),
            duration_s: at(5.0),
            flow_regimes: Vec::new(),
        };
        Pouring::new(&water, 1.0, &flow, &pour)
    }

    #[test]
    fn each_stamp_represents_the_time_to_its_midpoints_and_the_flow_is_scaled_to_the_mass() {
        let found = of(0.5, 25.0).unwrap();
        // Stamps 2 to 6 in a pour from 1.5 to 6.5 s: one second each. (12 x 0.01/0.25)^(1/3) = 0.783 s is less than the
        // interval.
        assert_eq!(found.steps.iter().map(|s| s.for_s).collect::<Vec<_>>(), [1.0; 5]);
        found.steps.iter().for_each(|s| near(s.one_s, 1.0));
        // A flow with a quarter of the sd takes 2.52 times as long: 1.973 s.
        of(0.125, 25.0).unwrap().steps.iter().for_each(|s| near(s.one_s, 7.68_f64.cbrt()));
        // At most the duration of the pour.
        of(0.001, 25.0).unwrap().steps.iter().for_each(|s| near(s.one_s, 5.0));
        of(0.5, 20.0).unwrap().steps.iter().for_each(|s| near(s.for_s, 0.8));
    }

    #[test]
    fn a_flow_whose_integral_differs_much_from_the_mass_is_refused() {
        // 25 g of flow: ratios of 0.7 and 1.4 are masses of 35.7 and 17.9 g.
        assert_eq!([17.0, 18.5, 35.0, 36.5].map(|m| of(0.5, m).is_ok()), [false, true, true, false]);
    }
}
