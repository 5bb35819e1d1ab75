//! Kinds of scales: how each responds to a load, and how it writes what it weighs.
//!
//! Written for what scales do, from what their data sheets and the handling of load cells name: filters, averages,
//! converters, zero tracking, holds, resolution, creep, drift of temperature. Parameters are drawn for each log.

use super::responses::Response;
use super::{GRID_HZ, Random};

/// A kind of scale.
#[derive(Debug)]
pub struct Scale {
    pub name: &'static str,
    draw: fn(&mut Random) -> Instrument,
}

/// One scale.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Instrument {
    /// One after the other.
    pub responses: Vec<Response>,
    pub readout: Readout,
    /// The scale is read no faster than this.
    pub most_hz: Option<f64>,
}

/// How a scale writes what it weighs.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub struct Readout {
    /// A new value each so many seconds, the first after a share of that; between them the last is repeated. None: a
    /// new value for each row of the log.
    pub converts: Option<(f64, f64)>,
    pub follows: Option<FollowedZero>,
    /// The reading stays until the weight differs from it by more than this, g.
    pub held_g: f64,
    /// The step of the readout, g. None: as the setting has it.
    pub step_g: Option<f64>,
    /// The scale shows this at first, g.
    pub offset_g: f64,
    pub unsigned: bool,
    /// The span of the counter, g: what is half of it above zero is read as half of it below zero. A signed number of
    /// 16 bits in steps of .01 g spans 655.36 g.
    pub wraps_g: Option<f64>,
}

/// While the reading lies within the zone about zero, the zero moves towards it in this time constant.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FollowedZero {
    pub zone_g: f64,
    pub within_s: f64,
}

const USUAL_FLOW_G_PER_S: f64 = 6.0;
/// Points of the grid after which every response but creep and drift is at rest: 20 s.
const SETTLED: usize = 20_000;

static SCALES: [Scale; 18] = [
    Scale { name: "lag", draw: |r| usual(r).into() },
    Scale { name: "two_lags", draw: |r| vec![lag(r, 0.06, 0.18), lag(r, 0.06, 0.18)].into() },
    Scale { name: "average_03", draw: |r| average(r, 0.3).into() },
    Scale { name: "average_06", draw: |r| average(r, 0.6).into() },
    Scale { name: "average_1", draw: |r| average(r, 1.0).into() },
    Scale { name: "lag_average_5hz", draw: lag_average },
    Scale { name: "average_updates", draw: average_updates },
    Scale { name: "overshoot", draw: overshoot },
    Scale { name: "quick_slow", draw: quick_slow },
    Scale {
        name: "held",
        draw: |r| read(r, |r| Readout { held_g: r.within(0.25, 0.35), ..Readout::default() }),
    },
    Scale { name: "followed_zero", draw: followed_zero },
    Scale { name: "step_05", draw: |r| read(r, |_| Readout { step_g: Some(0.5), ..Readout::default() }) },
    Scale { name: "step_1", draw: |r| read(r, |_| Readout { step_g: Some(1.0), ..Readout::default() }) },
    Scale { name: "slow_converter", draw: slow_converter },
    Scale { name: "unsigned", draw: unsigned },
    Scale { name: "counter", draw: |r| read(r, |_| Readout { wraps_g: Some(655.36), ..Readout::default() }) },
    Scale { name: "drift", draw: drift },
    Scale { name: "creep", draw: creep },
];

/// All kinds.
pub fn scales() -> &'static [Scale] {
    &SCALES
}

fn lag(random: &mut Random, from_s: f64, to_s: f64) -> Response {
    Response::Lag { lag_s: random.within(from_s, to_s) }
}

fn usual(random: &mut Random) -> Response {
    lag(random, 0.08, 0.3)
}

fn average(random: &mut Random, window_s: f64) -> Response {
    Response::Average { window_s: window_s * random.within(0.9, 1.1) }
}

fn lag_average(random: &mut Random) -> Instrument {
    let responses = vec![lag(random, 0.06, 0.15), average(random, 0.4)];
    Instrument { responses, most_hz: Some(5.0), ..Instrument::default() }
}

