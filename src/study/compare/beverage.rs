//! In: brews with strength, dose and weighed beverage. Out: [`MeanBeverage`]: effect on yields and ranks of one mean
//! beverage mass instead of each brew's own.
//!
//! Method: the mass balance of [`crate::extraction`] with `average_beverage_g`; the mean is taken as exact. Ranks are
//! by yield from the highest; equal yields share a rank. Two yields are clearly different if they differ by more than
//! two sd, brews taken as independent.

use crate::brew::result::Brew;
use crate::error::{Error, Result};
use crate::estimate::{Estimate, Maybe, Undefined};
use crate::extraction::options::ExtractionOptions;
use crate::extraction::stage::extraction;
use crate::log::meta::Meta;
use crate::study::compare::two_yields::{Flip, MeanBeverage, TwoYields, words};
use crate::study::gather::study::{Missing, Study};

/// Number of sd of a clear difference.
const CLEAR_SD: f64 = 2.0;

/// Inputs of the mass balance of one brew.
struct Cup {
    brew: String,
    meta: Meta,
    water_g: Maybe,
    beverage_g: Maybe,
    options: ExtractionOptions,
}

impl Cup {
    /// Own yield, and the error that the beverage `guess_g` in its place makes.
    fn yields(&self, guess_g: f64) -> std::result::Result<(Estimate, Estimate), Undefined> {
        let options = ExtractionOptions { average_beverage_g: Some(guess_g), ..self.options.clone() };
        let found = extraction(&self.meta, self.water_g.clone(), self.beverage_g.clone(), &options);
        Ok((found.yield_pct?, found.average_beverage_error_pct?))
    }

    /// Yield if that beverage is taken as exact.
    fn guessed(&self, guess_g: f64) -> Maybe {
        extraction(&self.meta, self.water_g.clone(), Ok(Estimate::exact(guess_g)), &self.options).yield_pct
    }
}

/// Compares the yields of a study's brews with those that their mean beverage mass gives.
///
/// It needs `tds_pct`, `dose_g` and `beverage_g`, and takes the plain balance of percolation; [`mean_beverage_of`]
/// takes brews with all the inputs of their own extraction. If the sd of strength or dose is 0, that of
/// [`ExtractionOptions`] is used.
///
/// ```
/// use pourline::{MeanBeverage, mean_beverage};
/// use pourline::Study;
/// use pourline::{Table, Values};
/// let mut table = Table::default();
/// let mut put = |name: &str, values: [f64; 3]| table.push(name, "", Values::Number(values.to_vec()));
/// put("tds_pct", [1.38, 1.36, 1.40]);
/// put("dose_g", [15.0; 3]);
/// put("beverage_g", [240.0, 246.0, 234.0]);
/// let found: MeanBeverage = mean_beverage(&Study::of(&table)?)?;
/// assert_eq!(found.mean_beverage_g, 240.0);
/// // The second brew has the highest yield by its own beverage, 22.30 %, and the lowest by the mean, 21.76 %.
/// assert_eq!((found.brews[1].own_rank, found.brews[1].with_mean_rank, found.rank_changes), (1, 3, 2));
/// # Ok::<(), pourline::Error>(())
/// ```
///
/// # Errors
/// `argument` if fewer than 2 brews have all three, naming what is missing.
pub fn mean_beverage(study: &Study) -> Result<MeanBeverage> {
    let cups = study.rows.iter().map(|row| {
        let [tds, dose] = ["tds_pct", "dose_g"].map(|name| row.number(name).ok());
        let sd = |number: Option<Estimate>| number.map(|n| n.sd).filter(|sd| *sd > 0.0);
        Cup {
            brew: row.brew.clone(),
            meta: Meta {
                tds_pct: tds.map(|t| t.value),
                tds_sd_pct: sd(tds),
                dose_g: dose.map(|d| d.value),
                dose_sd_g: sd(dose),
                ..Meta::default()
            },
            water_g: row.number("water_g"),
            beverage_g: row.number("beverage_g"),
            options: ExtractionOptions::default(),
        }
    });
    Ok(compare(&cups.collect::<Vec<_>>())?.without(study.failed.clone()))
}

/// The same for brews, each with the options of its own extraction.
///
/// # Errors
/// `argument` if fewer than 2 brews have strength, dose and a weighed beverage, naming what is missing.
pub fn mean_beverage_of(brews: &[Brew]) -> Result<MeanBeverage> {
    let cups = brews.iter().enumerate().map(|(i, brew)| Cup {
        brew: brew.meta.name.clone().unwrap_or_else(|| format!("brew {}", i + 1)),
        meta: brew.meta.clone(),
        water_g: brew.extraction.water_g.clone(),
        // A beverage from a stated retention is the same for all equal pours: it is not informative.
        beverage_g: match brew.extraction.beverage_source {
            Some(crate::extraction::result::BeverageSource::FromRetention) => {
                Err(Undefined::because("the beverage was not weighed"))
            }
            _ => brew.extraction.beverage_g.clone(),
        },
        options: ExtractionOptions { retention_g_per_g: None, ..brew.options.extraction.clone() },
    });
    compare(&cups.collect::<Vec<_>>())
}

