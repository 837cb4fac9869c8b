//! The conditional mode of the random effects.
//!
//! Maximises ln p(d | u) - u'u/2 by Newton's method, which for this link is penalised iteratively reweighted least
//! squares (Bates et al. 2015, `bates-2015`, section 3), with halving of steps that don't raise it: undamped steps
//! run away on plants counted one by one with a large standard deviation.

use super::cells::Cells;
use super::factor::{Factor, Latent, Scales};

/// The mode and what was computed there.
#[derive(Debug)]
pub(super) struct Mode {
    pub scales: Scales,
    pub u: Latent,
    /// One a cell, in the order of [`Cells`]: mu, d - n mu, n mu (1 - mu).
    pub mu: Vec<f64>,
    pub residual: Vec<f64>,
    pub weight: Vec<f64>,
    /// ln p(d | u) - u'u/2, with the binomial coefficients.
    pub joint: f64,
    pub factor: Factor,
}

/// Newton's decrement, twice what the objective could still gain, at which the mode is exact to rounding.
pub(super) const EXACT: f64 = 1e-13;
/// The same where the value is wanted to three or four digits only.
pub(super) const CLOSE: f64 = 1e-6;
const MOST_STEPS: usize = 100;
const HALVINGS: usize = 40;

impl Mode {
    /// From a start, to a decrement below `tolerance`; `offset` one a cell in the order of [`Cells`]. None where numbers
    /// overflow.
    pub fn find(cells: &Cells, offset: &[f64], scales: Scales, start: Option<&Latent>, tolerance: f64) -> Option<Mode> {
        let zero = Latent::zero(cells);
        let mut at = Point::at(cells, offset, &scales, start.unwrap_or(&zero).clone());
        if start.is_some() {
            let plain = Point::at(cells, offset, &scales, zero);
            at = if plain.joint > at.joint { plain } else { at };
        }
        for _ in 0..MOST_STEPS {
            let (gradient, factor) = (at.gradient(cells, &scales), Factor::new(cells, &scales, &at.weight)?);
            let step = factor.solve(cells, &gradient);
            let decrement = gradient.dot(&step);
            if !decrement.is_finite() {
                return None;
            }
            if decrement < tolerance {
                return at.finish(scales, factor);
            }
            at = at.stepped(cells, offset, &scales, &step);
        }
        let factor = Factor::new(cells, &scales, &at.weight)?;
        at.finish(scales, factor)
    }
}

struct Point {
    u: Latent,
    mu: Vec<f64>,
    residual: Vec<f64>,
    weight: Vec<f64>,
    joint: f64,
}

impl Point {
    fn at(cells: &Cells, offset: &[f64], scales: &Scales, u: Latent) -> Self {
        let eta = scales.spread(cells, &u);
        let n = cells.len();
        let (mut mu, mut residual, mut weight) = (vec![0.0; n], vec![0.0; n], vec![0.0; n]);
        let mut joint = cells.ln_ways - 0.5 * u.dot(&u);
        for cell in 0..n {
            let (eta, seen, failed) = (eta[cell] + offset[cell], cells.seen[cell], cells.failed[cell]);
            // One exponential gives mu and ln(1 + exp(eta)) without overflow.
            let e = (-eta.abs()).exp();
            let small = e / (1.0 + e);
            mu[cell] = if eta > 0.0 { 1.0 - small } else { small };
            residual[cell] = if eta > 0.0 { failed - seen + seen * small } else { failed - seen * small };
            weight[cell] = seen * small * (1.0 - small);
            joint += failed * eta - seen * (eta.max(0.0) + e.ln_1p());
        }
        Point { u, mu, residual, weight, joint }
    }

    fn finish(self, scales: Scales, factor: Factor) -> Option<Mode> {
        let Point { u, mu, residual, weight, joint } = self;
        joint.is_finite().then_some(Mode { scales, u, mu, residual, weight, joint, factor })
    }

    fn gradient(&self, cells: &Cells, scales: &Scales) -> Latent {
        scales.collect(cells, &self.residual).moved(&self.u, -1.0)
    }

    /// The step, halved until the objective doesn't fall by more than rounding; where it always does, the same point.
    fn stepped(self, cells: &Cells, offset: &[f64], scales: &Scales, step: &Latent) -> Self {
        let slack = 1e-12 * (1.0 + self.joint.abs());
        let mut times = 1.0;
        for _ in 0..HALVINGS {
            let next = Point::at(cells, offset, scales, self.u.moved(step, times));
            if next.joint >= self.joint - slack {
                return next;
            }
            times *= 0.5;
        }
        self
    }
}
