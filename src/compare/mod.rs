//! In: many [`Brew`](crate::Brew)s, or a table of numbers. Out: a [`Study`]: one row a brew, with its factors and its numbers, from which
//! questions about kettles, grinders, brewers and people are answered.

mod beverage;
mod design;
mod dial;
mod dialled;
mod fieller;
mod gather;
mod monotone;
mod straight;
mod study;
mod tabled;
mod target;
mod two_yields;
pub use beverage::{mean_beverage, mean_beverage_of};
pub use design::{Design, Layout};
pub use dial::{DialOptions, dial_in, dial_in_study};
pub use dialled::{Curve, Dialled, Fit};
pub use fieller::SettingInterval;
pub use gather::{Pours, gather};
pub use monotone::{Direction, Monotone};
pub use straight::{DialLine, FitTest};
pub use study::{Missing, Study, StudyRow, Taken};
pub use target::TargetSetting;
pub use two_yields::{Flip, MeanBeverage, TwoYields};
