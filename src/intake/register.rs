//! vines.csv: the planting register.
//!
//! A line is about one place or a range of places. Lines are taken in their order in the file:
//! - a line about places of which nothing is known yet plants a vine at each of them; a range passes over the posts
//!   that block.toml names (`no_vine`);
//! - a narrower line with the same planting date, or none, is an exception to the range above it: the cells that it
//!   fills replace those of the range, its empty cells keep them;
//! - a line with another planting date is a further vine at that place: a replant;
//! - anything else that names a place twice is set aside.
//!
//! Vines that were moved (`moved_from`) are taken last, when the vine at their first place is known. Such a line
//! without `planted_on` is dated by the removal at the first place, and empty labels are those of the vine there.

use super::Unusable;
use super::coding::Coding;
use super::columns::{Column, Columns, Factors, Spec, whole_lines};
use super::layout::{self, RowFound, RowIndex};
use super::ledger::{Ledger, Note};
use super::settings::Settings;
use super::table::{Line, Table};
use super::value::{self, Span};
use crate::base::words::intake as say;
use crate::block::{Code, Factor, Layout, Place, Register, RemovedWhy, UNKNOWN, Vine};
use jiff::civil::Date;
use std::collections::HashMap;

pub(super) const SPEC: Spec = Spec {
    required: &["row", "position", "variety"],
    optional: &[
        "clone",
        "rootstock",
        "batch",
        "planted_on",
        "planted_seq",
        "removed_on",
        "removed_why",
        "moved_from",
        "vine",
        "x_m",
        "y_m",
        "note",
    ],
    factors: Factors::Here,
};
/// The labelled columns that every register may have, in their order in [`Register::factors`].
const LABELLED: [&str; 4] = ["variety", "clone", "rootstock", "batch"];
const REASONS: [(&str, RemovedWhy); 5] = [
    ("failed", RemovedWhy::Failed),
    ("moved", RemovedWhy::Moved),
    ("cleared", RemovedWhy::Cleared),
    ("dug", RemovedWhy::Dug),
    ("other", RemovedWhy::Other),
];
/// The most vines in one folder.
const MOST_VINES: usize = 20_000_000;
/// Coordinates lie within this many metres of their origin.
const FURTHEST_M: f64 = 10_000_000.0;
/// No draft.
const NONE: u32 = u32::MAX;

/// The register, its layout, and the rows by label.
pub(super) struct Planted {
    pub register: Register,
    pub layout: Layout,
    pub rows: RowIndex,
}

/// Reads the register and lays out the block.
///
/// Errors: a required column is missing, or there are more than 20 million vines.
pub(super) fn read(table: &Table, settings: &Settings, ledger: &mut Ledger) -> Result<Planted, Unusable> {
    read_at_most(MOST_VINES, table, settings, ledger)
}

fn read_at_most(
    most_vines: usize,
    table: &Table,
    settings: &Settings,
    ledger: &mut Ledger,
) -> Result<Planted, Unusable> {
    let columns = Columns::find(table, &SPEC, settings, ledger)?;
    let mut reader = Reader::new(&columns, settings, most_vines);
    let mut moved = Vec::new();
    for line in whole_lines(table, ledger) {
        match reader.entry(line) {
            Err(note) => ledger.set_aside(line, note),
            Ok(entry) if entry.moved_from.is_some() => moved.push((line, entry)),
            Ok(entry) => reader.plant_or_set_aside(line, entry, ledger)?,
        }
    }
    for (line, entry) in moved {
        match reader.follow_move(entry, line, ledger) {
            Ok(entry) => reader.plant_or_set_aside(line, entry, ledger)?,
            Err(note) => ledger.set_aside(line, note),
        }
    }
    Ok(reader.finish(table, ledger))
}

/// A line of the register, read. Rows are codes of the reader until the layout is known.
#[derive(Clone, Debug)]
struct Entry {
    row: Code,
    span: Span,
    planted_on: Option<Date>,
    planted_seq: Option<u32>,
    removed_on: Option<Date>,
    removed_why: Option<RemovedWhy>,
    moved_from: Option<(Code, u32)>,
    x_y_m: Option<(f64, f64)>,
    codes: Vec<Code>,
    line: u32,
}

/// A vine in the making, and the next one at the same place.
#[derive(Clone, Debug)]
struct Draft {
    vine: Vine,
    /// Positions of the line that it comes from.
    span: Span,
    next: u32,
}

