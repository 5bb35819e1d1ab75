//! In: the metadata of a brew, its water and its beverage. Out: `Extraction`: yield, strength, brew ratio, retention,
//! and the water in the spent bed. Besides: the inverse of the same balance, the brewing control chart, a brew in
//! fractions, and a retention estimated from brews.
//!
//! Method: the mass balance of percolation or of full immersion, with an uncertainty budget of first order (JCGM
//! 100:2008, 5.1.2) and by the Monte Carlo method (JCGM 101:2008). With strength T, beverage B, dose D, water W and
//! retention r = (W - B)/D the yield of percolation is T B/D = T (W/D - r) (Batali, Ristenpart, Guinard 2020, Sci. Rep.
//! 10, doi 10.1038/s41598-020-73341-4), that of immersion T/(1 - T) W/D.

pub(crate) mod assumed;
pub(crate) mod balance;
pub(crate) mod budget;
pub(crate) mod chart;
pub(crate) mod fractions;
pub(crate) mod given;
pub(crate) mod inputs;
pub(crate) mod inverse;
pub(crate) mod learn;
pub(crate) mod options;
pub(crate) mod result;
pub(crate) mod retained;
pub(crate) mod sampled;
pub(crate) mod stage;
pub(crate) mod warnings;

pub use chart::{ChartBox, Place, Side};
pub use fractions::{Fraction, Fractions, fractions};
pub use inverse::{
    beverage_for_g, chart_line_pct, dose_for_g, dose_for_water_g, immersion_strength_pct, strength_for_pct,
    water_for_g,
};
pub use learn::{LearntRetention, learn_retention};
pub use sampled::MonteCarlo;
