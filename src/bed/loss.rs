//! In: both weights while nothing is added to them. Out: their loss, and the upper bound of evaporation.

use crate::bed::collected::Collected;
use crate::bed::options::BedOptions;
use crate::condition::trace::{ChannelTrace, Flag, Trace};
use crate::estimate::{Estimate, Maybe, Undefined};
use crate::math::water::properties::evaporation_share_per_k;
use crate::segment::pour::Segments;

/// Span of the readings of a level, s; and time after a pour until its scale has settled, s.
const LEVEL_S: f64 = 3.0;
const CALM_AFTER_S: f64 = 2.0;

/// Mass lost, g.
///
/// - measures: the fall of the readings while nothing was removed: vapour, a spill, a moved vessel, or drift of the
///   zero
/// - formula: fall of the water's reading from the last pour to the end, plus fall of the beverage's from its highest
///   level to the end
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

/// Mean of the used readings between two instants; its sd is at least the rounding error.
fn level(trace: &Trace, channel: &ChannelTrace, from_s: f64, to_s: f64) -> Option<Estimate> {
    let inside = |i: &usize| channel.flag[*i] == Flag::Used && (from_s..=to_s).contains(&trace.time_s[*i]);
    let readings: Vec<f64> = (0..trace.time_s.len()).filter(inside).map(|i| channel.mass_g[i]).collect();
    let n = readings.len() as f64;
    let sd = (channel.noise_sd_g.value / n.sqrt()).max(channel.step_g / 48.0_f64.sqrt());
    (readings.len() >= 3).then(|| Estimate::new(readings.iter().sum::<f64>() / n, sd))
}

