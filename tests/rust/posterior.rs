//! The public posterior of the flow: sampled curves, joint covariance, spectrum, stretches of different flow.

use crate::worlds::Random;
use pourline::{Brew, Error, Estimate, Flow, Log, Meta, Options, Pour, Recipe, analyze, segment, simulate};
use std::sync::LazyLock;

const LAG_S: f64 = 0.15;
const NOISE_SD_G: f64 = 0.05;

/// A log of 80 s of a flow, read in steps of 0.1 g through a first-order lag; integrated in steps of 1 ms.
fn log(flow: impl Fn(f64) -> f64, rate_hz: usize) -> Log {
    let mut random = Random::new(11);
    let (mut load_g, mut reading_g) = (0.0, 0.0);
    let (mut time_s, mut water_g) = (Vec::new(), Vec::new());
    for i in 0..80_000_u32 {
        let t = f64::from(i) * 1e-3;
        if i % (1000 / rate_hz as u32) == 0 {
            time_s.push(t);
            water_g.push(((reading_g + NOISE_SD_G * random.normal()) * 10.0).round() / 10.0);
        }
        load_g += 1e-3 * flow(t + 5e-4);
        reading_g += (load_g - reading_g) * (1.0 - (-1e-3 / LAG_S).exp());
    }
    Log::new(time_s, Some(water_g), None, Meta::default()).expect("the log is sound")
}

fn analysed(log: &Log) -> Brew {
    analyze(log, &Options::default()).expect("the log is sound")
}

/// Ramps of 0.3 s about 10 and 18 s, 30 and 40 s, 55 and 61 s.
fn three(t: f64) -> f64 {
    let pour = |from: f64, to: f64, flow: f64| {
        let ramp = |at: f64| ((t - at) / 0.3 + 0.5).clamp(0.0, 1.0);
        flow * (ramp(from) - ramp(to))
    };
    pour(10.0, 18.0, 6.0) + pour(30.0, 40.0, 5.0) + pour(55.0, 61.0, 8.0)
}

static THREE: LazyLock<Brew> = LazyLock::new(|| analysed(&log(three, 50)));

fn flow(brew: &Brew) -> &Flow {
    brew.flow.as_ref().expect("the water was weighed")
}

/// First and last passage of a level between two instants of a curve.
fn passages(time_s: &[f64], flow: &[f64], level: f64) -> (f64, f64) {
    let first = flow.iter().position(|q| *q > level).unwrap();
    let last = flow.iter().rposition(|q| *q > level).unwrap();
    let between =
        |i: usize, k: usize| time_s[i] + (level - flow[i]) / (flow[k] - flow[i]) * (time_s[k] - time_s[i]);
    (between(first - 1, first), between(last + 1, last))
}

/// Integral of a curve between two instants, by trapezia.
fn water(time_s: &[f64], flow: &[f64], (from_s, to_s): (f64, f64)) -> f64 {
    let mut sum = 0.0;
    for (t, q) in time_s.windows(2).zip(flow.windows(2)) {
        let (a, b) = (t[0].max(from_s), t[1].min(to_s));
        let at = |s: f64| q[0] + (s - t[0]) / (t[1] - t[0]) * (q[1] - q[0]);
        sum += if b > a { 0.5 * (at(a) + at(b)) * (b - a) } else { 0.0 };
    }
    sum
}

/// The five numbers of a pour off one curve, by their definitions.
fn read_off(time_s: &[f64], flow: &[f64], pour: &Pour) -> [f64; 5] {
    let index = |t: f64| time_s.partition_point(|s| *s < t);
    let span = index(pour.start_s.value - 2.0)..index(pour.end_s.value + 2.0);
    let (time_s, flow) = (&time_s[span.clone()], &flow[span]);
    let (start_s, end_s) = passages(time_s, flow, 0.5);
    let mass_g = water(time_s, flow, (start_s, end_s));
    let (rise_s, fall_s) = passages(time_s, flow, 0.5 * mass_g / (end_s - start_s));
    [start_s, end_s, rise_s, fall_s, mass_g]
}

