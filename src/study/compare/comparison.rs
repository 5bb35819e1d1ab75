//! In: a study, a measure, the factor to compare by and the factors to block by. Out: a [`Comparison`]: the contrasts,
//! the missing values, and the result in sentences.

use crate::error::{Error, Result};
use crate::rows::rows;
use crate::study::compare::blocks::Block;
use crate::study::compare::contrast::contrasts_of;
use crate::study::compare::contrast_options::ContrastOptions;
use crate::study::compare::contrasted::{Contrast, Contrasts, Verdict};
use crate::study::compare::inference::Inference;
use crate::study::compare::people::Over;
use crate::study::gather::study::{Study, Taken};
use crate::study::guards::caution::CautionKind;
use crate::study::guards::guard::guards;
use crate::table::{Table, Values};
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};

rows! { $
/// Differences of kettles, grinders, brewers or people in one measure.
///
/// ```
/// use pourline::{Comparison, ContrastOptions, compare};
/// use pourline::Study;
/// use pourline::{Table, Values};
/// let text = |words: &[&str]| Values::Text(words.iter().map(|w| (*w).into()).collect());
/// let mut table = Table::default();
/// table.push("kettle", "", text(&["Fernspout", "Broadlip"].repeat(6)));
/// table.push("person", "", text(&["Ada", "Ada", "Ada", "Ada", "Bo", "Bo", "Bo", "Bo", "Ada", "Ada", "Bo", "Bo"]));
/// let flow = [6.1, 6.9, 6.3, 7.0, 5.2, 6.1, 5.5, 6.3, 6.0, 7.2, 5.4, 6.0];
/// table.push("mean_flow_g_per_s", "g/s", Values::Number(flow.to_vec()));
/// let study = Study::of(&table)?;
/// let options = ContrastOptions::default();
/// let found: Comparison = compare(&study, "mean_flow_g_per_s", "kettle", &["person"], &options)?;
/// assert_eq!(found.contrasts.pairs.len(), 1);
/// assert!(found.sentences()[0].starts_with("Broadlip is 0.833 g/s above Fernspout"), "{}", found.sentences()[0]);
/// # Ok::<(), pourline::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Comparison {
    /// Name of the measure.
    pub measure: String,
    /// Unit of the measure, empty if it has none.
    pub unit: String,
    /// The factor whose levels are the groups.
    pub by: String,
    /// What the comparison rests on, a sentence: brews of each group, people, days.
    pub basis: String,
    /// The blocking factors, as requested.
    pub blocks: Vec<String> { hidden },
    /// Every pair of groups.
    pub contrasts: Contrasts { hidden },
    /// The values that were compared, each with its group.
    pub taken: Taken { hidden },
}
}

/// Compares the levels of a factor in one measure, within the levels of the blocking factors, such as the same person
/// on the same day. Rows of one brew (a study with one row per pour) are not independent: p is undefined for them.
///
/// # Errors
/// `argument` if the study has no such measure or factor, if no row has them all, or if there is a single group;
/// `out_of_range` for an option outside its range.
pub fn compare(
    study: &Study,
    measure: &str,
    by: &str,
    blocks: &[&str],
    options: &ContrastOptions,
) -> Result<Comparison> {
    if blocks.contains(&by) {
        let message = format!("{by:?} is the compared factor; a blocking factor must be another one");
        return Err(Error::Argument { name: "blocks".into(), message });
    }
    let factors: Vec<&str> = std::iter::once(by).chain(blocks.iter().copied()).collect();
    let taken = study.take(measure, &factors)?;
    if taken.values.is_empty() {
        let why = taken
            .missing
            .first()
            .map_or(String::new(), |m| format!(": {} of {}: {}", m.what, m.brew, m.reason));
        let message = format!("no row has it with {}{why}", factors.join(", "));
        return Err(Error::Argument { name: measure.into(), message });
    }
    let names = blocks.iter().zip(&taken.levels[1..]);
    let named: Vec<Block<String>> = names.map(|(name, labels)| Block { name, labels }).collect();
    let mut contrasts = contrasts_of(&taken.values, &taken.levels[0], &named, &taken.brews, options)?;
    contrasts.guard(guards(study, &taken, by, blocks, options.over == Over::PeopleLikeThese));
    Ok(Comparison {
        measure: measure.into(),
        unit: taken.unit.clone(),
        by: by.into(),
        blocks: factors[1..].iter().map(|b| (*b).into()).collect(),
        basis: basis(study, &taken),
        contrasts,
        taken,
    })
}

impl Comparison {
    /// The result, one sentence per pair of groups.
    #[must_use]
    pub fn sentences(&self) -> Vec<String> {
        self.contrasts.pairs.iter().map(|pair| self.sentence(pair)).collect()
    }

