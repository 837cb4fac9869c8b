//! Parts for the terminal: no colour, no line wider than asked for where its words allow.

use super::part::{Column, Entry, Figure, Key, Part, Section, Table};
use crate::base::words::{fill, report as words};
use comfy_table::{CellAlignment, ColumnConstraint, ContentArrangement, Width, presets};

/// The narrowest width that is written for.
const NARROWEST: usize = 40;
/// Lines that a folded part may have to be printed: enough for the table of assumptions, too few for every vine.
const MOST_FOLDED: usize = 700;
/// Columns between two cells of a table.
const GAP: u16 = 2;

/// A section with its title underlined.
pub fn section(section: &Section, width: usize) -> String {
    let width = width.max(NARROWEST);
    let line = "=".repeat(section.title.chars().count());
    format!("{}\n{line}\n\n{}", section.title, parts(&section.parts, width))
}

/// A text under a heading line.
pub fn headed(heading: &str, body: &str, width: usize) -> String {
    format!("{}\n{body}", wrapped(heading, "", "", width))
}

/// Parts one after the other, a blank line after each.
pub fn parts(parts: &[Part], width: usize) -> String {
    parts.iter().map(|p| part(p, width.max(NARROWEST))).filter(|s| !s.trim().is_empty()).map(|s| s + "\n").collect()
}

fn part(part: &Part, width: usize) -> String {
    match part {
        Part::Lead(text) | Part::Text(text) => wrapped(text, "", "", width),
        Part::Notice(text) => wrapped(text, "! ", "  ", width),
        Part::Heading(text) => format!("{text}\n{}\n", "-".repeat(text.chars().count())),
        Part::List(items) => items.iter().map(|i| wrapped(i, "- ", "  ", width)).collect(),
        Part::Facts(facts) => {
            let line =
                |f: &super::part::Fact| wrapped(&format!("{}: {} ({})", f.label, f.value, f.note), "", "  ", width);
            facts.iter().map(line).collect()
        }
        Part::Answers(answers) => {
            answers.iter().map(|a| wrapped(&format!("{}: {}", a.question, a.said), "", "  ", width)).collect()
        }
        Part::Table(t) => table(t, width),
        Part::Figures(figures) => {
            let drawn = figures.iter().map(|f| figure(f, width)).filter(|f| !f.is_empty());
            drawn.collect::<Vec<_>>().join("\n")
        }
        Part::Entries(entries) => entries.iter().map(|e| entry(e, width)).collect(),
        Part::Folded { title, parts: inner } => folded(title, &parts(inner, width), width),
    }
}

/// What a page folds away: short enough it is printed, else only named, so that it doesn't bury what matters.
fn folded(title: &str, inner: &str, width: usize) -> String {
    match inner.lines().count() {
        n if n > MOST_FOLDED => {
            let lines = crate::base::words::number::count(n as u64);
            wrapped(&fill(words::TEXT_FOLDED, &[("title", &title), ("n", &lines)]), "", "", width)
        }
        _ => format!("{title}\n\n{inner}"),
    }
}

/// A table with aligned columns, fitted into the width.
pub fn table(table: &Table, width: usize) -> String {
    let mut drawn = comfy_table::Table::new();
    drawn.load_style(presets::NOTHING);
    drawn.set_content_arrangement(ContentArrangement::Dynamic).set_width(width.min(400) as u16);
    drawn.set_header(table.columns.iter().map(|c| c.title.clone()));
    for (i, row) in table.rows.iter().enumerate() {
        let key = table.keys.get(i).map(|k| format!("\n{}", one_line(k)));
        let behind = |j: usize| key.as_deref().filter(|_| j == 0).unwrap_or_default();
        drawn.add_row(row.iter().enumerate().map(|(j, cell)| one_line(cell) + behind(j)));
    }
    for (column, Column { numeric, .. }) in drawn.column_iter_mut().zip(&table.columns) {
        column.set_padding((0, GAP));
        column.set_cell_alignment(if *numeric { CellAlignment::Right } else { CellAlignment::Left });
    }
    keep_words_whole(&mut drawn, table, width);
    let lines: Vec<String> = drawn.lines().map(|l| l.trim_end().to_string()).collect();
    let caption = if table.caption.is_empty() { String::new() } else { one_line(&table.caption) + "\n" };
    caption + &lines.join("\n") + "\n"
}

