//! Hands that do more than one thing in a pour.

use super::hands::{Hand, Ramps, Shape, SingleDrop, level, noise, shaped, usual};
use super::{GRID_HZ, Random};
use std::f64::consts::TAU;

/// One part after another.
fn joined(parts: Vec<Hand>) -> Hand {
    let mut whole = Hand::default();
    for part in parts {
        let from_s = whole.flow.len() as f64 / GRID_HZ;
        whole.flow.extend(part.flow);
        whole.drops.extend(part.drops.into_iter().map(|d| SingleDrop { time_s: d.time_s + from_s, ..d }));
    }
    whole
}

fn still(seconds: f64) -> Hand {
    Hand { flow: vec![0.0; (seconds * GRID_HZ) as usize], drops: Vec::new() }
}

/// Flow that passes from one of these to the next at these times, s; each change takes the same time.
fn stepped(seconds: f64, ramps: &Ramps, flows: &[f64], times_s: &[f64], takes_s: f64) -> Hand {
    shaped(seconds, ramps, |_, t| {
        let changes = flows.windows(2).zip(times_s);
        flows[0]
            + changes
                .map(|(f, at)| (f[1] - f[0]) * Shape::HalfCosine.at((t - at) / takes_s + 0.5))
                .sum::<f64>()
    })
}

/// A hand as steady as people's: a little of everything.
pub fn level_alive(random: &mut Random) -> Hand {
    let (seconds, flow, ramps) = usual(random);
    let (slow, quick) = (noise(random, seconds, 1.5), noise(random, seconds, 0.3));
    let (sway, tremor) = (random.within(0.01, 0.04), random.within(0.005, 0.02));
    let half = random.within(-0.06, 0.06);
    shaped(seconds, &ramps, |u, t| {
        let i = (t * GRID_HZ) as usize;
        flow * (1.0 + half * (2.0 * u - 1.0) + sway * slow[i] + tremor * quick[i])
    })
}

/// Circles over the bed: a slow beat whose pace drifts.
pub fn spiral(random: &mut Random) -> Hand {
    let (seconds, flow, ramps) = usual(random);
    let (hz, amplitude) = (random.within(0.25, 0.6), random.within(0.06, 0.14));
    let (drift, wander) = (random.within(-0.4, 0.4), noise(random, seconds, 3.0));
    let (phase, strays) = (random.within(0.0, TAU), random.within(0.2, 0.9));
    shaped(seconds, &ramps, |u, t| {
        let turns = hz * t * (1.0 + 0.5 * drift * u);
        flow * (1.0 + amplitude * (TAU * turns + phase + strays * wander[(t * GRID_HZ) as usize]).sin())
    })
}

/// A full kettle glugs: the flow swells quickly and fades, again and again.
pub fn glugs(random: &mut Random) -> Hand {
    let (seconds, flow, ramps) = usual(random);
    let (hz, depth) = (random.within(0.7, 2.0), random.within(0.1, 0.25));
    let (phase, wander) = (random.unit(), noise(random, seconds, 1.0));
    shaped(seconds, &ramps, |_, t| {
        let x = (hz * t + phase + 0.08 * wander[(t * GRID_HZ) as usize]).rem_euclid(1.0);
        let tooth = if x < 0.25 { x / 0.25 } else { (1.0 - x) / 0.75 };
        flow * (1.0 + depth * (tooth - 0.5))
    })
}

/// An eighth of the flow first, as a thin stream or in drops.
pub fn drips(random: &mut Random) -> Hand {
    let (seconds, ramps) = (random.within(6.0, 20.0), Ramps::usual(random, 6.0));
    let (flow, before_s) = (random.within(5.5, 12.0), random.within(0.7, 1.3));
    let full = shaped(seconds, &ramps, |_, _| flow);
    if random.chance(0.5) {
        let n = (before_s * GRID_HZ) as usize;
        let thin = Hand { flow: vec![flow / 8.0; n], drops: Vec::new() };
        return over(thin, full, 0.0);
    }
    let interval_s = random.within(0.12, 0.2);
    let n = (before_s / interval_s).round() as usize;
    let drops = (0..n)
        .map(|i| SingleDrop {
            time_s: 0.02 + interval_s * (i as f64 + random.within(-0.15, 0.15)).max(0.0),
            mass_g: flow / 8.0 * interval_s * random.within(0.8, 1.2),
        })
        .collect();
    joined(vec![Hand { drops, ..still(before_s) }, full])
}

