//! Holdup, retained water and drainage of a bed.

use crate::estimate::Estimate;
use crate::rows::rows;
use serde::{Deserialize, Serialize};

const DRAINED: &str = "from the fitted drainage, or the smoothed flow";

rows! { $
/// Holdup, retained water and drainage of the bed in one brew.
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
    /// Holdup, beverage and its flow over time: a `BedCurve`.
    pub curve: Result<BedCurve, Undefined>,
    /// Water poured in all, g.
    pub water_g: Maybe,
    /// Beverage collected by the end, g.
    pub beverage_g: Maybe,
    /// First instant of a beverage flow of 0.1 g/s that lasts, s.
    pub first_drip_s: Maybe {
        formula: "profile likelihood of the onset",
        valid: "the log holds a stretch without beverage before it",
    },
    /// Instant from which the beverage's flow stays under 0.1 g/s after the last pour, s.
    pub drawdown_end_s: Maybe {
        formula: DRAINED,
        valid: "the flow ends before the log",
    },
    /// From the end of the last pour until the beverage stays under 0.1 g/s, s.
    pub drawdown_s: Maybe,
    /// Water less beverage at the end, per gram of dose, g/g.
    pub retention_g_per_g: Maybe,
    /// Water that the bed retained, without dissolved coffee, per gram of dose, g/g.
    ///
    /// As in [`Extraction`](crate::Extraction): retention plus the measured extracted mass, less the stated vapour.
    pub retained_water_g_per_g: Maybe {
        formula: "(W - B (1 - T))/D",
        valid: "as retention_g_per_g; vapour counts as retained unless it is stated",
        reference: "mass balance of water",
    },
    /// How the bed drains after the last pour: a `DrainLaw`.
    pub law: Result<DrainLaw, Undefined>,
    /// Mass lost while nothing was removed from the scales, g.
    pub loss_g: Maybe {
        formula: "fall of the readings at rest",
        valid: "both weights were logged",
        reference: "mass balance",
    },
    /// Upper bound of the evaporated mass, g.
    ///
    /// A larger loss is a spill or a moved vessel.
    pub most_vapour_g: Maybe {
        formula: "heat capacity over heat of vaporisation times cooling",
        valid: "the water's temperature is given",
        reference: "IAPWS SR6-08(2011)",
    },
    /// One row per pour, in their order.
    pub pours: Vec<PourDrain>,
    /// Warnings on these numbers, each a sentence without its full stop.
    pub warnings: Vec<String>,
}
}

rows! { $
/// Holdup of the bed over time; each array has the trace's length, NaN if nothing is estimated.
///
/// Nothing is estimated before the brew, or after the last used reading of the beverage. Both weights are corrected for
/// the scale's lag.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct BedCurve {
    /// Stamps in s.
    pub time_s: Vec<f64>,
    /// Water poured less beverage collected, g: in the bed, or on its way to the server.
    ///
    /// NaN throughout if the water was not weighed.
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
}

rows! { $
/// The law by which the bed drains, `Q = Q0 (V/V0)^p`, from the drawdown after the last pour.
///
/// `V` is the drainable water in the bed.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct DrainLaw {
    /// The exponent `p`: 1/3 for Darcy flow in a cone, 1/2 for a hole under a straight wall, 1 for an exponential.
    ///
    /// `p = n/m`, dimensionless; 1 is Darcy flow in a straight wall.
    pub exponent: Estimate,
    /// The exponent `n` of the head: `p m`, if `vessel_exponent` gives `m`.
    pub head_exponent: Maybe,
    /// First instant of the readings that it was fitted to, s.
    pub start_s: f64,
    /// Last instant of the readings that it was fitted to, s.
    pub end_s: f64,
    /// Drainable water in the bed at the first instant, g.
    pub standing_g: Estimate,
    /// Flow at the first instant, g/s.
    pub flow_g_per_s: Estimate,
    /// Time from the first instant until the bed is empty, s.
    ///
    /// `V0/((1-p) Q0)`; undefined for an exponent of 1 or more.
    pub empty_after_s: Maybe,
    /// Beverage once all has drained, g.
    pub beverage_g: Estimate,
    /// Root mean square of the residuals of the law, g.
    pub residual_g: f64,
    /// `residual_g` over the noise of a reading: 1 is a perfect fit.
    pub residual_over_noise: f64,
    /// `residual_g` for the best exponential.
    pub exponential_residual_g: f64,
    /// Evidence against an exponential, in sd; above 3 it is rejected.
    ///
    /// The root of its increase in deviance.
    pub exponential_rejected_sd: f64,
}
}

rows! { $
/// The bed before and after one pour.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PourDrain {
    /// Holdup when the pour starts, g.
    pub holdup_at_start_g: Maybe {
        formula: "water poured less beverage collected, when the pour starts",
        valid: "both scales stamp by one clock",
        reference: "mass balance",
    },
    /// Fraction of the water poured before that is collected when the pour starts, 0 to 1.
    pub drained_fraction_before: Maybe {
        formula: "beverage / water, when the pour starts",
        valid: "a pour came before",
        reference: "mass balance",
    },
    /// Instant from which the beverage's flow stays under 0.1 g/s after the pour, s.
    ///
    /// Undefined if the next pour comes first.
    pub drawdown_end_s: Maybe,
    /// From the end of the pour until the beverage stays under 0.1 g/s, s.
    pub drawdown_s: Maybe {
        formula: DRAINED,
        valid: "the flow ends before the next pour and before the log",
    },
    /// Flow through the bed with 50 g standing in it (`standing_g` of the options), g/s.
    pub conductance_g_per_s: Maybe {
        formula: "Q0 (50 g/V0)^p by the fitted drain law",
        valid: "the bed retains as much after this pour as at the end",
    },
    /// Conductance over that after the previous pour, at one viscosity.
    ///
    /// That of the last earlier pour with a conductance; 1: the bed has not changed.
    pub conductance_ratio: Maybe {
        formula: "c nu(t)/(c' nu(t'))",
        valid: "grounds swell: less flow is no proof of clogging",
        reference: "Darcy's law; viscosity of IAPWS SR6-08(2011)",
    },
    /// Permeability of the bed by Darcy's law, if its size is given, m2.
    pub permeability_m2: Maybe {
        formula: "Q nu L/(A g h)",
        valid: "the size of a flat bed is given, and it is full of water",
        reference: "Darcy's law; IAPWS SR6-08(2011)",
    },
}
}
