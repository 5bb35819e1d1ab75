//! In: a `Trace`, its `Segments` and its `Flow`. Out: a `Bed`: holdup, retained water and drainage, from both
//! weights.
//!
//! Water comes from `flow`, beverage from a smoother of its own. Both are corrected for the scale's lag: their
//! difference is the water between the two scales at one instant. After each pour the drain flow is a power of the
//! standing water. The retained water is that of the mass balance of `extraction`).

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
