//! Labelled pours: what they leave unchanged, what they change, and the accuracy of their masses against the
//! simulator's truth.

use crate::errors::{Errors, HONEST, of_sets, sets};
use pourline::{Brew, EdgesByHand, Error, LabelledPour, Labels, Level, Log, Options, Truth};
use pourline::{analyze, analyze_labelled, simulate};
use statrs::distribution::{ContinuousCDF, Normal};
use std::ops::RangeInclusive;

/// Sd of the labelled edges in these tests, s.
const SD_S: f64 = 0.05;
/// Brews of a study, and the fewest pours that they must hold.
const BREWS: u64 = 80;
const FEWEST: usize = 300;

fn usual(seed: u64) -> (Log, Truth, Brew) {
    let (log, truth) = simulate(&Level::Usual.recipe(), seed).unwrap();
    let brew = analyze(&log, &Options::default()).unwrap();
    (log, truth, brew)
}

fn labelled(log: &Log, labels: &Labels) -> Brew {
    analyze_labelled(log, labels, &Options::default()).unwrap()
}

fn refused(log: &Log, pours: &[(f64, f64)]) -> Error {
    let pours = pours.iter().map(|&(start_s, end_s)| LabelledPour { start_s, end_s }).collect();
    let labels = Labels { pours, sd_s: SD_S, by: None, note: None, log_digest: None };
    analyze_labelled(log, &labels, &Options::default()).unwrap_err()
}

#[test]
fn labels_equal_to_the_pours_found_change_nothing() {
    for seed in 0..4 {
        let (log, _, found) = usual(seed);
        let mut labels = Labels::of(&found);
        // The resolution of a file with milliseconds.
        for pour in &mut labels.pours {
            (pour.start_s, pour.end_s) =
                ((pour.start_s * 1e3).round() / 1e3, (pour.end_s * 1e3).round() / 1e3);
        }
        let mut same = labelled(&log, &labels);
        let told = same.labelled.take().unwrap();
        assert!(told.pours.iter().all(|p| p.word() == "none" && !p.added));
        assert!(told.removed == 0 && told.warnings.is_empty(), "{told:?}");
        // NaN is no equal of itself, so that the texts are compared.
        assert_eq!(format!("{same:?}"), format!("{found:?}"));
    }
}

#[test]
fn labels_that_say_of_which_log_they_are_are_refused_with_another() {
    let ((log, _, found), (other, ..)) = (usual(7), usual(8));
    let labels = Labels { log_digest: Some(log.digest()), ..Labels::of(&found) };
    assert_eq!(labelled(&log, &labels).log_digest, labels.log_digest);
    let wrong = analyze_labelled(&other, &labels, &Options::default()).unwrap_err();
    assert_eq!(wrong.kind(), "argument");
    assert!(wrong.to_string().contains(&other.digest()), "{wrong}");
}

#[test]
fn a_moved_edge_leaves_every_other_pour_as_it_was() {
    let (log, _, found) = usual(7);
    let mut labels = Labels { sd_s: 0.08, ..Labels::of(&found) };
    labels.pours[1].end_s -= 0.6;
    let brew = labelled(&log, &labels);
    let told = brew.labelled.as_ref().unwrap();
    assert_eq!(told.pours[1], EdgesByHand { start: false, end: true, added: false });
    for k in (0..found.segments.pours.len()).filter(|k| *k != 1) {
        assert_eq!(brew.segments.pours[k], found.segments.pours[k]);
        let (mut now, then) = (brew.metrics.pours[k].clone(), &found.metrics.pours[k]);
        now.water_share_pct.clone_from(&then.water_share_pct);
        now.rest_before_s.clone_from(&then.rest_before_s);
        assert_eq!(format!("{now:?}"), format!("{then:?}"));
    }
    let (now, then) = (&brew.segments.pours[1], &found.segments.pours[1]);
    assert_eq!((now.start_s, &now.half_rise_s), (then.start_s, &then.half_rise_s));
    assert_eq!((now.end_s.value, now.end_s.sd), (labels.pours[1].end_s, 0.08));
    assert!(now.mass_g.value < then.mass_g.value - 1.0 && now.mass_g.sd > then.mass_g.sd);
    assert_eq!(brew.segments.rests[1].start_s, now.end_s);
    let stored = |brew: &Brew| serde_json::to_string(&brew.flow).unwrap();
    assert_eq!(stored(&brew), stored(&found), "the flow does not change");
}

