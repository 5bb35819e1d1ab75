//! In: readings at rest, one by one. Out: whether water has begun to arrive, and since when.
//!
//! A generalised likelihood ratio test against a constant level (Siegmund and Venkatraman, Using the generalized
//! likelihood ratio statistic for sequential detection of a change-point, Annals of Statistics 23, 1995, 255-271).
//! The alternatives are straight climbs from the level, from each of a few instants of the last second on. The
//! largest ratio of a climb to its sd is compared with a threshold. The sd of the noise is itself estimated, so that
//! the ratios follow Student's t. They are converted to normal deviates by Wallace's transform (Annals of
//! Mathematical Statistics 30, 1959, 1121-1130; from memory). From 4 degrees of freedom on it is within 2.1 % of the
//! exact deviate up to 4.5 sd.
//!
//! The threshold follows from the false alarms allowed per hour of rest. The union bound, `tests per hour x P(z >
//! threshold)`, overestimates their number, because neighbouring tests are correlated. The factor was counted on
//! simulated noise (`CORRELATED_TESTS`).

use crate::live::noise::Noise;
use crate::math::distribution::normal_quantile;

/// False alarms allowed per hour of undisturbed rest: a brew has two minutes of it, so one in 300 brews.
const FALSE_ALARMS_PER_HOUR: f64 = 0.1;
/// The union bound overestimates the false alarms by this factor: counted 17, 19 and 23 at 10, 50 and 5 readings per
/// second, in 3000, 600 and 6000 hours.
const CORRELATED_TESTS: f64 = 15.0;
/// Number of instants from which a climb is tested.
const INSTANTS: usize = 12;
/// Least distance between them, s: about half of the width of the response of the lag.
const APART_S: f64 = 0.1;
/// Samples of a first level.
const FIRST_LEVEL: f64 = 4.0;
/// Memory of the level, s.
const LEVEL_S: f64 = 3.0;
/// The level is compared with new samples after each such time, s.
const COMPARED_S: f64 = 0.5;
/// The square of a comparison is bounded by this multiple of its expectation.
const MOST: f64 = 6.25;
/// Memory of the excess variance, in comparisons.
const MEMORY_COMPARISONS: f64 = 20.0;
/// Least degrees of freedom of the noise for a test.
const FEWEST_DEGREES: f64 = 4.0;

/// A possible start of a climb, with sums of the readings since.
#[derive(Debug, Clone, Copy, Default)]
struct Instant {
    time_s: f64,
    /// Sums over the samples since: time, time squared, time by reading.
    u: f64,
    uu: f64,
    uy: f64,
    /// Samples up to the next instant; they enter the level when this instant is dropped.
    own_n: f64,
    own_y: f64,
}

/// A climb that is significant against the noise.
#[derive(Debug, Clone, Copy)]
pub(super) struct Onset {
    /// Instant at which the line leaves the level, s; later than the water by the lag.
    pub time_s: f64,
    /// The level before, g.
    pub level_g: f64,
}

/// The test; its size is constant.
#[derive(Debug, Clone)]
pub(super) struct Test {
    /// The oldest first.
    instants: [Instant; INSTANTS],
    used: usize,
    level_g: f64,
    level_n: f64,
    /// Sums that enter the level next, and the excess variance of earlier ones over their noise, g2.
    pending_n: f64,
    pending_y: f64,
    excess_g2: f64,
    compared: f64,
    last_s: f64,
    interval_s: f64,
    /// Square of the normal deviate of the threshold, and the interval for which it was computed.
    threshold: f64,
    threshold_interval_s: f64,
}

impl Test {
    pub(super) fn new() -> Self {
        Self {
            instants: [Instant::default(); INSTANTS],
            used: 0,
            level_g: 0.0,
            level_n: 0.0,
            pending_n: 0.0,
            pending_y: 0.0,
            excess_g2: 0.0,
            compared: 0.0,
            last_s: f64::NAN,
            interval_s: f64::NAN,
            threshold: f64::INFINITY,
            threshold_interval_s: f64::NAN,
        }
    }

    /// Resets the level after a break of the readings.
    pub(super) fn restart(&mut self) {
        (self.used, self.level_n, self.pending_n, self.pending_y, self.last_s) = (0, 0.0, 0.0, 0.0, f64::NAN);
    }

    /// The level at rest, g, if there is one yet.
    pub(super) fn level_g(&self) -> Option<f64> {
        (self.level_n >= FIRST_LEVEL).then_some(self.level_g)
    }

    /// Updates the test with a reading. `least` is the slowest flow of a pour, g/s.
    pub(super) fn update(&mut self, time_s: f64, reading_g: f64, noise: &Noise, least: f64) -> Option<Onset> {
        self.update_interval(time_s);
        if self.level_n < FIRST_LEVEL {
            self.join(1.0, reading_g);
            return None;
        }
        for i in &mut self.instants[..self.used] {
            let u = time_s - i.time_s;
            i.u += u;
            i.uu += u * u;
            i.uy += u * reading_g;
        }
        let found = self.steepest(noise, least);
        let newest = self.used.checked_sub(1).map(|k| &mut self.instants[k]);
        match newest {
            Some(newest) if time_s - newest.time_s < 0.95 * APART_S => {
                newest.own_n += 1.0;
                newest.own_y += reading_g;
            }
            _ => self.begin(time_s, reading_g, noise),
        }
        found
    }