/// The first, then the second, which begins while the first goes on until the second is as strong.
fn over(first: Hand, second: Hand, pause_s: f64) -> Hand {
    let thin = first.flow.last().copied().unwrap_or(0.0);
    let mut flow = first.flow;
    flow.resize(flow.len() + (pause_s * GRID_HZ) as usize, 0.0);
    let opened = second.flow.iter().position(|&f| f >= thin).unwrap_or(0);
    flow.extend(second.flow.iter().enumerate().map(|(i, &f)| if i < opened { f.max(thin) } else { f }));
    Hand { flow, drops: second.drops }
}

/// About 1 g/s for 1 to 3 s, then the full flow.
pub fn trickle(random: &mut Random) -> Hand {
    let (seconds, flow, ramps) = usual(random);
    let (thin, before_s) = (random.within(0.8, 1.3), random.within(1.0, 3.0));
    let thin = shaped(before_s, &Ramps { close: (0.001, Shape::Linear), ..ramps }, |_, _| thin);
    let opens_s = random.within(0.15, 0.6);
    let full = shaped(seconds, &Ramps { open: (opens_s, ramps.open.1), ..ramps }, |_, _| flow);
    over(thin, full, 0.0)
}

/// A gentle part for a fifth to two thirds of the time, then more.
pub fn gentle_more(random: &mut Random) -> Hand {
    let (seconds, _, ramps) = usual(random);
    let (more, gentle) = (random.within(5.0, 12.0), random.within(0.2, 0.7));
    let (share, takes_s) = (random.within(0.2, 0.67), random.within(0.2, 1.0));
    let gentle = (more * gentle).max(1.2);
    stepped(seconds, &ramps, &[gentle, more], &[share * seconds], takes_s)
}

/// The same backwards.
pub fn more_gentle(random: &mut Random) -> Hand {
    let mut hand = gentle_more(random);
    hand.flow.reverse();
    hand
}

/// Pulses with pauses of .3 to .9 s between them: one pour.
pub fn pulses_with_pauses(random: &mut Random) -> Hand {
    let (flow, ramp_s) = (random.within(4.0, 12.0), random.within(0.12, 0.35));
    let (pulse_s, pause_s) = (random.within(1.0, 2.5), random.within(0.3, 0.9));
    let (shape, spread) = ([Shape::Linear, Shape::HalfCosine][random.count(0, 1)], random.within(0.0, 0.08));
    let ramps = Ramps { open: (ramp_s, shape), close: (ramp_s, shape) };
    // Below 0.5 g/s the ramps belong to the pause.
    let passed = (0..1000).map(|i| f64::from(i) / 1000.0).find(|&x| flow * shape.at(x) > 0.5).unwrap_or(0.0);
    let still_s = (pause_s - 2.0 * passed * ramp_s).max(0.05);
    let n = random.count(3, 7);
    let mut parts = Vec::new();
    for k in 0..n {
        let one = flow * (1.0 + spread * random.normal()).max(0.5);
        parts.push(shaped(pulse_s * (1.0 + spread * random.normal()).max(0.5), &ramps, |_, _| one));
        if k + 1 < n {
            parts.push(still(still_s));
        }
    }
    joined(parts)
}

/// Pulses that never stop: the flow falls to a third and grows again.
pub fn pulses_without_pauses(random: &mut Random) -> Hand {
    let (seconds, flow, ramps) = usual(random);
    let (period_s, low) = (random.within(1.5, 3.5), random.within(0.25, 0.5));
    let (on, edge) = (random.within(0.4, 0.65), random.within(0.08, 0.2));
    shaped(seconds, &ramps, |_, t| {
        let x = (t / period_s).rem_euclid(1.0);
        let up = Shape::HalfCosine.at(x / edge) - Shape::HalfCosine.at((x - on) / edge);
        flow * (low + (1.0 - low) * up)
    })
}

/// Large single drops, from .8 to a few a second, all of the pour.
pub fn drop_by_drop(random: &mut Random) -> Hand {
    let (per_s, n) = (random.within(0.8, 3.5), random.count(8, 25));
    let flow = random.within(1.0, 3.0);
    let (uneven, irregular) = (random.within(0.0, 0.2), random.within(0.0, 0.15));
    let drops: Vec<SingleDrop> = (0..n)
        .map(|i| SingleDrop {
            time_s: 0.1
                + (i as f64 + irregular * random.within(-1.0, 1.0) * f64::from(u8::from(i > 0))) / per_s,
            mass_g: flow / per_s * (1.0 + uneven * random.within(-1.0, 1.0)),
        })
        .collect();
    let seconds = drops.last().map_or(0.0, |d| d.time_s) + 0.2;
    Hand { drops, ..still(seconds) }
}

