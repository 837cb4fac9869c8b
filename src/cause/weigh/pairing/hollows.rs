//! Hollows looked at more closely: where their middles lie and how wide they are, beside another explanation too.
//!
//! At first hollows stand a radius apart. The weightiest are subdivided: each makes way for the eight that stand for the
//! halves of its ground, both ways, and of its radii, with an eighth of its prior each.

use super::{Joint, Looked, Pairing, Single, in_order, weight};
use crate::cause::weigh::shape::Shape;
use crate::stats::special::logistic;
use rayon::prelude::*;
use std::collections::BTreeSet;

/// Hollows that are followed into a pair because of what they would add beside the other side.
const SOUGHT: usize = 40;
/// Hollows that are subdivided at a time.
const SUBDIVIDED: usize = 6;
/// How many times.
pub(super) const SUBDIVISIONS: usize = 2;

/// The weightiest hollows, and all other shapes.
pub(super) fn weightiest_hollows(mut looked: Vec<Looked>) -> (Vec<Looked>, Vec<Looked>) {
    looked.sort_by(|p, q| weight(q).total_cmp(&weight(p)));
    let mut hollows = 0;
    looked.into_iter().partition(|(shape, _)| {
        hollows += usize::from(shape.is_hollow());
        shape.is_hollow() && hollows <= SUBDIVIDED
    })
}

impl Pairing<'_, '_> {
    /// Seeks hollows beside the other side's best shape, and subdivides the weightiest.
    pub(super) fn look_at_hollows(&mut self) {
        for side in [0, 1] {
            self.seek_hollows(side);
        }
        for side in [0, 1].repeat(SUBDIVISIONS) {
            self.subdivide_hollows(side);
        }
    }

    /// Follows those hollows too that would add most to the best shape of the other side.
    ///
    /// What a hollow would add is Laplace's approximation (Tierney & Kadane 1986, `tierney-kadane-1986`) after one step of
    /// Newton's from no effect, all else held fast: with slope U and curvature -I of the ln likelihood in the effect, and
    /// the effect's variance v, ln evidence grows by `U^2 v / (2 (1 + I v)) - ln(1 + I v) / 2`.
    fn seek_hollows(&mut self, side: usize) {
        let own = &self.sides[side];
        let followed: BTreeSet<usize> = own.followed.iter().copied().collect();
        let shapes = &own.candidate.shapes;
        let open: Vec<usize> = (0..shapes.len()).filter(|i| shapes[*i].is_hollow() && !followed.contains(i)).collect();
        if open.is_empty() {
            return;
        }
        let Some(residuals) = self.residuals(side) else { return };
        let variance = self.bench.hyper.odd_variance();
        let added = |&at: &usize| {
            let (slope, curvature) = shapes[at].score(&residuals);
            let wider = 1.0 + curvature * variance;
            (at, shapes[at].ln_prior + 0.5 * (slope * slope * variance / wider - wider.ln()))
        };
        let sought = heaviest(open.par_iter().map(added).collect(), SOUGHT);
        self.sides[side].followed.extend(sought);
        self.settle();
    }

    /// By level of one side: failures beyond those that the best shape of the other side expects by itself, and their
    /// variance. None where that shape can't be fitted.
    fn residuals(&self, side: usize) -> Option<Vec<(f64, f64)>> {
        let (other, beside) = (&self.sides[1 - side], self.beside(side));
        let single = &other.singles[beside];
        let none = Shape::none();
        let shape = &other.candidate.shapes[beside];
        let joint = Joint::new(self.bench.hyper, &self.table, if side == 0 { [&none, shape] } else { [shape, &none] })?;
        let scales = joint.scales(joint.sds(in_order(side, 0, single.peak)));
        let constant = joint.constant(&scales, &single.at_peak);
        let effects = joint.over_levels(1 - side, &scales, &single.at_peak, other.candidate.axis.levels);
        let mut residuals = vec![(0.0, 0.0); self.sides[side].candidate.axis.levels];
        for ((a, b), failed, seen) in self.table.cells() {
            let (own, other) = if side == 0 { (a, b) } else { (b, a) };
            let rate = logistic(constant + effects[other as usize]);
            let sum = &mut residuals[own as usize];
            *sum = (sum.0 + failed - seen * rate, sum.1 + seen * rate * (1.0 - rate));
        }
        Some(residuals)
    }

    /// Subdivides the weightiest hollows beside the best shape of the other side.
    fn subdivide_hollows(&mut self, side: usize) {
        let beside = self.beside(side);
        let own = &self.sides[side];
        let shapes = &own.candidate.shapes;
        let weight = |&at: &usize| {
            let pair = in_order(side, at, beside);
            Some((at, self.known.get(&pair)?.0 + self.ln_prior(pair)))
        };
        // A hollow without prior has been subdivided.
        let hollows = own.followed.iter().filter(|i| shapes[**i].is_hollow() && shapes[**i].ln_prior.is_finite());
        let subdivided = heaviest(hollows.filter_map(weight).collect(), SUBDIVIDED);
        let octants: Vec<Shape> = subdivided.iter().flat_map(|at| shapes[*at].octants()).collect();
        let table = self.bench.table(&own.candidate.axis, &self.bench.alone());
        let one = |shape: Shape| self.bench.by_itself(&table, &shape).map(|found| (shape, Single::of(&found)));
        let found: Vec<(Shape, Single)> = octants.into_par_iter().filter_map(one).collect();
        if found.is_empty() {
            return;
        }
        for at in subdivided {
            self.sides[side].candidate.shapes[at].ln_prior = f64::NEG_INFINITY;
        }
        for (shape, single) in found {
            self.sides[side].add(shape, single);
        }
        self.settle();
    }
}

/// The so many of greatest weight.
fn heaviest(mut weights: Vec<(usize, f64)>, n: usize) -> Vec<usize> {
    weights.sort_by(|p, q| q.1.total_cmp(&p.1).then(p.0.cmp(&q.0)));
    weights.into_iter().take(n).map(|w| w.0).collect()
}
