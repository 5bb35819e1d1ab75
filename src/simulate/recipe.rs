//! Parameters of a simulated brew: plain numbers, most of them ranges from which each seed draws.

use crate::log::meta::Meta;
use crate::simulate::fault_recipe::Faults;
use crate::simulate::range::{Count, Range};
use serde::{Deserialize, Serialize};

/// All parameters of a simulated log. The default is the usual level at 10 Hz without disturbances.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Recipe {
    /// How the person pours.
    pub hand: Hand,
    /// The scale.
    pub scale: Scale,
    /// The bed.
    pub bed: Bed,
    /// Which weights the log holds.
    pub weighed: Weighed,
    /// Disturbances.
    pub faults: Faults,
    /// Metadata of the log; absent dose, strength, water temperature and name are filled in.
    pub meta: Meta,
}

/// Which weights a log holds.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Weighed {
    /// Water and beverage.
    #[default]
    Both,
    /// Water alone.
    Water,
    /// Beverage alone.
    Beverage,
}

/// Shape of a ramp from no flow to full flow.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Shape {
    /// Each ramp is linear or smooth, with equal probability.
    #[default]
    Mixed,
    /// A straight line.
    Linear,
    /// Half a cosine.
    Smooth,
    /// Fast first, then saturating: `1 - exp(-3 u)`, scaled to reach 1.
    Exponential,
}

/// One pour, planned.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlannedPour {
    /// Time from the end of the pour before, s; not used for the first. 0 or more.
    pub rest_s: f64,
    /// Mass, g, before tremor; above 0.
    pub mass_g: f64,
    /// Flow at full, g/s, before tremor; above 0.
    pub flow_g_per_s: f64,
    /// Time from no flow to full flow, s; 0 or more.
    pub rise_s: f64,
    /// Time from full flow to none, s; 0 or more.
    pub fall_s: f64,
}

/// How the person pours.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Hand {
    /// The pours, one by one; empty: drawn from the ranges below.
    pub planned: Vec<PlannedPour>,
    /// How many pours; 0 to 100.
    pub pours: Count,
    /// Mass of a pour, g; above 0.
    pub mass_g: Range,
    /// Flow at full, g/s; above 0. A pour too small to hold its flow for half a second gets less.
    pub flow_g_per_s: Range,
    /// Time from no flow to full flow, s; 0 or more.
    pub rise_s: Range,
    /// Time from full flow to none, s; 0 or more.
    pub fall_s: Range,
    /// Shape of the ramps.
    pub shape: Shape,
    /// Time between two pours, s; 0 or more.
    pub rest_s: Range,
    /// Tremor: amplitude as a fraction of the flow, one draw per brew; 0 to 1. Several waves share it so that the
    /// tremor has the standard deviation of one wave of that amplitude.
    pub tremor: Range,
    /// Frequencies of the tremor, Hz; above 0.
    pub tremor_hz: Range,
    /// Number of waves of the tremor: one is a periodic tremor, a dozen resemble noise; 1 to 100.
    pub tremor_waves: Count,
    /// By how much the flow grows (or falls) from the start to the end of a pour, as a fraction of it; -1 to 1.
    pub tilt: Range,
    /// Speed at which the stream meets the bed, m/s, one draw per brew; 0 or more. Its force acts on the scale: the
    /// reading is the water that has landed and the flow times this over g. 0: no such force.
    pub stream_m_per_s: Range,
    /// Time in the log before the first pour, s; 0 or more.
    pub before_s: Range,
    /// Time in the log after the last pour, s; 0 or more.
    pub after_s: Range,
}

impl Default for Hand {
    fn default() -> Self {
        Self {
            planned: Vec::new(),
            pours: [2, 6],
            mass_g: [12.0, 120.0],
            flow_g_per_s: [2.5, 17.0],
            rise_s: [0.1, 0.7],
            fall_s: [0.1, 0.7],
            shape: Shape::Mixed,
            rest_s: [6.0, 40.0],
            tremor: [0.0, 0.12],
            tremor_hz: [0.4, 2.0],
            tremor_waves: [1, 8],
            tilt: [0.0, 0.0],
            stream_m_per_s: [0.0, 0.0],
            before_s: [3.0, 8.0],
            after_s: [20.0, 60.0],
        }
    }
}

/// Lag, noise, resolution and sampling of the scale.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Scale {
    /// Usual sampling rate, Hz; above 0, at most 1000.
    pub rate_hz: f64,
    /// Time constant of the first-order lag, s, one draw per log; 0 or more.
    pub lag_s: Range,
    /// Standard deviation of the white noise before the readout is rounded, g; 0 or more.
    pub noise_sd_g: f64,
    /// Resolution of the readout, g; 0: none.
    pub step_g: f64,
    /// Jitter of the instants at which the weight is taken: sd as a fraction of the interval; 0 to 1.
    pub jitter: f64,
    /// Error of the stamp against the instant at which the weight was taken: sd as a fraction of the interval; 0 to 1.
    pub stamp_error: f64,
    /// Resolution of the stamps, s; 0: none.
    pub stamp_step_s: f64,
    /// Reading at the start, g: a vessel that was not zeroed.
    pub offset_g: Range,
}

impl Default for Scale {
    fn default() -> Self {
        Self {
            rate_hz: 10.0,
            lag_s: [0.1, 0.35],
            noise_sd_g: 0.06,
            step_g: 0.1,
            jitter: 0.12,
            stamp_error: 0.0,
            stamp_step_s: 0.001,
            offset_g: [0.0, 0.0],
        }
    }
}

/// Holdup and drainage of the bed.
///
/// The bed retains the first water, `holds_g_per_g` times the dose. The rest leaves by `held_flow_g_per_s (held/50
/// g)^exponent` and reaches the server `delay_s` later.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct Bed {
    /// Water poured over dose, g/g, from which the dose follows if the metadata has none; 0.1 to 1000.
    pub water_to_dose_g_per_g: Range,
    /// Liquid retained by the bed for good, g per g of dose; 0 or more.
    pub holds_g_per_g: Range,
    /// Outflow with 50 g of drainable water in the bed, g/s; above 0.
    pub flow_at_50_g_per_s: Range,
    /// Exponent of the outflow against the drainable mass in the bed: 1/3 for a cone that drains in proportion to its
    /// level, 1/2 for a straight wall that drains with the root of its level, 1 for one in proportion; 0 to 1.
    pub exponent: Range,
    /// Time from the bed to the server, s; 0 or more.
    pub delay_s: Range,
    /// Extraction from which the strength follows if the metadata has none, percent; 0 to 100.
    pub yield_pct: Range,
    /// Temperature of the water if the metadata has none, C; 0 to 100.
    pub water_c: Range,
    /// Whether the log lasts until the beverage has stopped.
    pub to_the_end: bool,
}

impl Default for Bed {
    fn default() -> Self {
        Self {
            water_to_dose_g_per_g: [14.0, 18.0],
            holds_g_per_g: [1.7, 2.4],
            flow_at_50_g_per_s: [4.0, 8.0],
            exponent: [0.33, 0.7],
            delay_s: [1.0, 4.0],
            yield_pct: [18.0, 22.0],
            water_c: [88.0, 96.0],
            to_the_end: true,
        }
    }
}
