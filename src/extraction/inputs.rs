//! In: numbers as they were given or weighed. Out: the same, or the reason why nothing can be made of them.

use crate::{Estimate, Maybe, Undefined};

/// A number from the metadata or the options, above 0.
pub(super) fn stated(name: &str, value: Option<f64>, sd: f64) -> Maybe {
    match value {
        Some(value) => positive(name, Estimate::new(value, sd)),
        None => Err(Undefined::because(format!("{name} was not given"))),
    }
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

/// All of the numbers, or every reason why one is missing, each told once.
pub(super) fn all<const N: usize>(numbers: [&Maybe; N]) -> Result<[Estimate; N], Undefined> {
    let mut reasons: Vec<&str> = Vec::new();
    let known = numbers.map(|number| match number {
        Ok(estimate) => *estimate,
        Err(why) => {
            for reason in why.reason.split("; ") {
                if !reasons.contains(&reason) {
                    reasons.push(reason);
                }
            }
            Estimate::exact(f64::NAN)
        }
    });
    if reasons.is_empty() { Ok(known) } else { Err(Undefined::because(reasons.join("; "))) }
}
