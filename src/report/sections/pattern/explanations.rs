//! How well each explanation fits, what the failures are associated with, and what can be told apart.

use super::super::folded;
use crate::base::Estimate;
use crate::base::words::number;
use crate::base::words::{fill, pattern as said, report as words};
use crate::cause::{Associated, Cause, Explanation, Moved, Patch, Separable, Tied};
use crate::report::labels::{factor, sentence};
use crate::report::part::{Column, Part, Table};

/// Explanations below this probability of a part in the failures are left to the folded table.
const SHOWN_FROM: f64 = 0.05;

/// What failures are tied to, what is associated, every explanation, patches.
pub(super) fn parts(cause: &Cause) -> Vec<Part> {
    let mut parts: Vec<Part> = tied(cause).into_iter().chain(associated(cause)).collect();
    parts.extend(explanations(cause));
    let patches: Vec<String> = cause.patches.value().into_iter().flatten().filter_map(patch).collect();
    parts.extend((!patches.is_empty()).then_some(Part::List(patches)));
    parts
}

/// Failures tied to each single explanation, the likeliest first.
fn tied(cause: &Cause) -> Option<Part> {
    let mut found: Vec<&Tied> = cause.tied.iter().filter(|t| t.probability >= SHOWN_FROM).collect();
    found.sort_by(|a, b| b.probability.total_cmp(&a.probability));
    let columns = vec![
        Column::text(words::C_EXPLANATION),
        Column::number(said::C_HAS_A_PART),
        Column::number(said::C_TIED),
        Column::number(words::C_INTERVAL),
    ];
    let row = |t: &&Tied| {
        let excess = t.excess_failures.value();
        let whole = |of: fn(&Estimate) -> f64| excess.map_or(words::NOT_KNOWN.into(), |e| number::whole(of(e)));
        let interval =
            excess.map_or(words::NOT_KNOWN.into(), |_| format!("{} to {}", whole(|e| e.low), whole(|e| e.high)));
        vec![factor(&t.name), number::chance(t.probability), whole(|e| e.value), interval]
    };
    let rows: Vec<Vec<String>> = found.iter().map(row).collect();
    let table = Table { caption: said::TIED_TABLE.into(), columns, rows, ..Table::default() };
    (!table.rows.is_empty()).then_some(Part::Table(table))
}

/// Every explanation with its prior, evidence and probability, folded away, and how the verdict hangs on the prior.
fn explanations(cause: &Cause) -> Option<Part> {
    if cause.explanations.is_empty() {
        return None;
    }
    let columns = vec![
        Column::text(words::C_EXPLANATION),
        Column::number(words::C_PRIOR),
        Column::number(said::C_LOG_EVIDENCE),
        Column::number(words::C_POSTERIOR),
    ];
    let row = |e: &&Explanation| {
        vec![factor(&e.name), number::chance(e.prior), number::plain(e.log_evidence), number::chance(e.probability)]
    };
    let mut sorted: Vec<&Explanation> = cause.explanations.iter().collect();
    sorted.sort_by(|a, b| b.probability.total_cmp(&a.probability));
    let rows = sorted.iter().map(row).collect();
    let table = Table { caption: String::new(), columns, rows, ..Table::default() };
    let resolution = cause.resolution.value().map(|r| sentence(r)).unwrap_or_default();
    let mut text = vec![said::WEIGHED.to_string(), resolution, moves(cause)];
    text.retain(|t| !t.is_empty());
    folded(words::EXPLANATIONS_TABLE, vec![Part::Text(text.join(" ")), Part::Table(table)])
}

/// How the verdict hangs on what was held likely before the counts.
fn moves(cause: &Cause) -> String {
    if cause.verdict.value().is_none() {
        return String::new();
    }
    let one = |m: &Moved| {
        let times = if m.prior_times > 1.0 { said::DOUBLED } else { said::HALVED };
        let verdict = if m.verdict == "cannot_tell" { said::CANNOT_TELL.to_string() } else { factor(&m.verdict) };
        fill(said::MOVES_TO, &[("name", &factor(&m.explanation)), ("times", &times), ("verdict", &verdict)])
    };
    let list: Vec<String> = cause.verdict_moves.iter().map(one).collect();
    if list.is_empty() { said::MOVES_NOT.into() } else { fill(said::MOVES, &[("list", &list.join("; "))]) }
}

fn associated(cause: &Cause) -> Option<Part> {
    let found: Vec<&Associated> = cause.associated.value()?.iter().filter(|a| a.probability >= SHOWN_FROM).collect();
    if found.is_empty() {
        return None;
    }
    let columns = vec![
        Column::text(words::C_WHAT),
        Column::number(words::C_STAND),
        Column::number(words::C_OTHERS),
        Column::number(words::C_ODDS),
        Column::number(words::C_INTERVAL),
        Column::number(words::C_EXCESS),
    ];
    let row = |a: &&Associated| {
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
