//! In: a stream at the bed, and the height that it fell. Out: whether it likely arrived unbroken.

use crate::agitation::known::Graded;
use crate::estimate::Estimate;
use crate::rows::words;

/// Uncertainty factor of the length.
pub(super) const BAND: f64 = 1.5;

words! {
/// How a stream likely arrives, by its break-up length.
///
/// - measures: whether water arrives as a stream or as drops; an ordinal proxy, not a decision
/// - formula: `L/d = 19.5 (sqrt(We) (1 + 3 Oh))^0.85` with `Oh = sqrt(We)/Re`, for the stream's width and speed at the
///   bed; the fall, with two sd to either side, is compared with `L/1.5` and `1.5 L`
/// - needs: the inputs of the stream at the bed, and the height
/// - valid when: the stream leaves the spout smoothly; a rough mouth, vibration or contact with the wall shorten
///   the length. The formula is for streams that do not narrow as they fall; the length of one that does varies along
///   its fall as `v^0.14` only
/// - reference: Grant and Middleman 1966, Newtonian jet stability, doi 10.1002/aic.690120411; the formula was not
///   checked against its text. Quotations of it differ: some give `19.5 sqrt(We) (1 + 3 Oh)^0.85`, longer by the factor
///   `We^0.075`, 1.3 at We 32
///
/// ```
/// use pourline::{Arrival, Estimate, Stream};
/// let from = |height_m| {
///     let (flow, bore) = (Estimate::exact(4.816), Estimate::exact(0.006));
///     Stream::falling(flow, bore, Estimate::exact(height_m), 93.0).unwrap().arrival.unwrap()
/// };
/// assert_eq!([0.05, 0.2, 0.6].map(from), [Arrival::LikelyUnbroken, Arrival::MayBeBroken, Arrival::LikelyBroken]);
/// assert_eq!(from(0.05).name(), "likely_unbroken");
/// ```
pub enum Arrival {
    /// The fall is shorter than the band.
    LikelyUnbroken = "likely_unbroken",
    /// The fall ends within the band.
    MayBeBroken = "may_be_broken",
    /// The fall is longer than the band.
    LikelyBroken = "likely_broken",
}
}

/// Break-up length of a stream of that width, m.
pub(super) fn break_up(width_m: Graded, weber: Graded, reynolds: Graded) -> Graded {
    let root = weber.power(0.5);
    let viscous = Graded::constant(1.0) + (root / reynolds).times(3.0);
    (width_m * (root * viscous).power(0.85)).times(19.5)
}

pub(super) fn arrival(height_m: Estimate, length_m: Estimate) -> Arrival {
    if height_m.value + 2.0 * height_m.sd < length_m.value / BAND {
        Arrival::LikelyUnbroken
    } else if height_m.value - 2.0 * height_m.sd > length_m.value * BAND {
        Arrival::LikelyBroken
    } else {
        Arrival::MayBeBroken
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_length_is_that_of_the_formula_with_its_viscous_term() {
        // By hand: We 16 and Re 40 give Oh 4/40 = 0.1; 19.5 x 0.006 (4 x 1.3)^0.85 m.
        let exact = Graded::constant;
        let found = break_up(exact(0.006), exact(16.0), exact(40.0)).value;
        assert!((found - 19.5 * 0.006 * 5.2_f64.powf(0.85)).abs() < 1e-12, "{found}");
    }

    #[test]
    fn the_band_begins_and_ends_at_one_and_a_half_of_the_length_with_two_sd_of_the_fall() {
        let of = |value: f64, sd: f64| arrival(Estimate::new(value, sd), Estimate::exact(0.3));
        // 0.3/1.5 = 0.2 m and 0.3 x 1.5 = 0.45 m.
        assert_eq!([0.19, 0.21].map(|h| of(h, 0.0)), [Arrival::LikelyUnbroken, Arrival::MayBeBroken]);
        assert_eq!([0.44, 0.46].map(|h| of(h, 0.0)), [Arrival::MayBeBroken, Arrival::LikelyBroken]);
        assert_eq!([0.17, 0.19].map(|h| of(h, 0.01)), [Arrival::LikelyUnbroken, Arrival::MayBeBroken]);
        assert_eq!([0.46, 0.48].map(|h| of(h, 0.01)), [Arrival::MayBeBroken, Arrival::LikelyBroken]);
    }
}
