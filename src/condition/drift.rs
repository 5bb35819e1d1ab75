//! In: one weight without jumps. Out: the same weight without the steady drift of its zero, if the drift is
//! significant.
//!
//! Each rest gives a slope with its sd. A zero that follows a random walk makes these slopes differ by more than the
//! noise. A random walk of intensity `D` adds `1.2 D/T` to the variance of a slope over `T` (least squares on a
//! Wiener process). Water that still drips raises the slope of some rests; those are excluded until the others agree.
//! `D` is chosen such that the slopes agree within their sd (DerSimonian and Laird 1986, by
//! bisection). The common slope is the weighted mean. It is subtracted only if it exceeds 3 sd. The random walk
//! itself is not distinguishable from water; it is not subtracted.

use crate::condition::dribble::dribbles;
use crate::condition::rise::rises;
use crate::condition::trace::EventKind;
use crate::condition::work::Work;
use crate::estimate::Estimate;
use crate::math::line::line;
use crate::model::zero_walk::walk_g2_per_s;
use std::iter::successors;
use std::ops::Range;

/// A rest begins and ends this far from the nearest water, s.
const AFTER_S: f64 = 2.0;
const BEFORE_S: f64 = 0.5;
/// A rest is at least this long, s.
const LEAST_S: f64 = 3.0;
/// A rest with a steeper slope than this holds dripping water and is not used, g/s.
const DRIPS_G_PER_S: f64 = 0.1;
/// A slope decreases within a rest if its halves differ by this many sd.
const DECREASES_SDS: f64 = 2.0;
/// Usual sd of a drift, g/s: two grams in three minutes (common practice, no source).
const USUAL_G_PER_S: f64 = 0.01;
/// A drift is subtracted if it exceeds this many sd; the second applies if the slopes of the rests disagree.
const SIGNIFICANT_SDS: f64 = 3.0;
const SIGNIFICANT_SDS_HETEROGENEOUS: f64 = 6.0;

/// Slope of a rest, g/s, and its duration, s.
struct Rest {
    slope: f64,
    slope_sd: f64,
    duration_s: f64,
    /// Whether water that still drips explains it.
    dribbles: bool,
}

impl Work<'_> {
    /// Subtracts a steady drift of zero.
    pub fn subtract_drift(&mut self) {
        let start_s = self.order.time_s[0];
        let (_, t, y) = self.live();
        let parts = self.rests(&t, &y);
        let noise_g = self.noise_g.value;
        let (mut sides, mut rests, mut whole) = (Vec::new(), Vec::new(), Vec::new());
        for part in parts.iter().cloned() {
            whole.extend(rest(&t[part.clone()], &y[part.clone()], noise_g, DRIPS_G_PER_S));
            let part = if part.start > 0 { dripped(&t, &y, part, noise_g) } else { part };
            let (t, y) = (&t[part.clone()], &y[part.clone()]);
            let Some(found) = rest(t, y, noise_g, DRIPS_G_PER_S) else { continue };
            // Nothing drips before the first water.
            let found = Rest { dribbles: part.start > 0 && dribbles(y, noise_g), ..found };
            if !found.dribbles {
                sides.push((t, y));
            }
            rests.push(found);
        }
        self.walk_g2_per_s = walk_g2_per_s(&sides, noise_g);
        let Some(found) = common_slope(&rests) else {
            return self.drift_g_per_s = Estimate::new(0.0, USUAL_G_PER_S);
        };
        // The whole rests have to agree, too: the later parts of a few may agree by chance.
        let whole = common_slope(&whole).unwrap_or(Common { significant_sds: f64::INFINITY, ..found });
        if !(found.is_significant() && whole.is_significant()) {
            // Not significant: the sd covers the drift that is consistent with the rests.
            let sd = undetected_sd(found.slope).max(undetected_sd(whole.slope));
            return self.drift_g_per_s = Estimate::new(0.0, sd);
        }
        // Rests that share a drift are informative about its walk, too, and no water drips in them.
        let sides: Vec<_> = parts.iter().map(|part| (&t[part.clone()], &y[part.clone()])).collect();
        let steep = |&&(t, y): &&(&[f64], &[f64])| rest(t, y, noise_g, DRIPS_G_PER_S).is_some();
        let sides: Vec<_> = sides.iter().filter(steep).copied().collect();
        self.walk_g2_per_s = walk_g2_per_s(&sides, noise_g);
        let apart = (found.slope.value - whole.slope.value).abs();
        let sd = found.slope.sd.max(whole.slope.sd).max(apart);
        self.drift_g_per_s = Estimate::new(found.slope.value, sd);
        let drift = self.drift_g_per_s;
        for (y, t) in self.mass_g.iter_mut().zip(&self.order.time_s) {
            *y -= drift.value * (t - start_s);
        }
        let last = self.flag.len() - 1;
        let size = drift.value * (self.order.time_s[last] - start_s);
        let action = format!("zero drifts by {drift} g/s, estimated from {} rests: subtracted", rests.len());
        self.list(EventKind::Drift, 0, last, size, self.flag.len(), action);
    }

    /// Estimates the random walk of zero before the first rise. Later slow changes of a beverage are its drawdown and
    /// not informative about its zero. The first drops may also come too slowly for a rise, so the smallest estimate
    /// over shorter and shorter beginnings of the first rest is taken.
    pub fn estimate_first_walk(&mut self) {
        let (_, t, y) = self.live();
        let Some(rest) = self.rests(&t, &y).into_iter().next().filter(|rest| rest.start == 0) else { return };
        let duration_s = |&to: &usize| t[to - 1] - t[0] >= LEAST_S;
        let ends = successors(Some(rest.end), |to| Some(to * 4 / 5)).take_while(duration_s);
        let estimates = ends.map(|to| walk_g2_per_s(&[(&t[..to], &y[..to])], self.noise_g.value));
        self.walk_g2_per_s = estimates.min_by(f64::total_cmp).unwrap_or(0.0);
    }

    /// Index ranges of the rests.
    fn rests(&self, t: &[f64], y: &[f64]) -> Vec<Range<usize>> {
        let mut bounds: Vec<(f64, f64)> = rises(t, y, self.noise_g.value)
            .iter()
            .map(|r| (t[r.first] - BEFORE_S, t[r.last] + AFTER_S))
            .chain(
                self.breaks
                    .iter()
                    .map(|b| (self.order.time_s[b.before], self.order.time_s[b.after] + BEFORE_S)),
            )
            .collect();
        bounds.sort_by(|a, b| a.0.total_cmp(&b.0));
        bounds.push((f64::INFINITY, f64::INFINITY));
        let mut from = 0;
        let mut found = Vec::new();
        for (end_s, next_s) in bounds {
            let to = t.partition_point(|&t| t < end_s);
            if from < to && t[to - 1] - t[from] >= LEAST_S {
                found.push(from..to);
            }
            from = t.partition_point(|&t| t < next_s).max(from);
        }
        found
    }
}

