//! What the levels of several factors, taken together, can tell: rank, aliased levels, and what is left of one.
//!
//! Letters: X the 0/1 columns of the factors' levels, W the weights. The first factor keeps a column for each of its
//! levels, which add up to the constant; each further one has a column for each level but its lowest code. The first
//! factor is swept out by its level means, which leaves S = X2'WX2 - X2'WX1 (X1'WX1)^-1 X1'WX2, and S is factorised in
//! the order given (Cholesky; the orthogonal factorisation of Golub 1965, `golub-1965`, on products). A column of which
//! less than 1e-10 of its sum of squares is left beside those before it is aliased: it equals a sum of them.
//!
//! Time goes with the cells and with the cube of the number of levels outside the first factor; factors of which each
//! level is made of whole levels of the first one cost nothing more. So the factor with most levels goes first.

use std::collections::BTreeMap;

/// A column is in the span of the others where less than this part of its sum of squares is left.
const RANK_TOLERANCE: f64 = 1e-10;

/// A share below this is worked out again from the residuals themselves.
const DOUBTFUL: f64 = 1e-6;

/// A share below this is rounding.
const NOTHING_LEFT: f64 = 1e-9;

/// A number of times this near a whole one is that one.
const ROUNDING: f64 = 1e-8;

/// A level's indicator times a number.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Term {
    /// Place of the factor in the order given.
    pub factor: usize,
    pub code: u32,
    pub times: f64,
}

/// A level that can't be told apart from those before it.
#[derive(Clone, Debug, PartialEq)]
pub struct Alias {
    pub factor: usize,
    pub code: u32,
    /// Its indicator is the sum of these.
    pub equals: Vec<Term>,
}

/// The span of some factors' dummies and the constant, factorised once.
#[derive(Clone, Debug)]
pub struct Span {
    weights: Vec<f64>,
    total: f64,
    /// For each factor the number of each cell's level, in rising order of codes.
    factors: Vec<Numbered>,
    /// The first factor (or the constant): the weight of each level.
    groups: Vec<f64>,
    columns: Vec<Column>,
    /// For each group the columns that it meets, and with what weight.
    met: Vec<Vec<(usize, f64)>>,
    /// The columns that stand for themselves, in order, and the rows of L over them.
    kept: Vec<usize>,
    lower: Vec<Vec<f64>>,
    aliased: Vec<Alias>,
}

#[derive(Clone, Debug)]
struct Numbered {
    number: Vec<usize>,
    codes: Vec<u32>,
    /// The first of its columns; none where each level is made of whole groups.
    first: Option<usize>,
}

/// A level outside the first factor.
#[derive(Clone, Debug)]
struct Column {
    factor: usize,
    code: u32,
    weight: f64,
}

/// An indicator with the groups taken off.
struct Swept {
    /// Products with the kept columns.
    right: Vec<f64>,
    /// Sum of squares left.
    left: f64,
}

impl Span {
    /// `factors` and `weights` hold one value per cell (the shortest rules). `u32::MAX` is a level of its own. Cells of
    /// no positive, finite weight take no part.
    pub fn new(factors: &[&[u32]], weights: &[f64]) -> Self {
        let cells = factors.iter().map(|codes| codes.len()).fold(weights.len(), usize::min);
        let sound = |w: &f64| if w.is_finite() && *w > 0.0 { *w } else { 0.0 };
        let weights: Vec<f64> = weights.iter().take(cells).map(sound).collect();
        let factors: Vec<Numbered> = factors.iter().map(|codes| Numbered::new(codes, &weights)).collect();
        let groups = factors.first().map_or_else(|| vec![weights.iter().sum()], |f| f.sums(&weights));
        let mut span = Span {
            total: weights.iter().sum(),
            weights,
            factors,
            groups,
            columns: Vec::new(),
            met: Vec::new(),
            kept: Vec::new(),
            lower: Vec::new(),
            aliased: Vec::new(),
        };
        span.lay_out_columns();
        span.meet();
        span.factorise();
        span
    }

    /// Number of columns: the constant, and each factor's levels but one.
    pub fn columns(&self) -> usize {
        match self.total > 0.0 {
            true => 1 + self.factors.iter().map(|f| f.codes.len().saturating_sub(1)).sum::<usize>(),
            false => 0,
        }
    }

    /// How many of them stand for themselves.
    pub fn rank(&self) -> usize {
        self.columns().saturating_sub(self.aliased.len())
    }

    /// Levels that equal a sum of levels before them, by factor and code. The lowest code of each factor but the first
    /// is never among them: it is what the first factor leaves of the others.
    pub fn aliased(&self) -> &[Alias] {
        &self.aliased
    }

