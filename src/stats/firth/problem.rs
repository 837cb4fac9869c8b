//! The penalised likelihood, its score and its maximum, free or with one sum of coefficients held.

use super::Config;
use crate::stats::glm::{Cholesky, Design, dot};
use crate::stats::special::{logistic, softplus};
use std::collections::HashMap;

/// A step is halved at most this often.
const HALVINGS: usize = 40;

/// A step that no longer climbs and is shorter than this, in standard errors, is rounding.
const AS_GOOD_AS_THERE: f64 = 1e-5;

/// A loss of this part of the height is rounding.
const ROUNDING: f64 = 1e-13;

/// Distinct design rows with their counts.
#[derive(Clone, Debug)]
pub(super) struct Problem {
    pub width: usize,
    rows: Vec<Row>,
}

#[derive(Clone, Debug)]
struct Row {
    /// Columns other than 0 and their values.
    at: Vec<(usize, f64)>,
    failed: f64,
    seen: f64,
}

/// A sum of coefficients held where it is.
#[derive(Clone, Copy, Debug)]
pub(super) struct Held<'a> {
    pub weights: &'a [f64],
}

/// Where the penalised likelihood is highest.
#[derive(Clone, Debug)]
pub(super) struct Peak {
    pub coefficients: Vec<f64>,
    /// l*.
    pub height: f64,
    pub ln_determinant: f64,
    /// I^-1.
    pub inverse: Vec<Vec<f64>>,
    /// What l* gains in a unit of the held sum (Lagrange's multiplier); 0 where nothing is held.
    pub pull: f64,
    pub converged: bool,
    pub iterations: usize,
}

impl Peak {
    /// w'I^-1 w.
    pub(super) fn variance(&self, weights: &[f64]) -> f64 {
        self.inverse.iter().zip(weights).map(|(row, w)| w * dot(row, weights)).sum::<f64>().max(0.0)
    }

    /// The coefficients after moving the sum with these weights by `by`, the others following as the information says.
    pub(super) fn moved(&self, weights: &[f64], by: f64) -> Vec<f64> {
        let variance = self.variance(weights);
        let along = self.inverse.iter().map(|row| dot(row, weights) * by / variance);
        self.coefficients.iter().zip(along).map(|(b, step)| b + step).collect()
    }
}

/// The penalised likelihood at a point.
struct Height {
    value: f64,
    ln_determinant: f64,
    information: Cholesky,
}

impl Problem {
    /// The cells that take part, those of one design row added up; and for each cell the row it went to.
    pub(super) fn gathered(design: &Design, failed: &[u64], seen: &[u64]) -> (Self, Vec<Option<usize>>) {
        let mut problem = Problem { width: design.columns.len(), rows: Vec::new() };
        let mut known = HashMap::new();
        let mut group = |place: usize| {
            let (&failed, &seen, at) = (failed.get(place)?, seen.get(place)?, design.rows.get(place)?);
            let sound = seen > 0 && !at.is_empty() && at.iter().all(|(c, x)| *c < problem.width && x.is_finite());
            let key: Vec<(usize, u64)> = sound.then(|| at.iter().map(|(c, x)| (*c, x.to_bits())).collect())?;
            let at_row = *known.entry(key).or_insert_with(|| {
                problem.rows.push(Row { at: at.clone(), failed: 0.0, seen: 0.0 });
                problem.rows.len() - 1
            });
            let row = &mut problem.rows[at_row];
            (row.failed, row.seen) = (row.failed + failed.min(seen) as f64, row.seen + seen as f64);
            Some(at_row)
        };
        let groups = (0..design.rows.len()).map(&mut group).collect();
        (problem, groups)
    }

    /// Dense columns, each row times the root of its number of plants.
    pub(super) fn weighted_columns(&self) -> Vec<Vec<f64>> {
        let mut columns = vec![vec![0.0; self.rows.len()]; self.width];
        for (i, row) in self.rows.iter().enumerate() {
            row.at.iter().for_each(|&(column, x)| columns[column][i] += x * row.seen.sqrt());
        }
        columns
    }

    /// The same rows with only these columns, numbered anew.
    pub(super) fn with_columns(&self, kept: &[usize]) -> Problem {
        let number = |&(column, x): &(usize, f64)| Some((kept.binary_search(&column).ok()?, x));
        let rows = self.rows.iter().map(|row| Row { at: row.at.iter().filter_map(number).collect(), ..*row });
        Problem { width: kept.len(), rows: rows.collect() }
    }

    pub(super) fn start(&self) -> Vec<f64> {
        vec![0.0; self.width]
    }

    /// mu of each distinct row.
    pub(super) fn rates(&self, coefficients: &[f64]) -> Vec<f64> {
        self.rows.iter().map(|row| logistic(row.eta(coefficients))).collect()
    }

    /// The maximum from a starting point on; what is held stays at its value there.
    pub(super) fn maximise(&self, start: Vec<f64>, held: Option<Held>, config: &Config) -> Peak {
        let (mut coefficients, mut height) = (start.clone(), self.height(&start));
        let (mut iterations, mut pull) = (0, 0.0);
        let mut inverse = height.information.inverse();
        let mut converged = self.width == 0;
        while !converged && iterations < config.most_iterations {
            iterations += 1;
            let step = self.step(&coefficients, &inverse, held);
            pull = step.pull;
            converged = step.length <= config.tolerance;
            let Some((next, higher)) = self.climbed(&coefficients, &step.by, &height) else {
                converged = step.length <= AS_GOOD_AS_THERE;
                break;
            };
            (coefficients, height) = (next, higher);
            inverse = height.information.inverse();
        }
        Peak {
            coefficients,
            height: height.value,
            ln_determinant: height.ln_determinant,
            inverse,
            pull,
            converged,
            iterations,
        }
    }

