//! In: a number of each brew of one person, with its day. Out: its trend over the days, with a confidence interval, and
//! the steps at which it changed.
//!
//! Brews of one day are correlated beyond the person (kettle, coffee, sleep): the day is the experimental unit, by the
//! mean of its brews. The trend is the least-squares line through these means (NIST/SEMATECH e-Handbook of Statistical
//! Methods, 4.1.4.1). From eight days on, its interval includes the correlation of neighbouring days (`serial`).
//!
//! A new kettle or scale is a step, which a line would take for a trend. Days of a change that are stated have a step
//! of their own, within which the trend is taken. A step is also searched for: at the day at which it is clearest
//! beside the trend, if its p, times the number of days that could have been it (Bonferroni), is at most 1 - level.

use crate::error::{Error, Result};
use crate::estimate::{Estimate, Maybe, Undefined};
use crate::math::serial::Serial;
use crate::rows::rows;
use serde::{Deserialize, Serialize};
use std::collections::BTreeMap;

/// Fewest days for a trend.
const FEWEST_DAYS: usize = 4;
/// Fewest days in which a step is searched for, or a bend, and on either side of the step or before and in the last
/// week.
const FEWEST_SEARCHED: usize = 8;
const FEWEST_BESIDE: usize = 3;
const WEEK: u64 = 7;
/// Most days that are tried as that of a step.
const MOST_SEARCHED: usize = 400;

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
/// A day at which the number changed by a step.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ProgressChange {
    /// The first day after the change.
    pub day: i64,
    /// What changed, as stated; empty if the step was found.
    pub what: String,
    /// Whether the step was found, and not stated.
    pub found: bool,
    /// Size of the step, in the number's own unit.
    pub step: Maybe,
    /// Interval of the step; None if it is undefined.
    pub interval: Option<[f64; 2]>,
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
    ///
    /// With a step that was found, it holds the interval without that step, too.
    pub interval_per_day: Option<[f64; 2]>,
    /// Coverage of such intervals.
    pub level: f64,
    /// Correlation of neighbouring days, 0 to 1; 0 for fewer than eight days, which are taken as independent.
    pub correlation: f64,
    /// Steps, stated or found; the trend is that between them.
    pub changes: Vec<ProgressChange>,
    /// Growth in a day in the second half of the days less that in the first: below 0 if a rise levels off.
    pub bend_per_day: Maybe,
    /// Interval of the bend; None if it is undefined.
    pub bend_interval_per_day: Option<[f64; 2]>,
    /// Mean of the last seven days less that of the days before, after the last step.
    pub last_week: Maybe,
    /// Interval of `last_week`; None if it is undefined.
    pub last_week_interval: Option<[f64; 2]>,
    /// What the trend means, in a sentence.
    pub says: String,
}
}

/// The trend of a number (the score, or any deviation) of one person's brews over days, from pairs of a day and the
/// number. `changes` are days on which something else changed, each with what: the trend is that between them.
///
/// ```
/// use pourline::{Estimate, Progress, ProgressChange, ProgressDay, progress};
/// let score = |value| Ok(Estimate::new(value, 0.02));
/// let three = progress(&[(1, score(0.50)), (2, score(0.55)), (3, score(0.61))], &[], 0.95)?;
/// assert_eq!(three.says, "no verdict yet: 3 days, and 4 are needed; 1 more");
/// let four = [(1, score(0.50)), (2, score(0.55)), (3, score(0.61)), (4, score(0.64))];
/// let more: Progress = progress(&four, &[], 0.95)?;
/// let last: &ProgressDay = &more.days[3];
/// assert_eq!((last.day, last.brews), (4, 1));
/// assert!((more.slope_per_day.unwrap().value - 0.048).abs() < 1e-12);
/// let new = |day: i64| if day < 5 { 0.5 } else { 0.7 };
/// let all: Vec<_> = (0..10).map(|day| (day, score(new(day) + 0.01 * (day % 3) as f64))).collect();
/// let changed: ProgressChange = progress(&all, &[(5, "new kettle".into())], 0.95)?.changes[0].clone();
/// assert!((changed.step.unwrap().value - 0.2).abs() < 0.03);
/// # Ok::<(), pourline::Error>(())
/// ```
///
/// # Errors
/// `out_of_range` for a level that is not between 0 and 1; `not_finite` for a number.
pub fn progress(brews: &[(i64, Maybe)], changes: &[(i64, String)], level: f64) -> Result<Progress> {
    if !(level > 0.0 && level < 1.0) {
        let rule = "it must be above 0 and below 1".into();
        return Err(Error::OutOfRange { name: "level".into(), value: level, rule, row: 0 });
    }
    let (days, left_out) = days_of(brews)?;
    let series = Series::new(&days);
    let mut stated: Vec<(i64, String, bool)> = changes
        .iter()
        .filter(|(day, _)| series.splits(*day))
        .map(|(d, what)| (*d, what.clone(), false))
        .collect();
    stated.sort();
    stated.dedup_by_key(|(day, _, _)| *day);
    if stated.is_empty()
        && let Some(day) = series.step(level)
    {
        stated.push((day, String::new(), true));
    }
    let steps: Vec<i64> = stated.iter().map(|(day, _, _)| *day).collect();
    let fit = series.fit(&steps, &[]);
    let slope_per_day = fit.as_ref().map(|fit| estimate(fit, 1)).map_err(Clone::clone);
    let mut interval_per_day = fit.as_ref().ok().map(|fit| fit.interval(1, level));
    if let (Some([low, high]), true, Ok(plain)) =
        (&mut interval_per_day, stated.iter().any(|(_, _, found)| *found), series.fit(&[], &[]))
    {
        // The step was chosen from the same days: the trend must be shown without it, too.
        let [least, most] = plain.interval(1, level);
        (*low, *high) = (low.min(least), high.max(most));
    }
    let found = stated.into_iter().enumerate().map(|(k, (day, what, found))| ProgressChange {
        day,
        what,
        found,
        step: fit.as_ref().map(|fit| estimate(fit, 2 + k)).map_err(Clone::clone),
        interval: fit.as_ref().ok().map(|fit| fit.interval(2 + k, level)),
    });
    let found: Vec<ProgressChange> = found.collect();
    let (bend_per_day, bend_interval_per_day) = series.bend(&steps, level);
    let (last_week, last_week_interval) = series.last_week(steps.last().copied(), level);
    let mut progress = Progress {
        left_out,
        slope_per_day,
        interval_per_day,
        level,
        correlation: fit.as_ref().map_or(0.0, Serial::correlation),
        changes: found,
        bend_per_day,
        bend_interval_per_day,
        last_week,
        last_week_interval,
        says: String::new(),
        days,
    };
    let or_step = series.better_step().filter(|_| progress.changes.is_empty());
    progress.says = says(&progress, or_step);
    Ok(progress)
}

