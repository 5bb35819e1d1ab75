//! The fitted log: its windows, and draws of the parameters from their posterior.

use crate::estimate::Estimate;
use crate::model::burst::Burst;
use crate::model::hand::Hand;
use crate::model::response::{Kernel, ResponseSource, ScaleResponse};
use crate::model::samples::Samples;
use crate::model::window::Window;
use crate::segment::parameters::{BEND, Parameters, Shared};
use crate::segment::priors::{Priors, hand};
use serde::{Deserialize, Serialize};

/// Longest cell of the flow's grid, s.
const GRID_S: f64 = 0.035;
/// Most cells of a log, besides those of each reading: a log of few readings over days has longer cells.
const CELLS: f64 = 4500.0;
const CELLS_OF_READING: f64 = 4.0;

/// Edges of a fit lie within its samples, or at most this far beyond, s.
const BEYOND_S: f64 = 30.0;
/// Shared parameters of a fit are smaller; most are logarithms.
const LARGEST: f64 = 50.0;

/// Bends of a response that is that of an average up to its skewness; the average's own is 2/3.
const AS_AVERAGE: std::ops::Range<f64> = 0.55..0.85;

/// Bursts close to each other, fitted together.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct Group {
    /// Bursts at the posterior mode.
    pub bursts: Vec<Burst>,
    /// Load before the first burst, g.
    pub base_g: f64,
    /// Its samples, from..to.
    pub from: usize,
    pub to: usize,
    /// Index of the first sample of each burst's leg, from `from` on.
    pub legs: Vec<usize>,
    /// Whether it is informative about the shared parameters. A group with excluded readings near an edge is not, so
    /// that a disturbance does not move the edges of other pours.
    pub informs: bool,
    /// Mean square of the normalised innovations; above 1 the samples contradict the model.
    pub excess: f64,
    /// Length of a cell of the flow's grid, s; that of all groups of a log.
    pub grid_s: f64,
}

/// A detected pour: its group, and the interval that holds it and no other.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub(crate) struct Place {
    pub group: usize,
    pub span_s: (f64, f64),
}

/// The fitted log.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub(crate) struct Fit {
    pub groups: Vec<Group>,
    /// The pours, in order.
    #[serde(default)]
    pub places: Vec<Place>,
    pub priors: Priors,
    /// Shared parameters at the posterior mode.
    pub mode: Shared,
    /// Draws of the parameters: first those of the likeliest model of the scale.
    pub draws: Vec<Parameters>,
    /// Weight of each draw in the mean: the probability of its model, shared by the draws of it.
    pub weights: Vec<f64>,
    /// Seed of the draws of the flow.
    pub seed: u64,
    /// Delay of the reading behind the load, s.
    pub delay_s: Estimate,
    /// Lead of the reading due to the stream's force, s; None if the log gives no evidence for such a force.
    pub lead_s: Option<Estimate>,
}

/// Weighted mean of values, and their spread about it, widened by a relative share of its variance.
pub(crate) fn weighted(values: &[f64], weights: &[f64], wider: f64) -> Estimate {
    let sum: f64 = weights.iter().sum();
    let mean = values.iter().zip(weights).map(|(v, w)| v * w).sum::<f64>() / sum.max(f64::MIN_POSITIVE);
    let var = values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / values.len().max(1) as f64;
    Estimate::new(mean, (var * (1.0 + wider)).sqrt())
}

impl Group {
    pub(crate) fn start_s(&self) -> f64 {
        self.bursts.first().map_or(f64::INFINITY, Burst::start_s)
    }

    pub(crate) fn end_s(&self) -> f64 {
        self.bursts.last().map_or(f64::NEG_INFINITY, Burst::end_s)
    }

    /// Its readings.
    pub(crate) fn window<'a>(&self, x: &'a Samples) -> Window<'a> {
        Window {
            time_s: &x.time_s[self.from..self.to],
            mass_g: &x.mass_g[self.from..self.to],
            grid_s: self.grid_s,
            legs: self.legs.clone(),
            base_g: self.base_g,
        }
    }
}

/// Length of a cell: a whole fraction of the interval, unless these were too many.
pub(super) fn grid_s(x: &Samples, groups: &[Group]) -> f64 {
    let sum = |of: &dyn Fn(&Group) -> f64| groups.iter().map(of).sum::<f64>();
    let readings = sum(&|g| (g.to - g.from) as f64);
    let lasts_s = sum(&|g| x.time_s[g.to - 1] - x.time_s[g.from]);
    let usual_s = x.interval_s / (x.interval_s / GRID_S).round().max(1.0);
    usual_s.max(lasts_s / (CELLS + CELLS_OF_READING * readings))
}

