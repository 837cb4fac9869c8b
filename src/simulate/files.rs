//! A block as a grower's folder: block.toml and the tables, short where ranges and `rest` lines say the same.

use super::settings;
use crate::block::{
    Block, CountSheet, Delivery, DiaryEntry, Factor, Look, Plants, Register, RemovedWhy, StockType, Union, Vine, Walk,
};
use jiff::civil::Date;
use std::collections::{BTreeMap, BTreeSet};

/// How the tables are written; block.toml says what a reader needs to know of it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Dialect {
    pub delimiter: Delimiter,
    pub decimal: Decimal,
    pub dates: DateForm,
    pub line_end: LineEnd,
}

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Delimiter {
    #[default]
    Comma,
    Semicolon,
    Tab,
}

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Decimal {
    #[default]
    Point,
    Comma,
}

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum DateForm {
    /// 2025-05-14
    #[default]
    Iso,
    /// 14.05.2025
    DayMonthYear,
}

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum LineEnd {
    #[default]
    Lf,
    CrLf,
}

impl Dialect {
    /// As spreadsheets write it where the comma is the decimal mark.
    pub fn continental() -> Self {
        Dialect {
            delimiter: Delimiter::Semicolon,
            decimal: Decimal::Comma,
            dates: DateForm::DayMonthYear,
            line_end: LineEnd::Lf,
        }
    }

    /// The contract's name of the form of dates, where it isn't the default.
    pub(super) fn date_format(&self) -> Option<&'static str> {
        (self.dates == DateForm::DayMonthYear).then_some("day.month.year")
    }

    fn number(&self, value: impl std::fmt::Display) -> String {
        let text = value.to_string();
        if self.decimal == Decimal::Comma { text.replace('.', ",") } else { text }
    }

    fn date(&self, date: Date) -> String {
        match self.dates {
            DateForm::Iso => date.to_string(),
            DateForm::DayMonthYear => format!("{:02}.{:02}.{}", date.day(), date.month(), date.year()),
        }
    }
}

/// Every file of the block's folder by its name: block.toml, vines.csv and surveys.csv (or counts.csv), batches.csv,
/// diary.csv; a table without lines is left out. A vine's date that is the block's own isn't repeated.
pub fn files(block: &Block, dialect: &Dialect) -> BTreeMap<String, String> {
    let mut files = BTreeMap::from([("block.toml".to_string(), settings::text(block, dialect))]);
    for (name, table) in tables(block, dialect) {
        if !table.lines.is_empty() {
            files.insert(name.to_string(), table.text(dialect));
        }
    }
    files
}

/// The tables of a block by the names of their files.
pub(super) fn tables(block: &Block, dialect: &Dialect) -> Vec<(&'static str, Table)> {
    let mut tables = match &block.plants {
        Plants::Vines(register) => {
            vec![("vines.csv", vines(block, register, dialect)), ("surveys.csv", surveys(block, register, dialect))]
        }
        Plants::Counts(sheet) => vec![("counts.csv", counts(block, sheet, dialect))],
    };
    tables.push(("batches.csv", batches(&block.deliveries, dialect)));
    tables.push(("diary.csv", diary(&block.diary, dialect)));
    tables
}

/// A table of cells; `lines` are as wide as the heading.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Table {
    pub heading: Vec<String>,
    pub lines: Vec<Vec<String>>,
}

impl Table {
    /// Leaves out the columns behind the first `required` ones that hold nothing.
    fn new(heading: Vec<String>, lines: Vec<Vec<String>>, required: usize) -> Self {
        let kept: Vec<bool> =
            (0..heading.len()).map(|i| i < required || lines.iter().any(|l| !l[i].is_empty())).collect();
        let keep = |cells: Vec<String>| cells.into_iter().zip(&kept).filter_map(|(c, k)| k.then_some(c)).collect();
        Table { heading: keep(heading), lines: lines.into_iter().map(keep).collect() }
    }

    /// Adds a line with these cells, the others empty.
    pub fn add(&mut self, cells: &[(&str, &str)]) {
        let cell = |name: &String| cells.iter().find(|(n, _)| n == name).map_or("", |(_, c)| *c).to_string();
        self.lines.push(self.heading.iter().map(cell).collect());
    }

