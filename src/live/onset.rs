//! In: readings at rest, one by one. Out: whether water has begun to arrive, and from when.
//!
//! A generalised likelihood ratio against a level (Siegmund and Venkatraman, Using the generalized likelihood ratio statistic for sequential
//! detection of a change-point, Annals of Statistics 23, 1995, 255-271; from memory): from each of a few instants of the last second
//! on the readings may climb in a straight line from the level before. The largest of these climbs over its sd is held against a threshold.
//! The sd of the noise is itself estimated, so that climbs are Student's t; they are taken to normal deviates by Wallace's transform
//! (Bounds on normal approximations to Student's and the chi-square distributions, Annals of Mathematical Statistics 30, 1959, 1121-1130; from memory).
//!
//! The threshold is that of the false calls that are allowed in an hour of rest. The union bound, `tests an hour x P(z > threshold)`, expects
//! many times more than there are, since tests of neighbours are alike; how many times was counted on noise (`ALIKE`).

use crate::live::noise::Noise;
use crate::math::distribution::normal_quantile;

/// False calls allowed in an hour of undisturbed rest: a brew has two minutes of it, so one in 300 brews.
const FALSE_CALLS_PER_HOUR: f64 = 0.1;
/// So many times fewer are there than the union bound expects: counted 17, 19 and 23 times at 10, 50 and 5 readings a second, in 3000, 600 and 6000 hours.
const ALIKE: f64 = 15.0;
/// Instants from which a climb is tried.
const INSTANTS: usize = 12;
/// They are at least this far from each other, s: about half of what the lag of a scale smears.
const APART_S: f64 = 0.1;
/// Samples that make a first level.
const FIRST_LEVEL: f64 = 4.0;
/// The level forgets what is longer ago than this, s.
const LEVEL_S: f64 = 3.0;
/// The level is compared with what joins it each time so much has joined, s.
const COMPARED_S: f64 = 0.5;
/// A comparison counts for no more than this many times what is expected of its square.
const MOST: f64 = 6.25;
/// So many comparisons are remembered.
const REMEMBERS: f64 = 20.0;
/// With fewer degrees of freedom the noise is poorly known.
const FEWEST_DEGREES: f64 = 4.0;

/// A climb may begin here; what was read since, in sums.
#[derive(Debug, Clone, Copy, Default)]
struct Instant {
    time_s: f64,
    /// Of the samples since: times, their squares, their products with the readings.
    u: f64,
    uu: f64,
    uy: f64,
    /// Samples up to the next instant: they join the level when this one is given up.
    own_n: f64,
    own_y: f64,
}

/// A climb that is too steep to be noise.
#[derive(Debug, Clone, Copy)]
pub(super) struct Onset {
    /// Where the straight line leaves the level, s; later than the water by the lag.
    pub time_s: f64,
    /// The level before, g.
    pub level_g: f64,
}

/// The test, of constant size.
#[derive(Debug, Clone)]
pub(super) struct Test {
    /// The oldest first.
    instants: [Instant; INSTANTS],
    used: usize,
    level_g: f64,
    level_n: f64,
    /// What joins the level, and how far such sums were off it beyond their noise, g2.
    joins_n: f64,
    joins_y: f64,
    wander_g2: f64,
    compared: f64,
    last_s: f64,
    interval_s: f64,
    /// Square of the normal deviate that makes a call, and the interval for which it was taken.
    threshold: f64,
    taken_at_s: f64,
}

impl Test {
    pub(super) fn new() -> Self {
        Self {
            instants: [Instant::default(); INSTANTS],
            used: 0,
            level_g: 0.0,
            level_n: 0.0,
            joins_n: 0.0,
            joins_y: 0.0,
            wander_g2: 0.0,
            compared: 0.0,
            last_s: f64::NAN,
            interval_s: f64::NAN,
            threshold: f64::INFINITY,
            taken_at_s: f64::NAN,
        }
    }

    /// Forgets the level: the readings start anew.
    pub(super) fn restart(&mut self) {
        (self.used, self.level_n, self.joins_n, self.joins_y, self.last_s) = (0, 0.0, 0.0, 0.0, f64::NAN);
    }

    /// The level at rest, g, once there is one.
    pub(super) fn level_g(&self) -> Option<f64> {
        (self.level_n >= FIRST_LEVEL).then_some(self.level_g)
    }

