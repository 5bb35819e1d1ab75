//! Logs that anyone can write by arithmetic: no noise, no lag, edges known exactly. The truth is the formula itself.

use crate::errors::meets;
use pourline::{Estimate, Log, Maybe, Meta, Options, Pour, analyze};

struct Made {
    flow_g_per_s: f64,
    start_s: f64,
    end_s: f64,
}

/// Two pours of constant flow on stamps of that rate, as they are or rounded to a step.
fn log(pours: &[Made], rate_hz: f64, step_g: Option<f64>) -> Log {
    let time_s: Vec<f64> = (0..(60.0 * rate_hz) as usize).map(|i| i as f64 / rate_hz).collect();
    let poured = |t: f64| -> f64 {
        pours.iter().map(|p| p.flow_g_per_s * (t.clamp(p.start_s, p.end_s) - p.start_s)).sum()
    };
    let shown = |w: f64| step_g.map_or(w, |step| (w / step).round() * step);
    let water_g = time_s.iter().map(|&t| shown(poured(t))).collect();
    Log::new(time_s, Some(water_g), None, Meta::default()).unwrap()
}

/// Calls `check` with what was made and found, on scales of 5 to 50 Hz and three readouts.
fn each(options: &Options, mut check: impl FnMut(&Pour, &Made, f64, &str)) {
    for rate_hz in [5.0, 10.0, 20.0, 50.0] {
        for step_g in [None, Some(0.1), Some(0.01)] {
            for flow in [2.5, 5.0, 6.0, 9.7, 15.0] {
                let pours = [(10.0, 20.0), (35.0, 47.03)].map(|(start_s, end_s)| Made {
                    flow_g_per_s: flow,
                    start_s,
                    end_s,
                });
                let brew = analyze(&log(&pours, rate_hz, step_g), options).unwrap();
                let what = format!("{flow} g/s at {rate_hz} Hz, step {step_g:?}: {:#?}", brew.segments.pours);
                assert_eq!(brew.segments.pours.len(), 2, "{what}");
                for (found, made) in brew.segments.pours.iter().zip(&pours) {
                    check(found, made, 1.0 / rate_hz, &what);
                }
            }
        }
    }
}

fn half(edge: &Maybe) -> Estimate {
    edge.clone().expect("the pour has half-edges")
}

fn off(found: Estimate, made: f64) -> f64 {
    (found.value - made).abs()
}

#[test]
#[ignore = "slow"]
fn a_log_without_any_noise_has_the_edges_that_it_was_made_with() {
    // Errors in units of what is allowed, the largest of each: half-edges, start and end, mass, mean flow.
    let mut furthest = [0.0_f64; 4];
    each(&Options::default(), |found, made, interval_s, _| {
        // A scale without lag is not expected, and hardly told from one with a lag of half an interval: edges come
        // early by as much.
        let half_s = 0.05 + interval_s / 2.0;
        // A stream that opens at once, where a ramp of 0.35 s is expected: half of it, and half an interval for the
        // lag.
        let edge_s = 0.35 / 2.0 + interval_s / 2.0;
        let mass_g = made.flow_g_per_s * (made.end_s - made.start_s);
        let halves =
            off(half(&found.half_rise_s), made.start_s).max(off(half(&found.half_fall_s), made.end_s));
        let edges = off(found.start_s, made.start_s).max(off(found.end_s, made.end_s));
        let flow = off(found.mean_flow_g_per_s, made.flow_g_per_s) / made.flow_g_per_s;
        let now = [halves / half_s, edges / edge_s, off(found.mass_g, mass_g) / 0.1, flow / 0.03];
        furthest.iter_mut().zip(now).for_each(|(furthest, now)| *furthest = furthest.max(now));
    });
    for (name, furthest) in ["half-edges", "start and end", "mass", "mean flow"].into_iter().zip(furthest) {
        meets(&format!("{name}: largest error, of what is allowed"), &[furthest], ..1.0);
    }
}

#[test]
fn with_the_scale_known_half_rise_and_half_fall_are_exact_to_a_hundredth() {
    let mut options = Options::default();
    options.condition.scale_lag_s = Some(0.0);
    options.segment.stream_lead_s = Some(0.0);
    each(&options, |found, made, _, what| {
        assert!(off(half(&found.half_rise_s), made.start_s) < 0.015, "{what}");
        assert!(off(half(&found.half_fall_s), made.end_s) < 0.015, "{what}");
    });
}