#[test]
fn parts_of_a_pour_hold_its_water_and_its_measures() {
    let (log, _, found) = usual(7);
    let (k, pour) = (0..found.segments.pours.len())
        .map(|k| (k, &found.segments.pours[k]))
        .max_by(|a, b| a.1.duration_s.value.total_cmp(&b.1.duration_s.value))
        .unwrap();
    let mut labels = Labels::of(&found);
    let cut_s = f64::midpoint(pour.start_s.value, pour.end_s.value);
    labels.pours[k].end_s = cut_s;
    labels.pours.insert(k + 1, LabelledPour { start_s: cut_s, end_s: pour.end_s.value });
    let brew = labelled(&log, &labels);
    let (first, second) = (&brew.segments.pours[k], &brew.segments.pours[k + 1]);
    let sum_g = first.mass_g.value + second.mass_g.value;
    assert!((sum_g - pour.mass_g.value).abs() < 3.0 * pour.mass_g.sd, "{sum_g} of {:?}", pour.mass_g);
    let edges = [&first.half_fall_s, &second.half_rise_s].map(|edge| edge.clone().unwrap().value);
    assert_eq!(edges, [cut_s, cut_s]);
    let (whole, parts) = (&found.metrics.pours[k], &brew.metrics.pours[k..k + 2]);
    let flow = whole.plateau_flow_g_per_s.clone().unwrap().value;
    for part in parts {
        let own = part.plateau_flow_g_per_s.clone().unwrap().value;
        assert!((own / flow - 1.0).abs() < 0.1, "{own} of {flow}");
        assert!(part.pulsing_hz.as_ref().unwrap_err().reason.contains("lies in running water"));
    }
    assert!(parts[0].rise_s.is_ok() && parts[0].fall_s.is_err());
    assert!(parts[1].rise_s.is_err() && parts[1].fall_s.is_ok());
    let splashes =
        |brew: &Brew| brew.agitation.as_ref().unwrap().pours.iter().map(|p| p.splashes).sum::<usize>();
    assert_eq!(splashes(&brew), splashes(&found));
}

#[test]
fn pours_are_added_removed_and_joined_and_it_is_told() {
    let (log, _, found) = usual(7);
    let all = Labels::of(&found);
    let n = all.pours.len();
    assert!(n > 2);

    let mut fewer = all.clone();
    fewer.pours.pop();
    let told = labelled(&log, &fewer).labelled.unwrap();
    assert_eq!((told.removed, told.pours.len()), (1, n - 1));
    assert!(told.warnings.iter().any(|c| c.starts_with("1 detected pour was removed")), "{told:?}");

    let mut more = all.clone();
    let end_s = all.pours[n - 1].end_s;
    more.pours.push(LabelledPour { start_s: end_s + 6.0, end_s: end_s + 9.0 });
    let brew = labelled(&log, &more);
    let mass_g = brew.segments.pours[n].mass_g;
    assert!(mass_g.value.abs() < 4.0 * mass_g.sd, "nothing was poured there: {mass_g:?}");
    assert_eq!(brew.labelled.unwrap().pours[n], EdgesByHand { start: true, end: true, added: true });
    assert!(brew.metrics.pours[n].plateau_flow_g_per_s.is_err());

    let mut joined = all.clone();
    joined.pours[0].end_s = joined.pours.remove(1).end_s;
    let brew = labelled(&log, &joined);
    let apart = found.segments.pours[0].mass_g.plus(found.segments.pours[1].mass_g);
    let together = brew.segments.pours[0].mass_g;
    assert!((together.value - apart.value).abs() < 3.0 * apart.sd, "{together:?} of {apart:?}");
    let told = brew.labelled.unwrap();
    assert!(told.pours.iter().all(|p| p.word() == "none"));
    assert!(told.warnings.iter().any(|c| c == "pour 1 joins the detected pours 1 and 2"), "{told:?}");

    let nothing = labelled(&log, &Labels::new(Vec::new()).unwrap());
    assert!(nothing.segments.pours.is_empty() && nothing.water_g.is_err());
}

#[test]
fn labels_that_no_brew_can_have_are_refused_with_their_row() {
    let (log, truth, _) = usual(7);
    let last_s = log.time_s().last().unwrap() + 1.0;
    for (pours, name, at) in [
        (&[(10.0, 20.0), (19.0, 25.0)][..], "labels.start_s", 2),
        (&[(10.0, 20.0), (30.0, 30.0)], "labels.end_s", 2),
        (&[(truth.brew_start_s - 5.0, 20.0)], "labels.start_s", 1),
        (&[(10.0, last_s)], "labels.end_s", 1),
    ] {
        match refused(&log, pours) {
            Error::OutOfRange { name: found, row, .. } => assert_eq!((found.as_str(), row), (name, at)),
            other => panic!("{other}"),
        }
    }
    assert_eq!(refused(&log, &[(f64::NAN, 20.0)]).kind(), "not_finite");
    assert_eq!(
        Labels { sd_s: 2.0, ..Labels::new(vec![]).unwrap() }.check().unwrap_err().kind(),
        "out_of_range"
    );
    let beverage =
        Log::new(log.time_s().to_vec(), None, log.beverage_g().map(<[f64]>::to_vec), log.meta.clone())
            .unwrap();
    assert_eq!(refused(&beverage, &[(10.0, 20.0)]).kind(), "column");
}

