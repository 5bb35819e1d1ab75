//! What the stream of each pour may do to the bed: ordinal proxies.

use crate::agitation::stream::Stream;
use crate::estimate::Maybe;
use crate::estimate::maybe;
use serde::{Deserialize, Serialize};

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

impl SpeedSource {
    /// Its name, as in tables and JSON.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Stated => "stated",
            Self::Scale => "scale",
        }
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

/// A number of a pour: its name, its unit, where it stands.
pub type AgitationColumn = (&'static str, &'static str, fn(&PourAgitation) -> &Maybe);

/// A count of a pour: its name, where it stands.
pub type AgitationCount = (&'static str, fn(&PourAgitation) -> usize);

impl PourAgitation {
    /// What every column of the table says of itself.
    pub const NOTE: &str = "ordinal proxy for agitation";

    /// The numbers of the table, in its order.
    ///
    /// ```
    /// use pourline::PourAgitation;
    /// assert!(PourAgitation::COLUMNS.iter().any(|(name, unit, _)| (*name, *unit) == ("energy_j", "J")));
    /// ```
    pub const COLUMNS: [AgitationColumn; 14] = [
        ("flow_impulse_g2_per_s", "g2/s", |a| &a.flow_impulse_g2_per_s),
        ("gram_flow_g_per_s", "g/s", |a| &a.gram_flow_g_per_s),
        ("peak_over_mean", "", |a| &a.peak_over_mean),
        ("time_above_s", "s", |a| &a.time_above_s),
        ("fall_height_m", "m", |a| &a.stream.fall_height_m),
        ("stream_speed_m_per_s", "m/s", |a| &a.stream.speed_m_per_s),
        ("stream_width_mm", "mm", |a| &a.stream.width_mm),
        ("reynolds", "", |a| &a.stream.reynolds),
        ("weber", "", |a| &a.stream.weber),
        ("force_n", "N", |a| &a.stream.force_n),
        ("power_w", "W", |a| &a.stream.power_w),
        ("energy_j", "J", |a| &a.energy_j),
        ("energy_j_per_g", "J/g", |a| &a.energy_j_per_g),
        ("mixing_time_s", "s", |a| &a.mixing_time_s),
    ];

    /// The counts of the table, in its order.
    pub const COUNTS: [AgitationCount; 4] = [
        ("swirls", |a| a.swirls),
        ("lifts", |a| a.lifts),
        ("knocks", |a| a.knocks),
        ("sprays", |a| a.sprays),
    ];
}