struct ColumnsRead<'s> {
    row: Column<'s>,
    position: Column<'s>,
    planted_on: Column<'s>,
    planted_seq: Column<'s>,
    removed_on: Column<'s>,
    removed_why: Column<'s>,
    moved_from: Column<'s>,
    x_m: Column<'s>,
    y_m: Column<'s>,
    labelled: Vec<(String, Column<'s>)>,
}

impl<'s> ColumnsRead<'s> {
    fn new(columns: &Columns<'s>, settings: &Settings) -> Self {
        let names = LABELLED.iter().map(|n| n.to_string()).chain(settings.factors.iter().cloned());
        ColumnsRead {
            row: columns.at("row"),
            position: columns.at("position"),
            planted_on: columns.at("planted_on"),
            planted_seq: columns.at("planted_seq"),
            removed_on: columns.at("removed_on"),
            removed_why: columns.at("removed_why"),
            moved_from: columns.at("moved_from"),
            x_m: columns.at("x_m"),
            y_m: columns.at("y_m"),
            labelled: names.map(|n| (n.clone(), columns.at(&n))).collect(),
        }
    }
}

struct Reader<'s> {
    settings: &'s Settings,
    most_vines: usize,
    columns: ColumnsRead<'s>,
    rows: Coding,
    codings: Vec<Coding>,
    drafts: Vec<Draft>,
    /// Codes of each labelled column, one per draft.
    codes: Vec<Vec<Code>>,
    first_at: HashMap<(Code, u32), u32>,
}

impl<'s> Reader<'s> {
    fn new(columns: &Columns<'s>, settings: &'s Settings, most_vines: usize) -> Self {
        let columns = ColumnsRead::new(columns, settings);
        let labelled = columns.labelled.len();
        Reader {
            settings,
            most_vines,
            columns,
            rows: Coding::default(),
            codings: vec![Coding::default(); labelled],
            drafts: Vec::new(),
            codes: vec![Vec::new(); labelled],
            first_at: HashMap::new(),
        }
    }

    /// Reads the cells of a line.
    fn entry(&mut self, line: Line) -> Result<Entry, Note> {
        let row = value::filled("row", Ok(value::text(self.columns.row.read(line))))?;
        let span = value::filled("position", value::span("position", self.columns.position.read(line)))?;
        let form = self.settings.date_form;
        let date = |name: &str, column: &Column<'s>| value::date(name, column.read(line), form);
        let (planted_on, removed_on) =
            (date("planted_on", &self.columns.planted_on)?, date("removed_on", &self.columns.removed_on)?);
        let moved_from = value::place("moved_from", self.columns.moved_from.read(line))?;
        let sequence = value::count("planted_seq", self.columns.planted_seq.read(line))?;
        let entry = Entry {
            span,
            planted_on,
            planted_seq: sequence.map(|n| u32::try_from(n).unwrap_or(u32::MAX)),
            removed_on,
            removed_why: value::word("removed_why", self.columns.removed_why.read(line), &REASONS)?,
            x_y_m: self.coordinates(line, span)?,
            codes: self.labels(line)?,
            moved_from: moved_from.map(|(row, position)| (self.rows.code(row), position)),
            row: self.rows.code(&row),
            line: line.number() as u32,
        };
        self.check_span(&row, &entry)?;
        Ok(entry)
    }

