//! Counts per cell of marks that are dealt anew within strata.

use crate::stats::deck::{Dealer, Deck};
use crate::stats::permute::Strata;

/// Sites in cells, their marks dealt anew.
#[derive(Clone, Debug)]
pub struct DealtCounts {
    deck: Deck,
    /// Bits of the sites in the deck's order.
    keys: Vec<u32>,
    /// Each site's cell, and what a deal of the rarer mark adds to its count.
    changes: Vec<(u32, i32)>,
    /// Counts before anything is dealt.
    common: Vec<i32>,
}

/// The counts that a deal is written into.
#[derive(Clone, Debug)]
pub struct Tallies {
    taken: Vec<u64>,
    /// Marked sites of each cell.
    pub counts: Vec<i32>,
}

impl DealtCounts {
    /// `cells` (below `number`) and `marks` (0 or another number) by site.
    pub fn new(cells: &[u32], number: usize, marks: &[u32], strata: &Strata) -> Self {
        let deck = Deck::of(marks, strata);
        let change = |site: usize| (cells[site], if deck.common(site) { -1 } else { 1 });
        DealtCounts {
            keys: deck.arranged(|site| site as u32),
            changes: deck.arranged(change),
            common: counted(cells, number, |site| deck.common(site)),
            deck,
        }
    }

    pub fn tallies(&self) -> Tallies {
        Tallies { taken: vec![0; self.keys.len().div_ceil(64)], counts: self.common.clone() }
    }

    /// Marks dealt in an arrangement.
    pub fn dealt(&self) -> usize {
        self.deck.dealt()
    }

    /// One more arrangement.
    pub fn deal(&self, tallies: &mut Tallies, dealer: &mut Dealer) {
        let Tallies { taken, counts } = tallies;
        counts.copy_from_slice(&self.common);
        self.deck.deal(&self.keys, taken, dealer, |at| {
            let (cell, change) = self.changes[at];
            counts[cell as usize] += change;
        });
    }
}

/// Marked sites of each of `number` cells.
pub fn counted(cells: &[u32], number: usize, marked: impl Fn(usize) -> bool) -> Vec<i32> {
    let mut counts = vec![0; number];
    cells.iter().enumerate().filter(|(site, _)| marked(*site)).for_each(|(_, cell)| counts[*cell as usize] += 1);
    counts
}
