//! One neutral table of text cells, wherever it came from.

use crate::base::words::intake::{Kind, TOO_MANY_CELLS, UNREADABLE_CHARACTERS};

/// A table: a heading and lines of cells. Cells lie end to end in one text, so that a million lines stay small.
#[derive(Clone, Debug, Default)]
pub(super) struct Table {
    /// How messages call it, such as `vines.csv`.
    pub file: String,
    /// Trimmed headings; empty where the file holds nothing.
    pub heading: Vec<String>,
    /// Blank lines, those before the heading included.
    pub blank: u64,
    text: String,
    ends: Vec<usize>,
    rows: Vec<Row>,
}

#[derive(Clone, Copy, Debug)]
struct Row {
    number: u64,
    first: usize,
    broken: Option<&'static Kind>,
}

impl Table {
    /// Lines that aren't blank, the heading not counted.
    pub fn len(&self) -> usize {
        self.rows.len()
    }

    pub fn lines(&self) -> impl Iterator<Item = Line<'_>> {
        (0..self.rows.len()).map(|index| Line { table: self, index })
    }

    /// Cells of line `index`, as byte ranges end to end.
    fn cell(&self, at: usize) -> &str {
        let start = if at == 0 { 0 } else { self.ends[at - 1] };
        &self.text[start..self.ends[at]]
    }
}

/// One line of a table.
#[derive(Clone, Copy, Debug)]
pub(super) struct Line<'t> {
    table: &'t Table,
    index: usize,
}

impl<'t> Line<'t> {
    pub fn file(&self) -> &'t str {
        &self.table.file
    }

    /// Line of the file on which it begins, from 1.
    pub fn number(&self) -> u64 {
        self.row().number
    }

    /// Why the line can't be split into cells, if it can't.
    pub fn broken(&self) -> Option<&'static Kind> {
        let too_many = || self.cells().skip(self.table.heading.len()).any(|c| !c.is_empty());
        self.row().broken.or_else(|| too_many().then_some(&TOO_MANY_CELLS))
    }

    /// The trimmed cell under heading `column`; empty past the line's end.
    pub fn cell(&self, column: usize) -> &'t str {
        let span = self.span();
        if column < span.len() { self.table.cell(span.start + column) } else { "" }
    }

    /// All trimmed cells.
    pub fn cells(&self) -> impl Iterator<Item = &'t str> + use<'t> {
        let table = self.table;
        self.span().map(move |at| table.cell(at))
    }

    fn row(&self) -> Row {
        self.table.rows[self.index]
    }

    fn span(&self) -> std::ops::Range<usize> {
        let end = self.table.rows.get(self.index + 1).map_or(self.table.ends.len(), |next| next.first);
        self.row().first..end
    }
}

/// Fills a table cell by cell. The first line that isn't blank is the heading.
#[derive(Debug, Default)]
pub(super) struct TableBuilder {
    table: Table,
    line_start: usize,
}

impl TableBuilder {
    pub fn new(file: &str) -> Self {
        TableBuilder { table: Table { file: file.into(), ..Table::default() }, line_start: 0 }
    }

    /// Adds text to the cell that is being written.
    pub fn push(&mut self, text: &str) {
        self.table.text.push_str(text);
    }

    /// Ends the cell that was written, without blanks around it.
    pub fn end_cell(&mut self) {
        let start = self.table.ends.last().copied().unwrap_or(0);
        let written = &self.table.text[start..];
        let trimmed = written.trim();
        if trimmed.len() < written.len() {
            let trimmed = trimmed.to_string();
            self.table.text.truncate(start);
            self.table.text.push_str(&trimmed);
        }
        self.table.ends.push(self.table.text.len());
    }

    pub fn cell(&mut self, text: &str) {
        self.push(text);
        self.end_cell();
    }

    /// Counts blank lines that hold no cells at all.
    pub fn blank_lines(&mut self, lines: u64) {
        self.table.blank += lines;
    }

    /// Forgets what was written of the current line.
    pub fn drop_line(&mut self) {
        self.table.ends.truncate(self.line_start);
        self.table.text.truncate(self.table.ends.last().copied().unwrap_or(0));
    }

    /// Ends the line that began on line `number` of the file.
    pub fn end_line(&mut self, number: u64, broken: Option<&'static Kind>) {
        let cells = self.line_start..self.table.ends.len();
        if cells.clone().all(|at| self.table.cell(at).is_empty()) {
            self.table.blank += 1;
            return self.drop_line();
        }
        if self.table.heading.is_empty() {
            self.table.heading = cells.map(|at| self.table.cell(at).to_string()).collect();
            return self.drop_line();
        }
        self.table.rows.push(Row { number, first: self.line_start, broken });
        self.line_start = self.table.ends.len();
    }

    /// The table; lines with characters that are no text are marked.
    pub fn finish(mut self) -> Table {
        self.drop_line();
        if self.table.text.chars().any(is_no_text) {
            self.mark_unreadable();
        }
        self.table
    }

    fn mark_unreadable(&mut self) {
        let bad: Vec<usize> = (self.table.lines().enumerate())
            .filter(|(_, line)| line.cells().any(|c| c.chars().any(is_no_text)))
            .map(|(i, _)| i)
            .collect();
        bad.into_iter().for_each(|i| self.table.rows[i].broken = Some(&UNREADABLE_CHARACTERS));
    }
}

/// Control characters other than line breaks and tabs, and the mark of an undecodable byte.
fn is_no_text(c: char) -> bool {
    c == char::REPLACEMENT_CHARACTER || (c.is_control() && !matches!(c, '\n' | '\r' | '\t'))
}
