//! In: a brew. Out: its numbers by name, and its table, a row a pour.

use crate::agitation::result::{PourAgitation, SpeedSource};
use crate::bed::result::PourDrain;
use crate::brew::result::Brew;
use crate::estimate::{Estimate, Maybe};
use crate::log::meta::Meta;
use crate::metrics::result::PourMeasures;
use crate::segment::pour::Pour;
use crate::table::{Table, Values};

/// An uncertain number: its name, its unit, and its values, one a pour or one for the brew.
pub(crate) type Named<T> = (&'static str, &'static str, T);

impl Brew {
    /// A row a pour: its place, its numbers with their sd, and the brew's factors.
    #[must_use]
    pub fn table(&self) -> Table {
        table(self)
    }
}

type Of = fn(&Pour) -> Estimate;
const NUMBERS: [Named<Of>; 7] = [
    ("start_s", "s", |p| p.start_s),
    ("end_s", "s", |p| p.end_s),
    ("duration_s", "s", |p| p.duration_s),
    ("mass_g", "g", |p| p.mass_g),
    ("mean_flow_g_per_s", "g/s", |p| p.mean_flow_g_per_s),
    ("half_rise_s", "s", |p| p.half_rise_s),
    ("half_fall_s", "s", |p| p.half_fall_s),
];

type OfDrain = fn(&PourDrain) -> &Maybe;
const DRAINS: [Named<OfDrain>; 6] = [
    ("held_at_start_g", "g", |p| &p.held_at_start_g),
    ("drained_share", "", |p| &p.drained_share),
    ("drawdown_s", "s", |p| &p.drawdown_s),
    ("conductance_g_per_s", "g/s", |p| &p.conductance_g_per_s),
    ("conductance_ratio", "", |p| &p.conductance_ratio),
    ("permeability_m2", "m2", |p| &p.permeability_m2),
];

/// The uncertain numbers of the pours.
pub(crate) fn of_pours(brew: &Brew) -> Vec<Named<Vec<Maybe>>> {
    let numbers = NUMBERS
        .iter()
        .map(|(name, unit, of)| (*name, *unit, brew.segments.pours.iter().map(|p| Ok(of(p))).collect()));
    let measures = PourMeasures::COLUMNS
        .iter()
        .map(|(name, unit, of)| (*name, *unit, brew.measures.pours.iter().map(|p| of(p).clone()).collect()));
    let agitation = PourAgitation::COLUMNS
        .iter()
        .map(|(name, unit, of)| (*name, *unit, agitation(brew).map(|p| of(p).clone()).collect()));
    let drains = DRAINS
        .iter()
        .map(|(name, unit, of)| (*name, *unit, brew.bed.pours.iter().map(|p| of(p).clone()).collect()));
    numbers.chain(measures).chain(agitation).chain(drains).collect()
}

fn agitation(brew: &Brew) -> impl Iterator<Item = &PourAgitation> {
    brew.agitation.iter().flat_map(|agitation| &agitation.pours)
}

/// What has no sd: words, counts and flags.
fn push_words_and_counts(table: &mut Table, brew: &Brew) {
    let resolved = brew.measures.pours.iter().map(|row| i64::from(row.flow_cv_resolved)).collect();
    table.push("flow_cv_resolved", "", Values::Whole(resolved));
    let arrival =
        |row: &PourAgitation| row.stream.arrival.as_ref().map_or("", |arrival| arrival.name()).into();
    table.push("arrival", "", Values::Text(agitation(brew).map(arrival).collect()));
    let source = |row: &PourAgitation| row.speed_source.map_or("", SpeedSource::name).into();
    table.push("speed_source", "", Values::Text(agitation(brew).map(source).collect()));
    for (name, of) in PourAgitation::COUNTS {
        table.push(name, "", Values::Whole(agitation(brew).map(|row| of(row) as i64).collect()));
    }
    for name in ["arrival", "speed_source"].into_iter().chain(PourAgitation::COUNTS.map(|(name, _)| name)) {
        table.note(name, PourAgitation::NOTE);
    }
    for (name, _, _) in PourAgitation::COLUMNS {
        table.note(name, PourAgitation::NOTE);
        table.note(&sd_name(name), PourAgitation::NOTE);
    }
}

/// The uncertain numbers of the brew.
pub(crate) fn of_brew(brew: &Brew) -> Vec<Named<&Maybe>> {
    vec![
        ("water_g", "g", &brew.extraction.water_g),
        ("beverage_g", "g", &brew.extraction.beverage_g),
        ("retention_g_per_g", "g/g", &brew.extraction.retention_g_per_g),
        ("first_drip_s", "s", &brew.bed.first_drip_s),
        ("drawdown_end_s", "s", &brew.bed.drawdown_end_s),
        ("retained_water_g_per_g", "g/g", &brew.bed.retained_water_g_per_g),
        ("yield_pct", "%", &brew.extraction.yield_pct),
    ]
}

/// What is known of the brew by name and not by number.
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

pub(super) fn table(brew: &Brew) -> Table {
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

/// `mass_g` has its sd in `mass_sd_g`: the unit stays at the end.
pub(crate) fn sd_name(name: &str) -> String {
    // A unit that ends in another one stands before it.
    const UNITS: [&str; 16] = [
        "_g2_per_s",
        "_g_per_s2",
        "_g_per_s",
        "_m_per_s",
        "_j_per_g",
        "_g_per_g",
        "_hz",
        "_pct",
        "_m2",
        "_mm",
        "_m",
        "_g",
        "_s",
        "_j",
        "_n",
        "_w",
    ];
    let unit = UNITS.iter().find(|u| name.ends_with(**u)).copied().unwrap_or("");
    format!("{}_sd{unit}", name.strip_suffix(unit).unwrap_or(name))
}
