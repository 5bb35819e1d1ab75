//! In: a pair of groups in cells. Out: p of no difference by dealing the groups within cells, and the interval that the
//! same dealing gives.
//!
//! The interval has every shift of the second group that the test does not reject (Pitman 1937, J. R. Stat. Soc.
//! Suppl. 4, 119). For each deal the shifts at which it reaches the observed statistic are an interval with a closed
//! form: the statistic is the absolute value of a line in the shift, and the observed line is the steepest. p and the
//! interval are counts of these intervals, so that they cannot contradict each other.
//!
//! All deals are gone through if they are few; otherwise they are sampled, with p = (b + 1)/(m + 1) (Phipson and Smyth
//! 2010, Stat. Appl. Genet. Mol. Biol. 9, 39).

use crate::estimate::Estimate;
use crate::study::compare::pair::Pair;
use crate::study::compare::permute::{Dealing, deals};

/// The shifts at which each deal reaches the observed statistic, by their ends, each sorted.
#[derive(Debug, Clone)]
pub(super) struct Dealt {
    low: Vec<f64>,
    high: Vec<f64>,
    difference: f64,
    /// Number of distinct deals, and whether they were sampled.
    pub arrangements: f64,
    sampled: bool,
}

impl Dealt {
    pub(super) fn new(pair: &Pair, difference: f64, dealing: Dealing<'_>) -> Self {
        let centred = pair.centred();
        let (lean, weight) = pair.lean();
        let labels: Vec<usize> = pair.is_b.iter().map(|&b| usize::from(b)).collect();
        let observed = difference * weight;
        let (mut low, mut high) = (Vec::new(), Vec::new());
        let scale = centred.iter().map(|y| y.abs()).sum::<f64>() / weight;
        // An end of rounding size is 0: ties with the observed statistic count.
        let snapped = |end: f64| if end.abs() <= 1e-10 * scale { 0.0 } else { end };
        let found = deals(&labels, &pair.cell, dealing, |labels| {
            let (mut level, mut slope) = (0.0, 0.0);
            for i in (0..labels.len()).filter(|&i| labels[i] == 1) {
                level += centred[i];
                slope += lean[i];
            }
            // |level - slope x| >= |observed - weight x|, whose two lines meet here.
            let same = 1e-9 * weight;
            if (slope - weight).abs() <= same || (slope + weight).abs() <= same {
                low.push(f64::NEG_INFINITY);
                high.push(f64::INFINITY);
                return;
            }
            let ends = [(observed - level) / (weight - slope), (observed + level) / (weight + slope)];
            low.push(snapped(ends[0].min(ends[1])));
            high.push(snapped(ends[0].max(ends[1])));
        });
        if found.sampled {
            low.push(f64::NEG_INFINITY);
            high.push(f64::INFINITY);
        }
        low.sort_by(f64::total_cmp);
        high.sort_by(|x, y| y.total_cmp(x));
        Self { low, high, difference, arrangements: found.arrangements, sampled: found.sampled }
    }

    /// p of the hypothesis that the true difference is `shift`, with its sd if deals were sampled.
    pub(super) fn p(&self, shift: f64) -> Estimate {
        let reached = if shift <= self.difference {
            self.low.partition_point(|low| *low <= shift)
        } else {
            self.high.partition_point(|high| *high >= shift)
        };
        let n = self.low.len() as f64;
        let p = reached as f64 / n;
        Estimate::new(p, if self.sampled { (p * (1.0 - p) / (n - 1.0)).sqrt() } else { 0.0 })
    }

    /// The shifts with a p above `outside`; None if the deals are too few to have a smaller one.
    pub(super) fn interval(&self, outside: f64) -> Option<[f64; 2]> {
        // `outside` is a difference of rounded numbers.
        let k = (outside * (1.0 + 1e-9) * self.low.len() as f64) as usize;
        let ends = [*self.low.get(k)?, *self.high.get(k)?];
        ends.iter().all(|end| end.is_finite()).then_some(ends)
    }

    /// The smallest p that the design can give.
    pub(super) fn smallest(&self) -> f64 {
        self.low.iter().take_while(|low| low.is_infinite()).count() as f64 / self.low.len() as f64
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::study::compare::blocks::{Block, Units};

    fn dealt(values: &[f64], group: &[&str], person: &[&str], exact_up_to: usize) -> Dealt {
        let values: Vec<Estimate> = values.iter().copied().map(Estimate::exact).collect();
        let block = [Block { name: "person", labels: person }];
        let units = Units::new(&values, group, &block, &[]).unwrap();
        let pair = Pair::new(&units, 0, 1);
        let dealing = Dealing { exact_up_to, draws: 9_999, seed: 1, name: "test" };
        Dealt::new(&pair, pair.fit().unwrap().difference, dealing)
    }

    #[test]
    fn the_interval_has_the_shifts_that_the_test_does_not_reject() {
        let values = [5.1, 5.6, 5.9, 5.0, 7.4, 7.1, 8.3, 8.0, 6.1, 6.0, 6.6, 6.9];
        let group = ["x", "y", "y", "x", "x", "x", "y", "y", "x", "x", "y", "y"];
        let person = ["A", "A", "A", "A", "B", "B", "B", "B", "C", "C", "C", "C"];
        let found = dealt(&values, &group, &person, 20_000);
        assert_eq!(found.arrangements, 216.0);
        let [low, high] = found.interval(0.05).unwrap();
        // The same by the test itself: the second group is shifted, and no difference is tested.
        let p_of_shifted = |shift: f64| {
            let shifted: Vec<f64> =
                values.iter().zip(group).map(|(y, g)| if g == "y" { y - shift } else { *y }).collect();
            dealt(&shifted, &group, &person, 20_000).p(0.0).value
        };
        for (shift, inside) in
            [(low - 1e-6, false), (low + 1e-6, true), (high - 1e-6, true), (high + 1e-6, false)]
        {
            assert_eq!(p_of_shifted(shift) > 0.05, inside, "{shift}: {}", p_of_shifted(shift));
            assert!((p_of_shifted(shift) - found.p(shift).value).abs() < 1e-12);
        }
        let sampled = dealt(&values, &group, &person, 1);
        let ends = sampled.interval(0.05).unwrap();
        assert!((ends[0] - low).abs() < 0.05 && (ends[1] - high).abs() < 0.05, "{ends:?} {low} {high}");
    }

    #[test]
    fn too_few_deals_have_no_interval() {
        let found = dealt(&[1.0, 2.0, 3.1, 4.0, 5.3, 6.0], &["x", "x", "x", "y", "y", "y"], &["A"; 6], 100);
        // Own arithmetic: 20 deals, of which the observed one and its mirror image reach every shift.
        assert!(found.interval(0.05).is_none());
        assert!((found.smallest() - 0.1).abs() < 1e-12 && (found.p(0.0).value - 0.1).abs() < 1e-12);
        assert!(found.interval(0.10).is_some());
    }
}
