//! Logistic regression of grouped counts.
//!
//! Letters: cell i has n(i) plants of which d(i) failed, design row x(i); ln(mu/(1-mu)) = eta = x'b. Fitted by
//! iteratively reweighted least squares, which for this link is Newton's method (McCullagh & Nelder 1989, sections 2.5
//! and 4.4, `mccullagh-nelder-1989`), with halving of steps that don't lower the deviance.
//!
//! Columns in the span of those before them (the nested batch, the crew of whole rows) are found by an orthogonal
//! factorisation in the order given and reported with the sum they equal. Separated data (a batch without a failure)
//! have no finite estimate (Albert & Anderson 1984, `albert-anderson-1984`): the deviance still converges, and the
//! columns that run away are reported.

use super::special::{ln_choose, logistic, softplus};
use serde::Serialize;

/// A factor of the design: a code for each cell, 0 being the level the others are compared with.
#[derive(Clone, Copy, Debug)]
pub struct Factor<'a> {
    pub codes: &'a [u32],
    /// Number of levels; a cell with a code at or above it is left out.
    pub levels: u32,
}

/// What a column of the design stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub enum Column {
    Constant,
    /// 1 in the cells of this level (1 and up) of this factor (by its place).
    Level {
        factor: usize,
        level: u32,
    },
}

/// A design: constant and treatment-coded factors.
#[derive(Clone, Debug, PartialEq)]
pub struct Design {
    pub columns: Vec<Column>,
    /// For each cell its columns other than 0 and their values; empty where the cell is left out.
    pub rows: Vec<Vec<(usize, f64)>>,
}

impl Design {
    /// Constant and, for each factor in turn, a column for each level but the first. Cells without a sound code of
    /// each factor are left out: [`Design::left_out`].
    pub fn treatment(cells: usize, factors: &[Factor]) -> Self {
        let mut columns = vec![Column::Constant];
        let mut firsts = Vec::with_capacity(factors.len());
        for (factor, of) in factors.iter().enumerate() {
            firsts.push(columns.len());
            columns.extend((1..of.levels).map(|level| Column::Level { factor, level }));
        }
        let row = |cell: usize| {
            let mut row = vec![(0, 1.0)];
            for (of, first) in factors.iter().zip(&firsts) {
                let code = of.codes.get(cell).copied().filter(|&code| code < of.levels)?;
                row.extend(code.checked_sub(1).map(|level| (first + level as usize, 1.0)));
            }
            Some(row)
        };
        Design { rows: (0..cells).map(|cell| row(cell).unwrap_or_default()).collect(), columns }
    }

    /// Cells that take no part, having no code in some factor.
    pub fn left_out(&self) -> Vec<usize> {
        (0..self.rows.len()).filter(|&cell| self.rows[cell].is_empty()).collect()
    }
}

/// Settings of [`logistic_regression`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Config {
    /// Stop where the deviance changes by less than this part of itself plus 0.1.
    pub tolerance: f64,
    pub most_iterations: usize,
    /// A column is aliased where less than this part of its length is left beside the columns before it.
    pub rank_tolerance: f64,
}

impl Default for Config {
    fn default() -> Self {
        Config { tolerance: 1e-11, most_iterations: 100, rank_tolerance: 1e-7 }
    }
}

/// A column that can't be told apart from those before it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Alias {
    pub column: usize,
    /// The column is the sum of these columns times these numbers; empty where no cell has it.
    pub equals: Vec<(usize, f64)>,
}

/// A fitted logistic regression.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct LogisticFit {
    pub columns: Vec<Column>,
    /// ln odds ratios (the constant: ln odds); None for an aliased column. Where `unbounded`, where the iterations stopped.
    pub coefficients: Vec<Option<f64>>,
    /// Inverse expected information, 0 for aliased columns.
    pub covariance: Vec<Vec<f64>>,
    pub rank: usize,
    pub aliased: Vec<Alias>,
    /// Twice the ln likelihood lost against a model with a rate for each cell.
    pub deviance: f64,
    /// With the binomial coefficients.
    pub log_likelihood: f64,
    /// Cells with plants less rank.
    pub residual_df: usize,
    /// mu for each cell; None where the cell took no part.
    pub fitted: Vec<Option<f64>>,
    /// Some estimate is infinite: failures and survivors are separated by a sum of columns.
    pub separated: bool,
    /// What each coefficient gains in a last step where separated (0 where it is finite), else all 0.
    pub recession: Vec<f64>,
    pub converged: bool,
    pub iterations: usize,
}

/// An estimated sum of coefficients.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Contrast {
    pub estimate: f64,
    pub standard_error: f64,
}

