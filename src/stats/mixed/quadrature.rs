//! Adaptive Gauss-Hermite quadrature of the marginal likelihood of a single term.
//!
//! Given offsets each level's integral stands alone: ln of the integral of exp(l(j, u) - u^2/2) / sqrt(2 pi) du, by
//! nodes about its mode scaled by the curvature there (Liu & Pierce 1994, `liu-pierce-1994`). One node is Laplace's method.

use super::cells::{Cells, Term, Unusable};
use super::factor::Scales;
use super::laplace::Laplace;
use super::mode::Mode;
use crate::stats::minimise::{self, minimise};
use crate::stats::special::softplus;
use serde::Serialize;
use std::f64::consts::PI;

/// Nodes and weights of Gauss-Hermite quadrature for the weight exp(-x^2).
#[derive(Clone, Debug, PartialEq)]
pub struct Hermite {
    pub nodes: Vec<f64>,
    pub weights: Vec<f64>,
}

impl Hermite {
    /// `n` nodes, 1 to 100: roots of the Hermite polynomial by Newton's method on its orthonormal recurrence.
    pub fn new(n: usize) -> Self {
        let n = n.clamp(1, 100);
        let (mut nodes, mut weights) = (vec![0.0; n], vec![0.0; n]);
        let mut x = 0.0;
        for i in 0..n.div_ceil(2) {
            x = first_guess(n, i, x, &nodes);
            let slope = polish(n, &mut x);
            (nodes[i], nodes[n - 1 - i]) = (x, -x);
            (weights[i], weights[n - 1 - i]) = (2.0 / (slope * slope), 2.0 / (slope * slope));
        }
        if n % 2 == 1 {
            nodes[n / 2] = 0.0;
        }
        Hermite { nodes, weights }
    }
}

/// Starts for the roots from the largest down (Press et al. 2007, Numerical Recipes, section 4.6; from memory).
fn first_guess(n: usize, i: usize, last: f64, nodes: &[f64]) -> f64 {
    let size = 2.0 * n as f64 + 1.0;
    match i {
        0 => size.sqrt() - 1.85575 * size.powf(-1.0 / 6.0),
        1 => last - 1.14 * (n as f64).powf(0.426) / last,
        2 => 1.86 * last - 0.86 * nodes[0],
        3 => 1.91 * last - 0.91 * nodes[1],
        _ => 2.0 * last - nodes[i - 2],
    }
}

/// Newton's method to the root near `x`; the derivative there.
fn polish(n: usize, x: &mut f64) -> f64 {
    let mut slope = 1.0;
    for _ in 0..50 {
        let (mut value, mut before) = (PI.powf(-0.25), 0.0);
        for k in 0..n {
            let k = k as f64;
            (value, before) = (*x * (2.0 / (k + 1.0)).sqrt() * value - (k / (k + 1.0)).sqrt() * before, value);
        }
        slope = (2.0 * n as f64).sqrt() * before;
        let step = value / slope;
        *x -= step;
        if step.abs() < 1e-14 {
            break;
        }
    }
    slope
}

/// A fit by adaptive quadrature.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct QuadratureFit {
    pub coefficients: Vec<f64>,
    pub sd: f64,
    /// Binomial coefficients included.
    pub log_likelihood: f64,
    pub converged: bool,
}

/// Log marginal likelihood of one term at an offset (one a cell) and a standard deviation; none where a length is
/// wrong or numbers overflow.
pub fn log_likelihood(model: &Laplace, offset: &[f64], sd: f64, rule: &Hermite) -> Option<f64> {
    let mode = model.mode(offset, &[sd], None)?;
    let cells = &model.cells;
    let offset: Vec<f64> = cells.order.iter().map(|&i| offset[i]).collect();
    let groups = (0..cells.groups()).map(|group| integral(cells, &mode, group, &offset, rule));
    Some(cells.ln_ways + groups.sum::<f64>()).filter(|value| value.is_finite())
}

