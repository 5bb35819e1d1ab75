//! What one pour and the whole brew tell of the hand.

use crate::estimate::maybe;
use crate::estimate::{Maybe, Undefined};
use serde::{Deserialize, Serialize};

/// One pour. Beside what [`Pour`](crate::Pour) has: duration, mass and mean flow.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PourMeasures {
    /// Rest before the pour, s.
    #[serde(with = "maybe")]
    pub rest_before_s: Maybe,
    /// Share of the brew's water that the pour brings, percent.
    #[serde(with = "maybe")]
    pub water_share_pct: Maybe,
    /// Mean over time of the flow on the plateau, g/s.
    #[serde(with = "maybe")]
    pub plateau_flow_g_per_s: Maybe,
    /// Highest flow, g/s.
    #[serde(with = "maybe")]
    pub peak_flow_g_per_s: Maybe,
    /// Instant of the highest flow, s.
    #[serde(with = "maybe")]
    pub peak_s: Maybe,
    /// Time from 10 to 90 % of the pour's median flow, s.
    #[serde(with = "maybe")]
    pub rise_s: Maybe,
    /// Time from 90 to 10 % of it, s.
    #[serde(with = "maybe")]
    pub fall_s: Maybe,
    /// Share of the pour's time at which the flow is near the plateau flow (within `near` of the options, 10 %), percent.
    #[serde(with = "maybe")]
    pub time_near_plateau_pct: Maybe,
    /// Sd over mean of the flow on the plateau, over time, the scale's noise taken out: the posterior mean, for every pour with 1 s of
    /// plateau. 0 is even.
    #[serde(with = "maybe")]
    pub flow_cv: Maybe,
    /// Whether `flow_cv` is distinguishable from 0. If not, its value leans on what is expected of hands, and `flow_cv_upper` is what is
    /// known.
    pub flow_cv_resolved: bool,
    /// Upper bound of `flow_cv`, with a probability of 97.5 %.
    #[serde(with = "maybe")]
    pub flow_cv_upper: Maybe,
    /// Slope of the flow on the plateau, g/s2.
    #[serde(with = "maybe")]
    pub drift_g_per_s2: Maybe,
    /// Frequency of the strongest beat, Hz.
    #[serde(with = "maybe")]
    pub pulsing_hz: Maybe,
    /// Its amplitude, g/s.
    #[serde(with = "maybe")]
    pub pulsing_amplitude_g_per_s: Maybe,
    /// Its amplitude in percent of the pour's mean flow.
    #[serde(with = "maybe")]
    pub pulsing_amplitude_pct: Maybe,
    /// Probability that noise alone would feign a beat as strong somewhere in the band, 0 to 1.
    #[serde(with = "maybe")]
    pub pulsing_false_alarm: Maybe,
    /// Spectral arc length of the pour's flow: near -1.4 for one even swell, lower the more it goes up and down.
    #[serde(with = "maybe")]
    pub smoothness: Maybe,
    /// Number of pauses inside the pour: expected, where the log leaves it open.
    #[serde(with = "maybe")]
    pub pauses: Maybe,
    /// Time without water inside the pour, s.
    #[serde(with = "maybe")]
    pub paused_s: Maybe,
}

/// A measure of a pour: its name, its unit, where it stands.
pub type MeasureColumn = (&'static str, &'static str, fn(&PourMeasures) -> &Maybe);

impl PourMeasures {
    /// Every measure, in the order of the table.
    ///
    /// ```
    /// use pourline::PourMeasures;
    /// assert!(PourMeasures::COLUMNS.iter().any(|(name, unit, _)| (*name, *unit) == ("peak_flow_g_per_s", "g/s")));
    /// ```
    pub const COLUMNS: [MeasureColumn; 18] = [
        ("rest_before_s", "s", |m| &m.rest_before_s),
        ("water_share_pct", "%", |m| &m.water_share_pct),
        ("plateau_flow_g_per_s", "g/s", |m| &m.plateau_flow_g_per_s),
        ("peak_flow_g_per_s", "g/s", |m| &m.peak_flow_g_per_s),
        ("peak_s", "s", |m| &m.peak_s),
        ("rise_s", "s", |m| &m.rise_s),
        ("fall_s", "s", |m| &m.fall_s),
        ("time_near_plateau_pct", "%", |m| &m.time_near_plateau_pct),
        ("flow_cv", "", |m| &m.flow_cv),
        ("flow_cv_upper", "", |m| &m.flow_cv_upper),
        ("drift_g_per_s2", "g/s2", |m| &m.drift_g_per_s2),
        ("pulsing_hz", "Hz", |m| &m.pulsing_hz),
        ("pulsing_amplitude_g_per_s", "g/s", |m| &m.pulsing_amplitude_g_per_s),
        ("pulsing_amplitude_pct", "%", |m| &m.pulsing_amplitude_pct),
        ("pulsing_false_alarm", "", |m| &m.pulsing_false_alarm),
        ("smoothness", "", |m| &m.smoothness),
        ("pauses", "", |m| &m.pauses),
        ("paused_s", "s", |m| &m.paused_s),
    ];

    /// A pour of whose flow nothing is known.
    pub(super) fn undefined(why: &Undefined) -> Self {
        let no = || Err(why.clone());
        Self {
            rest_before_s: no(),
            water_share_pct: no(),
            plateau_flow_g_per_s: no(),
            peak_flow_g_per_s: no(),
            peak_s: no(),
            rise_s: no(),
            fall_s: no(),
            time_near_plateau_pct: no(),
            flow_cv: no(),
            flow_cv_resolved: false,
            flow_cv_upper: no(),
            drift_g_per_s2: no(),
            pulsing_hz: no(),
            pulsing_amplitude_g_per_s: no(),
            pulsing_amplitude_pct: no(),
            pulsing_false_alarm: no(),
            smoothness: no(),
            pauses: no(),
            paused_s: no(),
        }
    }
}

/// What the pours of a brew tell of the hand.
///
/// ```
/// use pourline::{Measures, MeasuresOptions, Options, PourMeasures, Recipe, analyze, measures, simulate};
/// let brew = analyze(&simulate(&Recipe::default(), 7)?.0, &Options::default())?;
/// let found: Measures = measures(&brew.trace, &brew.segments, &MeasuresOptions::default())?;
/// let first: &PourMeasures = &found.pours[0];
/// let (plateau, peak) = (first.plateau_flow_g_per_s.as_ref(), first.peak_flow_g_per_s.as_ref());
/// assert!(plateau.unwrap().value < peak.unwrap().value);
/// # Ok::<(), pourline::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Measures {
    /// A row a pour, in their order.
    pub pours: Vec<PourMeasures>,
    /// Mean over the time of all pours of their flow, g/s.
    #[serde(with = "maybe")]
    pub pouring_flow_g_per_s: Maybe,
    /// Longest rest, s.
    #[serde(with = "maybe")]
    pub longest_rest_s: Maybe,
}
