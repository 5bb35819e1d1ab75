//! Agitation against numbers from outside the library: the stream from spout to bed, and pours known by arithmetic.

use pourline::agitation::fall_height_m;
use pourline::{
    AgitationOptions, Arrival, Brew, Estimate, Log, Maybe, Meta, Options, SpeedSource, Stream, analyze,
};

const G_M_PER_S2: f64 = 9.80665;
/// Density of water at 93 C, kg/m3: IAPWS-95, computed with two other libraries.
const DENSITY_KG_PER_M3: f64 = 963.271;

fn near(found: &Maybe, expected: f64, tolerance: f64) {
    let found = found.as_ref().unwrap().value;
    assert!((found - expected).abs() <= tolerance, "{found} for {expected} ± {tolerance}");
}

fn stream(ml_per_s: f64, bore_mm: f64, height_cm: f64) -> Stream {
    let flow = Estimate::exact(ml_per_s * DENSITY_KG_PER_M3 * 1e-3);
    let [bore, height] = [bore_mm * 1e-3, height_cm * 1e-2].map(Estimate::exact);
    Stream::falling(flow, bore, height, 93.0).unwrap()
}

#[test]
fn a_stream_is_as_fast_wide_and_strong_as_the_balances_say() {
    // Computed outside the library from v0 = 4Q/(pi d0^2), v = sqrt(v0^2 + 2gH), d = d0 sqrt(v0/v) and IAPWS water at
    // 93 C; to the digits that were written down. mL/s, mm, cm | v0, v m/s, d mm, Re, We, force mN, power mW, fall s.
    let rows = [
        ([3.0, 4.0, 10.0], [0.2387, 1.4207, 1.640, 7388.0, 52.9, 4.105, 2.916, 0.1205]),
        ([5.0, 6.0, 10.0], [0.1768, 1.4116, 2.124, 9508.0, 67.7, 6.799, 4.799, 0.1259]),
        ([5.0, 6.0, 20.0], [0.1768, 1.9884, 1.789, 11284.0, 113.1, 9.577, 9.522, 0.1847]),
        ([5.0, 6.0, 30.0], [0.1768, 2.4321, 1.618, 12480.0, 153.0, 11.714, 14.245, 0.2300]),
        ([8.0, 8.0, 30.0], [0.1592, 2.4309, 2.047, 15782.0, 193.4, 18.733, 22.769, 0.2317]),
    ];
    let half_digit = [5e-5, 5e-5, 5e-4, 0.5, 0.05, 5e-4, 5e-4, 5e-5];
    for ([ml_per_s, bore_mm, height_cm], expected) in rows {
        let s = stream(ml_per_s, bore_mm, height_cm);
        let milli = |number: &Maybe| number.clone().map(|n| n.scaled(1e3));
        let found = [
            s.spout_speed_m_per_s,
            s.speed_m_per_s,
            s.width_mm,
            s.reynolds,
            s.weber,
            milli(&s.force_n),
            milli(&s.power_w),
            s.fall_s,
        ];
        for ((found, expected), half) in found.iter().zip(expected).zip(half_digit) {
            // The sheet's own rounding, and the last digit of the water's constants.
            near(found, expected, 1.2 * half + 2e-5 * expected);
        }
    }
}

#[test]
fn what_a_scale_feels_is_the_water_gone_from_the_spout_and_its_push() {
    // Balance of momentum, computed outside: 5 mL/s, 6 mm, 20 cm: .890 g in flight, .977 g pressed, .087 g net.
    let s = stream(5.0, 6.0, 20.0);
    near(&s.in_flight_g, 0.890, 6e-4);
    near(&s.pressed_g, 0.977, 6e-4);
    let net = s.pressed_g.unwrap().value - s.in_flight_g.unwrap().value;
    assert!((net - 0.087).abs() < 6e-4);
    // The same as the push that the water leaves the spout with: flow times v0 over g.
    assert!((net - 5.0 * 0.963_271 * 0.176_84 / G_M_PER_S2).abs() < 1e-4);
}

