//! In: a trace and its pours. Out: the water and the beverage of the whole brew.

use crate::{ChannelTrace, Estimate, Flag, Maybe, Segments, Trace, Undefined};

/// Water of all pours, g.
pub(super) fn water(trace: &Trace, segments: &Segments) -> Maybe {
    if trace.water.is_none() {
        return Err(Undefined::because("the water was not weighed"));
    }
    let masses = segments.pours.iter().map(|p| p.mass_g);
    masses.reduce(Estimate::plus).ok_or_else(|| Undefined::because("no pour was found in the water channel"))
}

/// Level of the beverage at the end of the brew over its level at the start, g.
pub(super) fn beverage(trace: &Trace) -> Maybe {
    const CALM_S: f64 = 3.0;
    let Some(channel) = &trace.beverage else {
        return Err(Undefined::because("the beverage was not weighed"));
    };
    let used = |i: &usize| channel.flag[*i] == Flag::Used && trace.time_s[*i] >= trace.brew_start_s;
    let last = (0..trace.time_s.len()).rev().find(used);
    let Some(last) = last else {
        return Err(Undefined::because("no reading of the beverage channel could be used"));
    };
    let end: Vec<f64> = (0..=last)
        .rev()
        .filter(used)
        .take_while(|&i| trace.time_s[last] - trace.time_s[i] <= CALM_S)
        .map(|i| channel.mass_g[i])
        .collect();
    let mean = end.iter().sum::<f64>() / end.len() as f64;
    Ok(Estimate::new(mean, level_sd(channel, end.len())))
}

/// Sd of the difference of two levels of about `samples` readings; a rounded reading does not average below a quarter of its step.
fn level_sd(channel: &ChannelTrace, samples: usize) -> f64 {
    let noise = channel.noise_sd_g.value;
    let averaged = (noise * noise / samples as f64).max((channel.step_g / 4.0).powi(2) / 3.0);
    (2.0 * averaged).sqrt()
}
