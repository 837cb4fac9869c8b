//! Skewness of the core's conditional posterior, and the transformation that gives it back.
//!
//! About the mode ln p(x | d) is a parabola plus third derivatives. With b(k,i) the covariance of eta(k) and x(i) in
//! units of x(i)'s sd, h(k) the variance of eta(k) and l'''(k) = -w (1 - 2 mu), to first order
//!
//! ```text
//! mean(i) = sum over k of h(k) l'''(k) b(k,i) / 2,   skewness(i) = sum over k of l'''(k) b(k,i)^3
//! ```
//!
//! (the simplified Laplace approximation: Rue et al. 2009, `rue-2009`, section 3.2.3). Each margin is made a shifted
//! log-normal of that skewness, the dependence stays that of the normal distribution (a skew Gaussian copula:
//! Chiuchiolo et al. 2022, `chiuchiolo-2022`).

use super::cells::Cells;
use super::factor::Scales;
use super::laplace::Inverse;
use super::mode::Mode;
use super::nodes::Node;
use rayon::prelude::*;

/// One margin: from a standard normal to mean `mean`, sd 1 and the skewness that `kappa` gives.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Margin {
    pub mean: f64,
    /// ln scale of the log-normal; its sign is the skewness's.
    pub kappa: f64,
}

/// Beyond this the expansion says nothing; weights take over.
const MOST_KAPPA: f64 = 0.4;
const MOST_MEAN: f64 = 1.0;
/// Cells times columns up to which skewness is worked out; above, counts are large and it is next to nothing.
const MOST_WORK: usize = 4_000_000;

impl Margin {
    pub const NORMAL: Margin = Margin { mean: 0.0, kappa: 0.0 };

    /// The value for a standard normal z, and its derivative by z.
    pub fn value(&self, z: f64) -> (f64, f64) {
        let k = self.kappa;
        if k.abs() < 1e-6 {
            return (self.mean + z, 1.0);
        }
        let (e, half) = ((k * z).exp(), (0.5 * k * k).exp());
        let sd = half * (k * k).exp_m1().sqrt();
        (self.mean + k.signum() * (e - half) / sd, k.abs() * e / sd)
    }
}

/// Margins worked out at a few nodes, for all of them: skewness changes slowly with the standard deviations.
pub(super) struct Margins<'a> {
    at: Vec<(&'a Scales, Vec<Margin>)>,
}

/// Nodes at which margins are worked out.
const REFERENCES: usize = 48;

impl<'a> Margins<'a> {
    pub fn new(cells: &Cells, nodes: &'a [Node]) -> Self {
        let of = |node: &'a Node| (&node.mode.scales, margins(cells, &node.mode, &Inverse::new(cells, &node.mode)));
        Margins { at: nodes.par_iter().take(REFERENCES).map(of).collect() }
    }

    /// Those of the node whose scales are nearest in proportion.
    pub fn near(&self, scales: &Scales) -> &[Margin] {
        let apart = |a: f64, b: f64| ((a - b) / (a + b + 0.1)).powi(2);
        let distance = |other: &Scales| {
            let core = scales.core.iter().zip(&other.core).map(|(a, b)| apart(*a, *b)).sum::<f64>();
            core + apart(scales.swept, other.swept)
        };
        let nearest = self.at.iter().min_by(|a, b| distance(a.0).total_cmp(&distance(b.0)));
        nearest.map_or(&[], |(_, margins)| margins)
    }
}

/// Margins of the core's columns.
fn margins(cells: &Cells, mode: &Mode, inverse: &Inverse) -> Vec<Margin> {
    let width = cells.width;
    if cells.len().saturating_mul(width) > MOST_WORK {
        return vec![Margin::NORMAL; width];
    }
    let sd: Vec<f64> = (0..width).map(|i| inverse.block[(i, i)].sqrt()).collect();
    let (mut mean, mut skewness) = (vec![0.0; width], vec![0.0; width]);
    let mut along = vec![0.0; width];
    for group in 0..cells.groups() {
        let share = mode.scales.swept / mode.factor.diagonal[group];
        along.fill(0.0);
        for s in cells.slots_of(group) {
            let (column, times) = (cells.slot_column[s] as usize, share * mode.factor.cross[s]);
            (0..width).for_each(|i| along[i] += times * inverse.block[(i, column)]);
        }
        for cell in cells.cells_of(group) {
            let third = -mode.weight[cell] * (1.0 - 2.0 * mode.mu[cell]);
            let spread = 0.5 * inverse.variance[cell] * third;
            for i in 0..width {
                let own = cells.columns(cell).iter().zip(&mode.scales.core);
                let own: f64 = own.map(|(&c, scale)| scale * inverse.block[(i, c as usize)]).sum();
                let b = (own - along[i]) / sd[i];
                mean[i] += spread * b;
                skewness[i] += third * b * b * b;
            }
        }
    }
    let margin = |(mean, skewness): (f64, f64)| Margin {
        mean: mean.clamp(-MOST_MEAN, MOST_MEAN),
        kappa: (skewness / 3.0).clamp(-MOST_KAPPA, MOST_KAPPA),
    };
    mean.into_iter().zip(skewness).map(margin).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_margin_has_the_moments_it_is_named_for() {
        let margin = Margin { mean: 0.2, kappa: -0.2 };
        let z = |i: i32| f64::from(i) / 200.0;
        let weight = |i: i32| (-0.5 * z(i) * z(i)).exp() / (2.0 * std::f64::consts::PI).sqrt() / 200.0;
        let moment =
            |f: &dyn Fn(f64) -> f64| -> f64 { (-1800..=1800).map(|i| weight(i) * f(margin.value(z(i)).0)).sum() };
        let mean = moment(&|x| x);
        let variance = moment(&|x| (x - mean).powi(2));
        let third = moment(&|x| (x - mean).powi(3));
        assert!((mean - 0.2).abs() < 1e-9 && (variance - 1.0).abs() < 1e-9, "{mean} {variance}");
        let k2 = 0.04f64.exp();
        assert!((third + (k2 + 2.0) * (k2 - 1.0).sqrt()).abs() < 1e-8, "{third}");
    }
}
