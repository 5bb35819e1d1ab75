//! In: a number of samples. Out: a log of this length, which repeats one brew with its beverage, at 10 Hz.

use pourline::{Log, Meta};

/// Four pours of 60 g per brew, 0.1 g readout, repeated up to the number of samples.
pub fn log(samples: usize) -> Log {
    const RATE_HZ: f64 = 10.0;
    const BREW_S: f64 = 180.0;
    const STARTS_S: [f64; 4] = [5.0, 45.0, 80.0, 115.0];
    const FLOW_G_PER_S: f64 = 6.0;
    const POUR_S: f64 = 10.0;
    let time_s: Vec<f64> = (0..samples).map(|i| i as f64 / RATE_HZ).collect();
    let poured_g = |t: f64| -> f64 {
        let brews = (t / BREW_S).floor();
        let within: f64 =
            STARTS_S.iter().map(|s| FLOW_G_PER_S * (t - brews * BREW_S - s).clamp(0.0, POUR_S)).sum();
        brews * 4.0 * FLOW_G_PER_S * POUR_S + within
    };
    // A fixed pseudo-random walk through (0, 1) replaces the scale's noise: the golden ratio, without a dependency.
    let noise_g = |i: usize| ((i as f64 * 0.618_033_988_749_895).fract() - 0.5) * 0.1;
    let read = |delay_s: f64, share: f64| -> Vec<f64> {
        let read_g = |(i, &t): (usize, &f64)| {
            ((share * poured_g((t - delay_s).max(0.0)) + noise_g(i)) * 10.0).round() / 10.0
        };
        time_s.iter().enumerate().map(read_g).collect()
    };
    let (water_g, beverage_g) = (read(0.0, 1.0), read(8.0, 0.88));
    Log::new(time_s, Some(water_g), Some(beverage_g), Meta::default()).expect("the log is sound")
}