    pub fn text(&self, dialect: &Dialect) -> String {
        let delimiter = match dialect.delimiter {
            Delimiter::Comma => b',',
            Delimiter::Semicolon => b';',
            Delimiter::Tab => b'\t',
        };
        let end = match dialect.line_end {
            LineEnd::Lf => csv::Terminator::Any(b'\n'),
            LineEnd::CrLf => csv::Terminator::CRLF,
        };
        let mut writer = csv::WriterBuilder::new().delimiter(delimiter).terminator(end).from_writer(Vec::new());
        for line in std::iter::once(&self.heading).chain(&self.lines) {
            let _ = writer.write_record(line); // into memory: the only error would be a line of another width
        }
        writer.into_inner().map(|bytes| String::from_utf8_lossy(&bytes).into_owned()).unwrap_or_default()
    }
}

fn heading(first: &[&str], factors: &[Factor], rest: &[&str]) -> Vec<String> {
    let factors = factors.iter().map(|f| f.name.as_str());
    first.iter().copied().chain(factors).chain(rest.iter().copied()).map(str::to_string).collect()
}

fn or_empty<T>(value: Option<T>, write: impl Fn(T) -> String) -> String {
    value.map(write).unwrap_or_default()
}

/// What stands at one place: cells, and where.
struct Entry {
    row: u32,
    position: u32,
    cells: Vec<String>,
}

/// Joins neighbours along a row that say the same: (row, position or range, cells).
fn joined(entries: Vec<Entry>) -> Vec<(u32, String, Vec<String>)> {
    let mut stretches: Vec<(Entry, u32)> = Vec::new();
    for entry in entries {
        match stretches.last_mut() {
            Some((first, last))
                if first.row == entry.row && *last + 1 == entry.position && first.cells == entry.cells =>
            {
                *last += 1;
            }
            _ => {
                let position = entry.position;
                stretches.push((entry, position));
            }
        }
    }
    let range = |a: u32, b: u32| if a == b { a.to_string() } else { format!("{a}-{b}") };
    stretches.into_iter().map(|(e, last)| (e.row, range(e.position, last), e.cells)).collect()
}

fn line(block: &Block, row: u32, position: String, cells: Vec<String>) -> Vec<String> {
    [block.layout.label(row).to_string(), position].into_iter().chain(cells).collect()
}

// The planting register.

fn vines(block: &Block, register: &Register, dialect: &Dialect) -> Table {
    let rest = ["planted_on", "planted_seq", "removed_on", "removed_why", "moved_from", "x_m", "y_m"];
    let mut entries: Vec<(u32, Entry)> = generations(register)
        .into_iter()
        .zip(&register.vines)
        .enumerate()
        .map(|(i, (generation, vine))| (generation, entry(block, register, i, vine, dialect)))
        .collect();
    entries.sort_by_key(|(generation, e)| (e.row, *generation, e.position));
    let lines = joined(entries.into_iter().map(|(_, e)| e).collect());
    let lines = lines.into_iter().map(|(row, position, cells)| line(block, row, position, cells)).collect();
    Table::new(heading(&["row", "position"], &register.factors, &rest), lines, 3)
}

/// How many vines stood at its place before each vine.
fn generations(register: &Register) -> Vec<u32> {
    let mut last = None;
    let mut generation = 0;
    let mut one = |vine: &Vine| {
        generation = if last == Some(vine.place) { generation + 1 } else { 0 };
        last = Some(vine.place);
        generation
    };
    register.vines.iter().map(&mut one).collect()
}

fn entry(block: &Block, register: &Register, i: usize, vine: &Vine, dialect: &Dialect) -> Entry {
    let mut cells: Vec<String> = register.factors.iter().map(|f| f.label(i).unwrap_or("").to_string()).collect();
    let moved = |p: crate::block::Place| format!("{}/{}", block.layout.label(p.row), p.position);
    cells.extend([
        or_empty(vine.planted_on.filter(|d| Some(*d) != block.planted_on), |d| dialect.date(d)),
        or_empty(vine.planted_seq, |n| n.to_string()),
        or_empty(vine.removed_on, |d| dialect.date(d)),
        or_empty(vine.removed_why, |w| removed_why(w).to_string()),
        or_empty(vine.moved_from, moved),
        or_empty(vine.x_y_m, |(x, _)| dialect.number(x)),
        or_empty(vine.x_y_m, |(_, y)| dialect.number(y)),
    ]);
    Entry { row: vine.place.row, position: vine.place.position, cells }
}

