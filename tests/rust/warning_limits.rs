//! Both sides of the limits from which a brew warns of what is doubtful of it, on logs written out here.

use pourline::{Brew, Log, Meta, Options, analyze};

/// Small noise on steps of 0.1 g, the same each time.
fn shown(mass_g: f64, i: usize) -> f64 {
    let noise = 0.1 * ((i * i * 37 % 101) as f64 / 50.0 - 1.0);
    ((mass_g + noise) * 10.0).round() / 10.0
}

/// Water at ten readings a second.
fn watered(seconds: u32, water_g: impl Fn(f64) -> f64, meta: Meta) -> Brew {
    let time_s: Vec<f64> = (0..10 * seconds).map(|i| 0.1 * f64::from(i)).collect();
    logged(time_s, water_g, meta)
}

fn logged(time_s: Vec<f64>, water_g: impl Fn(f64) -> f64, meta: Meta) -> Brew {
    let reading = time_s.iter().enumerate().map(|(i, t)| shown(water_g(*t), i)).collect();
    analyze(&Log::new(time_s, Some(reading), None, meta).unwrap(), &Options::default()).unwrap()
}

fn warns(brew: &Brew, words: &str) -> bool {
    brew.warnings.iter().any(|c| c.contains(words))
}

/// So many g at 6 g/s from an instant on.
fn pour(t: f64, from_s: f64, mass_g: f64) -> f64 {
    (6.0 * (t - from_s)).clamp(0.0, mass_g)
}

#[test]
fn water_that_rises_in_the_last_second_is_told_from_noise_on() {
    // A noise stated as 0.1 g: 0.5 g/s for a second and six sd are 1.1 g; more than that is still too little for a
    // pour.
    let rises = |by_g: f64| {
        let time_s: Vec<f64> = (0..=240).map(|i| 0.125 * f64::from(i)).collect();
        let water = |t: &f64| pour(*t, 5.0, 60.0) + by_g * (t - 29.0).clamp(0.0, 1.0);
        let reading = time_s.iter().map(water).collect();
        let mut options = Options::default();
        options.condition.noise_sd_g = Some(0.1);
        let log = Log::new(time_s, Some(reading), None, Meta::default()).unwrap();
        warns(&analyze(&log, &options).unwrap(), "while the water rises")
    };
    assert_eq!([0.0, 1.05, 1.18].map(rises), [false, false, true]);
}

#[test]
fn less_water_than_twice_the_dose_is_no_brew() {
    let brew = |water_g: f64| {
        let meta = Meta { dose_g: Some(15.0), ..Meta::default() };
        watered(40, |t| pour(t, 5.0, water_g), meta)
    };
    assert!(warns(&brew(28.0), "is too little for 15 g of coffee"));
    assert!(!warns(&brew(32.0), "is too little for"));
}

#[test]
fn five_rows_behind_an_earlier_stamp_are_a_clock_that_was_set_back_and_four_are_not() {
    let brew = |rows: usize| {
        let mut time_s: Vec<f64> = (0..300).map(|i| 0.1 * f64::from(i)).collect();
        // So many rows, and one that is not behind any more.
        for i in 0..rows {
            time_s[200 + i] = 19.0 + 0.01 * i as f64;
        }
        logged(time_s, |t| pour(t, 5.0, 40.0), Meta::default())
    };
    let told = brew(5);
    assert!(warns(&told, "step back by 0.9 s at row 201"), "{:?}", told.warnings);
    assert!(!warns(&brew(4), "step back"));
}

#[test]
fn a_pause_longer_than_all_else_is_a_clock_that_was_set_on() {
    let brew = |pause_s: f64| {
        let time_s = (0..300).map(|i| 0.1 * f64::from(i) + if i >= 200 { pause_s } else { 0.0 }).collect();
        logged(time_s, |t| pour(t, 5.0, 40.0), Meta::default())
    };
    // 29.8 s of log beside it, and the tenth of a second that it was.
    let told = brew(30.0);
    assert!(warns(&told, "a pause of 30.1 s after row 200"), "{:?}", told.warnings);
    assert!(!warns(&brew(29.5), "longer than all else"));
}

/// Water and beverage, each with what its scale showed before.
fn both(water: impl Fn(f64) -> f64, beverage: impl Fn(f64) -> f64) -> Brew {
    let time_s: Vec<f64> = (0..900).map(|i| 0.1 * f64::from(i)).collect();
    let read = |of: &dyn Fn(f64) -> f64, k: usize| {
        time_s.iter().enumerate().map(|(i, t)| shown(of(*t), i + k)).collect::<Vec<f64>>()
    };
    let (water, beverage) = (read(&water, 0), read(&beverage, 13));
    analyze(&Log::new(time_s, Some(water), Some(beverage), Meta::default()).unwrap(), &Options::default())
        .unwrap()
}

/// The outflow so far of a bed with 30 g of retention.
fn drained(poured_g: f64) -> f64 {
    (poured_g - 30.0).max(0.0)
}

#[test]
fn columns_look_exchanged_whatever_the_scales_showed_at_first_and_only_if_the_beverage_is_never_behind() {
    let water = |t: f64| pour(t, 10.0, 100.0) + pour(t, 50.0, 80.0);
    let right = both(|t| 200.0 + water(t), |t| 500.0 + drained(water(t - 4.0)));
    assert!(!warns(&right, "exchanged"), "{:?}", right.warnings);
    let wrong = both(|t| 500.0 + drained(water(t - 4.0)), |t| 200.0 + water(t));
    assert!(warns(&wrong, "the two columns look exchanged"), "{:?}", wrong.warnings);
    // 5 g is the least difference that distinguishes two scales.
    let ahead = |by_g: f64| {
        both(water, move |t| {
            drained(water(t - 4.0)).max(by_g * (t - 2.0).clamp(0.0, 1.0) * f64::from(t < 9.0))
        })
    };
    assert!(
        warns(&ahead(6.0), "more than the water poured by then")
            && !warns(&ahead(4.0), "more than the water")
    );
}

#[test]
fn a_bed_that_drained_and_was_left_alone_for_45_seconds_may_be_another_one() {
    let brew = |second_s: f64| {
        let water = move |t: f64| pour(t, 3.0, 90.0) + pour(t, second_s, 60.0);
        // 30 g stay; water beyond that drains within some seconds.
        both(water, move |t| drained(water(t - 5.0)))
    };
    // The first pour ends at 18 s and its beverage at 23 s.
    assert!(warns(&brew(72.0), "was left alone for 45 s"), "{:?}", brew(72.0).warnings);
    assert!(!warns(&brew(60.0), "left alone"), "{:?}", brew(60.0).warnings);
}
