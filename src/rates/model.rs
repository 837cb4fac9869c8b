//! The mixed model of a tally: which factors are terms, over which cells.
//!
//! Every factor with two definite levels or more among the vines seen is a random intercept. Vines without a label, or
//! of one of several, are levels of their own: they are part of the model and never compared. Two factors that split
//! the vines alike are one term: nothing could tell them apart.

use super::levels::Outcome;
use crate::block::{Code, UNKNOWN};
use crate::stats::mixed::Term;
use crate::tally::{Cell, Tally};
use std::collections::HashMap;

/// Levels of all terms but the largest up to which they are fitted together.
const MOST_LEVELS: usize = 3_000;

/// The modelled cells and terms.
#[derive(Clone, Debug, Default)]
pub(super) struct Model {
    /// Indices of the cells with vines seen.
    cells: Vec<usize>,
    pub(super) seen: Vec<u64>,
    pub(super) terms: Vec<Term>,
    /// By term, the factor it is named after; two joined by `+` where levels are combinations of theirs.
    pub(super) names: Vec<String>,
    /// By factor of the tally.
    pub(super) places: Vec<Place>,
}

/// What became of a factor.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Place {
    /// The term it is (shared with another factor where they split the vines alike), and the term's level of each of
    /// its codes; the last is that of vines without a label.
    Term { term: usize, level_of: Vec<Option<u32>> },
    /// Fewer than two definite levels were seen.
    Alone,
    /// Too many levels to be fitted beside the others.
    TooMany,
}

impl Model {
    /// `joined`: pairs of factors, such as `clone+rootstock`, whose combinations are a term of their own.
    pub(super) fn of(tally: &Tally, joined: &[String]) -> Self {
        let mut model = Model::default();
        model.cells = (0..tally.cells.len()).filter(|&i| tally.cells[i].counts.seen > 0).collect();
        model.seen = model.cells.iter().map(|&i| tally.cells[i].counts.seen).collect();
        let crowded = crowded(tally, &model.cells);
        for factor in 0..tally.factors.len() {
            let place = match definite_levels(tally, &model.cells, factor) {
                0 | 1 => Place::Alone,
                _ if crowded.contains(&factor) => Place::TooMany,
                _ => model.place(tally, factor),
            };
            model.places.push(place);
        }
        joined.iter().for_each(|pair| model.join(tally, pair));
        model
    }

    /// The factor's own term, or the one that splits the vines as it does.
    fn place(&mut self, tally: &Tally, factor: usize) -> Place {
        let codes: Vec<Code> = self.cells.iter().map(|&i| code(&tally.cells[i], factor)).collect();
        let levels = tally.factors[factor].levels.len();
        let slot = |c: Code| if c == UNKNOWN { levels } else { c as usize };
        for (term, of) in self.terms.iter().enumerate() {
            let mut level_of = vec![None; levels + 1];
            let alike = codes.iter().zip(&of.codes).all(|(&c, &k)| *level_of[slot(c)].get_or_insert(k) == k);
            if alike && injective(&level_of) {
                return Place::Term { term, level_of };
            }
        }
        let mut level_of: Vec<Option<u32>> = vec![None; levels + 1];
        codes.iter().for_each(|&c| level_of[slot(c)] = Some(0));
        level_of.iter_mut().flatten().zip(0..).for_each(|(level, number)| *level = number);
        let levels = level_of.iter().flatten().count();
        let codes = codes.iter().map(|&c| level_of[slot(c)].unwrap_or(0)).collect();
        self.terms.push(Term { codes, levels });
        self.names.push(tally.factors[factor].name.clone());
        Place::Term { term: self.terms.len() - 1, level_of }
    }

    /// Adds the combinations of two factors' levels, unless they split the vines as a term does already.
    fn join(&mut self, tally: &Tally, pair: &str) {
        let at = |name: &str| tally.factors.iter().position(|f| f.name == name);
        let Some((a, b)) = pair.split_once('+').and_then(|(a, b)| Some((at(a)?, at(b)?))) else { return };
        let mut numbers = HashMap::new();
        let mut codes = Vec::with_capacity(self.cells.len());
        for &i in &self.cells {
            let next = numbers.len() as u32;
            codes.push(*numbers.entry((code(&tally.cells[i], a), code(&tally.cells[i], b))).or_insert(next));
        }
        let term = Term { levels: numbers.len(), codes };
        if term.levels > 1 && !self.terms.iter().any(|known| alike(known, &term)) {
            self.terms.push(term);
            self.names.push(pair.to_string());
        }
    }

    /// Failures of each modelled cell.
    pub(super) fn failed(&self, tally: &Tally, outcome: Outcome) -> Vec<u64> {
        let lost = |&i: &usize| {
            let kept = outcome.kept(&tally.cells[i].counts);
            kept.n - kept.x
        };
        self.cells.iter().map(lost).collect()
    }

    /// The term that a factor is, alone or with others that split the vines alike.
    pub(super) fn term(&self, factor: usize) -> Option<usize> {
        match self.places.get(factor) {
            Some(Place::Term { term, .. }) => Some(*term),
            _ => None,
        }
    }

    /// The term of a factor and its level for a code.
    pub(super) fn level(&self, factor: usize, code: Code) -> Option<(usize, usize)> {
        let Some(Place::Term { term, level_of }) = self.places.get(factor) else { return None };
        let slot = if code == UNKNOWN { level_of.len() - 1 } else { code as usize };
        level_of.get(slot).copied().flatten().map(|level| (*term, level as usize))
    }
}

fn code(cell: &Cell, factor: usize) -> Code {
    cell.codes.get(factor).copied().unwrap_or(UNKNOWN)
}

/// Whether two terms split the cells alike.
fn alike(a: &Term, b: &Term) -> bool {
    let mut of = HashMap::new();
    a.levels == b.levels && a.codes.iter().zip(&b.codes).all(|(x, y)| of.entry(*x).or_insert(*y) == y)
}

fn injective(level_of: &[Option<u32>]) -> bool {
    let mut seen = HashMap::new();
    level_of.iter().flatten().all(|level| seen.insert(*level, ()).is_none())
}

fn definite_levels(tally: &Tally, cells: &[usize], factor: usize) -> usize {
    let of = &tally.factors[factor];
    let mut seen = vec![false; of.levels.len()];
    for &i in cells {
        let code = code(&tally.cells[i], factor) as usize;
        if of.definite.get(code) == Some(&true) {
            seen[code] = true;
        }
    }
    seen.iter().filter(|s| **s).count()
}

/// Factors left out, those with most levels first, until all but the largest of the rest fit.
fn crowded(tally: &Tally, cells: &[usize]) -> Vec<usize> {
    let mut sizes: Vec<(usize, usize)> =
        (0..tally.factors.len()).map(|f| (definite_levels(tally, cells, f) + 1, f)).collect();
    sizes.sort_by_key(|(levels, f)| (*levels, *f));
    sizes.pop();
    let mut out = Vec::new();
    while sizes.iter().map(|(levels, _)| levels).sum::<usize>() > MOST_LEVELS {
        out.extend(sizes.pop().map(|(_, f)| f));
    }
    out
}
