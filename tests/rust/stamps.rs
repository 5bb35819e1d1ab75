//! Logs whose stamps are not the instants of their readings; `tests/worlds` has the hands and the stamps.

use crate::judged::{self, Judged, judge};
use crate::worlds::{Made, Setting, Stamped, Stamping, kinds, log, stamped};
use pourline::{ConditionOptions, EventKind, Flag, Level, Log, Meta, condition, simulate};
use rayon::prelude::*;

/// What came out of some logs.
#[derive(Debug, Default)]
struct Tried {
    pours: usize,
    missed: usize,
    extra: usize,
    /// Mean absolute error of half-edges, s.
    half_s: f64,
    /// Mean error, s.
    bias_s: f64,
    /// Half-edges, and start, end and mass, that lie within 2 sd, of those that are defined; and beyond 4 sd.
    half_within: f64,
    within: f64,
    beyond: f64,
    undefined: usize,
    warnings: Vec<String>,
    /// Mean error of the times of readings, and sd about it, s.
    times: (f64, f64),
}

/// A log of a level hand, as it was stamped. No force of the stream is weighed.
fn made(stamping: &Stamping, rate_hz: f64, seed: u64) -> Stamped {
    let setting = Setting { rate_hz, force: Some(false), ..Setting::default() };
    let kind = &kinds()[(seed % 2) as usize];
    stamped(&log(kind, &setting, seed), stamping, 1.0 / rate_hz, seed)
}

/// Times of the readings of the trace, less the true ones, s.
fn time_errors(stamped: &Stamped) -> Vec<f64> {
    let Made { time_s, water_g, .. } = stamped.made.clone();
    let log = Log::new(time_s, Some(water_g), None, Meta::default()).unwrap();
    let trace = condition(&log, &ConditionOptions::default()).unwrap();
    let used = trace.water.unwrap().flag.into_iter().map(|f| f != Flag::Duplicate);
    let times = trace.time_s.iter().zip(&trace.log_index).zip(used);
    times.filter(|(_, used)| *used).map(|((t, &i), _)| t - stamped.read_s[i]).collect()
}

fn mean_and_sd(values: &[f64]) -> (f64, f64) {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    (mean, (values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / n).sqrt())
}

fn tried(stamping: &Stamping, rate_hz: f64, logs: std::ops::Range<u64>) -> Tried {
    let each: Vec<(f64, f64)> =
        logs.clone().map(|seed| mean_and_sd(&time_errors(&made(stamping, rate_hz, seed)))).collect();
    let times = (mean_and_sd(&each.iter().map(|e| e.0).collect::<Vec<_>>()).0,
        (each.iter().map(|e| e.1 * e.1).sum::<f64>() / each.len() as f64).sqrt());
    let judged: Vec<Judged> =
        logs.into_par_iter().map(|seed| judge(&made(stamping, rate_hz, seed).made, seed)).collect();
    let mut all = Tried { times, ..Tried::default() };
    let (mut half, mut others) = (Vec::new(), Vec::new());
    for log in judged {
        all.pours += log.rows.len() + log.missed;
        all.missed += log.missed;
        all.extra += log.extra;
        all.warnings.extend(log.warnings);
        for row in log.rows {
            for (name, number) in judged::SCORED.iter().zip(row.numbers) {
                let Some(truth) = number.truth else { continue };
                let Some(found) = number.found else {
                    all.undefined += 1;
                    continue;
                };
                let error = (found.value - truth, found.sd);
                match *name {
                    "half_rise_s" | "half_fall_s" => half.push(error),
                    "start_s" | "end_s" | "mass_g" => others.push(error),
                    _ => {}
                }
            }
        }
    }
    let share = |of: &[(f64, f64)], sds: f64| {
        of.iter().filter(|(e, sd)| e.abs() <= sds * sd).count() as f64 / of.len().max(1) as f64
    };
    let n = half.len().max(1) as f64;
    all.half_s = half.iter().map(|e| e.0.abs()).sum::<f64>() / n;
    all.bias_s = half.iter().map(|e| e.0).sum::<f64>() / n;
    (all.half_within, all.within) = (share(&half, 2.0), share(&others, 2.0));
    all.beyond = 1.0 - share(&[half, others].concat(), 4.0);
    all
}

fn print(name: &str, t: &Tried) {
    eprintln!(
        "{name:28} pours {:4} missed {:3} extra {:3} half {:.4} bias {:+.4} within {:.2} others {:.2} beyond {:.3} undefined {} warnings {} times {:+.4} +- {:.4}",
        t.pours, t.missed, t.extra, t.half_s, t.bias_s, t.half_within, t.within, t.beyond, t.undefined, t.warnings.len(), t.times.0, t.times.1
    );
}

