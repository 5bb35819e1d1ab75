//! In: the fit. Out: flow curves drawn from its posterior, and pours with the numbers that are read off the curves.
//!
//! All numbers of a pour come from the same curves, so that they cannot contradict each other. For each draw of the
//! parameters there are three curves: the mean of the flow given the parameters, and a pair of draws about it.
//! Extremes of drawn curves lie too far out, by their noise, and those of the mean too far in: such a number is the mean
//! of the two, and its sd contains their distance.

use crate::estimate::{Estimate, Maybe, Undefined};
use crate::math::random::Random;
use crate::model::recorded::record;
use crate::model::samples::Samples;
use crate::segment::average::Cells;
use crate::segment::covariance::Deviations;
use crate::segment::curve::Curve;
use crate::segment::fitted::{Fit, Place, weighted};
use crate::segment::options::SegmentOptions;

/// Curves of one draw of the parameters.
#[derive(Debug, Clone)]
pub(crate) struct Drawn {
    /// Weight in the mean.
    pub weight: f64,
    pub mean: Curve,
    pub pair: [Curve; 2],
}

/// Curves of all groups.
#[derive(Debug)]
pub(crate) struct Posterior {
    pub groups: Vec<Vec<Drawn>>,
}

/// Curves of one pour.
#[derive(Debug)]
pub(crate) struct PourCurves {
    pub drawn: Vec<Drawn>,
}

impl Posterior {
    pub(crate) fn new(x: &Samples, fit: &Fit) -> Self {
        Self { groups: (0..fit.groups.len()).map(|k| drawn(x, fit, k)).collect() }
    }

    /// The group that pours at an instant: of those whose curves hold it, the one of the largest flow. Water of one group
    /// may still dribble while the next begins.
    pub(crate) fn group_of(&self, t_s: f64) -> Option<usize> {
        let flow = |k: usize| {
            let first = self.groups[k].first()?;
            let (from_s, to_s) = first.mean.span_s();
            (from_s..to_s).contains(&t_s).then(|| first.mean.flow_at(t_s))
        };
        let holding = (0..self.groups.len()).filter_map(|k| Some((k, flow(k)?)));
        // Of groups without any flow the first.
        holding.reduce(|a, b| if b.1 > a.1 { b } else { a }).map(|(k, _)| k)
    }

    /// Water between two instants on each of the drawn curves, g.
    pub(crate) fn water_g(&self, from_s: f64, to_s: f64) -> Estimate {
        let n = 2 * self.groups.iter().map(Vec::len).max().unwrap_or(0);
        let mut sums = vec![0.0; n];
        for drawn in &self.groups {
            let curves = drawn.iter().flat_map(|d| &d.pair);
            sums.iter_mut().zip(curves).for_each(|(sum, c)| *sum += c.water_g(from_s, to_s));
        }
        let drawn = self.groups.iter().max_by_key(|drawn| drawn.len());
        let weights: Vec<f64> = drawn.into_iter().flatten().flat_map(|d| [d.weight; 2]).collect();
        spread(&sums, &weights)
    }

    /// Curves of a group within an interval.
    pub(crate) fn within(&self, group: usize, span_s: (f64, f64)) -> PourCurves {
        let cut = |d: &Drawn| Drawn {
            weight: d.weight,
            mean: d.mean.cut(span_s),
            pair: [d.pair[0].cut(span_s), d.pair[1].cut(span_s)],
        };
        PourCurves { drawn: self.groups[group].iter().map(cut).collect() }
    }
}

/// What is read off each curve of a pour; None where it is undefined.
pub(crate) struct Read<T> {
    weights: Vec<f64>,
    means: Vec<Option<T>>,
    pairs: Vec<[Option<T>; 2]>,
}

impl<T> Read<T> {
    /// `read` takes the index of the draw of the parameters, and a curve.
    pub(crate) fn new(drawn: &[Drawn], read: impl Fn(usize, &Curve) -> Option<T>) -> Self {
        Self {
            weights: drawn.iter().map(|d| d.weight).collect(),
            means: drawn.iter().enumerate().map(|(j, d)| read(j, &d.mean)).collect(),
            pairs: drawn
                .iter()
                .enumerate()
                .map(|(j, d)| [read(j, &d.pair[0]), read(j, &d.pair[1])])
                .collect(),
        }
    }

