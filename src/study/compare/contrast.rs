//! In: values with their group, blocking factors and unit. Out: the difference of every pair of groups within blocks,
//! with interval, effect size and p.
//!
//! The parts: `blocks` (experimental units and cells), `pair` and `welch` (difference and its error), `permute`,
//! `adjust`, `tukey`, `bootstrap`, `effect`, `equivalence`, `power`, and `warnings` (cautions and reasons).

use crate::error::{Error, Result};
use crate::estimate::{Estimate, Maybe, Undefined};
use crate::math::distribution::{student_half_width, student_outside};
use crate::study::compare::adjust::holm;
use crate::study::compare::blocks::{Block, Units};
use crate::study::compare::bootstrap::{Drawing, bca};
use crate::study::compare::contrast_options::ContrastOptions;
use crate::study::compare::contrasted::{Contrast, Contrasts, GroupSummary};
use crate::study::compare::effect::hedges;
use crate::study::compare::equivalence::{Equivalence, equivalence};
use crate::study::compare::overall::overall;
use crate::study::compare::pair::{Pair, PairFit};
use crate::study::compare::permute::{Dealing, permutation};
use crate::study::compare::power::seen;
use crate::study::compare::tukey::Together;
use crate::study::compare::warnings::{blind, cannot_reach, cautions, too_few};
use crate::study::compare::welch::moments;

/// Differences between groups, within blocks.
///
/// `values` have their measurement sd (0 if unknown). `units` names the brew of each row if rows may share one; if it
/// is empty, each row is a brew. The order of the groups is that of their first rows.
///
/// ```
/// use pourline::Estimate;
/// use pourline::study::{Block, Contrast, GroupSummary};
/// use pourline::{ContrastOptions, Contrasts, contrast};
/// let flow = [6.1, 6.9, 6.3, 7.0, 5.2, 6.1, 5.5, 6.3, 6.0, 7.2, 5.4, 6.0].map(Estimate::exact);
/// let kettle = ["Fernspout", "Broadlip"].repeat(6);
/// let person = ["Ada", "Ada", "Ada", "Ada", "Bo", "Bo", "Bo", "Bo", "Ada", "Ada", "Bo", "Bo"];
/// let found: Contrasts = contrast(
///     &flow,
///     &kettle,
///     &[Block { name: "person", labels: &person }],
///     &[],
///     &ContrastOptions::default(),
/// )?;
/// let pair: &Contrast = &found.pairs[0];
/// assert_eq!((pair.a.as_str(), pair.b.as_str()), ("Fernspout", "Broadlip"));
/// assert!((pair.difference.value - 5.0 / 6.0).abs() < 1e-12);
/// // 400 ways to deal two kettles within two people; the observed one and its mirror image are the most extreme.
/// assert_eq!(pair.p.as_ref().unwrap().value, 2.0 / 400.0);
/// let first: &GroupSummary = &found.groups[0];
/// assert_eq!(first.units, 6);
/// assert_eq!(found.table().rows(), 1);
/// # Ok::<(), pourline::Error>(())
/// ```
///
/// # Errors
/// `empty` without values, `argument` for labels of another length, a single group or a unit in two groups;
/// `not_finite` for values or sd; `out_of_range` for options.
pub fn contrast<S: AsRef<str>>(
    values: &[Estimate],
    group: &[S],
    blocks: &[Block<S>],
    units: &[S],
    options: &ContrastOptions,
) -> Result<Contrasts> {
    options.check()?;
    let units = Units::new(values, group, blocks, units)?;
    let k = units.groups.len();
    if k < 2 {
        let message = format!("there is one group, {:?}; two are needed", units.groups[0]);
        return Err(Error::Argument { name: "group".into(), message });
    }
    let together = Together::new(&units);
    let (mut pairs, mut found) = (Vec::new(), Vec::new());
    for a in 0..k {
        for b in a + 1..k {
            let pair = Pair::new(&units, a, b);
            found.push(one(&units, &pair, [a, b], together.as_ref(), options)?);
            pairs.push(pair);
        }
    }
    let known: Vec<usize> = (0..found.len()).filter(|&i| found[i].p.is_ok()).collect();
    let p: Vec<Estimate> = known.iter().filter_map(|&i| found[i].p.clone().ok()).collect();
    let adjusted = holm(&p.iter().map(|e| e.value).collect::<Vec<_>>());
    for ((&i, p), holm) in known.iter().zip(&p).zip(adjusted) {
        found[i].p_holm = Ok(Estimate::new(holm, p.sd * holm / p.value));
    }
    let refused = found.iter().find_map(|c| c.p.as_ref().err().cloned());
    let all = overall(&units, together.as_ref(), refused, options);
    let mut contrasts = Contrasts {
        groups: (0..k).map(|g| summary(&units, g)).collect(),
        pairs: found,
        overall_p: all.p,
        overall_f: all.f,
        overall_p_model: all.p_model,
        within_sd: all.within_sd,
        measurement_share: all.measurement_share,
        unit: units.unit.clone(),
        blocks: units.blocks.clone(),
        level: options.level,
        cautions: Vec::new(),
    };
    contrasts.cautions = cautions(&contrasts, &units, &pairs, options.average_repeats);
    Ok(contrasts)
}

