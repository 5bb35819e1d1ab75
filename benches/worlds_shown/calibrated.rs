//! The scale of a log, calibrated before: what ten masses on the same instrument give, compared with its true delay.

use super::scales::Errors;
use crate::worlds::{Calibrating, Made, Setting, Way, masses, named};
use pourline::{CalibrateOptions, Estimate, Log, Meta, Options, calibrate};
use std::collections::BTreeMap;

/// What a calibration gave.
pub struct Calibrated {
    /// Of an analysis that is given it; the default if it was refused.
    pub options: Options,
    /// The stated delay, or the error.
    found: Result<Estimate, String>,
    /// That of the readings: of the response, and the mean age of a value that is repeated.
    true_s: f64,
    /// How the person put down most masses.
    usual: Way,
}

/// Gives what a calibration finds to the analysis. Returns the delay that it states.
fn calibrated(options: &mut Options, log: &Log) -> pourline::Result<Estimate> {
    let response = calibrate(log, &CalibrateOptions::default())?.response;
    let delay_s = response.delay_s;
    options.condition.scale = Some(response);
    Ok(delay_s)
}

/// The calibration of the scale of a log, at the same rate. Each hand has its own people.
pub fn calibrating(made: &Made, setting: &Setting, seed: u64) -> Calibrating {
    // An even number leaves the jitter to odd seeds.
    masses(&made.instrument, setting, seed ^ (named(made.kind) & !1))
}

impl Calibrated {
    pub fn new(made: &Made, setting: &Setting, seed: u64) -> Self {
        let Calibrating { time_s, shown_g, usual, instrument, .. } = calibrating(made, setting, seed);
        let mut options = Options::default();
        let found = Log::new(time_s, Some(shown_g), None, Meta::default())
            .and_then(|log| calibrated(&mut options, &log))
            .map_err(|error| error.to_string());
        Self { options, found, true_s: instrument.delay_s() + instrument.readout.age_s(), usual }
    }

    pub fn says(&self) -> String {
        let found = self.found.as_ref().map_or_else(|why| format!("refused: {why}"), |e| format!("{e} s"));
        format!("calibrated, usually {:?}: delay {found}; true {:.4} s", self.usual, self.true_s)
    }
}

/// All calibrations of one kind of scale.
#[derive(Default)]
pub struct Tally {
    n: usize,
    true_s: f64,
    pub delays: Errors,
    by_usual: BTreeMap<Way, Errors>,
    refused: BTreeMap<String, usize>,
}

impl Tally {
    pub fn new<'a>(all: impl Iterator<Item = &'a Calibrated>) -> Self {
        let mut tally = Self::default();
        for one in all {
            tally.n += 1;
            tally.true_s += one.true_s;
            match &one.found {
                Ok(found) => {
                    let error = (found.value - one.true_s, found.sd);
                    tally.delays.all.push(error);
                    tally.by_usual.entry(one.usual).or_default().all.push(error);
                }
                Err(why) => *tally.refused.entry(why.clone()).or_default() += 1,
            }
        }
        tally
    }

    /// Share of the calibrations.
    pub fn refused(&self) -> f64 {
        self.refused.values().sum::<usize>() as f64 / self.n as f64
    }

    fn bias_of(&self, usual: Way) -> f64 {
        self.by_usual.get(&usual).map_or(f64::NAN, Errors::bias)
    }
}

/// Head and cells.
type Column = (&'static str, fn(&Tally) -> String);

const COLUMNS: [Column; 10] = [
    ("logs", |t| t.n.to_string()),
    ("refused", |t| t.refused.values().sum::<usize>().to_string()),
    ("true", |t| format!("{:.3}", t.true_s / t.n as f64)),
    ("delay", |t| format!("{:.4}", t.delays.absolute())),
    ("bias", |t| format!("{:.4}", t.delays.bias())),
    ("2sd%", |t| format!("{:.1}", 100.0 * t.delays.within(2.0))),
    ("sd", |t| format!("{:.2}", t.delays.sd_over_rms())),
    ("quick", |t| format!("{:.4}", t.bias_of(Way::Quick))),
    ("slow", |t| format!("{:.4}", t.bias_of(Way::Slow))),
    ("bounces", |t| format!("{:.4}", t.bias_of(Way::Bounces))),
];

pub fn table(tallies: &[(&str, &Tally)]) {
    println!(
        "Calibration. true: mean of the true delays, s, with the mean age of a value that is repeated. delay: mean \
         absolute error, s;\nbias: mean error, s, and that of people who are usually quick, slow, or let the mass \
         bounce. 2sd%: truth within 2 sd.\nsd: mean sd over rms error."
    );
    let heads: String = COLUMNS.iter().map(|(head, _)| format!("{head:>8}")).collect();
    println!("{:16}{heads}", "");
    for (name, t) in tallies {
        let cells: String = COLUMNS.iter().map(|(_, of)| format!("{:>8}", of(t))).collect();
        println!("{name:16}{cells}");
    }
    println!();
    for (name, t) in tallies {
        for (why, logs) in &t.refused {
            println!("calibration refused {logs} times in {name}: {why}");
        }
    }
}
