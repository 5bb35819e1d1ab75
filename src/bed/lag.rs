//! A first-order lag gives the mean of the past, weighted by an exponential of its age. Here it is the two-point
//! Gauss-Laguerre rule, which is exact for cubics of time.

/// Ages, in units of the lag's time constant, and their weights.
pub(super) const AGES: [(f64, f64); 2] =
    [(0.585_786_437_626_904_9, 0.853_553_390_593_273_8), (OLDEST, 0.146_446_609_406_726_2)];
/// Largest age in the rule, in units of the time constant.
pub(super) const OLDEST: f64 = 3.414_213_562_373_095;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_lagged_cubic_is_exact() {
        // Mean of (t - tau x)^k over exp(-x): sum over j of k!/(k-j)! t^(k-j) (-tau)^j (gamma function, closed form).
        let (t, tau) = (3.0_f64, 0.3_f64);
        let exact = t.powi(3) - 3.0 * t * t * tau + 6.0 * t * tau * tau - 6.0 * tau.powi(3);
        let found: f64 = AGES.iter().map(|(age, weight)| weight * (t - age * tau).powi(3)).sum();
        assert!((found - exact).abs() < 1e-12, "{found} for {exact}");
    }
}