    /// Weighted sum of squares of a variable left after projecting off the span, over its sum of squares about its
    /// mean, in 0..1: one less the weighted R^2. `variable` holds cells with their values, 0 elsewhere; one without
    /// variance gives 0.
    pub fn share_left(&self, variable: &[(usize, f64)]) -> f64 {
        let variable = self.within(variable);
        let moment = |power| variable.iter().map(|&(cell, y)| self.weights[cell] * f64::powi(y, power)).sum::<f64>();
        let squares = moment(2);
        let before = if self.total > 0.0 { squares - moment(1).powi(2) / self.total } else { 0.0 };
        if before <= 1e-12 * squares || before <= 0.0 {
            return 0.0;
        }
        let swept = self.sweep(&variable);
        let half = self.forward(&swept.right);
        let mut share = (swept.left - half.iter().map(|h| h * h).sum::<f64>()) / before;
        if share < DOUBTFUL {
            share = self.squares_left(&variable, &self.backward(half)) / before;
        }
        if share < NOTHING_LEFT { 0.0 } else { share.min(1.0) }
    }

    /// The sum of levels that a variable of the span equals; none where something is left of it, or no factor is there.
    /// Of the sums that differ by whole factors one with few levels.
    pub fn sum_of(&self, variable: &[(usize, f64)]) -> Option<Vec<Term>> {
        if self.factors.is_empty() || self.share_left(variable) > 0.0 {
            return None;
        }
        let variable = self.within(variable);
        let effects = self.backward(self.forward(&self.sweep(&variable).right));
        let group_sums = self.group_sums(&variable);
        Some(self.with_few_levels(&self.terms(&effects, &group_sums), None))
    }

    /// What an aliased level equals, said with few levels: each other factor's levels add up to 1, so a number may be
    /// taken off all of one factor's and added to those of another.
    pub fn in_few_levels(&self, alias: &Alias) -> Vec<Term> {
        self.with_few_levels(&alias.equals, Some(alias.factor))
    }

    /// Takes each factor's commonest number off all its levels, and adds what was taken off to one of the factors;
    /// `but` is left as it is.
    fn with_few_levels(&self, terms: &[Term], but: Option<usize>) -> Vec<Term> {
        let mut times: Vec<Vec<f64>> = self.factors.iter().map(|f| vec![0.0; f.codes.len()]).collect();
        for term in terms {
            let level = self.factors[term.factor].codes.binary_search(&term.code).unwrap_or(0);
            times[term.factor][level] = term.times;
        }
        let numbers = times.iter().enumerate();
        let taken: Vec<f64> = numbers.map(|(f, times)| if but == Some(f) { 0.0 } else { commonest(times) }).collect();
        let bearers = (0..times.len()).filter(|factor| but != Some(*factor));
        bearers.map(|bearer| self.shifted(&times, &taken, bearer)).min_by_key(Vec::len).unwrap_or_default()
    }

    /// Takes numbers off the factors' levels, and adds their sum to those of the bearer.
    fn shifted(&self, times: &[Vec<f64>], taken: &[f64], bearer: usize) -> Vec<Term> {
        let sum: f64 = taken.iter().sum();
        let factors = self.factors.iter().zip(times).zip(taken).enumerate();
        let terms = factors.flat_map(|(factor, ((of, times), taken))| {
            let shift = if factor == bearer { sum - taken } else { -taken };
            of.codes.iter().zip(times).map(move |(&code, times)| Term { factor, code, times: times + shift })
        });
        terms.filter(|t| t.times.abs() > ROUNDING).map(Term::rounded).collect()
    }

    fn within(&self, variable: &[(usize, f64)]) -> Vec<(usize, f64)> {
        let sound =
            |(cell, y): &&(usize, f64)| *cell < self.weights.len() && self.weights[*cell] > 0.0 && y.is_finite();
        variable.iter().filter(sound).copied().collect()
    }

    fn group_of(&self, cell: usize) -> usize {
        self.factors.first().map_or(0, |first| first.number[cell])
    }

    /// Columns for the levels of further factors. A level made of whole groups needs none.
    fn lay_out_columns(&mut self) {
        let Some((first, others)) = self.factors.split_first_mut() else { return };
        for (factor, of) in others.iter_mut().enumerate().map(|(i, f)| (i + 1, f)) {
            let sums = of.sums(&self.weights);
            if let Some(homes) = of.homes_of(first, &self.weights) {
                self.aliased.extend(whole_groups(factor, &of.codes, &first.codes, &homes));
                continue;
            }
            of.first = Some(self.columns.len());
            let column = |(&code, &weight): (&u32, &f64)| Column { factor, code, weight };
            self.columns.extend(of.codes.iter().zip(&sums).skip(1).map(column));
        }
    }

