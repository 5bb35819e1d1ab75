//! The design of a study before its first brew: which brew is made with what, by whom, on which day, in which order.
//!
//! The person and the day are blocks. Combinations of all other factors are the treatments, randomised within each turn
//! of a person. People take turns in the order of a Latin square. The orders of the treatments are rows of Williams
//! squares, so that place in the turn and the treatment before are balanced. Treatments and rows are dealt with `seed`.

use crate::error::{Error, Result};
use crate::math::random::Random;
use crate::rows::rows;
use crate::study::schedule::squares::williams;
use crate::table::{Table, Values};
use serde::{Deserialize, Serialize};
use std::collections::BTreeSet;

/// The factor of the people, who are blocks.
const PERSON: &str = "person";
const DAY: &str = "day";
/// Names that the table of the schedule has itself.
const OWN: [&str; 5] = [DAY, "file", "planned_order", "order", "name"];
/// More treatments or brews are taken for a mistake.
const MOST_TREATMENTS: usize = 100;
const MOST_BREWS: usize = 10_000;

rows! { $
/// The brews of a study in a balanced random order.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Schedule {
    /// The factors, as given.
    pub factors: Vec<String>,
    /// Level of each factor, for each brew.
    pub levels: Vec<Vec<String>> { hidden },
    /// Day of each brew, from 1.
    pub days: Vec<usize> { hidden },
    /// Blocking factors of the comparison: "person", if it is a factor, and "day".
    pub blocks: Vec<String>,
    /// Number of brews.
    pub brews: usize,
    /// Seed of the order.
    pub seed: u64,
    /// Smallest p that comparing two levels of the first factor within the blocks can give.
    pub smallest_p: f64,
    /// The design in sentences.
    pub says: String,
}
}

/// A balanced random order of brews: every combination of `factors` (each with its levels), `repeats` times on each of
/// `days` days.
///
/// The factor "person" and the day are blocks; all other factors are randomised within each turn of a person.
///
/// ```
/// use pourline::{Schedule, design};
/// let levels = |names: [&str; 2]| names.map(String::from).to_vec();
/// let factors = [("kettle".into(), levels(["thin", "wide"])), ("person".into(), levels(["Ada", "Bo"]))];
/// let found: Schedule = design(&factors, 3, 2, 7)?;
/// // 2 kettles by 2 people, 3 times on 2 days.
/// assert_eq!((found.brews, found.blocks.join(" ")), (24, "person day".into()));
/// // Each person has 3 and 3 brews on each day: 20 ways, in 4 cells; two of the ways are the most extreme.
/// assert!((found.smallest_p - 2.0 / 160_000.0).abs() < 1e-12);
/// # Ok::<(), pourline::Error>(())
/// ```
///
/// # Errors
/// `argument` for no factor but the person, a factor of one level, levels that are alike but for case or blanks, or
/// too many brews; `out_of_range` for no repeat or day.
pub fn design(factors: &[(String, Vec<String>)], repeats: usize, days: usize, seed: u64) -> Result<Schedule> {
    check(factors, repeats, days)?;
    let treated: Vec<usize> = (0..factors.len()).filter(|&k| factors[k].0 != PERSON).collect();
    let people = factors.iter().position(|(name, _)| name == PERSON);
    let people_count = people.map_or(1, |k| factors[k].1.len());
    let treatments = treated.iter().map(|&k| factors[k].1.len()).product::<usize>();
    let brews = treatments.saturating_mul(people_count).saturating_mul(repeats).saturating_mul(days);
    if treatments > MOST_TREATMENTS || brews > MOST_BREWS {
        let message = format!(
            "{treatments} combinations and {brews} brews are too many: at most {MOST_TREATMENTS} and {MOST_BREWS}"
        );
        return Err(Error::Argument { name: "factors".into(), message });
    }
    let mut random = Random::stream(seed, "design");
    let rows = williams(treatments);
    let mut pass: Vec<usize> = (0..rows.len()).collect();
    let mut labels: Vec<usize> = (0..treatments).collect();
    let mut turns: Vec<usize> = (0..people_count).collect();
    shuffle(&mut labels, &mut random);
    shuffle(&mut turns, &mut random);
    let mut found = Schedule {
        factors: factors.iter().map(|(name, _)| name.clone()).collect(),
        levels: Vec::with_capacity(brews),
        days: Vec::with_capacity(brews),
        blocks: people.map(|_| PERSON.into()).into_iter().chain([DAY.into()]).collect(),
        brews,
        seed,
        smallest_p: smallest_p(factors[treated[0]].1.len(), treatments * repeats, people_count * days),
        says: String::new(),
    };
    for session in 0..days * repeats {
        if session % rows.len() == 0 {
            // Each person brews every row of the square once before one returns, and two people begin with other rows.
            shuffle(&mut pass, &mut random);
        }
        for turn in 0..people_count {
            let person = turns[(turn + session) % people_count];
            for &treatment in &rows[pass[(session + person) % rows.len()]] {
                let mut rest = labels[treatment];
                let mut levels = vec![String::new(); factors.len()];
                for &k in &treated {
                    let count = factors[k].1.len();
                    levels[k].clone_from(&factors[k].1[rest % count]);
                    rest /= count;
                }
                if let Some(k) = people {
                    levels[k].clone_from(&factors[k].1[person]);
                }
                found.levels.push(levels);
                found.days.push(session / repeats + 1);
            }
        }
    }
    found.says = found.sentence(factors, repeats, days);
    Ok(found)
}

