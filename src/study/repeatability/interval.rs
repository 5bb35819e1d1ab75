//! In: mean squares with their degrees of freedom. Out: [`Interval`]s of variances that are linear in them.
//!
//! Method: the exact chi-squared interval for one mean square, the modified large-sample method for sums (Graybill and
//! Wang 1980, J. Am. Stat. Assoc. 75, 869) and differences (Ting, Burdick, Graybill, Jeyaratnam and Lu 1990, J. Stat.
//! Comput. Simul. 35, 135; as in Burdick, Borror and Montgomery 2003, J. Qual. Technol. 35, 342). They are exact if
//! one of the two terms is 0.

use crate::math::distribution::{chi_squared_quantile, fisher_above, fisher_quantile_above};
use crate::rows::rows;
use serde::{Deserialize, Serialize};

/// Coverage: the share of studies whose interval contains the true value.
pub(super) const LEVEL: f64 = 0.95;
/// Probability beyond either end.
pub(super) const TAIL: f64 = 0.5 * (1.0 - LEVEL);

rows! { $
/// An estimate with its 95 % interval, all in the same unit.
///
/// ```
/// use pourline::Estimate;
/// use pourline::repeatability;
/// let masses_g: Vec<Estimate> = [60.1, 59.7, 60.4, 61.0, 60.8, 61.3].map(Estimate::exact).into();
/// let found = repeatability(&masses_g, &["Ada", "Ada", "Ada", "Bo", "Bo", "Bo"])?;
/// assert!(found.within_sd.low < found.within_sd.value && found.within_sd.value < found.within_sd.high);
/// # Ok::<(), pourline::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Interval {
    /// The estimate.
    pub value: f64,
    /// Lower end of the interval.
    pub low: f64,
    /// Upper end of the interval.
    pub high: f64,
}
}

impl Interval {
    /// The root of a variance and of its interval; negative values are set to 0.
    pub(super) fn root(variance: f64, [low, high]: [f64; 2]) -> Self {
        let root = |variance: f64| variance.max(0.0).sqrt();
        Self { value: root(variance), low: root(low), high: root(high) }
    }

    /// The same in another unit, `factor` of the new unit to one of the old; `factor` is positive.
    pub(super) fn scaled(self, factor: f64) -> Self {
        Self { value: self.value * factor, low: self.low * factor, high: self.high * factor }
    }

    /// The sd without a known part: root of the difference of the squares, 0 if that is negative.
    pub(super) fn without(self, known_sd: f64) -> Self {
        let rest = |sd: f64| sd * sd - known_sd * known_sd;
        Self::root(rest(self.value), [rest(self.low), rest(self.high)])
    }
}

rows! { $
/// A test of a ratio of two mean squares by Fisher's F distribution.
///
/// ```
/// use pourline::Estimate;
/// use pourline::study::{FTest};
/// use pourline::{repeatability};
/// let masses_g: Vec<Estimate> = [60.1, 59.7, 60.4, 61.0, 60.8, 61.3].map(Estimate::exact).into();
/// let FTest { f, p, .. } = repeatability(&masses_g, &["Ada", "Ada", "Ada", "Bo", "Bo", "Bo"])?.difference.unwrap();
/// assert!(f > 10.0 && p < 0.05);
/// # Ok::<(), pourline::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct FTest {
    /// Ratio of the two mean squares.
    pub f: f64,
    /// Degrees of freedom of the numerator.
    pub degrees: f64,
    /// Degrees of freedom of the denominator.
    pub degrees_below: f64,
    /// p: the probability of a ratio at least as large by chance alone.
    pub p: f64,
}
}

impl FTest {
    pub(super) fn of(above: MeanSquare, below: MeanSquare) -> Self {
        let f = above.value / below.value;
        let p = fisher_above(f, above.degrees, below.degrees);
        Self { f, degrees: above.degrees, degrees_below: below.degrees, p }
    }
}

/// A mean square with its degrees of freedom.
#[derive(Debug, Clone, Copy)]
pub(super) struct MeanSquare {
    pub(super) value: f64,
    pub(super) degrees: f64,
}

impl MeanSquare {
    /// The ends of the expectation of this mean square, as multiples of it.
    fn ends(self) -> [f64; 2] {
        [1.0 - TAIL, TAIL].map(|share| self.degrees / chi_squared_quantile(share, self.degrees))
    }

    /// Interval of the expectation of this mean square.
    pub(super) fn interval(self) -> [f64; 2] {
        self.ends().map(|end| end * self.value)
    }

    /// Interval of the expectation of this mean square less that of another.
    pub(super) fn less(self, other: Self) -> [f64; 2] {
        let ([a_low, a_high], [b_low, b_high]) = (self.ends(), other.ends());
        let (g1, h1, g2, h2) = (1.0 - a_low, a_high - 1.0, 1.0 - b_low, b_high - 1.0);
        let (a, b) = (self.value, other.value);
        let upper = fisher_quantile_above(TAIL, self.degrees, other.degrees);
        let lower = fisher_quantile_above(1.0 - TAIL, self.degrees, other.degrees);
        let g12 = ((upper - 1.0).powi(2) - (g1 * upper).powi(2) - h2 * h2) / upper;
        let h12 = ((1.0 - lower).powi(2) - (h1 * lower).powi(2) - g2 * g2) / lower;
        let down = (g1 * a).powi(2) + (h2 * b).powi(2) + g12 * a * b;
        let up = (h1 * a).powi(2) + (g2 * b).powi(2) + h12 * a * b;
        [a - b - down.max(0.0).sqrt(), a - b + up.max(0.0).sqrt()]
    }
}

/// Interval of a sum of expectations of mean squares, each with its factor, none of which is negative.
pub(super) fn sum(terms: &[(f64, MeanSquare)]) -> [f64; 2] {
    let (mut middle, mut down, mut up) = (0.0, 0.0, 0.0);
    for (factor, square) in terms {
        let [low, high] = square.ends();
        let part = factor * square.value;
        middle += part;
        down += ((1.0 - low) * part).powi(2);
        up += ((high - 1.0) * part).powi(2);
    }
    [middle - down.sqrt(), middle + up.sqrt()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_mean_square_has_the_textbook_interval() {
        // s = 1.2 on 10 degrees; the quantiles are those of scipy 1.17.1, chi2.ppf.
        let [low, high] = MeanSquare { value: 1.44, degrees: 10.0 }.interval();
        assert!((low - 14.4 / 20.483177350807388).abs() < 1e-9, "{low}");
        assert!((high - 14.4 / 3.2469727802368413).abs() < 1e-9, "{high}");
    }

    #[test]
    fn a_term_of_0_does_not_change_the_interval_of_the_other() {
        let (some, none) = (MeanSquare { value: 2.0, degrees: 7.0 }, MeanSquare { value: 0.0, degrees: 5.0 });
        for (found, exact) in
            [(some.less(none), some.interval()), (sum(&[(1.0, some), (1.0, none)]), some.interval())]
        {
            for (found, exact) in found.iter().zip(exact) {
                assert!((found - exact).abs() < 1e-12, "{found}, not {exact}");
            }
        }
    }

    #[test]
    fn the_lower_end_of_a_difference_is_0_at_the_f_quantile() {
        // Ting et al. chose the cross term for this: the lower end is 0 exactly if F equals its quantile.
        let below = MeanSquare { value: 1.0, degrees: 12.0 };
        let f = fisher_quantile_above(TAIL, 3.0, 12.0);
        let [low, _] = MeanSquare { value: f, degrees: 3.0 }.less(below);
        assert!(low.abs() < 1e-9, "{low}");
    }
}