    /// The climb with the largest ratio to its sd, if significant.
    fn steepest(&self, noise: &Noise, least: f64) -> Option<Onset> {
        let degrees = noise.degrees();
        if degrees < FEWEST_DEGREES {
            return None;
        }
        let variance = noise.sd_g().powi(2);
        let climb = |i: &Instant| i.uy - self.level_g * i.u;
        let steep = |i: &Instant| {
            let climb = climb(i);
            climb > least * i.uu && climb * climb > self.threshold * variance * i.uu
        };
        // Almost always no climb is significant even for an exactly known level.
        if !self.instants[..self.used].iter().any(steep) {
            return None;
        }
        let level_var = variance / self.level_n + noise.rounding_var_g2() + self.excess_g2;
        let square = |i: &Instant| climb(i).powi(2) / (variance * i.uu + level_var * i.u * i.u);
        let all = self.instants[..self.used].iter().filter(|i| steep(i)).map(|i| (square(i), i.time_s));
        let (square, time_s) = all.fold((0.0, 0.0), |best, one| if one.0 > best.0 { one } else { best });
        (normal_square(square, degrees) > self.threshold).then_some(Onset { time_s, level_g: self.level_g })
    }

    /// Adds this sample as a possible start of a climb.
    fn begin(&mut self, time_s: f64, reading_g: f64, noise: &Noise) {
        if self.used == INSTANTS {
            let oldest = self.instants[0];
            self.instants.copy_within(1.., 0);
            self.used -= 1;
            self.pending_n += oldest.own_n;
            self.pending_y += oldest.own_y;
            if self.pending_n * self.interval_s >= COMPARED_S {
                self.compare(noise);
            }
        }
        self.instants[self.used] = Instant { time_s, own_n: 1.0, own_y: reading_g, ..Instant::default() };
        self.used += 1;
    }

    fn join(&mut self, n: f64, mean_g: f64) {
        let most = (LEVEL_S / self.interval_s).max(FIRST_LEVEL);
        self.level_n += n;
        self.level_g += (mean_g - self.level_g) * n / self.level_n;
        self.level_n = self.level_n.min(most);
    }

    /// Updates the excess variance with the pending samples, and adds them to the level.
    fn compare(&mut self, noise: &Noise) {
        let (n, mean_g) = (self.pending_n, self.pending_y / self.pending_n);
        let by_noise = noise.sd_g().powi(2) * (1.0 / n + 1.0 / self.level_n) + noise.rounding_var_g2();
        let square = (mean_g - self.level_g).powi(2).min(MOST * (by_noise + self.excess_g2));
        self.compared = (self.compared + 1.0).min(MEMORY_COMPARISONS);
        self.excess_g2 = (self.excess_g2 + (square - by_noise - self.excess_g2) / self.compared).max(0.0);
        self.join(n, mean_g);
        (self.pending_n, self.pending_y) = (0.0, 0.0);
    }

    /// Updates the usual interval and its threshold.
    fn update_interval(&mut self, time_s: f64) {
        let interval_s = time_s - self.last_s;
        self.last_s = time_s;
        if interval_s.is_nan() {
            return;
        }
        // A gap is not informative about the interval.
        let usual_s = if self.interval_s.is_nan() { interval_s } else { self.interval_s };
        self.interval_s = usual_s + 0.05 * (interval_s.min(2.0 * usual_s) - usual_s);
        let changed = (self.interval_s / self.threshold_interval_s - 1.0).abs();
        if changed.is_nan() || changed > 0.1 {
            let tests_an_hour = 3600.0 / self.interval_s * INSTANTS as f64;
            let share = (FALSE_ALARMS_PER_HOUR * CORRELATED_TESTS / tests_an_hour).min(0.01);
            self.threshold = normal_quantile(share).powi(2);
            self.threshold_interval_s = self.interval_s;
        }
    }
}

