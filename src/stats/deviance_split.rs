//! What each of two factors explains of failures beside the other, and what they explain in common.
//!
//! Letters: D(.) is -2 ln likelihood of the logistic model of failures with these factors. Unique to a beside b is
//! D(b) - D(a, b), unique to b beside a is D(a) - D(a, b), and common is D() - D(a) - D(b) + D(a, b): the three add up
//! to D() - D(a, b) (the elements of Newton & Spurrell 1967, `newton-spurrell-1967`, on deviances). Where a is wholly
//! aliased with b, its unique part is 0 and nothing tells whose the common part is. Common may be negative: each
//! factor then shows what the other hides. It isn't a test: rows planted together share more than their number.
//!
//! D(a, b) is found by Newton's method with halving of steps. The larger factor is eliminated level by level, and what
//! remains is solved by conjugate gradients (Hestenes & Stiefel 1952, `hestenes-stiefel-1952`), so that an iteration
//! costs time in proportion to the cells. A level of only failures, or of none, is fitted exactly by itself and taken
//! out first, as often as there is one.

use super::incidence::{components, is_nested};
use super::special::{logistic, softplus};
use serde::Serialize;
use std::collections::BTreeMap;

/// Deviance unique to each of two factors, and common to both.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct DevianceSplit {
    /// Of the first beside the second.
    pub unique: f64,
    /// Columns of the first that stand for themselves beside the second.
    pub unique_df: usize,
    /// Of the second beside the first.
    pub other_unique: f64,
    pub other_unique_df: usize,
    pub common: f64,
}

/// The split of the deviance of `failed` of `seen` between factors `a` and `b`, one value per cell (the shortest
/// rules). Cells where a code is `u32::MAX` or nobody was seen take no part; none where no cell is left.
pub fn deviance_split(a: &[u32], b: &[u32], failed: &[u64], seen: &[u64]) -> Option<DevianceSplit> {
    let cells = Cell::collapse(a, b, failed, seen);
    let (a, b): (Vec<u32>, Vec<u32>) = cells.iter().map(|c| (c.a as u32, c.b as u32)).unzip();
    let weights = vec![1.0; cells.len()];
    let met = components(&[&a, &b], &weights);
    let null = grouped(&cells, |_| 0);
    let (of_a, of_b) = (grouped(&cells, |c| c.a), grouped(&cells, |c| c.b));
    let both = match (is_nested(&a, &b, &weights), is_nested(&b, &a, &weights)) {
        _ if cells.is_empty() => return None,
        (true, _) => of_a,
        (_, true) => of_b,
        _ => Additive::of(cells).deviance().min(of_a).min(of_b),
    };
    Some(DevianceSplit {
        unique: of_b - both,
        unique_df: met.of.first().map_or(0, BTreeMap::len) - met.count,
        other_unique: of_a - both,
        other_unique_df: met.of.get(1).map_or(0, BTreeMap::len) - met.count,
        common: null - of_a - of_b + both,
    })
}

/// A pair of levels, numbered from 0.
#[derive(Clone, Copy, Debug)]
struct Cell {
    a: usize,
    b: usize,
    failed: f64,
    seen: f64,
}

impl Cell {
    fn collapse(a: &[u32], b: &[u32], failed: &[u64], seen: &[u64]) -> Vec<Cell> {
        let mut pairs: BTreeMap<(u32, u32), (f64, f64)> = BTreeMap::new();
        let cells = a.iter().zip(b).zip(failed.iter().zip(seen));
        for ((&a, &b), (&failed, &seen)) in
            cells.filter(|((a, b), (_, n))| **a != u32::MAX && **b != u32::MAX && **n > 0)
        {
            let pair = pairs.entry((a, b)).or_default();
            pair.0 += failed.min(seen) as f64;
            pair.1 += seen as f64;
        }
        let (of_a, of_b) = (numbers(pairs.keys().map(|pair| pair.0)), numbers(pairs.keys().map(|pair| pair.1)));
        pairs.iter().map(|((a, b), &(failed, seen))| Cell { a: of_a[a], b: of_b[b], failed, seen }).collect()
    }

