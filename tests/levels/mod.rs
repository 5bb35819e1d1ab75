//! How good the library has to be on simulated brews of each level, and what it reaches: shared by the test and the
//! table.

use pourline::simulate::TruePour;
use pourline::{
    Estimate, Level, Maybe, Options, PourMetrics, Recipe, Score, Truth, analyze_many, score, simulate,
};

/// One demand on the score of many brews of a level.
pub struct Bar {
    pub level: Level,
    pub name: &'static str,
    pub of: fn(&Score) -> f64,
    pub bar: f64,
    /// Whether the figure has to be at least the bar; otherwise at most.
    pub at_least: bool,
}

impl Bar {
    pub fn met(&self, score: &Score) -> bool {
        self.figure(score).met()
    }

    pub fn says(&self, score: &Score) -> String {
        self.figure(score).says()
    }

    fn figure(&self, score: &Score) -> Figure {
        Figure {
            name: self.name,
            figure: (self.of)(score),
            bar: self.bar,
            at_least: self.at_least,
            goal: false,
        }
    }
}

/// A measured figure and its bar.
pub struct Figure {
    pub name: &'static str,
    pub figure: f64,
    pub bar: f64,
    /// Whether the figure has to be at least the bar; otherwise at most.
    pub at_least: bool,
    /// Whether the bar is a goal that these logs may not allow: a miss is reported, and nothing fails.
    pub goal: bool,
}

impl Figure {
    pub fn met(&self) -> bool {
        if self.at_least { self.figure >= self.bar } else { self.figure <= self.bar }
    }

    pub fn says(&self) -> String {
        let sign = if self.at_least { ">=" } else { "<=" };
        let mark = match (self.met(), self.goal) {
            (true, _) => "",
            (false, false) => "  MISSED",
            (false, true) => "  goal not reached",
        };
        format!("{:44} {:8.4}  {sign} {}{mark}", self.name, self.figure, self.bar)
    }
}

/// The demands, stated for 60 brews a level with the default options.
pub fn bars() -> Vec<Bar> {
    let mut bars = Vec::new();
    let mut table = |level, f1_edges, edge_s, false_pours| {
        let bar = |name, of, bar, at_least| Bar { level, name, of, bar, at_least };
        bars.push(bar("F1, start and end within 0.3 s", |s: &Score| s.f1_edges(0.3), f1_edges, true));
        bars.push(bar("start and end, mean absolute error s", Score::edge_error_s, edge_s, false));
        bars.push(bar("false pours", |s: &Score| s.false_pours() as f64, false_pours, false));
    };
    table(Level::Clean, 0.995, 0.06, 0.0);
    table(Level::Usual, 0.98, 0.10, 0.0);
    table(Level::Hard, 0.95, 0.12, 2.0);
    table(Level::Usual50Hz, 0.98, 0.08, 0.0);
    table(Level::Usual5Hz, 0.95, 0.15, 0.0);
    let mut further = |level, name, of, bar, at_least| bars.push(Bar { level, name, of, bar, at_least });
    for (level, bar) in [(Level::Clean, 0.035), (Level::Usual, 0.05), (Level::Usual50Hz, 0.03)] {
        further(level, "half-rise and -fall, mean absolute error s", Score::half_error_s, bar, false);
    }
    for (level, bar) in [(Level::Clean, 0.96), (Level::Usual, 0.90)] {
        further(level, "F1, half-rise and -fall within 0.1 s", |s| s.f1_halves(0.1), bar, true);
    }
    for (level, bar) in [(Level::Clean, 0.45), (Level::Usual, 0.6)] {
        further(level, "flow within pours, RMS error g/s", |s| s.flow_g_per_s.rms(), bar, false);
    }
    further(Level::Usual, "mass, mean absolute error g", |s| s.mass_g.mean_absolute(), 0.15, false);
    bars
}

