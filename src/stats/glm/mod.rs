//! Binomial regression of grouped counts.
//!
//! Letters: cell i has n(i) plants of which d(i) failed, design row x(i); the rate mu hangs on eta = x'b by a
//! [`Link`], ln(mu/(1-mu)) = eta for the logit. Fitted by iteratively reweighted least squares, which for the logit is
//! Newton's method (McCullagh & Nelder 1989, sections 2.5 and 4.4, `mccullagh-nelder-1989`), with halving of steps that
//! don't lower the deviance.
//!
//! Columns in the span of those before them (the nested batch, the crew of whole rows) are found by an orthogonal
//! factorisation in the order given and reported with the sum they equal. Separated data (a batch without a failure)
//! have no finite estimate (Albert & Anderson 1984, `albert-anderson-1984`): the deviance still converges, and the
//! columns that run away are reported.

mod basis;
mod cholesky;
mod design;
mod link;

pub use basis::Alias;
pub use design::{Column, Design, Factor};
pub use link::Link;

pub(super) use basis::Basis;
pub(super) use cholesky::{Cholesky, dot};

use super::special::ln_choose;
use serde::Serialize;

/// Settings of [`binomial_regression`].
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

/// A fitted binomial regression.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct BinomialFit {
    pub columns: Vec<Column>,
    /// On the scale of the link: for the logit ln odds ratios (the constant: ln odds); None for an aliased column.
    /// Where `unbounded`, where the iterations stopped.
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

