//! The metrics of pouring recover the simulator's true values within their bounds.

use crate::errors::{Errors, HONEST, hold, of_sets, sets};
use pourline::simulate::TruePour;
use pourline::{
    ConditionOptions, Level, Log, Meta, Metrics, MetricsOptions, PourMetrics, Recipe, SegmentOptions,
};
use pourline::{Segments, Truth, condition, metrics, segment, simulate};

fn measured(recipe: &Recipe, seed: u64) -> (Segments, Metrics, Truth) {
    let (log, truth) = simulate(recipe, seed).unwrap();
    let trace = condition(&log, &ConditionOptions::default()).unwrap();
    let segments = segment(&trace, &SegmentOptions::default()).unwrap();
    let found = metrics(&trace, &segments, &MetricsOptions::default()).unwrap();
    (segments, found, truth)
}

/// Pours of 6 s and longer, with their truth.
fn long(recipe: &Recipe, seeds: std::ops::Range<u64>) -> Vec<(PourMetrics, TruePour)> {
    let mut out = Vec::new();
    for seed in seeds {
        let (segments, found, truth) = measured(recipe, seed);
        for (pour, row) in segments.pours.iter().zip(found.pours) {
            let same = |t: &&TruePour| (t.start_s - pour.start_s.value).abs() < 0.5;
            if let Some(t) = truth.pours.iter().find(same).filter(|t| t.end_s - t.start_s >= 6.0) {
                out.push((row, t.clone()));
            }
        }
    }
    out
}

fn mean(values: impl Iterator<Item = f64>) -> f64 {
    let all: Vec<f64> = values.collect();
    all.iter().sum::<f64>() / all.len() as f64
}

#[test]
#[ignore = "slow"]
fn usual_pours_have_their_plateau_flow_and_their_flow_cv() {
    let mut known = [0.0; 3];
    let found = sets(|first| {
        let rows = long(&Level::Usual.recipe(), first..first + 60);
        let mut all: [Errors; 2] = Default::default();
        for (row, truth) in &rows {
            all[0].push(row.plateau_flow_g_per_s.clone().unwrap(), truth.plateau_flow_g_per_s);
            if let (true, Ok(cv)) = (row.flow_cv_resolved, &row.flow_cv) {
                all[1].push(*cv, truth.flow_cv);
            }
        }
        (rows.len(), all)
    });
    let found = found.map(|(pours, all)| {
        known.rotate_left(1);
        known[2] = all[1].len() as f64 / pours as f64;
        all
    });
    of_sets("plateau flow", &found, 0)
        .hold("mean absolute error of itself", Errors::relative, ..0.01)
        .honest(0.9.., HONEST);
    of_sets("flow CV", &found, 1)
        .hold("mean absolute error", Errors::absolute, ..0.012)
        .honest(0.9.., HONEST);
    hold("flow CV resolved, share of pours", known, 0.5..);
}

#[test]
#[ignore = "slow"]
fn a_beat_that_a_quiet_scale_can_show_is_found_at_its_frequency() {
    let shares = sets(|first| {
        let (mut beats, mut found, mut right) = (0.0, 0.0, 0.0);
        for seed in first..first + 40 {
            let mut recipe = Level::Clean.recipe();
            let hz = 0.4 + 1.6 * (seed as f64 * 0.618_034).fract();
            (recipe.hand.tremor, recipe.hand.tremor_waves) = ([0.06, 0.12], [1, 1]);
            recipe.hand.tremor_hz = [hz, hz];
            for (row, _) in long(&recipe, seed..seed + 1) {
                beats += 1.0;
                if let Ok(f) = &row.pulsing_hz {
                    found += 1.0;
                    right += f64::from(u8::from((f.value - hz).abs() <= 0.05));
                }
            }
        }
        (found / beats, right / found)
    });
    hold("beats found, share", shares.map(|(found, _)| found), 0.9..);
    hold("within 0.05 Hz, share of those found", shares.map(|(_, right)| right), 0.98..);
}

#[test]
#[ignore = "slow"]
fn noise_feigns_a_beat_in_at_most_one_steady_pour_in_fifty() {
    for level in [Level::Clean, Level::Usual, Level::Hard, Level::Usual5Hz] {
        let mut recipe = level.recipe();
        recipe.hand.tremor = [0.0, 0.0];
        let shares = sets(|first| {
            let rows = long(&recipe, first..first + 40);
            rows.iter().filter(|(m, _)| m.pulsing_hz.is_ok()).count() as f64 / rows.len() as f64
        });
        hold(&format!("{}: beats found, share", level.name()), shares, ..=0.02);
    }
}

