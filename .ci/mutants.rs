//! The switch of `make mutants`: which mutant is on, and which are reached. This file is part of no build but that one.

#![allow(missing_docs, dead_code, clippy::all)]

use std::io::Write;
use std::sync::OnceLock;
use std::sync::atomic::{AtomicBool, Ordering};

struct Switch {
    on: usize,
    reached: Option<String>,
}

static SWITCH: OnceLock<Switch> = OnceLock::new();
static SEEN: [AtomicBool; 8192] = [const { AtomicBool::new(false) }; 8192];

fn switch() -> &'static Switch {
    SWITCH.get_or_init(|| Switch {
        on: std::env::var("POURLINE_MUTANT").ok().and_then(|id| id.parse().ok()).unwrap_or(usize::MAX),
        reached: std::env::var("POURLINE_REACHED").ok(),
    })
}

/// Whether the mutant of this number is on.
#[inline]
pub fn on(id: usize) -> bool {
    let switch = switch();
    if let Some(path) = &switch.reached {
        if !SEEN[id].swap(true, Ordering::Relaxed) {
            let mut file = std::fs::OpenOptions::new().create(true).append(true).open(path).unwrap();
            writeln!(file, "{id}").unwrap();
        }
    }
    switch.on == id
}

/// What a comparison is made of. A whole number is compared off by one side; a limit that is no whole number is moved
/// by a quarter, since no data falls on it exactly, and a limit of 0 is compared off by one side.
pub trait Compared: PartialOrd + Copy {
    fn moved(self) -> Option<Self>;
}

macro_rules! whole {
    ($($t:ty)*) => { $(impl Compared for $t { fn moved(self) -> Option<Self> { None } })* };
}
whole!(u8 u16 u32 u64 usize i8 i16 i32 i64 isize);

impl Compared for f64 {
    fn moved(self) -> Option<Self> {
        (self != 0.0 && self.is_finite()).then_some(self * 1.25)
    }
}

/// `a op b` with the limit off; the limit is `b`, or `a` where that is asked.
pub fn off<T: Compared>(a: T, op: &str, b: T, left: bool) -> bool {
    let moved = if left { a.moved().map(|a| (a, b)) } else { b.moved().map(|b| (a, b)) };
    match (op, moved) {
        ("<", Some((a, b))) => a < b,
        ("<=", Some((a, b))) => a <= b,
        (">", Some((a, b))) => a > b,
        (">=", Some((a, b))) => a >= b,
        ("<", None) => a <= b,
        ("<=", None) => a < b,
        (">", None) => a >= b,
        (_, _) => a > b,
    }
}
