//! In: a calibration. Out: what an analysis can resolve of a brew on that scale.
//!
//! The library analyses pours that are made with the response, noise, step and interval of the calibration. The sd are
//! those that it states; that of the flow is its rms error, because the true flow is known here.

use crate::brew::analyze::analyze;
use crate::brew::options::Options;
use crate::error::{Error, Result};
use crate::estimate::Estimate;
use crate::log::meta::Meta;
use crate::log::record::Log;
use crate::math::random::Random;
use crate::model::response::{Kernel, ScaleResponse};
use crate::rows::rows;
use crate::scale::calibrate::Calibration;
use serde::{Deserialize, Serialize};
use std::f64::consts::TAU;

rows! { $
/// What a scale can resolve of a pour of 6 g/s for 10 s.
///
/// The flow sways by 5 % at 0.4 Hz, and the stream does not press on the scale.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct ScaleResolution {
    /// Sd of the instant at which the flow rises to half, that of the delay included, s.
    pub half_rise_sd_s: f64,
    /// Rms error of the flow over 1 s, g/s.
    pub flow_sd_g_per_s: f64,
    /// Sd of flow_cv.
    pub flow_cv_sd: f64,
    /// The fastest variation of the flow that readings resolve, Hz.
    pub resolved_to_hz: f64,
}
}

const FLOW_G_PER_S: f64 = 6.0;
const START_S: f64 = 6.0;
const LASTS_S: f64 = 10.0;
const LOG_S: f64 = 24.0;
/// Time in which the flow rises, and falls, s.
const RAMP_S: f64 = 0.3;
const SWAYS: f64 = 0.05;
const SWAY_HZ: f64 = 0.4;
/// Pours that are made; at least half of them must be found.
const POURS: u64 = 12;
/// Grid of the true flow, s.
const GRID_S: f64 = 0.01;
/// An interval of a log is at least that, s.
const LEAST_INTERVAL_S: f64 = 0.002;

