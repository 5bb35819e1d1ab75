//! In: values, the row and the column of each. Out: [`Crossed`]: variance components of rows, columns, interaction and
//! repeatability.
//!
//! Method: two crossed random effects with interaction, by analysis of variance if all cells have the same number of
//! brews (intervals: modified large-sample, as in Burdick, Borror and Montgomery 2003, J. Qual. Technol. 35, 342) and
//! by restricted maximum likelihood for any balance (intervals: chi-squared, from the information and the degrees of
//! freedom of each variance; of sums, by Zou and Donner 2008).

use crate::error::{Error, Result};
use crate::estimate::{Estimate, Undefined};
use crate::rows::rows;
use crate::study::repeatability::cells::Cells;
use crate::study::repeatability::interval::{Interval, MeanSquare, sum};
use crate::study::repeatability::reml::{CELLS, COLUMNS, Fit, ROWS, WITHIN, reml};
use crate::table::{Table, Values};
use serde::{Deserialize, Serialize};

/// Fewer rows or columns than this are hardly informative about their sd.
const FEW: usize = 5;

rows! { $
/// One source of variance.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Component {
    /// Sd of the source, in the unit of the values, with its 95 % interval.
    pub sd: Interval,
    /// Variance of the source in percent of the total variance.
    ///
    /// Sources add up to 100.
    pub share_pct: f64,
    /// Sd of the source in percent of the total sd (study variation).
    ///
    /// Sources do not add up.
    pub study_pct: f64,
}
}

rows! { $
/// The sources of variance by one method.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Components {
    /// Sd between rows, such as people.
    pub rows: Component,
    /// Sd between columns, such as kettles.
    pub columns: Component,
    /// Interaction of rows and columns.
    pub interaction: Result<Component, Undefined>,
    /// Repeatability: sd between brews of one row and column.
    pub repeatability: Component,
    /// Reproducibility: sd between brews of one column by different rows.
    ///
    /// Rows, interaction and repeatability together.
    pub reproducibility: Component,
    /// Total of all sources.
    pub total: Component,
    /// Measurement part of the repeatability sd.
    pub of_scale_sd: f64,
    /// Part of the repeatability sd from pouring and coffee, without the measurement.
    ///
    /// It is 0 if the measurement variance is the larger one.
    pub of_hand_sd: Interval,
}
}

rows! { $
/// A study of rows by columns.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Crossed {
    /// Names of the rows, in the order in which they first occur.
    pub rows: Vec<String>,
    /// Names of the columns.
    pub columns: Vec<String>,
    /// Number of brews.
    pub brews: usize,
    /// General mean, by restricted maximum likelihood.
    ///
    /// Its sd includes the choice of rows and columns.
    pub mean: Maybe,
    /// Components by analysis of variance; undefined if cells differ in number.
    pub anova: Result<Components, Undefined>,
    /// Components by restricted maximum likelihood.
    pub reml: Result<Components, Undefined>,
    /// Warnings, in sentences.
    pub warnings: Vec<String>,
}
}

impl Crossed {
    /// One row per method and source: method, source, sd, low, high, `share_pct`, `study_pct`.
    #[must_use]
    pub fn table(&self) -> Table {
        let methods = [("anova", &self.anova), ("reml", &self.reml)];
        let found =
            methods.iter().filter_map(|(method, found)| found.as_ref().ok().map(|found| (*method, found)));
        let lines: Vec<(&str, &str, Component)> = found
            .flat_map(|(method, found)| found.named().into_iter().map(move |(source, c)| (method, source, c)))
            .collect();
        let text = |of: fn(&(&str, &str, Component)) -> String| Values::Text(lines.iter().map(of).collect());
        let number =
            |of: fn(&Component) -> f64| Values::Number(lines.iter().map(|(_, _, c)| of(c)).collect());
        let mut table = Table::default();
        table.push("method", "", text(|line| line.0.into()));
        table.push("source", "", text(|line| line.1.into()));
        table.push("sd", "", number(|c| c.sd.value));
        table.push("low", "", number(|c| c.sd.low));
        table.push("high", "", number(|c| c.sd.high));
        table.push("share_pct", "%", number(|c| c.share_pct));
        table.push("study_pct", "%", number(|c| c.study_pct));
        table
    }
}

impl Components {
    fn named(&self) -> Vec<(&'static str, Component)> {
        let interaction = self.interaction.as_ref().ok().map(|c| ("interaction", *c));
        let before = [("rows", self.rows), ("columns", self.columns)];
        let after = [
            ("repeatability", self.repeatability),
            ("reproducibility", self.reproducibility),
            ("total", self.total),
        ];
        before.into_iter().chain(interaction).chain(after).collect()
    }

