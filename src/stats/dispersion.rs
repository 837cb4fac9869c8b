//! Dispersion: how much more counts differ between units than chance within them explains.
//!
//! Letters: unit u holds cells i with n(i) plants, d(i) of them failed, fitted rate mu(i) and design row x(i).
//! O = sum of d, E = sum of n mu, V = sum of n mu (1 - mu) over the unit's cells; X^2 = sum over units of (O - E)^2 / V
//! (Pearson's statistic), and phi = max(1, X^2 / df) multiplies variances and divides log likelihoods (McCullagh &
//! Nelder 1989, `mccullagh-nelder-1989`, section 4.5; Williams 1982, `williams-1982`). df are the degrees of freedom
//! between units beside the design: what the units' indicators add to its rank.
//!
//! Plants of a unit share more than the design says (their batch, their bundle's ground), so units and not plants
//! are what is independent. Not where units hold less than about one expected failure each: X^2 is then erratic.

use serde::Serialize;
use std::collections::BTreeMap;

/// A column is in the span of those before it where less than this part of its sum of squares is left.
const RANK_TOLERANCE: f64 = 1e-9;

/// Plants of one unit and one design row.
#[derive(Clone, Debug, PartialEq)]
pub struct Observed {
    pub unit: usize,
    /// Columns of the design other than 0 and their values.
    pub row: Vec<(usize, f64)>,
    /// Fitted rate, in (0, 1).
    pub rate: f64,
    pub seen: f64,
    pub failed: f64,
}

/// Pearson's statistic over units.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Dispersion {
    pub pearson: f64,
    /// Degrees of freedom between units, beside the design.
    pub df: usize,
    pub units: usize,
}

impl Dispersion {
    /// phi: 1 or more; None without a degree of freedom.
    pub fn phi(&self) -> Option<f64> {
        (self.df > 0).then(|| (self.pearson / self.df as f64).max(1.0))
    }
}

/// The dispersion of these plants about a design of `width` columns. Plants without a sound rate, or with columns
/// outside the design, take no part.
pub fn dispersion(width: usize, observed: &[Observed]) -> Dispersion {
    let sound = |o: &&Observed| {
        o.seen > 0.0 && o.rate > 0.0 && o.rate < 1.0 && o.row.iter().all(|(column, x)| *column < width && x.is_finite())
    };
    let mut units = BTreeMap::<usize, Unit>::new();
    let mut gram = vec![vec![0.0; width]; width];
    for o in observed.iter().filter(sound) {
        units.entry(o.unit).or_default().add(o);
        for &(a, x) in &o.row {
            o.row.iter().for_each(|&(b, y)| gram[a][b] += o.seen * x * y);
        }
    }
    let scale: Vec<f64> = (0..width).map(|k| gram[k][k]).collect();
    let all = rank(gram.clone(), &scale);
    units.values().for_each(|unit| unit.take_off(&mut gram));
    let df = (units.len() + rank(gram, &scale)).saturating_sub(all);
    Dispersion { pearson: units.values().map(Unit::pearson).sum(), df, units: units.len() }
}

#[derive(Default)]
struct Unit {
    seen: f64,
    failed: f64,
    expected: f64,
    variance: f64,
    /// Sums of the columns, one weight a plant.
    sums: BTreeMap<usize, f64>,
}

impl Unit {
    fn add(&mut self, o: &Observed) {
        self.seen += o.seen;
        self.failed += o.failed;
        self.expected += o.seen * o.rate;
        self.variance += o.seen * o.rate * (1.0 - o.rate);
        o.row.iter().for_each(|&(column, x)| *self.sums.entry(column).or_default() += o.seen * x);
    }

    fn pearson(&self) -> f64 {
        let apart = self.failed - self.expected;
        if self.variance > 0.0 { apart * apart / self.variance } else { 0.0 }
    }

    /// Takes the columns' means over the unit off their products.
    fn take_off(&self, gram: &mut [Vec<f64>]) {
        for (&a, x) in &self.sums {
            self.sums.iter().for_each(|(&b, y)| gram[a][b] -= x * y / self.seen);
        }
    }
}

/// Columns that aren't in the span of those before them, from their products: Gaussian elimination in the order given.
fn rank(mut gram: Vec<Vec<f64>>, scale: &[f64]) -> usize {
    let mut rank = 0;
    for k in 0..gram.len() {
        let pivot = gram[k][k];
        if pivot <= RANK_TOLERANCE * scale[k] || pivot <= 0.0 {
            continue;
        }
        rank += 1;
        let row = gram[k].clone();
        for below in gram.iter_mut().skip(k + 1).filter(|below| below[k] != 0.0) {
            let times = below[k] / pivot;
            below.iter_mut().zip(&row).for_each(|(x, y)| *x -= times * y);
        }
    }
    rank
}

#[cfg(test)]
mod tests {
    use super::*;

    fn seen(unit: usize, columns: &[usize], rate: f64, seen: f64, failed: f64) -> Observed {
        Observed { unit, row: columns.iter().map(|&c| (c, 1.0)).collect(), rate, seen, failed }
    }

    #[test]
    fn two_levels_of_two_units_by_hand() {
        // Level 0 in units 0 and 1: expected 4 of 40 each, variance 3.6, apart by 3. Level 1 as expected.
        let mut all = vec![seen(0, &[0], 0.1, 40.0, 1.0), seen(1, &[0], 0.1, 40.0, 7.0)];
        all.extend([seen(2, &[1], 0.2, 10.0, 2.0), seen(3, &[1], 0.2, 10.0, 2.0)]);
        let got = dispersion(2, &all);
        assert_eq!((got.units, got.df), (4, 2));
        assert!((got.pearson - 2.0 * 9.0 / 3.6).abs() < 1e-12);
        assert!((got.phi().unwrap() - 2.5).abs() < 1e-12);
        // Less than chance is no reason to believe in less.
        let even = dispersion(1, &[seen(0, &[0], 0.5, 10.0, 5.0), seen(1, &[0], 0.5, 10.0, 5.0)]);
        assert_eq!(even.phi(), Some(1.0));
    }

    #[test]
    fn what_varies_within_units_costs_none_between_them() {
        // Column 2 (a crew) takes half of every unit: units less levels. As a whole unit it costs one.
        let within: Vec<Observed> =
            (0..4).flat_map(|u| [seen(u, &[u / 2], 0.1, 10.0, 1.0), seen(u, &[u / 2, 2], 0.1, 10.0, 1.0)]).collect();
        assert_eq!(dispersion(3, &within).df, 2);
        let whole = [[0, 9], [0, 2], [1, 9], [1, 2]];
        let whole: Vec<Observed> =
            whole.iter().enumerate().map(|(u, c)| seen(u, &c[..1 + usize::from(c[1] == 2)], 0.1, 10.0, 1.0)).collect();
        assert_eq!(dispersion(3, &whole).df, 1);
    }

    #[test]
    fn one_unit_a_level_tells_nothing() {
        let got = dispersion(2, &[seen(0, &[0], 0.1, 40.0, 1.0), seen(1, &[1], 0.3, 40.0, 7.0)]);
        assert_eq!((got.df, got.phi()), (0, None));
        assert_eq!(dispersion(0, &[]).phi(), None);
        assert_eq!(dispersion(1, &[seen(0, &[7], 0.1, 9.0, 1.0), seen(1, &[0], f64::NAN, 9.0, 1.0)]).units, 0);
    }
}