    fn height(&self, coefficients: &[f64]) -> Height {
        let mut information = vec![vec![0.0; self.width]; self.width];
        let mut likelihood = 0.0;
        for row in &self.rows {
            let eta = row.eta(coefficients);
            row.add_square(&mut information, row.seen * logistic(eta) * logistic(-eta));
            likelihood += row.log_likelihood(eta);
        }
        let information = Cholesky::new(information);
        let ln_determinant = information.ln_determinant();
        Height { value: likelihood + 0.5 * ln_determinant, ln_determinant, information }
    }

    /// The scoring step A^-1 U with A = X'(n+h)mu(1-mu)X and U the score, in the directions that keep what is held.
    fn step(&self, coefficients: &[f64], inverse: &[Vec<f64>], held: Option<Held>) -> Step {
        let mut score = vec![0.0; self.width];
        let mut matrix = vec![vec![0.0; self.width]; self.width];
        for row in &self.rows {
            let eta = row.eta(coefficients);
            let (mu, rest) = (logistic(eta), logistic(-eta));
            let leverage = row.seen * mu * rest * row.square(inverse);
            let apart = row.failed * rest - (row.seen - row.failed) * mu + 0.5 * leverage * (rest - mu);
            row.at.iter().for_each(|&(a, x)| score[a] += x * apart);
            row.add_square(&mut matrix, (row.seen + leverage) * mu * rest);
        }
        match held {
            Some(held) => held.step(&matrix, &score),
            None => Step::free(matrix, &score),
        }
    }

    /// The longest of the step, its half, its quarter ... that doesn't lower l*; none where all do.
    fn climbed(&self, from: &[f64], step: &[f64], height: &Height) -> Option<(Vec<f64>, Height)> {
        let least = height.value - ROUNDING * (1.0 + height.value.abs());
        let mut part = 1.0;
        for _ in 0..HALVINGS {
            let next: Vec<f64> = from.iter().zip(step).map(|(b, s)| b + part * s).collect();
            let higher = self.height(&next);
            if higher.value.is_finite() && (higher.value >= least || !height.value.is_finite()) {
                return Some((next, higher));
            }
            part *= 0.5;
        }
        None
    }
}

struct Step {
    by: Vec<f64>,
    /// In standard errors.
    length: f64,
    pull: f64,
}

impl Step {
    fn free(matrix: Vec<Vec<f64>>, score: &[f64]) -> Step {
        let by = Cholesky::new(matrix).solve(score);
        Step { length: dot(&by, score).max(0.0).sqrt(), by, pull: 0.0 }
    }
}

impl Held<'_> {
    /// The step that leaves c'b alone (c the weights held), the coefficient k with least information following the
    /// others: s(k) = -sum over the others of c(j) s(j) / c(k). So nothing is divided by that information, which
    /// vanishes far out.
    fn step(&self, matrix: &[Vec<f64>], score: &[f64]) -> Step {
        let information = |k: &usize| matrix[*k][*k] / (self.weights[*k] * self.weights[*k]);
        let weighted = (0..score.len()).filter(|&k| self.weights[k] != 0.0);
        let Some(k) = weighted.min_by(|a, b| information(a).total_cmp(&information(b))) else {
            return Step::free(matrix.to_vec(), score);
        };
        let ratio = |j: usize| self.weights[j] / self.weights[k];
        let others: Vec<usize> = (0..score.len()).filter(|&j| j != k).collect();
        let entry = |i: usize, j: usize| {
            matrix[i][j] - ratio(j) * matrix[i][k] - ratio(i) * matrix[k][j] + ratio(i) * ratio(j) * matrix[k][k]
        };
        let reduced = others.iter().map(|&i| others.iter().map(|&j| entry(i, j)).collect()).collect();
        let left: Vec<f64> = others.iter().map(|&j| score[j] - ratio(j) * score[k]).collect();
        let Step { by: moves, length, .. } = Step::free(reduced, &left);
        let mut by = vec![0.0; score.len()];
        others.iter().zip(&moves).for_each(|(&j, m)| by[j] = *m);
        by[k] = -others.iter().map(|&j| ratio(j) * by[j]).sum::<f64>();
        Step { length, pull: (score[k] - dot(&matrix[k], &by)) / self.weights[k], by }
    }
}

impl Row {
    fn eta(&self, coefficients: &[f64]) -> f64 {
        self.at.iter().map(|&(column, x)| x * coefficients[column]).sum()
    }

    fn log_likelihood(&self, eta: f64) -> f64 {
        let part = |count: f64, minus_ln: f64| if count > 0.0 { count * minus_ln } else { 0.0 };
        -part(self.failed, softplus(-eta)) - part(self.seen - self.failed, softplus(eta))
    }

    /// Adds `weight` x x'.
    fn add_square(&self, matrix: &mut [Vec<f64>], weight: f64) {
        for &(a, x) in &self.at {
            self.at.iter().for_each(|&(b, y)| matrix[a][b] += weight * x * y);
        }
    }

    /// x'Mx.
    fn square(&self, matrix: &[Vec<f64>]) -> f64 {
        self.at.iter().map(|&(a, x)| x * self.at.iter().map(|&(b, y)| y * matrix[a][b]).sum::<f64>()).sum()
    }
}
