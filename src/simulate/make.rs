//! In: a recipe and a seed. Out: a log and its truth.

use crate::condition::trace::{Channel, Event, EventKind};
use crate::error::Result;
use crate::log::meta::Meta;
use crate::log::record::Log;
use crate::math::random::Random;
use crate::simulate::brewed::{Brewed, DT_S};
use crate::simulate::faults::anywhere;
use crate::simulate::range::{Count, Range};
use crate::simulate::recipe::{Recipe, Weighed};
use crate::simulate::truth::{Truth, interpolate, true_pours};
use crate::simulate::weight::Weight;
use crate::simulate::{check, scale};

/// Duration of the removal of a vessel, s.
const REMOVAL_S: f64 = 0.2;

/// A simulated log, and the truth about it. The same recipe and seed give the same log. Each part of the recipe has
/// its own random stream, so that removing one leaves the others unchanged.
///
/// ```
/// use pourline::{Level, Recipe, simulate};
/// use pourline::simulate::PlannedPour;
/// let mut recipe = Recipe::default();
/// recipe.hand.planned = vec![
///     PlannedPour { rest_s: 0.0, mass_g: 40.0, flow_g_per_s: 6.0, rise_s: 0.3, fall_s: 0.3 },
///     PlannedPour { rest_s: 30.0, mass_g: 80.0, flow_g_per_s: 8.0, rise_s: 0.3, fall_s: 0.3 },
/// ];
/// recipe.hand.tremor = [0.0, 0.0];
/// let (log, truth) = simulate(&recipe, 1)?;
/// assert_eq!(truth.pours.len(), 2);
/// assert!((truth.pours[1].mass_g - 80.0).abs() < 0.1);
/// assert_eq!(log.len(), truth.flow_g_per_s.len());
///
/// let (log, truth) = simulate(&Level::Hard.recipe(), 1)?;
/// assert!(!truth.events.is_empty());
/// # Ok::<(), pourline::Error>(())
/// ```
///
/// # Errors
/// `out_of_range` for a number of the recipe outside its range, `argument` if the log would last more than an hour,
/// otherwise as [`Log::new`].
pub fn simulate(recipe: &Recipe, seed: u64) -> Result<(Log, Truth)> {
    check::recipe(recipe)?;
    let random = |name: &str| Random::stream(seed, name);
    let brewed = Brewed::draw(recipe, random);
    let mut of_scale = random("scale");
    let lag_s = of_scale.between(recipe.scale.lag_s);
    let stream_lead_s = random("stream").between(recipe.hand.stream_m_per_s) / G_M_PER_S2;
    let (sampled_s, stamps) = scale::instants(&recipe.scale, brewed.end_s(), &mut of_scale);

    let mut events = Vec::new();
    let mut reads = |channel: Channel, wanted: bool| {
        wanted.then(|| {
            let random = |name: &str| Random::stream(seed, &format!("{channel:?} {name}"));
            let sensing = Sensing { lag_s, stream_lead_s, sampled_s: &sampled_s };
            let (readings, listed) = readings(recipe, &brewed, channel, &sensing, random);
            events.extend(listed);
            readings
        })
    };
    let mut columns = [
        reads(Channel::Water, recipe.weighed != Weighed::Beverage),
        reads(Channel::Beverage, recipe.weighed != Weighed::Water),
    ];

    let (rows, stamps) = rows(recipe, &sampled_s, stamps, brewed.end_s(), &mut events, &random);
    let time_s: Vec<f64> = rows.iter().map(|&k| sampled_s[k]).collect();
    let at = |signal: &[f64]| time_s.iter().map(|&t| interpolate(signal, DT_S, t)).collect::<Vec<f64>>();
    for event in &mut events {
        event.samples = time_s.iter().filter(|&&t| event.start_s <= t && t <= event.end_s).count();
    }
    // Events within a gap or after the end are not part of this log.
    events.retain(|e| e.start_s < brewed.end_s() && (e.kind != EventKind::Knock || e.samples > 0));
    events.sort_by(|a, b| a.start_s.total_cmp(&b.start_s));
    let truth = Truth {
        pours: true_pours(&brewed.water_g, DT_S),
        brew_start_s: brewed.start_s(),
        flow_g_per_s: at(&brewed.flow_g_per_s),
        water_g: at(&brewed.water_g),
        beverage_g: at(&brewed.beverage_g),
        scale_lag_s: lag_s,
        stream_lead_s,
        noise_sd_g: recipe.scale.noise_sd_g,
        dose_g: brewed.dose_g,
        retention_g_per_g: brewed.retention_g_per_g,
        beverage_end_s: brewed.beverage_end_s,
        time_s,
        events,
    };
    let [water_g, beverage_g] =
        columns.each_mut().map(|c| c.take().map(|c| rows.iter().map(|&k| c[k]).collect::<Vec<f64>>()));
    let meta = meta(recipe, &brewed, seed, &mut random("meta"));
    Ok((Log::new(stamps, water_g, beverage_g, meta)?, truth))
}

