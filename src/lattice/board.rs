//! Marks as bits of words, line by line, so that joins of 64 sites are counted at once.
//!
//! A word holds 64 steps of a line, and only words with a site are kept; each knows the word that follows it on its
//! line and those beside it on the next line. The joins are those of [`super::Graph`]: offsets, gaps and holes count.

use super::grid::{Line, Site};
use std::collections::BTreeMap;

/// Sites of a grid as bits.
#[derive(Clone, Debug, PartialEq)]
pub struct Board {
    /// The bit of each site: 64 times its word, plus the place in it.
    keys: Vec<u32>,
    around: Vec<Around>,
}

/// The words around a word; the blank one (behind the last) where there is none.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Around {
    /// On the same line, 64 steps on.
    after: u32,
    /// On the next line: 64 steps back, the same steps, 64 steps on.
    beside: [u32; 3],
}

/// Joins between two marked sites, by direction.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Joins {
    pub along: u32,
    pub across: u32,
    pub diagonal: u32,
}

impl Board {
    /// `sites` in any order; where two share a place, only the first is joined. `lines` may be shorter than the
    /// lines in use.
    pub fn new(sites: &[Site], lines: &[Line]) -> Self {
        let line = |index: u32| lines.get(index as usize).copied().unwrap_or_default();
        let step = |site: &Site| i64::from(site.step.saturating_add(line(site.line).offset));
        let used = sites.iter().map(|site| ((site.line, step(site).div_euclid(64)), 0));
        let mut words: BTreeMap<(u32, i64), u32> = used.collect();
        words.values_mut().zip(0..).for_each(|(word, index)| *word = index);
        let blank = words.len() as u32;
        let at =
            |line: Option<u32>, word: i64| line.and_then(|line| words.get(&(line, word))).copied().unwrap_or(blank);
        let around = |&(here, word): &(u32, i64)| {
            let next = here.checked_add(1).filter(|&next| !line(next).gap_before);
            Around { after: at(Some(here), word + 1), beside: [-1, 0, 1].map(|step| at(next, word + step)) }
        };
        let around = words.keys().map(around).collect();
        let key = |site: &Site| {
            let step = step(site);
            64 * at(Some(site.line), step.div_euclid(64)) + step.rem_euclid(64) as u32
        };
        let keys = apart(sites.iter().map(key).collect(), blank);
        Board { keys, around }
    }

    /// The bit of each site.
    pub fn keys(&self) -> &[u32] {
        &self.keys
    }

    /// Words that marks take: those with joins, a blank one, and those of sites that share a place.
    pub fn words(&self) -> usize {
        let last = self.keys.iter().map(|key| key / 64 + 1).max().unwrap_or(0);
        (last as usize).max(self.around.len() + 1)
    }

    /// The marks of each site as bits.
    pub fn marks(&self, marked: impl Fn(usize) -> bool) -> Vec<u64> {
        let mut words = vec![0; self.words()];
        for (_, key) in self.keys.iter().enumerate().filter(|(site, _)| marked(*site)) {
            words[(key / 64) as usize] |= 1 << (key % 64);
        }
        words
    }

    /// Joins between two marked sites, along and across.
    pub fn joins(&self, marks: &[u64]) -> Joins {
        let mut joins = Joins::default();
        for (around, &here) in self.around.iter().zip(marks) {
            let word = |index: u32| marks[index as usize];
            let [back, beside, on] = around.beside.map(word);
            let after = word(around.after);
            joins.along += (here & (here >> 1 | after << 63)).count_ones();
            joins.across += (here & beside).count_ones();
            joins.diagonal += (here & (beside >> 1 | on << 63)).count_ones();
            joins.diagonal += (here & (beside << 1 | back >> 63)).count_ones();
        }
        joins
    }
}

/// Gives every site but the first on a place a word of its own, behind the blank one.
fn apart(mut keys: Vec<u32>, blank: u32) -> Vec<u32> {
    let mut by_key: Vec<(u32, u32)> = keys.iter().copied().zip(0..).collect();
    by_key.sort_unstable();
    let doubled = by_key.windows(2).filter(|pair| pair[0].0 == pair[1].0).map(|pair| pair[1].1);
    for (extra, site) in doubled.enumerate() {
        keys[site as usize] = 64 * (blank + 1 + extra as u32);
    }
    keys
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::Seed;
    use crate::base::seed::below;
    use crate::lattice::{Graph, Neighbours};

    fn by_graph(sites: &[Site], lines: &[Line], marked: &[bool]) -> [u32; 3] {
        let count = |neighbours| {
            let joins = Graph::new(sites, lines, neighbours).joins;
            joins.iter().filter(|(a, b)| marked[*a as usize] && marked[*b as usize]).count() as u32
        };
        let (along, across) = (count(Neighbours::Along), count(Neighbours::Across));
        [along, across, count(Neighbours::Queen) - along - across]
    }

    /// Ragged lines longer than a word, shifted against each other, with tracks and holes, in any order.
    #[test]
    fn joins_are_those_of_the_graph() {
        let mut rng = Seed::new(1).stream("board", 0);
        for round in 0..200 {
            let lines: Vec<Line> = (0..6)
                .map(|_| Line { offset: below(&mut rng, 90) as i32 - 45, gap_before: below(&mut rng, 4) == 0 })
                .collect();
            let mut sites = Vec::new();
            for line in 0..7 {
                let length = 20 + below(&mut rng, 150) as i32;
                sites.extend((1..=length).filter(|_| below(&mut rng, 8) > 0).map(|step| Site { line, step }));
            }
            if round % 2 == 1 {
                sites.reverse();
                sites.push(sites[3]);
            }
            let marked: Vec<bool> = sites.iter().map(|_| below(&mut rng, 3) == 0).collect();
            let board = Board::new(&sites, &lines);
            let joins = board.joins(&board.marks(|site| marked[site]));
            assert_eq!([joins.along, joins.across, joins.diagonal], by_graph(&sites, &lines, &marked), "{round}");
        }
    }

    #[test]
    fn no_place_is_too_far_out() {
        let ends = [Site { line: u32::MAX, step: i32::MAX }, Site { line: 0, step: i32::MIN }];
        let board = Board::new(&ends, &[Line { offset: -5, gap_before: true }]);
        assert_eq!(board.joins(&board.marks(|_| true)), Joins::default());
        let none = Board::new(&[], &[]);
        assert_eq!(none.joins(&none.marks(|_| true)), Joins::default());
    }
}