const PACKETS: Stamping = Stamping {
    packet: (3, 5),
    apart_s: 0.002,
    late_s: 0.0,
    tail_s: 0.0,
    stalls: 0.0,
    dropped: 0.0,
    lost: 0.0,
    doubled: 0.0,
    rounded_s: 0.0,
    on_change: false,
    nominal: false,
};
const SINGLE: Stamping = Stamping { packet: (1, 1), apart_s: 0.0, ..PACKETS };

#[test]
#[ignore = "slow"]
fn table() {
    let n: u64 = std::env::var("N").ok().and_then(|n| n.parse().ok()).unwrap_or(16);
    let only = std::env::var("ONLY").unwrap_or_default();
    for (name, stamping, rate_hz) in [
        ("good", SINGLE, 10.0),
        ("packets 3-5", PACKETS, 10.0),
        ("packets 3-5 late .02", Stamping { late_s: 0.02, ..PACKETS }, 10.0),
        ("packets 3-5 tail .02", Stamping { tail_s: 0.02, ..PACKETS }, 10.0),
        ("packets 3-5 equal", Stamping { apart_s: 0.0, ..PACKETS }, 10.0),
        ("pairs .1 ms", Stamping { packet: (2, 2), apart_s: 0.0001, ..PACKETS }, 10.0),
        ("packets 2-8 5 Hz", Stamping { packet: (2, 8), ..PACKETS }, 5.0),
        ("packets 2-8 10 Hz tail .02", Stamping { packet: (2, 8), tail_s: 0.02, ..PACKETS }, 10.0),
        ("packets 2-8 20 Hz", Stamping { packet: (2, 8), ..PACKETS }, 20.0),
        ("packets 2-8 80 Hz", Stamping { packet: (2, 8), ..PACKETS }, 80.0),
        ("packets 2-8 80 Hz tail", Stamping { packet: (2, 8), tail_s: 0.02, ..PACKETS }, 80.0),
        ("dropped 1 %", Stamping { dropped: 0.01, ..PACKETS }, 10.0),
        ("dropped 5 %", Stamping { dropped: 0.05, ..PACKETS }, 10.0),
        ("lost 5 %", Stamping { lost: 0.05, ..PACKETS }, 10.0),
        ("doubled 5 %", Stamping { doubled: 0.05, ..PACKETS }, 10.0),
        ("late .08", Stamping { late_s: 0.08, ..SINGLE }, 10.0),
        ("late .08 dropped 3 %", Stamping { late_s: 0.08, dropped: 0.03, ..SINGLE }, 10.0),
        ("tail .03", Stamping { tail_s: 0.03, ..SINGLE }, 10.0),
        ("late .08 50 Hz", Stamping { late_s: 0.08, ..SINGLE }, 50.0),
        ("dropped 5 % alone", Stamping { dropped: 0.05, ..SINGLE }, 10.0),
        ("to the second 10 Hz", Stamping { rounded_s: 1.0, ..SINGLE }, 10.0),
        ("to the second 2 Hz", Stamping { rounded_s: 1.0, ..SINGLE }, 2.0),
        ("to the second 1 Hz", Stamping { rounded_s: 1.0, ..SINGLE }, 1.0),
        ("on change", Stamping { on_change: true, ..SINGLE }, 10.0),
        ("stalls", Stamping { stalls: 0.03, ..SINGLE }, 10.0),
        ("stalls 50 Hz", Stamping { stalls: 0.005, ..SINGLE }, 50.0),
        ("late .08 5 Hz", Stamping { late_s: 0.08, ..SINGLE }, 5.0),
        ("late .08 20 Hz", Stamping { late_s: 0.08, ..SINGLE }, 20.0),
        ("dropped 5 % 2-8 20 Hz", Stamping { dropped: 0.05, packet: (2, 8), ..PACKETS }, 20.0),
        ("dropped 5 % 2-8 5 Hz", Stamping { dropped: 0.05, packet: (2, 8), ..PACKETS }, 5.0),
        ("dropped 5 % 2-8 80 Hz tail", Stamping { dropped: 0.05, packet: (2, 8), tail_s: 0.02, ..PACKETS }, 80.0),
        ("pairs .1 ms 5 Hz", Stamping { packet: (2, 2), apart_s: 0.0001, ..PACKETS }, 5.0),
        ("pairs .1 ms 80 Hz", Stamping { packet: (2, 2), apart_s: 0.0001, ..PACKETS }, 80.0),
        ("nominal", Stamping { nominal: true, ..SINGLE }, 10.0),
    ] {
        if name.contains(&only) {
            let t = tried(&stamping, rate_hz, 0..n);
            print(name, &t);
            for w in t.warnings.iter().take(2) {
                eprintln!("      {w}");
            }
        }
    }
}

