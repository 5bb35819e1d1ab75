//! In: a study and the compared measure. Out: cautions about the design: factors that change with the group, the order
//! of the brews, people, unequal scatter, outliers, ties, missing values.

pub(crate) mod caution;
pub(crate) mod factors;
pub(crate) mod guard;
pub(crate) mod missing;
pub(crate) mod order;
pub(crate) mod shape;
pub(crate) mod view;
