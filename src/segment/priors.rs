//! Prior distributions of the flow model.

use crate::model::burst::Burst;
use crate::model::hand::Hand;
use crate::model::samples::STAMP_S;
use crate::segment::parameters::{
    BEAT, BEAT_HZ, BEND, DELAY_S, EDGES, FALL, LEAD_S, LINE, NOISE, Parameters, QUICK, QUICK_S, RISE, SHARED,
    SLOW, SLOW_S, STAMP, Shared, locals,
};
use serde::{Deserialize, Serialize};

/// Priors of the shared parameters.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub(crate) struct Priors {
    pub log_delay_s: (f64, f64),
    pub lead_s: (f64, f64),
    /// Logarithm of the bend of the scale's response.
    pub log_bend: (f64, f64),
    pub noise_sd_g: f64,
    pub noise_log_sd: f64,
    pub line: f64,
    pub slow: f64,
    pub quick: f64,
    pub beat: f64,
    pub ramp_s: f64,
    pub ramp_log_sd: f64,
    pub skew_sd: f64,
    pub median_log_sd: f64,
    pub stamp_s: f64,
    pub zero_g2_per_s: f64,
    pub beat_s: f64,
    /// Whether the readings show an oscillation: without one, its frequency is that of the prior.
    #[serde(default)]
    pub beats: bool,
    /// Whether the shared parameters are given.
    #[serde(default)]
    pub is_fixed: bool,
}

impl Default for Priors {
    fn default() -> Self {
        Self {
            log_delay_s: (0.18_f64.ln(), 0.5),
            lead_s: (0.0, 1e-5),
            log_bend: LAG,
            noise_sd_g: 0.058,
            noise_log_sd: 0.15,
            line: 0.1,
            slow: 0.05,
            quick: 0.03,
            beat: 0.03,
            ramp_s: 0.3,
            ramp_log_sd: 0.7,
            skew_sd: 1.0,
            median_log_sd: 0.4,
            stamp_s: STAMP_S,
            zero_g2_per_s: 1e-6,
            beat_s: 8.0,
            beats: false,
            is_fixed: false,
        }
    }
}

/// A first-order lag has no bend.
pub(super) const LAG: (f64, f64) = (-30.0, 1e-5);
/// Medians of correlation times and frequency, and the sd of their logarithms.
const SLOW_USUAL_S: (f64, f64) = (2.0, 0.5);
const QUICK_USUAL_S: (f64, f64) = (0.2, 0.7);
const BEAT_USUAL_HZ: (f64, f64) = (0.9, 0.8);
/// The same of the length of a change, s.
const CHANGE_USUAL_S: (f64, f64) = (0.1, 0.8);
/// Sd of the logarithm of the stamps' sd.
const STAMP_LOG_SD: f64 = 0.7;
/// Scales of the processes at the start of the fit, as a fraction of their priors'.
const START: f64 = 0.6;

/// A shared parameter of a smaller prior sd than this is given.
const KNOWN_SD: f64 = 1e-4;

impl Priors {
    /// Whether a shared parameter is estimated from the readings.
    pub(super) fn is_open(&self, k: usize) -> bool {
        match k {
            LEAD_S => self.lead_s.1 > KNOWN_SD,
            BEND => self.log_bend.1 > KNOWN_SD,
            BEAT_HZ => self.beats,
            _ => true,
        }
    }
}

/// The model of a log.
pub(crate) fn hand(s: &Shared, priors: &Priors) -> Hand {
    Hand {
        delay_s: s[DELAY_S].exp(),
        bend: s[BEND].exp(),
        lead_s: s[LEAD_S],
        noise_sd_g: s[NOISE].exp(),
        stamp_sd_s: s[STAMP].exp(),
        zero_g2_per_s: priors.zero_g2_per_s,
        line: s[LINE].exp(),
        slow: s[SLOW].exp(),
        slow_s: s[SLOW_S].exp(),
        quick: s[QUICK].exp(),
        quick_s: s[QUICK_S].exp(),
        beat: s[BEAT].exp(),
        beat_hz: s[BEAT_HZ].exp(),
        beat_s: priors.beat_s,
    }
}

/// Log density, its derivative, and a curvature that is never negative.
type Prior = (f64, f64, f64);

