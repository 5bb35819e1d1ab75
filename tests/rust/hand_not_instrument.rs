//! The flow CV of a pour does not depend on the scale that logged it.
//!
//! The truth is that of the simulator: the same pours, unsteady by 0 to 12 % in three forms, on scales of 5 to 50 Hz,
//! steps of 0.1 and 0.01 g, noise of 0.02 to 0.12 g. `make quality` prints the table.

use crate::errors::{Errors, HONEST, hold, of_sets, sets};
use crate::instruments::{FORMS, Instrument, Run, instruments, many, runs};
use pourline::Estimate;

/// Unsteadiness of the hands: amplitude over flow, from none to this.
const TREMOR: f64 = 0.12;

fn share(runs: &[&Run], holds: impl Fn(&Run) -> bool) -> f64 {
    runs.iter().filter(|r| holds(r)).count() as f64 / runs.len() as f64
}

/// Each instrument with each form of unsteadiness, twelve brews each.
fn all(first: u64) -> Vec<(Instrument, Run)> {
    let mut out = Vec::new();
    for (k, instrument) in instruments().into_iter().enumerate() {
        for form in FORMS {
            let first = first + 12 * k as u64;
            out.extend(
                many(instrument, form, TREMOR, first..first + 12).into_iter().map(|r| (instrument, r)),
            );
        }
    }
    out
}

#[test]
#[ignore = "slow"]
fn the_truth_lies_within_two_sd_whatever_the_scale() {
    let all = sets(all);
    let errors = all.each_ref().map(|all| {
        let mut found: [Errors; 2] = Default::default();
        for (_, run) in all {
            run.resolved().into_iter().for_each(|cv| found[0].push(cv, run.truth));
            found[1].add(&run.cv, run.truth);
        }
        found
    });
    let every = |of: fn(&Run) -> bool| {
        all.each_ref().map(|all| share(&all.iter().map(|(_, r)| r).collect::<Vec<_>>(), of))
    };
    of_sets("flow CV, resolved", &errors, 0)
        .hold("resolved, runs", |known| known.len() as f64, 600.0..)
        .honest(0.95.., HONEST);
    hold("truth within two sd, or below the bound", every(Run::holds), 0.95..);
    hold(
        "bound at or above the value, share",
        every(|run| run.cv.as_ref().is_ok_and(|cv| run.upper.is_none_or(|upper| upper >= cv.value))),
        1.0..,
    );
    // At 5 Hz the readings cannot show a beat of 2.5 Hz, so that no bound is stated.
    let stated = |fast: bool| {
        all.each_ref().map(|all| {
            let runs = all.iter().filter(|(on, _)| (on.rate_hz > 5.6) == fast).map(|(_, run)| run);
            share(&runs.collect::<Vec<_>>(), |run| run.upper.is_some())
        })
    };
    hold("bound stated at 10 Hz and more, share", stated(true), 0.9..);
    hold("bound stated at 5 Hz, share", stated(false), ..=0.0);
    // There is a value for every pour. At 1,511 runs a share that is .95 in the long run shows .939 to .961.
    hold("flow CV given, share", every(|run| run.cv.is_ok()), 1.0..);
    of_sets("flow CV", &errors, 1).honest(0.939.., HONEST);
    // In mean, too: what is given is right for each rate and each noise to a hundredth.
    let bias = |name: String, which: &dyn Fn(&Instrument) -> bool| {
        let of_one = |all: &Vec<(Instrument, Run)>| {
            let mut found = Errors::default();
            for (_, run) in all.iter().filter(|(on, _)| which(on)) {
                run.resolved().into_iter().for_each(|cv| found.push(cv, run.truth));
            }
            found.bias()
        };
        hold(&format!("bias at {name}"), all.each_ref().map(of_one), -0.01..0.01);
    };
    for rate_hz in [5.0, 10.0, 20.0, 50.0] {
        bias(format!("{rate_hz} Hz"), &|on| on.rate_hz == rate_hz);
    }
    for noise_sd_g in [0.02, 0.06, 0.12] {
        bias(format!("noise of {noise_sd_g} g"), &|on| on.noise_sd_g == noise_sd_g);
    }
}

#[test]
#[ignore = "slow"]
fn two_scales_agree_on_one_pour_within_two_sd() {
    let instruments = instruments();
    let found = sets(|first| {
        // The difference of two numbers whose errors are independent; none is the truth.
        let mut all: [Errors; 1] = Default::default();
        for seed in first + 1000..first + 1200 {
            let form = FORMS[seed as usize % FORMS.len()];
            let on = |k: u64| runs(instruments[(k % instruments.len() as u64) as usize], form, TREMOR, seed);
            let (one, other) = (on(seed), on(7 * seed + 5));
            for a in &one {
                let same = other.iter().find(|b| b.start_s == a.start_s).and_then(Run::resolved);
                if let (Some(a), Some(b)) = (a.resolved(), same) {
                    all[0].push(Estimate::new(a.value - b.value, a.sd.hypot(b.sd)), 0.0);
                }
            }
        }
        all
    });
    of_sets("difference of two scales", &found, 0)
        .hold("pairs", |pairs| pairs.len() as f64, 120.0..)
        .honest(0.95.., HONEST);
}

#[test]
#[ignore = "slow"]
fn a_steady_pour_is_not_made_unsteady_by_its_scale() {
    let all = sets(|first| {
        let mut all: Vec<Run> = Vec::new();
        for (k, instrument) in instruments().into_iter().enumerate() {
            let first = first + 4 * k as u64;
            all.extend(many(instrument, FORMS[0], 0.0, first..first + 4));
        }
        all
    });
    let every = |of: fn(&Run) -> bool| all.each_ref().map(|all| share(&all.iter().collect::<Vec<_>>(), of));
    hold("steady pours, truth within two sd or below the bound", every(Run::holds), 0.95..);
    hold("steady pours not resolved", every(|run| !run.is_resolved), 0.8..);
}
