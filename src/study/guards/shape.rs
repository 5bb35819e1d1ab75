//! The values: brews far from their group, unequal scatter, ties.

use crate::math::distribution::{fisher_above, student_outside};
use crate::math::robust::median;
use crate::study::guards::caution::{Caution, CautionKind};
use crate::study::guards::view::View;
use std::collections::BTreeSet;

/// Below this p, corrected for the number of brews, a brew is an outlier.
const OUTLIER: f64 = 0.01;
/// At most so many outliers are named.
const MOST: usize = 3;
/// Ratios of sd that matter if the counts are equal, and if they are not.
const RATIO: f64 = 1.5;
const RATIO_OF_UNEQUAL: f64 = 2.0;
/// Counts that differ by this factor are unequal.
const COUNTS: f64 = 1.5;
/// From this factor on, a group of fewer than `SMALL` brews is named.
const COUNTS_FAR: f64 = 2.0;
const SMALL: usize = 8;
/// Fewest brews of a group whose sd is compared.
const FEWEST: usize = 3;

/// Brews that lie far from their group, each with its influence on the difference.
pub(super) fn outliers(view: &View, unit: &str) -> Vec<Caution> {
    let (mut rest, mut found) = (view.clone(), Vec::new());
    let difference = |view: &View| {
        let effects = view.fit(&view.value).1;
        (effects.len() == 2).then(|| effects[1] - effects[0])
    };
    let whole = difference(view);
    while found.len() < MOST {
        let Some((far, sds)) = farthest(&rest) else { break };
        let brew = rest.brew[far].clone();
        rest = rest.without(far);
        let influence = match (whole, difference(&rest)) {
            (Some(with), Some(without)) => {
                format!(": without it the difference is {without:+.3}{unit} instead of {with:+.3}")
            }
            _ => String::new(),
        };
        let text = format!(
            "{brew} lies {sds:.1} sd from its group{influence}. Check its log, then keep it or say why not."
        );
        found.push(Caution::new(CautionKind::Outlier, &brew, text));
    }
    found
}

/// The brew whose externally studentised residual is significant (Weisberg, Applied Linear Regression, section 9.1,
/// with Bonferroni's correction), and how many sd of the others it lies off.
fn farthest(view: &View) -> Option<(usize, f64)> {
    let degrees = view.degrees() - 1.0;
    let left = view.fit(&view.value).0;
    let far = (0..left.len()).max_by(|&x, &y| left[x].abs().total_cmp(&left[y].abs()))?;
    let counts = |class: &[usize]| class.iter().filter(|c| **c == class[far]).count();
    if degrees < 3.0 || counts(&view.group) < FEWEST {
        return None;
    }
    let mut one = vec![0.0; left.len()];
    one[far] = 1.0;
    // The residual of a unit step is 1 less its leverage.
    let free = view.fit(&one).0[far];
    let squares: f64 = left.iter().map(|x| x * x).sum();
    let others = (squares - left[far] * left[far] / free) / degrees;
    // Groups of equal values have residuals of rounding size only.
    if free < 1e-9 || others <= 1e-20 * squares {
        return None;
    }
    let t = left[far].abs() / (others * free).sqrt();
    let p = student_outside(t, degrees) * left.len() as f64;
    (p < OUTLIER).then(|| (far, left[far].abs() / free / others.sqrt()))
}

impl View {
    fn without(&self, far: usize) -> Self {
        let mut rest = self.clone();
        rest.group.remove(far);
        rest.cell.remove(far);
        rest.value.remove(far);
        rest.brew.remove(far);
        rest.row.remove(far);
        rest
    }
}

/// Groups that scatter unequally, by the test of Brown and Forsythe (1974, J. Am. Stat. Assoc. 69, 364), or by the
/// ratio of their sd if the counts are unequal, too.
pub(super) fn unequal(view: &View, unit: &str) -> Option<Caution> {
    let left = view.fit(&view.value).0;
    let groups: Vec<Vec<f64>> = (0..view.groups.len())
        .map(|g| left.iter().zip(&view.group).filter(|(_, group)| **group == g).map(|(x, _)| *x).collect())
        .collect();
    if groups.iter().any(|group| group.len() < FEWEST) {
        return None;
    }
    let sd = |g: usize| {
        let squares: f64 = groups[g].iter().map(|x| x * x).sum();
        (squares / (groups[g].len() as f64 - 1.0)).sqrt()
    };
    let wide = (0..groups.len()).max_by(|&x, &y| sd(x).total_cmp(&sd(y)))?;
    let thin = (0..groups.len()).min_by(|&x, &y| sd(x).total_cmp(&sd(y)))?;
    let (n, m) = (groups[wide].len(), groups[thin].len());
    let ratio = sd(wide) / sd(thin);
    let uneven = n.max(m) as f64 >= COUNTS * n.min(m) as f64;
    let matters = (ratio >= RATIO && brown_forsythe(&groups) < 0.05) || (uneven && ratio >= RATIO_OF_UNEQUAL);
    if !matters || sd(wide) <= 0.0 {
        return None;
    }
    let text = format!(
        "{} scatters more than {} (sd {:.3} of {n} and {:.3} of {m}{unit}). Brew as many of each, and look for what \
         disturbs {}.",
        view.groups[wide],
        view.groups[thin],
        sd(wide),
        sd(thin),
        view.groups[wide]
    );
    Some(Caution::new(CautionKind::UnequalScatter, &view.groups[wide], text))
}

