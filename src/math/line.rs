//! In: points. Out: their least-squares straight line, with the sd of its slope and the variance about it.

/// A straight line through points.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Line {
    /// Slope.
    pub slope: f64,
    /// Its standard deviation, from the scatter of the points.
    pub slope_sd: f64,
    /// Variance of the points about the line.
    pub variance: f64,
    /// Degrees of freedom of that variance.
    pub degrees: f64,
}

/// Least-squares line; None for fewer than 3 points, points above one another, or numbers too large to square.
pub(crate) fn line(x: &[f64], y: &[f64]) -> Option<Line> {
    let n = x.len() as f64;
    let (mean_x, mean_y) = (x.iter().sum::<f64>() / n, y.iter().sum::<f64>() / n);
    let centred = || x.iter().zip(y).map(|(x, y)| (x - mean_x, y - mean_y));
    let xx: f64 = centred().map(|(x, _)| x * x).sum();
    let slope = centred().map(|(x, y)| x * y).sum::<f64>() / xx;
    let degrees = n - 2.0;
    // A second pass over the residuals, because the difference of two large sums loses digits.
    let variance = centred().map(|(x, y)| (y - slope * x).powi(2)).sum::<f64>() / degrees;
    let slope_sd = (variance / xx).sqrt();
    (degrees > 0.0 && slope_sd.is_finite()).then_some(Line { slope, slope_sd, variance, degrees })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(found: f64, certified: f64, relative: f64) {
        assert!((found / certified - 1.0).abs() <= relative, "{found}, certified {certified}");
    }

    #[test]
    fn the_certified_line_of_an_ozone_monitor_comes_out() {
        // NIST StRD, Norris (calibration of ozone monitors), public domain: y, x and certified values.
        const NORRIS: [[f64; 2]; 36] = [
            [0.1, 0.2],
            [338.8, 337.4],
            [118.1, 118.2],
            [888.0, 884.6],
            [9.2, 10.1],
            [228.1, 226.5],
            [668.5, 666.3],
            [998.5, 996.3],
            [449.1, 448.6],
            [778.9, 777.0],
            [559.2, 558.2],
            [0.3, 0.4],
            [0.1, 0.6],
            [778.1, 775.5],
            [668.8, 666.9],
            [339.3, 338.0],
            [448.9, 447.5],
            [10.8, 11.6],
            [557.7, 556.0],
            [228.3, 228.1],
            [998.0, 995.8],
            [888.8, 887.6],
            [119.6, 120.2],
            [0.3, 0.3],
            [0.6, 0.3],
            [557.6, 556.8],
            [339.3, 339.1],
            [888.0, 887.2],
            [998.5, 999.0],
            [778.9, 779.0],
            [10.2, 11.1],
            [117.6, 118.3],
            [228.9, 229.2],
            [668.4, 669.1],
            [449.2, 448.9],
            [0.2, 0.5],
        ];
        let (y, x): (Vec<f64>, Vec<f64>) = NORRIS.iter().map(|&[y, x]| (y, x)).unzip();
        let found = line(&x, &y).unwrap();
        close(found.slope, 1.00211681802045, 1e-13);
        close(found.slope_sd, 0.429796848199937e-3, 1e-12);
        close(found.variance.sqrt(), 0.884796396144373, 1e-12);
        close(found.degrees, 34.0, 0.0);
    }

    #[test]
    fn digits_far_behind_a_large_constant_are_not_lost() {
        // NIST StRD, NumAcc2 to NumAcc4, given by formula: a constant, then the constant less and plus .1 by turns,
        // 1,001 values, certified sd .1 exactly. Against its index 0 to 1,000 the sum of products is 500 times .1, by
        // hand.
        for (constant, relative) in [(1.2, 1e-12), (1_000_000.2, 1e-8), (10_000_000.2, 1e-7)] {
            let y: Vec<f64> = (0..1001)
                .map(|i| {
                    constant
                        + if i == 0 {
                            0.0
                        } else if i % 2 == 1 {
                            -0.1
                        } else {
                            0.1
                        }
                })
                .collect();
            let x: Vec<f64> = (0..1001).map(f64::from).collect();
            let found = line(&x, &y).unwrap();
            let (xx, yy, xy) = (1001.0 * (1001.0 * 1001.0 - 1.0) / 12.0, 1000.0 * 0.1 * 0.1, 50.0);
            close(found.slope, xy / xx, relative);
            close(found.variance, (yy - xy * xy / xx) / 999.0, relative);
        }
    }

    #[test]
    fn noise_on_even_stamps_leaves_the_textbook_sd_of_a_slope() {
        // sd = s sqrt(12/(N (N^2 - 1)))/dt for white noise s, textbook arithmetic; here from the scatter that was
        // found.
        let x: Vec<f64> = (0..21).map(|i| 0.1 * f64::from(i)).collect();
        let y: Vec<f64> = (0..21).map(|i| [0.03, -0.01, -0.02][i % 3]).collect();
        let found = line(&x, &y).unwrap();
        close(found.slope_sd, found.variance.sqrt() * (12.0 / (21.0 * 440.0_f64)).sqrt() / 0.1, 1e-12);
    }

    #[test]
    fn points_that_determine_no_line_give_none() {
        assert!(line(&[], &[]).is_none());
        assert!(line(&[0.0, 1.0], &[1.0, 2.0]).is_none());
        assert!(line(&[2.0; 5], &[1.0, 2.0, 3.0, 4.0, 5.0]).is_none());
        assert!(line(&[0.0, 1.0, 2.0], &[1.0, f64::NAN, 3.0]).is_none());
        assert!(line(&[0.0, 1.0, 2.0], &[1e308, -1e308, 1e308]).is_none());
    }
}
