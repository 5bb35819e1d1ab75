//! The bed against closed forms: what drains by a known law is found to do so, and what is missing gives a reason.

use pourline::{Bed, Brew, FlatBed, Log, Maybe, Meta, Options, analyze};

/// Instants, 10 Hz.
fn stamps(end_s: f64) -> Vec<f64> {
    (0..(10.0 * end_s) as usize).map(|i| i as f64 / 10.0).collect()
}

/// Readings of 0.01 g with a noise of 0.02 g: uniform deviates of a linear congruential generator (Numerical Recipes,
/// from memory).
fn shown(mass_g: Vec<f64>, seed: u32) -> Vec<f64> {
    let mut state = seed;
    let mut unit = || {
        state = state.wrapping_mul(1_664_525).wrapping_add(1_013_904_223);
        f64::from(state) / 4_294_967_296.0
    };
    let mut noise = || 0.02 * ((0..12).map(|_| unit()).sum::<f64>() - 6.0);
    mass_g.into_iter().map(|m| ((m + noise()) * 100.0).round() / 100.0).collect()
}

/// A brew on a scale with negligible lag.
fn brew(time_s: &[f64], water_g: Vec<f64>, beverage_g: Vec<f64>, meta: Meta, mut options: Options) -> Brew {
    options.condition.scale_lag_s = Some(0.01);
    let (water, beverage) = (shown(water_g, 1), shown(beverage_g, 2));
    analyze(&Log::new(time_s.to_vec(), Some(water), Some(beverage), meta).unwrap(), &options).unwrap()
}

/// 10 g/s from 5 s to 15 s.
fn poured(time_s: &[f64]) -> Vec<f64> {
    time_s.iter().map(|t| 10.0 * (t - 5.0).clamp(0.0, 10.0)).collect()
}

/// What is left of 43.63 g that drain from 16 s on at 5 g/s first, by the exponent of the law.
fn left_g(t: f64, exponent: f64) -> f64 {
    let (v0, q0) = (43.63, 5.0);
    let (e, x) = (1.0 - exponent, q0 / v0 * (t - 16.0).max(0.0));
    if e == 0.0 { v0 * (-x).exp() } else { v0 * (1.0 - e * x).max(0.0).powf(1.0 / e) }
}

fn drained(exponent: f64, vessel_exponent: Option<f64>) -> Bed {
    let time = stamps(80.0);
    let beverage = time.iter().map(|&t| 43.63 - left_g(t, exponent)).collect();
    let mut options = Options::default();
    options.bed.vessel_exponent = vessel_exponent;
    brew(&time, poured(&time), beverage, Meta::default(), options).bed
}

#[test]
fn cylinder_cone_and_orifice_are_told_apart_within_two_percent() {
    // V = b h^m, Q = c h^n: Q ~ V^(n/m), empty after m/(m-n) V0/Q0 (closed forms; Torricelli n = 1/2, Darcy n = 1). The
    // 60 degree cone filled to 5 cm holds 43.63 mL and at 5 mL/s is empty after 13.09 s with n = 1.
    for (m, n, empty) in [(1.0, 0.5, 2.0), (3.0, 1.0, 1.5), (3.0, 0.5, 1.2)] {
        let bed = drained(n / m, Some(m));
        let law = bed.law.unwrap();
        assert!((law.exponent.value / (n / m) - 1.0).abs() < 0.02, "m {m} n {n}: {}", law.exponent);
        let head = law.head_exponent.unwrap();
        assert!((head.value / n - 1.0).abs() < 0.02, "{head}");
        let end = law.start_s + law.empty_after_s.unwrap().value;
        let expected = 16.0 + empty * 43.63 / 5.0;
        assert!((end - expected).abs() < 0.02 * (expected - 16.0), "m {m} n {n}: {end} for {expected}");
        // It began at 43.63 g and 5 g/s; the readings start a little later.
        let beyond = left_g(law.start_s, n / m);
        assert!((law.standing_g.value / beyond - 1.0).abs() < 0.02, "{} for {beyond}", law.standing_g);
        assert!((bed.beverage_g.unwrap().value - 43.63).abs() < 0.05);
    }
}

