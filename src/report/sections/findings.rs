//! What was read, what was noticed, what was set aside.

use super::folded;
use crate::base::Finding;
use crate::base::words::{fill, report as words};
use crate::intake::{FileCount, SetAside};
use crate::report::labels::sentence;
use crate::report::number;
use crate::report::part::{Column, Part, Table};
use crate::study::Study;

pub fn parts(study: &Study) -> Option<Vec<Part>> {
    let check = &study.check;
    if check.files.is_empty() && check.findings.is_empty() && study.set_aside.is_empty() {
        return None;
    }
    let set_aside = study.set_aside.len() as u64;
    let mut parts = vec![Part::Text(match set_aside {
        0 => words::SET_ASIDE_NONE.into(),
        1 => words::SET_ASIDE_ONE.into(),
        n => fill(words::SET_ASIDE_SOME, &[("n", &number::count(n))]),
    })];
    if !check.files.is_empty() {
        parts.push(Part::Table(files(&check.files)));
    }
    if !study.set_aside.is_empty() {
        parts.extend(folded(words::SET_ASIDE_TABLE, vec![Part::Table(lines(&study.set_aside))]));
    }
    if !check.findings.is_empty() {
        parts.extend(folded(words::FINDINGS_TABLE, vec![Part::Table(findings(&check.findings))]));
    }
    Some(parts)
}

fn files(files: &[FileCount]) -> Table {
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
    Table { caption: words::FILES_TABLE.into(), columns, rows: files.iter().map(row).collect(), marked: None }
}

fn place(file: &str, line: u64) -> String {
    if line == 0 { file.into() } else { format!("{file}:{line}") }
}

fn said_columns() -> Vec<Column> {
    vec![Column::text(words::C_WHERE), Column::text(words::C_WHAT), Column::text(words::C_HINT)]
}

fn findings(findings: &[Finding]) -> Table {
    let row = |f: &Finding| vec![place(&f.file, f.line), sentence(&f.message), sentence(&f.hint)];
    let rows = findings.iter().map(row).collect();
    Table { caption: words::FINDINGS_TABLE.into(), columns: said_columns(), rows, marked: None }
}

fn lines(lines: &[SetAside]) -> Table {
    let row = |l: &SetAside| vec![place(&l.file, l.line), sentence(&l.reason), sentence(&l.hint)];
    let rows = lines.iter().map(row).collect();
    Table { caption: words::SET_ASIDE_TABLE.into(), columns: said_columns(), rows, marked: None }
}
