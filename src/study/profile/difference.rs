//! The difference of the mean flows of two groups of brews, with a simultaneous band.
//!
//! All brews of both groups are aligned on common landmarks, the means over all of them. The group is dealt to the
//! brews within blocks. Whole curves are dealt, each aligned on its own landmarks, so that the errors of these are in
//! the scatter.

use crate::brew::result::Brew;
use crate::brew::rows::factors;
use crate::error::{Error, Result};
use crate::estimate::{Estimate, Undefined};
use crate::study::profile::curve::{Curve, LandmarkKind, name};
use crate::study::profile::different::{LandmarkDifference, ProfileDifference};
use crate::study::profile::largest::{Groups, Largest, family};
use crate::study::profile::options::ProfileOptions;
use crate::study::profile::stage::grid;
use crate::study::profile::warp::Alignment;
use std::borrow::Borrow;
use std::collections::BTreeMap;

/// Fewest brews of a group.
const FEWEST: usize = 3;

/// The difference of the mean flows of two groups, the second less the first, with a band that holds the whole true
/// difference with probability `level`.
///
/// `blocks` names factors of the brews, such as "person": groups are compared and dealt within each combination of
/// them. `p` and the band are the same test: the band leaves zero if, and only if, p is at most 1 - level.
///
/// ```
/// use pourline::study::LandmarkDifference;
/// use pourline::{Options, ProfileDifference, ProfileOptions, Recipe, analyze_many, profile_difference, simulate};
/// let brews = |first: u64| {
///     let mut recipe = Recipe::default();
///     recipe.hand.pours = [3, 3];
///     let logs: Vec<_> = (first..first + 4).map(|seed| simulate(&recipe, seed).unwrap().0).collect();
///     analyze_many(&logs, &Options::default()).into_iter().collect::<pourline::Result<Vec<_>>>()
/// };
/// let (thin, wide) = (brews(0)?, brews(10)?);
/// let groups = [("thin", &thin[..]), ("wide", &wide[..])];
/// let found: ProfileDifference = profile_difference(groups, &[], &ProfileOptions::default())?;
/// // 4 and 4 brews can be dealt in 70 ways, of which a mirror image is as extreme: p is a multiple of 2/70.
/// assert_eq!(found.arrangements, 70.0);
/// let last: &LandmarkDifference = found.landmarks.last().unwrap();
/// assert_eq!(last.pour, 3);
/// # Ok::<(), pourline::Error>(())
/// ```
///
/// # Errors
/// `argument` for a group without brews, a brew without flow or pours, or an unknown block; `out_of_range` for an
/// option outside its range.
pub fn profile_difference<B: Borrow<Brew>>(
    groups: [(&str, &[B]); 2],
    blocks: &[&str],
    options: &ProfileOptions,
) -> Result<ProfileDifference> {
    options.check()?;
    if let Some((name, _)) = groups.iter().find(|(_, brews)| brews.is_empty()) {
        let message = format!("the group {name:?} has no brew");
        return Err(Error::Argument { name: "groups".into(), message });
    }
    let brews: Vec<&Brew> = groups.iter().flat_map(|(_, brews)| brews.iter().map(Borrow::borrow)).collect();
    let curves: Vec<Curve> =
        brews.iter().enumerate().map(|(i, b)| Curve::new(b, i, options.axis)).collect::<Result<_>>()?;
    let sizes = groups.map(|(_, brews)| brews.len());
    let units = Groups::new(sizes, &cells(&brews, blocks)?);
    let alignment = Alignment::new(&curves, options.align);
    let mut warnings: Vec<String> = alignment.note.iter().cloned().collect();
    if units.left_out > 0 {
        let within = blocks.join(" and ");
        let n = units.left_out;
        warnings.push(format!("{n} brews have none of the other group in the same {within}: left out"));
    }
    let position = grid(&alignment, options, &mut warnings)?;
    let flows: Vec<Vec<f64>> = (0..curves.len())
        .map(|i| position.iter().map(|&x| curves[i].at(alignment.own_place(i, x)).0).collect())
        .collect();
    let means = sides(&flows, sizes[0]);
    let names = groups.map(|(name, _)| name);
    let none = refusal(&units, names, blocks);
    let found = match none {
        Some(why) => Err(why),
        None => Largest::new(&units, &flows, &plateaus(&alignment, &position), options.level),
    };
    let mean = units
        .difference(&flows)
        .unwrap_or_else(|| means[1].iter().zip(&means[0]).map(|(b, a)| b - a).collect());
    let mut difference = ProfileDifference {
        a: names[0].into(),
        b: names[1].into(),
        brews: sizes,
        blocks: blocks.iter().map(|&b| b.into()).collect(),
        axis: options.axis,
        align: alignment.on,
        warnings,
        a_flow_g_per_s: means[0].clone(),
        b_flow_g_per_s: means[1].clone(),
        landmarks: landmarks(&alignment, &units, sizes[0], options.level),
        level: options.level,
        arrangements: found.as_ref().map_or(1.0, |found| found.arrangements),
        p: found.as_ref().map(|found| found.p).map_err(Clone::clone),
        low_g_per_s: found.as_ref().map(|found| edge(&mean, &found.half, -1.0)).map_err(Clone::clone),
        high_g_per_s: found.as_ref().map(|found| edge(&mean, &found.half, 1.0)).map_err(Clone::clone),
        stretches: Vec::new(),
        says: String::new(),
        difference_g_per_s: mean,
        position,
    };
    difference.stretches = difference.beyond_zero();
    difference.says = difference.sentence();
    Ok(difference)
}

