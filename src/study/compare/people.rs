//! In: a pair of groups whose first block is the person. Out: the difference for people like these, with its error.
//!
//! Each person who brewed with both groups has a difference within cells. Their plain mean is the estimate, and their
//! scatter has that of person by group in it: balanced, its t is that of the mixed model with random people (as the
//! paired t of the people's means, m - 1 degrees of freedom). Uneven, degrees are those of Satterthwaite (1946,
//! Biometrics Bull. 2, 110), with the variance of each person's difference from the moments.

use crate::error::{Error, Result};
use crate::estimate::Undefined;
use crate::rows::words;
use crate::study::compare::blocks::{Block, Units};
use crate::study::compare::pair::{Pair, PairFit};
use std::collections::BTreeMap;

/// The block that holds the people.
pub(super) const PERSON: &str = "person";

words! {
/// Whose hands a difference is about.
#[derive(Default)]
pub enum Over {
    /// The people who took part.
    #[default]
    ThesePeople = "these people",
    /// People of whom those who took part are a sample.
    PeopleLikeThese = "people like these",
}
}

/// The blocks with the people first.
pub(super) fn people_first<'a, S>(blocks: &[Block<'a, S>]) -> Result<Vec<Block<'a, S>>> {
    let mut sorted: Vec<Block<'a, S>> =
        blocks.iter().map(|block| Block { name: block.name, labels: block.labels }).collect();
    sorted.sort_by_key(|block| block.name != PERSON);
    if sorted.first().is_some_and(|block| block.name == PERSON) {
        return Ok(sorted);
    }
    let message = "people like these need a block called \"person\"".into();
    Err(Error::Argument { name: "over".into(), message })
}

/// Sums of one person: of indicator times value, of indicator squares, and number and sum of the first group.
#[derive(Debug, Clone, Copy, Default)]
struct Person {
    product: f64,
    weight: f64,
    brews: f64,
    sum: f64,
}

/// The fit for people like these.
pub(super) fn over_people(
    units: &Units,
    pair: &Pair,
    fit: &PairFit,
) -> std::result::Result<PairFit, Undefined> {
    let (lean, _) = pair.lean();
    let centred = pair.centred();
    let mut people: BTreeMap<usize, Person> = BTreeMap::new();
    for (i, &unit) in pair.unit.iter().enumerate() {
        let one = people.entry(units.first[unit]).or_default();
        one.product += lean[i] * centred[i];
        one.weight += lean[i] * lean[i];
        if !pair.is_b[i] {
            one.brews += 1.0;
            one.sum += pair.y[i];
        }
    }
    let m = people.len() as f64;
    if people.len() < 2 {
        let why = "one person brewed with both: nothing is known of other people; add people";
        return Err(Undefined::because(why));
    }
    let each: Vec<[f64; 3]> = people
        .values()
        .map(|one| [one.product / one.weight, one.sum / one.brews, 1.0 / one.weight])
        .collect();
    let mean = |of: &dyn Fn(&[f64; 3]) -> f64| each.iter().map(of).sum::<f64>() / m;
    let (difference, base) = (mean(&|one| one[0]), mean(&|one| one[1]));
    // The mean of m has the variance of one over m.
    let about = |x: &dyn Fn(&[f64; 3]) -> f64| mean(x) / (m - 1.0);
    let variance = about(&|one| (one[0] - difference).powi(2));
    // Variance of each difference: person by group, and the brews' own. With a single brew per cell only their sum is
    // known, and it is the same for all.
    let brews = if fit.pooled_degrees > m { within(&people, pair, units, &lean, &centred) } else { 0.0 };
    let by_group = (variance * m - brews * mean(&|one| one[2])).max(0.0);
    let own: Vec<f64> = each.iter().map(|one| by_group + brews * one[2]).collect();
    Ok(PairFit {
        difference,
        standard_error: variance.sqrt(),
        degrees: satterthwaite(&own),
        base,
        base_variance: about(&|one| (one[1] - base).powi(2)),
        base_covariance: about(&|one| (one[0] - difference) * (one[1] - base)),
        ..*fit
    })
}

/// Variance of brews within person and group.
fn within(
    people: &BTreeMap<usize, Person>,
    pair: &Pair,
    units: &Units,
    lean: &[f64],
    centred: &[f64],
) -> f64 {
    let left = |i: usize| {
        let one = &people[&units.first[pair.unit[i]]];
        centred[i] - lean[i] * one.product / one.weight
    };
    let degrees = pair.y.len() as f64 - (pair.counts.len() + people.len()) as f64;
    if degrees < 1.0 {
        return 0.0;
    }
    (0..pair.y.len()).map(|i| left(i).powi(2)).sum::<f64>() / degrees
}

/// Degrees of freedom of the sample variance of independent normal numbers of these variances: m - 1 if they are equal.
fn satterthwaite(variances: &[f64]) -> f64 {
    let m = variances.len() as f64;
    let (sum, squares) = variances.iter().fold((0.0, 0.0), |(sum, squares), v| (sum + v, squares + v * v));
    if sum <= 0.0 {
        return m - 1.0;
    }
    // Squared mean over half of the variance of d' C d/(m - 1), C the centring matrix: 2 tr(C V C V).
    let trace = squares * (1.0 - 2.0 / m) + sum * sum / (m * m);
    (sum * (1.0 - 1.0 / m)).powi(2) / trace
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn equal_variances_leave_m_less_1_degrees_and_unequal_ones_fewer() {
        assert!((satterthwaite(&[0.7; 5]) - 4.0).abs() < 1e-12);
        // By hand, m = 3 and variances 1, 1, 4: (6 x 2/3)^2/(18/3 + 36/9) = 16/10.
        assert!((satterthwaite(&[1.0, 1.0, 4.0]) - 1.6).abs() < 1e-12);
    }
}
