//! In: a pair of groups and its fit. Out: the one method that gives its p, its interval and its test of equivalence.

use crate::estimate::{Estimate, Undefined};
use crate::math::distribution::{student_half_width, student_outside};
use crate::math::studentized::{range_below, range_quantile};
use crate::rows::words;
use crate::study::compare::blocks::Units;
use crate::study::compare::deal::Dealt;
use crate::study::compare::equivalence::Equivalence;
use crate::study::compare::family::Family;

/// Counts that differ by more are unequal: dealing would take unequal scatter for unequal means.
const EQUAL: f64 = 1.1;

words! {
/// Method that gives p and interval.
pub enum Inference {
    /// Dealing the groups within cells; the largest t of all pairs if there are three groups or more.
    Dealing = "dealing",
    /// Welch's t, for unequal counts; Games and Howell (1976, J. Educ. Stat. 1, 113) if there are three groups or more.
    GamesHowell = "games_howell",
    /// Student's t of the people's own differences, for people like these; Tukey's range if there are three groups or
    /// more.
    People = "people",
}
}

impl Inference {
    /// Dealing is valid for unequal scatter if counts are equal, and the scatter within blocks is pooled.
    pub(super) fn of(units: &Units) -> Self {
        let counts =
            (0..units.groups.len()).map(|g| units.group.iter().filter(|group| **group == g).count() as f64);
        let (least, most) = counts.fold((f64::INFINITY, 0.0), |(least, most), n| (n.min(least), n.max(most)));
        if units.cells == 1 && most > EQUAL * least { Self::GamesHowell } else { Self::Dealing }
    }
}

/// The method with what it needs of one pair. The interval has the shifts that its own p does not reject.
#[derive(Debug, Clone)]
pub(super) enum Test<'a> {
    Dealt(Dealt),
    Family { family: &'a Family, difference: f64, error: f64 },
    GamesHowell { groups: usize, difference: f64, error: f64, degrees: f64 },
}

impl Test<'_> {
    /// p of the hypothesis that the true difference is `shift`.
    pub(super) fn p(&self, shift: f64) -> Estimate {
        match self {
            Self::Dealt(dealt) => dealt.p(shift),
            Self::Family { family, difference, error } => family.p((difference - shift) / error),
            Self::GamesHowell { groups, difference, error, degrees } => {
                let t = (difference - shift) / error;
                Estimate::exact(match groups {
                    2 => student_outside(t, *degrees),
                    k => 1.0 - range_below(t.abs() * 2.0_f64.sqrt(), *k, *degrees),
                })
            }
        }
    }

    /// The shifts whose p is above `outside`.
    pub(super) fn interval(&self, outside: f64) -> Option<[f64; 2]> {
        let around = |difference: f64, half: f64| Some([difference - half, difference + half]);
        match self {
            Self::Dealt(dealt) => dealt.interval(outside),
            Self::Family { family, difference, error } => around(*difference, family.reach(outside) * error),
            Self::GamesHowell { groups, difference, error, degrees } => {
                let reach = match groups {
                    2 => student_half_width(1.0 - outside, *degrees),
                    k => range_quantile(1.0 - outside, *k, *degrees) / 2.0_f64.sqrt(),
                };
                around(*difference, reach * error)
            }
        }
    }

    /// Two one-sided tests: equivalent if the interval at twice the tail lies within the margin.
    pub(super) fn equivalence(&self, difference: f64, margin: f64, level: f64) -> Equivalence {
        let (below, above) = (self.p(-margin).value, self.p(margin).value);
        let p = match difference {
            d if d >= margin => 1.0 - 0.5 * above,
            d if d <= -margin => 1.0 - 0.5 * below,
            _ => 0.5 * below.max(above),
        };
        let few = || Undefined::because("too few units for an interval at this level");
        Equivalence {
            margin,
            p: Ok(Estimate::exact(p)),
            interval: self.interval(2.0 * (1.0 - level)).ok_or_else(few),
            alike: Some(p <= (1.0 - level) * (1.0 + 1e-9)),
        }
    }
}
