//! In: masses that were put on a scale and taken off, and what they are known to weigh. Out: how far the scale is off:
//! sensitivity, linearity, hysteresis.

use crate::error::{Error, Result};
use crate::estimate::{Estimate, Undefined};
use crate::rows::rows;
use crate::scale::placed::Alone;
use serde::{Deserialize, Serialize};

rows! { $
/// What a scale shows of known masses.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub struct Linearity {
    /// Masses put on and taken off that were compared.
    pub n_masses: usize,
    /// How far the sensitivity is off: slope of the shown mass over the known one through 0, less 1, %.
    pub sensitivity_deviation_pct: Estimate,
    /// The largest difference of a shown mass from that slope, with its sign, g.
    pub nonlinearity_g: Estimate,
    /// When the mass with the largest difference was put on or taken off, s.
    pub nonlinearity_at_s: f64,
    /// Load on the scale with that mass, g.
    pub nonlinearity_load_g: f64,
    /// Mean rise of the level from before a mass was put on until it was taken off, g: hysteresis, and creep.
    pub hysteresis_g: Maybe,
}
}

/// A stated mass that differs from the shown one by more than this share of it, and g, is that of another one.
const OTHER_SHARE: f64 = 0.2;
const OTHER_G: f64 = 2.0;

/// What one mass that was put on or taken off is known to be.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Stated {
    /// Below 0 if it was taken off, g.
    pub mass_g: f64,
    /// Load on the scale with it, g.
    pub load_g: f64,
    /// The step at which it was put on, if it was taken off alone.
    pub put_on: Option<usize>,
}

/// What each detected mass is known to be; None if it was on the scale before the log. `masses_g` has one mass for each
/// that was put on, in their order, or one for all.
pub(super) fn stated(detected: &[Alone], masses_g: &[f64]) -> Result<Vec<Option<Stated>>> {
    let wrong = |message: String| Error::Argument { name: "masses_g".into(), message };
    if let Some(mass_g) = masses_g.iter().find(|g| !(g.is_finite() && **g > 0.0)) {
        return Err(wrong(format!("each mass must be above 0 g, not {mass_g}")));
    }
    let n_on = detected.iter().filter(|step| step.mass_g > 0.0).count();
    if masses_g.len() != 1 && masses_g.len() != n_on {
        return Err(wrong(format!(
            "{} masses are given, but {n_on} were put on: {}. Give one for each, in this order, or one for all",
            masses_g.len(),
            listed(detected)
        )));
    }
    let mut given = masses_g.iter().copied().cycle();
    // Masses on the scale, with the steps at which they were put on.
    let mut on: Vec<(usize, f64)> = Vec::new();
    let mut all = Vec::new();
    for (k, step) in detected.iter().enumerate() {
        if step.mass_g > 0.0 {
            let mass_g = given.next().unwrap_or_default();
            if differs(step.mass_g, mass_g) {
                return Err(wrong(format!(
                    "{mass_g} g are given for the mass at {:.1} s, but {:.1} g are shown: check the order and unit",
                    step.at_s, step.mass_g
                )));
            }
            on.push((k, mass_g));
            all.push(Some(Stated { mass_g, load_g: sum(&on), put_on: None }));
            continue;
        }
        // One mass is taken off, the last of equals, or all at once.
        let off = |g: f64| (g + step.mass_g).abs();
        let nearest =
            on.iter().enumerate().rev().min_by(|a, b| off(a.1.1).total_cmp(&off(b.1.1))).map(|n| n.0);
        let total_g = sum(&on);
        let taken = match nearest {
            Some(place) if on.len() == 1 || off(on[place].1) <= off(total_g) => {
                let (put_on, mass_g) = on.remove(place);
                Some(Stated { mass_g: -mass_g, load_g: total_g, put_on: Some(put_on) })
            }
            Some(_) => {
                on.clear();
                Some(Stated { mass_g: -total_g, load_g: total_g, put_on: None })
            }
            None => None,
        };
        all.push(taken.filter(|taken| !differs(step.mass_g, taken.mass_g)));
    }
    Ok(all)
}

fn sum(on: &[(usize, f64)]) -> f64 {
    on.iter().map(|mass| mass.1).sum()
}