/// Smallest p of two levels, dealt within `cells` of `brews` each, of which each level has its share.
fn smallest_p(levels: usize, brews: usize, cells: usize) -> f64 {
    let each = brews / levels;
    let ways: f64 = (1..=each).map(|k| (each + k) as f64 / k as f64).product();
    2.0 / ways.powi(i32::try_from(cells).unwrap_or(i32::MAX))
}

fn shuffle<T>(all: &mut [T], random: &mut Random) {
    for k in (1..all.len()).rev() {
        all.swap(k, random.count([0, u32::try_from(k).unwrap_or(u32::MAX)]) as usize);
    }
}

fn check(factors: &[(String, Vec<String>)], repeats: usize, days: usize) -> Result<()> {
    let refuse = |message: String| Err(Error::Argument { name: "factors".into(), message });
    for (name, value) in [("repeats", repeats), ("days", days)] {
        if !(1..=MOST_BREWS).contains(&value) {
            let rule = format!("it must be 1 to {MOST_BREWS}");
            return Err(Error::OutOfRange { name: name.into(), value: value as f64, rule, row: 0 });
        }
    }
    if factors.iter().all(|(name, _)| name == PERSON) {
        return refuse("a factor besides the person is needed, such as the kettle".into());
    }
    let mut names = BTreeSet::new();
    for (name, levels) in factors {
        if name.trim().is_empty() || OWN.contains(&name.as_str()) || !names.insert(name) {
            return refuse(format!("{name:?} is no name for a factor: it is empty, taken or there twice"));
        }
        if levels.len() < 2 && name != PERSON || levels.is_empty() {
            return refuse(format!("{name} has {} level; a factor needs two", levels.len()));
        }
        let alike: BTreeSet<String> = levels.iter().map(|level| level.trim().to_lowercase()).collect();
        if alike.len() < levels.len() || alike.contains("") {
            return refuse(format!("levels of {name} are empty, or alike but for case or blanks"));
        }
    }
    Ok(())
}

impl Schedule {
    fn sentence(&self, factors: &[(String, Vec<String>)], repeats: usize, days: usize) -> String {
        let counts: Vec<String> =
            factors.iter().map(|(name, levels)| format!("{} by {name}", levels.len())).collect();
        let s = |n: usize| if n == 1 { "" } else { "s" };
        let blocks = self.blocks.join(" and ");
        let p = if self.smallest_p > 0.05 {
            format!(
                "No p can be below 0.05: the smallest is {:.2}. Add repeats, days or people.",
                self.smallest_p.min(1.0)
            )
        } else {
            let p = self.smallest_p;
            format!("The smallest p is {}.", if p < 1e-4 { "below 0.0001".into() } else { format!("{p:.4}") })
        };
        format!(
            "{} brews: {}, {repeats} time{} on each of {days} day{}. Compare within {blocks}. {p}",
            self.brews,
            counts.join(", "),
            s(repeats),
            s(days)
        )
    }