impl BinomialFit {
    /// The sum of coefficients with these weights (one a column), None where the data can't tell it: it isn't a
    /// sum of design rows (aliased), or its estimate is infinite (separated).
    pub fn contrast(&self, weights: &[f64]) -> Option<Contrast> {
        if weights.len() != self.columns.len() {
            return None;
        }
        let size = weights.iter().map(|w| w.abs()).fold(0.0, f64::max);
        let told = self.aliased.iter().all(|alias| alias.keeps(weights));
        if !told || dot(weights, &self.recession).abs() > SMALL_STEP * size {
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

/// [`binomial_regression`] with the logit: effects are ln odds ratios of failure.
pub fn logistic_regression(design: &Design, failed: &[u64], seen: &[u64], config: &Config) -> BinomialFit {
    binomial_regression(design, failed, seen, Link::Logit, config)
}

/// Fits `failed` of `seen` in each cell of the design (the shortest list rules) by maximum likelihood. `failed` above
/// `seen` counts as all. Cells without plants or left out by the design take no part. Without any cell, rank is 0.
///
/// Not for separated data where a number is wanted (a batch without a failure): see [`crate::stats::firth`].
pub fn binomial_regression(design: &Design, failed: &[u64], seen: &[u64], link: Link, config: &Config) -> BinomialFit {
    let data = Data::new(design, failed, seen);
    let basis = Basis::new(data.weighted_columns(), config.rank_tolerance);
    let kept = data.with_columns(&basis.kept);
    // Separation is a matter of the data and not of the link: the logit's steps show it.
    let logit = kept.iterate(Link::Logit, config);
    let recession = kept.separated_by(&logit.step).then(|| logit.step.clone());
    let run = if link == Link::Logit { logit } else { kept.iterate(link, config) };
    Fitted { design, basis, kept, run, recession }.finish()
}

/// Iterations in a row that have to change the deviance by next to nothing: the second takes the coefficients, which
/// move with the root of the deviance, to as many digits.
const STANDS_STILL: usize = 2;

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
    fn deviance(&self, eta: f64, link: Link) -> f64 {
        let part = |count: f64, ln: f64| if count > 0.0 { count * ((count / self.seen).ln() - ln) } else { 0.0 };
        2.0 * (part(self.failed, link.ln_mean(eta)) + part(self.seen - self.failed, link.ln_rest(eta))).max(0.0)
    }

    fn log_likelihood(&self, eta: f64, link: Link) -> f64 {
        let part = |count: f64, ln: f64| if count > 0.0 { count * ln } else { 0.0 };
        self.ln_ways + part(self.failed, link.ln_mean(eta)) + part(self.seen - self.failed, link.ln_rest(eta))
    }

    /// What the cell adds to the score along eta, and to the expected information: with s = d mu / d eta,
    /// d s / mu - (n - d) s / (1 - mu) and n s^2 / (mu (1 - mu)).
    fn pull(&self, eta: f64, link: Link) -> (f64, f64) {
        let (mean, rest, slope) = (link.ln_mean(eta), link.ln_rest(eta), link.ln_slope(eta));
        let part = |count: f64, ln: f64| if count > 0.0 { count * (slope - ln).exp() } else { 0.0 };
        let score = part(self.failed, mean) - part(self.seen - self.failed, rest);
        (score, self.seen * (2.0 * slope - mean - rest).exp())
    }
}

/// Where the iterations ended.
struct Run {
    coefficients: Vec<f64>,
    information: Cholesky,
    step: Vec<f64>,
    link: Link,
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

    fn deviance(&self, coefficients: &[f64], link: Link) -> f64 {
        self.cells.iter().map(|cell| cell.deviance(cell.eta(coefficients), link)).sum()
    }

    /// Dense columns, each cell times the root of its number of plants.
    fn weighted_columns(&self) -> Vec<Vec<f64>> {
        let mut columns = vec![vec![0.0; self.cells.len()]; self.width];
        for (i, cell) in self.cells.iter().enumerate() {
            cell.row.iter().for_each(|&(column, value)| columns[column][i] += value * cell.seen.sqrt());
        }
        columns
    }

    fn iterate(&self, link: Link, config: &Config) -> Run {
        let mut coefficients = vec![0.0; self.width];
        let mut deviance = self.deviance(&coefficients, link);
        let (mut still, mut iterations) = (if self.width == 0 { STANDS_STILL } else { 0 }, 0);
        while still < STANDS_STILL && iterations < config.most_iterations {
            iterations += 1;
            let (_, step) = self.newton(&coefficients, link);
            let rounding = config.tolerance * (deviance + 0.1);
            let (next, lower) = self.halved(&coefficients, &step, deviance + rounding, link);
            let stands = (deviance - lower).abs() <= rounding;
            still = if stands { still + 1 } else { 0 };
            (coefficients, deviance) = (next, lower);
        }
        let (information, step) = self.newton(&coefficients, link);
        Run { coefficients, information, step, link, converged: still >= STANDS_STILL, iterations }
    }

    /// The expected information matrix X'WX and the step (X'WX)^-1 X'u: see [`Cell::pull`].
    fn newton(&self, coefficients: &[f64], link: Link) -> (Cholesky, Vec<f64>) {
        let mut information = vec![vec![0.0; self.width]; self.width];
        let mut score = vec![0.0; self.width];
        for cell in &self.cells {
            let (apart, weight) = cell.pull(cell.eta(coefficients), link);
            for &(a, x) in &cell.row {
                score[a] += x * apart;
                cell.row.iter().for_each(|&(b, y)| information[a][b] += weight * x * y);
            }
        }
        let information = Cholesky::new(information);
        let step = information.solve(&score);
        (information, step)
    }

    /// The longest of the step, its half, its quarter ... that keeps the deviance at or below `most`; none where all
    /// raise it.
    fn halved(&self, from: &[f64], step: &[f64], most: f64, link: Link) -> (Vec<f64>, f64) {
        let mut part = 1.0;
        for _ in 0..40 {
            let next: Vec<f64> = from.iter().zip(step).map(|(b, s)| b + part * s).collect();
            let lower = self.deviance(&next, link);
            if lower <= most {
                return (next, lower);
            }
            part *= 0.5;
        }
        (from.to_vec(), most)
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

/// A finished run; its results are read off.
struct Fitted<'a> {
    design: &'a Design,
    basis: Basis,
    kept: Data,
    run: Run,
    /// Where separated: the last step, on the kept columns.
    recession: Option<Vec<f64>>,
}

impl Fitted<'_> {
    fn finish(self) -> BinomialFit {
        let (covariance, coefficients) = (self.covariance(), &self.run.coefficients);
        let total = |of: &dyn Fn(&Cell) -> f64| self.kept.cells.iter().map(of).sum();
        let eta = |cell: &Cell| cell.eta(coefficients);
        let mut values = vec![None; self.design.columns.len()];
        self.basis.kept.iter().zip(coefficients).for_each(|(&column, &value)| values[column] = Some(value));
        let mut fitted = vec![None; self.design.rows.len()];
        self.kept.cells.iter().for_each(|cell| fitted[cell.place] = Some(self.run.link.ln_mean(eta(cell)).exp()));
        BinomialFit {
            columns: self.design.columns.clone(),
            coefficients: values,
            covariance,
            rank: self.basis.kept.len(),
            deviance: total(&|cell| cell.deviance(eta(cell), self.run.link)),
            log_likelihood: total(&|cell| cell.log_likelihood(eta(cell), self.run.link)),
            residual_df: self.kept.cells.len().saturating_sub(self.basis.kept.len()),
            fitted,
            separated: self.recession.is_some(),
            recession: self.basis.spread(self.recession.as_deref().unwrap_or_default(), self.design.columns.len()),
            aliased: self.basis.aliased,
            converged: self.run.converged,
            iterations: self.run.iterations,
        }
    }

    fn covariance(&self) -> Vec<Vec<f64>> {
        let width = self.design.columns.len();
        let mut covariance = vec![vec![0.0; width]; width];
        for (&column, row) in self.basis.kept.iter().zip(self.run.information.inverse()) {
            covariance[column] = self.basis.spread(&row, width);
        }
        covariance
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fit(factors: &[Factor], failed: &[u64], seen: &[u64]) -> BinomialFit {
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
