//! In: results of plans. Out: the habits in them: deviations that recur in the pours of a brew, or in brews, beyond
//! chance.
//!
//! The deviations of one item are a sample, of pours in one brew, of brews in several. A habit is a mean deviation
//! outside of the tolerance, by Student's one-sided t test against the tolerance at 5 % divided by the number of items
//! tested (Bonferroni; Dunn 1961, J. Am. Stat. Assoc. 56, 52). Within one brew a late start delays those after it, so
//! that starts are compared from pour to pour.

use crate::estimate::Estimate;
use crate::math::distribution::student_outside;
use crate::plan::result::{PlanResult, PlannedPourResult};
use crate::plan::score::{Item, PlanItem};
use crate::rows::rows;
use serde::{Deserialize, Serialize};

/// Fewest pours or brews in which a deviation can recur.
const FEWEST: usize = 3;
/// Probability of a habit that is none, of all items together.
const CHANCE: f64 = 0.05;

rows! { $
/// A deviation from a plan that recurs beyond chance.
///
/// ```
/// use pourline::{Habit, Options, Plan, PlanItem, PlannedPour, Recipe, analyze, habits, simulate};
/// let plan = Plan::new("one", vec![PlannedPour::new(0.0, 20.0)])?;
/// let brewed = |seed| plan.follow(&analyze(&simulate(&Recipe::default(), seed)?.0, &Options::default())?);
/// let results = [brewed(1)?, brewed(2)?, brewed(3)?, brewed(4)?];
/// let found: Vec<Habit> = habits(&results);
/// assert!(found.iter().all(|habit| habit.count == 4 && habit.item == PlanItem::Mass));
/// # Ok::<(), pourline::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Habit {
    /// What deviates: start, mass, flow, steadiness or pauses.
    pub item: PlanItem,
    /// The planned pour, from 1; None if it is all of them.
    pub pour: Option<usize>,
    /// Mean deviation, poured less planned, in the unit of the item, with its standard error.
    pub deviation: Estimate,
    /// Number of pours of the brew, or of brews.
    pub count: usize,
    /// p of a mean within the tolerance, times the number of items tested.
    pub p: f64,
    /// The habit in a sentence.
    pub says: String,
}
}

/// The deviations of one item.
struct Sample {
    what: PlanItem,
    pour: Option<usize>,
    items: Vec<Item>,
    of: &'static str,
}

/// The habits in several brews of one plan, the largest first; in a single one, those of its pours.
#[must_use]
pub fn habits(results: &[PlanResult]) -> Vec<Habit> {
    match results {
        [] => Vec::new(),
        [one] => habits_of_one(&one.pours),
        all => habits_of_many(all),
    }
}

pub(super) fn habits_of_one(pours: &[PlannedPourResult]) -> Vec<Habit> {
    let of = |what| {
        let items: Vec<Item> = pours.iter().filter_map(|row| row.item(what)).collect();
        let items = if what == PlanItem::Start { steps(&items) } else { items };
        Sample { what, pour: None, items, of: "pours" }
    };
    tested(PlanItem::ALL.into_iter().map(of).collect())
}

/// Each start less the one before it.
fn steps(starts: &[Item]) -> Vec<Item> {
    let before = std::iter::once(0.0).chain(starts.iter().map(|item| item.deviation));
    starts.iter().zip(before).map(|(item, last)| Item { deviation: item.deviation - last, ..*item }).collect()
}

fn habits_of_many(results: &[PlanResult]) -> Vec<Habit> {
    let places = results.iter().map(|one| one.pours.len()).max().unwrap_or(0);
    let mut samples = Vec::new();
    for what in PlanItem::ALL {
        let items = results.iter().filter_map(|one| mean(&one.pours, what)).collect();
        samples.push(Sample { what, pour: None, items, of: "brews" });
        for place in 0..places {
            let items = results.iter().filter_map(|one| one.pours.get(place)?.item(what)).collect();
            samples.push(Sample { what, pour: Some(place + 1), items, of: "brews" });
        }
    }
    // A habit of all pours is one of each of them; else it is that of single pours.
    let is_of_all = |what: PlanItem| {
        let of_pours =
            samples.iter().filter(|one| one.what == what && one.pour.is_some() && !one.items.is_empty());
        let sizes: Vec<f64> = of_pours.map(|one| mean_tolerances(&one.items)).collect();
        sizes.iter().all(|z| *z > 1.0) || sizes.iter().all(|z| *z < -1.0)
    };
    let of_all: Vec<PlanItem> = PlanItem::ALL.into_iter().filter(|what| is_of_all(*what)).collect();
    let found = tested(samples);
    found.into_iter().filter(|one| of_all.contains(&one.item) == one.pour.is_none()).collect()
}

