//! Evidence for logistic models with normal effects, by Laplace's method (Tierney & Kadane 1986, `tierney-kadane-1986`),
//! on counts per cell.
//!
//! ```text
//! d(i) of n(i) fail,  ln(mu/(1-mu)) = eta(i) = m + sum over columns c of s(c) x(i,c) u(c) + t v(group of i),  u, v ~ N(0, 1)
//! ```
//!
//! Column 0 is the constant: x = 1, s(0) its standard deviation, m its mean. The grouping with most levels is swept out of
//! every equation by its diagonal block, as in [`super::mixed`]; the other columns are few and dense. The likelihood is
//! that of the single plants, without binomial coefficients, so that evidence on cells cut differently can be compared.

use faer::linalg::matmul::triangular::{BlockStructure, matmul};
use faer::{Accum, MatMut, MatRef, Par, Side};

/// Counts per cell with the columns and the grouping of a model.
#[derive(Clone, Debug, Default)]
pub struct LogitModel {
    /// Plants of each cell that failed, and that were seen.
    pub failed: Vec<f64>,
    pub seen: Vec<f64>,
    /// Columns of the constant and the dense effects, cell by cell.
    pub columns: Vec<f64>,
    pub width: usize,
    /// Level of each cell in the swept grouping; empty without one.
    pub groups: Vec<u32>,
    pub levels: usize,
}

/// Standard deviations of the effects, logit, and the constant's mean.
#[derive(Clone, Debug, PartialEq)]
pub struct Scales {
    pub constant_mean: f64,
    /// One a column, the constant's first.
    pub columns: Vec<f64>,
    pub groups: f64,
}

/// The mode of the effects and the evidence there.
#[derive(Clone, Debug, PartialEq)]
pub struct LogitFit {
    /// ln marginal likelihood: `L(mode) - ln|H| / 2`, H the Hessian in standardised effects.
    pub log_evidence: f64,
    /// Standardised effects at the mode: of the columns, of the groups.
    pub columns: Vec<f64>,
    pub groups: Vec<f64>,
    /// Lower Cholesky factor of the columns' Hessian after the groups are swept out, row by row.
    pub factor: Vec<f64>,
    /// The groups' diagonal of the Hessian, and their part with the columns, group by group.
    pub diagonal: Vec<f64>,
    pub cross: Vec<f64>,
}

/// Gain of a Newton step, in ln likelihood, below which the mode is reached; half of it is added as a correction.
const CLOSE: f64 = 1e-4;
const MOST_STEPS: usize = 60;
/// Columns from which matrices are handed to the linear algebra library.
const WIDE: usize = 12;

impl LogitModel {
    /// The mode from `start` (of the same shape) or from no effect at all; none where numbers overflow.
    ///
    /// Damped Newton steps; the penalised likelihood is concave, so there is one mode.
    pub fn fit(&self, scales: &Scales, start: Option<&LogitFit>) -> Option<LogitFit> {
        let mut work = Work::new(self, scales);
        let mut at = match start {
            Some(fit) => Effects { columns: fit.columns.clone(), groups: fit.groups.clone() },
            None => Effects { columns: vec![0.0; self.width], groups: vec![0.0; self.levels] },
        };
        let mut before: Option<(f64, Effects)> = None;
        for _ in 0..MOST_STEPS {
            let value = work.look(self, scales, &at);
            match &before {
                // Too long a step: halve it. NaN goes this way too.
                Some((last, from)) if value.is_nan() || value < last - 1e-9 * (1.0 + last.abs()) => {
                    at = at.halfway(from)
                }
                _ => {
                    work.assemble(self, scales, &at);
                    let gain = work.solve(self)?;
                    if gain < CLOSE {
                        return work.finish(value + 0.5 * gain, at);
                    }
                    let next = at.plus(&work.step);
                    before = Some((value, std::mem::replace(&mut at, next)));
                }
            }
        }
        None
    }
}