/// Makes every column as wide as its longest word, where all of them fit.
fn keep_words_whole(drawn: &mut comfy_table::Table, table: &Table, width: usize) {
    let longest = |text: &str| text.split(' ').map(|w| w.chars().count()).max().unwrap_or(0);
    let needs = |(j, c): (usize, &Column)| {
        let cells = table.rows.iter().filter_map(|r| r.get(j)).map(|cell| longest(cell));
        let keys = table.keys.iter().filter(|_| j == 0).map(|k| longest(k));
        cells.chain(keys).chain([longest(&c.title)]).max().unwrap_or(0) + GAP as usize
    };
    let needs: Vec<usize> = table.columns.iter().enumerate().map(needs).collect();
    let least = |n: usize| ColumnConstraint::LowerBoundary(Width::Fixed(n as u16));
    match needs.first() {
        _ if needs.iter().sum::<usize>() <= width => {
            drawn.set_constraints(needs.into_iter().map(least));
        }
        // A key is copied into a file: it at least stays whole.
        Some(first) if !table.keys.is_empty() => {
            if let Some(column) = drawn.column_mut(0) {
                column.set_constraint(least((*first).min(width * 3 / 5)));
            }
        }
        _ => {}
    }
}

/// A figure in words: its title, what its key counts, its numbers; nothing where it holds neither. What explains the
/// picture alone, such as its caption, is left to the page.
fn figure(figure: &Figure, width: usize) -> String {
    let counted = || figure.key.iter().filter(|k| !k.count.is_empty());
    if counted().next().is_none() && figure.table.is_none() {
        return String::new();
    }
    let mut out = wrapped(&format!("[{}]", figure.title), "", "", width);
    for Key { label, count, .. } in counted() {
        out += &wrapped(&format!("{label} {count}"), "  ", "    ", width);
    }
    out + &figure.table.as_ref().map_or(String::new(), |t| table(t, width))
}

fn entry(entry: &Entry, width: usize) -> String {
    let note = if entry.note.is_empty() { String::new() } else { format!(" ({})", entry.note) };
    let head = wrapped(&format!("{}{note}", entry.title), "", "  ", width);
    let line = |l: &super::part::EntryLine| wrapped(&format!("{} {}: {}", l.tag, l.label, l.text), "  ", "    ", width);
    head + &entry.lines.iter().map(line).collect::<String>()
}

/// A text broken at spaces into lines of at most `width` columns, the first behind `first`, the others behind
/// `others`. A word that is longer than a line gets one of its own.
pub fn wrapped(text: &str, first: &str, others: &str, width: usize) -> String {
    let mut out = String::new();
    let mut line = first.to_string();
    let mut empty = true;
    for word in text.split([' ', '\n', '\r', '\t']).filter(|w| !w.is_empty()) {
        if !empty && line.chars().count() + 1 + word.chars().count() > width {
            out += line.trim_end();
            out.push('\n');
            line = others.to_string();
            empty = true;
        }
        if !empty {
            line.push(' ');
        }
        line += &plain(word);
        empty = false;
    }
    out + line.trim_end() + "\n"
}

fn one_line(text: &str) -> String {
    plain(&text.replace(['\n', '\r', '\t'], " "))
}

/// Without control characters: no name in a table may steer the terminal.
fn plain(text: &str) -> String {
    text.chars().filter(|c| !c.is_control()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_break_at_spaces_and_keep_their_indent() {
        assert_eq!(wrapped("one two three four", "- ", "  ", 10), "- one two\n  three\n  four\n");
        assert_eq!(wrapped("unbreakableword x", "", "", 5), "unbreakableword\nx\n");
        assert_eq!(wrapped("", "! ", "", 5), "!\n");
        assert_eq!(wrapped("a\u{1b}[31mb", "", "", 20), "a[31mb\n");
    }
}