#[test]
fn an_exponential_is_rejected_for_a_cone_and_kept_where_it_is_one() {
    // Cone with n = 1: V = V0 (1 - t/te)^1.5, te = 13.09 s (closed form). Straight wall with n = 1: an exponential.
    let cone = drained(1.0 / 3.0, None).law.unwrap();
    assert!(cone.exponential_rejected_sd > 3.0, "{}", cone.exponential_rejected_sd);
    assert!(cone.residual_over_noise < 1.2 && cone.exponential_residual_g > 5.0 * cone.residual_g);
    let wall = drained(1.0, None).law.unwrap();
    assert!(wall.exponential_rejected_sd < 3.0, "{}", wall.exponential_rejected_sd);
    assert!((wall.exponent.value - 1.0).abs() < 0.02, "{}", wall.exponent);
}

#[test]
fn the_drawdown_ends_where_the_closed_form_passes_a_tenth_of_a_gram_per_second() {
    for exponent in [1.0 / 6.0, 1.0 / 3.0, 0.5, 1.0_f64] {
        // Q = Q0 (V/V0)^p is 0.1 g/s at V = V0 0.02^(1/p).
        let (e, ratio) = (1.0 - exponent, 0.02_f64.powf(1.0 / exponent));
        let x = if e == 0.0 { -ratio.ln() } else { (1.0 - ratio.powf(e)) / e };
        let expected = 16.0 + x * 43.63 / 5.0;
        let end = drained(exponent, None).drawdown_end_s.unwrap();
        assert!((end.value - expected).abs() < 3.0 * end.sd && end.sd < 0.3, "{end} for {expected}");
    }
}

#[test]
fn a_bed_without_a_law_still_has_an_end() {
    // 3 g/s for 5 s, then 0.5 g/s for 12 s, then 0.25 g/s until it stops at 40 s.
    let time = stamps(70.0);
    let beverage = |t: f64| {
        3.0 * (t - 16.0).clamp(0.0, 5.0)
            + 0.5 * (t - 21.0).clamp(0.0, 12.0)
            + 0.25 * (t - 33.0).clamp(0.0, 7.0)
    };
    let beverage = time.iter().map(|&t| beverage(t)).collect();
    let bed = brew(&time, poured(&time), beverage, Meta::default(), Options::default()).bed;
    let end = bed.drawdown_end_s.unwrap();
    assert!((end.value - 40.0).abs() < 1.0, "{end}");
    assert!(bed.warnings.iter().any(|c| c.contains("the drain law fits")), "{:?}", bed.warnings);
}

#[test]
fn a_flat_bed_drains_as_darcy_says() {
    // 3 mL/s through 60 mm by 3 cm under 5 cm of head at 90 C: 2.113e-11 m2. With 2e-11 m2: L/K = 49.78 s, and 2 cm of
    // water over the bed are gone after (L/K) ln(1 + 2/3) = 25.43 s. Darcy's law with IAPWS viscosity and density, by
    // hand.
    let bed = FlatBed { diameter_mm: 60.0, depth_mm: 30.0, head_mm: 50.0 };
    assert!((bed.permeability_m2(3.0, 90.0).unwrap() / 2.113e-11 - 1.0).abs() < 5e-4);
    assert!((bed.time_constant_s(2e-11, 90.0).unwrap() - 49.78).abs() < 0.02);
    assert!((bed.ponded_s(2e-11, 90.0).unwrap() - 25.43).abs() < 0.01);
    assert_eq!(bed.permeability_m2(3.0, 101.0).unwrap_err().kind(), "out_of_range");
    let no_bed = FlatBed { depth_mm: 0.0, ..bed };
    assert_eq!(no_bed.permeability_m2(3.0, 90.0).unwrap_err().kind(), "out_of_range");
    assert_eq!(FlatBed { head_mm: 20.0, ..bed }.ponded_s(2e-11, 90.0).unwrap(), 0.0);
}