/// Unequal counts, of which one is small: no test is robust to both skewed and unequal scatter then.
pub(super) fn unequal_counts(view: &View) -> Option<Caution> {
    let mut counts = vec![0_usize; view.groups.len()];
    view.group.iter().for_each(|&group| counts[group] += 1);
    let few = (0..counts.len()).min_by_key(|&g| counts[g])?;
    let many = (0..counts.len()).max_by_key(|&g| counts[g])?;
    let (n, m) = (counts[few], counts[many]);
    if n >= SMALL || (m as f64) < COUNTS_FAR * n as f64 {
        return None;
    }
    let (few, many) = (&view.groups[few], &view.groups[many]);
    let text = format!(
        "{few} has {n} brews, {many} has {m}: with so few, skewed or unequal scatter can pass for a difference. Brew \
         as many of each."
    );
    Some(Caution::new(CautionKind::UnequalCounts, few, text))
}

/// p of equal scatter: the F test of distances from the medians.
fn brown_forsythe(groups: &[Vec<f64>]) -> f64 {
    let distances: Vec<Vec<f64>> = groups
        .iter()
        .map(|group| {
            let middle = median(&mut group.clone());
            group.iter().map(|x| (x - middle).abs()).collect()
        })
        .collect();
    let mean = |of: &[f64]| of.iter().sum::<f64>() / of.len() as f64;
    let all = mean(&distances.concat());
    let (k, n) = (groups.len() as f64, distances.iter().map(Vec::len).sum::<usize>() as f64);
    let between: f64 = distances.iter().map(|d| d.len() as f64 * (mean(d) - all).powi(2)).sum();
    let within: f64 = distances.iter().map(|d| d.iter().map(|x| (x - mean(d)).powi(2)).sum::<f64>()).sum();
    fisher_above(between / (k - 1.0) / (within / (n - k)), k - 1.0, n - k)
}

/// Values of which at least half equal another one.
pub(super) fn tied(view: &View) -> Option<Caution> {
    let different: BTreeSet<u64> = view.value.iter().map(|x| (x + 0.0).to_bits()).collect();
    let (n, some) = (view.value.len(), different.len());
    if some < 2 || 2 * some > n {
        return None;
    }
    let text = format!(
        "Values are tied: {n} brews have {some} different values. p counts ties and is valid; a finer readout would \
         show smaller differences."
    );
    Some(Caution::new(CautionKind::Tied, "", text))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn view(groups: &[&[f64]]) -> View {
        let value: Vec<f64> = groups.concat();
        let group = groups.iter().enumerate().flat_map(|(g, y)| vec![g; y.len()]).collect();
        let names = ["a", "b"].map(String::from).to_vec();
        let brew = (1..=value.len()).map(|i| format!("row {i}")).collect();
        let (cell, row) = (vec![0; value.len()], (0..value.len()).collect());
        View { groups: names, group, cell, cells: 1, value, brew, row }
    }

    #[test]
    fn an_outlier_is_named_with_its_influence() {
        let of = view(&[&[1.0, 2.0, 1.5, 1.2, 9.0, 1.7], &[1.1, 1.9, 1.4, 1.3, 1.6, 1.8]]);
        let found = outliers(&of, " g/s");
        assert_eq!(found.len(), 1, "{found:?}");
        // Means 16.4/6 and 9.1/6; without the brew 7.4/5.
        assert!(found[0].text.contains("difference is +0.037 g/s instead of -1.217"), "{}", found[0].text);
        assert_eq!(found[0].about, "row 5");
        assert!(outliers(&view(&[&[1.0, 2.0, 1.5, 1.2], &[1.1, 1.9, 1.4, 1.3]]), "").is_empty());
        assert!(outliers(&view(&[&[0.1; 4], &[0.3; 4]]), "").is_empty());
    }

    #[test]
    fn the_test_of_scatter_is_that_of_the_reference_library() {
        let groups = [vec![5.1, 4.9, 6.2, 5.5, 5.0], vec![6.0, 7.9, 5.2, 8.8, 6.1, 9.4]];
        // scipy 1.17.1, stats.levene(a, b, center="median").
        assert!((brown_forsythe(&groups) - 0.008923514274840194).abs() < 1e-9, "{}", brown_forsythe(&groups));
    }

    #[test]
    fn ties_are_named_from_half_of_the_values_on() {
        assert!(tied(&view(&[&[1.0, 1.0, 2.0], &[2.0, 2.0, 1.0]])).is_some());
        assert!(tied(&view(&[&[1.0, 1.1, 2.0], &[2.0, 2.2, 1.4]])).is_none());
        assert!(tied(&view(&[&[1.0; 3], &[1.0; 3]])).is_none());
    }
}
