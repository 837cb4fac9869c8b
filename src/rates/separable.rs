//! How far the levels of a factor can be told apart from the other factors.

use crate::block::UNKNOWN;
use crate::stats::projection::efficiencies;
use crate::tally::Tally;
use std::collections::BTreeMap;

/// Per code of factor `index`: the sum of squares of the level's indicator left after projecting off the factors not
/// nested within this one, over its sum of squares about the mean, one weight per vine seen; 0 can't be told apart,
/// 1 wholly. A factor is nested within this one where each of its levels lies in a single level of this one, vines
/// without a label left aside; else those are a level of their own.
pub(super) fn separable(tally: &Tally, index: usize) -> BTreeMap<u32, f64> {
    let others = (0..tally.factors.len()).filter(|&other| other != index && !is_nested(tally, other, index));
    let others: Vec<Vec<u32>> = others.map(|other| codes(tally, other)).collect();
    let weights: Vec<f64> = tally.cells.iter().map(|cell| cell.counts.seen as f64).collect();
    efficiencies(&codes(tally, index), &others, &weights).iter().map(|e| (e.code, e.efficiency)).collect()
}

fn codes(tally: &Tally, factor: usize) -> Vec<u32> {
    tally.cells.iter().map(|cell| cell.codes.get(factor).copied().unwrap_or(UNKNOWN)).collect()
}

/// Whether every level of `inner` lies in a single level of `outer`, by the vines seen.
pub(super) fn is_nested(tally: &Tally, inner: usize, outer: usize) -> bool {
    let mut home = BTreeMap::new();
    let seen = tally.cells.iter().filter(|cell| cell.counts.seen > 0);
    let pairs = seen.filter_map(|cell| Some((*cell.codes.get(inner)?, *cell.codes.get(outer)?)));
    pairs.filter(|(i, o)| *i != UNKNOWN && *o != UNKNOWN).all(|(i, o)| *home.entry(i).or_insert(o) == o)
}
