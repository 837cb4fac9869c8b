//! Laplace's approximation of the marginal likelihood, with its analytic gradient.
//!
//! ```text
//! L = ln p(d | u) - u'u/2 - ln det H / 2   at the mode u
//! ```
//!
//! Its derivative holds the mode's own movement. With s(i) = w'(i) h(i), h(i) = a(i)'H^-1 a(i) the variance of eta(i),
//! w' = w (1 - 2 mu), v = H^-1 A's and p = A v,
//!
//! ```text
//! dL/do(i) = k(i) = r(i) - s(i)/2 + w(i) p(i)/2
//! dL/ds(f) = sum over i of k(i) u(f,i) - w(i) q(f,i) - v(f,i) r(i)/2,   q(f,i) = (H^-1 a(i)) at its level of f
//! ```
//!
//! (implicit differentiation of the mode's equations; Skaug & Fournier 2006, `skaug-fournier-2006`). One solve gives
//! all of it, and only entries of H^-1 between levels that share a cell are needed.

use super::cells::{Cells, Term, Unusable};
use super::factor::{Latent, Scales};
use super::mode::{EXACT, Mode};
use faer::Mat;

/// A mixed model ready to be evaluated at any offset and standard deviations.
#[derive(Debug)]
pub struct Laplace {
    pub(super) cells: Cells,
    terms: usize,
}

/// Derivatives of the approximate log likelihood.
#[derive(Clone, Debug, PartialEq)]
pub struct Gradient {
    /// By the offset of each cell, in the order given.
    pub offset: Vec<f64>,
    /// By each term's standard deviation.
    pub sd: Vec<f64>,
}

impl Laplace {
    /// `failed` of `seen` plants in each cell; one or more terms. Errors name the cell or term that can't be used.
    pub fn new(failed: &[u64], seen: &[u64], terms: &[Term]) -> Result<Self, Unusable> {
        Ok(Laplace { cells: Cells::new(failed, seen, terms)?, terms: terms.len() })
    }

    /// Log likelihood, binomial coefficients included, at these offsets (one a cell) and standard deviations (one a
    /// term); none where a length is wrong or numbers overflow.
    pub fn log_likelihood(&self, offset: &[f64], sd: &[f64]) -> Option<f64> {
        self.mode(offset, sd, None).map(|mode| mode.value())
    }

    /// The same with its gradient.
    pub fn with_gradient(&self, offset: &[f64], sd: &[f64]) -> Option<(f64, Gradient)> {
        let mode = self.mode(offset, sd, None)?;
        Some((mode.value(), self.gradient(&mode)))
    }

    pub(super) fn mode(&self, offset: &[f64], sd: &[f64], start: Option<&Latent>) -> Option<Mode> {
        if offset.len() != self.cells.len() || sd.len() != self.terms {
            return None;
        }
        Mode::find(&self.cells, &self.in_order(offset), Scales::new(&self.cells, sd), start, EXACT)
    }

    /// Values in the order given, put into the order of the cells.
    fn in_order(&self, values: &[f64]) -> Vec<f64> {
        self.cells.order.iter().map(|&i| values[i]).collect()
    }

    pub(super) fn gradient(&self, mode: &Mode) -> Gradient {
        let cells = &self.cells;
        let inverse = Inverse::new(cells, mode);
        let skew = |cell: usize| mode.weight[cell] * (1.0 - 2.0 * mode.mu[cell]);
        let s: Vec<f64> = (0..cells.len()).map(|cell| skew(cell) * inverse.variance[cell]).collect();
        let v = mode.factor.solve(cells, &mode.scales.collect(cells, &s));
        let p = mode.scales.spread(cells, &v);
        let k = |cell: usize| mode.residual[cell] - 0.5 * s[cell] + 0.5 * mode.weight[cell] * p[cell];
        let mut gradient = Gradient { offset: vec![0.0; cells.len()], sd: vec![0.0; self.terms] };
        for group in 0..cells.groups() {
            for cell in cells.cells_of(group) {
                let (k, w, r) = (k(cell), mode.weight[cell], mode.residual[cell]);
                gradient.offset[cells.order[cell]] = k;
                let own = k * mode.u.swept[group] - w * inverse.swept[cell] - 0.5 * v.swept[group] * r;
                gradient.sd[cells.swept] += own;
                for (f, &c) in cells.columns(cell).iter().enumerate() {
                    let q = inverse.core[cell * cells.terms() + f];
                    let own = k * mode.u.core[c as usize] - w * q - 0.5 * v.core[c as usize] * r;
                    gradient.sd[cells.core[f]] += own;
                }
            }
        }
        gradient
    }
}

impl Mode {
    /// Laplace's approximation of the log marginal likelihood.
    pub fn value(&self) -> f64 {
        self.joint - 0.5 * self.factor.log_det
    }
}

/// What is needed of H^-1: for each cell (H^-1 a) at its own levels, and a'H^-1 a.
pub(super) struct Inverse {
    pub variance: Vec<f64>,
    /// At the swept level.
    pub swept: Vec<f64>,
    /// Cells x core terms.
    pub core: Vec<f64>,
    /// The core's block S^-1.
    pub block: Mat<f64>,
    /// The diagonal of H^-1 at the swept levels.
    pub swept_diagonal: Vec<f64>,
}

impl Inverse {
    pub fn new(cells: &Cells, mode: &Mode) -> Self {
        let block = mode.factor.core_inverse();
        let k = cells.terms();
        let mut inverse = Inverse {
            variance: vec![0.0; cells.len()],
            swept: vec![0.0; cells.len()],
            core: vec![0.0; cells.len() * k],
            swept_diagonal: vec![0.0; cells.groups()],
            block,
        };
        (0..cells.groups()).for_each(|group| inverse.fill(cells, mode, group));
        inverse
    }

    /// With t(c) = (S^-1 B(j)')(c): H^-1 is -t(c)/D between level j and column c, and 1/D + B(j)t/D^2 at j.
    fn fill(&mut self, cells: &Cells, mode: &Mode, group: usize) {
        let slots = cells.slots_of(group);
        let (first, d) = (slots.start, mode.factor.diagonal[group]);
        let with = |column: usize| -> f64 {
            slots.clone().map(|s| self.block[(column, cells.slot_column[s] as usize)] * mode.factor.cross[s]).sum()
        };
        let t: Vec<f64> = slots.clone().map(|s| with(cells.slot_column[s] as usize)).collect();
        let own = 1.0 / d + slots.map(|s| mode.factor.cross[s] * t[s - first]).sum::<f64>() / (d * d);
        self.swept_diagonal[group] = own;
        for cell in cells.cells_of(group) {
            let (columns, slots) = (cells.columns(cell), cells.slots(cell));
            let scales = &mode.scales;
            let shared = |f: usize| -t[slots[f] as usize - first] / d;
            let swept = scales.swept * own + (0..columns.len()).map(|f| scales.core[f] * shared(f)).sum::<f64>();
            let mut variance = scales.swept * swept;
            for f in 0..columns.len() {
                let with = |g: usize| scales.core[g] * self.block[(columns[f] as usize, columns[g] as usize)];
                let q = scales.swept * shared(f) + (0..columns.len()).map(with).sum::<f64>();
                self.core[cell * columns.len() + f] = q;
                variance += scales.core[f] * q;
            }
            self.swept[cell] = swept;
            self.variance[cell] = variance;
        }
    }
}
