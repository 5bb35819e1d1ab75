//! In: many [`Brew`](crate::Brew)s, or a table of numbers. Out: a [`Study`]: one row a brew, with its factors and its numbers, from which
//! questions about kettles, grinders, brewers and people are answered.

mod adjust;
mod blocks;
mod bootstrap;
mod cautions;
mod comparison;
mod contrast;
mod contrast_options;
mod contrasted;
mod design;
mod effect;
mod equivalence;
mod gather;
mod overall;
mod pair;
mod permute;
mod power;
mod study;
mod tabled;
mod tukey;
mod welch;
pub use adjust::holm;
pub use blocks::Block;
pub use comparison::{Comparison, compare};
pub use contrast::contrast;
pub use contrast_options::ContrastOptions;
pub use contrasted::{Contrast, Contrasts, GroupSummary, MaybeInterval};
pub use design::{Design, Layout};
pub use equivalence::{Equivalence, equivalence};
pub use gather::{Pours, gather};
pub use power::{brews_needed, difference_seen, power_to_see};
pub use study::{Missing, Study, StudyRow, Taken};
