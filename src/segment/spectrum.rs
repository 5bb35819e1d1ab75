//! In: the fit of a log and a pour. Out: the power spectral density of the flow on the pour's plateau.

use crate::estimate::Undefined;
use crate::math::fourier::magnitudes;
use crate::rows::{columns, rows, unit};
use crate::segment::flow::Flow;
use crate::segment::posterior::drawn;
use crate::segment::pour::Pour;
use crate::segment::source::UNFITTED;
use crate::table::{Table, Values};
use serde::{Deserialize, Serialize};
use std::f64::consts::TAU;

/// Shortest plateau, s.
const SHORTEST_S: f64 = 1.0;

columns! {
    /// Frequency, even steps from 0 to half the rate of the model's grid.
    frequency_hz {},
    /// Power spectral density of the true flow on the plateau, one-sided, (g/s)2/Hz; it integrates to the variance.
    density_g2_per_s {
        formula: "mean over posterior flow curves q of 2 dt/N |DFT(q - mean(q))|^2",
        valid: "the plateau lasts 1 s; above half of the log's rate it is that of the prior",
        reference: "periodogram; Percival and Walden, Spectral Analysis for Physical Applications, 1993, not checked",
    },
    /// Noise of the readings seen as flow, (g/s)2/Hz.
    noise_g2_per_s {
        formula: "2 s^2 dt (2 pi f)^2 / transmission, s the noise of a reading, dt the interval of the readings",
        valid: "up to half of the log's rate",
    },
    /// Share of the flow's power at a frequency that the scale passes on: 1 without lag and force of the stream.
    transmission {
        formula: "(1 + (2 pi f lead)^2) / (1 + (2 pi f lag)^2)",
        reference: "first-order low-pass",
    },
}

rows! { $
/// Power spectral density of the flow on the plateau of one pour.
///
/// Where `density_g2_per_s` lies below `noise_g2_per_s`, the log hardly determines it and the prior dominates.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct FlowSpectrum {
    /// Frequencies, Hz: even steps from 0 to half the rate of the model's grid.
    pub frequency_hz: Vec<f64>,
    /// Power spectral density, one-sided, (g/s)2/Hz: the posterior mean.
    ///
    /// Its sum times the step of the frequencies is the variance of the flow on the plateau, (g/s)2.
    pub density_g2_per_s: Vec<f64>,
    /// Its standard deviation over the posterior, (g/s)2/Hz.
    pub density_sd_g2_per_s: Vec<f64>,
    /// Noise of the readings seen as flow, (g/s)2/Hz.
    pub noise_g2_per_s: Vec<f64>,
    /// Share of the flow's power that the scale passes on, 1 without lag.
    pub transmission: Vec<f64>,
    /// Highest frequency that the readings resolve, Hz: half of their rate. Above it the density is that of the prior.
    pub readings_to_hz: f64,
    /// Start of the plateau, s.
    pub from_s: f64,
    /// End of the plateau, s.
    pub to_s: f64,
}
}

impl FlowSpectrum {
    /// One row per frequency.
    #[must_use]
    pub fn table(&self) -> Table {
        let mut table = Table::default();
        let columns = [
            ("frequency_hz", &self.frequency_hz),
            ("density_g2_per_s", &self.density_g2_per_s),
            ("density_sd_g2_per_s", &self.density_sd_g2_per_s),
            ("noise_g2_per_s", &self.noise_g2_per_s),
            ("transmission", &self.transmission),
        ];
        for (name, values) in columns {
            table.push(name, unit(name), Values::Number(values.clone()));
        }
        table
    }
}

