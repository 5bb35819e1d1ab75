//! In: values with their group, blocking factors and unit. Out: the difference of every pair of groups within blocks,
//! with interval, effect size and p.
//!
//! The parts: `blocks` (experimental units and cells), `pair`, `welch` and `together` (differences and their errors),
//! `inference` with `deal`, `family` and `permute` (p and interval), `effect`, `equivalence`, `power`, and `warnings`
//! (cautions and reasons).

use crate::error::{Error, Result};
use crate::estimate::{Estimate, Maybe, Undefined};
use crate::math::distribution::student_outside;
use crate::study::compare::blocks::{Block, Units};
use crate::study::compare::contrast_options::ContrastOptions;
use crate::study::compare::contrasted::{Contrast, Contrasts, GroupSummary, Verdict};
use crate::study::compare::deal::Dealt;
use crate::study::compare::effect::hedges;
use crate::study::compare::equivalence::Equivalence;
use crate::study::compare::family::Family;
use crate::study::compare::inference::{Inference, Test};
use crate::study::compare::overall::overall;
use crate::study::compare::pair::{Pair, PairFit};
use crate::study::compare::people::{Over, PERSON, over_people, people_first};
use crate::study::compare::permute::Dealing;
use crate::study::compare::power::{attained, seen};
use crate::study::compare::together::Together;
use crate::study::compare::warnings::{blind, cannot_reach, cautions, too_few};
use crate::study::compare::welch::moments;
use crate::study::gather::study::{Study, StudyRow};
use crate::study::guards::guard::guards;
use rayon::prelude::*;

/// Names of the values and of their groups.
const VALUE: &str = "value";
const GROUP: &str = "group";

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
    let mut found = contrasts_of(values, group, blocks, units, options)?;
    let (study, names) = study_of(values, group, blocks, units);
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let taken = study.take(VALUE, &names)?;
    found.guard(guards(&study, &taken, names[0], &names[1..], options.over == Over::PeopleLikeThese));
    Ok(found)
}

/// The values as a study, and the names of its factors: that of the group, then those of the blocks.
fn study_of<S: AsRef<str>>(
    values: &[Estimate],
    group: &[S],
    blocks: &[Block<S>],
    units: &[S],
) -> (Study, Vec<String>) {
    let name = |block: &Block<S>| block.name.to_string();
    // A block may have the name of the group.
    let by = if blocks.iter().any(|block| block.name == GROUP) { "compared group" } else { GROUP };
    let names: Vec<String> = std::iter::once(by.into()).chain(blocks.iter().map(name)).collect();
    let row = |i: usize| StudyRow {
        brew: units.get(i).map_or_else(|| format!("value {}", i + 1), |unit| unit.as_ref().into()),
        factors: std::iter::once(group)
            .chain(blocks.iter().map(|block| block.labels))
            .zip(&names)
            .map(|(labels, name)| (name.clone(), labels[i].as_ref().to_string()))
            .collect(),
        numbers: [(VALUE.to_string(), Ok(values[i]))].into(),
        ..StudyRow::default()
    };
    (Study { rows: (0..values.len()).map(row).collect(), ..Study::default() }, names)
}