/// The later part of a rest, in which the slope no longer decreases: a stream that dies down is no drift.
fn dripped(t: &[f64], y: &[f64], part: Range<usize>, noise_g: f64) -> Range<usize> {
    let middle = part.start.midpoint(part.end);
    let slope = |half: Range<usize>| {
        let long = half.len() > 2 && t[half.end - 1] - t[half.start] >= LEAST_S;
        rest(&t[half.clone()], &y[half], noise_g, f64::INFINITY).filter(|_| long)
    };
    match (slope(part.start..middle), slope(middle..part.end)) {
        (Some(early), Some(late))
            if early.slope - late.slope > DECREASES_SDS * early.slope_sd.hypot(late.slope_sd) =>
        {
            dripped(t, y, middle..part.end, noise_g)
        }
        _ => part,
    }
}

/// The slope of one rest. Its sd has the white-noise sd as lower bound, because a coarse readout may not move at all.
fn rest(t: &[f64], y: &[f64], noise_g: f64, most_g_per_s: f64) -> Option<Rest> {
    let line = line(t, y)?;
    let duration_s = t[t.len() - 1] - t[0];
    let least_sd = noise_g * (12.0 / t.len() as f64).sqrt() / duration_s;
    let slope_sd = line.slope_sd.max(least_sd);
    (line.slope.abs() < most_g_per_s).then_some(Rest {
        slope: line.slope,
        slope_sd,
        duration_s,
        dribbles: false,
    })
}

/// Sd of a drift that was not subtracted, g/s: the estimate and its sd, limited by the usual sd.
fn undetected_sd(found: Estimate) -> f64 {
    let allowed = found.value.hypot(found.sd);
    1.0 / (1.0 / allowed).hypot(1.0 / USUAL_G_PER_S)
}

/// Common slope of the rests.
#[derive(Clone, Copy)]
struct Common {
    slope: Estimate,
    /// Number of sd above which it is significant; infinite for a single rest.
    significant_sds: f64,
}

/// Whether the slopes differ by more than their sd, at some 5 %.
fn disagree(rests: &[&Rest]) -> bool {
    let weight = |r: &Rest| r.slope_sd.powi(-2);
    let sum: f64 = rests.iter().map(|r| weight(r)).sum();
    let mean = rests.iter().map(|r| r.slope * weight(r)).sum::<f64>() / sum;
    let chi2: f64 = rests.iter().map(|r| (r.slope - mean).powi(2) * weight(r)).sum();
    let free = (rests.len() - 1) as f64;
    chi2 > free + 2.0 * (2.0 * free).sqrt()
}