#[test]
fn edges_and_masses_of_sampled_curves_have_the_stated_covariance() {
    let brew = &*THREE;
    let (flow, pours) = (flow(brew), &brew.segments.pours);
    assert_eq!(pours.len(), 3);
    let n = 1000;
    let curves = flow.sample(n, 5).unwrap();
    let rows: Vec<Vec<f64>> = curves
        .rows()
        .into_iter()
        .map(|curve| {
            let curve = curve.to_vec();
            pours.iter().flat_map(|pour| read_off(&flow.time_s, &curve, pour)).collect()
        })
        .collect();
    let found = &brew.segments.covariance;
    let names = ["start_s", "end_s", "half_rise_s", "half_fall_s", "mass_g"];
    let expected: Vec<String> =
        (1..=3).flat_map(|pour| names.map(|name| format!("pour_{pour}_{name}"))).collect();
    assert_eq!(found.names, expected);
    let stated = found.matrix();
    let mean = |k: usize| rows.iter().map(|row| row[k]).sum::<f64>() / n as f64;
    let means: Vec<f64> = (0..15).map(mean).collect();
    let sampled = |i: usize, k: usize| {
        rows.iter().map(|row| (row[i] - means[i]) * (row[k] - means[k])).sum::<f64>() / (n - 1) as f64
    };
    // Standard error of a covariance of normal numbers from n draws: sqrt((v_i v_k + c_ik^2) / n) (Anderson, An
    // Introduction to Multivariate Statistical Analysis, 3.2; from memory). The stated one is from 64 independent pairs
    // of curves.
    let (mut squares, mut most) = (Vec::new(), 0.0_f64);
    for i in 0..15 {
        for k in 0..=i {
            let (c, v) = (stated[[i, k]], stated[[i, i]] * stated[[k, k]]);
            let error = ((v + c * c) * (1.0 / 64.0 + 1.0 / n as f64)).sqrt();
            let z = (sampled(i, k) - c) / error;
            most = most.max(z.abs());
            squares.push(z * z);
        }
    }
    let mean_square = squares.iter().sum::<f64>() / squares.len() as f64;
    assert!(most < 4.0 && mean_square < 1.3, "largest {most} standard errors, mean square {mean_square}");
    // The means are those that are stated.
    for (p, pour) in pours.iter().enumerate() {
        let numbers = [Some(pour.start_s), Some(pour.end_s), pour.half_rise_s.clone().ok()];
        for (k, number) in numbers.iter().enumerate() {
            let number = number.unwrap();
            assert!(
                (means[5 * p + k] - number.value).abs() < 0.6 * number.sd,
                "{number} {}",
                means[5 * p + k]
            );
        }
        // The flow of the curves is averaged over 0.1 s, which moves about 0.5 g/s times 0.05 s across each edge.
        assert!((means[5 * p + 4] - pour.mass_g.value).abs() < 0.05, "{} {}", means[5 * p + 4], pour.mass_g);
    }
}

#[test]
fn the_variances_are_those_of_the_pours() {
    let brew = &*THREE;
    let found = &brew.segments.covariance;
    let place = |name: &str| found.names.iter().position(|n| n == name).unwrap();
    for (p, pour) in (1..).zip(&brew.segments.pours) {
        for (name, number) in [("start_s", pour.start_s), ("mass_g", pour.mass_g)] {
            let i = place(&format!("pour_{p}_{name}"));
            assert!((found.entry(i, i).sqrt() / number.sd - 1.0).abs() < 1e-12);
        }
    }
}

