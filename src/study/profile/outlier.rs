//! In: brews and the distances between them. Out: the medoid, and the outlier with its reason.
//!
//! Method: the centre is the medoid. A brew's score is the logarithm of its median distance to the others. It is an
//! outlier if its robust z exceeds the 95 % quantile of the largest z of groups without outliers, and its distance is
//! twice the median. The robust z is from the median, in units of 1.4826 times the median absolute deviation.

use crate::brew::result::Brew;
use crate::estimate::Undefined;
use crate::math::random::Random;
use crate::math::robust::{median, quantile};
use crate::rows::rows;
use crate::study::profile::boxes::{Box3, QUANTITIES, apart, boxes};
use crate::study::profile::curve::name;
use serde::{Deserialize, Serialize};

/// Fewest brews for an outlier.
const FEWEST: usize = 5;
/// Least ratio of an outlier's distance to the median one, chosen by judgement.
const LEAST_TIMES: f64 = 2.0;
/// False positive rate: groups without an outlier in which one is named.
const FALSE_ALARM: f64 = 0.05;
const GROUPS: usize = 2000;
/// For larger groups the threshold is nearly constant.
const MOST_SIMULATED: usize = 40;
/// Factor from median absolute deviation to sd, for a normal distribution.
const FROM_MAD: f64 = 1.4826;

rows! { $
/// The outlier of a group of brews.
///
/// ```
/// use pourline::{Outlier, Options, ProfileOptions, analyze, profile, simulate};
/// use pourline::simulate::{PlannedPour};
/// use pourline::{Recipe};
/// let brew = |seed: u64, rest_s| {
///     let mut recipe = Recipe::default();
///     let flow_g_per_s = 6.0 + 0.1 * (seed % 4) as f64;
///     let pour = |rest_s| PlannedPour { rest_s, mass_g: 50.0, flow_g_per_s, rise_s: 0.3, fall_s: 0.3 };
///     recipe.hand.planned = vec![pour(0.0), pour(rest_s)];
///     recipe.hand.tremor = [0.0, 0.0];
///     analyze(&simulate(&recipe, seed)?.0, &Options::default())
/// };
/// let brews = [brew(0, 10.0)?, brew(1, 10.2)?, brew(2, 10.1)?, brew(3, 10.3)?, brew(4, 9.9)?, brew(5, 17.0)?];
/// let odd: Outlier = profile(&brews, &ProfileOptions::default())?.odd.unwrap();
/// assert_eq!((odd.brew, odd.pour, odd.quantity.as_deref()), (5, Some(2), Some("rest_before_s")));
/// assert!(odd.why.contains("pour 2, which starts later"));
/// # Ok::<(), pourline::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Outlier {
    /// Index of the brew.
    pub brew: usize,
    /// Robust z of the logarithm of the brew's distance to the others.
    pub z: f64,
    /// Threshold of z for an outlier.
    pub threshold: f64,
    /// The pour with the largest share of the distance, from 1; None if the numbers of pours differ.
    ///
    /// Then `value` and `usual` are the numbers of pours.
    pub pour: Option<usize>,
    /// The quantity of that pour that differs: `rest_before_s`, `duration_s` or `flow_g_per_s`.
    ///
    /// All are taken between half-rise and half-fall; the flow is the mass over that duration.
    pub quantity: Option<String>,
    /// Value of the quantity in this brew.
    pub value: f64,
    /// Median of the quantity in the other brews.
    pub usual: f64,
    /// The finding in a sentence.
    pub why: String,
}
}

/// Index of the least sum.
pub(super) fn middle(distances: &[Vec<f64>]) -> usize {
    let sum = |row: &Vec<f64>| row.iter().sum::<f64>();
    let least = distances.iter().enumerate().min_by(|a, b| sum(a.1).total_cmp(&sum(b.1)));
    least.map_or(0, |(i, _)| i)
}

/// Median of each brew's distances to the others.
pub(super) fn typical(distances: &[Vec<f64>]) -> Vec<f64> {
    let others = |i: usize| distances[i].iter().enumerate().filter(move |(j, _)| *j != i).map(|(_, d)| *d);
    (0..distances.len()).map(|i| median(&mut others(i).collect::<Vec<_>>())).collect()
}

pub(super) fn odd(brews: &[&Brew], distances: &[Vec<f64>]) -> Result<Outlier, Undefined> {
    let n = brews.len();
    if n < FEWEST {
        let why = format!("{n} brews are too few for an outlier: at least {FEWEST} are needed");
        return Err(Undefined::because(why));
    }
    let typical = typical(distances);
    let Some((brew, z)) = farthest(&places(distances)) else {
        return Err(Undefined::because("all brews are equally distant from each other"));
    };
    let threshold = threshold(n);
    if z <= threshold {
        let why = format!(
            "no brew stands out: the most distant one, {}, has a robust z of {z:.1}, below the threshold of \
             {threshold:.1}",
            name(brews[brew], brew)
        );
        return Err(Undefined::because(why));
    }
    let times = typical[brew] / median(&mut typical.clone());
    if times < LEAST_TIMES {
        let why = format!(
            "no brew stands out: the most distant one, {}, has {times:.1} times the median distance to the others",
            name(brews[brew], brew)
        );
        return Err(Undefined::because(why));
    }
    Ok(described(brews, brew, z, threshold))
}

