//! In: numbers, some of them outliers or missing. Out: their median and quantiles, which a minority of outliers does
//! not change.
//!
//! By selection, O(n). NaN counts as missing.

/// Median of the values that are not NaN; NaN if there is none. Reorders the slice.
pub(crate) fn median(values: &mut [f64]) -> f64 {
    let values = present(values);
    let n = values.len();
    if n == 0 {
        return f64::NAN;
    }
    let (below, &mut upper, _) = values.select_nth_unstable_by(n / 2, f64::total_cmp);
    if n % 2 == 1 {
        return upper;
    }
    below.iter().copied().max_by(f64::total_cmp).map_or(upper, |lower| f64::midpoint(lower, upper))
}

/// Value below which `share` of the values that are not NaN lie (the nearest one); NaN if there is none. Reorders the
/// slice.
pub(crate) fn quantile(values: &mut [f64], share: f64) -> f64 {
    let values = present(values);
    if values.is_empty() {
        return f64::NAN;
    }
    let place = (share.clamp(0.0, 1.0) * (values.len() - 1) as f64).round() as usize;
    *values.select_nth_unstable_by(place, f64::total_cmp).1
}

/// Moves the NaN to the back and returns the values before them.
fn present(values: &mut [f64]) -> &mut [f64] {
    let mut finite = 0;
    for i in 0..values.len() {
        if !values[i].is_nan() {
            values.swap(finite, i);
            finite += 1;
        }
    }
    &mut values[..finite]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_median_is_the_middle_value_or_the_mean_of_the_two() {
        assert_eq!(median(&mut [9.0, 1.0, 4.0, 2.0, 6.0, 1.0, 2.0]), 2.0);
        assert_eq!(median(&mut [4.0, 1.0, 3.0, 2.0]), 2.5);
        assert_eq!(median(&mut [7.0]), 7.0);
        assert_eq!(median(&mut [1e308, 1.5e308]), 1.25e308);
    }

    #[test]
    fn missing_values_count_for_nothing_and_none_at_all_is_nan() {
        assert_eq!(median(&mut [f64::NAN, 3.0, f64::NAN, 1.0, 2.0]), 2.0);
        assert!(median(&mut []).is_nan() && median(&mut [f64::NAN; 4]).is_nan());
    }

    #[test]
    fn a_quantile_is_one_of_the_values() {
        assert_eq!(quantile(&mut [4.0, f64::NAN, 1.0, 3.0, 2.0, 5.0], 0.25), 2.0);
        assert!(quantile(&mut [], 0.5).is_nan());
    }

    #[test]
    fn a_wild_minority_does_not_move_the_median() {
        assert_eq!(median(&mut [9.9, 10.0, 10.1, 9.8, 10.2, 400.0, f64::NEG_INFINITY]), 10.0);
    }
}