/// Square of the normal deviate with the tail probability of a Student's t of that square.
fn normal_square(t_squared: f64, degrees: f64) -> f64 {
    if degrees.is_infinite() {
        return t_squared;
    }
    let ratio = (8.0 * degrees + 1.0) / (8.0 * degrees + 3.0);
    ratio * ratio * degrees * (1.0 + t_squared / degrees).ln()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Random;

    fn quiet(hours: f64, rate_hz: f64) -> (usize, Test) {
        let (mut test, mut noise, mut random) = (Test::new(), Noise::new(None), Random::new(1));
        let mut alarms = 0;
        for i in 0..(3600.0 * hours * rate_hz) as usize {
            let reading_g = ((0.06 * random.normal()) * 10.0).round() / 10.0;
            noise.update_resolution(reading_g);
            // Least flow 0: no climb is excluded by its slope.
            if test.update(i as f64 / rate_hz, reading_g, &noise, 0.0).is_some() {
                alarms += 1;
                test.restart();
            }
            noise.update(reading_g);
        }
        (alarms, test)
    }

    #[test]
    fn the_threshold_is_the_deviate_of_the_allowed_false_alarms() {
        // 0.1 x 15 alarms in 36,000 x 12 and 180,000 x 12 tests: minus the quantile, by statistics.NormalDist of
        // Python's standard library.
        for (rate_hz, deviate) in [(10.0, 4.4954), (50.0, 4.8266)] {
            let (_, test) = quiet(0.01, rate_hz);
            assert!((test.threshold.sqrt() - deviate).abs() < 0.02, "{}", test.threshold.sqrt());
        }
    }

    #[test]
    fn false_alarms_at_rest_are_as_frequent_as_allowed() {
        // Counts of a Poisson process: 30 in 300 hours, three of their sd either way.
        let (alarms, _) = quiet(300.0, 10.0);
        assert!((alarms as f64 - 300.0 * FALSE_ALARMS_PER_HOUR).abs() < 16.4, "{alarms} alarms");
    }

    #[test]
    fn a_climb_is_detected_from_the_instant_it_leaves_the_level_and_a_fall_is_not() {
        for (slope_g_per_s, expected) in [(2.0, true), (-2.0, false), (0.02, false)] {
            let (mut test, mut noise, mut random) = (Test::new(), Noise::new(Some(0.05)), Random::new(2));
            let mut found = None;
            for i in 0..120 {
                let t = 0.1 * f64::from(i);
                let reading_g = 40.0 + slope_g_per_s * (t - 8.0).max(0.0) + 0.05 * random.normal();
                noise.update_resolution(reading_g);
                found = found.or(test.update(t, reading_g, &noise, 0.5).map(|onset| (t, onset)));
            }
            assert_eq!(found.is_some(), expected, "{slope_g_per_s} g/s");
            if let Some((t, onset)) = found {
                assert!(t < 8.5 && (onset.time_s - 8.0).abs() < 0.2 && (onset.level_g - 40.0).abs() < 0.05);
            }
        }
    }

    #[test]
    fn samples_enter_the_level_by_number_and_update_the_excess_variance() {
        let mut test = Test::new();
        test.interval_s = 0.1;
        test.join(1.0, 10.0);
        test.join(3.0, 14.0);
        assert_eq!((test.level_g, test.level_n), (13.0, 4.0), "(10 + 3 x 14)/4 by hand");
        // Five readings of mean 13.1 g, noise 0.1 g: 0.01 (1/5 + 1/4) = 0.0045 g2 by noise, 0.01 g2 observed, 0.0055
        // g2 of excess.
        (test.pending_n, test.pending_y) = (5.0, 65.5);
        test.compare(&Noise::new(Some(0.1)));
        assert!((test.excess_g2 - 0.0055).abs() < 1e-12, "{}", test.excess_g2);
        assert!((test.level_g - 117.5 / 9.0).abs() < 1e-12 && test.level_n == 9.0, "{}", test.level_g);
        // A large deviation is bounded by 6.25 times its expectation, 0.01 (1/5 + 1/9) + 0.0055 = 0.008611 g2; then
        // the mean of the two.
        (test.pending_n, test.pending_y) = (5.0, 100.0);
        test.compare(&Noise::new(Some(0.1)));
        let by_noise = 0.01 * (1.0 / 5.0 + 1.0 / 9.0);
        let second = 6.25 * (by_noise + 0.0055) - by_noise;
        assert!((test.excess_g2 - (0.0055 + second) / 2.0).abs() < 1e-12, "{}", test.excess_g2);
        assert_eq!((test.pending_n, test.pending_y), (0.0, 0.0));
    }

    #[test]
    fn the_usual_interval_follows_slowly_and_a_gap_counts_twice_the_usual() {
        let mut test = Test::new();
        (0..20).for_each(|i| test.update_interval(0.125 * f64::from(i)));
        assert_eq!(test.interval_s, 0.125);
        test.update_interval(19.0 * 0.125 + 30.0);
        // 0.125 + 0.05 (2 x 0.125 - 0.125) by hand.
        assert!((test.interval_s - 0.131_25).abs() < 1e-12, "{}", test.interval_s);
    }

    #[test]
    fn the_oldest_instant_enters_the_level_after_twelve_later_ones() {
        let (mut test, noise) = (Test::new(), Noise::new(Some(0.05)));
        // One instant per reading: four samples make the first level, twelve are pending instants, and older ones
        // enter the level in sums of half a second.
        let mut update = |range: std::ops::Range<i32>| {
            range.for_each(|i| {
                test.update(0.125 * f64::from(i), 5.0, &noise, 0.5);
            });
            (test.used, test.level_n, test.pending_n)
        };
        assert_eq!(update(0..16), (12, 4.0, 0.0));
        assert_eq!(update(16..19), (12, 4.0, 3.0));
        assert_eq!(update(19..20), (12, 8.0, 0.0));
    }
}
