//! In: a line and a monotone curve with their tests. Out: [`SettingFit`]: both, the preferred one, and the result as
//! sentences and table.

use crate::estimate::{Estimate, Undefined};
use crate::rows::{rows, words};
use crate::study::dial_in::fieller::short;
use crate::study::dial_in::monotone::Monotone;
use crate::study::dial_in::straight::{DialLine, around};
use crate::study::dial_in::target::TargetSetting;
use crate::study::gather::study::Missing;
use crate::table::{Table, Values};
use serde::{Deserialize, Serialize};

words! {
/// Which of the two fits is preferred.
pub enum Fit {
    /// The straight line: no test rejects it.
    Line = "line",
    /// The monotone curve: a test rejects the line.
    Monotone = "monotone",
    /// Neither: the measure is not monotone, or there are too few brews.
    Neither = "neither",
}
}

/// The fits along the settings tried; all vectors have one length, and undefined values are NaN.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Curve {
    /// Settings, from the lowest one tried to the highest.
    pub setting: Vec<f64>,
    /// The line.
    pub line: Vec<f64>,
    /// Ends of the line's confidence band, pointwise.
    pub line_band: Vec<[f64; 2]>,
    /// Prediction interval of one more brew, by the line.
    pub prediction: Vec<[f64; 2]>,
    /// The monotone curve.
    pub monotone: Vec<f64>,
    /// Ends of its band, pointwise.
    pub monotone_band: Vec<[f64; 2]>,
}

impl Curve {
    pub(super) fn along(
        grid: &[f64],
        line: Option<&DialLine>,
        monotone: Option<&Monotone>,
        level: f64,
    ) -> Self {
        const NONE: [f64; 2] = [f64::NAN; 2];
        let t = line.map_or(f64::NAN, |l| l.t(level));
        let band = |of: &dyn Fn(f64) -> [f64; 2]| grid.iter().map(|&x| of(x)).collect();
        Self {
            setting: grid.to_vec(),
            line: grid.iter().map(|&x| line.map_or(f64::NAN, |l| l.at(x).value)).collect(),
            line_band: band(&|x| line.map_or(NONE, |l| around(l.at(x), t))),
            prediction: band(&|x| line.map_or(NONE, |l| around(l.next(x), t))),
            monotone: grid.iter().map(|&x| monotone.map_or(f64::NAN, |m| m.at(x))).collect(),
            monotone_band: band(&|x| monotone.map_or(NONE, |m| m.confidence(x, level))),
        }
    }
}

rows! { $
/// A measure against a setting: a line and a monotone curve, the preferred one, and the setting for the target.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct SettingFit {
    /// Name of the setting.
    pub x_name: String,
    /// Unit of the setting, empty if it has none.
    pub x_unit: String,
    /// Name of the measure.
    pub y_name: String,
    /// Unit of the measure, empty if it has none.
    pub y_unit: String,
    /// Setting of each brew.
    pub x: Vec<f64>,
    /// Measured value of each brew.
    pub y: Vec<Estimate>,
    /// Name of each brew; empty if plain numbers were given.
    pub brews: Vec<String>,
    /// Brews that are excluded, or included with some of their pours only, each with the reason.
    pub missing: Vec<Missing> { hidden },
    /// Level of every interval and band.
    pub level: f64,
    /// The target, if one was given.
    pub target: Option<f64>,
    /// The straight line.
    pub line: Result<DialLine, Undefined>,
    /// The monotone curve.
    pub monotone: Result<Monotone, Undefined>,
    /// Which of the two fits is preferred.
    pub preferred: Fit,
    /// The setting for the target by the line, with its Fieller interval.
    pub by_line: TargetSetting,
    /// The setting for the target by the monotone curve, with the interval of the sampled curves.
    pub by_monotone: TargetSetting,
    /// Both fits along the settings tried.
    pub curve: Curve { hidden },
    /// The result in sentences.
    pub words: Vec<String>,
}
}

impl SettingFit {
    /// The setting for the target by the preferred fit, or why there is none.
    #[must_use]
    pub fn answer(&self) -> TargetSetting {
        let neither = "neither a line nor a monotone curve fits";
        match (self.preferred, &self.line) {
            (Fit::Line, _) | (Fit::Neither, Err(_)) => self.by_line.clone(),
            (Fit::Monotone, _) => self.by_monotone.clone(),
            (Fit::Neither, Ok(_)) => TargetSetting::none(&Undefined::because(neither)),
        }
    }