#[test]
#[ignore = "slow"]
fn a_flow_that_grows_has_its_drift() {
    let mut recipe = Level::Clean.recipe();
    (recipe.hand.tremor, recipe.hand.tilt) = ([0.0, 0.0], [0.2, 0.2]);
    recipe.scale.rate_hz = 50.0;
    let found = sets(|first| {
        let mut all: [Errors; 1] = Default::default();
        for seed in first..first + 20 {
            let truth = measured(&recipe, seed).2;
            for (row, t) in long(&recipe, seed..seed + 1) {
                let drift = slope(&truth, t.plateau_start_s, t.plateau_end_s);
                all[0].add(&row.drift_g_per_s2, drift);
            }
        }
        all
    });
    of_sets("drift", &found, 0)
        .hold("mean absolute error of itself", Errors::relative, ..0.05)
        .honest(0.9.., HONEST);
}

/// Least-squares slope of the true flow from one instant to another.
fn slope(truth: &Truth, from_s: f64, to_s: f64) -> f64 {
    let inside =
        || truth.time_s.iter().zip(&truth.flow_g_per_s).filter(|(t, _)| (from_s..=to_s).contains(*t));
    let (time, flow) = (mean(inside().map(|(t, _)| *t)), mean(inside().map(|(_, q)| *q)));
    let sum = |of: fn(f64, f64) -> f64| inside().map(|(t, q)| of(t - time, q - flow)).sum::<f64>();
    sum(|t, q| t * q) / sum(|t, _| t * t)
}

#[test]
fn short_stops_inside_a_pour_are_counted() {
    let mut recipe = Recipe::default();
    let part = |rest_s| pourline::simulate::PlannedPour {
        rest_s,
        mass_g: 30.0,
        flow_g_per_s: 8.0,
        rise_s: 0.2,
        fall_s: 0.2,
    };
    recipe.hand.planned = vec![part(0.0), part(0.8), part(20.0)];
    recipe.hand.tremor = [0.0, 0.0];
    let (segments, found, truth) = measured(&recipe, 1);
    assert_eq!((segments.pours.len(), truth.pours.len()), (2, 2));
    let (first, second) = (&found.pours[0], &found.pours[1]);
    let (pauses, paused_s) = (first.pauses.as_ref().unwrap(), first.paused_s.as_ref().unwrap());
    assert!((pauses.value - 1.0).abs() < 0.05, "{pauses}");
    // 0.8 s without flow and what the ramps stay below 0.5 g/s.
    assert!((paused_s.value - 0.825).abs() < 2.0 * paused_s.sd + 0.05, "{paused_s}");
    assert_eq!(second.pauses.as_ref().unwrap().value, 0.0);
    assert_eq!(found.pours[0].rest_before_s.as_ref().unwrap_err().reason, "no pour comes before the first");
    assert_eq!(second.rest_before_s.as_ref().unwrap(), &segments.rests[0].duration_s);
    assert_eq!(found.longest_rest_s.unwrap(), segments.rests[0].duration_s);
    // Own arithmetic: 30 and 30 g in the first pour, 30 g in the second.
    for (row, share) in found.pours.iter().zip([200.0 / 3.0, 100.0 / 3.0]) {
        let share_pct = row.water_share_pct.as_ref().unwrap();
        assert!(
            (share_pct.value - share).abs() < 0.1 && (share_pct.value - share).abs() < 3.0 * share_pct.sd,
            "{share_pct}"
        );
    }
}

#[test]
#[ignore = "slow"]
fn ramps_and_peak_are_those_of_the_hand() {
    let mut recipe = Level::Clean.recipe();
    recipe.hand.tremor = [0.0, 0.0];
    (recipe.hand.rise_s, recipe.hand.fall_s) = ([0.6, 0.6], [0.4, 0.4]);
    recipe.hand.shape = pourline::simulate::Shape::Linear;
    let found = sets(|first| {
        let rows = long(&recipe, first..first + 20);
        let mean_of = |of: fn(&PourMetrics) -> &pourline::Maybe| {
            mean(rows.iter().map(|(m, _)| of(m).as_ref().unwrap().value))
        };
        let peak = |(m, t): &(PourMetrics, TruePour)| {
            m.peak_flow_g_per_s.as_ref().unwrap().value / t.median_flow_g_per_s - 1.0
        };
        [mean_of(|m| &m.rise_s), mean_of(|m| &m.fall_s), mean(rows.iter().map(peak))]
    });
    // A straight ramp passes from 10 to 90 % in four fifths of its time.
    hold("rise s", found.map(|set| set[0]), 0.42..0.54);
    hold("fall s", found.map(|set| set[1]), 0.26..0.38);
    hold("peak over the median flow, less 1", found.map(|set| set[2]), -0.02..0.02);
}

