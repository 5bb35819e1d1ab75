//! In: curves of two groups in cells. Out: p of no difference anywhere, and the half-width of a simultaneous band, by
//! dealing the groups within cells.
//!
//! The statistic is the largest |difference| over its error along the curve (Westfall and Young 1993, Resampling-Based
//! Multiple Testing, section 2.3). Few brews give a poor variance at each position, whose errors alone would decide
//! where t is largest. It is therefore moderated by the mean variance on plateaus, as Smyth 2004 (Stat. Appl. Genet.
//! Mol. Biol. 3, 3) does for genes. Off the plateaus, where errors of the landmarks scatter more, it is not below that
//! of the position. It is computed for each deal, so that the test is exact whatever the weight.

use crate::estimate::{Estimate, Undefined};
use crate::study::compare::permute::{Dealing, deals};
use crate::study::compare::warnings::cannot_reach;

/// Weight of the mean variance on plateaus, to 1 for that of the position.
const OF_PLATEAUS: f64 = 3.0;
const EXACT_UP_TO: usize = 20_000;
const DRAWS: usize = 9_999;

/// The brews of two groups in cells that have both.
#[derive(Debug, Clone, Default)]
pub(super) struct Groups {
    /// Index of each brew.
    brew: Vec<usize>,
    /// 1 for the second group.
    label: Vec<usize>,
    pub(super) cell: Vec<usize>,
    /// Brews in cells without the other group.
    pub(super) left_out: usize,
    /// Brews of the first and the second group in each cell.
    counts: Vec<[usize; 2]>,
}

impl Groups {
    /// `cell` has first the brews of the first group, then those of the second.
    pub(super) fn new(sizes: [usize; 2], cell: &[usize]) -> Self {
        let cells = cell.iter().max().map_or(0, |most| most + 1);
        let mut all = vec![[0_usize; 2]; cells];
        let label = |i: usize| usize::from(i >= sizes[0]);
        cell.iter().enumerate().for_each(|(i, &c)| all[c][label(i)] += 1);
        let mut place = vec![None; cells];
        let mut found = Self::default();
        for (c, &n) in all.iter().enumerate() {
            if n[0] > 0 && n[1] > 0 {
                place[c] = Some(found.counts.len());
                found.counts.push(n);
            }
        }
        for (i, &c) in cell.iter().enumerate() {
            match place[c] {
                Some(c) => {
                    found.brew.push(i);
                    found.label.push(label(i));
                    found.cell.push(c);
                }
                None => found.left_out += 1,
            }
        }
        found
    }

    pub(super) fn sizes(&self) -> [usize; 2] {
        self.counts.iter().fold([0, 0], |n, c| [n[0] + c[0], n[1] + c[1]])
    }

    /// Inverse of the variance factor of the difference, as of least squares with a level for each cell.
    fn weight(&self) -> f64 {
        self.counts.iter().map(|&[a, b]| (a * b) as f64 / (a + b) as f64).sum()
    }

    fn degrees(&self) -> f64 {
        self.brew.len() as f64 - self.counts.len() as f64 - 1.0
    }

    /// Curves less the mean of their cell, in the order of the dealt brews.
    fn centred(&self, curves: &[Vec<f64>]) -> Vec<Vec<f64>> {
        let points = curves.first().map_or(0, Vec::len);
        let mut means = vec![vec![0.0; points]; self.counts.len()];
        for (&i, &c) in self.brew.iter().zip(&self.cell) {
            let n = (self.counts[c][0] + self.counts[c][1]) as f64;
            means[c].iter_mut().zip(&curves[i]).for_each(|(mean, y)| *mean += y / n);
        }
        let less = |(&i, &c): (&usize, &usize)| curves[i].iter().zip(&means[c]).map(|(y, m)| y - m).collect();
        self.brew.iter().zip(&self.cell).map(less).collect()
    }

    /// Second group less first, within cells; None without a cell.
    pub(super) fn difference(&self, curves: &[Vec<f64>]) -> Option<Vec<f64>> {
        (!self.cell.is_empty()).then(|| self.effect(&self.centred(curves), &self.label))
    }

    fn effect(&self, centred: &[Vec<f64>], labels: &[usize]) -> Vec<f64> {
        let mut sum = vec![0.0; centred.first().map_or(0, Vec::len)];
        for (curve, _) in centred.iter().zip(labels).filter(|(_, label)| **label == 1) {
            sum.iter_mut().zip(curve).for_each(|(sum, y)| *sum += y);
        }
        let weight = self.weight();
        sum.iter_mut().for_each(|sum| *sum /= weight);
        sum
    }