/// Standardised effects.
#[derive(Clone, Debug)]
struct Effects {
    columns: Vec<f64>,
    groups: Vec<f64>,
}

impl Effects {
    fn plus(&self, step: &Effects) -> Effects {
        let sum = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| a + b).collect();
        Effects { columns: sum(&self.columns, &step.columns), groups: sum(&self.groups, &step.groups) }
    }

    fn halfway(&self, to: &Effects) -> Effects {
        let mean = |a: &[f64], b: &[f64]| a.iter().zip(b).map(|(a, b)| 0.5 * (a + b)).collect();
        Effects { columns: mean(&self.columns, &to.columns), groups: mean(&self.groups, &to.groups) }
    }
}

/// What a fit works on.
struct Work {
    /// Columns times their standard deviations.
    scaled: Vec<f64>,
    /// Failure rate of each cell.
    rate: Vec<f64>,
    /// Hessian: groups' diagonal, groups by columns, columns (lower triangle; after solving, its factor).
    diagonal: Vec<f64>,
    cross: Vec<f64>,
    core: Vec<f64>,
    gradient: Effects,
    step: Effects,
    /// Rows times their weights, where the library multiplies.
    weighted: Vec<f64>,
}

impl Work {
    fn new(model: &LogitModel, scales: &Scales) -> Self {
        let width = model.width;
        let none = || Effects { columns: vec![0.0; width], groups: vec![0.0; model.levels] };
        let scaled =
            model.columns.chunks_exact(width.max(1)).flat_map(|x| x.iter().zip(&scales.columns).map(|(x, s)| x * s));
        Work {
            scaled: scaled.collect(),
            rate: vec![0.0; model.seen.len()],
            diagonal: vec![0.0; model.levels],
            cross: vec![0.0; model.levels * width],
            core: vec![0.0; width * width],
            gradient: none(),
            step: none(),
            weighted: Vec::new(),
        }
    }

    /// The penalised ln likelihood; sets the rates.
    fn look(&mut self, model: &LogitModel, scales: &Scales, at: &Effects) -> f64 {
        let mut value = 0.0;
        for (i, x) in self.scaled.chunks_exact(model.width).enumerate() {
            let group = model.groups.get(i).map_or(0.0, |&g| scales.groups * at.groups[g as usize]);
            let eta = scales.constant_mean + group + dot(x, &at.columns);
            let small = (-eta.abs()).exp();
            self.rate[i] = if eta >= 0.0 { 1.0 / (1.0 + small) } else { small / (1.0 + small) };
            value += model.failed[i] * eta - model.seen[i] * (eta.max(0.0) + small.ln_1p());
        }
        value - 0.5 * (dot(&at.columns, &at.columns) + dot(&at.groups, &at.groups))
    }

    /// Gradient and Hessian at the rates last looked at.
    fn assemble(&mut self, model: &LogitModel, scales: &Scales, at: &Effects) {
        let width = model.width;
        self.diagonal.fill(1.0);
        self.cross.fill(0.0);
        self.core.fill(0.0);
        self.weighted.clear();
        negate_into(&at.columns, &mut self.gradient.columns);
        negate_into(&at.groups, &mut self.gradient.groups);
        let t = scales.groups;
        for (i, x) in self.scaled.chunks_exact(width).enumerate() {
            let (n, p) = (model.seen[i], self.rate[i]);
            let (residual, weight) = (model.failed[i] - n * p, n * p * (1.0 - p));
            add_scaled(&mut self.gradient.columns, residual, x);
            add_weighted(&mut self.core, &mut self.weighted, weight, x);
            if let Some(&g) = model.groups.get(i) {
                let g = g as usize;
                self.gradient.groups[g] += t * residual;
                self.diagonal[g] += t * t * weight;
                add_scaled(&mut self.cross[g * width..(g + 1) * width], t * weight, x);
            }
        }
        add_products(&mut self.core, &self.scaled, &self.weighted, width);
        (0..width).for_each(|c| self.core[c * width + c] += 1.0);
    }

