//! What a scale shows of a hand: its response, white noise, a readout in steps, and the force of the stream.

use super::around::Around;
use super::placed::{PLACED_S, Placed, Put};
use super::responses::Response;
use super::scales::{Instrument, Scale};
use super::truth::{TruePour, cumulated, jumps, landing, true_pours};
use super::{GRID_HZ, Hand, Kind, Random, SingleDrop};

/// How a log is read.
#[derive(Debug, Clone)]
pub struct Setting {
    pub rate_hz: f64,
    pub noise_sd_g: f64,
    pub step_g: f64,
    /// None: drawn from .08 to .3 s per log. A kind of scale has its own response.
    pub lag_s: Option<f64>,
    /// Whether the force of the stream is weighed. None: in half of the logs.
    pub force: Option<bool>,
    /// None: a first-order lag.
    pub scale: Option<&'static Scale>,
    /// This one, instead of one that is drawn.
    pub instrument: Option<Instrument>,
    /// What is put on the scale before the first pour.
    pub put: Option<Put>,
    /// What else presses on it.
    pub around: Option<Around>,
}

impl Default for Setting {
    fn default() -> Self {
        Self {
            rate_hz: 10.0,
            noise_sd_g: 0.05,
            step_g: 0.1,
            lag_s: None,
            force: None,
            scale: None,
            instrument: None,
            put: None,
            around: None,
        }
    }
}

impl Setting {
    /// Whether the response is the lag of the setting.
    fn plain(&self) -> bool {
        self.scale.is_none() && self.instrument.is_none()
    }
}

/// One log, and the truth about it.
#[derive(Debug, Clone)]
pub struct Made {
    pub kind: &'static str,
    pub time_s: Vec<f64>,
    pub water_g: Vec<f64>,
    pub instrument: Instrument,
    /// The force of the stream adds this many seconds of flow to the load: its speed over the acceleration of gravity.
    pub lead_s: f64,
    pub placed: Option<Placed>,
    pub pours: Vec<TruePour>,
}

const BEFORE_S: f64 = 6.0;
const AFTER_S: f64 = 10.0;
const JITTER_S: f64 = 0.005;

/// A log of a kind of hand. Stamps have a jitter of up to 5 ms in logs of odd seeds; a stamp is the true instant of its
/// reading. The hands of a seed are the same under each kind of scale.
pub fn log(kind: &Kind, setting: &Setting, seed: u64) -> Made {
    let mut random = Random::new(seed ^ named(kind.name));
    let lag_s = setting.lag_s.unwrap_or_else(|| random.within(0.08, 0.3));
    let drawn = || match setting.scale {
        Some(scale) => scale.instrument(&mut Random::new(seed ^ named(kind.name) ^ named(scale.name))),
        None => Response::Lag { lag_s }.into(),
    };
    let instrument = setting.instrument.clone().unwrap_or_else(drawn);
    let pushes = random.chance(0.5);
    let (least_s, most_s) = if setting.plain() { (0.1, 0.24) } else { (0.05, 0.2) };
    let lead_s = random.within(least_s, most_s) * f64::from(u8::from(setting.force.unwrap_or(pushes)));
    let (mut stream, mut drops) = brew(kind, &mut random);
    let placed = setting.put.map(|put| put.draw(&mut Random::new(seed ^ named(kind.name) ^ named("placed"))));
    if placed.is_some() {
        stream.splice(..0, vec![0.0; (PLACED_S * GRID_HZ) as usize]);
        drops.iter_mut().for_each(|d| d.time_s += PLACED_S);
    }
    let landed = landing(&stream, &drops);
    let pours = true_pours(&stream, &drops);
    let plain = setting.plain() && placed.is_none() && setting.around.is_none();
    let shown = if plain {
        shown(&landed, lag_s, lead_s)
    } else {
        let mut load_g = load(&landed, lead_s);
        if let Some(placed) = placed {
            placed.add_to(&mut load_g);
        }
        if let Some(around) = setting.around {
            let mut random = Random::new(seed ^ named(kind.name) ^ named("around"));
            around.add_to(&mut load_g, &pours, &mut random);
        }
        instrument.shown(load_g)
    };
    let zeroed_s = placed.and_then(|p| p.zeroed_s);
    let (time_s, water_g) = read(&instrument, setting, &shown, zeroed_s, seed, &mut random);
    Made { kind: kind.name, time_s, water_g, instrument, lead_s, placed, pours }
}

