//! The cells of a mixed model, ordered by the levels of its largest term.

use crate::stats::special::ln_choose;

/// A random intercept: the level of each cell.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Term {
    /// One code a cell, below `levels`.
    pub codes: Vec<u32>,
    pub levels: usize,
}

/// Why a model can't be set up.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum Unusable {
    #[error("a mixed model needs at least one term")]
    NoTerm,
    #[error("term {term}: {codes} codes for {cells} cells")]
    Length { term: usize, codes: usize, cells: usize },
    #[error("term {term}, cell {cell}: the code is not below the number of levels")]
    Code { term: usize, cell: usize },
    #[error("cell {cell}: {failed} failed of {seen} seen")]
    Counts { cell: usize, failed: u64, seen: u64 },
    #[error("a column of fixed effects has {values} values for {cells} cells, or one that is no number")]
    Column { values: usize, cells: usize },
    #[error("{levels} levels beside the largest term are more than {most}")]
    TooWide { levels: usize, most: usize },
}

/// Levels beside the largest term up to which a model is set up: its dense part then takes 130 MB.
const WIDEST: usize = 4_000;

/// Cells in the order of the swept term's levels, with the sparse pattern of its rows.
#[derive(Debug)]
pub(super) struct Cells {
    /// The given place of each cell.
    pub order: Vec<usize>,
    pub failed: Vec<f64>,
    pub seen: Vec<f64>,
    /// Sum over cells of ln (n choose d).
    pub ln_ways: f64,
    /// The term that is swept out: the one with most levels.
    pub swept: usize,
    /// First cell of each of its levels, and the end.
    pub start: Vec<usize>,
    /// The other terms, in the order given, and their first column in the core.
    pub core: Vec<usize>,
    pub first: Vec<usize>,
    /// Columns of the core.
    pub width: usize,
    /// Cells x core terms: column in the core.
    pub column: Vec<u32>,
    /// Cells x core terms: place in `slot_column`.
    pub slot: Vec<u32>,
    /// Distinct core columns met by each swept level: first place of each level, and the end.
    pub slot_start: Vec<usize>,
    pub slot_column: Vec<u32>,
}

impl Cells {
    /// Cells without plants are kept; they weigh nothing.
    pub fn new(failed: &[u64], seen: &[u64], terms: &[Term]) -> Result<Self, Unusable> {
        check(failed, seen, terms)?;
        let swept = (0..terms.len()).rev().max_by_key(|&f| terms[f].levels).ok_or(Unusable::NoTerm)?;
        let core: Vec<usize> = (0..terms.len()).filter(|&f| f != swept).collect();
        let mut first = Vec::with_capacity(core.len());
        let width = core.iter().fold(0, |width, &f| {
            first.push(width);
            width + terms[f].levels
        });
        if width > WIDEST {
            return Err(Unusable::TooWide { levels: width, most: WIDEST });
        }
        let mut order: Vec<usize> = (0..seen.len()).collect();
        order.sort_by_key(|&i| terms[swept].codes[i]);
        let column_of = |i: usize| core.iter().zip(&first).map(move |(&f, &at)| at as u32 + terms[f].codes[i]);
        let column = order.iter().flat_map(|&i| column_of(i)).collect();
        let mut cells = Cells {
            failed: order.iter().map(|&i| failed[i] as f64).collect(),
            seen: order.iter().map(|&i| seen[i] as f64).collect(),
            ln_ways: failed.iter().zip(seen).map(|(&d, &n)| ln_choose(n, d)).sum(),
            start: starts(&order, &terms[swept]),
            order,
            swept,
            core,
            first,
            width,
            column,
            slot: Vec::new(),
            slot_start: vec![0],
            slot_column: Vec::new(),
        };
        cells.lay_out_slots();
        Ok(cells)
    }

    pub fn len(&self) -> usize {
        self.seen.len()
    }

    /// Levels of the swept term.
    pub fn groups(&self) -> usize {
        self.start.len() - 1
    }

    /// Number of terms beside the swept one.
    pub fn terms(&self) -> usize {
        self.core.len()
    }

    /// Core columns of a cell, one a term.
    pub fn columns(&self, cell: usize) -> &[u32] {
        &self.column[cell * self.terms()..(cell + 1) * self.terms()]
    }

    /// Places of a cell's core columns among the slots.
    pub fn slots(&self, cell: usize) -> &[u32] {
        &self.slot[cell * self.terms()..(cell + 1) * self.terms()]
    }

    /// The slots of a swept level.
    pub fn slots_of(&self, group: usize) -> std::ops::Range<usize> {
        self.slot_start[group]..self.slot_start[group + 1]
    }

    /// The cells of a swept level.
    pub fn cells_of(&self, group: usize) -> std::ops::Range<usize> {
        self.start[group]..self.start[group + 1]
    }

    fn lay_out_slots(&mut self) {
        let mut at = vec![u32::MAX; self.width];
        self.slot.reserve(self.column.len());
        for group in 0..self.groups() {
            let begin = self.slot_column.len();
            let columns = self.start[group] * self.terms()..self.start[group + 1] * self.terms();
            for &column in &self.column[columns] {
                let known = at[column as usize];
                let is_new = known == u32::MAX || (known as usize) < begin;
                if is_new {
                    at[column as usize] = self.slot_column.len() as u32;
                    self.slot_column.push(column);
                }
                self.slot.push(at[column as usize]);
            }
            self.slot_start.push(self.slot_column.len());
        }
    }
}

fn starts(order: &[usize], term: &Term) -> Vec<usize> {
    let mut start = vec![0; term.levels + 1];
    order.iter().for_each(|&i| start[term.codes[i] as usize + 1] += 1);
    (0..term.levels).for_each(|level| start[level + 1] += start[level]);
    start
}

fn check(failed: &[u64], seen: &[u64], terms: &[Term]) -> Result<(), Unusable> {
    let cells = seen.len().max(failed.len());
    let of = |list: &[u64], cell: usize| list.get(cell).copied().unwrap_or(0);
    let bad = (0..cells).find(|&cell| cell >= seen.len() || of(failed, cell) > of(seen, cell) || cell >= failed.len());
    if let Some(cell) = bad {
        return Err(Unusable::Counts { cell, failed: of(failed, cell), seen: of(seen, cell) });
    }
    for (term, of) in terms.iter().enumerate() {
        if of.codes.len() != cells {
            return Err(Unusable::Length { term, codes: of.codes.len(), cells });
        }
        if let Some(cell) = of.codes.iter().position(|&code| code as usize >= of.levels) {
            return Err(Unusable::Code { term, cell });
        }
    }
    Ok(())
}