/// What an analysis can resolve of a brew on that scale.
///
/// ```
/// use pourline::{CalibrateOptions, Log, Meta, ScaleResolution, ScaleResponse, calibrate, scale_resolution};
/// let time_s: Vec<f64> = (0..100).map(|i| f64::from(i) * 0.1).collect();
/// let reading_g = time_s.iter().map(|t| 100.0 * ScaleResponse::lag(0.2).shown(t - 3.04)).collect();
/// let log = Log::new(time_s, Some(reading_g), None, Meta::default())?;
/// let found: ScaleResolution = scale_resolution(&calibrate(&log, &CalibrateOptions::default())?)?;
/// assert!(found.half_rise_sd_s < 0.05 && found.flow_cv_sd < 0.02);
/// # Ok::<(), pourline::Error>(())
/// ```
///
/// # Errors
/// `argument` if most pours are not found on such a scale.
pub fn scale_resolution(calibration: &Calibration) -> Result<ScaleResolution> {
    let mut options = Options::default();
    // The delay shifts all edges alike: its sd is added in the end.
    let delay_sd_s = calibration.response.delay_s.sd;
    let delay_s = Estimate::exact(calibration.response.delay_s.value);
    options.condition.scale = Some(ScaleResponse { delay_s, ..calibration.response.clone() });
    // The force of a stream is no property of the scale.
    options.segment.stream_lead_s = Some(0.0);
    let shown_g = shown_g(calibration.response.kernel());
    let (mut half_rise, mut flow_square, mut cv, mut to_hz) =
        (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    let mut found = 0;
    for seed in 0..POURS {
        let brew = analyze(&read(calibration, &shown_g, seed)?, &options)?;
        let [pour] = brew.segments.pours.as_slice() else { continue };
        found += 1;
        half_rise.extend(pour.half_rise_s.as_ref().ok().map(|e| e.sd));
        if let (Some(metrics), Some(flow)) = (brew.metrics.pours.first(), &brew.flow) {
            cv.extend(metrics.flow_cv.as_ref().ok().map(|e| e.sd));
            to_hz.extend(metrics.resolved_to_hz.as_ref().ok().map(|e| e.value));
            let water_g = |s: f64| {
                let i = flow.time_s.partition_point(|t| *t < s).clamp(1, flow.time_s.len() - 1);
                let (t, w) = (&flow.time_s, &flow.water_g);
                w[i - 1] + (s - t[i - 1]) / (t[i] - t[i - 1]) * (w[i] - w[i - 1])
            };
            // Whole seconds of the plateau.
            for k in 1..LASTS_S as u32 - 1 {
                let from_s = START_S + f64::from(k);
                let true_g = poured_g(from_s + 1.0) - poured_g(from_s);
                flow_square.push((water_g(from_s + 1.0) - water_g(from_s) - true_g).powi(2));
            }
        }
    }
    if 2 * found < POURS {
        let message = "most pours of 6 g/s for 10 s are not found on such a scale".into();
        return Err(Error::Argument { name: "calibration".into(), message });
    }
    let mean = |values: &[f64]| values.iter().sum::<f64>() / values.len() as f64;
    Ok(ScaleResolution {
        half_rise_sd_s: mean(&half_rise).hypot(delay_sd_s),
        flow_sd_g_per_s: mean(&flow_square).sqrt(),
        flow_cv_sd: mean(&cv),
        resolved_to_hz: mean(&to_hz),
    })
}

/// True flow, g/s.
fn flow_g_per_s(t: f64) -> f64 {
    let since_s = t - START_S;
    let ramp = (since_s / RAMP_S).min((LASTS_S - since_s) / RAMP_S).clamp(0.0, 1.0);
    FLOW_G_PER_S * ramp * (1.0 + SWAYS * (TAU * SWAY_HZ * since_s).sin())
}

/// Water poured before an instant of the plateau, g.
fn poured_g(t: f64) -> f64 {
    let n = ((t - START_S) / GRID_S).round() as usize;
    (0..n).map(|i| flow_g_per_s(START_S + (i as f64 + 0.5) * GRID_S) * GRID_S).sum()
}

/// What the scale shows without noise, on the grid.
fn shown_g(kernel: Kernel) -> Vec<f64> {
    let n = (LOG_S / GRID_S) as usize;
    let step: Vec<f64> = (0..n).map(|k| kernel.shown(0, (k as f64 + 0.5) * GRID_S)).collect();
    let flow: Vec<f64> = (0..n).map(|i| flow_g_per_s((i as f64 + 0.5) * GRID_S) * GRID_S).collect();
    // The water of a cell arrives in its middle.
    (0..n).map(|i| (0..i).map(|j| flow[j] * step[i - 1 - j]).sum()).collect()
}

/// The readings of one pour.
fn read(of: &Calibration, shown_g: &[f64], seed: u64) -> Result<Log> {
    let mut random = Random::stream(seed, "scale_resolution");
    let interval_s = of.stamps.interval_s.max(LEAST_INTERVAL_S);
    let correlation = of.noise_correlation.as_ref().map_or(0.0, |r| r.value.clamp(0.0, 0.95));
    // The noise includes the rounding.
    let sd_g = (of.noise_sd_g.value.powi(2) - of.step_g * of.step_g / 12.0).max(0.0).sqrt();
    let phase_s = random.unit() * interval_s;
    let (mut noise_g, mut held_g) = (sd_g * random.normal(), 0.0);
    let mut reading = |t: f64| {
        noise_g = correlation * noise_g + (1.0 - correlation * correlation).sqrt() * sd_g * random.normal();
        let i = ((t / GRID_S) as usize).min(shown_g.len() - 2);
        let g = shown_g[i] + (t / GRID_S - i as f64) * (shown_g[i + 1] - shown_g[i]) + noise_g;
        if (g - held_g).abs() >= of.held_g {
            held_g = g;
        }
        if of.step_g > 0.0 { (held_g / of.step_g).round() * of.step_g } else { held_g }
    };
    let n = ((LOG_S - 0.1 - interval_s) / interval_s) as usize;
    let time_s: Vec<f64> = (0..n).map(|k| phase_s + k as f64 * interval_s).collect();
    let water_g = time_s.iter().map(|t| reading(*t)).collect();
    Log::new(time_s, Some(water_g), None, Meta::default())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_reading_is_behind_the_water_by_the_delay() {
        // A swaying flow of 6 g/s in the mean: 6 g/s times .3 s, but for the sway, which is at most 5 % of it.
        let kernel = Kernel { lag_s: 0.2, bend: 0.0, average_s: 0.2 };
        let (shown, late_s) = (shown_g(kernel), 0.3);
        for t in [9.0, 11.5, 14.0] {
            let behind_g = poured_g(t) - shown[(t / GRID_S).round() as usize];
            assert!((behind_g / FLOW_G_PER_S - late_s).abs() < 0.06 * late_s, "{behind_g}");
        }
        // In the end it shows the water: 6 g/s for 10 s less a ramp, the sway over 4 periods cancels.
        let water_g = FLOW_G_PER_S * (LASTS_S - RAMP_S);
        assert!((shown[2300] - water_g).abs() < 0.05, "{}", shown[2300]);
    }
}