impl LogisticFit {
    /// The sum of coefficients with these weights (one a column), None where the data can't tell it: it isn't a
    /// sum of design rows (aliased), or its estimate is infinite (separated).
    pub fn contrast(&self, weights: &[f64]) -> Option<Contrast> {
        if weights.len() != self.columns.len() {
            return None;
        }
        let size = weights.iter().map(|w| w.abs()).fold(0.0, f64::max);
        let told = |alias: &Alias| {
            let sum: f64 = alias.equals.iter().map(|&(column, times)| times * weights[column]).sum();
            (sum - weights[alias.column]).abs() <= 1e-6 * size
        };
        if !self.aliased.iter().all(told) || dot(weights, &self.recession).abs() > SMALL_STEP * size {
            return None;
        }
        let estimate = self.coefficients.iter().zip(weights).map(|(b, w)| b.unwrap_or(0.0) * w).sum();
        let variance: f64 = self.covariance.iter().zip(weights).map(|(row, w)| w * dot(row, weights)).sum();
        Some(Contrast { estimate, standard_error: variance.max(0.0).sqrt() })
    }
}

/// A last step below this is converged, above [`LONG_STEP`] it runs away (by about 1 in each iteration).
const SMALL_STEP: f64 = 1e-3;
const LONG_STEP: f64 = 0.5;

/// Fits `failed` of `seen` in each cell of the design (the shortest list rules). `failed` above `seen` counts as all.
/// Cells without plants or left out by the design take no part. Without any cell, rank is 0.
pub fn logistic_regression(design: &Design, failed: &[u64], seen: &[u64], config: &Config) -> LogisticFit {
    let data = Data::new(design, failed, seen);
    let basis = Basis::new(&data, config.rank_tolerance);
    let run = data.with_columns(&basis.kept).iterate(config);
    finish(design, &data, basis, run)
}

/// The cells that take part.
struct Data {
    width: usize,
    cells: Vec<Cell>,
}

struct Cell {
    place: usize,
    row: Vec<(usize, f64)>,
    failed: f64,
    seen: f64,
    ln_ways: f64,
}

impl Cell {
    /// None where nothing was seen, or the row is empty or holds what is no number.
    fn new(place: usize, row: Vec<(usize, f64)>, failed: u64, seen: u64) -> Option<Cell> {
        let sound = seen > 0 && !row.is_empty() && row.iter().all(|(_, value)| value.is_finite());
        let ln_ways = ln_choose(seen, failed);
        sound.then_some(Cell { place, row, failed: failed as f64, seen: seen as f64, ln_ways })
    }

    fn eta(&self, coefficients: &[f64]) -> f64 {
        self.row.iter().map(|&(column, value)| value * coefficients[column]).sum()
    }

    /// -2 ln likelihood less that of the cell's own rate.
    fn deviance(&self, eta: f64) -> f64 {
        let part =
            |count: f64, minus_ln: f64| if count > 0.0 { count * ((count / self.seen).ln() + minus_ln) } else { 0.0 };
        2.0 * (part(self.failed, softplus(-eta)) + part(self.seen - self.failed, softplus(eta))).max(0.0)
    }

    fn log_likelihood(&self, eta: f64) -> f64 {
        let part = |count: f64, minus_ln: f64| if count > 0.0 { count * minus_ln } else { 0.0 };
        self.ln_ways - part(self.failed, softplus(-eta)) - part(self.seen - self.failed, softplus(eta))
    }
}

/// Where the iterations ended.
struct Run {
    coefficients: Vec<f64>,
    information: Cholesky,
    step: Vec<f64>,
    converged: bool,
    iterations: usize,
}

impl Data {
    fn new(design: &Design, failed: &[u64], seen: &[u64]) -> Self {
        let width = design.columns.len();
        let cell = |place: usize| {
            let (&failed, &seen) = (failed.get(place)?, seen.get(place)?);
            let row: Vec<(usize, f64)> = design.rows.get(place)?.to_vec();
            Cell::new(place, row, failed.min(seen), seen)
                .filter(|cell| cell.row.iter().all(|(column, _)| *column < width))
        };
        Data { width, cells: (0..design.rows.len()).filter_map(cell).collect() }
    }

    /// The same cells with only these columns, numbered anew.
    fn with_columns(&self, kept: &[usize]) -> Data {
        let number = |&(column, value): &(usize, f64)| Some((kept.binary_search(&column).ok()?, value));
        let cells = self.cells.iter().map(|c| Cell { row: c.row.iter().filter_map(number).collect(), ..*c }).collect();
        Data { width: kept.len(), cells }
    }

