//! diary.csv: what happened in the block, kept for the timeline of a claim.

use super::Unusable;
use super::columns::{Columns, Factors, Spec, whole_lines};
use super::ledger::{Ledger, Note};
use super::settings::Settings;
use super::table::{Line, Table};
use super::value;
use crate::block::DiaryEntry;

pub(super) const SPEC: Spec = Spec {
    required: &[],
    optional: &["date", "row_from", "row_to", "event", "amount", "unit", "note"],
    factors: Factors::Elsewhere,
};
/// The largest amount of anything.
const MOST: f64 = 1e12;

/// Reads the diary, in order of date. A line without a date is set aside: a timeline has no place for it.
///
/// Errors: a column stands there twice.
pub(super) fn read(table: &Table, settings: &Settings, ledger: &mut Ledger) -> Result<Vec<DiaryEntry>, Unusable> {
    let columns = Columns::find(table, &SPEC, settings, ledger)?;
    let mut entries = Vec::new();
    for line in whole_lines(table, ledger) {
        match entry(line, &columns, settings) {
            Ok(entry) => entries.push(entry),
            Err(note) => ledger.set_aside(line, note),
        }
    }
    entries.sort_by_key(|e| e.date);
    Ok(entries)
}

fn entry(line: Line, columns: &Columns, settings: &Settings) -> Result<DiaryEntry, Note> {
    let cell = |name: &str| columns.at(name).read(line);
    Ok(DiaryEntry {
        date: value::filled("date", value::date("date", cell("date"), settings.date_form))?,
        row_from: value::text(cell("row_from")),
        row_to: value::text(cell("row_to")),
        event: value::text(cell("event")).unwrap_or_default(),
        amount: value::number("amount", cell("amount"), -MOST..=MOST)?,
        unit: value::text(cell("unit")),
        note: value::text(cell("note")),
    })
}