/// Stamps and readings of what the scale shows on the points of the grid; stamps of odd seeds have a jitter.
pub fn read(
    instrument: &Instrument,
    setting: &Setting,
    shown_g: &[f64],
    zeroed_s: Option<f64>,
    seed: u64,
    random: &mut Random,
) -> (Vec<f64>, Vec<f64>) {
    let jitter_s = if seed % 2 == 1 { JITTER_S } else { 0.0 };
    let last_s = (shown_g.len() - 1) as f64 / GRID_HZ;
    let rate_hz = instrument.most_hz.map_or(setting.rate_hz, |most_hz| setting.rate_hz.min(most_hz));
    // The hand does not begin on a stamp.
    let n = ((last_s - 2.0 * JITTER_S) * rate_hz) as usize;
    let time_s: Vec<f64> =
        (0..n).map(|i| JITTER_S + i as f64 / rate_hz + random.within(-jitter_s, jitter_s)).collect();
    let step_g = instrument.readout.step_g.unwrap_or(setting.step_g);
    let noise_g = || setting.noise_sd_g * random.normal();
    let read_g = instrument.readout.read(shown_g, &time_s, zeroed_s, noise_g);
    let shown_g = read_g.into_iter().map(|g| rounded(g, step_g)).collect();
    (time_s, shown_g)
}

/// The load at each point of the grid, g.
fn load(flow: &[f64], lead_s: f64) -> Vec<f64> {
    let at = |i: usize| flow.get(i).copied().unwrap_or(0.0);
    let force = |i: usize| lead_s * 0.5 * (at(i) + if i > 0 { at(i - 1) } else { 0.0 });
    cumulated(flow).iter().enumerate().map(|(i, g)| g + force(i)).collect()
}

fn rounded(reading_g: f64, step_g: f64) -> f64 {
    if step_g > 0.0 {
        let steps = (reading_g / step_g).round();
        // Steps of .1 g are read as decimal numbers: 12.3, not 12.300000000000001.
        let per_g = (1.0 / step_g).round();
        if (per_g * step_g - 1.0).abs() < 1e-9 { steps / per_g } else { steps * step_g }
    } else {
        reading_g
    }
}

/// Stream and drops of a whole brew.
fn brew(kind: &Kind, random: &mut Random) -> (Vec<f64>, Vec<SingleDrop>) {
    let mut stream = vec![0.0; ((BEFORE_S + random.unit()) * GRID_HZ) as usize];
    let mut drops: Vec<SingleDrop> = Vec::new();
    let pours = random.count(kind.pours.0, kind.pours.1);
    for k in 0..pours {
        let Hand { flow, drops: new } = steady(kind, random);
        let from_s = stream.len() as f64 / GRID_HZ;
        stream.extend(flow);
        drops.extend(new.into_iter().map(|d| SingleDrop { time_s: d.time_s + from_s, ..d }));
        let rest_s =
            if k + 1 < pours { random.within(kind.rest_s.0, kind.rest_s.1) } else { AFTER_S + random.unit() };
        stream.resize(stream.len() + (rest_s * GRID_HZ) as usize, 0.0);
    }
    (stream, drops)
}

/// A pour of the kind at which the definitions do not jump.
fn steady(kind: &Kind, random: &mut Random) -> Hand {
    let mut hand = kind.pour(random);
    for _ in 0..20 {
        let rest = vec![0.0; 200];
        let apart = [rest.clone(), hand.flow.clone(), rest].concat();
        let drops: Vec<SingleDrop> =
            hand.drops.iter().map(|d| SingleDrop { time_s: d.time_s + 0.2, ..*d }).collect();
        if !jumps(&apart, &drops) {
            break;
        }
        hand = kind.pour(random);
    }
    hand
}

/// What the scale would show without noise, at each point of the grid.
fn shown(flow: &[f64], lag_s: f64, lead_s: f64) -> Vec<f64> {
    let mass = cumulated(flow);
    let kept = if lag_s > 0.0 { (-1.0 / (GRID_HZ * lag_s)).exp() } else { 0.0 };
    let mut reading = 0.0;
    let mut shown = Vec::with_capacity(mass.len());
    shown.push(0.0);
    for (i, f) in flow.iter().enumerate() {
        // The load in the middle of the step.
        let load = 0.5 * (mass[i] + mass[i + 1]) + lead_s * f;
        reading = load + kept * (reading - load);
        shown.push(reading);
    }
    shown
}

/// A number of a name, so that kinds do not share their random numbers.
pub fn named(name: &str) -> u64 {
    name.bytes().fold(0xCBF2_9CE4_8422_2325, |h, b| (h ^ u64::from(b)).wrapping_mul(0x0000_0100_0000_01B3))
}

