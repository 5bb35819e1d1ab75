//! Ordinal proxies for the effect of each pour's stream on the bed.

use crate::agitation::stream::{BREAK_UP, STREAM, Stream, proxy};
use crate::rows::{rows, words};
use serde::{Deserialize, Serialize};

const SHARED_SCALE: &str = proxy!("compared through one spout from one height");

words! {
/// The source of a stream's speed.
pub enum SpeedSource {
    /// Bore and height as stated.
    Stated = "stated",
    /// The force of the stream on the scale.
    Scale = "scale",
}
}

rows! { $
/// Ordinal proxies for the agitation by one pour; the first ones need only its flow.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PourAgitation {
    /// Integral of the squared flow, g2/s.
    ///
    /// Comparable through one spout only.
    pub flow_impulse_g2_per_s: Maybe {
        formula: "integral of Q^2 dt",
        valid: SHARED_SCALE,
        reference: "balance of momentum",
    },
    /// Mean flow, weighted by mass, g/s.
    ///
    /// The flow for which `stream` is computed.
    pub mass_weighted_flow_g_per_s: Maybe {
        formula: "integral of Q^2 dt / M",
        reference: "mean weighted by mass",
    },
    /// Largest flow over mean flow.
    pub peak_to_mean_flow: Maybe {
        formula: "largest flow / mean flow",
        valid: proxy!("the readings resolve the flow"),
        reference: "common practice, no source",
    },
    /// Time at a flow above `above_g_per_s` of the options (5 g/s), s.
    pub time_above_s: Maybe {
        formula: "integral of the probability that Q is above it",
        valid: SHARED_SCALE,
        reference: "common practice, no source",
    },
    /// The stream at the bed: a `Stream`.
    pub stream: Stream { rows },
    /// Source of the stream's speed: `stated`, `scale` (its force on the scale), or absent if it is undefined.
    pub speed_source: Option<SpeedSource> {},
    /// Energy of the water at the bed, J.
    pub energy_j: Maybe {
        formula: "integral of Q (g H + v0^2/2) dt",
        valid: STREAM,
        reference: "balance of energy",
    },
    /// Energy of the water at the bed per gram of dose, J/g.
    pub energy_j_per_g: Maybe {
        formula: "energy_j / D",
        valid: STREAM,
    },
    /// Time for which the stream arrived likely unbroken, s.
    pub mixing_time_s: Maybe {
        formula: "time at a flow whose break-up length is longer than the fall",
        valid: proxy!("its sd includes a factor of 1.5 in the break-up length"),
        reference: BREAK_UP,
    },
    /// Swirls of the vessel on the scale until the next pour; a stir looks the same.
    pub swirls: usize {
        formula: "counted events",
        valid: proxy!(),
    },
    /// Lifts of the vessel off the scale and back until the next pour.
    pub lifts: usize {
        formula: "counted events",
        valid: proxy!(),
    },
    /// Knocks until the next pour.
    pub knocks: usize {
        formula: "counted events",
        valid: proxy!(),
    },
    /// Splashes of water too small for a pour until the next pour.
    pub splashes: usize {
        formula: "counted bursts of water",
        valid: proxy!(),
    },
}
}

impl PourAgitation {
    /// The note on every column of the table.
    pub const NOTE: &str = "ordinal proxy for agitation";
}

rows! { $
/// Ordinal proxies for agitation: they order pours, and none gives the displacement of the grounds.
///
/// No published law for the depth of a crater is valid for a slurry of coffee.
///
/// ```
/// use pourline::{Agitation, AgitationOptions, Options, PourAgitation, Recipe, SpeedSource, analyze, simulate};
/// let (log, _truth) = simulate(&Recipe::default(), 7)?;
/// let agitation = AgitationOptions { spout_bore_m: Some(0.006), fall_height_m: Some(0.2), ..Default::default() };
/// let found: Agitation = analyze(&log, &Options { agitation, ..Options::default() })?.agitation.unwrap();
/// let first: &PourAgitation = &found.pours[0];
/// assert_eq!(first.speed_source, Some(SpeedSource::Stated));
/// // 2 J per kilogram from 20 cm, plus a small term for the speed at the spout.
/// assert!(first.energy_j.as_ref().unwrap().value > 0.0);
/// # Ok::<(), pourline::Error>(())
/// ```
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Agitation {
    /// One row per pour, in their order.
    pub pours: Vec<PourAgitation>,
}
}
