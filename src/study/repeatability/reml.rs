//! In: `Cells` and the variances to estimate. Out: `Fit`: variances of rows, columns, cells and single values,
//! balanced or not.
//!
//! Method: restricted maximum likelihood (Patterson and Thompson 1971, Biometrika 58, 545) on the means of cells and
//! the sum of squares about them, which are sufficient statistics; Fisher scoring on the variances, each constrained
//! to 0 or above (Searle, Casella and McCulloch 1992, Variance Components, ch. 6). One matrix of cells by cells per
//! step: for hundreds of cells, not for thousands.

use crate::estimate::Undefined;
use crate::math::solve::{cholesky, inverse, solve};
use crate::study::repeatability::cells::Cells;

/// Rows, columns, interaction (cells), single values.
pub(super) const ROWS: usize = 0;
pub(super) const COLUMNS: usize = 1;
pub(super) const CELLS: usize = 2;
pub(super) const WITHIN: usize = 3;

const MOST_STEPS: usize = 200;
/// Convergence: no variance changes by more than this share of the total.
const SMALL: f64 = 1e-11;

/// Variances by restricted maximum likelihood.
pub(super) struct Fit {
    pub(super) variances: [f64; 4],
    /// Covariance of the variances by the expected information; a variance at its bound of 0 is treated as free.
    pub(super) covariance: [[f64; 4]; 4],
    /// General mean, relative to the first value, and its sd.
    pub(super) mean: f64,
    pub(super) mean_sd: f64,
}

/// Likelihood, score and information at one point.
struct Sight {
    likelihood: f64,
    slope: [f64; 4],
    information: [[f64; 4]; 4],
    mean: f64,
    mean_sd: f64,
}

struct Model<'a> {
    cells: &'a Cells,
    /// Which variances are estimated: not that of cells if each has a single value.
    told: [bool; 4],
}

/// The variances; `with_cells` if cells have several values.
pub(super) fn reml(cells: &Cells, with_cells: bool) -> Result<Fit, Undefined> {
    let spread = spread(cells);
    if spread <= 0.0 {
        return Err(Undefined::because("the values do not differ: their variance is 0"));
    }
    let model = Model { cells, told: [true, true, with_cells, true] };
    let lost = || Undefined::because("the variances are not identifiable from these cells");
    let mut at = model.told.map(|told| if told { 0.25 * spread } else { 0.0 });
    let mut sight = model.look(&at).ok_or_else(lost)?;
    for _ in 0..MOST_STEPS {
        let free: [bool; 4] = std::array::from_fn(|k| model.told[k] && (at[k] > 0.0 || sight.slope[k] > 0.0));
        let step = stepped(&sight, free).ok_or_else(lost)?;
        let Some((next, seen)) = model.climb(&at, &sight, &step) else { break };
        let moved = (0..4).map(|k| (next[k] - at[k]).abs()).fold(0.0, f64::max);
        (at, sight) = (next, seen);
        if moved <= SMALL * spread {
            break;
        }
    }
    let free: [bool; 4] = std::array::from_fn(|k| model.told[k] && at[k] > 0.0);
    let rest = stepped(&sight, free).ok_or_else(lost)?;
    // Converged if the next step is small compared with the variance; otherwise the step limit was reached.
    if (0..4).any(|k| free[k] && rest[k].abs() > 1e-6 * spread) {
        return Err(Undefined::because("restricted maximum likelihood did not converge"));
    }
    let inner = covariance(&sight.information, free).ok_or_else(lost)?;
    let outer = covariance(&sight.information, model.told).ok_or_else(lost)?;
    let mut covariance = inner;
    for k in 0..4 {
        if !free[k] {
            covariance[k][k] = outer[k][k];
        }
    }
    Ok(Fit { variances: at, covariance, mean: sight.mean, mean_sd: sight.mean_sd })
}

/// Variance of all values about their mean: the scale of the steps.
fn spread(cells: &Cells) -> f64 {
    let mean = cells.cells.iter().map(|c| c.size * c.mean).sum::<f64>() / cells.size;
    let squares: f64 = cells.cells.iter().map(|c| c.size * (c.mean - mean).powi(2)).sum();
    (squares + cells.squares) / (cells.size - 1.0)
}

