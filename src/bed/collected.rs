//! In: the beverage channel. Out: beverage and its flow at each stamp, with variances, corrected for the scale's lag.
//!
//! Method: a smoother in which the flow is a random walk ([`Trend`](crate::model::trend::Trend)). Its process noise has
//! one value while water is poured and passes the bed, and another while the bed drains. Both maximise the likelihood
//! of the log.

use crate::bed::options::BedOptions;
use crate::condition::trace::{ChannelTrace, Flag, Trace};
use crate::estimate::Estimate;
use crate::model::trend::{Smoothed, Trend, wide};
use crate::segment::pour::Segments;

/// Process noise of the flow that is tried, as powers of ten, (g/s)^2 per second.
const POWERS: std::ops::RangeInclusive<i32> = -5..=1;
/// Highest corner frequency of the calm flow, rad/s: a bed stops more slowly than this resolves.
const CALM_RAD_PER_S: f64 = 4.0;
/// Approximate number of readings that set the zero.
const ZERO_READINGS: f64 = 30.0;

/// The beverage's readings and their smoother, from the start of the brew to the last reading that is used.
pub(super) struct Collected<'a> {
    /// Index in the trace of the first of these stamps.
    pub first: usize,
    pub time_s: &'a [f64],
    /// Readings, g; NaN if not used.
    pub reading_g: Vec<f64>,
    pub noise_sd_g: f64,
    pub step_g: f64,
    pub lag_s: Estimate,
    /// Random walk of the zero, g per root s.
    pub zero_g: f64,
    /// Drift of the zero, sd in g/s. In the beverage it is confounded with beverage, so that of the water's scale is
    /// assumed.
    drift_sd_g_per_s: f64,
    /// Beverage and flow at each stamp. The variance of the beverage includes that of the zero.
    pub smooth: Vec<Smoothed>,
    /// The same, smoothed until the sd of the flow is a quarter of the flow at which the beverage counts as stopped.
    pub calm: Vec<Smoothed>,
    /// Width of that smoothing in time, s.
    pub calm_blur_s: f64,
}

impl<'a> Collected<'a> {
    pub(super) fn of(
        trace: &'a Trace,
        channel: &ChannelTrace,
        segments: &Segments,
        options: &BedOptions,
    ) -> Option<Self> {
        let first = trace.time_s.partition_point(|&t| t < trace.brew_start_s);
        let last = (first..trace.time_s.len()).rev().find(|&i| channel.flag[i] == Flag::Used)?;
        let reading = |i: usize| if channel.flag[i] == Flag::Used { channel.mass_g[i] } else { f64::NAN };
        let noise_sd_g = channel.noise_sd_g.value.max(1e-6);
        // Process noise for a given sd of the flow: sd = noise sqrt(interval corner^3 / 8^0.5), the smoother's steady
        // state.
        let sure = options.drip_g_per_s / 4.0 / noise_sd_g;
        let corner = (sure * sure * 8.0_f64.sqrt() * trace.rate_hz).cbrt().min(CALM_RAD_PER_S);
        let drift = trace.water.as_ref().unwrap_or(channel).drift_g_per_s;
        // The beverage's zero is observable before the first drop only: too short to rule out a walk that the water's
        // zero has.
        let fitted_g2_per_s = segments.fit.as_ref().map_or(0.0, |fit| fit.priors.zero_g2_per_s);
        let rests_g2_per_s = trace.water.as_ref().map_or(0.0, |water| water.walk_g2_per_s);
        let water_g2_per_s = if rests_g2_per_s > 0.0 { rests_g2_per_s } else { fitted_g2_per_s };
        let mut collected = Self {
            first,
            time_s: &trace.time_s[first..=last],
            reading_g: (first..=last).map(reading).collect(),
            noise_sd_g,
            step_g: channel.step_g,
            lag_s: options.beverage_lag_s.map_or(segments.response.delay_s, Estimate::exact),
            zero_g: channel.walk_g2_per_s.max(water_g2_per_s).sqrt(),
            drift_sd_g_per_s: drift.value.hypot(drift.sd),
            smooth: Vec::new(),
            calm: Vec::new(),
            calm_blur_s: 0.5 / corner,
        };
        let power = collected.maximum_likelihood(segments, options.transit_s);
        let mut smooth = collected.trend(&|k| power[k], |trend, t, y| trend.smooth(t, y, |s| s));
        for (s, &t_s) in smooth.iter_mut().zip(collected.time_s) {
            s.level_var += (s.slope * collected.lag_s.sd).powi(2) + collected.zero_var(t_s);
        }
        collected.smooth = smooth;
        let calm = corner.powi(4) * noise_sd_g * noise_sd_g / trace.rate_hz;
        collected.calm = collected.trend(&|_| calm, |trend, t, y| trend.smooth(t, y, |s| s));
        Some(collected)
    }

    /// Variance of the zero at an instant, g2: of its value at the start of the brew, and of its random walk since.
    pub(super) fn zero_var(&self, t_s: f64) -> f64 {
        let since_s = t_s - self.time_s.first().copied().unwrap_or(t_s);
        let drifted = self.zero_g * self.zero_g * since_s + (self.drift_sd_g_per_s * since_s).powi(2);
        self.level_var(ZERO_READINGS) + drifted
    }