/// The contrasts, with the cautions of the statistics alone.
pub(super) fn contrasts_of<S: AsRef<str>>(
    values: &[Estimate],
    group: &[S],
    blocks: &[Block<S>],
    units: &[S],
    options: &ContrastOptions,
) -> Result<Contrasts> {
    options.check()?;
    let (level, measures) = (options.level, options.measures);
    let options = &options.of_one_measure();
    let sorted;
    let blocks = match options.over {
        Over::ThesePeople => blocks,
        Over::PeopleLikeThese => {
            sorted = people_first(blocks)?;
            &sorted[..]
        }
    };
    let units = Units::new(values, group, blocks, units)?;
    let k = units.groups.len();
    if k < 2 {
        let message = format!("there is one group, {:?}; two are needed", units.groups[0]);
        return Err(Error::Argument { name: "group".into(), message });
    }
    let together = Together::new(&units);
    // People who are the units themselves are compared as any other sample.
    let of_people =
        options.over == Over::PeopleLikeThese && units.blocks.first().is_some_and(|name| name == PERSON);
    let inference = if of_people { Inference::People } else { Inference::of(&units) };
    let sides: Vec<[usize; 2]> = (0..k).flat_map(|a| (a + 1..k).map(move |b| [a, b])).collect();
    let pairs: Vec<Pair> = sides.iter().map(|&[a, b]| Pair::new(&units, a, b)).collect();
    let family = match &together {
        Some(together) if k > 2 && inference == Inference::Dealing => {
            Family::new(&units, together, &pairs, options.draws, options.seed)
        }
        _ => None,
    };
    let common = Common { units: &units, inference, family: family.as_ref(), options };
    let found: Vec<Contrast> =
        pairs.par_iter().zip(&sides).map(|(pair, &side)| one(&common, pair, side)).collect();
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
        inference,
        unit: units.unit.clone(),
        blocks: units.blocks.clone(),
        level,
        measures,
        cautions: Vec::new(),
    };
    contrasts.count_measures();
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
        difference_pct: no(),
        interval_pct: Err(why.clone()),
        hedges_g: no(),
        hedges_g_interval: Err(why.clone()),
        t: no(),
        degrees: f64::NAN,
        p: no(),
        verdict: Verdict::NotShown,
        p_model: no(),
        arrangements: 1.0,
        p_interaction: no(),
        equivalence: margin.map(|margin| Equivalence::undefined(margin, why)),
        minimum_detectable_difference: no(),
    }
}

/// What all pairs have in common.
struct Common<'a> {
    units: &'a Units,
    inference: Inference,
    family: Option<&'a Family>,
    options: &'a ContrastOptions,
}

fn one(common: &Common<'_>, pair: &Pair, groups: [usize; 2]) -> Contrast {
    let Common { units, options, .. } = *common;
    let names = groups.map(|g| units.groups[g].as_str());
    let why = blind(units, pair, names, options.average_repeats);
    let unscattered =
        Undefined::because("no group has repeated units: the sd within groups is not identifiable");
    let mut found = bare(units, pair, groups, why.as_ref().unwrap_or(&unscattered), options.margin);
    let Some(mut fit) = pair.fit() else { return found };
    found.difference = Estimate::new(fit.difference, fit.standard_error);
    if why.is_some() {
        return found;
    }
    if common.inference == Inference::People {
        match over_people(units, pair, &fit) {
            Ok(of_people) => fit = of_people,
            Err(few) => {
                found.refuse(&few);
                return found;
            }
        }
        found.difference = Estimate::new(fit.difference, fit.standard_error);
    }
    found.degrees = fit.degrees;
    let scatters = fit.pooled_degrees >= 1.0 && fit.degrees > 0.0 && fit.standard_error > 0.0;
    if scatters {
        let level = if units.groups.len() == 2 && common.inference == Inference::Dealing {
            attained(&pair.counts, options.level)
        } else {
            options.level
        };
        of_scatter(&mut found, &fit, options, level);
        found.p_interaction = pair.alike(units, &fit);
    }
    if let Some(few) = too_few(&units.unit, pair.sizes(), names) {
        found.refuse(&few);
        return found;
    }
    if !scatters && fit.difference == 0.0 {
        found.refuse(&Undefined::because("all values are the same"));
        return found;
    }
    let test = test(common, pair, &fit, names, scatters);
    if let Test::Dealt(dealt) = &test {
        found.arrangements = dealt.arrangements;
        if let Some(few) = cannot_reach(dealt.arrangements, dealt.smallest(), options.level) {
            found.refuse(&few);
            return found;
        }
    }
    found.p = Ok(test.p(0.0));
    if scatters {
        found.interval = test.interval(1.0 - options.level).ok_or(unscattered);
        found.interval_pct =
            found.difference_pct.clone().and(found.interval.clone()).map(|ends| in_percent_of(&fit, ends));
        found.equivalence =
            options.margin.map(|margin| test.equivalence(fit.difference, margin, options.level));
    }
    found.verdict = Verdict::of(&found, options.level);
    found
}