fn summary(units: &Units, g: usize) -> GroupSummary {
    let mine: Vec<f64> =
        units.values.iter().zip(&units.group).filter(|(_, group)| **group == g).map(|(y, _)| *y).collect();
    let (mean, variance) = moments(&mine);
    let mean = Estimate::new(mean, (variance / mine.len() as f64).sqrt());
    GroupSummary { group: units.groups[g].clone(), units: mine.len(), mean, sd: variance.sqrt() }
}

/// A contrast with the difference only.
fn bare(units: &Units, pair: &Pair, [a, b]: [usize; 2], why: &Undefined, margin: Option<f64>) -> Contrast {
    let no = || Err(why.clone());
    let plain = summary(units, b).mean.minus(summary(units, a).mean);
    Contrast {
        a: units.groups[a].clone(),
        b: units.groups[b].clone(),
        units: pair.sizes(),
        difference: plain,
        interval: Err(why.clone()),
        bootstrap_interval: Err(why.clone()),
        tukey_interval: Err(why.clone()),
        difference_pct: no(),
        interval_pct: Err(why.clone()),
        hedges_g: no(),
        hedges_g_interval: Err(why.clone()),
        t: no(),
        degrees: f64::NAN,
        p: no(),
        p_holm: no(),
        p_model: no(),
        arrangements: 1.0,
        p_interaction: no(),
        equivalence: margin.map(|margin| Equivalence::undefined(margin, why)),
        minimum_detectable_difference: no(),
    }
}

fn one(
    units: &Units,
    pair: &Pair,
    groups: [usize; 2],
    together: Option<&Together>,
    options: &ContrastOptions,
) -> Result<Contrast> {
    let names = groups.map(|g| units.groups[g].as_str());
    let why = blind(units, pair, names, options.average_repeats);
    let unscattered =
        Undefined::because("no group has repeated units: the sd within groups is not identifiable");
    let mut found = bare(units, pair, groups, why.as_ref().unwrap_or(&unscattered), options.margin);
    let Some(fit) = pair.fit() else { return Ok(found) };
    found.difference = Estimate::new(fit.difference, fit.standard_error);
    if why.is_some() {
        return Ok(found);
    }
    found.degrees = fit.degrees;
    let scatters = fit.pooled_degrees >= 1.0 && fit.degrees > 0.0 && fit.standard_error > 0.0;
    if scatters {
        of_scatter(&mut found, &fit, options);
        let name = format!("bootstrap {} {}", names[0], names[1]);
        let drawing = Drawing { resamples: options.resamples, seed: options.seed, name: &name };
        found.bootstrap_interval = bca(pair, &fit, options.level, drawing).ok_or(unscattered);
        if let Some((together, (difference, error))) =
            together.and_then(|t| t.difference(groups[0], groups[1]).map(|d| (t, d)))
        {
            let half = together.factor(options.level) * error;
            found.tukey_interval = Ok([difference - half, difference + half]);
        }
        found.p_interaction = pair.alike(units, &fit);
    }
    if let Some(few) = too_few(&units.unit, pair.sizes(), names) {
        found.refuse(&few);
        found.equivalence = options.margin.map(|margin| Equivalence::undefined(margin, &few));
        return Ok(found);
    }
    if let (Some(margin), true) = (options.margin, scatters) {
        found.equivalence = Some(equivalence(found.difference, fit.degrees, margin, options.level)?);
    }
    if !scatters && fit.difference == 0.0 {
        found.refuse(&Undefined::because("all values are the same"));
        return Ok(found);
    }
    deal(&mut found, pair, names, options);
    Ok(found)
}

/// Interval, effect size and power from difference, standard error and degrees of freedom.
fn of_scatter(found: &mut Contrast, fit: &PairFit, options: &ContrastOptions) {
    let width = student_half_width(options.level, fit.degrees);
    let around = |e: Estimate| [e.value - width * e.sd, e.value + width * e.sd];
    let t = fit.difference / fit.standard_error;
    found.interval = Ok(around(found.difference));
    found.t = Ok(Estimate::exact(t));
    found.p_model = Ok(Estimate::exact(student_outside(t, fit.degrees)));
    let (g, ends) = hedges(fit, options.level);
    (found.hedges_g, found.hedges_g_interval) = (Ok(g), Ok(ends));
    let visible = seen(fit.degrees, options.power, options.level) * fit.standard_error;
    // The sd of an sd, to first order.
    found.minimum_detectable_difference = Ok(Estimate::new(visible, visible / (2.0 * fit.degrees).sqrt()));
    let percent = in_percent(fit, width);
    found.interval_pct = percent.clone().map(around);
    found.difference_pct = percent;
}

