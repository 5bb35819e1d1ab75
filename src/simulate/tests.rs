//! Each disturbance alone, and each level, agrees with its documentation.

use crate::condition::trace::{Channel, Event, EventKind};
use crate::log::record::Log;
use crate::simulate::fault_recipe::Drift;
use crate::simulate::fault_recipe::Gaps;
use crate::simulate::fault_recipe::Knocks;
use crate::simulate::fault_recipe::Lifts;
use crate::simulate::fault_recipe::Stamps;
use crate::simulate::fault_recipe::Stuck;
use crate::simulate::fault_recipe::Swirls;
use crate::simulate::fault_recipe::Zeroings;
use crate::simulate::fault_recipe::{Faults, Hits};
use crate::simulate::level::Level;
use crate::simulate::make::simulate;
use crate::simulate::recipe::{Recipe, Scale, Weighed};
use crate::simulate::truth::{TruePour, Truth};

/// A scale without rounding: any difference from it is the effect of the disturbance.
fn bare() -> Recipe {
    let scale = Scale { step_g: 0.0, lag_s: [0.2, 0.2], ..Scale::default() };
    Recipe { scale, ..Recipe::default() }
}

fn water(log: &Log) -> &[f64] {
    log.water_g().expect("water is weighed")
}

/// The log with the disturbances, the truth, and the effect on each reading of the water.
fn with(change: impl Fn(&mut Faults), seed: u64) -> (Log, Truth, Vec<f64>) {
    let mut recipe = bare();
    let (plain, _) = simulate(&recipe, seed).unwrap();
    change(&mut recipe.faults);
    let (log, truth) = simulate(&recipe, seed).unwrap();
    let difference = water(&log).iter().zip(water(&plain)).map(|(a, b)| a - b).collect();
    (log, truth, difference)
}

fn only(truth: &Truth, kind: EventKind) -> &Event {
    assert_eq!(truth.events.len(), 1, "{:?}", truth.events);
    assert_eq!(truth.events[0].kind, kind);
    &truth.events[0]
}

fn within(truth: &Truth, from: f64, to: f64) -> impl Iterator<Item = usize> {
    truth.time_s.iter().enumerate().filter(move |(_, t)| (from..=to).contains(*t)).map(|(k, _)| k)
}

#[test]
fn a_knock_moves_one_or_two_readings_and_no_other() {
    for seed in 0..20 {
        let set =
            |f: &mut Faults| f.knocks = Knocks { at_s: vec![20.0], hits: Hits::Water, ..Knocks::default() };
        let (_, truth, moved) = with(set, seed);
        let knock = only(&truth, EventKind::Knock);
        assert!((1..=2).contains(&knock.samples) && (5.0..=60.0).contains(&knock.size_g.abs()));
        let hit: Vec<usize> = within(&truth, knock.start_s, knock.end_s).collect();
        assert!((moved[hit[0]] - knock.size_g).abs() < 1e-9);
        assert!(moved.iter().enumerate().all(|(k, m)| hit.contains(&k) || *m == 0.0));
    }
}

#[test]
fn a_knock_on_the_load_decays_with_the_lag() {
    let knocks = Knocks {
        at_s: vec![20.0],
        through_lag: 1.0,
        samples: [1, 1],
        hits: Hits::Water,
        ..Knocks::default()
    };
    let (_, truth, moved) = with(|f| f.knocks = knocks.clone(), 3);
    let knock = only(&truth, EventKind::Knock);
    let hit = within(&truth, knock.start_s, knock.end_s).next().unwrap();
    let decay = (-(truth.time_s[hit + 5] - truth.time_s[hit + 1]) / truth.scale_lag_s).exp();
    // First-order lag, closed form.
    assert!((moved[hit + 5] / moved[hit + 1] - decay).abs() < 1e-6);
    assert!(moved[hit].abs() < knock.size_g.abs());
}

