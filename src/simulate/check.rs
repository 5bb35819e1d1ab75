//! In: a recipe. Out: whether each of its numbers is valid.

use crate::error::{Error, Result};
use crate::simulate::range::{Count, Range};
use crate::simulate::recipe::Recipe;

/// Longest log, s: one hour.
const LONGEST_S: f64 = 3600.0;
/// Largest count.
const MAX_COUNT: u32 = 1000;

fn one(name: &str, value: f64, low: f64, high: f64) -> Result<()> {
    if value >= low && value <= high {
        return Ok(());
    }
    let rule = if low == f64::MIN_POSITIVE {
        format!("it must be above 0 and at most {high}")
    } else {
        format!("it must be from {low} to {high}")
    };
    Err(Error::OutOfRange { name: name.into(), value, rule, row: 0 })
}

fn range(name: &str, range: Range, low: f64, high: f64) -> Result<()> {
    one(name, range[0], low, high)?;
    one(name, range[1], low, high)?;
    if range[0] > range[1] {
        let message = format!("a range has its lower end first, not {} before {}", range[0], range[1]);
        return Err(Error::Argument { name: name.into(), message });
    }
    Ok(())
}

fn count(name: &str, count: Count, low: u32) -> Result<()> {
    range(name, count.map(f64::from), f64::from(low), f64::from(MAX_COUNT))
}

