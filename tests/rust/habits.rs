//! Scores of steadiness and pauses, and habits: by own arithmetic, and by drawn deviations for the rate of false ones.

use crate::plan::brew_of;
use pourline::{Brew, Estimate, Plan, PlanResult, PlannedPour, WithinTolerance, habits};

/// A plan of four pours alike, 25 s apart, with a flow and a steadiness.
fn alike() -> Plan {
    let pour = |k: u32| PlannedPour {
        flow_g_per_s: Some(5.0),
        time_near_plateau_pct: Some(85.0),
        time_near_plateau_within_pct: 5.0,
        pauses: Some(0.0),
        ..PlannedPour::new(25.0 * f64::from(k), 60.0)
    };
    Plan::new("alike", (0..4).map(pour).collect()).unwrap()
}

/// A brew of that plan with the given deviations of start, mass, flow and steadiness of each pour.
fn alike_but(off: &[[f64; 4]], pauses: f64) -> Brew {
    let pours: Vec<(f64, f64, f64)> = (0..)
        .zip(off)
        .map(|(k, [start, mass, flow, _])| (12.0 + 25.0 * f64::from(k) + start, 60.0 + mass, 5.0 + flow))
        .collect();
    let mut brew = brew_of(&pours, 0.0);
    for (row, [_, _, _, steady]) in brew.metrics.pours.iter_mut().zip(off) {
        row.time_near_plateau_pct = Ok(Estimate::exact(85.0 + steady));
        row.pauses = Ok(Estimate::exact(pauses));
    }
    brew
}

#[test]
fn steadiness_and_pauses_cost_only_on_their_bad_side() {
    let score = |steady, pauses| alike().follow(&alike_but(&[[0.0, 0.0, 0.0, steady]; 4], pauses)).unwrap();
    assert_eq!([-5.0, 0.0, 15.0].map(|steady| score(steady, 0.0).score.value), [100.0; 3]);
    // Own arithmetic: 19 items of 100/19 points; 10 points of a tolerance of 5 halve four of them, one pause too many
    // is two tolerances of a half.
    let four = 100.0 / 19.0 * 4.0;
    let found = score(-10.0, 1.0);
    assert!((found.score.value - (100.0 - 2.0 * 0.5 * four)).abs() < 1e-9, "{}", found.score);
    assert_eq!(
        found.lost.iter().map(|(item, _)| item.as_str()).collect::<Vec<_>>(),
        ["steadiness", "pauses"]
    );
    assert_eq!(found.pours[0].time_near_plateau_within_tolerance, Some(WithinTolerance::No));
}

#[test]
fn points_and_losses_make_100_and_a_worse_brew_never_scores_more() {
    let off = [[1.0, -4.0, 0.7, -9.0], [5.0, 2.0, -1.2, 3.0], [-7.0, 9.0, 0.2, -20.0], [2.0, 0.0, 0.0, 0.0]];
    let mut last = f64::INFINITY;
    for step in 0..40 {
        let by = 0.1 * f64::from(step);
        let found = alike().follow(&alike_but(&off.map(|row| row.map(|x| by * x)), 0.0)).unwrap();
        let lost: f64 = found.lost.iter().map(|(_, points)| points).sum();
        let of_pours: f64 = found.pours.iter().map(|row| row.points_lost).sum();
        assert!((found.score.value + lost - 100.0).abs() < 1e-9 && (lost - of_pours).abs() < 1e-9);
        assert!(found.score.value <= last + 1e-9, "step {step}");
        last = found.score.value;
    }
}

