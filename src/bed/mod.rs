//! In: a [`Trace`], its [`Segments`] and its [`Flow`]. Out: a [`Bed`]: what the bed held, kept and let
//! through, from the two weights together.
//!
//! Water comes from `flow`, beverage from a smoother of its own; both have the scale's lag taken out, so that their difference is what
//! lies between the two scales at one instant. After each pour the bed drains by a power of what stands in it. What it keeps is
//! that of the mass balance of [`extraction`](crate::extraction()).

pub(crate) mod balance;
pub(crate) mod collected;
pub(crate) mod conductance;
pub(crate) mod darcy;
pub(crate) mod drains;
pub(crate) mod drawdown;
pub(crate) mod first_drip;
pub(crate) mod fit;
pub(crate) mod held;
pub(crate) mod lag;
pub(crate) mod law;
pub(crate) mod loss;
pub(crate) mod options;
pub(crate) mod result;
pub(crate) mod rows;
pub(crate) mod stage;
pub(crate) mod warnings;
