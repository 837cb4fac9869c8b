//! Whether vines of one kind stand beside each other: joins between them, dealt out anew over the vines.

use crate::base::Seed;
use crate::base::seed::below;
use crate::lattice::{Graph, join_counts};
use crate::stats::permute::{ALL_ARRANGEMENTS, Effort, PERMUTATION};

/// From so many expected joins on, the normal approximation by exact moments serves; below it is too sure of small
/// counts, and arrangements are drawn instead.
const NORMAL_FROM_EXPECTED: f64 = 5.0;

/// The normal approximation by exact moments.
pub(super) const EXACT_MOMENTS: &str = "exact moments";

/// Joins between marked sites, against all ways to mark as many sites.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Clustered {
    pub joins: f64,
    /// Exact.
    pub expected: f64,
    /// Of as many joins or more; none where every arrangement has the same number.
    pub p_value: Option<f64>,
    pub error: f64,
    pub method: &'static str,
}

/// The rook's joins of the marked sites, one of `marked` per site. Moments: [`join_counts`].
pub(super) fn clustered(marked: &[bool], graph: &Graph, effort: &Effort, name: &str, seed: Seed) -> Clustered {
    let bb = join_counts(marked, graph).bb;
    let k = marked.iter().filter(|m| **m).count();
    let of = |p_value, error, method| Clustered { joins: bb.observed, expected: bb.expected, p_value, error, method };
    if bb.variance <= 0.0 {
        return of(None, 0.0, ALL_ARRANGEMENTS);
    }
    if bb.expected >= NORMAL_FROM_EXPECTED {
        return of(bb.p_greater(), 0.0, EXACT_MOMENTS);
    }
    let as_many = Draws { k, neighbours: neighbours(graph) }.at_least(bb.observed, effort.draws.max(1), name, seed);
    let m = effort.draws.max(1) as f64;
    let p = (as_many + 1.0) / (m + 1.0);
    of(Some(p), (p * (1.0 - p) / (m + 1.0)).sqrt(), PERMUTATION)
}

/// The later neighbours of each site.
fn neighbours(graph: &Graph) -> Vec<Vec<u32>> {
    let mut of = vec![Vec::new(); graph.sites];
    for &(a, b) in &graph.joins {
        if let Some(list) = of.get_mut(a as usize) {
            list.push(b);
        }
    }
    of
}

struct Draws {
    k: usize,
    neighbours: Vec<Vec<u32>>,
}

impl Draws {
    /// How many of `draws` markings of k sites have so many joins.
    fn at_least(&self, joins: f64, draws: u64, name: &str, seed: Seed) -> f64 {
        let mut sites: Vec<u32> = (0..self.neighbours.len() as u32).collect();
        let mut marked = vec![false; sites.len()];
        let one = |r: u64| self.joins_of_one(&mut sites, &mut marked, &mut seed.stream(name, r)) >= joins;
        (0..draws).map(one).filter(|large| *large).count() as f64
    }

    /// Marks the first k of a partial shuffle (Fisher & Yates), counts, and wipes the marks. The sites stay shuffled:
    /// the next draw from any order is as good.
    fn joins_of_one(&self, sites: &mut [u32], marked: &mut [bool], rng: &mut impl rand::Rng) -> f64 {
        let n = sites.len();
        let k = self.k.min(n);
        (0..k).for_each(|i| sites.swap(i, i + below(rng, n - i)));
        sites[..k].iter().for_each(|&s| marked[s as usize] = true);
        let later = |s: u32| self.neighbours[s as usize].iter().filter(|&&other| marked[other as usize]).count();
        let joins: usize = sites[..k].iter().map(|&s| later(s)).sum();
        sites[..k].iter().for_each(|&s| marked[s as usize] = false);
        joins as f64
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lattice::{Neighbours, Site};

    #[test]
    fn few_joins_have_the_share_of_arrangements_that_enumeration_gives() {
        // 4 x 4 grid, 5 of 16 marked: of the 4,368 layouts 0, 1, 2 ... joins have 304, 1064, 1680, 1016, 256, 48
        // (counted by enumeration outside this project).
        let sites: Vec<Site> = (0..4).flat_map(|line| (1..=4).map(move |step| Site { line, step })).collect();
        let graph = Graph::new(&sites, &[], Neighbours::Rook);
        let mut marked = vec![false; 16];
        [0, 1, 2, 5, 15].iter().for_each(|&i| marked[i] = true); // 0-1, 1-2, 1-5
        let effort = Effort { draws: 20_000, ..Effort::default() };
        let got = clustered(&marked, &graph, &effort, "few", Seed::new(1));
        assert_eq!((got.joins, got.method), (3.0, PERMUTATION));
        assert!((got.expected - 2.0).abs() < 1e-12);
        let exact = (1016.0 + 256.0 + 48.0) / 4368.0;
        assert!((got.p_value.unwrap() - exact).abs() < 4.0 * got.error, "{got:?} {exact}");
        assert_eq!(clustered(&[true; 16], &graph, &effort, "all", Seed::new(1)).p_value, None);
    }
}
