//! In: the settings of some brews (of a grinder, or dose, ratio, temperature) and the value measured of each. Out:
//! [`SettingFit`]: a straight line and a monotone curve, the preferred one of the two, and the setting for a target.
//!
//! Settings are taken as exact and brews as independent, with equal weights. There is no extrapolation beyond the
//! settings tried.

use crate::error::{Error, Result};
use crate::estimate::{Estimate, Undefined};
use crate::study::dial_in::dialled::{Curve, Fit, SettingFit};
use crate::study::dial_in::monotone::{Direction, Monotone};
use crate::study::dial_in::straight::{DialLine, straight, tried};
use crate::study::dial_in::target;
use crate::study::gather::study::{Missing, Study};
use std::collections::BTreeSet;

/// Options of [`dial_in`].
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DialOptions {
    /// Target value of the measure.
    pub target: Option<f64>,
    /// Level of every interval and band, above 0.5 and below 1; 0.95.
    pub level: f64,
    /// Direction of the measure with increasing setting, if it is known beforehand.
    pub direction: Option<Direction>,
    /// Curves sampled for the monotone band, 200 to 100,000; 2,000.
    pub draws: usize,
    /// Seed of the sampled curves; 1.
    pub seed: u64,
}

impl Default for DialOptions {
    fn default() -> Self {
        Self { target: None, level: 0.95, direction: None, draws: 2000, seed: 1 }
    }
}

/// Fewest settings and brews for a fit.
const FEWEST: [usize; 2] = [3, 4];
/// Points of the curves.
const GRID: usize = 61;
/// A fit is rejected at this level, divided by the number of defined tests.
const GIVEN_UP: f64 = 0.05;

/// Fits a measure against a setting, and finds the setting for a target.
///
/// ```
/// use pourline::Estimate;
/// use pourline::study::{Fit};
/// use pourline::{DialOptions, SettingFit, dial_in};
/// let clicks = [18.0, 18.0, 21.0, 21.0, 24.0, 24.0, 27.0, 27.0];
/// let strength_pct = [1.52, 1.49, 1.44, 1.45, 1.36, 1.39, 1.31, 1.30].map(|t| Estimate::new(t, 0.01));
/// let options = DialOptions { target: Some(1.40), ..DialOptions::default() };
/// let dialled: SettingFit = dial_in(&clicks, &strength_pct, &options)?;
/// assert_eq!(dialled.preferred, Fit::Line);
/// let found = dialled.answer();
/// assert!((found.setting.as_ref().unwrap().value - 22.836).abs() < 0.001);
/// assert!(found.interval.as_ref().unwrap().contains(22.9));
/// // 1.70 % is beyond the settings tried: the setting is undefined, with the reason.
/// let stronger = dial_in(&clicks, &strength_pct, &DialOptions { target: Some(1.70), ..DialOptions::default() })?;
/// assert!(stronger.answer().setting.as_ref().unwrap_err().reason.contains("nearest setting tried is 18"));
/// # Ok::<(), pourline::Error>(())
/// ```
///
/// # Errors
/// `empty` without a brew, `argument` if values and settings differ in number, `not_finite` for a number among them,
/// `out_of_range` for an sd below 0 or an option outside its range. With too few settings or brews the fits are
/// undefined, with the reason.
pub fn dial_in(x: &[f64], y: &[Estimate], options: &DialOptions) -> Result<SettingFit> {
    check(x, y, options)?;
    let tried = tried(x, y);
    let DialOptions { target, level, direction, draws, seed } = *options;
    let (line, monotone) = if tried.len() < FEWEST[0] || x.len() < FEWEST[1] {
        let (settings, brews) = (tried.len(), x.len());
        let why =
            format!("{settings} settings and {brews} brews: a fit needs {} and {}", FEWEST[0], FEWEST[1]);
        (Err(Undefined::because(why.clone())), Err(Undefined::because(why)))
    } else {
        (straight(x, y, &tried, level), Ok(Monotone::fit(&tried, direction, draws, seed)))
    };
    let (first, last) = (tried[0].setting, tried[tried.len() - 1].setting);
    let place = |i: usize| i as f64 / (GRID - 1) as f64;
    let grid: Vec<f64> = (0..GRID).map(|i| first * (1.0 - place(i)) + last * place(i)).collect();
    let mut found = SettingFit {
        x_name: "setting".into(),
        x_unit: String::new(),
        y_name: "measure".into(),
        y_unit: String::new(),
        x: x.to_vec(),
        y: y.to_vec(),
        brews: Vec::new(),
        missing: Vec::new(),
        level,
        target,
        preferred: preferred(line.as_ref().ok(), monotone.as_ref().ok()),
        by_line: target::by_line(&line, &tried, target, level),
        by_monotone: target::by_monotone(&monotone, &tried, target, level),
        curve: Curve::along(&grid, line.as_ref().ok(), monotone.as_ref().ok(), level),
        line,
        monotone,
        words: Vec::new(),
    };
    found.words = found.in_words();
    Ok(found)
}

