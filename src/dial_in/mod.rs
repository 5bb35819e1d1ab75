//! In: a [`Study`](crate::Study), or settings with what they gave. Out: a line and a monotone curve, and the setting for a target with its interval.

mod columns;
mod dial;
mod dialled;
mod fieller;
mod monotone;
mod straight;
mod target;
pub use columns::columns;
pub use dial::{DialOptions, dial_in, dial_in_study};
pub use dialled::{Curve, Dialled, Fit};
pub use fieller::SettingInterval;
pub use monotone::{Direction, Monotone};
pub use straight::{DialLine, FitTest};
pub use target::TargetSetting;
