//! The order of the brews: whether the groups follow each other in it, a trend, and correlation of neighbours.

use crate::log::stamps::Clock;
use crate::math::distribution::{normal_below, student_outside};
use crate::math::random::Random;
use crate::study::gather::study::Study;
use crate::study::guards::caution::{Caution, CautionKind};
use crate::study::guards::view::View;

/// Columns that have the order of the brews.
pub(super) const ORDER: [&str; 3] = ["started_at", "order", PLANNED];
/// Column of the place in the order that was planned.
const PLANNED: &str = "planned_order";
/// From this difference between the shares of pairs that are brewed one way and the other, groups follow each other.
const FOLLOWS: f64 = 0.6;
/// A number of runs as small as this has a probability of one in ten in a random order.
const FEW_RUNS: f64 = 0.1;
/// Trend and correlation are named below this p.
const CLEAR: f64 = 0.01;
const DEALS: usize = 999;
/// The shortest series whose correlation is tested, and the longest that is written out.
const FEWEST: usize = 8;
const WRITTEN: usize = 24;

/// What the order of the brews does to the comparison. Names of groups are written as their first letters.
pub(super) fn order(study: &Study, view: &View, by: &str) -> Vec<Caution> {
    let Some(order) = order_of(study, view) else {
        let text = "The order of the brews is unknown, and a drift between them would go unseen. Add a column order or \
                    started_at.";
        return vec![Caution::new(CautionKind::OrderUnknown, "order", text.into())];
    };
    let mut sorted: Vec<usize> = (0..order.len()).collect();
    sorted.sort_by(|&x, &y| order[x].total_cmp(&order[y]));
    let follows = follows(view, &sorted).then(|| {
        let text = format!(
            "The order of the brews goes with {by}{}: a drift between them would look like this difference. Brew in \
             random order.",
            written(view, &sorted)
        );
        Caution::new(CautionKind::Order, by, text)
    });
    let planned = not_as_planned(study, view, &sorted);
    planned.into_iter().chain(follows).chain(trend(view, &sorted)).chain(correlated(view, &sorted)).collect()
}

/// Place in time of each brew: from a start time, else from a column `order`. Stamps that are all equal, or within a
/// minute, are those of a copied file.
fn order_of(study: &Study, view: &View) -> Option<Vec<f64>> {
    let rows = || view.row.iter().map(|&row| &study.rows[row]);
    let stamps: Option<Vec<&str>> = rows().map(|row| row.started_at.as_deref()).collect();
    let clock = stamps.as_ref().and_then(|stamps| Clock::start(stamps.first()?));
    let times: Option<Vec<f64>> =
        clock.and_then(|clock| stamps?.into_iter().map(|stamp| clock.since_first(stamp)).collect());
    let apart = |least: f64| {
        move |times: &Vec<f64>| {
            let mut sorted = times.clone();
            sorted.sort_by(f64::total_cmp);
            let span = sorted.last().zip(sorted.first()).map_or(0.0, |(last, first)| last - first);
            span > least && sorted.windows(2).all(|pair| pair[0] < pair[1])
        }
    };
    let given =
        |name: &str| rows().map(|row| row.number(name).ok().map(|e| e.value)).collect::<Option<Vec<f64>>>();
    times
        .filter(apart(60.0))
        .or_else(|| given(ORDER[1]).filter(apart(0.0)))
        .or_else(|| given(PLANNED).filter(apart(0.0)))
}

/// Brews that do not follow their planned order, and places of the plan that have no brew.
fn not_as_planned(study: &Study, view: &View, sorted: &[usize]) -> Option<Caution> {
    let place = |i: &usize| study.rows[view.row[*i]].number(PLANNED).ok().map(|e| e.value);
    let places: Vec<f64> = sorted.iter().map(place).collect::<Option<_>>()?;
    let back: Vec<usize> = (1..places.len()).filter(|&k| places[k] < places[k - 1]).collect();
    let most = places.iter().copied().fold(0.0, f64::max);
    let whole = most <= 1e5 && places.iter().all(|p| p.fract() == 0.0 && *p >= 1.0);
    let missing: Vec<String> = (1..=if whole { most as usize } else { 0 })
        .filter(|k| places.iter().all(|p| *p != *k as f64))
        .map(|k| k.to_string())
        .collect();
    let mut parts = Vec::new();
    if let Some(&k) = back.first() {
        let brew = &view.brew[sorted[k]];
        let more = if back.len() > 1 { format!(", and {} more", back.len() - 1) } else { String::new() };
        let [now, before] = [places[k], places[k - 1]];
        parts.push(format!("{brew}, planned as number {now}, was brewed after number {before}{more}"));
    }
    if !missing.is_empty() {
        let named = missing[..missing.len().min(5)].join(", ");
        let more = if missing.len() > 5 { ", ..." } else { "" };
        parts.push(format!("{} of {most} planned brews are missing (number {named}{more})", missing.len()));
    }
    let text = format!(
        "The plan was not kept: {}. The order is no longer balanced: a drift may be part of the difference.",
        parts.join("; ")
    );
    (!parts.is_empty()).then(|| Caution::new(CautionKind::NotAsPlanned, PLANNED, text))
}

