//! Missing values and brews with warnings.

use crate::study::gather::study::{Missing, Study, StudyRow, Taken};
use crate::study::guards::caution::{Caution, CautionKind};
use crate::study::guards::view::View;
use std::collections::BTreeSet;

/// From this difference between the groups' shares of missing values on, a caution says so.
const LEANS: f64 = 0.1;

/// Brews whose numbers may be wrong.
pub(super) fn warned(study: &Study, taken: &Taken) -> Option<Caution> {
    let rows = || taken.rows.iter().map(|row| &study.rows[*row]);
    let is_warned = |row: &&StudyRow| !row.warnings.is_empty();
    let first = rows().find(is_warned)?;
    let some: BTreeSet<&String> = rows().filter(is_warned).map(|row| &row.brew).collect();
    let all: BTreeSet<&String> = rows().map(|row| &row.brew).collect();
    let text = format!(
        "{} of {} brews carry warnings; {}: {}",
        some.len(),
        all.len(),
        first.brew,
        first.warnings[0]
    );
    Some(Caution::new(CautionKind::Warned, &first.brew, text))
}

/// Missing values may depend on the group (not missing at random), so they are reported.
pub(super) fn missing(study: &Study, taken: &Taken, view: &View, by: &str) -> Vec<Caution> {
    let mut all = Vec::new();
    let (gone, there) = (taken.missing.len(), taken.values.len());
    let measure = &taken.measure;
    if gone > 0 {
        let rows = gone + there;
        let first = first_reason(&taken.missing);
        let text = format!("{gone} of {rows} rows lack a value or a factor and are left out: {first}");
        all.push(Caution::new(CautionKind::Missing, measure, text));
        all.extend(leans(study, taken, view, by));
    }
    if !taken.partial.is_empty() {
        let some = taken.partial.len();
        let first = first_reason(&taken.partial);
        let text = format!("{some} of {there} values are means that lack some pours: {first}");
        all.push(Caution::new(CautionKind::Partial, measure, text));
    }
    all
}

/// One group lacks more values than another: its mean is that of the values that could be measured.
fn leans(study: &Study, taken: &Taken, view: &View, by: &str) -> Option<Caution> {
    let there: BTreeSet<usize> = taken.rows.iter().copied().collect();
    let mut counts = vec![[0_usize; 2]; view.groups.len()];
    for (i, row) in study.rows.iter().enumerate() {
        let group = row.factors.get(by).and_then(|level| view.groups.iter().position(|name| name == level));
        if let Some(group) = group {
            counts[group][0] += usize::from(!there.contains(&i));
            counts[group][1] += 1;
        }
    }
    let share = |g: usize| counts[g][0] as f64 / counts[g][1].max(1) as f64;
    let most = (0..counts.len()).max_by(|&x, &y| share(x).total_cmp(&share(y)))?;
    let least = (0..counts.len()).min_by(|&x, &y| share(x).total_cmp(&share(y)))?;
    if counts[most][0] < 2 || share(most) - share(least) < LEANS {
        return None;
    }
    let (name, other) = (&view.groups[most], &view.groups[least]);
    let text = format!(
        "{name} lacks {} of {} values, {other} {} of {}. If small values are missing, the mean of {name} is too \
         high. Find out why.",
        counts[most][0], counts[most][1], counts[least][0], counts[least][1]
    );
    Some(Caution::new(CautionKind::MissingLeans, name, text))
}

fn first_reason(missing: &[Missing]) -> String {
    missing.first().map_or(String::new(), |m| format!("{}, {}: {}", m.brew, m.what, m.reason))
}
