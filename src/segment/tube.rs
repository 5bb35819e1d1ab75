//! In: readings that are rounded coarsely. Out: readings without the pattern of their rounding.
//!
//! Behind a level flow the errors of rounding are no noise: they repeat, and resemble an oscillation. But each reading
//! says only within which step the load lies. Of all curves through these steps the shortest, a taut string, has no such
//! pattern. Where it bends, at the edges of a pour, it cuts corners, and in a rest it leans towards the pours: readings
//! there stay as they are, and those that have no pattern.

/// Readings on each side over which the string must rise by a step or more, and how far it may bend there, in steps.
const BESIDE: usize = 4;
const STRAIGHT: f64 = 0.15;

/// The readings; those in pours from the taut string where it is straight.
pub(super) fn unrounded(time_s: &[f64], mass_g: &[f64], step_g: f64) -> Vec<f64> {
    let string = taut(time_s, mass_g, 0.5 * step_g);
    let n = mass_g.len();
    // How far a curve bends within the rows beside one.
    let bend = |of: &[f64], i: usize, (a, b): (usize, usize)| {
        let share = (time_s[i] - time_s[a]) / (time_s[b] - time_s[a]).max(f64::MIN_POSITIVE);
        (of[i] - of[a] - share * (of[b] - of[a])).abs()
    };
    let is_straight = |i: usize| {
        let beside = (i.saturating_sub(BESIDE), (i + BESIDE).min(n - 1));
        let most = |of: &[f64]| (beside.0..=beside.1).map(|k| bend(of, k, beside)).fold(0.0, f64::max);
        string[beside.1] - string[beside.0] > step_g
            && bend(&string, i, beside) < STRAIGHT * step_g
            && most(mass_g) > STRAIGHT * step_g
    };
    (0..n).map(|i| if is_straight(i) { string[i] } else { mass_g[i] }).collect()
}

/// The shortest curve from the first reading to the last that is never further than `within` from a reading.
fn taut(t: &[f64], y: &[f64], within: f64) -> Vec<f64> {
    let n = y.len();
    let mut out = vec![0.0; n];
    let (mut from, mut z) = (0, y[0]);
    out[0] = z;
    'anchors: while from + 1 < n {
        let (mut least, mut most) = ((f64::NEG_INFINITY, from), (f64::INFINITY, from));
        for j in from + 1..n {
            let dt = (t[j] - t[from]).max(1e-9);
            let last = if j + 1 == n { 0.0 } else { within };
            let (low, high) = ((y[j] - last - z) / dt, (y[j] + last - z) / dt);
            let bent = if low > most.0 {
                Some((most, within))
            } else if high < least.0 {
                Some((least, -within))
            } else {
                None
            };
            if let Some(((slope, at), side)) = bent {
                lay(&mut out, t, (from, z), slope, at);
                (from, z) = (at, y[at] + side);
                out[at] = z;
                continue 'anchors;
            }
            if low > least.0 {
                least = (low, j);
            }
            if high < most.0 {
                most = (high, j);
            }
        }
        let slope = (y[n - 1] - z) / (t[n - 1] - t[from]).max(1e-9);
        lay(&mut out, t, (from, z), slope, n - 1);
        from = n - 1;
    }
    out
}

/// A straight part.
fn lay(out: &mut [f64], t: &[f64], (from, z): (usize, f64), slope: f64, to: usize) {
    for k in from + 1..=to {
        out[k] = z + slope * (t[k] - t[from]);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_level_flow_has_no_pattern_of_its_rounding() {
        // 5.83 g/s from 2 s to 12 s, ten readings a second, rounded to .5 g: errors repeat every .6 s.
        let time_s: Vec<f64> = (0..140).map(|i| 0.1 * f64::from(i)).collect();
        let load: Vec<f64> = time_s.iter().map(|t| 5.83 * (t - 2.0).clamp(0.0, 10.0)).collect();
        let shown: Vec<f64> = load.iter().map(|g| (2.0 * g).round() / 2.0).collect();
        let found = unrounded(&time_s, &shown, 0.5);
        let rms = |of: &[f64]| {
            let error = |i: usize| (of[i] - load[i]).powi(2);
            ((30..110).map(error).sum::<f64>() / 80.0).sqrt()
        };
        // Uniform within the step: .5 / sqrt(12), about.
        assert!((rms(&shown) - 0.144).abs() < 0.02 && rms(&found) < 0.05, "{} {}", rms(&shown), rms(&found));
        // No value leaves its step; rests and corners stay.
        assert!(found.iter().zip(&shown).all(|(a, b)| (a - b).abs() <= 0.25 + 1e-9));
        assert!(found[..19] == shown[..19] && found[125..] == shown[125..]);
    }

    #[test]
    fn the_string_through_three_gates_bends_at_the_middle_one() {
        // By hand: from 0 to 0 past 2 +- .5 the shortest way touches 1.5.
        let taut = taut(&[0.0, 1.0, 2.0, 3.0, 4.0], &[0.0, 0.75, 2.0, 0.75, 0.0], 0.5);
        assert_eq!(taut, [0.0, 0.75, 1.5, 0.75, 0.0]);
    }
}
