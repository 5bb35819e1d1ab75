//! Null studies as tables, each with a flaw of its design: drift, correlated brews, confounded people, outliers, unequal
//! scatter. No group differs from another; a finding is false unless a warning names the flaw. What is judged shares no
//! code with them.

use crate::studies::Draws;
use pourline::study::CautionKind;
use pourline::{Study, Table, Values};

/// What is wrong with a study.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Flaw {
    /// Nothing: six brews of each kettle in random order.
    None,
    /// One kettle after the other, and the day drifts by two sd.
    Drift,
    /// The same, and the times of day are clock times instead of an order.
    DriftByClock,
    /// Runs of three brews of a kettle; neighbours correlate with 0.6.
    Correlated,
    /// Each kettle has its own person; the study has a column `person`, which is not named.
    Confounded,
    /// Ada brews five of six with one kettle, Bo five of six with the other; `person` is not named.
    Leaning,
    /// Four people are blocks; each reacts to the kettle in another way, with the sd of brews.
    PersonByKettle,
    /// One brew of twelve lies eight sd off.
    Outlier,
    /// Three brews that scatter three times as much as the other twelve.
    Unequal,
    /// Groups scatter unequally, and values that are small were not measured.
    Censored,
    /// Values are rounded to whole numbers, so that most are tied.
    Tied,
}

impl Flaw {
    pub const ALL: [Self; 11] = [
        Self::None,
        Self::Drift,
        Self::DriftByClock,
        Self::Correlated,
        Self::Confounded,
        Self::Leaning,
        Self::PersonByKettle,
        Self::Outlier,
        Self::Unequal,
        Self::Censored,
        Self::Tied,
    ];

    /// Kinds of warnings of which one must name the flaw, and what it must be about, if that matters.
    pub fn named_by(self) -> (&'static [CautionKind], &'static str) {
        use CautionKind as Kind;
        match self {
            Self::None => (&[], ""),
            Self::Drift | Self::DriftByClock => (&[Kind::Order], ""),
            Self::Correlated => (&[Kind::Order, Kind::Correlated], ""),
            Self::Confounded => (&[Kind::Confounded], "person"),
            Self::Leaning => (&[Kind::Uneven], "person"),
            Self::PersonByKettle => (&[Kind::FewPeople], "person"),
            Self::Outlier => (&[Kind::Outlier], "row 4"),
            Self::Unequal => (&[Kind::UnequalScatter], ""),
            Self::Censored => (&[Kind::MissingLeans], ""),
            Self::Tied => (&[Kind::Tied], ""),
        }
    }

    /// Blocks that the study's author names.
    pub fn blocks(self) -> &'static [&'static str] {
        if self == Self::PersonByKettle { &["person"] } else { &[] }
    }
}

#[derive(Default)]
struct Columns {
    kettle: Vec<String>,
    person: Vec<String>,
    flow: Vec<f64>,
}

impl Columns {
    fn brew(&mut self, is_b: bool, person: &str, flow: f64) {
        self.kettle.push(if is_b { "b" } else { "a" }.into());
        self.person.push(person.into());
        self.flow.push(6.0 + 0.5 * flow);
    }
}

/// A null study with that flaw, of kettles a and b in `kettle` and the measure `flow`.
pub fn flawed(flaw: Flaw, draws: &mut Draws) -> Study {
    let mut of = Columns::default();
    let mut order: Vec<f64> = (1..=12).map(f64::from).collect();
    match flaw {
        Flaw::None | Flaw::Outlier | Flaw::Tied => {
            for is_b in shuffled(draws) {
                let z = draws.normal();
                let z = match flaw {
                    Flaw::Outlier if of.flow.len() == 3 => 8.0,
                    Flaw::Tied => (1.2 * z).round(),
                    _ => z,
                };
                of.brew(is_b, "Ada", z);
            }
        }
        Flaw::Drift | Flaw::DriftByClock => {
            for i in 0..12 {
                of.brew(i >= 6, "Ada", f64::from(i) / 11.0 * 2.0 + draws.normal());
            }
        }
        Flaw::Correlated => {
            let mut z = draws.normal();
            for i in 0..12 {
                of.brew(i / 3 % 2 == 1, "Ada", z);
                z = 0.6 * z + 0.8 * draws.normal();
            }
        }
        Flaw::Confounded | Flaw::Leaning => {
            let own = [1.5 * draws.normal(), 1.5 * draws.normal()];
            for is_b in shuffled(draws) {
                let strays = flaw == Flaw::Leaning
                    && of.kettle.iter().filter(|k| *k == if is_b { "b" } else { "a" }).count() == 2;
                let who = usize::from(is_b != strays);
                of.brew(is_b, ["Ada", "Bo"][who], own[who] + draws.normal());
            }
        }
        Flaw::PersonByKettle => {
            order = (1..=32).map(f64::from).collect();
            for person in ["Ada", "Bo", "Cleo", "Dov"] {
                let own = [draws.normal(), draws.normal()];
                for i in 0..8 {
                    let is_b = [0, 1, 1, 0, 1, 0, 0, 1][i] == 1;
                    of.brew(is_b, person, own[usize::from(is_b)] + draws.normal());
                }
            }
        }
        Flaw::Unequal => {
            order = (1..=15).map(f64::from).collect();
            for i in 0..15 {
                let is_b = i % 5 != 2;
                of.brew(is_b, "Ada", if is_b { 1.0 } else { 3.0 } * draws.normal());
            }
        }
        Flaw::Censored => {
            order = (1..=32).map(f64::from).collect();
            for i in 0..32 {
                let is_b = [0, 1, 1, 0, 1, 0, 0, 1][i % 8] == 1;
                let z = if is_b { 2.5 } else { 0.5 } * draws.normal();
                of.brew(is_b, "Ada", if z < -1.0 { f64::NAN } else { z });
            }
        }
    }
    let mut table = Table::default();
    table.push("kettle", "", Values::Text(of.kettle));
    if matches!(flaw, Flaw::Confounded | Flaw::Leaning | Flaw::PersonByKettle) {
        table.push("person", "", Values::Text(of.person));
    }
    table.push("flow", "g/s", Values::Number(of.flow));
    if flaw == Flaw::DriftByClock {
        let clock =
            |i: &f64| format!("2026-05-04T{:02}:{:02}:00Z", 8 + *i as usize / 6, 10 * (*i as usize % 6));
        table.push("started_at", "", Values::Text(order.iter().map(clock).collect()));
    } else {
        table.push("order", "", Values::Number(order));
    }
    Study::of(&table).expect("a table that is sound")
}

/// Six brews of each kettle in random order.
fn shuffled(draws: &mut Draws) -> Vec<bool> {
    let mut all: Vec<(f64, bool)> = (0..12).map(|i| (draws.normal(), i % 2 == 1)).collect();
    all.sort_by(|x, y| x.0.total_cmp(&y.0));
    all.into_iter().map(|(_, is_b)| is_b).collect()
}
