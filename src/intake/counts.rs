//! counts.csv: counts per row, instead of vines and walks.

use super::Unusable;
use super::coding::Coding;
use super::columns::{Columns, Factors, Spec, whole_lines};
use super::layout::{self, RowFound, RowIndex};
use super::ledger::{Ledger, Note};
use super::settings::Settings;
use super::table::{Line, Table};
use super::value;
use crate::base::words::intake as say;
use crate::block::{Code, CountLine, CountSheet, Layout};
use std::collections::{HashMap, HashSet};

pub(super) const SPEC: Spec = Spec {
    required: &["row", "planted", "failed"],
    optional: &[
        "batch",
        "variety",
        "clone",
        "rootstock",
        "seen",
        "good",
        "weak",
        "reached_wire",
        "no_budburst",
        "died",
        "dead",
        "scion_dead",
        "missing",
        "surveyed_on",
    ],
    factors: Factors::Here,
};
/// The labelled columns that every sheet may have, in their order in [`CountSheet::factors`].
const LABELLED: [&str; 4] = ["variety", "clone", "rootstock", "batch"];
/// The most vines on one line.
const MOST_VINES: u64 = 20_000_000;

/// The sheet, its layout, and the rows by label.
pub(super) struct Counted {
    pub sheet: CountSheet,
    pub layout: Layout,
    pub rows: RowIndex,
}

/// A line with its row's label and its levels.
struct Entry<'t> {
    line: Line<'t>,
    row: &'t str,
    counts: CountLine,
    codes: Vec<Code>,
}

/// Reads the counts. Without `places` in block.toml a row has as many places as vines were counted as planted there.
///
/// Errors: a required column is missing.
pub(super) fn read(table: &Table, settings: &Settings, ledger: &mut Ledger) -> Result<Counted, Unusable> {
    let columns = Columns::find(table, &SPEC, settings, ledger)?;
    let names: Vec<&str> = LABELLED.into_iter().chain(settings.factors.iter().map(String::as_str)).collect();
    let mut codings = vec![Coding::default(); names.len()];
    let mut entries = Vec::new();
    for line in whole_lines(table, ledger) {
        match entry(line, &columns, settings, &names, &mut codings) {
            Ok(entry) => entries.push(entry),
            Err(note) => ledger.set_aside(line, note),
        }
    }
    set_repeats_aside(&mut entries, ledger);
    entries.iter().for_each(|e| report_sums(e, ledger));
    Ok(sheet(entries, table, settings, &names, &codings, ledger))
}

fn sheet(
    entries: Vec<Entry>,
    table: &Table,
    settings: &Settings,
    names: &[&str],
    codings: &[Coding],
    ledger: &mut Ledger,
) -> Counted {
    let (layout, rows) = layout::lay_out(settings, &rows_found(&entries), &table.file, ledger);
    let mut factors = Vec::new();
    for (i, name) in names.iter().enumerate() {
        let codes: Vec<Code> = entries.iter().map(|e| e.codes[i]).collect();
        let factor = codings[i].factor(name, &codes);
        if !factor.levels.is_empty() {
            factors.push(factor);
        } else if !LABELLED.contains(name) {
            ledger.find(&table.file, 0, Note::new(say::FACTOR_WITHOUT_COLUMN, &[("factor", name)]));
        }
    }
    let line = |e: Entry| CountLine { row: rows.index(e.row).unwrap_or(0), ..e.counts };
    let lines = entries.into_iter().map(line).collect();
    Counted { sheet: CountSheet { lines, factors }, layout, rows }
}

fn entry<'t, 's: 't>(
    line: Line<'t>,
    columns: &Columns<'s>,
    settings: &Settings,
    names: &[&str],
    codings: &mut [Coding],
) -> Result<Entry<'t>, Note> {
    let cell = |name: &str| columns.at(name).read(line);
    let count = |name: &str| value::count(name, cell(name));
    let row = value::filled("row", Ok(Some(cell("row")).filter(|r| !r.is_empty())))?;
    let planted = value::filled("planted", count("planted"))?;
    let counts = CountLine {
        row: 0,
        planted,
        seen: count("seen")?.unwrap_or(planted),
        failed: value::filled("failed", count("failed"))?,
        good: count("good")?,
        weak: count("weak")?,
        reached_wire: count("reached_wire")?,
        no_budburst: count("no_budburst")?,
        died: count("died")?,
        dead: count("dead")?,
        scion_dead: count("scion_dead")?,
        missing: count("missing")?,
        surveyed_on: value::date("surveyed_on", cell("surveyed_on"), settings.date_form)?,
        line: line.number() as u32,
    };
    check(&counts)?;
    let mut codes = Vec::with_capacity(names.len());
    for (name, coding) in names.iter().zip(codings) {
        let label = if *name == "batch" { value::batch(cell(name))? } else { cell(name).to_string() };
        codes.push(coding.code(&label));
    }
    Ok(Entry { line, row, counts, codes })
}