/// A mean that is computed less often than it is read.
fn average_updates(random: &mut Random) -> Instrument {
    let window_s = random.within(0.4, 0.8);
    let converts = Some((random.within(0.1, 0.2), random.unit()));
    Instrument {
        readout: Readout { converts, ..Readout::default() },
        ..Response::Average { window_s }.into()
    }
}

/// Damping of .35 to .7: the reading of a step overshoots by 31 to 5 %.
fn overshoot(random: &mut Random) -> Instrument {
    Response::Resonance { natural_hz: random.within(1.2, 3.0), damping: random.within(0.35, 0.7) }.into()
}

fn quick_slow(random: &mut Random) -> Instrument {
    Response::QuickSlow {
        quick_s: random.within(0.06, 0.1),
        slow_s: random.within(0.5, 0.7),
        above_g: random.within(1.2, 1.8),
    }
    .into()
}

/// A usual lag with another readout.
fn read(random: &mut Random, readout: fn(&mut Random) -> Readout) -> Instrument {
    Instrument { readout: readout(random), ..usual(random).into() }
}

/// A flow of less than zone over time constant never leaves the zone: 3 g/s at most, less than a usual pour.
fn followed_zero(random: &mut Random) -> Instrument {
    read(random, |r| {
        let follows = FollowedZero { zone_g: r.within(0.35, 0.45), within_s: 0.15 * 10f64.powf(r.unit()) };
        Readout { follows: Some(follows), ..Readout::default() }
    })
}

fn slow_converter(random: &mut Random) -> Instrument {
    read(random, |r| {
        let converts = Some((r.within(0.25, 0.35), r.unit()));
        Readout { converts, ..Readout::default() }
    })
}

/// It was zeroed while something pressed on it, in most logs.
fn unsigned(random: &mut Random) -> Instrument {
    read(random, |r| Readout { offset_g: r.within(-1.5, 0.2), unsigned: true, ..Readout::default() })
}

fn drift(random: &mut Random) -> Instrument {
    let total_g = random.sign() * random.within(1.0, 4.0);
    vec![usual(random), Response::Drift { total_g, after_s: random.within(20.0, 120.0) }].into()
}

fn creep(random: &mut Random) -> Instrument {
    let (share, after_s) = (random.within(0.001, 0.004), random.within(10.0, 40.0));
    vec![Response::Creep { share, after_s }, usual(random)].into()
}

impl Scale {
    /// The scale of a log.
    pub fn instrument(&self, random: &mut Random) -> Instrument {
        (self.draw)(random)
    }
}

impl From<Vec<Response>> for Instrument {
    fn from(responses: Vec<Response>) -> Self {
        Self { responses, ..Self::default() }
    }
}

impl From<Response> for Instrument {
    fn from(response: Response) -> Self {
        vec![response].into()
    }
}

impl Instrument {
    /// By how much what is shown is late before readout, s: the mean of the impulse response, or the delay of a flow
    /// of 6 g/s if the response is not linear. Creep and drift, which take far longer than a pour, are left out.
    pub fn delay_s(&self) -> f64 {
        self.impulse_delay_s().unwrap_or_else(|| self.flow_delay_s(USUAL_FLOW_G_PER_S))
    }

    /// The mean of the impulse response, s: what a step of 1 g lacks, over time. None if the response is not linear.
    pub fn impulse_delay_s(&self) -> Option<f64> {
        let linear = !self.responses.iter().any(|r| matches!(r, Response::QuickSlow { .. }));
        linear.then(|| {
            let mut step = vec![1.0; SETTLED + 1];
            step[0] = 0.0;
            let lacks = |w: &[f64]| 1.0 - 0.5 * (w[0] + w[1]);
            // The step lies in the middle of the first interval.
            (self.quick(step).windows(2).map(lacks).sum::<f64>() - 0.5) / GRID_HZ
        })
    }