    /// From variances and intervals of rows, columns, interaction, repeatability, reproducibility and total.
    fn of(
        variances: [f64; 4],
        ends: [[f64; 2]; 6],
        interaction: std::result::Result<(), Undefined>,
        own: f64,
    ) -> Self {
        let [rows, columns, both, within] = variances;
        let total = rows + columns + both + within;
        let of = |variance: f64, ends: [f64; 2]| {
            let share = variance / total;
            Component {
                sd: Interval::root(variance, ends),
                share_pct: 100.0 * share,
                study_pct: 100.0 * share.sqrt(),
            }
        };
        let repeatability = of(within, ends[3]);
        Self {
            rows: of(rows, ends[0]),
            columns: of(columns, ends[1]),
            interaction: interaction.map(|()| of(both, ends[2])),
            repeatability,
            reproducibility: of(rows + both + within, ends[4]),
            total: of(total, ends[5]),
            of_scale_sd: own.sqrt(),
            of_hand_sd: repeatability.sd.without(own.sqrt()),
        }
    }
}

/// A crossed study: each row (a person) brews with each column (a kettle), preferably several times.
///
/// Rows and columns are random effects; brews of one cell differ by the repeatability. Cells may differ in number and
/// some may be empty: then only restricted maximum likelihood is defined. With one brew per cell the interaction is
/// not identifiable: it is part of the repeatability. The sd of each value is its measurement sd, independent between
/// brews.
///
/// # Errors
/// [`Error::TooShort`] for fewer than four values, [`Error::NotFinite`], and [`Error::Argument`] if labels have
/// another length or there are fewer than two rows or columns.
///
/// ```
/// use pourline::Estimate;
/// use pourline::study::{Component, Components};
/// use pourline::{Crossed, crossed};
/// let flows_g_per_s = [5.1, 5.3, 6.0, 6.3, 4.7, 4.6, 5.9, 5.6, 5.5, 5.6, 6.6, 6.4];
/// let flows_g_per_s = flows_g_per_s.map(|flow| Estimate::new(flow, 0.05));
/// let people = ["Ada", "Ada", "Ada", "Ada", "Bo", "Bo", "Bo", "Bo", "Cy", "Cy", "Cy", "Cy"];
/// let kettles = ["thin", "thin", "wide", "wide"].repeat(3);
/// let found: Crossed = crossed(&flows_g_per_s, &people, &kettles)?;
/// let by_anova: Components = found.anova.unwrap();
/// let kettle: Component = by_anova.columns;
/// assert!(kettle.sd.value > by_anova.repeatability.sd.value);
/// // The interaction is part of the repeatability; the two methods divide it differently.
/// assert!((by_anova.rows.sd.value - found.reml.unwrap().rows.sd.value).abs() < 0.01);
/// # Ok::<(), pourline::Error>(())
/// ```
pub fn crossed<R: AsRef<str>, C: AsRef<str>>(
    values: &[Estimate],
    rows: &[R],
    columns: &[C],
) -> Result<Crossed> {
    if values.len() < 4 {
        return Err(Error::TooShort { samples: values.len(), needed: 4 });
    }
    let cells = Cells::of(values, ("rows", rows), ("columns", columns))?;
    for (name, held) in [("rows", &cells.rows), ("columns", &cells.columns)] {
        if held.len() < 2 {
            let message = format!("all brews are of {:?}; two or more are needed", held[0]);
            return Err(Error::Argument { name: name.into(), message });
        }
    }
    let several = cells.size > cells.cells.len() as f64;
    let fit = reml(&cells, several);
    let by_reml = fit.as_ref().map_err(Clone::clone).and_then(|fit| by_reml(&cells, fit, several));
    let mean = fit.map(|fit| Estimate::new(cells.origin + fit.mean, fit.mean_sd));
    let anova = by_anova(&cells);
    let warnings = warnings(&cells, several, [&anova, &by_reml]);
    Ok(Crossed {
        brews: values.len(),
        mean,
        anova,
        reml: by_reml,
        warnings,
        rows: cells.rows,
        columns: cells.columns,
    })
}

fn identifiable(several: bool) -> std::result::Result<(), Undefined> {
    if several {
        return Ok(());
    }
    Err(Undefined::because("one brew per cell: the interaction is part of the repeatability"))
}