    fn labels(&mut self, line: Line) -> Result<Vec<Code>, Note> {
        let read = |((name, column), coding): (&(String, Column<'s>), &mut Coding)| {
            let cell = column.read(line);
            Ok(if name == "batch" { coding.code(&value::batch(cell)?) } else { coding.code(cell) })
        };
        self.columns.labelled.iter().zip(&mut self.codings).map(read).collect()
    }

    fn coordinates(&self, line: Line, span: Span) -> Result<Option<(f64, f64)>, Note> {
        let within = -FURTHEST_M..=FURTHEST_M;
        let x = value::number("x_m", self.columns.x_m.read(line), within.clone())?;
        let y = value::number("y_m", self.columns.y_m.read(line), within)?;
        match (x, y) {
            (Some(_), Some(_)) if span.width() > 1 => Err(for_one("x_m, y_m", span)),
            (Some(_), None) | (None, Some(_)) => Err(Note::new(say::HALF_COORDINATE, &[])),
            _ => Ok(x.zip(y)),
        }
    }

    /// The row's end and its posts, and what only one vine can have.
    fn check_span(&self, row: &str, entry: &Entry) -> Result<(), Note> {
        let span = entry.span;
        let special = self.settings.layout.special(row);
        if let Some(places) = special.and_then(|s| s.places).filter(|places| span.last > *places) {
            let values: [(&str, &dyn std::fmt::Display); 3] =
                [("position", &span.last), ("row", &row), ("places", &places)];
            return Err(Note::new(say::PAST_ROW_END, &values));
        }
        if span.positions().all(|p| self.is_post(row, p)) {
            return Err(Note::new(say::NO_VINE_HERE, &[("position", &span), ("row", &row)]));
        }
        if entry.moved_from.is_some() && span.width() > 1 {
            return Err(for_one("moved_from", span));
        }
        Ok(())
    }

    fn is_post(&self, row: &str, position: u32) -> bool {
        self.settings.layout.special(row).is_some_and(|s| s.no_vine.binary_search(&position).is_ok())
    }

    /// The drafts at a place, in the order in which their lines stand.
    fn at(&self, place: (Code, u32)) -> impl Iterator<Item = usize> {
        let mut next = self.first_at.get(&place).copied().unwrap_or(NONE);
        std::iter::from_fn(move || {
            let here = (next != NONE).then_some(next as usize)?;
            next = self.drafts[here].next;
            Some(here)
        })
    }

    fn plant_or_set_aside(&mut self, line: Line, entry: Entry, ledger: &mut Ledger) -> Result<(), Unusable> {
        if self.drafts.len() + entry.span.width() as usize > self.most_vines {
            let note = Note::new(say::TOO_MANY_VINES, &[("limit", &self.most_vines)]);
            return Err(note.unusable(line.file(), Some(line.number())));
        }
        match self.targets(&entry) {
            Err(note) => ledger.set_aside(line, note),
            Ok(targets) => {
                if entry.removed_why.is_some() && targets.iter().all(|(_, d)| self.removal(&entry, *d).is_none()) {
                    ledger.find(line.file(), line.number(), Note::new(say::REMOVAL_WITHOUT_DATE, &[]));
                }
                targets.into_iter().for_each(|(position, draft)| self.write(&entry, position, draft));
            }
        }
        Ok(())
    }

    fn removal(&self, entry: &Entry, draft: Option<usize>) -> Option<Date> {
        entry.removed_on.or_else(|| draft.and_then(|d| self.drafts[d].vine.removed_on))
    }

    fn planting(&self, entry: &Entry, draft: Option<usize>) -> Option<Date> {
        match draft {
            Some(d) => self.drafts[d].vine.planted_on,
            None => entry.planted_on.or(self.settings.planted_on),
        }
    }

    /// For each position the draft to which the line is an exception, or none where it plants a vine.
    fn targets(&self, entry: &Entry) -> Result<Vec<(u32, Option<usize>)>, Note> {
        let row = self.rows.label(entry.row);
        let mut targets = Vec::with_capacity(entry.span.width() as usize);
        for position in entry.span.positions().filter(|p| !self.is_post(row, *p)) {
            let draft = self.target(entry, position)?;
            self.check_dates(entry, position, draft)?;
            targets.push((position, draft));
        }
        let overlaps = |new: bool| targets.iter().find(|(_, draft)| draft.is_none() == new);
        match (overlaps(false), overlaps(true)) {
            (Some((position, Some(draft))), Some(_)) => Err(self.overlap(entry, *position, *draft)),
            _ => Ok(targets),
        }
    }

    fn target(&self, entry: &Entry, position: u32) -> Result<Option<usize>, Note> {
        let same_vine = |d: &usize| entry.planted_on.is_none() || self.drafts[*d].vine.planted_on == entry.planted_on;
        let here: Vec<usize> = self.at((entry.row, position)).filter(same_vine).collect();
        let wider = |d: &&usize| self.drafts[**d].span.width() > entry.span.width() && entry.moved_from.is_none();
        match (here.iter().rev().find(wider), here.last()) {
            (Some(exception_to), _) => Ok(Some(*exception_to)),
            (None, Some(taken)) => Err(self.overlap(entry, position, *taken)),
            (None, None) => Ok(None),
        }
    }

    fn overlap(&self, entry: &Entry, position: u32, draft: usize) -> Note {
        let other = self.drafts[draft].vine.line;
        if self.says_the_same(entry, draft) {
            return Note::new(say::DUPLICATE, &[("other", &other)]);
        }
        let row = self.rows.label(entry.row);
        Note::new(say::OVERLAPPING_RANGE, &[("row", &row), ("position", &position), ("other", &other)])
    }

    fn says_the_same(&self, entry: &Entry, draft: usize) -> bool {
        let Draft { vine, span, .. } = &self.drafts[draft];
        let same_labels = entry.codes.iter().zip(&self.codes).all(|(code, codes)| *code == codes[draft]);
        *span == entry.span
            && same_labels
            && vine.removed_on == entry.removed_on
            && vine.removed_why == entry.removed_why
            && vine.planted_seq == entry.planted_seq
            && vine.x_y_m == entry.x_y_m
    }

    fn check_dates(&self, entry: &Entry, position: u32, draft: Option<usize>) -> Result<(), Note> {
        let dates = self.removal(entry, draft).zip(self.planting(entry, draft));
        let Some((removed, planted)) = dates.filter(|(removed, planted)| removed < planted) else { return Ok(()) };
        let row = self.rows.label(entry.row);
        let values: [(&str, &dyn std::fmt::Display); 4] =
            [("row", &row), ("position", &position), ("removed", &removed), ("planted", &planted)];
        Err(Note::new(say::REMOVED_BEFORE_PLANTED, &values))
    }

    fn write(&mut self, entry: &Entry, position: u32, draft: Option<usize>) {
        match draft {
            Some(draft) => self.except(entry, draft),
            None => self.plant(entry, position),
        }
    }

    fn plant(&mut self, entry: &Entry, position: u32) {
        let place = |(row, position): (Code, u32)| Place { row, position };
        let vine = Vine {
            place: place((entry.row, position)),
            planted_on: self.planting(entry, None),
            planted_seq: entry.planted_seq,
            removed_on: entry.removed_on,
            removed_why: entry.removed_why,
            moved_from: entry.moved_from.map(place),
            x_y_m: entry.x_y_m,
            line: entry.line,
        };
        let new = self.drafts.len() as u32;
        self.codes.iter_mut().zip(&entry.codes).for_each(|(codes, code)| codes.push(*code));
        self.drafts.push(Draft { vine, span: entry.span, next: NONE });
        let last = self.at((entry.row, position)).last();
        match last {
            Some(before) => self.drafts[before].next = new,
            None => _ = self.first_at.insert((entry.row, position), new),
        }
    }

    /// The cells that an exception fills replace those of the range.
    fn except(&mut self, entry: &Entry, draft: usize) {
        for (codes, code) in self.codes.iter_mut().zip(&entry.codes).filter(|(_, code)| **code != UNKNOWN) {
            codes[draft] = *code;
        }
        let Draft { vine, span, .. } = &mut self.drafts[draft];
        vine.planted_seq = entry.planted_seq.or(vine.planted_seq);
        vine.removed_on = entry.removed_on.or(vine.removed_on);
        vine.removed_why = entry.removed_why.or(vine.removed_why);
        vine.x_y_m = entry.x_y_m.or(vine.x_y_m);
        vine.line = entry.line;
        *span = entry.span;
    }

    /// Dates and labels of a moved vine from the one at its first place, which is marked as moved.
    fn follow_move(&mut self, mut entry: Entry, line: Line, ledger: &mut Ledger) -> Result<Entry, Note> {
        let Some(from) = entry.moved_from else { return Ok(entry) };
        let place = format!("{}/{}", self.rows.label(from.0), from.1);
        let by_then = |d: &usize| match (entry.planted_on, self.drafts[*d].vine.planted_on) {
            (Some(moved), Some(planted)) => planted <= moved,
            _ => true,
        };
        let origin = self.at(from).filter(by_then).max_by_key(|d| self.drafts[*d].vine.planted_on);
        let origin = origin.ok_or_else(|| Note::new(say::MOVED_FROM_NOWHERE, &[("place", &place)]))?;
        let first = self.drafts[origin].vine.clone();
        if let Some(why) = first.removed_why.filter(|why| *why != RemovedWhy::Moved) {
            let why = REASONS.iter().find(|(_, r)| *r == why).map_or("", |(name, _)| name);
            let values: [(&str, &dyn std::fmt::Display); 3] =
                [("place", &place), ("other", &first.line), ("why", &why)];
            return Err(Note::new(say::MOVED_AFTER_FAILURE, &values));
        }
        entry.planted_on = entry.planted_on.or(first.removed_on);
        let date = entry.planted_on.ok_or_else(|| Note::new(say::MOVED_WITHOUT_DATE, &[("place", &place)]))?;
        self.targets(&entry)?;
        self.keep_labels(&mut entry, origin, &place, line, ledger);
        self.mark_moved(origin, date, &place, line, ledger);
        Ok(entry)
    }

    fn keep_labels(&self, entry: &mut Entry, origin: usize, place: &str, line: Line, ledger: &mut Ledger) {
        let other = self.drafts[origin].vine.line;
        for (i, (name, _)) in self.columns.labelled.iter().enumerate() {
            let first = self.codes[i][origin];
            if entry.codes[i] == UNKNOWN {
                entry.codes[i] = first;
            } else if LABELLED.contains(&name.as_str()) && first != UNKNOWN && first != entry.codes[i] {
                let values: [(&str, &dyn std::fmt::Display); 3] =
                    [("column", name), ("place", &place), ("other", &other)];
                ledger.find(line.file(), line.number(), Note::new(say::MOVED_DIFFERS, &values));
            }
        }
    }

    fn mark_moved(&mut self, origin: usize, date: Date, place: &str, line: Line, ledger: &mut Ledger) {
        let first = &mut self.drafts[origin].vine;
        if first.removed_on.is_none() {
            let values: [(&str, &dyn std::fmt::Display); 3] =
                [("place", &place), ("other", &first.line), ("date", &date)];
            ledger.find(line.file(), line.number(), Note::new(say::MOVED_WITHOUT_REMOVAL, &values));
        }
        first.removed_on = first.removed_on.or(Some(date));
        first.removed_why = Some(RemovedWhy::Moved);
    }

    fn finish(mut self, table: &Table, ledger: &mut Ledger) -> Planted {
        let (layout, rows) = layout::lay_out(self.settings, &self.rows_found(), &table.file, ledger);
        let row_of: Vec<u32> =
            (0..).map_while(|code| Some(rows.index(self.row_label(code)?).unwrap_or(NONE))).collect();
        for draft in &mut self.drafts {
            let settle = |place: &mut Place| place.row = row_of[place.row as usize];
            settle(&mut draft.vine.place);
            draft.vine.moved_from.iter_mut().for_each(settle);
        }
        let mut order: Vec<u32> = (0..self.drafts.len() as u32).collect();
        order.sort_by_key(|i| {
            let vine = &self.drafts[*i as usize].vine;
            (vine.place, vine.planted_on, vine.line)
        });
        let factors = self.factors(&order, table, ledger);
        let vines = order.iter().map(|i| self.drafts[*i as usize].vine.clone()).collect();
        Planted { register: Register { vines, factors, walks: Vec::new() }, layout, rows }
    }

    fn row_label(&self, code: Code) -> Option<&str> {
        Some(self.rows.label(code)).filter(|label| !label.is_empty())
    }

    /// The rows in which a vine was planted.
    fn rows_found(&self) -> Vec<RowFound> {
        let mut found: HashMap<Code, (u32, u32)> = HashMap::new();
        for Draft { vine, .. } in &self.drafts {
            let row = found.entry(vine.place.row).or_insert((0, vine.line));
            *row = (row.0.max(vine.place.position), row.1.min(vine.line));
        }
        let row = |(code, (places, line)): (Code, (u32, u32))| {
            let label = self.rows.label(code).to_string();
            RowFound { label, places, line: u64::from(line) }
        };
        found.into_iter().map(row).collect()
    }

    /// The factors in which anything is known; a declared one without that is a finding.
    fn factors(&self, order: &[u32], table: &Table, ledger: &mut Ledger) -> Vec<Factor> {
        let mut factors = Vec::new();
        for (i, (name, _)) in self.columns.labelled.iter().enumerate() {
            let codes: Vec<Code> = order.iter().map(|draft| self.codes[i][*draft as usize]).collect();
            let factor = self.codings[i].factor(name, &codes);
            if !factor.levels.is_empty() {
                factors.push(factor);
            } else if !LABELLED.contains(&name.as_str()) {
                ledger.find(&table.file, 0, Note::new(say::FACTOR_WITHOUT_COLUMN, &[("factor", name)]));
            }
        }
        factors
    }
}

fn for_one(column: &str, span: Span) -> Note {
    Note::new(say::RANGE_FOR_ONE, &[("column", &column), ("found", &span)])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn more_vines_than_there_can_be_are_refused() {
        let table = crate::intake::delimited::read("vines.csv", "row,position,variety\n1,1-60,a\n2,1-40,a\n3,1,a\n");
        let read = |most| read_at_most(most, &table, &Settings::default(), &mut Ledger::default());
        assert_eq!(read(101).map(|p| p.register.vines.len()), Ok(101));
        let error = read(100).map(|p| p.register.vines.len()).unwrap_err();
        assert_eq!((error.code, error.line), ("too_many_vines", Some(4)));
        assert!(error.message.contains("100"));
    }
}
