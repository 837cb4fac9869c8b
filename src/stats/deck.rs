//! Marks of two kinds dealt anew within strata, the fast way: only the rarer mark of each stratum is dealt.
//!
//! A stratum of n units of which k bear the rarer mark has n over k arrangements, all equally likely; one is drawn
//! by drawing units until k different ones have come. The work of an arrangement grows with the rarer marks, not
//! with the units.

use super::permute::{Effort, ROUND, Randomisation, Strata, randomise, summarise_drawn, until_enough};
use crate::base::Seed;
use crate::base::seed::below;
use rand::rngs::Xoshiro256PlusPlus;
use rand::{Rng, SeedableRng};
use rayon::prelude::*;
use std::ops::Range;

/// The generator that deals: quick, and the same on every machine (Blackman & Vigna 2021, ACM TOMS 47(4):36).
pub type Dealer = Xoshiro256PlusPlus;

/// Units by stratum, and how many of each stratum are dealt which mark.
#[derive(Clone, Debug, PartialEq)]
pub struct Deck {
    /// Unit indices, stratum after stratum.
    order: Vec<u32>,
    hands: Vec<Hand>,
    /// The commoner mark of each unit's stratum.
    common: Vec<bool>,
}

/// A stratum with both marks.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Hand {
    from: usize,
    units: usize,
    dealt: usize,
}

impl Deck {
    /// `marks`: 0 or another number per unit.
    pub fn of(marks: &[u32], strata: &Strata) -> Self {
        let mut deck =
            Deck { order: Vec::with_capacity(marks.len()), hands: Vec::new(), common: vec![false; marks.len()] };
        for group in strata.groups() {
            let marked = group.iter().filter(|&&unit| marks[unit as usize] != 0).count();
            let common = marked > group.len() - marked;
            group.iter().for_each(|&unit| deck.common[unit as usize] = common);
            let hand = Hand { from: deck.order.len(), units: group.len(), dealt: marked.min(group.len() - marked) };
            deck.hands.extend(Some(hand).filter(|h| h.dealt > 0));
            deck.order.extend(group);
        }
        deck
    }

    /// Marks dealt in one arrangement.
    pub fn dealt(&self) -> usize {
        self.hands.iter().map(|h| h.dealt).sum()
    }

    /// The mark that a unit has unless it is dealt the other.
    pub fn common(&self, unit: usize) -> bool {
        self.common[unit]
    }

    /// A value of each unit, in the deck's own order.
    pub fn arranged<T>(&self, of_unit: impl Fn(usize) -> T) -> Vec<T> {
        self.order.iter().map(|&unit| of_unit(unit as usize)).collect()
    }

    /// Deals one arrangement. `keys` (in the deck's order) are distinct bits of `taken`, which is cleared and then
    /// holds the units with the rarer mark; `each` is told their places in the deck's order.
    pub fn deal(&self, keys: &[u32], taken: &mut [u64], rng: &mut Dealer, mut each: impl FnMut(usize)) {
        taken.fill(0);
        for hand in &self.hands {
            let keys = &keys[hand.from..hand.from + hand.units];
            for _ in 0..hand.dealt {
                each(hand.from + draw(keys, taken, rng));
            }
        }
    }
}

/// Draws until a key comes that isn't taken yet, and takes it.
fn draw(keys: &[u32], taken: &mut [u64], rng: &mut Dealer) -> usize {
    loop {
        let at = below(rng, keys.len());
        let (word, bit) = (&mut taken[(keys[at] >> 6) as usize], 1u64 << (keys[at] & 63));
        if *word & bit == 0 {
            *word |= bit;
            return at;
        }
    }
}

/// `K` statistics of marks, had from one deal.
pub trait Dealing<const K: usize>: Sync {
    /// What a deal is written into.
    type Table;

    fn table(&self) -> Self::Table;

    /// The statistics of one more arrangement.
    fn deal(&self, table: &mut Self::Table, rng: &mut Dealer) -> [f64; K];

    /// The statistics of these marks, by unit.
    fn statistics(&self, marks: &[u32]) -> [f64; K];

    /// Steps of work that an arrangement takes, for [`Effort::most_moves`].
    fn work(&self) -> usize;
}

/// Deals that share a stream and a table; fixed, so that the number of threads changes nothing.
const PER_STREAM: u64 = 64;