/// The same for two numbers of a study: its measures, or a factor whose levels are numbers, such as `grinder_setting`.
///
/// # Errors
/// Those of [`dial_in`]; `argument` if the study has no such number, or several rows per brew.
pub fn dial_in_study(study: &Study, x: &str, y: &str, options: &DialOptions) -> Result<SettingFit> {
    let (settings, values) = (study.take(x, &[])?, study.take(y, &[])?);
    let mut missing: Vec<Missing> = settings.missing;
    missing.extend(values.missing.into_iter().filter(|m| !study.failed.contains(m)));
    let (mut xs, mut ys, mut brews) = (Vec::new(), Vec::new(), Vec::new());
    for ((row, setting), brew) in settings.rows.iter().zip(&settings.values).zip(&settings.brews) {
        if let Some(place) = values.rows.iter().position(|r| r == row) {
            xs.push(*setting);
            ys.push(values.values[place]);
            brews.push(brew.clone());
        }
    }
    if brews.iter().collect::<BTreeSet<_>>().len() < brews.len() {
        let message = "several rows are of one brew and not independent: use one row per brew".into();
        return Err(Error::Argument { name: "study".into(), message });
    }
    if xs.is_empty() {
        let why: BTreeSet<String> = missing.iter().map(|m| format!("{}: {}", m.what, m.reason)).collect();
        let why = why.into_iter().collect::<Vec<_>>().join("; ");
        let message = format!("no brew has both {x} and {y} ({why})");
        return Err(Error::Argument { name: "study".into(), message });
    }
    missing.extend(settings.partial);
    missing.extend(values.partial);
    let plain: Vec<f64> = xs.iter().map(|x| x.value).collect();
    let mut found = dial_in(&plain, &ys, options)?;
    (found.x_name, found.x_unit) = (x.into(), settings.unit);
    (found.y_name, found.y_unit) = (y.into(), values.unit);
    (found.brews, found.missing) = (brews, missing);
    found.words = found.in_words();
    found.words.extend(unsure_settings(&xs));
    Ok(found)
}

/// Measurement error of the setting attenuates the slope by its share of the variance (Fuller 1987, Measurement Error
/// Models, 1.1).
fn unsure_settings(x: &[Estimate]) -> Option<String> {
    let n = x.len() as f64;
    let mean = x.iter().map(|x| x.value).sum::<f64>() / n;
    let spread = x.iter().map(|x| (x.value - mean).powi(2)).sum::<f64>() / (n - 1.0);
    let share = x.iter().map(|x| x.sd * x.sd).sum::<f64>() / n / spread;
    (share > 0.05 && share.is_finite()).then(|| {
        format!(
            "{:.0} % of the settings' variance is measurement error: the slope is attenuated by about that share",
            100.0 * share
        )
    })
}

fn preferred(line: Option<&DialLine>, monotone: Option<&Monotone>) -> Fit {
    let (Some(line), Some(monotone)) = (line, monotone) else { return Fit::Neither };
    let tests: Vec<f64> = [&line.lack_of_fit, &line.curvature].into_iter().flatten().map(|t| t.p).collect();
    if tests.iter().all(|p| *p * tests.len() as f64 >= GIVEN_UP) {
        return Fit::Line;
    }
    match &monotone.turns_back {
        Ok(test) if test.p < GIVEN_UP => Fit::Neither,
        _ => Fit::Monotone,
    }
}

fn check(x: &[f64], y: &[Estimate], options: &DialOptions) -> Result<()> {
    if x.is_empty() {
        return Err(Error::Empty { what: "settings".into() });
    }
    if x.len() != y.len() {
        let message = format!("{} values for {} settings", y.len(), x.len());
        return Err(Error::Argument { name: "y".into(), message });
    }
    for (row, (&x, y)) in (1..).zip(x.iter().zip(y)) {
        for (column, value) in [("x", x), ("y", y.value), ("sd of y", y.sd)] {
            if !value.is_finite() {
                return Err(Error::Argument {
                    name: column.into(),
                    message: format!("brew {row} has {value}: a finite number is needed"),
                });
            }
        }
        if y.sd < 0.0 {
            let rule = "it must be 0 or more".into();
            return Err(Error::OutOfRange { name: "sd of y".into(), value: y.sd, rule, row });
        }
    }
    let out = |name: &str, value: f64, rule: &str| {
        Err(Error::OutOfRange { name: name.into(), value, rule: rule.into(), row: 0 })
    };
    if !(options.level > 0.5 && options.level < 1.0) {
        return out("level", options.level, "it must be above 0.5 and below 1");
    }
    if !(200..=100_000).contains(&options.draws) {
        return out("draws", options.draws as f64, "it must be from 200 to 100,000");
    }
    match options.target {
        Some(target) if !target.is_finite() => out("target", target, "it must be a finite number"),
        _ => Ok(()),
    }
}
