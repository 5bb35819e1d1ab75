//! The definitions of pour, edges, plateau and flow, applied to a flow on a grid of 1 ms.
//!
//! True flow is water that lands at the bed, averaged over 0.1 s; single drops are averaged over two of their
//! intervals. A pour is a longest stretch above 0.5 g/s, pauses shorter than 1.0 s included, of at least 2 g. Half-rise
//! and half-fall are the first and last passage of half of the mean flow; the plateau lies 0.5 s within them.

use super::{GRID_HZ, SingleDrop};

pub const LEAST_FLOW_G_PER_S: f64 = 0.5;
pub const LONGEST_PAUSE_S: f64 = 1.0;
pub const LEAST_MASS_G: f64 = 2.0;
pub const PLATEAU_INSET_S: f64 = 0.5;
pub const SHORTEST_PLATEAU_S: f64 = 1.0;
/// Half of the 0.1 s over which flow is averaged, in steps of the grid.
const HALF_WINDOW: usize = 50;
/// A drop lands within this many steps.
const DROP_STEPS: usize = 20;

/// One pour as it was.
#[derive(Debug, Clone)]
pub struct TruePour {
    pub start_s: f64,
    pub end_s: f64,
    pub half_rise_s: f64,
    pub half_fall_s: f64,
    /// Mass between start and end.
    pub mass_g: f64,
    pub mean_flow_g_per_s: f64,
    /// None if the plateau is shorter than 1 s.
    pub plateau_s: Option<(f64, f64)>,
    pub plateau_flow_g_per_s: Option<f64>,
    pub peak_flow_g_per_s: f64,
    /// Sd over mean of the flow on the plateau, without the time in which it is at most 0.5 g/s.
    pub flow_cv: Option<f64>,
    /// The part of `flow_cv` that is a straight line over time; None also if the plateau has pauses.
    pub flow_cv_trend: Option<f64>,
    /// Pauses within the pour: stretches of at most 0.5 g/s.
    pub pauses: usize,
    /// Whether the pour consists of single drops.
    pub drops: bool,
    /// True flow on the grid of 1 ms, the first at `flow_from_s`.
    pub flow_g_per_s: Vec<f64>,
    pub flow_from_s: f64,
}

impl TruePour {
    pub fn duration_s(&self) -> f64 {
        self.end_s - self.start_s
    }

    /// Flow on the grid within the plateau.
    pub fn plateau_curve(&self) -> &[f64] {
        let Some((from_s, to_s)) = self.plateau_s else { return &[] };
        let at = |s: f64| {
            (((s - self.flow_from_s) * GRID_HZ).round().max(0.0) as usize).min(self.flow_g_per_s.len())
        };
        &self.flow_g_per_s[at(from_s)..at(to_s)]
    }

    /// The part of `flow_cv` between two frequencies, the straight line removed; by the discrete Fourier transform.
    pub fn flow_cv_between(&self, from_hz: f64, to_hz: f64) -> Option<f64> {
        // Averages over 10 ms: below 25 Hz they lose less than a tenth of the power.
        let curve: Vec<f64> =
            self.plateau_curve().chunks_exact(10).map(|c| c.iter().sum::<f64>() / 10.0).collect();
        if curve.is_empty() || self.pauses > 0 {
            return None;
        }
        let (mean, slope) = line(&curve);
        let n = curve.len() as f64;
        let rest: Vec<f64> =
            curve.iter().enumerate().map(|(i, f)| f - mean - slope * (i as f64 - (n - 1.0) / 2.0)).collect();
        let seconds = n / 100.0;
        let (first, last) = ((from_hz * seconds).ceil().max(1.0), (to_hz * seconds).min(n / 2.0 - 1.0));
        let mut variance = 0.0;
        let mut k = first;
        while k < last {
            let step = std::f64::consts::TAU * k / n;
            let (mut re, mut im) = (0.0, 0.0);
            for (i, x) in rest.iter().enumerate() {
                re += x * (step * i as f64).cos();
                im += x * (step * i as f64).sin();
            }
            variance += 2.0 * (re * re + im * im) / (n * n);
            k += 1.0;
        }
        Some(variance.sqrt() / mean)
    }
}

