//! What a bed held, kept and let through.

use crate::estimate::maybe;
use crate::estimate::{Estimate, Maybe, Undefined};
use serde::{Deserialize, Serialize};

/// What the bed did in one brew. What cannot be had says why.
///
/// ```
/// use pourline::{Bed, BedCurve, Brew, DrainLaw, Options, PourDrain, Recipe, analyze, simulate};
/// let (log, truth) = simulate(&Recipe::default(), 7)?;
/// let brew: Brew = analyze(&log, &Options::default())?;
/// let bed: &Bed = &brew.bed;
/// let end_s = bed.drawdown_end_s.as_ref().unwrap();
/// assert!((end_s.value - truth.beverage_end_s.unwrap()).abs() < 2.0);
/// let curve: &BedCurve = bed.curve.as_ref().unwrap();
/// assert_eq!(curve.held_g.len(), curve.time_s.len());
/// let law: &DrainLaw = bed.law.as_ref().unwrap();
/// assert!((0.3..0.75).contains(&law.exponent.value));
/// let last: &PourDrain = bed.pours.last().unwrap();
/// assert_eq!(last.drawdown_end_s, bed.drawdown_end_s);
/// # Ok::<(), pourline::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Bed {
    /// Water held, beverage and its flow over time.
    #[serde(with = "maybe")]
    pub curve: Result<BedCurve, Undefined>,
    /// Water poured in all, g.
    #[serde(with = "maybe")]
    pub water_g: Maybe,
    /// Beverage collected by the end, g.
    #[serde(with = "maybe")]
    pub beverage_g: Maybe,
    /// First instant of the first flow of beverage that lasts, s.
    #[serde(with = "maybe")]
    pub first_drip_s: Maybe,
    /// Instant from which the beverage's flow stays under 0.1 g/s after the last pour, s.
    #[serde(with = "maybe")]
    pub drawdown_end_s: Maybe,
    /// From the end of the last pour until then, s.
    #[serde(with = "maybe")]
    pub drawdown_s: Maybe,
    /// (Water - beverage) over dose, g/g: that of [`Extraction`](crate::Extraction).
    #[serde(with = "maybe")]
    pub retention_g_per_g: Maybe,
    /// Water poured that stayed in the bed, to a gram of dose, g/g: that of [`Extraction`](crate::Extraction).
    #[serde(with = "maybe")]
    pub retained_water_g_per_g: Maybe,
    /// How the bed drains after the last pour.
    #[serde(with = "maybe")]
    pub law: Result<DrainLaw, Undefined>,
    /// What the readings lost while nothing was taken away, g.
    #[serde(with = "maybe")]
    pub loss_g: Maybe,
    /// The most of it that evaporation can have taken, g.
    #[serde(with = "maybe")]
    pub most_vapour_g: Maybe,
    /// A row a pour.
    pub pours: Vec<PourDrain>,
    /// What to know before these numbers are trusted, in sentences.
    pub cautions: Vec<String>,
}

/// What the bed held over time. All vectors have the trace's length; NaN where nothing is claimed: before the brew, and after the
/// last reading of the beverage that is used. The scale's lag is taken out of both weights.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BedCurve {
    /// Stamps in s.
    pub time_s: Vec<f64>,
    /// Water poured less beverage collected, g: in the bed, or on its way to the server. NaN throughout where the water was not weighed.
    #[serde(deserialize_with = "crate::estimate::or_nan")]
    pub held_g: Vec<f64>,
    /// Its standard deviation, g.
    #[serde(deserialize_with = "crate::estimate::or_nan")]
    pub held_sd_g: Vec<f64>,
    /// Beverage collected so far, g.
    #[serde(deserialize_with = "crate::estimate::or_nan")]
    pub beverage_g: Vec<f64>,
    /// Its standard deviation, g.
    #[serde(deserialize_with = "crate::estimate::or_nan")]
    pub beverage_sd_g: Vec<f64>,
    /// Flow of beverage into the server, g/s; never below 0.
    #[serde(deserialize_with = "crate::estimate::or_nan")]
    pub beverage_flow_g_per_s: Vec<f64>,
    /// Its standard deviation, g/s.
    #[serde(deserialize_with = "crate::estimate::or_nan")]
    pub beverage_flow_sd_g_per_s: Vec<f64>,
}

/// The law by which the bed drains, `Q = Q0 (V/V0)^p` with `V` what stands in the bed beyond what it keeps, from the drawdown after the
/// last pour.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DrainLaw {
    /// The exponent `p = n/m`, of no unit: 1/3 for a cone that drains in proportion to its head, 1/2 for a straight wall that drains
    /// through a hole, 1 for a straight wall that drains in proportion to its head, an exponential.
    pub exponent: Estimate,
    /// The exponent `n` of the head: `p m`, where `vessel_exponent` gives `m`.
    #[serde(with = "maybe")]
    pub head_exponent: Maybe,
    /// First and last instant of the readings that it was fitted to, s.
    pub start_s: f64,
    /// The last of them, s.
    pub end_s: f64,
    /// What stood in the bed at the first instant, g, beyond what it keeps.
    pub standing_g: Estimate,
    /// Flow at the first instant, g/s.
    pub flow_g_per_s: Estimate,
    /// Time from the first instant until the bed is empty, s: `V0/((1-p) Q0)`; undefined for an exponent of 1 or more.
    #[serde(with = "maybe")]
    pub empty_after_s: Maybe,
    /// Beverage once all has drained, g.
    pub beverage_g: Estimate,
    /// Root mean square of what the law leaves of the readings, g, and the same over the scale's noise: 1 is a perfect fit.
    pub residual_g: f64,
    /// `residual_g` over the noise of a reading.
    pub residual_over_noise: f64,
    /// `residual_g` for the best exponential.
    pub exponential_residual_g: f64,
    /// How surely an exponential is worse, in sd: the root of what it adds to the misfit. Above 3 it is rejected.
    pub exponential_rejected_sd: f64,
}

/// What the bed did before and after one pour.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PourDrain {
    /// Water held when the pour starts, g.
    #[serde(with = "maybe")]
    pub held_at_start_g: Maybe,
    /// Share of the water poured before that had been collected as beverage when the pour starts, 0 to 1.
    #[serde(with = "maybe")]
    pub drained_share: Maybe,
    /// Instant from which the beverage's flow stays under 0.1 g/s after the pour, s; undefined where the next pour comes first.
    #[serde(with = "maybe")]
    pub drawdown_end_s: Maybe,
    /// From the end of the pour until then, s.
    #[serde(with = "maybe")]
    pub drawdown_s: Maybe,
    /// Flow with 50 g (`standing_g` of the options) standing in the bed, g/s.
    #[serde(with = "maybe")]
    pub conductance_g_per_s: Maybe,
    /// Conductance over that after the pour before (the last one that has any), both at one viscosity; 1: the bed has not changed.
    #[serde(with = "maybe")]
    pub conductance_ratio: Maybe,
    /// Permeability of the bed, m2, where its size is given.
    #[serde(with = "maybe")]
    pub permeability_m2: Maybe,
}
