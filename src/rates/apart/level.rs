//! How far each level can be told apart, and with what it is confounded.

use super::grid::Grid;
use super::sentence::{self, Tie};
use crate::block::{Code, UNKNOWN};
use crate::stats::estimable::Span;
use crate::stats::projection::indicators;
use rayon::prelude::*;
use serde::Serialize;
use std::collections::{BTreeMap, BTreeSet};

/// How far a level can be told apart.
#[derive(Clone, Debug, Default)]
pub(in crate::rates) struct LevelApart {
    /// 0 not at all, 1 wholly.
    pub(in crate::rates) separable: f64,
    /// With what, where `separable` is 0; else empty.
    pub(in crate::rates) confounded_with: Vec<Confounded>,
}

impl LevelApart {
    /// Whether the counts can tell this level's rate from that of the other factors at all. Where they can't, a point
    /// would be what was assumed, and only bounds can be given; the first of `confounded_with` says why.
    pub(in crate::rates) fn is_told(&self) -> bool {
        self.separable > 0.0
    }
}

/// What a level that can't be told apart is confounded with: its vines are those of these levels.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Confounded {
    /// In words: `rows 7 to 12`, `crew x`, `clone c1 less crew x`.
    pub with: String,
    /// The level's indicator is the sum of these levels' times these numbers.
    pub equals: Vec<Times>,
    pub sentence: String,
    /// Which vines, walks or plantings would untie it.
    pub would_help: String,
}

/// A level's indicator times a number.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Times {
    pub factor: String,
    /// Empty: the vines without a label.
    pub level: String,
    pub times: f64,
}

/// By code.
pub(super) fn levels(grid: &Grid, factor: usize) -> BTreeMap<Code, LevelApart> {
    let beside = Beside::of(grid, factor);
    let all = indicators(&grid.codes[factor]);
    let level = |(code, cells): (Code, Vec<(usize, f64)>)| (code, beside.level(code, &cells));
    all.into_par_iter().map(level).collect::<Vec<_>>().into_iter().collect()
}

/// A factor with those that it has to be told apart from.
struct Beside<'a> {
    grid: &'a Grid<'a>,
    factor: usize,
    others: Vec<usize>,
    span: Span,
}

impl<'a> Beside<'a> {
    fn of(grid: &'a Grid<'a>, factor: usize) -> Self {
        let others = grid.beside(factor);
        let codes: Vec<&[Code]> = others.iter().map(|&other| grid.codes[other].as_slice()).collect();
        Beside { grid, factor, span: Span::new(&codes, &grid.seen), others }
    }

    fn level(&self, code: Code, cells: &[(usize, f64)]) -> LevelApart {
        let apart = LevelApart { separable: self.span.share_left(cells), confounded_with: Vec::new() };
        let seen = self.grid.totals[self.factor].get(&code).copied().unwrap_or(0.0);
        let compared = code != UNKNOWN && seen > 0.0 && seen < self.grid.tally.total.seen as f64;
        match compared && !apart.is_told() {
            true => LevelApart { confounded_with: self.confounded(code, cells, seen), ..apart },
            false => apart,
        }
    }

    /// Each factor of which some whole levels are this one's vines; where there is none, the sum over several factors.
    fn confounded(&self, code: Code, cells: &[(usize, f64)], seen: f64) -> Vec<Confounded> {
        let of_levels =
            |&other: &usize| self.whole_levels(other, cells, seen).map(|codes| Tie::Levels { other, codes });
        let ties: Vec<Tie> = self.others.iter().filter_map(of_levels).collect();
        let sum = || self.span.sum_of(cells).map(|terms| Tie::Sum(self.of_tally(&terms)));
        let ties = if ties.is_empty() { sum().into_iter().collect() } else { ties };
        ties.iter().map(|tie| sentence::confounded(self.grid, self.factor, code, tie)).collect()
    }

    /// The levels of another factor of which this level's vines are all.
    fn whole_levels(&self, other: usize, cells: &[(usize, f64)], seen: f64) -> Option<Vec<Code>> {
        let with_vines = cells.iter().filter(|(cell, _)| self.grid.seen[*cell] > 0.0);
        let codes: BTreeSet<Code> = with_vines.map(|(cell, _)| self.grid.known[other][*cell]).collect();
        let total: f64 = codes.iter().filter_map(|code| self.grid.totals[other].get(code)).sum();
        (!codes.contains(&UNKNOWN) && total == seen).then(|| codes.into_iter().collect())
    }

    /// Terms with the tally's own numbers of factors.
    fn of_tally(&self, terms: &[crate::stats::estimable::Term]) -> Vec<(usize, Code, f64)> {
        terms.iter().filter_map(|t| Some((*self.others.get(t.factor)?, t.code, t.times))).collect()
    }
}
