//! Whether a factor's levels vary at all, in the light of other factors: the score test that a variance is 0.
//!
//! Letters: cell i has n(i) plants of which d(i) failed, and the probability p(i) under the null model, which holds
//! the other factors and leaves the tested one out; w = n p (1 - p), r = d - n p. Were the tested factor's effects on
//! the logit random with variance v, the derivative of the log-likelihood in v at v = 0 would be
//! 1/2 sum over levels of [S^2 - sum of w], with S the level's sum of r (Lin 1997, `lin-1997`; Commenges &
//! Jacqmin-Gadda 1997, `commenges-1997`). Because p was fitted, S varies by less than the sum of w; T takes off what it
//! does vary by, so that T is 0 on average under the null model (to first order: with X what the null model holds,
//! Z the levels and W = diag(w), var S = c (Z'WZ - Z'WX (X'WX)^-1 X'WZ)). A large T says that whole levels lie off it.
//!
//! c makes good that a fitted rate is closer to its own counts than the true one: on average p (1 - p) comes out as
//! 1 - h / n of what it is, with the leverage h = w x'(X'WX)^-1 x of the cell, so that c = sum of w / (1 - h / n) over sum
//! of w; with one rate for all it is N / (N - 1), the hypergeometric variance.

use super::glm::Cholesky;
use super::special::ln_binomial_pmf;
use crate::base::Seed;
use crate::base::seed::uniform;
use rand::Rng;
use rayon::prelude::*;
use serde::Serialize;

/// The cells, one value each in every list (the shortest rules).
#[derive(Clone, Copy, Debug)]
pub struct Cells<'a> {
    pub failed: &'a [u64],
    pub seen: &'a [u64],
    /// The tested factor's level in each cell; `u32::MAX` takes no part in the test, but does in the null model.
    pub codes: &'a [u32],
    /// p, in 0..1. Cells with what is no probability are left out.
    pub fitted: &'a [f64],
}

/// What the null model holds: what was fitted from the same counts.
#[derive(Clone, Copy, Debug)]
pub enum Null<'a> {
    /// A design of so many columns, each cell's columns other than 0 with their values; aliased ones do no harm.
    Design { columns: usize, rows: &'a [Vec<(usize, f64)>] },
    /// A rate for each group of cells.
    Groups(&'a [u32]),
}

/// The test with its null distribution drawn.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct VarianceScore {
    /// T = 1/2 sum over levels of [S^2 - var S].
    pub statistic: f64,
    /// (b + 1) / (m + 1), b of m draws with a statistic at least as large (Phipson & Smyth 2010).
    pub p_value: f64,
    pub monte_carlo_error: f64,
    pub draws: u64,
}

/// Cells times draws is kept below this, so that forty thousand cells finish; at least [`FEWEST`] draws are made.
const MOST_CELLS_DRAWN: u64 = 4_000_000;
const FEWEST: u64 = 199;

/// The score test of v = 0, one-sided, against `draws` sets of counts drawn from the null model: d ~ Binomial(n, p),
/// each refitted by one Newton step (S less its projection on what the null model holds), because p was fitted from the
/// counts too, and its sum of S^2 times c.
///
/// It takes plants for independent given their cell's probability: where neighbours share their ground, a factor that
/// follows the ground is found as well. None where no level's S can vary beside the null model (a factor that the null
/// model holds already), or with fewer than two levels.
pub fn variance_score(cells: &Cells, null: &Null, draws: u64, name: &str, seed: Seed) -> Option<VarianceScore> {
    let model = Model::new(cells, null)?;
    let observed: Vec<f64> = model.cells.iter().map(|c| c.failed - c.mean).collect();
    let squares = model.squares(&observed);
    let draws = draws.min((MOST_CELLS_DRAWN / model.cells.len().max(1) as u64).max(FEWEST)).max(1);
    let of_draw = |draw: u64| model.squares(&model.drawn(&mut seed.stream(name, draw)));
    // Sums in another order differ in the last digits; those are ties.
    let as_large = |draw: &u64| model.inflation * of_draw(*draw) >= squares - 1e-10 * (1.0 + squares.abs());
    let larger = (0..draws).into_par_iter().filter(as_large).count();
    let p_value = (larger as f64 + 1.0) / (draws as f64 + 1.0);
    Some(VarianceScore {
        statistic: 0.5 * (squares - model.variance),
        p_value,
        monte_carlo_error: (p_value * (1.0 - p_value) / (draws as f64 + 1.0)).sqrt(),
        draws,
    })
}

