//! In: a simulated log and its truth. Out: the same log as something outside the simulator of one brew left it, and
//! what is true of it then.

use super::{Expected, Made, Must};
use pourline::{Log, Meta, Missing, Truth};

/// A cut pour of less than this need not be found, g: twice what a pour is by definition.
const SMALL_G: f64 = 4.0;

/// A separate small generator (Steele, Lea and Flood, SplitMix64, 2014): an instant of a fault must not move with the
/// library.
pub struct Draw(u64);

impl Draw {
    pub fn new(seed: u64) -> Self {
        Self(seed.wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ 0x5eed)
    }

    pub fn unit(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    pub fn between(&mut self, from: f64, to: f64) -> f64 {
        from + (to - from) * self.unit()
    }

    pub fn sign(&mut self) -> f64 {
        if self.unit() < 0.5 { -1.0 } else { 1.0 }
    }

    /// An instant in a rest between two pours, at least a second from both, with `room_s` after it.
    pub fn rest(&mut self, truth: &Truth, room_s: f64) -> f64 {
        let rests: Vec<(f64, f64)> =
            truth.pours.windows(2).map(|w| (w[0].end_s + 1.0, w[1].start_s - 1.0 - room_s)).collect();
        let longest = |a: &&(f64, f64), b: &&(f64, f64)| (a.1 - a.0).total_cmp(&(b.1 - b.0));
        let fits: Vec<(f64, f64)> = rests.iter().copied().filter(|r| r.1 > r.0).collect();
        let chosen = match fits.len() {
            0 => *rests.iter().max_by(longest).expect("a brew has two pours or more"),
            n => fits[((self.unit() * n as f64) as usize).min(n - 1)],
        };
        self.between(chosen.0, chosen.1.max(chosen.0 + 0.1))
    }

    /// An instant in the middle of a pour.
    pub fn pour(&mut self, truth: &Truth) -> f64 {
        let n = truth.pours.len();
        let p = &truth.pours[((self.unit() * n as f64) as usize).min(n - 1)];
        self.between(p.start_s + 0.3, p.end_s - 0.3)
    }
}

/// The columns of a log, to be changed and put together again.
pub struct Parts {
    pub time_s: Vec<f64>,
    pub water_g: Vec<f64>,
    pub beverage_g: Vec<f64>,
    pub meta: Meta,
}

impl Parts {
    pub fn of(log: &Log) -> Self {
        let column = |c: Option<&[f64]>| c.expect("both were weighed").to_vec();
        Self {
            time_s: log.time_s().to_vec(),
            water_g: column(log.water_g()),
            beverage_g: column(log.beverage_g()),
            meta: log.meta.clone(),
        }
    }

    pub fn log(self) -> pourline::Result<Log> {
        Log::with_missing(self.time_s, Some(self.water_g), Some(self.beverage_g), self.meta, Missing::Flag)
    }

