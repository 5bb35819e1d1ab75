//! In: a difference that matters, the sd between brews, and a power. Out: brews per group; or the inverse.
//!
//! The power of the two-sided t test at equal sd, by the noncentral t distribution (Cohen 1988, Statistical Power
//! Analysis, chapter 2), at the level that the test can attain: a dealt p has steps, which are coarse for few brews (4
//! and 4 have p of 2/70, 4/70, ...).

use crate::error::{Error, Result};
use crate::estimate::Estimate;
use crate::math::distribution::{chi_squared_quantile, root, student_half_width};
use crate::math::noncentral::noncentral_below;
use crate::rows::rows;
use crate::study::compare::equivalence::{above_0, within_level};
use crate::study::compare::warnings::FEWEST;
use crate::table::{Table, Values};
use serde::{Deserialize, Serialize};

const MOST: usize = 1_000_000;
/// From so many arrangements with a p of at most 1 - level on, the steps of p do not matter.
const FINE: f64 = 25.0;
/// Most numbers of brews of a curve.
const MOST_POINTS: usize = 60;
/// Coverage of the interval of the sd.
const OF_SD: f64 = 0.95;

/// The test that is planned.
///
/// ```
/// use pourline::{PowerOptions, power};
/// // Cohen 1988: 64 per group detect half an sd with a power of 80 %.
/// let found = power(0.5, 1.0, 64, &PowerOptions { level: 0.95, ..PowerOptions::default() })?;
/// assert!((found - 0.80).abs() < 0.005);
/// # Ok::<(), pourline::Error>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PowerOptions {
    /// Probability of detection; above 0.5, below 1.
    pub power: f64,
    /// Confidence level; above 0.5, below 1.
    pub level: f64,
    /// Number of combinations of the blocks, such as people times days; at least 1.
    pub blocks: usize,
    /// Number of people, for inference to people like these; 0 for these people.
    pub people: usize,
    /// Sd between people of their own true difference; used with `people`.
    pub people_sd: f64,
}

impl Default for PowerOptions {
    fn default() -> Self {
        Self { power: 0.8, level: 0.95, blocks: 1, people: 0, people_sd: 0.0 }
    }
}

impl PowerOptions {
    fn check(&self) -> Result<()> {
        within_level("power", self.power)?;
        within_level("level", self.level)?;
        let wrong = |name: &str, value: f64, rule: &str| {
            Err(Error::OutOfRange { name: name.into(), value, rule: rule.into(), row: 0 })
        };
        if !(1..=MOST).contains(&self.blocks) {
            return wrong("blocks", self.blocks as f64, "it must be 1 or more");
        }
        if self.people == 1 || self.people > MOST {
            return wrong("people", self.people as f64, "two people or more are needed");
        }
        if !(self.people_sd >= 0.0 && self.people_sd.is_finite()) {
            return wrong("people_sd", self.people_sd, "it must be 0 or more");
        }
        Ok(())
    }

    /// Standard error of the difference, degrees of freedom, and the level that the test attains (1: none).
    fn test(&self, sd: f64, brews: usize) -> (f64, f64, f64) {
        let n = brews as f64;
        let of_brews = sd * (2.0 / n).sqrt();
        if self.people > 0 {
            let people = self.people as f64;
            return (of_brews.hypot(self.people_sd / people.sqrt()), people - 1.0, self.level);
        }
        let size = |cell: usize| brews / self.blocks + usize::from(cell < brews % self.blocks);
        let cells: Vec<[usize; 2]> = (0..self.blocks.min(brews)).map(|cell| [size(cell); 2]).collect();
        (of_brews, 2.0 * n - 1.0 - cells.len() as f64, attained(&cells, self.level))
    }

    fn power_of(&self, difference: f64, sd: f64, brews: usize) -> f64 {
        let (error, degrees, level) = self.test(sd, brews);
        if level >= 1.0 || degrees < 1.0 { 0.0 } else { power_of_t(difference.abs() / error, degrees, level) }
    }

    /// Fewest brews per group for which a comparison gives a p that can be small enough.
    fn fewest(&self) -> usize {
        let least = FEWEST.max(if self.people > 0 { self.people } else { self.blocks });
        (least..).find(|&brews| self.test(1.0, brews).2 < 1.0).unwrap_or(least)
    }
}

