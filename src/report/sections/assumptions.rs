//! Every default in force, those of the user marked.

use super::folded;
use crate::base::words::number;
use crate::base::words::{fill, report as words};
use crate::base::{Assumption, Assumptions};
use crate::report::part::{Column, Part, Table};
use crate::study::Study;

pub fn parts(study: &Study) -> Option<Vec<Part>> {
    Some(said(&study.block.assumptions))
}

/// A table of assumptions: those set by the user first, all of them folded.
pub fn said(table: &Assumptions) -> Vec<Part> {
    let all = table.list();
    let set: Vec<&Assumption> = all.iter().filter(|a| table.is_overridden(&a.name)).collect();
    let mut parts = vec![Part::Text(words::ASSUMPTIONS_INTRO.into())];
    if set.is_empty() {
        parts.push(Part::Text(words::ASSUMPTIONS_NONE_SET.into()));
    } else {
        parts.push(Part::Table(listed(words::ASSUMPTIONS_SET, &set, table)));
    }
    let title = fill(words::ASSUMPTIONS_ALL, &[("n", &all.len())]);
    let every: Vec<&Assumption> = all.iter().collect();
    parts.extend(folded(&title, vec![Part::Table(listed(&title, &every, table))]));
    parts
}

fn listed(caption: &str, rows: &[&Assumption], table: &Assumptions) -> Table {
    let columns = vec![
        Column::text(words::C_ASSUMPTION),
        Column::number(words::C_VALUE),
        Column::text(words::C_UNIT),
        Column::number(words::C_RANGE),
        Column::text(words::C_SOURCE),
    ];
    let row = |a: &&Assumption| {
        let mark = if table.is_overridden(&a.name) { words::SET_MARK } else { "" };
        let [low, high] = a.range;
        vec![
            format!("{mark}{}", a.title),
            number::plain(a.value),
            a.unit.clone(),
            format!("{} to {}", number::plain(low), number::plain(high)),
            a.source.clone(),
        ]
    };
    let keys = rows.iter().map(|a| a.name.clone()).collect();
    Table { caption: caption.into(), columns, rows: rows.iter().map(row).collect(), keys, ..Table::default() }
}
