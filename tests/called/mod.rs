//! How soon and how rightly a live watch calls pours, and how well its flow is covered by its sd: shared by the test
//! and the page.

use pourline::simulate::Faults;
use pourline::{Live, LiveFlag, LiveState, Options, Recipe, Truth, simulate};
use std::ops::Range;

/// A call this long after the end of a pour still is of that pour, s: the lag holds the reading up.
const LATE_S: f64 = 0.5;

/// What many brews gave.
#[derive(Debug, Default)]
pub struct Called {
    pub brews: u64,
    pub pours: usize,
    pub missed: usize,
    /// Calls of no pour, or of one that was called before; and how many of all calls were withdrawn.
    pub false_calls: usize,
    pub withdrawn: usize,
    /// Call less true start, and stated less true start, s.
    pub delay_s: Vec<f64>,
    pub start_error_s: Vec<f64>,
    /// Samples whose true flow lies within 1.96 sd, and all, within true pours and at rest.
    pub in_pours: [usize; 2],
    pub at_rest: [usize; 2],
    pub rest_s: f64,
}

impl Called {
    pub fn covered(of: [usize; 2]) -> f64 {
        of[0] as f64 / of[1] as f64
    }

    pub fn says(&self) -> String {
        let hours = self.rest_s / 3600.0;
        format!(
            "{} brews, {} pours, {hours:.1} h of rest: {} missed, {} false calls, {} withdrawn\n  \
             delay of the call: median {:.3} s, nine in ten within {:.3} s\n  \
             start as stated less true: median {:+.3} s, nine in ten from {:+.3} to {:+.3} s\n  \
             true flow within 1.96 sd: {:.3} of the samples in pours, {:.3} of those at rest",
            self.brews,
            self.pours,
            self.missed,
            self.false_calls,
            self.withdrawn,
            quantile(&self.delay_s, 0.5),
            quantile(&self.delay_s, 0.9),
            quantile(&self.start_error_s, 0.5),
            quantile(&self.start_error_s, 0.05),
            quantile(&self.start_error_s, 0.95),
            Self::covered(self.in_pours),
            Self::covered(self.at_rest),
        )
    }

    fn count(&mut self, truth: &Truth, nows: &[LiveState]) {
        let mut free: Vec<(f64, f64)> =
            nows.iter().filter_map(|now| Some((now.time_s, now.began?))).collect();
        for pour in &truth.pours {
            self.pours += 1;
            match free.iter().position(|call| call.0 >= pour.start_s && call.0 <= pour.end_s + LATE_S) {
                Some(k) => {
                    let (at_s, start_s) = free.remove(k);
                    self.delay_s.push(at_s - pour.start_s);
                    self.start_error_s.push(start_s - pour.start_s);
                }
                None => self.missed += 1,
            }
        }
        self.false_calls += free.len();
        self.withdrawn += nows.iter().filter(|now| now.withdrawn.is_some()).count();
        for (i, now) in nows.iter().enumerate().filter(|(_, now)| now.flag != LiveFlag::Late) {
            let t = truth.time_s[i];
            let within = truth.pours.iter().any(|p| (p.start_s..=p.end_s).contains(&t));
            let of = if within { &mut self.in_pours } else { &mut self.at_rest };
            let flow = now.flow_g_per_s;
            of[0] += usize::from((flow.value - truth.flow_g_per_s[i]).abs() <= 1.96 * flow.sd);
            of[1] += 1;
        }
        let poured_s: f64 = truth.pours.iter().map(|p| p.end_s - p.start_s).sum();
        self.rest_s += truth.time_s.last().unwrap_or(&0.0) - truth.time_s.first().unwrap_or(&0.0) - poured_s;
    }
}

/// Watches brews of a recipe with the default options and nothing learnt from the truth.
pub fn run(recipe: &Recipe, seeds: Range<u64>) -> Called {
    let mut called = Called { brews: seeds.end - seeds.start, ..Called::default() };
    for seed in seeds {
        let (log, truth) = simulate(recipe, seed).expect("the recipe is sound");
        let water_g = log.water_g().expect("water was weighed");
        let mut live =
            Live::without_log(log.meta.clone(), Options::default()).expect("the options are sound");
        let nows: Vec<LiveState> = log
            .time_s()
            .iter()
            .zip(water_g)
            .map(|(&t, &w)| live.push(t, w, None).expect("the sample is sound"))
            .collect();
        called.count(&truth, &nows);
    }
    called
}

/// Delays of an optimal test, for which noise, lag and shape of every pour are known: it waits until the reading
/// exceeds the noise by `deviates` sd in all: the matched filter, than which no test that errs as rarely is
/// quicker. Nothing goes wrong in these logs.
pub fn at_best(recipe: &Recipe, seeds: Range<u64>, deviates: f64) -> Vec<f64> {
    let mut still = recipe.clone();
    (still.scale.noise_sd_g, still.scale.step_g, still.faults) = (0.0, 0.0, Faults::default());
    let noise_g = recipe.scale.noise_sd_g.hypot(recipe.scale.step_g / 12f64.sqrt());
    let mut delays = Vec::new();
    for seed in seeds {
        let (log, truth) = simulate(&still, seed).expect("the recipe is sound");
        let (time_s, water_g) = (log.time_s(), log.water_g().expect("water was weighed"));
        for pour in &truth.pours {
            let first = time_s.partition_point(|&t| t < pour.start_s - 0.3);
            let mut sum = 0.0;
            let stands_out = (first..time_s.len()).find(|&i| {
                sum += (water_g[i] - water_g[first]).powi(2);
                sum.sqrt() > deviates * noise_g
            });
            delays.extend(stands_out.map(|i| time_s[i] - pour.start_s));
        }
    }
    delays
}

pub fn quantile(values: &[f64], share: f64) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted.get(((sorted.len().max(1) - 1) as f64 * share).round() as usize).copied().unwrap_or(f64::NAN)
}
