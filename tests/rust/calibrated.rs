//! Calibrations by people who put masses on a scale and take them off, on scales that are built as the library knows
//! them, and on others. The delays are those of `tests/worlds`.

use crate::worlds::{Calibrating, Random, Setting, masses, scales};
use pourline::{CalibrateOptions, Calibration, Log, Meta, calibrate};

/// The calibration of a scale of that kind, and its true delay with the mean age of a repeated value, s.
fn calibrated(kind: &str, seed: u64) -> (Calibration, f64) {
    let scale = scales().iter().find(|scale| scale.name == kind).unwrap();
    let instrument = scale.instrument(&mut Random::new(seed));
    let rate_hz = if kind.ends_with("5hz") { 5.0 } else { 10.0 };
    let made = masses(&instrument, &Setting { rate_hz, ..Setting::default() }, seed);
    let Calibrating { time_s, shown_g, instrument, .. } = made;
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
