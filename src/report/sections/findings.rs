//! What was read, what was noticed, what was set aside.

use super::folded;
use crate::base::Finding;
use crate::base::words::number;
use crate::base::words::{fill, report as words};
use crate::intake::{Check, FileCount, SetAside};
use crate::report::labels::sentence;
use crate::report::part::{Column, Part, Table};
use crate::study::Study;

pub fn parts(study: &Study) -> Option<Vec<Part>> {
    let (check, set_aside) = (&study.check, &study.set_aside);
    if check.files.is_empty() && check.findings.is_empty() && set_aside.is_empty() {
        return None;
    }
    let mut parts = vec![Part::Text(set_aside_said(set_aside.len() as u64))];
    parts.extend(files(&check.files).map(Part::Table));
    parts.extend(folded(words::SET_ASIDE_TABLE, lines(set_aside).map(Part::Table).into_iter().collect()));
    // A line set aside is a finding too, said once.
    let said = |f: &&Finding| !set_aside.iter().any(|l| l.line > 0 && (&l.file, l.line) == (&f.file, f.line));
    let others: Vec<Finding> = check.findings.iter().filter(said).cloned().collect();
    parts.extend(folded(words::FINDINGS_TABLE, findings(&others).map(Part::Table).into_iter().collect()));
    Some(parts)
}

/// A reading alone, before anything is computed.
pub fn said(check: &Check) -> Vec<Part> {
    let set_aside = check.files.iter().map(|f| f.set_aside).sum();
    let tables = [files(&check.files), findings(&check.findings)];
    let read = fill(
        words::READ,
        &[
            ("vines", &number::count(check.vines)),
            ("places", &number::count(check.places)),
            ("walks", &number::count(check.walks)),
        ],
    );
    let text = Part::Text(format!("{read} {}", set_aside_said(set_aside)));
    [text].into_iter().chain(tables.into_iter().flatten().map(Part::Table)).collect()
}

fn set_aside_said(lines: u64) -> String {
    match lines {
        0 => words::SET_ASIDE_NONE.into(),
        1 => words::SET_ASIDE_ONE.into(),
        n => fill(words::SET_ASIDE_SOME, &[("n", &number::count(n))]),
    }
}

/// A table of these rows; none without rows.
fn table(caption: &str, columns: Vec<Column>, rows: Vec<Vec<String>>) -> Option<Table> {
    (!rows.is_empty()).then(|| Table { caption: caption.into(), columns, rows, ..Table::default() })
}

fn files(files: &[FileCount]) -> Option<Table> {
    let columns = vec![
        Column::text(words::C_FILE),
        Column::number(words::C_LINES),
        Column::number(words::C_USED),
        Column::number(words::C_SET_ASIDE),
        Column::number(words::C_BLANK),
    ];
    let row = |f: &FileCount| {
        let mut cells = vec![f.file.clone()];
        cells.extend([f.lines, f.used, f.set_aside, f.blank].map(number::count));
        cells
    };
    table(words::FILES_TABLE, columns, files.iter().map(row).collect())
}

fn place(file: &str, line: u64) -> String {
    if line == 0 { file.into() } else { format!("{file}:{line}") }
}

fn said_columns() -> Vec<Column> {
    vec![Column::text(words::C_WHERE), Column::text(words::C_WHAT), Column::text(words::C_HINT)]
}

fn findings(findings: &[Finding]) -> Option<Table> {
    let row = |f: &Finding| vec![place(&f.file, f.line), sentence(&f.message), sentence(&f.hint)];
    table(words::FINDINGS_TABLE, said_columns(), findings.iter().map(row).collect())
}

fn lines(lines: &[SetAside]) -> Option<Table> {
    let row = |l: &SetAside| vec![place(&l.file, l.line), sentence(&l.reason), sentence(&l.hint)];
    table(words::SET_ASIDE_TABLE, said_columns(), lines.iter().map(row).collect())
}