    fn deviance(&self, coefficients: &[f64]) -> f64 {
        self.cells.iter().map(|cell| cell.deviance(cell.eta(coefficients))).sum()
    }

    fn iterate(&self, config: &Config) -> Run {
        let mut coefficients = vec![0.0; self.width];
        let mut deviance = self.deviance(&coefficients);
        let (mut converged, mut iterations) = (self.width == 0, 0);
        while !converged && iterations < config.most_iterations {
            iterations += 1;
            let (_, step) = self.newton(&coefficients);
            let (next, lower) = self.halved(&coefficients, &step, deviance);
            converged = (deviance - lower).abs() <= config.tolerance * (lower + 0.1);
            (coefficients, deviance) = (next, lower);
        }
        let (information, step) = self.newton(&coefficients);
        Run { coefficients, information, step, converged, iterations }
    }

    /// The information matrix X'WX, w = n mu (1-mu), and Newton's step (X'WX)^-1 X'(d - n mu).
    fn newton(&self, coefficients: &[f64]) -> (Cholesky, Vec<f64>) {
        let mut information = vec![vec![0.0; self.width]; self.width];
        let mut score = vec![0.0; self.width];
        for cell in &self.cells {
            let eta = cell.eta(coefficients);
            let (mu, rest) = (logistic(eta), logistic(-eta));
            let weight = cell.seen * mu * rest;
            let apart = cell.failed * rest - (cell.seen - cell.failed) * mu;
            for &(a, x) in &cell.row {
                score[a] += x * apart;
                cell.row.iter().for_each(|&(b, y)| information[a][b] += weight * x * y);
            }
        }
        let information = Cholesky::new(information);
        let step = information.solve(&score);
        (information, step)
    }

    /// The longest of the step, its half, its quarter ... that doesn't raise the deviance; none where all do.
    fn halved(&self, from: &[f64], step: &[f64], deviance: f64) -> (Vec<f64>, f64) {
        let mut part = 1.0;
        for _ in 0..40 {
            let next: Vec<f64> = from.iter().zip(step).map(|(b, s)| b + part * s).collect();
            let lower = self.deviance(&next);
            if lower <= deviance {
                return (next, lower);
            }
            part *= 0.5;
        }
        (from.to_vec(), deviance)
    }

    /// Whether a direction proves separation (Albert & Anderson 1984, eq. 2 and 3): it moves no cell that holds both
    /// failures and survivors, moves the others only towards what all their plants did, and moves some.
    fn separated_by(&self, direction: &[f64]) -> bool {
        let allowed = |cell: &Cell| {
            let moved = cell.eta(direction);
            let up = cell.failed > 0.0 && moved < -SMALL_STEP;
            let down = cell.failed < cell.seen && moved > SMALL_STEP;
            !up && !down
        };
        self.cells.iter().all(allowed) && self.cells.iter().any(|cell| cell.eta(direction).abs() > LONG_STEP)
    }
}

fn finish(design: &Design, data: &Data, basis: Basis, run: Run) -> LogisticFit {
    let width = data.width;
    let kept = data.with_columns(&basis.kept);
    let spread = |values: &[f64]| {
        let mut all = vec![0.0; width];
        basis.kept.iter().zip(values).for_each(|(&column, value)| all[column] = *value);
        all
    };
    let mut coefficients = vec![None; width];
    basis.kept.iter().zip(&run.coefficients).for_each(|(&column, &value)| coefficients[column] = Some(value));
    let mut covariance = vec![vec![0.0; width]; width];
    for (k, &column) in basis.kept.iter().enumerate() {
        let unit: Vec<f64> = (0..basis.kept.len()).map(|j| if j == k { 1.0 } else { 0.0 }).collect();
        covariance[column] = spread(&run.information.solve(&unit));
    }
    let separated = kept.separated_by(&run.step);
    let mut fitted = vec![None; design.rows.len()];
    kept.cells.iter().for_each(|cell| fitted[cell.place] = Some(logistic(cell.eta(&run.coefficients))));
    LogisticFit {
        columns: design.columns.clone(),
        coefficients,
        covariance,
        rank: basis.kept.len(),
        aliased: basis.aliased,
        deviance: kept.deviance(&run.coefficients),
        log_likelihood: kept.cells.iter().map(|cell| cell.log_likelihood(cell.eta(&run.coefficients))).sum(),
        residual_df: kept.cells.len().saturating_sub(basis.kept.len()),
        fitted,
        separated,
        recession: if separated { spread(&run.step) } else { vec![0.0; width] },
        converged: run.converged,
        iterations: run.iterations,
    }
}

