//! The zero key, and several brews in one log. All logs are arithmetic: straight pours at 10 Hz, steps of 0.1 g.

use pourline::{ConditionOptions, Log, Meta};

/// Pours by arithmetic (start s, mass g) at 6 g/s, and the zero key at instants: 10 Hz, steps of 0.1 g.
fn zeroed(pours: &[(f64, f64)], zeros_s: &[f64], from_g: f64) -> (Vec<f64>, Vec<f64>) {
    let water = |t: f64| pours.iter().map(|(at, g)| (6.0 * (t - at)).clamp(0.0, *g)).sum::<f64>();
    let t: Vec<f64> = (0..1400).map(|i| 0.1 * f64::from(i)).collect();
    let load = |t: f64| from_g + water(t);
    let reading = |t: f64| {
        let zero_g = zeros_s.iter().rfind(|at| **at <= t).map_or(0.0, |at| load(*at));
        (10.0 * (load(t) - zero_g)).round() / 10.0
    };
    let y = t.iter().map(|t| reading(*t)).collect();
    (t, y)
}

/// Start and mass of the detected pours.
fn poured((t, y): (Vec<f64>, Vec<f64>)) -> Vec<(f64, f64)> {
    let log = Log::new(t, Some(y), None, Meta::default()).unwrap();
    let brew = pourline::analyze(&log, &pourline::Options::default()).unwrap();
    brew.segments.pours.iter().map(|p| (p.start_s.value, p.mass_g.value)).collect()
}

#[test]
fn the_zero_key_after_a_pour_loses_no_water() {
    let pours = [(5.0, 45.0), (40.0, 60.0), (70.0, 60.0), (100.0, 60.0)];
    for zeros_s in
        [&[][..], &[25.0], &[2.0, 25.0], &[13.5], &[25.0, 60.0, 90.0, 118.0], &[60.0], &[25.0, 30.0]]
    {
        let found = poured(zeroed(&pours, zeros_s, 0.0));
        assert_eq!(found.len(), 4, "{zeros_s:?}: {found:?}");
        for ((start_s, mass_g), (at, g)) in found.iter().zip(pours) {
            assert!((start_s - at).abs() < 0.3 && (mass_g - g).abs() < 0.1, "{zeros_s:?}: {found:?}");
        }
    }
}

#[test]
fn a_quick_pour_before_the_zero_key_is_no_dose_if_the_dose_is_known() {
    // 30 g in 2 s, by arithmetic: 15 g/s. A dose of 30 g and a quick pour look alike; a dose of 15 g and this do not.
    let water = |t: f64| (15.0 * (t - 5.0)).clamp(0.0, 30.0) + (6.0 * (t - 40.0)).clamp(0.0, 60.0);
    let t: Vec<f64> = (0..700).map(|i| 0.1 * f64::from(i)).collect();
    let zero_g = |t: f64| if t >= 25.0 { 30.0 } else { 0.0 };
    let y: Vec<f64> = t.iter().map(|t| (10.0 * (water(*t) - zero_g(*t))).round() / 10.0).collect();
    let pours = |dose_g: Option<f64>| {
        let meta = Meta { dose_g, ..Meta::default() };
        let log = Log::new(t.clone(), Some(y.clone()), None, meta).unwrap();
        pourline::analyze(&log, &pourline::Options::default()).unwrap().segments.pours.len()
    };
    assert_eq!([Some(15.0), Some(30.0), None].map(pours), [2, 1, 1]);
}

#[test]
fn quick_pulses_before_the_zero_key_are_no_dose() {
    // 20 g each in 2 s, by arithmetic: 10 g/s.
    let water = |t: f64| {
        let pulse = |at: f64| (10.0 * (t - at)).clamp(0.0, 20.0);
        (6.0 * (t - 5.0)).clamp(0.0, 40.0) + pulse(30.0) + pulse(36.0) + (6.0 * (t - 60.0)).clamp(0.0, 60.0)
    };
    let t: Vec<f64> = (0..900).map(|i| 0.1 * f64::from(i)).collect();
    let y =
        t.iter().map(|t| (10.0 * (water(*t) - if *t >= 50.0 { 80.0 } else { 0.0 })).round() / 10.0).collect();
    let found = poured((t, y));
    assert_eq!(found.len(), 4, "{found:?}");
    assert!((found.iter().map(|p| p.1).sum::<f64>() - 140.0).abs() < 0.2, "{found:?}");
}

#[test]
fn water_on_a_vessel_that_was_not_zeroed_is_a_rinse_if_the_zero_key_follows() {
    let pours = [(5.0, 45.0), (40.0, 60.0), (70.0, 60.0)];
    let found = poured(zeroed(&pours, &[25.0], 350.0));
    assert_eq!(found.len(), 2, "{found:?}");
    // Without the key it is a pour.
    assert_eq!(poured(zeroed(&pours, &[], 350.0)).len(), 3);
}

