//! In: a trace. Out: the used samples of its water channel, averaged to the rate that the fit needs.

use crate::condition::on_change::with_unchanged;
use crate::condition::trace::{Flag, Trace};
use crate::estimate::Estimate;
use crate::model::samples::{STAMP_S, Samples};
use crate::segment::tube::unrounded;

/// Samples of a faster log are averaged within this time, s. The curvature of the reading is then negligible:
/// at 50 g/s2 the mean of the readings differs from the reading at the mean stamp by 50 * 0.04^2 / 24 = 0.003
/// g.
const TOGETHER_S: f64 = 0.04;

/// Floor of the noise, g: the error of the trapezoid model. Without it, a log with hardly any noise would have
/// to agree with a trapezoid to its last digit, and the fit would not converge.
const SHAPE_G: f64 = 0.01;

/// A taut string replaces readings in coarser steps, g. Finer ones it would make too sure of a slow drift of the flow.
const TUBE_G: f64 = 0.25;

/// Number of harmonics of a readout's step that are summed; the rest is less than a hundredth of the variance.
const HARMONICS: i32 = 64;

/// The used samples of the water channel from the start of the brew on; None if they are fewer than five.
pub(crate) fn used(trace: &Trace) -> Option<Samples> {
    let water = trace.water.as_ref()?;
    let is_used = |i: &usize| water.flag[*i] == Flag::Used && trace.time_s[*i] >= trace.brew_start_s;
    let index: Vec<usize> = (0..trace.time_s.len()).filter(is_used).collect();
    let of = |v: &[f64]| index.iter().map(|&i| v[i]).collect::<Vec<f64>>();
    let unchanged = with_unchanged(&of(&trace.time_s), &of(&water.mass_g), water.step_g);
    let many = ((TOGETHER_S * trace.rate_hz) as usize).max(1);
    let rounding_var_g2 = rounding_var(water.step_g, water.noise_sd_g);
    let mut samples = Samples {
        time_s: Vec::with_capacity(index.len() / many + 1),
        mass_g: Vec::with_capacity(index.len() / many + 1),
        noise_sd_g: (water.noise_sd_g.value / (many as f64).sqrt())
            .hypot(rounding_var_g2.sqrt())
            .max(SHAPE_G),
        stamp_s: trace.time_sd_s.max(STAMP_S),
        interval_s: many as f64 / trace.rate_hz,
        rounding_var_g2,
        drift_sd_g_per_s: water.drift_g_per_s.sd,
        walk_g2_per_s: water.walk_g2_per_s,
        disturbed_s: disturbed(&trace.time_s, &water.flag, &index),
    };
    let mut rest = index.as_slice();
    while let Some(&first) = rest.first() {
        // A bin never spans a gap.
        let near = |i: &&usize| trace.time_s[**i] - trace.time_s[first] < 1.5 * TOGETHER_S;
        let (bin, after) = rest.split_at(rest.iter().take(many).take_while(near).count().max(1));
        let mean = |v: &[f64]| bin.iter().map(|&i| v[i]).sum::<f64>() / bin.len() as f64;
        samples.time_s.push(mean(&trace.time_s));
        samples.mass_g.push(mean(&water.mass_g));
        rest = after;
    }
    if let Some((time_s, mass_g, interval_s)) = unchanged {
        samples = Samples { time_s, mass_g, interval_s, ..samples };
    }
    if samples.is_coarse() && water.step_g > TUBE_G {
        samples.mass_g = unrounded(&samples.time_s, &samples.mass_g, water.step_g);
    }
    (samples.time_s.len() >= 5).then_some(samples)
}

/// Gaps in which readings are excluded because the scale was disturbed. A knock of one reading does not count.
fn disturbed(time_s: &[f64], flag: &[Flag], used: &[usize]) -> Vec<(f64, f64)> {
    let moved = |flag: &&Flag| matches!(flag, Flag::Knock | Flag::Lift | Flag::Settling | Flag::Stuck);
    let is_gap = |w: &&[usize]| flag[w[0] + 1..w[1]].iter().filter(moved).count() > 1;
    used.windows(2).filter(is_gap).map(|w| (time_s[w[0]], time_s[w[1]])).collect()
}

/// Variance that averaging does not remove from a rounded reading. The error of the mean of a rounded noisy
/// level is a sum of harmonics of the step. The k-th has amplitude `step/(k pi) exp(-2 pi^2 k^2 s^2/step^2)`.
/// Without noise the error is uniform within the step (Widrow and Kollar, Quantization Noise, 2008; the book
/// was not checked). The variance is averaged over the posterior of the noise (Gauss-Hermite, three nodes).
fn rounding_var(step: f64, noise: Estimate) -> f64 {
    const NODES: [(f64, f64); 3] =
        [(-1.732_050_807_568_877, 1.0 / 6.0), (0.0, 2.0 / 3.0), (1.732_050_807_568_877, 1.0 / 6.0)];
    if step <= 0.0 {
        return 0.0;
    }
    let remaining = |sds: f64| {
        let unrounded =
            ((noise.value + sds * noise.sd).max(0.0).powi(2) / (step * step) - 1.0 / 12.0).max(0.0);
        let harmonic = |k: i32| {
            let phase = f64::from(k) * std::f64::consts::PI;
            (-4.0 * phase * phase * unrounded).exp() / (2.0 * phase * phase)
        };
        step * step * (1..=HARMONICS).map(harmonic).sum::<f64>()
    };
    NODES.iter().map(|(sds, weight)| weight * remaining(*sds)).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_rounding_variance_is_that_of_the_step_without_noise_and_vanishes_with_much_noise() {
        // The error of a constant reading is uniform within the step: its variance is step^2/12 (JCGM 100:2008,
        // 4.3.7).
        let still = rounding_var(1.0, Estimate::exact(1.0 / 12.0_f64.sqrt()));
        assert!((still - 1.0 / 12.0).abs() < 1e-3, "{still}");
        // Noise of 0.3 steps besides that of rounding: 1/(2 pi^2) exp(-4 pi^2 0.09); the next harmonic is
        // negligible.
        let some = rounding_var(1.0, Estimate::exact((0.09_f64 + 1.0 / 12.0).sqrt()));
        assert!((some - 0.001_451).abs() < 1e-5, "{some}");
        assert_eq!(rounding_var(0.0, Estimate::exact(0.1)), 0.0);
    }
}