    /// One row per setting, 61 from the lowest to the highest: both fits, their bands, prediction interval.
    #[must_use]
    pub fn table(&self) -> Table {
        let mut table = Table::default();
        let Curve { setting, line, line_band, prediction, monotone, monotone_band } = &self.curve;
        table.push(&self.x_name, &self.x_unit, Values::Number(setting.clone()));
        let mut put = |name: &str, values: Vec<f64>| table.push(name, &self.y_unit, Values::Number(values));
        let end = |band: &[[f64; 2]], k: usize| band.iter().map(|ends| ends[k]).collect();
        put("line", line.clone());
        put("mean_low", end(line_band, 0));
        put("mean_high", end(line_band, 1));
        put("prediction_low", end(prediction, 0));
        put("prediction_high", end(prediction, 1));
        put("monotone", monotone.clone());
        put("monotone_low", end(monotone_band, 0));
        put("monotone_high", end(monotone_band, 1));
        table
    }

    pub(super) fn in_words(&self) -> Vec<String> {
        let (line, monotone) = match (&self.line, &self.monotone) {
            (Ok(line), Ok(monotone)) => (line, monotone),
            (Err(why), _) | (_, Err(why)) => return vec![why.reason.clone()],
        };
        let (x, y, percent) = (&self.x_name, &self.y_name, 100.0 * self.level);
        let [low, high] = line.slope_interval;
        let mut words = vec![format!(
            "{y} changes by {} per step of {x} ({percent:.0} %: {} to {})",
            line.slope,
            short(low),
            short(high)
        )];
        match self.preferred {
            Fit::Line if line.lack_of_fit.is_err() && line.curvature.is_ok() => words.push(format!(
                "only curvature was tested: {}",
                line.lack_of_fit.as_ref().err().map_or("", |why| &why.reason)
            )),
            Fit::Line => {}
            Fit::Monotone => words.push(format!(
                "the tests reject a straight line ({}): the monotone curve is preferred",
                against(line)
            )),
            Fit::Neither => words.push(format!(
                "the tests reject a straight line ({}) and monotonicity (p {}): use neither fit",
                against(line),
                monotone.turns_back.as_ref().map_or(String::new(), |t| p(t.p))
            )),
        }
        match line.measurement_share {
            Ok(share) if share > 1.0 => words.push(format!(
                "the stated variance is {} times the residual variance: the stated sd is too large, or the error is \
                 shared by all brews",
                short(share)
            )),
            Ok(share) => words.push(format!(
                "{:.0} % of the residual variance is measurement uncertainty",
                100.0 * share
            )),
            Err(_) => {}
        }
        if let Some(target) = self.target {
            words.push(self.target_in_words(target, line));
        }
        if !self.missing.is_empty() {
            words.push(format!("{} values are missing or partial: see `missing`", self.missing.len()));
        }
        words
    }

    fn target_in_words(&self, target: f64, line: &DialLine) -> String {
        let TargetSetting { setting, interval } = self.answer();
        let (x, y, target) = (&self.x_name, &self.y_name, short(target));
        let mut sentence = match &setting {
            Ok(found) => format!("{y} {target} is met at {x} {found}"),
            Err(why) => format!("no {x} for {y} {target}: {}", why.reason),
        };
        if let Ok(possible) = &interval {
            sentence += &format!("; possible at {:.0} %: {possible}", 100.0 * self.level);
            let tried =
                self.x.iter().fold([f64::INFINITY, f64::NEG_INFINITY], |[a, b], x| [a.min(*x), b.max(*x)]);
            if self.preferred == Fit::Line && !possible.lies_within(tried[0], tried[1]) {
                sentence += &format!(" (only {} to {} were tried)", short(tried[0]), short(tried[1]));
            }
        }
        if let (Fit::Line, Ok(found)) = (self.preferred, &setting) {
            let [low, high] = line.prediction(found.value, self.level);
            sentence += &format!("; one brew there gives {} to {}", short(low), short(high));
        }
        sentence
    }
}

/// The tests that reject a line.
fn against(line: &DialLine) -> String {
    let test = |what: &str, p_value: f64| format!("{what}: p {}", p(p_value));
    let lack = line.lack_of_fit.iter().map(|t| test("lack of fit", t.p));
    lack.chain(line.curvature.iter().map(|t| test("curvature", t.p))).collect::<Vec<_>>().join(", ")
}

fn p(value: f64) -> String {
    if value < 0.001 { "below 0.001".into() } else { format!("{value:.3}") }
}
