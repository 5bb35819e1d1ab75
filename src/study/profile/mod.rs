//! In: a group of `Brew`s. Out: a `Profile`: their mean flow with a simultaneous band, on a time axis or on a
//! poured-water axis; the distance between two brews; the medoid and the outlier; the difference of two groups.
//!
//! Method: landmark registration (file `warp`), a sup-t band (file `band`), robust distances (file `outlier`), the
//! largest difference by dealing (file `largest`).

pub(crate) mod band;
pub(crate) mod boxes;
pub(crate) mod columns;
pub(crate) mod curve;
pub(crate) mod difference;
pub(crate) mod different;
pub(crate) mod distance;
pub(crate) mod largest;
pub(crate) mod options;
pub(crate) mod outlier;
pub(crate) mod result;
pub(crate) mod stage;
pub(crate) mod warp;