/// Checks all numbers of a recipe.
pub(super) fn recipe(recipe: &Recipe) -> Result<()> {
    let above_0 = f64::MIN_POSITIVE;
    let (hand, scale, bed, faults) = (&recipe.hand, &recipe.scale, &recipe.bed, &recipe.faults);

    for pour in &hand.planned {
        one("hand.planned.rest_s", pour.rest_s, 0.0, LONGEST_S)?;
        one("hand.planned.mass_g", pour.mass_g, above_0, 1e4)?;
        one("hand.planned.flow_g_per_s", pour.flow_g_per_s, above_0, 1e3)?;
        one("hand.planned.rise_s", pour.rise_s, 0.0, 60.0)?;
        one("hand.planned.fall_s", pour.fall_s, 0.0, 60.0)?;
    }
    count("hand.pours", hand.pours, 0)?;
    count("hand.tremor_waves", hand.tremor_waves, 1)?;
    for (name, value, low, high) in [
        ("hand.mass_g", hand.mass_g, above_0, 1e4),
        ("hand.flow_g_per_s", hand.flow_g_per_s, above_0, 1e3),
        ("hand.rise_s", hand.rise_s, 0.0, 60.0),
        ("hand.fall_s", hand.fall_s, 0.0, 60.0),
        ("hand.rest_s", hand.rest_s, 0.0, LONGEST_S),
        ("hand.tremor", hand.tremor, 0.0, 1.0),
        ("hand.tremor_hz", hand.tremor_hz, above_0, 100.0),
        ("hand.tilt", hand.tilt, -1.0, 1.0),
        ("hand.stream_m_per_s", hand.stream_m_per_s, 0.0, 100.0),
        ("hand.before_s", hand.before_s, 0.0, LONGEST_S),
        ("hand.after_s", hand.after_s, 0.0, LONGEST_S),
        ("scale.lag_s", scale.lag_s, 0.0, 10.0),
        ("scale.offset_g", scale.offset_g, -1e5, 1e5),
        ("bed.water_to_dose_g_per_g", bed.water_to_dose_g_per_g, 0.1, 1e3),
        ("bed.holds_g_per_g", bed.holds_g_per_g, 0.0, 100.0),
        ("bed.flow_at_50_g_per_s", bed.flow_at_50_g_per_s, above_0, 1e3),
        ("bed.exponent", bed.exponent, 0.0, 1.0),
        ("bed.delay_s", bed.delay_s, 0.0, 600.0),
        ("bed.yield_pct", bed.yield_pct, 0.0, 100.0),
        ("bed.water_c", bed.water_c, 0.0, 100.0),
        ("faults.preparation.rinse_g", faults.preparation.rinse_g, above_0, 1e4),
        ("faults.preparation.rinse_flow_g_per_s", faults.preparation.rinse_flow_g_per_s, above_0, 1e3),
        ("faults.preparation.dose_s", faults.preparation.dose_s, 0.0, 60.0),
        ("faults.preparation.wait_s", faults.preparation.wait_s, 0.0, 600.0),
        ("faults.knocks.size_g", faults.knocks.size_g, 0.0, 1e5),
        ("faults.gaps.duration_s", faults.gaps.duration_s, 0.0, LONGEST_S),
        ("faults.lifts.fall_g", faults.lifts.fall_g, 0.0, 1e5),
        ("faults.lifts.duration_s", faults.lifts.duration_s, 0.0, 600.0),
        ("faults.lifts.hand_s", faults.lifts.hand_s, 0.0, 60.0),
        ("faults.lifts.swirl_g", faults.lifts.swirl_g, 0.0, 1e5),
        ("faults.lifts.swirl_hz", faults.lifts.swirl_hz, 0.0, 100.0),
        ("faults.lifts.swirl_s", faults.lifts.swirl_s, 0.0, 600.0),
        ("faults.lifts.swung_g", faults.lifts.swung_g, 0.0, 1e5),
        ("faults.lifts.loses_g", faults.lifts.loses_g, 0.0, 1e5),
        ("faults.swirls.size_g", faults.swirls.size_g, 0.0, 1e5),
        ("faults.swirls.hz", faults.swirls.hz, 0.0, 100.0),
        ("faults.swirls.duration_s", faults.swirls.duration_s, 0.0, 600.0),
        ("faults.drift.reach_g", faults.drift.reach_g, 0.0, 1e4),
        ("faults.stuck.duration_s", faults.stuck.duration_s, 0.0, 600.0),
        ("faults.stamps.late_s", faults.stamps.late_s, 0.0, 60.0),
        ("faults.removal.fall_g", faults.removal.fall_g, 0.0, 1e5),
        ("faults.removal.after_s", faults.removal.after_s, 0.0, 600.0),
    ] {
        range(name, value, low, high)?;
    }
    for (name, value, low, high) in [
        ("scale.rate_hz", scale.rate_hz, above_0, 1e3),
        ("scale.noise_sd_g", scale.noise_sd_g, 0.0, 1e4),
        ("scale.step_g", scale.step_g, 0.0, 1e4),
        ("scale.jitter", scale.jitter, 0.0, 1.0),
        ("scale.stamp_error", scale.stamp_error, 0.0, 1.0),
        ("scale.stamp_step_s", scale.stamp_step_s, 0.0, 10.0),
        ("meta.dose_g", recipe.meta.dose_g.unwrap_or(1.0), 0.0, 1e5),
        ("faults.preparation.share", faults.preparation.share, 0.0, 1.0),
        ("faults.preparation.rinse", faults.preparation.rinse, 0.0, 1.0),
        ("faults.preparation.emptied", faults.preparation.emptied, 0.0, 1.0),
        ("faults.preparation.dose", faults.preparation.dose, 0.0, 1.0),
        ("faults.preparation.zeroed_twice", faults.preparation.zeroed_twice, 0.0, 1.0),
        ("faults.preparation.through_lag", faults.preparation.through_lag, 0.0, 1.0),
        ("faults.knocks.through_lag", faults.knocks.through_lag, 0.0, 1.0),
        ("faults.lifts.swirl", faults.lifts.swirl, 0.0, 1.0),
        ("faults.lifts.swung", faults.lifts.swung, 0.0, 1.0),
        ("faults.lifts.through_lag", faults.lifts.through_lag, 0.0, 1.0),
        ("faults.swirls.through_lag", faults.swirls.through_lag, 0.0, 1.0),
        ("faults.zeroings.through_lag", faults.zeroings.through_lag, 0.0, 1.0),
        ("faults.drift.walk", faults.drift.walk, 0.0, 1.0),
        ("faults.removal.share", faults.removal.share, 0.0, 1.0),
    ] {
        one(name, value, low, high)?;
    }
    for (name, value, low) in [
        ("faults.knocks.count", faults.knocks.count, 0),
        ("faults.knocks.samples", faults.knocks.samples, 1),
        ("faults.gaps.count", faults.gaps.count, 0),
        ("faults.lifts.count", faults.lifts.count, 0),
        ("faults.swirls.count", faults.swirls.count, 0),
        ("faults.zeroings.count", faults.zeroings.count, 0),
        ("faults.stuck.count", faults.stuck.count, 0),
        ("faults.stamps.repeated", faults.stamps.repeated, 0),
        ("faults.stamps.doubled", faults.stamps.doubled, 0),
        ("faults.stamps.swapped", faults.stamps.swapped, 0),
        ("faults.stamps.packet", faults.stamps.packet, 1),
    ] {
        count(name, value, low)?;
    }
    for (name, at_s) in [
        ("faults.knocks.at_s", &faults.knocks.at_s),
        ("faults.gaps.at_s", &faults.gaps.at_s),
        ("faults.lifts.at_s", &faults.lifts.at_s),
        ("faults.swirls.at_s", &faults.swirls.at_s),
        ("faults.zeroings.at_s", &faults.zeroings.at_s),
        ("faults.stuck.at_s", &faults.stuck.at_s),
    ] {
        at_s.iter().try_for_each(|&at| one(name, at, 0.0, LONGEST_S))?;
    }
    longest(recipe)
}

