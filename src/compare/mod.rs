//! In: a [`Study`](crate::Study), or values with groups and blocks. Out: whether the groups differ, and what must be said with the answer; and
//! what one mean beverage mass would have done to the yields.

mod adjust;
mod beverage;
mod blocks;
mod bootstrap;
mod cautions;
mod columns;
mod comparison;
mod contrast;
mod contrast_options;
mod contrasted;
mod effect;
mod equivalence;
mod overall;
mod pair;
mod permute;
mod power;
mod tukey;
mod two_yields;
mod welch;
pub use adjust::holm;
pub use beverage::{mean_beverage, mean_beverage_of};
pub use blocks::Block;
pub use columns::columns;
pub use comparison::{Comparison, compare};
pub use contrast::contrast;
pub use contrast_options::ContrastOptions;
pub use contrasted::{Contrast, Contrasts, GroupSummary, MaybeInterval};
pub use equivalence::{Equivalence, equivalence};
pub use power::{brews_needed, difference_seen, power_to_see};
pub use two_yields::{Flip, MeanBeverage, TwoYields};
