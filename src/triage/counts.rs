//! The same where only counts per row are known.

use super::key::{Key, seasons_grown, under_claim};
use super::work::{Totals, add, none};
use super::{Action, RowWork};
use crate::block::Block;
use crate::tally::Calendar;
use crate::tally::{Cell, Counts, Tally};

/// A line of counts, sorted.
#[derive(Clone, Debug)]
pub struct CellWork {
    /// Index of the row in the layout; none where the counts name no row of it.
    pub row: Option<u32>,
    pub batch: Option<String>,
    pub totals: Totals,
    /// Of those to replace: places that hold nothing, because the vine is gone or none was planted.
    pub gaps: u64,
    /// Of these gaps: never planted.
    pub empty: u64,
}

/// Sorts the cells of a tally without a field, and the places of each row that its counts leave over.
pub fn sort(block: &Block, tally: &Tally) -> Vec<CellWork> {
    let mut sorted: Vec<CellWork> = tally.cells.iter().map(|cell| sort_cell(block, tally, cell)).collect();
    let empty = (0..block.layout.rows.len() as u32).filter_map(|row| {
        let planted: u64 = sorted.iter().filter(|c| c.row == Some(row)).map(|c| c.totals.values().sum::<u64>()).sum();
        let left = usable(block, row).saturating_sub(planted);
        (left > 0).then(|| empty_places(row, left))
    });
    let empty: Vec<CellWork> = empty.collect();
    sorted.extend(empty);
    sorted
}

fn empty_places(row: u32, n: u64) -> CellWork {
    let mut totals = none();
    add(&mut totals, Action::Replace, n);
    CellWork { row: Some(row), batch: None, totals, gaps: n, empty: n }
}

/// Places of a row that can hold a vine.
fn usable(block: &Block, row: u32) -> u64 {
    block.layout.rows.get(row as usize).map_or(0, |r| u64::from(r.places).saturating_sub(r.no_vine.len() as u64))
}

fn sort_cell(block: &Block, tally: &Tally, cell: &Cell) -> CellWork {
    let row = level(tally, cell, "row").and_then(|label| block.layout.row(label));
    let batch = level(tally, cell, "batch");
    let held = batch.is_some_and(|b| under_claim(block, b));
    let seasons = seasons_grown(block, &Calendar::of(block), tally.walk.map(|w| w.1), None);
    let trained = f64::from(seasons) > Key::of(block).seasons_until_trained;
    let counts = &cell.counts;
    let mut totals = none();
    add(&mut totals, Action::Replace, counts.missing.min(counts.failed));
    let failed = if held { Action::Hold } else { Action::Replace };
    add(&mut totals, failed, counts.failed.saturating_sub(counts.missing));
    let unseen = counts.planted.saturating_sub(counts.seen);
    add(&mut totals, Action::LookAgain, unseen);
    match trained {
        true => add(&mut totals, Action::Leave, counts.seen.saturating_sub(counts.failed)),
        false => add_living(&mut totals, counts),
    }
    CellWork { row, batch: batch.map(str::to_string), totals, gaps: counts.missing.min(counts.failed), empty: 0 }
}

/// Good ones, or those at the wire, are taken up; weak ones cut back; the others looked at again.
fn add_living(totals: &mut Totals, counts: &Counts) {
    let alive = counts.seen.saturating_sub(counts.failed);
    let weak = counts.weak.min(alive);
    let strong = counts.good.max(counts.reached_wire).min(alive - weak);
    add(totals, Action::CutBack, weak);
    add(totals, Action::TakeUp, strong);
    add(totals, Action::LookAgain, alive - weak - strong);
}

/// The label of a cell's level of a factor, none where unknown.
fn level<'a>(tally: &'a Tally, cell: &Cell, factor: &str) -> Option<&'a str> {
    let at = tally.factors.iter().position(|f| f.name == factor)?;
    let code = *cell.codes.get(at)?;
    tally.factors[at].levels.get(code as usize).map(String::as_str)
}

/// Totals per row of the layout.
pub fn rows(block: &Block, sorted: &[CellWork]) -> Vec<RowWork> {
    let row = |(index, layout): (usize, &crate::block::RowLayout)| {
        let mine = || sorted.iter().filter(move |c| c.row == Some(index as u32));
        let mut totals = none();
        mine().flat_map(|c| &c.totals).for_each(|(action, n)| add(&mut totals, *action, *n));
        let places = totals.values().sum();
        RowWork { row: layout.label.clone(), places, empty: mine().map(|c| c.empty).sum(), totals }
    };
    block.layout.rows.iter().enumerate().map(row).collect()
}