#[test]
fn a_lifted_vessel_comes_back_with_the_mass_it_had() {
    for seed in 0..20 {
        let (_, truth, moved) = with(|f| f.lifts = Lifts { count: [1, 1], ..Lifts::default() }, seed);
        let lift = only(&truth, EventKind::Lift);
        assert!((-600.0..=-200.0).contains(&lift.size_g));
        assert!(moved.iter().fold(0.0_f64, |low, m| low.min(*m)) < 0.99 * lift.size_g);
        for pour in &truth.pours {
            assert!(lift.end_s < pour.start_s || lift.start_s > pour.end_s, "lifted while pouring");
        }
        // Ten time constants of 0.2 s after it, less than 0.03 g of 600 g are left.
        let settled = |k: usize| moved[k].abs() < 0.03;
        assert!(within(&truth, 0.0, lift.start_s - 1e-3).all(|k| moved[k] == 0.0));
        assert!(within(&truth, lift.end_s + 2.0, f64::INFINITY).all(settled));
    }
}

#[test]
fn a_drained_vessel_comes_back_lighter() {
    let lifts = Lifts {
        count: [1, 1],
        duration_s: [5.0, 5.0],
        swirl: 0.0,
        loses_g: [80.0, 80.0],
        ..Lifts::default()
    };
    let (_, truth, moved) = with(|f| f.lifts = lifts.clone(), 2);
    let lift = only(&truth, EventKind::Lift);
    let off = within(&truth, lift.start_s + 4.0, lift.end_s - 0.5).next().unwrap();
    assert!((moved[off] - lift.size_g).abs() < 0.01, "off the scale it weighs nothing, however much it lost");
    assert!((moved.last().unwrap() + 80.0).abs() < 0.01);
}

#[test]
fn a_vessel_swung_over_the_scale_swings_the_reading() {
    let lifts =
        |swung| Lifts { count: [1, 1], duration_s: [5.0, 5.0], swirl: 0.0, swung, ..Lifts::default() };
    let spread = |swung| {
        let (_, truth, moved) = with(|f| f.lifts = lifts(swung), 2);
        let lift = only(&truth, EventKind::Lift);
        let off: Vec<f64> = within(&truth, lift.start_s + 2.5, lift.end_s - 0.5).map(|k| moved[k]).collect();
        off.iter().fold(f64::MIN, |a, b| a.max(*b)) - off.iter().fold(f64::MAX, |a, b| a.min(*b))
    };
    assert!(spread(0.0) < 0.1 && spread(1.0) > 1.0);
}

#[test]
fn a_swirl_swings_about_the_mass_and_leaves_it() {
    let (_, truth, moved) = with(|f| f.swirls = Swirls { count: [1, 1], ..Swirls::default() }, 4);
    let swirl = only(&truth, EventKind::Swirl);
    let (low, high) = moved.iter().fold((0.0_f64, 0.0_f64), |(l, h), m| (l.min(*m), h.max(*m)));
    assert!(low < -0.1 * swirl.size_g && high > 0.1 * swirl.size_g && high <= swirl.size_g);
    assert!(within(&truth, swirl.end_s + 3.0, f64::INFINITY).all(|k| moved[k].abs() < 1e-3));
}

#[test]
fn the_zero_key_moves_all_that_follows_by_one_offset() {
    let (_, truth, moved) = with(|f| f.zeroings = Zeroings { count: [1, 1], ..Zeroings::default() }, 5);
    let zeroing = only(&truth, EventKind::Zeroing);
    for (k, t) in truth.time_s.iter().enumerate() {
        let expected = if *t < zeroing.start_s { 0.0 } else { zeroing.size_g };
        assert!((moved[k] - expected).abs() < 1e-9 || (t - zeroing.start_s).abs() < 2e-3);
    }
}

