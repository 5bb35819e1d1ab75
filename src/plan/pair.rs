//! In: planned and poured pours, each a start and a mass. Out: their alignment.
//!
//! Pairs preserve the order of both sides and minimise the sum of costs (dynamic programming as in Needleman and Wunsch
//! 1970, J. Mol. Biol. 48, 443). The cost of a pair is its difference in start over the plan's median time from start
//! to start, plus one for each doubling or halving of the mass; a pour without partner costs `ALONE`. The start of a
//! brew is unknown, so every pour that may be the first of the plan is tried as the one at which both clocks agree.

/// Cost of a pour without partner, planned or poured: two of them cost more than a pair that is two gaps late.
const ALONE: f64 = 1.5;

/// A pour to be paired: its start on any clock, s, and its mass, g.
pub(super) type StartMass = (f64, f64);

/// Pairs of planned and poured, as indices; the first is the one at which the clocks agree.
pub(super) type Pairs = Vec<(usize, usize)>;

/// The pairs of least cost; empty if there are none. Ties go to the earlier pours.
pub(super) fn pair(planned: &[StartMass], poured: &[StartMass]) -> Pairs {
    let gap_s = usual_gap_s(planned);
    let firsts = (0..planned.len()).map(|i| (i, 0)).chain((1..poured.len()).map(|j| (0, j)));
    let mut best = (ALONE * (planned.len() + poured.len()) as f64, Pairs::new());
    for (i, j) in firsts {
        let (Some(plan), Some(pour)) = (planned.get(i), poured.get(j)) else { continue };
        let clock = pour.0 - plan.0;
        let cost =
            |p: &StartMass, q: &StartMass| (q.0 - clock - p.0).abs() / gap_s + (q.1 / p.1).log2().abs();
        let (rest, pairs) = align(&planned[i + 1..], &poured[j + 1..], cost);
        let total = ALONE * (i + j) as f64 + cost(plan, pour) + rest;
        if total < best.0 {
            let after = pairs.into_iter().map(|(p, q)| (p + i + 1, q + j + 1));
            best = (total, std::iter::once((i, j)).chain(after).collect());
        }
    }
    best.1
}

/// Median time from start to start; arbitrary for one pour, since its clock agrees.
fn usual_gap_s(planned: &[StartMass]) -> f64 {
    let mut gaps: Vec<f64> = planned.windows(2).map(|two| two[1].0 - two[0].0).collect();
    gaps.sort_by(f64::total_cmp);
    gaps.get(gaps.len() / 2).copied().unwrap_or(1.0)
}

/// Least cost of two sequences in order, and the pairs.
fn align(a: &[StartMass], b: &[StartMass], cost: impl Fn(&StartMass, &StartMass) -> f64) -> (f64, Pairs) {
    let width = b.len() + 1;
    // Least cost of the remainders of both.
    let mut least = vec![0.0_f64; (a.len() + 1) * width];
    let at = |i: usize, j: usize| i * width + j;
    for i in (0..=a.len()).rev() {
        for j in (0..=b.len()).rev() {
            let alone = match (a.len() - i, b.len() - j) {
                (left, 0) | (0, left) => ALONE * left as f64,
                _ => {
                    let one_alone = ALONE + least[at(i + 1, j)].min(least[at(i, j + 1)]);
                    one_alone.min(cost(&a[i], &b[j]) + least[at(i + 1, j + 1)])
                }
            };
            least[at(i, j)] = alone;
        }
    }
    let (mut i, mut j, mut pairs) = (0, 0, Pairs::new());
    while i < a.len() && j < b.len() {
        if least[at(i, j)] >= cost(&a[i], &b[j]) + least[at(i + 1, j + 1)] {
            pairs.push((i, j));
            (i, j) = (i + 1, j + 1);
        } else if least[at(i + 1, j)] <= least[at(i, j + 1)] {
            i += 1;
        } else {
            j += 1;
        }
    }
    (least[0], pairs)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn planned(starts: &[f64]) -> Vec<StartMass> {
        starts.iter().map(|start| (*start, 60.0)).collect()
    }

    #[test]
    fn a_missed_or_additional_pour_does_not_shift_the_others() {
        let plan = planned(&[0.0, 30.0, 60.0, 90.0]);
        // The log's clock is 7 s ahead.
        assert_eq!(pair(&plan, &planned(&[7.0, 67.0, 97.0])), [(0, 0), (2, 1), (3, 2)]);
        let more = planned(&[7.0, 23.0, 37.0, 67.0, 97.0]);
        assert_eq!(pair(&plan, &more), [(0, 0), (1, 2), (2, 3), (3, 4)]);
    }

    #[test]
    fn a_first_pour_that_is_missed_or_not_in_the_plan_is_identified_by_its_mass() {
        let plan = [(0.0, 40.0), (45.0, 100.0), (90.0, 60.0)];
        assert_eq!(pair(&plan, &[(3.0, 100.0), (48.0, 60.0)]), [(1, 0), (2, 1)]);
        let rinsed = [(0.0, 8.0), (20.0, 40.0), (65.0, 100.0), (110.0, 60.0)];
        assert_eq!(pair(&plan, &rinsed), [(0, 1), (1, 2), (2, 3)]);
    }

    #[test]
    fn pours_that_are_all_late_stay_paired() {
        let plan = planned(&[0.0, 30.0, 60.0, 90.0]);
        let slow = planned(&[0.0, 40.0, 80.0, 120.0]);
        assert_eq!(pair(&plan, &slow), [(0, 0), (1, 1), (2, 2), (3, 3)]);
    }

    #[test]
    fn nothing_is_paired_with_nothing_or_with_a_splash() {
        assert!(pair(&planned(&[0.0]), &[]).is_empty());
        // 2 g are nearly five halvings of 60 g: more than the cost of two pours without partner.
        assert!(pair(&planned(&[0.0]), &[(3.0, 2.0)]).is_empty());
    }

    /// All ordered alignments, enumerated.
    fn brute(a: &[StartMass], b: &[StartMass], cost: &dyn Fn(&StartMass, &StartMass) -> f64) -> f64 {
        let (Some(p), Some(q)) = (a.first(), b.first()) else { return ALONE * (a.len() + b.len()) as f64 };
        let pair = cost(p, q) + brute(&a[1..], &b[1..], cost);
        pair.min(ALONE + brute(&a[1..], b, cost)).min(ALONE + brute(a, &b[1..], cost))
    }

    proptest! {
        #[test]
        fn no_other_way_in_order_costs_less(
            a in prop::collection::vec((0.0..200.0, 5.0..100.0), 0..6),
            b in prop::collection::vec((0.0..200.0, 5.0..100.0), 0..6),
        ) {
            let cost = |p: &StartMass, q: &StartMass| (q.0 - p.0).abs() / 40.0 + (q.1 / p.1).log2().abs();
            let (found, pairs) = align(&a, &b, cost);
            prop_assert!((found - brute(&a, &b, &cost)).abs() < 1e-9);
            prop_assert!(pairs.windows(2).all(|two| two[0].0 < two[1].0 && two[0].1 < two[1].1));
            let alone = a.len() + b.len() - 2 * pairs.len();
            let expected = ALONE * alone as f64 + pairs.iter().map(|(i, j)| cost(&a[*i], &b[*j])).sum::<f64>();
            prop_assert!((found - expected).abs() < 1e-9);
        }
    }
}