/// The confidence level that a dealt test attains: one less the largest p, of those that it can give, that is at most
/// 1 - level. `cells` has the units of both groups in each cell.
pub(super) fn attained(cells: &[[usize; 2]], level: f64) -> f64 {
    let ways: f64 =
        cells.iter().map(|&[a, b]| (1..=a).map(|k| (b + k) as f64 / k as f64).product::<f64>()).product();
    if ways * (1.0 - level) >= FINE {
        return level;
    }
    // A deal and its mirror image are equally extreme.
    let step = if cells.iter().all(|[a, b]| a == b) { 2.0 } else { 1.0 } / ways;
    1.0 - step * ((1.0 - level) * (1.0 + 1e-9) / step).floor()
}

/// Probability of detecting a true difference of `noncentrality` standard errors.
pub(super) fn power_of_t(noncentrality: f64, degrees: f64, level: f64) -> f64 {
    let t = student_half_width(level, degrees);
    1.0 - noncentral_below(t, degrees, noncentrality) + noncentral_below(-t, degrees, noncentrality)
}

/// The true difference, in standard errors, that is detected with that probability.
pub(super) fn seen(degrees: f64, power_wanted: f64, level: f64) -> f64 {
    // Below one degree of freedom per tail the bound is wide; 60 times the half-width holds any power up to 0.9999.
    let most = 60.0 * student_half_width(level, degrees) + 60.0;
    root(0.0, most, |noncentrality| power_of_t(noncentrality, degrees, level) < power_wanted)
}

/// Power: probability that a study with `brews` per group detects a true difference. It is 0 if no p can be small
/// enough. `sd` is the sd between brews within one group and block.
///
/// ```
/// use pourline::PowerOptions;
/// let found = pourline::power(2.0, 1.0, 3, &PowerOptions::default())?;
/// assert_eq!(found, 0.0, "3 and 3 have no p below 0.10");
/// # Ok::<(), pourline::Error>(())
/// ```
///
/// # Errors
/// `out_of_range` if the sd is not above 0, there are fewer than 2 brews per group, or an option is out of its range.
pub fn power(difference: f64, sd: f64, brews: usize, options: &PowerOptions) -> Result<f64> {
    above_0("sd", sd)?;
    two_brews(brews)?;
    options.check()?;
    if !difference.is_finite() {
        let rule = "it must be finite".into();
        return Err(Error::OutOfRange { name: "difference".into(), value: difference, rule, row: 0 });
    }
    Ok(options.power_of(difference, sd, brews))
}

/// Brews per group needed to detect a true difference with that power, and at least as many as a comparison needs for
/// a p. `sd` is the sd between brews within one group and block.
///
/// ```
/// use pourline::{PowerOptions, sample_size};
/// // Cohen 1988, table 2.4.1: 64 per group for half an sd, 26 for 0.8 sd, at a power of 80 %.
/// assert_eq!(sample_size(0.5, 1.0, &PowerOptions::default())?, 64);
/// assert_eq!(sample_size(0.8, 1.0, &PowerOptions::default())?, 26);
/// # Ok::<(), pourline::Error>(())
/// ```
///
/// # Errors
/// `out_of_range` if difference or sd are not above 0, an option is out of its range, or more than a million are
/// needed, as for few people who differ much.
pub fn sample_size(difference: f64, sd: f64, options: &PowerOptions) -> Result<usize> {
    above_0("difference", difference)?;
    above_0("sd", sd)?;
    options.check()?;
    let enough = |brews: usize| options.power_of(difference, sd, brews) >= options.power;
    let least = options.fewest();
    let mut high = least;
    while !enough(high) {
        if high > MOST {
            let rule = format!("more than {MOST} brews per group would be needed to detect it");
            return Err(Error::OutOfRange { name: "difference".into(), value: difference, rule, row: 0 });
        }
        high *= 2;
    }
    let mut low = if high == least { least - 1 } else { high / 2 };
    while high - low > 1 {
        let middle = usize::midpoint(low, high);
        if enough(middle) { high = middle } else { low = middle }
    }
    Ok(high)
}