    /// Mean of a number over the drawn curves, every n-th of them if it is slow to compute; undefined with the reason `why`
    /// if it is so for more than half.
    pub(crate) fn averaged(&self, every: usize, number: impl Fn(&T) -> Option<f64>, why: &str) -> Maybe {
        let curves =
            self.weights.iter().zip(&self.pairs).flat_map(|(w, pair)| pair.iter().map(move |c| (c, *w)));
        let (all, weights) = known(curves.step_by(every), number);
        if all.is_empty() || every * all.len() < self.pairs.len() {
            return Err(Undefined::because(why));
        }
        Ok(spread(&all, &weights))
    }

    /// What is read off each curve, read further.
    pub(crate) fn map<U>(&self, of: impl Fn(&T) -> Option<U>) -> Read<U> {
        let one = |t: &Option<T>| t.as_ref().and_then(&of);
        Read {
            weights: self.weights.clone(),
            means: self.means.iter().map(one).collect(),
            pairs: self.pairs.iter().map(|pair| pair.each_ref().map(one)).collect(),
        }
    }

    /// A number that depends on extremes of the flow: half of its mean over the means of the flow, and half of that over
    /// the drawn curves; undefined with the reason `why` if it is so for more than half of them.
    pub(crate) fn extreme(&self, number: impl Fn(&T) -> Option<f64>, why: &str) -> Maybe {
        let curves =
            self.weights.iter().zip(&self.pairs).flat_map(|(w, pair)| pair.iter().map(move |c| (c, *w)));
        let (pairs, weights) = known(curves, &number);
        let (means, of_means) = known(self.means.iter().zip(self.weights.iter().copied()), &number);
        let n = self.pairs.len().max(1);
        if pairs.len() < n || 2 * means.len() < n {
            return Err(Undefined::because(why));
        }
        // Half of the distance is in the sd: the spread of the drawn curves is about the value.
        let value = f64::midpoint(spread(&pairs, &weights).value, spread(&means, &of_means).value);
        let var = pairs.iter().map(|v| (v - value).powi(2)).sum::<f64>() / pairs.len() as f64;
        Ok(Estimate::new(value, (var * (1.0 + 1.0 / pairs.len() as f64)).sqrt()))
    }

    /// Deviations of a number from its mean; 0 where it is undefined.
    pub(super) fn deviations(&self, number: impl Fn(&T) -> Option<f64>) -> Deviations {
        let known = |one: &Option<T>| one.as_ref().and_then(&number).filter(|v| v.is_finite());
        let pairs: Vec<[Option<f64>; 2]> = self.pairs.iter().map(|pair| pair.each_ref().map(known)).collect();
        let (sum, n) = pairs.iter().flatten().flatten().fold((0.0, 0.0), |(sum, n), v| (sum + v, n + 1.0));
        let mean = sum / f64::max(n, 1.0);
        let centred = pairs.iter().map(|pair| pair.map(|v| v.map_or(0.0, |v| v - mean)));
        let (common, own) = centred.map(|[a, b]| (f64::midpoint(a, b), 0.5 * (a - b))).unzip();
        Deviations { common, own }
    }
}

