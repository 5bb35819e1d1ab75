//! In: arbitrary bytes. Out: nothing, or a panic that names the broken bound: a reader or an analysis may refuse
//! what it is given, and has to do so without a panic, within its time and its memory, and in words that may be shown
//! on a terminal.
//!
//! The fuzzer and `tests/replay.rs` call the same functions. Bounds: an allocation of 64 times the input at most and a
//! stated amount beside it, all that lives at once counted; and 1 s on the processor, in the least of three trials.

mod samples;

use peak_alloc::PeakAlloc;
use pourline::{
    Brew, Labels, Live, Log, MassUnit, Meta, Missing, Options, Plan, Pours, ProfileOptions, ReadOptions,
    Result, TimeUnit, analyze as whole, analyze_labelled, gather, profile,
};
use samples::Samples;
use std::hint::black_box;
use std::sync::LazyLock;
use std::time::Instant;

#[global_allocator]
static MEMORY: PeakAlloc = PeakAlloc;

/// Bytes that may be allocated for each byte of the input.
const TIMES_THE_INPUT: usize = 64;
/// Further memory of a reader: buffers, tables of names, and the message of an error.
const BESIDE_A_READER: usize = 64 << 10;
/// Further memory of a plan: the parser's table for each dot in a key, of which there are a thousand, and a
/// hundred times the text.
const BESIDE_A_PLAN: usize = 4 << 20;
/// Further memory of an analysis: its draws of flows, 120 curves of some 6000 cells, and the tables of its
/// transforms.
const BESIDE_AN_ANALYSIS: usize = 16 << 20;
/// What profiles and distances may have: they walk through the time from the first start to the last end, 1e5 s at
/// most, in steps of 0.02 s.
const BESIDE_A_PROFILE: usize = 512 << 20;
const MOST_S: f64 = 1.0;
/// The longest message, in characters.
const LONGEST_MESSAGE: usize = 2000;

/// A log from text in columns. The first byte sets the caller's arguments on the columns, the rest is the file.
pub fn text(data: &[u8]) {
    file(data, |text| !matches!(text.trim_ascii_start().first(), Some(b'{' | b'[')));
}

/// A log from JSON, likewise.
pub fn json(data: &[u8]) {
    file(data, |text| matches!(text.trim_ascii_start().first(), Some(b'{' | b'[')));
}

fn file(data: &[u8], wanted: fn(&[u8]) -> bool) {
    let Some((&first, text)) = data.split_first().filter(|(_, text)| wanted(text)) else { return };
    let options = options_of(first);
    within(data.len(), BESIDE_A_READER, || Log::read_bytes(text, &options, Meta::default()));
}

fn options_of(first: u8) -> ReadOptions {
    let by_number = first & 1 != 0;
    ReadOptions {
        time: by_number.then(|| "1".into()),
        water: by_number.then(|| "2".into()),
        beverage: (first & 3 == 3).then(|| "3".into()),
        missing: if first & 4 != 0 { Missing::Flag } else { Missing::Refuse },
        time_unit: [None, Some(TimeUnit::S), Some(TimeUnit::Ms), Some(TimeUnit::Min)]
            [usize::from(first >> 3 & 3)],
        mass_unit: if first & 32 != 0 { Some(MassUnit::G) } else { None },
    }
}

/// A plan from TOML.
pub fn plan(data: &[u8]) {
    let Ok(text) = str::from_utf8(data) else { return };
    within(data.len(), BESIDE_A_PLAN, || Plan::parse(text));
}

/// Labels from JSON; those that are sound come back as they are from their own JSON.
pub fn labels(data: &[u8]) {
    let Ok(text) = str::from_utf8(data) else { return };
    if let Some(labels) = within(data.len(), BESIDE_A_READER, || Labels::from_json(text)) {
        assert_eq!(Labels::from_json(&labels.to_json()), Ok(labels));
    }
}

