//! Errors compared with the stated sd. The sd are tested from both sides: an sd that is too
//! narrow misses the truth, one that is too wide makes the errors small compared with it.

use crate::open;
use pourline::{Estimate, Maybe, simulate};
use std::fmt::Debug;
use std::ops::{RangeBounds, RangeInclusive};

/// The bound on the root mean square of error over sd. By chance alone 60 independent errors move it by 0.09 (one
/// sd) around 1.
pub const HONEST: RangeInclusive<f64> = 0.7..=1.4;

/// First seeds of three sets of brews: a bar that rests on random numbers holds for each of them.
pub const SETS: [u64; 3] = [0, 20_000, 40_000];

/// Found less true, the sd stated for it, and the truth.
#[derive(Default)]
pub struct Errors(Vec<[f64; 3]>);

impl Errors {
    pub fn push(&mut self, found: Estimate, truth: f64) {
        self.0.push([found.value - truth, found.sd, truth]);
    }

    /// A number that is undefined is no error.
    pub fn add(&mut self, found: &Maybe, truth: f64) {
        if let Ok(found) = found {
            self.push(*found, truth);
        }
    }

    pub fn len(&self) -> usize {
        self.0.len()
    }

    fn mean(&self, of: impl Fn([f64; 3]) -> f64) -> f64 {
        self.0.iter().map(|&one| of(one)).sum::<f64>() / self.0.len() as f64
    }

    pub fn bias(&self) -> f64 {
        self.mean(|[error, ..]| error)
    }

    pub fn absolute(&self) -> f64 {
        self.mean(|[error, ..]| error.abs())
    }

    /// Mean absolute error, as a share of the mean truth.
    pub fn relative(&self) -> f64 {
        self.absolute() / self.mean(|[.., truth]| truth)
    }

    /// Mean error, as a share of the mean truth.
    pub fn relative_bias(&self) -> f64 {
        self.bias() / self.mean(|[.., truth]| truth)
    }

    pub fn largest(&self) -> f64 {
        self.0.iter().map(|[error, ..]| error.abs()).fold(0.0, f64::max)
    }

    /// Share of the numbers that are off by less than this share of the truth.
    pub fn nearer_than(&self, share: f64) -> f64 {
        self.mean(|[error, _, truth]| f64::from(error.abs() < share * truth))
    }

    pub fn within_2_sd(&self) -> f64 {
        self.mean(|[error, sd, _]| f64::from(error.abs() <= 2.0 * sd))
    }

    /// Root mean square of error over sd: 1 for an honest sd, 0.1 for one ten times too wide.
    pub fn in_sd(&self) -> f64 {
        self.mean(|[error, sd, _]| (error / sd).powi(2)).sqrt()
    }
}

impl From<&simulate::Errors> for Errors {
    fn from(scored: &simulate::Errors) -> Self {
        Self(scored.error.iter().zip(&scored.sd).map(|(&error, &sd)| [error, sd, f64::NAN]).collect())
    }
}

/// What a test measures, for each set of seeds.
pub fn sets<T>(run: impl Fn(u64) -> T) -> [T; 3] {
    SETS.map(run)
}

/// Holds a figure of each set of seeds; prints the mean and the spread.
#[track_caller]
pub fn hold(name: &str, figures: [f64; 3], bar: impl RangeBounds<f64> + Debug) {
    let mean = figures.iter().sum::<f64>() / 3.0;
    let (low, high) = (figures.into_iter().fold(mean, f64::min), figures.into_iter().fold(mean, f64::max));
    println!("{name}: {mean:.4}, {low:.4} to {high:.4} by seeds");
    meets(name, &figures, bar);
}

/// Holds figures of the running test. A bar that is not met yet is listed, see `open`.
#[track_caller]
pub fn meets(name: &str, figures: &[f64], bar: impl RangeBounds<f64> + Debug) {
    let test = std::thread::current().name().unwrap_or_default().to_string();
    let judged = open::judged(&format!("{test}: {name}"), figures, &bar);
    if let Err(why) = judged {
        assert!(std::env::var("OPEN_BARS").is_ok(), "{name}: {why}");
        println!("would fail: {why}");
    }
}

/// Errors of one quantity, for each set of seeds.
pub struct Three<'a> {
    name: &'a str,
    sets: [&'a Errors; 3],
}

/// The `k`-th quantity of a test that measures many.
pub fn of_sets<'a, const N: usize>(name: &'a str, sets: &'a [[Errors; N]; 3], k: usize) -> Three<'a> {
    Three { name, sets: sets.each_ref().map(|set| &set[k]) }
}

impl Three<'_> {
    #[track_caller]
    pub fn hold(self, what: &str, figure: fn(&Errors) -> f64, bar: impl RangeBounds<f64> + Debug) -> Self {
        hold(&format!("{}, {what}", self.name), self.sets.map(figure), bar);
        self
    }

    /// Share of the truths within two sd, and the errors in sd.
    #[track_caller]
    pub fn honest(self, within: impl RangeBounds<f64> + Debug, in_sd: impl RangeBounds<f64> + Debug) -> Self {
        self.hold("within 2 sd", Errors::within_2_sd, within).hold(
            "rms of error over sd",
            Errors::in_sd,
            in_sd,
        )
    }
}

#[test]
fn an_sd_ten_times_too_wide_or_too_narrow_is_no_honest_one() {
    // Five deviates of a normal law at its quantiles of 10, 30, 50, 70 and 90 % (from any table of it).
    let deviates = [-1.2816, -0.5244, 0.0, 0.5244, 1.2816];
    let with = |sd: f64| {
        let mut errors = Errors::default();
        deviates.iter().for_each(|&z| errors.push(Estimate::new(5.0 + z, sd), 5.0));
        errors
    };
    // Own arithmetic: the mean of 2 (1.2816^2 + 0.5244^2) over 5 is 0.7670, its root 0.8758.
    assert!((with(1.0).in_sd() - 0.8758).abs() < 1e-4 && with(1.0).within_2_sd() == 1.0);
    assert!((with(10.0).in_sd() - 0.08758).abs() < 1e-5 && with(10.0).within_2_sd() == 1.0);
    assert!(with(0.1).in_sd() > 8.0 && with(0.1).within_2_sd() == 0.2);
}