impl Common {
    fn is_significant(&self) -> bool {
        self.slope.value.abs() > self.significant_sds * self.slope.sd
    }
}

fn common_slope(rests: &[Rest]) -> Option<Common> {
    let common = |slope, significant_sds| Some(Common { slope, significant_sds });
    let mut rests: Vec<&Rest> = rests.iter().collect();
    let all = rests.len();
    // Water that drips adds to the slope of some rests; a drift is the same in all.
    while rests.len() > 1 && disagree(&rests) {
        let most = (0..rests.len()).max_by(|&a, &b| rests[a].slope.total_cmp(&rests[b].slope))?;
        if !rests[most].dribbles {
            break;
        }
        rests.remove(most);
    }
    match rests[..] {
        [] => return None,
        [only] => return common(Estimate::new(only.slope, only.slope_sd), f64::INFINITY),
        _ => {}
    }
    // Two rests left of several agree by choice.
    let agree_sds = match rests.len() {
        left if left == all => SIGNIFICANT_SDS,
        2 => f64::INFINITY,
        _ => SIGNIFICANT_SDS_HETEROGENEOUS,
    };
    let at = |intensity: f64| {
        let variance = |r: &Rest| r.slope_sd * r.slope_sd + 1.2 * intensity / r.duration_s;
        let weight: f64 = rests.iter().map(|r| 1.0 / variance(r)).sum();
        let mean = rests.iter().map(|r| r.slope / variance(r)).sum::<f64>() / weight;
        let chi2: f64 = rests.iter().map(|r| (r.slope - mean).powi(2) / variance(r)).sum();
        (Estimate::new(mean, weight.recip().sqrt()), chi2)
    };
    let free = (rests.len() - 1) as f64;
    let (mut low, mut high) = (0.0, 1.0);
    if at(low).1 <= free {
        return common(at(low).0, agree_sds);
    }
    for _ in 0..50 {
        let middle = f64::midpoint(low, high);
        if at(middle).1 > free { low = middle } else { high = middle }
    }
    common(at(high).0, agree_sds.max(SIGNIFICANT_SDS_HETEROGENEOUS))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rest(slope: f64) -> Rest {
        Rest { slope, slope_sd: 0.001, duration_s: 10.0, dribbles: false }
    }

    #[test]
    fn rests_that_agree_give_their_weighted_mean() {
        let found = common_slope(&[rest(0.010), rest(0.011), rest(0.009), rest(0.010)]).unwrap();
        assert!((found.slope.value - 0.010).abs() < 1e-12);
        assert!((found.slope.sd - 0.0005).abs() < 1e-12, "0.001 over the root of 4");
    }

    #[test]
    fn one_rest_makes_no_drift_significant_and_yet_bounds_it() {
        let found = common_slope(&[rest(0.02)]).unwrap();
        assert!(found.slope.value.abs() < found.significant_sds * found.slope.sd);
        // By hand: 1/sqrt(1/(0.02^2 + 0.001^2) + 1/0.01^2).
        assert!((undetected_sd(found.slope) - 0.008_947).abs() < 1e-5, "{}", undetected_sd(found.slope));
        assert!(undetected_sd(Estimate::exact(0.0)) == 0.0 && common_slope(&[]).is_none());
    }

    #[test]
    fn a_rest_with_dripping_water_does_not_raise_the_drift_and_a_drift_of_all_rests_stays() {
        let drips = |slope: f64| Rest { dribbles: true, ..rest(slope) };
        let found = common_slope(&[rest(0.0), drips(0.03), drips(0.001), drips(0.02)]).unwrap();
        // Of the rests that agree: 0 and 0.001, each with an sd of 0.001.
        assert!(
            (found.slope.value - 0.0005).abs() < 1e-12 && found.significant_sds.is_infinite(),
            "{}",
            found.slope
        );
        let found = common_slope(&[rest(0.010), drips(0.0105), drips(0.0095)]).unwrap();
        assert!((found.slope.value - 0.010).abs() < 1e-12 && found.significant_sds == 3.0, "{}", found.slope);
    }

    #[test]
    fn rests_that_disagree_give_a_wide_sd() {
        let found = common_slope(&[rest(0.03), rest(-0.03), rest(0.02), rest(-0.02)]).unwrap();
        assert!(found.slope.sd > 0.01, "{}", found.slope);
    }

    #[test]
    fn a_drift_is_listed_with_its_size_from_the_first_stamp_to_the_last() {
        use crate::condition::options::ConditionOptions;
        use crate::condition::stage::condition;
        use crate::condition::trace::EventKind;
        use crate::log::meta::Meta;
        use crate::log::record::Log;
        let t: Vec<f64> = (0..900).map(|i| 50.0 + 0.1 * f64::from(i)).collect();
        let noise = |i: usize| 0.05 * ((i * i * 37 % 101) as f64 / 50.0 - 1.0);
        let water = |t: f64| 6.0 * (t - 80.0).clamp(0.0, 5.0);
        let y = t.iter().enumerate().map(|(i, t)| water(*t) + 0.03 * (t - 50.0) + noise(i)).collect();
        let log = Log::new(t, Some(y), None, Meta::default()).unwrap();
        let trace = condition(&log, &ConditionOptions::default()).unwrap();
        let event = trace.events.iter().find(|e| e.kind == EventKind::Drift).unwrap();
        let drift = trace.water.as_ref().unwrap().drift_g_per_s;
        assert!((drift.value - 0.03).abs() < 3.0 * drift.sd && drift.sd < 0.001, "{drift}");
        // 0.03 g/s for 89.9 s, by hand 2.697 g.
        assert!(
            (event.size_g - 2.697).abs() < 90.0 * 3.0 * drift.sd && event.samples == 900,
            "{}",
            event.size_g
        );
        let mass_g = &trace.water.unwrap().mass_g;
        let level = |from: usize| mass_g[from..from + 100].iter().sum::<f64>() / 100.0;
        assert!((level(790) - level(0) - 30.0).abs() < 0.1, "{} {}", level(0), level(790));
    }

    #[test]
    fn the_sd_of_a_slope_is_not_below_the_white_noise_sd_and_dripping_is_no_rest() {
        let t: Vec<f64> = (0..100).map(|i| 0.1 * f64::from(i)).collect();
        let of = |slope: f64| {
            super::rest(&t, &t.iter().map(|t| slope * t).collect::<Vec<f64>>(), 0.05, DRIPS_G_PER_S)
        };
        // 0.05 sqrt(12/100)/9.9 by hand.
        let found = of(0.05).unwrap();
        assert!(
            (found.slope_sd - 0.05 * 0.12_f64.sqrt() / 9.9).abs() < 1e-12
                && (found.duration_s - 9.9).abs() < 1e-9
        );
        assert!(of(0.09).is_some() && of(-0.09).is_some() && of(0.11).is_none() && of(-0.11).is_none());
    }

    #[test]
    fn rests_that_disagree_get_the_random_walk_with_which_they_agree_within_their_sd() {
        // Two rests of 10 s, 0.02 apart, each with an sd of 0.001: a random walk that adds the variance v to each
        // gives chi2 0.0002/v. That is one on one degree of freedom for v = 0.0002, and the sd of the mean is the
        // root of half of it.
        let found = common_slope(&[rest(0.03), rest(0.01)]).unwrap();
        assert!(
            (found.slope.value - 0.02).abs() < 1e-9 && (found.slope.sd - 0.01).abs() < 1e-6,
            "{}",
            found.slope
        );
        assert_eq!(
            (found.significant_sds, common_slope(&[rest(0.02), rest(0.02)]).unwrap().significant_sds),
            (6.0, 3.0)
        );
        // Weights are one over the variance: 1 and 1/4.
        let wide = Rest { slope: 0.021, slope_sd: 0.002, duration_s: 10.0, dribbles: false };
        let found = common_slope(&[rest(0.020), wide]).unwrap();
        assert!((found.slope.value - 0.0202).abs() < 1e-12);
        assert!((found.slope.sd - 0.001 / 1.25_f64.sqrt()).abs() < 1e-12);
    }

    #[test]
    fn a_break_within_a_rise_begins_no_rest_before_the_rise_is_over() {
        use crate::condition::breaks::BreakKind;
        use crate::condition::options::ConditionOptions;
        use crate::condition::order::order;
        use crate::condition::trace::Channel;
        use crate::condition::work::Repaired;
        let t: Vec<f64> = (0..400).map(|i| 0.1 * f64::from(i)).collect();
        let y: Vec<f64> = t.iter().map(|t| 6.0 * (t - 10.0).clamp(0.0, 10.0)).collect();
        let (order, options) = (order(&t), ConditionOptions::default());
        let mut work = Work::new(Channel::Water, &order, &y, &options);
        work.breaks = vec![Repaired {
            kind: BreakKind::Placed,
            before: 120,
            after: 140,
            reading_g: 0.0,
            offset_g: 5.0,
        }];
        let found = work.rests(&t, &y);
        assert_eq!(found.len(), 2, "{found:?}");
        // Half a second before the water, two seconds after it.
        assert!(found[0].start == 0 && (85..=95).contains(&found[0].end), "{found:?}");
        assert!((220..=230).contains(&found[1].start) && found[1].end == 400, "{found:?}");
    }
}
