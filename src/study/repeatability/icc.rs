//! In: a value of each subject by each rater. Out: [`Icc`]: the intraclass correlation in its six forms.
//!
//! Method: Shrout and Fleiss 1979, Psychol. Bull. 86, 420; intervals of McGraw and Wong 1996, Psychol. Methods 1, 30.
//! Those of forms 1 and 3 are exact; those of form 2 rest on Satterthwaite's degrees of freedom.

use crate::error::{Error, Result};
use crate::estimate::Estimate;
use crate::math::distribution::fisher_quantile_above;
use crate::rows::rows;
use crate::study::repeatability::cells::Cells;
use crate::study::repeatability::interval::{FTest, Interval, MeanSquare, TAIL};
use crate::table::{Table, Values};
use serde::{Deserialize, Serialize};

rows! { $
/// One form of the intraclass correlation.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct IccForm {
    /// Name of the form, `ICC(1,1)` to `ICC(3,k)`, after Shrout and Fleiss.
    pub form: String,
    /// Meaning of the form.
    pub meaning: String,
    /// The correlation with its 95 % interval; by sampling error it can be below 0.
    pub icc: Interval,
    /// F test of whether subjects differ at all.
    pub test: FTest,
}
}

rows! { $
/// The intraclass correlation in its six forms.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Icc {
    /// Number of subjects.
    pub subjects: usize,
    /// Number of raters, the k of the last three forms.
    pub raters: usize,
    /// The forms (1,1), (2,1), (3,1), (1,k), (2,k), (3,k).
    pub forms: Vec<IccForm>,
}
}

impl Icc {
    /// One row per form: form, icc, low, high, f, degrees, `degrees_below`, p, meaning.
    #[must_use]
    pub fn table(&self) -> Table {
        let mut table = Table::default();
        let text = |of: fn(&IccForm) -> &str| Values::Text(self.forms.iter().map(|f| of(f).into()).collect());
        let number = |of: fn(&IccForm) -> f64| Values::Number(self.forms.iter().map(of).collect());
        table.push("form", "", text(|form| &form.form));
        table.push("icc", "", number(|form| form.icc.value));
        table.push("low", "", number(|form| form.icc.low));
        table.push("high", "", number(|form| form.icc.high));
        table.push("f", "", number(|form| form.test.f));
        table.push("degrees", "", number(|form| form.test.degrees));
        table.push("degrees_below", "", number(|form| form.test.degrees_below));
        table.push("p", "", number(|form| form.test.p));
        table.push("meaning", "", text(|form| &form.meaning));
        table
    }
}

/// How much of the variance lies between subjects: the intraclass correlation in its six forms.
///
/// A subject is a kettle, a coffee or a person's pour; a rater is a person, a scale or a repeat. Each subject needs
/// one value by each rater. The measurement sd is not removed: it lowers the correlation.
///
/// # Errors
/// [`Error::NotFinite`]; [`Error::Argument`] if labels have another length, there are fewer than two subjects or
/// raters, a subject lacks a rater or has two values by one, or the error variance is 0.
///
/// ```
/// use pourline::Estimate;
/// use pourline::study::{IccForm};
/// use pourline::{Icc, icc};
/// // Shrout and Fleiss 1979, table 2: six targets, four judges.
/// let values = [9, 2, 5, 8, 6, 1, 3, 2, 8, 4, 6, 8, 7, 1, 2, 6, 10, 5, 6, 9, 6, 2, 4, 7];
/// let values = values.map(|v| Estimate::exact(f64::from(v)));
/// let targets: Vec<String> = (0..24).map(|i| format!("target {}", i / 4)).collect();
/// let judges: Vec<String> = (0..24).map(|i| format!("judge {}", i % 4)).collect();
/// let found: Icc = icc(&values, &targets, &judges)?;
/// let agreement: &IccForm = &found.forms[1];
/// assert_eq!((agreement.form.as_str(), format!("{:.2}", agreement.icc.value).as_str()), ("ICC(2,1)", "0.29"));
/// # Ok::<(), pourline::Error>(())
/// ```
pub fn icc<S: AsRef<str>, R: AsRef<str>>(values: &[Estimate], subjects: &[S], raters: &[R]) -> Result<Icc> {
    let cells = Cells::of(values, ("subjects", subjects), ("raters", raters))?;
    let refuse = |name: &str, message: String| Err(Error::Argument { name: name.into(), message });
    for (name, held) in [("subjects", &cells.rows), ("raters", &cells.columns)] {
        if held.len() < 2 {
            return refuse(name, format!("{} given; two or more are needed", held.len()));
        }
    }
    if let Some((subject, rater, found)) = uneven(&cells) {
        let message = format!(
            "{subject:?} has {found} values by {rater:?}; one value of each subject by each rater is needed"
        );
        return refuse("subjects", message);
    }
    let squares = cells.squares(1.0);
    let (n, k) = (cells.rows.len() as f64, cells.columns.len() as f64);
    let (between, raters, rest) = (squares.rows, squares.columns, squares.rest);
    let degrees = raters.degrees + rest.degrees;
    let within = (raters.value * raters.degrees + rest.value * rest.degrees) / degrees;
    let within = MeanSquare { value: within, degrees: n * (k - 1.0) };
    if rest.value <= 0.0 {
        return refuse(
            "values",
            "the error variance is 0: the raters agree on all differences between subjects".into(),
        );
    }
    let forms =
        [one_way(between, within, k), agreement(between, raters, rest, n, k), one_way(between, rest, k)];
    let tests = [within, rest, rest].map(|error| FTest::of(between, error));
    let single = (0..3).map(|i| form(NAMES[i], MEANINGS[i], forms[i], tests[i]));
    let several = (0..3).map(|i| form(NAMES[i + 3], MEANINGS[i + 3], averaged(forms[i], k), tests[i]));
    Ok(Icc { subjects: n as usize, raters: k as usize, forms: single.chain(several).collect() })
}