/// Mean, and slope per step, of the least-squares line.
fn line(curve: &[f64]) -> (f64, f64) {
    let n = curve.len() as f64;
    let mean = curve.iter().sum::<f64>() / n;
    let middle = (n - 1.0) / 2.0;
    let (mut above, mut below) = (0.0, 0.0);
    for (i, f) in curve.iter().enumerate() {
        above += (i as f64 - middle) * (f - mean);
        below += (i as f64 - middle).powi(2);
    }
    (mean, if below > 0.0 { above / below } else { 0.0 })
}

/// What lands on the bed: stream and drops, in each step of the grid, g/s.
pub fn landing(stream: &[f64], drops: &[SingleDrop]) -> Vec<f64> {
    let mut flow = stream.to_vec();
    for drop in drops {
        let first = (drop.time_s * GRID_HZ).round() as usize;
        for f in flow.iter_mut().skip(first.saturating_sub(DROP_STEPS / 2)).take(DROP_STEPS) {
            *f += drop.mass_g * GRID_HZ / DROP_STEPS as f64;
        }
    }
    flow
}

/// The integral of a flow up to each point of the grid; one more than there are steps.
pub fn cumulated(flow: &[f64]) -> Vec<f64> {
    let mut sum = 0.0;
    let mut mass = Vec::with_capacity(flow.len() + 1);
    mass.push(0.0);
    for f in flow {
        sum += f / GRID_HZ;
        mass.push(sum);
    }
    mass
}

/// The average over 0.1 s, centred on each point of the grid.
fn averaged(mass: &[f64]) -> Vec<f64> {
    let last = mass.len() - 1;
    let width_s = 2.0 * HALF_WINDOW as f64 / GRID_HZ;
    (0..=last)
        .map(|i| (mass[(i + HALF_WINDOW).min(last)] - mass[i.saturating_sub(HALF_WINDOW)]) / width_s)
        .collect()
}

/// Drops averaged over two of their intervals: each is spread from the drop before it to the one after it.
fn spread(flow: &mut [f64], drops: &[SingleDrop]) {
    // A pause of 3 s and more separates groups of drops.
    for group in drops.chunk_by(|a, b| b.time_s - a.time_s < 3.0) {
        let n = group.len();
        for (i, drop) in group.iter().enumerate() {
            let gap_s = |k: usize| group[k + 1].time_s - group[k].time_s;
            let (before_s, after_s) = match (i > 0, i + 1 < n) {
                (true, true) => (gap_s(i - 1), gap_s(i)),
                (false, true) => (gap_s(i), gap_s(i)),
                (true, false) => (gap_s(i - 1), gap_s(i - 1)),
                (false, false) => (1.0, 1.0),
            };
            let at = |s: f64| (((drop.time_s + s) * GRID_HZ).round().max(0.0) as usize).min(flow.len());
            let (first, end) = (at(-before_s), at(after_s));
            let height = drop.mass_g * GRID_HZ / (end - first).max(1) as f64;
            flow[first..end].iter_mut().for_each(|f| *f += height);
        }
    }
}

/// Stretches above the threshold, as first and last point of the grid, joined over short pauses.
fn stretches(flow: &[f64]) -> Vec<(usize, usize)> {
    let pause = (LONGEST_PAUSE_S * GRID_HZ) as usize;
    let mut found: Vec<(usize, usize)> = Vec::new();
    let mut i = 0;
    while i < flow.len() {
        if flow[i] <= LEAST_FLOW_G_PER_S {
            i += 1;
            continue;
        }
        let first = i;
        while i < flow.len() && flow[i] > LEAST_FLOW_G_PER_S {
            i += 1;
        }
        match found.last_mut() {
            Some(before) if first - before.1 < pause => before.1 = i - 1,
            _ => found.push((first, i - 1)),
        }
    }
    found
}

/// The instant between two neighbouring points at which a flow passes a level.
fn passage(flow: &[f64], below: usize, above: usize, level: f64) -> f64 {
    let (a, b) = (flow[below], flow[above]);
    let share = if b > a { ((level - a) / (b - a)).clamp(0.0, 1.0) } else { 0.5 };
    (below as f64 + share * (above as f64 - below as f64)) / GRID_HZ
}

/// First and last passage of a level between two points of the grid, s.
fn passages(flow: &[f64], first: usize, last: usize, level: f64) -> Option<(f64, f64)> {
    let up = (first..=last).find(|&i| flow[i] > level)?;
    let down = (first..=last).rev().find(|&i| flow[i] > level)?;
    let after = (down + 1).min(flow.len() - 1);
    Some((passage(flow, up.saturating_sub(1), up, level), passage(flow, after, down, level)))
}

