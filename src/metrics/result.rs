//! Flow metrics of each pour and of the whole brew.

use crate::rows::rows;
use serde::{Deserialize, Serialize};

/// Formula of a posterior mean.
macro_rules! posterior_mean {
    ($of:literal) => {
        concat!("posterior mean, over flow curves sampled given the readings: ", $of)
    };
}

/// Formula of a number that depends on extremes of the flow.
macro_rules! both_means {
    ($of:literal) => {
        concat!("mean of two: over flow curves sampled given the readings, and over their means: ", $of)
    };
}

const SIGNIFICANT: &str =
    "the oscillation is significant, and below half of the log's rate; the scale's lag attenuates quick ones";
const PERIODOGRAM: &str = "Zechmeister and Kuerster 2009, Astron. Astrophys. 496, 577";
const REFERENCE_LEVELS: &str = "10 and 90 % reference levels of a transition: common practice, no source";

rows! { $
/// Flow metrics of one pour.
///
/// In addition to those of [`Pour`](crate::Pour): duration, mass and mean flow.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PourMetrics {
    /// Rest before the pour, s.
    pub rest_before_s: Maybe {
        formula: "start_s less the end_s of the pour before",
        valid: "a pour came before",
    },
    /// Share of the brew's water that the pour brings, percent.
    pub water_share_pct: Maybe {
        formula: "100 mass_g / mass of all pours",
        valid: "the log holds the whole brew",
        reference: "JCGM 100:2008, 5.1.2",
    },
    /// Mean over time of the flow on the plateau, g/s.
    pub plateau_flow_g_per_s: Maybe {
        formula: both_means!("mean over time from 0.5 s after half-rise to 0.5 s before half-fall"),
        valid: "1 s lies between these",
    },
    /// Highest flow, g/s.
    pub peak_flow_g_per_s: Maybe {
        formula: both_means!("largest flow, averaged over 0.1 s"),
        valid: "the readings resolve the flow; a peak shorter than lag and interval is cut",
    },
    /// Instant of the highest flow, s.
    pub peak_s: Maybe {
        formula: posterior_mean!("instant of the largest flow"),
        valid: "as peak_flow_g_per_s",
    },
    /// Time from 10 to 90 % of the pour's mean flow, s.
    pub rise_s: Maybe {
        formula: both_means!("time from 10 to 90 % of the mean flow"),
        valid: "at 10 Hz a ramp shorter than 0.2 s is poorly identified; the sd includes it",
        reference: REFERENCE_LEVELS,
    },
    /// Time from 90 to 10 % of the pour's mean flow, s.
    pub fall_s: Maybe {
        formula: both_means!("time from 90 to 10 % of the mean flow"),
        valid: "as rise_s",
        reference: REFERENCE_LEVELS,
    },
    /// Share of the plateau's time at which the flow is near the plateau flow, percent; larger is steadier.
    ///
    /// Near means within `near` of the options, 10 %.
    pub time_near_plateau_pct: Maybe {
        formula: posterior_mean!("time within 10 % of the plateau flow over the plateau's time"),
        valid: "the plateau lasts 1 s",
    },
    /// Water of the first half of the pour's time, percent of its mass; 50 is even, more is early.
    pub first_half_water_pct: Maybe {
        formula: posterior_mean!("water of the first half of the time over the mass"),
        valid: "both edges are in the log",
    },
    /// Coefficient of variation of the flow on the plateau over time, corrected for the scale's noise; 0 is even.
    ///
    /// The posterior mean, pauses left out. The squares of its parts, below, add up to its square on each curve.
    pub flow_cv: Maybe {
        formula: posterior_mean!("sd over mean of the flow on the plateau, over time, pauses left out"),
        valid: "the plateau lasts 1 s, and the readings are not too slow for the hand; see flow_cv_resolved",
    },
    /// Whether flow_cv is distinguishable from 0.
    ///
    /// If not, `flow_cv` depends on its prior, and `flow_cv_upper` is what the log determines.
    pub flow_cv_resolved: bool {
        formula: "1 if the Bayes factor for variation on the plateau is at least 20, and flow_cv two sd; else 0",
    },
    /// Upper 97.5 % bound of flow_cv for each kind of hand up to 2.5 Hz.
    ///
    /// Up to `fastest_hz` of the options. It holds whatever the frequency of the hand.
    pub flow_cv_upper: Maybe {
        formula: "largest over an oscillation's frequency of the 97.5 % quantile of flow_cv; at least its own quantile",
        valid: "2.5 Hz is below 0.45 of the rate, and noise leaves a bound of at most 0.2",
    },
    /// Upper 97.5 % bound of flow_cv for each kind of hand up to resolved_to_hz.
    pub flow_cv_seen_upper: Maybe {
        formula: "as flow_cv_upper, over frequencies up to resolved_to_hz",
        valid: "the readings resolve 0.3 Hz",
    },
    /// Part of flow_cv that is a straight line over time.
    pub flow_cv_trend: Maybe {
        formula: posterior_mean!("sd of the least-squares line of the flow on the plateau over its mean"),
        valid: "the plateau lasts 1 s",
        reference: "least squares",
    },
    /// Part of flow_cv below 0.25 Hz, the straight line taken out.
    pub flow_cv_slow: Maybe {
        formula: posterior_mean!("root of the power below 0.25 Hz, the line taken out, over the mean"),
        valid: "the plateau lasts 8 s",
        reference: "Parseval's theorem",
    },
    /// Part of flow_cv from 0.25 Hz to resolved_to_hz.
    ///
    /// If there is no slow part, from the lowest frequency on.
    pub flow_cv_fast: Maybe {
        formula: posterior_mean!("root of the power up to resolved_to_hz, from 0.25 Hz on, over the mean"),
        valid: "the readings resolve 0.25 Hz and a period per plateau",
        reference: "Parseval's theorem",
    },
    /// Part of flow_cv beyond resolved_to_hz, mostly from the prior.
    pub flow_cv_unseen: Maybe {
        formula: posterior_mean!("root of the power above resolved_to_hz and 0.25 Hz over the mean"),
        valid: "as flow_cv; the log hardly determines it",
        reference: "Parseval's theorem",
    },
    /// Highest frequency of the flow that the readings of the plateau resolve, Hz.
    pub resolved_to_hz: Maybe {
        formula: "largest f below 0.45 of the rate with 3 sd(f) at most 0.03, sd(f) that of the cv of an oscillation",
        valid: "as flow_cv",
    },
    /// Coefficient of variation of the masses of the pulses of the pour; 0 if all are alike.
    pub pulse_mass_cv: Maybe {
        formula: posterior_mean!("sd over mean of the masses between pauses"),
        valid: "the pour has three pulses with pauses between them",
    },
    /// Slope of the flow on the plateau, g/s2.
    pub drift_g_per_s2: Maybe {
        formula: posterior_mean!("slope of the least-squares line of the flow"),
        valid: "the plateau is long compared with the period of oscillations",
        reference: "least squares",
    },
    /// Frequency of the strongest oscillation of the flow, Hz.
    pub pulsing_hz: Maybe {
        formula: "highest peak of the generalised least-squares periodogram of the readings under the flow model",
        valid: SIGNIFICANT,
        reference: PERIODOGRAM,
    },
    /// Amplitude of the strongest oscillation, g/s.
    pub pulsing_amplitude_g_per_s: Maybe {
        formula: "generalised least squares at that frequency, corrected for lag, level, line, slow changes and edges",
        valid: "as pulsing_hz",
        reference: PERIODOGRAM,
    },
    /// Amplitude of the strongest oscillation in percent of the pour's mean flow.
    pub pulsing_amplitude_pct: Maybe {
        formula: "100 amplitude / mean_flow_g_per_s",
        valid: "as pulsing_hz",
    },
    /// False-alarm probability: that noise alone gives an oscillation as strong in the band, 0 to 1.
    pub pulsing_p: Maybe {
        formula: "1 - (1 - e^-z) exp(-W e^-z sqrt z)",
        valid: "eight samples while water arrives",
        reference: "Baluev 2008, Mon. Not. R. Astron. Soc. 385, 1279",
    },
    /// Spectral arc length of the flow: near -1.4 for one even rise and fall, lower for each one more.
    pub smoothness: Maybe {
        formula: "spectral arc length: minus the length of the normalised magnitude spectrum",
        valid: "pours of similar duration are compared",
        reference: "Balasubramanian and others 2015, J. NeuroEng. Rehab. 12, 112",
    },
    /// Number of pauses in the pour: the posterior mean.
    pub pauses: Maybe {
        formula: posterior_mean!("stretches with less than 0.5 g/s"),
        valid: "a pause contains some samples",
    },
    /// Time without water in the pour, s.
    pub paused_s: Maybe {
        formula: posterior_mean!("their total time"),
        valid: "as pauses",
    },
} undefined
}

rows! { $
/// Flow metrics of the pours of a brew.
///
/// ```
/// use pourline::{Metrics, MetricsOptions, Options, PourMetrics, Recipe, analyze, metrics, simulate};
/// let brew = analyze(&simulate(&Recipe::default(), 7)?.0, &Options::default())?;
/// let metrics: Metrics = metrics(&brew.trace, &brew.segments, &MetricsOptions::default())?;
/// let first: &PourMetrics = &metrics.pours[0];
/// let (plateau, peak) = (first.plateau_flow_g_per_s.as_ref(), first.peak_flow_g_per_s.as_ref());
/// assert!(plateau.unwrap().value < peak.unwrap().value);
/// # Ok::<(), pourline::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Metrics {
    /// One row per pour, in their order.
    pub pours: Vec<PourMetrics>,
    /// Mean flow over the time of all pours, g/s.
    pub pouring_flow_g_per_s: Maybe {
        formula: "mass of all pours / their total time",
        valid: "there is a pour, and both edges of each are in the log",
    },
    /// Longest rest, s.
    pub longest_rest_s: Maybe {
        formula: "largest time between two pours",
        valid: "there are two pours",
    },
}
}
