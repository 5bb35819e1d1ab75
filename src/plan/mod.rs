//! In: a [`Plan`] of pours and a [`Brew`](crate::Brew). Out: [`Followed`]: how near the brew came to the plan, pour by pour, as one
//! score, and the one thing to work on; and [`Progress`] over days.
//!
//! The plan's clock stands at 0 when its first pour starts. Planned and poured pours are paired so that a missed or an additional one
//! does not shift the others (`pair`); each difference is an estimate with its sd, held against its tolerance (`kept`).

mod advice;
mod columns;
mod follow;
mod followed;
mod kept;
mod pair;
mod planned;
mod pour;
mod progress;
mod read;
mod rows;
mod score;
mod written;

pub use columns::columns;
pub use followed::{ExtraPour, Followed, FollowedPour};
pub use kept::Kept;
pub use planned::Plan;
pub use pour::PlannedPour;
pub use progress::{Progress, ProgressDay, progress};
