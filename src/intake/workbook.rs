//! XLSX: sheets to tables, and a sheet of keys and values to the text of block.toml.

use super::Unusable;
use super::ledger::Note;
use super::table::{Table, TableBuilder};
use crate::base::words::{fill, intake as say};
use calamine::{DataRef, Reader, Xlsx};
use std::io::{Cursor, Read};
use std::panic::{AssertUnwindSafe, catch_unwind, set_hook, take_hook};
use std::sync::Mutex;
use toml::de::DeValue;

/// An open workbook.
pub(super) struct Workbook {
    pub file: String,
    inner: Xlsx<Cursor<Vec<u8>>>,
}

impl Workbook {
    /// Opens a workbook; `bytes` is the whole file.
    pub fn open(file: &str, bytes: Vec<u8>) -> Result<Self, Unusable> {
        let opened = guarded(|| {
            check_unpacked(&bytes)?;
            Xlsx::new(Cursor::new(bytes)).map_err(|e| e.to_string())
        });
        Ok(Workbook { file: file.into(), inner: opened.map_err(|why| unreadable(file, &why))? })
    }

    /// The sheet of this name, in any case.
    pub fn sheet_named(&self, name: &str) -> Option<String> {
        self.inner.sheet_names().into_iter().find(|s| s.trim().eq_ignore_ascii_case(name))
    }

    pub fn first_sheet(&self) -> Option<String> {
        self.inner.sheet_names().into_iter().next()
    }

    /// A sheet as a table called `name` in messages; line numbers are those of the sheet.
    pub fn table(&mut self, sheet: &str, name: &str) -> Result<Table, Unusable> {
        let cells = guarded(|| cells(&mut self.inner, sheet)).map_err(|why| unreadable(&self.file, &why))?;
        let mut builder = TableBuilder::new(name);
        let mut next_row = 0;
        for row in cells.chunk_by(|a, b| a.0 == b.0) {
            let number = row[0].0;
            builder.blank_lines(u64::from(number - next_row));
            write_row(row, &mut builder);
            builder.end_line(u64::from(number) + 1, None);
            next_row = number + 1;
        }
        Ok(builder.finish())
    }
}

/// The most bytes that the parts of a workbook may unpack to: some 300,000 lines of walks.
const MOST_UNPACKED: u64 = 256 << 20;

/// Refuses a workbook that unpacks to more than can be read at ease, by unpacking it once.
fn check_unpacked(bytes: &[u8]) -> Result<(), String> {
    let mut archive = zip::ZipArchive::new(Cursor::new(bytes)).map_err(|e| e.to_string())?;
    let mut left = MOST_UNPACKED + 1;
    for index in 0..archive.len() {
        let part = archive.by_index(index).map_err(|e| e.to_string())?;
        left -= std::io::copy(&mut part.take(left), &mut std::io::sink()).map_err(|e| e.to_string())?;
        if left == 0 {
            return Err(fill(say::UNPACKS_TOO_LARGE, &[("most", &(MOST_UNPACKED >> 20))]));
        }
    }
    Ok(())
}

/// Row and column from 0, and the text.
type Cell = (u32, u32, String);

fn cells(workbook: &mut Xlsx<Cursor<Vec<u8>>>, sheet: &str) -> Result<Vec<Cell>, String> {
    let mut reader = workbook.worksheet_cells_reader(sheet).map_err(|e| e.to_string())?;
    let mut cells = Vec::new();
    while let Some(cell) = reader.next_cell().map_err(|e| e.to_string())? {
        let ((row, column), text) = (cell.get_position(), text(cell.get_value()));
        if !text.is_empty() {
            cells.push((row, column, text));
        }
    }
    cells.sort();
    cells.dedup_by_key(|c| (c.0, c.1));
    Ok(cells)
}

fn write_row(row: &[Cell], builder: &mut TableBuilder) {
    let mut next = 0;
    for (_, column, text) in row {
        (next..*column).for_each(|_| builder.end_cell());
        builder.cell(text);
        next = column + 1;
    }
}

/// A cell as text: 7.0 is "7", a date is 2025-05-14.
fn text(value: &DataRef) -> String {
    match value {
        DataRef::Int(number) => number.to_string(),
        DataRef::Float(number) => plain(*number),
        DataRef::String(text) => text.clone(),
        DataRef::SharedString(text) => text.to_string(),
        DataRef::Bool(flag) => flag.to_string(),
        DataRef::DateTime(date) if date.is_datetime() => {
            let (year, month, day, ..) = date.to_ymd_hms_milli();
            format!("{year:04}-{month:02}-{day:02}")
        }
        DataRef::DateTime(duration) => plain(duration.as_f64()),
        DataRef::DateTimeIso(text) | DataRef::DurationIso(text) => text.clone(),
        DataRef::Error(error) => error.to_string(),
        DataRef::Empty => String::new(),
    }
}