impl Flow {
    /// Power spectral density of the flow on the plateau of a pour of the same brew.
    ///
    /// The posterior mean over flow curves, with the noise floor of the readings and what the scale passes on.
    ///
    /// ```
    /// use pourline::{FlowSpectrum, Options, Recipe, analyze, simulate};
    /// let brew = analyze(&simulate(&Recipe::default(), 7)?.0, &Options::default())?;
    /// let flow = brew.flow.unwrap();
    /// let found: FlowSpectrum = flow.spectrum(&brew.segments.pours[0]).unwrap();
    /// assert_eq!(found.density_g2_per_s.len(), found.frequency_hz.len());
    /// # Ok::<(), pourline::Error>(())
    /// ```
    ///
    /// # Errors
    /// The reason why it is undefined: no half-edges, a plateau under 1 s, no fit of the pour.
    pub fn spectrum(&self, pour: &Pour) -> Result<FlowSpectrum, Undefined> {
        let source = self.source.as_ref().ok_or_else(|| Undefined::because(UNFITTED))?;
        let unfitted = || Undefined::because("the pour was not fitted");
        let fitted = source.fitted.as_ref().ok_or_else(unfitted)?;
        let (x, fit) = (&fitted.0, &fitted.1);
        let (rise_s, fall_s) = (pour.half_rise_s.clone()?.value, pour.half_fall_s.clone()?.value);
        let (from_s, to_s) = (rise_s + source.plateau_inset_s, fall_s - source.plateau_inset_s);
        if to_s - from_s < SHORTEST_S {
            return Err(Undefined::because("the plateau is shorter than 1 s"));
        }
        let middle_s = f64::midpoint(from_s, to_s);
        let holds = |k: &usize| (fit.groups[*k].start_s()..fit.groups[*k].end_s()).contains(&middle_s);
        let group = (0..fit.groups.len()).find(holds).ok_or_else(unfitted)?;
        let curves = drawn(x, fit, group);
        let step_s = curves.first().ok_or_else(unfitted)?.mean.step_s;
        let mut sums: Vec<[f64; 2]> = Vec::new();
        let (mut n, mut mean_g_per_s, mut padded) = (0.0, 0.0, 1);
        for curve in curves.iter().flat_map(|d| &d.pair) {
            let flow = curve.between((from_s, to_s));
            if flow.len() < 2 {
                return Err(unfitted());
            }
            let mean = flow.iter().sum::<f64>() / flow.len() as f64;
            let about: Vec<f64> = flow.iter().map(|q| q - mean).collect();
            padded = about.len().next_power_of_two();
            let powers = magnitudes(&about, padded).into_iter().map(|m| m * m);
            sums.resize(padded / 2 + 1, [0.0; 2]);
            for (k, (sum, power)) in sums.iter_mut().zip(powers).enumerate() {
                // One-sided: each frequency stands for two, but 0 and half the rate.
                let sides = if k == 0 || 2 * k == padded { 1.0 } else { 2.0 };
                let density = sides * step_s * power / about.len() as f64;
                *sum = [sum[0] + density, sum[1] + density * density];
            }
            (n, mean_g_per_s) = (n + 1.0, mean_g_per_s + mean);
        }
        mean_g_per_s /= n;
        let frequency_hz: Vec<f64> = (0..sums.len()).map(|k| k as f64 / (padded as f64 * step_s)).collect();
        let hands: Vec<_> = (0..fit.draws.len()).map(|draw| fit.hand(draw)).collect();
        let over = |of: &dyn Fn(f64, f64, f64) -> f64| -> Vec<f64> {
            let at = |f: &f64| {
                let w = TAU * f;
                let each = hands.iter().map(|h| {
                    let noise_g2 = h.noise_sd_g.powi(2) + (mean_g_per_s * h.stamp_sd_s).powi(2);
                    of(w, h.shown_power(w), noise_g2)
                });
                each.sum::<f64>() / hands.len() as f64
            };
            frequency_hz.iter().map(at).collect()
        };
        Ok(FlowSpectrum {
            density_g2_per_s: sums.iter().map(|sum| sum[0] / n).collect(),
            density_sd_g2_per_s: sums
                .iter()
                .map(|sum| (sum[1] / n - (sum[0] / n).powi(2)).max(0.0).sqrt())
                .collect(),
            noise_g2_per_s: over(&|w, passed, noise_g2| 2.0 * noise_g2 * x.interval_s * w * w / passed),
            transmission: over(&|_, passed, _| passed),
            readings_to_hz: 0.5 / x.interval_s,
            frequency_hz,
            from_s,
            to_s,
        })
    }
}