/// Upper bound of the evaporated mass, g.
///
/// - measures: an upper bound: all heat lost by the liquid goes into vapour
/// - formula: water poured, times `cp/hfg` (0.185 % per kelvin at 93 C), times `cooling_k`
/// - needs: the water poured, or the beverage if the water was not weighed; the option `cooling_k`
/// - minimum samples: none
/// - valid when: the liquid cooled by no more than that
/// - reference: heat balance with IAPWS SR6-08(2011) and SR1-86(1992)
pub(super) fn most_vapour(water_g: &Maybe, beverage_g: &Maybe, trace: &Trace, options: &BedOptions) -> Maybe {
    let mass_g = water_g.clone().or_else(|_| beverage_g.clone())?;
    // The share grows with the temperature: if none is given, the highest keeps it an upper bound.
    let share = evaporation_share_per_k(trace.meta.water_c.unwrap_or(100.0));
    share.map(|s| mass_g.scaled(s * options.cooling_k)).map_err(|e| Undefined::because(e.to_string()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::log::meta::Meta;
    use crate::model::response::ScaleResponse;
    use crate::model::trend::Smoothed;
    use crate::segment::pour::Pour;

    /// A minute at eight readings per second with a pour that ends at 20 s.
    fn brew(reading: impl Fn(f64) -> f64) -> (Trace, Segments) {
        let time_s: Vec<f64> = (0..=480).map(|i| 0.125 * f64::from(i)).collect();
        let at = Estimate::exact;
        let pour = Pour {
            start_s: at(10.0),
            end_s: at(20.0),
            half_rise_s: Ok(at(10.2)),
            half_fall_s: Ok(at(19.8)),
            mass_g: at(60.0),
            mean_flow_g_per_s: at(6.0),
            duration_s: at(10.0),
            flow_regimes: Vec::new(),
        };
        let segments = Segments {
            pours: vec![pour],
            rests: Vec::new(),
            response: ScaleResponse::lag(0.2),
            stream_lead_s: Err(Undefined::because("not asked")),
            covariance: Default::default(),
            fit: None,
        };
        let water = ChannelTrace {
            mass_g: time_s.iter().map(|t| reading(*t)).collect(),
            flag: vec![Flag::Used; 481],
            noise_sd_g: at(0.1),
            step_g: 0.0,
            drift_g_per_s: at(0.0),
            walk_g2_per_s: 0.0,
        };
        let trace = Trace {
            log_index: (0..481).collect(),
            rate_hz: 8.0,
            time_sd_s: 0.0,
            water: Some(water),
            beverage: None,
            events: Vec::new(),
            brew_start_s: 0.0,
            scale: None,
            meta: Meta::default(),
            time_s,
        };
        (trace, segments)
    }

    fn near(found: f64, by_hand: f64) {
        assert!((found - by_hand).abs() < 1e-12, "{found}, not {by_hand}");
    }

    #[test]
    fn water_is_lost_from_two_seconds_after_the_pour_to_the_last_three_of_the_log() {
        // From 22 to 25 s 25 readings, four of them 2 g higher; from 57 to 60 s 25 readings.
        let reading = |t: f64| {
            if t < 22.0 {
                400.0
            } else if t < 22.5 {
                302.0
            } else if t < 40.0 {
                300.0
            } else {
                299.0
            }
        };
        let (trace, segments) = brew(reading);
        let found = loss(&trace, &segments, None).unwrap();
        near(found.value, 1.0 + 2.0 * 4.0 / 25.0);
        near(found.sd, (0.01 / 25.0 + 0.01 / 25.0_f64).sqrt());
        let (gained, segments) = brew(|t| if t < 40.0 { 300.0 } else { 301.0 });
        near(loss(&gained, &segments, None).unwrap().value, 0.0);
    }

    #[test]
    fn beverage_is_lost_from_its_highest_level_and_both_losses_add_up() {
        let (trace, segments) = brew(|t| if t < 40.0 { 300.0 } else { 299.0 });
        let mut c = Collected::bare(&trace.time_s, vec![0.0; 481]);
        let of = |i: usize| Smoothed {
            level: if i == 300 { 200.5 } else { 200.0 },
            level_var: if i == 300 { 0.04 } else { 0.05 },
            ..Smoothed::default()
        };
        c.calm = (0..481).map(of).collect();
        let dry = Trace { water: None, ..trace.clone() };
        let found = loss(&dry, &segments, Some(&c)).unwrap();
        near(found.value, 0.5);
        near(found.sd, 0.3);
        let both = loss(&trace, &segments, Some(&c)).unwrap();
        near(both.value, 1.5);
        near(both.sd, (0.09 + 0.02 / 25.0_f64).sqrt());
        assert!(loss(&dry, &segments, None).is_err());
    }

    #[test]
    fn the_sd_of_a_level_of_a_coarse_readout_is_a_part_of_its_step() {
        let (mut trace, _) = brew(|_| 5.0);
        let level_sd = |trace: &Trace| level(trace, trace.water.as_ref().unwrap(), 10.0, 13.0).unwrap().sd;
        near(level_sd(&trace), 0.02);
        // Uniform within a quarter of a step to either side: 1/sqrt(48) of it.
        trace.water.as_mut().unwrap().step_g = 1.0;
        near(level_sd(&trace), 1.0 / 48.0_f64.sqrt());
        assert!(level(&trace, trace.water.as_ref().unwrap(), 10.0, 10.2).is_none(), "two readings");
        assert!(level(&trace, trace.water.as_ref().unwrap(), 10.0, 10.25).is_some());
    }

    #[test]
    fn vapour_is_at_most_its_share_per_kelvin_and_without_a_temperature_that_of_boiling_water() {
        let (mut trace, _) = brew(|_| 0.0);
        let of = |trace: &Trace, water: Maybe, beverage: Maybe| {
            most_vapour(&water, &beverage, trace, &BedOptions::default())
        };
        let none = || Err(Undefined::because("not weighed"));
        // 15 K, the default.
        let boiling = 15.0 * evaporation_share_per_k(100.0).unwrap();
        near(of(&trace, Ok(Estimate::exact(200.0)), none()).unwrap().value, 200.0 * boiling);
        near(of(&trace, none(), Ok(Estimate::exact(150.0))).unwrap().value, 150.0 * boiling);
        assert!(of(&trace, none(), none()).is_err());
        trace.meta.water_c = Some(93.0);
        // 0.185 % per kelvin at 93 C, IAPWS SR6-08(2011) and SR1-86(1992).
        let found = of(&trace, Ok(Estimate::exact(200.0)), none()).unwrap().value;
        assert!((found - 200.0 * 15.0 * 0.001_85).abs() < 0.01, "{found}");
    }
}
