//! A person who calibrates a scale: ten masses are put on it by hand, one after the other, and taken off again.
//!
//! In: a scale, how it is read, a seed. Out: stamps and readings, and what was put on and taken off, and when.

use super::placed::Placed;
use super::reading::{Setting, named, read};
use super::scales::Instrument;
use super::{GRID_HZ, Random, Shape};

/// How a hand puts a mass down.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Way {
    /// In .05 to .2 s.
    Quick,
    /// It lets go over .35 to .45 s, and takes it off as slowly.
    Slow,
    /// In .05 to .2 s, and the mass swings after it.
    Bounces,
    /// An edge of it first, the rest .3 to .8 s later.
    TwoMoves,
    /// A finger pushes on it for .2 to .6 s while it stands.
    Pushed,
}

/// A mass that was put on and taken off.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PutOn {
    /// It is known to the person.
    pub mass_g: f64,
    pub way: Way,
    /// The first instant at which it weighs.
    pub from_s: f64,
    /// The mean of the instants at which its load came, s: the middle of it, but for a swing.
    pub on_s: f64,
    /// The same of its being taken off, s.
    pub off_s: f64,
}

/// A log of a calibration, and the truth about it.
#[derive(Debug, Clone)]
pub struct Calibrating {
    pub time_s: Vec<f64>,
    pub shown_g: Vec<f64>,
    /// In the order in which they were put on.
    pub puts: Vec<PutOn>,
    /// How all masses were put down that were put down in no way of their own.
    pub usual: Way,
    pub instrument: Instrument,
}

const MASSES: usize = 10;
/// Each in one mass of every log.
const OWN: [Way; 4] = [Way::Slow, Way::Bounces, Way::TwoMoves, Way::Pushed];
/// Those of the other masses of a log: half of the people are quick.
const USUAL: [Way; 4] = [Way::Quick, Way::Quick, Way::Slow, Way::Bounces];
/// Share of the people who put a second mass on the first, and take it off before the first.
const STACKS: f64 = 0.3;
/// Share of the loads that are left for about 5 s, not ten.
const BRIEF: f64 = 0.3;

/// The calibration of a scale. What the person does is the same for a seed, on every scale and at every rate.
pub fn masses(instrument: &Instrument, setting: &Setting, seed: u64) -> Calibrating {
    let mut random = Random::new(seed ^ named("masses"));
    let (usual, puts, moves, last_s) = handled(&mut random);
    let mut load_g = vec![0.0; (last_s * GRID_HZ) as usize + 1];
    moves.iter().for_each(|m| m.add_to(&mut load_g));
    let shown = instrument.shown(load_g);
    let (time_s, shown_g) = read(instrument, setting, &shown, None, seed, &mut random);
    Calibrating { time_s, shown_g, puts, usual, instrument: instrument.clone() }
}

/// The usual way, the masses, all that loads the scale, and when the log ends.
fn handled(random: &mut Random) -> (Way, Vec<PutOn>, Vec<Placed>, f64) {
    let usual = USUAL[random.count(0, USUAL.len() - 1)];
    let mut ways = OWN.to_vec();
    ways.resize(MASSES, usual);
    (1..MASSES).for_each(|i| ways.swap(i, random.count(0, i)));
    let at_once = if random.chance(STACKS) { 2 } else { 1 };
    let (mut puts, mut moves): (Vec<PutOn>, Vec<Placed>) = (Vec::new(), Vec::new());
    let mut at_s = random.within(5.0, 8.0);
    for ways in ways.chunks(at_once) {
        let first = puts.len();
        for &way in ways {
            let mass_g = 20.0 * 25f64.powf(random.unit());
            let (on, on_s) = put_on(mass_g, at_s, way, random);
            moves.extend(on);
            puts.push(PutOn { mass_g, way, from_s: at_s, on_s, off_s: f64::NAN });
            at_s += stays_s(random);
        }
        for put in puts[first..].iter_mut().rev() {
            let off = by_hand(-put.mass_g, at_s, put.way, random);
            put.off_s = off.middle_s();
            moves.push(off);
            at_s += stays_s(random);
        }
    }
    (usual, puts, moves, at_s)
}