const NAMES: [&str; 6] = ["ICC(1,1)", "ICC(2,1)", "ICC(3,1)", "ICC(1,k)", "ICC(2,k)", "ICC(3,k)"];
const MEANINGS: [&str; 6] = [
    "one value, raters different for each subject",
    "one value, agreement of raters sampled from a population",
    "one value, consistency of these raters",
    "mean of k values, raters different for each subject",
    "mean of k values, agreement of raters sampled from a population",
    "mean of k values, consistency of these raters",
];

fn form(form: &'static str, meaning: &'static str, icc: Interval, test: FTest) -> IccForm {
    IccForm { form: form.into(), meaning: meaning.into(), icc, test }
}

/// The first subject and rater with no value or several.
fn uneven(cells: &Cells) -> Option<(&str, &str, usize)> {
    let mut held = vec![0; cells.rows.len() * cells.columns.len()];
    for cell in &cells.cells {
        held[cell.row * cells.columns.len() + cell.column] = cell.size as usize;
    }
    let at = held.iter().position(|n| *n != 1)?;
    Some((&cells.rows[at / cells.columns.len()], &cells.columns[at % cells.columns.len()], held[at]))
}

/// Forms 1 and 3: the mean square between over one other mean square.
fn one_way(between: MeanSquare, error: MeanSquare, k: f64) -> Interval {
    let f = between.value / error.value;
    let [upper, lower] =
        [TAIL, 1.0 - TAIL].map(|tail| fisher_quantile_above(tail, between.degrees, error.degrees));
    let share = |f: f64| (f - 1.0) / (f + k - 1.0);
    Interval { value: share(f), low: share(f / upper), high: share(f / lower) }
}

/// Form 2: the variance between raters lowers the agreement.
fn agreement(between: MeanSquare, raters: MeanSquare, rest: MeanSquare, n: f64, k: f64) -> Interval {
    let (b, r, e) = (between.value, raters.value, rest.value);
    let value = (b - e) / (b + (k - 1.0) * e + k * (r - e) / n);
    let (rater_part, rest_part) = (k * value * r / e, n * (1.0 + (k - 1.0) * value) - k * value);
    let degrees = rest.degrees * (rater_part + rest_part).powi(2)
        / (between.degrees * rater_part * rater_part + rest_part * rest_part);
    let upper = fisher_quantile_above(TAIL, between.degrees, degrees);
    let lower = fisher_quantile_above(TAIL, degrees, between.degrees);
    let error = k * r + (k * n - k - n) * e;
    Interval {
        value,
        low: n * (b - upper * e) / (upper * error + n * b),
        high: n * (lower * b - e) / (error + n * lower * b),
    }
}

/// The mean of k values, by the Spearman-Brown formula.
fn averaged(single: Interval, k: f64) -> Interval {
    let mean = |icc: f64| k * icc / (1.0 + (k - 1.0) * icc);
    Interval { value: mean(single.value), low: mean(single.low), high: mean(single.high) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_worked_example_of_shrout_and_fleiss_comes_out_in_all_six_forms() {
        // Tables 2 to 4 of 1979: six targets, four judges; mean squares 11.24, 6.26, 32.49 and 1.02, degrees 5,
        // 18, 3 and 15.
        let values = [9, 2, 5, 8, 6, 1, 3, 2, 8, 4, 6, 8, 7, 1, 2, 6, 10, 5, 6, 9, 6, 2, 4, 7];
        let values = values.map(|v| Estimate::exact(f64::from(v)));
        let label = |of: fn(usize) -> usize| (0..24).map(|i| of(i).to_string()).collect::<Vec<String>>();
        let found = icc(&values, &label(|i| i / 4), &label(|i| i % 4)).unwrap();
        let rounded: Vec<f64> = found.forms.iter().map(|f| (100.0 * f.icc.value).round() / 100.0).collect();
        assert_eq!(rounded, [0.17, 0.29, 0.71, 0.44, 0.62, 0.91]);
        assert!((found.forms[0].test.f - 11.24 / 6.26).abs() < 0.01);
        let degrees = |k: usize| (found.forms[k].test.degrees, found.forms[k].test.degrees_below);
        assert_eq!([0, 1, 2].map(degrees), [(5.0, 18.0), (5.0, 15.0), (5.0, 15.0)]);
        for k in 0..3 {
            // Spearman and Brown: k r/(1 + (k - 1) r), of the ends too.
            let (one, mean) = (&found.forms[k].icc, &found.forms[k + 3].icc);
            for (one, mean) in [(one.low, mean.low), (one.value, mean.value), (one.high, mean.high)] {
                assert!((mean - 4.0 * one / (1.0 + 3.0 * one)).abs() < 1e-12);
            }
        }
    }
}