/// Minimum detectable difference: the smallest true difference that is detected with that power.
///
/// ```
/// use pourline::{PowerOptions, minimum_detectable_difference};
/// // The same table, inverted: 64 per group detect half an sd.
/// let found = minimum_detectable_difference(64, 1.0, &PowerOptions::default())?;
/// assert!((found - 0.5).abs() < 0.005);
/// # Ok::<(), pourline::Error>(())
/// ```
///
/// # Errors
/// `out_of_range` if the sd is not above 0, an option is out of its range, or the brews are too few for a p that is
/// small enough.
pub fn minimum_detectable_difference(brews: usize, sd: f64, options: &PowerOptions) -> Result<f64> {
    above_0("sd", sd)?;
    two_brews(brews)?;
    options.check()?;
    let (error, degrees, level) = options.test(sd, brews);
    if level >= 1.0 || degrees < 1.0 {
        let rule =
            format!("at least {} per group are needed for a p that can be small enough", options.fewest());
        return Err(Error::OutOfRange { name: "brews".into(), value: brews as f64, rule, row: 0 });
    }
    Ok(error * seen(degrees, options.power, level))
}

rows! { $
/// Power by the number of brews, with the uncertainty of the sd that it was planned with.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct PowerCurve {
    /// The true difference.
    pub difference: f64,
    /// The sd between brews that was planned with.
    pub sd: f64,
    /// Interval of the sd, 95 %; None if it was given without an sd of its own.
    pub sd_interval: Option<[f64; 2]>,
    /// Brews per group that have the power.
    pub needed: usize,
    /// Brews per group that would be needed if the sd were either end of its interval.
    pub needed_interval: Option<[usize; 2]>,
    /// Numbers of brews per group.
    pub brews: Vec<usize>,
    /// Power of each number.
    pub power: Vec<f64>,
    /// Power if the sd were the upper end of its interval.
    pub power_low: Vec<f64>,
    /// Power if the sd were the lower end of its interval.
    pub power_high: Vec<f64>,
    /// The power that was asked for.
    pub power_wanted: f64,
    /// The result in a sentence.
    pub says: String,
}
}

/// Power by the number of brews per group. The own sd of `sd`, as of `within_sd` of an earlier study, gives its
/// interval (of a normal sample, by chi-squared).
///
/// ```
/// use pourline::{Estimate, PowerCurve, PowerOptions, power_curve};
/// // An sd of 8 degrees of freedom: its own sd is a quarter of it.
/// let found: PowerCurve = power_curve(0.5, Estimate::new(0.4, 0.1), &PowerOptions::default())?;
/// assert_eq!((found.needed, found.needed_interval), (12, Some([6, 38])));
/// # Ok::<(), pourline::Error>(())
/// ```
///
/// # Errors
/// As [`sample_size`].
pub fn power_curve(difference: f64, sd: Estimate, options: &PowerOptions) -> Result<PowerCurve> {
    let needed = sample_size(difference, sd.value, options)?;
    let sd_interval = (sd.sd > 0.0 && sd.sd.is_finite()).then(|| {
        let degrees = (0.5 * (sd.value / sd.sd).powi(2)).max(1.0);
        let end = |share: f64| sd.value * (degrees / chi_squared_quantile(share, degrees)).sqrt();
        [end(0.5 * (1.0 + OF_SD)), end(0.5 * (1.0 - OF_SD))]
    });
    let of_end = |sd: f64| sample_size(difference, sd, options).unwrap_or(MOST);
    let needed_interval = sd_interval.map(|ends| ends.map(of_end));
    let most = 2 * needed_interval.map_or(needed, |[_, high]| high.min(2 * needed)).max(6);
    let least = options.fewest().min(needed);
    let step = (most.saturating_sub(least) / MOST_POINTS).max(1);
    let brews: Vec<usize> = (least..=most.max(least)).step_by(step).collect();
    let of = |sd: f64| brews.iter().map(|&n| options.power_of(difference, sd, n)).collect::<Vec<f64>>();
    let [low, high] = sd_interval.unwrap_or([sd.value; 2]);
    let found = PowerCurve {
        difference,
        sd: sd.value,
        sd_interval,
        needed,
        needed_interval,
        power: of(sd.value),
        power_low: of(high),
        power_high: of(low),
        brews,
        power_wanted: options.power,
        says: String::new(),
    };
    Ok(PowerCurve { says: found.sentence(options), ..found })
}

