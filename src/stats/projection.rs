//! How far an effect can be told apart from others: what is left of it once the others' span is taken off.
//!
//! Letters: y the indicator of a level, X the dummies of the other factors' levels and the constant, W the weights.
//! Efficiency = min over b of (y - Xb)'W(y - Xb) / (y - m)'W(y - m), m the weighted mean of y: one less the weighted
//! R^2 of y on X, the reciprocal of the variance inflation (the efficiency factor of an incomplete design: John &
//! Williams 1995, `john-williams-1995`). 0 can't be told apart, 1 wholly.
//!
//! The largest factor is swept out by its level means, and the rest solved by a Cholesky factorisation with pivoting
//! of what remains, so thousands of cells and hundreds of levels cost milliseconds.

use rayon::prelude::*;
use serde::Serialize;
use std::collections::BTreeMap;

/// A column is in the span of the others where less than this part of its sum of squares is left.
const RANK_TOLERANCE: f64 = 1e-10;

/// An efficiency below this is rounding.
const NOTHING_LEFT: f64 = 1e-9;

/// How far one level of a factor can be told apart from the other factors.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct LevelEfficiency {
    /// The level's code.
    pub code: u32,
    /// 0..1.
    pub efficiency: f64,
}

/// Weighted sum of squares of the indicator left after projecting off the span of the factors' dummies and the
/// constant, over its weighted sum of squares about the mean, in 0..1.
///
/// `indicator`, each of `factors` and `weights` hold one value per cell (the shortest rules). `u32::MAX` is a level
/// of its own. Cells of no positive, finite weight or without a finite indicator are left out. An indicator without
/// variance gives 0.
pub fn efficiency(indicator: &[f64], factors: &[Vec<u32>], weights: &[f64]) -> f64 {
    let usable: Vec<f64> = weights.iter().zip(indicator).map(|(&w, y)| if y.is_finite() { w } else { 0.0 }).collect();
    let finite: Vec<f64> = indicator.iter().map(|&y| if y.is_finite() { y } else { 0.0 }).collect();
    Projector::new(factors, &usable).efficiency(&finite)
}

/// [`efficiency`] of every level of `factor` given `others`, by rising code, with one factorisation.
pub fn efficiencies(factor: &[u32], others: &[Vec<u32>], weights: &[f64]) -> Vec<LevelEfficiency> {
    let projector = Projector::new(others, weights);
    let mut codes: Vec<u32> = factor.iter().copied().take(projector.weights.len()).collect();
    codes.sort_unstable();
    codes.dedup();
    let of = |code: u32| {
        let indicator: Vec<f64> = factor.iter().map(|&c| f64::from(u8::from(c == code))).collect();
        LevelEfficiency { code, efficiency: projector.efficiency(&indicator) }
    };
    codes.into_par_iter().map(of).collect()
}

/// The projection off the span of some factors' dummies and the constant, factorised once.
struct Projector {
    weights: Vec<f64>,
    /// The factor with most levels (or the constant): the group of each cell, and each group's weight.
    groups: Vec<usize>,
    group_weights: Vec<f64>,
    /// The other factors: for each, the column of each cell.
    columns: Vec<Vec<usize>>,
    width: usize,
    cholesky: PivotedCholesky,
}

impl Projector {
    fn new(factors: &[Vec<u32>], weights: &[f64]) -> Self {
        let cells = factors.iter().map(Vec::len).fold(weights.len(), usize::min);
        let weights: Vec<f64> =
            weights.iter().take(cells).map(|&w| if w.is_finite() && w > 0.0 { w } else { 0.0 }).collect();
        let mut coded: Vec<(Vec<usize>, usize)> = factors.iter().map(|f| numbered(&f[..cells])).collect();
        coded.sort_by_key(|(_, levels)| std::cmp::Reverse(*levels));
        coded.reverse();
        let (groups, levels) = coded.pop().unwrap_or((vec![0; cells], 1));
        let mut width = 0;
        let columns = coded
            .into_iter()
            .map(|(codes, levels)| {
                let first = width;
                width += levels;
                codes.into_iter().map(|c| first + c).collect()
            })
            .collect();
        let group_weights = sums(&groups, levels, &weights);
        let mut projector =
            Projector { weights, groups, group_weights, columns, width, cholesky: PivotedCholesky::default() };
        projector.cholesky = PivotedCholesky::new(projector.swept_gram(), projector.column_weights());
        projector
    }

    /// Weight of each column: its sum of squares before sweeping.
    fn column_weights(&self) -> Vec<f64> {
        let mut weights = vec![0.0; self.width];
        for column in &self.columns {
            column.iter().zip(&self.weights).for_each(|(&j, w)| weights[j] += w);
        }
        weights
    }