fn removed_why(why: RemovedWhy) -> &'static str {
    match why {
        RemovedWhy::Failed => "failed",
        RemovedWhy::Moved => "moved",
        RemovedWhy::Cleared => "cleared",
        RemovedWhy::Dug => "dug",
        RemovedWhy::Other => "other",
    }
}

// The walks.

const SURVEY: [&str; 16] = [
    "surveyed_on",
    "state",
    "walk",
    "height_cm",
    "diameter_mm",
    "reached_wire",
    "vigour",
    "stage_bbch",
    "union",
    "union_height_cm",
    "guard",
    "cause_seen",
    "by",
    "method",
    "note",
    "photo",
];

fn surveys(block: &Block, register: &Register, dialect: &Dialect) -> Table {
    let mut lines = Vec::new();
    for walk in &register.walks {
        for looks in by_row(register, &walk.looks) {
            lines.extend(row_of_looks(block, register, walk, looks, dialect));
        }
    }
    Table::new(heading(&["row", "position"], &[], &SURVEY), lines, 4)
}

fn by_row<'a>(register: &'a Register, looks: &'a [Look]) -> impl Iterator<Item = &'a [Look]> {
    looks.chunk_by(|a, b| register.vines[a.vine as usize].place.row == register.vines[b.vine as usize].place.row)
}

/// The lines of one row in one walk: ranges, and where the whole row was looked at, a `rest` line for what most of them say.
fn row_of_looks(
    block: &Block,
    register: &Register,
    walk: &Walk,
    looks: &[Look],
    dialect: &Dialect,
) -> Vec<Vec<String>> {
    let place = |l: &Look| register.vines[l.vine as usize].place;
    let entries: Vec<Entry> = looks
        .iter()
        .map(|l| Entry { row: place(l).row, position: place(l).position, cells: seen(walk, l, dialect) })
        .collect();
    let Some(row) = entries.first().map(|e| e.row) else { return Vec::new() };
    let rest = if looked_at_all(register, row, looks) { commonest(&entries) } else { None };
    let own = entries.into_iter().filter(|e| Some(&e.cells) != rest.as_ref()).collect();
    let ranges = joined(own).into_iter().map(|(row, position, cells)| line(block, row, position, cells));
    let rest = rest.into_iter().map(|cells| line(block, row, "rest".into(), cells));
    ranges.chain(rest).collect()
}

/// Whether every vine that stood in the row on the day was looked at.
fn looked_at_all(register: &Register, row: u32, looks: &[Look]) -> bool {
    let Some(day) = looks.iter().map(|l| l.date).min() else { return false };
    let from = register.vines.partition_point(|v| v.place.row < row);
    let to = register.vines.partition_point(|v| v.place.row <= row);
    let planted = |v: &&Vine| v.planted_on.is_none_or(|d| d <= day);
    let standing: BTreeSet<_> = register.vines[from..to].iter().filter(planted).map(|v| v.place).collect();
    let gone = register.vines[from..to].iter().any(|v| v.removed_on.is_some_and(|d| d <= day));
    !gone && standing.len() == looks.len()
}

/// The cells that more than half of the entries share, and at least two.
fn commonest(entries: &[Entry]) -> Option<Vec<String>> {
    let mut tally: BTreeMap<&[String], usize> = BTreeMap::new();
    entries.iter().for_each(|e| *tally.entry(&e.cells).or_default() += 1);
    let (cells, n) = tally.into_iter().max_by_key(|(_, n)| *n)?;
    (n > 1 && 2 * n > entries.len()).then(|| cells.to_vec())
}