/// Standard acceleration of free fall, m/s2 (3rd CGPM, 1901).
const G_M_PER_S2: f64 = 9.806_65;

/// Time between two stamps of a packet, and the resolution of such stamps, s.
const APART_S: f64 = 0.002;
const WRITTEN_S: f64 = 0.001;

/// Response of the scale and its sampling instants.
struct Sensing<'a> {
    lag_s: f64,
    stream_lead_s: f64,
    sampled_s: &'a [f64],
}

/// Readings of one weight at all instants, and its events.
fn readings(
    recipe: &Recipe,
    brewed: &Brewed,
    channel: Channel,
    sensing: &Sensing<'_>,
    random: impl Fn(&str) -> Random,
) -> (Vec<f64>, Vec<Event>) {
    let of_water = channel == Channel::Water;
    let load = if of_water { &brewed.water_g } else { &brewed.beverage_g };
    let mut weight = Weight::new(channel, load.clone(), DT_S, brewed.quiet(of_water));
    if of_water && sensing.stream_lead_s > 0.0 {
        let force = |(load, flow): (&mut f64, &f64)| *load += sensing.stream_lead_s * flow;
        weight.load.iter_mut().zip(&brewed.flow_g_per_s).for_each(force);
    }
    let offset = random("offset").between(recipe.scale.offset_g);
    weight.add(true, 0.0, f64::INFINITY, |_| offset);
    match &brewed.setup {
        Some(setup) if of_water => {
            setup.on_water(&mut weight, recipe, brewed.dose_g, &mut random("setup"));
        }
        // The rinse does not reach the server, but its scale is zeroed, too.
        Some(setup) => setup.zero(&mut weight),
        None => {}
    }
    weight.disturb(&recipe.faults, &random);
    if let Some(at) = brewed.removed_s {
        let fall_g = random("removal").between(recipe.faults.removal.fall_g);
        weight.off(true, at, f64::INFINITY, REMOVAL_S, fall_g, 0.0);
        weight.list(EventKind::Removed, at, brewed.end_s(), -fall_g, "vessel removed");
    }
    let knocks = weight.knocks(&recipe.faults.knocks, sensing.sampled_s, &mut random("knocks"));
    let shown = weight.shown(sensing.lag_s);
    let mut readings =
        scale::readings(&shown, sensing.sampled_s, recipe.scale.noise_sd_g, DT_S, &mut random("noise"));
    for (k, size) in knocks {
        readings[k] += size;
    }
    readings.iter_mut().for_each(|x| *x = scale::rounded(*x, recipe.scale.step_g));
    weight.stuck(&recipe.faults.stuck, sensing.sampled_s, &mut readings, &mut random("stuck"));
    (readings, weight.events)
}