/// To first order, with the covariance of the first mean and the difference.
fn in_percent(fit: &PairFit, width: f64) -> Maybe {
    if fit.base.abs() <= width * fit.base_variance.sqrt() {
        return Err(Undefined::because("the mean of the first group is within two sd of 0"));
    }
    let ratio = fit.difference / fit.base;
    let variance =
        fit.standard_error.powi(2) + ratio * ratio * fit.base_variance - 2.0 * ratio * fit.base_covariance;
    Ok(Estimate::new(100.0 * ratio, 100.0 * variance.max(0.0).sqrt() / fit.base.abs()))
}

/// p by permutation of the groups.
fn deal(found: &mut Contrast, pair: &Pair, names: [&str; 2], options: &ContrastOptions) {
    let labels: Vec<usize> = pair.is_b.iter().map(|&b| usize::from(b)).collect();
    let name = format!("permute {} {}", names[0], names[1]);
    let dealing =
        Dealing { exact_up_to: options.exact_up_to, draws: options.draws, seed: options.seed, name: &name };
    let centred = pair.centred();
    let one_cell = pair.counts.len() == 1;
    let dealt = permutation(
        &labels,
        &pair.cell,
        |labels| if one_cell { welch_t(&centred, labels) } else { sum_of_b(&centred, labels) },
        dealing,
    );
    found.arrangements = dealt.arrangements;
    match cannot_reach(dealt.arrangements, dealt.smallest, options.level) {
        Some(why) => found.refuse(&why),
        None => found.p = Ok(Estimate::new(dealt.p, dealt.sd)),
    }
}

impl Contrast {
    fn refuse(&mut self, why: &Undefined) {
        for p in [&mut self.p, &mut self.p_holm, &mut self.p_model] {
            *p = Err(why.clone());
        }
    }
}

/// Absolute value of Welch's t.
fn welch_t(y: &[f64], labels: &[usize]) -> f64 {
    let mut sums = [[0.0; 3]; 2];
    for (&y, &l) in y.iter().zip(labels) {
        let s = &mut sums[l];
        *s = [s[0] + 1.0, s[1] + y, s[2] + y * y];
    }
    let [(p, va), (q, vb)] = sums.map(|[n, sum, squares]| {
        let mean = sum / n;
        let left = squares - n * mean * mean;
        // A variance of rounding size is taken as 0.
        (mean, if left > 1e-14 * squares { left / (n - 1.0) / n } else { 0.0 })
    });
    let difference = (q - p).abs();
    if difference == 0.0 { 0.0 } else { difference / (va + vb).sqrt() }
}

/// With the cells fixed, Student's t of the blocked fit is a monotone function of this.
fn sum_of_b(centred: &[f64], labels: &[usize]) -> f64 {
    centred.iter().zip(labels).filter(|(_, l)| **l == 1).map(|(y, _)| y).sum::<f64>().abs()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_difference_in_percent_has_the_sd_of_first_order_propagation() {
        let fit = |base: f64, base_variance: f64| PairFit {
            difference: 2.0,
            standard_error: 0.5,
            degrees: 10.0,
            sd: 1.0,
            pooled_degrees: 10.0,
            weight: 1.0,
            base,
            base_variance,
            base_covariance: -0.1,
        };
        // d/b: variance (0.25 + 0.04 x 0.16 + 2 x 0.2 x 0.1)/b^2, JCGM 100:2008, 5.2.2, with correlation.
        let found = in_percent(&fit(10.0, 0.16), 2.0).unwrap();
        assert!((found.value - 20.0).abs() < 1e-12, "{found}");
        assert!((found.sd - 10.0 * (0.25 + 0.04 * 0.16 + 0.04_f64).sqrt()).abs() < 1e-12, "{found}");
        // A mean of less than twice its sd of 0.4 does not differ clearly from 0.
        assert!(in_percent(&fit(0.79, 0.16), 2.0).is_err() && in_percent(&fit(-0.81, 0.16), 2.0).is_ok());
    }

    #[test]
    fn welchs_t_is_that_of_arithmetic_and_rounding_is_no_variance() {
        // Means 2 and 6, variances 1 and 4: 4/sqrt(1/3 + 4/2).
        let found = welch_t(&[1.0, 2.0, 3.0, 6.0 - 2.0_f64.sqrt(), 6.0 + 2.0_f64.sqrt()], &[0, 0, 0, 1, 1]);
        assert!((found - 4.0 / (1.0 / 3.0 + 2.0_f64).sqrt()).abs() < 1e-12, "{found}");
        for i in 1..60 {
            let v = 0.1 * f64::from(i);
            assert_eq!(
                welch_t(&[v, v, v, v + 1.7, v + 1.7, v + 1.7], &[0, 0, 0, 1, 1, 1]),
                f64::INFINITY,
                "{v}"
            );
        }
        assert_eq!(welch_t(&[2.0; 4], &[0, 0, 1, 1]), 0.0);
    }
}
