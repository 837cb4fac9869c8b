//! Exact and asymptotic tests of r x c tables.

mod monte_carlo;
mod network;

use super::hypergeometric::FourFold;
use super::special::chi_square_sf;
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

/// Freeman & Halton (1951): probability of a table at most as probable as this one, margins fixed.
/// Rows of two counts each `[failed, alive]`, or any r x c. Exact where few tables exist, else `simulations` tables.
///
/// Exact by the network algorithm of Mehta & Patel (1983), up to a million arcs and a million partial sums: five
/// batches of a hundred vines are far within, twenty batches of fifty with sixty failures are beyond. Then Monte
/// Carlo by random tables with the same margins (fewer than asked for, at least 999, where they would deal out more than
/// fifty million failures), p = (b+1)/(m+1) (Phipson & Smyth 2010) with its standard error.
/// Short rows are filled with 0; empty rows and columns say nothing and are left out; p = 1 where fewer than two of
/// either remain.
pub fn freeman_halton(rows: &[Vec<u64>], simulations: usize, seed: Seed) -> ExactTest {
    freeman_halton_within(rows, MOST_ARCS, simulations, seed)
}

/// Arcs and partial sums up to which [`freeman_halton`] counts every table: some tenths of a second.
const MOST_ARCS: usize = 1_000_000;

/// The same, exact up to `most_arcs` only: where the p-value is one of many.
pub fn freeman_halton_within(rows: &[Vec<u64>], most_arcs: usize, simulations: usize, seed: Seed) -> ExactTest {
    let table = without_empty(rows);
    if table.len() < 2 || table[0].len() < 2 {
        return ExactTest { p_value: 1.0, monte_carlo_error: 0.0, method: "freeman_halton_exact" };
    }
    match network::p_value(&table, most_arcs) {
        Some(p_value) => ExactTest { p_value, monte_carlo_error: 0.0, method: "freeman_halton_exact" },
        None => monte_carlo::test(&table, simulations, seed),
    }
}

/// The table without empty rows and columns, rectangular.
fn without_empty(rows: &[Vec<u64>]) -> Vec<Vec<u64>> {
    let table = rectangular(rows);
    let used: Vec<bool> = column_sums(&table).iter().map(|&n| n > 0.0).collect();
    let kept = |row: Vec<u64>| row.into_iter().zip(&used).filter(|(_, used)| **used).map(|(n, _)| n).collect();
    table.into_iter().filter(|row| row.iter().any(|&n| n > 0)).map(kept).collect()
}

/// The table with short rows filled with 0.
fn rectangular(rows: &[Vec<u64>]) -> Vec<Vec<u64>> {
    let width = rows.iter().map(Vec::len).max().unwrap_or(0);
    rows.iter().map(|row| row.iter().copied().chain(std::iter::repeat(0)).take(width).collect()).collect()
}

/// Column sums as counts.
fn column_totals(table: &[Vec<u64>]) -> Vec<u64> {
    let width = table.first().map_or(0, Vec::len);
    (0..width).map(|j| table.iter().map(|row| row[j]).sum()).collect()
}

fn row_sums(table: &[Vec<u64>]) -> Vec<f64> {
    table.iter().map(|row| row.iter().map(|&n| n as f64).sum()).collect()
}

fn column_sums(table: &[Vec<u64>]) -> Vec<f64> {
    let width = table.first().map_or(0, Vec::len);
    (0..width).map(|j| table.iter().map(|row| row[j] as f64).sum()).collect()
}

/// A statistic referred to the chi-square distribution.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ChiSquare {
    pub statistic: f64,
    pub df: f64,
    pub p_value: f64,
}

impl ChiSquare {
    pub fn new(statistic: f64, df: f64) -> Self {
        ChiSquare { statistic, df, p_value: chi_square_sf(statistic, df) }
    }
}

/// An r x c table against independence of rows and columns, cell by cell.
///
/// Letters: O the count, E = row sum x column sum / n the expected one. Where an empty row or column leaves E = 0,
/// the residuals are 0 and the row or column takes no degree of freedom.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Independence {
    /// E.
    pub expected: Vec<Vec<f64>>,
    /// (O - E) / sqrt(E).
    pub pearson_residuals: Vec<Vec<f64>>,
    /// (O - E) / sqrt(E (1 - row share) (1 - column share)), about standard normal (Haberman 1973).
    pub standardised_residuals: Vec<Vec<f64>>,
    /// Sum of (O - E)^2 / E (Pearson 1900).
    pub chi_square: ChiSquare,
    /// 2 x sum of O ln(O / E), the likelihood-ratio statistic.
    pub g_squared: ChiSquare,
    /// sqrt(chi-square / (n (min(r, c) - 1))), 0..1 (Cramer 1946).
    pub cramers_v: f64,
}