/// The mean deviation in tolerances of its side.
fn mean_tolerances(items: &[Item]) -> f64 {
    let n = items.len() as f64;
    let deviation = items.iter().map(|item| item.deviation).sum::<f64>() / n;
    items.iter().map(|item| item.deviation / item.within[usize::from(deviation > 0.0)]).sum::<f64>() / n
}

/// The mean item of a brew's pours.
fn mean(pours: &[PlannedPourResult], what: PlanItem) -> Option<Item> {
    let items: Vec<Item> = pours.iter().filter_map(|row| row.item(what)).collect();
    let first = *items.first()?;
    let n = items.len() as f64;
    let of = |number: fn(&Item) -> f64| items.iter().map(number).sum::<f64>() / n;
    Some(Item {
        deviation: of(|item| item.deviation),
        within: [of(|item| item.within[0]), of(|item| item.within[1])],
        ..first
    })
}

fn tested(samples: Vec<Sample>) -> Vec<Habit> {
    let samples: Vec<Sample> = samples.into_iter().filter(|one| one.items.len() >= FEWEST).collect();
    let tests = samples.len() as f64;
    let mut found: Vec<(f64, Habit)> = samples.iter().filter_map(|one| habit(one, tests)).collect();
    found.sort_by(|x, y| y.0.total_cmp(&x.0));
    found.into_iter().map(|(_, habit)| habit).collect()
}

/// The habit of a sample, if there is one, with its size in tolerances.
fn habit(sample: &Sample, tests: f64) -> Option<(f64, Habit)> {
    let Sample { what, pour, ref items, of } = *sample;
    let n = items.len() as f64;
    let average = |number: &dyn Fn(&Item) -> f64| items.iter().map(number).sum::<f64>() / n;
    let deviation = average(&|item| item.deviation);
    let z = |item: &Item| {
        let within = item.within[usize::from(deviation > 0.0)];
        item.deviation / within
    };
    let mean = average(&z);
    let variance = average(&|item| (z(item) - mean).powi(2)) * n / (n - 1.0);
    let beyond = mean.abs() - 1.0;
    if beyond <= 0.0 {
        return None;
    }
    let error = (variance / n).sqrt();
    let p = match what {
        // Numbers of pauses that are all alike have no spread to judge by: the sign test remains.
        PlanItem::Pauses if error == 0.0 => 0.5_f64.powf(n),
        _ if error == 0.0 => 0.0,
        _ => 0.5 * student_outside(beyond / error, n - 1.0),
    };
    let p = (p * tests).min(1.0);
    let spread = average(&|item| (item.deviation - deviation).powi(2)) / (n - 1.0);
    let same = items.iter().filter(|item| item.deviation * deviation > 0.0).count();
    let within = average(&|item| item.within[usize::from(deviation > 0.0)]);
    let found = Habit {
        item: what,
        pour,
        deviation: Estimate::new(deviation, spread.sqrt()),
        count: items.len(),
        p,
        says: sentence(sample, deviation, within, same, of),
    };
    (p <= CHANCE).then_some((mean.abs(), found))
}

fn sentence(sample: &Sample, deviation: f64, within: f64, same: usize, of: &str) -> String {
    let n = sample.items.len();
    let size = deviation.abs();
    let is_above = deviation > 0.0;
    let one = sample.pour.map_or_else(|| "pours".to_string(), |pour| format!("pour {pour}"));
    let of_one = sample.pour.map_or_else(String::new, |pour| format!(" of pour {pour}"));
    let side = |above: &'static str, below: &'static str| if is_above { above } else { below };
    let s = if sample.pour.is_some() { "s" } else { "" };
    let (fact, unit) = match sample.what {
        PlanItem::Start if of == "pours" => {
            (format!("Rests are {size:.1} s too {}", side("long", "short")), "s")
        }
        PlanItem::Start => (format!("{} start{s} {size:.1} s {}", capital(&one), side("late", "early")), "s"),
        PlanItem::Mass => {
            let are = if sample.pour.is_some() { "is" } else { "are" };
            (format!("{} {are} {size:.1} g {}", capital(&one), side("over", "short")), "g")
        }
        PlanItem::Flow => (format!("The flow{of_one} is {size:.1} g/s too {}", side("fast", "slow")), "g/s"),
        PlanItem::Steadiness => {
            (format!("The share{of_one} near its own flow is {size:.0} points too low"), "points")
        }
        PlanItem::Pauses => {
            return format!(
                "{} pause {size:.1} times more than planned, in {same} of {n} {of}.",
                capital(&one)
            );
        }
    };
    format!("{fact}, in {same} of {n} {of}; {within:.1} {unit} are allowed.")
}

fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}