/// The pours of a log, by the definitions. The stream is on the grid, from 0 s.
pub fn true_pours(stream: &[f64], drops: &[SingleDrop]) -> Vec<TruePour> {
    let mass = cumulated(&landing(stream, drops));
    // Single drops over 0.1 s, for the first and last instants; over two intervals, for all else.
    let landed = averaged(&mass);
    let mut flow = averaged(&cumulated(stream));
    spread(&mut flow, drops);
    let only_drops = |from_s: f64, to_s: f64| {
        let within = |d: &&SingleDrop| (from_s - 0.1..=to_s + 0.1).contains(&d.time_s);
        let dropped: f64 = drops.iter().filter(within).map(|d| d.mass_g).sum();
        dropped > 0.5 * between(&mass, from_s, to_s)
    };
    let mut pours = Vec::new();
    for (first, last) in stretches(&flow) {
        let Some((landed_from_s, landed_to_s)) = passages(&landed, first, last, LEAST_FLOW_G_PER_S) else {
            continue;
        };
        let (from_s, to_s) = passages(&flow, first, last, LEAST_FLOW_G_PER_S).unwrap();
        let (start_s, end_s) = (from_s.max(landed_from_s), to_s.min(landed_to_s));
        if between(&mass, start_s, end_s) >= LEAST_MASS_G {
            let single = only_drops(start_s, end_s);
            let edges = if single { &landed } else { &flow };
            pours.push(measured(&mass, &flow, edges, (start_s, end_s), single));
        }
    }
    pours
}

/// Mass between two instants.
fn between(mass: &[f64], from_s: f64, to_s: f64) -> f64 {
    let at = |s: f64| {
        let x = (s * GRID_HZ).clamp(0.0, (mass.len() - 1) as f64);
        let i = (x as usize).min(mass.len() - 2);
        mass[i] + (x - i as f64) * (mass[i + 1] - mass[i])
    };
    at(to_s) - at(from_s)
}

fn measured(
    mass: &[f64],
    flow: &[f64],
    edges: &[f64],
    (start_s, end_s): (f64, f64),
    drops: bool,
) -> TruePour {
    let (first, last) = ((start_s * GRID_HZ).ceil() as usize, (end_s * GRID_HZ).floor() as usize);
    let mass_g = between(mass, start_s, end_s);
    let mean_flow_g_per_s = mass_g / (end_s - start_s);
    let (half_rise_s, half_fall_s) =
        passages(edges, first, last, mean_flow_g_per_s / 2.0).unwrap_or((start_s, end_s));
    let plateau_s = Some((half_rise_s + PLATEAU_INSET_S, half_fall_s - PLATEAU_INSET_S))
        .filter(|(from, to)| to - from >= SHORTEST_PLATEAU_S);
    let curve = flow[first..=last].to_vec();
    let mut pour = TruePour {
        start_s,
        end_s,
        half_rise_s,
        half_fall_s,
        mass_g,
        mean_flow_g_per_s,
        plateau_s,
        plateau_flow_g_per_s: None,
        peak_flow_g_per_s: curve.iter().copied().fold(0.0, f64::max),
        flow_cv: None,
        flow_cv_trend: None,
        pauses: curve
            .chunk_by(|a, b| (*a > LEAST_FLOW_G_PER_S) == (*b > LEAST_FLOW_G_PER_S))
            .filter(|c| c[0] <= LEAST_FLOW_G_PER_S)
            .count(),
        drops,
        flow_g_per_s: curve,
        flow_from_s: first as f64 / GRID_HZ,
    };
    if drops {
        // From the first drop to the last there is one interval less than drops, so their mean lies above their rate.
        pour.peak_flow_g_per_s = pour.peak_flow_g_per_s.max(mean_flow_g_per_s);
    }
    let plateau = pour.plateau_curve();
    if plateau.is_empty() {
        return pour;
    }
    let mean = plateau.iter().sum::<f64>() / plateau.len() as f64;
    let poured: Vec<f64> = plateau.iter().copied().filter(|&f| f > LEAST_FLOW_G_PER_S).collect();
    let n = poured.len() as f64;
    let poured_mean = poured.iter().sum::<f64>() / n;
    let variance = poured.iter().map(|f| (f - poured_mean).powi(2)).sum::<f64>() / n;
    let (_, slope) = line(plateau);
    let trend = slope.abs() * ((plateau.len() as f64).powi(2) / 12.0).sqrt() / mean;
    pour.plateau_flow_g_per_s = Some(mean);
    pour.flow_cv = Some(variance.sqrt() / poured_mean);
    pour.flow_cv_trend = (poured.len() == pour.plateau_curve().len()).then_some(trend);
    pour
}