/// Beverage of a bed by small steps: `kept(t)` stays, water beyond it leaves by `c(t) (standing/50 g)^exponent`.
/// And the instant from which that is under 0.1 g/s, s.
fn stepped(
    time_s: &[f64],
    water_g: impl Fn(f64) -> f64,
    kept_g: impl Fn(f64) -> f64,
    conductance: impl Fn(f64) -> f64,
    exponent: f64,
) -> (Vec<f64>, f64) {
    let (mut out, mut beverage, mut t, mut runs) = (0.0, Vec::new(), 0.0, 0.0);
    for &stamp in time_s {
        while t < stamp {
            let standing: f64 = (water_g(t) - kept_g(t) - out).max(0.0);
            let flow = conductance(t) * (standing / 50.0).powf(exponent);
            out += 1e-3 * flow;
            t += 1e-3;
            runs = if flow >= 0.1 { t } else { runs };
        }
        beverage.push(out);
    }
    (beverage, runs)
}

#[test]
fn a_bed_that_changes_while_it_drains_still_ends_within_two_seconds() {
    // No closed form and no law: the bed closes to half, or goes on soaking up 8 g, with a time constant of 20 s; or it
    // drips on.
    let time = stamps(110.0);
    let fading = |t: f64| (-(t - 5.0_f64).max(0.0) / 20.0).exp();
    let closing = |t: f64| 6.0 * (0.5 + 0.5 * fading(t));
    let soaking = |t: f64| 20.0 + 8.0 * (1.0 - fading(t));
    let water = |t: f64| 10.0 * (t - 5.0).clamp(0.0, 10.0);
    for exponent in [0.35, 0.5, 0.7, 1.0] {
        let cases = [
            stepped(&time, water, |_| 30.0, closing, exponent),
            stepped(&time, water, soaking, |_| 6.0, exponent),
            stepped(&time, water, soaking, closing, exponent),
        ];
        for (case, (beverage, runs)) in cases.into_iter().enumerate() {
            let bed = brew(&time, poured(&time), beverage, Meta::default(), Options::default()).bed;
            let end = bed.drawdown_end_s.unwrap();
            assert!((end.value - runs).abs() < 2.0, "exponent {exponent}, case {case}: {end} for {runs}");
        }
    }
}

/// Two pours of 60 g through a straight wall of which 10 g stay, outflow `c (V/50)^0.5` with its own `c` after each
/// pour.
fn two_pours(conductance: [f64; 2], pour_c: Vec<f64>) -> Bed {
    let time = stamps(110.0);
    let water = |t: f64| 10.0 * (t - 5.0).clamp(0.0, 6.0) + 10.0 * (t - 45.0).clamp(0.0, 6.0);
    let (beverage, _) = stepped(&time, water, |_| 10.0, |t| conductance[usize::from(t > 45.0)], 0.5);
    let mut options = Options::default();
    options.bed.pour_c = pour_c;
    options.bed.flat_bed = Some(FlatBed { diameter_mm: 60.0, depth_mm: 30.0, head_mm: 50.0 });
    let meta = Meta { water_c: Some(90.0), ..Meta::default() };
    brew(&time, time.iter().map(|&t| water(t)).collect(), beverage, meta, options).bed
}

#[test]
fn a_bed_that_closes_shows_it_and_is_not_called_clogged() {
    let bed = two_pours([6.0, 4.8], Vec::new());
    for (pour, c) in bed.pours.iter().zip([6.0, 4.8]) {
        let found = pour.conductance_g_per_s.as_ref().unwrap();
        assert!((found.value / c - 1.0).abs() < 0.02, "{found} for {c}");
    }
    let ratio = bed.pours[1].conductance_ratio.as_ref().unwrap();
    assert!((ratio.value - 0.8).abs() < 0.02 && ratio.sd < 0.01, "{ratio}");
    // Swelling: Hargarten, Kuhn, Briesen 2020, J. Sci. Food Agric., doi 10.1002/jsfa.10440: most of it within 30 s.
    assert!(bed.warnings.iter().any(|c| c.contains("no proof of clogging, since grounds swell")));
    // 6 mL/s would be twice the 2.113e-11 m2 of 3 mL/s at 90 C; 6 g/s are 6/.96531 mL/s (IAPWS density).
    let k = bed.pours[0].permeability_m2.as_ref().unwrap();
    assert!((k.value / (2.0 * 2.113e-11 / 0.96531) - 1.0).abs() < 0.02, "{k:?}");
}

