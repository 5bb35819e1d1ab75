//! In: a brew. Out: its table, a row a pour.

use super::Brew;
use crate::{Estimate, Maybe, Pour, PourAgitation, PourDrain, PourMeasures, Table, Values};

/// The columns of a pour: name, unit, where it stands.
type Of = fn(&Pour) -> Estimate;
const NUMBERS: [(&str, &str, Of); 7] = [
    ("start_s", "s", |p| p.start_s),
    ("end_s", "s", |p| p.end_s),
    ("duration_s", "s", |p| p.duration_s),
    ("mass_g", "g", |p| p.mass_g),
    ("mean_flow_g_per_s", "g/s", |p| p.mean_flow_g_per_s),
    ("half_rise_s", "s", |p| p.half_rise_s),
    ("half_fall_s", "s", |p| p.half_fall_s),
];

/// The same for what the bed did around it, undefined where there is no answer.
type OfDrain = fn(&PourDrain) -> &Maybe;
const DRAINS: [(&str, &str, OfDrain); 6] = [
    ("held_at_start_g", "g", |p| &p.held_at_start_g),
    ("drained_share", "", |p| &p.drained_share),
    ("drawdown_s", "s", |p| &p.drawdown_s),
    ("conductance_g_per_s", "g/s", |p| &p.conductance_g_per_s),
    ("conductance_ratio", "", |p| &p.conductance_ratio),
    ("permeability_m2", "m2", |p| &p.permeability_m2),
];

pub(super) fn table(brew: &Brew) -> Table {
    let pours = &brew.segments.pours;
    let n = pours.len();
    let mut table = Table::default();
    let text = |value: &Option<String>| Values::Text(vec![value.clone().unwrap_or_default(); n]);
    table.push("brew", "", text(&brew.meta.name));
    table.push("pour", "", Values::Whole((1..=n as i64).collect()));
    for (name, unit, of) in NUMBERS {
        table.push(name, unit, Values::Number(pours.iter().map(|p| of(p).value).collect()));
        table.push(&sd_name(name), unit, Values::Number(pours.iter().map(|p| of(p).sd).collect()));
    }
    for (name, unit, of) in PourMeasures::COLUMNS {
        push(&mut table, name, unit, brew.measures.pours.iter().map(of));
    }
    agitation(&mut table, brew);
    for (name, unit, of) in DRAINS {
        push(&mut table, name, unit, brew.bed.pours.iter().map(of));
    }
    let same = |value: Option<f64>| Values::Number(vec![value.unwrap_or(f64::NAN); n]);
    let whole = [
        ("water_g", "g", &brew.extraction.water_g),
        ("beverage_g", "g", &brew.extraction.beverage_g),
        ("retention_g_per_g", "g/g", &brew.extraction.retention_g_per_g),
        ("first_drip_s", "s", &brew.bed.first_drip_s),
        ("drawdown_end_s", "s", &brew.bed.drawdown_end_s),
        ("retained_water_g_per_g", "g/g", &brew.bed.retained_water_g_per_g),
        ("yield_pct", "%", &brew.extraction.yield_pct),
    ];
    for (name, unit, value) in whole {
        table.push(name, unit, same(value.as_ref().ok().map(|e| e.value)));
        table.push(&sd_name(name), unit, same(value.as_ref().ok().map(|e| e.sd)));
    }
    table.push("dose_g", "g", same(brew.meta.dose_g));
    table.push("tds_pct", "%", same(brew.meta.tds_pct));
    let factors = [
        ("coffee", &brew.meta.coffee),
        ("roast", &brew.meta.roast),
        ("grinder", &brew.meta.grinder),
        ("grinder_setting", &brew.meta.grinder_setting),
        ("kettle", &brew.meta.kettle),
        ("brewer", &brew.meta.brewer),
        ("person", &brew.meta.person),
    ];
    for (name, value) in factors {
        table.push(name, "", text(value));
    }
    for (name, value) in &brew.meta.factors {
        if table.column(name).is_none() {
            table.push(name, "", Values::Text(vec![value.clone(); n]));
        }
    }
    table
}

fn agitation(table: &mut Table, brew: &Brew) {
    let first = table.columns.len();
    let rows = || brew.agitation.iter().flat_map(|agitation| &agitation.pours);
    for (name, unit, of) in PourAgitation::COLUMNS {
        push(table, name, unit, rows().map(of));
    }
    let word = |word: Option<&str>| word.unwrap_or_default().to_owned();
    let arrival = |row: &PourAgitation| word(row.stream.arrival.as_ref().ok().map(|arrival| arrival.name()));
    table.push("arrival", "", Values::Text(rows().map(arrival).collect()));
    let source = |row: &PourAgitation| word(row.speed_source.map(crate::SpeedSource::name));
    table.push("speed_source", "", Values::Text(rows().map(source).collect()));
    for (name, of) in PourAgitation::COUNTS {
        table.push(name, "", Values::Whole(rows().map(|row| of(row) as i64).collect()));
    }
    table.note_from(first, PourAgitation::NOTE);
}

/// A number that may be undefined, and its sd beside it.
fn push<'a>(table: &mut Table, name: &str, unit: &str, numbers: impl Iterator<Item = &'a Maybe>) {
    let known = |number: &'a Maybe| number.as_ref().map_or((f64::NAN, f64::NAN), |e| (e.value, e.sd));
    let (values, sds) = numbers.map(known).unzip();
    table.push(name, unit, Values::Number(values));
    table.push(&sd_name(name), unit, Values::Number(sds));
}

/// `mass_g` has its sd in `mass_sd_g`: the unit stays at the end.
fn sd_name(name: &str) -> String {
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