#[test]
fn a_brew_with_preparation_starts_at_zero_and_its_rinse_is_no_pour() {
    let mut recipe = bare();
    recipe.faults.preparation.share = 1.0;
    let (mut emptied, mut left) = (0, 0);
    for seed in 0..40 {
        let (log, truth) = simulate(&recipe, seed).unwrap();
        let kinds: Vec<EventKind> = truth.events.iter().map(|e| e.kind).collect();
        assert!(kinds.contains(&EventKind::Preparation) && kinds.contains(&EventKind::Zeroing));
        if kinds.contains(&EventKind::Lift) {
            emptied += 1
        } else {
            left += 1
        }
        assert!(truth.pours.iter().all(|p| p.start_s > truth.brew_start_s + 3.0));
        let first = within(&truth, truth.brew_start_s + 0.01, f64::INFINITY).next().unwrap();
        assert!(water(&log)[first].abs() < 6.0 * recipe.scale.noise_sd_g, "{}", water(&log)[first]);
        let (brewed, poured): (f64, f64) =
            (*truth.water_g.last().unwrap(), truth.pours.iter().map(|p| p.mass_g).sum());
        assert!((brewed - poured).abs() < 0.3, "the rinse is not among the water of the brew");
        assert!(truth.time_s[0] < 1.0 && truth.brew_start_s > 8.0);
    }
    assert!(emptied > 15 && left > 3, "{emptied} emptied, {left} not");
}

#[test]
fn zero_drifts_by_the_size_of_the_recipe() {
    for random_walk in [0.0, 1.0] {
        let drift = Drift { reach_g: [1.5, 1.5], walk: random_walk, ..Drift::default() };
        let (_, truth, moved) = with(|f| f.drift = drift.clone(), 6);
        assert!(truth.events.iter().all(|e| e.kind == EventKind::Drift));
        let furthest = moved.iter().fold(0.0_f64, |far, m| far.max(m.abs()));
        assert!((1.4..=1.5 + 1e-9).contains(&furthest), "{furthest}");
        let line = moved[moved.len() / 2] / moved[moved.len() - 1];
        assert_eq!(random_walk == 0.0, (line - 0.5).abs() < 0.01, "{line}");
    }
}

#[test]
fn a_gap_has_no_rows_and_the_other_rows_stay() {
    let (plain, _) = simulate(&bare(), 7).unwrap();
    let (log, truth, _) = with(|f| f.gaps = Gaps { at_s: vec![10.0], ..Gaps::default() }, 7);
    let gap = only(&truth, EventKind::Gap);
    assert_eq!((gap.samples, gap.start_s), (0, 10.0));
    assert!((0.4..=1.2).contains(&(gap.end_s - gap.start_s)));
    assert!((4..=13).contains(&(plain.len() - log.len())));
    assert!(water(&log).iter().all(|x| water(&plain).contains(x)));
}

#[test]
fn a_stuck_reading_stands_still() {
    let (log, truth, _) = with(|f| f.stuck = Stuck { at_s: vec![30.0], ..Stuck::default() }, 8);
    let stuck = only(&truth, EventKind::Stuck);
    let held: Vec<f64> = within(&truth, stuck.start_s, stuck.end_s).map(|k| water(&log)[k]).collect();
    assert!(held.len() >= 4 && held.iter().all(|x| *x == held[0]));
}

#[test]
fn stamps_are_duplicated_and_rows_swapped() {
    let count =
        |log: &Log, hit: fn(f64, f64) -> bool| log.time_s().windows(2).filter(|w| hit(w[0], w[1])).count();
    let stamps = |repeated, doubled, swapped| {
        move |f: &mut Faults| f.stamps = Stamps { repeated, doubled, swapped, ..Stamps::default() }
    };
    for (change, same, back) in [
        (stamps([2, 2], [0, 0], [0, 0]), 2, 0),
        (stamps([0, 0], [1, 1], [0, 0]), 1, 0),
        (stamps([0, 0], [0, 0], [1, 1]), 0, 1),
    ] {
        let (log, truth, _) = with(change, 9);
        assert_eq!(count(&log, |a, b| a == b), same);
        assert_eq!(count(&log, |a, b| a > b), back);
        assert_eq!(truth.events.len(), same + back);
        assert_eq!(truth.flow_g_per_s.len(), log.len());
    }
}