/// The largest robust z and its index.
fn farthest(values: &[f64]) -> Option<(usize, f64)> {
    let middle = median(&mut values.to_vec());
    let spread = FROM_MAD * median(&mut values.iter().map(|v| (v - middle).abs()).collect::<Vec<_>>());
    let largest = values.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1))?;
    (spread > 0.0).then_some((largest.0, (largest.1 - middle) / spread))
}

/// The 95 % quantile of the largest robust z among n random points, nearly equal in 2 to 40 dimensions. By simulation
/// with a fixed seed.
fn threshold(n: usize) -> f64 {
    let n = n.min(MOST_SIMULATED);
    let mut random = Random::stream(n as u64, "odd one out");
    let mut one = || {
        let points: Vec<[f64; 3]> = (0..n).map(|_| std::array::from_fn(|_| random.normal())).collect();
        let apart =
            |a: &[f64; 3], b: &[f64; 3]| a.iter().zip(b).map(|(x, y)| (x - y).powi(2)).sum::<f64>().sqrt();
        let distances: Vec<Vec<f64>> =
            points.iter().map(|a| points.iter().map(|b| apart(a, b)).collect()).collect();
        farthest(&places(&distances)).map_or(0.0, |(_, z)| z)
    };
    let mut largest: Vec<f64> = (0..GROUPS).map(|_| one()).collect();
    quantile(&mut largest, 1.0 - FALSE_ALARM)
}

fn places(distances: &[Vec<f64>]) -> Vec<f64> {
    typical(distances).iter().map(|d| d.max(f64::MIN_POSITIVE).ln()).collect()
}

fn most_common(counts: impl Iterator<Item = usize>) -> usize {
    let mut tally = std::collections::BTreeMap::new();
    counts.for_each(|count| *tally.entry(count).or_insert(0) += 1);
    tally.into_iter().max_by_key(|(_, times)| *times).map_or(0, |(count, _)| count)
}

/// The deviating quantity: the one whose substitution into the median brew of the others moves that brew the most.
fn described(brews: &[&Brew], brew: usize, z: f64, threshold: f64) -> Outlier {
    let own = boxes(&brews[brew].segments.pours);
    let who = name(brews[brew], brew);
    let others = || brews.iter().enumerate().filter(move |(i, _)| *i != brew).map(|(_, b)| &b.segments.pours);
    let start = format!("{who} stands out (robust z {z:.1}, above {threshold:.1})");
    let usual_count = most_common(others().map(Vec::len));
    if own.len() != usual_count {
        let why = format!("{start}: it has {} pours, and most of the others have {usual_count}", own.len());
        let (value, usual) = (own.len() as f64, usual_count as f64);
        return Outlier { brew, z, threshold, pour: None, quantity: None, value, usual, why };
    }
    let alike: Vec<Vec<Box3>> =
        others().filter(|pours| pours.len() == own.len()).map(|pours| boxes(pours)).collect();
    let usual: Vec<Box3> = (0..own.len())
        .map(|k| std::array::from_fn(|q| median(&mut alike.iter().map(|b| b[k][q]).collect::<Vec<_>>())))
        .collect();
    let moved = |k: usize, q: usize| {
        let mut changed = usual.clone();
        changed[k][q] = own[k][q];
        apart(&usual, &changed)
    };
    let places = (0..own.len()).flat_map(|k| (0..3).map(move |q| (k, q)));
    let (k, q) = places.max_by(|a, b| moved(a.0, a.1).total_cmp(&moved(b.0, b.1))).unwrap_or((0, 0));
    let (value, usual) = (own[k][q], usual[k][q]);
    let (quantity, unit, words) = QUANTITIES[q];
    let why = format!(
        "{start}: most of its distance is from pour {}, which {} by {:.1} {unit} ({quantity} {value:.1}, the others \
         {usual:.1})",
        k + 1,
        words[usize::from(value > usual)],
        (value - usual).abs(),
    );
    Outlier { brew, z, threshold, pour: Some(k + 1), quantity: Some(quantity.into()), value, usual, why }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_threshold_is_that_of_an_independent_simulation() {
        // numpy 2, 1,500 groups of normal points each in 2, 3, 5, 10 and 40 dimensions: the ranges of the 95 %
        // quantiles.
        for (n, low, high) in [(5, 6.7, 7.6), (8, 5.6, 5.9), (12, 4.2, 4.5), (20, 3.7, 4.0)] {
            let found = threshold(n);
            assert!((0.9 * low..1.1 * high).contains(&found), "{n} brews: {found}");
        }
    }

    #[test]
    fn a_robust_z_is_in_units_of_the_scaled_median_deviation() {
        // Median 3, deviations 2, 1, 0, 1 and 97: their median is 1, and 1.4826 times it estimates the sd of normal
        // values.
        let (brew, z) = farthest(&[1.0, 2.0, 100.0, 3.0, 4.0]).unwrap();
        assert!(brew == 2 && (z - 97.0 / 1.4826).abs() < 1e-3, "{brew} {z}");
        assert_eq!(farthest(&[1.0, 1.0, 1.0, 5.0]), None);
        let distances = [vec![0.0, 1.0, 5.0], vec![1.0, 0.0, 2.0], vec![5.0, 2.0, 0.0]];
        assert_eq!((middle(&distances), typical(&distances)), (1, vec![3.0, 1.5, 3.5]));
        assert_eq!(most_common([2, 3, 3, 4, 2, 3].into_iter()), 3);
    }
}
