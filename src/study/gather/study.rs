//! In: rows of factors and numbers. Out: one measure with its factors, as input of the statistics, and the missing
//! values with reasons.

use crate::error::{Error, Result};
use crate::estimate::{Estimate, Maybe, Undefined};
use crate::rows::rows;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};

/// One brew, or one pour of it.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct StudyRow {
    /// Name of the brew: rows of one name are not independent.
    pub brew: String,
    /// Number of the pour, from 1, if a row is a pour.
    pub pour: Option<usize>,
    /// When the brew began, as written: the order of the brews.
    pub started_at: Option<String>,
    /// The first start on the clock of its log, s: the zero of the instants that are compared.
    #[serde(default)]
    pub time_zero_s: f64,
    /// Kettle, person, day and so on: the level of each factor that is known.
    pub factors: BTreeMap<String, String>,
    /// Every number by its name.
    #[serde(with = "numbers")]
    pub numbers: BTreeMap<String, Maybe>,
    /// For a number that is a mean over pours: the pours it lacks, with the reasons.
    pub left_out: BTreeMap<String, Vec<String>>,
    /// Warnings of the brew.
    pub warnings: Vec<String>,
}

/// Numbers by name, each as any number that may be undefined.
mod numbers {
    use crate::estimate::{Maybe, maybe};
    use serde::{Deserialize, Deserializer, Serialize, Serializer};
    use std::collections::BTreeMap;

    #[derive(Serialize)]
    struct Written<'a>(#[serde(serialize_with = "maybe::serialize")] &'a Maybe);

    #[derive(Deserialize)]
    struct Read(#[serde(deserialize_with = "maybe::deserialize")] Maybe);

    pub(super) fn serialize<S: Serializer>(all: &BTreeMap<String, Maybe>, to: S) -> Result<S::Ok, S::Error> {
        to.collect_map(all.iter().map(|(name, number)| (name, Written(number))))
    }

    pub(super) fn deserialize<'de, D: Deserializer<'de>>(
        from: D,
    ) -> Result<BTreeMap<String, Maybe>, D::Error> {
        let all = BTreeMap::<String, Read>::deserialize(from)?;
        Ok(all.into_iter().map(|(name, number)| (name, number.0)).collect())
    }
}

rows! { $
/// Brews in rows: the input of every comparison.
///
/// ```
/// use pourline::study::{Missing, StudyRow, Taken};
/// use pourline::{Pours, Study, gather};
/// use pourline::{Meta, Options, Recipe, analyze, simulate};
/// let brewed = |kettle: &str, seed| {
///     let meta = Meta { kettle: Some(kettle.into()), ..Meta::default() };
///     let (log, _truth) = simulate(&Recipe { meta, ..Recipe::default() }, seed)?;
///     analyze(&log, &Options::default())
/// };
/// let study: Study = gather(&[brewed("Fernspout", 1)?, brewed("Broadlip", 2)?], Pours::Mean)?;
/// let first: &StudyRow = &study.rows[0];
/// assert_eq!(first.factors["kettle"], "Fernspout");
/// let taken: Taken = study.take("mean_flow_g_per_s", &["kettle"])?;
/// assert_eq!(taken.levels[0], ["Fernspout", "Broadlip"]);
/// // The bed's shape was not given: both brews are missing, each with that reason.
/// let missing: Vec<Missing> = study.take("permeability_m2", &[])?.missing;
/// assert_eq!((missing.len(), missing[0].reason.as_str()), (2, "pour 1, 2, 3, 4: flat_bed was not given"));
/// # Ok::<(), pourline::Error>(())
/// ```
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Study {
    /// The rows.
    pub rows: Vec<StudyRow> { hidden },
    /// Unit of each number that has one.
    pub units: BTreeMap<String, String> { hidden },
    /// Brews without a row, such as a log with an error: every measure lists them as missing.
    pub failed: Vec<Missing> { hidden },
}
}

