//! In: windows, parameters, priors. Out: the normal equations of Fisher scoring.
//!
//! The likelihood is that of the innovations. Its information is
//! `sum d_i d_j / F + F_i F_j / (2 F^2)`, with `d` and `F` the derivatives of innovation and variance (Harvey,
//! Forecasting, structural time series models and the Kalman filter, 1989, 3.4.5; not checked). Derivatives are
//! differences of filters.

use crate::model::belief::{Filters, Seen};
use crate::model::burst::Burst;
use crate::model::pack::Pack;
use crate::model::window::{Still, Window};
use crate::segment::parameters::{
    BEAT, FALL, LINE, Parameters, QUICK, RISE, SHARED, SLOW, Shared, compensate, locals, shift,
};
use crate::segment::priors::{Priors, hand, local_prior, log_prior, shared_prior};

/// Innovations of a window and their variances, and the state before each leg.
struct Passed<const K: usize> {
    seen: Seen<K>,
    before: Vec<Still<K>>,
}

fn pass<const K: usize>(w: &Window, bursts: [&[Burst]; K], filters: &mut Filters<K>) -> Passed<K> {
    let mut out = Passed { seen: Vec::with_capacity(w.time_s.len()), before: Vec::new() };
    let mut still = w.first();
    for k in 0..bursts[0].len() {
        out.before.push(still);
        still = filters.leg(w, k, &bursts.map(|b| &b[k]), &still, &mut out.seen);
    }
    out
}

/// Readings whose variances are multiplied before one logarithm is taken.
const TOGETHER: usize = 8;

fn log_likelihoods<const K: usize>(seen: &Seen<K>) -> Pack<K> {
    let mut sum = Pack::ZERO;
    for some in seen.chunks(TOGETHER) {
        let mut product = Pack::all(1.0);
        for (nu, f) in some {
            sum += *nu * *nu * f.recip();
            product = product * *f;
        }
        sum += Pack(product.0.map(f64::ln));
    }
    sum * -0.5
}

/// Length of a cell: that of all windows of a log.
fn grid_s(windows: &[Window]) -> f64 {
    windows.first().map_or(1.0, |w| w.grid_s)
}

/// Parameters with the filters' results at them.
pub(super) struct Evaluated {
    passed: Vec<Passed<1>>,
    pub log_posterior: f64,
}

pub(super) fn evaluated(windows: &[Window], q: &Parameters, p: &Priors) -> Evaluated {
    let h = hand(&q.shared, p);
    let mut filters = Filters::new([&h], grid_s(windows));
    let passed: Vec<Passed<1>> =
        windows.iter().zip(&q.bursts).map(|(w, b)| pass(w, [b], &mut filters)).collect();
    let fit: f64 = passed.iter().map(|passed| log_likelihoods(&passed.seen).0[0]).sum();
    Evaluated { passed, log_posterior: fit + log_prior(q, p) }
}

/// Logarithms of the posterior density at two points that differ little.
pub(super) fn log_posteriors(windows: &[Window], q: [&Parameters; 2], p: &Priors) -> [f64; 2] {
    let hands = q.map(|q| hand(&q.shared, p));
    let mut filters = Filters::new(hands.each_ref(), grid_s(windows));
    let mut sum = Pack(q.map(|q| log_prior(q, p)));
    for (k, w) in windows.iter().enumerate() {
        sum += log_likelihoods(&pass(w, q.map(|q| q.bursts[k].as_slice()), &mut filters).seen);
    }
    sum.0
}

/// Normal equations of one window.
#[derive(Clone)]
pub(super) struct Local {
    pub n: usize,
    /// Information of its own parameters, with the shared ones, and the score.
    pub own: Vec<f64>,
    pub cross: Vec<f64>,
    pub score: Vec<f64>,
    /// The window's part of the information and score of the shared parameters.
    pub shared: [[f64; SHARED]; SHARED],
    pub shared_score: Shared,
}

#[derive(Clone)]
pub(super) struct Normal {
    pub windows: Vec<Local>,
    pub shared: [[f64; SHARED]; SHARED],
    pub score: Shared,
    /// What the information of the relative sds lacks of their curvature. Near 0 the log likelihood falls with the square
    /// of a sd, so that its curvature by the logarithm is twice the score, and the expected information is none.
    pub steep: Shared,
    pub log_posterior: f64,
}

