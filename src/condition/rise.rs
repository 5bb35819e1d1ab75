//! In: conditioned samples. Out: rough intervals in which water arrived, enough to separate rests from pours and a
//! rinse from a brew.

/// Water flows if the mass grows faster than this over the window, g/s.
const FLOWS_G_PER_S: f64 = 0.8;
/// The window, s.
const WINDOW_S: f64 = 0.6;
/// The window is longer if the noise masks such a flow; in sd of a reading.
const WINDOW_SDS: f64 = 4.0;
/// Two rises with less than this between them are one, s.
const PAUSE_S: f64 = 1.5;
/// A rise is at least this much, g.
const LEAST_G: f64 = 2.0;

/// Water that arrived (positions in the arrays given).
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Rise {
    /// Last sample before it.
    pub first: usize,
    /// First sample after it, up to the tail of the lag.
    pub last: usize,
    pub mass_g: f64,
    /// Time from 5 to 95 % of it, s.
    pub core_s: f64,
}

/// The rises of a mass without jumps.
pub(super) fn rises(t: &[f64], y: &[f64], noise_g: f64) -> Vec<Rise> {
    rises_apart(t, y, noise_g, PAUSE_S)
}

/// The same, where two rises with less than this between them are one, s.
pub(super) fn rises_apart(t: &[f64], y: &[f64], noise_g: f64, pause_s: f64) -> Vec<Rise> {
    let mut found: Vec<Rise> = Vec::new();
    let mut back = 0;
    let window_s = WINDOW_S.max(WINDOW_SDS * noise_g / FLOWS_G_PER_S);
    for i in 1..t.len() {
        while back + 1 < i && t[i] - t[back + 1] >= window_s {
            back += 1;
        }
        let grown = y[i] - y[back];
        // A window over a gap spans more time: the flow is judged over that time.
        if grown > 5.0 * noise_g && grown > FLOWS_G_PER_S * (t[i] - t[back]).max(window_s) {
            match found.last_mut() {
                Some(r) if t[back] - t[r.last] < pause_s => r.last = i,
                _ => found.push(Rise { first: back, last: i, mass_g: 0.0, core_s: 0.0 }),
            }
        }
    }
    for r in &mut found {
        r.mass_g = y[r.last] - y[r.first];
        let (low, high) = (y[r.first] + 0.05 * r.mass_g, y[r.last] - 0.05 * r.mass_g);
        let from = (r.first..r.last).find(|&i| y[i + 1] >= low).unwrap_or(r.first);
        let to = (r.first + 1..=r.last).rev().find(|&i| y[i - 1] <= high).unwrap_or(r.last);
        r.core_s = t[to] - t[from];
    }
    found.retain(|r| r.mass_g >= LEAST_G.max(6.0 * noise_g));
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_pours_are_two_rises() {
        let t: Vec<f64> = (0..400).map(|i| f64::from(i) * 0.1).collect();
        let y: Vec<f64> =
            t.iter().map(|t| 5.0 * (t - 5.0).clamp(0.0, 6.0) + 8.0 * (t - 20.0).clamp(0.0, 5.0)).collect();
        let r = rises(&t, &y, 0.05);
        assert_eq!(r.len(), 2);
        assert!((r[0].mass_g - 30.0).abs() < 0.5 && (r[1].mass_g - 40.0).abs() < 0.5);
    }

    #[test]
    fn slow_dripping_and_drift_are_no_rise() {
        let t: Vec<f64> = (0..1000).map(|i| f64::from(i) * 0.1).collect();
        let y: Vec<f64> = t.iter().map(|t| 0.2 * t).collect();
        assert!(rises(&t, &y, 0.05).is_empty());
    }

    /// A pour of `mass_g` at 8 g/s from 5 s on, 16 readings per second: half a gram per reading, to the last bit.
    fn pour(mass_g: f64) -> (Vec<f64>, Vec<f64>) {
        let t: Vec<f64> = (0..320).map(|i| f64::from(i) / 16.0).collect();
        let y = t.iter().map(|t| (8.0 * (t - 5.0)).clamp(0.0, mass_g)).collect();
        (t, y)
    }

    #[test]
    fn the_core_of_a_rise_goes_from_5_to_95_percent() {
        let (t, y) = pour(48.0);
        let r = rises(&t, &y, 0.05);
        assert_eq!((r.len(), r[0].mass_g), (1, 48.0));
        // 2.4 and 45.6 g lie between the readings of 2 and 2.5 g, 5.25 s being the former, and of 45.5 and 46 g,
        // 10.75 s being the latter.
        assert_eq!(r[0].core_s, 10.75 - 5.25);
        assert!(t[r[0].first] <= 5.0 && t[r[0].last] >= 11.0);
    }

    #[test]
    fn a_rise_has_its_least_mass_in_grams_and_in_noise() {
        let found = |mass_g: f64, noise_g: f64| {
            let (t, y) = pour(mass_g);
            rises(&t, &y, noise_g).len()
        };
        assert_eq!([1.5, 2.0, 2.5].map(|m| found(m, 0.05)), [0, 1, 1], "2 g");
        assert_eq!([2.5, 3.5].map(|m| found(m, 0.5)), [0, 1], "six sd of 0.5 g");
    }
}
