//! In: observations and the disturbance model. Out: the observations whitened by a Kalman filter (Durbin and
//! Koopman, Time Series Analysis by State Space Methods, 4.3).

use crate::model::transitions::{
    Disturbance, FLOW, Matrix, N, OSCILLATING, Propagation, READING, SETTLED, Stretch, Vector, ZERO, states,
};

/// Gain at a sample, variance of its innovation.
pub(crate) fn update(p: &mut Matrix, noise_var: f64) -> (Vector, f64) {
    let s = p[READING][READING] + 2.0 * p[READING][ZERO] + p[ZERO][ZERO] + noise_var;
    let cross: Vector = std::array::from_fn(|i| p[i][READING] + p[i][ZERO]);
    let gain = cross.map(|x| x / s);
    for i in 0..N {
        for j in 0..N {
            p[i][j] -= gain[i] * cross[j];
        }
    }
    (gain, s)
}

impl Disturbance {
    /// Whitens `width` columns, given row by row, in place; returns the sum of the logarithms of the innovation
    /// variances.
    pub(crate) fn whiten(
        &self,
        time_s: &[f64],
        stretches: &[Stretch],
        rows: &mut [f64],
        width: usize,
    ) -> f64 {
        let Some(&start_s) = time_s.first() else { return 0.0 };
        let mut propagation = Propagation::new(self, stretches, start_s);
        let mut p = propagation.first();
        // One state after the other, each with all its columns, so that the loop over columns is contiguous.
        let mut means = vec![0.0; N * width];
        let (mut legs, mut log_det, mut product) = (Vec::new(), 0.0, 1.0_f64);
        for (&t, row) in time_s.iter().zip(rows.chunks_exact_mut(width)) {
            propagation.advance(t, &mut legs);
            for leg in &legs {
                p = leg.covariance(&p);
                leg.means(&mut means);
            }
            let (gain, s) = update(&mut p, propagation.noise_var());
            let scale = 1.0 / s.sqrt();
            product *= s;
            // One logarithm for many factors, as long as their product neither underflows nor overflows.
            if !(1e-200..1e200).contains(&product) {
                log_det += product.ln();
                product = 1.0;
            }
            let [reading, settled, oscillating, flow, zero] = states(&mut means);
            for k in 0..width {
                let v = row[k] - reading[k] - zero[k];
                reading[k] += gain[READING] * v;
                settled[k] += gain[SETTLED] * v;
                oscillating[k] += gain[OSCILLATING] * v;
                flow[k] += gain[FLOW] * v;
                zero[k] += gain[ZERO] * v;
                row[k] = v * scale;
            }
        }
        log_det + product.ln()
    }
}
