//! In: the fit of a log. Out: flow curves drawn from its posterior, on the log's stamps.

use crate::error::{Error, Result};
use crate::math::random::Random;
use crate::model::recorded::record;
use crate::segment::average::Cells;
use crate::segment::flow::Flow;
use crate::segment::posterior::laid;
use crate::segment::source::{Moved, UNFITTED};
use ndarray::Array2;

/// Most values of a sample: 800 MB.
const MOST: usize = 100_000_000;

impl Flow {
    /// Flow curves drawn from the posterior, g/s: `n` rows, one column per stamp.
    ///
    /// Each curve has its own draw of the edges and hyperparameters, and of the flow given these (simulation smoother).
    /// Any functional of the flow has its posterior over the rows. What the stated sd of edges and masses contain beyond
    /// the model, such as rounding, is in the curves too, so that they have the covariance of `segments.covariance`.
    /// The same seed gives the same curves, and a larger `n` further ones. A flow that was read from a stored brew is
    /// sampled as well.
    ///
    /// ```
    /// use pourline::{Options, Recipe, analyze, simulate};
    /// let brew = analyze(&simulate(&Recipe::default(), 7)?.0, &Options::default())?;
    /// let flow = brew.flow.unwrap();
    /// let curves = flow.sample(20, 1)?;
    /// assert_eq!(curves.dim(), (20, flow.time_s.len()));
    /// assert!(curves.iter().all(|flow| *flow >= 0.0));
    /// # Ok::<(), pourline::Error>(())
    /// ```
    ///
    /// # Errors
    /// `out_of_range` for `n` of 0, or more than 100 million values; `argument` for a flow without its fit: one of a brew
    /// that an earlier version stored.
    pub fn sample(&self, n: usize, seed: u64) -> Result<Array2<f64>> {
        let stamps = self.time_s.len();
        if n == 0 || n.checked_mul(stamps.max(1)).is_none_or(|values| values > MOST) {
            let rule = format!("it must be at least 1, and n times the stamps at most {MOST}");
            return Err(Error::OutOfRange { name: "n".into(), value: n as f64, rule, row: 0 });
        }
        let source = self.source.as_ref().ok_or_else(|| Error::Argument {
            name: "flow".into(),
            message: format!("{UNFITTED}: analyze the log again"),
        })?;
        let mut out = Array2::zeros((n, stamps));
        let Some(fitted) = &source.fitted else { return Ok(out) };
        let (x, fit) = (&fitted.0, &fitted.1);
        let order = shuffled(fit.draws.len(), seed);
        for (k, group) in fit.groups.iter().enumerate() {
            let window = group.window(x);
            let step_s = window.grid_s;
            for (place, &draw) in order.iter().enumerate().take(n) {
                let q = &fit.draws[draw];
                let recorded = record(&window, &q.bursts[k], &fit.hand(draw));
                let (mean, places) = (recorded.mean(), recorded.places());
                let index = |t: f64| self.time_s.partition_point(|&s| s < t);
                for row in (place..n).step_by(order.len()) {
                    let mut random = Random::stream(seed, &format!("flow of group {k}, curve {row}"));
                    let deviation = recorded.deviation(|| random.normal());
                    let cells = Cells { places: places.clone(), mean: mean.clone(), deviation };
                    let cells = cells.without_average(&q.bursts[k], q, step_s);
                    let (Some(first), Some(last)) = (cells.places.first(), cells.places.last()) else {
                        continue;
                    };
                    // Two cells of rest on each side, for the average over time.
                    let from_s = first.0 - 2.0 * step_s;
                    let to_s = last.0 + step_s * (last.1 + 2) as f64;
                    let many = ((to_s - from_s) / step_s).round().max(0.0) as usize;
                    let flow = |i: usize| cells.mean[i] + cells.deviation[i];
                    let curve = laid(&flow, &cells.places, (from_s, step_s, many));
                    let moved = Moved::new(&source.left_out, k, &mut random);
                    for i in index(from_s)..index(to_s) {
                        out[[row, i]] += moved.flow_at(&curve, self.time_s[i]);
                    }
                }
            }
        }
        Ok(out)
    }
}

/// The numbers from 0 on in a random order.
fn shuffled(n: usize, seed: u64) -> Vec<usize> {
    let mut random = Random::stream(seed, "order of the draws");
    let mut order: Vec<usize> = (0..n).collect();
    for i in (1..n).rev() {
        order.swap(i, random.count([0, i as u32]) as usize);
    }
    order
}