/// Whether a burst lies within the readings of its group, or not far beyond.
pub(super) fn is_near(burst: &Burst, time_s: &[f64]) -> bool {
    let (Some(first_s), Some(last_s)) = (time_s.first(), time_s.last()) else { return false };
    let within = |t: f64| (first_s - BEYOND_S..last_s + BEYOND_S).contains(&t);
    let lasts = |ramp_s: f64| ramp_s > 0.0 && ramp_s < BEYOND_S;
    within(burst.start_s())
        && within(burst.end_s())
        && burst.start_s() < burst.end_s()
        && lasts(burst.rise.ramp_s)
        && lasts(burst.fall.ramp_s)
        && burst.changes.iter().all(|c| within(c.at_s) && lasts(c.ramp_s))
        && burst.scale_g_per_s.is_finite()
}

impl Fit {
    /// The model at the posterior mode.
    pub(crate) fn hand_at_mode(&self) -> Hand {
        hand(&self.mode, &self.priors)
    }

    /// The detected pour that holds an instant.
    pub(crate) fn place_of(&self, t_s: f64) -> Option<Place> {
        self.places.iter().find(|p| p.span_s.0 <= t_s && t_s < p.span_s.1).copied()
    }

    /// The model at a draw.
    pub(crate) fn hand(&self, draw: usize) -> Hand {
        hand(&self.draws[draw].shared, &self.priors)
    }

    /// Mean length of the average that the display may show, s.
    pub(crate) fn average_s(&self) -> f64 {
        let sum: f64 = self.weights.iter().sum();
        self.draws.iter().zip(&self.weights).map(|(q, w)| w * q.average_s).sum::<f64>()
            / sum.max(f64::MIN_POSITIVE)
    }

    /// The response of the scale. What is most likely of its parts is said of its family.
    pub(crate) fn response(&self) -> ScaleResponse {
        let Estimate { value: delay_s, sd } = self.delay_s;
        let of = |has: bool| -> f64 {
            let with = self.draws.iter().zip(&self.weights).filter(|(q, _)| (q.average_s > 0.0) == has);
            with.map(|(_, weight)| weight).sum()
        };
        let bend = self.mode[BEND].exp();
        let kernel = if of(true) > of(false) {
            let shown_s = (self.average_s() / of(true).max(f64::MIN_POSITIVE)).min(2.0 * delay_s);
            Kernel { lag_s: delay_s - 0.5 * shown_s, bend: 0.0, average_s: shown_s }
        } else if AS_AVERAGE.contains(&bend) {
            Kernel { lag_s: 0.0, bend: 0.0, average_s: 2.0 * delay_s }
        } else {
            Kernel { lag_s: delay_s, bend, average_s: 0.0 }
        };
        ScaleResponse::new(kernel, sd, ResponseSource::Estimated)
    }

    /// Whether it can be a fit of these samples: its groups are within them, its draws have their bursts, and their numbers
    /// are of a size that a fit gives.
    pub(crate) fn fits(&self, x: &Samples) -> bool {
        let near = |group: &Group, burst: &Burst| is_near(burst, &x.time_s[group.from..group.to]);
        let fits = |group: &Group| {
            group.from < group.to
                && group.to <= x.time_s.len()
                && group.legs.len() == group.bursts.len()
                && !group.bursts.is_empty()
                && group.legs.iter().all(|leg| *leg <= group.to - group.from)
                && group.bursts.iter().all(|burst| near(group, burst))
        };
        let same = |draw: &Parameters| {
            let of = |(bursts, group): (&Vec<Burst>, &Group)| {
                bursts.len() == group.bursts.len() && bursts.iter().all(|burst| near(group, burst))
            };
            draw.bursts.len() == self.groups.len()
                && draw.bursts.iter().zip(&self.groups).all(of)
                && draw.shared.iter().all(|value| value.abs() < LARGEST)
                && (0.0..LARGEST).contains(&draw.average_s)
                && draw.earlier_s.abs() < LARGEST
        };
        let small = self.mode.iter().all(|value| value.abs() < LARGEST);
        small
            && self.groups.iter().all(fits)
            && self.draws.iter().all(same)
            && self.weights.len() == self.draws.len()
            && self.weights.iter().all(|w| (0.0..=1.0).contains(w))
            && self.groups.iter().all(|group| group.grid_s == grid_s(x, &self.groups))
    }
}
