//! set-aside.csv: the lines that couldn't be used, with reason and way out.

use super::SetAside;
use super::value::plain_number;

const HEADING: [&str; 6] = ["file", "line", "code", "what_is_wrong", "what_would_be_right", "as_written"];

/// The text of set-aside.csv: one line per line set aside, its cells as they stood from column 6 on.
///
/// A cell that a spreadsheet would take for a formula is preceded by an apostrophe (after OWASP's page "CSV
/// Injection"; from memory), unless it is a plain number.
pub fn set_aside_csv(set_aside: &[SetAside]) -> String {
    let mut writer = csv::WriterBuilder::new().flexible(true).from_writer(Vec::new());
    let heading = HEADING.iter().map(|h| h.to_string()).collect();
    for record in std::iter::once(heading).chain(set_aside.iter().map(record)) {
        // Writing to memory fails for no input: records may have any length.
        let _ = writer.write_record(record);
    }
    String::from_utf8(writer.into_inner().unwrap_or_default()).unwrap_or_default()
}

fn record(line: &SetAside) -> Vec<String> {
    let said = [&line.file, &line.line.to_string(), line.code, &line.reason, &line.hint].map(defused);
    said.into_iter().chain(line.cells.iter().map(|cell| defused(cell))).collect()
}

fn defused(cell: &str) -> String {
    let looks_like_a_formula = cell.starts_with(['=', '+', '-', '@', '\t', '\r']) && plain_number(cell).is_none();
    if looks_like_a_formula { format!("'{cell}") } else { cell.to_string() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn formulas_are_defused_and_numbers_are_not() {
        for (cell, want) in [
            ("=1+2", "'=1+2"),
            ("@x", "'@x"),
            ("-cmd", "'-cmd"),
            ("+1", "+1"),
            ("-2,5", "-2,5"),
            ("\tx", "'\tx"),
            ("a=b", "a=b"),
        ] {
            assert_eq!(defused(cell), want);
        }
    }
}
