//! In: the name of a column. Out: whether it can be the time, the water or the beverage.

use crate::log::units;
use crate::log::units::Unit;

/// The part of a column. A name matches if all its words are known here and one of them is a `core` word.
pub(super) struct Role {
    /// The argument that names it.
    pub(super) argument: &'static str,
    core: &'static [&'static str],
    filler: &'static [&'static str],
}

pub(super) const TIME: Role = Role {
    argument: "time",
    core: &["time", "t", "timestamp", "datetime", "elapsed"],
    filler: &["date", "stamp", "in"],
};
pub(super) const WATER: Role = Role {
    argument: "water",
    core: &["water", "poured", "weight", "mass"],
    filler: &["total", "scale", "reading", "in"],
};
pub(super) const BEVERAGE: Role = Role {
    argument: "beverage",
    core: &["beverage", "cup", "server", "carafe", "drip"],
    filler: &["weight", "mass", "total", "scale", "reading", "in"],
};

impl Role {
    /// Whether a column of this name matches the part.
    pub(super) fn fits<U: Unit>(&self, name: &str) -> bool {
        let (stem, unit) = units::split(name);
        if stem.is_empty() {
            // `seconds` and `grams` are unambiguous; `s`, `g` or `min` alone are not.
            return self.argument != BEVERAGE.argument
                && unit.is_some_and(|u| u.chars().count() > 3 && U::from_word(&u).is_some());
        }
        let known = |w: &str| self.core.contains(&w) || self.filler.contains(&w);
        let words = || stem.split(|c: char| !c.is_alphanumeric()).filter(|w| !w.is_empty());
        words().all(known) && words().any(|w| self.core.contains(&w))
    }
}