/// A row that is excluded, or included with some of its pours.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct Missing {
    /// Name of the brew.
    pub brew: String,
    /// Number of the pour, from 1, if a row is a pour.
    pub pour: Option<usize>,
    /// The number or factor that is missing.
    pub what: String,
    /// Why.
    pub reason: String,
}

/// One measure with its factors. All vectors are as long as `values`.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Taken {
    /// The measure.
    pub measure: String,
    /// Its unit, empty if it has none.
    pub unit: String,
    /// Its values.
    pub values: Vec<Estimate>,
    /// For each requested factor, its level in each row.
    pub levels: Vec<Vec<String>>,
    /// Name of the brew of each row.
    pub brews: Vec<String>,
    /// Index of each row in the study.
    pub rows: Vec<usize>,
    /// Excluded rows.
    pub missing: Vec<Missing>,
    /// Rows whose value is a mean that lacks some pours.
    pub partial: Vec<Missing>,
}

/// Instants, which are compared from the first start: the clocks of logs have no common origin.
const INSTANTS: [&str; 7] =
    ["start_s", "end_s", "half_rise_s", "half_fall_s", "peak_s", "first_drip_s", "drawdown_end_s"];

impl Study {
    /// Names of all factors, sorted.
    #[must_use]
    pub fn factors(&self) -> Vec<String> {
        names(self.rows.iter().flat_map(|row| row.factors.keys()))
    }

    /// Names of all numbers, sorted.
    #[must_use]
    pub fn measures(&self) -> Vec<String> {
        names(self.rows.iter().flat_map(|row| row.numbers.keys()))
    }

    /// Names of the brews that carry warnings, sorted.
    #[must_use]
    pub fn warned(&self) -> Vec<String> {
        names(self.rows.iter().filter(|row| !row.warnings.is_empty()).map(|row| &row.brew))
    }

    /// The study without the brews that carry warnings; every measure lists these as missing.
    #[must_use]
    pub fn without_warned(mut self) -> Self {
        let (kept, dropped): (Vec<StudyRow>, _) =
            self.rows.into_iter().partition(|row| row.warnings.is_empty());
        self.rows = kept;
        self.failed.extend(dropped.into_iter().map(|row| Missing {
            brew: row.brew,
            pour: row.pour,
            what: "brew".into(),
            reason: format!("it carries a warning: {}", row.warnings.join("; ")),
        }));
        self
    }

    /// The levels of a factor, sorted; empty if no row has it.
    #[must_use]
    pub fn levels(&self, factor: &str) -> Vec<String> {
        names(self.rows.iter().filter_map(|row| row.factors.get(factor)))
    }

    /// The rows in which the factor has that level.
    ///
    /// # Errors
    /// `argument` if there is no such factor or level; it lists the existing ones.
    pub fn only(&self, factor: &str, level: &str) -> Result<Self> {
        self.known_factor(factor)?;
        self.known(factor, level, &self.levels(factor))?;
        let here = |row: &&StudyRow| row.factors.get(factor).is_some_and(|l| l == level);
        Ok(Self { rows: self.rows.iter().filter(here).cloned().collect(), ..self.without_rows() })
    }

    /// One measure with the levels of some factors. A row that lacks any of them is listed in `missing`. A factor whose
    /// levels are numbers, such as the setting of a grinder, can be taken as a measure. Instants count from the first
    /// start of each brew.
    ///
    /// # Errors
    /// `argument` if no row has that measure or one of the factors; it lists the existing ones.
    pub fn take(&self, measure: &str, factors: &[&str]) -> Result<Taken> {
        let measures = self.measures();
        if !self.factors().iter().any(|f| f == measure) {
            self.known("measure", measure, &measures)?;
        }
        for factor in factors {
            self.known_factor(factor)?;
        }
        let unit = self.units.get(measure).cloned().unwrap_or_default();
        let missing = self.failed.clone();
        let mut taken = Taken { measure: measure.into(), unit, missing, ..Taken::default() };
        taken.levels = vec![Vec::new(); factors.len()];
        for (i, row) in self.rows.iter().enumerate() {
            let missing = |what: &str, reason: &str| Missing {
                brew: row.brew.clone(),
                pour: row.pour,
                what: what.into(),
                reason: reason.into(),
            };
            let value = match row.number(measure) {
                Ok(at) if INSTANTS.contains(&measure) => at.minus(Estimate::exact(row.time_zero_s)),
                Ok(value) => value,
                Err(why) => {
                    taken.missing.push(missing(measure, &why.reason));
                    continue;
                }
            };
            if let Some(lacking) = factors.iter().find(|f| !row.factors.contains_key(**f)) {
                taken.missing.push(missing(lacking, "it was not given"));
                continue;
            }
            for (levels, factor) in taken.levels.iter_mut().zip(factors) {
                levels.push(row.factors[*factor].clone());
            }
            if let Some(pours) = row.left_out.get(measure) {
                taken.partial.push(missing(measure, &pours.join("; ")));
            }
            taken.values.push(value);
            taken.brews.push(row.brew.clone());
            taken.rows.push(i);
        }
        Ok(taken)
    }