struct Cell {
    level: Option<usize>,
    seen: f64,
    failed: f64,
    /// n p and w.
    mean: f64,
    weight: f64,
    columns: Vec<(usize, f64)>,
    /// P(d <= k) for k = 0, 1, ... up to where nothing is left.
    cumulative: Vec<f64>,
}

/// Per level what is taken off its S for each unit of X'r, by column; and the leverage h of each cell.
type Projection = (Vec<Vec<(usize, f64)>>, Vec<f64>);

struct Model {
    cells: Vec<Cell>,
    columns: usize,
    /// Per level what is taken off its S for each unit of X'r, by column.
    projection: Vec<Vec<(usize, f64)>>,
    /// Sum over levels of var S.
    variance: f64,
    /// c.
    inflation: f64,
}

impl Model {
    fn new(cells: &Cells, null: &Null) -> Option<Self> {
        let levels = Numbers::of(cells.codes);
        let (columns, of_cell): (usize, Vec<Vec<(usize, f64)>>) = match null {
            Null::Design { columns, rows } => (*columns, rows.to_vec()),
            Null::Groups(groups) => {
                let numbers = Numbers::of(groups);
                let one = |g: &u32| numbers.place(*g).map(|place| (place, 1.0)).into_iter().collect();
                (numbers.codes.len(), groups.iter().map(one).collect())
            }
        };
        let cell = |i: usize| Cell::new(cells, i, levels.place(*cells.codes.get(i)?), of_cell.get(i)?, columns);
        let cells: Vec<Cell> = (0..of_cell.len()).filter_map(cell).collect();
        let mut model = Model { cells, columns, projection: Vec::new(), variance: 0.0, inflation: 1.0 };
        let leverages: Vec<f64>;
        (model.projection, leverages) = match null {
            Null::Design { .. } => model.projected(levels.codes.len()),
            Null::Groups(_) => model.shares(levels.codes.len()),
        };
        model.inflation = model.inflated(&leverages);
        model.variance = model.inflation * model.left().iter().sum::<f64>();
        (levels.codes.len() >= 2 && model.variance > 0.0).then_some(model)
    }

    /// Z'WX, by level.
    fn crossed(&self, levels: usize) -> Vec<Vec<f64>> {
        let mut crossed = vec![vec![0.0; self.columns]; levels];
        for cell in &self.cells {
            if let Some(level) = cell.level {
                cell.columns.iter().for_each(|&(column, value)| crossed[level][column] += cell.weight * value);
            }
        }
        crossed
    }

    /// c, from the cells' leverages.
    fn inflated(&self, leverages: &[f64]) -> f64 {
        let tested = || self.cells.iter().zip(leverages).filter(|(cell, _)| cell.level.is_some());
        let plain: f64 = tested().map(|(cell, _)| cell.weight).sum();
        let made_good = |(cell, h): (&Cell, &f64)| cell.weight / (1.0 - h / cell.seen).max(0.5);
        if plain > 0.0 { tested().map(made_good).sum::<f64>() / plain } else { 1.0 }
    }