    /// -2 ln likelihood at a log odds of failure.
    fn deviance(&self, eta: f64) -> f64 {
        let part = |count: f64, minus_ln: f64| if count > 0.0 { count * minus_ln } else { 0.0 };
        2.0 * (part(self.failed, softplus(-eta)) + part(self.seen - self.failed, softplus(eta)))
    }
}

fn numbers(codes: impl Iterator<Item = u32>) -> BTreeMap<u32, usize> {
    let mut numbers: BTreeMap<u32, usize> = codes.map(|code| (code, 0)).collect();
    numbers.values_mut().enumerate().for_each(|(i, number)| *number = i);
    numbers
}

/// Failed and seen of each group.
fn totals(cells: &[Cell], group: impl Fn(&Cell) -> usize) -> Vec<(f64, f64)> {
    let mut totals = vec![(0.0, 0.0); cells.iter().map(|c| group(c) + 1).max().unwrap_or(0)];
    for cell in cells {
        totals[group(cell)].0 += cell.failed;
        totals[group(cell)].1 += cell.seen;
    }
    totals
}

/// D of a rate for each group.
fn grouped(cells: &[Cell], group: impl Fn(&Cell) -> usize) -> f64 {
    let part = |count: f64, of: f64| if count > 0.0 { -2.0 * count * (count / of).ln() } else { 0.0 };
    totals(cells, group).iter().map(|&(failed, seen)| part(failed, seen) + part(seen - failed, seen)).sum()
}

/// The model with an effect for each level of both factors: `a` the larger one.
struct Additive {
    cells: Vec<Cell>,
    sizes: (usize, usize),
}

/// Effects of the levels of `a` and of `b`.
#[derive(Clone)]
struct Effects {
    a: Vec<f64>,
    b: Vec<f64>,
}

/// Newton's equations at some effects: information of each cell and level, and the score of each level.
struct Equations {
    cells: Vec<f64>,
    a: Vec<f64>,
    b: Vec<f64>,
    score_a: Vec<f64>,
    score_b: Vec<f64>,
}

/// Newton stops where a step lowers the deviance by less than this part of itself plus 0.1.
const TOLERANCE: f64 = 1e-12;
const MOST_STEPS: usize = 80;
/// Conjugate gradients stop where the squared residual has fallen to this part.
const SOLVED: f64 = 1e-22;

impl Additive {
    fn of(mut cells: Vec<Cell>) -> Self {
        let size = |cells: &[Cell], of: fn(&Cell) -> usize| cells.iter().map(|c| of(c) + 1).max().unwrap_or(0);
        if size(&cells, |c| c.a) < size(&cells, |c| c.b) {
            cells.iter_mut().for_each(|c| std::mem::swap(&mut c.a, &mut c.b));
        }
        let sizes = (size(&cells, |c| c.a), size(&cells, |c| c.b));
        loop {
            let before = cells.len();
            for of in [|c: &Cell| c.a, |c: &Cell| c.b] {
                let mixed: Vec<bool> =
                    totals(&cells, of).iter().map(|(failed, seen)| *failed > 0.0 && failed < seen).collect();
                cells.retain(|c| mixed[of(c)]);
            }
            if cells.len() == before {
                return Additive { cells, sizes };
            }
        }
    }

    /// D(a, b): of what was taken out it is 0.
    fn deviance(&self) -> f64 {
        let mut effects = Effects { a: vec![0.0; self.sizes.0], b: vec![0.0; self.sizes.1] };
        let mut deviance = self.deviance_at(&effects);
        for _ in 0..MOST_STEPS {
            let step = self.step(&effects);
            let Some((next, lower)) = self.halved(&effects, &step, deviance) else { break };
            let done = deviance - lower <= TOLERANCE * (lower + 0.1);
            (effects, deviance) = (next, lower);
            if done {
                break;
            }
        }
        deviance
    }

