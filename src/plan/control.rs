//! In: a number of each brew of one person, with its day. Out: its control chart: individuals and moving ranges, EWMA
//! and CUSUM, with limits from the person's own scatter.
//!
//! A point is the mean of a day. Limits and constants are those of the NIST/SEMATECH e-Handbook of Statistical Methods,
//! 6.3.2: three sd, where the sd is the mean moving range over 1.128; CUSUM with a slack of half an sd and a limit of
//! five.

use crate::error::{Error, Result};
use crate::estimate::Maybe;
use crate::math::serial::Serial;
use crate::plan::progress::{ProgressDay, days_of};
use crate::rows::rows;
use crate::table::{Table, Values};
use serde::{Deserialize, Serialize};

/// Mean range of two normal numbers, in sd; and the limit of ranges, in mean ranges.
const OF_RANGE: f64 = 1.128;
const RANGE_LIMIT: f64 = 3.267;
const LIMIT_SD: f64 = 3.0;
const SLACK_SD: f64 = 0.5;
const CUSUM_SD: f64 = 5.0;
/// Fewest days for limits.
const FEWEST: usize = 5;
/// Correlation of neighbouring days from which limits of independent days mislead.
const CORRELATED: f64 = 0.2;

rows! { $
/// One day of a control chart.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ControlPoint {
    /// The day: as given, or the ordinal of the date.
    pub day: i64,
    /// Mean of the number over the brews of that day.
    pub mean: f64,
    /// Difference to the day before, without its sign; NaN for the first.
    pub moving_range: f64,
    /// Exponentially weighted moving average.
    pub ewma: f64,
    /// Sum of the deviations above the centre, beyond the slack.
    pub cusum_high: f64,
    /// Sum of the deviations below the centre, beyond the slack.
    pub cusum_low: f64,
    /// The charts whose limits it passes: "individual", "range", "ewma", "cusum".
    pub signals: Vec<String>,
}
}

rows! { $
/// The control chart of a number over days.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ControlChart {
    /// The days, in order.
    pub points: Vec<ControlPoint>,
    /// Number of days from the first on that centre and sd are those of.
    pub baseline: usize,
    /// Mean of the baseline.
    pub center: f64,
    /// Sd of a day: as stated, or from the moving ranges of the baseline.
    pub sd: f64,
    /// Limits of a day's mean.
    pub limits: [f64; 2],
    /// Limit of a moving range.
    pub range_limit: f64,
    /// Limits of the moving average.
    pub ewma_limits: [f64; 2],
    /// Limit of both sums.
    pub cusum_limit: f64,
    /// Correlation of neighbouring days of the baseline, 0 to 1.
    pub correlation: f64,
    /// Number of brews for which the number is undefined.
    pub left_out: usize,
    /// What the chart shows, in a sentence.
    pub says: String,
}
}

