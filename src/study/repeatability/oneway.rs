//! In: values and the group of each. Out: `OneWay`, sizes, means and sums of squares of the groups.
//!
//! Values are relative to the first one, to avoid cancellation at a large level. Sums of squares are about the means.

use crate::error::{Error, Result};
use crate::estimate::Estimate;
use crate::study::repeatability::interval::MeanSquare;

/// One group: its name and statistics, relative to the first value.
pub(super) struct Group {
    pub(super) name: String,
    pub(super) size: f64,
    pub(super) mean: f64,
    pub(super) squares: f64,
}

/// Values in groups.
pub(super) struct OneWay {
    /// The first value: the origin of all means.
    pub(super) origin: f64,
    pub(super) groups: Vec<Group>,
    pub(super) size: f64,
    /// Mean of all values, relative to `origin`.
    pub(super) mean: f64,
    pub(super) between: MeanSquare,
    pub(super) within: MeanSquare,
    /// Mean measurement variance of the values.
    pub(super) own_variance: f64,
}

impl OneWay {
    pub(super) fn of<S: AsRef<str>>(values: &[Estimate], groups: &[S]) -> Result<Self> {
        check(values, &[("groups", groups.len())])?;
        let (names, places) = levels(groups);
        let origin = values.first().map_or(0.0, |first| first.value);
        let mut held: Vec<Vec<f64>> = vec![Vec::new(); names.len()];
        for (value, place) in values.iter().zip(&places) {
            held[*place].push(value.value - origin);
        }
        let groups: Vec<Group> = names.into_iter().zip(&held).map(|(name, held)| group(name, held)).collect();
        let size = values.len() as f64;
        let mean = total(groups.iter().map(|g| g.size * g.mean)) / size;
        let between = total(groups.iter().map(|g| g.size * (g.mean - mean).powi(2)));
        let within = total(groups.iter().map(|g| g.squares));
        let square = |sum: f64, degrees: f64| MeanSquare { value: sum / degrees, degrees };
        let k = groups.len() as f64;
        let own_variance = values.iter().map(|v| v.sd * v.sd).sum::<f64>() / size;
        let (between, within) = (square(between, k - 1.0), square(within, size - k));
        Ok(Self { origin, groups, size, mean, between, within, own_variance })
    }
}

fn group(name: String, held: &[f64]) -> Group {
    let size = held.len() as f64;
    let mean = total(held.iter().copied()) / size;
    Group { name, size, mean, squares: total(held.iter().map(|x| (x - mean).powi(2))) }
}

/// Compensated sum (Neumaier 1974, Z. Angew. Math. Mech. 54, 39).
pub(super) fn total(numbers: impl Iterator<Item = f64>) -> f64 {
    let (mut sum, mut lost) = (0.0_f64, 0.0);
    for number in numbers {
        let next = sum + number;
        lost += if sum.abs() >= number.abs() { (sum - next) + number } else { (number - next) + sum };
        sum = next;
    }
    sum + lost
}

/// The names in the order in which they first occur, and the place of each row among them.
pub(super) fn levels<S: AsRef<str>>(labels: &[S]) -> (Vec<String>, Vec<usize>) {
    let mut names: Vec<String> = Vec::new();
    let mut known = std::collections::HashMap::new();
    let places = labels
        .iter()
        .map(|label| {
            *known.entry(label.as_ref()).or_insert_with(|| {
                names.push(label.as_ref().into());
                names.len() - 1
            })
        })
        .collect();
    (names, places)
}

/// Error for values that are not finite, or for another number of labels than values.
pub(super) fn check(values: &[Estimate], labels: &[(&str, usize)]) -> Result<()> {
    for (name, found) in labels {
        if *found != values.len() {
            let message = format!("{found} for {} values; one each is needed", values.len());
            return Err(Error::Argument { name: (*name).into(), message });
        }
    }
    finite("values", values)
}

/// Error for a value or an sd that is not finite.
pub(super) fn finite(column: &str, values: &[Estimate]) -> Result<()> {
    for (row, estimate) in values.iter().enumerate() {
        for value in [estimate.value, estimate.sd] {
            if !value.is_finite() {
                return Err(Error::NotFinite { column: column.into(), row: row + 1, value });
            }
        }
    }
    Ok(())
}