impl PowerCurve {
    fn sentence(&self, options: &PowerOptions) -> String {
        let Self { difference, sd, needed, .. } = self;
        let percent = 100.0 * options.power;
        let who = if options.people > 0 { format!(" by {} people", options.people) } else { String::new() };
        let first = format!(
            "{needed} brews per group{who} find a difference of {difference} with a power of {percent:.0} %"
        );
        match (self.sd_interval, self.needed_interval) {
            (Some([low, high]), Some([least, most])) => {
                let most = if most >= MOST { "more than a million".into() } else { most.to_string() };
                format!(
                    "{first}; the sd of {sd:.3} may be {low:.3} to {high:.3}, which would need {least} to {most}."
                )
            }
            _ => format!("{first}, if the sd is {sd}."),
        }
    }

    /// One row per number of brews.
    #[must_use]
    pub fn table(&self) -> Table {
        let mut table = Table::default();
        table.push("brews", "", Values::Whole(self.brews.iter().map(|n| *n as i64).collect()));
        table.push("power", "", Values::Number(self.power.clone()));
        table.push("power_low", "", Values::Number(self.power_low.clone()));
        table.push("power_high", "", Values::Number(self.power_high.clone()));
        table
    }
}

fn two_brews(brews: usize) -> Result<()> {
    if brews >= 2 {
        return Ok(());
    }
    let rule = "at least 2 per group are needed".into();
    Err(Error::OutOfRange { name: "brews".into(), value: brews as f64, rule, row: 0 })
}

#[cfg(test)]
mod tests {
    use super::*;

    const USUAL: PowerOptions =
        PowerOptions { power: 0.8, level: 0.95, blocks: 1, people: 0, people_sd: 0.0 };

    #[test]
    fn the_sample_size_is_the_smallest_with_the_power() {
        // Two-sided 0.05 and a power of 0.80; by scipy 1, stats.nct: 0.2, 0.5, 0.8, 1.0, 1.2 and 1.4 sd. Cohen's
        // tables round two of them down by one.
        for (difference, brews) in [(0.2, 394), (0.5, 64), (0.8, 26), (1.0, 17), (1.2, 12), (1.4, 10)] {
            assert_eq!(sample_size(difference, 1.0, &USUAL).unwrap(), brews);
            assert!(power(difference, 1.0, brews, &USUAL).unwrap() >= 0.8);
            assert!(power(difference, 1.0, brews - 1, &USUAL).unwrap() < 0.8);
        }
        // Own arithmetic: 4 and 4 have 70 deals, of which two are the most extreme, 0.029; 3 and 3 have 20, 0.10.
        assert_eq!(sample_size(100.0, 1.0, &USUAL).unwrap(), 4);
        let fewest = |level: f64| PowerOptions { level, ..USUAL }.fewest();
        assert_eq!([0.9, 0.951, 0.98, 0.99].map(fewest), [3, 4, 5, 5]);
        // 6 and 6 have 924: 0.0022.
        assert_eq!([0.995, 0.998].map(fewest), [6, 7]);
        assert_eq!(sample_size(5.0, 10.0, &USUAL).unwrap(), 64, "half an sd of any size");
    }

    #[test]
    fn a_dealt_p_attains_its_own_steps() {
        // Own arithmetic: 4 and 4 have p of 2/70, 0.029, and 4/70, 0.057; 5 and 5 of 12/252, 0.048; pairs in five
        // blocks of 2/32, 0.0625, in six of 2/64, 0.031.
        for (cells, expected) in [
            (&[[4, 4]][..], 2.0 / 70.0),
            (&[[5, 5]], 12.0 / 252.0),
            (&[[1, 1]; 5], 0.0),
            (&[[1, 1]; 6], 2.0 / 64.0),
            (&[[3, 4]], 1.0 / 35.0),
            (&[[8, 8]], 0.05),
        ] {
            assert!((1.0 - attained(cells, 0.95) - expected).abs() < 1e-12, "{cells:?}");
        }
        let blocked = PowerOptions { blocks: 6, ..USUAL };
        assert_eq!(sample_size(100.0, 1.0, &blocked).unwrap(), 6);
        assert_eq!(power(100.0, 1.0, 5, &PowerOptions { blocks: 5, ..USUAL }).unwrap(), 0.0);
        assert!(minimum_detectable_difference(3, 1.0, &USUAL).is_err());
    }

