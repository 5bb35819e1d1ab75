//! In: an [`Extraction`] with its budget. Out: the same yield by the Monte Carlo method (JCGM 101:2008), which does not
//! linearise: every input is drawn from a normal distribution (6.4.7), and the yield is computed for each draw.

use crate::estimate::{Estimate, Undefined};
use crate::extraction::balance::{Balance, Named, Number};
use crate::extraction::result::Extraction;
use crate::math::random::Random;
use crate::rows::rows;
use serde::{Deserialize, Serialize};

const FEWEST: usize = 1_000;
const MOST: usize = 10_000_000;
/// Coverage of the interval.
const COVERAGE: f64 = 0.95;

rows! { $
/// A yield by the Monte Carlo method: every input drawn from a normal distribution (JCGM 101:2008).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct MonteCarlo {
    /// Mean and sd of the drawn yields, percent.
    pub yield_pct: Estimate,
    /// Ends of the central 95 % interval of the drawn yields, percent.
    pub interval_pct: [f64; 2],
    /// Number of draws.
    ///
    /// The relative sd of the sd is one over the root of twice this.
    pub draws: usize,
    /// The seed: equal seeds give equal numbers.
    pub seed: u64,
}
}

impl Extraction {
    /// The yield by the Monte Carlo method, a check of the first-order sd: the two agree if the inputs' sd are small.
    ///
    /// ```
    /// use pourline::{Estimate, ExtractionOptions, Meta, extraction};
    /// let meta = Meta { dose_g: Some(15.0), tds_pct: Some(1.38), ..Meta::default() };
    /// let weighed = |mass_g| Ok(Estimate::new(mass_g, 0.1));
    /// let found = extraction(&meta, weighed(270.0), weighed(240.0), &ExtractionOptions::default());
    /// let drawn = found.monte_carlo(100_000, 1).unwrap();
    /// assert!((drawn.yield_pct.sd / found.yield_pct.unwrap().sd - 1.0).abs() < 0.02);
    /// ```
    ///
    /// # Errors
    /// Undefined if the yield is, for other than 1,000 to 10 million draws, and if a draw has no yield above 0: the
    /// inputs are then too uncertain to be normal.
    pub fn monte_carlo(&self, draws: usize, seed: u64) -> Result<MonteCarlo, Undefined> {
        self.yield_pct.as_ref().map_err(Clone::clone)?;
        if !(FEWEST..=MOST).contains(&draws) {
            return Err(Undefined::because(format!("draws is {draws}: it must be {FEWEST} to {MOST}")));
        }
        let mut random = Random::stream(seed, "extraction");
        let after_bypass = self.budget.iter().any(|row| row.name == "bypass_g");
        let mut drawn: Vec<Named<Number>> =
            self.budget.iter().map(|row| (row.name.as_str(), Number::constant(0.0))).collect();
        let mut yields = Vec::with_capacity(draws);
        for _ in 0..draws {
            for ((_, number), row) in drawn.iter_mut().zip(&self.budget) {
                number.value = row.value.value + row.value.sd * random.normal();
            }
            let balance = Balance { convention: self.convention, after_bypass, inputs: &drawn };
            match balance.yield_pct().map(|number| number.value) {
                Some(found) if found > 0.0 && found.is_finite() => yields.push(found),
                _ => {
                    return Err(Undefined::because(
                        "a draw has no yield: the inputs are too uncertain to be normal",
                    ));
                }
            }
        }
        yields.sort_by(f64::total_cmp);
        let n = draws as f64;
        let mean = yields.iter().sum::<f64>() / n;
        let variance = yields.iter().map(|y| (y - mean).powi(2)).sum::<f64>() / (n - 1.0);
        let outside = ((1.0 - COVERAGE) / 2.0 * n) as usize;
        let interval_pct = [yields[outside], yields[draws - 1 - outside]];
        Ok(MonteCarlo { yield_pct: Estimate::new(mean, variance.sqrt()), interval_pct, draws, seed })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    use crate::extraction::options::ExtractionOptions;
    use crate::extraction::stage::extraction;
    use crate::log::meta::Meta;

    #[test]
    fn the_interval_is_the_central_95_percent_of_the_drawn_yields() {
        let meta = Meta { dose_g: Some(15.0), tds_pct: Some(1.4), ..Meta::default() };
        let weighed = |mass_g| Ok(Estimate::new(mass_g, 2.0));
        let found = extraction(&meta, weighed(270.0), weighed(240.0), &ExtractionOptions::default());
        let drawn = found.monte_carlo(100_000, 3).unwrap();
        let expected = found.yield_pct.unwrap();
        assert!((drawn.yield_pct.value / expected.value - 1.0).abs() < 1e-3);
        assert!((drawn.yield_pct.sd / expected.sd - 1.0).abs() < 0.01, "{} {expected}", drawn.yield_pct);
        // Nearly normal: 1.96 sd on both sides; with 100,000 draws the sd of the ends is a hundredth of an sd.
        for (end, side) in drawn.interval_pct.into_iter().zip([-1.0, 1.0]) {
            let z = (end - drawn.yield_pct.value) / drawn.yield_pct.sd;
            assert!((z - side * 1.96).abs() < 0.05, "{z}");
        }
    }
}
