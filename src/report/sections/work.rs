//! The work list: what to do with which vine, row by row.

use super::folded;
use crate::base::words::number;
use crate::base::words::{fill, report as words};
use crate::order::Order;
use crate::report::advice::{orders, planned, recommended};
use crate::report::labels::{ACTIONS, ActionLook, listed, sentence};
use crate::report::part::{Column, Entry, EntryLine, Part, Table};
use crate::study::Study;
use crate::triage::{Action, RowWork, Triage, Work};
use std::collections::BTreeMap;

/// Totals of more rows than this are folded away: the work list itself says them again, row by row.
const MOST_ROWS: usize = 12;

pub fn parts(study: &Study) -> Option<Vec<Part>> {
    let triage = &study.triage;
    let mut parts = vec![Part::Text(words::WORK_INTRO.into())];
    if !used(triage).is_empty() {
        parts.push(Part::Entries(vec![tapes(triage)]));
    }
    parts.push(Part::Text(needs(study)));
    let work = triage.vines.value().map_or(&[][..], Vec::as_slice);
    let by_row = grouped(work);
    let entries: Vec<Entry> =
        triage.rows.iter().filter_map(|r| by_row.get(r.row.as_str()).and_then(|work| entry(r, work))).collect();
    parts.extend(row_totals(triage));
    if !entries.is_empty() {
        parts.push(Part::Heading(words::WORK_BY_ROW.into()));
        parts.push(Part::Entries(entries));
    }
    parts.extend(reasons(work));
    Some(parts)
}

fn worked() -> impl Iterator<Item = &'static ActionLook> {
    ACTIONS.iter().filter(|a| a.action != Action::Leave)
}

fn total(totals: &BTreeMap<Action, u64>, action: Action) -> u64 {
    totals.get(&action).copied().unwrap_or(0)
}

/// The actions that occur, the most pressing first.
fn used(triage: &Triage) -> Vec<&'static ActionLook> {
    ACTIONS.iter().filter(|a| total(&triage.totals, a.action) > 0).collect()
}

/// The letters with what they mean.
fn tapes(triage: &Triage) -> Entry {
    let line = |a: &ActionLook| EntryLine {
        tag: a.letter.into(),
        label: format!("{} {}", a.look.label, number::count(total(&triage.totals, a.action))),
        text: sentence(a.means),
    };
    Entry { title: words::WORK_TAPES.into(), note: String::new(), lines: used(triage).into_iter().map(line).collect() }
}

/// Hours, things to have ready, and how these go with the order.
fn needs(study: &Study) -> String {
    let triage = &study.triage;
    let mut said = vec![fill(words::WORK_HOURS, &[("hours", &number::hours(triage.labour_hours))])];
    let bought = triage.materials.iter().filter(|(_, n)| **n > 0);
    let things: Vec<String> =
        bought.map(|(item, n)| format!("{} {}", number::count(*n), item.replace('_', " "))).collect();
    if !things.is_empty() {
        said.push(fill(words::WORK_BUY, &[("things", &listed(&things))]));
    }
    said.extend(beside_the_order(study));
    said.join(" ")
}

/// The vines of the work list beside those of the order: the same places, or what the option does instead.
fn beside_the_order(study: &Study) -> Vec<String> {
    let Some(outlook) = recommended(study).filter(|_| planned(study) > 0) else { return Vec::new() };
    let needed: u64 = outlook.vines_needed.iter().map(|n| n.places).sum();
    if needed != planned(study) {
        let (replace, needed) = (number::count(planned(study)), number::count(needed));
        let values: [(&str, &dyn std::fmt::Display); 3] =
            [("replace", &replace), ("option", &outlook.name), ("needed", &needed)];
        return vec![fill(words::WORK_OPTION, &values)];
    }
    let count = |action| number::count(total(&study.triage.totals, action));
    let held = total(&study.triage.totals, Action::Hold) > 0;
    let held =
        held.then(|| fill(words::WORK_HELD, &[("now", &count(Action::Replace)), ("held", &count(Action::Hold))]));
    held.into_iter().chain(orders(study).iter().filter_map(order)).collect()
}

fn order(order: &Order) -> Option<String> {
    let values: [(&str, &dyn std::fmt::Display); 4] = [
        ("order", &number::count(*order.order.value()?)),
        ("material", &order.material),
        ("chance", &number::chance(*order.probability_enough.value()?)),
        ("needed", &number::count(order.needed)),
    ];
    Some(fill(words::WORK_ORDER, &values))
}