    /// Solves for the Newton step; the gain is gradient times step. None where the Hessian can't be factored.
    fn solve(&mut self, model: &LogitModel) -> Option<f64> {
        let width = model.width;
        let mut right = self.gradient.columns.clone();
        self.weighted.clear();
        for g in 0..model.levels {
            let row = &self.cross[g * width..(g + 1) * width];
            let over = 1.0 / self.diagonal[g];
            add_scaled(&mut right, -self.gradient.groups[g] * over, row);
            add_weighted(&mut self.core, &mut self.weighted, -over, row);
        }
        add_products(&mut self.core, &self.cross, &self.weighted, width);
        factor(&mut self.core, width)?;
        solve_factored(&self.core, width, &mut right);
        for g in 0..model.levels {
            let row = &self.cross[g * width..(g + 1) * width];
            self.step.groups[g] = (self.gradient.groups[g] - dot(row, &right)) / self.diagonal[g];
        }
        self.step.columns = right;
        let gain = dot(&self.gradient.columns, &self.step.columns) + dot(&self.gradient.groups, &self.step.groups);
        gain.is_finite().then_some(gain)
    }

    fn finish(self, value: f64, at: Effects) -> Option<LogitFit> {
        let width = at.columns.len();
        let core: f64 = (0..width).map(|c| self.core[c * width + c].ln()).sum();
        let groups: f64 = self.diagonal.iter().map(|d| d.ln()).sum();
        let log_evidence = value - core - 0.5 * groups;
        let end = at.plus(&self.step);
        let fit = LogitFit {
            log_evidence,
            columns: end.columns,
            groups: end.groups,
            factor: self.core,
            diagonal: self.diagonal,
            cross: self.cross,
        };
        log_evidence.is_finite().then_some(fit)
    }
}

impl LogitFit {
    /// Variance of a linear combination of the standardised column effects, given the data.
    pub fn variance(&self, of: &[f64]) -> f64 {
        let mut half = of.to_vec();
        forward(&self.factor, half.len(), &mut half);
        dot(&half, &half)
    }