    fn squares(centred: &[Vec<f64>]) -> Vec<f64> {
        let mut sum = vec![0.0; centred.first().map_or(0, Vec::len)];
        for curve in centred {
            sum.iter_mut().zip(curve).for_each(|(sum, y)| *sum += y * y);
        }
        sum
    }

    /// Variance within groups and cells at each position.
    fn variance(&self, squares: &[f64], effect: &[f64]) -> Vec<f64> {
        let (weight, degrees) = (self.weight(), self.degrees());
        squares.iter().zip(effect).map(|(s, d)| ((s - weight * d * d) / degrees).max(0.0)).collect()
    }

    fn dealing(name: &str) -> Dealing<'_> {
        Dealing { exact_up_to: EXACT_UP_TO, draws: DRAWS, seed: 1, name }
    }
}

/// The test of the whole curve.
#[derive(Debug, Clone)]
pub(super) struct Largest {
    pub(super) p: Estimate,
    pub(super) half: Vec<f64>,
    pub(super) arrangements: f64,
}

impl Largest {
    /// `plateau` holds the positions on plateaus; if there are none, all positions stand for them.
    pub(super) fn new(
        groups: &Groups,
        curves: &[Vec<f64>],
        plateau: &[bool],
        level: f64,
    ) -> Result<Self, Undefined> {
        if groups.degrees() < 1.0 {
            return Err(Undefined::because("too few brews: no degrees of freedom are left for the scatter"));
        }
        let centred = groups.centred(curves);
        let squares = Groups::squares(&centred);
        let any = plateau.iter().any(|&on| on);
        let on_plateau = |j: usize| plateau[j] || !any;
        let count = (0..plateau.len()).filter(|&j| on_plateau(j)).count() as f64;
        let weight = groups.weight();
        let scatter = |effect: &[f64]| {
            let mut variance = groups.variance(&squares, effect);
            let sum: f64 = variance.iter().enumerate().filter(|(j, _)| on_plateau(*j)).map(|(_, v)| v).sum();
            for (v, &on) in variance.iter_mut().zip(plateau) {
                let moderated = (*v + OF_PLATEAUS * sum / count) / (1.0 + OF_PLATEAUS);
                *v = if on { moderated } else { moderated.max(*v) };
            }
            variance
        };
        let largest = |effect: &[f64], variance: &[f64]| {
            let square = effect.iter().zip(variance).map(|(d, v)| if *v > 0.0 { d * d / v } else { 0.0 });
            (square.fold(0.0, f64::max) * weight).sqrt()
        };
        let effect = groups.effect(&centred, &groups.label);
        let variance = scatter(&effect);
        if variance.iter().all(|v| *v <= 0.0) {
            return Err(Undefined::because("the brews of a group do not scatter"));
        }
        let observed = largest(&effect, &variance);
        let mut all = Vec::new();
        let found = deals(&groups.label, &groups.cell, Groups::dealing("profile difference"), |labels| {
            let effect = groups.effect(&centred, labels);
            all.push(largest(&effect, &scatter(&effect)));
        });
        let exact = !found.sampled;
        if found.sampled {
            all.push(f64::INFINITY);
        }
        let n = all.len() as f64;
        let p = all.iter().filter(|t| reaches(**t, observed)).count() as f64 / n;
        // A deal and its mirror image have the same t, if there are as many brews of each group in every cell.
        let mirrored = groups.counts.iter().all(|[a, b]| a == b);
        let smallest = if mirrored { 2.0 } else { 1.0 } / found.arrangements;
        if let Some(few) = cannot_reach(found.arrangements, smallest, level) {
            return Err(few);
        }
        let factor = critical(&mut all, 1.0 - level);
        let half = variance.iter().map(|v| factor * (v / weight).sqrt()).collect();
        let sd = if exact { 0.0 } else { (p * (1.0 - p) / (n - 1.0)).sqrt() };
        Ok(Self { p: Estimate::new(p, sd), half, arrangements: found.arrangements })
    }
}

/// Ties may differ by rounding.
fn reaches(t: f64, observed: f64) -> bool {
    t >= observed * (1.0 - 1e-10)
}

/// The t that has to be exceeded: the largest one whose own p is above `outside`. `all` is sorted.
fn critical(all: &mut [f64], outside: f64) -> f64 {
    all.sort_by(|x, y| y.total_cmp(x));
    // `outside` is a difference of rounded numbers.
    let allowed = (outside * (1.0 + 1e-9) * all.len() as f64) as usize;
    // A t that ties with it does not leave zero.
    all.get(allowed).map_or(0.0, |t| t * (1.0 + 1e-10))
}

