//! Random tables with given margins.

use super::{ExactTest, column_totals};
use crate::base::Seed;
use crate::base::seed::below;
use crate::stats::hypergeometric::{Hypergeometric, TIE};
use crate::stats::special::ln_gamma;
use rand::Rng;
use rayon::prelude::*;

/// Tables drawn from one stream of random numbers; fixed, so that the number of threads changes nothing.
const PER_STREAM: usize = 250;

/// Items dealt in all tables together are kept below this, so that a million vines finish; at least [`FEWEST`] tables
/// are drawn.
const MOST_DEALT: u64 = 50_000_000;
const FEWEST: usize = 999;

/// The share of random tables at most as probable as this one: (b+1)/(m+1), with its standard error
/// sqrt(q (1-q) / m) at q = (b+1)/(m+2), never 0. At least one table is drawn, and fewer than asked for where that would
/// be more work than [`MOST_DEALT`].
pub(super) fn test(table: &[Vec<u64>], simulations: usize, seed: Seed) -> ExactTest {
    let margins = Margins::of(table);
    let m = margins.affordable(simulations.max(1));
    // ln P is a constant less the sum of the cells' ln n!.
    let threshold = cost(table.iter().flatten()) - TIE;
    let as_extreme: usize = (0..m.div_ceil(PER_STREAM))
        .into_par_iter()
        .map(|stream| {
            let mut rng = seed.stream("freeman_halton", stream as u64);
            let tables = PER_STREAM.min(m - stream * PER_STREAM);
            margins.costs(tables, &mut rng).into_iter().filter(|&cost| cost >= threshold).count()
        })
        .sum();
    let p_value = (as_extreme as f64 + 1.0) / (m as f64 + 1.0);
    let q = (as_extreme as f64 + 1.0) / (m as f64 + 2.0);
    let monte_carlo_error = (q * (1.0 - q) / m as f64).sqrt();
    ExactTest { p_value, monte_carlo_error, method: "freeman_halton_monte_carlo" }
}

/// Sum of ln n! over the cells.
fn cost<'a>(cells: impl Iterator<Item = &'a u64>) -> f64 {
    cells.map(|&n| ln_gamma(n as f64 + 1.0)).sum()
}

/// The margins of the tables, the largest column last, and ln n! up to the largest row.
struct Margins {
    rows: Vec<u64>,
    columns: Vec<u64>,
    ln_factorial: Vec<f64>,
}

/// Drawing a cell costs about as much as dealing this many items.
const CELL: u64 = 64;
/// Largest row of which ln n! is kept in a table.
const KEPT: u64 = 1 << 20;

impl Margins {
    fn of(table: &[Vec<u64>]) -> Self {
        let rows: Vec<u64> = table.iter().map(|row| row.iter().sum()).collect();
        let mut columns = column_totals(table);
        columns.sort_unstable();
        let most = rows.iter().copied().max().unwrap_or(0).min(KEPT);
        Margins { rows, columns, ln_factorial: (0..=most).map(|n| ln_gamma(n as f64 + 1.0)).collect() }
    }

    fn ln_factorial(&self, n: u64) -> f64 {
        self.ln_factorial.get(n as usize).copied().unwrap_or_else(|| ln_gamma(n as f64 + 1.0))
    }

    /// Items outside the largest column.
    fn dealt_out(&self) -> u64 {
        self.columns.iter().rev().skip(1).sum()
    }

    /// Cells count as [`CELL`] items each, the most that drawing one costs.
    fn affordable(&self, tables: usize) -> usize {
        let each = self.dealt_out().min(CELL * self.cells()).max(1);
        tables.min((MOST_DEALT / each).max(FEWEST as u64) as usize)
    }

    fn cells(&self) -> u64 {
        (self.rows.len() * self.columns.len()) as u64
    }

    /// [`cost`] of so many random tables. Few items outside the largest column are dealt out one by one, more are
    /// drawn cell by cell.
    fn costs(&self, tables: usize, rng: &mut impl Rng) -> Vec<f64> {
        if self.dealt_out() > CELL * self.cells() || self.rows.iter().sum::<u64>() > KEPT {
            return (0..tables).map(|_| self.drawn(rng)).collect();
        }
        let items = |(row, &n): (usize, &u64)| std::iter::repeat_n(row as u32, n as usize);
        let mut items: Vec<u32> = self.rows.iter().enumerate().flat_map(items).collect();
        (0..tables).map(|_| self.dealt(&mut items, rng)).collect()
    }

    /// A table by dealing out items: the first of a partial Fisher-Yates shuffle go to the first column, and so on;
    /// what a row has left is its cell in the last.
    fn dealt(&self, items: &mut [u32], rng: &mut impl Rng) -> f64 {
        let mut left = self.rows.clone();
        let (mut at, mut sum) = (0, 0.0);
        for &column in self.columns.iter().rev().skip(1) {
            let mut cells = vec![0; left.len()];
            for _ in 0..column {
                items.swap(at, at + below(rng, items.len() - at));
                cells[items[at] as usize] += 1;
                at += 1;
            }
            left.iter_mut().zip(&cells).for_each(|(l, n)| *l -= n);
            sum += cells.iter().map(|&n| self.ln_factorial(n)).sum::<f64>();
        }
        sum + left.iter().map(|&n| self.ln_factorial(n)).sum::<f64>()
    }

    /// A table cell by cell, each hypergeometric given those before it.
    fn drawn(&self, rng: &mut impl Rng) -> f64 {
        let mut left = self.columns.clone();
        let mut sum = 0.0;
        for &row in &self.rows {
            let mut to_place = row;
            let mut places: u64 = left.iter().sum();
            for column in &mut left {
                let n = Hypergeometric::new(places, *column, to_place).sample(rng);
                places -= *column;
                *column -= n;
                to_place -= n;
                sum += self.ln_factorial(n);
            }
        }
        sum
    }
}
