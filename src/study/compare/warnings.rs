//! In: units, a pair, its contrast. Out: reasons why a p is undefined, and the cautions of a contrast.

use crate::estimate::Undefined;
use crate::study::compare::blocks::Units;
use crate::study::compare::contrasted::Contrasts;
use crate::study::compare::pair::Pair;
use crate::study::guards::caution::{Caution, CautionKind};

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
pub(crate) fn cannot_reach(arrangements: f64, smallest: f64, level: f64) -> Option<Undefined> {
    let bar = 1.0 - level;
    // `bar` is a difference of rounded numbers.
    (smallest > bar * (1.0 + 1e-9)).then(|| {
        Undefined::because(format!(
            "too few units: the smallest possible p of the {arrangements} permutations is {smallest:.2}, above \
             {bar:.2}; add brews"
        ))
    })
}

/// Cautions of a contrast.
pub(super) fn cautions(found: &Contrasts, units: &Units, pairs: &[Pair], averaged: bool) -> Vec<Caution> {
    let mut said = Vec::new();
    let mut say = |kind, about: &str, text: String| said.push(Caution::new(kind, about, text));
    let unit = &found.unit;
    if units.repeated > 0 && averaged {
        let text = format!("{} rows were averaged to one value per brew", units.rows);
        say(CautionKind::Averaged, "brew", text);
    }
    if unit != "brew" {
        let text = format!(
            "the experimental unit is the {unit}, because the group never varies within one: {} units from {} rows",
            units.values.len(),
            units.rows
        );
        say(CautionKind::Unit, unit, text);
    }
    for (contrast, pair) in found.pairs.iter().zip(pairs) {
        let (a, b) = (&contrast.a, &contrast.b);
        let name = format!("{b} less {a}");
        if pair.left_out > 0 && !pair.counts.is_empty() {
            let block = found.blocks.join(" and ");
            let text = format!(
                "{name}: {} values have no value of the other group in the same {block}; they are not informative \
                 about the difference",
                pair.left_out
            );
            say(CautionKind::LeftOut, &name, text);
        }
        if let Ok(alike) = &contrast.p_interaction
            && alike.value < 1.0 - found.level
        {
            let text = format!(
                "{name} is not the same for every {} (p {:.3}): the difference is the mean over these",
                found.blocks[0], alike.value
            );
            say(CautionKind::Interaction, &name, text);
        }
        if let Err(why) = &contrast.p {
            say(CautionKind::NoP, &name, format!("{name}: no p: {}", why.reason));
        }
    }
    if let Ok(share) = &found.measurement_share {
        let large =
            "the stated sd exceed the sd within groups: they are too large, or errors are shared; check them";
        if share.value > 1.0 {
            say(CautionKind::Measurement, "", large.into());
        } else if share.value > MUCH {
            let share = 100.0 * share.value;
            let text = format!("{share:.0} % of the variance within groups is measurement uncertainty");
            say(CautionKind::Measurement, "", text);
        }
    }
    said
}

fn plural(n: usize) -> &'static str {
    if n == 1 { "" } else { "s" }
}
