//! In: the longest path of possible samples. Out: the same without one or two readings that jump up and back.
//!
//! Among readings that rise as quickly as a strong pour, a knock of a few grams is no faster than water. But water
//! does not leave: one or two readings that lie far above their neighbours, beside steps that are small, are a knock.

use crate::condition::longest_path::LongestPath;
use crate::math::robust::median;

/// A step up and the step back, in sd of the noise, at least.
const UP_SDS: f64 = 12.0;
const BACK_SDS: f64 = 8.0;
/// The same in usual steps around it: a stream that ends takes its force with it.
const STEPS: f64 = 3.0;
/// Steps around it, on each side.
const BESIDE: usize = 5;

/// Most readings of a spike.
const MOST: usize = 2;

/// Takes such readings off the path.
pub(super) fn drop_spikes(t: &[f64], y: &[f64], noise_g: f64, path: &mut LongestPath) {
    let on: Vec<usize> = (0..t.len()).filter(|&i| path.on_path[i]).collect();
    let step: Vec<f64> = on.windows(2).map(|two| y[two[1]] - y[two[0]]).collect();
    let mut k = 1;
    while k < step.len() {
        let is_spike = |n: usize| {
            let Some(back) = step.get(k + n - 1).map(|step| -step) else { return false };
            let up = step[k - 1];
            if up < UP_SDS * noise_g || back < BACK_SDS * noise_g || (k..=k + n).any(|j| path.jump[on[j]]) {
                return false;
            }
            let beside = (k.saturating_sub(1 + BESIDE)..k - 1).chain(k + n..(k + n + BESIDE).min(step.len()));
            let mut sizes: Vec<f64> = beside.map(|j| step[j].abs()).collect();
            sizes.len() >= BESIDE && up.min(back) > STEPS * median(&mut sizes)
        };
        match (1..=MOST).find(|&n| is_spike(n)) {
            Some(n) => {
                on[k..k + n].iter().for_each(|&i| path.on_path[i] = false);
                k += n + 1;
            }
            None => k += 1,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Water of 8 g/s at ten readings a second up to 3 s, with `spike_g` more in `n` readings from 2 s; a force that reads
    /// as `force_g` acts up to the end.
    fn dropped(spike_g: f64, n: usize, force_g: f64) -> Vec<usize> {
        let t: Vec<f64> = (0..60).map(|i| f64::from(i) / 10.0).collect();
        let y: Vec<f64> = (0..60)
            .map(|i| {
                let force = if i < 30 { force_g } else { 0.0 };
                0.8 * f64::from(i.min(30))
                    + force
                    + if (20..20 + n).contains(&(i as usize)) { spike_g } else { 0.0 }
            })
            .collect();
        let mut path = LongestPath { on_path: vec![true; 60], jump: vec![false; 60] };
        drop_spikes(&t, &y, 0.05, &mut path);
        (0..60).filter(|&i| !path.on_path[i]).collect()
    }

    #[test]
    fn a_single_reading_above_its_neighbours_is_a_knock_and_the_end_of_a_force_is_none() {
        assert_eq!(dropped(5.0, 1, 0.0), [20]);
        assert_eq!(dropped(6.0, 2, 0.0), [20, 21]);
        assert!(dropped(1.5, 1, 0.0).is_empty() && dropped(6.0, 3, 0.0).is_empty());
        assert!(dropped(0.0, 1, 2.0).is_empty());
    }
}
