//! In: a fit and a target. Out: the setting that meets the target with its interval, or the reason for none.

use crate::estimate::{Estimate, Undefined};
use crate::rows::rows;
use crate::study::dial_in::fieller::{SettingInterval, clear, fieller, short};
use crate::study::dial_in::monotone::Monotone;
use crate::study::dial_in::straight::{DialLine, Tried};
use serde::{Deserialize, Serialize};

rows! { $
/// The setting at which a target is met, by one fit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct TargetSetting {
    /// The setting with its sd, or the reason for none.
    ///
    /// The sd is of first order. It is undefined if the slope is not significant, or beyond the settings tried.
    pub setting: Maybe,
    /// The confidence set of the setting, or the reason for none.
    ///
    /// It is undefined if it does not intersect the settings tried.
    pub interval: Result<SettingInterval, Undefined>,
}
}

impl TargetSetting {
    pub(super) fn none(why: &Undefined) -> Self {
        Self { setting: Err(why.clone()), interval: Err(why.clone()) }
    }
}

fn tried_range(tried: &[Tried]) -> [f64; 2] {
    [tried.first(), tried.last()].map(|end| end.map_or(f64::NAN, |t| t.setting))
}

/// The setting tried whose mean is nearest to the target.
fn nearest(tried: &[Tried], target: f64) -> String {
    let off = |t: &&Tried| (t.mean - target).abs();
    let Some(best) = tried.iter().min_by(|a, b| off(a).total_cmp(&off(b))) else { return String::new() };
    let (gave, brews) = (short(best.mean), best.brews);
    let of = if brews == 1 { "in one brew".into() } else { format!("on average of {brews} brews") };
    format!("the nearest setting tried is {}, which gave {gave} {of}", short(best.setting))
}

pub(super) fn by_line(
    line: &Result<DialLine, Undefined>,
    tried: &[Tried],
    target: Option<f64>,
    level: f64,
) -> TargetSetting {
    let (line, target) = match (line, target) {
        (Ok(line), Some(target)) => (line, target),
        (Err(why), _) => return TargetSetting::none(why),
        (_, None) => return TargetSetting::none(&Undefined::because("no target was given")),
    };
    if line.slope == Estimate::exact(0.0) {
        return TargetSetting::none(&Undefined::because("the measure did not change with the setting"));
    }
    let ([first, last], possible) = (tried_range(tried), fieller(line, target, level));
    let u = (target - line.middle_value.value) / line.slope.value;
    let meets = line.middle + u;
    let setting = if !clear(line, level) {
        Err(Undefined::because(format!(
            "the slope, {}, is not significant at a level of {level}; {}",
            line.slope,
            nearest(tried, target)
        )))
    } else if meets < first || meets > last {
        Err(Undefined::because(format!(
            "the line meets {} at {}, beyond the settings tried, {} to {}; {}",
            short(target),
            short(meets),
            short(first),
            short(last),
            nearest(tried, target)
        )))
    } else {
        let sd = line.middle_value.sd.hypot(u * line.slope.sd) / line.slope.value.abs();
        Ok(Estimate::new(meets, sd))
    };
    TargetSetting { setting, interval: in_reach(possible, tried, target) }
}

pub(super) fn by_monotone(
    monotone: &Result<Monotone, Undefined>,
    tried: &[Tried],
    target: Option<f64>,
    level: f64,
) -> TargetSetting {
    let (monotone, target) = match (monotone, target) {
        (Ok(monotone), Some(target)) => (monotone, target),
        (Err(why), _) => return TargetSetting::none(why),
        (_, None) => return TargetSetting::none(&Undefined::because("no target was given")),
    };
    let possible = monotone.possible(target, level);
    let setting = match (monotone.meets(target), &possible) {
        (None, _) => Err(Undefined::because(format!(
            "the curve does not reach {} within the settings tried; {}",
            short(target),
            nearest(tried, target)
        ))),
        _ if monotone.levels == 1 => {
            Err(Undefined::because("the measure has no monotone trend with the setting"))
        }
        (Some(meets), Ok((SettingInterval::Between { .. }, sd))) => Ok(Estimate::new(meets, *sd)),
        (Some(meets), Ok((unbounded, _))) => Err(Undefined::because(format!(
            "the curve meets it at {}, but its interval is unbounded: {unbounded}",
            short(meets)
        ))),
        (Some(meets), Err(why)) => {
            Err(Undefined::because(format!("the curve meets it at {}; {}", short(meets), why.reason)))
        }
    };
    let interval = possible.map(|(possible, _)| possible);
    TargetSetting { setting, interval }
}

fn in_reach(possible: SettingInterval, tried: &[Tried], target: f64) -> Result<SettingInterval, Undefined> {
    let [first, last] = tried_range(tried);
    if possible.reaches(first, last) {
        return Ok(possible);
    }
    Err(Undefined::because(format!(
        "the interval is {possible}: entirely beyond the settings tried, {} to {}; {}",
        short(first),
        short(last),
        nearest(tried, target)
    )))
}