fn differs(shown_g: f64, stated_g: f64) -> bool {
    (shown_g - stated_g).abs() > OTHER_G.max(OTHER_SHARE * stated_g.abs())
}

fn listed(detected: &[Alone]) -> String {
    const MOST: usize = 12;
    let on: Vec<&Alone> = detected.iter().filter(|step| step.mass_g > 0.0).collect();
    let of = |step: &&Alone| format!("{:.0} g at {:.1} s", step.mass_g, step.at_s);
    let more = if on.len() > MOST { ", ..." } else { "" };
    on.iter().take(MOST).map(of).collect::<Vec<_>>().join(", ") + more
}

/// How far the scale is off. `shown` has the fitted masses, with None for those that were left out.
pub(super) fn linearity(
    at_s: &[f64],
    shown: &[Option<Estimate>],
    stated: &[Option<Stated>],
) -> std::result::Result<Linearity, Undefined> {
    let pairs: Vec<(usize, Estimate, Stated)> = shown
        .iter()
        .zip(stated)
        .enumerate()
        .filter_map(|(k, (shown, stated))| Some((k, (*shown)?, (*stated)?)))
        .collect();
    let slope = through_origin(&pairs.iter().map(|(_, y, x)| (x.mass_g, *y)).collect::<Vec<_>>())
        .ok_or_else(|| Undefined::because("fewer than two known masses were put on or taken off evenly"))?;
    let differs = |(_, shown, stated): &(usize, Estimate, Stated)| shown.value - slope.value * stated.mass_g;
    let largest = pairs.iter().max_by(|a, b| differs(a).abs().total_cmp(&differs(b).abs())).copied();
    let (k, shown_g, known) = largest.ok_or_else(|| Undefined::because("no mass is known"))?;
    // A mass that is taken off rises the other way.
    let sign = known.mass_g.signum();
    let returns: Vec<Estimate> = pairs
        .iter()
        .filter_map(|(_, off, stated)| Some(off.plus(pairs.iter().find(|p| Some(p.0) == stated.put_on)?.1)))
        .collect();
    Ok(Linearity {
        n_masses: pairs.len(),
        sensitivity_deviation_pct: Estimate::new(100.0 * (slope.value - 1.0), 100.0 * slope.sd),
        nonlinearity_g: Estimate::new(
            sign * differs(&(k, shown_g, known)),
            shown_g.sd.hypot(slope.sd * known.mass_g),
        ),
        nonlinearity_at_s: at_s[k],
        nonlinearity_load_g: known.load_g,
        hysteresis_g: mean(&returns)
            .ok_or_else(|| Undefined::because("fewer than two known masses were put on and taken off alone")),
    })
}

/// Weighted least-squares slope through the origin. Its sd is that of the weights, or of the scatter if that is larger.
fn through_origin(pairs: &[(f64, Estimate)]) -> Option<Estimate> {
    let n = pairs.len() as f64;
    let sum = |of: fn(&(f64, Estimate)) -> f64| pairs.iter().map(of).sum::<f64>();
    let xx = sum(|(x, y)| (x / y.sd).powi(2));
    let slope = sum(|(x, y)| x * y.value / (y.sd * y.sd)) / xx;
    let chi2: f64 = pairs.iter().map(|(x, y)| ((y.value - slope * x) / y.sd).powi(2)).sum();
    let sd = (1.0 / xx).sqrt() * (chi2 / (n - 1.0)).sqrt().max(1.0);
    (n >= 2.0 && sd.is_finite()).then_some(Estimate::new(slope, sd))
}