#[cfg(test)]
mod tests {
    use super::super::{kinds, scales};
    use super::*;

    fn exact() -> Setting {
        Setting { noise_sd_g: 0.0, step_g: 0.0, lag_s: Some(0.2), force: Some(false), ..Setting::default() }
    }

    #[test]
    fn a_lag_holds_back_its_time_constant_of_flow() {
        // A steady 5 g/s through a lag of .2 s: 1 g behind the load; a lead of .2 s cancels it.
        let flow = vec![5.0; 10_000];
        let behind = |lead_s: f64| 50.0 - shown(&flow, 0.2, lead_s).last().unwrap();
        assert!((behind(0.0) - 1.0).abs() < 0.003 && behind(0.2).abs() < 0.003);
        // After a load that stands still the reading is the mass.
        let mut pour = flow;
        pour.resize(20_000, 0.0);
        assert!((shown(&pour, 0.2, 0.2).last().unwrap() - 50.0).abs() < 1e-9);
    }

    #[test]
    fn the_last_reading_is_the_water() {
        for kind in kinds() {
            let made = log(kind, &exact(), 3);
            let poured: f64 = made.pours.iter().map(|p| p.mass_g).sum();
            let last = *made.water_g.last().unwrap();
            // What lands below .5 g/s belongs to no pour: the tail of an exponential is up to 6 s of it.
            let most = if kind.name == "exponential" { 3.1 * made.pours.len() as f64 } else { 2.5 };
            assert!(last - poured > -1e-6 && last - poured < most, "{}: {last} g of {poured} g", kind.name);
            let stamps = made.time_s.windows(2).all(|w| w[1] > w[0]);
            assert!(stamps && made.water_g.len() == made.time_s.len());
        }
    }

    #[test]
    fn every_kind_gives_the_pours_it_means() {
        for kind in kinds() {
            for seed in 0..4 {
                let made = log(kind, &Setting::default(), seed);
                let (least, most) = kind.pours;
                let each = if kind.name == "two_near" { 2 } else { 1 };
                let n = made.pours.len();
                assert!(n >= each * least && n <= each * most, "{} seed {seed}: {n} pours", kind.name);
                for p in &made.pours {
                    let ordered = p.start_s <= p.half_rise_s
                        && p.half_rise_s < p.half_fall_s
                        && p.half_fall_s <= p.end_s;
                    assert!(
                        ordered && p.peak_flow_g_per_s >= p.mean_flow_g_per_s,
                        "{} seed {seed}: {:?} ",
                        kind.name,
                        (p.start_s, p.half_rise_s, p.half_fall_s, p.end_s, p.mean_flow_g_per_s)
                    );
                }
            }
        }
    }

    #[test]
    fn a_kind_of_scale_reads_the_same_hands() {
        // Without creep, drift, readout and noise the last reading is the water, 10 s after the last pour; the scale of
        // a lag has the response that the plain one has.
        let rising = kinds().iter().find(|k| k.name == "rising").unwrap();
        let plain = log(rising, &exact(), 3);
        let last = *plain.water_g.last().unwrap();
        for scale in scales() {
            let made = log(rising, &Setting { scale: Some(scale), ..exact() }, 3);
            let of = |made: &Made| made.pours.iter().map(|p| p.half_rise_s).collect::<Vec<_>>();
            assert_eq!(of(&made), of(&plain), "{}", scale.name);
            let most = match scale.name {
                "creep" => 0.004 * last,
                "drift" => 4.0,
                "unsigned" => 1.5,
                "followed_zero" | "held" => 0.5,
                "counter" => 655.36,
                "step_05" => 0.25,
                "step_1" => 0.5,
                _ => 1e-4,
            };
            let off = (made.water_g.last().unwrap() - last).abs();
            assert!(off <= most + 1e-6, "{}: {off}", scale.name);
            let other = log(rising, &Setting { scale: Some(scale), ..Setting::default() }, 4);
            assert!(other.time_s.windows(2).all(|w| w[1] > w[0]) && other.instrument != made.instrument);
        }
        let lag = log(rising, &Setting { scale: Some(&scales()[0]), ..exact() }, 3);
        let Response::Lag { lag_s } = lag.instrument.responses[0] else { panic!("a lag") };
        let plain = log(rising, &Setting { lag_s: Some(lag_s), ..exact() }, 3);
        assert!(lag.water_g.iter().zip(&plain.water_g).all(|(a, b)| (a - b).abs() < 1e-6));
    }

