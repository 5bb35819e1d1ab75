//! In: a number as it was given. Out: the same with its sd, or the reason why it is unusable.

use crate::estimate::{Estimate, Maybe, Undefined};
use crate::log::meta::Meta;

/// A number from the metadata or the options, above 0.
pub(super) fn stated(name: &str, value: Option<f64>, sd: f64) -> Maybe {
    match value {
        Some(value) => positive(name, Estimate::new(value, sd)),
        None => Err(Undefined::because(format!("{name} was not given"))),
    }
}

/// The dose as it was weighed; `sd_g` counts if it came without one.
pub(crate) fn dose(meta: &Meta, sd_g: f64) -> Maybe {
    stated("dose_g", meta.dose_g, meta.dose_sd_g.unwrap_or(sd_g))
}

/// An estimate above 0.
pub(super) fn positive(name: &str, estimate: Estimate) -> Maybe {
    match finite(name, estimate)? {
        Estimate { value, .. } if value <= 0.0 => {
            Err(Undefined::because(format!("{name} is {value}: it must be above 0")))
        }
        known => Ok(known),
    }
}

/// An estimate whose value is a number and whose sd is one, 0 or more.
pub(super) fn finite(name: &str, estimate: Estimate) -> Maybe {
    let Estimate { value, sd } = estimate;
    if !value.is_finite() {
        return Err(Undefined::because(format!("{name} is {value}: it must be a finite number")));
    }
    if !(sd.is_finite() && sd >= 0.0) {
        return Err(Undefined::because(format!(
            "the sd of {name} is {sd}: it must be a finite number, 0 or more"
        )));
    }
    Ok(estimate)
}

/// All of the numbers, or every distinct reason why one is missing.
pub(super) fn all<const N: usize>(numbers: [&Maybe; N]) -> Result<[Estimate; N], Undefined> {
    match reasons(numbers.into_iter()) {
        Some(why) => Err(why),
        None => Ok(numbers.map(|number| number.clone().unwrap_or(Estimate::exact(f64::NAN)))),
    }
}

/// Every distinct reason why one of the numbers is missing; None if none is.
pub(super) fn reasons<'a>(numbers: impl Iterator<Item = &'a Maybe>) -> Option<Undefined> {
    let mut distinct: Vec<&str> = Vec::new();
    for why in numbers.filter_map(|number| number.as_ref().err()) {
        for reason in why.reason.split("; ") {
            if !distinct.contains(&reason) {
                distinct.push(reason);
            }
        }
    }
    (!distinct.is_empty()).then(|| Undefined::because(distinct.join("; ")))
}