    /// By how much a steady flow is shown late in the end, s.
    pub fn flow_delay_s(&self, flow_g_per_s: f64) -> f64 {
        let load_g: Vec<f64> = (0..=SETTLED).map(|i| flow_g_per_s * i as f64 / GRID_HZ).collect();
        let last_g = load_g[SETTLED];
        (last_g - self.quick(load_g)[SETTLED]) / flow_g_per_s
    }

    /// What would be shown of a load without creep and drift.
    fn quick(&self, load_g: Vec<f64>) -> Vec<f64> {
        let slow = |r: &&Response| matches!(r, Response::Creep { .. } | Response::Drift { .. });
        self.responses.iter().filter(|r| !slow(r)).fold(load_g, |load_g, response| response.of(&load_g))
    }

    /// What the scale would show of a load without noise and readout, at each point of the grid.
    pub fn shown(&self, load_g: Vec<f64>) -> Vec<f64> {
        self.responses.iter().fold(load_g, |load_g, response| response.of(&load_g))
    }
}

/// A value on the grid, at an instant.
pub fn on_grid(values: &[f64], time_s: f64) -> f64 {
    let x = (time_s * GRID_HZ).max(0.0);
    let i = (x as usize).min(values.len() - 2);
    values[i] + (x - i as f64) * (values[i + 1] - values[i])
}

impl Readout {
    /// The mean age of a value that is repeated, s.
    pub fn age_s(&self) -> f64 {
        self.converts.map_or(0.0, |(every_s, _)| 0.5 * every_s)
    }