#[test]
fn the_same_log_gives_the_same_numbers() {
    let recipe = Level::Usual.recipe();
    assert_eq!(measured(&recipe, 3).1, measured(&recipe, 3).1);
}

#[test]
fn a_pour_of_more_than_ten_minutes_has_no_flow_metrics_and_states_why() {
    for (pour_s, told) in [(500.0, true), (700.0, false)] {
        let time_s: Vec<f64> = (0..8000).map(|i| 0.1 * f64::from(i)).collect();
        let water_g = time_s.iter().map(|t| 4.0 * (t - 20.0_f64).clamp(0.0, pour_s)).collect();
        let trace = condition(
            &Log::new(time_s, Some(water_g), None, Meta::default()).unwrap(),
            &ConditionOptions::default(),
        );
        let trace = trace.unwrap();
        let segments = segment(&trace, &SegmentOptions::default()).unwrap();
        assert_eq!(segments.pours.len(), 1);
        let found = metrics(&trace, &segments, &MetricsOptions::default()).unwrap();
        let flow = &found.pours[0].plateau_flow_g_per_s;
        match flow {
            Ok(flow) => assert!(told && (flow.value - 4.0).abs() < 0.04, "4 g/s were poured, not {flow}"),
            Err(why) => assert!(!told && why.reason.contains("the limit is 600 s"), "{why}"),
        }
    }
}

#[test]
fn a_brew_without_pours_has_no_rows_and_says_why() {
    let mut recipe = Recipe::default();
    recipe.hand.pours = [0, 0];
    let found = measured(&recipe, 1).1;
    assert!(found.pours.is_empty());
    assert_eq!(found.longest_rest_s.unwrap_err().reason, "a brew of fewer than two pours has no rest");
    assert!(found.pouring_flow_g_per_s.is_err());
}

#[test]
fn an_option_outside_its_range_is_refused_by_name() {
    let (log, _) = simulate(&Recipe::default(), 1).unwrap();
    let trace = condition(&log, &ConditionOptions::default()).unwrap();
    let segments = segment(&trace, &SegmentOptions::default()).unwrap();
    let wrong = MetricsOptions { near: 0.0, ..MetricsOptions::default() };
    let error = metrics(&trace, &segments, &wrong).unwrap_err();
    assert_eq!(error.to_string(), "metrics.near is 0: it must be above 0 and at most 1");
}

#[test]
fn a_pause_with_more_flow_than_a_pour_is_refused() {
    let (log, _) = simulate(&Recipe::default(), 1).unwrap();
    let mut options = pourline::Options::default();
    options.metrics.pause_flow_g_per_s = 0.8;
    let error = pourline::analyze(&log, &options).unwrap_err().to_string();
    let expected = "metrics.pause_flow_g_per_s is 0.8: it must be at most segment.flow_g_per_s, 0.5 g/s";
    assert!(error.starts_with(expected), "{error}");
}

#[test]
fn the_masses_of_pulses_have_the_cv_of_arithmetic() {
    // 20, 20, 20 g: 0; 10, 20, 30 g: sqrt(200/3)/20, own arithmetic.
    for (masses, expected) in
        [([20.0, 20.0, 20.0], 0.0), ([10.0, 20.0, 30.0], (200.0_f64 / 3.0).sqrt() / 20.0)]
    {
        let mut recipe = Recipe::default();
        let part = |mass_g| pourline::simulate::PlannedPour {
            rest_s: 0.8,
            mass_g,
            flow_g_per_s: 8.0,
            rise_s: 0.2,
            fall_s: 0.2,
        };
        recipe.hand.planned = masses.map(part).to_vec();
        recipe.hand.tremor = [0.0, 0.0];
        let (segments, found, _) = measured(&recipe, 2);
        assert_eq!(segments.pours.len(), 1);
        let cv = found.pours[0].pulse_mass_cv.as_ref().unwrap();
        assert!((cv.value - expected).abs() < 0.02, "{cv}, not {expected:.3}");
    }
    let (_, found, _) = measured(&Recipe::default(), 2);
    assert!(found.pours[0].pulse_mass_cv.as_ref().unwrap_err().reason.contains("fewer than 3 pulses"));
}