    /// A cell's columns.
    fn columns_of(&self, cell: usize) -> impl Iterator<Item = usize> {
        self.factors.iter().filter_map(move |f| Some(f.first? + f.number[cell].checked_sub(1)?))
    }

    fn meet(&mut self) {
        let mut met = vec![BTreeMap::<usize, f64>::new(); self.groups.len()];
        for (cell, &w) in self.weights.iter().enumerate().filter(|(_, w)| **w > 0.0) {
            self.columns_of(cell).for_each(|j| *met[self.group_of(cell)].entry(j).or_default() += w);
        }
        self.met = met.into_iter().map(|columns| columns.into_iter().collect()).collect();
    }

    /// S.
    fn swept_products(&self) -> Vec<Vec<f64>> {
        let width = self.columns.len();
        let mut products = vec![vec![0.0; width]; width];
        for (cell, &w) in self.weights.iter().enumerate().filter(|(_, w)| **w > 0.0) {
            let columns: Vec<usize> = self.columns_of(cell).collect();
            columns.iter().for_each(|&a| columns.iter().for_each(|&b| products[a][b] += w));
        }
        for (met, &group) in self.met.iter().zip(&self.groups).filter(|(_, w)| **w > 0.0) {
            for &(a, wa) in met {
                met.iter().for_each(|&(b, wb)| products[a][b] -= wa * wb / group);
            }
        }
        products
    }

    /// Cholesky in order; what depends on columns before it is set aside.
    fn factorise(&mut self) {
        for (j, products) in self.swept_products().into_iter().enumerate() {
            let right: Vec<f64> = self.kept.iter().map(|&k| products[k]).collect();
            let mut row = self.forward(&right);
            let left = products[j] - row.iter().map(|l| l * l).sum::<f64>();
            if left > RANK_TOLERANCE * self.columns[j].weight {
                row.push(left.sqrt());
                self.lower.push(row);
                self.kept.push(j);
                continue;
            }
            let effects = self.backward(row);
            let sums: Vec<f64> = self.met.iter().map(|met| weight_met(met, j)).collect();
            let Column { factor, code, .. } = self.columns[j];
            self.aliased.push(Alias { factor, code, equals: self.terms(&effects, &sums) });
        }
        self.aliased.sort_by_key(|alias| (alias.factor, alias.code));
    }

    /// L^-1 times `right`.
    fn forward(&self, right: &[f64]) -> Vec<f64> {
        let mut solved: Vec<f64> = Vec::with_capacity(right.len());
        for (row, right) in self.lower.iter().zip(right) {
            let known: f64 = row.iter().zip(&solved).map(|(l, x)| l * x).sum();
            solved.push((right - known) / row[solved.len()]);
        }
        solved
    }

    /// L'^-1 times `half`.
    fn backward(&self, mut half: Vec<f64>) -> Vec<f64> {
        for k in (0..half.len()).rev() {
            half[k] /= self.lower[k][k];
            let known = half[k];
            half.iter_mut().take(k).zip(&self.lower[k]).for_each(|(x, l)| *x -= known * l);
        }
        half
    }

    /// Sum of weight times value in each group.
    fn group_sums(&self, variable: &[(usize, f64)]) -> Vec<f64> {
        let mut sums = vec![0.0; self.groups.len()];
        variable.iter().for_each(|&(cell, y)| sums[self.group_of(cell)] += self.weights[cell] * y);
        sums
    }

    fn sweep(&self, variable: &[(usize, f64)]) -> Swept {
        let mut products = vec![0.0; self.columns.len()];
        let mut sums = BTreeMap::<usize, f64>::new();
        let mut left = 0.0;
        for &(cell, y) in variable {
            let value = self.weights[cell] * y;
            left += value * y;
            *sums.entry(self.group_of(cell)).or_default() += value;
            self.columns_of(cell).for_each(|j| products[j] += value);
        }
        for (group, sum) in sums {
            let mean = sum / self.groups[group];
            left -= sum * mean;
            self.met[group].iter().for_each(|&(j, w)| products[j] -= w * mean);
        }
        Swept { right: self.kept.iter().map(|&k| products[k]).collect(), left }
    }

    /// Each group's effect beside the kept columns' effects.
    fn group_effects(&self, effects: &[f64], sums: &[f64]) -> Vec<f64> {
        let mut of_column = vec![0.0; self.columns.len()];
        self.kept.iter().zip(effects).for_each(|(&k, &effect)| of_column[k] = effect);
        let others = |group: usize| self.met[group].iter().map(|&(j, w)| w * of_column[j]).sum::<f64>();
        let weighed = sums.iter().zip(&self.groups).enumerate();
        weighed.map(|(group, (sum, weight))| (sum - others(group)) / weight).collect()
    }

