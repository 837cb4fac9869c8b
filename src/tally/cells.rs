//! Counts per cell.

use crate::block::Code;
use serde::Serialize;

/// A factor as tallied: the levels that occur, in row order for rows, natural order otherwise.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TallyFactor {
    pub name: String,
    pub levels: Vec<String>,
    /// Per level: whether it names one thing ("L1|L3" doesn't, and is never a candidate explanation).
    pub definite: Vec<bool>,
}

/// Numbers of vines ever planted up to the walk. `seen = alive + failed`; unsure ones are outside `seen`.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Counts {
    pub planted: u64,
    pub seen: u64,
    /// All states but alive, `missing` included.
    pub failed: u64,
    pub missing: u64,
    pub unsure: u64,
    /// Never grew: seen `no_budburst`, and never seen growing before.
    pub never_grew: u64,
    pub died: u64,
    /// Dead, kind not told.
    pub dead: u64,
    pub scion_dead: u64,
    /// Alive, of these: reached the wire / looked at for it.
    pub reached_wire: u64,
    pub wire_seen: u64,
    /// Alive by the grower's class or counts.csv: strong, weak.
    pub good: u64,
    pub weak: u64,
}

impl Counts {
    pub fn alive(&self) -> u64 {
        self.seen - self.failed
    }

    pub fn add(&mut self, other: &Counts) {
        let pairs = [
            (&mut self.planted, other.planted),
            (&mut self.seen, other.seen),
            (&mut self.failed, other.failed),
            (&mut self.missing, other.missing),
            (&mut self.unsure, other.unsure),
            (&mut self.never_grew, other.never_grew),
            (&mut self.died, other.died),
            (&mut self.dead, other.dead),
            (&mut self.scion_dead, other.scion_dead),
            (&mut self.reached_wire, other.reached_wire),
            (&mut self.wire_seen, other.wire_seen),
            (&mut self.good, other.good),
            (&mut self.weak, other.weak),
        ];
        for (mine, theirs) in pairs {
            *mine += theirs;
        }
    }
}

/// One combination of levels, codes in the order of [`super::Tally::factors`], `UNKNOWN` where empty.
#[derive(Clone, Debug, PartialEq)]
pub struct Cell {
    pub codes: Box<[Code]>,
    pub counts: Counts,
}
