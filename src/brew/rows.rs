//! In: a brew. Out: its numbers by name, and its table, one row per pour.

use crate::agitation::result::PourAgitation;
use crate::brew::result::Brew;
use crate::estimate::{Estimate, Maybe};
use crate::log::meta::Meta;
use crate::rows::{Cell, Kind, Row, Rows, columns, sd_name, unit};
use crate::table::{Column, Table, Values};

/// An uncertain number: its name, its unit, and its values, one per pour or one for the brew.
pub(crate) type Named<T> = (&'static str, &'static str, T);

const STATED: &str = "as stated";
const METADATA: &str = "metadata";

columns! {
    /// Name of the brew.
    brew { reference: METADATA, },
    /// Place of the pour, from 1.
    pour {},
    /// Number of pours of the brew.
    pours {},
    /// Start of the first pour on the clock of the log, s.
    time_zero_s {
        formula: "start_s of pour 1",
        valid: "always; every instant of the table is on the clock of the log",
    },
    /// Warnings on the log, separated by semicolons; empty if there are none.
    warnings {},
    /// Number of events: knocks, lifts, zeroings and the like.
    n_events {},
    /// Dry coffee, g.
    dose_g { valid: STATED, reference: METADATA, },
    /// Measured strength of the beverage, percent.
    tds_pct { valid: STATED, reference: METADATA, },
    /// Temperature of the water poured, C.
    water_c { valid: STATED, reference: METADATA, },
    /// Coffee.
    coffee { valid: STATED, reference: METADATA, },
    /// Roast.
    roast { valid: STATED, reference: METADATA, },
    /// Grinder.
    grinder { valid: STATED, reference: METADATA, },
    /// Setting of the grinder, as written on it.
    grinder_setting { valid: STATED, reference: METADATA, },
    /// Kettle.
    kettle { valid: STATED, reference: METADATA, },
    /// Brewer.
    brewer { valid: STATED, reference: METADATA, },
    /// The person who poured.
    person { valid: STATED, reference: METADATA, },
    /// Brix of the beverage, as read off a refractometer, percent.
    brix_pct { valid: STATED, reference: METADATA, },
    /// Scale or logger.
    device { valid: STATED, reference: METADATA, },
    /// Free text.
    note { valid: STATED, reference: METADATA, },
    /// The first stamp of the log as it was written.
    started_at { valid: "it was a date and time", reference: "the log", },
}

/// The rows of the pours, each with its value for every pour: numbers, counts and words.
fn cells_of_pours(brew: &Brew) -> Vec<(Row, Vec<Cell>)> {
    fn of<'a, T: Rows + 'a>(results: impl IntoIterator<Item = &'a T>) -> Vec<(Row, Vec<Cell>)> {
        let mut rows: Vec<_> = T::rows().into_iter().map(|row| (row, Vec::new())).collect();
        for result in results {
            rows.iter_mut().zip(result.cells()).for_each(|((_, cells), cell)| cells.push(cell));
        }
        rows.sort_by_key(|(row, _)| row.rank);
        rows
    }
    let agitation = brew.agitation.iter().flat_map(|agitation| &agitation.pours);
    [of(&brew.segments.pours), of(&brew.metrics.pours), of(agitation), of(&brew.bed.pours)].concat()
}

/// The uncertain numbers of the pours.
pub(crate) fn of_pours(brew: &Brew) -> Vec<Named<Vec<Maybe>>> {
    let number = |cell| if let Cell::Number(number) = cell { Some(number) } else { None };
    let numbers = cells_of_pours(brew).into_iter().filter(|(row, _)| row.kind == Kind::Number);
    numbers.map(|(row, cells)| (row.name, row.unit, cells.into_iter().filter_map(number).collect())).collect()
}

/// The rows of the pours without sd: words and counts.
fn push_words_and_counts(table: &mut Table, brew: &Brew) {
    for (row, cells) in cells_of_pours(brew) {
        let whole = |cell: &Cell| if let Cell::Whole(count) = cell { Some(*count) } else { None };
        let text = |cell: &Cell| if let Cell::Text(word) = cell { Some((*word).into()) } else { None };
        match row.kind {
            Kind::Number => continue,
            Kind::Whole => {
                table.push(row.name, row.unit, Values::Whole(cells.iter().filter_map(whole).collect()))
            }
            Kind::Text => {
                table.push(row.name, row.unit, Values::Text(cells.iter().filter_map(text).collect()))
            }
        }
    }
    for row in PourAgitation::rows() {
        table.note(row.name, PourAgitation::NOTE);
        table.note(&sd_name(row.name), PourAgitation::NOTE);
    }
}