    fn terms(&self, effects: &[f64], sums: &[f64]) -> Vec<Term> {
        let Some(first) = self.factors.first() else { return Vec::new() };
        let groups = first.codes.iter().zip(self.group_effects(effects, sums));
        let groups = groups.map(|(&code, times)| Term { factor: 0, code, times });
        let others = self.kept.iter().zip(effects).map(|(&k, &times)| {
            let Column { factor, code, .. } = self.columns[k];
            Term { factor, code, times }
        });
        groups.chain(others).filter(|t| t.times.abs() > ROUNDING).map(Term::rounded).collect()
    }

    /// The sum of squares left, cell by cell: an error of the effects counts by its square only.
    fn squares_left(&self, variable: &[(usize, f64)], effects: &[f64]) -> f64 {
        let mut fitted = vec![0.0; self.columns.len()];
        self.kept.iter().zip(effects).for_each(|(&k, &effect)| fitted[k] = effect);
        let groups = self.group_effects(effects, &self.group_sums(variable));
        let mut left = vec![0.0; self.weights.len()];
        variable.iter().for_each(|&(cell, y)| left[cell] += y);
        let rest = |cell: usize| {
            let of_columns: f64 = self.columns_of(cell).map(|j| fitted[j]).sum();
            left[cell] - groups[self.group_of(cell)] - of_columns
        };
        let cells = self.weights.iter().enumerate().filter(|(_, w)| **w > 0.0);
        cells.map(|(cell, w)| w * rest(cell).powi(2)).sum()
    }
}

impl Term {
    fn rounded(self) -> Self {
        let whole = self.times.round();
        Term { times: if (self.times - whole).abs() < ROUNDING { whole } else { self.times }, ..self }
    }
}

impl Numbered {
    fn new(codes: &[u32], weights: &[f64]) -> Self {
        let weighed = codes.iter().zip(weights).filter(|(_, w)| **w > 0.0);
        let mut levels: Vec<u32> = weighed.map(|(code, _)| *code).collect();
        levels.sort_unstable();
        levels.dedup();
        let number = |code: &u32| levels.binary_search(code).unwrap_or(0);
        Numbered { number: codes.iter().take(weights.len()).map(number).collect(), codes: levels, first: None }
    }

    fn sums(&self, values: &[f64]) -> Vec<f64> {
        let mut sums = vec![0.0; self.codes.len()];
        let weighed = self.number.iter().zip(values).filter(|(_, v)| **v > 0.0);
        weighed.for_each(|(&number, value)| sums[number] += value);
        sums
    }

    /// For each level of `inner` the level of this factor that holds it; none where one lies in several.
    fn homes_of(&self, inner: &Numbered, weights: &[f64]) -> Option<Vec<usize>> {
        let mut homes = vec![usize::MAX; inner.codes.len()];
        let cells = weights.iter().enumerate().filter(|(_, w)| **w > 0.0);
        for (&mine, home) in cells.map(|(cell, _)| (&self.number[cell], inner.number[cell])) {
            match &mut homes[home] {
                known if *known == usize::MAX => *known = mine,
                known if *known == mine => {}
                _ => return None,
            }
        }
        Some(homes)
    }
}

/// The number that stands most often, the smallest of these; numbers within rounding count as one.
fn commonest(times: &[f64]) -> f64 {
    let mut sorted = times.to_vec();
    sorted.sort_by(f64::total_cmp);
    let runs = sorted.chunk_by(|a, b| b - a < ROUNDING);
    runs.rev().max_by_key(|run| run.len()).and_then(|run| run.first().copied()).unwrap_or(0.0)
}

/// Levels that are made of whole groups, but the first.
fn whole_groups(factor: usize, codes: &[u32], groups: &[u32], homes: &[usize]) -> Vec<Alias> {
    let mut aliased: Vec<Alias> = codes.iter().map(|&code| Alias { factor, code, equals: Vec::new() }).collect();
    for (&code, &home) in groups.iter().zip(homes) {
        if let Some(alias) = aliased.get_mut(home) {
            alias.equals.push(Term { factor: 0, code, times: 1.0 });
        }
    }
    aliased.into_iter().skip(1).collect()
}

