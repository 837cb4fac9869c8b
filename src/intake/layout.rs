//! Which rows there are, in which order, and how many places each has.

use super::ledger::{Ledger, Note};
use super::settings::Settings;
use crate::base::label::natural;
use crate::base::words::intake as say;
use crate::block::{Layout, RowLayout};
use std::collections::HashMap;

/// Label of a row to its index in the layout.
#[derive(Clone, Debug, Default)]
pub(super) struct RowIndex(HashMap<String, u32>);

impl RowIndex {
    pub fn index(&self, label: &str) -> Option<u32> {
        self.0.get(label).copied()
    }
}

/// A row as the tables know it: its label, the furthest position (or the number counted) and a line that names it.
#[derive(Clone, Debug)]
pub(super) struct RowFound {
    pub label: String,
    pub places: u32,
    pub line: u64,
}

/// The layout: the rows of block.toml in their order, then (a finding each) those it doesn't name; without such an
/// order all in natural order. Rows that only block.toml knows are kept.
pub(super) fn lay_out(settings: &Settings, found: &[RowFound], file: &str, ledger: &mut Ledger) -> (Layout, RowIndex) {
    let said = &settings.layout;
    let mut others: Vec<(&str, u64)> = found.iter().map(|f| (f.label.as_str(), f.line)).collect();
    others.extend(said.special.iter().map(|s| (s.row.as_str(), 0)));
    others.sort_by(|a, b| natural(a.0, b.0).then(b.1.cmp(&a.1)));
    others.dedup_by(|a, b| a.0 == b.0);
    let known: HashMap<&str, ()> = said.rows.iter().map(|r| (r.as_str(), ())).collect();
    others.retain(|(label, _)| !known.contains_key(label));
    if !said.rows.is_empty() {
        others.iter().for_each(|(row, line)| report(row, *line, file, settings, ledger));
    }
    let furthest: HashMap<&str, u32> = found.iter().map(|f| (f.label.as_str(), f.places)).collect();
    let labels = said.rows.iter().map(String::as_str).chain(others.iter().map(|o| o.0));
    let rows: Vec<RowLayout> = labels.map(|l| row(l, furthest.get(l).copied().unwrap_or(0), settings)).collect();
    let index = RowIndex((0..).zip(&rows).map(|(i, r)| (r.label.clone(), i)).collect());
    let layout = Layout {
        row_spacing_m: said.row_spacing_m,
        vine_spacing_m: said.vine_spacing_m,
        training_height_cm: said.training_height_cm,
        topped_at_cm: said.topped_at_cm,
        planted: said.planted,
        rows,
    };
    (layout, index)
}

/// A row outside the order that block.toml gives; named on `line` of `file`, or only in block.toml (line 0).
fn report(row: &str, line: u64, file: &str, settings: &Settings, ledger: &mut Ledger) {
    let file = if line == 0 { &settings.file } else { file };
    ledger.find(file, line, Note::new(say::ROW_NOT_IN_LAYOUT, &[("row", &row)]));
}

fn row(label: &str, furthest: u32, settings: &Settings) -> RowLayout {
    let special = settings.layout.special(label).cloned().unwrap_or_default();
    let places = special.places.unwrap_or(furthest);
    let no_vine = special.no_vine.into_iter().filter(|p| *p <= places).collect();
    RowLayout { label: label.into(), places, offset_m: special.offset_m, gap_before_m: special.gap_before_m, no_vine }
}