/// The mean of each day, and the number of brews without the number.
pub(super) fn days_of(brews: &[(i64, Maybe)]) -> Result<(Vec<ProgressDay>, usize)> {
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
    Ok((days, left_out))
}

/// The days as numbers.
struct Series {
    day: Vec<i64>,
    /// Since the first day, to avoid cancellation with a distant origin.
    at: Vec<f64>,
    y: Vec<f64>,
}

impl Series {
    fn new(days: &[ProgressDay]) -> Self {
        let day: Vec<i64> = days.iter().map(|day| day.day).collect();
        let at = day.iter().map(|d| d.abs_diff(day[0]) as f64).collect();
        Self { day, at, y: days.iter().map(|day| day.mean).collect() }
    }

    /// Whether there are days on both sides of a step.
    fn splits(&self, day: i64) -> bool {
        self.day.first().is_some_and(|&first| first < day) && self.day.last().is_some_and(|&last| last >= day)
    }

    /// Level, slope, a step from each of these days on, and further regressors.
    fn fit(&self, steps: &[i64], more: &[Vec<f64>]) -> std::result::Result<Serial, Undefined> {
        let n = self.day.len();
        if n < FEWEST_DAYS {
            let (s, more) = (if n == 1 { "" } else { "s" }, FEWEST_DAYS - n);
            return Err(Undefined::because(format!(
                "no verdict yet: {n} day{s}, and {FEWEST_DAYS} are needed; {more} more"
            )));
        }
        let middle = self.at.iter().sum::<f64>() / n as f64;
        let mut regressors = vec![vec![1.0; n], self.at.iter().map(|x| x - middle).collect()];
        regressors.extend(steps.iter().map(|step| self.since(*step)));
        regressors.extend(more.iter().cloned());
        if n < regressors.len() + FEWEST_DAYS - 2 {
            let text = format!("no verdict yet: {n} days are too few for {} changes", steps.len());
            return Err(Undefined::because(text));
        }
        Serial::fit(&self.at, &self.y, &regressors).ok_or_else(|| {
            Undefined::because("the trend cannot be told from the changes, or numbers are too large")
        })
    }

    /// 1 from that day on, 0 before.
    fn since(&self, day: i64) -> Vec<f64> {
        self.day.iter().map(|&d| f64::from(u8::from(d >= day))).collect()
    }

    /// The days that may be the first after a step.
    fn candidates(&self) -> Vec<i64> {
        let n = self.day.len();
        let inner = if n < FEWEST_SEARCHED { &[][..] } else { &self.day[FEWEST_BESIDE..=n - FEWEST_BESIDE] };
        inner.iter().copied().step_by(n.div_ceil(MOST_SEARCHED).max(1)).collect()
    }

    /// The first day after the clearest step beside the trend, if it is clear.
    fn step(&self, level: f64) -> Option<i64> {
        let candidates = self.candidates();
        let p = |day: &i64| self.fit(&[*day], &[]).map_or(1.0, |fit| fit.p(2));
        let (day, p) = candidates.iter().map(|day| (*day, p(day))).min_by(|x, y| x.1.total_cmp(&y.1))?;
        (p * candidates.len() as f64 <= 1.0 - level).then_some(day)
    }

