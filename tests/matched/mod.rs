//! In: spans of true and of detected pours, s. Out: which of them are the same pour.

/// Pairs of true and detected pours, the largest share of overlap first; sorted by the true pour.
pub fn pairs(truth: &[(f64, f64)], found: &[(f64, f64)]) -> Vec<(usize, usize)> {
    let mut overlaps: Vec<(f64, usize, usize)> = Vec::new();
    for (t, a) in truth.iter().enumerate() {
        for (f, b) in found.iter().enumerate() {
            let common = a.1.min(b.1) - a.0.max(b.0);
            let union = a.1.max(b.1) - a.0.min(b.0);
            if common > 0.0 {
                overlaps.push((common / union, t, f));
            }
        }
    }
    overlaps.sort_by(|a, b| b.0.total_cmp(&a.0));
    let mut pairs: Vec<(usize, usize)> = Vec::new();
    for (_, t, f) in overlaps {
        if pairs.iter().all(|p| p.0 != t && p.1 != f) {
            pairs.push((t, f));
        }
    }
    pairs.sort_unstable();
    pairs
}