/// Weighted mean, with an sd as above.
fn mean(values: &[Estimate]) -> Option<Estimate> {
    through_origin(&values.iter().map(|value| (1.0, *value)).collect::<Vec<_>>())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn detected(masses_g: &[f64]) -> Vec<Alone> {
        let of = |(k, mass_g): (usize, &f64)| Alone {
            at_s: 10.0 * k as f64,
            level_g: 0.0,
            mass_g: *mass_g,
            misfit: 1.0,
            shows_s2: 0.1,
        };
        masses_g.iter().enumerate().map(of).collect()
    }

    #[test]
    fn the_certified_slope_through_the_origin_comes_out() {
        // NIST StRD, NoInt1, public domain: y is 130 to 140, x 60 to 70; certified slope and its sd.
        let pairs: Vec<(f64, Estimate)> =
            (0..11).map(|i| (60.0 + f64::from(i), Estimate::new(130.0 + f64::from(i), 1.0))).collect();
        let slope = through_origin(&pairs).unwrap();
        assert!((slope.value / 2.074_380_165_289_26 - 1.0).abs() < 1e-13, "{slope:?}");
        assert!((slope.sd / 0.016_528_925_619_834_7 - 1.0).abs() < 1e-12, "{slope:?}");
    }

    #[test]
    fn a_mass_that_is_taken_off_is_the_one_that_weighs_as_much() {
        // 100 and 50 g are stacked, 100 g are pulled out first; then 20 and 30 g are lifted at once.
        let steps = detected(&[100.2, 50.1, -100.1, -50.0, 20.0, 30.0, -50.1]);
        let found = stated(&steps, &[100.0, 50.0, 20.0, 30.0]).unwrap();
        let known: Vec<(f64, f64, Option<usize>)> =
            found.iter().flatten().map(|s| (s.mass_g, s.load_g, s.put_on)).collect();
        assert_eq!(
            known,
            [
                (100.0, 100.0, None),
                (50.0, 150.0, None),
                (-100.0, 150.0, Some(0)),
                (-50.0, 50.0, Some(1)),
                (20.0, 20.0, None),
                (30.0, 50.0, None),
                (-50.0, 50.0, None),
            ]
        );
        // What stood on the scale before the log is not known.
        assert_eq!(stated(&detected(&[-80.0, 50.0]), &[50.0]).unwrap()[0], None);
    }

    #[test]
    fn a_wrong_count_lists_what_was_put_on_and_a_wrong_mass_says_where() {
        let steps = detected(&[100.2, -100.2, 50.0]);
        let message = |masses_g: &[f64]| stated(&steps, masses_g).unwrap_err().to_string();
        assert!(message(&[100.0, 50.0, 20.0]).contains("but 2 were put on: 100 g at 0.0 s, 50 g at 20.0 s"));
        assert!(
            message(&[50.0, 100.0]).contains("50 g are given for the mass at 0.0 s, but 100.2 g are shown")
        );
        assert!(message(&[-1.0]).contains("above 0 g"));
    }

    #[test]
    fn sensitivity_linearity_and_hysteresis_are_those_by_hand() {
        // Shown: .1 % too much, the third mass .3 g more, and .05 g remain after each mass is taken off.
        let masses_g = [100.0, -100.0, 200.0, -200.0, 300.0, -300.0, 400.0, -400.0];
        let more_g = [0.0, 0.05, 0.0, 0.05, 0.3, -0.25, 0.0, 0.05];
        let steps = detected(&masses_g);
        let known = stated(&steps, &[100.0, 200.0, 300.0, 400.0]).unwrap();
        let shown: Vec<Option<Estimate>> = masses_g
            .iter()
            .zip(more_g)
            .map(|(m, more)| Some(Estimate::new(1.001 * m + more, 0.02)))
            .collect();
        let at_s: Vec<f64> = steps.iter().map(|step| step.at_s).collect();
        let found = linearity(&at_s, &shown, &known).unwrap();
        // The slope moves by sum(m more)/sum(m m): (-5 - 10 + 90 + 75 - 20)/600,000.
        let slope = 1.001 + 130.0 / 600_000.0;
        assert!((found.sensitivity_deviation_pct.value - 100.0 * (slope - 1.0)).abs() < 1e-9, "{found:?}");
        let most_g = 1.001 * 300.0 + 0.3 - slope * 300.0;
        assert!((found.nonlinearity_g.value - most_g).abs() < 1e-9, "{found:?}");
        assert_eq!((found.n_masses, found.nonlinearity_at_s, found.nonlinearity_load_g), (8, 40.0, 300.0));
        assert!((found.hysteresis_g.unwrap().value - 0.05).abs() < 1e-9);
    }
}
