//! In: many brews, or a table of numbers. Out: whether kettles, grinders, brewers or people differ, repeatability of
//! brews, the setting for a target, and the mean flow of a group.

pub(crate) mod compare;
pub(crate) mod dial_in;
pub(crate) mod gather;
pub(crate) mod guards;
pub(crate) mod profile;
pub(crate) mod repeatability;
pub(crate) mod schedule;

pub use compare::beverage::mean_beverage_of;
pub use compare::blocks::Block;
pub use compare::contrasted::{Contrast, GroupSummary, MaybeInterval, Verdict};
pub use compare::equivalence::Equivalence;
pub use compare::inference::Inference;
pub use compare::people::Over;
pub use compare::two_yields::{Flip, TwoYields};
pub use dial_in::dial::dial_in_study;
pub use dial_in::dialled::{Curve, Fit};
pub use dial_in::fieller::SettingInterval;
pub use dial_in::monotone::{Direction, Monotone};
pub use dial_in::straight::{DialLine, FitTest};
pub use dial_in::target::TargetSetting;
pub use gather::design::Layout;
pub use gather::study::{Missing, StudyRow, Taken};
pub use guards::caution::{Caution, CautionKind};
pub use profile::curve::LandmarkKind;
pub use profile::different::LandmarkDifference;
pub use profile::distance::DistanceParts;
pub use profile::result::{Landmark, ProfileBand};
pub use repeatability::crossed::{Component, Components};
pub use repeatability::icc::IccForm;
pub use repeatability::interval::{FTest, Interval};
pub use repeatability::spread::GroupSpread;
