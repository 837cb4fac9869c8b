//! What would settle it: rows to compare, vines to dig, papers, a laboratory, the next planting.

use super::{JustAsWell, Level, RowCounts, Told, rows_named};
use crate::base::words::number::count;
use crate::base::words::unsettled as words;
use crate::cause::signature::Places;
use crate::tally::Point;
use serde::Serialize;

/// Something that would settle it, or help.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Settle {
    /// `compare_rows`, `dig`, `records`, `laboratory`, `spares`, `elsewhere`, `next_planting`.
    pub what: &'static str,
    pub how: String,
    /// Rows that it is about.
    pub rows: Vec<String>,
    /// Vines to look at, row and position.
    #[serde(rename = "where")]
    pub places: Vec<(String, u32)>,
}

/// Boundaries named.
const BOUNDARIES: usize = 2;

/// Two rows side by side: the first holds the level, the second another one.
struct Boundary {
    mine: u32,
    theirs: u32,
    of_mine: Told,
    of_theirs: Told,
}

/// From what costs a look to what costs a season.
pub(super) fn settle(level: &Level, ties: &[JustAsWell], places: &Places, vines: usize) -> Vec<Settle> {
    let boundaries = boundaries(level);
    let mut list: Vec<Settle> = boundaries.iter().map(|b| compare(level, b)).collect();
    list.extend(dig(level, &boundaries, places, vines));
    if ties.iter().any(|t| t.explanation == "order" || t.explanation == "row") {
        let named = rows_named(level.tally, &level.own_rows());
        list.push(plain("records", level.fill(words::SETTLE_RECORDS, &[("rows", &named)])));
    }
    let more = [
        ("spares", words::SETTLE_SPARES),
        ("elsewhere", words::SETTLE_ELSEWHERE),
        ("laboratory", words::SETTLE_LABORATORY),
        ("next_planting", words::SETTLE_NEXT),
    ];
    list.extend(more.map(|(what, sentence)| plain(what, level.fill(sentence, &[]))));
    list
}

fn plain(what: &'static str, how: String) -> Settle {
    Settle { what, how, rows: Vec::new(), places: Vec::new() }
}

/// Rows side by side of which the first holds the level alone and the second others alone; those with most failures.
fn boundaries(level: &Level) -> Vec<Boundary> {
    let alone = |pair: &[RowCounts]| {
        let [a, b] = pair else { return None };
        let of = |mine: &RowCounts, theirs: &RowCounts| Boundary {
            mine: mine.row,
            theirs: theirs.row,
            of_mine: mine.mine,
            of_theirs: theirs.others,
        };
        let beside = a.row.checked_add(1) == Some(b.row) && !a.holds_both() && !b.holds_both();
        match (a.mine.0 > 0, b.mine.0 > 0, a.others.0 > 0, b.others.0 > 0) {
            (true, false, _, true) if beside => Some(of(a, b)),
            (false, true, true, _) if beside => Some(of(b, a)),
            _ => None,
        }
    };
    let mut found: Vec<Boundary> = level.rows().windows(2).filter_map(alone).collect();
    found.sort_by_key(|b| std::cmp::Reverse(b.of_mine.1 + b.of_theirs.1));
    found.truncate(BOUNDARIES);
    found
}

fn row_label(level: &Level, code: u32) -> String {
    let rows = level.row_at().and_then(|at| level.tally.factors.get(at));
    rows.and_then(|f| f.levels.get(code as usize)).cloned().unwrap_or_default()
}

fn compare(level: &Level, boundary: &Boundary) -> Settle {
    let (mine, theirs) = (row_label(level, boundary.mine), row_label(level, boundary.theirs));
    let ((n, a), (m, b)) = (boundary.of_mine, boundary.of_theirs);
    let values: [(&str, &dyn std::fmt::Display); 6] =
        [("mine", &mine), ("theirs", &theirs), ("a", &count(a)), ("n", &count(n)), ("b", &count(b)), ("m", &count(m))];
    let how = level.fill(words::SETTLE_COMPARE, &values);
    Settle { what: "compare_rows", how, rows: vec![mine, theirs], places: Vec::new() }
}

/// Failed vines on both sides: of rows side by side, or of both levels within the rows that hold both.
fn dig(level: &Level, boundaries: &[Boundary], places: &Places, vines: usize) -> Option<Settle> {
    let sides: Vec<(u32, bool)> = match boundaries {
        [] => mixed_rows(level).into_iter().flat_map(|row| [(row, true), (row, false)]).collect(),
        found => found.iter().flat_map(|b| [(b.mine, true), (b.theirs, false)]).collect(),
    };
    let each = vines.div_ceil(sides.len().max(1)).max(1);
    let of_side =
        |&(row, mine): &(u32, bool)| places.failed_in_row(row, |p: &Point| level.is_mine(&p.codes) == Some(mine), each);
    let found: Vec<(String, u32)> = sides.iter().flat_map(of_side).collect();
    let mut rows: Vec<String> = sides.iter().map(|(row, _)| row_label(level, *row)).collect();
    rows.dedup();
    (!found.is_empty()).then(|| Settle { what: "dig", how: level.fill(words::SETTLE_DIG, &[]), rows, places: found })
}

/// The rows that hold the level and another one, those with most failures.
fn mixed_rows(level: &Level) -> Vec<u32> {
    let mut rows: Vec<RowCounts> = level.rows().into_iter().filter(RowCounts::holds_both).collect();
    rows.sort_by_key(|r| std::cmp::Reverse(r.mine.1 + r.others.1));
    rows.iter().map(|r| r.row).take(BOUNDARIES).collect()
}
