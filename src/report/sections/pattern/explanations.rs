//! How well each explanation fits, what the failures are associated with, and what can be told apart.

use super::super::folded;
use crate::base::words::number;
use crate::base::words::{fill, pattern as said, report as words};
use crate::cause::{Associated, Cause, Explanation, Patch, Separable};
use crate::report::labels::factor;
use crate::report::part::{Column, Part, Table};

/// The table of explanations, what is associated, patches.
pub(super) fn parts(cause: &Cause) -> Vec<Part> {
    let mut parts: Vec<Part> = explanations(&cause.explanations).into_iter().collect();
    parts.extend(associated(cause));
    let patches: Vec<String> = cause.patches.value().into_iter().flatten().filter_map(patch).collect();
    parts.extend((!patches.is_empty()).then_some(Part::List(patches)));
    parts
}

fn explanations(explanations: &[Explanation]) -> Option<Part> {
    let columns = vec![
        Column::text(words::C_EXPLANATION),
        Column::number(words::C_PRIOR),
        Column::number(said::C_LOG_EVIDENCE),
        Column::number(words::C_POSTERIOR),
    ];
    let row = |e: &Explanation| {
        vec![factor(&e.name), number::chance(e.prior), number::plain(e.log_evidence), number::chance(e.probability)]
    };
    let rows = explanations.iter().map(row).collect();
    let table = Table { caption: words::EXPLANATIONS_TABLE.into(), columns, rows, ..Table::default() };
    (!explanations.is_empty()).then_some(Part::Table(table))
}

fn associated(cause: &Cause) -> Option<Part> {
    let found = cause.associated.value().filter(|a| !a.is_empty())?;
    let columns = vec![
        Column::text(words::C_WHAT),
        Column::number(words::C_STAND),
        Column::number(words::C_OTHERS),
        Column::number(words::C_ODDS),
        Column::number(words::C_INTERVAL),
        Column::number(words::C_EXCESS),
    ];
    let row = |a: &Associated| {
        vec![
            format!("{} {}", factor(&a.factor), a.level),
            number::percent(a.stand),
            number::percent(a.others_stand),
            number::plain(a.odds_ratio),
            format!("{} to {}", number::plain(a.low), number::plain(a.high)),
            number::plain(a.excess_failures),
        ]
    };
    let rows = found.iter().map(row).collect();
    Some(Part::Table(Table { caption: words::ASSOCIATED_TABLE.into(), columns, rows, ..Table::default() }))
}

fn patch(patch: &Patch) -> Option<String> {
    let (row, position) = patch.vines.first()?;
    Some(fill(
        words::PATCH,
        &[
            ("n", &number::count(patch.vines.len() as u64)),
            ("row", row),
            ("position", position),
            ("observed", &number::count(patch.observed)),
            ("expected", &number::plain(patch.expected)),
            ("p", &number::p_value(patch.p_value)),
        ],
    ))
}

/// How far levels can be told apart, folded away.
pub(super) fn separable(pairs: &[Separable]) -> Option<Part> {
    let columns = vec![Column::text(words::C_WHAT), Column::text(words::C_FROM), Column::number(words::C_APART)];
    let row = |s: &Separable| {
        vec![format!("{} {}", factor(&s.factor), s.level), factor(&s.from), number::percent(s.efficiency)]
    };
    let table = Table {
        caption: words::SEPARABLE_TABLE.into(),
        columns,
        rows: pairs.iter().map(row).collect(),
        ..Table::default()
    };
    let parts = vec![Part::Text(words::SEPARABLE_INTRO.into()), Part::Table(table)];
    if pairs.is_empty() { None } else { folded(words::SEPARABLE_TABLE, parts) }
}