/// Tests of several numbers of each brew, together.
#[derive(Debug, Clone)]
pub(super) struct Family {
    pub(super) difference: Vec<f64>,
    pub(super) error: Vec<f64>,
    pub(super) p: Vec<Estimate>,
    /// Half-width of the intervals in errors; None if the deals are too few.
    pub(super) factor: Option<f64>,
}

/// Each number of the second group less that of the first; None if their errors are unknown.
pub(super) fn family(groups: &Groups, numbers: &[Vec<f64>], level: f64) -> Option<Family> {
    if groups.cell.is_empty() || groups.degrees() < 1.0 {
        return None;
    }
    let centred = groups.centred(numbers);
    let squares = Groups::squares(&centred);
    let weight = groups.weight();
    let t_of = |effect: &[f64]| -> Vec<f64> {
        let variance = groups.variance(&squares, effect);
        let least = 1e-12 * squares.iter().copied().fold(0.0, f64::max);
        let t = |(d, v): (&f64, &f64)| if *v > least { d.abs() * (weight / v).sqrt() } else { 0.0 };
        effect.iter().zip(&variance).map(t).collect()
    };
    let difference = groups.effect(&centred, &groups.label);
    let error = groups.variance(&squares, &difference).iter().map(|v| (v / weight).sqrt()).collect();
    let observed = t_of(&difference);
    let mut all = Vec::new();
    let found = deals(&groups.label, &groups.cell, Groups::dealing("landmarks"), |labels| {
        all.push(t_of(&groups.effect(&centred, labels)).into_iter().fold(0.0, f64::max));
    });
    if found.sampled {
        all.push(f64::INFINITY);
    }
    let n = all.len() as f64;
    let p = |t: &f64| {
        let p = all.iter().filter(|one| reaches(**one, *t)).count() as f64 / n;
        Estimate::new(p, if found.sampled { (p * (1.0 - p) / (n - 1.0)).sqrt() } else { 0.0 })
    };
    let p = observed.iter().map(p).collect();
    let enough = 1.0 <= (1.0 - level) * (1.0 + 1e-9) * found.arrangements;
    let factor = enough.then(|| critical(&mut all, 1.0 - level)).filter(|u| u.is_finite());
    Some(Family { difference, error, p, factor })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_of_each_brew_has_the_exact_p_of_dealing() {
        // Own arithmetic: 4 and 4 that do not overlap: the observed deal and its mirror image of 70.
        let groups = Groups::new([4, 4], &[0; 8]);
        let y: Vec<Vec<f64>> =
            [1.0, 2.0, 3.0, 4.0, 11.0, 12.0, 13.0, 14.0].iter().map(|y| vec![*y]).collect();
        let found = Largest::new(&groups, &y, &[true], 0.95).unwrap();
        assert!((found.p.value - 2.0 / 70.0).abs() < 1e-12 && found.arrangements == 70.0);
        assert!(found.half[0] < 10.0, "{:?}", found.half);
        let family = family(&groups, &y, 0.95).unwrap();
        assert_eq!(family.difference, [10.0]);
        // Squares of 5 and 5 on six degrees, times a half.
        assert!((family.error[0] - (10.0_f64 / 6.0 / 2.0).sqrt()).abs() < 1e-12);
        assert!((family.p[0].value - 2.0 / 70.0).abs() < 1e-12);
    }

    #[test]
    fn differences_are_taken_within_cells_that_have_both_groups() {
        // Own arithmetic: cells 0 and 1 differ by 10; the group by 2; cell 2 has one group only.
        let groups = Groups::new([4, 3], &[0, 0, 1, 2, 0, 1, 1]);
        let y: Vec<Vec<f64>> = [1.0, 1.0, 11.0, 50.0, 3.0, 13.0, 13.0].iter().map(|y| vec![*y]).collect();
        assert_eq!((groups.left_out, groups.sizes()), (1, [3, 3]));
        assert!((groups.difference(&y).unwrap()[0] - 2.0).abs() < 1e-12);
    }

    #[test]
    fn too_few_deals_have_no_band() {
        let groups = Groups::new([3, 3], &[0; 6]);
        let y: Vec<Vec<f64>> = [1.0, 2.0, 3.1, 4.0, 5.3, 6.0].iter().map(|y| vec![*y]).collect();
        let why = Largest::new(&groups, &y, &[true], 0.95).unwrap_err().reason;
        assert!(why.contains("smallest possible p of the 20 permutations is 0.10"), "{why}");
    }
}