impl Normal {
    /// The equations of the own parameters at given shared ones.
    pub(super) fn with_fixed_shared(mut self) -> Self {
        self.windows.iter_mut().for_each(|w| w.cross.fill(0.0));
        self.shared = std::array::from_fn(|i| std::array::from_fn(|j| f64::from(u8::from(i == j))));
        (self.score, self.steep) = ([0.0; SHARED], [0.0; SHARED]);
        self
    }
}

const STEP: f64 = 1e-4;
/// Most of the curvature that is added to the information of a relative sd.
const STEEPEST: f64 = 2.0;

/// Columns of derivatives by one parameter: the first reading, and the normalised derivatives of the innovations and of
/// their variances, one after the other.
struct Column {
    from: usize,
    d: Vec<f64>,
}

impl Column {
    fn dot(&self, other: &Self) -> f64 {
        let from = self.from.max(other.from);
        let to = (2 * self.from + self.d.len()).min(2 * other.from + other.d.len());
        if to <= 2 * from {
            return 0.0;
        }
        inner(
            &self.d[2 * (from - self.from)..to - 2 * self.from],
            &other.d[2 * (from - other.from)..to - 2 * other.from],
        )
    }
}

/// Sum of products, in four parts.
fn inner(a: &[f64], b: &[f64]) -> f64 {
    let mut parts = [0.0; 4];
    let (a4, b4) = (a.chunks_exact(4), b.chunks_exact(4));
    let rest: f64 = a4.remainder().iter().zip(b4.remainder()).map(|(a, b)| a * b).sum();
    for (a, b) in a4.zip(b4) {
        for k in 0..4 {
            parts[k] += a[k] * b[k];
        }
    }
    (parts[0] + parts[1]) + (parts[2] + parts[3]) + rest
}

/// The innovations at the parameters themselves.
struct Base {
    /// Innovation, variance, and the factors of their derivatives.
    seen: Vec<[f64; 4]>,
    /// Normalised innovations and, less 1, their squares: their products with a column are its score.
    scores: Vec<f64>,
}

impl Base {
    fn new(seen: &Seen<1>) -> Self {
        let scores = seen
            .iter()
            .flat_map(|(Pack([nu]), Pack([f]))| [-nu / f.sqrt(), (nu * nu / f - 1.0) / 2.0_f64.sqrt()]);
        Self {
            scores: scores.collect(),
            seen: seen
                .iter()
                .map(|&(Pack([nu]), Pack([f]))| {
                    [nu, f, 1.0 / (STEP * f.sqrt()), 1.0 / (STEP * f * 2.0_f64.sqrt())]
                })
                .collect(),
        }
    }

    /// Columns from the innovations at two neighbours.
    fn columns(&self, from: usize, seen: &Seen<2>) -> [Column; 2] {
        [0, 1].map(|k| {
            let each = seen.iter().zip(&self.seen[from..]);
            let d = each.flat_map(|((nu, f), [nu0, f0, by_nu, by_f])| {
                [(nu.0[k] - nu0) * by_nu, (f.0[k] - f0) * by_f]
            });
            Column { from, d: d.collect() }
        })
    }

    fn score(&self, c: &Column) -> f64 {
        let from = 2 * c.from.min(self.seen.len());
        inner(&c.d, &self.scores[from..from + c.d.len()])
    }
}

/// Columns by the parameters of the bursts of a window.
fn own_columns(
    w: &Window,
    bursts: &[Burst],
    filters: &mut Filters<2>,
    passed: &Passed<1>,
    base: &Base,
) -> Vec<Column> {
    let mut out = Vec::new();
    for (k, burst) in bursts.iter().enumerate() {
        let moved = |j: usize| {
            let mut moved = burst.clone();
            shift(&mut moved, j, STEP);
            moved
        };
        // The number of parameters is even.
        for j in (0..locals(burst)).step_by(2) {
            let two = [moved(j), moved(j + 1)];
            let mut seen = Vec::with_capacity(w.leg(k).len());
            let still = filters.leg(w, k, &two.each_ref(), &passed.before[k].of_both(), &mut seen);
            if let Some(next) = bursts.get(k + 1) {
                filters.leg(w, k + 1, &[next; 2], &still, &mut seen);
            }
            out.extend(base.columns(w.legs[k], &seen));
        }
    }
    out
}