#[test]
fn a_bed_that_only_cooled_has_not_changed() {
    // Flow through the same bed goes as one over the kinematic viscosity: nu(60)/nu(93) = 1.503 (IAPWS, own arithmetic).
    let bed = two_pours([6.0, 6.0 / 1.503], vec![93.0, 60.0]);
    let ratio = bed.pours[1].conductance_ratio.as_ref().unwrap();
    assert!((ratio.value - 1.0).abs() < 0.02, "{ratio}");
    assert!(!bed.warnings.iter().any(|c| c.contains("clogging")), "{:?}", bed.warnings);
}

#[test]
fn the_bed_keeps_more_water_than_retention_says() {
    // Mass balance, own arithmetic: retention 2.0 and yield 20 % give 2.20 g/g; 1 g of vapour takes 1/15
    // of it.
    let time = stamps(80.0);
    let water = time.iter().map(|t| 9.0 * (t - 10.0).clamp(0.0, 30.0)).collect();
    let beverage = time.iter().map(|t| 6.0 * (t - 25.0).clamp(0.0, 40.0)).collect();
    let meta = Meta { dose_g: Some(15.0), tds_pct: Some(1.25), ..Meta::default() };
    let mut options = Options::default();
    options.extraction.evaporated_g = 1.0;
    let bed = brew(&time, water, beverage, meta, options).bed;
    assert!((bed.retention_g_per_g.unwrap().value - 2.0).abs() < 0.01);
    let kept = bed.retained_water_g_per_g.unwrap();
    assert!((kept.value - (2.2 - 1.0 / 15.0)).abs() < 0.01, "{kept}");
}

#[test]
fn a_loss_beyond_what_evaporation_allows_is_flagged() {
    // 100 g that cool by 15 K lose at most 2.8 g: cp/hfg is 0.185 % a kelvin at 93 C (IAPWS).
    let losing = |rate: f64| {
        let time = stamps(120.0);
        let beverage = |t: f64| 43.63 - left_g(t, 0.5) - rate * (t - 60.0).max(0.0);
        let beverage = time.iter().map(|&t| beverage(t)).collect();
        let meta = Meta { water_c: Some(93.0), ..Meta::default() };
        brew(&time, poured(&time), beverage, meta, Options::default()).bed
    };
    let (little, much) = (losing(0.02), losing(0.1));
    let most = much.most_vapour_g.unwrap();
    assert!((most.value - 100.0 * 15.0 * 0.00185).abs() < 0.03, "{most}");
    assert!((much.loss_g.unwrap().value - 6.0).abs() < 0.2);
    assert!((little.loss_g.unwrap().value - 1.2).abs() < 0.2);
    assert!(much.warnings.iter().any(|c| c.contains("went missing")));
    assert!(!little.warnings.iter().any(|c| c.contains("went missing")));
}

#[test]
fn a_log_that_ends_too_soon_says_so() {
    let time = stamps(20.0);
    let beverage = time.iter().map(|&t| 43.63 - left_g(t, 1.0 / 3.0)).collect();
    let bed = brew(&time, poured(&time), beverage, Meta::default(), Options::default()).bed;
    let why = bed.drawdown_end_s.unwrap_err().reason;
    assert!(why.starts_with("the log ends before"), "{why}");
    assert!(bed.warnings[0].starts_with("still dripping"), "{:?}", bed.warnings);
    // What is in the server then, and not its mean over the last seconds.
    let now = 43.63 - left_g(time[time.len() - 1], 1.0 / 3.0);
    let beverage = bed.beverage_g.unwrap();
    // In its sd there is a zero that may have drifted by 0.005 g/s for these 20 s: so short a log cannot rule it out.
    assert!((beverage.value - now).abs() < 0.1 && beverage.sd < 0.15, "{beverage} for {now}");
}

