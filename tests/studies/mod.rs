//! Studies whose truth is known: four people, two kettles, six brews each, with effects of people and of their days.
//! Shared by the test and the bench of calibration. The random numbers are this file's own: what is judged shares none
//! of its draws.

use pourline::Estimate;
use pourline::study::Block;
use pourline::{ContrastOptions, Contrasts, contrast};

/// splitmix64 (Steele, Lea and Flood 2014), sums of uniform numbers made normal by the method of Box and Muller 1958.
pub struct Draws(pub u64);

impl Draws {
    pub fn unit(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.unit()).ln()).sqrt();
        radius * (std::f64::consts::TAU * self.unit()).cos()
    }
}

/// How a study is laid out, and how its brews scatter.
#[derive(Clone, Copy, PartialEq)]
pub enum Layout {
    /// Each person has six days and brews once with each kettle on each; blocks are person and day.
    BothADay,
    /// Days are alike; blocks are people.
    People,
    /// As before, but scatter is skewed: the square of a normal number, less 1.
    Skewed,
    /// Each person has one kettle a day, three days each, two brews a day; days differ.
    OneADay,
    /// No people and no days: six brews with one kettle, eighteen with the other, which scatter twice as much.
    Unlike,
}

pub const LAYOUTS: [(Layout, &str); 5] = [
    (Layout::BothADay, "both kettles each day, blocks person and day"),
    (Layout::People, "days alike, blocks person"),
    (Layout::Skewed, "the same, skewed scatter"),
    (Layout::OneADay, "one kettle a day, blocks person and day"),
    (Layout::Unlike, "no blocks, 6 and 18 brews, scatter 2 to 1"),
];
const PEOPLE_SD: f64 = 1.5;
const DAY_SD: f64 = 0.8;

/// What came of many studies with a true difference.
#[derive(Debug, Default)]
pub struct Tally {
    pub studies: f64,
    /// Share of studies with a p below 0.05: dealt, by the model, of equivalence.
    pub dealt: f64,
    pub model: f64,
    /// Share of intervals that hold the truth.
    pub interval: f64,
    pub percent: f64,
    /// Share that shows two groups alike within the margin; the truth lies at the margin.
    pub alike: f64,
}

/// Runs `studies` of them. With `difference` 0 the share of small p is that of false findings.
pub fn tally(layout: Layout, studies: u64, difference: f64, seed: u64) -> Tally {
    let mut tally = Tally::default();
    for i in 0..studies {
        let (found, base) =
            study(layout, difference, &mut Draws(seed.wrapping_mul(1_000_003).wrapping_add(i) << 20), i);
        let pair = &found.pairs[0];
        let holds = |ends: &pourline::study::MaybeInterval, truth: f64| {
            let [low, high] = *ends.as_ref().expect("there is scatter enough");
            f64::from(u8::from(low <= truth && truth <= high))
        };
        let small = |p: &pourline::Maybe| f64::from(u8::from(p.as_ref().expect("brews enough").value < 0.05));
        tally.studies += 1.0;
        tally.dealt += small(&pair.p);
        tally.model += small(&pair.p_model);
        tally.interval += holds(&pair.interval, difference);
        tally.percent += holds(&pair.interval_pct, 100.0 * difference / base);
        let alike = pair.equivalence.as_ref().is_some_and(|e| e.alike == Some(true));
        tally.alike += f64::from(u8::from(alike));
    }
    let n = tally.studies;
    for share in
        [&mut tally.dealt, &mut tally.model, &mut tally.interval, &mut tally.percent, &mut tally.alike]
    {
        *share /= n;
    }
    tally
}

/// A contrast, and the true mean of the first kettle in the hands and on the days that took part.
fn study(layout: Layout, difference: f64, draws: &mut Draws, seed: u64) -> (Contrasts, f64) {
    let (mut values, mut kettle, mut person, mut day) = (Vec::new(), Vec::new(), Vec::new(), Vec::new());
    let mut base = 20.0;
    let mut brew = |is_b: bool, level: f64, scatter: f64, who: usize, when: usize| {
        values.push(Estimate::exact(20.0 + level + difference * f64::from(u8::from(is_b)) + scatter));
        kettle.push(if is_b { "b" } else { "a" });
        person.push(["Ada", "Bo", "Cleo", "Dov"][who]);
        day.push(["1", "2", "3", "4", "5", "6"][when]);
    };
    if layout == Layout::Unlike {
        for i in 0..24 {
            let is_b = i >= 18;
            brew(is_b, 0.0, draws.normal() * if is_b { 2.0 } else { 1.0 }, 0, 0);
        }
    } else {
        for who in 0..4 {
            let own = PEOPLE_SD * draws.normal();
            base += own / 4.0;
            for when in 0..6 {
                let of_day = match layout {
                    Layout::BothADay | Layout::OneADay => DAY_SD * draws.normal(),
                    _ => 0.0,
                };
                if layout == Layout::BothADay {
                    base += of_day / 24.0;
                }
                for k in 0..2 {
                    let is_b = if layout == Layout::OneADay { (when + who) % 2 == 1 } else { k == 1 };
                    let z = draws.normal();
                    let scatter = if layout == Layout::Skewed { z * z - 1.0 } else { z };
                    brew(is_b, own + of_day, scatter, who, when);
                }
            }
        }
    }
    let all = [Block { name: "person", labels: &person[..] }, Block { name: "day", labels: &day[..] }];
    let blocks = match layout {
        Layout::BothADay | Layout::OneADay => &all[..],
        Layout::People | Layout::Skewed => &all[..1],
        Layout::Unlike => &[],
    };
    let options = ContrastOptions { margin: Some(MARGIN), draws: 1_999, seed, ..ContrastOptions::default() };
    let found = contrast(&values, &kettle, blocks, &[], &options).expect("a study that is sound");
    (found, base)
}

/// Wide enough that studies of this size show two alike kettles to be alike.
pub const MARGIN: f64 = 1.2;
