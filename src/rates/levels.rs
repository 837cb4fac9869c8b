//! The levels of a factor with their vines.

use crate::block::UNKNOWN;
use crate::stats::betabinomial::Count;
use crate::tally::{Counts, Tally};

/// What counts as a loss.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Outcome {
    /// Any failure.
    Stand,
    /// Never grew, by what was told.
    Take,
    /// Never grew, or of a kind not told: the least that the take can be.
    TakeAtLeast,
}

impl Outcome {
    /// Vines kept, of those seen.
    pub(super) fn kept(self, counts: &Counts) -> Count {
        let lost = match self {
            Outcome::Stand => counts.failed,
            Outcome::Take => counts.never_grew,
            Outcome::TakeAtLeast => counts.failed.saturating_sub(counts.died),
        };
        Count { x: counts.seen.saturating_sub(lost), n: counts.seen }
    }
}

/// One level with its vines.
#[derive(Clone, Debug)]
pub(super) struct Level {
    /// Empty: the vines without a label.
    pub(super) label: String,
    pub(super) code: u32,
    pub(super) kind: Kind,
    pub(super) counts: Counts,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    Definite,
    /// Such as "L1|L3".
    NotOne,
    Unlabelled,
}

impl Level {
    /// Whether it takes part in tests and pooling.
    pub(super) fn is_compared(&self) -> bool {
        self.kind == Kind::Definite && self.counts.seen > 0
    }
}

/// The levels of factor `index`: the vines without a label first (natural order has the empty label first), then in
/// the tally's order.
pub(super) fn levels(tally: &Tally, index: usize) -> Vec<Level> {
    let Some(factor) = tally.factors.get(index) else { return Vec::new() };
    let known = factor.levels.iter().enumerate().map(|(code, label)| Level {
        label: label.clone(),
        code: code as u32,
        kind: kind(label, factor.definite.get(code).copied().unwrap_or(true)),
        counts: Counts::default(),
    });
    let mut levels: Vec<Level> = known.collect();
    let mut unlabelled =
        Level { label: String::new(), code: UNKNOWN, kind: Kind::Unlabelled, counts: Counts::default() };
    for cell in &tally.cells {
        let code = cell.codes.get(index).copied().unwrap_or(UNKNOWN);
        levels.get_mut(code as usize).unwrap_or(&mut unlabelled).counts.add(&cell.counts);
    }
    if unlabelled.counts != Counts::default() {
        levels.insert(0, unlabelled);
    }
    levels
}

fn kind(label: &str, definite: bool) -> Kind {
    match (label, definite) {
        ("", _) => Kind::Unlabelled,
        (_, false) => Kind::NotOne,
        _ => Kind::Definite,
    }
}