#[test]
fn the_lag_that_pours_share_correlates_their_edges() {
    // At 5 readings a second the lag is poorly identified, and a longer lag moves all edges to earlier instants.
    let brew = analysed(&log(three, 5));
    let found = &brew.segments.covariance;
    let edges: Vec<usize> = (0..found.names.len()).filter(|k| found.names[*k].contains("half")).collect();
    let correlation = |i: usize, k: usize| found.entry(i, k) / (found.entry(i, i) * found.entry(k, k)).sqrt();
    let across: Vec<f64> = edges
        .iter()
        .flat_map(|&i| edges.iter().map(move |&k| (i, k)))
        .filter(|(i, k)| found.names[*i][..6] < found.names[*k][..6])
        .map(|(i, k)| correlation(i, k))
        .collect();
    let mean = across.iter().sum::<f64>() / across.len() as f64;
    assert!(across.len() == 12 && mean > 0.1, "mean correlation {mean}: {across:?}");
}

#[test]
fn the_covariance_of_five_hundred_pours_takes_at_most_ten_megabytes() {
    // One brew is measured and scaled, because the memory is proportional to the number of pours.
    let found = serde_json::to_value(&THREE.segments.covariance).unwrap();
    let numbers = |key: &str| -> usize {
        found[key].as_array().unwrap().iter().map(|row| row.as_array().unwrap().len()).sum()
    };
    let bytes = 4 * (numbers("common") + numbers("own"));
    assert!(bytes / 3 * 500 < 10_000_000, "{bytes} bytes for three pours");
    // As stored text too.
    assert!(found.to_string().len() / 3 * 500 < 10_000_000, "{}", found.to_string().len());
}

#[test]
fn the_same_seed_gives_the_same_curves_and_more_of_them_go_on() {
    let flow = flow(&THREE);
    let (few, many) = (flow.sample(5, 1).unwrap(), flow.sample(70, 1).unwrap());
    assert!(few.iter().eq(many.iter().take(few.len())));
    assert_ne!(few, flow.sample(5, 2).unwrap());
    for n in [0, usize::MAX] {
        assert!(matches!(flow.sample(n, 1), Err(Error::OutOfRange { .. })));
    }
}

#[test]
fn a_brew_that_is_read_back_gives_the_same_curves() {
    let brew = &*THREE;
    let back = Brew::from_json(&serde_json::to_string(brew).unwrap()).unwrap();
    assert_eq!(flow(&back).sample(3, 7).unwrap(), flow(brew).sample(3, 7).unwrap());
    assert_eq!(back.segments.covariance, brew.segments.covariance);
    // A flow alone lacks the fit.
    let alone: Flow = serde_json::from_str(&serde_json::to_string(flow(brew)).unwrap()).unwrap();
    assert!(matches!(alone.sample(3, 7), Err(Error::Argument { .. })));
    assert!(alone.spectrum(&brew.segments.pours[0]).is_err());
}

#[test]
fn a_log_without_pours_has_curves_of_no_flow() {
    let brew = analysed(&log(|_| 0.0, 10));
    let curves = flow(&brew).sample(2, 0).unwrap();
    assert!(curves.iter().all(|q| *q == 0.0));
    assert!(brew.segments.covariance.names.is_empty() && brew.segments.covariance.matrix().is_empty());
}

#[test]
fn mean_and_sd_of_the_curves_are_those_of_the_flow() {
    let mut ratios = Vec::new();
    for seed in 0..6 {
        let brew = analysed(&simulate(&Recipe::default(), seed).unwrap().0);
        let flow = flow(&brew);
        let curves = flow.sample(400, 3).unwrap();
        let mean = curves.mean_axis(ndarray::Axis(0)).unwrap();
        let sd = curves.std_axis(ndarray::Axis(0), 1.0);
        for ((mean, sampled), (q, stated)) in
            mean.iter().zip(&sd).zip(flow.flow_g_per_s.iter().zip(&flow.flow_sd_g_per_s))
        {
            // At the foot of a ramp the flow is hardly ever above 0, and its distribution far from normal.
            if *q > 1.0 {
                // Standard errors of the means of 40 pairs.
                assert!((mean - q).abs() < 5.0 * stated / 40_f64.sqrt(), "{mean} {q} {stated}");
                ratios.push(sampled / stated);
            }
        }
    }
    // The sd of the stated one has a relative error of 1/sqrt(2 * 40) at each stamp, common to neighbouring stamps.
    let n = ratios.len() as f64;
    let mean = ratios.iter().sum::<f64>() / n;
    let rms = (ratios.iter().map(|r| (r - 1.0).powi(2)).sum::<f64>() / n).sqrt();
    assert!((mean - 1.0).abs() < 0.06 && rms < 0.15, "mean ratio {mean}, rms {rms}");
}