/// Totals per row; actions that occur nowhere have no column.
fn row_totals(triage: &Triage) -> Option<Part> {
    let used = used(triage);
    let mut columns = vec![Column::text(words::C_ROW), Column::number(words::C_PLACES)];
    columns.extend(used.iter().map(|a| Column::number(if a.letter.is_empty() { a.look.label } else { a.letter })));
    let row = |r: &RowWork| {
        let mut cells = vec![r.row.clone(), number::count(r.places)];
        cells.extend(used.iter().map(|a| number::count(total(&r.totals, a.action))));
        cells
    };
    let rows: Vec<_> = triage.rows.iter().map(row).collect();
    let table = Table { caption: words::WORK_TOTALS.into(), columns, rows, ..Table::default() };
    match triage.rows.len() {
        0 => None,
        1..=MOST_ROWS => Some(Part::Table(table)),
        _ => folded(words::WORK_TOTALS, vec![Part::Table(table)]),
    }
}

fn grouped(work: &[Work]) -> BTreeMap<&str, Vec<&Work>> {
    let mut rows: BTreeMap<&str, Vec<&Work>> = BTreeMap::new();
    for w in work {
        rows.entry(w.row.as_str()).or_default().push(w);
    }
    rows
}

/// A row of the block; none where none of its vines needs anything.
fn entry(row: &RowWork, work: &[&Work]) -> Option<Entry> {
    let rest = rest(row);
    let line = |a: &ActionLook| {
        let positions: Vec<u32> = work.iter().filter(|w| w.action == a.action).map(|w| w.position).collect();
        (!positions.is_empty()).then(|| EntryLine {
            tag: a.letter.into(),
            label: format!("{} {}", a.look.label, number::count(positions.len() as u64)),
            text: if rest == Some(a.action) { words::WORK_REST.into() } else { number::positions(&positions) },
        })
    };
    let lines: Vec<EntryLine> = worked().filter_map(line).collect();
    let leave = number::count(total(&row.totals, Action::Leave));
    let note = match total(&row.totals, Action::Leave) {
        0 => fill(words::WORK_ROW_ALL, &[("places", &number::count(row.places))]),
        _ => fill(words::WORK_ROW_NOTE, &[("leave", &leave), ("places", &number::count(row.places))]),
    };
    let title = fill(words::WORK_ROW, &[("row", &row.row)]);
    (!lines.is_empty()).then_some(Entry { title, note, lines })
}

/// Where every vine of a row needs something: what most of the living need, which is quicker said of "all the others".
fn rest(row: &RowWork) -> Option<Action> {
    let most = [Action::TakeUp, Action::CutBack].into_iter().max_by_key(|a| total(&row.totals, *a))?;
    let others: u64 = row.totals.iter().filter(|(a, _)| **a != most).map(|(_, n)| n).sum();
    let whole = others + total(&row.totals, most) == row.places;
    (whole && total(&row.totals, Action::Leave) == 0 && total(&row.totals, most) > others / 2).then_some(most)
}

/// The reason of each vine's work; neighbours with the same reason share a line.
fn reasons(work: &[Work]) -> Option<Part> {
    let mut groups: Vec<(&Work, Vec<u32>)> = Vec::new();
    for w in work.iter().filter(|w| w.action != Action::Leave) {
        let same = |(g, _): &&mut (&Work, Vec<u32>)| g.row == w.row && g.action == w.action && g.why == w.why;
        match groups.iter_mut().rev().take_while(|(g, _)| g.row == w.row).find(same) {
            Some((_, positions)) => positions.push(w.position),
            None => groups.push((w, vec![w.position])),
        }
    }
    let said = |action: Action| ACTIONS.iter().find(|a| a.action == action).map_or("", |a| a.look.label);
    let row = |(w, positions): &(&Work, Vec<u32>)| {
        vec![w.row.clone(), number::positions(positions), said(w.action).into(), sentence(&w.why)]
    };
    let columns = vec![
        Column::text(words::C_ROW),
        Column::text(words::C_POSITION),
        Column::text(words::C_DO),
        Column::text(words::C_WHY),
    ];
    let table = Table {
        caption: words::WORK_REASONS.into(),
        columns,
        rows: groups.iter().map(row).collect(),
        ..Table::default()
    };
    if groups.is_empty() { None } else { folded(words::WORK_REASONS, vec![Part::Table(table)]) }
}
