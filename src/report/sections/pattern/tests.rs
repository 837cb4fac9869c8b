//! The tests of pattern: the strictest form of each in sight, every form folded away.

use super::super::folded;
use crate::base::words::number;
use crate::base::words::{fill, report as words};
use crate::base::{Assumptions, Known};
use crate::cause::Test;
use crate::report::labels::{Strength, sentence};
use crate::report::part::{Column, Part, Table};

/// The tests: the answer to each question in sight, every test and what it asks folded away.
pub(super) fn tested(tests: &[Test], assumptions: &Assumptions) -> Vec<Part> {
    let answers: Vec<&Test> = tests.iter().filter(|t| t.answers).collect();
    let mut parts = Vec::new();
    if !tests.is_empty() && tests.iter().all(|t| t.p_value.value().is_none()) {
        parts.push(Part::Text(words::PATTERN_NONE.into()));
    } else if !answers.is_empty() {
        parts.push(Part::Text(words::PATTERN_INTRO.into()));
        parts.push(Part::Table(compact(&answers, assumptions)));
        parts.extend(confounded(tests));
    }
    let questions = Part::List(questions(tests));
    let every = Part::Table(every(tests, assumptions));
    parts.extend((!tests.is_empty()).then(|| folded(words::PATTERN_ALL, vec![questions, every])).flatten());
    parts
}

/// Says that clone, rootstock and batch may stand in for each other, where more than one of them was tested.
fn confounded(tests: &[Test]) -> Option<Part> {
    let mut planted: Vec<&str> =
        tests.iter().map(|t| t.name.as_str()).filter(|n| n.starts_with("failures_by_")).collect();
    planted.dedup();
    (planted.len() > 1).then(|| Part::Text(words::PATTERN_CONFOUNDED.into()))
}

/// What each test asks, once, in its strictest form.
fn questions(tests: &[Test]) -> Vec<String> {
    let last = |(i, t): &(usize, &Test)| !tests.iter().skip(i + 1).any(|later| later.name == t.name);
    let said = |(_, t): (usize, &Test)| fill(words::PATTERN_ASKS, &[("title", &t.title), ("question", &t.question)]);
    tests.iter().enumerate().filter(last).map(said).collect()
}

fn compact(tests: &[&Test], assumptions: &Assumptions) -> Table {
    let columns = vec![
        Column::text(words::C_TEST),
        Column::text(words::C_DEALT),
        Column::text(words::C_ANSWER),
        Column::number(words::C_P),
        Column::number(words::C_P_ADJUSTED),
    ];
    let adjusted = |t: &Test| t.p_adjusted.value().map_or(words::NOT_KNOWN.into(), |p| number::p_alone(*p));
    let row = |t: &&Test| test(t, &t.p_adjusted, assumptions).into_iter().chain([adjusted(t)]).collect();
    let rows = tests.iter().map(row).collect();
    Table { caption: words::PATTERN_TABLE.into(), columns, rows, ..Table::default() }
}

/// Every form of every test, with how it was done.
fn every(tests: &[Test], assumptions: &Assumptions) -> Table {
    let columns = [words::C_TEST, words::C_DEALT, words::C_ANSWER].map(Column::text).into_iter();
    let columns = columns.chain([Column::number(words::C_P), Column::text(words::C_HOW)]).collect();
    let row = |t: &Test| test(t, &t.p_value, assumptions).into_iter().chain([how(t)]).collect();
    Table { caption: String::new(), columns, rows: tests.iter().map(row).collect(), ..Table::default() }
}

/// A test, its answer as strong as `judged` makes it: the p-value, or the adjusted one.
fn test(test: &Test, judged: &Known<f64>, assumptions: &Assumptions) -> Vec<String> {
    let answer = match judged {
        Known::Absent(why) => sentence(&why.reason),
        Known::Value(p) => answer(test, Strength::of(*p, assumptions)),
    };
    let p = test.p_value.value().map_or(words::NOT_KNOWN.into(), |p| number::p_alone(*p));
    vec![test.title.clone(), dealt(test.held_fixed).into(), answer, p]
}

/// Within what the failures, or the planted runs, were dealt out anew.
fn dealt(held_fixed: &str) -> &str {
    words::DEALT_WITHIN.iter().find(|(held, _)| *held == held_fixed).map_or(held_fixed, |(_, said)| said)
}

fn answer(test: &Test, strength: Strength) -> String {
    let sign = match strength {
        Strength::Clear => words::SIGN_CLEAR,
        Strength::Likely => words::SIGN_LIKELY,
        Strength::Hint => words::SIGN_HINT,
        Strength::Nothing => words::SIGN_NONE,
    };
    fill(
        words::PATTERN_ANSWER,
        &[("sign", &sign), ("statistic", &number::plain(test.statistic)), ("expected", &number::plain(test.expected))],
    )
}

fn how(test: &Test) -> String {
    let n = number::count(test.arrangements);
    sentence(&fill(words::REARRANGED, &[("n", &n), ("unit", &test.unit)]))
}
