//! Result of a contrast: one row per pair of groups, one row per group, and warnings.

use crate::estimate::{Estimate, Maybe, Undefined};
use crate::rows::{rows, sd_name, words};
use crate::study::compare::columns::{UNIT, columns};
use crate::study::compare::equivalence::Equivalence;
use crate::study::compare::inference::Inference;
use crate::study::guards::caution::Caution;
use crate::table::{Table, Values};
use serde::{Deserialize, Serialize};

/// Lower and upper end, or the reason why they are undefined.
pub type MaybeInterval = std::result::Result<[f64; 2], Undefined>;

rows! { $
/// One group of a contrast.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct GroupSummary {
    /// Name of the group.
    pub group: String,
    /// Experimental units of the group: brews, or people or days if these are the unit.
    pub units: usize,
    /// Plain mean of the units, with its standard error (NaN for a single one).
    pub mean: Estimate,
    /// Sd of the units; it includes the variance between blocks.
    pub sd: f64,
}
}

words! {
/// What a pair of groups shows.
pub enum Verdict {
    /// A difference: p is at most 1 - level, and the interval does not have 0.
    Shown = "shown",
    /// Neither a difference nor equivalence. A difference may still exist: the interval says how large.
    NotShown = "not shown",
    /// No difference beyond the margin: the interval at twice the tail lies within it.
    Equivalent = "equivalent",
}
}

impl Verdict {
    pub(super) fn of(found: &Contrast, level: f64) -> Self {
        // 1 - level is a difference of rounded numbers.
        let is_small = found.p.as_ref().is_ok_and(|p| p.value <= (1.0 - level) * (1.0 + 1e-9));
        match &found.equivalence {
            _ if is_small => Self::Shown,
            Some(test) if test.alike == Some(true) => Self::Equivalent,
            _ => Self::NotShown,
        }
    }
}

rows! { $
/// One pair of groups: the second less the first.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Contrast {
    /// The first group.
    pub a: String,
    /// The second group.
    pub b: String,
    /// Experimental units of the two groups in cells that have both.
    pub units: [usize; 2],
    /// b less a within cells, with its standard error (NaN if the variance is unknown).
    pub difference: Estimate,
    /// Interval of the difference: the differences that p does not reject. Those of all pairs hold together.
    pub interval: Result<[f64; 2], Undefined>,
    /// The difference in percent of the mean of a.
    pub difference_pct: Maybe,
    /// Interval of the difference in percent: it has 0 only if the interval of the difference has.
    pub interval_pct: Result<[f64; 2], Undefined>,
    /// Hedges' g: the difference over the sd within groups and cells, corrected for few values.
    pub hedges_g: Maybe,
    /// Interval of Hedges' g.
    pub hedges_g_interval: Result<[f64; 2], Undefined>,
    /// Student's t: the difference over its standard error.
    pub t: Maybe,
    /// Degrees of freedom of t.
    pub degrees: f64,
    /// p of no difference, by the method of `inference`; with several pairs it holds for all of them together.
    ///
    /// The sd is that of the sampled permutations.
    pub p: Maybe,
    /// "shown" (p is at most 1 - level), "equivalent" (within the margin, and no difference is shown) or "not shown".
    pub verdict: Verdict,
    /// p by Student's t for this pair alone, which assumes normal residuals.
    pub p_model: Maybe,
    /// Number of distinct permutations, if these give p; else 1.
    pub arrangements: f64,
    /// p of the test that the difference is the same at every level of the first blocking factor.
    pub p_interaction: Maybe,
    /// Whether the two are equivalent within the margin, if one was stated.
    pub equivalence: Option<Equivalence>,
    /// Minimum detectable difference: the smallest one that this study detects with the stated power.
    pub minimum_detectable_difference: Maybe,
}
}

rows! { $
/// Every pair of groups, with cautions.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Contrasts {
    /// The groups, in the order of their first rows.
    pub groups: Vec<GroupSummary>,
    /// The pairs of groups.
    pub pairs: Vec<Contrast>,
    /// p by permutation of all groups within cells, against no difference between any.
    pub overall_p: Maybe,
    /// F of all groups: Welch's without blocks, that of least squares with them.
    pub overall_f: Maybe,
    /// p of the F of all groups.
    pub overall_p_model: Maybe,
    /// Sd within groups and cells, with its standard error.
    pub within_sd: Maybe,
    /// Share of the variance within groups and cells that is measurement uncertainty, 0 to 1.
    pub measurement_share: Maybe,
    /// Method of p and interval: "dealing", "games_howell" (unequal counts without blocks) or "people".
    pub inference: Inference,
    /// The experimental unit: "brew", or the factor whose levels carry the groups.
    pub unit: String,
    /// The blocking factors within whose combinations the groups were compared.
    pub blocks: Vec<String>,
    /// Level of the intervals: the share of them that hold the true value.
    pub level: f64,
    /// Number of measures that are tested together: p and intervals hold for all of them.
    pub measures: usize,
    /// What limits these numbers, each with its kind.
    pub cautions: Vec<Caution>,
}
}

