//! One-way analysis of variance against the certified values of NIST StRD (Statistical Reference Datasets, analysis of
//! variance; public domain).

use pourline::Estimate;
use pourline::repeatability;

/// Digits in which two numbers agree, 15 at most.
fn digits(found: f64, certified: f64) -> f64 {
    let error = (found / certified - 1.0).abs();
    if error == 0.0 { 15.0 } else { (-error.log10()).min(15.0) }
}

/// The digits of F and of the residual sd.
fn judged(values: &[f64], groups: &[String], f: f64, sd: f64) -> [f64; 2] {
    let values: Vec<Estimate> = values.iter().copied().map(Estimate::exact).collect();
    let found = repeatability(&values, groups).unwrap();
    [digits(found.difference.unwrap().f, f), digits(found.within_sd.value, sd)]
}

fn numbered(groups: usize, each: usize) -> Vec<String> {
    (0..groups * each).map(|i| (i / each).to_string()).collect()
}

/// The generated sets of Simon and Lesage: nine treatments about .4, .3 and .5, first the middle, then a tenth below
/// and above in turn.
fn simon_lesage(leading: u64, each: usize) -> Vec<f64> {
    let tenths = |treatment: usize, i: usize| {
        let middle = if treatment == 0 { 4 } else { 3 + 2 * ((treatment + 1) % 2) };
        if i == 0 { middle } else { middle + 1 - 2 * (i % 2) }
    };
    let value = |i: usize| format!("{leading}.{}", tenths(i / each, i % each)).parse().unwrap();
    (0..9 * each).map(value).collect()
}

#[test]
fn the_certified_f_and_residual_sd_of_the_generated_sets_come_out() {
    let (few, some, many) = ((21, 21.0), (201, 201.0), (2001, 2001.0));
    for (name, leading, (each, f)) in [
        ("SmLs01", 1, few),
        ("SmLs02", 1, some),
        ("SmLs03", 1, many),
        ("SmLs04", 1_000_000, few),
        ("SmLs05", 1_000_000, some),
        ("SmLs06", 1_000_000, many),
        ("SmLs07", 1_000_000_000_000, few),
        ("SmLs08", 1_000_000_000_000, some),
        ("SmLs09", 1_000_000_000_000, many),
    ] {
        let found = judged(&simon_lesage(leading, each), &numbered(9, each), f, 0.1);
        println!("{name}: digits of F {:.1}, of the residual sd {:.1}", found[0], found[1]);
        // A double holds a tenth behind the 13th digit to 6e-5, one behind the 7th to 6e-11: no method can do better
        // than its data.
        let least = match leading {
            1 => 13.0,
            1_000_000 => 9.0,
            _ => 2.5,
        };
        assert!(found.iter().all(|d| *d >= least), "{name}: {found:?}");
    }
}

#[test]
fn the_certified_f_and_residual_sd_of_the_measured_sets_come_out() {
    // SiRstv: resistance of silicon by five instruments.
    let resistance = [
        196.3052, 196.1240, 196.1890, 196.2569, 196.3403, 196.3042, 196.3825, 196.1669, 196.3257, 196.0422,
        196.1303, 196.2005, 196.2889, 196.0343, 196.1811, 196.2795, 196.1748, 196.1494, 196.1485, 195.9885,
        196.2119, 196.1051, 196.1850, 196.0052, 196.2090,
    ];
    let found = judged(&resistance, &numbered(5, 5), 1.18046237440255, 1.04076068334656e-1);
    println!("SiRstv: digits {found:.1?}");
    assert!(found.iter().all(|d| *d >= 12.0), "{found:?}");

    // AtmWtAg: atomic weight of silver by two instruments, 107.8681 and what follows.
    let behind = [
        568, 465, 572, 785, 446, 903, 526, 494, 616, 587, 519, 486, 419, 569, 508, 672, 385, 518, 662, 424,
        360, 333, 610, 477, 79, 344, 513, 197, 604, 385, 642, 365, 151, 82, 517, 448, 198, 482, 334, 609,
        101, 512, 469, 360, 254, 261, 450, 368,
    ];
    let weight: Vec<f64> = behind.iter().map(|d| format!("107.8681{d:03}").parse().unwrap()).collect();
    let found = judged(&weight, &numbered(2, 24), 1.59467335677930e1, 1.51048314446410e-5);
    println!("AtmWtAg: digits {found:.1?}");
    assert!(found.iter().all(|d| *d >= 8.0), "{found:?}");
}