#[test]
fn a_stream_breaks_up_where_the_formula_says_into_the_drops_of_the_dispersion_relation() {
    // A stream of 2 mm at 1 m/s that falls nowhere. Formula of Grant and Middleman 1966 from memory: We 31.98, length
    // .170 m.
    let area_m2 = std::f64::consts::PI * 0.002_f64.powi(2) / 4.0;
    let s = stream(area_m2 * 1e6, 2.0, 1e-7);
    near(&s.weber, 31.98, 0.01);
    near(&s.break_up_m, 0.170, 5e-4);
    // Rayleigh's dispersion relation, computed outside: drops of 1.891 widths. Its wave is held in `rayleigh`.
    near(&s.drop_mm, 1.891 * 2.0, 2e-3);
}

#[test]
fn whether_a_stream_arrives_whole_is_a_band_and_no_verdict() {
    // The break-up length of 5 mL/s from 6 mm is some 20 cm here; a factor of 1.5 either way is left open.
    let arrival = |height_cm: f64| stream(5.0, 6.0, height_cm).arrival.unwrap();
    assert_eq!([5.0, 60.0].map(arrival), [Arrival::LikelyUnbroken, Arrival::LikelyBroken]);
    let length_cm = stream(5.0, 6.0, 20.0).break_up_m.unwrap().value * 100.0;
    for share in [0.75, 1.0, 1.4] {
        assert_eq!(arrival(length_cm * share), Arrival::MayBeBroken);
    }
    // A height that is hardly known leaves it open too.
    let [flow, bore] = [4.816, 0.006].map(Estimate::exact);
    let unsure = Stream::falling(flow, bore, Estimate::new(0.1, 0.05), 93.0).unwrap();
    assert_eq!(unsure.arrival, Ok(Arrival::MayBeBroken));
}

#[test]
fn the_sd_of_a_speed_is_that_of_first_order_propagation() {
    // Own arithmetic, JCGM 100:2008, 5.1.2: dv/dH = g/v; dv/dd0 = -2 v0^2/(v d0); dv/dQ = v0^2/(v Q).
    let (v0, v, q) = (0.176_84, 1.988_4, 4.816_36);
    let s =
        Stream::falling(Estimate::new(q, 0.05), Estimate::new(0.006, 2e-4), Estimate::new(0.2, 0.01), 93.0)
            .unwrap();
    let parts = [G_M_PER_S2 / v * 0.01, 2.0 * v0 * v0 / (v * 0.006) * 2e-4, v0 * v0 / (v * q) * 0.05];
    let expected = parts.iter().fold(0.0_f64, |sum, part| sum.hypot(*part));
    assert!((s.speed_m_per_s.unwrap().sd / expected - 1.0).abs() < 1e-3);
}

#[test]
fn a_stream_that_cannot_be_is_refused() {
    let [flow, bore, height] = [5.0, 0.006, 0.2].map(Estimate::exact);
    for broken in [0.0, -1.0, f64::NAN, f64::INFINITY] {
        let broken = Estimate::exact(broken);
        assert!(Stream::falling(broken, bore, height, 93.0).is_err());
        assert!(Stream::falling(flow, broken, height, 93.0).is_err());
        assert!(Stream::falling(flow, bore, broken, 93.0).is_err());
    }
    assert!(Stream::falling(flow, bore, height, 101.0).is_err());
    assert!(Stream::falling(flow, bore, Estimate::new(0.2, -0.1), 93.0).is_err());
}

#[test]
fn a_height_follows_from_the_lead_and_from_nothing_less() {
    // The rows of the table backwards: v/g is the lead, H what it fell.
    let rows = [(0.2387, 1.4207, 0.1), (0.1768, 1.9884, 0.2), (0.1592, 2.4309, 0.3)];
    for (v0, v, height) in rows {
        near(&fall_height_m(&Ok(Estimate::exact(v / G_M_PER_S2)), Estimate::exact(v0)), height, 2e-5);
    }
    let slower = fall_height_m(&Ok(Estimate::exact(0.01)), Estimate::exact(0.5));
    assert!(slower.unwrap_err().reason.contains("slower at the bed"));
}

/// 60 g at 6 g/s, 60 g at 5 g/s: written by arithmetic, without lag and noise.
fn two_pours(meta: Meta, options: &Options) -> Brew {
    constant(&[(10.0, 10.0, 6.0), (35.0, 12.0, 5.0)], meta, options)
}

