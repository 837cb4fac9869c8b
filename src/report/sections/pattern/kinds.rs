//! Never grew, died later, missing: counts and tests apart.

use super::super::folded;
use crate::base::Known;
use crate::base::words::number;
use crate::base::words::{fill, pattern as words, report};
use crate::cause::signature::{Kind, KindTest, Kinds, LevelKinds};
use crate::report::labels::{factor, sentence};
use crate::report::part::{Column, Part, Table};

/// One sentence; tests and counts folded away. Nothing where no failure's kind is told and none is missing.
pub(super) fn parts(kinds: &Kinds) -> Vec<Part> {
    if kinds.never_grew.at_most + kinds.died_later.vines + kinds.missing.vines == 0 {
        return Vec::new();
    }
    let values: [(&str, &dyn std::fmt::Display); 2] =
        [("never", &number::count(kinds.never_grew.vines)), ("died", &number::count(kinds.died_later.vines))];
    let mut said = vec![fill(words::KINDS, &values)];
    let more = [
        (kinds.dead, words::KINDS_DEAD),
        (kinds.scion_dead, words::KINDS_SCION_DEAD),
        (kinds.missing.vines, words::KINDS_MISSING),
    ];
    said.extend(more.iter().filter(|(n, _)| *n > 0).map(|(n, s)| fill(s, &[("n", &number::count(*n))])));
    let mut parts = vec![Part::Text(said.join(" "))];
    parts.extend(folded(words::KINDS_TABLE, tests(kinds).into_iter().chain(levels(&kinds.levels)).collect()));
    parts
}

fn tests(kinds: &Kinds) -> Option<Part> {
    let named = [
        (words::NEVER_GREW, &kinds.never_grew),
        (words::DIED_LATER, &kinds.died_later),
        (words::MISSING, &kinds.missing),
    ];
    let of_kind = |(name, kind): &(&str, &Kind)| kind.tests.iter().map(|t| test(name, t)).collect::<Vec<_>>();
    let rows: Vec<Vec<String>> = named.iter().flat_map(of_kind).collect();
    let columns = vec![
        Column::text(words::C_KIND),
        Column::text(words::C_ABOUT),
        Column::text(words::C_UNIT),
        Column::number(words::C_FOUND),
        Column::number(words::C_EXPECTED),
        Column::number(report::C_P),
        Column::number(words::C_ADJUSTED),
    ];
    let table = Table { caption: words::KINDS_TESTS.into(), columns, rows, ..Table::default() };
    (!table.rows.is_empty()).then_some(Part::Table(table))
}

fn test(kind: &str, test: &KindTest) -> Vec<String> {
    let p = |known: &Known<f64>| known.value().map_or(report::NOT_KNOWN.into(), |p| number::p_alone(*p));
    let about = words::ABOUT.iter().find(|(key, _)| *key == test.about).map_or(test.about, |(_, said)| said);
    vec![
        kind.to_string(),
        about.to_string(),
        test.unit.clone(),
        number::plain(test.statistic),
        number::plain(test.expected),
        p(&test.p_value),
        p(&test.p_adjusted),
    ]
}

/// Counts of each batch and row.
fn levels(levels: &[LevelKinds]) -> Option<Part> {
    let columns = [
        Column::text(report::C_WHAT),
        Column::number(words::C_SEEN),
        Column::number(words::NEVER_GREW),
        Column::number(words::DIED_LATER),
        Column::number(words::C_DEAD),
        Column::number(words::C_SCION_DEAD),
        Column::number(words::MISSING),
    ];
    let row = |l: &LevelKinds| {
        let counts = [l.seen, l.never_grew, l.died_later, l.dead, l.scion_dead, l.missing];
        let name = sentence(&format!("{} {}", factor(&l.factor), l.level));
        [name.trim_end_matches('.').to_string()].into_iter().chain(counts.map(number::count)).collect()
    };
    let rows: Vec<Vec<String>> = levels.iter().map(row).collect();
    let table = Table { caption: words::KINDS_COUNTS.into(), columns: columns.into(), rows, ..Table::default() };
    (!levels.is_empty()).then_some(Part::Table(table))
}