#[test]
fn labels_outlive_a_file() {
    let labels = Labels { by: Some("Ada".into()), ..Labels::of(&usual(7).2) };
    assert_eq!(Labels::from_json(&labels.to_json()).unwrap(), labels);
    assert_eq!(Labels::from_json(r#"{"pours": [{"start_s": 1, "end_s": 2}]}"#).unwrap().sd_s, 0.05);
    for wrong in ["", "[]", r#"{"pours": [], "brew_start_s": 3}"#] {
        assert_eq!(Labels::from_json(wrong).unwrap_err().kind(), "format");
    }
}

/// Numbers between 0 and 1 that look like chance (splitmix64, from memory; any even scatter would do).
struct Draws(u64);

impl Draws {
    fn share(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.share()
    }

    fn normal(&mut self) -> f64 {
        Normal::standard().inverse_cdf(self.share().clamp(1e-12, 1.0 - 1e-12))
    }
}

/// True water at an instant: the cubic through water and flow at the adjacent rows (Hermite).
fn water(truth: &Truth, t_s: f64) -> f64 {
    let j = truth.time_s.partition_point(|&t| t < t_s).clamp(1, truth.time_s.len() - 1);
    let (i, h) = (j - 1, truth.time_s[j] - truth.time_s[j - 1]);
    let u = ((t_s - truth.time_s[i]) / h).clamp(0.0, 1.0);
    let (a, b) = (truth.water_g[i], truth.water_g[j]);
    let (p, q) = (h * truth.flow_g_per_s[i], h * truth.flow_g_per_s[j]);
    a + (b - a) * u * u * (3.0 - 2.0 * u) + u * (1.0 - u) * (p * (1.0 - u) - q * u)
}

/// The true mass of each pour between the intended instants, compared with the estimated one.
fn held(
    name: &str,
    in_sd: RangeInclusive<f64>,
    meant: impl Fn(&pourline::simulate::TruePour, &mut Draws) -> (f64, f64),
) {
    let found = sets(|first| {
        let mut all: [Errors; 1] = Default::default();
        for seed in first..first + BREWS {
            let (log, truth) = simulate(&Level::Usual.recipe(), seed).unwrap();
            let mut draws = Draws(seed);
            let meant: Vec<(f64, f64)> = truth.pours.iter().map(|pour| meant(pour, &mut draws)).collect();
            let set = meant.iter().map(|&(start_s, end_s)| LabelledPour {
                start_s: start_s + SD_S * draws.normal(),
                end_s: end_s + SD_S * draws.normal(),
            });
            let labels = Labels { sd_s: SD_S, ..Labels::new(set.collect()).unwrap() };
            for (pour, (start_s, end_s)) in labelled(&log, &labels).segments.pours.iter().zip(meant) {
                all[0].push(pour.mass_g, water(&truth, end_s) - water(&truth, start_s));
            }
        }
        assert!(all[0].len() >= FEWEST, "{name}: {} pours", all[0].len());
        all
    });
    // Above .95: the sd allow for a zero that walks, which no short rest rules out and these brews do not have.
    of_sets(&format!("mass {name}"), &found, 0).honest(0.905..=0.99, in_sd);
}

#[test]
#[ignore = "slow"]
fn masses_between_the_true_edges_are_as_sure_as_they_say() {
    held("at the edges", HONEST, |pour, _| (pour.start_s, pour.end_s));
}

#[test]
#[ignore = "slow"]
fn masses_that_cut_running_water_are_as_sure_as_they_say() {
    held("in running water", HONEST, |pour, draws| {
        let long_s = pour.end_s - pour.start_s;
        let (from, to) = (draws.between(0.1, 0.4), draws.between(0.6, 0.9));
        // One edge in the water, the other one, or both.
        let which = draws.share();
        let start_s = if which < 0.33 { pour.start_s } else { pour.start_s + from * long_s };
        (start_s, if which > 0.67 { pour.end_s } else { pour.start_s + to * long_s })
    });
}

#[test]
#[ignore = "slow"]
fn masses_between_instants_out_in_the_rests_are_as_sure_as_they_say() {
    held("in the rests", HONEST, |pour, draws| {
        (pour.start_s - draws.between(0.5, 1.0), pour.end_s + draws.between(0.5, 1.0))
    });
}
