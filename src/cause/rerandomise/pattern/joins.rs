//! Join counts and Moran's I.

use super::{Effort, Test};
use super::{Held, Said, failed, test};
use crate::base::Seed;
use crate::base::words::cause as words;
use crate::lattice::{Bits, Board, DealtJoins, Graph, JoinSums, Neighbours, expected_products};
use crate::stats::deck::{Dealer, Dealing, redealt};
use crate::stats::permute::Strata;
use crate::tally::Field;

/// The statistics, in the order of [`Lattice::statistics`].
const STATISTICS: [Said; 5] = [
    ("joins_any_direction", words::JOINS_ANY_DIRECTION_TITLE, words::JOINS_ANY_DIRECTION),
    ("joins_along_rows", words::JOINS_ALONG_ROWS_TITLE, words::JOINS_ALONG_ROWS),
    ("joins_across_rows", words::JOINS_ACROSS_ROWS_TITLE, words::JOINS_ACROSS_ROWS),
    ("joins_with_diagonals", words::JOINS_WITH_DIAGONALS_TITLE, words::JOINS_WITH_DIAGONALS),
    ("morans_i", words::MORANS_I_TITLE, words::MORANS_I),
];

/// The tests, statistic by statistic.
pub(super) fn tests(field: &Field, helds: &[Held], effort: &Effort, seed: Seed) -> Vec<Test> {
    let lattice = Lattice::of(field);
    let of_held: Vec<[Test; 5]> = helds.iter().map(|held| lattice.tests(held, effort, seed)).collect();
    (0..STATISTICS.len()).flat_map(|s| of_held.iter().map(move |tests| tests[s].clone())).collect()
}

/// The points with their neighbours.
struct Lattice {
    /// 1 where the vine failed.
    failed: Vec<u32>,
    board: Board,
    along: Graph,
    across: Graph,
    rook: Graph,
    queen: Graph,
    degrees: Vec<u32>,
    moran: MoranScale,
}

/// Moran's I of marks, from the joins between marked sites: I = n / (J S) (BB - p D + J p^2), with p the share
/// marked, S = n p (1 - p) the sum of squares and D the sum of the marked sites' numbers of neighbours.
struct MoranScale {
    share: f64,
    joins: f64,
    /// n / (J S), 0 where no value can be had.
    factor: f64,
}

impl Lattice {
    fn of(field: &Field) -> Self {
        let (sites, failed) = (field.sites(), failed(field));
        let graph = |neighbours| Graph::new(&sites, &field.lines, neighbours);
        let rook = graph(Neighbours::Rook);
        Lattice {
            board: Board::new(&sites, &field.lines),
            degrees: rook.degrees(),
            moran: MoranScale::of(&failed, &rook),
            failed,
            along: graph(Neighbours::Along),
            across: graph(Neighbours::Across),
            queen: graph(Neighbours::Queen),
            rook,
        }
    }

    /// The statistics of an arrangement of the failures.
    fn statistics(&self, sums: &JoinSums) -> [f64; 5] {
        let [along, across, diagonal] = [sums.joins.along, sums.joins.across, sums.joins.diagonal].map(f64::from);
        let any = along + across;
        [any, along, across, any + diagonal, self.moran.of_joins(any, sums.weight)]
    }

    /// Their exact expectations, with the failures permuted within strata.
    fn expected(&self, strata: &Strata) -> [f64; 5] {
        let marks: Vec<f64> = self.failed.iter().map(|&f| f64::from(f)).collect();
        let centred: Vec<f64> = marks.iter().map(|m| m - self.moran.share).collect();
        let of = |graph| expected_products(&marks, graph, strata);
        let moran = self.moran.factor * expected_products(&centred, &self.rook, strata);
        [of(&self.rook), of(&self.along), of(&self.across), of(&self.queen), moran]
    }

    fn tests(&self, held: &Held, effort: &Effort, seed: Seed) -> [Test; 5] {
        let joins = DealtJoins::new(&self.board, &self.degrees, &self.failed, &held.strata);
        let stream = format!("cause.pattern.{}", held.fixed);
        let results = redealt(&self.failed, &held.strata, &Dealt { lattice: self, joins }, effort, &stream, seed);
        let expected = self.expected(&held.strata);
        std::array::from_fn(|s| test(STATISTICS[s], held, &results[s]).with_expected(expected[s]))
    }
}

/// The lattice, its failures dealt anew.
struct Dealt<'a> {
    lattice: &'a Lattice,
    joins: DealtJoins<'a>,
}

impl Dealing<5> for Dealt<'_> {
    type Table = Bits;

    fn table(&self) -> Bits {
        self.joins.bits()
    }

    fn deal(&self, table: &mut Bits, dealer: &mut Dealer) -> [f64; 5] {
        self.lattice.statistics(&self.joins.deal(table, dealer))
    }

    fn statistics(&self, failed: &[u32]) -> [f64; 5] {
        self.lattice.statistics(&JoinSums::of(&self.lattice.board, &self.lattice.degrees, failed))
    }

    fn work(&self) -> usize {
        self.joins.work()
    }
}

impl MoranScale {
    fn of(failed: &[u32], rook: &Graph) -> Self {
        let (n, joins) = (failed.len() as f64, rook.joins.len() as f64);
        let share = f64::from(failed.iter().sum::<u32>()) / n;
        let below = joins * share * (1.0 - share);
        MoranScale { share, joins, factor: if below > 0.0 { 1.0 / below } else { 0.0 } }
    }

    fn of_joins(&self, both: f64, degrees: f64) -> f64 {
        self.factor * (both - self.share * degrees + self.joins * self.share * self.share)
    }
}
