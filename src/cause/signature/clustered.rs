//! Whether vines of one kind stand beside each other: joins between them, dealt out anew over the vines.

use crate::base::Seed;
use crate::lattice::{Bits, Board, DealtJoins, Graph, JoinSums, Line, Neighbours, Site, join_counts};
use crate::stats::deck::{Dealer, Dealing, redealt};
use crate::stats::permute::{Effort, Strata};

/// From so many expected joins on, the normal approximation by exact moments serves; below it is too sure of small
/// counts, and arrangements are dealt instead.
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

/// The rook's joins between marked sites. Moments: [`join_counts`].
pub(super) fn clustered(
    (sites, lines): (&[Site], &[Line]),
    marked: &[bool],
    effort: &Effort,
    name: &str,
    seed: Seed,
) -> Clustered {
    let bb = join_counts(marked, &Graph::new(sites, lines, Neighbours::Rook)).bb;
    let of = |p_value, error, method| Clustered { joins: bb.observed, expected: bb.expected, p_value, error, method };
    if bb.expected >= NORMAL_FROM_EXPECTED {
        return of(bb.p_greater(), 0.0, EXACT_MOMENTS);
    }
    let marks: Vec<u32> = marked.iter().map(|m| u32::from(*m)).collect();
    let (board, strata, weights) = (Board::new(sites, lines), Strata::one(sites.len()), vec![0; sites.len()]);
    let joins = DealtJoins::new(&board, &weights, &marks, &strata);
    let [dealt] = redealt(&marks, &strata, &Joined { board: &board, weights: &weights, joins }, effort, name, seed);
    of(dealt.silence().is_none().then_some(dealt.p_greater), dealt.error, dealt.method)
}

struct Joined<'a> {
    board: &'a Board,
    weights: &'a [u32],
    joins: DealtJoins<'a>,
}

fn rook(sums: &JoinSums) -> [f64; 1] {
    [f64::from(sums.joins.along + sums.joins.across)]
}

impl Dealing<1> for Joined<'_> {
    type Table = Bits;

    fn table(&self) -> Bits {
        self.joins.bits()
    }

    fn deal(&self, table: &mut Bits, dealer: &mut Dealer) -> [f64; 1] {
        rook(&self.joins.deal(table, dealer))
    }

    fn statistics(&self, marked: &[u32]) -> [f64; 1] {
        rook(&JoinSums::of(self.board, self.weights, marked))
    }

    fn work(&self) -> usize {
        self.joins.work()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::permute::{ALL_ARRANGEMENTS, PERMUTATION};

    #[test]
    fn few_joins_have_the_share_of_arrangements_that_enumeration_gives() {
        // 4 x 4 grid, 5 of 16 marked: of the 4,368 layouts 0, 1, 2 ... joins have 304, 1064, 1680, 1016, 256, 48
        // (counted by enumeration outside this project).
        let sites: Vec<Site> = (0..4).flat_map(|line| (1..=4).map(move |step| Site { line, step })).collect();
        let mut marked = vec![false; 16];
        [0, 1, 2, 5, 15].iter().for_each(|&i| marked[i] = true); // 0-1, 1-2, 1-5
        let exact = (1016.0 + 256.0 + 48.0) / 4368.0;
        let ask = |effort: Effort| clustered((&sites, &[]), &marked, &effort, "few", Seed::new(1));
        let all = ask(Effort::default());
        assert_eq!((all.joins, all.method, all.error), (3.0, ALL_ARRANGEMENTS, 0.0));
        assert!((all.p_value.unwrap() - exact).abs() < 1e-12, "{all:?} {exact}");
        let got = ask(Effort { draws: 20_000, count_up_to: 1, ..Effort::default() });
        assert_eq!((got.joins, got.method), (3.0, PERMUTATION));
        assert!((got.expected - 2.0).abs() < 1e-12);
        assert!((got.p_value.unwrap() - exact).abs() < 4.0 * got.error, "{got:?} {exact}");
        let all_marked = clustered((&sites, &[]), &[true; 16], &Effort::default(), "all", Seed::new(1));
        assert_eq!(all_marked.p_value, None);
    }
}