/// The columns that stand for themselves, and what the others equal.
struct Basis {
    kept: Vec<usize>,
    aliased: Vec<Alias>,
}

impl Basis {
    /// Orthogonal factorisation (modified Gram-Schmidt, each column taken off twice: Golub 1965, `golub-1965`) in the
    /// order given; a column of which less than `tolerance` of its length is left is set aside, as pivoting to the
    /// end would.
    fn new(data: &Data, tolerance: f64) -> Self {
        let columns = weighted_columns(data);
        let mut basis = Basis { kept: Vec::new(), aliased: Vec::new() };
        let (mut units, mut triangle): (Vec<Vec<f64>>, Vec<Vec<f64>>) = (Vec::new(), Vec::new());
        for (column, mut left) in columns.into_iter().enumerate() {
            let before = dot(&left, &left).sqrt();
            let mut shares = vec![0.0; units.len()];
            for _ in 0..2 {
                units.iter().zip(&mut shares).for_each(|(unit, share)| *share += take_off(&mut left, unit));
            }
            let length = dot(&left, &left).sqrt();
            if length <= tolerance * before || length == 0.0 {
                basis.aliased.push(Alias { column, equals: basis.sum_of(&triangle, shares) });
                continue;
            }
            left.iter_mut().for_each(|x| *x /= length);
            shares.push(length);
            units.push(left);
            triangle.push(shares);
            basis.kept.push(column);
        }
        basis
    }

    /// Coefficients on the kept columns from shares on their unit vectors: back substitution.
    fn sum_of(&self, triangle: &[Vec<f64>], mut shares: Vec<f64>) -> Vec<(usize, f64)> {
        for k in (0..shares.len()).rev() {
            shares[k] /= triangle[k][k];
            let times = shares[k];
            shares.iter_mut().take(k).zip(&triangle[k]).for_each(|(share, t)| *share -= times * t);
        }
        let told = self.kept.iter().copied().zip(shares);
        told.filter(|(_, times)| times.abs() > 1e-9).collect()
    }
}

/// Dense columns, each cell times the root of its number of plants.
fn weighted_columns(data: &Data) -> Vec<Vec<f64>> {
    let mut columns = vec![vec![0.0; data.cells.len()]; data.width];
    for (i, cell) in data.cells.iter().enumerate() {
        cell.row.iter().for_each(|&(column, value)| columns[column][i] += value * cell.seen.sqrt());
    }
    columns
}

