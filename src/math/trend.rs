//! In: a series on uneven stamps and the sd of its noise. Out: its smoothed slope at each stamp.
//!
//! The signal is an integrated Wiener process whose strength is given as a corner frequency. Method: Kalman filter and the backward
//! smoother without inverses, one pass each way (Durbin and Koopman, Time Series Analysis by State Space Methods, 4.4).

/// Smoothed slope at each stamp. `corner_rad_per_s` sets how quick a change of slope is followed; stamps never decrease.
pub(crate) fn slopes(
    time: &[f64],
    value: &[f64],
    noise_sd: f64,
    interval: f64,
    corner_rad_per_s: f64,
) -> Vec<f64> {
    let noise = noise_sd * noise_sd;
    let power = corner_rad_per_s.powi(4) * noise * interval;
    // Wide but finite: 1e3 times the noise in level, any slope that the corner could carry in a second.
    let mut p = [noise * 1e6, 0.0, noise * 1e6];
    let (mut level, mut slope) = (value.first().copied().unwrap_or(0.0), 0.0);
    let mut past = Vec::with_capacity(time.len());
    let mut before = time.first().copied().unwrap_or(0.0);
    for (&t, &y) in time.iter().zip(value) {
        let dt = t - before;
        before = t;
        level += dt * slope;
        p = [
            p[0] + dt * (2.0 * p[1] + dt * p[2]) + power * dt.powi(3) / 3.0,
            p[1] + dt * p[2] + power * dt * dt / 2.0,
            p[2] + power * dt,
        ];
        let (v, s) = (y - level, p[0] + noise);
        let gain = [p[0] / s, p[1] / s];
        past.push((dt, slope, p, gain, v / s));
        level += gain[0] * v;
        slope += gain[1] * v;
        p = [p[0] * (1.0 - gain[0]), p[1] * (1.0 - gain[0]), p[2] - gain[1] * p[1]];
    }
    let mut r = [0.0, 0.0];
    let mut out = vec![0.0; time.len()];
    for (k, (dt, slope, p, gain, v_s)) in past.iter().enumerate().rev() {
        r[0] += v_s - gain[0] * r[0] - gain[1] * r[1];
        out[k] = slope + p[1] * r[0] + p[2] * r[1];
        r[1] += dt * r[0];
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_straight_line_on_uneven_stamps_keeps_its_slope() {
        let time: Vec<f64> = (0..200).map(|i| 0.1 * f64::from(i) + 0.03 * f64::from(i % 3)).collect();
        let value: Vec<f64> = time.iter().map(|t| 3.0 + 7.5 * t).collect();
        for s in slopes(&time, &value, 0.05, 0.1, 8.0) {
            assert!((s - 7.5).abs() < 1e-3, "{s}");
        }
    }
}