    fn without_rows(&self) -> Self {
        Self { rows: Vec::new(), units: self.units.clone(), failed: self.failed.clone() }
    }

    pub(super) fn known_factor(&self, factor: &str) -> Result<()> {
        self.known("factor", factor, &self.factors())
    }

    fn known(&self, kind: &str, name: &str, there: &[String]) -> Result<()> {
        if there.iter().any(|known| known == name) {
            return Ok(());
        }
        let meant = meant(name, there);
        let remedy = match &meant[..] {
            [] if there.is_empty() => "the study has none".into(),
            [] => format!("there are: {}", there.join(", ")),
            some => format!("perhaps {}", some.join(" or ")),
        };
        let message = format!("there is no {kind} {name:?}; {remedy}");
        Err(Error::Argument { name: kind.into(), message })
    }
}

impl StudyRow {
    /// A number, or a factor whose level is one.
    ///
    /// # Errors
    /// Why it is undefined.
    pub fn number(&self, name: &str) -> Maybe {
        if let Some(number) = self.numbers.get(name) {
            return number.clone();
        }
        let level = self.factors.get(name).ok_or_else(|| Undefined::because("it was not given"))?;
        match level.trim().parse::<f64>() {
            Ok(value) if value.is_finite() => Ok(Estimate::exact(value)),
            _ => Err(Undefined::because(format!("{level:?} is not a number"))),
        }
    }
}

/// Words of the trade, and the measures that they stand for.
const WORDS: [(&str, &[&str]); 8] = [
    ("steadiness", &["time_near_plateau_pct", "flow_cv"]),
    ("evenness", &["time_near_plateau_pct", "flow_cv"]),
    ("flow", &["mean_flow_g_per_s", "plateau_flow_g_per_s"]),
    ("peak", &["peak_flow_g_per_s", "peak_to_mean_flow"]),
    ("drawdown", &["drawdown_end_s"]),
    ("yield", &["yield_pct"]),
    ("water", &["water_g"]),
    ("ratio", &["brew_ratio"]),
];
/// At most this many names are proposed.
const PROPOSED: usize = 4;

/// The names that may be meant: those of a word of the trade, or those that hold all words of the name.
fn meant<'a>(name: &str, there: &'a [String]) -> Vec<&'a str> {
    let plain = name.to_lowercase().replace([' ', '-'], "_");
    let of_word = WORDS.iter().find(|(word, _)| plain == *word).map_or(&[][..], |(_, names)| names);
    let by_word = there.iter().filter(|known| of_word.contains(&known.as_str()));
    let parts: Vec<&str> = plain.split('_').filter(|part| part.len() > 2).collect();
    let holds = |known: &&String| !parts.is_empty() && parts.iter().all(|part| known.contains(part));
    let found: Vec<&str> = by_word.map(String::as_str).collect();
    if found.is_empty() {
        return there.iter().filter(holds).take(PROPOSED).map(String::as_str).collect();
    }
    found
}

fn names<'a>(all: impl Iterator<Item = &'a String>) -> Vec<String> {
    all.collect::<BTreeSet<_>>().into_iter().cloned().collect()
}