/// The uncertain numbers of the brew.
pub(crate) fn of_brew(brew: &Brew) -> Vec<Named<&Maybe>> {
    let Brew { extraction, bed, .. } = brew;
    let all = [
        ("water_g", &extraction.water_g),
        ("beverage_g", &extraction.beverage_g),
        ("retention_g_per_g", &extraction.retention_g_per_g),
        ("first_drip_s", &bed.first_drip_s),
        ("drawdown_end_s", &bed.drawdown_end_s),
        ("retained_water_g_per_g", &bed.retained_water_g_per_g),
        ("yield_pct", &extraction.yield_pct),
    ];
    all.map(|(name, value)| (name, unit(name), value)).into()
}

/// The names in the metadata of the brew.
pub(crate) fn factors(meta: &Meta) -> Vec<(&str, Option<&str>)> {
    let own = [
        ("coffee", &meta.coffee),
        ("roast", &meta.roast),
        ("grinder", &meta.grinder),
        ("grinder_setting", &meta.grinder_setting),
        ("kettle", &meta.kettle),
        ("brewer", &meta.brewer),
        ("person", &meta.person),
    ];
    let further = meta.factors.iter().map(|(name, level)| (name.as_str(), Some(level.as_str())));
    own.into_iter().map(|(name, level)| (name, level.as_deref())).chain(further).collect()
}

/// The columns that most people need; metadata that are given come after them.
const FIRST: [&str; 21] = [
    "brew",
    "pour",
    "start_s",
    "rest_before_s",
    "duration_s",
    "mass_g",
    "mass_sd_g",
    "mean_flow_g_per_s",
    "mean_flow_sd_g_per_s",
    "plateau_flow_g_per_s",
    "peak_flow_g_per_s",
    "time_near_plateau_pct",
    "flow_cv",
    "flow_cv_sd",
    "water_g",
    "beverage_g",
    "drawdown_end_s",
    "yield_pct",
    "time_zero_s",
    "warnings",
    "n_events",
];

impl Brew {
    /// One row per pour: its place, the numbers that most people need, and the metadata that are given; with
    /// `all`, every number with its sd.
    ///
    /// ```
    /// use pourline::{Options, Recipe, analyze, simulate};
    /// let brew = analyze(&simulate(&Recipe::default(), 7)?.0, &Options::default())?;
    /// let (first, all) = (brew.table(false), brew.table(true));
    /// assert!(first.columns.iter().all(|column| all.column(&column.name).is_some()));
    /// assert!(all.columns.len() > 100 && first.columns.len() < 30);
    /// # Ok::<(), pourline::Error>(())
    /// ```
    #[must_use]
    pub fn table(&self, all: bool) -> Table {
        let table = table(self);
        if all {
            return table;
        }
        let is_given = |column: &Column| match &column.values {
            Values::Text(texts) => texts.iter().any(|text| !text.is_empty()),
            Values::Number(numbers) => numbers.iter().any(|number| number.is_finite()),
            Values::Whole(_) => false,
        };
        let known = factors(&self.meta).into_iter().map(|(name, _)| name);
        let known: Vec<&str> = ["dose_g", "tds_pct"].into_iter().chain(known).collect();
        let is_first = |column: &Column| FIRST.contains(&column.name.as_str());
        let is_kept =
            |column: &Column| is_first(column) || known.contains(&column.name.as_str()) && is_given(column);
        Table { columns: table.columns.into_iter().filter(is_kept).collect() }
    }
}

fn table(brew: &Brew) -> Table {
    let n = brew.segments.pours.len();
    let mut table = Table::default();
    let text = |value: Option<&str>| Values::Text(vec![value.unwrap_or_default().into(); n]);
    table.push("brew", "", text(brew.meta.name.as_deref()));
    table.push("pour", "", Values::Whole((1..=n as i64).collect()));
    let part = |values: &[&Maybe], of: fn(&Estimate) -> f64| {
        Values::Number(values.iter().map(|v| v.as_ref().map_or(f64::NAN, of)).collect())
    };
    let both = |table: &mut Table, name: &str, unit: &str, values: Vec<&Maybe>| {
        table.push(name, unit, part(&values, |e| e.value));
        table.push(&sd_name(name), unit, part(&values, |e| e.sd));
    };
    for (name, unit, values) in of_pours(brew) {
        both(&mut table, name, unit, values.iter().collect());
    }
    push_words_and_counts(&mut table, brew);
    for (name, unit, value) in of_brew(brew) {
        both(&mut table, name, unit, vec![value; n]);
    }
    table.push("time_zero_s", "s", Values::Number(vec![brew.time_zero_s(); n]));
    table.push("warnings", "", text(Some(&brew.warnings.join("; "))));
    table.push("n_events", "", Values::Whole(vec![brew.trace.events.len() as i64; n]));
    let same = |value: Option<f64>| Values::Number(vec![value.unwrap_or(f64::NAN); n]);
    table.push("dose_g", "g", same(brew.meta.dose_g));
    table.push("tds_pct", "%", same(brew.meta.tds_pct));
    for (name, level) in factors(&brew.meta) {
        if table.column(name).is_none() {
            table.push(name, "", text(level));
        }
    }
    table
}