impl Contrasts {
    /// Adds the cautions of the design before the others, and those of the values after them.
    pub(super) fn guard(&mut self, [design, values]: [Vec<Caution>; 2]) {
        self.cautions.splice(0..0, design);
        self.cautions.extend(values);
    }

    /// Makes each p that of all measures together, as the intervals are already (Dunn 1961, J. Am. Stat. Assoc. 56,
    /// 52).
    pub(super) fn count_measures(&mut self) {
        let m = self.measures as f64;
        let all = self.pairs.iter_mut().map(|pair| &mut pair.p).chain([&mut self.overall_p]);
        for p in all.filter_map(|p| p.as_mut().ok()) {
            *p = Estimate::new((m * p.value).min(1.0), m * p.sd);
        }
    }

    /// The texts of the cautions.
    #[must_use]
    pub fn warnings(&self) -> Vec<String> {
        self.cautions.iter().map(|caution| caution.text.clone()).collect()
    }

    /// One row per pair. Undefined values are NaN; the column `p_reason` has the reason for no p.
    #[must_use]
    pub fn table(&self) -> Table {
        self.table_in("")
    }

    /// That table, if the values have this unit.
    pub(super) fn table_in(&self, unit: &str) -> Table {
        let (mut table, rows) = (Table::default(), columns());
        let mut push = |name: &str, values: Values| {
            let row = rows.iter().find(|row| row.name == name || sd_name(row.name) == name);
            table.push(name, row.map_or("", |row| if row.unit == UNIT { unit } else { row.unit }), values);
        };
        let texts = |of: &dyn Fn(&Contrast) -> String| Values::Text(self.pairs.iter().map(of).collect());
        let numbers = |of: &dyn Fn(&Contrast) -> f64| Values::Number(self.pairs.iter().map(of).collect());
        let value = |m: &Maybe| m.as_ref().map_or(f64::NAN, |e| e.value);
        let maybe = |of: fn(&Contrast) -> &Maybe| numbers(&|c| value(of(c)));
        let end = |k: usize, of: fn(&Contrast) -> &MaybeInterval| {
            numbers(&|c| of(c).as_ref().map_or(f64::NAN, |ends| ends[k]))
        };
        push("a", texts(&|c| c.a.clone()));
        push("b", texts(&|c| c.b.clone()));
        for (k, name) in ["units_a", "units_b"].into_iter().enumerate() {
            let count = |c: &Contrast| i64::try_from(c.units[k]).unwrap_or(i64::MAX);
            push(name, Values::Whole(self.pairs.iter().map(count).collect()));
        }
        push("difference", numbers(&|c| c.difference.value));
        push("difference_sd", numbers(&|c| c.difference.sd));
        push("low", end(0, |c| &c.interval));
        push("high", end(1, |c| &c.interval));
        push("difference_pct", maybe(|c| &c.difference_pct));
        push("low_pct", end(0, |c| &c.interval_pct));
        push("high_pct", end(1, |c| &c.interval_pct));
        push("hedges_g", maybe(|c| &c.hedges_g));
        push("hedges_g_low", end(0, |c| &c.hedges_g_interval));
        push("hedges_g_high", end(1, |c| &c.hedges_g_interval));
        push("t", maybe(|c| &c.t));
        push("degrees", numbers(&|c| c.degrees));
        push("p", maybe(|c| &c.p));
        push("p_model", maybe(|c| &c.p_model));
        push("p_interaction", maybe(|c| &c.p_interaction));
        push("p_equivalence", numbers(&|c| c.equivalence.as_ref().map_or(f64::NAN, |e| value(&e.p))));
        push("minimum_detectable_difference", maybe(|c| &c.minimum_detectable_difference));
        let reason = |c: &Contrast| c.p.as_ref().err().map_or(String::new(), |why| why.reason.clone());
        push("verdict", texts(&|c| c.verdict.name().into()));
        push("p_reason", texts(&reason));
        table
    }
}