fn integral(cells: &Cells, mode: &Mode, group: usize, offset: &[f64], rule: &Hermite) -> f64 {
    let Scales { swept: scale, .. } = mode.scales;
    let (centre, spread) = (mode.u.swept[group], (2.0 / mode.factor.diagonal[group]).sqrt());
    let log = |u: f64| {
        let part = |cell: usize| {
            let eta = offset[cell] + scale * u;
            cells.failed[cell] * eta - cells.seen[cell] * softplus(eta)
        };
        cells.cells_of(group).map(part).sum::<f64>() - 0.5 * u * u
    };
    let logs: Vec<f64> = rule.nodes.iter().map(|x| log(centre + spread * x) + x * x).collect();
    let most = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let sum: f64 = logs.iter().zip(&rule.weights).map(|(l, w)| w * (l - most).exp()).sum();
    most + sum.ln() + spread.ln() - 0.5 * (2.0 * PI).ln()
}

/// Coefficients of the fixed columns (one value a cell each) and the standard deviation of one term that maximise the
/// likelihood by adaptive quadrature with `nodes` nodes, from the start `start` (coefficients, then the sd).
pub fn maximum_by_quadrature(
    (failed, seen): (&[u64], &[u64]),
    fixed: &[Vec<f64>],
    term: &Term,
    nodes: usize,
    start: &[f64],
) -> Result<Option<QuadratureFit>, Unusable> {
    let model = Laplace::new(failed, seen, std::slice::from_ref(term))?;
    let rule = Hermite::new(nodes);
    let value = |x: &[f64]| {
        let eta = |cell: usize| fixed.iter().zip(x).map(|(c, b)| c[cell] * b).sum();
        let offset: Vec<f64> = (0..seen.len()).map(eta).collect();
        log_likelihood(&model, &offset, *x.last()?, &rule).map(|l| -l)
    };
    let with_gradient = |x: &[f64]| Some((value(x)?, central_differences(&value, x)?));
    let config = minimise::Config { tolerance: 1e-8, ..minimise::Config::default() };
    let found = minimise(with_gradient, start, &vec![0.1; start.len()], &config);
    Ok(found.map(|m| QuadratureFit {
        coefficients: m.at.iter().take(fixed.len()).copied().collect(),
        sd: m.at.last().map_or(0.0, |s| s.abs()),
        log_likelihood: -m.value,
        converged: m.converged,
    }))
}

fn central_differences(value: &impl Fn(&[f64]) -> Option<f64>, x: &[f64]) -> Option<Vec<f64>> {
    let along = |k: usize| {
        let h = 1e-5 * (1.0 + x[k].abs());
        let at = |d: f64| {
            let mut to = x.to_vec();
            to[k] += d;
            value(&to)
        };
        Some((at(h)? - at(-h)?) / (2.0 * h))
    };
    (0..x.len()).map(along).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Abramowitz & Stegun (1964), table 25.10, n = 5 (from memory).
    #[test]
    fn five_nodes_are_the_tabled_ones() {
        let rule = Hermite::new(5);
        let want = [(2.020_182_870_456_086, 0.019_953_242_059_046), (0.958_572_464_613_819, 0.393_619_323_152_241)];
        for (i, (node, weight)) in want.into_iter().enumerate() {
            assert!((rule.nodes[i] - node).abs() < 1e-13 && (rule.weights[i] - weight).abs() < 1e-13, "{rule:?}");
        }
        assert!((rule.weights[2] - 0.945_308_720_482_942).abs() < 1e-13);
    }

    /// Weights add up to sqrt(pi), and x^2 integrates to half of it.
    #[test]
    fn moments_are_exact() {
        for n in 1..=100 {
            let rule = Hermite::new(n);
            let sum: f64 = rule.weights.iter().sum();
            assert!((sum - PI.sqrt()).abs() < 1e-11, "{n}: {sum}");
            let square: f64 = rule.weights.iter().zip(&rule.nodes).map(|(w, x)| w * x * x).sum();
            assert!(n == 1 || (square - 0.5 * PI.sqrt()).abs() < 1e-11, "{n}: {square}");
        }
    }
}