    fn deviance_at(&self, effects: &Effects) -> f64 {
        self.cells.iter().map(|c| c.deviance(effects.a[c.a] + effects.b[c.b])).sum()
    }

    /// The longest of the step, its half, its quarter ... that doesn't raise the deviance.
    fn halved(&self, from: &Effects, step: &Effects, deviance: f64) -> Option<(Effects, f64)> {
        let moved = |from: &[f64], step: &[f64], part: f64| from.iter().zip(step).map(|(x, s)| x + part * s).collect();
        (0..40).map(|k| f64::powi(0.5, k)).find_map(|part| {
            let next = Effects { a: moved(&from.a, &step.a, part), b: moved(&from.b, &step.b, part) };
            let lower = self.deviance_at(&next);
            (lower <= deviance).then_some((next, lower))
        })
    }

    fn equations(&self, effects: &Effects) -> Equations {
        let (a, b) = self.sizes;
        let zeros = |n| vec![0.0; n];
        let mut of = Equations { cells: Vec::new(), a: zeros(a), b: zeros(b), score_a: zeros(a), score_b: zeros(b) };
        for cell in &self.cells {
            let eta = effects.a[cell.a] + effects.b[cell.b];
            let (mu, rest) = (logistic(eta), logistic(-eta));
            let (weight, score) = (cell.seen * mu * rest, cell.failed * rest - (cell.seen - cell.failed) * mu);
            of.cells.push(weight);
            of.a[cell.a] += weight;
            of.b[cell.b] += weight;
            of.score_a[cell.a] += score;
            of.score_b[cell.b] += score;
        }
        of
    }

    /// Newton's step; a direction without information gets none.
    fn step(&self, effects: &Effects) -> Effects {
        let of = self.equations(effects);
        let by_a: Vec<f64> = of.score_a.iter().zip(&of.a).map(|(score, w)| over(*score, *w)).collect();
        let carried = self.spread_to_b(&of, &by_a);
        let right: Vec<f64> = of.score_b.iter().zip(carried).map(|(score, c)| score - c).collect();
        let b = self.conjugate_gradients(&of, &right);
        let taken = self.spread_to_a(&of, &b);
        let a = by_a.iter().zip(&taken).zip(&of.a).map(|((x, t), w)| x - over(*t, *w)).collect();
        Effects { a, b }
    }

    fn spread_to_a(&self, of: &Equations, b: &[f64]) -> Vec<f64> {
        let mut sums = vec![0.0; self.sizes.0];
        self.cells.iter().zip(&of.cells).for_each(|(c, w)| sums[c.a] += w * b[c.b]);
        sums
    }

    fn spread_to_b(&self, of: &Equations, a: &[f64]) -> Vec<f64> {
        let mut sums = vec![0.0; self.sizes.1];
        self.cells.iter().zip(&of.cells).for_each(|(c, w)| sums[c.b] += w * a[c.a]);
        sums
    }

    /// The information of b with a eliminated, times `x`.
    fn schur(&self, of: &Equations, x: &[f64]) -> Vec<f64> {
        let means: Vec<f64> = self.spread_to_a(of, x).iter().zip(&of.a).map(|(t, w)| over(*t, *w)).collect();
        let carried = self.spread_to_b(of, &means);
        x.iter().zip(&of.b).zip(carried).map(|((x, w), c)| w * x - c).collect()
    }