/// Checks the duration of the longest log that the recipe can give.
fn longest(recipe: &Recipe) -> Result<()> {
    let hand = &recipe.hand;
    let pours_s: f64 = if hand.planned.is_empty() {
        let one_s = hand.rest_s[1] + hand.mass_g[1] / hand.flow_g_per_s[0] + hand.rise_s[1] + hand.fall_s[1];
        f64::from(hand.pours[1]) * one_s
    } else {
        hand.planned.iter().map(|p| p.rest_s + p.mass_g / p.flow_g_per_s + p.rise_s + p.fall_s).sum()
    };
    let p = &recipe.faults.preparation;
    let setup_s = hand.before_s[1] + p.rinse_g[1] / p.rinse_flow_g_per_s[0] + 3.0 * p.wait_s[1];
    let whole_s = setup_s + hand.before_s[1] + pours_s + hand.after_s[1];
    if whole_s <= LONGEST_S {
        return Ok(());
    }
    let message = format!("the log may last {whole_s:.0} s, but the limit is {LONGEST_S} s");
    Err(Error::Argument { name: "hand".into(), message })
}

#[cfg(test)]
mod tests {
    use crate::simulate::fault_recipe::Faults;
    use crate::simulate::level::Level;
    use crate::simulate::make::simulate;
    use crate::simulate::recipe::Recipe;

    fn refused(change: impl Fn(&mut Recipe)) -> String {
        let mut recipe = Recipe::default();
        change(&mut recipe);
        let error = simulate(&recipe, 1).expect_err("an invalid recipe");
        format!("{}: {error}", error.kind())
    }

    #[test]
    fn an_invalid_recipe_is_an_error_with_the_name() {
        let cases = [
            (refused(|r| r.scale.rate_hz = 0.0), "out_of_range: scale.rate_hz is 0: it must be above 0"),
            (refused(|r| r.scale.noise_sd_g = f64::NAN), "out_of_range: scale.noise_sd_g is NaN"),
            (refused(|r| r.hand.mass_g = [60.0, 40.0]), "argument: hand.mass_g: a range has its lower end"),
            (refused(|r| r.hand.flow_g_per_s[1] = f64::INFINITY), "out_of_range: hand.flow_g_per_s is inf"),
            (refused(|r| r.hand.rest_s = [6.0, 3500.0]), "argument: hand: the log may last"),
            (refused(|r| r.faults.knocks.at_s = vec![1.0, -2.0]), "out_of_range: faults.knocks.at_s is -2"),
            (refused(|r| r.faults.gaps.count = [0, 2_000_000_000]), "out_of_range: faults.gaps.count"),
        ];
        for (found, expected) in cases {
            assert!(found.starts_with(expected), "{found}");
        }
    }

