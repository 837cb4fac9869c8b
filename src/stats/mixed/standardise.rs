//! Rates standardised over the plants seen.
//!
//! A level's rate had every plant been of it: G(u) = sum over cells of w(i) logistic(u + rest(i)), with w the share of
//! the plants and rest(i) what the other terms add up to in cell i (direct standardisation by the model: Lane & Nelder
//! 1982, `lane-nelder-1982`). The rests are spread over an even lattice by cubic interpolation, the logistic function
//! is read from a table on that lattice, and G is interpolated by the same cubic; all of it is exact to about 1e-5.

use crate::stats::special::logistic;

/// Lattice spacing, logit.
const STEP: f64 = 0.25;
/// Points from -REACH to REACH times the spacing; beyond, rates are 0 or 1 to 1e-13.
const REACH: usize = 120;

/// The logistic function on the lattice, twice as far out as values reach.
pub(super) struct Lattice {
    table: Vec<f64>,
}

/// A place on the lattice: the first of four points, and their weights.
#[derive(Clone, Copy)]
struct Spot {
    first: usize,
    weights: [f64; 4],
}

impl Spot {
    fn of(x: f64) -> Self {
        let most = REACH as f64 - 2.0;
        let at = if x.is_finite() { (x / STEP).clamp(-most, most) } else { 0.0 };
        let below = at.floor();
        let t = at - below;
        let weights = [
            -t * (t - 1.0) * (t - 2.0) / 6.0,
            (t + 1.0) * (t - 1.0) * (t - 2.0) / 2.0,
            -(t + 1.0) * t * (t - 2.0) / 2.0,
            (t + 1.0) * t * (t - 1.0) / 6.0,
        ];
        Spot { first: (below as i64 + REACH as i64 - 1) as usize, weights }
    }
}

/// How the plants spread over what the other terms add up to.
pub(super) struct Rests {
    weight: Vec<f64>,
    low: usize,
    high: usize,
}

impl Rests {
    pub fn new() -> Self {
        Rests { weight: vec![0.0; 2 * REACH + 1], low: usize::MAX, high: 0 }
    }

    pub fn add(&mut self, rest: f64, weight: f64) {
        let spot = Spot::of(rest);
        (self.low, self.high) = (self.low.min(spot.first), self.high.max(spot.first + 3));
        spot.weights.iter().enumerate().for_each(|(i, w)| self.weight[spot.first + i] += weight * w);
    }
}

impl Lattice {
    pub fn new() -> Self {
        let reach = 2 * REACH as i32;
        Lattice { table: (-reach..=reach).map(|i| logistic(STEP * f64::from(i))).collect() }
    }

    /// G at each of `effects`, 0..1; the weights must add up to 1.
    pub fn rates(&self, rests: &Rests, effects: &[f64]) -> Vec<f64> {
        let mut known = [f64::NAN; 2 * REACH + 1];
        let rate = |u: &f64| {
            let spot = Spot::of(*u);
            let mut rate = 0.0;
            for (i, weight) in spot.weights.iter().enumerate() {
                let at = spot.first + i;
                if known[at].is_nan() {
                    known[at] = (rests.low..=rests.high).map(|k| rests.weight[k] * self.table[at + k]).sum();
                }
                rate += weight * known[at];
            }
            rate.clamp(0.0, 1.0)
        };
        effects.iter().map(rate).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_agrees_with_the_plain_sum() {
        let rests: Vec<f64> = (0..57).map(|i| -6.0 + 0.173 * f64::from(i)).collect();
        let effects = [-9.0, -3.33, -0.71, 0.0, 0.42, 2.9, 7.7, 200.0];
        let mut spread = Rests::new();
        rests.iter().for_each(|r| spread.add(*r, 1.0 / rests.len() as f64));
        for (level, rate) in Lattice::new().rates(&spread, &effects).into_iter().enumerate() {
            let plain: f64 = rests.iter().map(|r| logistic(effects[level] + r)).sum::<f64>() / rests.len() as f64;
            assert!((rate - plain).abs() < 3e-5, "{level}: {rate} {plain}");
        }
    }
}