/// A brew from JSON; what is taken serves all that takes a brew.
pub fn brew(data: &[u8]) {
    let Ok(text) = str::from_utf8(data) else { return };
    let Some(brew) = within(data.len(), BESIDE_A_READER, || Brew::from_json(text)) else { return };
    within(data.len(), BESIDE_A_PROFILE, || {
        black_box((brew.table(true), Labels::of(&brew)));
        let plan = Plan::parse("[[pour]]\nstart_s = 0\nmass_g = 50\nflow_g_per_s = 5")?;
        black_box(plan.follow(&brew).map(|followed| followed.table()).ok());
        black_box(gather(std::slice::from_ref(&brew), Pours::default()).ok());
        black_box(profile(&[&brew, &brew], &ProfileOptions::default()).ok());
        pourline::distance(&brew, &brew)
    });
}

/// The whole way of a log with any samples.
pub fn analyze(data: &[u8]) {
    let samples = Samples::of(data);
    let Ok(log) = samples.log() else { return };
    let brew = within(samples.bytes(), BESIDE_AN_ANALYSIS, || whole(&log, &Options::default()));
    brew.iter().for_each(one_after_the_other);
    if let Some(labels) = brew.map(|brew| samples.moved(Labels::of(&brew))) {
        within(samples.bytes(), BESIDE_AN_ANALYSIS, || analyze_labelled(&log, &labels, &Options::default()));
    }
}

/// Whatever was sampled, a pour begins before it ends and brings water, and every sd is a number.
fn one_after_the_other(brew: &Brew) {
    for pour in &brew.segments.pours {
        assert!(pour.start_s.value < pour.end_s.value && pour.mass_g.value > 0.0, "{pour:?}");
        let halves = [&pour.half_rise_s, &pour.half_fall_s].into_iter().filter_map(|edge| edge.clone().ok());
        let all: Vec<_> =
            [pour.start_s, pour.end_s, pour.mass_g, pour.duration_s].into_iter().chain(halves).collect();
        assert!(
            all.iter().all(|found| found.value.is_finite() && found.sd >= 0.0 && found.sd.is_finite()),
            "{pour:?}"
        );
    }
}

/// Any samples one by one, and then the whole; what a log would refuse is refused there and the next may follow.
pub fn live(data: &[u8]) {
    let samples = Samples::of(data);
    within(samples.bytes(), BESIDE_AN_ANALYSIS, || {
        let mut live = Live::new(Meta::default(), Options::default())?;
        for (time_s, water_g, beverage_g) in samples.rows() {
            if let Err(refused) = live.push(time_s, water_g, beverage_g) {
                in_order(&refused.to_string());
            }
        }
        live.finish()
    });
}

/// Runs a task within its bounds; returns its result, or nothing if it was refused.
fn within<T>(input: usize, beside: usize, work: impl Fn() -> Result<T>) -> Option<T> {
    let mut least_s = f64::INFINITY;
    for _ in 0..3 {
        let before = MEMORY.current_usage();
        MEMORY.reset_peak_usage();
        let begun_s = spent_s();
        let found = work();
        least_s = least_s.min(spent_s() - begun_s);
        let most = MEMORY.peak_usage().saturating_sub(before);
        let bound = TIMES_THE_INPUT * input + beside;
        assert!(most <= bound, "{most} bytes were allocated for {input} bytes, where {bound} may be");
        if least_s <= MOST_S {
            return found.map_err(|refused| in_order(&refused.to_string())).ok();
        }
    }
    panic!("{least_s} s for {input} bytes");
}

/// Processor time of this thread, s, if the system provides it; else that of the clock.
fn spent_s() -> f64 {
    static BEGUN: LazyLock<Instant> = LazyLock::new(Instant::now);
    let told = std::fs::read_to_string("/proc/thread-self/schedstat").ok();
    let spent_ns = told.and_then(|told| told.split(' ').next()?.parse().ok());
    spent_ns.map_or_else(|| BEGUN.elapsed().as_secs_f64(), |ns: f64| 1e-9 * ns)
}

/// A message can be shown anywhere: nothing in it steers a terminal or turns the direction of reading, and it is short.
fn in_order(message: &str) {
    let steers = |c: char| {
        c.is_control()
            || matches!(c, '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
    };
    assert!(!message.contains(steers), "{message:?} steers a terminal");
    assert!(message.chars().count() <= LONGEST_MESSAGE, "{} characters: {message}", message.chars().count());
}