    #[test]
    fn every_built_in_recipe_is_valid_and_survives_json() {
        let all = Recipe { faults: Faults::all(), ..Recipe::default() };
        for recipe in Level::ALL.map(Level::recipe).into_iter().chain([all, Recipe::default()]) {
            let text = serde_json::to_string(&recipe).unwrap();
            let back: Recipe = serde_json::from_str(&text).unwrap();
            assert_eq!(back, recipe);
            assert!((0..5).all(|seed| simulate(&recipe, seed).is_ok()));
        }
        assert!(serde_json::from_str::<Recipe>(r#"{"scale": {"rate": 10}}"#).is_err(), "an unknown field");
    }

    /// Whether each value of a field, as both ends of its range if it has one, is within the limits of the field.
    fn within(path: &str, values: &[f64]) -> Vec<bool> {
        let pointer = format!("/{}", path.replace('.', "/"));
        let is_within = |value: &f64| {
            let mut all = serde_json::to_value(Recipe::default()).unwrap();
            let field = all.pointer_mut(&pointer).unwrap_or_else(|| panic!("there is no {path}"));
            let is_count = field[0].is_u64();
            let one = if is_count { serde_json::json!(*value as u32) } else { serde_json::json!(value) };
            *field = if field.is_array() { serde_json::json!([one, one]) } else { one };
            let found = super::recipe(&serde_json::from_value(all).unwrap());
            // The rule for the duration of the log is another one.
            !matches!(found, Err(crate::error::Error::OutOfRange { name, .. }) if name == path)
        };
        values.iter().map(is_within).collect()
    }

    #[test]
    fn each_field_is_checked_against_both_of_its_limits() {
        let closed: [(&[&str], f64, f64); 13] = [
            (&["hand.rise_s", "hand.fall_s", "faults.preparation.dose_s", "faults.lifts.hand_s"], 0.0, 60.0),
            (&["hand.rest_s", "hand.before_s", "hand.after_s", "faults.gaps.duration_s"], 0.0, 3600.0),
            (&["hand.tremor", "bed.exponent", "scale.jitter", "scale.stamp_error"], 0.0, 1.0),
            (&["hand.tilt"], -1.0, 1.0),
            (&["hand.stream_m_per_s", "bed.holds_g_per_g", "bed.yield_pct", "bed.water_c"], 0.0, 100.0),
            (&["faults.lifts.swirl_hz", "faults.swirls.hz"], 0.0, 100.0),
            (&["scale.lag_s", "scale.stamp_step_s"], 0.0, 10.0),
            (&["scale.offset_g"], -1e5, 1e5),
            (&["bed.water_to_dose_g_per_g"], 0.1, 1e3),
            (
                &[
                    "bed.delay_s",
                    "faults.preparation.wait_s",
                    "faults.lifts.duration_s",
                    "faults.lifts.swirl_s",
                    "faults.swirls.duration_s",
                    "faults.stuck.duration_s",
                    "faults.removal.after_s",
                ],
                0.0,
                600.0,
            ),
            (
                &[
                    "faults.knocks.size_g",
                    "faults.lifts.fall_g",
                    "faults.lifts.swirl_g",
                    "faults.lifts.swung_g",
                    "faults.lifts.loses_g",
                    "faults.swirls.size_g",
                    "faults.removal.fall_g",
                ],
                0.0,
                1e5,
            ),
            (&["faults.drift.reach_g", "scale.noise_sd_g", "scale.step_g"], 0.0, 1e4),
            (
                &[
                    "faults.preparation.share",
                    "faults.preparation.rinse",
                    "faults.preparation.emptied",
                    "faults.preparation.dose",
                    "faults.preparation.zeroed_twice",
                    "faults.preparation.through_lag",
                    "faults.knocks.through_lag",
                    "faults.lifts.swirl",
                    "faults.lifts.swung",
                    "faults.lifts.through_lag",
                    "faults.swirls.through_lag",
                    "faults.zeroings.through_lag",
                    "faults.drift.walk",
                    "faults.removal.share",
                ],
                0.0,
                1.0,
            ),
        ];
        for (paths, low, high) in closed {
            for path in paths {
                let values = [low - 0.01, low, high, high + 0.01 * high.abs()];
                assert_eq!(within(path, &values), [false, true, true, false], "{path}");
            }
        }
        let above_0: [(&[&str], f64); 4] = [
            (&["hand.mass_g", "faults.preparation.rinse_g"], 1e4),
            (&["hand.flow_g_per_s", "bed.flow_at_50_g_per_s", "faults.preparation.rinse_flow_g_per_s"], 1e3),
            (&["hand.tremor_hz"], 100.0),
            (&["scale.rate_hz"], 1e3),
        ];
        for (paths, high) in above_0 {
            for path in paths {
                let values = [0.0, 1e-3, high, 1.01 * high];
                assert_eq!(within(path, &values), [false, true, true, false], "{path}");
            }
        }
        for (path, low) in [
            ("hand.pours", 0),
            ("hand.tremor_waves", 1),
            ("faults.knocks.count", 0),
            ("faults.knocks.samples", 1),
            ("faults.gaps.count", 0),
            ("faults.lifts.count", 0),
            ("faults.swirls.count", 0),
            ("faults.zeroings.count", 0),
            ("faults.stuck.count", 0),
            ("faults.stamps.repeated", 0),
            ("faults.stamps.doubled", 0),
            ("faults.stamps.swapped", 0),
            ("faults.stamps.packet", 1),
        ] {
            assert_eq!(within(path, &[f64::from(low), 1000.0, 1001.0]), [true, true, false], "{path}");
            assert!(low == 0 || within(path, &[0.0]) == [false], "{path}");
        }
    }

    #[test]
    fn instants_and_planned_pours_are_checked_against_their_limits() {
        use crate::simulate::recipe::PlannedPour;
        let knock = |at_s: f64| {
            let mut recipe = Recipe::default();
            recipe.faults.knocks.at_s = vec![at_s];
            super::recipe(&recipe).is_ok()
        };
        assert_eq!([-0.1, 0.0, 3600.0, 3600.1].map(knock), [false, true, true, false]);
        let planned = |change: fn(&mut PlannedPour, f64), value: f64| {
            let mut recipe = Recipe::default();
            let mut pour =
                PlannedPour { rest_s: 5.0, mass_g: 10.0, flow_g_per_s: 10.0, rise_s: 0.1, fall_s: 0.1 };
            change(&mut pour, value);
            recipe.hand.planned = vec![pour];
            !matches!(super::recipe(&recipe), Err(crate::error::Error::OutOfRange { .. }))
        };
        let ends = [false, true, true, false];
        assert_eq!([-0.1, 0.0, 3600.0, 3600.1].map(|v| planned(|p, v| p.rest_s = v, v)), ends);
        assert_eq!([0.0, 1e-3, 1e4, 10_001.0].map(|v| planned(|p, v| p.mass_g = v, v)), ends);
        assert_eq!([0.0, 1e-3, 1e3, 1001.0].map(|v| planned(|p, v| p.flow_g_per_s = v, v)), ends);
        assert_eq!([-0.1, 0.0, 60.0, 60.1].map(|v| planned(|p, v| p.rise_s = v, v)), ends);
        assert_eq!([-0.1, 0.0, 60.0, 60.1].map(|v| planned(|p, v| p.fall_s = v, v)), ends);
        let dose = |dose_g: f64| {
            let mut recipe = Recipe::default();
            recipe.meta.dose_g = Some(dose_g);
            super::recipe(&recipe).is_ok()
        };
        assert_eq!([-0.1, 0.0, 1e5, 100_001.0].map(dose), ends);
    }

    #[test]
    fn the_longest_log_of_a_recipe_follows_from_its_slowest_draws() {
        // Drawn: 10 + 100/5 + 2 x 3 s = 36 s per pour; before it twice 100 s, a rinse of 40 g at 4 g/s and three
        // waits of 20 s; after it 200 s.
        let of = |pours: u32| {
            let mut r = Recipe::default();
            (r.hand.pours, r.hand.rest_s, r.hand.mass_g) = ([1, pours], [1.0, 10.0], [10.0, 100.0]);
            (r.hand.flow_g_per_s, r.hand.rise_s, r.hand.fall_s) = ([5.0, 9.0], [0.1, 3.0], [0.1, 3.0]);
            (r.hand.before_s, r.hand.after_s) = ([1.0, 100.0], [1.0, 200.0]);
            let p = &mut r.faults.preparation;
            (p.rinse_g, p.rinse_flow_g_per_s, p.wait_s) = ([10.0, 40.0], [4.0, 8.0], [1.0, 20.0]);
            super::longest(&r).err().map(|e| e.to_string())
        };
        // 470 + 36 n: 3602 s with 87 pours.
        assert_eq!(of(86), None);
        assert!(of(87).is_some_and(|e| e.contains("3602 s")), "{:?}", of(87));
    }

    #[test]
    fn planned_pours_last_as_long_as_their_numbers_say() {
        use crate::simulate::PlannedPour;
        // 5 s of rest, 100 g at 4 g/s, ramps of 1 and 2 s: 33 s each.
        let of = |pours: usize| {
            let pour =
                PlannedPour { rest_s: 5.0, mass_g: 100.0, flow_g_per_s: 4.0, rise_s: 1.0, fall_s: 2.0 };
            let mut r = Recipe::default();
            r.hand.planned = vec![pour; pours];
            (r.hand.before_s, r.hand.after_s) = ([1.0, 100.0], [1.0, 200.0]);
            let p = &mut r.faults.preparation;
            (p.rinse_g, p.rinse_flow_g_per_s, p.wait_s) = ([10.0, 40.0], [4.0, 8.0], [1.0, 20.0]);
            super::longest(&r).err().map(|e| e.to_string())
        };
        // 470 + 33 n: 3605 s with 95 pours.
        assert_eq!(of(94), None);
        assert!(of(95).is_some_and(|e| e.contains("3605 s")), "{:?}", of(95));
    }
}
