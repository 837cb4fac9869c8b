//! The cells of a tally by factor, and which factor lies within which.

use crate::block::{Code, UNKNOWN};
use crate::stats::incidence::is_nested;
use crate::tally::Tally;
use std::cmp::Reverse;
use std::collections::BTreeMap;

/// A tally's cells, one weight per vine seen.
pub(super) struct Grid<'a> {
    pub(super) tally: &'a Tally,
    pub(super) seen: Vec<f64>,
    /// Per factor the code of each cell; unlabelled vines are a level of their own.
    pub(super) codes: Vec<Vec<Code>>,
    /// The same with [`UNKNOWN`] where the label names no one thing ("L1|L3").
    pub(super) known: Vec<Vec<Code>>,
    /// Per factor the vines seen of each known level.
    pub(super) totals: Vec<BTreeMap<Code, f64>>,
    /// `nested[i][o]`: each known level of i lies in a single known level of o.
    nested: Vec<Vec<bool>>,
}

impl<'a> Grid<'a> {
    pub(super) fn of(tally: &'a Tally) -> Self {
        let factors = 0..tally.factors.len();
        let code = |factor: usize| move |cell: &crate::tally::Cell| cell.codes.get(factor).copied().unwrap_or(UNKNOWN);
        let codes: Vec<Vec<Code>> = factors.map(|f| tally.cells.iter().map(code(f)).collect()).collect();
        let known: Vec<Vec<Code>> = codes.iter().zip(&tally.factors).map(|(c, f)| definite(c, &f.definite)).collect();
        let seen: Vec<f64> = tally.cells.iter().map(|cell| cell.counts.seen as f64).collect();
        let totals = known.iter().map(|codes| totals(codes, &seen)).collect();
        let within = |inner: &Vec<Code>| known.iter().map(|outer| is_nested(inner, outer, &seen)).collect();
        let nested = known.iter().map(within).collect();
        Grid { tally, seen, codes, known, totals, nested }
    }

    pub(super) fn name(&self, factor: usize) -> &'a str {
        self.tally.factors.get(factor).map_or("", |f| f.name.as_str())
    }

    /// Known levels with a vine seen.
    pub(super) fn levels(&self, factor: usize) -> usize {
        self.totals[factor].len()
    }

    /// Factors of which two known levels or more were seen.
    pub(super) fn varied(&self) -> Vec<usize> {
        (0..self.totals.len()).filter(|&f| self.levels(f) > 1).collect()
    }

    pub(super) fn is_nested(&self, inner: usize, outer: usize) -> bool {
        self.nested[inner][outer]
    }

    /// Whether each known level of one is one of the other.
    pub(super) fn is_same(&self, a: usize, b: usize) -> bool {
        self.is_nested(a, b) && self.is_nested(b, a)
    }

    /// The factors that a factor has to be told apart from, most levels first: those not nested within it.
    pub(super) fn beside(&self, factor: usize) -> Vec<usize> {
        self.most_levels_first((0..self.codes.len()).filter(|&other| other != factor && !self.is_nested(other, factor)))
    }

    pub(super) fn most_levels_first(&self, factors: impl Iterator<Item = usize>) -> Vec<usize> {
        let mut factors: Vec<usize> = factors.collect();
        factors.sort_by_key(|&factor| Reverse(self.levels(factor)));
        factors
    }

    /// The finest factor within this one: nested in it, and with more levels. Its levels are what this one's are
    /// compared by; none where nothing but vines lies within.
    pub(super) fn error_stratum(&self, factor: usize) -> Option<usize> {
        let finer = |&other: &usize| self.is_nested(other, factor) && self.levels(other) > self.levels(factor);
        self.most_levels_first(self.varied().into_iter().filter(finer)).first().copied()
    }
}

fn definite(codes: &[Code], definite: &[bool]) -> Vec<Code> {
    let known = |&code: &Code| if definite.get(code as usize) == Some(&true) { code } else { UNKNOWN };
    codes.iter().map(known).collect()
}

fn totals(codes: &[Code], seen: &[f64]) -> BTreeMap<Code, f64> {
    let mut totals = BTreeMap::new();
    let known = codes.iter().zip(seen).filter(|(code, seen)| **code != UNKNOWN && **seen > 0.0);
    known.for_each(|(code, seen)| *totals.entry(*code).or_default() += seen);
    totals
}