#[test]
fn a_deviation_that_recurs_is_advice_and_one_that_does_not_is_none() {
    let said = |off: [[f64; 4]; 4]| alike().follow(&alike_but(&off, 0.0)).unwrap().work_on;
    let flows = |flows: [f64; 4]| flows.map(|flow| [0.0, 0.0, flow, 0.0]);
    assert_eq!(
        said(flows([-0.82, -0.78, -0.85, -0.75])),
        "The flow is 0.8 g/s too slow, in 4 of 4 pours; 0.5 g/s are allowed."
    );
    assert_eq!(said(flows([-3.2, 0.0, 0.0, 0.0])), "Nothing to work on: no deviation recurs beyond chance.");
    assert_eq!(said(flows([-0.4; 4])), "Nothing to work on: all is within its tolerance.");
    let masses = [6.2, 5.8, 6.0, 6.4].map(|mass| [0.0, mass, 0.0, 0.0]);
    assert_eq!(said(masses), "Pours are 6.1 g over, in 4 of 4 pours; 3.0 g are allowed.");
    // A single late start delays the pours after it: the rests after it are as planned.
    assert!(said([0.0, 9.0, 9.0, 9.0].map(|start| [start, 0.0, 0.0, 0.0])).starts_with("Nothing to work on"));
    let rests = [0.0, 5.1, 10.0, 14.9].map(|start| [start, 0.0, 0.0, 0.0]);
    assert_eq!(said(rests), "Rests are 5.0 s too long, in 3 of 3 pours; 3.0 s are allowed.");
    let steady = [-21.0, -19.0, -20.0, -20.4].map(|share| [0.0, 0.0, 0.0, share]);
    assert!(said(steady).starts_with("The share near its own flow is 20 points too low, in 4 of 4 pours"));
}

#[test]
fn chance_is_called_a_habit_in_at_most_5_of_100_brews() {
    // Mean deviations at the edge of their tolerances, where false habits are the most frequent, and a scatter of half
    // a tolerance; 5 % of 1500 and three standard deviations of the binomial law.
    let draws = normal_draws(1500 * 4 * 4);
    let mut found = 0;
    for k in 0..1500 {
        let off: Vec<[f64; 4]> = (0..4)
            .map(|pour| {
                let x = &draws[16 * k + 4 * pour..][..4];
                [0.0, 3.0 + 1.5 * x[1], 0.5 + 0.25 * x[2], -5.0 - 2.5 * x[3]]
            })
            .collect();
        let said = alike().follow(&alike_but(&off, 0.0)).unwrap().work_on;
        found += usize::from(!said.starts_with("Nothing"));
    }
    assert!((found as f64) < 0.05 * 1500.0 + 3.0 * (1500.0_f64 * 0.05 * 0.95).sqrt(), "{found}");
}

/// Standard normal numbers by the sum of twelve uniform ones, from a linear congruential generator (Knuth's MMIX).
fn normal_draws(count: usize) -> Vec<f64> {
    let mut state = 7_u64;
    let mut uniform = || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 11) as f64 / (1_u64 << 53) as f64
    };
    (0..count).map(|_| (0..12).map(|_| uniform()).sum::<f64>() - 6.0).collect()
}

#[test]
fn a_habit_over_brews_names_its_pour() {
    let brews: Vec<PlanResult> = [8.1, 7.6, 8.4, 7.9, 8.2]
        .map(|late| [0.0, 0.0, late, late].map(|start| [start, 0.0, 0.0, 0.0]))
        .iter()
        .map(|off| alike().follow(&alike_but(off, 0.0)).unwrap())
        .collect();
    let found = habits(&brews);
    let said: Vec<&str> = found.iter().map(|habit| habit.says.as_str()).collect();
    let mut late: Vec<&str> = said.clone();
    late.sort_unstable();
    assert_eq!(
        late,
        [3, 4].map(|pour| format!("Pour {pour} starts 8.0 s late, in 5 of 5 brews; 3.0 s are allowed."))
    );
    let all: Vec<PlanResult> = [5.1, 4.6, 5.4, 4.9, 5.2]
        .map(|over| alike().follow(&alike_but(&[[0.0, over, 0.0, 0.0]; 4], 0.0)).unwrap())
        .into();
    assert_eq!(habits(&all)[0].says, "Pours are 5.0 g over, in 5 of 5 brews; 3.0 g are allowed.");
    assert_eq!((habits(&all)[0].pour, habits(&all).len()), (None, 1));
    let second: Vec<PlanResult> = [5.1, 4.6, 5.4, 4.9, 5.2]
        .map(|over| [[0.0; 4], [0.0, over, 0.0, 0.0], [0.0; 4], [0.0; 4]])
        .iter()
        .map(|off| alike().follow(&alike_but(off, 0.0)).unwrap())
        .collect();
    assert_eq!(habits(&second)[0].says, "Pour 2 is 5.0 g over, in 5 of 5 brews; 3.0 g are allowed.");
    assert_eq!((habits(&second)[0].pour, habits(&second[..2]).len(), habits(&[]).len()), (Some(2), 0, 0));
}