/// Columns of each window by the shared parameters that the readings depend on and the prior leaves open; the others
/// are empty.
fn shared_columns(windows: &[Window], q: &Parameters, p: &Priors, bases: &[Base]) -> Vec<Vec<Column>> {
    let h = hand(&q.shared, p);
    let empty = |base: &Base| Column { from: base.seen.len(), d: Vec::new() };
    let mut out: Vec<Vec<Column>> = bases.iter().map(|b| (0..SHARED).map(|_| empty(b)).collect()).collect();
    let open: Vec<usize> = (0..SHARED).filter(|&j| j != RISE && j != FALL && p.is_open(j)).collect();
    for two in open.chunks(2) {
        let two = [two[0], two[two.len() - 1]];
        let hands = two.map(|j| {
            let mut shared = q.shared;
            shared[j] += STEP;
            hand(&shared, p)
        });
        let mut filters = Filters::new(hands.each_ref(), grid_s(windows));
        for (k, w) in windows.iter().enumerate() {
            let bursts = two.map(|j| {
                let mut bursts = q.bursts[k].clone();
                compensate(&mut bursts, j, h.delay_s, STEP);
                bursts
            });
            let seen = pass(w, bursts.each_ref().map(Vec::as_slice), &mut filters).seen;
            for (j, column) in two.into_iter().zip(bases[k].columns(0, &seen)) {
                out[k][j] = column;
            }
        }
    }
    out
}

pub(super) fn normal_equations(windows: &[Window], q: &Parameters, p: &Priors, e: &Evaluated) -> Normal {
    let h = hand(&q.shared, p);
    let mut out = Normal {
        windows: Vec::new(),
        shared: [[0.0; SHARED]; SHARED],
        score: [0.0; SHARED],
        steep: [0.0; SHARED],
        log_posterior: e.log_posterior,
    };
    let mut filters = Filters::new([&h; 2], grid_s(windows));
    let bases: Vec<Base> = e.passed.iter().map(|passed| Base::new(&passed.seen)).collect();
    let shared = shared_columns(windows, q, p, &bases);
    for (k, shared) in shared.into_iter().enumerate() {
        let (bursts, base) = (&q.bursts[k], &bases[k]);
        let mut columns = own_columns(&windows[k], bursts, &mut filters, &e.passed[k], base);
        let n = columns.len();
        columns.extend(shared);
        let mut local = Local {
            n,
            own: vec![0.0; n * n],
            cross: vec![0.0; n * SHARED],
            score: vec![0.0; n],
            shared: [[0.0; SHARED]; SHARED],
            shared_score: [0.0; SHARED],
        };
        for i in 0..n {
            for j in 0..=i {
                let d = columns[i].dot(&columns[j]);
                local.own[i * n + j] = d;
                local.own[j * n + i] = d;
            }
            for j in 0..SHARED {
                local.cross[i * SHARED + j] = columns[i].dot(&columns[n + j]);
            }
            local.score[i] = base.score(&columns[i]);
        }
        for i in 0..SHARED {
            for j in 0..=i {
                let d = columns[n + i].dot(&columns[n + j]);
                (local.shared[i][j], local.shared[j][i]) = (d, d);
            }
            local.shared_score[i] = base.score(&columns[n + i]);
        }
        // Priors of the ramps, with the log's medians.
        let mut i = 0;
        for burst in bursts {
            for j in 0..locals(burst) {
                let (_, d, c) = local_prior(burst, j, &q.shared, p);
                local.own[i * n + i] += c;
                local.score[i] += d;
                let median = match j {
                    1 => Some(RISE),
                    4 => Some(FALL),
                    _ => None,
                };
                if let Some(m) = median {
                    local.cross[i * SHARED + m] -= c;
                    local.shared[m][m] += c;
                    local.shared_score[m] -= d;
                }
                i += 1;
            }
        }
        for i in 0..SHARED {
            for j in 0..SHARED {
                out.shared[i][j] += local.shared[i][j];
            }
            out.score[i] += local.shared_score[i];
        }
        out.windows.push(local);
    }
    for k in [LINE, SLOW, QUICK, BEAT] {
        out.steep[k] = (-2.0 * out.score[k]).clamp(0.0, STEEPEST);
    }
    for k in 0..SHARED {
        let (_, d, c) = shared_prior(k, q.shared[k], p);
        out.shared[k][k] += c;
        out.score[k] += d;
    }
    out
}