/// Asymptotic tests of independence (Agresti 2002, sections 3.2 and 3.3, `agresti-2002`). None where fewer than two
/// rows or two columns hold anything. Trust them where no E is below about 5; else [`freeman_halton`].
pub fn independence(rows: &[Vec<u64>]) -> Option<Independence> {
    let table = rectangular(rows);
    let (row_sums, column_sums) = (row_sums(&table), column_sums(&table));
    let used = |sums: &[f64]| sums.iter().filter(|&&n| n > 0.0).count();
    let (r, c) = (used(&row_sums), used(&column_sums));
    if r < 2 || c < 2 {
        return None;
    }
    let n: f64 = row_sums.iter().sum();
    let cells = |f: &dyn Fn(f64, f64, f64, f64) -> f64| -> Vec<Vec<f64>> {
        let row_of = |(row, &i): (&Vec<u64>, &f64)| {
            row.iter().zip(&column_sums).map(|(&o, &j)| f(o as f64, i * j / n, i / n, j / n)).collect()
        };
        table.iter().zip(&row_sums).map(row_of).collect()
    };
    let sum = |cells: Vec<Vec<f64>>| cells.iter().flatten().sum::<f64>();
    let df = ((r - 1) * (c - 1)) as f64;
    let chi_square = sum(cells(&|o, e, _, _| over(o - e, e) * (o - e)));
    Some(Independence {
        expected: cells(&|_, e, _, _| e),
        pearson_residuals: cells(&|o, e, _, _| over(o - e, e.sqrt())),
        standardised_residuals: cells(&|o, e, i, j| over(o - e, (e * (1.0 - i) * (1.0 - j)).sqrt())),
        chi_square: ChiSquare::new(chi_square, df),
        g_squared: ChiSquare::new(sum(cells(&|o, e, _, _| if o > 0.0 { 2.0 * o * (o / e).ln() } else { 0.0 })), df),
        cramers_v: (chi_square / (n * (r.min(c) - 1) as f64)).sqrt().min(1.0),
    })
}

/// a / b, 0 where b is 0.
fn over(a: f64, b: f64) -> f64 {
    if b > 0.0 { a / b } else { 0.0 }
}

/// Chi-square of a four-fold table with Yates' (1934, `yates-1934`) correction: |O - E| less 1/2, or less |O - E| where
/// that is smaller. None where a margin is 0.
pub fn yates(table: FourFold) -> Option<ChiSquare> {
    let [[a, b], [c, d]] = table.map(|row| row.map(|n| n as f64));
    let (r1, r2, c1, c2, n) = (a + b, c + d, a + c, b + d, a + b + c + d);
    let margins = r1 * r2 * c1 * c2;
    let apart = (a - r1 * c1 / n).abs();
    // sum over the four cells of 1/E is n^3 / (r1 r2 c1 c2).
    (margins > 0.0).then(|| ChiSquare::new((apart - apart.min(0.5)).powi(2) * n.powi(3) / margins, 1.0))
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

    #[test]
    fn independence_by_hand() {
        // 12/400 against 60/400 dead: E 36 and 364; 2 x 24^2 (1/36 + 1/364) = 35.1648.
        let both = independence(&[vec![12, 388], vec![60, 340]]).map(|i| i.chi_square.statistic);
        assert!(both.is_some_and(|x| (x - 35.1648).abs() < 5e-5), "{both:?}");
        let corrected = yates([[12, 388], [60, 340]]).map(|x| x.statistic);
        let by_hand = 2.0 * 23.5f64.powi(2) * (1.0 / 36.0 + 1.0 / 364.0);
        assert!(corrected.is_some_and(|x| (x - by_hand).abs() < 1e-12), "{corrected:?}");
        assert_eq!(yates([[0, 0], [3, 4]]), None);
        assert_eq!(independence(&[vec![3, 4], vec![0, 0]]), None);
        // An empty row changes nothing.
        let with = independence(&[vec![12, 388], vec![0, 0], vec![60, 340]]).map(|i| i.chi_square);
        assert_eq!(with, independence(&[vec![12, 388], vec![60, 340]]).map(|i| i.chi_square));
    }
}
