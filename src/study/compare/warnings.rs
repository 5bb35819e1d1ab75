//! In: units, a pair, what was found. Out: why a p is refused, and what must be said with a result.

use crate::estimate::Undefined;
use crate::study::compare::blocks::Units;
use crate::study::compare::contrasted::Contrasts;
use crate::study::compare::pair::Pair;

/// Fewest units of a group with which a p is given.
pub(super) const FEWEST: usize = 3;
/// From this share on, the scatter is said to be mostly the measurement's own.
const MUCH: f64 = 0.5;

/// Why neither p nor interval may be given: nothing of the scatter that matters is known.
pub(super) fn blind(
    units: &Units,
    pair: &Pair,
    names: [&str; 2],
    average_repeats: bool,
) -> Option<Undefined> {
    let [a, b] = names;
    if units.repeated > 0 && !average_repeats {
        return Some(Undefined::because(format!(
            "{} rows come from {} brews, and rows of one brew are not independent; take one value a brew (average_repeats)",
            units.rows,
            units.rows - units.repeated
        )));
    }
    if pair.counts.is_empty() {
        let block = units.blocks.join(" and ");
        return Some(Undefined::because(format!(
            "no {block} had both {a} and {b}: what differs between the two cannot be told from what differs between one {block} and another"
        )));
    }
    let alone: Vec<&str> =
        names.into_iter().zip(pair.sizes()).filter(|(_, n)| *n == 1).map(|(name, _)| name).collect();
    if units.unit != "brew" && !alone.is_empty() {
        let unit = &units.unit;
        return Some(Undefined::because(format!(
            "{} known from a single {unit}: what it does cannot be told from what that {unit} does",
            if alone.len() == 2 { format!("{a} and {b} are each") } else { format!("{} is", alone[0]) }
        )));
    }
    None
}

/// Why no p may be given, though the scatter is known.
pub(super) fn too_few(unit: &str, sizes: [usize; 2], names: [&str; 2]) -> Option<Undefined> {
    let (n, name) = sizes.into_iter().zip(names).min_by_key(|(n, _)| *n)?;
    let why = || format!("{name} has {n} {unit}{}, and a p needs at least {FEWEST} of each group", plural(n));
    (n < FEWEST).then(|| Undefined::because(why()))
}

/// Why no p may be given: none could have been small.
pub(super) fn cannot_reach(arrangements: f64, smallest: f64, level: f64) -> Option<Undefined> {
    let bar = 1.0 - level;
    // The bar is a difference of rounded numbers.
    (smallest > bar * (1.0 + 1e-9)).then(|| {
        Undefined::because(format!(
            "so few that even the most extreme of the {arrangements} arrangements has a p of {smallest:.2}, and {bar:.2} is asked for"
        ))
    })
}

/// What must be said with these numbers.
pub(super) fn warnings(found: &Contrasts, units: &Units, pairs: &[Pair], averaged: bool) -> Vec<String> {
    let mut said = Vec::new();
    let unit = &found.unit;
    if units.repeated > 0 && averaged {
        said.push(format!("{} rows were averaged to one value a brew", units.rows));
    }
    if unit != "brew" {
        said.push(format!(
            "within one {unit} the group never varies: each {unit} counts once, by its mean ({} of them, from {} rows)",
            units.values.len(),
            units.rows
        ));
    }
    for (contrast, pair) in found.pairs.iter().zip(pairs) {
        let (a, b) = (&contrast.a, &contrast.b);
        if pair.left_out > 0 && !pair.counts.is_empty() {
            let block = found.blocks.join(" and ");
            said.push(format!(
                "{b} less {a}: {} values stand alone, no value of the other group is of the same {block}, and they say nothing",
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
            said.push("the stated sd of the values are larger than their scatter: they are too large, or errors are shared".into());
        } else if share.value > MUCH {
            said.push(format!(
                "{:.0} % of the variance within groups is the measurement's own",
                100.0 * share.value
            ));
        }
    }
    said
}

fn plural(n: usize) -> &'static str {
    if n == 1 { "" } else { "s" }
}
