//! In: a `Plan` of pours and a `Brew`. Out: `PlanResult`: deviations pour by pour, one score, and
//! the habits in them, the one thing to work on next; and `Progress` over days.
//!
//! The plan's clock stands at 0 when its first pour starts. Planned and poured pours are aligned so that a missed or an
//! additional one does not shift the others (`pair`); each deviation, poured less planned, is an estimate with its sd,
//! compared with its tolerance (`within`).

pub(crate) mod advice;
pub(crate) mod columns;
pub(crate) mod control;
pub(crate) mod follow;
pub(crate) mod habit;
pub(crate) mod pair;
pub(crate) mod planned;
pub(crate) mod pour;
pub(crate) mod progress;
pub(crate) mod read;
pub(crate) mod result;
pub(crate) mod rows;
pub(crate) mod score;
pub(crate) mod within;
pub(crate) mod written;