    /// X2'W X2 - X2'W X1 (X1'W X1)^-1 X1'W X2, X1 the groups and X2 the other columns.
    fn swept_gram(&self) -> Vec<Vec<f64>> {
        let mut gram = vec![vec![0.0; self.width]; self.width];
        let mut cross = vec![BTreeMap::<usize, f64>::new(); self.group_weights.len()];
        for (cell, &w) in self.weights.iter().enumerate() {
            for a in &self.columns {
                *cross[self.groups[cell]].entry(a[cell]).or_default() += w;
                self.columns.iter().for_each(|b| gram[a[cell]][b[cell]] += w);
            }
        }
        for (shared, &group) in cross.iter().zip(&self.group_weights).filter(|(_, w)| **w > 0.0) {
            for (&a, &wa) in shared {
                shared.iter().for_each(|(&b, &wb)| gram[a][b] -= wa * wb / group);
            }
        }
        gram
    }

    fn efficiency(&self, indicator: &[f64]) -> f64 {
        let total: f64 = self.weights.iter().sum();
        if total <= 0.0 || indicator.len() < self.weights.len() {
            return 0.0;
        }
        let mean = self.weights.iter().zip(indicator).map(|(w, y)| w * y).sum::<f64>() / total;
        let mut left: Vec<f64> = indicator.iter().take(self.weights.len()).map(|y| y - mean).collect();
        let before = self.sum_of_squares(&left);
        if before <= 1e-24 * total {
            return 0.0;
        }
        // The second pass takes off what rounding left of the first.
        (0..2).for_each(|_| self.project_off(&mut left));
        let efficiency = (self.sum_of_squares(&left) / before).clamp(0.0, 1.0);
        if efficiency < NOTHING_LEFT { 0.0 } else { efficiency }
    }

    fn sum_of_squares(&self, y: &[f64]) -> f64 {
        self.weights.iter().zip(y).map(|(w, y)| w * y * y).sum()
    }

    /// Takes the projection on the span off `y`.
    fn project_off(&self, y: &mut [f64]) {
        self.sweep(y);
        let mut right = vec![0.0; self.width];
        for column in &self.columns {
            column.iter().zip(y.iter()).zip(&self.weights).for_each(|((&j, y), w)| right[j] += w * y);
        }
        let effects = self.cholesky.solve(&right);
        for column in &self.columns {
            y.iter_mut().zip(column).for_each(|(y, &j)| *y -= effects[j]);
        }
        self.sweep(y);
    }

    /// Takes the groups' means off `y`.
    fn sweep(&self, y: &mut [f64]) {
        let weighted: Vec<f64> = self.weights.iter().zip(y.iter()).map(|(w, y)| w * y).collect();
        let sums = sums(&self.groups, self.group_weights.len(), &weighted);
        for (y, &group) in y.iter_mut().zip(&self.groups) {
            if self.group_weights[group] > 0.0 {
                *y -= sums[group] / self.group_weights[group];
            }
        }
    }
}

/// Codes numbered from 0 in rising order, and how many there are (at least 1).
fn numbered(codes: &[u32]) -> (Vec<usize>, usize) {
    let mut levels: Vec<u32> = codes.to_vec();
    levels.sort_unstable();
    levels.dedup();
    let number = |code: &u32| levels.partition_point(|level| level < code);
    (codes.iter().map(number).collect(), levels.len().max(1))
}

fn sums(groups: &[usize], levels: usize, values: &[f64]) -> Vec<f64> {
    let mut sums = vec![0.0; levels];
    groups.iter().zip(values).for_each(|(&g, v)| sums[g] += v);
    sums
}

/// L with A = L L' on the columns that are not in the span of those before them.
#[derive(Default)]
struct PivotedCholesky {
    /// The chosen columns, in the order chosen.
    chosen: Vec<usize>,
    /// `factor[k]`: column k of L over all original rows.
    factor: Vec<Vec<f64>>,
    width: usize,
}

impl PivotedCholesky {
    /// `scale`: each column's sum of squares before anything was taken off it; the tolerance is relative to it.
    fn new(gram: Vec<Vec<f64>>, scale: Vec<f64>) -> Self {
        let width = gram.len();
        let mut left: Vec<f64> = (0..width).map(|j| gram[j][j]).collect();
        let mut cholesky = PivotedCholesky { width, ..Default::default() };
        let part = |j: usize, left: &[f64]| if scale[j] > 0.0 { left[j] / scale[j] } else { 0.0 };
        for _ in 0..width {
            let best = (0..width).max_by(|&a, &b| part(a, &left).total_cmp(&part(b, &left)));
            let Some(pivot) = best.filter(|&j| part(j, &left) > RANK_TOLERANCE) else { break };
            let column = cholesky.next_column(&gram[pivot], pivot, left[pivot].sqrt());
            left.iter_mut().zip(&column).for_each(|(left, l)| *left -= l * l);
            left[pivot] = 0.0;
            cholesky.chosen.push(pivot);
            cholesky.factor.push(column);
        }
        cholesky
    }