/// Whether, within cells, one group tends to come before another, or groups come in longer runs than in a random order.
fn follows(view: &View, sorted: &[usize]) -> bool {
    for a in 0..view.groups.len() {
        for b in a + 1..view.groups.len() {
            let (mut leads, mut pairs) = (0.0, 0.0);
            let (mut runs, mut mean, mut variance) = (0.0, 0.0, 0.0);
            for cell in 0..view.cells {
                let here: Vec<usize> = sorted
                    .iter()
                    .filter(|&&i| view.cell[i] == cell)
                    .map(|&i| view.group[i])
                    .filter(|&group| group == a || group == b)
                    .collect();
                let n = here.len() as f64;
                let of_a = here.iter().filter(|&&group| group == a).count() as f64;
                let of_b = n - of_a;
                if of_a == 0.0 || of_b == 0.0 {
                    continue;
                }
                let mut before = 0.0;
                for &group in &here {
                    if group == a {
                        before += 1.0;
                    } else {
                        leads += 2.0 * before - of_a;
                    }
                }
                pairs += of_a * of_b;
                runs += 1.0 + here.windows(2).filter(|pair| pair[0] != pair[1]).count() as f64;
                // Wald and Wolfowitz 1940, Ann. Math. Stat. 11, 147.
                let both = 2.0 * of_a * of_b;
                mean += both / n + 1.0;
                variance += both * (both - n) / (n * n * (n - 1.0));
            }
            let lean = if pairs > 0.0 { f64::abs(leads) / pairs } else { 0.0 };
            let few = variance > 0.0 && normal_below((runs + 0.5 - mean) / f64::sqrt(variance)) <= FEW_RUNS;
            if lean >= FOLLOWS || few {
                return true;
            }
        }
    }
    false
}

/// The order by the first letters of the groups, if that is short and clear.
fn written(view: &View, sorted: &[usize]) -> String {
    let letters: Vec<char> = view.groups.iter().filter_map(|name| name.chars().next()).collect();
    let clear = letters.len() == view.groups.len()
        && letters.iter().enumerate().all(|(i, letter)| !letters[..i].contains(letter));
    if !clear || sorted.len() > WRITTEN {
        return String::new();
    }
    format!(" ({})", sorted.iter().map(|&i| letters[view.group[i]]).collect::<String>())
}

/// A drift with the order, within groups and cells.
fn trend(view: &View, sorted: &[usize]) -> Option<Caution> {
    let mut place = vec![0.0; sorted.len()];
    sorted.iter().enumerate().for_each(|(k, &i)| place[i] = k as f64);
    let ((left, _), (place, _)) = (view.fit(&view.value), view.fit(&place));
    let dot = |x: &[f64], y: &[f64]| x.iter().zip(y).map(|(x, y)| x * y).sum::<f64>();
    let r = dot(&left, &place) / (dot(&left, &left) * dot(&place, &place)).sqrt();
    let degrees = view.degrees() - 1.0;
    if !r.is_finite() || degrees < 3.0 {
        return None;
    }
    let p = student_outside(r * (degrees / (1.0 - r * r)).sqrt(), degrees);
    if p > CLEAR {
        return None;
    }
    let way = if r > 0.0 { "rises" } else { "falls" };
    let text = format!(
        "The measure {way} with the order of the brews (p {p:.3}): the session drifts. Name its parts as blocks, and \
         alternate the groups."
    );
    Some(Caution::new(CautionKind::Trend, "order", text))
}

/// Positive correlation of neighbours, by dealing the residuals.
fn correlated(view: &View, sorted: &[usize]) -> Option<Caution> {
    let n = sorted.len();
    let (left, _) = view.fit(&view.value);
    let mut series: Vec<f64> = sorted.iter().map(|&i| left[i]).collect();
    let squares: f64 = series.iter().map(|x| x * x).sum();
    if n < FEWEST || view.degrees() < 4.0 || squares <= 0.0 {
        return None;
    }
    let lag_1 = |series: &[f64]| series.windows(2).map(|pair| pair[0] * pair[1]).sum::<f64>() / squares;
    let seen = lag_1(&series);
    let mut random = Random::stream(1, "order");
    let mut as_large = 1.0;
    for _ in 0..DEALS {
        for k in (1..n).rev() {
            series.swap(k, random.count([0, k as u32]) as usize);
        }
        as_large += f64::from(u8::from(lag_1(&series) >= seen));
    }
    if as_large / (DEALS as f64 + 1.0) > CLEAR {
        return None;
    }
    let text = format!(
        "Neighbouring brews are correlated ({seen:.2}): they are fewer than they seem. Alternate the groups, or name \
         sessions as blocks."
    );
    Some(Caution::new(CautionKind::Correlated, "order", text))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn view(order: &str) -> (View, Vec<usize>) {
        let group: Vec<usize> = order.chars().map(|c| usize::from(c == 'b')).collect();
        let n = group.len();
        let groups = vec!["a".into(), "b".into()];
        (View { groups, group, cell: vec![0; n], cells: 1, ..View::default() }, (0..n).collect())
    }

    #[test]
    fn groups_that_follow_each_other_are_told_from_mixed_ones() {
        // By enumeration: 62 of the 924 orders of six and six have at most four runs, 0.067, and 162 at most five,
        // 0.175: only the former is below one in ten.
        for (order, expected) in [
            ("aaaaaabbbbbb", true),
            ("aaabbbaaabbb", true),
            ("abababababab", false),
            ("abbabaabbaba", false),
            ("aabaabbabbab", false),
        ] {
            let (view, sorted) = view(order);
            assert_eq!(follows(&view, &sorted), expected, "{order}");
        }
        let (view, sorted) = view("aaabbb");
        assert_eq!(written(&view, &sorted), " (aaabbb)");
    }
}