    /// Z'WX (X'WX)^-1, by level, and the leverage of each cell.
    fn projected(&self, levels: usize) -> Projection {
        let mut information = vec![vec![0.0; self.columns]; self.columns];
        for cell in &self.cells {
            for &(a, x) in &cell.columns {
                cell.columns.iter().for_each(|&(b, y)| information[a][b] += cell.weight * x * y);
            }
        }
        let cholesky = Cholesky::new(information);
        let solved = |crossed: Vec<f64>| cholesky.solve(&crossed).into_iter().enumerate().collect();
        let leverage = |cell: &Cell| {
            let mut x = vec![0.0; self.columns];
            cell.columns.iter().for_each(|&(column, value)| x[column] += value);
            let along = cholesky.solve(&x);
            cell.weight * cell.columns.iter().map(|&(column, value)| value * along[column]).sum::<f64>()
        };
        let leverages = self.cells.iter().map(leverage).collect();
        (self.crossed(levels).into_iter().map(solved).collect(), leverages)
    }

    /// The same where X'WX is diagonal, each level's share of each group's weight; only what isn't 0.
    fn shares(&self, levels: usize) -> Projection {
        let mut groups = vec![0.0; self.columns];
        let mut of_level = vec![std::collections::BTreeMap::<usize, f64>::new(); levels];
        for cell in &self.cells {
            for &(group, _) in &cell.columns {
                groups[group] += cell.weight;
                if let Some(level) = cell.level {
                    *of_level[level].entry(group).or_default() += cell.weight;
                }
            }
        }
        let share = |(group, weight): (usize, f64)| (groups[group] > 0.0).then(|| (group, weight / groups[group]));
        let of = |cell: &Cell| cell.columns.first().map_or(0.0, |&(group, _)| groups[group]);
        let leverage = |cell: &Cell| if of(cell) > 0.0 { cell.weight / of(cell) } else { 0.0 };
        let leverages = self.cells.iter().map(leverage).collect();
        (of_level.into_iter().map(|level| level.into_iter().filter_map(share).collect()).collect(), leverages)
    }

    /// var S of each level, 0 where the null model leaves it nothing.
    fn left(&self) -> Vec<f64> {
        let levels = self.projection.len();
        let mut weights = vec![0.0; levels];
        self.cells.iter().for_each(|c| c.level.into_iter().for_each(|level| weights[level] += c.weight));
        let crossed = self.crossed_sparse(levels);
        let left = |level: usize| {
            let of = |&(column, times): &(usize, f64)| times * crossed[level].get(&column).copied().unwrap_or(0.0);
            let left = weights[level] - self.projection[level].iter().map(of).sum::<f64>();
            if left > 1e-6 * weights[level] { left } else { 0.0 }
        };
        (0..levels).map(left).collect()
    }

    fn crossed_sparse(&self, levels: usize) -> Vec<std::collections::HashMap<usize, f64>> {
        let mut crossed = vec![std::collections::HashMap::new(); levels];
        for cell in &self.cells {
            for (&(column, value), level) in cell.columns.iter().zip(std::iter::repeat(cell.level)) {
                level.into_iter().for_each(|l| *crossed[l].entry(column).or_default() += cell.weight * value);
            }
        }
        crossed
    }

    /// Sum over levels of S^2, S less its projection.
    fn squares(&self, residuals: &[f64]) -> f64 {
        let (mut sums, mut held) = (vec![0.0; self.projection.len()], vec![0.0; self.columns]);
        for (cell, r) in self.cells.iter().zip(residuals) {
            cell.level.into_iter().for_each(|level| sums[level] += r);
            cell.columns.iter().for_each(|&(column, value)| held[column] += value * r);
        }
        let off =
            |projection: &[(usize, f64)]| projection.iter().map(|&(column, times)| times * held[column]).sum::<f64>();
        sums.iter().zip(&self.projection).map(|(s, projection)| (s - off(projection)).powi(2)).sum()
    }

    /// d - n p of counts drawn from the null model.
    fn drawn(&self, rng: &mut impl Rng) -> Vec<f64> {
        self.cells.iter().map(|cell| cell.draw(uniform(rng)) - cell.mean).collect()
    }
}