fn compare(cups: &[Cup]) -> Result<MeanBeverage> {
    let (mut counted, mut missing) = (Vec::new(), Vec::new());
    for cup in cups {
        // Any mass shows whether the balance is defined.
        match cup.beverage_g.clone().and_then(|b| cup.yields(b.value).map(|_| b)) {
            Ok(beverage) => counted.push((cup, beverage)),
            Err(why) => missing.push(Missing {
                brew: cup.brew.clone(),
                pour: None,
                what: "yield_pct".into(),
                reason: why.reason,
            }),
        }
    }
    if counted.len() < 2 {
        let lacking =
            missing.iter().map(|m| format!("{}: {}", m.brew, m.reason)).collect::<Vec<_>>().join("; ");
        let message = format!(
            "{} of {} brews have strength, dose and a weighed beverage, and 2 are needed; {lacking}",
            counted.len(),
            cups.len()
        );
        return Err(Error::Argument { name: "brews".into(), message });
    }
    let n = counted.len() as f64;
    let mean = counted.iter().map(|(_, b)| b.value).sum::<f64>() / n;
    let spread = counted.iter().map(|(_, b)| (b.value - mean).powi(2)).sum::<f64>() / (n - 1.0);
    let mut brews = Vec::with_capacity(counted.len());
    for (cup, beverage_g) in counted {
        let found = cup.yields(mean).and_then(|yields| Ok((yields, cup.guessed(mean)?)));
        // Both are defined: the check above used another mass.
        let Ok(((own_pct, error_pct), with_mean_pct)) = found else { continue };
        let brew = cup.brew.clone();
        brews.push(TwoYields {
            brew,
            beverage_g,
            own_pct,
            with_mean_pct,
            error_pct,
            own_rank: 0,
            with_mean_rank: 0,
        });
    }
    rank(&mut brews);
    let flips = flips(&brews);
    let pair = |a: &TwoYields, b: &TwoYields| turned(a, b);
    let pairs_flipped =
        brews.iter().enumerate().map(|(i, a)| brews[..i].iter().filter(|b| pair(a, b)).count()).sum();
    let size = |b: &TwoYields| b.error_pct.value.abs();
    let largest = (0..brews.len()).max_by(|&i, &j| size(&brews[i]).total_cmp(&size(&brews[j]))).unwrap_or(0);
    let squares: f64 = brews.iter().map(|b| b.error_pct.value.powi(2)).sum();
    let mut found = MeanBeverage {
        mean_beverage_g: mean,
        beverage_spread_g: spread.sqrt(),
        rank_changes: brews.iter().filter(|b| b.own_rank != b.with_mean_rank).count(),
        pairs_flipped,
        flips,
        largest,
        rms_error_pct: (squares / n).sqrt(),
        brews,
        missing,
        words: Vec::new(),
    };
    found.words = words(&found);
    Ok(found)
}

/// Whether the mean reverses the order of two brews.
fn turned(a: &TwoYields, b: &TwoYields) -> bool {
    let own = a.own_pct.value - b.own_pct.value;
    own * (a.with_mean_pct.value - b.with_mean_pct.value) < 0.0
}

fn rank(brews: &mut [TwoYields]) {
    let places = |of: fn(&TwoYields) -> f64, brews: &[TwoYields]| -> Vec<usize> {
        brews.iter().map(|b| 1 + brews.iter().filter(|other| of(other) > of(b)).count()).collect()
    };
    let (own, with_mean) = (places(|b| b.own_pct.value, brews), places(|b| b.with_mean_pct.value, brews));
    for ((brew, own), with_mean) in brews.iter_mut().zip(own).zip(with_mean) {
        (brew.own_rank, brew.with_mean_rank) = (own, with_mean);
    }
}

fn flips(brews: &[TwoYields]) -> Vec<Flip> {
    let mut order: Vec<&TwoYields> = brews.iter().collect();
    order.sort_by(|a, b| b.own_pct.value.total_cmp(&a.own_pct.value));
    let neighbours = order.windows(2).filter(|pair| turned(pair[0], pair[1]));
    neighbours
        .map(|pair| {
            let own = pair[0].own_pct.minus(pair[1].own_pct);
            Flip {
                higher: pair[0].brew.clone(),
                lower: pair[1].brew.clone(),
                own_difference_pct: own,
                with_mean_difference_pct: pair[0].with_mean_pct.value - pair[1].with_mean_pct.value,
                clear: own.value > CLEAR_SD * own.sd,
            }
        })
        .collect()
}