    /// Takes in a reading. `least` is the slowest flow that is a pour, g/s.
    pub(super) fn see(&mut self, time_s: f64, reading_g: f64, noise: &Noise, least: f64) -> Option<Onset> {
        self.clock(time_s);
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

    /// The steepest climb for its sd, if it is one.
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
        // Nearly always none is steep enough even if the level were known for sure.
        if !self.instants[..self.used].iter().any(steep) {
            return None;
        }
        let level_var = variance / self.level_n + noise.rounding_var_g2() + self.wander_g2;
        let square = |i: &Instant| climb(i).powi(2) / (variance * i.uu + level_var * i.u * i.u);
        let all = self.instants[..self.used].iter().filter(|i| steep(i)).map(|i| (square(i), i.time_s));
        let (square, time_s) = all.fold((0.0, 0.0), |best, one| if one.0 > best.0 { one } else { best });
        (normal_square(square, degrees) > self.threshold).then_some(Onset { time_s, level_g: self.level_g })
    }

    /// A climb may begin at this sample.
    fn begin(&mut self, time_s: f64, reading_g: f64, noise: &Noise) {
        if self.used == INSTANTS {
            let oldest = self.instants[0];
            self.instants.copy_within(1.., 0);
            self.used -= 1;
            self.joins_n += oldest.own_n;
            self.joins_y += oldest.own_y;
            if self.joins_n * self.interval_s >= COMPARED_S {
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

    /// Learns from what joins the level how much it wanders, and lets it join.
    fn compare(&mut self, noise: &Noise) {
        let (n, mean_g) = (self.joins_n, self.joins_y / self.joins_n);
        let by_noise = noise.sd_g().powi(2) * (1.0 / n + 1.0 / self.level_n) + noise.rounding_var_g2();
        let square = (mean_g - self.level_g).powi(2).min(MOST * (by_noise + self.wander_g2));
        self.compared = (self.compared + 1.0).min(REMEMBERS);
        self.wander_g2 = (self.wander_g2 + (square - by_noise - self.wander_g2) / self.compared).max(0.0);
        self.join(n, mean_g);
        (self.joins_n, self.joins_y) = (0.0, 0.0);
    }

    /// Follows the usual interval, and the threshold that belongs to it.
    fn clock(&mut self, time_s: f64) {
        let interval_s = time_s - self.last_s;
        self.last_s = time_s;
        if interval_s.is_nan() {
            return;
        }
        // A gap is not informative about the interval.
        let usual_s = if self.interval_s.is_nan() { interval_s } else { self.interval_s };
        self.interval_s = usual_s + 0.05 * (interval_s.min(2.0 * usual_s) - usual_s);
        let changed = (self.interval_s / self.taken_at_s - 1.0).abs();
        if changed.is_nan() || changed > 0.1 {
            let tests_an_hour = 3600.0 / self.interval_s * INSTANTS as f64;
            let share = (FALSE_CALLS_PER_HOUR * ALIKE / tests_an_hour).min(0.01);
            self.threshold = normal_quantile(share).powi(2);
            self.taken_at_s = self.interval_s;
        }
    }
}

/// Square of the normal deviate that is as rare as a Student's t of that square.
fn normal_square(t_squared: f64, degrees: f64) -> f64 {
    if degrees.is_infinite() {
        return t_squared;
    }
    let narrows = (8.0 * degrees + 1.0) / (8.0 * degrees + 3.0);
    narrows * narrows * degrees * (1.0 + t_squared / degrees).ln()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::math::random::Random;

    fn quiet(hours: f64, rate_hz: f64) -> (usize, Test) {
        let (mut test, mut noise, mut random) = (Test::new(), Noise::new(None), Random::new(1));
        let mut calls = 0;
        for i in 0..(3600.0 * hours * rate_hz) as usize {
            let reading_g = ((0.06 * random.normal()) * 10.0).round() / 10.0;
            noise.step(reading_g);
            // Slower than any pour: nothing is left out because its slope is small.
            if test.see(i as f64 / rate_hz, reading_g, &noise, 0.0).is_some() {
                calls += 1;
                test.restart();
            }
            noise.see(reading_g);
        }
        (calls, test)
    }

    #[test]
    fn the_threshold_is_the_deviate_of_the_false_calls_allowed() {
        // 0.1 x 15 calls in 36,000 x 12 and 180,000 x 12 tests: minus the quantile, by statistics.NormalDist of Python's standard library.
        for (rate_hz, deviate) in [(10.0, 4.4954), (50.0, 4.8266)] {
            let (_, test) = quiet(0.01, rate_hz);
            assert!((test.threshold.sqrt() - deviate).abs() < 0.02, "{}", test.threshold.sqrt());
        }
    }

    #[test]
    fn rest_is_called_a_pour_as_often_as_allowed() {
        // Counts of a Poisson process: 30 in 300 hours, three of their sd either way.
        let (calls, _) = quiet(300.0, 10.0);
        assert!((calls as f64 - 300.0 * FALSE_CALLS_PER_HOUR).abs() < 16.4, "{calls} calls");
    }

    #[test]
    fn a_climb_is_called_from_where_it_leaves_the_level_and_a_fall_is_not() {
        for (slope_g_per_s, called) in [(2.0, true), (-2.0, false), (0.02, false)] {
            let (mut test, mut noise, mut random) = (Test::new(), Noise::new(Some(0.05)), Random::new(2));
            let mut found = None;
            for i in 0..120 {
                let t = 0.1 * f64::from(i);
                let reading_g = 40.0 + slope_g_per_s * (t - 8.0).max(0.0) + 0.05 * random.normal();
                noise.step(reading_g);
                found = found.or(test.see(t, reading_g, &noise, 0.5).map(|onset| (t, onset)));
            }
            assert_eq!(found.is_some(), called, "{slope_g_per_s} g/s");
            if let Some((t, onset)) = found {
                assert!(t < 8.5 && (onset.time_s - 8.0).abs() < 0.2 && (onset.level_g - 40.0).abs() < 0.05);
            }
        }
    }

    #[test]
    fn what_joins_the_level_counts_by_its_number_and_shows_how_far_the_level_wanders() {
        let mut test = Test::new();
        test.interval_s = 0.1;
        test.join(1.0, 10.0);
        test.join(3.0, 14.0);
        assert_eq!((test.level_g, test.level_n), (13.0, 4.0), "(10 + 3 x 14)/4 by hand");
        // Five readings of mean 13.1 g, noise 0.1 g: 0.01 (1/5 + 1/4) = 0.0045 g2 by noise, 0.01 g2 off, 0.0055 g2
        // of wander.
        (test.joins_n, test.joins_y) = (5.0, 65.5);
        test.compare(&Noise::new(Some(0.1)));
        assert!((test.wander_g2 - 0.0055).abs() < 1e-12, "{}", test.wander_g2);
        assert!((test.level_g - 117.5 / 9.0).abs() < 1e-12 && test.level_n == 9.0, "{}", test.level_g);
        // Far off: no more than 6.25 times what was expected, 0.01 (1/5 + 1/9) + 0.0055 = 0.008611 g2; and the
        // mean of the two.
        (test.joins_n, test.joins_y) = (5.0, 100.0);
        test.compare(&Noise::new(Some(0.1)));
        let by_noise = 0.01 * (1.0 / 5.0 + 1.0 / 9.0);
        let second = 6.25 * (by_noise + 0.0055) - by_noise;
        assert!((test.wander_g2 - (0.0055 + second) / 2.0).abs() < 1e-12, "{}", test.wander_g2);
        assert_eq!((test.joins_n, test.joins_y), (0.0, 0.0));
    }

    #[test]
    fn the_usual_interval_follows_slowly_and_a_gap_counts_twice_the_usual() {
        let mut test = Test::new();
        (0..20).for_each(|i| test.clock(0.125 * f64::from(i)));
        assert_eq!(test.interval_s, 0.125);
        test.clock(19.0 * 0.125 + 30.0);
        // 0.125 + 0.05 (2 x 0.125 - 0.125) by hand.
        assert!((test.interval_s - 0.131_25).abs() < 1e-12, "{}", test.interval_s);
    }

    #[test]
    fn the_oldest_instant_joins_the_level_once_twelve_later_ones_wait() {
        let (mut test, noise) = (Test::new(), Noise::new(Some(0.05)));
        // One instant for each reading: four make the first level, twelve wait, and what is older joins in sums of
        // half a second.
        let mut see = |range: std::ops::Range<i32>| {
            range.for_each(|i| {
                test.see(0.125 * f64::from(i), 5.0, &noise, 0.5);
            });
            (test.used, test.level_n, test.joins_n)
        };
        assert_eq!(see(0..16), (12, 4.0, 0.0));
        assert_eq!(see(16..19), (12, 4.0, 3.0));
        assert_eq!(see(19..20), (12, 8.0, 0.0));
    }
}