/// The method for this pair.
fn test<'a>(common: &Common<'a>, pair: &Pair, fit: &PairFit, names: [&str; 2], scatters: bool) -> Test<'a> {
    let Common { units, inference, family, options } = *common;
    let (groups, difference) = (units.groups.len(), fit.difference);
    if let Some(family) = family {
        return Test::Family { family, difference, error: family.error(fit.weight) };
    }
    if inference != Inference::Dealing && scatters {
        return Test::GamesHowell { groups, difference, error: fit.standard_error, degrees: fit.degrees };
    }
    let name = format!("permute {} {}", names[0], names[1]);
    let dealing =
        Dealing { exact_up_to: options.exact_up_to, draws: options.draws, seed: options.seed, name: &name };
    Test::Dealt(Dealt::new(pair, difference, dealing))
}

/// Effect size and power from difference, standard error and degrees of freedom.
///
/// `attained` is the level that the test can attain; at 1 no difference is detected.
fn of_scatter(found: &mut Contrast, fit: &PairFit, options: &ContrastOptions, attained: f64) {
    let t = fit.difference / fit.standard_error;
    found.t = Ok(Estimate::exact(t));
    found.p_model = Ok(Estimate::exact(student_outside(t, fit.degrees)));
    let (g, ends) = hedges(fit, options.level);
    (found.hedges_g, found.hedges_g_interval) = (Ok(g), Ok(ends));
    found.minimum_detectable_difference = if attained < 1.0 {
        let visible = seen(fit.degrees, options.power, attained) * fit.standard_error;
        // The sd of an sd, to first order.
        Ok(Estimate::new(visible, visible / (2.0 * fit.degrees).sqrt()))
    } else {
        Err(Undefined::because("too few units: no p of the permutations is small enough"))
    };
    found.difference_pct = in_percent(fit);
}

/// To first order, with the covariance of the first mean and the difference.
fn in_percent(fit: &PairFit) -> Maybe {
    if fit.base.abs() <= 2.0 * fit.base_variance.sqrt() {
        return Err(Undefined::because("the mean of the first group is within two sd of 0"));
    }
    let ratio = fit.difference / fit.base;
    let variance =
        fit.standard_error.powi(2) + ratio * ratio * fit.base_variance - 2.0 * ratio * fit.base_covariance;
    Ok(Estimate::new(100.0 * ratio, 100.0 * variance.max(0.0).sqrt() / fit.base.abs()))
}

/// The interval in percent of the first mean (Fieller 1954, J. R. Stat. Soc. B 16, 175), each end with the reach of the
/// interval of the difference at its side: it has 0 only if that has.
fn in_percent_of(fit: &PairFit, ends: [f64; 2]) -> [f64; 2] {
    let PairFit { difference: d, base, .. } = *fit;
    let end = |k: usize| {
        let reach = ((d - ends[k]) / fit.standard_error).powi(2);
        let square = base * base - reach * fit.base_variance;
        let middle = d * base - reach * fit.base_covariance;
        let constant = d * d - reach * fit.standard_error.powi(2);
        let root = (middle * middle - square * constant).max(0.0).sqrt();
        // The mean of the first group differs from 0: the two roots lie on both sides of the ratio.
        let low = (k == 0) == (base > 0.0);
        100.0 * (middle + if low { -root } else { root }) / square
    };
    let found = [end(0), end(1)];
    [found[0].min(found[1]), found[0].max(found[1])]
}

impl Contrast {
    fn refuse(&mut self, why: &Undefined) {
        (self.p, self.p_model) = (Err(why.clone()), Err(why.clone()));
        if let Some(test) = &mut self.equivalence {
            *test = Equivalence::undefined(test.margin, why);
        }
        (self.interval, self.interval_pct) = (Err(why.clone()), Err(why.clone()));
    }
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
        let found = in_percent(&fit(10.0, 0.16)).unwrap();
        assert!((found.value - 20.0).abs() < 1e-12, "{found}");
        assert!((found.sd - 10.0 * (0.25 + 0.04 * 0.16 + 0.04_f64).sqrt()).abs() < 1e-12, "{found}");
        // A mean of less than twice its sd of 0.4 does not differ clearly from 0.
        assert!(in_percent(&fit(0.79, 0.16)).is_err() && in_percent(&fit(-0.81, 0.16)).is_ok());
    }
}
