//! Calibrations by people who put masses on a scale and take them off, on scales that are built as the library knows
//! them, and on others. The delays are those of `tests/worlds`.

use crate::worlds::{Calibrating, Random, Setting, kinds, log, masses, scales};
use pourline::{
    CalibrateOptions, Calibration, Log, Meta, Options, ScaleResponse, analyze, calibrate, scale_resolution,
};

/// A scale of that kind, and what a person put on it.
fn made(kind: &str, step_g: f64, seed: u64) -> Calibrating {
    let scale = scales().iter().find(|scale| scale.name == kind).unwrap();
    let instrument = scale.instrument(&mut Random::new(seed));
    let rate_hz = if kind.ends_with("5hz") { 5.0 } else { 10.0 };
    masses(&instrument, &Setting { rate_hz, step_g, ..Setting::default() }, seed)
}

/// The calibration of a scale of that kind, and its true delay with the mean age of a repeated value, s.
fn calibrated(kind: &str, seed: u64) -> (Calibration, f64) {
    let Calibrating { time_s, shown_g, instrument, .. } = made(kind, 0.1, seed);
    let log = Log::new(time_s, Some(shown_g), None, Meta::default()).unwrap();
    let found = calibrate(&log, &CalibrateOptions::default()).unwrap();
    (found, instrument.delay_s() + instrument.readout.age_s())
}

const SEEDS: std::ops::Range<u64> = 40..44;

#[test]
fn the_delay_of_a_scale_that_is_known_is_found() {
    let kinds = ["lag", "two_lags", "average_03", "average_1", "lag_average_5hz", "overshoot"];
    for (kind, seed) in kinds.into_iter().flat_map(|kind| SEEDS.map(move |seed| (kind, seed))) {
        let (found, true_s) = calibrated(kind, seed);
        let delay_s = found.response.delay_s;
        let off_s = (delay_s.value - true_s).abs();
        assert!(found.fits, "{kind} {seed}: misfit {}", found.misfit);
        assert!(
            off_s < 0.03 && off_s < 3.0 * delay_s.sd && delay_s.sd < 0.05,
            "{kind} {seed}: {delay_s}, {true_s} s"
        );
    }
}

#[test]
fn a_scale_that_is_built_in_another_way_is_not_known_by_its_masses() {
    for (kind, seed) in
        ["quick_slow", "slow_converter"].into_iter().flat_map(|kind| SEEDS.map(move |seed| (kind, seed)))
    {
        let (found, true_s) = calibrated(kind, seed);
        let delay_s = found.response.delay_s;
        assert!(!found.fits, "{kind} {seed}: misfit {}", found.misfit);
        assert!((delay_s.value - true_s).abs() < 2.0 * delay_s.sd, "{kind} {seed}: {delay_s}, {true_s} s");
    }
}

#[test]
#[ignore = "slow"]
fn the_sensitivity_and_linearity_of_known_masses_are_found() {
    // The scale shows .2 % too much, and bows by up to .5 g at 500 g; in steps of .1 g.
    let shows = |g: f64, bow_g: f64| 1.002 * g + bow_g * (std::f64::consts::PI * g / 1000.0).sin();
    let known = |made: &Calibrating, bow_g: f64| {
        let shown_g = made.shown_g.iter().map(|g| (10.0 * shows(*g, bow_g)).round() / 10.0).collect();
        let log = Log::new(made.time_s.clone(), Some(shown_g), None, Meta::default()).unwrap();
        let masses_g = made.puts.iter().map(|put| put.mass_g).collect();
        calibrate(&log, &CalibrateOptions { masses_g, ..Default::default() }).unwrap()
    };
    let (mut within, mut n) = (0, 0);
    for seed in 0..12 {
        let made = made("lag", 0.0, seed);
        let straight = known(&made, 0.0).linearity.unwrap();
        let off = straight.sensitivity_deviation_pct.value - 0.2;
        assert!(off.abs() < 3.0 * straight.sensitivity_deviation_pct.sd, "{seed}: {straight:?}");
        assert!(straight.sensitivity_deviation_pct.sd < 0.02, "{seed}: {straight:?}");
        // The largest of 20 normal errors is below 3.5 sd in 99 of 100.
        assert!(
            straight.nonlinearity_g.value.abs() < 3.5 * straight.nonlinearity_g.sd,
            "{seed}: {straight:?}"
        );
        let hysteresis_g = straight.hysteresis_g.unwrap();
        assert!(hysteresis_g.value.abs() < 3.0 * hysteresis_g.sd, "{seed}: {hysteresis_g}");
        for step in known(&made, 0.5).steps {
            let at = |on: f64| (on - step.at_s.value).abs() < 1.5;
            let load = |t: f64| -> f64 {
                made.puts.iter().filter(|p| p.on_s < t && p.off_s > t).map(|p| p.mass_g).sum()
            };
            let (before, after) = (load(step.at_s.value - 1.5), load(step.at_s.value + 1.5));
            assert!(made.puts.iter().any(|p| at(p.on_s) || at(p.off_s)));
            let truth =
                (shows(after, 0.5) - shows(before, 0.5) - (after - before)) * (after - before).signum();
            // A finger on the mass leaves no rest beside it.
            let Ok(deviation_g) = step.deviation_g else { continue };
            within += usize::from((deviation_g.value - truth).abs() < 2.0 * deviation_g.sd);
            n += 1;
        }
    }
    assert!(n > 120 && 10 * within >= 9 * n, "{within} of {n} within 2 sd");
}

