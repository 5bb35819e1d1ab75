//! In: a [`Study`](crate::Study), or settings with what they gave. Out: a line and a monotone curve, and the setting for a target with its interval.

pub(crate) mod dial;
pub(crate) mod dialled;
pub(crate) mod fieller;
pub(crate) mod monotone;
pub(crate) mod straight;
pub(crate) mod target;
pub use dial::{DialOptions, dial_in, dial_in_study};
pub use dialled::{Curve, Dialled, Fit};
pub use fieller::SettingInterval;
pub use monotone::{Direction, Monotone};
pub use straight::{DialLine, FitTest};
pub use target::TargetSetting;
