//! In: readings in order of time. Out: the resolution of the readout: the grid on which the differences lie, or 0.

use crate::math::robust::quantile;

/// Fraction of the differences that must lie on the grid: a partly resampled log has no grid.
const ON_GRID: f64 = 0.98;

/// Resolution of the readout, g; 0 if no grid is detected.
pub(crate) fn readout_resolution(y: &[f64]) -> f64 {
    let largest = y.iter().fold(0.0_f64, |a, v| a.max(v.abs()));
    // A reading that was stored as a 32-bit float is off its grid by this much.
    let float_error = 1.2e-7 * largest + 1e-12;
    let mut moves: Vec<f64> =
        y.windows(2).map(|w| (w[1] - w[0]).abs()).filter(|&d| d.is_finite() && d > float_error).collect();
    if moves.len() < 8 {
        return 0.0;
    }
    let small = quantile(&mut moves, 0.02);
    let one = small / 1.5;
    // The smallest moves are one unit of the readout, or two or three if water flowed in every interval.
    let cluster: Vec<f64> = moves.iter().copied().filter(|&d| d > one && d < 1.3 * small).collect();
    let unit = cluster.iter().sum::<f64>() / cluster.len().max(1) as f64;
    for parts in [1.0, 2.0, 3.0, 4.0, 5.0] {
        let mut resolution = unit / parts;
        for span in [4.0, 40.0] {
            resolution = refined(&moves, resolution, span);
        }
        if on_grid(&moves, resolution, float_error) {
            return displayed(neat(resolution));
        }
    }
    // If every move is many units, only a resolution of a usual display is identifiable.
    display_resolutions(small).find(|&resolution| on_grid(&moves, resolution, float_error)).unwrap_or(0.0)
}

fn on_grid(moves: &[f64], resolution: f64, float_error: f64) -> bool {
    let tolerance = 0.02 * resolution + float_error;
    let near =
        moves.iter().filter(|&&d| (d - (d / resolution).round() * resolution).abs() <= tolerance).count();
    tolerance < 0.1 * resolution && near as f64 >= ON_GRID * moves.len() as f64
}

/// 1, 2 and 5 times a power of ten, from `most` down over three decades.
fn display_resolutions(most: f64) -> impl Iterator<Item = f64> {
    let top = most.log10().floor() as i32;
    let decade =
        move |k: i32| [5.0, 2.0, 1.0].map(|d| if k < 0 { d / 10f64.powi(-k) } else { d * 10f64.powi(k) });
    (0..4).flat_map(move |down| decade(top - down)).filter(move |&resolution| resolution <= most)
}

/// Least-squares resolution through the moves of at most `span` units.
fn refined(moves: &[f64], resolution: f64, span: f64) -> f64 {
    let (mut up, mut down) = (0.0, 0.0);
    for &d in moves.iter().filter(|&&d| d < (span + 0.5) * resolution) {
        let k = (d / resolution).round();
        up += k * d;
        down += k * k;
    }
    if down > 0.0 { up / down } else { resolution }
}

/// Removes the float error: a resolution is rounded to six digits.
/// A display steps by 1, 2 or 5 times a power of ten. A level flow on regular rows may leave only multiples of 3, 4, 6, 7,
/// 8 or 9 of them.
fn displayed(resolution: f64) -> f64 {
    let ten = 10f64.powi(resolution.log10().floor() as i32);
    let digit = resolution / ten;
    if (digit - digit.round()).abs() > 1e-6 {
        return resolution;
    }
    let step = match digit.round() as i32 {
        4 | 6 | 8 => 2.0,
        3 | 7 | 9 => 1.0,
        _ => return resolution,
    };
    neat(step * ten)
}

fn neat(resolution: f64) -> f64 {
    let unit = 10f64.powi(resolution.log10().floor() as i32 - 5);
    let digits = (resolution / unit).round();
    if unit < 1.0 { digits / (1.0 / unit).round() } else { digits * unit }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ramp(resolution: f64) -> Vec<f64> {
        let noisy = |i: i32| f64::from(i) * 0.073 + 0.05 * f64::from(i * i % 17 - 8) / 8.0;
        (0..400).map(|i| (noisy(i) / resolution).round() * resolution).collect()
    }

    #[test]
    fn the_resolution_of_the_readout_is_found() {
        for resolution in [0.01, 0.05, 0.1, 0.2, 0.5, 1.0] {
            assert_eq!(readout_resolution(&ramp(resolution)), resolution);
        }
        let through_f32: Vec<f64> = ramp(0.1).iter().map(|&v| f64::from(v as f32)).collect();
        assert_eq!(readout_resolution(&through_f32), 0.1);
        let ounces: Vec<f64> = ramp(0.1).iter().map(|v| v * 28.349523125).collect();
        assert!((readout_resolution(&ounces) - 2.8349523125).abs() < 1e-5);
    }

    #[test]
    fn a_resolution_is_found_if_every_move_is_many_units() {
        for (resolution, slope) in [(0.1, 0.97), (0.01, 0.153), (0.5, 5.7)] {
            let y: Vec<f64> =
                (0..100).map(|i| (f64::from(i) * slope / resolution).round() * resolution).collect();
            assert_eq!(readout_resolution(&y), resolution);
        }
    }

    #[test]
    fn a_smooth_log_has_no_resolution() {
        let y: Vec<f64> =
            (0..400).map(|i| f64::from(i) * 0.073 + (f64::from(i * i) * 0.7).sin() * 0.05).collect();
        assert_eq!(readout_resolution(&y), 0.0);
        assert_eq!(readout_resolution(&[5.0; 50]), 0.0);
    }

    #[test]
    fn an_unusual_resolution_is_found_even_if_no_move_is_a_single_unit() {
        // Moves of one unit, of two and three, of three and four, all exact in binary: the resolution must be their
        // common divisor.
        for moves in [[1, 1], [2, 3], [3, 4]] {
            let y: Vec<f64> = (0..100)
                .map(|i| 0.375 * f64::from((i / 2) * (moves[0] + moves[1]) + (i % 2) * moves[0]))
                .collect();
            assert_eq!(readout_resolution(&y), 0.375, "{moves:?}");
        }
    }

    #[test]
    fn a_level_flow_on_regular_rows_does_not_coarsen_the_readout() {
        // 6 g/s at ten rows a second on .1 g moves by .6 g each; 3 g/s by .3 g. No display steps so.
        for (move_g, expected) in [(0.6, 0.2), (0.3, 0.1), (0.5, 0.5), (0.04, 0.02)] {
            let y: Vec<f64> = (0..100).map(|i| move_g * f64::from(i)).collect();
            assert_eq!(readout_resolution(&y), expected, "{move_g}");
        }
    }

    #[test]
    fn a_resolution_is_read_to_six_digits_however_large_or_small() {
        let found = [0.1 + 3e-9, 2.834_952_312_5, 1e-3 + 1e-11, 300_000.2, 4_000_001.0].map(neat);
        assert_eq!(found, [0.1, 2.834_95, 1e-3, 300_000.0, 4_000_000.0]);
    }
}
