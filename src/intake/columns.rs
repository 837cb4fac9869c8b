//! Headings to columns, and the grower's own headings and words to ours.

use super::Unusable;
use super::ledger::{Ledger, Note};
use super::nearest;
use super::settings::Settings;
use super::table::{Line, Table};
use crate::base::words::intake as say;
use std::collections::HashMap;

/// Unknown columns of one table that are reported one by one.
const MOST_REPORTED: usize = 50;

/// The columns that a table may have.
#[derive(Clone, Copy, Debug)]
pub(super) struct Spec {
    pub required: &'static [&'static str],
    pub optional: &'static [&'static str],
    /// Whether the declared factors are columns of this table.
    pub factors: Factors,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Factors {
    Here,
    Elsewhere,
}

/// Where each of our columns stands in one table.
#[derive(Debug)]
pub(super) struct Columns<'s> {
    settings: &'s Settings,
    found: HashMap<String, usize>,
}

/// One column: where it stands, and the grower's words for ours.
#[derive(Clone, Copy, Debug)]
pub(super) struct Column<'s> {
    at: Option<usize>,
    words: Option<&'s HashMap<String, String>>,
}

impl<'s> Column<'s> {
    /// The cell, in our words; empty where there is no such column.
    pub fn read<'t>(&self, line: Line<'t>) -> &'t str
    where
        's: 't,
    {
        let cell = self.at.map_or("", |at| line.cell(at));
        match self.words {
            Some(words) if !cell.is_empty() => words.get(&cell.to_lowercase()).map_or(cell, String::as_str),
            _ => cell,
        }
    }
}

impl<'s> Columns<'s> {
    /// Matches the headings, trimmed and in any case; reports those that aren't known.
    ///
    /// Errors: a required column is missing, or a known one stands there twice.
    pub fn find(table: &Table, spec: &Spec, settings: &'s Settings, ledger: &mut Ledger) -> Result<Self, Unusable> {
        let mut columns = Columns { settings, found: HashMap::new() };
        let mut taken = vec![false; table.heading.len()];
        let headings: Vec<String> = table.heading.iter().map(|h| h.to_lowercase()).collect();
        for name in columns.names(spec) {
            columns.place(name, table, &headings, &mut taken)?;
        }
        if !table.heading.is_empty() {
            columns.require(table, spec)?;
        }
        columns.report_unknown(table, spec, &taken, ledger);
        Ok(columns)
    }

    /// Headings that aren't known: the first of them one by one, the others by their number.
    fn report_unknown(&self, table: &Table, spec: &Spec, taken: &[bool], ledger: &mut Ledger) {
        let mut unknown = table.heading.iter().zip(taken).filter(|(h, taken)| !h.is_empty() && !**taken);
        for (heading, _) in unknown.by_ref().take(MOST_REPORTED) {
            let hint = nearest::hint(heading, self.names(spec).into_iter());
            ledger.find(&table.file, 1, Note::new(say::UNKNOWN_COLUMN, &[("column", heading), ("nearest", &hint)]));
        }
        let more = unknown.count();
        if more > 0 {
            ledger.find(&table.file, 1, Note::new(say::MORE_UNKNOWN_COLUMNS, &[("n", &more)]));
        }
    }

    /// One of our columns in this table.
    pub fn at(&self, name: &str) -> Column<'s> {
        Column { at: self.found.get(name).copied(), words: self.settings.values.get(name) }
    }

    fn names(&self, spec: &Spec) -> Vec<&'s str> {
        let factors = if spec.factors == Factors::Here { &self.settings.factors[..] } else { &[] };
        spec.required.iter().chain(spec.optional).copied().chain(factors.iter().map(String::as_str)).collect()
    }

    /// The grower's own heading goes before ours.
    fn place(&mut self, name: &str, table: &Table, headings: &[String], taken: &mut [bool]) -> Result<(), Unusable> {
        let theirs = self.settings.columns.get(name).map(|own| own.heading.as_str());
        for wanted in theirs.into_iter().chain([name]) {
            let wanted = wanted.to_lowercase();
            let mut at = (0..headings.len()).filter(|i| headings[*i] == wanted);
            let Some(first) = at.next() else { continue };
            if at.next().is_some() {
                let note = Note::new(say::DUPLICATE_COLUMN, &[("heading", &table.heading[first])]);
                return Err(note.unusable(&table.file, Some(1)));
            }
            taken[first] = true;
            self.found.insert(name.to_string(), first);
            return Ok(());
        }
        Ok(())
    }

    fn require(&self, table: &Table, spec: &Spec) -> Result<(), Unusable> {
        let Some(missing) = spec.required.iter().find(|name| !self.found.contains_key(**name)) else { return Ok(()) };
        let headings = table.heading.join(", ");
        let note = Note::new(say::MISSING_COLUMN, &[("column", missing), ("headings", &headings)]);
        Err(note.unusable(&table.file, Some(1)))
    }
}

/// The lines that can be split into cells; the others are set aside.
pub(super) fn whole_lines<'t>(table: &'t Table, ledger: &mut Ledger) -> Vec<Line<'t>> {
    let mut whole = Vec::with_capacity(table.len());
    for line in table.lines() {
        match line.broken() {
            None => whole.push(line),
            Some(kind) => {
                let (cells, headings) = (line.cells().count(), table.heading.len());
                ledger.set_aside(line, Note::new(*kind, &[("cells", &cells), ("headings", &headings)]));
            }
        }
    }
    whole
}