fn stays_s(random: &mut Random) -> f64 {
    if random.chance(BRIEF) { random.within(4.5, 5.5) } else { random.within(8.0, 13.0) }
}

/// All that loads the scale as a mass is put on, and the mean instant of the mass.
fn put_on(mass_g: f64, from_s: f64, way: Way, random: &mut Random) -> (Vec<Placed>, f64) {
    let whole = by_hand(mass_g, from_s, way, random);
    match way {
        Way::Quick | Way::Slow => (vec![whole], whole.middle_s()),
        Way::Bounces => {
            let bounce = (random.within(0.05, 0.3), random.within(4.0, 9.0), random.within(0.05, 0.15));
            let whole = Placed { bounce: Some(bounce), ..whole };
            (vec![whole], whole.middle_s())
        }
        Way::TwoMoves => {
            let share = random.within(0.3, 0.7);
            let edge = Placed { mass_g: share * mass_g, ..whole };
            let rest = by_hand(mass_g - edge.mass_g, from_s + random.within(0.3, 0.8), way, random);
            (vec![edge, rest], share * edge.middle_s() + (1.0 - share) * rest.middle_s())
        }
        Way::Pushed => {
            let (pushed_g, pushed_s) = (random.within(5.0, 50.0), from_s + random.within(2.0, 3.2));
            let finger = by_hand(pushed_g, pushed_s, way, random);
            let lifted = by_hand(-pushed_g, pushed_s + random.within(0.2, 0.6), way, random);
            (vec![whole, finger, lifted], whole.middle_s())
        }
    }
}