/// The control chart of a number of one person's brews over days, from pairs of a day and the number.
///
/// `baseline` is the number of days, from the first on, that centre and sd are those of; 0 for all. `sd` states the sd
/// of a day. `weight` is that of the newest day in the moving average.
///
/// ```
/// use pourline::{ControlChart, ControlPoint, Estimate, control_chart};
/// let score: Vec<_> = [50.0, 51.0, 49.0, 52.0, 50.0, 60.0].map(|y| Ok(Estimate::exact(y))).into();
/// let brews: Vec<_> = (1..).zip(score).collect();
/// let found: ControlChart = control_chart(&brews, 5, None, 0.2)?;
/// let last: &ControlPoint = &found.points[5];
/// // Ranges of 1, 2, 3 and 2: a mean of 2, an sd of 1.77 and limits of 50.4 + 5.3.
/// assert_eq!(last.signals, ["individual", "range", "ewma"]);
/// # Ok::<(), pourline::Error>(())
/// ```
///
/// # Errors
/// `argument` for fewer than five days of the baseline, or days that do not differ; `out_of_range` for an sd that is
/// not above 0 or a weight that is not above 0 and at most 1; `not_finite` for a number.
pub fn control_chart(
    brews: &[(i64, Maybe)],
    baseline: usize,
    sd: Option<f64>,
    weight: f64,
) -> Result<ControlChart> {
    let wrong = |name: &str, value: f64, rule: &str| {
        Err(Error::OutOfRange { name: name.into(), value, rule: rule.into(), row: 0 })
    };
    if let Some(sd) = sd.filter(|sd| !(*sd > 0.0 && sd.is_finite())) {
        return wrong("sd", sd, "it must be above 0");
    }
    if !(weight > 0.0 && weight <= 1.0) {
        return wrong("weight", weight, "it must be above 0 and at most 1");
    }
    let (days, left_out) = days_of(brews)?;
    let baseline = if baseline == 0 { days.len() } else { baseline.min(days.len()) };
    if baseline < FEWEST {
        let message = format!("{baseline} days are too few for limits: at least {FEWEST} are needed");
        return Err(Error::Argument { name: "baseline".into(), message });
    }
    let base: Vec<f64> = days[..baseline].iter().map(|day| day.mean).collect();
    let center = base.iter().sum::<f64>() / baseline as f64;
    let ranges = base.windows(2).map(|pair| (pair[1] - pair[0]).abs()).sum::<f64>() / (baseline - 1) as f64;
    let sd = sd.unwrap_or(ranges / OF_RANGE);
    if sd <= 0.0 || !sd.is_finite() {
        let message = "the days do not differ, or numbers are too large: there are no limits".into();
        return Err(Error::Argument { name: "brews".into(), message });
    }
    let at: Vec<f64> = days[..baseline].iter().map(|day| day.day.abs_diff(days[0].day) as f64).collect();
    let correlation = Serial::fit(&at, &base, &[vec![1.0; baseline]]).map_or(0.0, |fit| fit.correlation());
    let about = |half: f64| [center - half, center + half];
    let mut chart = ControlChart {
        points: Vec::with_capacity(days.len()),
        baseline,
        center,
        sd,
        limits: about(LIMIT_SD * sd),
        range_limit: RANGE_LIMIT * OF_RANGE * sd,
        ewma_limits: about(LIMIT_SD * sd * (weight / (2.0 - weight)).sqrt()),
        cusum_limit: CUSUM_SD * sd,
        correlation,
        left_out,
        says: String::new(),
    };
    let (mut ewma, mut high, mut low, mut last) = (center, 0.0_f64, 0.0_f64, f64::NAN);
    for ProgressDay { day, mean, .. } in days {
        ewma = weight * mean + (1.0 - weight) * ewma;
        high = (high + mean - center - SLACK_SD * sd).max(0.0);
        low = (low + center - mean - SLACK_SD * sd).max(0.0);
        let moving_range = (mean - last).abs();
        last = mean;
        let outside = |x: f64, [least, most]: [f64; 2]| x < least || x > most;
        let signals = [
            ("individual", outside(mean, chart.limits)),
            ("range", moving_range > chart.range_limit),
            ("ewma", outside(ewma, chart.ewma_limits)),
            ("cusum", high.max(low) > chart.cusum_limit),
        ];
        let signals = signals.into_iter().filter(|(_, on)| *on).map(|(name, _)| name.into()).collect();
        chart.points.push(ControlPoint {
            day,
            mean,
            moving_range,
            ewma,
            cusum_high: high,
            cusum_low: low,
            signals,
        });
    }
    chart.says = chart.sentence();
    Ok(chart)
}

impl ControlChart {
    fn sentence(&self) -> String {
        let out: Vec<&ControlPoint> = self.points.iter().filter(|point| !point.signals.is_empty()).collect();
        let mut text = match out.first() {
            None => format!("{} days, all within the limits", self.points.len()),
            Some(first) => format!(
                "{} of {} days pass a limit, the first is day {} ({})",
                out.len(),
                self.points.len(),
                first.day,
                first.signals.join(", ")
            ),
        };
        if self.correlation >= CORRELATED {
            text = format!(
                "{text}; neighbouring days are correlated ({:.1}), so that limits are passed by chance more often",
                self.correlation
            );
        }
        text
    }