    /// One row per brew in the planned order: the name of its file, its place, its day, the level of each factor.
    #[must_use]
    pub fn table(&self) -> Table {
        let mut table = Table::default();
        let wide = self.brews.to_string().len().max(2);
        let file = |k: usize| format!("{k:0wide$}.csv");
        table.push("file", "", Values::Text((1..=self.brews).map(file).collect()));
        table.push("planned_order", "", Values::Whole((1..=self.brews as i64).collect()));
        table.push(DAY, "", Values::Whole(self.days.iter().map(|day| *day as i64).collect()));
        for (k, name) in self.factors.iter().enumerate() {
            table.push(name, "", Values::Text(self.levels.iter().map(|levels| levels[k].clone()).collect()));
        }
        table
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeMap;

    fn factors(counts: &[(&str, usize)]) -> Vec<(String, Vec<String>)> {
        let levels = |name: &str, n: usize| (1..=n).map(|k| format!("{name} {k}")).collect();
        counts.iter().map(|(name, n)| ((*name).to_string(), levels(name, *n))).collect()
    }

    #[test]
    fn every_combination_is_brewed_as_often_on_each_day() {
        let found = design(&factors(&[("kettle", 2), ("grind", 3), ("person", 2)]), 2, 3, 7).unwrap();
        let mut counts = BTreeMap::new();
        found.levels.iter().zip(&found.days).for_each(|one| *counts.entry(one).or_insert(0) += 1);
        assert_eq!((found.brews, counts.len()), (72, 36));
        assert!(counts.values().all(|n| *n == 2));
    }

    #[test]
    fn the_order_is_balanced_for_each_person() {
        for seed in 0..20 {
            let found = design(&factors(&[("kettle", 2), ("person", 2)]), 2, 2, seed).unwrap();
            for person in ["person 1", "person 2"] {
                let mine: Vec<&String> = found
                    .levels
                    .iter()
                    .filter(|levels| levels[1] == person)
                    .map(|levels| &levels[0])
                    .collect();
                let first = mine.chunks(2).filter(|pair| pair[0] == "kettle 1").count();
                assert_eq!((mine.len(), first), (8, 2), "seed {seed}: {mine:?}");
            }
        }
    }

    #[test]
    fn seeds_give_different_orders_and_a_seed_the_same() {
        let order = |seed| design(&factors(&[("kettle", 4), ("person", 3)]), 1, 2, seed).unwrap().levels;
        assert_eq!(order(1), order(1));
        let all: BTreeSet<_> = (0..20).map(order).collect();
        assert!(all.len() > 15, "{}", all.len());
    }

    #[test]
    fn what_is_no_design_is_refused() {
        let one = |counts: &[(&str, usize)]| design(&factors(counts), 1, 1, 0).unwrap_err().to_string();
        assert!(one(&[("person", 3)]).contains("besides the person"));
        assert!(one(&[("kettle", 1)]).contains("needs two"));
        assert!(one(&[("day", 2)]).contains("no name"));
        assert!(one(&[("kettle", 101)]).contains("too many"));
        let alike = [("kettle".to_string(), vec!["Thin".to_string(), "thin ".to_string()])];
        assert!(design(&alike, 1, 1, 0).unwrap_err().to_string().contains("alike"));
        assert_eq!(design(&factors(&[("kettle", 2)]), 0, 1, 0).unwrap_err().kind(), "out_of_range");
    }

    #[test]
    fn a_design_without_a_possible_p_says_so() {
        let few = design(&factors(&[("kettle", 2)]), 3, 1, 0).unwrap();
        assert!(few.says.contains("No p can be below 0.05: the smallest is 0.10"), "{}", few.says);
        assert_eq!(few.table().rows(), 6);
    }
}
