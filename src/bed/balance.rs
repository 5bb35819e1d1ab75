//! In: pours and beverage. Out: the masses of the whole brew.

use crate::bed::collected::Collected;
use crate::bed::options::BedOptions;
use crate::condition::trace::Trace;
use crate::estimate::{Estimate, Maybe, Undefined};
use crate::math::line::{Line, line};
use crate::segment::pour::Segments;

/// Readings from which the level at the end is taken, s.
const CALM_S: f64 = 3.0;

/// Water of the whole brew, g: the sum of its pours. An undetected drift of the zero is common to all of them.
pub(super) fn water(trace: &Trace, segments: &Segments) -> Maybe {
    let Some(channel) = &trace.water else {
        return Err(Undefined::because("the water was not weighed"));
    };
    let masses = segments.pours.iter().map(|p| p.mass_g);
    let mut sum = masses
        .reduce(Estimate::plus)
        .ok_or_else(|| Undefined::because("no pour was detected in the water channel"))?;
    let (duration_s, squares_s2) = segments.pours.iter().fold((0.0, 0.0), |(sum, squares), p| {
        let duration_s = p.duration_s.value;
        (sum + duration_s, squares + duration_s * duration_s)
    });
    let common_s = (duration_s * duration_s - squares_s2).max(0.0).sqrt();
    sum.sd = sum.sd.hypot(channel.drift_g_per_s.sd * common_s);
    Ok(sum)
}

/// Beverage at the end of the log, g.
///
/// - measures: beverage in the server when the log ends, or when the vessel was taken away
/// - formula: end of the straight line through the last three seconds, so that late drips do not bias it; if the
///   beverage still runs, the end of the smoothed beverage; corrected for the scale's lag
/// - needs: the beverage channel
/// - minimum samples: 3 in the last three seconds
/// - valid when: nothing touches the server then
/// - reference: least squares; the sd is that of a line's end, 2/sqrt(n) of the noise, and at least the rounding error
///   of the readout
pub(super) fn beverage(c: &Collected, options: &BedOptions) -> Maybe {
    let last = c.time_s.len() - 1;
    let end_s = c.time_s[last];
    let used: Vec<usize> = c.used(c.at(end_s - CALM_S)..last + 1).collect();
    let time: Vec<f64> = used.iter().map(|&i| c.time_s[i] - end_s).collect();
    let reading: Vec<f64> = used.iter().map(|&i| c.reading_g[i]).collect();
    let n = used.len() as f64;
    let dripping = |line: &Line| line.slope < options.drip_g_per_s;
    let Some(line) = line(&time, &reading).filter(dripping) else {
        let s = c.smooth[last];
        return Ok(Estimate::new(s.level, s.level_var.sqrt()));
    };
    let mean = |v: &[f64]| v.iter().sum::<f64>() / n;
    let value = mean(&reading) + line.slope * (c.lag_s.value - mean(&time));
    let sd = (c.level_var(n / 4.0) + c.zero_var(end_s)).sqrt().hypot(line.slope * c.lag_s.sd);
    Ok(Estimate::new(value, sd))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::trend::Smoothed;

    fn stamps() -> Vec<f64> {
        (0..=480).map(|i| 0.125 * f64::from(i)).collect()
    }

    #[test]
    fn the_beverage_is_the_end_of_a_line_and_its_sd_that_of_such_an_end_of_the_zero_and_of_the_lag() {
        let time = stamps();
        let dripping: Vec<f64> = time.iter().map(|t| 200.0 + 0.05 * (t - 60.0)).collect();
        let found = beverage(&Collected::bare(&time, dripping), &BedOptions::default()).unwrap();
        // 0.05 g/s with a lag of 0.2 s.
        assert!((found.value - 200.01).abs() < 1e-9, "{found}");
        let zero = 0.01 / 30.0 + 0.000_4 * 60.0 + 0.06 * 0.06;
        // Eight readings a second, both ends of the last three seconds included.
        let by_hand = (0.01 * 4.0 / 25.0 + zero + (0.05 * 0.05_f64).powi(2)).sqrt();
        assert!((found.sd - by_hand).abs() < 1e-12, "{found}, not {by_hand}");
    }

    #[test]
    fn a_beverage_that_runs_as_the_log_ends_is_that_of_the_smoother() {
        let time = stamps();
        let running: Vec<f64> = time.iter().map(|t| 2.0 * t).collect();
        let mut c = Collected::bare(&time, running);
        c.smooth[480] = Smoothed { level: 120.4, level_var: 0.09, slope: 2.0, slope_var: 0.0 };
        let found = beverage(&c, &BedOptions::default()).unwrap();
        assert!((found.value - 120.4).abs() < 1e-12 && (found.sd - 0.3).abs() < 1e-12, "{found}");
    }
}
