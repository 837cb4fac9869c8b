//! Whether failures follow the planting order: the pieces of planted runs are put into other places of the order.
//!
//! The null is that it makes no difference when a piece was planted. The order is a way over the ground, so a hollow at one end
//! of the block answers as readily as a day or a crew: what is found here is a place or a time.

use crate::base::Seed;
use crate::runs::Runs;
use crate::stats::permute::{Effort, Randomisation, Strata, randomise};

/// Share of the vines that has to lie on either side of a step.
const LEAST_SIDE: f64 = 0.1;

/// Pieces in the planters' order. Letters: piece i of group g (a batch, or the whole block) has n(i) vines told of which
/// f(i) failed; N(g) and p(g) are the group's vines and share failed; r(i) = f(i) - n(i) p(g).
pub(super) struct Order {
    strata: Strata,
    pieces: Vec<Piece>,
    groups: Vec<Group>,
    /// Mean and variance of sum of r(i) s(i), s(i) the place in the order, over all orders that keep groups.
    trend: (f64, f64),
}

struct Piece {
    group: usize,
    vines: f64,
    /// r(i).
    excess: f64,
}

/// Vines of a group, and p (1 - p).
struct Group {
    vines: f64,
    variance: f64,
}

impl Order {
    /// With pieces going anywhere, or within the places that pieces of their batch have.
    pub(super) fn of(runs: &Runs, within_batches: bool) -> Self {
        let labels = runs.labels();
        let strata = if within_batches { Strata::by(labels) } else { Strata::one(runs.units().len()) };
        let of_units = strata.of_units();
        let mut sums = vec![(0.0, 0.0); strata.count()];
        for (unit, &group) in runs.units().iter().zip(&of_units) {
            let sum = &mut sums[group as usize];
            (sum.0, sum.1) = (sum.0 + unit.seen, sum.1 + unit.failed);
        }
        let piece = |(unit, &group): (&crate::runs::Unit, &u32)| {
            let (n, f) = sums[group as usize];
            Piece { group: group as usize, vines: unit.seen, excess: unit.failed - unit.seen * f / n }
        };
        let pieces: Vec<Piece> = runs.units().iter().zip(&of_units).map(piece).collect();
        let group = |&(n, f): &(f64, f64)| Group { vines: n, variance: f / n * (1.0 - f / n) };
        let trend = trend_moments(&pieces, &strata);
        Order { groups: sums.iter().map(group).collect(), strata, pieces, trend }
    }

    /// The best step and the trend.
    ///
    /// Step: the largest over cuts, with at least a tenth of the vines on either side, of R^2 / V, R the sum of r before the cut,
    /// V = sum over groups of p (1 - p) n (N - n) / N with n vines of the group before it: Pearson's chi-square of before against
    /// after where there is one group. Having looked at every cut is allowed for, because every order dealt looks too.
    /// Trend: (sum of r s - mean)^2 / variance, over orders.
    pub(super) fn redeal(&self, effort: &Effort, name: &str, seed: Seed) -> [Randomisation; 2] {
        let places: Vec<u32> = (0..self.pieces.len() as u32).collect();
        randomise(&places, &self.strata, |places| self.statistics(places), effort, name, seed)
    }

    /// ln of the number of orders.
    pub(super) fn ln_orders(&self) -> f64 {
        let places: Vec<u32> = (0..self.pieces.len() as u32).collect();
        self.strata.ln_arrangements(&places)
    }

    /// `places`: where in the order each piece is put.
    fn statistics(&self, places: &[u32]) -> [f64; 2] {
        let mut in_order = vec![0; places.len()];
        places.iter().enumerate().for_each(|(piece, &place)| in_order[place as usize] = piece);
        let sum: f64 = places.iter().zip(&self.pieces).map(|(&place, piece)| f64::from(place) * piece.excess).sum();
        let (mean, variance) = self.trend;
        let trend = if variance > 1e-12 { (sum - mean).powi(2) / variance } else { 0.0 };
        [self.best_step(&in_order), trend]
    }

    fn best_step(&self, in_order: &[usize]) -> f64 {
        let all: f64 = self.groups.iter().map(|g| g.vines).sum();
        let (mut before, mut excess, mut variance, mut best) = (0.0, 0.0, 0.0, 0.0f64);
        let mut of_group = vec![0.0; self.groups.len()];
        for piece in in_order.iter().map(|&i| &self.pieces[i]) {
            let (group, n) = (&self.groups[piece.group], &mut of_group[piece.group]);
            let spread = |n: f64| group.variance * n * (group.vines - n) / group.vines;
            variance += spread(*n + piece.vines) - spread(*n);
            *n += piece.vines;
            before += piece.vines;
            excess += piece.excess;
            let allowed = before >= LEAST_SIDE * all && before <= (1.0 - LEAST_SIDE) * all;
            if allowed && variance > 1e-9 {
                best = best.max(excess * excess / variance);
            }
        }
        best
    }
}

/// Within a group of k pieces the excesses r go to the places s in any order: mean sum(r) sum(s) / k, variance
/// SS(r) SS(s) / (k - 1), SS the sum of squares about the mean.
fn trend_moments(pieces: &[Piece], strata: &Strata) -> (f64, f64) {
    let (mut mean, mut variance) = (0.0, 0.0);
    for group in strata.groups().filter(|group| !group.is_empty()) {
        let k = group.len() as f64;
        let moments = |of: &dyn Fn(u32) -> f64| {
            let sum: f64 = group.iter().map(|&i| of(i)).sum();
            (sum, group.iter().map(|&i| (of(i) - sum / k).powi(2)).sum::<f64>())
        };
        let (r, s) = (moments(&|i| pieces[i as usize].excess), moments(&f64::from));
        mean += r.0 * s.0 / k;
        variance += if k > 1.0 { r.1 * s.1 / (k - 1.0) } else { 0.0 };
    }
    (mean, variance)
}