/// A pour from 10 to 40 s with a beat of 0.8 Hz whose amplitude is 0.8 g/s.
fn beating(t: f64) -> f64 {
    let ramp = |at: f64| ((t - at) / 0.3 + 0.5).clamp(0.0, 1.0);
    (8.0 + 0.8 * (std::f64::consts::TAU * 0.8 * t).sin()) * (ramp(10.0) - ramp(40.0))
}

#[test]
fn the_spectrum_of_a_beat_has_its_frequency_and_its_variance() {
    let brew = analysed(&log(beating, 50));
    let pour = &brew.segments.pours[0];
    let found = flow(&brew).spectrum(pour).unwrap();
    let step_hz = found.frequency_hz[1];
    for (k, f) in found.frequency_hz.iter().enumerate() {
        assert!((f - k as f64 * step_hz).abs() < 1e-9, "even steps");
    }
    let density = &found.density_g2_per_s;
    let peak = (0..density.len()).max_by(|a, b| density[*a].total_cmp(&density[*b])).unwrap();
    assert!((found.frequency_hz[peak] - 0.8).abs() <= step_hz, "{}", found.frequency_hz[peak]);
    // A sine of amplitude a has the variance a^2/2; averaged over 0.1 s its amplitude is smaller by sinc(0.08).
    let sinc = (std::f64::consts::PI * 0.08).sin() / (std::f64::consts::PI * 0.08);
    let variance = density.iter().sum::<f64>() * step_hz;
    let true_variance = 0.5 * (0.8 * sinc).powi(2);
    assert!((variance / true_variance - 1.0).abs() < 0.1, "{variance} for {true_variance}");
    // The plateau: 0.5 s within the half-edges.
    assert!((found.from_s - pour.half_rise_s.clone().unwrap().value - 0.5).abs() < 1e-9);
    // A first-order low-pass: half of the power at 1/(2 pi lag). No force of the stream in this log.
    let lag_s = brew.segments.response.delay_s.value;
    let corner_hz = 1.0 / (std::f64::consts::TAU * lag_s);
    let k = found.frequency_hz.partition_point(|f| *f < corner_hz);
    assert!(
        found.transmission[0] == 1.0 && (found.transmission[k] - 0.5).abs() < 0.15,
        "{}",
        found.transmission[k]
    );
    // White noise of 0.05 g and steps of 0.1 g, 50 readings a second, seen as flow at 1 Hz through that lag: the density
    // of the readings, 2 s^2 dt, times (2 pi f)^2 over the transmission.
    let k = found.frequency_hz.partition_point(|f| *f < 1.0);
    let w2 = (std::f64::consts::TAU * found.frequency_hz[k]).powi(2);
    let noise = 2.0 * (NOISE_SD_G.powi(2) + 0.01 / 12.0) * 0.02 * w2 * (1.0 + w2 * LAG_S * LAG_S);
    assert!((found.noise_g2_per_s[k] / noise - 1.0).abs() < 0.35, "{} for {noise}", found.noise_g2_per_s[k]);
    assert!((found.readings_to_hz - 12.5).abs() < 0.01);
    assert_eq!(found.table().rows(), density.len());
}

#[test]
fn a_pour_without_plateau_has_no_spectrum_but_the_reason() {
    let short = |t: f64| if (10.0..11.6).contains(&t) { 6.0 } else { 0.0 };
    let brew = analysed(&log(short, 10));
    let why = flow(&brew).spectrum(&brew.segments.pours[0]).unwrap_err();
    assert_eq!(why.reason, "the plateau is shorter than 1 s");
}