/// One move of a hand.
fn by_hand(mass_g: f64, from_s: f64, way: Way, random: &mut Random) -> Placed {
    let (least_s, most_s) = if way == Way::Slow { (0.35, 0.45) } else { (0.05, 0.2) };
    Placed {
        mass_g,
        from_s,
        takes_s: random.within(least_s, most_s),
        shape: [Shape::Linear, Shape::HalfCosine][random.count(0, 1)],
        bounce: None,
        zeroed_s: None,
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Response, scales};
    use super::*;

    const SEEDS: u64 = 30;

    fn exact(rate_hz: f64) -> Setting {
        Setting { rate_hz, noise_sd_g: 0.0, step_g: 0.0, ..Setting::default() }
    }

    /// Each instant at which a load comes or goes in the mean, and that load, in order of time.
    fn steps(made: &Calibrating) -> Vec<(f64, f64)> {
        let of = |p: &PutOn| [(p.on_s, p.mass_g), (p.off_s, -p.mass_g)];
        let mut steps: Vec<(f64, f64)> = made.puts.iter().flat_map(of).collect();
        steps.sort_by(|a, b| a.0.total_cmp(&b.0));
        steps
    }

    #[test]
    fn ten_masses_are_put_on_in_their_ways_and_taken_off() {
        let (mut usual, mut stacks, mut brief) = (Vec::new(), 0, 0);
        for seed in 0..SEEDS {
            let made = masses(&Response::Lag { lag_s: 0.2 }.into(), &exact(10.0), seed);
            assert!(made.puts.len() == 10 && made.puts.iter().all(|p| (20.0..500.0).contains(&p.mass_g)));
            let mut ways: Vec<Way> = made.puts.iter().map(|p| p.way).collect();
            let mut meant = [vec![made.usual; 6], OWN.to_vec()].concat();
            ways.sort();
            meant.sort();
            assert_eq!(ways, meant);
            let steps = steps(&made);
            let stays: Vec<f64> = steps.windows(2).map(|w| w[1].0 - w[0].0).collect();
            // 4.5 to 13 s from the start of one move to the next; the middle is up to 1 s later.
            assert!(stays.iter().all(|s| (3.5..14.0).contains(s)));
            brief += stays.iter().filter(|s| **s < 6.5).count();
            stacks += usize::from(made.puts[1].on_s < made.puts[0].off_s);
            usual.push(made.usual);
            assert!(made.time_s.windows(2).all(|w| w[1] > w[0]) && made.time_s.len() == made.shown_g.len());
            assert!(*made.time_s.last().unwrap() > steps[19].0 + 4.0);
        }
        // Binomial, three sd of 30 people and of their 570 stays.
        let near = |n: usize, of: f64, share: f64| {
            (n as f64 - share * of).abs() < 3.0 * (share * (1.0 - share) * of).sqrt()
        };
        assert!(near(stacks, SEEDS as f64, STACKS) && near(brief, 19.0 * SEEDS as f64, BRIEF));
        assert!(near(usual.iter().filter(|w| **w == Way::Quick).count(), SEEDS as f64, 0.5));
    }

    #[test]
    fn at_rest_the_scale_shows_what_stands_on_it() {
        // 4 s after the middle of a move, and before the next: ten lags and more.
        for seed in 0..8 {
            let made = masses(&Response::Lag { lag_s: 0.1 }.into(), &exact(10.0), seed);
            let mut stands_g = 0.0;
            let at = |s: f64| made.shown_g[made.time_s.iter().position(|t| *t >= s).unwrap()];
            assert_eq!(at(4.0), 0.0);
            for pair in steps(&made).windows(2) {
                stands_g += pair[0].1;
                let pushed = made.puts.iter().any(|p| p.way == Way::Pushed && p.on_s == pair[0].0);
                // The finger comes 2 s after the mass at the earliest.
                let shown_g = at(if pushed { pair[0].0 + 1.5 } else { pair[1].0 - 0.7 });
                assert!((shown_g - stands_g).abs() < 0.01, "{seed}: {shown_g} g of {stands_g} g");
            }
            assert!((stands_g + steps(&made)[19].1).abs() < 1e-9);
        }
    }

    #[test]
    fn what_each_move_lacks_is_its_mass_times_its_instant_and_the_delay() {
        // Means of instants add up where one filter follows another: from a rest before a move, what the reading lacks
        // of the load to come is the mass times the mean instant of the move and the mean of the impulse response. By
        // the trapezium rule at 1 kHz.
        let names = ["lag", "two_lags", "average_03", "average_1", "overshoot"];
        for scale in scales().iter().filter(|s| names.contains(&s.name)) {
            for seed in 0..4 {
                let instrument = scale.instrument(&mut Random::new(seed));
                let delay_s = instrument.impulse_delay_s().unwrap();
                let made = masses(&instrument, &exact(1000.0), 2 * seed);
                let mut stands_g = 0.0;
                for (middle_s, mass_g) in steps(&made) {
                    stands_g += mass_g;
                    // The move starts within .75 s before its middle; a finger comes 1.8 s after it at the earliest.
                    let pushed = made.puts.iter().any(|p| p.way == Way::Pushed && p.on_s == middle_s);
                    let (from_s, to_s) = (middle_s - 0.8, middle_s + if pushed { 1.8 } else { 3.2 });
                    let at = |s: f64| made.time_s.partition_point(|t| *t < s);
                    let (from, to) = (at(from_s), at(to_s));
                    let pairs = made.time_s[from..to].windows(2).zip(made.shown_g[from..to].windows(2));
                    let lacks = |(t, g): (&[f64], &[f64])| (stands_g - 0.5 * (g[0] + g[1])) * (t[1] - t[0]);
                    let area: f64 = pairs.map(lacks).sum();
                    let found_s = made.time_s[from] + area / mass_g - middle_s;
                    assert!((found_s - delay_s).abs() < 2e-3, "{}: {found_s} s, not {delay_s} s", scale.name);
                }
            }
        }
    }

    #[test]
    fn a_person_does_the_same_on_every_scale_and_at_every_rate() {
        let lag = Response::Lag { lag_s: 0.2 }.into();
        let one = masses(&lag, &Setting::default(), 3);
        for (scale, rate_hz) in scales().iter().zip([5.0, 10.0, 50.0].into_iter().cycle()) {
            let instrument = scale.instrument(&mut Random::new(7));
            let made = masses(&instrument, &Setting { rate_hz, ..Setting::default() }, 3);
            assert!(made.puts == one.puts && made.instrument == instrument);
            let read_hz = instrument.most_hz.map_or(rate_hz, |most_hz| rate_hz.min(most_hz));
            let mean_s = (made.time_s.last().unwrap() - made.time_s[0]) / (made.time_s.len() - 1) as f64;
            assert!((mean_s * read_hz - 1.0).abs() < 1e-3);
        }
        assert_ne!(masses(&lag, &Setting::default(), 4).puts, one.puts);
    }
}