#[test]
#[ignore = "slow"]
fn drift_and_creep_at_load_are_those_of_the_scale() {
    use crate::worlds::Response;
    let (mut within, mut n) = (0, 0);
    for seed in 0..12 {
        let made = made("creep", 0.1, seed);
        let Some(Response::Creep { share, after_s }) =
            made.instrument.responses.iter().find(|r| matches!(r, Response::Creep { .. })).copied()
        else {
            panic!("no creep");
        };
        let log = Log::new(made.time_s.clone(), Some(made.shown_g.clone()), None, Meta::default()).unwrap();
        let found = calibrate(&log, &CalibrateOptions::default()).unwrap();
        let creep_pct = found.creep_pct.unwrap();
        let true_pct = 100.0 * share * (1.0 - (-10.0 / after_s).exp());
        assert!((creep_pct.value / true_pct - 1.0).abs() < 0.5, "{seed}: {creep_pct}, {true_pct}");
        let drift = found.drift_g_per_s.unwrap();
        within += usize::from((creep_pct.value - true_pct).abs() < 2.0 * creep_pct.sd);
        within += usize::from(drift.value.abs() < 2.0 * drift.sd);
        n += 2;
    }
    assert!(10 * within >= 8 * n, "{within} of {n} within 2 sd");
}

#[test]
#[ignore = "slow"]
fn a_held_reading_is_recognised_and_no_other_is() {
    for seed in SEEDS {
        let held_g = |kind: &str| calibrated(kind, seed).0.held_g;
        let found_g = held_g("held");
        assert!((0.15..=0.45).contains(&found_g), "{seed}: {found_g} g");
        for kind in ["lag", "average_03", "step_05", "step_1", "creep"] {
            assert!(held_g(kind) == 0.0, "{kind} {seed}");
        }
    }
}

#[test]
#[ignore = "slow"]
fn what_a_scale_resolves_is_the_scatter_of_brews_on_it() {
    let level = kinds().iter().find(|kind| kind.name == "level").unwrap();
    for kind in ["lag", "average_06", "step_05"] {
        let (mut square, mut stated, mut n) = (0.0, 0.0, 0.0);
        for seed in 0..12 {
            let scale = scales().iter().find(|scale| scale.name == kind).unwrap();
            let setting = Setting { force: Some(false), scale: Some(scale), ..Setting::default() };
            let made = log(level, &setting, seed);
            let calibrating = masses(&made.instrument, &setting, seed);
            let of = |t: Vec<f64>, g: Vec<f64>| Log::new(t, Some(g), None, Meta::default()).unwrap();
            let calibration =
                calibrate(&of(calibrating.time_s, calibrating.shown_g), &CalibrateOptions::default())
                    .unwrap();
            let mut options = Options::default();
            options.condition.scale = Some(calibration.response.clone());
            options.segment.stream_lead_s = Some(0.0);
            let brew = analyze(&of(made.time_s, made.water_g), &options).unwrap();
            assert_eq!(brew.segments.pours.len(), made.pours.len());
            for (found, truth) in brew.segments.pours.iter().zip(&made.pours) {
                square += (found.half_rise_s.as_ref().unwrap().value - truth.half_rise_s).powi(2);
                n += 1.0;
            }
            stated += scale_resolution(&calibration).unwrap().half_rise_sd_s / 12.0;
        }
        let rms = (square / n).sqrt();
        // The pours of the world are of 3 to 10 g/s, and have other edges: 20 pours give the rms to 16 %.
        assert!((0.5..2.0).contains(&(stated / rms)), "{kind}: stated {stated:.4} s, rms {rms:.4} s");
    }
}

#[test]
fn a_calibration_of_another_scale_is_warned_of() {
    let level = kinds().iter().find(|kind| kind.name == "level").unwrap();
    let warned = |given: ScaleResponse, seed: u64| {
        let setting = Setting { lag_s: Some(0.1), force: Some(false), ..Setting::default() };
        let made = log(level, &setting, seed);
        let log = Log::new(made.time_s, Some(made.water_g), None, Meta::default()).unwrap();
        let mut options = Options::default();
        options.condition.scale = Some(given);
        let brew = analyze(&log, &options).unwrap();
        brew.warnings.iter().any(|warning| warning.contains("it may be another scale"))
    };
    for seed in 0..6 {
        assert!(warned(ScaleResponse::average(1.0), seed), "{seed}");
        assert!(!warned(ScaleResponse::lag(0.1), seed), "{seed}");
    }
}
