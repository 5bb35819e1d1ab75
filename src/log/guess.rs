//! In: the numbers of columns whose part or unit is stated nowhere. Out: what they could be, with the reason, for the
//! error. Nothing is read by it.

use crate::error::Error;
use crate::log::units::{MassUnit, TimeUnit, Unit};

/// A log of one brew lasts from 20 s to 2 h.
const LASTS_S: std::ops::RangeInclusive<f64> = 20.0..=7200.0;
/// Water and beverage of one brew.
const WEIGHS_G: std::ops::RangeInclusive<f64> = 20.0..=5000.0;

/// The unit under which the stamps last as long as a brew, if just one does.
pub(super) fn time_unit(values: &[f64]) -> Option<(TimeUnit, f64)> {
    let span = span(values)?;
    let units = [TimeUnit::S, TimeUnit::Ms, TimeUnit::Us, TimeUnit::Ns];
    let mut fit = units.into_iter().map(|unit| (unit, unit.to_s(span))).filter(|(_, s)| LASTS_S.contains(s));
    fit.next().filter(|_| fit.next().is_none())
}

/// The unit under which the weights are those of a brew, if just one does. An ounce is too near the gram to tell.
pub(super) fn mass_unit(values: &[f64]) -> Option<(MassUnit, f64)> {
    let span = span(values)?;
    let units = [MassUnit::G, MassUnit::Kg, MassUnit::Mg];
    let mut fit = units.into_iter().map(|unit| (unit, unit.to_g(span))).filter(|(_, g)| WEIGHS_G.contains(g));
    fit.next().filter(|_| fit.next().is_none())
}

pub(super) fn with_time_unit(error: Error, values: &[f64]) -> Error {
    let guess = time_unit(values).map(|(unit, s)| format!("{}: the log then lasts {s:.0} s", stated(unit)));
    with(error, guess)
}

pub(super) fn with_mass_unit(error: Error, values: &[f64]) -> Error {
    let guess =
        mass_unit(values).map(|(unit, g)| format!("{}: the weight then spans {g:.0} g", stated(unit)));
    with(error, guess)
}

/// The argument that states a unit.
pub(super) fn stated<U: Unit>(unit: U) -> String {
    format!("{}=\"{}\"", U::ARGUMENT, unit.symbol())
}

fn with(error: Error, guess: Option<String>) -> Error {
    match (error, guess) {
        (Error::Argument { name, message }, Some(guess)) => {
            Error::Argument { name, message: format!("{message}; perhaps {guess}") }
        }
        (error, _) => error,
    }
}

/// What the columns without a known part could be: a sentence, or nothing. `columns` are their numbers from 0 with
/// their values; `missing` is whether the time and whether a weight is missing.
pub(super) fn parts(columns: &[(usize, Vec<f64>)], missing: (bool, bool)) -> Option<String> {
    let mut said = Vec::new();
    let time = columns.iter().filter(|(_, values)| rises(values)).min_by(|(_, a), (_, b)| unevenness(a, b));
    if let (true, Some((index, values))) = (missing.0, time) {
        said.push(format!("time=\"{}\" (column {0} rises in every line)", index + 1));
        said.extend(time_unit(values).map(|(unit, s)| format!("{} (it then lasts {s:.0} s)", stated(unit))));
    }
    let others = columns.iter().filter(|(index, _)| !missing.0 || time.is_none_or(|(time, _)| time != index));
    let spans = others.filter_map(|(index, values)| Some((index, values, span(values)?)));
    if let (true, Some((index, values, span))) = (missing.1, spans.max_by(|a, b| a.2.total_cmp(&b.2))) {
        said.push(format!("water=\"{}\" (column {0} spans the most, {span:.1})", index + 1));
        said.extend(mass_unit(values).map(|(unit, g)| format!("{} (it then spans {g:.0} g)", stated(unit))));
    }
    (!said.is_empty()).then(|| format!("perhaps {}", said.join(", ")))
}

fn span(values: &[f64]) -> Option<f64> {
    let (low, high) =
        values.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), v| (low.min(*v), high.max(*v)));
    (high > low).then_some(high - low)
}

fn rises(values: &[f64]) -> bool {
    values.len() > 2 && values.windows(2).all(|pair| pair[1] > pair[0])
}

/// Compares the largest step over the mean step: the time has the most even steps.
fn unevenness(a: &[f64], b: &[f64]) -> std::cmp::Ordering {
    let of = |values: &[f64]| {
        let largest = values.windows(2).map(|pair| pair[1] - pair[0]).fold(0.0, f64::max);
        largest * (values.len() - 1) as f64 / (values[values.len() - 1] - values[0])
    };
    of(a).total_cmp(&of(b))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By arithmetic: 1800 steps of 100 are 180 s in ms, and neither in s (50 h) nor in us (0.18 s).
    #[test]
    fn a_unit_is_guessed_if_just_one_makes_a_brew_of_the_numbers() {
        let steps: Vec<f64> = (0..=1800).map(|i| f64::from(i) * 100.0).collect();
        assert_eq!(time_unit(&steps), Some((TimeUnit::Ms, 180.0)));
        assert_eq!(time_unit(&[0.0, 1.0, 250.0]), Some((TimeUnit::S, 250.0)));
        assert_eq!(time_unit(&[1.0, 1.0]), None);
        assert_eq!(mass_unit(&[0.0, 0.25]), Some((MassUnit::Kg, 250.0)));
        assert_eq!(mass_unit(&[0.0, 250.0]), Some((MassUnit::G, 250.0)));
        assert_eq!(mass_unit(&[0.0, 10.0]), None, "10 g or 10 kg");
    }

    #[test]
    fn the_column_that_rises_evenly_may_be_the_time_and_the_widest_other_the_water() {
        let time: Vec<f64> = (0..60).map(f64::from).collect();
        let water: Vec<f64> = (0..60).map(|i| f64::from(i * i) / 10.0).collect();
        let cup: Vec<f64> = (0..60).map(|i| f64::from(i / 10)).collect();
        let columns = [(0, cup), (1, water), (2, time)];
        let said = parts(&columns, (true, true)).unwrap();
        assert_eq!(
            said,
            "perhaps time=\"3\" (column 3 rises in every line), time_unit=\"s\" (it then lasts 59 s), \
             water=\"2\" (column 2 spans the most, 348.1), mass_unit=\"g\" (it then spans 348 g)"
        );
        assert_eq!(parts(&[], (true, true)), None);
    }
}
