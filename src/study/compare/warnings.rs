//! In: units, a pair, its contrast. Out: reasons why a p is undefined, and the warnings of a result.

use crate::estimate::Undefined;
use crate::study::compare::blocks::Units;
use crate::study::compare::contrasted::Contrasts;
use crate::study::compare::pair::Pair;

/// Fewest units of a group with which a p is given.
pub(super) const FEWEST: usize = 3;
/// From this share on, a warning names the measurement uncertainty.
const MUCH: f64 = 0.5;

/// Reason for neither p nor interval: the variance between units is not identifiable.
pub(super) fn blind(
    units: &Units,
    pair: &Pair,
    names: [&str; 2],
    average_repeats: bool,
) -> Option<Undefined> {
    let [a, b] = names;
    if units.repeated > 0 && !average_repeats {
        return Some(Undefined::because(format!(
            "{} rows come from {} brews, and rows of one brew are not independent; set average_repeats to use \
             one value per brew",
            units.rows,
            units.rows - units.repeated
        )));
    }
    if pair.counts.is_empty() {
        let block = units.blocks.join(" and ");
        return Some(Undefined::because(format!(
            "no {block} had both {a} and {b}: their difference is confounded with that of {block}; compare both within \
             one {block}"
        )));
    }
    let alone: Vec<&str> =
        names.into_iter().zip(pair.sizes()).filter(|(_, n)| *n == 1).map(|(name, _)| name).collect();
    if units.unit != "brew" && !alone.is_empty() {
        let unit = &units.unit;
        return Some(Undefined::because(format!(
            "{} from a single {unit}: group and {unit} are confounded; add a second {unit}",
            if alone.len() == 2 { format!("{a} and {b} are each") } else { format!("{} is", alone[0]) }
        )));
    }
    None
}

/// Reason for no p although the variance is identifiable.
pub(super) fn too_few(unit: &str, sizes: [usize; 2], names: [&str; 2]) -> Option<Undefined> {
    let (n, name) = sizes.into_iter().zip(names).min_by_key(|(n, _)| *n)?;
    let why = || format!("{name} has {n} {unit}{}, and a p needs at least {FEWEST} of each group", plural(n));
    (n < FEWEST).then(|| Undefined::because(why()))
}

/// Reason for no p: the smallest possible p exceeds the level.
pub(super) fn cannot_reach(arrangements: f64, smallest: f64, level: f64) -> Option<Undefined> {
    let bar = 1.0 - level;
    // `bar` is a difference of rounded numbers.
    (smallest > bar * (1.0 + 1e-9)).then(|| {
        Undefined::because(format!(
            "too few units: the smallest possible p of the {arrangements} permutations is {smallest:.2}, above \
             {bar:.2}; add brews"
        ))
    })
}

/// Warnings of a contrast.
pub(super) fn warnings(found: &Contrasts, units: &Units, pairs: &[Pair], averaged: bool) -> Vec<String> {
    let mut said = Vec::new();
    let unit = &found.unit;
    if units.repeated > 0 && averaged {
        said.push(format!("{} rows were averaged to one value per brew", units.rows));
    }
    if unit != "brew" {
        said.push(format!(
            "the experimental unit is the {unit}, because the group never varies within one: {} units from {} rows",
            units.values.len(),
            units.rows
        ));
    }
    for (contrast, pair) in found.pairs.iter().zip(pairs) {
        let (a, b) = (&contrast.a, &contrast.b);
        if pair.left_out > 0 && !pair.counts.is_empty() {
            let block = found.blocks.join(" and ");
            said.push(format!(
                "{b} less {a}: {} values have no value of the other group in the same {block}; they are not \
                 informative about the difference",
                pair.left_out
            ));
        }
        if let Ok(alike) = &contrast.p_interaction
            && alike.value < 1.0 - found.level
        {
            said.push(format!(
                "{b} less {a} is not the same for every {} (p {:.3}): the difference is the mean over these",
                found.blocks[0], alike.value
            ));
        }
        let of = |why: &Undefined| format!("{b} less {a}: no p: {}", why.reason);
        said.extend(contrast.p.as_ref().err().map(of));
    }
    if let Ok(share) = &found.measurement_share {
        if share.value > 1.0 {
            said.push(
                "the stated sd exceed the sd within groups: they are too large, or errors are shared; check them"
                    .into(),
            );
        } else if share.value > MUCH {
            said.push(format!(
                "{:.0} % of the variance within groups is measurement uncertainty",
                100.0 * share.value
            ));
        }
    }
    said
}

fn plural(n: usize) -> &'static str {
    if n == 1 { "" } else { "s" }
}