    fn sentence(&self, pair: &Contrast) -> String {
        let unit = match self.unit.as_str() {
            "" => String::new(),
            // A difference of percentages is in percentage points.
            "%" => " percentage points".into(),
            unit => format!(" {unit}"),
        };
        let level = 100.0 * self.contrasts.level;
        let decimals = decimals(pair.difference.sd);
        let side = if pair.difference.value < 0.0 { "below" } else { "above" };
        let size = pair.difference.value.abs();
        let mut said = format!("{} is {size:.decimals$}{unit} {side} {} in {}", pair.b, pair.a, self.measure);
        if self.contrasts.inference == Inference::People {
            said += " for people like these";
        }
        said += match pair.verdict {
            Verdict::Shown => ": shown",
            Verdict::Equivalent => ": equivalent",
            Verdict::NotShown => ": not shown",
        };
        if let (Verdict::Equivalent, Some(test)) = (pair.verdict, &pair.equivalence) {
            said += &format!(" within {}{unit}", test.margin);
        }
        match (&pair.p, &pair.interval) {
            (Ok(p), Ok([low, high])) => {
                let p = short(p.value);
                let all = match self.contrasts.measures {
                    1 => String::new(),
                    m => format!(" for all {m} measures"),
                };
                said += &format!(
                    " ({level:.0} % interval {low:+.decimals$} to {high:+.decimals$}{unit}, p {p}{all})"
                );
            }
            (Ok(p), Err(_)) => said += &format!(" (p {})", short(p.value)),
            (Err(why), _) => said += &format!("; no p: {}", why.reason),
        }
        if let (Verdict::Shown, Some(other)) = (pair.verdict, self.confounder()) {
            said += &format!(", but {other} changes with {}", self.by);
        }
        if let Some((margin, alike)) =
            pair.equivalence.as_ref().and_then(|test| Some((test.margin, test.alike?)))
            && pair.verdict != Verdict::Equivalent
        {
            let alike = if alike { "equivalent" } else { "not shown to be equivalent" };
            said += &format!("; {alike} within {margin}{unit}");
        }
        if let (Verdict::NotShown, Ok(_), Ok(see)) =
            (pair.verdict, &pair.p, &pair.minimum_detectable_difference)
        {
            said += &format!("; minimum detectable difference {:.decimals$}{unit}", see.value);
        }
        said + "."
    }

    /// What else changes with the groups: a factor, or the order of the brews.
    fn confounder(&self) -> Option<&str> {
        self.contrasts.cautions.iter().find_map(|caution| match caution.kind {
            CautionKind::Confounded => Some(caution.about.as_str()),
            CautionKind::Order => Some("the order of the brews"),
            _ => None,
        })
    }

    /// One row per pair of groups; differences in the unit of the measure.
    #[must_use]
    pub fn table(&self) -> Table {
        let mut table = self.contrasts.table_in(&self.unit);
        let mut all = Table::default();
        all.push("measure", "", Values::Text(vec![self.measure.clone(); table.rows()]));
        all.columns.append(&mut table.columns);
        all
    }

    /// One row per value: brew, group, levels of the blocks, the value and its own sd.
    #[must_use]
    pub fn values_table(&self) -> Table {
        let factors: Vec<String> = std::iter::once(&self.by).chain(&self.blocks).cloned().collect();
        self.taken.table(&factors)
    }

    /// One row per group: its mean with standard error, its sd, its independent units.
    #[must_use]
    pub fn groups_table(&self) -> Table {
        let groups = &self.contrasts.groups;
        let mut table = Table::default();
        table.push(&self.by, "", Values::Text(groups.iter().map(|g| g.group.clone()).collect()));
        table.push("units", "", Values::Whole(groups.iter().map(|g| g.units as i64).collect()));
        table.push("mean", &self.unit, Values::Number(groups.iter().map(|g| g.mean.value).collect()));
        table.push("mean_sd", &self.unit, Values::Number(groups.iter().map(|g| g.mean.sd).collect()));
        table.push("sd", &self.unit, Values::Number(groups.iter().map(|g| g.sd).collect()));
        table
    }
}

/// Brews of each group, people and days, as far as they are known.
fn basis(study: &Study, taken: &Taken) -> String {
    let mut brews: BTreeMap<&String, BTreeSet<&String>> = BTreeMap::new();
    for (level, brew) in taken.levels[0].iter().zip(&taken.brews) {
        brews.entry(level).or_default().insert(brew);
    }
    let mut levels: Vec<&String> = taken.levels[0].iter().collect();
    let mut seen = BTreeSet::new();
    levels.retain(|level| seen.insert(*level));
    let each: Vec<String> = levels.iter().map(|level| format!("{level} {}", brews[*level].len())).collect();
    let rows = || taken.rows.iter().map(|row| &study.rows[*row]);
    let known = |name: &str, level: Option<BTreeSet<&str>>| match level.map(|all| all.len()) {
        Some(1) => format!("1 {}", if name == "people" { "person" } else { "day" }),
        Some(n) => format!("{n} {name}"),
        None => format!("{name} not stated"),
    };
    let of = |name: &str| -> Option<BTreeSet<&str>> {
        rows().map(|row| row.factors.get(name).map(String::as_str)).collect()
    };
    let days = of("day").or_else(|| rows().map(|row| row.started_at.as_ref()?.get(..10)).collect());
    let total: usize = brews.values().map(BTreeSet::len).sum();
    format!("{total} brews ({}); {}; {}", each.join(", "), known("people", of("person")), known("days", days))
}

/// Decimals of a value with this standard error.
fn decimals(sd: f64) -> usize {
    if !(sd > 0.0 && sd.is_finite()) {
        return 3;
    }
    (1.0 - sd.log10().floor()).clamp(0.0, 9.0) as usize
}

fn short(p: f64) -> String {
    if p < 0.001 { "below 0.001".into() } else { format!("{p:.3}") }
}
