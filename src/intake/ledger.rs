//! What is said about the files: findings, lines set aside, and the account of every line.

use super::table::{Line, Table};
use super::{FileCount, SetAside, Unusable};
use crate::base::Finding;
use crate::base::words::{fill, intake::Kind};
use std::collections::HashSet;
use std::fmt::Display;

/// The most characters of one value that a message shows.
const MOST_SHOWN: usize = 300;

/// Trouble that has no place yet: code, what is wrong, what would be right.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Note {
    pub code: &'static str,
    pub message: String,
    pub hint: String,
}

impl Note {
    pub fn new(kind: Kind, values: &[(&str, &dyn Display)]) -> Self {
        let shown: Vec<(&str, String)> = values.iter().map(|(name, value)| (*name, shortened(value))).collect();
        let shown: Vec<(&str, &dyn Display)> = shown.iter().map(|(name, text)| (*name, text as &dyn Display)).collect();
        Note { code: kind.code, message: fill(kind.message, &shown), hint: fill(kind.hint, &shown) }
    }

    /// The same trouble, where it makes the input unusable.
    pub fn unusable(self, file: &str, line: Option<u64>) -> Unusable {
        Unusable { code: self.code, message: self.message, file: file.into(), line, hint: self.hint }
    }
}

/// A value as a message shows it: a cell of any length, cut where nobody reads on.
fn shortened(value: &dyn Display) -> String {
    let text = value.to_string();
    match text.char_indices().nth(MOST_SHOWN) {
        Some((end, _)) => format!("{}…", &text[..end]),
        None => text,
    }
}

/// The account of one reading.
#[derive(Debug, Default)]
pub(super) struct Ledger {
    findings: Vec<Finding>,
    set_aside: Vec<SetAside>,
    known_aside: HashSet<(u32, u64)>,
    files: Vec<FileCount>,
}

impl Ledger {
    /// Notes a finding; line 0 is the whole file.
    pub fn find(&mut self, file: &str, line: u64, note: Note) {
        let Note { code, message, hint } = note;
        self.findings.push(Finding { code, file: file.into(), line, message, hint });
    }

    /// Opens the account of a table; its lines count as used until they are set aside.
    pub fn open(&mut self, table: &Table) {
        let (lines, blank) = (table.len() as u64 + table.blank, table.blank);
        self.files.push(FileCount { file: table.file.clone(), lines, used: 0, set_aside: 0, blank });
    }

    /// Sets a line aside; the first reason stands.
    pub fn set_aside(&mut self, line: Line, note: Note) {
        let Some(file) = self.files.iter().position(|f| f.file == line.file()) else { return };
        if !self.known_aside.insert((file as u32, line.number())) {
            return;
        }
        self.files[file].set_aside += 1;
        let cells = line.cells().map(str::to_string).collect();
        let (file, line, Note { code, message: reason, hint }) = (line.file().to_string(), line.number(), note);
        self.set_aside.push(SetAside { code, file, line, reason, hint, cells });
    }

    /// The counts per file, every finding (a line set aside is one) and the lines set aside, in order of file and line.
    pub fn close(mut self) -> (Vec<FileCount>, Vec<Finding>, Vec<SetAside>) {
        self.files.iter_mut().for_each(|f| f.used = f.lines - f.blank - f.set_aside);
        let rank = |file: &str| self.files.iter().position(|f| f.file == file).map_or(0, |i| i + 1);
        self.set_aside.sort_by_key(|s| (rank(&s.file), s.line));
        self.findings.extend(self.set_aside.iter().map(SetAside::as_finding));
        self.findings.sort_by_cached_key(|f| (rank(&f.file), f.file.clone(), f.line, f.code));
        (self.files, self.findings, self.set_aside)
    }
}
