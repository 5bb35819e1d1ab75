//! What a contrast gives: a row for each pair of groups, a row for each group, and what must be said with it.

use crate::estimate::maybe;
use crate::estimate::{Estimate, Maybe, Undefined};
use crate::study::compare::equivalence::Equivalence;
use crate::table::{Table, Values};
use serde::Serialize;

/// Two ends, low and high, or the reason why there are none.
pub type MaybeInterval = std::result::Result<[f64; 2], Undefined>;

/// One group.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct GroupSummary {
    /// Its name.
    pub group: String,
    /// Independent units that it has: brews, or people or days where these are the unit.
    pub units: usize,
    /// Plain mean of them, with its standard error (NaN for a single one).
    pub mean: Estimate,
    /// Their sd; what differs between blocks is part of it.
    pub sd: f64,
}

/// One pair of groups: the second less the first.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Contrast {
    /// The first group.
    pub a: String,
    /// The second group.
    pub b: String,
    /// Independent units of the two that can be compared: those in cells that hold both.
    pub units: [usize; 2],
    /// b less a within cells, with its standard error (NaN where nothing is known of the scatter).
    pub difference: Estimate,
    /// Interval of the difference, for this pair alone.
    #[serde(with = "maybe")]
    pub interval: MaybeInterval,
    /// Interval of the difference by the bootstrap, which does not ask for normal scatter.
    #[serde(with = "maybe")]
    pub bootstrap_interval: MaybeInterval,
    /// Interval by Tukey and Kramer: the intervals of all pairs hold together.
    #[serde(with = "maybe")]
    pub tukey_interval: MaybeInterval,
    /// The difference in percent of the mean of a.
    #[serde(with = "maybe")]
    pub difference_pct: Maybe,
    /// Interval of that, for this pair alone, percent.
    #[serde(with = "maybe")]
    pub interval_pct: MaybeInterval,
    /// The difference over the sd within groups and cells, corrected for few values.
    #[serde(with = "maybe")]
    pub hedges_g: Maybe,
    /// Its interval.
    #[serde(with = "maybe")]
    pub hedges_g_interval: MaybeInterval,
    /// Difference over standard error.
    #[serde(with = "maybe")]
    pub t: Maybe,
    /// Degrees of freedom of that.
    pub degrees: f64,
    /// How often chance alone would make the groups differ as much: by dealing the groups anew within cells. The sd is that of the drawing.
    #[serde(with = "maybe")]
    pub p: Maybe,
    /// The same, corrected for the number of pairs (Holm).
    #[serde(with = "maybe")]
    pub p_holm: Maybe,
    /// The same, by Student's t, which asks for normal scatter.
    #[serde(with = "maybe")]
    pub p_model: Maybe,
    /// In how many ways the groups could have been dealt.
    pub arrangements: f64,
    /// p for the difference being the same at every level of the first blocking factor.
    #[serde(with = "maybe")]
    pub p_interaction: Maybe,
    /// Whether the two are alike within the margin, where one was stated.
    pub equivalence: Option<Equivalence>,
    /// The smallest true difference that this study finds with the power asked for.
    #[serde(with = "maybe")]
    pub minimum_detectable_difference: Maybe,
}

/// Every pair of groups, and what must be said with it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Contrasts {
    /// The groups, in the order of their first rows.
    pub groups: Vec<GroupSummary>,
    /// The pairs.
    pub pairs: Vec<Contrast>,
    /// How often chance alone would make all groups differ as much, by dealing them anew within cells.
    #[serde(with = "maybe")]
    pub overall_p: Maybe,
    /// F of all groups: Welch's without blocks, that of least squares with them.
    #[serde(with = "maybe")]
    pub overall_f: Maybe,
    /// p of that F.
    #[serde(with = "maybe")]
    pub overall_p_model: Maybe,
    /// Sd within groups and cells, with its standard error.
    #[serde(with = "maybe")]
    pub within_sd: Maybe,
    /// Share of the variance within groups and cells that the measurement itself brings, 0 to 1.
    #[serde(with = "maybe")]
    pub measurement_share: Maybe,
    /// What one independent unit is: "brew", or the factor whose levels carry the groups.
    pub unit: String,
    /// The blocking factors within whose combinations the groups were compared.
    pub blocks: Vec<String>,
    /// Share of intervals that hold the truth.
    pub level: f64,
    /// What must be said with these numbers.
    pub warnings: Vec<String>,
}

