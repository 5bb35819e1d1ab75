//! In: the flow and one pour. Out: sums over the pour, each with its sd.
//!
//! The flow's sd at neighbouring stamps is not independent, and the pour's mass is known far better than any of them. So a sum is parted:
//! what it would gain if the whole pour gained mass goes with the sd of the mass; the rest with the sd of the flow, which is taken to be one
//! error over the time that the readings need to tell a flow so well, and another after it.

use crate::condition::trace::ChannelTrace;
use crate::estimate::{Estimate, Undefined};
use crate::math::distribution::normal_below;
use crate::segment::flow::Flow;
use crate::segment::pour::Pour;

/// Stamps of the flow that a pour needs inside it.
const FEWEST: usize = 4;
/// A flow that gives less or more than this share of the pour's mass is not that of the pour.
const SHARE: [f64; 2] = [0.7, 1.4];

/// How far the largest flow is looked for on both sides, in sd, and in how many slices.
const FAR: f64 = 5.0;
const SLICES: usize = 200;
/// So many sd above a flow, one part in 1e9 is left.
const CERTAIN: f64 = 6.0;
/// A flow that is not this many sd above none does not tell of the peak.
const TOLD: f64 = 3.0;

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
    /// Time that it stands for, s.
    for_s: f64,
    /// Time over which its error is one and the same, s.
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
        // Each stamp stands for the time up to the middle between it and the next.
        let middles = inside.windows(2).map(|w| f64::midpoint(flow.time_s[w[0]], flow.time_s[w[1]]));
        let bounds: Vec<f64> = std::iter::once(start).chain(middles).chain([end]).collect();
        // A slope is known to sd s from readings of noise sigma, f a second, that span (12 sigma^2/(f s^2))^(1/3).
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

    /// Integral over the pour of a function of the flow.
    pub(super) fn integral(&self, of: impl Fn(f64) -> Jet) -> Estimate {
        let (mut value, mut weight, mut slope) = (0.0, 0.0, 0.0);
        for s in &self.steps {
            let [f, by, curved] = of(s.flow_g_per_s);
            // The mean over what the flow may have been.
            value += s.for_s * (f + 0.5 * curved * s.sd_g_per_s.powi(2));
            weight += s.for_s * s.sd_g_per_s.powi(2);
            slope += s.for_s * s.sd_g_per_s.powi(2) * by;
        }
        let slope = if weight > 0.0 { slope / weight } else { 0.0 };
        let apart = |s: &Step| s.for_s * s.one_s * ((of(s.flow_g_per_s)[1] - slope) * s.sd_g_per_s).powi(2);
        let var: f64 = self.steps.iter().map(apart).sum();
        Estimate::new(value, (slope * self.mass_g.sd).hypot(var.sqrt()))
    }

    /// Sum over the pour of time times a chance, s.
    pub(super) fn time(&self, chance: impl Fn(Estimate) -> f64) -> Estimate {
        let (mut value, mut var) = (0.0, 0.0);
        for s in &self.steps {
            let p = chance(Estimate::new(s.flow_g_per_s, s.sd_g_per_s));
            value += s.for_s * p;
            var += s.for_s * s.one_s * p * (1.0 - p);
        }
        // All of it scales with the duration, of which it is a share.
        let by_duration = value * self.duration_s.sd / self.duration_s.value;
        Estimate::new(value, var.sqrt().hypot(by_duration))
    }

    /// The largest flow, g/s: the mean of the largest of all errors that are independent of each other.
    pub(super) fn peak(&self) -> Estimate {
        // Beside an edge the sd says when the flow began, not how far it may have gone up.
        let is_told = |s: &&Step| s.flow_g_per_s >= TOLD * s.sd_g_per_s;
        let told: Vec<&Step> = self.steps.iter().filter(is_told).collect();
        let steps = if told.is_empty() { self.steps.iter().collect() } else { told };
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
                // Most stamps lie far below what is asked; that they do is certain.
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
        // The largest of many errors varies less than one; how many there are is a guess, so no less than one is claimed.
        let highest = steps.iter().max_by(|a, b| a.flow_g_per_s.total_cmp(&b.flow_g_per_s));
        let one = highest.map_or(0.0, |s| s.sd_g_per_s);
        Estimate::new(low + mean, (square - mean * mean).max(one * one).sqrt())
    }
}