    #[test]
    fn the_power_of_four_and_four_is_that_of_dealing() {
        // By the definition: all 70 deals of 4,000 simulated studies; a normal sample, 2.5 sd. The sd of a share is
        // below 0.008, and t at the attained level is an approximation.
        let mut random = crate::math::random::Random::new(8);
        let mut found = 0;
        for _ in 0..4000 {
            let y: Vec<f64> = (0..8).map(|i| random.normal() + if i < 4 { 2.5 } else { 0.0 }).collect();
            let total: f64 = y.iter().sum();
            let apart = |deal: u32| {
                let sum: f64 = (0..8).filter(|i| deal >> i & 1 == 1).map(|i| y[i as usize]).sum();
                (sum - 0.5 * total).abs()
            };
            let deals = (0..256_u32).filter(|deal| deal.count_ones() == 4);
            found += usize::from(deals.filter(|deal| apart(*deal) >= apart(15) - 1e-12).count() <= 3);
        }
        let (share, planned) = (f64::from(found as u32) / 4000.0, power(2.5, 1.0, 4, &USUAL).unwrap());
        println!("dealt {share:.3}, planned {planned:.3}");
        assert!((share - planned).abs() < 0.08, "{share} {planned}");
    }

    #[test]
    fn people_like_these_need_people() {
        // Own arithmetic: the paired t test of 5 people with 4 brews of each kettle: error^2 = (0.3^2 + 2/4)/5.
        let options = PowerOptions { people: 5, people_sd: 0.3, ..USUAL };
        let error = ((0.09_f64 + 0.5) / 5.0).sqrt();
        let expected = power_of_t(1.0 / error, 4.0, 0.95);
        assert!((power(1.0, 1.0, 20, &options).unwrap() - expected).abs() < 1e-12);
        // Brews alone cannot make up for people who differ.
        let few = PowerOptions { people: 3, people_sd: 1.0, ..USUAL };
        assert_eq!(sample_size(0.5, 0.1, &few).unwrap_err().kind(), "out_of_range");
        assert!(power(1.0, 1.0, 20, &PowerOptions { people: 1, ..USUAL }).is_err());
    }

    #[test]
    fn the_sample_size_is_at_most_a_million() {
        // By the normal law (1.959964 + 0.841621)^2 2/d^2 brews: 900,000 for 0.004177 sd, 1.5 million for 0.003235.
        let found = sample_size(0.004_177, 1.0, &USUAL).unwrap() as f64;
        assert!((found / 9e5 - 1.0).abs() < 0.002, "{found}");
        assert_eq!(sample_size(0.003_235, 1.0, &USUAL).unwrap_err().kind(), "out_of_range");
    }

    #[test]
    fn the_minimum_detectable_difference_has_the_power() {
        for (brews, sd) in [(4, 1.0), (5, 0.3), (64, 2.0)] {
            let seen = minimum_detectable_difference(brews, sd, &USUAL).unwrap();
            assert!((power(seen, sd, brews, &USUAL).unwrap() - 0.8).abs() < 1e-6, "{brews}");
        }
        // Cohen: 64 per group for half an sd, of 2.
        assert!((minimum_detectable_difference(64, 2.0, &USUAL).unwrap() - 1.0).abs() < 0.01);
        assert!(power(1.0, 1.0, 1, &USUAL).is_err() && power(1.0, 1.0, 2, &USUAL).is_ok());
    }

    #[test]
    fn the_curve_states_what_the_sd_may_be() {
        // Chi-squared of 8 degrees: 2.180 and 17.535 (tables); an sd of 0.4 may be 0.270 to 0.766.
        let found = power_curve(0.5, Estimate::new(0.4, 0.1), &USUAL).unwrap();
        let [low, high] = found.sd_interval.unwrap();
        assert!((low - 0.4 * (8.0_f64 / 17.535).sqrt()).abs() < 1e-4, "{low}");
        assert!((high - 0.4 * (8.0_f64 / 2.180).sqrt()).abs() < 1e-3, "{high}");
        assert!(
            found
                .says
                .starts_with("12 brews per group find a difference of 0.5 with a power of 80 %; the sd")
        );
        assert!(found.power.windows(2).all(|pair| pair[0] <= pair[1]) && found.brews[0] == 4);
        assert!(power_curve(0.5, Estimate::exact(0.4), &USUAL).unwrap().says.ends_with("if the sd is 0.4."));
    }
}