    #[test]
    fn a_given_instrument_reads_as_the_one_that_is_drawn() {
        let rising = kinds().iter().find(|k| k.name == "rising").unwrap();
        for scale in scales() {
            let drawn = log(rising, &Setting { scale: Some(scale), ..Setting::default() }, 3);
            let instrument = Some(drawn.instrument.clone());
            let given = log(rising, &Setting { instrument: instrument.clone(), ..Setting::default() }, 3);
            assert!(given.water_g == drawn.water_g && given.time_s == drawn.time_s, "{}", scale.name);
            let other = log(rising, &Setting { instrument, ..Setting::default() }, 4);
            assert!(other.instrument == drawn.instrument && other.water_g != drawn.water_g);
        }
    }

    #[test]
    fn coarse_steps_are_off_evenly() {
        // Rounding to steps of d, of a reading that moves over many of them, is off by d / sqrt(12) in the mean square
        // (a uniform error) and by half a step at most.
        let setting = |name: &str| {
            let scale = scales().iter().find(|s| s.name == name);
            Setting { scale, rate_hz: 50.0, ..exact() }
        };
        for (name, step_g) in [("step_05", 0.5), ("step_1", 1.0)] {
            let made = log(&kinds()[0], &setting(name), 2);
            assert!(made.water_g.iter().all(|g| (g / step_g).fract() == 0.0));
            let pour = &made.pours[0];
            let within = |t: f64| t > pour.start_s + 1.0 && t < pour.end_s - 0.5;
            let Response::Lag { lag_s } = made.instrument.responses[0] else { panic!("a lag") };
            let fine = log(&kinds()[0], &Setting { lag_s: Some(lag_s), rate_hz: 50.0, ..exact() }, 2);
            let off: Vec<f64> = (0..fine.time_s.len())
                .filter(|&i| within(fine.time_s[i]))
                .map(|i| made.water_g[i] - fine.water_g[i])
                .collect();
            let rms = (off.iter().map(|e| e * e).sum::<f64>() / off.len() as f64).sqrt();
            assert!(off.iter().all(|e| e.abs() <= 0.5 * step_g + 1e-6));
            assert!((rms / step_g - 1.0 / 12f64.sqrt()).abs() < 0.02, "{name}: {rms}");
        }
    }

    #[test]
    fn what_is_put_on_comes_before_the_first_pour() {
        let level = &kinds()[0];
        let plain = log(level, &exact(), 2);
        for put in [Put::Dose, Put::Vessel] {
            let made = log(level, &Setting { put: Some(put), ..exact() }, 2);
            let placed = made.placed.unwrap();
            let late = made.pours[0].start_s - plain.pours[0].start_s;
            assert!((late - PLACED_S).abs() < 1e-6 && made.pours.len() == plain.pours.len());
            let at = |s: f64| made.water_g[made.time_s.iter().position(|t| *t >= s).unwrap()];
            // Ten lags and more after it.
            assert!((at(placed.from_s + 2.7) - placed.mass_g).abs() < 0.01);
            let first = at(made.pours[0].start_s - 0.2);
            assert!((first - if placed.zeroed_s.is_some() { 0.0 } else { placed.mass_g }).abs() < 0.01);
        }
    }

    #[test]
    fn noise_rounding_and_jitter_are_as_asked() {
        let level = &kinds()[0];
        let made = |setting: &Setting, seed| log(level, setting, seed);
        let (a, b) = (made(&Setting::default(), 2), made(&Setting::default(), 2));
        assert_eq!(a.water_g, b.water_g);
        assert!(a.water_g.iter().all(|w| (w * 10.0 - (w * 10.0).round()).abs() < 1e-9));
        assert!(a.time_s.windows(2).all(|w| (w[1] - w[0] - 0.1).abs() < 1e-9));
        let jitter = made(&Setting::default(), 3);
        let worst = jitter.time_s.windows(2).map(|w| (w[1] - w[0] - 0.1).abs()).fold(0.0, f64::max);
        assert!(worst > 0.005 && worst < 0.011);
        // The 60 readings before the first pour.
        let noisy = made(&Setting { step_g: 0.0, noise_sd_g: 0.2, rate_hz: 50.0, ..Setting::default() }, 2);
        let sd = (noisy.water_g[..290].iter().map(|w| w * w).sum::<f64>() / 290.0).sqrt();
        assert!((sd - 0.2).abs() < 0.03, "{sd}");
    }
}
