//! In: the readings of a rest after water. Out: whether drops or a thin stream explain them.
//!
//! Water only arrives: the readings are a curve that never falls, and noise. That curve is the isotonic regression
//! (Barlow et al., Statistical inference under order restrictions, 1972; the section was not checked). A zero that
//! walks also falls.

/// The rise of a rest is significant at this many sd.
const RISES_SDS: f64 = 2.0;
/// The squared residuals may exceed their expected value by this many sd of theirs.
const FITS_SDS: f64 = 2.0;

/// Whether the readings rise, and are consistent with water that never leaves.
pub(super) fn dribbles(y: &[f64], noise_g: f64) -> bool {
    let third = y.len() / 3;
    if third == 0 {
        return false;
    }
    let mean = |y: &[f64]| y.iter().sum::<f64>() / y.len() as f64;
    let rose_g = mean(&y[y.len() - third..]) - mean(&y[..third]);
    let sd_g = noise_g * (2.0 / third as f64).sqrt();
    if rose_g <= RISES_SDS * sd_g {
        return false;
    }
    let n = y.len() as f64;
    squares(y) <= noise_g * noise_g * (n + FITS_SDS * (2.0 * n).sqrt())
}

/// Sum of the squared residuals about the isotonic regression, g2; by pooling adjacent violators.
fn squares(y: &[f64]) -> f64 {
    // Sum, number and sum of squares of each level.
    let mut levels: Vec<(f64, f64, f64)> = Vec::new();
    for &y in y {
        let mut new = (y, 1.0, y * y);
        while let Some(&last) = levels.last()
            && last.0 / last.1 >= new.0 / new.1
        {
            new = (new.0 + last.0, new.1 + last.1, new.2 + last.2);
            levels.pop();
        }
        levels.push(new);
    }
    levels.iter().map(|(sum, n, squares)| (squares - sum * sum / n).max(0.0)).sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Random;

    #[test]
    fn pooled_levels_leave_the_squares_reckoned_by_hand() {
        // 1, then 3 and 2 pooled to 2.5, then 4: 2 x 0.5^2.
        assert!((squares(&[1.0, 3.0, 2.0, 4.0]) - 0.5).abs() < 1e-12);
        // All pooled to 2: 1 + 0 + 1.
        assert!((squares(&[3.0, 2.0, 1.0]) - 2.0).abs() < 1e-12);
        assert_eq!(squares(&[1.0, 2.0, 5.0]), 0.0);
    }

    #[test]
    fn drops_dribble_and_a_constant_or_a_walking_zero_does_not() {
        let mut random = Random::new(1);
        let mut share = |level: &mut dyn FnMut(usize, &mut Random) -> f64| {
            let mut one =
                || (0..150).map(|i| level(i, &mut random) + 0.06 * random.normal()).collect::<Vec<_>>();
            (0..200).filter(|_| dribbles(&one(), 0.06)).count()
        };
        // Three drops of 0.1 g; nothing; a walk of 0.1 g in a second, at ten readings a second.
        let drops = share(&mut |i, _| 0.1 * [20, 35, 60].iter().filter(|&&at| i > at).count() as f64);
        let nothing = share(&mut |_, _| 0.0);
        let mut zero_g = 0.0;
        let walk = share(&mut |_, random| {
            zero_g += 0.1 * 0.1_f64.sqrt() * random.normal();
            zero_g
        });
        // The rise of nothing exceeds two sd in 2.3 % of cases (normal law).
        assert!(drops > 190 && nothing < 12 && walk < 30, "{drops} {nothing} {walk}");
    }
}