#[test]
#[ignore = "slow"]
fn each() {
    for (name, stamping, hz) in [
        ("drop5", Stamping { dropped: 0.05, packet: (2, 8), ..PACKETS }, 5.0),
        ("stalls", Stamping { stalls: 0.03, ..SINGLE }, 10.0),
    ] {
        for seed in 0..24 {
            let made = made(&stamping, hz, seed);
            let errors = time_errors(&made);
            let t = tried(&stamping, hz, seed..seed + 1);
            let pouring = |t: f64| made.made.pours.iter().any(|p| p.start_s < t && t < p.end_s);
            let within: Vec<f64> = if errors.len() == made.read_s.len() {
                errors.iter().zip(&made.read_s).filter(|(_, t)| pouring(**t)).map(|(e, _)| *e).collect()
            } else { vec![0.0] };
            eprintln!("  half {:.4} bias {:+.4} in pours {:?} worst {:.3}", t.half_s, t.bias_s, mean_and_sd(&within), within.iter().fold(0.0, |a: f64, e| a.max(e.abs())));
            let raw: Vec<f64> = made.made.time_s.iter().zip(&made.read_s).map(|(a, b)| a - b).collect();
            let (m, sd) = mean_and_sd(&errors);
            let worst = errors.iter().map(|e| (e - m).abs()).fold(0.0, f64::max);
            let off = errors.iter().filter(|e| (*e - m).abs() > 0.4 / hz).count();
            eprintln!("{name} {seed} {m:+.4} {sd:.4} worst {worst:.4} off {off} of {} raw {:?}", errors.len(), mean_and_sd(&raw));
        }
    }
}

/// Stamps of these logs are those of the readings, with a jitter of up to 12 % of the interval.
fn is_unchanged(log: &Log) -> bool {
    let trace = condition(log, &ConditionOptions::default()).unwrap();
    let mut stamps = log.time_s().to_vec();
    stamps.sort_by(f64::total_cmp);
    trace.time_s == stamps && trace.events.iter().all(|e| e.kind != EventKind::Retimed)
}

#[test]
fn good_stamps_stay_as_they_are() {
    for level in Level::ALL {
        for seed in 0..40 {
            assert!(is_unchanged(&simulate(&level.recipe(), seed).unwrap().0), "{} {seed}", level.name());
        }
    }
    for kind in kinds() {
        for (seed, rate_hz) in [(1, 10.0), (2, 50.0), (3, 2.0)] {
            let made = log(kind, &Setting { rate_hz, ..Setting::default() }, seed);
            let of = Log::new(made.time_s, Some(made.water_g), None, Meta::default()).unwrap();
            assert!(is_unchanged(&of), "{} {seed}", kind.name);
        }
    }
}

#[test]
#[ignore = "slow"]
fn one() {
    for (stamping, hz, seed) in [
        (Stamping { dropped: 0.05, packet: (2, 8), ..PACKETS }, 20.0, 1),
        (Stamping { dropped: 0.05, packet: (2, 8), tail_s: 0.02, ..PACKETS }, 80.0, 0),
        (Stamping { lost: 0.05, ..PACKETS }, 10.0, 3),
    ] {
        let made = made(&stamping, hz, seed);
        let brew = judged::analysed(&made.made).unwrap();
        eprintln!("true lag {} found {:?} {:?} noise {:?}", made.made.lag_s, brew.segments.scale_lag_s, brew.segments.lag_source, brew.trace.water.as_ref().unwrap().noise_sd_g);
        eprintln!("lead {:?}", brew.segments.stream_lead_s);
        let mut oracle = made.made.clone();
        oracle.time_s = made.read_s.clone();
        let with = judged::analysed(&oracle).unwrap();
        eprintln!("oracle lag {:?} lead {:?}", with.segments.scale_lag_s, with.segments.stream_lead_s);
        for e in &brew.trace.events { eprintln!("  {:?}", e); }
        for p in &brew.segments.pours { eprintln!("  {:?} {:?}", p.half_rise_s, p.half_fall_s); }
        for p in &made.made.pours { eprintln!("  {:?} {:?}", p.half_rise_s, p.half_fall_s); }
    }
}