fn normal(x: f64, mean: f64, sd: f64) -> Prior {
    let z = (x - mean) / sd;
    (-0.5 * z * z - sd.ln(), -z / sd, 1.0 / (sd * sd))
}

/// Half-Cauchy of a scale by its logarithm.
fn half_cauchy(x: f64, scale: f64) -> Prior {
    let q = (x.exp() / scale).powi(2);
    (x - (1.0 + q).ln() - scale.ln(), 1.0 - 2.0 * q / (1.0 + q), (4.0 * q / (1.0 + q).powi(2)).max(0.8))
}

/// Student t with 3 degrees of freedom.
fn student(x: f64, mean: f64, sd: f64) -> Prior {
    let z = (x - mean) / sd;
    (
        -2.0 * (1.0 + z * z / 3.0).ln() - sd.ln(),
        -4.0 * z / (3.0 + z * z) / sd,
        4.0 / (3.0 + z * z) / (sd * sd),
    )
}

pub(super) fn shared_prior(k: usize, x: f64, p: &Priors) -> Prior {
    match k {
        DELAY_S => normal(x, p.log_delay_s.0, p.log_delay_s.1),
        LEAD_S => normal(x, p.lead_s.0, p.lead_s.1),
        BEND => normal(x, p.log_bend.0, p.log_bend.1),
        NOISE => normal(x, p.noise_sd_g.ln(), p.noise_log_sd),
        STAMP => normal(x, p.stamp_s.ln(), STAMP_LOG_SD),
        LINE => half_cauchy(x, p.line),
        SLOW => half_cauchy(x, p.slow),
        SLOW_S => normal(x, SLOW_USUAL_S.0.ln(), SLOW_USUAL_S.1),
        QUICK => half_cauchy(x, p.quick),
        QUICK_S => normal(x, QUICK_USUAL_S.0.ln(), QUICK_USUAL_S.1),
        BEAT => half_cauchy(x, p.beat),
        BEAT_HZ => normal(x, BEAT_USUAL_HZ.0.ln(), BEAT_USUAL_HZ.1),
        _ => normal(x, p.ramp_s.ln(), p.median_log_sd),
    }
}

/// Starting values of the shared parameters.
pub(super) fn start(priors: &Priors) -> Shared {
    let mut s = [0.0; SHARED];
    s[DELAY_S] = priors.log_delay_s.0;
    s[LEAD_S] = priors.lead_s.0;
    s[NOISE] = priors.noise_sd_g.ln();
    s[STAMP] = priors.stamp_s.ln();
    s[LINE] = (START * priors.line).ln();
    s[SLOW] = (START * priors.slow).ln();
    s[SLOW_S] = SLOW_USUAL_S.0.ln();
    s[QUICK] = (START * priors.quick).ln();
    s[QUICK_S] = QUICK_USUAL_S.0.ln();
    s[BEAT] = (START * priors.beat).ln();
    s[BEAT_HZ] = BEAT_USUAL_HZ.0.ln();
    s[RISE] = priors.ramp_s.ln();
    s[FALL] = priors.ramp_s.ln();
    s[BEND] = priors.log_bend.0;
    s
}

pub(super) fn local_prior(b: &Burst, k: usize, shared: &Shared, p: &Priors) -> Prior {
    match k {
        1 => student(b.rise.ramp_s.ln(), shared[RISE], p.ramp_log_sd),
        4 => student(b.fall.ramp_s.ln(), shared[FALL], p.ramp_log_sd),
        2 => normal(b.rise.skew, 0.0, p.skew_sd),
        5 => normal(b.fall.skew, 0.0, p.skew_sd),
        k if k > EDGES && k % 2 == 1 => {
            normal(b.changes[(k - EDGES) / 2].ramp_s.ln(), CHANGE_USUAL_S.0.ln(), CHANGE_USUAL_S.1)
        }
        _ => (0.0, 0.0, 0.0),
    }
}

pub(super) fn log_prior(q: &Parameters, p: &Priors) -> f64 {
    let shared: f64 = (0..SHARED).map(|k| shared_prior(k, q.shared[k], p).0).sum();
    let own: f64 = q
        .bursts
        .iter()
        .flatten()
        .flat_map(|b| (0..locals(b)).map(move |k| local_prior(b, k, &q.shared, p).0))
        .sum();
    shared + own
}
