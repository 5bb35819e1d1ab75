//! In: a fitted group. Out: the contradiction of an instant by the samples near it, and their influence on it.
//!
//! A knock at the edge of a pour, too small to be separated from water, moves the edge and leaves residuals
//! that the shape cannot explain. They are few in the whole group, but most of those near the edge. The
//! influence of a stretch of samples is the change of the instant without them. It follows without a second fit
//! (Cook, Detection of influential observation in linear regression, Technometrics 19, 1977, for many samples
//! at a time). So does its variance by chance, the difference of the two variances (Hausman, Specification
//! tests in econometrics, Econometrica 46, 1978).

use crate::math::solve::{cholesky, solve};
use crate::model::samples::Samples;
use crate::segment::fitted::{Fit, Group};
use crate::segment::gauss_newton::Rows;

/// Window of samples before and after an instant, s: the ramp, and three times the lag.
const BEFORE_S: f64 = 0.5;
const AFTER_S: f64 = 1.0;
/// Mean square of some fifteen whitened residuals that chance exceeds once in a hundred.
const CHANCE: f64 = 2.0;
/// Lengths of the stretches whose influence is computed, s, half a length apart: a knock lasts that long. They
/// cover `FAR_S` before and after an instant.
const STRETCHES_S: [f64; 2] = [0.5, 1.2];
const FAR_S: f64 = 1.2;
/// An influence of fewer sd than this is attributed to chance.
const CHANCE_SDS: f64 = 3.0;
/// A stretch is an outlier if its sum of squared prediction errors exceeds its expectation by so many sd.
const OUTLIER_SDS: f64 = 5.0;
/// Window for the tails of knocks before and after an edge, s; the largest number of starts per edge, and of
/// bursts.
const TAIL_BEFORE_S: f64 = 1.0;
const TAIL_AFTER_S: f64 = 0.6;
const MAX_TAILS: usize = 16;
const MAX_BURSTS: usize = 4;
/// A tail is detected if it exceeds 0 by so many sd. It is identifiable if more than this fraction of its
/// square is not explained by other parameters.
const DETECTED_SDS: f64 = 5.0;
const IDENTIFIABLE: f64 = 0.01;

/// The whitened samples of a group.
pub(super) struct Influence<'a> {
    group: &'a Group,
    time_s: &'a [f64],
    /// One row per sample: gradient by the group's parameters, logarithm of the lag and lead; then the
    /// residual.
    rows: Vec<f64>,
    width: usize,
    deviance: f64,
    tails: Vec<Tail>,
}

/// Exponential tail that the lag leaves after a knock that was taken for water.
struct Tail {
    at_s: f64,
    /// Its size over its sd.
    sds: f64,
    /// Change of each of the group's parameters due to its knock.
    moves: Vec<f64>,
}

impl<'a> Influence<'a> {
    pub(super) fn new(x: &'a Samples, fit: &Fit, group: &'a Group) -> Self {
        Self::whitened(x, fit, group, &[])
    }

    /// With the tails of knocks that may have been taken for water; twice the cost.
    pub(super) fn with_tails(x: &'a Samples, fit: &Fit, group: &'a Group) -> Self {
        Self::whitened(x, fit, group, &tail_starts(&x.time_s[group.from..group.to], group))
    }

    fn whitened(x: &'a Samples, fit: &Fit, group: &'a Group, starts: &[usize]) -> Self {
        let time_s = &x.time_s[group.from..group.to];
        let width = group.size() + 3;
        let Rows(rows) = Rows::new(x, group, fit.disturbance.scale);
        let tau_s = fit.disturbance.scale.tau_s;
        let tail =
            |t: f64, &from: &usize| if t < time_s[from] { 0.0 } else { (-(t - time_s[from]) / tau_s).exp() };
        let with_tails = time_s.iter().zip(rows.chunks_exact(width));
        let mut all: Vec<f64> = with_tails
            .flat_map(|(&t, row)| row.iter().copied().chain(starts.iter().map(move |from| tail(t, from))))
            .collect();
        let wide = width + starts.len();
        fit.disturbance.whiten(time_s, &group.stretches(), &mut all, wide);
        let rows: Vec<f64> = all.chunks_exact(wide).flat_map(|row| &row[..width]).copied().collect();
        let deviance = rows.chunks_exact(width).map(|row| row[width - 1].powi(2)).sum();
        let mut influence = Self { group, time_s, rows, width, deviance, tails: Vec::new() };
        influence.tails = (0..starts.len())
            .filter_map(|k| {
                let white: Vec<f64> = all.chunks_exact(wide).map(|row| row[width + k]).collect();
                influence.tail(time_s[starts[k]], &white)
            })
            .collect();
        influence
    }