fn seen(walk: &Walk, look: &Look, dialect: &Dialect) -> Vec<String> {
    let label = Some(&walk.label).filter(|l| **l != walk.first_day.to_string());
    let detail = look.detail.as_deref().cloned().unwrap_or_default();
    let mut cells = vec![
        dialect.date(look.date),
        look.state.name().to_string(),
        or_empty(label, String::clone),
        or_empty(look.height_cm, |h| dialect.number(h)),
        or_empty(look.diameter_mm, |d| dialect.number(d)),
        or_empty(look.reached_wire, |yes| if yes { "yes" } else { "no" }.to_string()),
        or_empty(look.vigour, |v| v.to_string()),
        or_empty(look.stage_bbch, |s| s.to_string()),
        or_empty(look.union, |u| union(u).to_string()),
        or_empty(look.union_height_cm, |h| dialect.number(h)),
    ];
    let further = [detail.guard, detail.cause_seen, detail.by, detail.method, detail.note, detail.photo];
    cells.extend(further.map(Option::unwrap_or_default));
    cells
}

fn union(union: Union) -> &'static str {
    match union {
        Union::Ok => "ok",
        Union::Moves => "moves",
        Union::Open => "open",
    }
}

// Counts, deliveries, diary.

fn counts(block: &Block, sheet: &CountSheet, dialect: &Dialect) -> Table {
    let rest =
        ["seen", "good", "weak", "reached_wire", "no_budburst", "died", "dead", "scion_dead", "missing", "surveyed_on"];
    let number = |n: Option<u64>| or_empty(n, |n| n.to_string());
    let one = |(i, l): (usize, &crate::block::CountLine)| {
        let mut cells = vec![block.layout.label(l.row).to_string(), l.planted.to_string(), l.failed.to_string()];
        cells.extend(sheet.factors.iter().map(|f| f.label(i).unwrap_or("").to_string()));
        let of = [Some(l.seen), l.good, l.weak, l.reached_wire, l.no_budburst, l.died, l.dead, l.scion_dead, l.missing];
        cells.extend(of.map(number));
        cells.push(or_empty(l.surveyed_on, |d| dialect.date(d)));
        cells
    };
    let lines = sheet.lines.iter().enumerate().map(one).collect();
    Table::new(heading(&["row", "planted", "failed"], &sheet.factors, &rest), lines, 3)
}

fn batches(deliveries: &[Delivery], dialect: &Dialect) -> Table {
    let names = [
        "batch",
        "nursery",
        "stock_type",
        "ordered_on",
        "ordered",
        "delivered_on",
        "delivered",
        "planted",
        "spares",
        "opened_on",
        "condition_on_arrival",
        "discovered_on",
        "notified_on",
        "note",
    ];
    let date = |d: Option<Date>| or_empty(d, |d| dialect.date(d));
    let number = |n: Option<u64>| or_empty(n, |n| n.to_string());
    let text = |t: &Option<String>| t.clone().unwrap_or_default();
    let one = |d: &Delivery| {
        vec![
            d.batch.clone(),
            text(&d.nursery),
            or_empty(d.stock_type, |s| stock_type(s).to_string()),
            date(d.ordered_on),
            number(d.ordered),
            date(d.delivered_on),
            number(d.delivered),
            number(d.planted),
            number(d.spares),
            date(d.opened_on),
            text(&d.condition_on_arrival),
            date(d.discovered_on),
            date(d.notified_on),
            text(&d.note),
        ]
    };
    Table::new(heading(&names, &[], &[]), deliveries.iter().map(one).collect(), 1)
}

pub(super) fn stock_type(kind: StockType) -> &'static str {
    match kind {
        StockType::Dormant => "dormant",
        StockType::Green => "green",
        StockType::Potted => "potted",
    }
}

fn diary(entries: &[DiaryEntry], dialect: &Dialect) -> Table {
    let text = |t: &Option<String>| t.clone().unwrap_or_default();
    let one = |e: &DiaryEntry| {
        let amount = or_empty(e.amount, |a| dialect.number(a));
        let (from, to) = (text(&e.row_from), text(&e.row_to));
        vec![dialect.date(e.date), from, to, e.event.clone(), amount, text(&e.unit), text(&e.note)]
    };
    let names = ["date", "row_from", "row_to", "event", "amount", "unit", "note"];
    Table::new(heading(&names, &[], &[]), entries.iter().map(one).collect(), 1)
}
