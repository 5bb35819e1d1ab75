//! The same true pours on scales of many kinds: what flow CV each scale gives. Shared by the test and the table.

use pourline::simulate::Weighed;
use pourline::{
    ConditionOptions, Estimate, Maybe, MetricsOptions, Recipe, SegmentOptions, condition, metrics, segment,
    simulate,
};

/// A kind of scale.
#[derive(Debug, Clone, Copy)]
pub struct Instrument {
    pub rate_hz: f64,
    pub step_g: f64,
    pub noise_sd_g: f64,
}

/// Forms of unsteady pouring.
#[allow(dead_code)] // each user reads its own part
#[derive(Debug, Clone, Copy)]
pub struct Form {
    pub name: &'static str,
    /// How many waves make the unsteadiness.
    pub waves: [u32; 2],
}

pub const FORMS: [Form; 3] = [
    Form { name: "one sine", waves: [1, 1] },
    Form { name: "several sines", waves: [2, 8] },
    Form { name: "noise", waves: [30, 30] },
];

/// The flow CV of one pour.
#[allow(dead_code)] // each user reads its own part
pub struct Run {
    pub start_s: f64,
    pub truth: f64,
    pub cv: Maybe,
    pub is_resolved: bool,
    /// None if the readings are too slow for a bound.
    pub upper: Option<f64>,
    /// The bound for hands no faster than the readings resolve.
    pub seen_upper: Option<f64>,
}

#[allow(dead_code)] // each user asks its own question
impl Run {
    /// The value, if it is distinguishable from 0.
    pub fn resolved(&self) -> Option<Estimate> {
        self.cv.clone().ok().filter(|_| self.is_resolved)
    }

    /// Whether the truth lies within two sd of a resolved value, or else under the upper bound, if one is stated.
    pub fn holds(&self) -> bool {
        match self.resolved() {
            Some(cv) => (cv.value - self.truth).abs() <= 2.0 * cv.sd,
            None => self.upper.is_none_or(|upper| self.truth <= upper),
        }
    }
}

/// Every rate with every step and every noise.
pub fn instruments() -> Vec<Instrument> {
    let mut all = Vec::new();
    for rate_hz in [5.0, 10.0, 20.0, 50.0] {
        for step_g in [0.1, 0.01] {
            for noise_sd_g in [0.02, 0.06, 0.12] {
                all.push(Instrument { rate_hz, step_g, noise_sd_g });
            }
        }
    }
    all
}

/// What the instrument makes of the pours of a seed that last 6 s or longer. The pours depend on seed, form and tremor
/// alone.
pub fn runs(instrument: Instrument, form: Form, tremor: f64, seed: u64) -> Vec<Run> {
    let mut recipe = Recipe { weighed: Weighed::Water, ..Recipe::default() };
    recipe.hand.pours = [3, 3];
    recipe.hand.rest_s = [6.0, 10.0];
    recipe.hand.after_s = [6.0, 10.0];
    recipe.hand.tremor = [0.0, tremor];
    recipe.hand.tremor_waves = form.waves;
    recipe.scale.rate_hz = instrument.rate_hz;
    recipe.scale.step_g = instrument.step_g;
    recipe.scale.noise_sd_g = instrument.noise_sd_g;
    let (log, truth) = simulate(&recipe, seed).expect("the recipe is sound");
    let trace = condition(&log, &ConditionOptions::default()).expect("the log is sound");
    let segments = segment(&trace, &SegmentOptions::default()).expect("the options are sound");
    let rows = metrics(&trace, &segments, &MetricsOptions::default()).expect("the options are sound").pours;
    let mut out = Vec::new();
    for (pour, row) in segments.pours.iter().zip(rows) {
        let same = |t: &&pourline::simulate::TruePour| (t.start_s - pour.start_s.value).abs() < 0.5;
        let Some(truth) = truth.pours.iter().find(same) else { continue };
        if truth.end_s - truth.start_s >= 6.0 {
            let value = |bound: pourline::Maybe| bound.ok().map(|e| e.value);
            let (upper, seen_upper) = (value(row.flow_cv_upper), value(row.flow_cv_seen_upper));
            let (start_s, truth) = (truth.start_s, truth.flow_cv);
            let (cv, is_resolved) = (row.flow_cv, row.flow_cv_resolved);
            out.push(Run { start_s, truth, cv, is_resolved, upper, seen_upper });
        }
    }
    out
}

/// The runs over many seeds, on all cores.
pub fn many(instrument: Instrument, form: Form, tremor: f64, seeds: std::ops::Range<u64>) -> Vec<Run> {
    let threads = std::thread::available_parallelism().map_or(1, usize::from) as u64;
    let part = |k| {
        seeds.clone().filter(move |s| s % threads == k).flat_map(move |s| runs(instrument, form, tremor, s))
    };
    let parts: Vec<Vec<Run>> = std::thread::scope(|scope| {
        let started: Vec<_> = (0..threads).map(|k| scope.spawn(move || part(k).collect())).collect();
        started.into_iter().map(|t| t.join().expect("a run fails")).collect()
    });
    parts.into_iter().flatten().collect()
}
