//! Exact and asymptotic tests of r x c tables.

mod monte_carlo;
mod network;

use crate::base::Seed;
use serde::Serialize;

/// A p-value with how it was had.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ExactTest {
    pub p_value: f64,
    /// 0 where every table was counted.
    pub monte_carlo_error: f64,
    /// `freeman_halton_exact` or `freeman_halton_monte_carlo`.
    pub method: &'static str,
}

/// Two tables are equally probable where their probabilities differ by less than this part: without it, rounding
/// decides which of the tied tables count.
const TIE: f64 = 1e-7;

/// Freeman & Halton (1951): probability of a table at most as probable as this one, margins fixed.
/// Rows of two counts each `[failed, alive]`, or any r x c. Exact where few tables exist, else `simulations` tables.
///
/// Exact by the network algorithm of Mehta & Patel (1983), up to 2 million arcs and 2 million partial sums: five
/// batches of a hundred vines are far within, twenty batches of fifty with sixty failures are beyond. Then Monte
/// Carlo by random tables with the same margins, p = (b+1)/(m+1) (Phipson & Smyth 2010) with its standard error.
/// Short rows are filled with 0; empty rows and columns say nothing and are left out; p = 1 where fewer than two of
/// either remain.
pub fn freeman_halton(rows: &[Vec<u64>], simulations: usize, seed: Seed) -> ExactTest {
    let table = without_empty(rows);
    if table.len() < 2 || table[0].len() < 2 {
        return ExactTest { p_value: 1.0, monte_carlo_error: 0.0, method: "freeman_halton_exact" };
    }
    match network::p_value(&table) {
        Some(p_value) => ExactTest { p_value, monte_carlo_error: 0.0, method: "freeman_halton_exact" },
        None => monte_carlo::test(&table, simulations, seed),
    }
}

/// The table without empty rows and columns, rectangular.
fn without_empty(rows: &[Vec<u64>]) -> Vec<Vec<u64>> {
    let width = rows.iter().map(Vec::len).max().unwrap_or(0);
    let used: Vec<usize> = (0..width).filter(|&j| rows.iter().any(|r| r.get(j).is_some_and(|&n| n > 0))).collect();
    let full = |row: &Vec<u64>| used.iter().map(|&j| row.get(j).copied().unwrap_or(0)).collect::<Vec<u64>>();
    rows.iter().map(full).filter(|row| row.iter().any(|&n| n > 0)).collect()
}

/// Sums of the columns of a rectangular table.
fn column_sums(table: &[Vec<u64>]) -> Vec<u64> {
    let mut sums = vec![0u64; table.first().map_or(0, Vec::len)];
    for row in table {
        sums.iter_mut().zip(row).for_each(|(sum, n)| *sum = sum.saturating_add(*n));
    }
    sums
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn small_tables_by_hand() {
        let p = |rows: &[Vec<u64>]| freeman_halton(rows, 99, Seed::new(1)).p_value;
        // Tea tasting: (16 + 1) * 2 of 70.
        assert!((p(&[vec![3, 1], vec![1, 3]]) - 34.0 / 70.0).abs() < 1e-12);
        // Three rows of two, two failures in all: both in one row 3 of 15, in two rows 12 of 15.
        assert!((p(&[vec![2, 0], vec![0, 2], vec![0, 2]]) - 3.0 / 15.0).abs() < 1e-12);
        assert!((p(&[vec![1, 1], vec![1, 1], vec![0, 2]]) - 1.0).abs() < 1e-12);
        // Nothing to compare.
        assert_eq!(p(&[]), 1.0);
        assert_eq!(p(&[vec![0, 3], vec![0, 9], vec![]]), 1.0);
    }

    #[test]
    fn transposing_and_reordering_change_nothing() {
        let p = |rows: &[Vec<u64>]| freeman_halton(rows, 99, Seed::new(1)).p_value;
        let one = p(&[vec![1, 3, 10, 6], vec![2, 3, 10, 7], vec![1, 6, 14, 12]]);
        let other = p(&[vec![1, 1, 2], vec![6, 3, 3], vec![14, 10, 10], vec![12, 6, 7]]);
        assert!((one - other).abs() < 1e-10, "{one} {other}");
    }

    #[test]
    fn monte_carlo_agrees_with_the_exact_value() {
        let table = vec![vec![0, 40], vec![1, 39], vec![2, 38], vec![7, 33], vec![3, 37]];
        let exact = freeman_halton(&table, 0, Seed::new(2));
        assert_eq!(exact.method, "freeman_halton_exact");
        let drawn = monte_carlo::test(&table, 20_000, Seed::new(2));
        assert!((drawn.p_value - exact.p_value).abs() < 4.0 * drawn.monte_carlo_error, "{drawn:?} {exact:?}");
    }

    #[test]
    fn large_tables_are_simulated() {
        let table: Vec<Vec<u64>> = (0..40).map(|i| vec![5 + i % 7, 90 + 3 * i]).collect();
        let test = freeman_halton(&table, 999, Seed::new(3));
        assert_eq!(test.method, "freeman_halton_monte_carlo");
        assert!(test.p_value > 0.0 && test.p_value <= 1.0 && test.monte_carlo_error > 0.0);
        assert_eq!(test, freeman_halton(&table, 999, Seed::new(3)));
    }
}
