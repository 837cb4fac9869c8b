//! What can be told apart: each level from the other factors, and the factors from each other.
//!
//! One weight per vine seen. Unlabelled vines are a level of their own where spans are taken, and tie nothing where
//! factors are compared by their labels.

mod grid;
mod level;
mod relations;
mod sentence;

pub use level::{Confounded, Times};
pub use relations::{AliasedLevel, Joined, Relations, Split, ToldApart};

use crate::block::{Code, UNKNOWN};
use crate::stats::incidence;
use crate::tally::Tally;
use grid::Grid;
pub(super) use level::LevelApart;
use std::collections::BTreeMap;

/// What of a tally can be told apart.
pub(super) struct Apart {
    /// By factor and code; [`UNKNOWN`](crate::block::UNKNOWN) are the unlabelled.
    pub(super) levels: Vec<BTreeMap<Code, LevelApart>>,
    pub(super) told: ToldApart,
}

impl Apart {
    /// `separable` of a level: the sum of squares of its indicator left after projecting off the factors not nested
    /// within this one, over its sum of squares about the mean; 0 can't be told apart, 1 wholly. A factor is nested
    /// within this one where each of its levels lies in a single level of this one, vines without a sound label left
    /// aside.
    pub(super) fn of(tally: &Tally) -> Self {
        let grid = Grid::of(tally);
        let levels = (0..tally.factors.len()).map(|factor| level::levels(&grid, factor)).collect();
        Apart { levels, told: relations::told(&grid) }
    }
}

/// Whether every level of `inner` lies in a single level of `outer`, by the vines seen.
pub(super) fn is_nested(tally: &Tally, inner: usize, outer: usize) -> bool {
    let codes = |factor: usize| -> Vec<Code> {
        tally.cells.iter().map(|cell| cell.codes.get(factor).copied().unwrap_or(UNKNOWN)).collect()
    };
    let seen: Vec<f64> = tally.cells.iter().map(|cell| cell.counts.seen as f64).collect();
    incidence::is_nested(&codes(inner), &codes(outer), &seen)
}

/// The factor whose levels are what this factor's levels are compared by, by its place in the tally: the finest one
/// nested within it and with more levels, such as the batches of a clone; rows only where each row holds one level of
/// it. None where nothing but vines lies within.
pub fn error_stratum(tally: &Tally, factor: usize) -> Option<usize> {
    (factor < tally.factors.len()).then(|| Grid::of(tally).error_stratum(factor)).flatten()
}
