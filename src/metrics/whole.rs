//! The brew as a whole.
//!
//! - measures: the share of the water of each pour, the flow during pours, the longest rest.
//! - formula: mass of a pour over the mass of all; mass of all over the duration of all; the rest of the
//!   longest duration.
//! - needs: pours and rests of `segment`.
//! - minimum samples: those of `segment`.
//! - valid when: the log holds the whole brew.
//! - reference: propagation of uncertainty, JCGM 100:2008, 5.1.2.

use crate::estimate::{Estimate, Maybe, Undefined};
use crate::segment::pour::{Pour, Rest};

/// Share of the brew's water that a pour brings, percent.
pub(super) fn water_share_pct(pours: &[Pour], k: usize) -> Maybe {
    let all: f64 = pours.iter().map(|p| p.mass_g.value).sum();
    let own = pours[k].mass_g;
    let var_all: f64 = pours.iter().map(|p| p.mass_g.sd.powi(2)).sum();
    let share = own.value / all;
    // d share / d own = (1 - share) / all; by each other pour it is -share / all.
    let var = (1.0 - 2.0 * share) * own.sd.powi(2) + share * share * var_all;
    Ok(Estimate::new(100.0 * share, 100.0 * var.max(0.0).sqrt() / all))
}

/// Mean over the time of all pours of their flow, g/s.
pub(super) fn pouring_flow_g_per_s(pours: &[Pour]) -> Maybe {
    let sum = |of: fn(&Pour) -> Estimate| pours.iter().map(of).reduce(Estimate::plus);
    match (sum(|p| p.mass_g), sum(|p| p.duration_s)) {
        (Some(mass), Some(duration)) => Ok(mass.over(duration)),
        _ => Err(Undefined::because("no pour was found in the water channel")),
    }
}

/// Duration of the longest rest, s.
pub(super) fn longest_rest_s(rests: &[Rest]) -> Maybe {
    let longest = rests.iter().map(|r| r.duration_s).max_by(|a, b| a.value.total_cmp(&b.value));
    longest.ok_or_else(|| Undefined::because("a brew of fewer than two pours has no rest"))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pour(mass: Estimate, duration: Estimate) -> Pour {
        let none = Estimate::exact(0.0);
        Pour {
            start_s: none,
            end_s: none,
            half_rise_s: Ok(none),
            half_fall_s: Ok(none),
            mass_g: mass,
            mean_flow_g_per_s: mass.over(duration),
            duration_s: duration,
            flow_regimes: Vec::new(),
        }
    }

    #[test]
    fn shares_and_flow_are_those_of_the_formulas() {
        let pours = [
            pour(Estimate::new(40.0, 0.3), Estimate::new(8.0, 0.1)),
            pour(Estimate::new(60.0, 0.4), Estimate::new(12.0, 0.1)),
        ];
        // Share a/(a+b): sd = sqrt((b sa)^2 + (a sb)^2)/(a+b)^2 = sqrt(18^2 + 16^2)/1e4 (JCGM 100:2008, 5.1.2).
        let share = water_share_pct(&pours, 0).unwrap();
        assert!((share.value - 40.0).abs() < 1e-12);
        assert!((share.sd - 100.0 * 580.0_f64.sqrt() / 1e4).abs() < 1e-12, "{share:?}");
        let flow = pouring_flow_g_per_s(&pours).unwrap();
        assert!((flow.value - 5.0).abs() < 1e-12);
        assert!((flow.sd - 5.0 * 0.005_f64.hypot(0.02_f64.sqrt() / 20.0)).abs() < 1e-12);
        assert!(longest_rest_s(&[]).is_err() && pouring_flow_g_per_s(&[]).is_err());
    }
}
