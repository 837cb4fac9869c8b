//! With what a level is confounded, in words, and what would untie it.

use super::grid::Grid;
use super::level::{Confounded, Times};
use crate::base::words::list::{list, plural};
use crate::base::words::{fill, rates as words};
use crate::block::{Code, UNKNOWN};
use std::fmt::Display;

/// Names shown of a list before the rest is counted.
const SHOWN: usize = 6;

/// What a batch is of.
const MATERIAL: [&str; 3] = ["variety", "clone", "rootstock"];

/// What a level equals.
pub(super) enum Tie {
    /// These whole levels of another factor.
    Levels { other: usize, codes: Vec<Code> },
    /// A sum over several factors: factor, code, times.
    Sum(Vec<(usize, Code, f64)>),
}

/// What a user reads of a level's tie.
pub(super) fn confounded(grid: &Grid, factor: usize, code: Code, tie: &Tie) -> Confounded {
    let level = Level { grid, factor, code };
    match tie {
        Tie::Levels { other, codes } => level.with_levels(*other, codes),
        Tie::Sum(terms) => level.with_sum(terms),
    }
}

struct Level<'a> {
    grid: &'a Grid<'a>,
    factor: usize,
    code: Code,
}

impl Level<'_> {
    fn with_levels(&self, other: usize, codes: &[Code]) -> Confounded {
        let with = named(self.grid, other, codes);
        let is_row = self.grid.name(other) == "row";
        let sentence = if is_row { words::ONLY_IN_ROWS } else { words::SAME_VINES };
        Confounded {
            equals: codes.iter().map(|&code| times(self.grid, (other, code, 1.0))).collect(),
            sentence: self.fill(sentence, &[("with", &with)]),
            would_help: self.look_at_unseen(other, codes) + &self.planting(other, codes, &with),
            with,
        }
    }

    fn with_sum(&self, terms: &[(usize, Code, f64)]) -> Confounded {
        let with = sum_named(self.grid, terms);
        let mut others: Vec<usize> = terms.iter().map(|t| t.0).collect();
        others.dedup();
        let others: Vec<&str> = others.into_iter().map(|factor| self.grid.name(factor)).collect();
        Confounded {
            equals: terms.iter().map(|&term| times(self.grid, term)).collect(),
            sentence: self.fill(words::A_SUM, &[("with", &with)]),
            would_help: self.fill(words::ANOTHER_SUM, &[("others", &others.join(" or "))]),
            with,
        }
    }

    /// Vines that would break the tie and weren't seen in this walk.
    fn look_at_unseen(&self, other: usize, codes: &[Code]) -> String {
        let (mine, theirs) = (&self.grid.known[self.factor], &self.grid.known[other]);
        let breaks = |cell: &usize| {
            let labelled = mine[*cell] != UNKNOWN && theirs[*cell] != UNKNOWN;
            labelled && (mine[*cell] == self.code) != codes.binary_search(&theirs[*cell]).is_ok()
        };
        let cells = &self.grid.tally.cells;
        let unseen = |cell: usize| cells[cell].counts.planted.saturating_sub(cells[cell].counts.seen);
        let n: u64 = (0..cells.len()).filter(breaks).map(unseen).sum();
        if n > 0 { self.fill(words::LOOK_AT_UNSEEN, &[("n", &n)]) } else { String::new() }
    }

    /// Which plantings would break the tie. A batch is of one clone on one stock, so there another batch has to come in.
    fn planting(&self, other: usize, codes: &[Code], with: &str) -> String {
        let (failed, name) = (self.failed(), self.grid.name(other));
        let beside = if name == "row" { named(self.grid, other, &self.beside(other, codes)) } else { String::new() };
        let material = |name: &str| MATERIAL.contains(&name);
        let sentence = match (self.grid.name(self.factor), name, failed) {
            (_, "row", 0) => words::ANOTHER_IN_ROWS,
            (_, "row", _) => words::ANOTHER_IN_ROWS_FAILED,
            ("batch", other, 0) if material(other) => words::ANOTHER_BATCH,
            ("batch", other, _) if material(other) => words::ANOTHER_BATCH_FAILED,
            (mine, "batch", _) if material(mine) => words::FROM_ANOTHER,
            (_, _, 0) => words::ANOTHER_WITH,
            _ => words::ANOTHER_WITH_FAILED,
        };
        self.fill(sentence, &[("with", &with), ("failed", &failed), ("beside", &beside), ("other", &name)])
    }

    /// Vines of this level that failed.
    fn failed(&self) -> u64 {
        let cells = self.grid.tally.cells.iter().zip(&self.grid.known[self.factor]);
        cells.filter(|(_, code)| **code == self.code).map(|(cell, _)| cell.counts.failed).sum()
    }

    /// The rows at the boundary of these, in order.
    fn beside(&self, other: usize, codes: &[Code]) -> Vec<Code> {
        let is_there = |code: &Code| self.grid.totals[other].contains_key(code) && codes.binary_search(code).is_err();
        let near = codes.iter().flat_map(|&code| [code.checked_sub(1), code.checked_add(1)]).flatten();
        let mut beside: Vec<Code> = near.filter(is_there).collect();
        if beside.is_empty() {
            beside = self.grid.totals[other].keys().copied().filter(is_there).take(1).collect();
        }
        beside.sort_unstable();
        beside.dedup();
        beside
    }

    fn fill(&self, sentence: &str, values: &[(&str, &dyn Display)]) -> String {
        let level = label(self.grid, self.factor, self.code);
        let mut all: Vec<(&str, &dyn Display)> = values.to_vec();
        let factor = self.grid.name(self.factor);
        all.extend([("factor", &factor as &dyn Display), ("level", &level)]);
        fill(sentence, &all)
    }
}