/// What is known of a number on some curves, with their weights.
fn known<'a, T: 'a>(
    curves: impl Iterator<Item = (&'a Option<T>, f64)>,
    number: impl Fn(&T) -> Option<f64>,
) -> (Vec<f64>, Vec<f64>) {
    curves.filter_map(|(one, w)| Some((one.as_ref().and_then(&number).filter(|v| v.is_finite())?, w))).unzip()
}

/// Weighted mean of draws and their spread about it, the Monte-Carlo error of their mean included.
fn spread(draws: &[f64], weights: &[f64]) -> Estimate {
    weighted(draws, weights, 1.0 / draws.len().max(1) as f64)
}

/// The curves of one group, all on one grid.
pub(super) fn drawn(x: &Samples, fit: &Fit, k: usize) -> Vec<Drawn> {
    let group = &fit.groups[k];
    let window = group.window(x);
    let mut random = Random::stream(fit.seed.wrapping_add(k as u64), "flow");
    let mut parts = Vec::with_capacity(fit.draws.len());
    let (mut from_s, mut to_s) = (f64::INFINITY, f64::NEG_INFINITY);
    for (j, draw) in fit.draws.iter().enumerate() {
        let recorded = record(&window, &draw.bursts[k], &fit.hand(j));
        let (mean, deviation) = recorded.curves(|| random.normal());
        let cells = Cells { places: recorded.places(), mean, deviation };
        let cells = cells.without_average(&draw.bursts[k], draw, window.grid_s);
        let places = &cells.places;
        if let (Some(first), Some(last)) = (places.first(), places.last()) {
            from_s = from_s.min(first.0);
            to_s = to_s.max(last.0 + window.grid_s * last.1 as f64);
        }
        parts.push(cells);
    }
    let step_s = window.grid_s;
    // Two cells of rest on each side, for the average over time.
    let from_s = from_s - 2.0 * step_s;
    let n = ((to_s - from_s) / step_s).round().max(0.0) as usize + 2;
    let curve =
        |flow: &dyn Fn(usize) -> f64, places: &[(f64, usize)]| laid(flow, places, (from_s, step_s, n));
    parts
        .into_iter()
        .zip(&fit.weights)
        .map(|(Cells { places, mean, deviation }, weight)| Drawn {
            weight: *weight,
            mean: curve(&|i| mean[i], &places),
            pair: [1.0, -1.0].map(|sign| curve(&|i| mean[i] + sign * deviation[i], &places)),
        })
        .collect()
}

/// A curve of `n` cells from the flow of each burst's cells.
pub(super) fn laid(
    flow: &dyn Fn(usize) -> f64,
    places: &[(f64, usize)],
    (from_s, step_s, n): (f64, f64, usize),
) -> Curve {
    let mut cells = vec![0.0; n];
    let mut next = 0;
    for (begin_s, many) in places {
        let first = ((begin_s - from_s) / step_s).round().max(0.0) as usize;
        for k in 0..*many {
            if let Some(cell) = cells.get_mut(first + k) {
                *cell += flow(next + k);
            }
        }
        next += many;
    }
    Curve::new(from_s, step_s, cells)
}

/// Places of the pours by their definition, applied to the mean of the curves. Stretches of too little water are no
/// pours, but they end the interval of their neighbours.
pub(super) fn places(posterior: &Posterior, o: &SegmentOptions) -> Vec<Place> {
    let mut out = Vec::new();
    for (group, drawn) in posterior.groups.iter().enumerate() {
        let Some(mean) = mean_curve(drawn) else { continue };
        let found = mean.stretches(o.flow_g_per_s, o.pause_s);
        let (first_s, last_s) = (mean.from_s, mean.to_s());
        let pause = |k: usize| f64::midpoint(found[k].1, found[k + 1].0);
        for (k, (start_s, end_s)) in found.iter().enumerate() {
            if mean.water_g(*start_s, *end_s) >= o.mass_g {
                let from_s = k.checked_sub(1).map_or(first_s, pause);
                let to_s = if k + 1 < found.len() { pause(k) } else { last_s };
                out.push(Place { group, span_s: (from_s, to_s) });
            }
        }
    }
    out
}

/// The mean of the curves of a group, by their weights.
pub(crate) fn mean_curve(drawn: &[Drawn]) -> Option<Curve> {
    let first = &drawn.first()?.mean;
    let whole: f64 = drawn.iter().map(|one| one.weight).sum();
    let mut cells = vec![0.0; first.cells().len()];
    for one in drawn {
        let share = one.weight / whole;
        cells.iter_mut().zip(one.mean.cells()).for_each(|(sum, q)| *sum += share * q);
    }
    Some(Curve::new(first.from_s, first.step_s, cells))
}