/// Names of the quantities that carry a stated sd, and their errors.
pub fn stated(score: &Score) -> [(&'static str, &pourline::simulate::Errors); 7] {
    [
        ("start_s", &score.start_s),
        ("end_s", &score.end_s),
        ("mass_g", &score.mass_g),
        ("mean_flow_g_per_s", &score.mean_flow_g_per_s),
        ("half_rise_s", &score.half_rise_s),
        ("half_fall_s", &score.half_fall_s),
        ("flow_g_per_s", &score.flow_g_per_s),
    ]
}

/// The score of that many brews of a recipe, seeds from `first_seed`, with the default options and nothing learnt from
/// the truth. A log that cannot be analysed counts as one in which nothing was found.
pub fn run(recipe: &Recipe, first_seed: u64, brews: u64) -> Score {
    let (mut logs, mut truths) = (Vec::new(), Vec::<Truth>::new());
    for seed in first_seed..first_seed + brews {
        let (log, truth) = simulate(recipe, seed).expect("the recipe is sound");
        logs.push(log);
        truths.push(truth);
    }
    let mut total = Score::default();
    for (brew, truth) in analyze_many(&logs, &Options::default()).iter().zip(&truths) {
        let mut one = score(truth, brew.as_ref().map_or(&[], |b| &b.segments.pours));
        if let Ok(brew) = brew
            && let Some(flow) = &brew.flow
        {
            let index = &brew.trace.log_index;
            one.add_flow(truth, index, &flow.flow_g_per_s, &flow.flow_sd_g_per_s);
        }
        total.merge(one);
    }
    total
}

/// The part of the flow CV that the readings resolve, and up to which frequency, Hz: its parts, added in quadrature.
pub fn seen_cv(found: &PourMetrics) -> Option<(Estimate, f64)> {
    let parts = [&found.flow_cv_trend, &found.flow_cv_slow, &found.flow_cv_fast];
    let known = || parts.into_iter().filter_map(|part: &Maybe| part.as_ref().ok());
    let value = known().fold(0.0_f64, |all, part| all.hypot(part.value));
    let sd = known().fold(0.0_f64, |all, part| all.hypot(part.value * part.sd)) / value;
    Some((Estimate::new(value, sd), found.resolved_to_hz.as_ref().ok()?.value))
}

/// True flow CV on the plateau up to a frequency: the variance of the straight line, and of the discrete Fourier
/// transform of what is left, by the trapezoid rule.
pub fn true_cv(truth: &Truth, pour: &TruePour, to_hz: f64) -> f64 {
    let at = |t: f64| truth.time_s.partition_point(|u| *u < t);
    let within = at(pour.plateau_start_s)..at(pour.plateau_end_s);
    let (time, flow) = (&truth.time_s[within.clone()], &truth.flow_g_per_s[within]);
    let n = time.len();
    let weight: Vec<f64> =
        (0..n).map(|i| 0.5 * (time[(i + 1).min(n - 1)] - time[i.saturating_sub(1)])).collect();
    let total_s: f64 = weight.iter().sum();
    let over = |of: &dyn Fn(usize) -> f64| (0..n).map(|i| weight[i] * of(i)).sum::<f64>() / total_s;
    let (middle_s, mean) = (over(&|i| time[i]), over(&|i| flow[i]));
    let square = over(&|i| (time[i] - middle_s).powi(2));
    let slope = over(&|i| (time[i] - middle_s) * (flow[i] - mean)) / square;
    let rest = |i: usize| flow[i] - mean - slope * (time[i] - middle_s);
    let mut variance = slope * slope * square;
    for k in (1..).take_while(|k| f64::from(*k) <= to_hz * total_s) {
        let angle = |i: usize| std::f64::consts::TAU * f64::from(k) * (time[i] - time[0]) / total_s;
        let (re, im) = (over(&|i| rest(i) * angle(i).cos()), over(&|i| rest(i) * angle(i).sin()));
        variance += 2.0 * (re * re + im * im);
    }
    variance.sqrt() / mean
}
