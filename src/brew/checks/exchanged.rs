//! Whether the beverage exceeds the water poured so far.

use crate::brew::checks::found::Found;
use crate::condition::trace::Flag;
use crate::math::robust::median;

/// Tolerance between two scales, g: drift of the zero, drops outside the server.
const LEAST_G: f64 = 5.0;
/// Noise allowed, in sd of a difference.
const SDS: f64 = 8.0;
/// Least duration of the excess, s.
const LASTS_S: f64 = 2.0;
/// Readings that set the zero.
const READINGS: usize = 5;

/// The beverage exceeds the water: the columns are exchanged if the water never exceeds the beverage, else a vessel was
/// moved.
pub(super) fn exchanged(found: &Found) -> Option<String> {
    let trace = found.trace;
    let (water, beverage) = (trace.water.as_ref()?, trace.beverage.as_ref()?);
    let noise_g = water.noise_sd_g.value.hypot(beverage.noise_sd_g.value);
    let limit_g = LEAST_G.max(SDS * noise_g);
    let used: Vec<usize> = (0..trace.time_s.len())
        .filter(|&i| water.flag[i] == Flag::Used && beverage.flag[i] == Flag::Used)
        .collect();
    // Each from its own first readings: the trace sets the zero before the first rise of the water column, which may be
    // exchanged.
    let zero_g =
        |mass_g: &[f64]| median(&mut used.iter().take(READINGS).map(|&i| mass_g[i]).collect::<Vec<_>>());
    let (water_zero_g, beverage_zero_g) = (zero_g(&water.mass_g), zero_g(&beverage.mass_g));
    let ahead_g = |i: usize| (beverage.mass_g[i] - beverage_zero_g) - (water.mass_g[i] - water_zero_g);
    let used: Vec<(f64, f64)> = used.iter().map(|&i| (trace.time_s[i], ahead_g(i))).collect();
    let (at_s, ahead_g) = lasting(&used, limit_g)?;
    let behind: Vec<(f64, f64)> = used.iter().map(|&(t, ahead)| (t, -ahead)).collect();
    let excess = format!(
        "from {:.1} s the beverage weighs up to {ahead_g:.1} g more than the water poured by then",
        found.since_start(at_s)
    );
    Some(match lasting(&behind, limit_g) {
        None => format!("the two columns look exchanged: {excess}, and never less. Exchange them"),
        Some(_) => format!(
            "{excess}: a vessel was moved, water is missing from the log, or columns are exchanged; check which"
        ),
    })
}

/// The first instant from which a difference stays above a limit, s, and its maximum while it does, g.
fn lasting(ahead: &[(f64, f64)], limit_g: f64) -> Option<(f64, f64)> {
    let mut from = 0;
    let long = (0..ahead.len()).find(|&i| {
        if ahead[i].1 <= limit_g {
            from = i + 1;
        }
        from <= i && ahead[i].0 - ahead[from].0 >= LASTS_S
    })?;
    let on = ahead[long..].iter().take_while(|a| a.1 > limit_g);
    Some((ahead[from].0, on.fold(ahead[long].1, |most, a| most.max(a.1))))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_lead_lasts_from_its_first_sample_and_has_the_size_of_its_maximum() {
        let of = |ahead: &[f64]| {
            let ahead: Vec<(f64, f64)> =
                ahead.iter().enumerate().map(|(i, a)| (0.5 * i as f64, *a)).collect();
            lasting(&ahead, 5.0)
        };
        // From 1.0 s on for two seconds; it grows further, and values after its fall do not count.
        assert_eq!(of(&[0.0, 5.0, 6.0, 6.0, 7.0, 6.0, 6.0, 9.0, 4.0, 20.0]), Some((1.0, 9.0)));
        assert_eq!(of(&[6.0, 6.0, 7.0, 6.0, 8.0]), Some((0.0, 8.0)));
        // One and a half seconds are too short, and a sample at the limit separates two leads.
        assert_eq!(of(&[0.0, 6.0, 6.0, 6.0, 6.0, 5.0, 6.0, 6.0, 6.0, 6.0]), None);
    }
}