/// A few drops after the stream has ended; no pour of their own.
pub fn dribble(random: &mut Random) -> Hand {
    let mut hand = level(random);
    let mut t = hand.flow.len() as f64 / GRID_HZ;
    for _ in 0..random.count(2, 6) {
        t += random.within(0.3, 1.2);
        hand.drops.push(SingleDrop { time_s: t, mass_g: random.within(0.03, 0.12) });
    }
    hand.flow.resize(((t + 0.2) * GRID_HZ) as usize, 0.0);
    hand
}

/// Too much at first: the kettle is tilted, then corrected.
pub fn overshoot(random: &mut Random) -> Hand {
    let (seconds, flow, ramps) = usual(random);
    let (more, tau_s) = (random.within(0.3, 0.8), random.within(0.2, 0.7));
    let from_s = ramps.open.0;
    shaped(seconds, &ramps, |_, t| flow * (1.0 + more * (-(t - from_s).max(0.0) / tau_s).exp()))
}

/// A last splash.
pub fn splash_at_end(random: &mut Random) -> Hand {
    let mut hand = overshoot(random);
    hand.flow.reverse();
    hand
}

/// Opens and closes at once.
pub fn sharp(random: &mut Random) -> Hand {
    let (seconds, flow, _) = usual(random);
    let ramps = Ramps { open: (0.03, Shape::Linear), close: (0.03, Shape::Linear) };
    shaped(seconds, &ramps, |_, _| flow)
}

/// A flow that falls low for a while and comes back: one pour.
pub fn dip_to(random: &mut Random, low: f64, low_s: f64) -> Hand {
    let (before_s, after_s) = (random.within(3.0, 8.0), random.within(3.0, 8.0));
    let (flow, low) = (random.within(6.0, 10.0), low * random.within(1.0, 1.15));
    let (low_s, takes_s) = (low_s * random.within(0.8, 1.2), random.within(0.2, 0.5));
    let seconds = before_s + low_s + after_s;
    let ramps = Ramps::usual(random, seconds);
    stepped(seconds, &ramps, &[flow, low, flow], &[before_s, before_s + low_s], takes_s)
}

/// One or two short slips: the flow falls, or swells, for half a second.
pub fn slip(random: &mut Random) -> Hand {
    let (seconds, flow, ramps) = usual(random);
    let n = random.count(1, 2);
    let slips: Vec<[f64; 3]> = (0..n)
        .map(|_| {
            let size = if random.chance(0.7) { -random.within(0.3, 0.7) } else { random.within(0.2, 0.5) };
            [random.within(0.2, 0.8) * seconds, random.within(0.25, 0.8), size]
        })
        .collect();
    shaped(seconds, &ramps, |_, t| {
        let slipped = |[at, takes, size]: &[f64; 3]| {
            let x = (t - at) / takes;
            if x.abs() < 0.5 { size * 0.5 * (1.0 + (TAU * x).cos()) } else { 0.0 }
        };
        flow * (1.0 + slips.iter().map(slipped).sum::<f64>()).max(0.1)
    })
}

/// Two pours with little between them: by the definition they are two.
pub fn two_near(random: &mut Random) -> Hand {
    let rest_s = random.within(1.4, 3.0);
    joined(vec![level(random), still(rest_s), level(random)])
}

/// About 6, 3 and 8 g/s, one after the other.
pub fn regimes(random: &mut Random) -> Hand {
    let flows = [6.0, 3.0, 8.0].map(|f| f * random.within(0.9, 1.1));
    let seconds = random.within(10.0, 24.0);
    let ramps = Ramps::usual(random, seconds);
    let times_s = [random.within(0.25, 0.4) * seconds, random.within(0.6, 0.75) * seconds];
    stepped(seconds, &ramps, &flows, &times_s, random.within(0.1, 0.8))
}

/// Two to four levels, as they come.
pub fn regimes_any(random: &mut Random) -> Hand {
    let n = random.count(2, 4);
    let flows: Vec<f64> = (0..n).map(|_| random.within(2.0, 12.0)).collect();
    let times_s: Vec<f64> =
        (1..n).scan(0.0, |_, k| Some(4.0 * k as f64 + random.within(-1.0, 1.0))).collect();
    let seconds = 4.0 * n as f64 + random.within(0.0, 4.0);
    let ramps = Ramps::usual(random, seconds);
    stepped(seconds, &ramps, &flows, &times_s, random.within(0.1, 0.8))
}