impl Contrasts {
    /// A row for each pair. What is undefined is NaN; why there is no p stands in the column `p_reason`.
    #[must_use]
    pub fn table(&self) -> Table {
        let mut table = Table::default();
        let texts = |of: &dyn Fn(&Contrast) -> String| Values::Text(self.pairs.iter().map(of).collect());
        let numbers = |of: &dyn Fn(&Contrast) -> f64| Values::Number(self.pairs.iter().map(of).collect());
        table.push("a", "", texts(&|c| c.a.clone()));
        table.push("b", "", texts(&|c| c.b.clone()));
        for (k, name) in ["units_a", "units_b"].into_iter().enumerate() {
            let count = |c: &Contrast| i64::try_from(c.units[k]).unwrap_or(i64::MAX);
            table.push(name, "", Values::Whole(self.pairs.iter().map(count).collect()));
        }
        table.push("difference", "", numbers(&|c| c.difference.value));
        table.push("difference_sd", "", numbers(&|c| c.difference.sd));
        type End = fn(&Contrast) -> &MaybeInterval;
        let intervals: [(&str, &str, &str, End); 3] = [
            ("low", "high", "", |c| &c.interval),
            ("bootstrap_low", "bootstrap_high", "", |c| &c.bootstrap_interval),
            ("tukey_low", "tukey_high", "", |c| &c.tukey_interval),
        ];
        let percent: [(&str, &str, &str, End); 1] = [("low_pct", "high_pct", "%", |c| &c.interval_pct)];
        let effect: [(&str, &str, &str, End); 1] =
            [("hedges_g_low", "hedges_g_high", "", |c| &c.hedges_g_interval)];
        let push_ends = |table: &mut Table, ends: &[(&str, &str, &str, End)]| {
            for &(low, high, unit, of) in ends {
                for (k, name) in [low, high].into_iter().enumerate() {
                    table.push(name, unit, numbers(&|c| of(c).as_ref().map_or(f64::NAN, |i| i[k])));
                }
            }
        };
        let value = |m: &Maybe| m.as_ref().map_or(f64::NAN, |e| e.value);
        push_ends(&mut table, &intervals);
        table.push("difference_pct", "%", numbers(&|c| value(&c.difference_pct)));
        push_ends(&mut table, &percent);
        table.push("hedges_g", "", numbers(&|c| value(&c.hedges_g)));
        push_ends(&mut table, &effect);
        table.push("t", "", numbers(&|c| value(&c.t)));
        table.push("degrees", "", numbers(&|c| c.degrees));
        table.push("p", "", numbers(&|c| value(&c.p)));
        table.push("p_holm", "", numbers(&|c| value(&c.p_holm)));
        table.push("p_model", "", numbers(&|c| value(&c.p_model)));
        table.push("p_interaction", "", numbers(&|c| value(&c.p_interaction)));
        let alike = |c: &Contrast| c.equivalence.as_ref().map_or(f64::NAN, |e| value(&e.p));
        table.push("p_equivalence", "", numbers(&alike));
        table.push(
            "minimum_detectable_difference",
            "",
            numbers(&|c| value(&c.minimum_detectable_difference)),
        );
        let reason = |c: &Contrast| c.p.as_ref().err().map_or(String::new(), |why| why.reason.clone());
        table.push("p_reason", "", texts(&reason));
        table
    }
}
