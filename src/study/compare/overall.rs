//! In: units and their common fit. Out: one p for all groups together, the sd within groups, and the share of
//! measurement variance.

use crate::estimate::{Estimate, Maybe, Undefined};
use crate::study::compare::blocks::Units;
use crate::study::compare::contrast_options::ContrastOptions;
use crate::study::compare::permute::{Dealing, permutation};
use crate::study::compare::together::{Together, centred, sizes};
use crate::study::compare::warnings::FEWEST;
use crate::study::compare::welch::{moments, welch_f};

pub(super) struct Overall {
    pub p: Maybe,
    pub f: Maybe,
    pub p_model: Maybe,
    pub within_sd: Maybe,
    pub measurement_share: Maybe,
}

/// `refused` is why a pair has no p.
pub(super) fn overall(
    units: &Units,
    together: Option<&Together>,
    refused: Option<Undefined>,
    options: &ContrastOptions,
) -> Overall {
    let no = |why: &str| Err(Undefined::because(why));
    let why = "no group has repeated units: the sd within groups is not identifiable";
    let mut found =
        Overall { p: no(why), f: no(why), p_model: no(why), within_sd: no(why), measurement_share: no(why) };
    let Some(together) = together.filter(|t| t.degrees >= 1.0 && t.variance > 0.0) else { return found };
    let sd = together.variance.sqrt();
    found.within_sd = Ok(Estimate::new(sd, sd / (2.0 * together.degrees).sqrt()));
    found.measurement_share = share(units, together);
    if let Some(why) = refused {
        (found.p, found.f, found.p_model) = (Err(why.clone()), Err(why.clone()), Err(why));
        return found;
    }
    let Some((mut f, mut p)) = together.f() else { return found };
    if units.cells == 1 {
        let of: Vec<(f64, f64, f64)> =
            (0..units.groups.len()).map(|g| counted(units, &units.group, g)).collect();
        if of.iter().all(|(n, _, variance)| *n >= FEWEST as f64 && *variance > 0.0) {
            [f, _, _, p] = welch_f(&of);
        }
    }
    (found.f, found.p_model) = (Ok(Estimate::exact(f)), Ok(Estimate::exact(p)));
    let centred = centred(units, &sizes(units));
    let dealing = Dealing {
        exact_up_to: options.exact_up_to,
        draws: options.draws,
        seed: options.seed,
        name: "permute all",
    };
    let statistic = |group: &[usize]| {
        if units.cells > 1 {
            return together.between(units, &centred, group);
        }
        let of: Vec<_> = (0..units.groups.len()).map(|g| counted(units, group, g)).collect();
        let f = welch_f(&of)[0];
        // A group of variance 0: no permutation has a larger statistic.
        if f.is_nan() { f64::INFINITY } else { f }
    };
    let dealt = permutation(&units.group, &units.cell, statistic, dealing);
    found.p = Ok(Estimate::new(dealt.p, dealt.sd));
    found
}

/// Number, mean and variance of a group.
fn counted(units: &Units, group: &[usize], g: usize) -> (f64, f64, f64) {
    let mine: Vec<f64> = units.values.iter().zip(group).filter(|(_, x)| **x == g).map(|(y, _)| *y).collect();
    let (mean, variance) = moments(&mine);
    (mine.len() as f64, mean, variance)
}

/// Mean variance of the measurement over the variance within groups and cells. Its sd is that of the latter.
fn share(units: &Units, together: &Together) -> Maybe {
    let own = units.variances.iter().sum::<f64>() / units.variances.len() as f64;
    if own == 0.0 {
        return Err(Undefined::because("every value was given as exact"));
    }
    let share = own / together.variance;
    Ok(Estimate::new(share, share * (2.0 / together.degrees).sqrt()))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_measurement_share_is_a_ratio_of_variances() {
        let values = [1.0, 3.0, 5.0, 5.0, 9.0, 7.0].map(|v| Estimate::new(v, 0.5));
        let units = Units::new(&values, &["a", "a", "a", "b", "b", "b"], &[], &[]).unwrap();
        let together = Together::new(&units).unwrap();
        // Squares within 8 + 8 on four degrees: 4. The measurement's 0.25 is a sixteenth of it. The relative sd of a
        // variance on four degrees is sqrt(1/2).
        let found = share(&units, &together).unwrap();
        assert!(
            (found.value - 0.0625).abs() < 1e-12 && (found.sd - 0.0625 * 0.5_f64.sqrt()).abs() < 1e-12,
            "{found}"
        );
    }
}