/// A number without exponent; whole ones without decimals.
pub(super) fn plain(number: f64) -> String {
    // Spreadsheets show 15 digits; 0.1 + 0.2 typed as a formula reads 0.3.
    let shown = format!("{number:.14e}").parse().unwrap_or(number);
    if shown == 0.0 { "0".into() } else { format!("{shown}") }
}

/// Held while the process's panic hook is another, so that no two readers exchange it at once.
static HOOK: Mutex<()> = Mutex::new(());

/// Runs a reader of foreign files; should it panic on damaged contents, that is an unreadable file, and nothing else
/// is said of it. Not to be nested.
pub(super) fn guarded<T>(read: impl FnOnce() -> Result<T, String>) -> Result<T, String> {
    let _held = HOOK.lock();
    let hook = take_hook();
    set_hook(Box::new(|_| {}));
    let outcome = catch_unwind(AssertUnwindSafe(read));
    set_hook(hook);
    outcome.unwrap_or_else(|_| Err(say::BROKEN_INSIDE.into()))
}

pub(super) fn unreadable(file: &str, why: &str) -> Unusable {
    Note::new(say::UNREADABLE_FILE, &[("why", &why)]).unusable(file, None)
}

/// The text of block.toml from a table of keys and values; line n of the text is line n of the sheet.
///
/// Keys are dotted (`layout.row_spacing_m`). A value that reads as a TOML number, date, list or table is one;
/// anything else is text.
pub(super) fn block_text(table: &Table) -> String {
    let mut lines: Vec<String> = Vec::new();
    if table.heading.first().is_some_and(|h| !h.eq_ignore_ascii_case("key")) {
        lines.push(assignment(&table.heading[0], table.heading.get(1).map_or("", String::as_str)));
    }
    for line in table.lines() {
        lines.resize((line.number() as usize).saturating_sub(1).max(lines.len()), String::new());
        lines.push(assignment(line.cell(0), line.cell(1)));
    }
    lines.join("\n")
}

fn assignment(key: &str, value: &str) -> String {
    let value = value.replace(['\n', '\r'], " ");
    if key.is_empty() || value.is_empty() {
        return String::new();
    }
    let key = key_parts(key).iter().map(|part| quoted_if_needed(part)).collect::<Vec<_>>().join(".");
    let raw = DeValue::parse(&value).is_ok_and(|v| match v.get_ref() {
        DeValue::Float(_) => value.starts_with(|c: char| c.is_ascii_digit() || c == '-' || c == '+'),
        _ => true,
    });
    if raw { format!("{key} = {value}") } else { format!("{key} = {}", quoted(&value)) }
}

/// The parts of a dotted key; dots inside quotation marks don't part.
fn key_parts(key: &str) -> Vec<String> {
    let mut parts = vec![String::new()];
    let mut open = false;
    for c in key.chars() {
        open ^= c == '"';
        match c {
            '.' if !open => parts.push(String::new()),
            _ => parts.iter_mut().last().into_iter().for_each(|p| p.push(c)),
        }
    }
    parts.iter().map(|p| p.trim().to_string()).collect()
}

fn quoted_if_needed(part: &str) -> String {
    let bare = !part.is_empty() && part.chars().all(|c| c.is_ascii_alphanumeric() || c == '_' || c == '-');
    let already = part.len() > 1 && part.starts_with('"') && part.ends_with('"');
    if bare || already { part.to_string() } else { quoted(part) }
}

pub(super) fn quoted(text: &str) -> String {
    toml::Value::String(text.into()).to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_read_as_they_are_shown() {
        for (number, want) in [(7.0, "7"), (1.5, "1.5"), (0.1 + 0.2, "0.3"), (-0.0, "0"), (1e15, "1000000000000000")] {
            assert_eq!(plain(number), want);
        }
    }

    #[test]
    fn keys_and_values_become_toml() {
        for (key, value, want) in [
            ("layout.row_spacing_m", "2.4", "layout.row_spacing_m = 2.4"),
            ("materials.same again.variety", "SO4 \"a\"", "materials.\"same again\".variety = 'SO4 \"a\"'"),
            ("claim.\"L.3\".guaranteed", "0.95", "claim.\"L.3\".guaranteed = 0.95"),
            ("factors", "[\"crew\"]", "factors = [\"crew\"]"),
            ("planted_on", "2025-05-14", "planted_on = 2025-05-14"),
            ("name", "nan", "name = \"nan\""),
            ("name", "007", "name = \"007\""),
            ("name", "", ""),
        ] {
            assert_eq!(assignment(key, value), want);
        }
    }
}
