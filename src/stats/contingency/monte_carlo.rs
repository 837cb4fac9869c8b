//! Random tables with given margins.

use super::{ExactTest, column_totals};
use crate::base::Seed;
use crate::stats::hypergeometric::{Hypergeometric, TIE};
use crate::stats::special::ln_gamma;
use rand::Rng;
use rayon::prelude::*;

/// Tables drawn from one stream of random numbers; fixed, so that the number of threads changes nothing.
const PER_STREAM: usize = 250;

/// The share of random tables at most as probable as this one: (b+1)/(m+1), with its standard error
/// sqrt(p (1-p) / m). At least one table is drawn.
pub(super) fn test(table: &[Vec<u64>], simulations: usize, seed: Seed) -> ExactTest {
    let m = simulations.max(1);
    let rows: Vec<u64> = table.iter().map(|row| row.iter().sum()).collect();
    let columns = column_totals(table);
    // ln P is a constant less the sum of the cells' ln n!.
    let threshold = cost(table.iter().flatten()) - TIE;
    let as_extreme: usize = (0..m.div_ceil(PER_STREAM))
        .into_par_iter()
        .map(|stream| {
            let mut rng = seed.stream("freeman_halton", stream as u64);
            let tables = PER_STREAM.min(m - stream * PER_STREAM);
            (0..tables).filter(|_| random_cost(&rows, &columns, &mut rng) >= threshold).count()
        })
        .sum();
    let p_value = (as_extreme as f64 + 1.0) / (m as f64 + 1.0);
    let monte_carlo_error = (p_value * (1.0 - p_value) / m as f64).sqrt();
    ExactTest { p_value, monte_carlo_error, method: "freeman_halton_monte_carlo" }
}

/// Sum of ln n! over the cells.
fn cost<'a>(cells: impl Iterator<Item = &'a u64>) -> f64 {
    cells.map(|&n| ln_gamma(n as f64 + 1.0)).sum()
}

/// [`cost`] of a random table: each cell hypergeometric given those before it.
fn random_cost(rows: &[u64], columns: &[u64], rng: &mut impl Rng) -> f64 {
    let mut left = columns.to_vec();
    let mut sum = 0.0;
    for &row in rows {
        let mut to_place = row;
        let mut places: u64 = left.iter().sum();
        for column in &mut left {
            let n = Hypergeometric::new(places, *column, to_place).sample(rng);
            places -= *column;
            *column -= n;
            to_place -= n;
            sum += ln_gamma(n as f64 + 1.0);
        }
    }
    sum
}
