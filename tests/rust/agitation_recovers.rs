//! Agitation of simulated brews against the simulator's truth: the flow proxies, the energy, the height of the fall,
//! what else moved the bed.

use crate::errors::{Errors, HONEST, of_sets, sets};
use pourline::simulate::{Faults, Lifts, PlannedPour, Scale, Swirls};
use pourline::{
    Brew, Level, Options, PourAgitation, Recipe, SpeedSource, Truth, analyze, analyze_many, simulate,
};
use std::f64::consts::PI;

const BREWS: u64 = 60;
/// Logs of each speed of the stream; at 50 Hz they take long.
const FALLS: u64 = 40;
const G_M_PER_S2: f64 = 9.80665;
const BORE_M: f64 = 0.006;
const HEIGHT_M: f64 = 0.1;
/// Water at 93 C: IAPWS-95.
const DENSITY_KG_PER_M3: f64 = 963.271;

/// What a pour truly was, from its true flow on a fine grid.
#[derive(Default)]
struct TrueProxies {
    impulse: f64,
    mass_weighted_flow: f64,
    above_s: f64,
    peak_to_mean_flow: f64,
    energy_j: f64,
}

fn true_proxies(fine: &Truth) -> Vec<TrueProxies> {
    let each = |pour: &pourline::simulate::TruePour| {
        let mut sums = [0.0; 4];
        let mut peak = 0.0_f64;
        for (pair, &q) in fine.time_s.windows(2).zip(&fine.flow_g_per_s) {
            if pair[0] < pour.start_s || pair[0] > pour.end_s {
                continue;
            }
            let dt = pair[1] - pair[0];
            let parts = [q, q * q, q.powi(3), f64::from(u8::from(q > 5.0))];
            sums.iter_mut().zip(parts).for_each(|(sum, part)| *sum += part * dt);
            peak = peak.max(q);
        }
        let [mass, impulse, cubed, above_s] = sums;
        // Speed at the spout to a flow of 1 g/s, m/s.
        let by_flow = 4e-3 / (PI * DENSITY_KG_PER_M3 * BORE_M * BORE_M);
        TrueProxies {
            impulse,
            mass_weighted_flow: impulse / mass,
            above_s,
            peak_to_mean_flow: peak / pour.mean_flow_g_per_s,
            energy_j: 1e-3 * (mass * G_M_PER_S2 * HEIGHT_M + 0.5 * by_flow * by_flow * cubed),
        }
    };
    fine.pours.iter().map(each).collect()
}

/// Pours that were found, with the truth of each.
fn found(level: Level, first: u64) -> Vec<(PourAgitation, TrueProxies)> {
    let mut options = Options::default();
    options.agitation.spout_bore_m = Some(BORE_M);
    options.agitation.fall_height_m = Some(HEIGHT_M);
    let mut rows = Vec::new();
    for seed in first..first + BREWS {
        let mut recipe = level.recipe();
        recipe.meta.water_c = Some(93.0);
        let (log, truth) = simulate(&recipe, seed).unwrap();
        // The same pouring, sampled at 500 Hz.
        let scale = Scale { rate_hz: 500.0, ..recipe.scale.clone() };
        let (_, fine) =
            simulate(&Recipe { scale, faults: Recipe::default().faults, ..recipe }, seed).unwrap();
        assert_eq!(fine.pours, truth.pours, "seed {seed}: not the same hand");
        let brew = analyze(&log, &options).unwrap();
        let pours = brew.agitation.unwrap().pours;
        // A pour too many or too few is judged elsewhere.
        if pours.len() == fine.pours.len() {
            rows.extend(pours.into_iter().zip(true_proxies(&fine)));
        }
    }
    rows
}

#[test]
#[ignore = "slow"]
fn proxies_of_usual_brews_lie_where_their_sd_says() {
    let found = sets(|first| {
        let mut all: [Errors; 5] = Default::default();
        let rows = found(Level::Usual, first);
        assert!(rows.len() > 200, "{}", rows.len());
        for (row, truth) in &rows {
            let numbers = [
                (&row.flow_impulse_g2_per_s, truth.impulse),
                (&row.mass_weighted_flow_g_per_s, truth.mass_weighted_flow),
                (&row.time_above_s, truth.above_s),
                (&row.peak_to_mean_flow, truth.peak_to_mean_flow),
                (&row.energy_j, truth.energy_j),
            ];
            all.iter_mut().zip(numbers).for_each(|(errors, (found, truth))| errors.add(found, truth));
            assert!(numbers.iter().all(|(number, _)| number.is_ok()));
            assert_eq!(row.splashes, 0, "a dash of water that was not poured");
        }
        all
    });
    for (k, (name, most)) in [
        ("flow impulse", 0.01),
        ("gram flow", 0.01),
        ("time above", 0.05),
        ("peak over mean", 0.05),
        ("energy", 0.005),
    ]
    .into_iter()
    .enumerate()
    {
        of_sets(name, &found, k)
            .hold("mean absolute error of the truth", Errors::relative, ..=most)
            .honest(0.88.., HONEST);
    }
}

/// First pour of each log, with the mean flow by gram that it truly had; the speed of the stream at the bed was the
/// same all along.
fn falls(first: u64, speed_m_per_s: f64, scale: &Scale) -> Vec<(PourAgitation, f64)> {
    let mut options = Options::default();
    options.agitation.spout_bore_m = Some(BORE_M);
    let mut recipe = Recipe { scale: scale.clone(), ..Recipe::default() };
    recipe.hand.stream_m_per_s = [speed_m_per_s; 2];
    recipe.meta.water_c = Some(93.0);
    let (logs, truths): (Vec<_>, Vec<_>) =
        (0..FALLS).map(|seed| simulate(&recipe, first + 5000 + seed).unwrap()).unzip();
    let first = |(brew, truth): (pourline::Result<Brew>, Truth)| {
        let row = brew.unwrap().agitation.unwrap().pours.into_iter().next()?;
        Some((row, true_proxies(&truth)[0].mass_weighted_flow))
    };
    analyze_many(&logs, &options).into_iter().zip(truths).filter_map(first).collect()
}