fn by_anova(cells: &Cells) -> std::result::Result<Components, Undefined> {
    let each = cells
        .each()
        .ok_or_else(|| Undefined::because("cells differ in number of brews, or some are empty"))?;
    let (o, p, r) = (cells.rows.len() as f64, cells.columns.len() as f64, each);
    let squares = cells.squares(each);
    let (rows, columns, both) = (squares.rows, squares.columns, squares.rest);
    let over = |pair: [f64; 2], by: f64| pair.map(|end| end / by);
    let several = each > 1.0;
    let degrees = cells.size - cells.cells.len() as f64;
    let within = if several { MeanSquare { value: cells.squares / degrees, degrees } } else { both };
    if within.value <= 0.0 {
        return Err(Undefined::because("brews of one cell do not differ: the variance within is 0"));
    }
    let from = |above: MeanSquare, below: MeanSquare, by: f64| ((above.value - below.value) / by).max(0.0);
    let interaction = if several { from(both, within, r) } else { 0.0 };
    let variances = [from(rows, both, p * r), from(columns, both, o * r), interaction, within.value];
    let single = 1.0 - 1.0 / r;
    let ends = [
        over(rows.less(both), p * r),
        over(columns.less(both), o * r),
        if several { over(both.less(within), r) } else { [0.0; 2] },
        within.interval(),
        sum(&[(1.0 / (p * r), rows), ((p - 1.0) / (p * r), both), (single, within)]),
        sum(&[
            (1.0 / (p * r), rows),
            (1.0 / (o * r), columns),
            ((o * p - o - p) / (o * p * r), both),
            (single, within),
        ]),
    ];
    Ok(Components::of(variances, ends, identifiable(several), cells.own_variance))
}

fn by_reml(cells: &Cells, fit: &Fit, several: bool) -> std::result::Result<Components, Undefined> {
    if several && cells.squares <= 0.0 {
        return Err(Undefined::because("brews of one cell do not differ: the variance within is 0"));
    }
    let single: [[f64; 2]; 4] =
        std::array::from_fn(|k| alone(fit.variances[k], fit.covariance[k][k], degrees(cells, several)[k]));
    let (reproducibility, total) =
        (joined(fit, single, &[ROWS, CELLS, WITHIN]), joined(fit, single, &[0, 1, 2, 3]));
    let ends = [single[ROWS], single[COLUMNS], single[CELLS], single[WITHIN], reproducibility, total];
    Ok(Components::of(fit.variances, ends, identifiable(several), cells.own_variance))
}

/// Largest degrees of freedom of each variance: rows, columns, cells, single values.
fn degrees(cells: &Cells, several: bool) -> [f64; 4] {
    let (rows, columns, held) =
        (cells.rows.len() as f64, cells.columns.len() as f64, cells.cells.len() as f64);
    let rest = (held - rows - columns + 1.0).max(1.0);
    [rows - 1.0, columns - 1.0, rest, if several { cells.size - held } else { rest }]
}

/// Interval of one variance: a mean square less a part that is taken as known. The sampling variance and the degrees
/// of freedom give the size of that mean square. So the interval is valid if the variance is 0. It equals that of the
/// analysis of variance if cells are equal.
fn alone(value: f64, variance: f64, degrees: f64) -> [f64; 2] {
    let gone = ((0.5 * degrees * variance).sqrt() - value).max(0.0);
    MeanSquare { value: value + gone, degrees }.interval().map(|end| (end - gone).max(0.0))
}

/// Ends of a sum of variances: the distances of their own ends, combined by their correlations (Zou and Donner 2008,
/// Stat. Med. 27, 1693).
fn joined(fit: &Fit, single: [[f64; 2]; 4], which: &[usize]) -> [f64; 2] {
    let value: f64 = which.iter().map(|k| fit.variances[*k]).sum();
    let [down, up] = [0, 1].map(|end| {
        let distance = |k: usize| (single[k][end] - fit.variances[k]).abs();
        let pair = |j: usize, k: usize| {
            let scale = (fit.covariance[j][j] * fit.covariance[k][k]).sqrt();
            if scale > 0.0 { distance(j) * distance(k) * fit.covariance[j][k] / scale } else { 0.0 }
        };
        let squares: f64 = which.iter().map(|j| which.iter().map(|k| pair(*j, *k)).sum::<f64>()).sum();
        squares.max(0.0).sqrt()
    });
    [value - down, value + up]
}

fn warnings(
    cells: &Cells,
    several: bool,
    methods: [&std::result::Result<Components, Undefined>; 2],
) -> Vec<String> {
    let mut warnings = Vec::new();
    for (what, names) in [("rows", &cells.rows), ("columns", &cells.columns)] {
        if names.len() < FEW {
            warnings.push(format!(
                "{} {what} are hardly informative about the sd between {what}: use its interval, or add {what}",
                names.len()
            ));
        }
    }
    if let Err(why) = identifiable(several) {
        warnings.push(why.reason);
    }
    for (method, found) in ["analysis of variance", "restricted maximum likelihood"].iter().zip(methods) {
        let Ok(found) = found else { continue };
        let none = found.named().into_iter().filter(|(_, c)| c.sd.value <= 0.0).map(|(source, _)| source);
        let none: Vec<_> = none.collect();
        if !none.is_empty() {
            warnings.push(format!(
                "by {method} the sd of {} is 0: it is not distinguishable from the residual; use the upper end of its \
                 interval",
                none.join(" and ")
            ));
        }
        if found.of_hand_sd.value <= 0.0 {
            warnings.push(format!(
                "by {method} the measurement variance exceeds the repeatability variance: the sd of pouring is below \
                 its resolution"
            ));
        }
    }
    warnings
}
