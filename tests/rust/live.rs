//! A brew watched while it is poured: its end equals the whole analysis, pours are called soon and hardly ever falsely,
//! what a scale does begins no pour, and no sample makes it panic. Truth is the simulator's.

use crate::called::{Called, at_best, quantile, run};
use crate::errors::{SETS, hold, meets, sets};
use pourline::simulate::{Drift, Faults, Gaps, Knocks, Lifts, PlannedPour, Zeroings};
use pourline::{
    Level, Live, LiveFlag, LivePhase, LiveState, Log, Meta, Missing, Options, Recipe, analyze, simulate,
};

fn watch(time_s: &[f64], water_g: &[f64]) -> Vec<LiveState> {
    let mut live = Live::new(Meta::default(), Options::default()).unwrap();
    time_s.iter().zip(water_g).map(|(&t, &w)| live.push(t, w, None).unwrap()).collect()
}

/// Equal to the last bit, or both NaN.
fn told(brew: &impl std::fmt::Debug) -> String {
    format!("{brew:?}")
}

#[test]
fn the_end_is_the_whole_analysis_to_the_last_bit_however_the_samples_came() {
    for (level, seed) in [(Level::Usual, 3), (Level::Hard, 4), (Level::Usual5Hz, 5)] {
        let (log, _) = simulate(&level.recipe(), seed).unwrap();
        let (t, w, b) = (log.time_s(), log.water_g().unwrap(), log.beverage_g().unwrap());
        let mut options = Options::default();
        options.segment.mass_g = 3.0;
        let whole = told(&analyze(&log, &options).unwrap());
        // Chunks of 1, of 7, all, and of sizes that follow no rule.
        let sizes: [&dyn Fn(usize) -> usize; 4] =
            [&|_| 1, &|_| 7, &|_| t.len(), &|k| 1 + (k * 7919 + 13) % 41];
        let mut nows = Vec::new();
        for size in sizes {
            let mut live = Live::new(log.meta.clone(), options.clone()).unwrap();
            let (mut from, mut k, mut last) = (0, 0, None);
            while from < t.len() {
                let to = (from + size(k)).min(t.len());
                last = live.extend(&t[from..to], &w[from..to], Some(&b[from..to])).unwrap();
                (from, k) = (to, k + 1);
            }
            assert_eq!(live.len(), log.len());
            assert_eq!(told(&live.finish().unwrap()), whole);
            nows.push(told(&last));
        }
        assert!(nows.iter().all(|now| *now == nows[0]), "{nows:?}");
    }
}

#[test]
fn missing_readings_and_a_brew_without_water_end_as_their_logs_do() {
    let (log, _) = simulate(&Level::Usual.recipe(), 8).unwrap();
    let t = log.time_s().to_vec();
    let (mut w, b) = (log.water_g().unwrap().to_vec(), log.beverage_g().unwrap().to_vec());
    w[50] = f64::NAN;
    let mut live = Live::new(Meta::default(), Options::default()).unwrap();
    live.extend(&t, &w, Some(&b)).unwrap();
    let flagged =
        Log::with_missing(t.clone(), Some(w), Some(b.clone()), Meta::default(), Missing::Flag).unwrap();
    assert_eq!(told(&live.finish().unwrap()), told(&analyze(&flagged, &Options::default()).unwrap()));

    let mut live = Live::new(Meta::default(), Options::default()).unwrap();
    live.extend(&t, &vec![f64::NAN; t.len()], Some(&b)).unwrap();
    let alone = Log::new(t, None, Some(b), Meta::default()).unwrap();
    assert_eq!(told(&live.finish().unwrap()), told(&analyze(&alone, &Options::default()).unwrap()));
}

#[test]
fn a_forgetful_watch_says_the_same_but_has_no_end() {
    let (log, _) = simulate(&Level::Usual.recipe(), 6).unwrap();
    let (mut keeps, mut forgets) = (
        Live::new(Meta::default(), Options::default()).unwrap(),
        Live::without_log(Meta::default(), Options::default()).unwrap(),
    );
    let (t, w) = (log.time_s(), log.water_g().unwrap());
    assert_eq!(told(&keeps.extend(t, w, None).unwrap()), told(&forgets.extend(t, w, None).unwrap()));
    assert!(keeps.finish().is_ok());
    assert!(forgets.finish().unwrap_err().to_string().starts_with("keep_log: the samples were not stored"));
}