    /// The first day after a step that leaves less scatter than the line.
    fn better_step(&self) -> Option<i64> {
        let left = |x: &[f64]| {
            let n = x.len() as f64;
            let (mean_x, mean_y) = (x.iter().sum::<f64>() / n, self.y.iter().sum::<f64>() / n);
            let dot = |a: &[f64], ma: f64, b: &[f64], mb: f64| -> f64 {
                a.iter().zip(b).map(|(a, b)| (a - ma) * (b - mb)).sum()
            };
            let (xy, xx) = (dot(x, mean_x, &self.y, mean_y), dot(x, mean_x, x, mean_x));
            dot(&self.y, mean_y, &self.y, mean_y) - xy * xy / xx
        };
        let of_step = |day: &i64| (*day, left(&self.since(*day)));
        let (day, least) = self.candidates().iter().map(of_step).min_by(|x, y| x.1.total_cmp(&y.1))?;
        (least < left(&self.at)).then_some(day)
    }

    /// Slope of the second half of the days less that of the first.
    fn bend(&self, steps: &[i64], level: f64) -> (Maybe, Option<[f64; 2]>) {
        let n = self.day.len();
        if n < FEWEST_SEARCHED {
            let why = format!("a bend needs {FEWEST_SEARCHED} days, and there are {n}");
            return (Err(Undefined::because(why)), None);
        }
        let middle = f64::midpoint(self.at[(n - 1) / 2], self.at[n / 2]);
        let half: Vec<f64> = self.at.iter().map(|x| (x - middle).max(0.0)).collect();
        match self.fit(steps, &[half]) {
            Ok(fit) => (Ok(estimate(&fit, 2 + steps.len())), Some(fit.interval(2 + steps.len(), level))),
            Err(why) => (Err(why), None),
        }
    }

    /// Mean of the last seven days less that of the days before, from the last step on.
    fn last_week(&self, from: Option<i64>, level: f64) -> (Maybe, Option<[f64; 2]>) {
        let Some(&last) = self.day.last() else {
            return (Err(Undefined::because("there is no day")), None);
        };
        let here: Vec<usize> =
            (0..self.day.len()).filter(|&i| from.is_none_or(|day| self.day[i] >= day)).collect();
        let of = |values: &[f64]| -> Vec<f64> { here.iter().map(|&i| values[i]).collect() };
        let late: Vec<f64> =
            here.iter().map(|&i| f64::from(u8::from(self.day[i].abs_diff(last) < WEEK))).collect();
        let n_late = late.iter().filter(|x| **x > 0.0).count();
        if n_late < FEWEST_BESIDE || late.len() - n_late < FEWEST_BESIDE {
            let why = format!("it needs {FEWEST_BESIDE} days in the last week and as many before");
            return (Err(Undefined::because(why)), None);
        }
        match Serial::fit(&of(&self.at), &of(&self.y), &[vec![1.0; late.len()], late]) {
            Some(fit) => (Ok(estimate(&fit, 1)), Some(fit.interval(1, level))),
            None => (Err(Undefined::because("the numbers are too large")), None),
        }
    }
}

fn estimate(fit: &Serial, k: usize) -> Estimate {
    let [value, sd] = fit.effect(k);
    Estimate::new(value, sd)
}

/// Two significant digits of an interval's half-width.
fn rounded([low, high]: [f64; 2]) -> impl Fn(f64) -> String {
    let half = 0.5 * (high - low);
    let decimals = if half > 0.0 { (1.0 - half.log10().floor()).clamp(0.0, 9.0) as usize } else { 3 };
    move |x| format!("{x:.decimals$}")
}

fn says(found: &Progress, or_step: Option<i64>) -> String {
    let (slope, [low, high]) = match (&found.slope_per_day, found.interval_per_day) {
        (Ok(slope), Some(interval)) => (slope, interval),
        (Err(why), _) => return why.reason.clone(),
        (Ok(_), None) => return String::new(),
    };
    let level = 100.0 * found.level;
    let write = rounded([low, high]);
    let range = format!("{level} % interval {} to {} a day", write(low), write(high));
    let shown = low > 0.0 || high < 0.0;
    let mut text = match (low > 0.0, high < 0.0) {
        (true, _) => format!("it rises by {} a day ({range})", write(slope.value)),
        (_, true) => format!("it falls by {} a day ({range})", write(-slope.value)),
        _ => format!("no clear trend ({range})"),
    };
    for change in &found.changes {
        let (Ok(step), Some(ends)) = (&change.step, change.interval) else { continue };
        let write = rounded(ends);
        let what =
            if change.found { "a step that was found".into() } else { format!("stated, {}", change.what) };
        text = format!(
            "{text}; it changed by {} on day {} ({what}; {} to {}), which is no trend",
            write(step.value),
            change.day,
            write(ends[0]),
            write(ends[1])
        );
    }
    if let Some(day) = or_step.filter(|_| shown) {
        text =
            format!("{text}; a single step on day {day} fits as well: if something changed then, state it");
    }
    if let Some([from, to]) = found.bend_interval_per_day
        && shown
        && ((low > 0.0 && to < 0.0) || (high < 0.0 && from > 0.0))
    {
        text = format!("{text}; it levels off");
    }
    text
}
