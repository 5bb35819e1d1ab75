//! In: a difference with its standard error and degrees of freedom, and a margin. Out: test of equivalence within the
//! margin.
//!
//! Two one-sided tests (Schuirmann 1987, J. Pharmacokinet. Biopharm. 15, 657).

use crate::error::{Error, Result};
use crate::estimate::{Estimate, Undefined};
use crate::math::distribution::{student_half_width, student_outside};
use crate::rows::rows;
use serde::{Deserialize, Serialize};

rows! { $
/// Test of equivalence of two groups within a margin.
///
/// A difference that is not significant is no evidence of equivalence.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Equivalence {
    /// Equivalence margin, as stated.
    pub margin: f64,
    /// The larger p of the two one-sided tests.
    pub p: Maybe,
    /// Interval of the difference at twice the tail: 90 % for a level of 95 %.
    ///
    /// The two are equivalent if this interval lies within the margin.
    pub interval: Result<[f64; 2], Undefined>,
    /// Whether equivalence is significant; None if undefined.
    pub alike: Option<bool>,
}
}

/// Tests whether a difference lies within a margin on both sides. `difference` has its standard error as sd; the
/// degrees of freedom are those of that error.
///
/// ```
/// use pourline::Estimate;
/// use pourline::study::{Equivalence};
/// use pourline::{equivalence};
/// let found: Equivalence = equivalence(Estimate::new(0.1, 0.2), 20.0, 0.5, 0.95)?;
/// assert_eq!(found.alike, Some(true));
/// # Ok::<(), pourline::Error>(())
/// ```
///
/// # Errors
/// `out_of_range` if the margin, the degrees or the standard error are not above 0, or the level is not between 0.5
/// and 1.
pub fn equivalence(difference: Estimate, degrees: f64, margin: f64, level: f64) -> Result<Equivalence> {
    for (name, value) in [("margin", margin), ("degrees", degrees), ("standard error", difference.sd)] {
        above_0(name, value)?;
    }
    within_level("level", level)?;
    let one_sided = |t: f64| {
        let outside = 0.5 * student_outside(t, degrees);
        if t > 0.0 { outside } else { 1.0 - outside }
    };
    let from = |end: f64| one_sided(end / difference.sd);
    let p = from(difference.value + margin).max(from(margin - difference.value));
    let half = student_half_width(2.0 * level - 1.0, degrees) * difference.sd;
    Ok(Equivalence {
        margin,
        p: Ok(Estimate::exact(p)),
        interval: Ok([difference.value - half, difference.value + half]),
        alike: Some(p < 1.0 - level),
    })
}

impl Equivalence {
    pub(super) fn undefined(margin: f64, why: &Undefined) -> Self {
        Self { margin, p: Err(why.clone()), interval: Err(why.clone()), alike: None }
    }
}

pub(super) fn above_0(name: &str, value: f64) -> Result<()> {
    if value > 0.0 && value.is_finite() {
        return Ok(());
    }
    Err(Error::OutOfRange { name: name.into(), value, rule: "it must be above 0".into(), row: 0 })
}

pub(super) fn within_level(name: &str, value: f64) -> Result<()> {
    if value > 0.5 && value < 1.0 {
        return Ok(());
    }
    Err(Error::OutOfRange { name: name.into(), value, rule: "it must lie between 0.5 and 1".into(), row: 0 })
}