    /// Solves schur x = `right`, scaled by the information of each level.
    fn conjugate_gradients(&self, of: &Equations, right: &[f64]) -> Vec<f64> {
        let scaled = |r: &[f64]| r.iter().zip(&of.b).map(|(r, w)| over(*r, *w)).collect::<Vec<f64>>();
        let (mut x, mut left) = (vec![0.0; right.len()], right.to_vec());
        let mut direction = scaled(&left);
        let mut size = dot(&left, &direction);
        let enough = SOLVED * size;
        for _ in 0..2 * right.len() + 20 {
            let image = self.schur(of, &direction);
            let curvature = dot(&direction, &image);
            if size <= enough || curvature <= 0.0 {
                break;
            }
            let along = size / curvature;
            x.iter_mut().zip(&direction).for_each(|(x, d)| *x += along * d);
            left.iter_mut().zip(&image).for_each(|(r, i)| *r -= along * i);
            let next = scaled(&left);
            let next_size = dot(&left, &next);
            let turn = next_size / size;
            direction.iter_mut().zip(&next).for_each(|(d, n)| *d = n + turn * *d);
            size = next_size;
        }
        x
    }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

/// x / w, 0 where w is.
fn over(x: f64, w: f64) -> f64 {
    if w > 0.0 { x / w } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::super::glm::{Config, Design, Factor, logistic_regression};
    use super::*;

    #[test]
    fn crossed_factors_agree_with_the_dense_regression() {
        let a: Vec<u32> = (0..60).map(|i| i % 12).collect();
        let b: Vec<u32> = (0..60).map(|i| (i * i / 7 + i) % 5).collect();
        let failed: Vec<u64> = (0..60).map(|i| if i % 12 == 3 { 0 } else { (i * 5 + i * i) % 8 }).collect();
        let seen: Vec<u64> = (0..60).map(|i| 9 + i % 4).collect();
        let dense = |factors: &[(&[u32], u32)]| {
            let factors: Vec<Factor> = factors.iter().map(|&(codes, levels)| Factor { codes, levels }).collect();
            logistic_regression(&Design::treatment(60, &factors), &failed, &seen, &Config::default())
        };
        let (of_a, of_b) = (dense(&[(&a, 12)]), dense(&[(&b, 5)]));
        let (null, both) = (dense(&[]), dense(&[(&a, 12), (&b, 5)]));
        let split = deviance_split(&a, &b, &failed, &seen).expect("cells");
        assert!(both.separated, "a level without failures");
        let close = |got: f64, want: f64| assert!((got - want).abs() < 1e-7, "{got} {want}");
        close(split.unique, of_b.deviance - both.deviance);
        close(split.other_unique, of_a.deviance - both.deviance);
        close(split.common, null.deviance - of_a.deviance - of_b.deviance + both.deviance);
        assert_eq!((split.unique_df, split.other_unique_df), (both.rank - of_b.rank, both.rank - of_a.rank));
        // The other way round the same parts change places.
        let turned = deviance_split(&b, &a, &failed, &seen).expect("cells");
        close(turned.unique, split.other_unique);
        close(turned.common, split.common);
    }

    #[test]
    fn nested_factors_leave_nothing_unique_and_odd_input_is_harmless() {
        let split = deviance_split(&[0, 1, 2, 3], &[0, 0, 1, 1], &[1, 4, 3, 3], &[10; 4]).expect("cells");
        assert_eq!((split.other_unique, split.other_unique_df, split.unique_df), (0.0, 0, 2));
        assert!(split.unique > 0.0 && split.common > 0.0);
        let none = u32::MAX;
        assert!(deviance_split(&[none, 1], &[0, 1], &[1, 1], &[4, 0]).is_none());
        let same = deviance_split(&[0, 1, 9], &[0, 1], &[4, 9], &[4, 4]).expect("cells");
        assert_eq!((same.unique, same.other_unique, same.common), (0.0, 0.0, 0.0));
        // Separated by both factors together, though by none alone.
        let apart = deviance_split(&[0, 0, 1, 1, 2, 2], &[0, 1, 0, 1, 0, 1], &[9, 3, 4, 0, 9, 2], &[9; 6]);
        assert!(apart.is_some_and(|s| s.unique.is_finite() && s.other_unique > 0.0), "{apart:?}");
    }
}