#[test]
fn what_is_not_weighed_leaves_a_reason_everywhere() {
    let time = stamps(80.0);
    let water = shown(poured(&time), 1);
    let log = Log::new(time.clone(), Some(water), None, Meta::default()).unwrap();
    let bed = analyze(&log, &Options::default()).unwrap().bed;
    let whole = [&bed.beverage_g, &bed.first_drip_s, &bed.drawdown_end_s, &bed.drawdown_s];
    let pour = &bed.pours[0];
    let each = [
        &pour.holdup_at_start_g,
        &pour.drained_fraction_before,
        &pour.drawdown_end_s,
        &pour.conductance_g_per_s,
    ];
    for number in whole.into_iter().chain(each) {
        assert_eq!(number.as_ref().unwrap_err().reason, "the beverage was not weighed");
    }
    // Retention names all that is missing: it is that of the extraction.
    let reason = "the beverage was not weighed; retention_g_per_g was not given; dose_g was not given";
    assert_eq!(bed.retention_g_per_g.as_ref().unwrap_err().reason, reason);
    assert!(bed.curve.is_err() && bed.law.is_err() && bed.water_g.is_ok());

    let beverage = shown(time.iter().map(|&t| 43.63 - left_g(t, 0.5)).collect(), 2);
    let log = Log::new(time, None, Some(beverage), Meta::default()).unwrap();
    let bed = analyze(&log, &Options::default()).unwrap().bed;
    let unknown: [&Maybe; 3] = [&bed.drawdown_end_s, &bed.retention_g_per_g, &bed.water_g];
    for number in unknown {
        let why = &number.as_ref().unwrap_err().reason;
        assert!(why.starts_with("the water was not weighed"), "{why}");
    }
    assert!((bed.first_drip_s.unwrap().value - 16.0).abs() < 0.3);
    let curve = bed.curve.unwrap();
    assert!(curve.held_g.iter().all(|g| g.is_nan()) && curve.beverage_g.iter().all(|g| g.is_finite()));
}

proptest::proptest! {
    #![proptest_config(proptest::prelude::ProptestConfig::with_cases(200))]

    #[test]
    fn whatever_the_two_scales_show_a_bed_comes_out(
        rows in proptest::collection::vec((0.0..0.5_f64, -5.0..60.0_f64, -5.0..60.0_f64, 0..12_u8), 2..220),
        size in proptest::sample::select(vec![0.0, 1e-9, 1.0, 1e6]),
        rate in 0.0..3.0_f64,
    ) {
        // Steps of time of which some are none, two weights that grow and jump, some readings missing.
        let (mut t, mut time, mut water, mut beverage) = (0.0, vec![], vec![], vec![]);
        for (dt, a, b, kind) in rows {
            t += if kind == 0 { 0.0 } else { dt };
            let (a, b) = if kind < 4 { (a, b) } else { (0.0, 0.0) };
            time.push(t);
            water.push(if kind == 11 { f64::NAN } else { size * (rate * t + a) });
            beverage.push(if kind == 10 { f64::NAN } else { size * (rate * (t - 5.0).max(0.0) + b) });
        }
        time.push(t + 1.0);
        water.push(0.0);
        beverage.push(0.0);
        let meta = Meta { dose_g: Some(15.0), tds_pct: Some(1.3), ..Meta::default() };
        let log = Log::with_missing(time, Some(water), Some(beverage), meta, pourline::Missing::Flag);
        if let Ok(brew) = log.and_then(|log| analyze(&log, &Options::default())) {
            let bed = &brew.bed;
            let sure = [&bed.beverage_g, &bed.first_drip_s, &bed.drawdown_end_s, &bed.retention_g_per_g];
            for number in sure.into_iter().filter_map(|n| n.as_ref().ok()) {
                proptest::prop_assert!(number.value.is_finite() && number.sd >= 0.0, "{number:?}");
            }
        }
    }
}
