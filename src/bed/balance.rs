//! In: pours and beverage. Out: the masses of the whole brew.

use crate::bed::collected::Collected;
use crate::bed::options::BedOptions;
use crate::condition::trace::Trace;
use crate::estimate::{Estimate, Maybe, Undefined};
use crate::math::line::{Line, line};
use crate::segment::pour::Segments;

/// Readings from which the level at the end is taken, s.
const CALM_S: f64 = 3.0;

/// Water of the whole brew, g: the sum of its pours. An unseen drift of zero is in all of them alike.
pub(super) fn water(trace: &Trace, segments: &Segments) -> Maybe {
    let Some(channel) = &trace.water else {
        return Err(Undefined::because("the water was not weighed"));
    };
    let masses = segments.pours.iter().map(|p| p.mass_g);
    let mut sum = masses
        .reduce(Estimate::plus)
        .ok_or_else(|| Undefined::because("no pour was found in the water channel"))?;
    let (long_s, squares_s2) = segments.pours.iter().fold((0.0, 0.0), |(sum, squares), p| {
        let long_s = p.duration_s.value;
        (sum + long_s, squares + long_s * long_s)
    });
    let alike_s = (long_s * long_s - squares_s2).max(0.0).sqrt();
    sum.sd = sum.sd.hypot(channel.drift_g_per_s.sd * alike_s);
    Ok(sum)
}

/// Beverage at the end of the log, g.
///
/// - measures: what is in the server when the log ends, or when the vessel was taken away
/// - formula: end of the straight line through the last three seconds, so that late drips do not make it too small; where the beverage
///   still runs, the end of the smoothed beverage; the scale's lag taken out
/// - needs: the beverage channel
/// - minimum samples: 3 in the last three seconds
/// - valid when: nothing touches the server then
/// - reference: least squares; the sd is that of a line's end, 2/sqrt(n) of the noise, not below what the readout's step leaves
pub(super) fn beverage(c: &Collected, options: &BedOptions) -> Maybe {
    let last = c.time_s.len() - 1;
    let end_s = c.time_s[last];
    let used: Vec<usize> = c.used(c.at(end_s - CALM_S)..last + 1).collect();
    let time: Vec<f64> = used.iter().map(|&i| c.time_s[i] - end_s).collect();
    let reading: Vec<f64> = used.iter().map(|&i| c.reading_g[i]).collect();
    let n = used.len() as f64;
    let still = |line: &Line| line.slope < options.drip_g_per_s;
    let Some(line) = line(&time, &reading).filter(still) else {
        let s = c.smooth[last];
        return Ok(Estimate::new(s.level, s.level_var.sqrt()));
    };
    let mean = |v: &[f64]| v.iter().sum::<f64>() / n;
    let value = mean(&reading) + line.slope * (c.lag_s.value - mean(&time));
    let sd = (c.level_var(n / 4.0) + c.zero_var(end_s)).sqrt().hypot(line.slope * c.lag_s.sd);
    Ok(Estimate::new(value, sd))
}