/// Whether an edge jumps if the level that it refers to changes by a few percent: there the definition itself is not
/// stable, and no log can determine the number.
pub fn jumps(stream: &[f64], drops: &[SingleDrop]) -> bool {
    let flow = averaged(&cumulated(&landing(stream, drops)));
    true_pours(stream, drops).iter().filter(|p| !p.drops).any(|p| {
        let (first, last) = ((p.start_s * GRID_HZ) as usize, (p.end_s * GRID_HZ) as usize);
        let at = |share: f64| passages(&flow, first, last, share * p.mean_flow_g_per_s / 2.0);
        match (at(0.95), at(1.05)) {
            (Some(a), Some(b)) => (b.0 - a.0).abs() > 0.7 || (b.1 - a.1).abs() > 0.7,
            _ => true,
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(a: f64, b: f64, within: f64) {
        assert!((a - b).abs() <= within, "{a} is not {b} within {within}");
    }

    /// A flow between two instants, at rest before and after, s.
    fn flow(seconds: f64, of: impl Fn(f64) -> f64) -> Vec<f64> {
        let n = (seconds * GRID_HZ) as usize;
        let mut flow = vec![0.0; 2000];
        flow.extend((0..n).map(|i| of((i as f64 + 0.5) / GRID_HZ)));
        flow.extend(vec![0.0; 3000]);
        flow
    }

    #[test]
    fn a_line_from_4_to_8_in_14_s() {
        // 84 g. An average over .1 s passes .5 of 4 g/s after 12.5 ms of water, .0375 s before it; 8 g/s likewise.
        let pours = true_pours(&flow(14.0, |t| 4.0 + 4.0 * t / 14.0), &[]);
        assert_eq!(pours.len(), 1);
        let p = &pours[0];
        close(p.start_s, 2.0 - 0.0375, 0.001);
        close(p.end_s, 16.0 + 0.05 - 0.00625, 0.001);
        close(p.mass_g, 84.0, 1e-6);
        close(p.mean_flow_g_per_s, 84.0 / 14.08125, 1e-3);
        // Half of 5.965 g/s is passed after 74.6 % of the window at the start, 37.3 % at the end.
        close(p.half_rise_s, 2.0 - 0.05 + 0.0746, 0.001);
        close(p.half_fall_s, 16.0 + 0.05 - 0.0373, 0.001);
        let (from_s, to_s) = p.plateau_s.unwrap();
        close(from_s, 2.5246, 0.001);
        close(to_s, 15.5127, 0.001);
        // The middle of the plateau is 9.0187 s: 7.0187 s into the line.
        close(p.plateau_flow_g_per_s.unwrap(), 4.0 + 4.0 * 7.0187 / 14.0, 1e-3);
        close(p.peak_flow_g_per_s, 4.0 + 4.0 * 13.95 / 14.0, 1e-3);
        // A line over T has an sd of slope T / sqrt 12.
        let cv = 4.0 / 14.0 * 12.9881 / 12f64.sqrt() / 6.0053;
        close(p.flow_cv.unwrap(), cv, 1e-4);
        close(p.flow_cv_trend.unwrap(), cv, 1e-4);
        assert!(p.flow_cv_between(0.25, 5.0).unwrap() < 1e-6);
    }

    #[test]
    fn ramps_of_a_second() {
        // 1 s up to 8 g/s, 8 s level, 1 s down: 72 g. Averages of a line over .1 s lie on it.
        let p = &true_pours(&flow(10.0, |t| 8.0 * t.min(10.0 - t).min(1.0)), &[])[0];
        close(p.start_s, 2.0 + 0.5 / 8.0, 1e-3);
        close(p.end_s, 12.0 - 0.5 / 8.0, 1e-3);
        close(p.mass_g, 72.0 - 0.5 * 0.5 / 8.0, 1e-3);
        close(p.half_rise_s, 2.0 + p.mean_flow_g_per_s / 16.0, 1e-3);
        // The plateau begins and ends .0445 s within the ramps: .0158 g less there, .0067 g less by the average.
        close(p.plateau_flow_g_per_s.unwrap(), 8.0 - (0.0158 + 0.0067) / 8.089, 1e-4);
        close(p.peak_flow_g_per_s, 8.0, 1e-9);
        // Two triangles of .0445 s that are .356 g/s deep: sqrt(2 * .0445 * .356^2 / 3 / 8.089) / 8, at least.
        close(p.flow_cv.unwrap(), 0.0027, 5e-4);
    }

    #[test]
    fn a_beat_of_one_hertz() {
        // 8 % of amplitude over whole periods: 8 % / sqrt 2, and .1 s of average leave sin(x)/x, x = pi / 10.
        let x = std::f64::consts::PI / 10.0;
        let p = &true_pours(&flow(12.0, |t| 6.0 * (1.0 + 0.08 * (20.0 * x * t).sin())), &[])[0];
        close(p.flow_cv.unwrap(), 0.08 / 2f64.sqrt() * x.sin() / x, 1e-3);
        close(p.flow_cv_between(0.5, 1.5).unwrap(), p.flow_cv.unwrap(), 2e-3);
        close(p.peak_flow_g_per_s, 6.0 * (1.0 + 0.08 * x.sin() / x), 1e-3);
    }

    #[test]
    fn pauses_join_and_rests_divide() {
        // The average over .1 s stays above .5 of 6 g/s for .0417 s longer on each side.
        let broken = |pause_s: f64| {
            true_pours(&flow(8.0 + pause_s, |t| if t < 4.0 || t > 4.0 + pause_s { 6.0 } else { 0.0 }), &[])
        };
        let joined = broken(1.0);
        assert_eq!((joined.len(), joined[0].pauses), (1, 1));
        assert_eq!(broken(1.2).len(), 2);
        assert_eq!(broken(0.05)[0].pauses, 0);
        // Even pulses are even, but for the flanks of the average.
        assert!(joined[0].flow_cv.unwrap() < 0.1 && joined[0].flow_cv_trend.is_none());
        // A dip to .6 g/s for 2 s divides nothing.
        let dipped = true_pours(&flow(10.0, |t| if (4.0..6.0).contains(&t) { 0.6 } else { 8.0 }), &[]);
        assert_eq!((dipped.len(), dipped[0].pauses), (1, 0));
        // Less than 2 g are no pour.
        assert!(true_pours(&flow(1.0, |_| 1.9), &[]).is_empty());
    }

    #[test]
    fn single_drops_are_one_pour_of_their_mean() {
        // Ten drops of 1.5 g, one each 1.25 s: 1.2 g/s over any two intervals.
        let drops: Vec<SingleDrop> =
            (0..10).map(|i| SingleDrop { time_s: 3.0 + 1.25 * f64::from(i), mass_g: 1.5 }).collect();
        let pours = true_pours(&vec![0.0; 20_000], &drops);
        assert_eq!(pours.len(), 1);
        let p = &pours[0];
        assert!(p.drops);
        close(p.mass_g, 15.0, 1e-6);
        close(p.start_s, 3.0, 0.06);
        close(p.end_s, 3.0 + 9.0 * 1.25, 0.06);
        close(p.flow_g_per_s[5000], 1.2, 0.01);
        close(p.peak_flow_g_per_s, 15.0 / 11.3, 0.02);
        close(p.flow_cv.unwrap(), 0.0, 0.01);
        // Drops of a tenth of a gram after a stream are no part of the pour.
        let after: Vec<SingleDrop> =
            (0..4).map(|i| SingleDrop { time_s: 12.5 + f64::from(i), mass_g: 0.1 }).collect();
        let p = &true_pours(&flow(10.0, |_| 6.0), &after)[0];
        close(p.end_s, 12.0417, 0.002);
        assert!(!p.drops);
    }

    #[test]
    fn half_edges_jump_only_next_to_half_of_the_mean() {
        let gentle = |low: f64| flow(12.0, move |t| if t < 4.0 { low } else { 8.0 });
        // Half of the mean is (4 low + 64) / 24: 3.2 at 3.2.
        assert!(jumps(&gentle(3.2), &[]) && !jumps(&gentle(2.0), &[]) && !jumps(&gentle(5.0), &[]));
    }
}