/// 6, 3 and 8 g/s from 10, 16 and 24 to 30 s, changes of 0.2 s.
fn staircase(t: f64) -> f64 {
    let ramp = |at: f64| ((t - at) / 0.2 + 0.5).clamp(0.0, 1.0);
    6.0 * ramp(10.0) - 3.0 * ramp(16.0) + 5.0 * ramp(24.0) - 8.0 * ramp(30.0)
}

fn within(number: Estimate, truth: f64, most: f64) {
    let off = (number.value - truth).abs();
    assert!(off < most && off < 4.0 * number.sd.max(0.25 * most), "{number} for {truth}");
}

#[test]
fn stretches_of_different_flow_have_their_flow_and_their_ends() {
    let brew = analysed(&log(staircase, 10));
    let [pour] = brew.segments.pours.as_slice() else { panic!("one pour") };
    let found = &pour.flow_regimes;
    // A ramp of 6 g/s in 0.2 s, averaged over 0.1 s, is 30 x^2/0.2 at its foot: 0.5 g/s is passed 0.058 s after that. At
    // the end, with 8 g/s, 0.05 s before it.
    let truth = [(9.908, 16.0, 6.0), (16.0, 24.0, 3.0), (24.0, 30.1, 8.0)];
    assert_eq!(found.len(), truth.len(), "{found:?}");
    for (regime, (start_s, end_s, flow)) in found.iter().zip(truth) {
        within(regime.start_s, start_s, 0.15);
        within(regime.end_s, end_s, 0.15);
        within(regime.flow_g_per_s, flow, 0.1);
        // An error of the change by 0.1 s moves 0.5 g at most.
        within(regime.mass_g, flow * (end_s.min(30.0) - start_s.max(10.0)), 0.5);
    }
    assert_eq!((found[0].start_s, found[2].end_s), (pour.start_s, pour.end_s));
    assert_eq!(found[0].end_s, found[1].start_s);
    let sum_g: f64 = found.iter().map(|regime| regime.mass_g.value).sum();
    assert!((sum_g - pour.mass_g.value).abs() < 1e-6, "{sum_g} of {}", pour.mass_g);
    let table = brew.segments.regimes();
    assert_eq!((table.rows(), table.columns[3].name.as_str()), (3, "regime_start_sd_s"));
}

#[test]
fn a_level_pour_is_one_stretch() {
    for pour in &THREE.segments.pours {
        let [one] = pour.flow_regimes.as_slice() else { panic!("one stretch: {:?}", pour.flow_regimes) };
        assert_eq!((one.start_s, one.end_s, one.mass_g), (pour.start_s, pour.end_s, pour.mass_g));
    }
    // 6 g/s.
    within(THREE.segments.pours[0].flow_regimes[0].flow_g_per_s, 6.0, 0.05);
}

#[test]
fn a_gentle_pour_has_no_half_edges_and_says_why() {
    let gentle = |t: f64| if (10.0..30.0).contains(&t) { 1.0 } else { 0.0 };
    let brew = analysed(&log(gentle, 10));
    let pour = &brew.segments.pours[0];
    let why = pour.half_rise_s.clone().unwrap_err().reason;
    assert!(why.contains("below 1.2 g/s") && pour.half_fall_s.is_err(), "{why}");
    assert!(brew.segments.covariance.names.iter().all(|name| !name.contains("half")));
    // Half of 1 g/s passes 0.3 g/s: the limit is 2.4 times that.
    let mut options = Options::default();
    options.segment.flow_g_per_s = 0.3;
    let found = segment(&brew.trace, &options.segment).unwrap();
    assert!(found.pours[0].half_rise_s.is_ok());
    assert!((found.pours[0].half_rise_s.clone().unwrap().value - 10.0).abs() < 0.1);
}