/// The combination of the levels of the blocks, for each brew.
fn cells(brews: &[&Brew], blocks: &[&str]) -> Result<Vec<usize>> {
    let mut seen = BTreeMap::new();
    brews
        .iter()
        .enumerate()
        .map(|(i, brew)| {
            let of = factors(&brew.meta);
            let levels: Vec<String> = blocks
                .iter()
                .map(|&block| {
                    let level = of.iter().find_map(|&(name, level)| level.filter(|_| name == block));
                    level.map(String::from).ok_or_else(|| Error::Argument {
                        name: "blocks".into(),
                        message: format!("{} has no {block}", name(brew, i)),
                    })
                })
                .collect::<Result<_>>()?;
            let next = seen.len();
            Ok(*seen.entry(levels).or_insert(next))
        })
        .collect()
}

/// Why there is neither p nor band.
fn refusal(units: &Groups, names: [&str; 2], blocks: &[&str]) -> Option<Undefined> {
    let [a, b] = names;
    if units.cell.is_empty() {
        let block = blocks.join(" and ");
        return Some(Undefined::because(format!("no {block} had both {a} and {b}: compare both within one")));
    }
    let few = units.sizes().into_iter().zip(names).find(|(n, _)| *n < FEWEST);
    few.map(|(n, name)| {
        Undefined::because(format!("{name} has {n} brews, and a band needs at least {FEWEST} of each group"))
    })
}

/// Plain means of the two groups.
fn sides(flows: &[Vec<f64>], first: usize) -> [Vec<f64>; 2] {
    let mean = |of: &[Vec<f64>]| -> Vec<f64> {
        let n = of.len() as f64;
        (0..of[0].len()).map(|j| of.iter().map(|c| c[j]).sum::<f64>() / n).collect()
    };
    [mean(&flows[..first]), mean(&flows[first..])]
}

fn edge(middle: &[f64], half: &[f64], side: f64) -> Vec<f64> {
    middle.iter().zip(half).map(|(m, h)| m + side * h).collect()
}

/// Whether each position is on a plateau.
fn plateaus(alignment: &Alignment, position: &[f64]) -> Vec<bool> {
    let kind = |k: usize| alignment.landmarks.get(k).map(|(kind, _)| *kind);
    let on = |x: &f64| {
        let after = alignment.mean.partition_point(|mark| mark <= x);
        let around = (after.checked_sub(1).and_then(kind), kind(after));
        around == (Some(LandmarkKind::HalfRise), Some(LandmarkKind::HalfFall))
    };
    position.iter().map(on).collect()
}

/// Each landmark of the second group less that of the first; intervals and p hold for all landmarks together.
fn landmarks(alignment: &Alignment, units: &Groups, first: usize, level: f64) -> Vec<LandmarkDifference> {
    if alignment.landmarks.is_empty() {
        return Vec::new();
    }
    let means = sides(&alignment.own, first);
    let none = || Undefined::because("too few brews for a test");
    let found = family(units, &alignment.own, level);
    let one = |k: usize| {
        let (kind, pour) = alignment.landmarks[k];
        let (a, b) = (means[0][k], means[1][k]);
        // The first start is the zero of all brews.
        let moved = alignment.own.iter().any(|own| (own[k] - alignment.own[0][k]).abs() > 1e-9);
        let (difference, interval, p) = match &found {
            Some(found) if moved => {
                let (d, error) = (found.difference[k], found.error[k]);
                let ends = found.factor.map(|u| [d - u * error, d + u * error]).ok_or_else(none);
                (Estimate::new(d, error), ends, Ok(found.p[k]))
            }
            Some(_) => {
                let same = Undefined::because("it is the zero of all brews");
                (Estimate::exact(0.0), Err(same.clone()), Err(same))
            }
            None => (Estimate::new(b - a, f64::NAN), Err(none()), Err(none())),
        };
        LandmarkDifference { pour: pour + 1, kind, a, b, difference, interval, p }
    };
    (0..alignment.landmarks.len()).map(one).collect()
}
