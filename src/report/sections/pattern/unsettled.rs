//! What can't be told apart, and what would settle it.

use super::super::folded;
use super::look_at::places;
use crate::base::Known;
use crate::base::words::number;
use crate::base::words::{fill, pattern as words};
use crate::cause::unsettled::{Comparable, Settle, Unsettled};
use crate::report::advice::weightiest;
use crate::report::labels::{factor, sentence};
use crate::report::part::{Column, Part, Table};

/// Levels named in sight; the others stand in the folded table.
const IN_SIGHT: usize = 3;

/// Those with failures in excess in sentences, batches before what differs through them; all of them, with what would settle it, folded away.
pub(super) fn parts(unsettled: &[Unsettled]) -> Vec<Part> {
    let first = weightiest(unsettled);
    let said: Vec<String> = first.iter().take(IN_SIGHT).map(|u| sentence(&u.said)).collect();
    let mut parts = Vec::new();
    if !said.is_empty() {
        parts.push(Part::Heading(words::UNSETTLED.into()));
        parts.push(Part::List(said));
        parts.extend(folded(words::WOULD_SETTLE, first.iter().take(1).flat_map(|u| settle(u)).collect()));
    }
    parts.extend(folded(words::UNSETTLED_TABLE, table(unsettled).into_iter().collect()));
    parts
}

/// What would settle one level.
fn settle(of: &Unsettled) -> Vec<Part> {
    let said = |s: &Settle| match places(&s.places) {
        at if at.is_empty() => sentence(&s.how),
        at => format!("{} {}", sentence(&s.how), fill(words::AT, &[("places", &at)])),
    };
    vec![
        Part::Text(sentence(&fill(words::SETTLE_INTRO, &[("level", &format!("{} {}", factor(&of.factor), of.level))]))),
        Part::List(of.settle.iter().map(said).collect()),
    ]
}

fn table(unsettled: &[Unsettled]) -> Option<Part> {
    let columns = vec![
        Column::text(words::C_LEVEL),
        Column::text(words::C_AS_WELL),
        Column::number(words::C_EXCESS),
        Column::text(words::C_OWN_SHARE),
        Column::text(words::C_COMPARABLE),
    ];
    let row = |u: &Unsettled| {
        let ties: Vec<&str> = u.just_as_well.iter().map(|t| t.with.as_str()).collect();
        vec![
            format!("{} {}", factor(&u.factor), u.level),
            if ties.is_empty() { words::ROWS_IN_PART.into() } else { ties.join("; ") },
            u.excess_failures.value().map_or(words::NONE_SIGN.into(), |e| number::plain(e.round())),
            share(u),
            comparable(&u.comparable),
        ]
    };
    let rows: Vec<Vec<String>> = unsettled.iter().map(row).collect();
    let table = Table { caption: words::UNSETTLED_TABLE.into(), columns, rows, ..Table::default() };
    (!unsettled.is_empty()).then_some(Part::Table(table))
}

fn share(u: &Unsettled) -> String {
    match (&u.share_low, &u.share_high) {
        (Known::Value(low), Known::Value(high)) => {
            fill(words::FROM_TO, &[("low", &number::percent(*low)), ("high", &number::percent(*high))])
        }
        _ => words::NONE_SIGN.into(),
    }
}

/// The rows that hold both: odds ratio with limits, what it rests on, its unit.
fn comparable(known: &Known<Comparable>) -> String {
    let c = match known {
        Known::Absent(why) => return sentence(&why.reason),
        Known::Value(c) => c,
    };
    let (Some(odds), Some(low), Some(high)) = (c.odds_ratio.value(), c.low.value(), c.high.value()) else {
        return sentence(c.low.why().map_or("", |why| &why.reason));
    };
    let by_runs = match &c.p_value {
        Known::Value(p) => fill(words::BY_RUNS, &[("p", &number::p_value(*p)), ("unit", &c.p_unit)]),
        Known::Absent(why) => fill(words::NOT_BY_RUNS, &[("unit", &c.p_unit), ("reason", &why.reason)]),
    };
    fill(
        words::COMPARABLE,
        &[
            ("odds", &number::plain(*odds)),
            ("low", &number::plain(*low)),
            ("high", &number::plain(*high)),
            ("vines", &number::count(c.vines)),
            ("failed", &number::count(c.failed)),
            ("rows", &number::count(c.rows)),
            ("unit", &c.unit),
            ("runs", &by_runs),
        ],
    )
}