impl Cell {
    /// None without plants, a probability, or a sound column.
    fn new(cells: &Cells, i: usize, level: Option<usize>, columns: &[(usize, f64)], width: usize) -> Option<Cell> {
        let (&failed, &seen, &p) = (cells.failed.get(i)?, cells.seen.get(i)?, cells.fitted.get(i)?);
        let sound = seen > 0 && (0.0..=1.0).contains(&p) && columns.iter().all(|(c, v)| *c < width && v.is_finite());
        let n = seen as f64;
        sound.then(|| Cell {
            level,
            seen: n,
            failed: failed.min(seen) as f64,
            mean: n * p,
            weight: n * p * (1.0 - p),
            columns: columns.to_vec(),
            cumulative: cumulative(seen, p),
        })
    }

    fn draw(&self, at: f64) -> f64 {
        self.cumulative.partition_point(|&below| below < at) as f64
    }
}

/// Below this much left, counts aren't drawn.
const NOTHING_LEFT: f64 = 1e-13;

/// The binomial distribution function from 0 up to the last count that is drawn.
fn cumulative(n: u64, p: f64) -> Vec<f64> {
    if p <= 0.0 {
        return Vec::new();
    }
    if p >= 1.0 {
        return vec![0.0; n as usize];
    }
    let mut sum = 0.0;
    let below = (0..n).map(|k| {
        sum += ln_binomial_pmf(k, n, p, 1.0 - p).exp();
        sum
    });
    below.take_while(|sum| *sum < 1.0 - NOTHING_LEFT).collect()
}

/// Codes numbered from 0 in rising order, `u32::MAX` left out.
struct Numbers {
    codes: Vec<u32>,
}

impl Numbers {
    fn of(codes: &[u32]) -> Self {
        let mut codes: Vec<u32> = codes.iter().copied().filter(|&c| c != u32::MAX).collect();
        codes.sort_unstable();
        codes.dedup();
        Numbers { codes }
    }

