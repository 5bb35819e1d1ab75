//! How good the library has to be on simulated brews of each level, and what it reaches: shared by the test and the
//! table.

use pourline::{Level, Options, Recipe, Score, Truth, analyze_many, score, simulate};

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
    pub fn figure(&self, score: &Score) -> Figure {
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
