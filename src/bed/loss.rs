//! In: both weights while nothing is added to them. Out: what they lost, and the most that evaporation can have taken.

use crate::bed::collected::Collected;
use crate::bed::options::BedOptions;
use crate::condition::trace::{ChannelTrace, Flag, Trace};
use crate::estimate::{Estimate, Maybe, Undefined};
use crate::math::water::properties::evaporation_share_per_k;
use crate::segment::pour::Segments;

/// Readings that make a level, s; and how long after a pour its scale is calm, s.
const LEVEL_S: f64 = 3.0;
const CALM_AFTER_S: f64 = 2.0;

/// Mass lost, g.
///
/// - measures: by how much the readings fell while nothing was taken away: vapour, a spill, a moved vessel, or a zero that drifts
/// - formula: what the water's scale fell from the last pour to the end, plus what the beverage's fell from its highest level to the end
/// - needs: either weight
/// - minimum samples: 3 in each level
/// - valid when: the log goes on for some seconds after the last pour
/// - reference: none needed
pub(super) fn loss(trace: &Trace, segments: &Segments, c: Option<&Collected>) -> Maybe {
    let water = trace.water.as_ref().and_then(|channel| {
        let calm_s = segments.pours.last()?.end_s.value + CALM_AFTER_S;
        let end_s = *trace.time_s.last()?;
        let first = level(trace, channel, calm_s, calm_s + LEVEL_S)?;
        let last = level(trace, channel, (end_s - LEVEL_S).max(calm_s + LEVEL_S), end_s)?;
        Some(first.minus(last))
    });
    let beverage = c.and_then(|c| {
        let last = c.calm.last()?;
        let highest = c.calm.iter().max_by(|a, b| a.level.total_cmp(&b.level))?;
        Some(Estimate::new(highest.level - last.level, (highest.level_var + last.level_var).sqrt()))
    });
    let fell = |loss: Estimate| Estimate::new(loss.value.max(0.0), loss.sd);
    match (water.map(fell), beverage.map(fell)) {
        (Some(a), Some(b)) => Ok(a.plus(b)),
        (Some(one), None) | (None, Some(one)) => Ok(one),
        (None, None) => Err(Undefined::because("the log ends too soon after the last pour")),
    }
}

/// Mean of the used readings between two instants, with a sd that a rounded reading allows.
fn level(trace: &Trace, channel: &ChannelTrace, from_s: f64, to_s: f64) -> Option<Estimate> {
    let inside = |i: &usize| channel.flag[*i] == Flag::Used && (from_s..=to_s).contains(&trace.time_s[*i]);
    let readings: Vec<f64> = (0..trace.time_s.len()).filter(inside).map(|i| channel.mass_g[i]).collect();
    let n = readings.len() as f64;
    let sd = (channel.noise_sd_g.value / n.sqrt()).max(channel.step_g / 48.0_f64.sqrt());
    (readings.len() >= 3).then(|| Estimate::new(readings.iter().sum::<f64>() / n, sd))
}

/// The most that evaporation can have taken, g.
///
/// - measures: a bound: all heat that the liquid gave was taken up by vapour
/// - formula: water poured, times `cp/hfg` (0.185 % a kelvin at 93 C), times `cooling_k`
/// - needs: the water poured, or the beverage where it was not weighed; the option `cooling_k`
/// - minimum samples: none
/// - valid when: the liquid cooled by no more than that
/// - reference: heat balance with IAPWS SR6-08(2011) and SR1-86(1992)
pub(super) fn most_vapour(water_g: &Maybe, beverage_g: &Maybe, trace: &Trace, options: &BedOptions) -> Maybe {
    let mass_g = water_g.clone().or_else(|_| beverage_g.clone())?;
    // The share grows with the temperature, so that where none is known the highest is on the safe side.
    let share = evaporation_share_per_k(trace.meta.water_c.unwrap_or(100.0));
    share.map(|s| mass_g.scaled(s * options.cooling_k)).map_err(|e| Undefined::because(e.to_string()))
}