/// The weight with which a group meets a column.
fn weight_met(met: &[(usize, f64)], column: usize) -> f64 {
    met.binary_search_by_key(&column, |(j, _)| *j).map_or(0.0, |at| met[at].1)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn term(factor: usize, code: u32, times: f64) -> Term {
        Term { factor, code, times }
    }

    #[test]
    fn batches_on_whole_rows_are_sums_of_rows() {
        let (row, batch) = ([0, 1, 2, 3, 4], [7, 7, 8, 8, 9]);
        let span = Span::new(&[&row, &batch], &[3.0, 1.0, 4.0, 1.0, 5.0]);
        assert_eq!((span.columns(), span.rank()), (7, 5));
        let sums: Vec<_> = span.aliased().iter().map(|a| (a.factor, a.code, a.equals.clone())).collect();
        assert_eq!(sums, [(1, 8, vec![term(0, 2, 1.0), term(0, 3, 1.0)]), (1, 9, vec![term(0, 4, 1.0)])]);
        // The other way round, the row that closes each batch is what its batch leaves of the others.
        let span = Span::new(&[&batch, &row], &[3.0, 1.0, 4.0, 1.0, 5.0]);
        assert_eq!(span.rank(), 5);
        assert_eq!(span.aliased().iter().map(|a| a.code).collect::<Vec<_>>(), [3, 4]);
        assert_eq!(span.aliased()[0].equals, [term(0, 8, 1.0), term(1, 2, -1.0)]);
    }

    #[test]
    fn two_halves_without_a_common_row_lack_one_rank() {
        // Rows 0 and 1 hold batches 0 and 1, rows 2 and 3 batches 2 and 3.
        let (row, batch) = ([0, 0, 1, 1, 2, 2, 3, 3], [0, 1, 0, 1, 2, 3, 2, 3]);
        let span = Span::new(&[&row, &batch], &[1.0; 8]);
        assert_eq!((span.columns(), span.rank()), (7, 6));
        let [alias] = span.aliased() else { panic!("{:?}", span.aliased()) };
        assert_eq!((alias.factor, alias.code), (1, 3));
        assert_eq!(alias.equals, [term(0, 2, 1.0), term(0, 3, 1.0), term(1, 2, -1.0)]);
        assert_eq!(span.in_few_levels(alias), alias.equals);
        // A stock of two batches, the first of them without a column: the constant less the third.
        let (batch, stock, row) = ([0, 1, 2, 0, 1, 2], [1, 1, 0, 1, 1, 0], [0, 0, 0, 1, 1, 1]);
        let span = Span::new(&[&row, &batch, &stock], &[1.0; 6]);
        let [alias] = span.aliased() else { panic!("{:?}", span.aliased()) };
        assert_eq!(alias.equals, [term(0, 0, 1.0), term(0, 1, 1.0), term(1, 2, -1.0)]);
        assert_eq!(span.in_few_levels(alias), [term(1, 0, 1.0), term(1, 1, 1.0)]);
    }

    #[test]
    fn a_sum_of_two_factors_is_found_and_one_vine_unties_it() {
        // Batches A B C D of clones 1 1 2 2 by crews x y y z: B is what crew x leaves of clone 1.
        let (clone, crew) = ([0, 0, 1, 1], [0, 1, 1, 2]);
        let span = Span::new(&[&crew, &clone], &[180.0; 4]);
        let b = [(1, 1.0)];
        assert_eq!(span.share_left(&b), 0.0);
        assert_eq!(span.sum_of(&b), Some(vec![term(0, 0, -1.0), term(1, 0, 1.0)]));
        let (clone, crew) = ([0, 0, 1, 1, 0], [0, 1, 1, 2, 1]);
        let span = Span::new(&[&crew, &clone], &[180.0, 180.0, 180.0, 180.0, 1.0]);
        let left = span.share_left(&b);
        assert!(left > 1e-3 && left < 1e-2 && span.sum_of(&b).is_none(), "{left}");
    }

    #[test]
    fn odd_input_is_harmless() {
        let none = Span::new(&[], &[]);
        assert_eq!((none.columns(), none.rank(), none.share_left(&[(3, 1.0)])), (0, 0, 0.0));
        let constant = Span::new(&[], &[1.0; 4]);
        assert_eq!((constant.columns(), constant.rank(), constant.sum_of(&[(0, 1.0)])), (1, 1, None));
        assert!((constant.share_left(&[(0, 1.0)]) - 1.0).abs() < 1e-12);
        let odd = Span::new(&[&[0, u32::MAX, 2], &[5, 5, 6, 6]], &[1.0, f64::NAN, f64::INFINITY, -1.0]);
        assert_eq!((odd.columns(), odd.rank(), odd.share_left(&[(0, f64::NAN), (9, 1.0)])), (1, 1, 0.0));
    }
}