/// As [`randomise`], by a [`Dealing`]: every arrangement where they are few, else `effort.draws` deals, fewer where
/// they would be too much work, or where `effort.stop_after` of them have reached the observed statistics.
pub fn redealt<const K: usize>(
    marks: &[u32],
    strata: &Strata,
    dealing: &impl Dealing<K>,
    effort: &Effort,
    name: &str,
    seed: Seed,
) -> [Randomisation; K] {
    if effort.counts_all(marks, strata) {
        return randomise(marks, strata, |marks| dealing.statistics(marks), effort, name, seed);
    }
    let observed = dealing.statistics(marks);
    let draws = effort.draws_for(dealing.work());
    let values = until_enough(&observed, draws, effort.stop_after, |range| deals(dealing, range, name, seed));
    std::array::from_fn(|k| summarise_drawn(observed[k], values.iter().map(|v| v[k]), effort.stop_after))
}

/// The statistics of these deals; `range` starts at a whole number of streams.
pub fn deals<const K: usize>(dealing: &impl Dealing<K>, range: Range<u64>, name: &str, seed: Seed) -> Vec<[f64; K]> {
    const { assert!(ROUND.is_multiple_of(PER_STREAM)) };
    let of_stream = |stream: u64| {
        let (mut rng, mut table) = (dealer(seed, name, stream), dealing.table());
        let here = PER_STREAM.min(range.end - stream * PER_STREAM);
        (0..here).map(|_| dealing.deal(&mut table, &mut rng)).collect::<Vec<_>>()
    };
    let streams = range.start / PER_STREAM..range.end.div_ceil(PER_STREAM);
    streams.into_par_iter().flat_map_iter(of_stream).collect()
}

/// The dealer of a stream, seeded from the stream of that name.
pub fn dealer(seed: Seed, name: &str, stream: u64) -> Dealer {
    let mut source = seed.stream(name, stream);
    let mut bytes = [0; 32];
    source.fill_bytes(&mut bytes);
    Dealer::from_seed(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// How often each unit bears a mark.
    struct Shares {
        deck: Deck,
        keys: Vec<u32>,
    }

    impl Shares {
        fn of(marks: &[u32; 8], strata: &Strata) -> Self {
            let deck = Deck::of(marks, strata);
            Shares { keys: deck.arranged(|unit| unit as u32), deck }
        }
    }

    impl Dealing<8> for Shares {
        type Table = Vec<u64>;
        fn table(&self) -> Vec<u64> {
            vec![0]
        }
        fn deal(&self, table: &mut Vec<u64>, rng: &mut Dealer) -> [f64; 8] {
            self.deck.deal(&self.keys, table, rng, |_| ());
            std::array::from_fn(|unit| f64::from(u8::from((table[0] >> unit & 1 == 1) != self.deck.common(unit))))
        }
        fn statistics(&self, marks: &[u32]) -> [f64; 8] {
            std::array::from_fn(|unit| f64::from(marks[unit]))
        }
        fn work(&self) -> usize {
            8
        }
    }

    #[test]
    fn strata_keep_their_numbers_and_every_unit_has_its_share() {
        // Strata of 4 (one marked), 3 (two marked), 1 (marked).
        let (marks, strata) = ([1, 0, 1, 0, 0, 1, 0, 1], Strata::by([0, 0, 1, 0, 0, 1, 1, 2]));
        let shares = Shares::of(&marks, &strata);
        let draws = 20_000;
        let values = deals(&shares, 0..draws, "shares", Seed::new(1));
        for v in &values {
            assert_eq!((v[0] + v[1] + v[3] + v[4], v[2] + v[5] + v[6], v[7]), (1.0, 2.0, 1.0));
        }
        let share = |unit: usize| values.iter().map(|v| v[unit]).sum::<f64>() / draws as f64;
        for (unit, want) in [(0, 0.25), (1, 0.25), (3, 0.25), (4, 0.25), (2, 2.0 / 3.0), (5, 2.0 / 3.0), (6, 2.0 / 3.0)]
        {
            let error = (want * (1.0 - want) / draws as f64).sqrt();
            assert!((share(unit) - want).abs() < 4.0 * error, "{unit}: {} {want}", share(unit));
        }
    }

    #[test]
    fn few_arrangements_are_counted_and_threads_change_nothing() {
        let (marks, strata) = ([1, 0, 1, 0, 0, 1, 0, 1], Strata::one(8));
        let shares = Shares::of(&marks, &strata);
        let run = |count_up_to| {
            redealt(&marks, &strata, &shares, &Effort { count_up_to, ..Effort::default() }, "threads", Seed::new(1))
        };
        assert_eq!((run(100)[0].arrangements, run(100)[0].mean), (70, 0.5));
        let pool = |threads| rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        assert_eq!(pool(1).install(|| run(1)), pool(3).install(|| run(1)));
        assert_eq!(run(1)[0].arrangements, 4_999);
    }
}