    fn next_column(&self, gram: &[f64], pivot: usize, root: f64) -> Vec<f64> {
        let mut column = gram.to_vec();
        for known in &self.factor {
            let at = known[pivot];
            if at != 0.0 {
                column.iter_mut().zip(known).for_each(|(c, l)| *c -= at * l);
            }
        }
        column.iter_mut().for_each(|c| *c /= root);
        self.chosen.iter().for_each(|&j| column[j] = 0.0);
        column
    }

    /// A solution of A x = `right`, 0 for the columns not chosen.
    fn solve(&self, right: &[f64]) -> Vec<f64> {
        let mut forward = vec![0.0; self.chosen.len()];
        for (k, &j) in self.chosen.iter().enumerate() {
            let known: f64 = (0..k).map(|i| self.factor[i][j] * forward[i]).sum();
            forward[k] = (right[j] - known) / self.factor[k][j];
        }
        let mut solution = vec![0.0; self.width];
        for (k, &j) in self.chosen.iter().enumerate().rev() {
            let known: f64 = self.chosen[k + 1..].iter().map(|&i| self.factor[k][i] * solution[i]).sum();
            solution[j] = (forward[k] - known) / self.factor[k][j];
        }
        solution
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn balanced_and_nested_by_hand() {
        // Two by two, one vine a cell: rows and batches orthogonal.
        let (row, batch) = (vec![0, 0, 1, 1], [0.0, 1.0, 0.0, 1.0]);
        assert!((efficiency(&batch, &[row], &[1.0; 4]) - 1.0).abs() < 1e-12);
        // Each row one batch: nothing left.
        assert_eq!(efficiency(&[0.0, 0.0, 1.0, 1.0], &[vec![7, 7, 9, 9]], &[1.0; 4]), 0.0);
        // Row 1 wholly a, row 2 half and half: about the mean 4 * 3/16 = 3/4, within rows 1/2: two thirds.
        assert!((efficiency(&[0.0, 0.0, 0.0, 1.0], &[vec![0, 0, 1, 1]], &[1.0; 4]) - 2.0 / 3.0).abs() < 1e-12);
        // No factor: only the constant.
        assert!((efficiency(&[0.0, 0.0, 0.0, 1.0], &[], &[1.0; 4]) - 1.0).abs() < 1e-12);
    }

    #[test]
    fn weights_stand_for_vines() {
        let many = efficiency(&[0.0, 1.0, 1.0, 0.0, 0.0, 1.0], &[vec![0, 0, 0, 1, 1, 1]], &[1.0; 6]);
        let few = efficiency(&[0.0, 1.0, 0.0, 1.0], &[vec![0, 0, 1, 1]], &[1.0, 2.0, 2.0, 1.0]);
        assert!((many - few).abs() < 1e-12, "{many} {few}");
        assert_eq!(efficiency(&[1.0; 3], &[vec![0, 1, 0]], &[1.0; 3]), 0.0);
        assert_eq!(efficiency(&[0.0, 1.0], &[], &[0.0, f64::NAN]), 0.0);
        assert_eq!(efficiency(&[], &[], &[]), 0.0);
    }

    #[test]
    fn sums_of_other_factors_are_found_in_their_span() {
        // A crew that is the union of two batches is in the span of batch, though not of row.
        let cells = 600;
        let row: Vec<u32> = (0..cells).map(|i| i / 20).collect();
        let batch: Vec<u32> =
            (0..cells).map(|i| if i % 7 == 0 { u32::MAX } else { (i * i + 3 * i / 5) % 11 }).collect();
        let crew: Vec<f64> = batch.iter().map(|&b| f64::from(u8::from(b == 3 || b == 9))).collect();
        let weights = vec![2.5; cells as usize];
        assert_eq!(efficiency(&crew, &[row.clone(), batch.clone()], &weights), 0.0);
        assert!(efficiency(&crew, std::slice::from_ref(&row), &weights) > 0.5);
        let each = efficiencies(&batch, &[row], &weights);
        assert!(each.windows(2).all(|pair| pair[0].code < pair[1].code));
        assert!(each.iter().all(|level| level.efficiency > 0.5 && level.efficiency < 1.0), "{each:?}");
        assert_eq!(each.last().map(|level| level.code), Some(u32::MAX));
    }
}