#[test]
fn a_removed_vessel_lowers_the_reading_and_the_log_continues() {
    let mut recipe = bare();
    let (plain, _) = simulate(&recipe, 10).unwrap();
    recipe.faults.removal.share = 1.0;
    let (log, truth) = simulate(&recipe, 10).unwrap();
    assert!(log.len() > plain.len() + 15);
    let (last, before) = (water(&log)[log.len() - 1], water(&plain)[plain.len() - 1]);
    let removed = truth.events.iter().find(|e| e.channel == Channel::Water).unwrap();
    assert_eq!(removed.kind, EventKind::Removed);
    assert!((last - before - removed.size_g).abs() < 1.0, "{last} {before} {removed:?}");
}

#[test]
fn a_coarse_readout_shows_whole_grams() {
    let mut recipe = bare();
    recipe.scale.step_g = 1.0;
    let (log, _) = simulate(&recipe, 11).unwrap();
    assert!(water(&log).iter().all(|x| x.fract() == 0.0));
}

#[test]
fn a_log_may_hold_one_weight_alone() {
    for (weighed, has) in [(Weighed::Water, (true, false)), (Weighed::Beverage, (false, true))] {
        let (log, _) = simulate(&Recipe { weighed, ..bare() }, 12).unwrap();
        assert_eq!((log.water_g().is_some(), log.beverage_g().is_some()), has);
    }
}

#[test]
fn the_levels_agree_with_their_table() {
    for level in Level::ALL {
        let recipe = level.recipe();
        let (mut pours, mut lags, mut kinds) = (Vec::new(), Vec::new(), Vec::new());
        let mut per_brew = Vec::new();
        for seed in 0..40 {
            let (log, truth) = simulate(&recipe, seed).unwrap();
            per_brew.push(truth.pours.len());
            lags.push(truth.scale_lag_s);
            kinds.extend(truth.events.iter().map(|e| (e.kind, e.end_s - e.start_s)));
            for two in truth.pours.windows(2) {
                assert!(two[1].start_s - two[0].end_s > 6.0);
            }
            let rate_hz = (log.len() - 1) as f64 / (log.time_s()[log.len() - 1] - log.time_s()[0]);
            assert!((rate_hz / recipe.scale.rate_hz - 1.0).abs() < 0.15, "{rate_hz} Hz, gaps included");
            let (first, last) = (&truth.pours[0], &truth.pours[truth.pours.len() - 1]);
            assert!(first.start_s - truth.brew_start_s > 3.0);
            assert!(truth.time_s[log.len() - 1] - last.end_s > 17.0, "20 s, less what a gap may take");
            pours.extend(truth.pours);
        }
        let all = |of: fn(&TruePour) -> f64, low: f64, high: f64| {
            assert!(pours.iter().map(of).all(|x| (low..=high).contains(&x)), "{level:?}");
        };
        assert!(
            per_brew.iter().all(|n| (2..=6).contains(n)) && per_brew.contains(&2) && per_brew.contains(&6)
        );
        // A tremor moves the mass of a short pour by a fraction of its amplitude.
        let tremor = recipe.hand.tremor[1];
        all(|p| p.mass_g, 12.0 * (1.0 - tremor), 120.0 * (1.0 + tremor));
        all(|p| p.median_flow_g_per_s, 2.5 * (1.0 - tremor), 17.0 * (1.0 + 2.0 * tremor));
        all(|p| p.half_rise_s - p.start_s, 0.0, 0.45);
        let [low, high] = recipe.scale.lag_s;
        assert!(lags.iter().all(|lag| (low..=high).contains(lag)));
        let has = |kind: EventKind| kinds.iter().filter(|k| k.0 == kind).count();
        let longest = |kind| kinds.iter().filter(|k| k.0 == kind).fold(0.0_f64, |far, k| far.max(k.1));
        let (knocks, gaps) = (has(EventKind::Knock), longest(EventKind::Gap));
        match level {
            Level::Clean => assert!(kinds.is_empty()),
            Level::Hard => {
                assert!(knocks > 400 && gaps > 2.2 && gaps <= 2.5, "{knocks} {gaps}");
                assert!(has(EventKind::Lift) > 40, "one per brew besides those that empty the rinse");
                assert!(has(EventKind::Drift) == 80 && has(EventKind::Zeroing) > 80);
                assert_eq!(has(EventKind::Preparation), 40);
            }
            _ => {
                assert!((120..320).contains(&knocks) && gaps > 1.1 && gaps <= 1.2, "{knocks} {gaps}");
                assert!(kinds.iter().all(|k| matches!(k.0, EventKind::Knock | EventKind::Gap)));
            }
        }
    }
}