/// Which readings become rows of the log, in which order, and under which stamps.
fn rows(
    recipe: &Recipe,
    sampled_s: &[f64],
    mut stamps: Vec<f64>,
    end_s: f64,
    events: &mut Vec<Event>,
    random: &impl Fn(&str) -> Random,
) -> (Vec<usize>, Vec<f64>) {
    let channel = if recipe.weighed == Weighed::Beverage { Channel::Beverage } else { Channel::Water };
    let mut list = |kind, start_s, end_s, action: &str| {
        events.push(Event { kind, channel, start_s, end_s, size_g: 0.0, samples: 0, action: action.into() });
    };
    let mut of_gaps = random("gaps");
    let gaps = &recipe.faults.gaps;
    let mut rows: Vec<usize> = (0..sampled_s.len()).collect();
    for at in anywhere(&gaps.at_s, gaps.count, end_s, &mut of_gaps) {
        let to = at + of_gaps.between(gaps.duration_s);
        rows.retain(|&k| sampled_s[k] < at || sampled_s[k] > to);
        list(EventKind::Gap, at, to, "rows lost");
    }
    let faults = &recipe.faults.stamps;
    let mut of_stamps = random("stamps");
    // A row that is neither the first nor the last.
    let within = |n: usize, random: &mut Random| 1 + (random.unit() * n.saturating_sub(2) as f64) as usize;
    for _ in 0..of_stamps.count(faults.doubled) {
        let at = within(rows.len(), &mut of_stamps);
        if let (Some(&before), Some(&k)) = (rows.get(at - 1), rows.get(at)) {
            stamps[k] = stamps[before];
            list(EventKind::Duplicate, sampled_s[k], sampled_s[k], "stamp of the row before");
        }
    }
    for _ in 0..of_stamps.count(faults.repeated) {
        let at = within(rows.len(), &mut of_stamps);
        if let Some(&k) = rows.get(at) {
            rows.insert(at, k);
            list(EventKind::Duplicate, sampled_s[k], sampled_s[k], "row written twice");
        }
    }
    for _ in 0..of_stamps.count(faults.swapped) {
        let at = within(rows.len(), &mut of_stamps);
        if at < rows.len() {
            rows.swap(at - 1, at);
            list(EventKind::Reordered, sampled_s[rows[at]], sampled_s[rows[at - 1]], "rows changed places");
        }
    }
    let mut stamps: Vec<f64> = rows.iter().map(|&k| stamps[k]).collect();
    if faults.packet != [1, 1] || faults.late_s != [0.0, 0.0] {
        handed_over(&mut stamps, faults.packet, faults.late_s, &mut random("packets"));
        list(EventKind::Retimed, 0.0, end_s, "stamped when readings were handed over");
    }
    (rows, stamps)
}

/// Stamps of rows that are handed over in packets, in the order of the log, late by a time that is drawn.
fn handed_over(stamps: &mut [f64], packet: Count, late_s: Range, random: &mut Random) {
    let (mut from, mut latest_s) = (0, f64::NEG_INFINITY);
    while from < stamps.len() {
        let to = (from + random.count(packet) as usize).min(stamps.len());
        let taken_s = stamps[from..to].iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let mut at_s = (taken_s + random.between(late_s)).max(latest_s);
        for stamp in &mut stamps[from..to] {
            *stamp = scale::rounded(at_s, WRITTEN_S);
            latest_s = at_s;
            at_s += APART_S;
        }
        from = to;
    }
}

/// The metadata of the recipe, with absent fields filled in.
fn meta(recipe: &Recipe, brewed: &Brewed, seed: u64, random: &mut Random) -> Meta {
    let mut meta = recipe.meta.clone();
    let strength = random.between(recipe.bed.yield_pct) * brewed.dose_g / brewed.cup_g;
    let water_c = random.between(recipe.bed.water_c);
    if brewed.dose_g > 0.0 {
        meta.dose_g.get_or_insert(brewed.dose_g);
    }
    if strength > 0.0 && strength <= 100.0 {
        meta.tds_pct.get_or_insert(scale::rounded(strength, 0.01));
    }
    meta.water_c.get_or_insert(scale::rounded(water_c, 1.0));
    meta.name.get_or_insert(format!("simulated {seed}"));
    meta
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::simulate::level::Level;

    #[test]
    fn the_same_seed_gives_the_same_log_and_another_seed_another() {
        let recipe = Level::Hard.recipe();
        let [a, b, c] = [1, 1, 2].map(|seed| simulate(&recipe, seed).unwrap());
        assert_eq!(a, b);
        assert_ne!(a.0, c.0);
    }

    #[test]
    fn the_reading_after_the_last_pour_is_the_water_poured() {
        for seed in 0..10 {
            let (log, truth) = simulate(&Level::Clean.recipe(), seed).unwrap();
            let poured: f64 = truth.pours.iter().map(|p| p.mass_g).sum();
            let reading = log.water_g().unwrap()[log.len() - 1];
            // A readout of 0.1 g, noise of 0.02 g, and the drops below 0.5 g/s.
            assert!((reading - poured).abs() < 0.25, "seed {seed}: {reading} g of {poured} g");
        }
    }
}
