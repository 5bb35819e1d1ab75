//! In: the p of several tests. Out: p corrected for their number.
//!
//! Holm 1979, Scand. J. Stat. 6, 65.

/// Corrects the p of several tests for their number, so that the chance of any false finding among them stays at the
/// level (Holm).
///
/// ```
/// // Worked example: 3 x 0.01, 2 x 0.02, and never less than the one before.
/// let found = pourline::study::holm(&[0.01, 0.03, 0.02]);
/// assert_eq!(found, [0.03, 0.04, 0.04]);
/// ```
#[must_use]
pub fn holm(p: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..p.len()).collect();
    order.sort_by(|&i, &j| p[i].total_cmp(&p[j]));
    let (mut adjusted, mut largest) = (vec![f64::NAN; p.len()], 0.0_f64);
    for (rank, &i) in order.iter().enumerate() {
        if !p[i].is_nan() {
            largest = largest.max((p.len() - rank) as f64 * p[i]).min(1.0);
            adjusted[i] = largest;
        }
    }
    adjusted
}

#[cfg(test)]
mod tests {
    use super::holm;

    #[test]
    fn holm_is_that_of_the_reference_library() {
        // statsmodels 0.15.0, multipletests(p, method="holm").
        let found = holm(&[0.011, 0.02, 0.04, 0.001, 0.5, 0.02]);
        let expected = [0.055, 0.08, 0.08, 0.006, 0.5, 0.08];
        assert!(found.iter().zip(expected).all(|(f, e)| (f - e).abs() < 1e-12), "{found:?}");
        assert!(holm(&[]).is_empty());
    }
}