#[test]
fn removing_one_disturbance_leaves_the_others_unchanged() {
    let mut recipe = Level::Hard.recipe();
    let (_, all) = simulate(&recipe, 13).unwrap();
    recipe.faults.knocks = Knocks::default();
    let (_, fewer) = simulate(&recipe, 13).unwrap();
    let rest: Vec<&Event> = all.events.iter().filter(|e| e.kind != EventKind::Knock).collect();
    assert_eq!(rest, fewer.events.iter().collect::<Vec<_>>());
    assert_eq!(all.pours, fewer.pours);
}

#[test]
fn the_samples_of_a_knock_on_the_reading_after_its_first_lie_between_half_of_it_back_and_all_of_it() {
    let mut shares = Vec::new();
    for seed in 0..20 {
        let knocks = Knocks {
            at_s: vec![20.0],
            through_lag: 0.0,
            samples: [3, 3],
            hits: Hits::Water,
            ..Knocks::default()
        };
        let (_, truth, moved) = with(|f| f.knocks = knocks.clone(), seed);
        let knock = only(&truth, EventKind::Knock);
        let hit: Vec<f64> =
            within(&truth, knock.start_s, knock.end_s).map(|k| moved[k] / knock.size_g).collect();
        assert!((hit[0] - 1.0).abs() < 1e-9 && hit.len() == 3);
        shares.extend(&hit[1..]);
    }
    // Even from -0.5 to 1: mean 0.25, sd 1.5/sqrt(12); of 40 draws within four sd of the mean.
    let mean = shares.iter().sum::<f64>() / 40.0;
    assert!(shares.iter().all(|s| (-0.5..=1.0).contains(s)));
    assert!((mean - 0.25).abs() < 0.28 && shares.iter().any(|s| *s < 0.0), "{mean}");
}

#[test]
fn the_dose_is_the_water_poured_over_the_drawn_ratio() {
    let mut recipe = bare();
    (recipe.meta.dose_g, recipe.bed.water_to_dose_g_per_g) = (None, [16.0, 16.0]);
    for seed in 0..5 {
        let (log, truth) = simulate(&recipe, seed).unwrap();
        let poured_g: f64 = truth.pours.iter().map(|p| p.mass_g).sum();
        // Rounded to 0.1 g.
        assert!((log.meta.dose_g.unwrap() - poured_g / 16.0).abs() < 0.06, "{poured_g} g");
    }
}

#[test]
fn each_level_has_the_knocks_gaps_and_lifts_of_its_recipe() {
    // Usual: 1 to 4 knocks, 1 or 2 gaps. Hard: 4 to 10 knocks, of which some may be before the brew, 1 to 3 gaps,
    // one lift.
    for (level, knocks, gaps, lifts) in [
        (Level::Clean, 0..=0, 0..=0, 0),
        (Level::Usual, 1..=4, 1..=2, 0),
        (Level::Usual5Hz, 1..=4, 1..=2, 0),
        (Level::Hard, 2..=10, 1..=3, 1),
    ] {
        for seed in 0..8 {
            let (_, truth) = simulate(&level.recipe(), seed).unwrap();
            let since = truth.brew_start_s;
            let of = |kind: EventKind| {
                move |e: &&Event| e.kind == kind && e.channel == Channel::Water && e.start_s > since
            };
            let number = |kind: EventKind| truth.events.iter().filter(of(kind)).count();
            assert!(knocks.contains(&number(EventKind::Knock)), "{} {seed}", level.name());
            assert!(
                gaps.contains(&number(EventKind::Gap)),
                "{} {seed}: {}",
                level.name(),
                number(EventKind::Gap)
            );
            assert_eq!(number(EventKind::Lift), lifts, "{} {seed}", level.name());
        }
    }
}