    /// A draw of the standardised effects from the normal distribution about the mode, for standard normal numbers:
    /// one a column, then one a group.
    pub fn draw(&self, normals: &[f64]) -> (Vec<f64>, Vec<f64>) {
        let width = self.columns.len();
        let mut off = normals[..width].to_vec();
        backward(&self.factor, width, &mut off);
        let groups =
            self.groups.iter().zip(&self.diagonal).zip(self.cross.chunks_exact(width.max(1))).zip(&normals[width..]);
        let groups = groups.map(|(((mode, d), cross), z)| mode - dot(cross, &off) / d + z / d.sqrt()).collect();
        off.iter_mut().zip(&self.columns).for_each(|(o, mode)| *o += mode);
        (off, groups)
    }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

fn add_scaled(to: &mut [f64], by: f64, from: &[f64]) {
    to.iter_mut().zip(from).for_each(|(t, f)| *t += by * f);
}

fn negate_into(from: &[f64], to: &mut [f64]) {
    to.iter_mut().zip(from).for_each(|(t, f)| *t = -f);
}

/// Adds `weight * x x'` to the lower triangle, or, where the library is to multiply, keeps `weight * x` for it.
fn add_weighted(core: &mut [f64], kept: &mut Vec<f64>, weight: f64, x: &[f64]) {
    let width = x.len();
    if width >= WIDE {
        kept.extend(x.iter().map(|v| weight * v));
        return;
    }
    for (a, &xa) in x.iter().enumerate().filter(|(_, xa)| **xa != 0.0) {
        add_scaled(&mut core[a * width..=a * width + a], weight * xa, &x[..=a]);
    }
}

/// Adds the product of `rows`, turned, with `weighted` to the lower triangle.
fn add_products(core: &mut [f64], rows: &[f64], weighted: &[f64], width: usize) {
    if weighted.is_empty() {
        return;
    }
    let n = weighted.len() / width;
    let (rows, weighted) =
        (MatRef::from_row_major_slice(rows, n, width), MatRef::from_row_major_slice(weighted, n, width));
    let to = MatMut::from_row_major_slice_mut(core, width, width);
    let (lower, full) = (BlockStructure::TriangularLower, BlockStructure::Rectangular);
    matmul(to, lower, Accum::Add, rows.transpose(), full, weighted, full, 1.0, Par::Seq);
}

/// Factors the lower triangle in place; none where it isn't positive definite.
fn factor(matrix: &mut [f64], n: usize) -> Option<()> {
    if n < WIDE {
        return cholesky(matrix, n);
    }
    let lower = MatRef::from_row_major_slice(matrix, n, n).llt(Side::Lower).ok()?;
    let lower = lower.L();
    (0..n).for_each(|a| (0..=a).for_each(|b| matrix[a * n + b] = lower[(a, b)]));
    Some(())
}

/// Factors the lower triangle in place, row by row; none where it isn't positive definite.
fn cholesky(matrix: &mut [f64], n: usize) -> Option<()> {
    for a in 0..n {
        let (above, from_a) = matrix.split_at_mut(a * n);
        let row = &mut from_a[..=a];
        for b in 0..a {
            let other = &above[b * n..=b * n + b];
            row[b] = (row[b] - dot(&row[..b], &other[..b])) / other[b];
        }
        let left = row[a] - dot(&row[..a], &row[..a]);
        if left.is_nan() || left <= 0.0 {
            return None;
        }
        row[a] = left.sqrt();
    }
    Some(())
}

/// Solves `L z = b` in place.
fn forward(factor: &[f64], n: usize, b: &mut [f64]) {
    for a in 0..n {
        let row = &factor[a * n..=a * n + a];
        b[a] = (b[a] - dot(&row[..a], &b[..a])) / row[a];
    }
}

/// Solves `L L' z = b` in place.
fn solve_factored(factor: &[f64], n: usize, b: &mut [f64]) {
    forward(factor, n, b);
    backward(factor, n, b);
}

/// Solves `L' z = b` in place.
fn backward(factor: &[f64], n: usize, b: &mut [f64]) {
    for a in (0..n).rev() {
        let z = b[a] / factor[a * n + a];
        b[a] = z;
        add_scaled(&mut b[..a], -z, &factor[a * n..a * n + a]);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::mixed::{Laplace, Term};
    use crate::stats::special::ln_choose;

    const FAILED: [u64; 12] = [1, 0, 3, 2, 0, 5, 1, 1, 0, 4, 2, 0];
    const SEEN: [u64; 12] = [10, 9, 12, 7, 8, 11, 10, 6, 9, 12, 10, 3];
    const ROW: [u32; 12] = [0, 0, 0, 1, 1, 1, 2, 2, 2, 3, 3, 3];
    const BATCH: [u32; 12] = [0, 1, 2, 0, 1, 2, 0, 1, 2, 0, 1, 2];

    fn model(with_rows: bool) -> LogitModel {
        let line = |i: usize| [1.0].into_iter().chain((0..3).map(move |b| f64::from(u8::from(BATCH[i] == b))));
        LogitModel {
            failed: FAILED.map(|f| f as f64).to_vec(),
            seen: SEEN.map(|n| n as f64).to_vec(),
            columns: (0..12).flat_map(line).collect(),
            width: 4,
            groups: if with_rows { ROW.to_vec() } else { Vec::new() },
            levels: if with_rows { 4 } else { 0 },
        }
    }

    /// Against the mixed model of `mixed`, which is held to lme4: the same terms with the same standard deviations.
    #[test]
    fn evidence_is_that_of_the_mixed_model() {
        let term = |codes: &[u32], levels| Term { codes: codes.to_vec(), levels };
        let terms = [term(&ROW, 4), term(&BATCH, 3), term(&[0; 12], 1)];
        let laplace = Laplace::new(&FAILED, &SEEN, &terms).unwrap();
        let choose: f64 = FAILED.iter().zip(&SEEN).map(|(f, n)| ln_choose(*n, *f)).sum();
        for (row, batch) in [(0.7, 0.4), (2.5, 0.0), (0.0, 1.3)] {
            let want = laplace.log_likelihood(&[-2.0; 12], &[row, batch, 1.5]).unwrap() - choose;
            let scales = Scales { constant_mean: -2.0, columns: vec![1.5, batch, batch, batch], groups: row };
            let got = model(true).fit(&scales, None).unwrap();
            assert!((got.log_evidence - want).abs() < 2e-4, "{row} {batch}: {} for {want}", got.log_evidence);
            let again = model(true).fit(&scales, Some(&got)).unwrap();
            assert!((again.log_evidence - want).abs() < 1e-7, "{row} {batch}: {} for {want}", again.log_evidence);
        }
    }

    /// Column by column and handed to the library: a wide model gives the evidence of the narrow one with columns of 0.
    #[test]
    fn wide_models_are_solved_alike() {
        let narrow = model(true);
        let mut wide = narrow.clone();
        wide.width = WIDE + 4;
        wide.columns = narrow.columns.chunks(4).flat_map(|x| x.iter().copied().chain([0.0; WIDE])).collect();
        let scales = |width: usize| Scales { constant_mean: -2.0, columns: vec![1.0; width], groups: 0.8 };
        let (a, b) = (narrow.fit(&scales(4), None).unwrap(), wide.fit(&scales(WIDE + 4), None).unwrap());
        assert!((a.log_evidence - b.log_evidence).abs() < 1e-10);
        assert!(
            (a.variance(&[0.0, 1.0, 0.0, 0.0]) - b.variance(&[vec![0.0, 1.0], vec![0.0; WIDE + 2]].concat())).abs()
                < 1e-10
        );
    }

    /// One constant: the evidence by the trapezoidal rule.
    #[test]
    fn evidence_is_the_integral() {
        let (failed, seen) = (30.0, 200.0);
        let model = LogitModel {
            failed: vec![failed],
            seen: vec![seen],
            columns: vec![1.0],
            width: 1,
            ..LogitModel::default()
        };
        let scales = Scales { constant_mean: -2.7, columns: vec![1.4], groups: 0.0 };
        let ln = |u: f64| {
            let eta = -2.7 + 1.4 * u;
            failed * eta - seen * eta.exp().ln_1p() - 0.5 * u * u
        };
        let step = 1e-4;
        let sum: f64 = (-80_000..80_000).map(|i| (ln(f64::from(i) * step) + 90.0).exp()).sum();
        let want = (sum * step / std::f64::consts::TAU.sqrt()).ln() - 90.0;
        let got = model.fit(&scales, None).unwrap().log_evidence;
        assert!((got - want).abs() < 5e-3, "{got} for {want}");
    }

    /// Draws have the mode for their mean and the inverse Hessian for their variance.
    #[test]
    fn draws_are_of_the_normal_about_the_mode() {
        let scales = Scales { constant_mean: -2.0, columns: vec![1.5, 0.6, 0.6, 0.6], groups: 0.7 };
        let fit = model(true).fit(&scales, None).unwrap();
        let unit = |i: usize| (0..8).map(|j| f64::from(u8::from(i == j))).collect::<Vec<f64>>();
        let (mode, _) = fit.draw(&[0.0; 8]);
        assert_eq!(mode, fit.columns);
        let variance: f64 = (0..8).map(|i| (fit.draw(&unit(i)).0[1] - mode[1]).powi(2)).sum();
        assert!((variance - fit.variance(&[0.0, 1.0, 0.0, 0.0])).abs() < 1e-12);
    }

    #[test]
    fn what_overflows_is_no_fit() {
        let scales = Scales { constant_mean: f64::NAN, columns: vec![1.0; 4], groups: 1.0 };
        assert_eq!(model(false).fit(&scales, None), None);
    }
}