    /// One row per day.
    #[must_use]
    pub fn table(&self) -> Table {
        let mut table = Table::default();
        let number = |of: fn(&ControlPoint) -> f64| Values::Number(self.points.iter().map(of).collect());
        table.push("day", "", Values::Whole(self.points.iter().map(|point| point.day).collect()));
        table.push("mean", "", number(|point| point.mean));
        table.push("moving_range", "", number(|point| point.moving_range));
        table.push("ewma", "", number(|point| point.ewma));
        table.push("cusum_high", "", number(|point| point.cusum_high));
        table.push("cusum_low", "", number(|point| point.cusum_low));
        let signals = self.points.iter().map(|point| point.signals.join(" ")).collect();
        table.push("signals", "", Values::Text(signals));
        table
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::estimate::Estimate;

    fn chart(values: &[f64], baseline: usize, sd: Option<f64>, weight: f64) -> ControlChart {
        let brews: Vec<(i64, Maybe)> = (1..).zip(values.iter().map(|y| Ok(Estimate::exact(*y)))).collect();
        control_chart(&brews, baseline, sd, weight).unwrap()
    }

    #[test]
    fn individuals_and_their_limits_are_those_of_the_handbook() {
        // NIST/SEMATECH e-Handbook, 6.3.2.2, from memory: mean 50.81, limits 45.8159 and 55.8041.
        let flow = [49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1];
        let found = chart(&flow, 0, None, 0.2);
        assert!((found.center - 50.81).abs() < 1e-9);
        assert!((found.limits[0] - 45.8159).abs() < 2e-3 && (found.limits[1] - 55.8041).abs() < 2e-3);
        assert!(found.points.iter().all(|point| point.signals.is_empty()), "{}", found.says);
    }

    #[test]
    fn the_moving_average_is_that_of_the_handbook() {
        // NIST/SEMATECH e-Handbook, 6.3.2.4, from memory: target 50, sd 2.0539, weight 0.3; limits 47.4115, 52.5884.
        let values = [
            52.0, 47.0, 53.0, 49.3, 50.1, 47.0, 51.0, 50.1, 51.2, 50.5, 49.6, 47.6, 49.9, 51.3, 47.8, 51.2,
            52.6, 52.4, 53.6, 52.1,
        ];
        let found = chart(&values, 0, Some(2.0539), 0.3);
        // The centre here is the mean of the days, 50.305, from which the first value starts: 0.7^k of it is left.
        let shift = found.center - 50.0;
        for (k, expected) in [(0, 50.60), (1, 49.52), (2, 50.56), (9, 50.33), (18, 51.94), (19, 51.99)] {
            let of_target = found.points[k].ewma - shift * 0.7_f64.powi(k as i32 + 1);
            assert!((of_target - expected).abs() < 0.0051, "{k}: {of_target}, not {expected}");
        }
        assert!((found.ewma_limits[1] - found.center - 2.5884).abs() < 1e-3);
    }

    #[test]
    fn sums_are_those_of_arithmetic() {
        // Own arithmetic: centre 0, sd 1, slack 0.5: 1.5 and 1.0 above, then back.
        let found = chart(&[-1.0, 1.0, -1.0, 1.0, 0.0, 2.0, 1.5, -3.0], 5, Some(1.0), 0.2);
        let high: Vec<f64> = found.points.iter().map(|point| point.cusum_high).collect();
        assert_eq!(high, [0.0, 0.5, 0.0, 0.5, 0.0, 1.5, 2.5, 0.0]);
        assert_eq!(found.points[7].cusum_low, 2.5);
        assert!(found.points[0].moving_range.is_nan() && found.points[7].signals == ["range"]);
    }

    #[test]
    fn a_shift_is_signalled_and_few_days_are_refused() {
        let mut random = crate::math::random::Random::new(2);
        let values: Vec<f64> =
            (0..40).map(|day| random.normal() + if day >= 25 { 2.0 } else { 0.0 }).collect();
        let found = chart(&values, 25, None, 0.2);
        let first = found.points.iter().find(|point| point.signals.iter().any(|s| s == "cusum")).unwrap();
        assert!((26..=33).contains(&first.day), "{}", found.says);
        let few: Vec<(i64, Maybe)> = (0..4).map(|day| (day, Ok(Estimate::exact(day as f64)))).collect();
        assert!(control_chart(&few, 0, None, 0.2).unwrap_err().to_string().contains("too few"));
        let same: Vec<(i64, Maybe)> = (0..9).map(|day| (day, Ok(Estimate::exact(5.0)))).collect();
        assert!(
            control_chart(&same, 0, None, 0.2).is_err() && control_chart(&same, 0, Some(1.0), 0.2).is_ok()
        );
        assert!(control_chart(&same, 0, Some(0.0), 0.2).is_err());
        assert!(control_chart(&same, 0, Some(1.0), 0.0).is_err());
    }
}