    /// Variance of a level from so many readings, g2. Averaging a nearly constant level cannot reduce its rounding
    /// error, a quarter of the readout's step.
    pub(super) fn level_var(&self, readings: f64) -> f64 {
        (self.noise_sd_g * self.noise_sd_g / readings).max((self.step_g / 4.0).powi(2) / 3.0)
    }

    /// Indices of the used readings among those of `range`.
    pub(super) fn used(&self, range: std::ops::Range<usize>) -> impl DoubleEndedIterator<Item = usize> + '_ {
        range.filter(|&i| self.reading_g[i].is_finite())
    }

    /// First index at or after an instant.
    pub(super) fn at(&self, t_s: f64) -> usize {
        self.time_s.partition_point(|&t| t < t_s)
    }

    fn trend<T>(&self, power: &dyn Fn(usize) -> f64, then: impl Fn(&Trend, &[f64], &[f64]) -> T) -> T {
        let noise_var = self.noise_sd_g * self.noise_sd_g;
        let trend = Trend { noise_var, lag: self.lag_s.value, power, start_var: wide(noise_var) };
        then(&trend, self.time_s, &self.reading_g)
    }

    /// Maximum-likelihood process noise before each stamp.
    fn maximum_likelihood(&self, segments: &Segments, transit_s: f64) -> Vec<f64> {
        let mut pouring = vec![false; self.time_s.len()];
        for pour in &segments.pours {
            let (from, to) = (self.at(pour.start_s.value), self.at(pour.end_s.value + transit_s));
            pouring[from..to.max(from)].fill(true);
        }
        let deviance = |power: [f64; 2]| {
            self.trend(&|k| power[usize::from(pouring[k])], |trend, t, y| trend.deviance(t, y))
        };
        let mut power = [1e-2, 1e-1];
        // Two passes suffice: the two values hardly depend on each other.
        for k in [1, 0, 1, 0] {
            let trials = POWERS.map(|ten| {
                let mut trial = power;
                trial[k] = 10_f64.powi(ten);
                (deviance(trial), trial[k])
            });
            power[k] = trials.min_by(|a, b| a.0.total_cmp(&b.0)).map_or(power[k], |best| best.1);
        }
        pouring.iter().map(|&pouring| power[usize::from(pouring)]).collect()
    }

    /// Ten readings per second, noise 0.1 g, lag 0.2 +- 0.05 s, not smoothed.
    #[cfg(test)]
    pub(super) fn bare(time_s: &'a [f64], reading_g: Vec<f64>) -> Self {
        Self {
            first: 0,
            time_s,
            reading_g,
            noise_sd_g: 0.1,
            step_g: 0.0,
            lag_s: Estimate::new(0.2, 0.05),
            zero_g: 0.02,
            drift_sd_g_per_s: 0.001,
            smooth: vec![Smoothed::default(); time_s.len()],
            calm: vec![Smoothed::default(); time_s.len()],
            calm_blur_s: 0.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stamps() -> Vec<f64> {
        (0..=600).map(|i| 0.1 * f64::from(i)).collect()
    }

    #[test]
    fn the_variance_of_the_zero_adds_its_start_its_walk_and_its_drift() {
        let time = stamps();
        let c = Collected::bare(&time, vec![0.0; 601]);
        // 30 readings of 0.1 g set it; 0.02 g per root s; 0.001 g/s.
        for since_s in [0.0, 10.0, 60.0_f64] {
            let by_hand = 0.01 / 30.0 + 0.000_4 * since_s + (0.001 * since_s).powi(2);
            assert!((c.zero_var(since_s) - by_hand).abs() < 1e-15);
        }
        // A step of 0.4 g leaves a uniform error of a quarter of it to either side: 0.1^2/3, for any number of
        // readings.
        let coarse = Collected { step_g: 0.4, ..c };
        assert!(
            (coarse.level_var(1e6) - 0.01 / 3.0).abs() < 1e-15
                && (coarse.level_var(1.0) - 0.01).abs() < 1e-15
        );
    }

    #[test]
    fn without_process_noise_the_end_of_a_line_has_the_variance_of_least_squares() {
        let time = stamps();
        let c = Collected::bare(&time, time.iter().map(|t| 3.0 * t).collect());
        let smooth = c.trend(&|_| 1e-15, |trend, t, y| trend.smooth(t, y, |s| s));
        let last = smooth[600];
        // With a lag of 0.2 s the level is 0.6 g above the reading. Variance at the end of a line: 4/n of the noise's,
        // of its slope 12/(n T^2); the lag adds some of the latter.
        assert!((last.level - 180.6).abs() < 1e-3 && (last.slope - 3.0).abs() < 1e-4, "{last:?}");
        assert!((last.level_var / (0.01 * 4.0 / 601.0) - 1.0).abs() < 0.03, "{last:?}");
        assert!((last.slope_var / (0.01 * 12.0 / 601.0 / 3600.0) - 1.0).abs() < 0.03, "{last:?}");
    }
}
