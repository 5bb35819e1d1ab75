//! In: arbitrary bytes. Out: samples of a scale. A few bytes make many samples, so that the fuzzer finds whole brews
//! with all that can go wrong in them: rests, pours, lifts, gaps, stamps that repeat or run back, readings that are
//! missing, infinite or huge.

use pourline::{Labels, Log, Meta, Missing, Result};

/// An analysis of more takes too long for a fuzzer.
const MOST_SAMPLES: usize = 2000;
const STEPS_S: [f64; 8] = [0.1, 0.02, 0.2, 0.01, 1.0, 1e-6, 30.0, 0.0];
const STARTS_S: [f64; 4] = [0.0, -3.0, 1.9e9, 1e11];

pub struct Samples {
    time_s: Vec<f64>,
    water_g: Option<Vec<f64>>,
    beverage_g: Option<Vec<f64>>,
    missing: Missing,
    meta: Meta,
    /// By how much labels are moved, s.
    move_s: f64,
}

struct Hand<'a> {
    bytes: std::iter::Copied<std::slice::Iter<'a, u8>>,
    samples: Samples,
    step_s: f64,
    time_s: f64,
    water_g: f64,
    beverage_g: f64,
    drip_g_per_s: f64,
    noise_g: f64,
    noise: u32,
}

impl Samples {
    /// The first bytes set the weights, the stamps and the metadata of the brew; each byte after them what
    /// happens next.
    pub fn of(data: &[u8]) -> Self {
        let mut bytes = data.iter().copied();
        let [kind, clock, known] = [(); 3].map(|()| bytes.next().unwrap_or_default());
        let some = |bit: u8, value: f64| (known & bit != 0).then_some(value);
        let samples = Self {
            time_s: Vec::new(),
            water_g: (kind & 3 != 1).then(Vec::new),
            beverage_g: (kind & 3 != 0).then(Vec::new),
            missing: if kind & 4 == 0 { Missing::Flag } else { Missing::Refuse },
            meta: Meta {
                dose_g: some(1, f64::from(known >> 4)),
                tds_pct: some(2, 1.4),
                water_c: some(4, 93.0),
                ..Meta::default()
            },
            move_s: f64::from(known as i8) / 40.0,
        };
        let mut hand = Hand {
            bytes,
            samples,
            step_s: STEPS_S[usize::from(clock & 7)],
            time_s: STARTS_S[usize::from(clock >> 6)],
            water_g: 0.0,
            beverage_g: 0.0,
            drip_g_per_s: 0.0,
            noise_g: f64::from(clock >> 3 & 7) / 20.0,
            noise: 1,
        };
        while hand.samples.time_s.len() < MOST_SAMPLES && hand.next().is_some() {}
        hand.samples
    }

    pub fn log(&self) -> Result<Log> {
        let (water_g, beverage_g) = (self.water_g.clone(), self.beverage_g.clone());
        Log::with_missing(self.time_s.clone(), water_g, beverage_g, self.meta.clone(), self.missing)
    }

    /// How large the samples are as arrays of f64: this is what an analysis is given.
    pub fn bytes(&self) -> usize {
        let columns = 1 + usize::from(self.water_g.is_some()) + usize::from(self.beverage_g.is_some());
        8 * columns * self.time_s.len()
    }

    pub fn rows(&self) -> impl Iterator<Item = (f64, f64, Option<f64>)> {
        let at = |column: &Option<Vec<f64>>, i: usize| column.as_ref().map(|column| column[i]);
        let water = move |i| at(&self.water_g, i).unwrap_or(f64::NAN);
        (0..self.time_s.len()).map(move |i| (self.time_s[i], water(i), at(&self.beverage_g, i)))
    }

    /// Labels with edges moved, the last of them far less than the first.
    pub fn moved(&self, mut labels: Labels) -> Labels {
        let mut by_s = self.move_s;
        for pour in &mut labels.pours {
            pour.start_s += by_s;
            pour.end_s -= 0.3 * by_s;
            by_s *= 0.5;
        }
        labels
    }
}

impl Hand<'_> {
    fn byte(&mut self) -> Option<u8> {
        self.bytes.next()
    }

    fn number(&mut self) -> Option<f64> {
        let low = self.byte()?;
        let high = self.byte().unwrap_or_default();
        Some(f64::from(i16::from_le_bytes([low, high])) / 10.0)
    }

    fn any(&mut self) -> Option<f64> {
        let mut eight = [self.byte()?; 8];
        eight[1..].fill_with(|| self.byte().unwrap_or_default());
        Some(f64::from_le_bytes(eight))
    }

    /// One event: the low bits set its kind, the high ones its duration or size.
    fn next(&mut self) -> Option<()> {
        let byte = self.byte()?;
        let (what, much) = (byte & 15, byte >> 4);
        match what {
            0 => self.pour(0.0, 8 * usize::from(much) + 1),
            1 => {
                let flow_g_per_s = f64::from(self.byte()?) / 10.0;
                self.pour(flow_g_per_s, 4 * usize::from(much) + 1);
            }
            2 => self.water_g += self.number()?,
            3 => self.time_s -= self.step_s,
            4 => self.time_s -= self.step_s * f64::from(much + 2),
            5 => self.time_s += f64::from(much) * f64::from(self.byte()?),
            6 => (0..=much).for_each(|_| self.weigh(f64::NAN, self.beverage_g)),
            7 => (0..=much).for_each(|_| self.weigh(self.water_g, f64::NAN)),
            8 => {
                let any = self.any()?;
                self.weigh(any, self.beverage_g);
            }
            9 => {
                let any = self.any()?;
                self.weigh(self.water_g, any);
            }
            10 => self.time_s = self.any()?,
            11 => self.step_s = STEPS_S[usize::from(much & 7)],
            12 => self.drip_g_per_s = f64::from(much) / 2.0,
            13 => self.noise_g = f64::from(much * much) / 50.0,
            14 => {
                let off_g = self.number()?;
                (0..=much).for_each(|_| self.weigh(self.water_g + off_g, self.beverage_g));
            }
            _ => {
                for _ in 0..=much {
                    self.water_g = self.number()?;
                    self.weigh(self.water_g, self.beverage_g);
                }
            }
        }
        Some(())
    }

    fn pour(&mut self, flow_g_per_s: f64, samples: usize) {
        for _ in 0..samples {
            self.water_g += flow_g_per_s * self.step_s;
            self.beverage_g += self.drip_g_per_s * self.step_s;
            // Xorshift, after Marsaglia 2003; only that it is uneven matters.
            self.noise ^= self.noise << 13;
            self.noise ^= self.noise >> 17;
            self.noise ^= self.noise << 5;
            let noise_g = self.noise_g * (f64::from(self.noise) / f64::from(u32::MAX) - 0.5);
            self.weigh(((self.water_g + noise_g) * 10.0).round() / 10.0, self.beverage_g);
        }
    }

    fn weigh(&mut self, water_g: f64, beverage_g: f64) {
        let Samples { time_s, water_g: water, beverage_g: beverage, .. } = &mut self.samples;
        time_s.push(self.time_s);
        for (column, mass_g) in [(water, water_g), (beverage, beverage_g)] {
            if let Some(column) = column {
                column.push(mass_g);
            }
        }
        self.time_s += self.step_s;
    }
}
