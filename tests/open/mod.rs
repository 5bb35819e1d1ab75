//! Bars that are not met yet. `tests/open_bars.txt` lists each with the worst figure seen.
//!
//! A figure that gets worse fails, and so does a bar that is met but still on the list: the list says just what is
//! missing.

use std::fmt::Debug;
use std::ops::{Bound, RangeBounds};

const LISTED: &str = include_str!("../open_bars.txt");
/// A listed figure may get worse by this share of what it lacks: sine and exponential differ between systems.
const WORSE: f64 = 0.02;

/// The worst figure seen of an open bar; None if the bar is not on the list.
fn listed(key: &str) -> Option<f64> {
    let entry = |line: &str| {
        let mut parts = line.split('|').map(str::trim);
        (parts.next() == Some(key)).then(|| parts.next()?.parse().ok())?
    };
    LISTED.lines().find_map(entry)
}

/// What a figure lacks to meet its bar.
fn lacks(figure: f64, bar: &impl RangeBounds<f64>) -> f64 {
    let bound = |bound: Bound<&f64>, none: f64| match bound {
        Bound::Included(&at) | Bound::Excluded(&at) => at,
        Bound::Unbounded => none,
    };
    let (low, high) = (bound(bar.start_bound(), f64::NEG_INFINITY), bound(bar.end_bound(), f64::INFINITY));
    (low - figure).max(figure - high).max(0.0)
}

/// Ok if all figures meet their bar, or if it is listed as open and they lack no more than stated there. The error has
/// the line of the list.
pub fn judged(key: &str, figures: &[f64], bar: &(impl RangeBounds<f64> + Debug)) -> Result<(), String> {
    let met = figures.iter().all(|figure| bar.contains(figure));
    let Some(worst) = listed(key) else {
        let furthest = figures.iter().copied().max_by(|a, b| lacks(*a, bar).total_cmp(&lacks(*b, bar)));
        let line = format!("{key} | {} | {bar:?}", furthest.unwrap_or(f64::NAN));
        return if met { Ok(()) } else { Err(format!("{figures:?}, and {bar:?} is asked for\n{line}")) };
    };
    if met {
        return Err(format!("{figures:?} meet {bar:?}: strike the bar from tests/open_bars.txt"));
    }
    let may_lack = (1.0 + WORSE) * lacks(worst, bar);
    if figures.iter().all(|figure| lacks(*figure, bar) <= may_lack) {
        return Ok(());
    }
    Err(format!("{figures:?} are worse than {worst}, the figure of this open bar"))
}