/// Two pours a brew (start s, mass g) at 6 g/s; between brews the vessel of 300 g is off for a while, or not.
fn brews_in_one_log(at_s: &[f64], off: Option<(f64, f64)>, zero_s: &[f64], from_s: f64) -> Log {
    let water = |t: f64, start: f64| {
        (6.0 * (t - start)).clamp(0.0, 45.0) + (6.0 * (t - start - 35.0)).clamp(0.0, 100.0)
    };
    let last_s = at_s.last().unwrap() + 90.0;
    let t: Vec<f64> = (0..(10.0 * last_s) as usize).map(|i| from_s + 0.1 * i as f64).collect();
    let reading = |t: f64| {
        let mut load = 0.0;
        for (k, start) in at_s.iter().enumerate() {
            load += water(t, *start);
            let Some((off_s, on_s)) = off.filter(|_| k + 1 < at_s.len()) else { continue };
            let (off_s, on_s) = (start + off_s, start + on_s);
            if (off_s..on_s).contains(&t) {
                load -= 445.0;
            } else if t >= on_s {
                // The next vessel is heavier by 12 g.
                load -= 145.0 - 12.0;
            }
        }
        load
    };
    let y = t.iter().map(|t| {
        let t = t - from_s;
        let zero_g = zero_s.iter().rfind(|at| **at <= t).map_or(0.0, |at| reading(*at));
        (10.0 * (reading(t) - zero_g)).round() / 10.0
    });
    Log::new(t.clone(), Some(y.collect()), None, Meta::default()).unwrap()
}

#[test]
fn several_brews_in_one_log_are_told_apart() {
    // 20 to 400 s after the last pour, which ends 52 s after the start of a brew.
    for after_s in [20.0, 60.0, 200.0, 400.0] {
        for count in [2, 3] {
            for zeroed in [true, false] {
                let apart_s = 52.0 + after_s + 40.0;
                let at_s: Vec<f64> = (0..count).map(|k| 8.0 + apart_s * f64::from(k)).collect();
                let zero_s: Vec<f64> = at_s.iter().skip(1).filter(|_| zeroed).map(|at| at - 6.0).collect();
                let log =
                    brews_in_one_log(&at_s, Some((52.0 + after_s, 52.0 + after_s + 15.0)), &zero_s, 0.0);
                let logs = pourline::split(&log, &ConditionOptions::default()).unwrap();
                assert_eq!(logs.len(), at_s.len(), "{after_s} s, zeroed {zeroed}");
                let brews = pourline::analyze_all(&log, &pourline::Options::default()).unwrap();
                for (brew, at) in brews.iter().zip(&at_s) {
                    let found: Vec<(f64, f64)> =
                        brew.segments.pours.iter().map(|p| (p.start_s.value - at, p.mass_g.value)).collect();
                    assert_eq!(found.len(), 2, "{after_s} s, zeroed {zeroed}: {found:?}");
                    for ((start_s, mass_g), (at, g)) in found.iter().zip([(0.0, 45.0), (35.0, 100.0)]) {
                        assert!((start_s - at).abs() < 0.3 && (mass_g - g).abs() < 0.1, "{found:?}");
                    }
                    assert!(brew.warnings.is_empty(), "{:?}", brew.warnings);
                }
                let first = pourline::analyze(&log, &pourline::Options::default()).unwrap();
                assert_eq!(first.segments.pours.len(), 2);
                assert!(first.warnings[0].starts_with("another brew begins at "), "{:?}", first.warnings);
            }
        }
    }
}

#[test]
fn the_zero_key_begins_another_brew_only_after_a_long_absence() {
    for (after_s, brews) in [(60.0, 1), (110.0, 1), (125.0, 2), (300.0, 2)] {
        let at_s = [8.0, 8.0 + 52.0 + after_s];
        let log = brews_in_one_log(&at_s, None, &[at_s[1] - 10.0], 1000.0);
        let found = pourline::analyze_all(&log, &pourline::Options::default()).unwrap();
        assert_eq!(found.len(), brews, "{after_s} s");
        assert_eq!(found.iter().map(|brew| brew.segments.pours.len()).sum::<usize>(), 4, "{after_s} s");
    }
    // Without the key it is a long steep.
    let log = brews_in_one_log(&[8.0, 260.0], None, &[], 0.0);
    assert_eq!(pourline::split(&log, &ConditionOptions::default()).unwrap(), [log]);
}

#[test]
fn a_vessel_that_comes_back_as_it_was_begins_no_brew() {
    // 145 g, the vessel of 300 g off for 5 to 60 s, 40 g more.
    for away_s in [5.0, 20.0, 60.0] {
        let t: Vec<f64> = (0..2000).map(|i| 0.1 * f64::from(i)).collect();
        let y = t.iter().map(|&t| {
            let water = (6.0 * (t - 5.0)).clamp(0.0, 45.0)
                + (6.0 * (t - 40.0)).clamp(0.0, 100.0)
                + (6.0 * (t - 150.0)).clamp(0.0, 40.0);
            let away = if (80.0..80.0 + away_s).contains(&t) { 445.0 } else { 0.0 };
            (10.0 * (water - away)).round() / 10.0
        });
        let log = Log::new(t.clone(), Some(y.collect()), None, Meta::default()).unwrap();
        let brews = pourline::analyze_all(&log, &pourline::Options::default()).unwrap();
        assert_eq!((brews.len(), brews[0].segments.pours.len()), (1, 3), "{away_s} s");
    }
}