impl Model<'_> {
    /// The largest share of the step that increases the likelihood; None if none does.
    fn climb(&self, at: &[f64; 4], sight: &Sight, step: &[f64; 4]) -> Option<([f64; 4], Sight)> {
        let mut share = 1.0;
        for _ in 0..40 {
            let mut next: [f64; 4] = std::array::from_fn(|k| (at[k] + share * step[k]).max(0.0));
            // At most a factor of 10 per step, so that the variance of single values remains above 0.
            next[WITHIN] = next[WITHIN].max(0.1 * at[WITHIN]);
            if let Some(seen) = self.look(&next)
                && seen.likelihood >= sight.likelihood
            {
                return Some((next, seen));
            }
            share *= 0.5;
        }
        None
    }

    /// The class of a cell under one variance, and the number of classes.
    fn class(&self, k: usize, cell: usize) -> usize {
        match k {
            ROWS => self.cells.cells[cell].row,
            COLUMNS => self.cells.cells[cell].column,
            _ => cell,
        }
    }

    fn classes(&self, k: usize) -> usize {
        [self.cells.rows.len(), self.cells.columns.len(), self.cells.cells.len(), self.cells.cells.len()][k]
    }

    /// Change of a cell's mean per unit of a deviation.
    fn weight(&self, k: usize, cell: usize) -> f64 {
        if k == WITHIN { self.cells.cells[cell].size.recip().sqrt() } else { 1.0 }
    }

    fn look(&self, at: &[f64; 4]) -> Option<Sight> {
        let cells = &self.cells.cells;
        let n = cells.len();
        let mut v = vec![0.0; n * n];
        for i in 0..n {
            for j in 0..=i {
                let alike = |k: usize| {
                    let alike = self.class(k, i) == self.class(k, j);
                    if alike { at[k] * self.weight(k, i) * self.weight(k, j) } else { 0.0 }
                };
                v[i * n + j] = (0..4).map(alike).sum();
            }
        }
        if !cholesky(&mut v, n) {
            return None;
        }
        let determinant: f64 = (0..n).map(|i| 2.0 * v[i * n + i].ln()).sum();
        let mut p = inverse(&v, n);
        let ones: Vec<f64> = p.chunks_exact(n).map(|row| row.iter().sum()).collect();
        let weight: f64 = ones.iter().sum();
        for i in 0..n {
            for j in 0..n {
                p[i * n + j] -= ones[i] * ones[j] / weight;
            }
        }
        let y: Vec<f64> = cells.iter().map(|c| c.mean).collect();
        let py: Vec<f64> =
            p.chunks_exact(n).map(|row| row.iter().zip(&y).map(|(p, y)| p * y).sum()).collect();
        let misfit: f64 = y.iter().zip(&py).map(|(y, py)| y * py).sum();
        let (mut slope, mut information) = self.turns(&p, &py);
        let mut likelihood = -0.5 * (determinant + weight.ln() + misfit);
        let (degrees, e) = (self.cells.size - n as f64, at[WITHIN]);
        if degrees > 0.0 {
            likelihood -= 0.5 * (degrees * e.ln() + self.cells.squares / e);
            slope[WITHIN] -= 0.5 * (degrees - self.cells.squares / e) / e;
            information[WITHIN][WITHIN] += 0.5 * degrees / (e * e);
        }
        let mean = y.iter().zip(&ones).map(|(y, one)| y * one).sum::<f64>() / weight;
        likelihood.is_finite().then(|| Sight {
            likelihood,
            slope,
            information,
            mean,
            mean_sd: weight.recip().sqrt(),
        })
    }

    /// Score and expected information from the means of cells.
    fn turns(&self, p: &[f64], py: &[f64]) -> ([f64; 4], [[f64; 4]; 4]) {
        let n = py.len();
        let (mut slope, mut information) = ([0.0; 4], [[0.0; 4]; 4]);
        for j in (0..4).filter(|j| self.told[*j]) {
            for k in (j..4).filter(|k| self.told[*k]) {
                let mut met = vec![0.0; self.classes(j) * self.classes(k)];
                for a in 0..n {
                    let row = self.class(j, a) * self.classes(k);
                    for b in 0..n {
                        met[row + self.class(k, b)] += self.weight(j, a) * self.weight(k, b) * p[a * n + b];
                    }
                }
                information[j][k] = 0.5 * met.iter().map(|m| m * m).sum::<f64>();
                information[k][j] = information[j][k];
                if j == k {
                    let trace: f64 = (0..self.classes(k)).map(|c| met[c * self.classes(k) + c]).sum();
                    let mut pulled = vec![0.0; self.classes(k)];
                    for (a, py) in py.iter().enumerate() {
                        pulled[self.class(k, a)] += self.weight(k, a) * py;
                    }
                    slope[k] = 0.5 * (pulled.iter().map(|x| x * x).sum::<f64>() - trace);
                }
            }
        }
        (slope, information)
    }
}

/// The information matrix of the free variances, in row order, and their indices.
fn part(information: &[[f64; 4]; 4], free: [bool; 4]) -> (Vec<f64>, Vec<usize>) {
    let which: Vec<usize> = (0..4).filter(|k| free[*k]).collect();
    let part = which.iter().flat_map(|j| which.iter().map(|k| information[*j][*k])).collect();
    (part, which)
}

