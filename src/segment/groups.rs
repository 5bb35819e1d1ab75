//! In: the used samples and proposed bursts. Out: groups of bursts with their samples.

use crate::model::burst::Burst;
use crate::model::samples::Samples;
use crate::segment::fitted::{Group, grid_s};

/// Rest before and after the bursts that a group holds, s.
const REST_S: f64 = 3.5;
/// The least of it before, and after a burst of another group, s.
const NEXT_S: f64 = 0.7;
const TAIL_S: f64 = 1.5;

/// Samples of each group: from the rest before to the rest after, a few seconds of each.
pub(super) fn groups(x: &Samples, proposed: &[Vec<Burst>]) -> Vec<Group> {
    let edges: Vec<(f64, f64)> =
        proposed.iter().map(|g| (g[0].start_s(), g.last().map_or(f64::NAN, Burst::end_s))).collect();
    let index = |t: f64| x.time_s.partition_point(|&s| s < t);
    let group = |(k, bursts): (usize, &Vec<Burst>)| {
        let (start, end) = edges[k];
        let earliest = if k > 0 { index(edges[k - 1].1 + TAIL_S) } else { 0 };
        let latest = edges.get(k + 1).map_or(x.time_s.len(), |next| index(next.0 - NEXT_S));
        // At least five samples on each side, even across a gap.
        let from = index(start - REST_S).min(index(start - NEXT_S).saturating_sub(5)).max(earliest);
        let to = index(end + REST_S).max(index(end + TAIL_S) + 5).min(latest).max(from);
        // The load may differ after a gap, so a window does not extend across a gap in a rest.
        let gaps = || x.time_s[from..to].windows(2).enumerate().filter(|(_, w)| x.is_gap(w[1] - w[0]));
        let begins = gaps().rfind(|(_, w)| w[1] < start - NEXT_S).map_or(from, |(i, _)| from + i + 1);
        let ends = gaps().find(|(_, w)| w[0] > end + NEXT_S).map_or(to, |(i, _)| from + i + 1);
        let (from, to) = (begins, ends.max(begins));
        let rest = &x.mass_g[from..index(start - NEXT_S / 2.0).clamp(from, to)];
        let base_g = if rest.is_empty() {
            x.mass_g.get(from).copied().unwrap_or(0.0)
        } else {
            rest.iter().sum::<f64>() / rest.len() as f64
        };
        let informs = !bursts.iter().any(|b| x.is_disturbed(b.start_s()) || x.is_disturbed(b.end_s()));
        Group {
            legs: legs(x, from, to, bursts),
            bursts: bursts.clone(),
            base_g,
            from,
            to,
            informs,
            excess: 1.0,
            grid_s: 0.0,
        }
    };
    let mut groups: Vec<Group> =
        proposed.iter().enumerate().map(group).filter(|group| group.from < group.to).collect();
    if !groups.iter().any(|g| g.informs) {
        groups.iter_mut().for_each(|g| g.informs = true);
    }
    let cell_s = grid_s(x, &groups);
    groups.iter_mut().for_each(|g| g.grid_s = cell_s);
    groups
}

/// First sample of each burst's leg: the one after the middle of the pause before it.
fn legs(x: &Samples, from: usize, to: usize, bursts: &[Burst]) -> Vec<usize> {
    let time_s = &x.time_s[from..to];
    let pause = |two: &[Burst]| f64::midpoint(two[0].end_s(), two[1].start_s());
    let later = bursts.windows(2).map(|two| time_s.partition_point(|&t| t < pause(two)));
    std::iter::once(0).chain(later).collect()
}