    pub fn at(&self, t_s: f64) -> usize {
        self.time_s.partition_point(|&t| t < t_s)
    }
}

fn rounded(value: f64, step: f64) -> f64 {
    (value / step).round() * step
}

/// Another vessel on a scale from `at_s` on: for a while the scale is empty, then something that weighs `more_g`
/// more.
pub fn swapped(readings: &mut [f64], time_s: &[f64], at_s: f64, off_s: f64, vessel_g: f64, more_g: f64) {
    for (y, &t) in readings.iter_mut().zip(time_s) {
        if t >= at_s && t < at_s + off_s {
            *y = rounded(-vessel_g + 0.05 * (t * 7.0).sin(), 0.1);
        } else if t >= at_s + off_s {
            *y = rounded(*y + more_g, 0.1);
        }
    }
}

/// The log as far as it was written before the battery died.
pub fn cut(log: &Log, truth: &Truth, at_s: f64) -> Made {
    let mut parts = Parts::of(log);
    let n = parts.at(at_s).max(30);
    let at_s = parts.time_s[n.min(parts.time_s.len()) - 1];
    for column in [&mut parts.time_s, &mut parts.water_g, &mut parts.beverage_g] {
        column.truncate(n);
    }
    let mut made = Made::of(log.clone(), truth, truth);
    let poured = |t_s: f64| {
        let i = truth.time_s.partition_point(|&t| t <= t_s).max(1) - 1;
        truth.water_g[i]
    };
    made.pours.retain(|p| p.start_s < at_s);
    if let Some(last) = made.pours.last_mut().filter(|p| p.end_s > at_s) {
        // The true mass is the poured one, although the log contains only a part of it.
        last.optional = poured(at_s) - poured(last.start_s) < SMALL_G;
    }
    let i = n.min(truth.water_g.len()) - 1;
    let (water, beverage) = (truth.water_g[i], truth.beverage_g[i]);
    made.whole = [Some(water), Some(beverage), Some((water - beverage) / truth.dose_g)];
    // Water in the bed at the cut is no retention, and a pour that runs is not whole.
    if made.pours.last().is_some_and(|p| p.end_s > at_s) {
        made.whole = [None; 3];
    }
    made.log = parts.log();
    made
}

/// The clock jumps by `jump_s` at an instant, stamps counting from `from_s`.
pub fn clock(log: &Log, truth: &Truth, at_s: f64, from_s: f64, jump_s: f64) -> Made {
    let mut parts = Parts::of(log);
    let n = parts.at(at_s);
    for (i, t) in parts.time_s.iter_mut().enumerate() {
        *t += from_s + if i >= n { jump_s } else { 0.0 };
    }
    let mut made = Made::of(log.clone(), truth, truth);
    for p in &mut made.pours {
        p.optional = p.start_s < at_s + 1.0 && p.end_s > at_s - 1.0;
        let moved = |t: f64| t + from_s + if t >= at_s { jump_s } else { 0.0 };
        (p.start_s, p.end_s) = (moved(p.start_s), moved(p.end_s));
    }
    let (a, b) = (at_s + from_s, at_s + from_s + jump_s);
    made.must = Must::Between(a.min(b) - 1.0, a.max(b) + 1.0);
    made.log = parts.log();
    made
}

/// Two brews in one log, the second `pause_s` after the first. Between them the second has its own zero, or goes on
/// from the end of the first.
pub fn two(first: (&Log, &Truth), second: (&Log, &Truth), pause_s: f64, zeroed: bool) -> Made {
    let (mut parts, then) = (Parts::of(first.0), Parts::of(second.0));
    let end_s = parts.time_s.last().copied().unwrap_or(0.0);
    let (water_g, beverage_g) =
        (parts.water_g[parts.water_g.len() - 1], parts.beverage_g[parts.beverage_g.len() - 1]);
    let on_g = if zeroed { [0.0; 2] } else { [water_g, beverage_g] };
    let mut made = Made::of(first.0.clone(), first.1, first.1);
    let step_s = 0.1;
    let waiting = (pause_s / step_s) as usize;
    let from_s = end_s + step_s * (waiting + 1) as f64;
    for k in 1..=waiting {
        parts.time_s.push(end_s + step_s * k as f64);
        parts.water_g.push(water_g);
        parts.beverage_g.push(beverage_g);
    }
    for i in 0..then.time_s.len() {
        parts.time_s.push(from_s + then.time_s[i]);
        parts.water_g.push(rounded(then.water_g[i] + on_g[0], 0.1));
        parts.beverage_g.push(rounded(then.beverage_g[i] + on_g[1], 0.1));
    }
    made.pours.extend(second.1.pours.iter().map(|p| {
        let p = Expected::of(p, None);
        Expected { start_s: p.start_s + from_s, end_s: p.end_s + from_s, ..p }
    }));
    // No one brew has these masses.
    made.whole = [None; 3];
    made.must = Must::CautionIfAcross(0.5 * (end_s + from_s));
    made.log = parts.log();
    made
}