#[test]
#[ignore = "slow"]
fn pours_are_called_as_soon_as_the_readings_allow_and_hardly_ever_falsely() {
    let recipe = Level::Usual.recipe();
    let seeds = |first| first + 7000..first + 7120;
    let all = sets(|first| run(&recipe, seeds(first)));
    hold("false calls in 120 brews", all.each_ref().map(|found| found.false_calls as f64), ..1.2);
    for (first, found) in SETS.into_iter().zip(all) {
        // One false call in 100 brews of 1000 samples at rest: a test a sample that errs once in 1e5, 4.26 sd.
        let best_s = quantile(&at_best(&recipe, seeds(first), 4.26), 0.5);
        println!("usual, 10 Hz: {}", found.says());
        println!("  the quickest test there is would take {best_s:.3} s in the median");
        assert_eq!(found.missed, 0);
        // The goal was 0.3 s. At ten samples a second even an optimal test with known pours hardly reaches it: this is as
        // near as is held.
        let median_s = quantile(&found.delay_s, 0.5);
        assert!(best_s > 0.28, "{best_s}: if that is no limit any more, hold the goal of 0.3 s");
        assert!(median_s < best_s + 0.03, "{median_s} where the best is {best_s}");
        // The whole log does not identify a start better than this; here it is called a third of a second after it.
        assert!(quantile(&found.start_error_s, 0.5).abs() < 0.1, "{}", found.says());
        let covered = Called::covered(found.in_pours);
        assert!(
            (0.90..=0.98).contains(&covered),
            "true flow within 1.96 sd in {covered} of the samples in pours"
        );
    }
}

#[test]
#[ignore = "slow"]
fn at_fifty_samples_a_second_half_of_the_pours_are_called_within_three_tenths_of_a_second() {
    for first in SETS {
        let found = run(&Level::Usual50Hz.recipe(), first + 7200..first + 7300);
        println!("usual, 50 Hz: {}", found.says());
        assert_eq!((found.missed, found.false_calls), (0, 0));
        assert!(quantile(&found.delay_s, 0.5) <= 0.3, "{}", found.says());
        let covered = Called::covered(found.in_pours);
        assert!(
            (0.90..=0.98).contains(&covered),
            "true flow within 1.96 sd in {covered} of the samples in pours"
        );
    }
}

#[test]
#[ignore = "slow"]
fn what_the_scale_does_begins_no_pour() {
    let with = |faults: Faults| Recipe { faults, ..Level::Usual.recipe() };
    let none = Faults::default;
    // The most calls of no pour in 60 brews, as counted: noise alone is allowed one in 300, and the first reading of a
    // vessel that is put back can look like an onset (150 lifts). Such calls are withdrawn, all but one at most.
    let cases = [
        (
            "knocks, 6 to 12 a brew",
            with(Faults { knocks: Knocks { count: [6, 12], ..Knocks::default() }, ..none() }),
            2,
        ),
        (
            "gaps, 4 to 8 a brew",
            with(Faults { gaps: Gaps { count: [4, 8], ..Gaps::default() }, ..none() }),
            0,
        ),
        (
            "the zero key, 2 to 3 a brew",
            with(Faults { zeroings: Zeroings { count: [2, 3], ..Zeroings::default() }, ..none() }),
            2,
        ),
        (
            "lifts, 2 to 3 a brew",
            with(Faults { lifts: Lifts { count: [2, 3], swirl: 0.0, ..Lifts::default() }, ..none() }),
            14,
        ),
        (
            "a zero that runs by 2 g",
            with(Faults { drift: Drift { reach_g: [2.0, 2.0], walk: 0.0, ..Drift::default() }, ..none() }),
            1,
        ),
    ];
    for (name, recipe, most) in cases {
        let found = run(&recipe, 7300..7360);
        println!("{name}: {}", found.says());
        meets(&format!("{name}: false calls"), &[found.false_calls as f64], ..=f64::from(most));
        assert!(found.false_calls <= found.withdrawn + 1, "{name}: {}", found.says());
        assert!(found.missed <= 3, "{name}: {}", found.says());
    }
}

/// Ten readings a second of a vessel at rest, no noise; the second half is changed.
fn rest(change: impl Fn(f64) -> f64) -> (Vec<f64>, Vec<f64>) {
    let time_s: Vec<f64> = (0..200).map(|i| 0.1 * f64::from(i)).collect();
    // A fixed pattern of a step up and down replaces noise.
    let noise = |i: usize| [0.0, 0.1, 0.0, -0.1, 0.1][i % 5];
    let water_g = time_s.iter().enumerate().map(|(i, &t)| noise(i) + if t >= 10.0 { change(t) } else { 0.0 });
    let water_g = water_g.collect();
    (time_s, water_g)
}

#[test]
fn a_vessel_that_is_zeroed_put_down_or_carried_away_keeps_the_water_and_begins_nothing() {
    for level_g in [-400.0, -30.0, 18.0, 300.0] {
        let (time_s, water_g) = rest(|_| level_g);
        let nows = watch(&time_s, &water_g);
        assert!(nows.iter().all(|now| now.began.is_none() && now.state == LivePhase::Rest), "{level_g} g");
        assert!(nows[101..105].iter().all(|now| now.flag == LiveFlag::Off), "{level_g} g");
        let last = nows[199];
        assert!(last.flag == LiveFlag::Used && last.water_g.value.abs() < 0.3, "{level_g} g: {last:?}");
    }
}