    fn place(&self, code: u32) -> Option<usize> {
        self.codes.binary_search(&code).ok()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::glm::{Config, Design, Factor, logistic_regression};

    fn test(failed: &[u64], seen: &[u64], codes: &[u32], fitted: &[f64], null: &Null) -> Option<VarianceScore> {
        variance_score(&Cells { failed, seen, codes, fitted }, null, 4_999, "variance", Seed::new(1))
    }

    #[test]
    fn one_rate_for_all_by_hand() {
        // Two cells of 10 and two levels, 2 and 6 failed: p = 0.4, S = -2 and 2, w = 2.4 each, of which the common
        // rate takes half, times c = 20/19: T = (4 + 4 - 2.4 * 20/19) / 2.
        let got = test(&[2, 6], &[10, 10], &[0, 1], &[0.4; 2], &Null::Groups(&[0, 0])).expect("a test");
        assert!((got.statistic - (8.0 - 2.4 * 20.0 / 19.0) / 2.0).abs() < 1e-12, "{got:?}");
        // After the Newton step |S| is half the difference of two Binomial(10, 0.4): sqrt(20/19) of it is at least 2 where
        // they are 4 apart.
        let pmf = |k: u64| ln_binomial_pmf(k, 10, 0.4, 0.6).exp();
        let pairs = (0..=10u64).flat_map(|a| (0..=10u64).map(move |b| (a, b))).filter(|&(a, b)| a.abs_diff(b) >= 4);
        let want: f64 = pairs.map(|(a, b)| pmf(a) * pmf(b)).sum();
        assert!((got.p_value - want).abs() < 4.0 * got.monte_carlo_error, "{got:?} {want}");
    }

    /// From the definition: the log-likelihood of normal effects of variance v (three-point Hermite quadrature, good
    /// to v^3) rises from v = 0 by T v.
    #[test]
    fn the_statistic_is_the_likelihoods_slope_at_no_variance() {
        let (failed, seen, codes) = ([1u64, 4, 0, 6, 2], [9u64, 12, 8, 15, 10], [0u32, 0, 1, 1, 2]);
        let fitted = [0.2, 0.3, 0.15, 0.3, 0.1f64];
        let ln_likelihood = |v: f64| {
            let of_level = |level: u32| {
                let at = |b: f64| {
                    let cell = |i: usize| {
                        let eta = (fitted[i] / (1.0 - fitted[i])).ln() + b;
                        failed[i] as f64 * eta - seen[i] as f64 * (1.0 + eta.exp()).ln()
                    };
                    (0..5).filter(|&i| codes[i] == level).map(cell).sum::<f64>().exp()
                };
                let end = (3.0 * v).sqrt();
                (at(-end) / 6.0 + at(0.0) * 2.0 / 3.0 + at(end) / 6.0).ln()
            };
            (0..3).map(of_level).sum::<f64>()
        };
        let slope = |v: f64| (ln_likelihood(v) - ln_likelihood(0.0)) / v;
        let given = Null::Design { columns: 0, rows: &[const { Vec::new() }; 5] };
        let got = test(&failed, &seen, &codes, &fitted, &given).expect("a test");
        // Richardson: two steps, the linear error taken off.
        let want = 2.0 * slope(1e-4) - slope(2e-4);
        assert!((got.statistic - want).abs() < 1e-4, "{got:?} {want}");
    }

    #[test]
    fn groups_and_their_dummies_are_the_same_model() {
        let (failed, seen) = ([1, 4, 0, 6, 2, 3], [9, 12, 8, 15, 10, 9]);
        let (group, codes) = ([0, 0, 1, 1, 2, 2], [0, 1, 1, 2, 2, 0]);
        let design = Design::treatment(6, &[Factor { codes: &group, levels: 3 }]);
        let fit = logistic_regression(&design, &failed, &seen, &Config::default());
        let fitted: Vec<f64> = fit.fitted.iter().map(|p| p.unwrap_or(f64::NAN)).collect();
        let null = Null::Design { columns: design.columns.len(), rows: &design.rows };
        let (a, b) = (
            test(&failed, &seen, &codes, &fitted, &null).expect("a test"),
            test(&failed, &seen, &codes, &fitted, &Null::Groups(&group)).expect("a test"),
        );
        assert!((a.statistic - b.statistic).abs() < 1e-8 && a.p_value == b.p_value, "{a:?} {b:?}");
    }

    #[test]
    fn what_the_null_model_holds_is_not_tested() {
        let (failed, seen, codes) = ([1, 4, 0, 6], [9, 12, 8, 15], [0, 0, 1, 1]);
        assert!(test(&failed, &seen, &codes, &[0.2; 4], &Null::Groups(&codes)).is_none());
        assert!(test(&failed, &seen, &[3; 4], &[0.2; 4], &Null::Groups(&[0; 4])).is_none());
        assert!(test(&failed, &seen, &codes, &[0.0; 4], &Null::Groups(&[0; 4])).is_none());
        assert!(test(&[], &[], &[], &[], &Null::Groups(&[])).is_none());
        assert!(test(&failed, &seen, &codes, &[f64::NAN; 4], &Null::Groups(&[0; 4])).is_none());
    }

    #[test]
    fn the_number_of_threads_changes_nothing() {
        let run = || test(&[2, 6, 3], &[10, 10, 10], &[0, 1, 2], &[0.4; 3], &Null::Groups(&[0; 3]));
        let pool = |threads| rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        assert_eq!(pool(1).install(run), pool(3).install(run));
    }

    #[test]
    fn draws_have_the_moments_of_the_binomial() {
        for (n, p) in [(1u64, 0.3), (12, 0.07), (400, 0.5), (30, 1.0), (5, 0.0)] {
            let fitted = [p];
            let of = Cells { failed: &[0], seen: &[n], codes: &[0], fitted: &fitted };
            let cell = Cell::new(&of, 0, Some(0), &[], 0).expect("a cell");
            let at = |i: u32| cell.draw((f64::from(i) + 0.5) / 20_000.0);
            let mean = (0..20_000).map(at).sum::<f64>() / 20_000.0;
            let variance = (0..20_000).map(|i| (at(i) - mean).powi(2)).sum::<f64>() / 20_000.0;
            assert!((mean - cell.mean).abs() < 1e-2 && (variance - cell.weight).abs() < 0.02 * (0.1 + cell.weight));
        }
    }
}