    /// `white` is the whitened response of the samples to a tail of 1 g.
    fn tail(&self, at_s: f64, white: &[f64]) -> Option<Tail> {
        let n = self.width - 1;
        let (mut shared, mut own, mut response) = (vec![0.0; n], 0.0, 0.0);
        for ((row, residual), tail) in self.rows(0, self.time_s.len()).zip(white) {
            shared.iter_mut().zip(row).for_each(|(s, c)| *s += c * tail);
            own += tail * tail;
            response += tail * residual;
        }
        let by = |row: &[f64]| row.iter().zip(&shared).map(|(c, s)| c * s).sum::<f64>() / self.group.excess;
        let explained: Vec<f64> = self.group.covariance.chunks_exact(n).map(by).collect();
        let remaining = own - explained.iter().zip(&shared).map(|(t, s)| t * s).sum::<f64>();
        // A tail that is nearly collinear with the group's own parameters is not identifiable.
        (remaining > IDENTIFIABLE * own).then(|| Tail {
            at_s,
            sds: response.abs() / (remaining * self.group.excess).sqrt(),
            moves: explained.iter().map(|t| t * response / remaining).collect(),
        })
    }

    /// Squared change of an instant due to the likeliest detected tail near it, s2; 0 without one.
    fn by_tail_s2(&self, at_s: f64, gradient: &[f64]) -> f64 {
        let near =
            self.tails.iter().filter(|tail| (tail.at_s - at_s).abs() < FAR_S && tail.sds > DETECTED_SDS);
        let likeliest = near.max_by(|a, b| a.sds.total_cmp(&b.sds));
        let moved_s = |tail: &Tail| tail.moves.iter().zip(gradient).map(|(m, g)| m * g).sum::<f64>();
        likeliest.map_or(0.0, |tail| moved_s(tail).powi(2).min(FAR_S * FAR_S))
    }

    fn index(&self, t_s: f64) -> usize {
        self.time_s.partition_point(|&s| s < t_s)
    }

    fn rows(&self, from: usize, to: usize) -> impl ExactSizeIterator<Item = (&[f64], f64)> {
        self.rows[from * self.width..to * self.width]
            .chunks_exact(self.width)
            .map(|row| (&row[..self.width - 1], row[self.width - 1]))
    }

    /// Factor by which the sd of an instant is too small; 1 without contradiction.
    pub(super) fn contradiction(&self, at_s: f64) -> f64 {
        let near = self.rows(self.index(at_s - BEFORE_S), self.index(at_s + AFTER_S));
        let count = near.len().max(1) as f64;
        let mean_square = near.map(|(_, white)| white * white).sum::<f64>() / count;
        (mean_square / (CHANCE * self.group.excess)).max(1.0).sqrt()
    }

    /// Largest squared influence of a stretch of samples near an instant, beyond chance, s2. `gradient` is that
    /// of the instant.
    pub(super) fn moved_var_s2(&self, at_s: f64, gradient: &[f64]) -> f64 {
        let n = gradient.len();
        let by = |v: &[f64]| -> Vec<f64> {
            let dot = |row: &[f64]| row.iter().zip(v).map(|(c, g)| c * g).sum::<f64>() / self.group.excess;
            self.group.covariance.chunks_exact(n).map(dot).collect()
        };
        let own = by(gradient);
        let mut largest = self.by_tail_s2(at_s, gradient);
        for long_s in STRETCHES_S {
            let count = (2.0 * (2.0 * FAR_S - long_s) / long_s).round() as usize;
            for k in 0..=count {
                let from_s = at_s - FAR_S + 0.5 * long_s * k as f64;
                let (from, to) = (self.index(from_s), self.index(from_s + long_s));
                largest = largest.max(self.moved_by(from, to, &own, &by).unwrap_or(0.0));
            }
        }
        largest
    }

    /// The same for the samples `from..to`; None if they are no outlier, or if only they identify a parameter.
    /// `own` is the gradient times the covariance; `by` multiplies a row with it.
    fn moved_by(&self, from: usize, to: usize, own: &[f64], by: &dyn Fn(&[f64]) -> Vec<f64>) -> Option<f64> {
        let m = to - from;
        let dot = |u: &[f64], v: &[f64]| u.iter().zip(v).map(|(a, b)| a * b).sum::<f64>();
        let white: Vec<f64> = self.rows(from, to).map(|(_, white)| white).collect();
        let squares = dot(&white, &white);
        let mut remaining = vec![0.0; m * m];
        for (i, (row, _)) in self.rows(from, to).enumerate() {
            let row = by(row);
            for (j, (other, _)) in self.rows(from, from + i + 1).enumerate() {
                remaining[i * m + j] = f64::from(u8::from(i == j)) - dot(&row, other);
            }
        }
        let response: Vec<f64> = self.rows(from, to).map(|(row, _)| dot(row, own)).collect();
        let (mut by_white, mut by_response) = (white.clone(), response.clone());
        if m == 0 || !cholesky(&mut remaining, m) {
            return None;
        }
        solve(&remaining, m, &mut by_white);
        solve(&remaining, m, &mut by_response);
        let others = self.time_s.len().saturating_sub(m).max(1) as f64;
        let excess = ((self.deviance - squares) / others).max(1.0);
        // Consistent samples leave only random error, which the sd already includes.
        let is_outlier = dot(&by_white, &white) > excess * (m as f64 + OUTLIER_SDS * (2.0 * m as f64).sqrt());
        let moved_s2 =
            dot(&by_response, &white).powi(2) - CHANCE_SDS.powi(2) * excess * dot(&by_response, &response);
        is_outlier.then_some(moved_s2.min(FAR_S * FAR_S))
    }
}