#[test]
fn a_pour_is_told_with_its_number_mass_and_end() {
    let pour = |rest_s, mass_g| PlannedPour { rest_s, mass_g, flow_g_per_s: 6.0, rise_s: 0.3, fall_s: 0.3 };
    let mut recipe = Recipe::default();
    recipe.hand.planned = vec![pour(0.0, 40.0), pour(15.0, 60.0)];
    let (log, truth) = simulate(&recipe, 11).unwrap();
    let nows = watch(log.time_s(), log.water_g().unwrap());
    let ends: Vec<f64> = nows.iter().filter_map(|now| now.ended).collect();
    assert_eq!(ends.len(), 2);
    for (end_s, pour) in ends.iter().zip(&truth.pours) {
        // The lag assumed is 0.2 s and the scale's 0.1 to 0.35 s.
        assert!((end_s - pour.end_s).abs() < 0.6, "{end_s} where {}", pour.end_s);
    }
    let second = nows.iter().rfind(|now| matches!(now.state, LivePhase::Pouring { .. })).unwrap();
    let LivePhase::Pouring { pour, mass_g, .. } = second.state else { unreachable!() };
    assert_eq!(pour, 2);
    assert!((mass_g - truth.pours[1].mass_g).abs() < 0.5, "{mass_g}");
    let poured_g: f64 = truth.pours.iter().map(|pour| pour.mass_g).sum();
    let last = nows.last().unwrap();
    assert!((last.poured_g - poured_g).abs() < 0.5 && last.provisional);
}

#[test]
fn a_given_lag_is_taken_out_instead_of_the_expected_one() {
    let mut recipe = Recipe::default();
    recipe.scale.lag_s = [0.6, 0.6];
    let (log, truth) = simulate(&recipe, 2).unwrap();
    let off = |options: Options| {
        let mut live = Live::new(Meta::default(), options).unwrap();
        let pushed = log.time_s().iter().zip(log.water_g().unwrap()).enumerate();
        let squares = pushed
            .map(|(i, (&t, &w))| (live.push(t, w, None).unwrap().water_g.value - truth.water_g[i]).powi(2));
        squares.sum::<f64>()
    };
    let mut given = Options::default();
    given.condition.scale_lag_s = Some(0.6);
    assert!(off(given) < 0.3 * off(Options::default()));
}

#[test]
fn what_no_log_may_hold_is_refused_at_once_and_the_next_sample_is_welcome() {
    let mut live = Live::new(Meta::default(), Options::default()).unwrap();
    live.push(0.0, 0.0, None).unwrap();
    for (t, w, b) in [
        (f64::NAN, 0.0, None),
        (f64::INFINITY, 0.0, None),
        (1e12, 0.0, None),
        (0.1, f64::INFINITY, None),
        (0.1, 1e9, None),
        (0.1, 0.0, Some(f64::NEG_INFINITY)),
    ] {
        let error = live.push(t, w, b).unwrap_err();
        assert!(["not_finite", "out_of_range"].contains(&error.kind()), "{error}");
        assert!(error.to_string().contains("row 2"), "{error}");
    }
    assert_eq!(live.push(0.1, 0.0, None).unwrap().flag, LiveFlag::Used);
    assert_eq!(live.len(), 2);
    assert_eq!(live.extend(&[0.2], &[0.0, 1.0], None).unwrap_err().kind(), "unequal_length");
    assert_eq!(live.extend(&[], &[], None).unwrap(), None);
    let mut wrong = Options::default();
    wrong.condition.gap_s = -1.0;
    assert_eq!(Live::new(Meta::default(), wrong).unwrap_err().kind(), "out_of_range");
}

#[test]
fn stamps_that_go_back_are_flagged_and_hostile_samples_never_panic_nor_blind_it() {
    let mut bits = 0x2545_f491_4f6c_dd1d_u64;
    let mut draw = || {
        bits ^= bits << 13;
        bits ^= bits >> 7;
        bits ^= bits << 17;
        bits
    };
    let wild = [0.0, -0.0, 1e-300, 1e7, -1e7, 3.0, 29.9, f64::NAN, 0.1, -400.0];
    let steps = [0.1, 0.1, 0.1, 0.0, -0.5, 1e-9, 3.0, 1e4];
    for _ in 0..200 {
        let mut live = Live::without_log(Meta::default(), Options::default()).unwrap();
        let (mut t, mut latest) = (0.0, f64::NEG_INFINITY);
        for _ in 0..300 {
            t += steps[draw() as usize % steps.len()];
            let now = live.push(t, wild[draw() as usize % wild.len()], None).unwrap();
            assert_eq!(now.flag == LiveFlag::Late, t <= latest);
            latest = latest.max(t);
            assert!(now.poured_g.is_finite() && now.poured_g >= 0.0);
        }
        // Back to a quiet scale: it sees again.
        let mut last = None;
        for i in 1..=1000 {
            let reading_g = 50.0 + 0.1 * f64::from(i % 2);
            last = Some(live.push(latest + 0.1 * f64::from(i), reading_g, None).unwrap());
        }
        let last = last.unwrap();
        assert!(last.flow_g_per_s.value < 0.5 && last.flow_g_per_s.sd < 5.0, "{last:?}");
        assert!(last.water_g.value.is_finite() && last.flag == LiveFlag::Used, "{last:?}");
    }
}
