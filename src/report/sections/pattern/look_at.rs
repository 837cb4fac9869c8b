//! What to look at, most telling first, and causes beside what the block shows. Never a diagnosis.

use super::super::folded;
use crate::base::words::number;
use crate::base::words::{fill, pattern as words};
use crate::cause::Cause;
use crate::cause::signature::{self, FindingThere, LookAt, Signature, Statement};
use crate::report::labels::{listed, sentence};
use crate::report::part::{Column, Part, Table};

/// Checks in sight.
const IN_SIGHT: usize = 3;

/// The most telling checks in sight; the others, and what is consistent with which cause, folded away.
pub(super) fn parts(cause: &Cause) -> Vec<Part> {
    if cause.signatures.is_empty() {
        return Vec::new();
    }
    let mut parts = Vec::new();
    let say = |l: &LookAt| said(l, &cause.signatures);
    let all: Vec<String> = cause.look_at.iter().map(say).collect();
    let (first, others) = all.split_at(IN_SIGHT.min(all.len()));
    if !first.is_empty() {
        parts.push(Part::Heading(words::LOOK_AT.into()));
        parts.push(Part::Text(words::LOOK_AT_INTRO.into()));
        parts.push(Part::List(first.to_vec()));
    }
    if !others.is_empty() {
        parts.extend(folded(words::LOOK_AT_MORE, vec![Part::List(others.to_vec())]));
    }
    let causes = vec![Part::Text(words::SIGNATURES_INTRO.into()), Part::Table(table(&cause.signatures))];
    parts.extend(folded(words::SIGNATURES, causes));
    parts
}

/// What to do, where, and what one may find.
fn said(look: &LookAt, signatures: &[Signature]) -> String {
    let at = match places(&look.places) {
        at if at.is_empty() => String::new(),
        at => " ".to_string() + &fill(words::AT, &[("places", &at)]),
    };
    let title = |cause: &signature::Cause| signatures.iter().find(|s| s.cause == *cause).map_or("", |s| s.title);
    let finding = |f: &FindingThere| {
        let causes: Vec<&str> = f.speaks_for.iter().map(title).collect();
        fill(words::FINDING, &[("found", &f.found), ("causes", &listed(&causes))])
    };
    let findings: Vec<String> = look.findings.iter().map(finding).collect();
    format!("{}{at} {} {}", sentence(look.how), sentence(&findings.join("; ")), look.caution)
}

/// Row and position in words, row by row: `row 4: 7, 12; row 5: 3`.
pub(super) fn places(places: &[(String, u32)]) -> String {
    let mut rows: Vec<(&str, Vec<u32>)> = Vec::new();
    for (row, position) in places {
        match rows.iter_mut().find(|(label, _)| label == row) {
            Some((_, positions)) => positions.push(*position),
            None => rows.push((row, vec![*position])),
        }
    }
    let row = |(row, mut positions): (&str, Vec<u32>)| {
        positions.sort_unstable();
        positions.dedup();
        fill(words::IN_ROW, &[("row", &row), ("positions", &number::positions(&positions))])
    };
    rows.into_iter().map(row).collect::<Vec<_>>().join("; ")
}

fn table(signatures: &[Signature]) -> Table {
    let columns = [words::C_CAUSE, words::C_SAYS, words::C_FOR, words::C_AGAINST, words::C_NOT_LOOKED];
    let list = |statements: &[Statement]| match statements {
        [] => words::NONE_SIGN.to_string(),
        some => some.iter().map(statement).collect::<Vec<_>>().join(" "),
    };
    let row = |s: &Signature| {
        vec![
            s.title.to_string(),
            s.says.to_string(),
            list(&s.consistent_with),
            list(&s.speaks_against),
            list(&s.not_looked_at),
        ]
    };
    Table {
        caption: words::SIGNATURES.into(),
        columns: columns.map(Column::text).into(),
        rows: signatures.iter().map(row).collect(),
        ..Table::default()
    }
}

fn statement(statement: &Statement) -> String {
    sentence(&fill(words::STATEMENT, &[("said", &statement.said), ("source", &statement.source)]))
}