pub fn fast(random: &mut Random) -> Hand {
    let (flow, seconds) = (random.within(18.0, 40.0), random.within(3.0, 8.0));
    let ramps = Ramps::usual(random, seconds);
    let half = random.within(-0.1, 0.1);
    shaped(seconds, &ramps, |u, _| flow * (1.0 + half * (2.0 * u - 1.0)))
}

pub fn slow(random: &mut Random) -> Hand {
    let (flow, seconds) = (random.within(1.0, 2.5), random.within(8.0, 25.0));
    let ramps = Ramps::usual(random, seconds);
    let (sway, cv) = (noise(random, seconds, 1.5), random.within(0.0, 0.08));
    shaped(seconds, &ramps, |_, t| flow * (1.0 + cv * sway[(t * GRID_HZ) as usize]))
}

pub fn short(random: &mut Random) -> Hand {
    let (flow, seconds) = (random.within(4.0, 12.0), random.within(1.0, 3.0));
    let ramps = Ramps::usual(random, seconds);
    shaped(seconds, &ramps, |_, _| flow)
}

/// A few grams.
pub fn small(random: &mut Random) -> Hand {
    let (flow, mass_g) = (random.within(2.0, 6.0), random.within(3.5, 12.0));
    let seconds = (mass_g / flow).max(0.8) + 0.3;
    let ramps = Ramps::usual(random, seconds);
    shaped(seconds, &ramps, |_, _| flow)
}

/// 1 to 5 min.
pub fn long(random: &mut Random) -> Hand {
    let (flow, seconds) = (random.within(1.5, 5.0), random.within(60.0, 300.0));
    let ramps = Ramps::usual(random, seconds);
    let correlation_s = random_time(random);
    let (sway, cv) = (noise(random, seconds, correlation_s), random.within(0.02, 0.08));
    let half = random.within(-0.2, 0.2);
    shaped(seconds, &ramps, |u, t| flow * (1.0 + half * (2.0 * u - 1.0) + cv * sway[(t * GRID_HZ) as usize]))
}

fn random_time(random: &mut Random) -> f64 {
    0.3 * 10f64.powf(random.unit())
}

/// One of many: shorter pours.
pub fn many(random: &mut Random) -> Hand {
    let (flow, seconds) = (random.within(4.0, 9.0), random.within(3.0, 8.0));
    let ramps = Ramps::usual(random, seconds);
    shaped(seconds, &ramps, |_, _| flow)
}

/// Pours of a brew that differ: one small and gentle, others large.
pub fn unlike(random: &mut Random) -> Hand {
    let gentle = random.chance(0.4);
    let flow = if gentle { random.within(1.5, 4.0) } else { random.within(6.0, 14.0) };
    let seconds = if gentle { random.within(4.0, 10.0) } else { random.within(6.0, 25.0) };
    let ramps = Ramps::usual(random, seconds);
    let half = random.within(-0.15, 0.15);
    shaped(seconds, &ramps, |u, _| flow * (1.0 + half * (2.0 * u - 1.0)))
}

/// A slope, a bend, a change, a sway, a tremor and a beat, each or none.
pub fn mixed(random: &mut Random) -> Hand {
    let (seconds, flow, mut ramps) = usual(random);
    let some = |random: &mut Random, size: f64| if random.chance(0.5) { size * random.normal() } else { 0.0 };
    let (slope, bend, change) = (some(random, 0.15), some(random, 0.1), some(random, 0.15));
    let (sway, tremor, beats) = (some(random, 0.05), some(random, 0.04), some(random, 0.05));
    let correlation_s = random_time(random);
    let (slow, quick) = (noise(random, seconds, correlation_s), noise(random, seconds, 0.2));
    let (hz, phase, at) =
        (0.25 * 10f64.powf(random.unit()), random.within(0.0, TAU), random.within(0.2, 0.8));
    if random.chance(0.3) {
        ramps.open = (random.within(0.3, 1.0), Shape::Logistic);
    }
    shaped(seconds, &ramps, |u, t| {
        let i = (t * GRID_HZ) as usize;
        let level = slope * (2.0 * u - 1.0) + bend * (6.0 * (u - 0.5).powi(2) - 0.5);
        let changed = change * (Shape::HalfCosine.at((t - at * seconds) / 0.3) - 0.5);
        let rough = sway * slow[i] + tremor * quick[i] + beats * (TAU * hz * t + phase).sin();
        flow * (1.0 + level + changed + rough).max(0.2)
    })
}