/// Start, duration and flow of each pour.
fn constant(pours: &[(f64, f64, f64)], meta: Meta, options: &Options) -> Brew {
    let time_s: Vec<f64> = (0..1000).map(|i| f64::from(i) / 10.0).collect();
    let poured =
        |t: f64| pours.iter().map(|&(start, lasts, flow)| flow * (t - start).clamp(0.0, lasts)).sum();
    let water_g = time_s.iter().map(|&t| poured(t)).collect();
    let mut options = options.clone();
    options.condition.scale_lag_s = Some(0.0);
    analyze(&Log::new(time_s, Some(water_g), None, meta).unwrap(), &options).unwrap()
}

fn hot() -> Meta {
    Meta { water_c: Some(93.0), dose_g: Some(15.0), ..Meta::default() }
}

fn falling(bore_m: f64, height_m: f64) -> Options {
    let agitation = AgitationOptions {
        spout_bore_m: Some(bore_m),
        fall_height_m: Some(height_m),
        ..AgitationOptions::default()
    };
    Options { agitation, ..Options::default() }
}

#[test]
fn the_energy_of_a_pour_is_the_same_whatever_its_duration() {
    // M (g H + v0^2/2) by hand: 60 g from 20 cm at .1768 m/s bring .1186 J. The bore goes with the root of the flow, so
    // that v0 stays.
    for slower in [0.5, 1.0, 2.0, 4.0] {
        let flow = 5.0 * DENSITY_KG_PER_M3 * 1e-3 / slower;
        let options = falling(0.006 / slower.sqrt(), 0.2);
        let brew = constant(&[(10.0, 60.0 / flow, flow)], hot(), &options);
        let row = &brew.agitation.unwrap().pours[0];
        near(&row.energy_j, 0.1186, 1e-4);
        near(&row.energy_j_per_g, 0.1186 / 15.0, 1e-5);
        near(&row.stream.spout_speed_m_per_s, 0.1768, 2e-3);
        near(&row.stream.speed_m_per_s, 1.9884, 1e-3);
        assert_eq!(row.speed_source, Some(SpeedSource::Stated));
    }
}

#[test]
fn an_uncertain_height_makes_the_energy_uncertain() {
    // Own arithmetic: M g sd(H) is .06 x 9.80665 x .02 J.
    let mut options = falling(0.006, 0.2);
    options.agitation.fall_height_sd_m = Some(0.02);
    let energy = two_pours(hot(), &options).agitation.unwrap().pours[0].energy_j.clone().unwrap();
    assert!((energy.sd - 0.011_77).abs() < 2e-4, "{energy}");
}

#[test]
fn constant_pours_have_the_flow_proxies_of_arithmetic() {
    let brew = two_pours(Meta::default(), &Options::default());
    // Q^2 t, Q, 1, and all or none of the time above 5.5 g/s.
    let mut options = Options::default();
    options.agitation.above_g_per_s = 5.5;
    let above = two_pours(Meta::default(), &options).agitation.unwrap();
    let rows = brew.agitation.unwrap();
    for (row, (flow, lasts)) in rows.pours.iter().zip([(6.0, 10.0), (5.0, 12.0)]) {
        near(&row.flow_impulse_g2_per_s, flow * flow * lasts, 0.02 * flow * flow * lasts);
        near(&row.mass_weighted_flow_g_per_s, flow, 0.02 * flow);
        near(&row.peak_to_mean_flow, 1.0, 0.05);
    }
    near(&above.pours[0].time_above_s, 10.0, 0.3);
    near(&above.pours[1].time_above_s, 0.0, 0.3);
}

#[test]
fn a_pour_mixes_for_as_long_as_its_stream_arrives_whole() {
    // At 6 g/s a stream from 8 mm lasts for some 0.2 m: from 3 cm it arrives whole all the time, from 1 m never.
    let mixing = |height_m: f64| {
        two_pours(hot(), &falling(0.008, height_m)).agitation.unwrap().pours[0].mixing_time_s.clone()
    };
    near(&mixing(0.03), 10.0, 0.3);
    near(&mixing(1.0), 0.0, 0.1);
    // If the fall is about as long as the stream lasts, the sd is accordingly large.
    let open = mixing(0.22).unwrap();
    assert!(open.sd > 3.0, "{open}");
}