    /// The readings at these instants, before they are rounded. `noise_g` is asked once for each new value; the zero
    /// key, if any, sets the next value to 0.
    pub fn read(
        &self,
        shown_g: &[f64],
        time_s: &[f64],
        zeroed_s: Option<f64>,
        mut noise_g: impl FnMut() -> f64,
    ) -> Vec<f64> {
        let mut next = 0;
        let mut reading_g = self.offset_g;
        let (mut zero_g, mut held_g, mut before_s) = (-self.offset_g, self.offset_g, 0.0);
        let mut key_s = zeroed_s;
        let mut readings = Vec::with_capacity(time_s.len());
        for (row, &row_s) in time_s.iter().enumerate() {
            // Up to this instant the scale has made these values.
            let made = self.converts.map_or(row + 1, |(every_s, share)| {
                ((row_s / every_s - share).floor() + 1.0).max(0.0) as usize
            });
            while next < made {
                let at_s = self.converts.map_or(row_s, |(every_s, share)| (next as f64 + share) * every_s);
                let value_g = on_grid(shown_g, at_s) + noise_g();
                if key_s.is_some_and(|key_s| key_s <= at_s) {
                    key_s = None;
                    (zero_g, held_g) = (value_g, 0.0);
                }
                if let Some(FollowedZero { zone_g, within_s }) = self.follows
                    && (value_g - zero_g).abs() < zone_g
                {
                    zero_g += (value_g - zero_g) * (1.0 - (-(at_s - before_s) / within_s).exp());
                }
                if (value_g - zero_g - held_g).abs() > self.held_g {
                    held_g = value_g - zero_g;
                }
                reading_g = match self.wraps_g {
                    Some(span_g) => (held_g + 0.5 * span_g).rem_euclid(span_g) - 0.5 * span_g,
                    None if self.unsigned => held_g.abs(),
                    None => held_g,
                };
                before_s = at_s;
                next += 1;
            }
            readings.push(reading_g);
        }
        readings
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A steady flow from 1 s on, on the grid, for 21 s.
    fn ramp(flow: f64) -> Vec<f64> {
        (0..21_001).map(|i| flow * (f64::from(i) / GRID_HZ - 1.0).max(0.0)).collect()
    }

    fn rows(rate_hz: f64) -> Vec<f64> {
        (0..(20.9 * rate_hz) as usize).map(|i| i as f64 / rate_hz).collect()
    }

    fn close(a: f64, b: f64, within: f64) {
        assert!((a - b).abs() <= within, "{a} is not {b} within {within}");
    }

    #[test]
    fn names_differ_and_each_draws_another_scale_for_each_log() {
        let names: std::collections::BTreeSet<_> = scales().iter().map(|s| s.name).collect();
        assert_eq!(names.len(), scales().len());
        for scale in scales() {
            let of = |seed| scale.instrument(&mut Random::new(seed));
            assert!(of(1) == of(1) && of(1) != of(2), "{}", scale.name);
        }
    }

    #[test]
    fn every_scale_is_late_by_what_it_says() {
        // The delay of filters in a row is the sum of theirs; a value that is repeated is half its interval old in the
        // mean. Each is compared with a flow of 6 g/s, in the mean over its last 10 s.
        for scale in scales() {
            for seed in 0..4 {
                let mut own = scale.instrument(&mut Random::new(seed));
                own.responses.retain(|r| !matches!(r, Response::Creep { .. } | Response::Drift { .. }));
                own.readout = Readout { converts: own.readout.converts, ..Readout::default() };
                let (time_s, shown) = (rows(100.0), own.shown(ramp(6.0)));
                let readings = own.readout.read(&shown, &time_s, None, || 0.0);
                let late: Vec<f64> = (1000..2000).map(|i| time_s[i] - 1.0 - readings[i] / 6.0).collect();
                let mean_s = late.iter().sum::<f64>() / 1000.0;
                close(mean_s, own.delay_s() + own.readout.age_s(), 0.008);
            }
        }
    }

    #[test]
    fn what_a_step_lacks_is_the_first_moment_of_the_response() {
        // -H'(0): a lag's time constant, half the length of an average, 2 d / w of a resonance; the sum of those in a
        // row. Creep and drift are no part of it.
        let first_moment_s = |response: &Response| match *response {
            Response::Lag { lag_s } => Some(lag_s),
            Response::Average { window_s } => Some(0.5 * window_s),
            Response::Resonance { natural_hz, damping } => {
                Some(damping / (std::f64::consts::PI * natural_hz))
            }
            Response::QuickSlow { .. } => None,
            Response::Creep { .. } | Response::Drift { .. } => Some(0.0),
        };
        for scale in scales() {
            for seed in 0..4 {
                let instrument = scale.instrument(&mut Random::new(seed));
                let sum_s: Option<f64> = instrument.responses.iter().map(first_moment_s).sum();
                assert_eq!(instrument.impulse_delay_s().is_some(), sum_s.is_some());
                let Some(sum_s) = sum_s else { continue };
                close(instrument.delay_s(), sum_s, 1e-5);
                close(instrument.flow_delay_s(3.0), sum_s, 1e-5);
            }
        }
        let of = |responses: Vec<Response>| Instrument::from(responses).impulse_delay_s().unwrap();
        let (lag, other) = (Response::Lag { lag_s: 0.2 }, Response::Lag { lag_s: 0.07 });
        close(of(vec![lag]), 0.2, 1e-5);
        close(of(vec![lag, other]), 0.27, 1e-5);
        close(of(vec![Response::Average { window_s: 0.6 }]), 0.3, 1e-6);
        // A flow of 6 g/s stays 1.5 g behind a scale that is quick beyond that, and has no delay of its own.
        let quick_slow = Response::QuickSlow { quick_s: 0.08, slow_s: 0.6, above_g: 1.5 };
        close(Instrument::from(quick_slow).delay_s(), 0.25, 0.003);
        assert!(Instrument::from(quick_slow).impulse_delay_s().is_none());
    }

    #[test]
    fn a_plain_readout_reads_the_load() {
        let (time_s, shown) = (rows(10.0), ramp(5.0));
        let readings = Readout::default().read(&shown, &time_s, None, || 0.0);
        assert!(readings.iter().zip(&time_s).all(|(g, t)| (g - 5.0 * (t - 1.0).max(0.0)).abs() < 1e-9));
        // The zero key after 11 s, at 50 g.
        let zeroed = Readout::default().read(&shown, &time_s, Some(10.95), || 0.0);
        assert!(zeroed[109] == readings[109] && zeroed[110].abs() < 1e-12);
        close(zeroed[120], 5.0, 1e-9);
    }

    #[test]
    fn a_slow_converter_repeats_its_values() {
        // At 10 Hz with a value each .3 s: a third of the rows are new, and each is up to .3 s old.
        let readout = Readout { converts: Some((0.3, 0.55)), ..Readout::default() };
        let (time_s, shown) = (rows(10.0), ramp(5.0));
        let readings = readout.read(&shown, &time_s, None, || 0.0);
        let late: Vec<f64> = (100..200).map(|i| time_s[i] - 1.0 - readings[i] / 5.0).collect();
        assert!(late.iter().all(|s| (-1e-9..0.3 + 1e-9).contains(s)));
        let new = (100..190).filter(|&i| readings[i] != readings[i - 1]).count();
        assert_eq!(new, 30);
        // Noise is that of the values, not of the rows.
        let mut asked = 0;
        readout.read(&shown, &time_s, None, || {
            asked += 1;
            0.0
        });
        assert_eq!(asked, (20.8f64 / 0.3 - 0.55) as usize + 1);
    }

    #[test]
    fn a_held_reading_moves_in_steps_of_its_band() {
        // At .2 g/s and 1 kHz it moves by .3 g each 1.5 s, so that it is .15 g behind in the mean.
        let readout = Readout { held_g: 0.3, ..Readout::default() };
        let (time_s, shown) = (rows(1000.0), ramp(0.2));
        let readings = readout.read(&shown, &time_s, None, || 0.0);
        let steps: Vec<f64> = readings.windows(2).map(|w| w[1] - w[0]).filter(|g| *g != 0.0).collect();
        assert_eq!(steps.len(), (19.9 / 1.5) as usize);
        assert!(steps.iter().all(|g| (g - 0.3).abs() < 0.001));
        let behind: Vec<f64> = (4000..19_000).map(|i| 0.2 * (time_s[i] - 1.0) - readings[i]).collect();
        close(behind.iter().sum::<f64>() / 15_000.0, 0.15, 0.001);
    }

    #[test]
    fn a_followed_zero_swallows_the_start_of_a_pour() {
        // zero' = (f t - zero) / w: the reading is f w (1 - exp(-t / w)) until it reaches the zone, at
        // t = -w ln(1 - zone / (f w)); the zero has then moved by f t - zone, and stays.
        let follows = Some(FollowedZero { zone_g: 0.4, within_s: 0.8 });
        let readout = Readout { follows, ..Readout::default() };
        let swallowed = |flow: f64| {
            let (time_s, shown) = (rows(1000.0), ramp(flow));
            let last = *readout.read(&shown, &time_s, None, || 0.0).last().unwrap();
            flow * (time_s[time_s.len() - 1] - 1.0) - last
        };
        for flow in [1.0f64, 2.0, 6.0] {
            let leaves_s = -0.8 * (1.0 - 0.4 / (0.8 * flow)).ln();
            close(swallowed(flow), flow * leaves_s - 0.4, 0.01);
        }
        // A trickle of .4 g/s never leaves the zone: the reading settles at .32 g.
        close(swallowed(0.4), 0.4 * 19.9 - 0.32, 0.01);
    }

    #[test]
    fn a_counter_of_16_bits_falls_by_655_36_g() {
        // 20 g/s from 1 s on: 327.68 g after 16.384 s.
        let readout = Readout { wraps_g: Some(655.36), ..Readout::default() };
        let readings = readout.read(&ramp(20.0), &rows(10.0), None, || 0.0);
        close(readings[173], 326.0, 1e-9);
        close(readings[174], 328.0 - 655.36, 1e-9);
        close(readings[200], 380.0 - 655.36, 1e-9);
    }

    #[test]
    fn a_display_without_a_sign_turns_back_at_zero() {
        // From -1 g at 2 g/s: zero after .5 s, and in the end 1 g short of the load.
        let readout = Readout { offset_g: -1.0, unsigned: true, ..Readout::default() };
        let readings = readout.read(&ramp(2.0), &rows(10.0), None, || 0.0);
        close(readings[0], 1.0, 1e-9);
        close(readings[12], 0.6, 1e-9);
        close(readings[15], 0.0, 1e-9);
        close(readings[110], 19.0, 1e-9);
    }
}