#[test]
fn the_levels_are_those_of_their_table() {
    // The documentation of `Level`.
    let usual = Level::Usual.recipe();
    let hand = &usual.hand;
    assert_eq!((hand.pours, hand.mass_g, hand.flow_g_per_s), ([2, 6], [12.0, 120.0], [2.5, 17.0]));
    assert_eq!((hand.rise_s, hand.fall_s, hand.rest_s), ([0.1, 0.7], [0.1, 0.7], [6.0, 40.0]));
    assert_eq!((hand.tremor, hand.tilt, hand.stream_m_per_s), ([0.0, 0.12], [0.0; 2], [0.0; 2]));
    let scale = &usual.scale;
    assert_eq!((scale.lag_s, scale.noise_sd_g, scale.jitter, scale.step_g), ([0.1, 0.35], 0.06, 0.12, 0.1));
    assert_eq!((scale.stamp_error, scale.stamp_step_s, scale.offset_g), (0.0, 0.001, [0.0; 2]));
    let rates = Level::ALL.map(|level| level.recipe().scale.rate_hz);
    assert_eq!(rates, [10.0, 10.0, 10.0, 50.0, 5.0]);
    assert_eq!((usual.faults.knocks.count, usual.faults.gaps.count), ([1, 4], [1, 2]));
    let clean = Level::Clean.recipe();
    assert_eq!((clean.scale.lag_s, clean.scale.noise_sd_g, clean.scale.step_g), ([0.05, 0.15], 0.02, 0.1));
    assert_eq!(clean.faults, Faults::default());
    let hard = Level::Hard.recipe();
    assert_eq!((hard.scale.noise_sd_g, hard.hand.tremor), (0.12, [0.0, 0.3]));
    assert_eq!(
        (hard.faults.knocks.count, hard.faults.gaps.count, hard.faults.lifts.count),
        ([4, 10], [1, 3], [1, 1])
    );
    assert_eq!((hard.faults.lifts.swung, hard.faults.lifts.through_lag), (0.3, 0.7));
    assert_eq!((hard.faults.gaps.duration_s[1], usual.faults.gaps.duration_s[1]), (2.5, 1.2));
    assert_eq!((hard.faults.drift.reach_g, hard.faults.preparation.share), ([0.5, 2.0], 1.0));
}

#[test]
fn all_faults_are_each_in_every_brew() {
    let all = Faults::all();
    let counts = [
        all.knocks.count,
        all.gaps.count,
        all.lifts.count,
        all.swirls.count,
        all.zeroings.count,
        all.stuck.count,
    ];
    assert!(counts.iter().all(|[least, most]| (1..=*most).contains(least)), "{counts:?}");
    let stamps = [all.stamps.repeated, all.stamps.doubled, all.stamps.swapped];
    assert!(stamps.iter().all(|[least, most]| (1..=*most).contains(least)), "{stamps:?}");
    assert_eq!((all.preparation.share, all.removal.share), (1.0, 1.0));
    assert!(all.drift.reach_g[0] > 0.0 && all.drift.reach_g[1] > all.drift.reach_g[0]);
}

#[test]
fn the_force_of_the_stream_is_on_the_water_alone_and_runs_ahead_by_its_speed_over_g() {
    for (speed, lead_s) in [(0.0, 0.0), (1.0, 1.0 / 9.806_65)] {
        let mut recipe = bare();
        (recipe.scale.lag_s, recipe.scale.noise_sd_g, recipe.scale.jitter) = ([0.0; 2], 0.0, 0.0);
        recipe.hand.stream_m_per_s = [speed; 2];
        let (log, truth) = simulate(&recipe, 4).unwrap();
        for (k, reading_g) in water(&log).iter().enumerate() {
            let by_hand = truth.water_g[k] + lead_s * truth.flow_g_per_s[k];
            assert!((reading_g - by_hand).abs() < 1e-6, "{reading_g}, not {by_hand}");
        }
        let beverage = log.beverage_g().unwrap();
        assert!(beverage.iter().zip(&truth.beverage_g).all(|(a, b)| (a - b).abs() < 1e-6));
    }
}
