//! In: a strength and a yield. Out: their place on the brewing control chart, compared with the box of a named
//! document.
//!
//! A box is what a document recommends, not what anyone will like. The documents differ: so the box is a parameter, and
//! it names its document.

use crate::estimate::Estimate;
use crate::math::distribution::normal_below;
use crate::rows::{rows, words};
use serde::{Deserialize, Serialize};

rows! { $
/// A box of the brewing control chart, with the document that recommends it.
///
/// ```
/// use pourline::{Estimate, extraction::{ChartBox, Side}};
/// let place = ChartBox::scaa_2015().place(Estimate::new(1.38, 0.03), Estimate::new(21.0, 0.5));
/// assert_eq!((place.strength, place.extraction), (Side::Above, Side::Within));
/// // With an sd of 0.03 a strength of 1.38 % may lie below 1.35 %.
/// assert!((place.strength_within - 0.16).abs() < 0.01);
/// ```
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct ChartBox {
    /// The document with its date.
    pub document: String,
    /// Lowest and highest strength, percent.
    pub strength_pct: [f64; 2],
    /// Lowest and highest yield, percent.
    pub yield_pct: [f64; 2],
    /// From and to how much coffee to a litre of water, g/L; None if the document does not say.
    pub coffee_g_per_l: Option<[f64; 2]>,
}
}

words! {
/// On which side of a range a number lies.
pub enum Side {
    /// Below it.
    Below = "below",
    /// Within it, its ends included.
    Within = "within",
    /// Above it.
    Above = "above",
}
}

rows! { $
/// Where a brew lies on the brewing control chart, and how sure that is.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Place {
    /// Side of its strength: `below`, `within` or `above`.
    pub strength: Side,
    /// Side of its yield: `below`, `within` or `above`.
    pub extraction: Side,
    /// Probability that the true strength lies within the box's, 0 to 1.
    pub strength_within: f64,
    /// Probability that the true yield lies within the box's, 0 to 1.
    ///
    /// Both rest on the same measured strength: their product is not the probability of both.
    pub yield_within: f64,
}
}

impl ChartBox {
    /// SCAA Golden Cup Standard, 23 December 2015: 1.15 to 1.35 %, 18 to 22 %, 55 g/L and 10 % to either side.
    #[must_use]
    pub fn scaa_2015() -> Self {
        Self {
            document: "SCAA Golden Cup Standard, 23 December 2015".into(),
            strength_pct: [1.15, 1.35],
            yield_pct: [18.0, 22.0],
            coffee_g_per_l: Some([49.5, 60.5]),
        }
    }

    /// SCA certification of home brewers, text of 2018: a strength up to 1.45 %. The other limits of this box are those
    /// of the SCAA standard of 2015.
    #[must_use]
    pub fn sca_home_brewer_2018() -> Self {
        Self {
            document: "SCA certification of home brewers, text of 2018".into(),
            strength_pct: [1.15, 1.45],
            yield_pct: [18.0, 22.0],
            coffee_g_per_l: None,
        }
    }

    /// Where a strength (that of the cup, if water was added) and a yield lie.
    #[must_use]
    pub fn place(&self, strength_pct: Estimate, yield_pct: Estimate) -> Place {
        Place {
            strength: side(strength_pct.value, self.strength_pct),
            extraction: side(yield_pct.value, self.yield_pct),
            strength_within: within(strength_pct, self.strength_pct),
            yield_within: within(yield_pct, self.yield_pct),
        }
    }
}

fn side(value: f64, [low, high]: [f64; 2]) -> Side {
    if value < low {
        Side::Below
    } else if value > high {
        Side::Above
    } else {
        Side::Within
    }
}

fn within(number: Estimate, range: [f64; 2]) -> f64 {
    if number.sd > 0.0 {
        let [low, high] = range.map(|end| normal_below((end - number.value) / number.sd));
        (high - low).clamp(0.0, 1.0)
    } else {
        f64::from(u8::from(side(number.value, range) == Side::Within))
    }
}
