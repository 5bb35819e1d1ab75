//! In: a number of each brew of one person, with its day. Out: its trend over the days, with a confidence interval.
//!
//! Brews of one day are correlated beyond the person (kettle, coffee, sleep): the day is the experimental unit, by the
//! mean of its brews. The trend is the least-squares line through these means; its interval is Student's, from their
//! scatter about the line (NIST/SEMATECH e-Handbook of Statistical Methods, 4.1.4.1). That scatter includes the
//! variance of days, brews and scale.

use crate::error::{Error, Result};
use crate::estimate::{Estimate, Maybe, Undefined};
use crate::math::distribution::student_half_width;
use crate::math::line::line;
use crate::rows::rows;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Fewest days for a trend.
const FEWEST_DAYS: usize = 4;

rows! { $
/// One day of somebody's progress.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ProgressDay {
    /// The day: as given, or the ordinal of the date.
    pub day: i64,
    /// Number of brews of that day with a defined number.
    pub brews: usize,
    /// Mean of the number over the brews of that day.
    pub mean: f64,
}
}

rows! { $
/// The trend of a number over days.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Progress {
    /// The days, in order.
    pub days: Vec<ProgressDay>,
    /// Number of brews for which the number is undefined.
    pub left_out: usize,
    /// Growth in a day, in the number's own unit.
    pub slope_per_day: Maybe,
    /// Interval of the growth in a day; None if it is undefined.
    pub interval_per_day: Option<[f64; 2]>,
    /// Coverage of such intervals.
    pub level: f64,
    /// What the trend means, in a sentence.
    pub says: String,
}
}

/// The trend of a number (the score, or any deviation) of one person's brews over days, from pairs of a day and the
/// number.
///
/// ```
/// use pourline::{Estimate, Progress, ProgressDay, progress};
/// let score = |value| Ok(Estimate::new(value, 0.02));
/// let three = progress(&[(1, score(0.50)), (2, score(0.55)), (3, score(0.61))], 0.95)?;
/// assert_eq!(three.says, "no verdict yet: 3 days, and 4 are needed; 1 more");
/// let more: Progress = progress(&[(1, score(0.50)), (2, score(0.55)), (3, score(0.61)), (4, score(0.64))], 0.95)?;
/// let last: &ProgressDay = &more.days[3];
/// assert_eq!((last.day, last.brews), (4, 1));
/// assert!((more.slope_per_day.unwrap().value - 0.048).abs() < 1e-12);
/// # Ok::<(), pourline::Error>(())
/// ```
///
/// # Errors
/// `out_of_range` for a level that is not between 0 and 1; `not_finite` for a number.
pub fn progress(brews: &[(i64, Maybe)], level: f64) -> Result<Progress> {
    if !(level > 0.0 && level < 1.0) {
        let rule = "it must be above 0 and below 1".into();
        return Err(Error::OutOfRange { name: "level".into(), value: level, rule, row: 0 });
    }
    let mut by_day: BTreeMap<i64, Vec<f64>> = BTreeMap::new();
    let mut left_out = 0;
    for ((day, number), row) in brews.iter().zip(1..) {
        match number {
            Ok(Estimate { value, .. }) if !value.is_finite() => {
                return Err(Error::NotFinite { column: "number".into(), row, value: *value });
            }
            Ok(number) => by_day.entry(*day).or_default().push(number.value),
            Err(_) => left_out += 1,
        }
    }
    let days: Vec<ProgressDay> = by_day
        .into_iter()
        .map(|(day, all)| ProgressDay {
            day,
            brews: all.len(),
            mean: all.iter().sum::<f64>() / all.len() as f64,
        })
        .collect();
    let slope_per_day = slope(&days);
    let interval_per_day = slope_per_day.as_ref().ok().map(|slope| {
        let half = student_half_width(level, (days.len() - 2) as f64) * slope.sd;
        [slope.value - half, slope.value + half]
    });
    let says = says(&slope_per_day, interval_per_day, level);
    Ok(Progress { days, left_out, slope_per_day, interval_per_day, level, says })
}

fn slope(days: &[ProgressDay]) -> Maybe {
    if days.len() < FEWEST_DAYS {
        let (n, more) = (days.len(), FEWEST_DAYS - days.len());
        let s = if n == 1 { "" } else { "s" };
        return Err(Undefined::because(format!(
            "no verdict yet: {n} day{s}, and {FEWEST_DAYS} are needed; {more} more"
        )));
    }
    // Counted from the first day, to avoid cancellation with a distant origin.
    let x: Vec<f64> = days.iter().map(|day| day.day.abs_diff(days[0].day) as f64).collect();
    let y: Vec<f64> = days.iter().map(|day| day.mean).collect();
    let line = line(&x, &y).ok_or_else(|| Undefined::because("the numbers are too large for a line"))?;
    Ok(Estimate::new(line.slope, line.slope_sd))
}

fn says(slope: &Maybe, interval: Option<[f64; 2]>, level: f64) -> String {
    let (slope, [low, high]) = match (slope, interval) {
        (Ok(slope), Some(interval)) => (slope, interval),
        (Err(why), _) => return why.reason.clone(),
        (Ok(_), None) => return String::new(),
    };
    // Two significant digits of the interval's half-width.
    let half = 0.5 * (high - low);
    let decimals = if half > 0.0 { (1.0 - half.log10().floor()).clamp(0.0, 9.0) as usize } else { 3 };
    let rounded = |x: f64| format!("{x:.decimals$}");
    let range = format!("{} % interval {} to {} a day", 100.0 * level, rounded(low), rounded(high));
    match (low > 0.0, high < 0.0) {
        (true, _) => format!("it rises by {} a day ({range})", rounded(slope.value)),
        (_, true) => format!("it falls by {} a day ({range})", rounded(-slope.value)),
        _ => format!("no clear trend ({range})"),
    }
}