/// What can't be: more seen than planted, more failed than seen, more vines than there can be.
fn check(counts: &CountLine) -> Result<(), Note> {
    let pairs = [
        ("planted", counts.planted, "the most that can be", MOST_VINES),
        ("seen", counts.seen, "planted", counts.planted),
        ("failed", counts.failed, "seen", counts.seen),
    ];
    let Some((what, more, of, less)) = pairs.into_iter().find(|(_, more, _, less)| more > less) else { return Ok(()) };
    let values: [(&str, &dyn std::fmt::Display); 4] = [("what", &what), ("more", &more), ("of", &of), ("less", &less)];
    Err(Note::new(say::COUNTS_IMPOSSIBLE, &values))
}

/// Two lines about the same vines on the same day: the second is a duplicate, or both are set aside.
fn set_repeats_aside(entries: &mut Vec<Entry>, ledger: &mut Ledger) {
    let mut by_cell: HashMap<_, Vec<usize>> = HashMap::new();
    for (i, e) in entries.iter().enumerate() {
        by_cell.entry((e.row, e.codes.clone(), e.counts.surveyed_on)).or_default().push(i);
    }
    let mut aside = HashSet::new();
    for lines in by_cell.into_values().filter(|lines| lines.len() > 1) {
        let first = &entries[lines[0]];
        let other = lines.iter().find(|i| !same(&first.counts, &entries[**i].counts));
        for i in lines.iter().filter(|i| other.is_some() || **i != lines[0]) {
            let rival =
                if *i == lines[0] { other.map_or(0, |o| entries[*o].line.number()) } else { first.line.number() };
            let kind = if other.is_some() { say::OVERLAPPING_COUNTS } else { say::DUPLICATE };
            ledger.set_aside(entries[*i].line, Note::new(kind, &[("row", &first.row), ("other", &rival)]));
            aside.insert(*i);
        }
    }
    let mut index = 0..;
    entries.retain(|_| !index.next().is_some_and(|i| aside.contains(&i)));
}

fn same(a: &CountLine, b: &CountLine) -> bool {
    CountLine { line: 0, ..a.clone() } == CountLine { line: 0, ..b.clone() }
}

/// The parts of what was seen and of what failed must make the whole.
fn report_sums(entry: &Entry, ledger: &mut Ledger) {
    let c = &entry.counts;
    let of_seen = [("good", c.good), ("weak", c.weak), ("failed", Some(c.failed))];
    let of_failed = [
        ("no_budburst", c.no_budburst),
        ("died", c.died),
        ("dead", c.dead),
        ("scion_dead", c.scion_dead),
        ("missing", c.missing),
    ];
    let of_living = [("reached_wire", c.reached_wire)];
    if c.good.is_some() || c.weak.is_some() {
        report_sum(entry, &of_seen, "seen", c.seen, ledger);
    }
    report_sum(entry, &of_failed, "failed", c.failed, ledger);
    report_sum(entry, &of_living, "seen without failed", c.seen - c.failed, ledger);
}

/// All parts given: their sum is the whole. Some given: it is no more than the whole.
fn report_sum(entry: &Entry, parts: &[(&str, Option<u64>)], whole: &str, of: u64, ledger: &mut Ledger) {
    let sum: u64 = parts.iter().filter_map(|p| p.1).sum();
    let complete = parts.len() > 1 && parts.iter().all(|p| p.1.is_some());
    if sum == of || (!complete && sum < of) {
        return;
    }
    let names = parts.iter().filter(|p| p.1.is_some()).map(|p| p.0).collect::<Vec<_>>().join(" + ");
    let values: [(&str, &dyn std::fmt::Display); 4] =
        [("parts", &names), ("sum", &sum), ("whole", &whole), ("of", &of)];
    ledger.find(entry.line.file(), entry.line.number(), Note::new(say::COUNTS_DONT_ADD_UP, &values));
}

fn rows_found(entries: &[Entry]) -> Vec<RowFound> {
    let mut by_day: HashMap<_, u64> = HashMap::new();
    let mut found: HashMap<&str, (u64, u64)> = HashMap::new();
    for e in entries {
        let of_day = by_day.entry((e.row, e.counts.surveyed_on)).or_insert(0);
        *of_day += e.counts.planted;
        let row = found.entry(e.row).or_insert((0, e.line.number()));
        row.0 = row.0.max(*of_day);
    }
    let row = |(label, (places, line)): (&str, (u64, u64))| RowFound {
        label: label.into(),
        places: u32::try_from(places).unwrap_or(u32::MAX),
        line,
    };
    found.into_iter().map(row).collect()
}
