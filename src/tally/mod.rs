//! The only bridge from vines to numbers: histories to counts per cell, the field with its places in metres,
//! planted runs and strata; the blocks of an estate to one.

pub mod cells;
pub mod estate;
pub mod field;
pub mod history;
pub mod season;
pub mod sheet;

pub use cells::{Cell, CellTable, Counts, TallyFactor};
pub use estate::{NotPooled, pooled};
pub use field::{Edge, Field, PlaceNow, Point, Run, Standing};
pub use history::{Histories, Outcome};
pub use season::Calendar;
pub use sheet::records;

use crate::block::{Block, CountLine, CountSheet, Factor, Plants, Register, Walk};
use cells::Coder;
use history::Lives;
use jiff::civil::Date;

/// Everything that the models need of a block at one walk.
#[derive(Clone, Debug)]
pub struct Tally {
    /// First and last day of the chosen walk (of an estate, of its blocks' walks); none where only counts without a date are known.
    pub walk: Option<(Date, Date)>,
    /// `variety`, `clone`, `rootstock`, `batch`, `row`, then declared factors by name; those with any known level.
    pub factors: Vec<TallyFactor>,
    /// Distinct combinations of levels with their counts, ordered by code. Rates are per vine ever planted.
    pub cells: Vec<Cell>,
    pub total: Counts,
    /// The map per place, and the points for pattern tests; none where only counts are known.
    pub field: Option<Field>,
    /// Outcome of every vine of the register at the walk, by index; empty where only counts are known, or blocks pooled.
    pub outcomes: Vec<Outcome>,
}

/// Why there is no tally.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NoTally {
    #[error("no walk has a day on {0}")]
    NoSuchWalk(Date),
    #[error("no walk through the rows is recorded")]
    NoWalk,
}

/// Tallies the block at the walk that has a look on `survey`, or at the latest walk.
pub fn tally(block: &Block, survey: Option<Date>) -> Result<Tally, NoTally> {
    match &block.plants {
        Plants::Vines(register) => tally_register(block, register, choose(&register.walks, survey)?, &register.factors),
        Plants::Counts(sheet) => tally_counts(block, sheet, survey),
    }
}

/// At a walk of the register; `factors` are coded per vine.
fn tally_register(block: &Block, register: &Register, chosen: usize, factors: &[Factor]) -> Result<Tally, NoTally> {
    let lives = Lives::up_to(block, register, chosen).ok_or(NoTally::NoWalk)?;
    let outcomes = lives.outcomes();
    let rows = register.vines.iter().map(|v| v.place.row).collect();
    let coder = Coder::new(factors, rows, &block.layout, |ix| outcomes[ix] != Outcome::NotCounted);
    let strong_from = block.assumptions.get("triage.strong_class_from");
    let mut table = CellTable::default();
    for (ix, &outcome) in outcomes.iter().enumerate().filter(|(_, o)| **o != Outcome::NotCounted) {
        table.add(&coder.codes(ix), &Counts::of_vine(outcome, lives.look(ix as u32), strong_from));
    }
    let (cells, total) = table.finish();
    let field = Some(field::field(&block.layout, &lives, &outcomes, &coder));
    let walk = register.walks.get(chosen).map(|w| (w.first_day, w.last_day));
    Ok(Tally { walk, factors: coder.factors, cells, total, field, outcomes })
}

/// The walk with a look on `survey`, else the one that was going on that day; the latest without a wish.
fn choose(walks: &[Walk], survey: Option<Date>) -> Result<usize, NoTally> {
    let last = walks.len().checked_sub(1).ok_or(NoTally::NoWalk)?;
    let Some(day) = survey else { return Ok(last) };
    let looked = walks.iter().rposition(|w| w.looks.iter().any(|l| l.date == day));
    let going_on = || walks.iter().rposition(|w| w.first_day <= day && day <= w.last_day);
    looked.or_else(going_on).ok_or(NoTally::NoSuchWalk(day))
}

fn tally_counts(block: &Block, sheet: &CountSheet, survey: Option<Date>) -> Result<Tally, NoTally> {
    let walk = choose_counts(&sheet.lines, survey)?;
    let is_of_walk = |line: &CountLine| match (line.surveyed_on, walk) {
        (Some(on), Some((first, last))) => first <= on && on <= last,
        _ => true,
    };
    let of_walk: Vec<bool> = sheet.lines.iter().map(is_of_walk).collect();
    let rows = sheet.lines.iter().map(|l| l.row).collect();
    let coder = Coder::new(&sheet.factors, rows, &block.layout, |ix| of_walk[ix]);
    let mut table = CellTable::default();
    for (ix, line) in sheet.lines.iter().enumerate().filter(|(ix, _)| of_walk[*ix]) {
        table.add(&coder.codes(ix), &Counts::of_line(line));
    }
    let (cells, total) = table.finish();
    Ok(Tally { walk, factors: coder.factors, cells, total, field: None, outcomes: Vec::new() })
}

/// Days without a look after which counted lines belong to a new walk (the files' own rule for walks without a label).
const GAP_BETWEEN_WALKS_DAYS: i32 = 15;

/// First and last day of the counting that was going on on `survey`, or of the latest; none where no line is dated.
fn choose_counts(lines: &[CountLine], survey: Option<Date>) -> Result<Option<(Date, Date)>, NoTally> {
    let mut days: Vec<Date> = lines.iter().filter_map(|l| l.surveyed_on).collect();
    days.sort_unstable();
    let apart = |a: &Date, b: &Date| (*b - *a).get_days() >= GAP_BETWEEN_WALKS_DAYS;
    let mut walks = days.chunk_by(|a, b| !apart(a, b)).filter_map(|w| Some((*w.first()?, *w.last()?)));
    match survey {
        None => Ok(walks.next_back()),
        Some(day) => walks.find(|w| w.0 <= day && day <= w.1).map(Some).ok_or(NoTally::NoSuchWalk(day)),
    }
}
