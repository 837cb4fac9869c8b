//! CSV as spreadsheets really write it.
//!
//! Read by hand and not by the csv crate, because a grower is told the true line of each trouble: blank lines are
//! counted, line breaks inside quotation marks keep the numbering, and a quotation mark that isn't closed costs one
//! line and not the rest of the file.

use super::table::{Table, TableBuilder};
use crate::base::words::intake::OPEN_QUOTE;

/// More line breaks than this inside one cell: the quotation mark was never meant to open.
const MOST_BREAKS: u64 = 20;

/// The table in a text. Cells are separated by commas, semicolons or tabs, whichever the heading has most of;
/// a first line `sep=;` decides it.
pub(super) fn read(file: &str, text: &str) -> Table {
    let (separator, skipped) = separator(text);
    let mut reader = Reader { text, at: skipped, line: 1 + u64::from(skipped > 0), separator };
    let mut builder = TableBuilder::new(file);
    while reader.at < text.len() {
        reader.line(&mut builder);
    }
    builder.finish()
}

/// The separator, and the bytes of a `sep=` line.
fn separator(text: &str) -> (u8, usize) {
    let head = text.as_bytes();
    if let [b's', b'e', b'p', b'=', separator @ (b',' | b';' | b'\t'), b'\r' | b'\n', ..] = head {
        return (*separator, if head[5] == b'\r' && head.get(6) == Some(&b'\n') { 7 } else { 6 });
    }
    let heading = text.lines().find(|l| !l.trim().is_empty()).unwrap_or("");
    let count = |separator: u8| {
        let mut quoted = false;
        let open = |b: &&u8| {
            quoted ^= **b == b'"';
            !quoted && **b == separator
        };
        heading.as_bytes().iter().filter(open).count()
    };
    let most = [b'\t', b';', b','].into_iter().max_by_key(|s| count(*s));
    (most.unwrap_or(b','), 0)
}

struct Reader<'t> {
    text: &'t str,
    /// Next byte, always at the edge of a character: it moves past ASCII bytes or whole cells.
    at: usize,
    /// Line of the file that `at` is on.
    line: u64,
    separator: u8,
}

impl<'t> Reader<'t> {
    fn line(&mut self, out: &mut TableBuilder) {
        let (start, number) = (self.at, self.line);
        let broken = loop {
            if self.cell(out).is_err() {
                out.drop_line();
                (self.at, self.line) = (start, number);
                self.unquoted_cells(out);
                break Some(&OPEN_QUOTE);
            }
            out.end_cell();
            if !self.take(self.separator) {
                break None;
            }
        };
        self.end_of_line();
        out.end_line(number, broken);
    }

    fn peek(&self) -> Option<u8> {
        self.text.as_bytes().get(self.at).copied()
    }

    fn take(&mut self, byte: u8) -> bool {
        let there = self.peek() == Some(byte);
        self.at += usize::from(there);
        there
    }

    /// One cell up to its separator, the line's end or the text's.
    fn cell(&mut self, out: &mut TableBuilder) -> Result<(), ()> {
        if self.take(b'"') {
            self.quoted(out)?;
        }
        out.push(self.until_edge());
        Ok(())
    }

    /// The inside of quotation marks; two of them mean one.
    fn quoted(&mut self, out: &mut TableBuilder) -> Result<(), ()> {
        let opened_on = self.line;
        loop {
            let rest = &self.text[self.at..];
            let inside = &rest[..rest.find('"').ok_or(())?];
            self.line += breaks(inside);
            if self.line - opened_on > MOST_BREAKS {
                return Err(());
            }
            out.push(inside);
            self.at += inside.len() + 1;
            if !self.take(b'"') {
                return Ok(());
            }
            out.push("\"");
        }
    }

    fn until_edge(&mut self) -> &'t str {
        let rest = &self.text[self.at..];
        let is_edge = |b: &u8| *b == self.separator || *b == b'\n' || *b == b'\r';
        let edge = rest.as_bytes().iter().position(is_edge).unwrap_or(rest.len());
        self.at += edge;
        &rest[..edge]
    }

    /// The cells of one line of the file, quotation marks taken as letters.
    fn unquoted_cells(&mut self, out: &mut TableBuilder) {
        loop {
            out.cell(self.until_edge());
            if !self.take(self.separator) {
                return;
            }
        }
    }

    fn end_of_line(&mut self) {
        let carriage_return = self.take(b'\r');
        let line_feed = self.take(b'\n');
        self.line += u64::from(carriage_return || line_feed);
    }
}

/// Line breaks in a text: CR LF is one.
fn breaks(text: &str) -> u64 {
    let bytes = text.as_bytes();
    let ends = |i: usize| bytes[i] == b'\n' || (bytes[i] == b'\r' && bytes.get(i + 1) != Some(&b'\n'));
    (0..bytes.len()).filter(|i| ends(*i)).count() as u64
}

#[cfg(test)]
mod tests {
    use super::*;

    fn cells(text: &str) -> Vec<(u64, Vec<String>)> {
        let table = read("t.csv", text);
        table.lines().map(|l| (l.number(), l.cells().map(str::to_string).collect())).collect()
    }

    #[test]
    fn separators_are_found_from_the_heading() {
        for text in ["a,b\n1,x\n", "a;b\n1;x\n", "a\tb\n1\tx", "sep=;\na;b\n1;x", "a;b\r\n1;x\r\n", "a;b\r1;x\r"] {
            assert_eq!(cells(text)[0].1, ["1", "x"], "{text:?}");
        }
        assert_eq!(read("t", "\"height, cm, of cane\";b\n1;2\n").heading, ["height, cm, of cane", "b"]);
        assert_eq!(read("t", "row\n1\n2\n").len(), 2);
    }

    #[test]
    fn line_numbers_are_those_of_the_file() {
        let text = "\na;b\r\n1;\"two\r\nlines \"\"so\"\"\"\r\n\r\n;\r\n2;x\r\n";
        let table = read("t", text);
        assert_eq!((table.blank, table.len()), (3, 2));
        let lines = cells(text);
        assert_eq!(lines[0], (3, vec!["1".into(), "two\r\nlines \"so\"".into()]));
        assert_eq!(lines[1], (7, vec!["2".into(), "x".into()]));
    }

    #[test]
    fn an_open_quotation_mark_costs_one_line() {
        let table = read("t", "a;b\n1;\"3 ft\n2;x\n3;y\n");
        let broken: Vec<_> = table.lines().map(|l| l.broken().map(|k| k.code)).collect();
        assert_eq!(broken, [Some("open_quote"), None, None]);
        let long = format!("a;b\n1;\"{}\"\n2;x\n", "\n".repeat(30));
        let table = read("t", &long);
        assert_eq!(table.lines().next().unwrap().broken(), Some(&OPEN_QUOTE));
        assert_eq!(table.lines().last().unwrap().cell(1), "x");
    }

    #[test]
    fn a_comma_inside_a_cell_shows_as_a_cell_too_many() {
        let table = read("t", "a,b\n1,2,5\n1,2,\n");
        let broken: Vec<_> = table.lines().map(|l| l.broken().is_some()).collect();
        assert_eq!(broken, [true, false]);
    }
}
