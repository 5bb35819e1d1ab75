//! What the stream of each pour may do to the bed: ordinal proxies.

use super::Stream;
use crate::Maybe;
use crate::estimate::maybe;
use serde::{Deserialize, Serialize};
use std::fmt;

/// A row a pour of ordinal proxies: they put pours in an order, and none of them says how far the grounds move. No law for the depth of a
/// crater is valid for a slurry of coffee.
///
/// ```
/// use pourline::{Agitation, AgitationOptions, Options, PourAgitation, Recipe, SpeedSource, analyze, simulate};
/// let (log, _truth) = simulate(&Recipe::default(), 7)?;
/// let agitation = AgitationOptions { spout_bore_m: Some(0.006), fall_height_m: Some(0.2), ..Default::default() };
/// let found: Agitation = analyze(&log, &Options { agitation, ..Options::default() })?.agitation.unwrap();
/// let first: &PourAgitation = &found.pours[0];
/// assert_eq!(first.speed_source, Some(SpeedSource::Stated));
/// // 2 J to a kilogram from 20 cm, and a little for the speed at the spout.
/// assert!(first.energy_j.as_ref().unwrap().value > 0.0);
/// # Ok::<(), pourline::Error>(())
/// ```
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Agitation {
    /// A row a pour.
    pub pours: Vec<PourAgitation>,
}

/// Where the speed of a stream comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum SpeedSource {
    /// Bore and height as stated.
    Stated,
    /// The force of the stream on the scale.
    Scale,
}

impl fmt::Display for SpeedSource {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Stated => "bore and height as stated",
            Self::Scale => "the force on the scale",
        })
    }
}

/// Ordinal proxies for the agitation by one pour. Those that stand first need nothing but its flow.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PourAgitation {
    /// Integral of the squared flow, g2/s: comparable only through one spout.
    #[serde(with = "maybe")]
    pub flow_impulse_g2_per_s: Maybe,
    /// Mean flow, each gram counting once, g/s: the flow for which `stream` is told.
    #[serde(with = "maybe")]
    pub gram_flow_g_per_s: Maybe,
    /// Largest flow over mean flow.
    #[serde(with = "maybe")]
    pub peak_over_mean: Maybe,
    /// Time at a flow above `above_g_per_s` of the options, s.
    #[serde(with = "maybe")]
    pub time_above_s: Maybe,
    /// The stream where it meets the bed.
    pub stream: Stream,
    /// Where its speed comes from; absent where it is undefined.
    pub speed_source: Option<SpeedSource>,
    /// Energy that the water brings, J.
    #[serde(with = "maybe")]
    pub energy_j: Maybe,
    /// The same to a gram of dose, J/g.
    #[serde(with = "maybe")]
    pub energy_j_per_g: Maybe,
    /// Time for which the stream arrived likely unbroken, s.
    #[serde(with = "maybe")]
    pub mixing_time_s: Maybe,
    /// Swirls of the vessel on the scale until the next pour; a stir looks the same.
    pub swirls: usize,
    /// How often the vessel was lifted off and put back until then.
    pub lifts: usize,
    /// Knocks until then.
    pub knocks: usize,
    /// Dashes of water too small for a pour until then.
    pub sprays: usize,
}
