//! In: readings and the disturbance model. Out: the readings whitened by a Kalman filter (Durbin and Koopman, Time Series Analysis by
//! State Space Methods, 4.3).

use crate::model::transitions::{
    Disturbance, FLOW, Matrix, N, Propagation, READING, STAYS, SWINGS, Stretch, Vector, ZERO, states,
};

/// Gain at a sample, variance of its innovation.
pub(crate) fn update(p: &mut Matrix, noise_var: f64) -> (Vector, f64) {
    let s = p[READING][READING] + 2.0 * p[READING][ZERO] + p[ZERO][ZERO] + noise_var;
    let seen: Vector = std::array::from_fn(|i| p[i][READING] + p[i][ZERO]);
    let gain = seen.map(|x| x / s);
    for i in 0..N {
        for j in 0..N {
            p[i][j] -= gain[i] * seen[j];
        }
    }
    (gain, s)
}

impl Disturbance {
    /// Whitens `width` columns, given row by row, in place; returns the sum of the logarithms of the innovation variances.
    pub(crate) fn whiten(
        &self,
        time_s: &[f64],
        stretches: &[Stretch],
        rows: &mut [f64],
        width: usize,
    ) -> f64 {
        let Some(&start_s) = time_s.first() else { return 0.0 };
        let mut walk = Propagation::new(self, stretches, start_s);
        let mut p = walk.first();
        // A state after the other, each with all its columns, so that columns go side by side.
        let mut means = vec![0.0; N * width];
        let (mut legs, mut log_det, mut product) = (Vec::new(), 0.0, 1.0_f64);
        for (&t, row) in time_s.iter().zip(rows.chunks_exact_mut(width)) {
            walk.go(t, &mut legs);
            for leg in &legs {
                p = leg.covariance(&p);
                leg.means(&mut means);
            }
            let (gain, s) = update(&mut p, walk.noise_var());
            let scale = 1.0 / s.sqrt();
            product *= s;
            // One logarithm for many factors, as long as their product keeps its digits.
            if !(1e-200..1e200).contains(&product) {
                log_det += product.ln();
                product = 1.0;
            }
            let [reading, stays, swings, flow, zero] = states(&mut means);
            for k in 0..width {
                let v = row[k] - reading[k] - zero[k];
                reading[k] += gain[READING] * v;
                stays[k] += gain[STAYS] * v;
                swings[k] += gain[SWINGS] * v;
                flow[k] += gain[FLOW] * v;
                zero[k] += gain[ZERO] * v;
                row[k] = v * scale;
            }
        }
        log_det + product.ln()
    }
}