/// Takes the part along a unit vector off `left`, and returns its length.
fn take_off(left: &mut [f64], unit: &[f64]) -> f64 {
    let share = dot(left, unit);
    if share != 0.0 {
        left.iter_mut().zip(unit).for_each(|(x, u)| *x -= share * u);
    }
    share
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

/// L L' = S A S with S the scale that gives A a unit diagonal. A direction without information gets no step.
pub(super) struct Cholesky {
    scale: Vec<f64>,
    /// Rows of L.
    lower: Vec<Vec<f64>>,
}

impl Cholesky {
    pub(super) fn new(matrix: Vec<Vec<f64>>) -> Self {
        let root = |d: f64| if d > 0.0 { 1.0 / d.sqrt() } else { 0.0 };
        let scale: Vec<f64> = matrix.iter().enumerate().map(|(k, row)| root(row[k])).collect();
        let mut lower: Vec<Vec<f64>> = Vec::with_capacity(matrix.len());
        for (i, values) in matrix.iter().enumerate() {
            let mut row = vec![0.0; i + 1];
            for j in 0..=i {
                let scaled = values[j] * scale[i] * scale[j];
                let left = scaled - dot(&row[..j], if j == i { &row[..j] } else { &lower[j][..j] });
                row[j] = match j == i {
                    true if left > 1e-15 => left.sqrt(),
                    true => f64::INFINITY,
                    false => left / lower[j][j],
                };
            }
            lower.push(row);
        }
        Cholesky { scale, lower }
    }

    pub(super) fn solve(&self, right: &[f64]) -> Vec<f64> {
        let mut x: Vec<f64> = right.iter().zip(&self.scale).map(|(r, s)| r * s).collect();
        for i in 0..x.len() {
            x[i] = (x[i] - dot(&self.lower[i][..i], &x[..i])) / self.lower[i][i];
        }
        for i in (0..x.len()).rev() {
            x[i] /= self.lower[i][i];
            let known = x[i];
            x.iter_mut().take(i).zip(&self.lower[i]).for_each(|(x, l)| *x -= known * l);
        }
        x.iter().zip(&self.scale).map(|(x, s)| x * s).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fit(factors: &[Factor], failed: &[u64], seen: &[u64]) -> LogisticFit {
        logistic_regression(&Design::treatment(seen.len(), factors), failed, seen, &Config::default())
    }

    #[test]
    fn two_groups_give_the_sample_odds_ratio() {
        let fit = fit(&[Factor { codes: &[0, 1], levels: 2 }], &[12, 60], &[400, 400]);
        let want = ((60.0 / 340.0) / (12.0 / 388.0f64)).ln();
        let contrast = fit.contrast(&[0.0, 1.0]).expect("told apart");
        assert!((contrast.estimate - want).abs() < 1e-10, "{fit:?}");
        // Woolf: the root of the sum of 1/cell.
        let error = (1.0 / 60.0 + 1.0 / 340.0 + 1.0 / 12.0 + 1.0 / 388.0f64).sqrt();
        assert!((contrast.standard_error - error).abs() < 1e-9);
        assert!(fit.deviance < 1e-9 && fit.converged && !fit.separated && fit.rank == 2);
    }

    #[test]
    fn nested_factors_are_aliased_and_say_so() {
        // Batches 0, 1 | 2, 3 in rows 0 | 1: row 1 is batch 2 plus batch 3, so the last column equals a sum.
        let (row, batch) = ([0, 0, 1, 1], [0, 1, 2, 3]);
        let factors = [Factor { codes: &row, levels: 2 }, Factor { codes: &batch, levels: 4 }];
        let fit = fit(&factors, &[1, 2, 3, 4], &[10; 4]);
        assert_eq!(fit.rank, 4);
        assert_eq!(fit.aliased.len(), 1);
        let alias = &fit.aliased[0];
        assert_eq!(fit.columns[alias.column], Column::Level { factor: 1, level: 3 });
        assert_eq!(
            alias.equals.iter().map(|(c, times)| (*c, times.round())).collect::<Vec<_>>(),
            [(1, 1.0), (3, -1.0)]
        );
        // Batch 3 against 2 within row 1 can be told, row 1 against 0 can't.
        assert!(fit.contrast(&[0.0, 0.0, 0.0, -1.0, 1.0]).is_some());
        assert!(fit.contrast(&[0.0, 1.0, 0.0, 0.0, 0.0]).is_none());
        assert!(fit.contrast(&[1.0]).is_none());
    }

    #[test]
    fn a_batch_without_failures_is_separated() {
        let factors = [Factor { codes: &[0, 1, 2], levels: 3 }];
        let fit = fit(&factors, &[5, 0, 9], &[50, 40, 50]);
        assert!(fit.separated && fit.converged, "{fit:?}");
        assert!(fit.contrast(&[0.0, 1.0, 0.0]).is_none());
        let told = fit.contrast(&[0.0, 0.0, 1.0]).expect("finite");
        assert!((told.estimate - ((9.0 / 41.0) / (5.0 / 45.0f64)).ln()).abs() < 1e-8);
        assert!(fit.deviance.abs() < 1e-6 && fit.coefficients.iter().flatten().all(|b| b.is_finite()));
    }

    #[test]
    fn separation_by_two_factors_together_is_found() {
        // No single level is without failures and survivors, but no failure has both levels 1.
        let (a, b) = ([0, 0, 1, 1, 0, 1], [0, 1, 0, 1, 0, 1]);
        let factors = [Factor { codes: &a, levels: 2 }, Factor { codes: &b, levels: 2 }];
        let mixed = fit(&factors, &[3, 2, 2, 0, 1, 1], &[9; 6]);
        assert!(!mixed.separated && mixed.converged);
        let apart = fit(&factors, &[9, 4, 9, 0, 9, 0], &[9; 6]);
        assert!(apart.separated && apart.converged, "{apart:?}");
        let all_alive = fit(&factors, &[0; 6], &[9; 6]);
        assert!(all_alive.separated && all_alive.contrast(&[1.0, 0.0, 0.0]).is_none());
    }

    #[test]
    fn odd_input_is_harmless() {
        let factors = [Factor { codes: &[0, 1, u32::MAX, 2], levels: 4 }];
        let design = Design::treatment(5, &factors);
        assert_eq!(design.left_out(), [2, 4]);
        let fit = logistic_regression(&design, &[1, 7, 1, 1, 1], &[4, 4, 4, 0, 4], &Config::default());
        assert_eq!(fit.rank, 2);
        assert_eq!(fit.aliased.len(), 2);
        assert!(fit.fitted[2].is_none() && fit.fitted[3].is_none());
        let nothing = logistic_regression(&Design::treatment(0, &[]), &[], &[], &Config::default());
        assert_eq!((nothing.rank, nothing.deviance, nothing.separated), (0, 0.0, false));
    }
}