fn stepped(sight: &Sight, free: [bool; 4]) -> Option<[f64; 4]> {
    let (mut part, which) = part(&sight.information, free);
    let mut right: Vec<f64> = which.iter().map(|k| sight.slope[*k]).collect();
    if !cholesky(&mut part, which.len()) {
        return None;
    }
    solve(&part, which.len(), &mut right);
    let mut step = [0.0; 4];
    which.iter().zip(right).for_each(|(k, by)| step[*k] = by);
    Some(step)
}

fn covariance(information: &[[f64; 4]; 4], free: [bool; 4]) -> Option<[[f64; 4]; 4]> {
    let (mut part, which) = part(information, free);
    if !cholesky(&mut part, which.len()) {
        return None;
    }
    let held = inverse(&part, which.len());
    let mut whole = [[0.0; 4]; 4];
    for (a, j) in which.iter().enumerate() {
        for (b, k) in which.iter().enumerate() {
            whole[*j][*k] = held[a * which.len() + b];
        }
    }
    Some(whole)
}

#[cfg(test)]
mod tests {
    use super::*;

    use crate::estimate::Estimate;

    fn near(found: f64, by_hand: f64) {
        assert!((found - by_hand).abs() < 1e-9, "{found}, not {by_hand}");
    }

    #[test]
    fn likelihood_slope_and_information_are_those_of_a_balanced_table_in_closed_form() {
        // Two rows, two columns, single values. Mean, contrast of rows, of columns and of both are independent,
        // with variances
        // 2a + 2b + e, 2a + e, 2b + e and e of their orthonormal forms; the restricted likelihood leaves the mean
        // out.
        let values = [1.0, 2.0, 4.0, 9.0].map(Estimate::exact);
        let cells =
            Cells::of(&values, ("rows", &["1", "1", "2", "2"]), ("columns", &["1", "2", "1", "2"])).unwrap();
        let model = Model { cells: &cells, told: [true, true, false, true] };
        let (a, b, e) = (3.0, 2.0, 1.5);
        let seen = model.look(&[a, b, 0.0, e]).unwrap();
        let (all, rows, columns) = (2.0 * a + 2.0 * b + e, 2.0 * a + e, 2.0 * b + e);
        // (1 + 2 - 4 - 9)/2, (1 - 2 + 4 - 9)/2 and (1 - 2 - 4 + 9)/2.
        let (r, c, x) = (25.0, 9.0, 4.0);
        let misfit = r / rows + c / columns + x / e;
        let determinant = (all * rows * columns * e).ln();
        near(seen.likelihood, -0.5 * (determinant + (4.0 / all).ln() + misfit));
        near(seen.slope[ROWS], r / rows.powi(2) - 1.0 / rows);
        near(seen.slope[COLUMNS], c / columns.powi(2) - 1.0 / columns);
        let by = |square: f64, variance: f64| 0.5 * (square / variance.powi(2) - 1.0 / variance);
        near(seen.slope[WITHIN], by(r, rows) + by(c, columns) + by(x, e));
        near(seen.information[ROWS][ROWS], 2.0 / rows.powi(2));
        near(seen.information[ROWS][WITHIN], 1.0 / rows.powi(2));
        near(seen.information[ROWS][COLUMNS], 0.0);
        near(seen.information[WITHIN][WITHIN], 0.5 * (rows.powi(-2) + columns.powi(-2) + e.powi(-2)));
        near(seen.mean + cells.origin, 4.0);
        near(seen.mean_sd, (all / 4.0).sqrt());
    }

    #[test]
    fn values_within_cells_add_their_own_likelihood() {
        // One row and column of its own for each of two cells of two values: differences 2 and 4 within, squares 2
        // + 8 on two degrees.
        let values = [1.0, 3.0, 10.0, 14.0].map(Estimate::exact);
        let cells = Cells::of(&values, ("rows", &["1", "1", "2", "2"]), ("columns", &["1"; 4])).unwrap();
        let model = Model { cells: &cells, told: [true, false, false, true] };
        let (a, e) = (3.0, 1.5);
        let seen = model.look(&[a, 0.0, 0.0, e]).unwrap();
        // Means 2 and 12, each of variance a + e/2; their difference of 10 has a + e/2 in the orthonormal form,
        // squared 50.
        let one = a + e / 2.0;
        let of_means = -0.5 * (2.0 * one.ln() + (2.0 / one).ln() + 50.0 / one);
        near(seen.likelihood, of_means - 0.5 * (2.0 * f64::ln(e) + 10.0 / e));
        near(seen.slope[WITHIN], 0.25 * (50.0 / one.powi(2) - 1.0 / one) - 0.5 * (2.0 - 10.0 / e) / e);
        near(seen.information[WITHIN][WITHIN], 0.125 / one.powi(2) + 1.0 / (e * e));
        // The variance of all values about 7: 36 + 16 + 9 + 49 on three degrees.
        near(spread(&cells), 110.0 / 3.0);
    }
}