#[test]
fn no_height_is_made_up() {
    let row = |meta: Meta, options: &Options| two_pours(meta, options).agitation.unwrap().pours[0].clone();
    let bare = row(Meta::default(), &Options::default());
    let says = |number: &Maybe, what: &str| {
        let reason = &number.as_ref().unwrap_err().reason;
        assert!(reason.contains(what), "{reason}");
    };
    for number in
        [&bare.stream.fall_height_m, &bare.stream.speed_m_per_s, &bare.energy_j, &bare.stream.power_w]
    {
        says(number, "not given");
    }
    says(&bare.stream.fall_height_m, "the scale does not identify it");
    assert_eq!(bare.speed_source, None);
    assert!(bare.flow_impulse_g2_per_s.is_ok() && bare.time_above_s.is_ok());
    let mut options = falling(0.006, 0.2);
    says(&row(Meta::default(), &options).energy_j, "water_c was not given");
    says(&row(Meta { dose_g: None, ..hot() }, &options).energy_j_per_g, "dose_g was not given");
    options.agitation.spout_bore_m = None;
    says(&row(hot(), &options).energy_j, "spout_bore_m was not given");
}

#[test]
fn a_factor_of_the_log_stands_in_for_an_option() {
    let mut meta = hot();
    meta.factors.insert("spout_bore_m".into(), "0.006".into());
    meta.factors.insert("fall_height_m".into(), "0.2".into());
    let by_factor = two_pours(meta.clone(), &Options::default()).agitation.unwrap();
    assert_eq!(by_factor, two_pours(hot(), &falling(0.006, 0.2)).agitation.unwrap());
    // 20 cm, not 20 m.
    meta.factors.insert("fall_height_m".into(), "20".into());
    let reason =
        two_pours(meta, &Options::default()).agitation.unwrap().pours[0].energy_j.clone().unwrap_err().reason;
    assert!(reason.contains("not a length from 0 to 2 m"), "{reason}");
}

#[test]
fn options_out_of_range_are_refused_by_name() {
    let refused = |change: fn(&mut AgitationOptions)| {
        let mut options = Options::default();
        change(&mut options.agitation);
        let log = Log::new(vec![0.0, 1.0, 2.0], Some(vec![0.0, 1.0, 2.0]), None, Meta::default()).unwrap();
        analyze(&log, &options).unwrap_err().to_string()
    };
    assert!(refused(|o| o.spout_bore_m = Some(6.0)).contains("agitation.spout_bore_m"));
    assert!(refused(|o| o.fall_height_m = Some(0.0)).contains("agitation.fall_height_m"));
    assert!(refused(|o| o.fall_height_sd_m = Some(-0.1)).contains("agitation.fall_height_sd_m"));
    assert!(refused(|o| o.spout_bore_sd_m = Some(f64::NAN)).contains("agitation.spout_bore_sd_m"));
    assert!(refused(|o| o.above_g_per_s = 0.0).contains("agitation.above_g_per_s"));
}

#[test]
fn the_table_has_each_number_with_its_sd_and_calls_it_an_ordinal_proxy() {
    let brew = two_pours(hot(), &falling(0.006, 0.2));
    let table = brew.table(true);
    let pairs = [
        ("flow_impulse_g2_per_s", "flow_impulse_sd_g2_per_s"),
        ("mass_weighted_flow_g_per_s", "mass_weighted_flow_sd_g_per_s"),
        ("peak_to_mean_flow", "peak_to_mean_flow_sd"),
        ("time_above_s", "time_above_sd_s"),
        ("fall_height_m", "fall_height_sd_m"),
        ("stream_speed_m_per_s", "stream_speed_sd_m_per_s"),
        ("stream_width_mm", "stream_width_sd_mm"),
        ("reynolds", "reynolds_sd"),
        ("weber", "weber_sd"),
        ("force_n", "force_sd_n"),
        ("power_w", "power_sd_w"),
        ("energy_j", "energy_sd_j"),
        ("energy_j_per_g", "energy_sd_j_per_g"),
        ("mixing_time_s", "mixing_time_sd_s"),
    ];
    for name in pairs
        .iter()
        .flat_map(|(value, sd)| [*value, *sd])
        .chain(["arrival", "swirls", "lifts", "knocks", "splashes"])
    {
        let column = table.column(name).unwrap_or_else(|| panic!("no column {name}"));
        assert_eq!((column.note.as_str(), column.values.len()), ("ordinal proxy for agitation", 2), "{name}");
    }
    assert_eq!(table.column("mass_g").unwrap().note, "");
    let json = serde_json::to_string(&brew).unwrap();
    let back: Brew = serde_json::from_str(&json).unwrap();
    assert_eq!(back.agitation, brew.agitation);
}
