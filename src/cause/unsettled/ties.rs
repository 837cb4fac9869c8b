//! What explains the same vines as a level just as well.

use super::{Level, rows_named};
use crate::base::words::list::{list, plural};
use crate::base::words::unsettled as words;
use crate::cause::Separable;
use serde::Serialize;
use std::collections::BTreeSet;

/// Another explanation of the same vines.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct JustAsWell {
    /// `row`, `place`, `order`, or a factor.
    pub explanation: String,
    /// In words: `rows 7 to 12`, `crew B`, `the planting order`.
    pub with: String,
    pub sentence: String,
}

/// Below this share left after projecting off the others, nothing is left: rounding.
const NOTHING_LEFT: f64 = 1e-7;

/// Rows, place, planting order and other factors that the level's vines coincide with.
pub(super) fn just_as_well(level: &Level, pairs: &[Separable]) -> Vec<JustAsWell> {
    let coincide: Vec<&str> = pairs.iter().filter(|s| s.efficiency < NOTHING_LEFT).map(|s| s.from.as_str()).collect();
    let mut ties = Vec::new();
    if coincide.contains(&"row") {
        ties.extend(by_row(level));
    }
    if planted_in_one_go(level) {
        ties.push(JustAsWell {
            explanation: "order".into(),
            with: words::THE_ORDER.into(),
            sentence: level.fill(words::ONE_GO, &[]),
        });
    }
    ties.extend(coincide.iter().filter(|from| **from != "row").filter_map(|from| by_factor(level, from)));
    ties
}

/// The rows themselves, and the ground under them where they lie side by side.
fn by_row(level: &Level) -> Vec<JustAsWell> {
    let rows = level.own_rows();
    let named = rows_named(level.tally, &rows);
    let tie = |explanation: &str, with: &str, sentence| JustAsWell {
        explanation: explanation.into(),
        with: with.into(),
        sentence: level.fill(sentence, &[("rows", &named)]),
    };
    let side_by_side = rows.windows(2).all(|pair| pair[0].checked_add(1) == Some(pair[1]));
    if side_by_side {
        vec![tie("row", &named, words::ROWS_ALONE), tie("place", words::THE_GROUND, words::BAND)]
    } else {
        vec![tie("row", &named, words::ROWS_ALTERNATE)]
    }
}

/// The levels of another factor that the level's vines lie in.
fn by_factor(level: &Level, from: &str) -> Option<JustAsWell> {
    let (at, factor) = level.tally.factors.iter().enumerate().find(|(_, f)| f.name == from)?;
    let mine = level.tally.cells.iter().filter(|c| c.counts.seen > 0 && level.is_mine(&c.codes) == Some(true));
    let codes: BTreeSet<u32> = mine.filter_map(|c| c.codes.get(at).copied()).collect();
    let labels: Vec<String> = codes.iter().filter_map(|&c| factor.levels.get(c as usize).cloned()).collect();
    let noun = if labels.len() == 1 { from.to_string() } else { plural(from) };
    let with = format!("{noun} {}", list(&labels, 6));
    let sentence = level.fill(words::SAME_VINES, &[("with", &with)]);
    (!labels.is_empty()).then(|| JustAsWell { explanation: from.into(), with, sentence })
}

/// Whether the level's vines follow each other along the planters' walk without one of another level between them;
/// not where the walk isn't known.
fn planted_in_one_go(level: &Level) -> bool {
    let Some(field) = level.tally.field.as_ref().filter(|f| !f.runs_within_rows) else { return false };
    let walked = field.runs.iter().flat_map(|run| &run.points).filter_map(|&p| field.points.get(p as usize));
    let mine: Vec<bool> = walked.filter_map(|p| level.is_mine(&p.codes)).collect();
    mine.chunk_by(|a, b| a == b).filter(|stretch| stretch.first() == Some(&true)).count() == 1
}