#[test]
#[ignore = "slow"]
fn the_height_of_the_fall_is_told_by_a_fast_and_clean_log() {
    let clean = Scale { rate_hz: 50.0, noise_sd_g: 0.02, step_g: 0.01, ..Scale::default() };
    const SPEEDS: [f64; 3] = [1.0, 1.7, 2.4];
    let found = sets(|first| {
        let mut all: [Errors; 4] = Default::default();
        for (k, speed) in SPEEDS.into_iter().enumerate() {
            for (row, flow) in falls(first, speed, &clean) {
                // Own arithmetic: what the stream lost of its speed on the way up to the spout.
                let spout = 4e-3 * flow / (PI * DENSITY_KG_PER_M3 * BORE_M * BORE_M);
                let height = (speed * speed - spout * spout) / (2.0 * G_M_PER_S2);
                match &row.stream.fall_height_m {
                    Ok(found) => {
                        all[k].push(*found, height);
                        all[3].push(*found, height);
                        assert_eq!(row.speed_source, Some(SpeedSource::Scale));
                        assert!(row.energy_j.is_ok() && row.stream.arrival.is_ok());
                    }
                    Err(why) => assert!(
                        why.reason
                            .contains("fall_height_m was not given, and the scale does not identify it"),
                        "{why}"
                    ),
                }
            }
        }
        all
    });
    for (k, speed) in SPEEDS.into_iter().enumerate() {
        of_sets(&format!("height at {speed} m/s"), &found, k)
            .hold("seen, of 40", |seen| seen.len() as f64, 0.5 * FALLS as f64..)
            .hold("mean absolute error of the truth", Errors::relative, ..=0.12)
            .hold("bias of the truth", Errors::relative_bias, -0.05..=0.05);
    }
    of_sets("height at any speed", &found, 3).honest(0.9.., HONEST);
}

#[test]
#[ignore = "slow"]
fn where_the_log_does_not_show_the_stream_there_is_no_height() {
    // No force on the scale at all: whatever height came out would be made up.
    for rate_hz in [10.0, 50.0] {
        for (row, _) in falls(0, 0.0, &Scale { rate_hz, ..Scale::default() }) {
            let reason = row.stream.fall_height_m.unwrap_err().reason;
            assert!(
                reason.starts_with("fall_height_m was not given, and the scale does not identify it: "),
                "{reason}"
            );
            assert!(row.energy_j.is_err() && row.speed_source.is_none());
        }
    }
    // A kitchen scale at 10 Hz rarely resolves it; if it does, the result is correct.
    let found = sets(|first| {
        let mut all: [Errors; 1] = Default::default();
        for (row, _) in falls(first, 2.0, &Scale::default()) {
            all[0].add(&row.stream.speed_m_per_s, 2.0);
        }
        all
    });
    of_sets("speed at 10 Hz", &found, 0)
        .hold("seen, of 40", |seen| seen.len() as f64, ..=0.5 * FALLS as f64)
        .honest(0.88.., HONEST);
}

fn planned(rest_s: f64, mass_g: f64, flow_g_per_s: f64) -> PlannedPour {
    PlannedPour { rest_s, mass_g, flow_g_per_s, rise_s: 0.2, fall_s: 0.2 }
}

#[test]
fn a_dash_of_water_too_small_for_a_pour_is_a_spray() {
    let mut seen = 0;
    for seed in 0..20 {
        let mut recipe = Recipe::default();
        recipe.hand.planned = vec![planned(0.0, 40.0, 6.0), planned(8.0, 1.4, 4.0), planned(8.0, 60.0, 6.0)];
        let brew = analyze(&simulate(&recipe, seed).unwrap().0, &Options::default()).unwrap();
        let pours = brew.agitation.unwrap().pours;
        assert_eq!(pours.len(), 2, "seed {seed}");
        assert_eq!(pours[1].splashes, 0, "seed {seed}: it came before");
        seen += pours[0].splashes;
    }
    assert_eq!(seen, 20);
}

#[test]
fn swirls_and_lifts_count_for_the_pour_before_them() {
    let (mut swirls, mut lifts) = ([0, 0], [0, 0]);
    for seed in 0..20 {
        let mut recipe = Recipe::default();
        recipe.hand.planned =
            vec![planned(0.0, 40.0, 6.0), planned(30.0, 60.0, 6.0), planned(30.0, 60.0, 6.0)];
        recipe.faults = Faults {
            swirls: Swirls { at_s: vec![30.0], ..Swirls::default() },
            lifts: Lifts { at_s: vec![65.0], ..Lifts::default() },
            ..Faults::default()
        };
        let brew = analyze(&simulate(&recipe, seed).unwrap().0, &Options::default()).unwrap();
        let pours = brew.agitation.unwrap().pours;
        assert_eq!(pours.len(), 3, "seed {seed}");
        swirls = [swirls[0] + pours[0].swirls, swirls[1] + pours[1].swirls + pours[2].swirls];
        lifts = [lifts[0] + pours[1].lifts, lifts[1] + pours[0].lifts + pours[2].lifts];
    }
    println!("swirls {swirls:?}, lifts {lifts:?}");
    assert!(swirls[0] >= 18 && swirls[1] == 0, "{swirls:?}");
    assert!(lifts[0] >= 18 && lifts[1] == 0, "{lifts:?}");
}