/// Samples at which the tail of a knock may begin, near the edges of a group.
fn tail_starts(time_s: &[f64], group: &Group) -> Vec<usize> {
    if group.bursts.len() > MAX_BURSTS {
        return Vec::new();
    }
    let index = |t_s: f64| time_s.partition_point(|&s| s < t_s);
    let about = |edge_s: f64| {
        let range = index(edge_s - TAIL_BEFORE_S)..index(edge_s + TAIL_AFTER_S);
        let every = range.len().div_ceil(MAX_TAILS).max(1);
        range.step_by(every)
    };
    let mut starts: Vec<usize> =
        group.bursts.iter().flat_map(|b| [b.rise_s, b.fall_s]).flat_map(about).collect();
    starts.sort_unstable();
    starts.dedup();
    starts
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A group of one parameter, the mean of all samples: 0.1 s apart, residuals as given.
    fn mean_of(white: impl Fn(f64) -> f64) -> (Group, Vec<f64>, Vec<f64>) {
        let time_s: Vec<f64> = (0..100).map(|i| 0.1 * f64::from(i)).collect();
        let rows = time_s.iter().flat_map(|&t| [1.0, white(t)]).collect();
        let covariance = vec![0.01];
        let group = Group {
            bursts: Vec::new(),
            base_g: 0.0,
            from: 0,
            to: 100,
            in_scale_fit: true,
            covariance,
            excess: 1.0,
        };
        (group, time_s, rows)
    }

    fn influence<'a>(group: &'a Group, time_s: &'a [f64], rows: Vec<f64>) -> Influence<'a> {
        let deviance = rows.chunks_exact(2).map(|row| row[1].powi(2)).sum();
        Influence { group, time_s, rows, width: 2, deviance, tails: Vec::new() }
    }

    #[test]
    fn residuals_near_an_instant_widen_its_sd_and_those_elsewhere_do_not() {
        // Eleven residuals of four sd, all of them about 3 s.
        let (group, time_s, rows) = mean_of(|t| if (t - 3.2).abs() < 0.55 { 4.0 } else { 0.0 });
        let influence = influence(&group, &time_s, rows);
        // Of the 15 samples from 2.5 to 4 s 11 have a square of 16: the root of half of 11.73.
        assert!((influence.contradiction(3.0) - 2.4221).abs() < 1e-4);
        assert_eq!(influence.contradiction(8.0), 1.0);
        assert_eq!(influence.contradiction(50.0), 1.0);
    }

    #[test]
    fn the_influence_of_outliers_is_the_change_of_the_mean_without_them() {
        // A hundred readings of a mean, the five from 3 s on too high by 20: the error of the mean is 1, and
        // they lie 19 above it. Without them the mean decreases by 5 * 19/95 = 1. The sd of that change by
        // chance is the root of 1/95 - 1/100; 3 times that is subtracted in square.
        let (group, time_s, rows) = mean_of(|t| if (2.95..3.45).contains(&t) { 19.0 } else { -1.0 });
        let squared = influence(&group, &time_s, rows).moved_var_s2(3.2, &[1.0]);
        assert!((squared - (1.0 - 9.0 * (1.0 / 95.0 - 0.01))).abs() < 1e-9, "{squared}");
        let (group, time_s, rows) = mean_of(|t| if (t * 10.0).round() % 2.0 == 0.0 { 1.0 } else { -1.0 });
        assert_eq!(influence(&group, &time_s, rows).moved_var_s2(3.2, &[1.0]), 0.0);
    }

    #[test]
    fn a_detected_tail_gives_its_influence_on_an_instant_near_it() {
        // A hundred readings of a mean; a tail has a response of 1 in ten of them, and these lie 10 above the
        // others. The tail is of 10 g; its ten samples, less a tenth for the mean, detect it at 90/sqrt(9) sd;
        // the error of the mean is 0.1 times 10.
        let in_tail = |t: f64| (2.95..3.95).contains(&t);
        let (group, time_s, rows) = mean_of(|t| if in_tail(t) { 9.0 } else { -1.0 });
        let mut influence = influence(&group, &time_s, rows);
        let white: Vec<f64> = time_s.iter().map(|&t| f64::from(u8::from(in_tail(t)))).collect();
        let tail = influence.tail(3.0, &white).unwrap();
        assert!((tail.sds - 30.0).abs() < 1e-9 && (tail.moves[0] - 1.0).abs() < 1e-9);
        influence.tails.push(tail);
        assert!((influence.by_tail_s2(3.5, &[1.0]) - 1.0).abs() < 1e-9);
        assert_eq!(influence.by_tail_s2(8.0, &[1.0]), 0.0);
        // A constant tail is collinear with the mean.
        assert!(influence.tail(3.0, &[1.0; 100]).is_none());
    }
}
