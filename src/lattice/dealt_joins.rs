//! Joins of marks that are dealt anew within strata.

use super::board::{Board, Joins};
use crate::stats::deck::{Dealer, Deck};
use crate::stats::permute::Strata;

/// What one arrangement of the marks comes to.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct JoinSums {
    /// Joins between two marked sites.
    pub joins: Joins,
    /// Sum of the marked sites' weights.
    pub weight: f64,
}

impl JoinSums {
    /// Of marks (0 or another number) as they are.
    pub fn of(board: &Board, weights: &[u32], marks: &[u32]) -> Self {
        let weight = weights.iter().zip(marks).filter(|(_, mark)| **mark != 0).map(|(weight, _)| f64::from(*weight));
        JoinSums { joins: board.joins(&board.marks(|site| marks[site] != 0)), weight: weight.sum() }
    }
}

/// A board whose marks are dealt anew.
#[derive(Clone, Debug)]
pub struct DealtJoins<'a> {
    board: &'a Board,
    deck: Deck,
    /// Bits of the sites in the deck's order.
    keys: Vec<u32>,
    /// What a site adds to the weight where it is dealt the rarer mark.
    changes: Vec<i32>,
    /// Marks and weight before anything is dealt.
    common: Vec<u64>,
    weight: i64,
}

/// The bits that a deal is written into.
#[derive(Clone, Debug)]
pub struct Bits {
    taken: Vec<u64>,
    marks: Vec<u64>,
}

impl<'a> DealtJoins<'a> {
    /// `weights` (such as numbers of neighbours) and `marks` (0 or another number) by site.
    pub fn new(board: &'a Board, weights: &[u32], marks: &[u32], strata: &Strata) -> Self {
        let deck = Deck::of(marks, strata);
        let change = |site: usize| if deck.common(site) { -(weights[site] as i32) } else { weights[site] as i32 };
        let of_common = weights.iter().enumerate().filter(|(site, _)| deck.common(*site));
        DealtJoins {
            board,
            keys: deck.arranged(|site| board.keys()[site]),
            changes: deck.arranged(change),
            common: board.marks(|site| deck.common(site)),
            weight: of_common.map(|(_, &weight)| i64::from(weight)).sum(),
            deck,
        }
    }

    pub fn bits(&self) -> Bits {
        Bits { taken: vec![0; self.common.len()], marks: vec![0; self.common.len()] }
    }

    /// Steps of work of an arrangement.
    pub fn work(&self) -> usize {
        self.deck.dealt() + self.common.len()
    }

    /// One more arrangement.
    pub fn deal(&self, bits: &mut Bits, dealer: &mut Dealer) -> JoinSums {
        let mut weight = self.weight;
        self.deck.deal(&self.keys, &mut bits.taken, dealer, |at| weight += i64::from(self.changes[at]));
        let words = bits.marks.iter_mut().zip(&bits.taken).zip(&self.common);
        words.for_each(|((mark, taken), common)| *mark = taken ^ common);
        JoinSums { joins: self.board.joins(&bits.marks), weight: weight as f64 }
    }
}
