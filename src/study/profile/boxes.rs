//! In: the pours of a brew. Out: the brew as rectangular pours, each with rest, duration and flow: three quantities
//! per pour in which brews differ.

use crate::segment::pour::Pour;

/// Rest before the pour, s; its duration, s; its flow, g/s.
pub(super) type Box3 = [f64; 3];
pub(super) const QUANTITIES: [(&str, &str, [&str; 2]); 3] = [
    ("rest_before_s", "s", ["starts earlier", "starts later"]),
    ("duration_s", "s", ["is shorter", "is longer"]),
    ("flow_g_per_s", "g/s", ["is slower", "is faster"]),
];

/// From half-rise to half-fall, the instants with the smaller sd; from start to end for a pour without them.
pub(super) fn boxes(pours: &[Pour]) -> Vec<Box3> {
    let mut before_s = None;
    pours
        .iter()
        .map(|pour| {
            let rise_s = pour.half_rise_s.as_ref().map_or(pour.start_s.value, |at| at.value);
            let fall_s = pour.half_fall_s.as_ref().map_or(pour.end_s.value, |at| at.value);
            let rest_s = before_s.map_or(0.0, |before| rise_s - before);
            before_s = Some(fall_s);
            let duration_s = fall_s - rise_s;
            [rest_s, duration_s, if duration_s > 0.0 { pour.mass_g.value / duration_s } else { 0.0 }]
        })
        .collect()
}

/// Integral over time of the squared difference of the flows of two brews of rectangular pours, (g/s)^2 s.
pub(super) fn apart(one: &[Box3], other: &[Box3]) -> f64 {
    let steps = |boxes: &[Box3], side: usize, out: &mut Vec<(f64, usize, f64)>| {
        let mut at_s = 0.0;
        for [rest_s, duration_s, flow] in boxes {
            at_s += rest_s;
            out.push((at_s, side, *flow));
            at_s += duration_s;
            out.push((at_s, side, 0.0));
        }
    };
    let mut all = Vec::new();
    steps(one, 0, &mut all);
    steps(other, 1, &mut all);
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    let (mut sum, mut now, mut at_s) = (0.0, [0.0, 0.0], 0.0);
    for (next_s, side, flow) in all {
        sum += (next_s - at_s) * f64::powi(now[0] - now[1], 2);
        (at_s, now[side]) = (next_s, flow);
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn distances_of_rectangular_pours_are_those_of_arithmetic() {
        let brew = [[0.0, 10.0, 4.0], [20.0, 5.0, 6.0]];
        assert_eq!(apart(&brew, &brew), 0.0);
        // Faster by 2 g/s over 5 s: 4 times 5.
        assert_eq!(apart(&brew, &[[0.0, 10.0, 4.0], [20.0, 5.0, 8.0]]), 20.0);
        // Longer by 3 s at 6 g/s: 36 times 3.
        assert_eq!(apart(&brew, &[[0.0, 10.0, 4.0], [20.0, 8.0, 6.0]]), 108.0);
        // Later by 2 s: 36 times 2 at either edge.
        assert_eq!(apart(&brew, &[[0.0, 10.0, 4.0], [22.0, 5.0, 6.0]]), 144.0);
    }
}