pub(super) fn times(grid: &Grid, (factor, code, times): (usize, Code, f64)) -> Times {
    Times { factor: grid.name(factor).to_string(), level: label(grid, factor, code), times }
}

/// Empty for the unlabelled.
pub(super) fn label(grid: &Grid, factor: usize, code: Code) -> String {
    grid.tally.factors.get(factor).and_then(|f| f.levels.get(code as usize)).cloned().unwrap_or_default()
}

/// Levels of one factor: `batch A`, `rows 7 to 12 and 14`.
pub(super) fn named(grid: &Grid, factor: usize, codes: &[Code]) -> String {
    let name = grid.name(factor);
    match codes {
        [] => String::new(),
        [UNKNOWN] => fill(words::UNLABELLED_VINES, &[("factor", &name)]),
        [one] => format!("{name} {}", label(grid, factor, *one)),
        many if name == "row" => format!("{} {}", plural(name), list(&stretches(grid, factor, many), SHOWN)),
        many => {
            let labels: Vec<String> = many.iter().map(|&code| label(grid, factor, code)).collect();
            format!("{} {}", plural(name), list(&labels, SHOWN))
        }
    }
}

/// Rows in order, three or more adjacent ones as `7 to 12`.
fn stretches(grid: &Grid, factor: usize, codes: &[Code]) -> Vec<String> {
    let adjacent = |a: &Code, b: &Code| a.checked_add(1) == Some(*b);
    let text = |stretch: &[Code]| match stretch {
        [first, _, .., last] => {
            vec![fill(words::FROM_TO, &[("from", &label(grid, factor, *first)), ("to", &label(grid, factor, *last))])]
        }
        few => few.iter().map(|&code| label(grid, factor, code)).collect(),
    };
    codes.chunk_by(adjacent).flat_map(text).collect()
}

/// A sum of levels: `clone c1 less crew x`.
fn sum_named(grid: &Grid, terms: &[(usize, Code, f64)]) -> String {
    let side = |of: fn(f64) -> bool| {
        let side: Vec<(usize, Code)> = terms.iter().filter(|t| of(t.2)).map(|t| (t.0, t.1)).collect();
        let factors = side.chunk_by(|a, b| a.0 == b.0);
        let name = |levels: &[(usize, Code)]| named(grid, levels[0].0, &levels.iter().map(|l| l.1).collect::<Vec<_>>());
        list(&factors.map(name).collect::<Vec<_>>(), SHOWN)
    };
    let (sum, taken) = (side(|t| t > 0.0), side(|t| t < 0.0));
    if taken.is_empty() { sum } else { fill(words::LESS, &[("sum", &sum), ("taken", &taken)]) }
}
