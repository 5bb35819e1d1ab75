//! The whole way from a recipe to a log.

use crate::condition::trace::{Channel, Event, EventKind};
use crate::error::Result;
use crate::log::meta::Meta;
use crate::log::record::Log;
use crate::math::random::Random;
use crate::simulate::brewed::{Brewed, DT_S};
use crate::simulate::faults::anywhere;
use crate::simulate::recipe::{Recipe, Weighed};
use crate::simulate::truth::{Truth, interpolate, true_pours};
use crate::simulate::weight::Weight;
use crate::simulate::{check, scale};

/// Time that it takes to take a vessel away, s.
const TAKEN_S: f64 = 0.2;

/// A log of a brew that never was, and the truth about it. The same recipe and seed give the same log; each part of the recipe has
/// its own random numbers, so that switching one off leaves the others as they were.
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
/// `out_of_range` for a number of the recipe outside its range, `argument` where the log would last more than an hour, and
/// what [`Log::new`] refuses.
pub fn simulate(recipe: &Recipe, seed: u64) -> Result<(Log, Truth)> {
    check::recipe(recipe)?;
    let random = |name: &str| Random::stream(seed, name);
    let brewed = Brewed::draw(recipe, random);
    let mut of_scale = random("scale");
    let lag_s = of_scale.between(recipe.scale.lag_s);
    let stream_lead_s = random("stream").between(recipe.hand.stream_m_per_s) / G_M_PER_S2;
    let (looks, stamps) = scale::instants(&recipe.scale, brewed.end_s(), &mut of_scale);

    let mut events = Vec::new();
    let mut reads = |channel: Channel, wanted: bool| {
        wanted.then(|| {
            let random = |name: &str| Random::stream(seed, &format!("{channel:?} {name}"));
            let seen = Seen { lag_s, stream_lead_s, looks: &looks };
            let (readings, happened) = readings(recipe, &brewed, channel, &seen, random);
            events.extend(happened);
            readings
        })
    };
    let mut columns = [
        reads(Channel::Water, recipe.weighed != Weighed::Beverage),
        reads(Channel::Beverage, recipe.weighed != Weighed::Water),
    ];

    let (rows, stamps) = rows(recipe, &looks, stamps, brewed.end_s(), &mut events, &random);
    let time_s: Vec<f64> = rows.iter().map(|&k| looks[k]).collect();
    let at = |signal: &[f64]| time_s.iter().map(|&t| interpolate(signal, DT_S, t)).collect::<Vec<f64>>();
    for event in &mut events {
        event.samples = time_s.iter().filter(|&&t| event.start_s <= t && t <= event.end_s).count();
    }
    // What fell into a gap, or was asked for after the end, did not happen to this log.
    events.retain(|e| e.start_s < brewed.end_s() && (e.kind != EventKind::Knock || e.samples > 0));
    events.sort_by(|a, b| a.start_s.total_cmp(&b.start_s));
    let truth = Truth {
        pours: true_pours(&brewed.flow_g_per_s, &brewed.water_g, DT_S),
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

/// How the scale sees what lies on it.
struct Seen<'a> {
    lag_s: f64,
    stream_lead_s: f64,
    looks: &'a [f64],
}

/// Readings of one weight at all instants, and what happened to it.
fn readings(
    recipe: &Recipe,
    brewed: &Brewed,
    channel: Channel,
    seen: &Seen<'_>,
    random: impl Fn(&str) -> Random,
) -> (Vec<f64>, Vec<Event>) {
    let of_water = channel == Channel::Water;
    let load = if of_water { &brewed.water_g } else { &brewed.beverage_g };
    let mut weight = Weight::new(channel, load.clone(), DT_S, brewed.quiet(of_water));
    if of_water && seen.stream_lead_s > 0.0 {
        let force = |(load, flow): (&mut f64, &f64)| *load += seen.stream_lead_s * flow;
        weight.load.iter_mut().zip(&brewed.flow_g_per_s).for_each(force);
    }
    let offset = random("offset").between(recipe.scale.offset_g);
    weight.add(true, 0.0, f64::INFINITY, |_| offset);
    match &brewed.setup {
        Some(setup) if of_water => {
            setup.on_water(&mut weight, recipe, brewed.dose_g, &mut random("setup"));
        }
        // The server never saw the rinse, but is zeroed with the rest.
        Some(setup) => setup.zero(&mut weight),
        None => {}
    }
    weight.disturb(&recipe.faults, &random);
    if let Some(at) = brewed.removed_s {
        let fall_g = random("removal").between(recipe.faults.removal.fall_g);
        weight.off(true, at, f64::INFINITY, TAKEN_S, fall_g, 0.0);
        weight.list(EventKind::Removed, at, brewed.end_s(), -fall_g, "taken away");
    }
    let knocks = weight.knocks(&recipe.faults.knocks, seen.looks, &mut random("knocks"));
    let shown = weight.shown(seen.lag_s);
    let mut readings =
        scale::readings(&shown, seen.looks, recipe.scale.noise_sd_g, DT_S, &mut random("noise"));
    for (k, size) in knocks {
        readings[k] += size;
    }
    readings.iter_mut().for_each(|x| *x = scale::rounded(*x, recipe.scale.step_g));
    weight.stuck(&recipe.faults.stuck, seen.looks, &mut readings, &mut random("stuck"));
    (readings, weight.events)
}

/// Which readings become rows of the log, in which order, and under which stamps.
fn rows(
    recipe: &Recipe,
    looks: &[f64],
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
    let mut kept: Vec<usize> = (0..looks.len()).collect();
    for at in anywhere(&gaps.at_s, gaps.count, end_s, &mut of_gaps) {
        let to = at + of_gaps.between(gaps.duration_s);
        kept.retain(|&k| looks[k] < at || looks[k] > to);
        list(EventKind::Gap, at, to, "rows lost");
    }
    let faults = &recipe.faults.stamps;
    let mut of_stamps = random("stamps");
    // A row that is neither the first nor the last.
    let within = |n: usize, random: &mut Random| 1 + (random.unit() * n.saturating_sub(2) as f64) as usize;
    for _ in 0..of_stamps.count(faults.doubled) {
        let at = within(kept.len(), &mut of_stamps);
        if let (Some(&before), Some(&k)) = (kept.get(at - 1), kept.get(at)) {
            stamps[k] = stamps[before];
            list(EventKind::Duplicate, looks[k], looks[k], "stamp of the row before");
        }
    }
    for _ in 0..of_stamps.count(faults.repeated) {
        let at = within(kept.len(), &mut of_stamps);
        if let Some(&k) = kept.get(at) {
            kept.insert(at, k);
            list(EventKind::Duplicate, looks[k], looks[k], "row written twice");
        }
    }
    for _ in 0..of_stamps.count(faults.swapped) {
        let at = within(kept.len(), &mut of_stamps);
        if at < kept.len() {
            kept.swap(at - 1, at);
            list(EventKind::Reordered, looks[kept[at]], looks[kept[at - 1]], "rows changed places");
        }
    }
    let stamps = kept.iter().map(|&k| stamps[k]).collect();
    (kept, stamps)
}

/// The metadata of the recipe, and what a careful person would have written down beside it.
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
