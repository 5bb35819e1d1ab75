//! Factors that change with the group, people, and names of groups that are nearly equal.

use crate::study::gather::study::Study;
use crate::study::guards::caution::{Caution, CautionKind};
use crate::study::guards::order::ORDER;
use crate::study::guards::view::View;
use std::collections::BTreeMap;

/// From this share of a factor's levels explained by the group on, its spread is uneven (Cramer's V).
const UNEVEN: f64 = 0.25;
/// With fewer people a caution says that the difference is theirs.
const FEW_PEOPLE: usize = 8;
/// Free text, which is no factor of a design.
const NO_FACTOR: [&str; 2] = ["note", "brew"];

/// Every factor of the study that is neither compared nor a block: whether it carries the groups or leans on them.
pub(super) fn factors(study: &Study, view: &View, by: &str, blocks: &[&str]) -> Vec<Caution> {
    let named = |name: &str| name == by || blocks.contains(&name);
    let open = study.factors().into_iter().filter(|name| {
        !named(name) && !ORDER.contains(&name.as_str()) && !NO_FACTOR.contains(&name.as_str())
    });
    open.filter_map(|name| one(&view.factor(study, &name)?, view, by, &name)).collect()
}

fn one(levels: &[&str], view: &View, by: &str, name: &str) -> Option<Caution> {
    let mut counts: BTreeMap<&str, Vec<usize>> = BTreeMap::new();
    for (level, &group) in levels.iter().zip(&view.group) {
        counts.entry(level).or_insert_with(|| vec![0; view.groups.len()])[group] += 1;
    }
    // A single level changes with nothing, and one level per brew is a name.
    if counts.len() < 2 || counts.len() == levels.len() {
        return None;
    }
    let same = |level: &str, group: &str| level.trim().eq_ignore_ascii_case(group.trim());
    if levels.iter().zip(&view.group).all(|(level, &group)| same(level, &view.groups[group])) {
        // The group itself under another name, as a folder that is named after its kettle.
        return None;
    }
    if counts.values().all(|groups| groups.iter().filter(|n| **n > 0).count() == 1) {
        let text = format!(
            "{name} changes with {by}: the difference may be that of {name}. Brew every {by} with each {name}, and \
             name {name} in blocks."
        );
        return Some(Caution::new(CautionKind::Confounded, name, text));
    }
    if cramer(&counts, view) < UNEVEN {
        return None;
    }
    let share = |groups: &Vec<usize>| {
        let most = groups.iter().copied().max().unwrap_or(0);
        (most as f64 / groups.iter().sum::<usize>() as f64, most)
    };
    let (level, groups) = counts.iter().max_by(|x, y| {
        let (x, y) = (share(x.1), share(y.1));
        x.0.total_cmp(&y.0).then(x.1.cmp(&y.1))
    })?;
    let most = share(groups).1;
    let group = &view.groups[groups.iter().position(|n| *n == most)?];
    let text = format!(
        "{name} is uneven over {by} ({level}: {most} of {} brews with {group}): part of the difference may be that of \
         {name}. Name {name} in blocks.",
        groups.iter().sum::<usize>()
    );
    Some(Caution::new(CautionKind::Uneven, name, text))
}

/// Cramer's V of a table of levels by groups: 0 for equal shares, 1 if a level tells the group.
fn cramer(counts: &BTreeMap<&str, Vec<usize>>, view: &View) -> f64 {
    let n = view.group.len() as f64;
    let total = |group: usize| view.group.iter().filter(|g| **g == group).count() as f64;
    let mut chi_squared = 0.0;
    for groups in counts.values() {
        let row = groups.iter().sum::<usize>() as f64;
        for (group, &count) in groups.iter().enumerate() {
            let expected = row * total(group) / n;
            chi_squared += (count as f64 - expected).powi(2) / expected;
        }
    }
    let least = counts.len().min(view.groups.len()) as f64 - 1.0;
    (chi_squared / n / least.max(1.0)).sqrt()
}

/// Whose hands the difference holds for.
pub(super) fn people(study: &Study, view: &View, by: &str) -> Option<Caution> {
    if by == "person" {
        return None;
    }
    let mut people = view.factor(study, "person")?;
    people.sort_unstable();
    people.dedup();
    let (kind, text) = match people[..] {
        [one] => (
            CautionKind::OnePerson,
            format!(
                "All brews are by {one}: the difference holds for this person. Let other people brew to say more."
            ),
        ),
        _ if people.len() < FEW_PEOPLE => (
            CautionKind::FewPeople,
            format!(
                "{} people took part: the difference is the mean over these people, and may differ for others. \
                 Compare over people like these to say more.",
                people.len()
            ),
        ),
        _ => return None,
    };
    Some(Caution::new(kind, "person", text))
}

/// Groups that are probably one, written in two ways.
pub(super) fn alike_names(view: &View) -> Option<Caution> {
    let plain = |name: &String| name.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase();
    let mut seen: BTreeMap<String, &String> = BTreeMap::new();
    let (first, second) =
        view.groups.iter().find_map(|name| Some((seen.insert(plain(name), name)?, name)))?;
    let text = format!(
        "Groups {first:?} and {second:?} differ by case or blanks only. If they are one, write them alike and compare \
         again."
    );
    Some(Caution::new(CautionKind::AlikeNames, second, text))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn view(groups: &[usize]) -> View {
        View {
            groups: vec!["x".into(), "y".into()],
            group: groups.to_vec(),
            value: vec![0.0; groups.len()],
            ..View::default()
        }
    }

    #[test]
    fn cramers_v_is_that_of_the_reference_library() {
        // scipy 1.17.1, stats.contingency.association([[5, 1], [1, 5]], method="cramer"): 0.6666667.
        let levels = ["A", "A", "A", "A", "A", "A", "B", "B", "B", "B", "B", "B"];
        let of = view(&[0, 0, 0, 0, 0, 1, 0, 1, 1, 1, 1, 1]);
        let counts = BTreeMap::from([("A", vec![5, 1]), ("B", vec![1, 5])]);
        assert!((cramer(&counts, &of) - 2.0 / 3.0).abs() < 1e-12);
        let found = one(&levels, &of, "kettle", "person").unwrap();
        assert_eq!(found.kind, CautionKind::Uneven);
        assert!(found.text.contains("5 of 6 brews"), "{}", found.text);
    }

    #[test]
    fn a_factor_is_named_only_if_it_changes_with_the_group() {
        let of = view(&[0, 0, 1, 1]);
        let kind = |levels: [&str; 4]| one(&levels, &of, "kettle", "person").map(|caution| caution.kind);
        assert_eq!(kind(["A", "A", "B", "B"]), Some(CautionKind::Confounded));
        assert_eq!(kind(["A", "B", "A", "B"]), None);
        assert_eq!(kind(["A", "A", "A", "A"]), None);
        assert_eq!(kind(["1", "2", "3", "4"]), None);
        assert_eq!(kind(["X", "x ", "Y", "y"]), None, "the group under another name");
    }

    #[test]
    fn groups_that_differ_by_case_or_blanks_are_named() {
        let named = |first: &str, second: &str| {
            let groups = vec![first.to_string(), second.to_string()];
            alike_names(&View { groups, ..View::default() }).is_some()
        };
        assert!(named("thin", "Thin ") && named("thin  wide", "thin wide") && !named("thin", "wide"));
    }
}
