//! In: a deviation with its sd, and a tolerance. Out: whether it is within the tolerance, or that its sd leaves this
//! undecided.

use crate::estimate::Estimate;
use crate::math::distribution::normal_below;
use crate::rows::Word;
use serde::{Deserialize, Serialize};

/// Probability required for a decision.
const SURE: f64 = 0.975;

/// Whether a deviation is within its tolerance.
///
/// ```
/// use pourline::{Estimate, WithinTolerance};
/// assert_eq!(WithinTolerance::of(Estimate::new(1.0, 0.1), 3.0), WithinTolerance::Yes);
/// assert_eq!(WithinTolerance::of(Estimate::new(-6.2, 0.1), 3.0), WithinTolerance::No);
/// assert_eq!(WithinTolerance::of(Estimate::new(2.9, 0.1), 3.0), WithinTolerance::TooNear);
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum WithinTolerance {
    /// It is, with a probability of at least 97.5 %.
    Yes,
    /// It is not, with a probability of at least 97.5 %.
    No,
    /// Undecided: the deviation is too near to the tolerance, given its sd.
    TooNear,
}

impl WithinTolerance {
    /// Whether a deviation lies within a tolerance to either side of 0; its error is assumed normal.
    #[must_use]
    pub fn of(deviation: Estimate, tolerance: f64) -> Self {
        Self::between(deviation, [tolerance; 2])
    }

    /// Whether a deviation lies within the tolerances below and above 0, of which one may be infinite.
    pub(super) fn between(deviation: Estimate, [below, above]: [f64; 2]) -> Self {
        let Estimate { value, sd } = deviation;
        let inside = if sd > 0.0 {
            normal_below((above - value) / sd) - normal_below((-below - value) / sd)
        } else {
            f64::from(u8::from(-below <= value && value <= above))
        };
        if inside >= SURE {
            Self::Yes
        } else if inside <= 1.0 - SURE {
            Self::No
        } else {
            Self::TooNear
        }
    }

    /// The answer in words: `yes`, `no`, `too near to tell`.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Yes => "yes",
            Self::No => "no",
            Self::TooNear => "too near to tell",
        }
    }
}

// Not by `words!`: JSON has `too_near`.
impl Word for WithinTolerance {
    const NAMES: &'static [&'static str] = &["yes", "no", "too near to tell"];

    fn word(self) -> &'static str {
        self.word()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_decision_needs_a_probability_of_975_in_a_thousand() {
        // A tolerance of 3 and an sd of 1: Phi(1.96) = 0.975, so that the limits lie at 3 - 1.96 and 3 + 1.96, and
        // likewise below.
        let of = |value: f64| [value, -value].map(|v| WithinTolerance::of(Estimate::new(v, 1.0), 3.0));
        for (value, expected) in [
            (1.03, WithinTolerance::Yes),
            (1.05, WithinTolerance::TooNear),
            (4.95, WithinTolerance::TooNear),
            (4.97, WithinTolerance::No),
        ] {
            assert_eq!(of(value), [expected; 2], "{value}");
        }
        // With a wide sd the probability of the tolerance is small: Phi(0.5) - Phi(-0.5) = 0.38.
        assert_eq!(WithinTolerance::of(Estimate::new(0.0, 6.0), 3.0), WithinTolerance::TooNear);
        // A side without a tolerance is always within it.
        let least = |value| WithinTolerance::between(Estimate::new(value, 1.0), [3.0, f64::INFINITY]);
        assert_eq!(
            [-4.97, -3.0, 40.0].map(least),
            [WithinTolerance::No, WithinTolerance::TooNear, WithinTolerance::Yes]
        );
        assert_eq!(
            [2.9, 3.0, 3.1].map(|v| WithinTolerance::of(Estimate::exact(v), 3.0)),
            [WithinTolerance::Yes, WithinTolerance::Yes, WithinTolerance::No]
        );
    }
}
