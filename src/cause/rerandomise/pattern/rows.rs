//! Runs and doublets along the rows: vines one after the other in their row, whatever places lie empty between them.
//!
//! Conditional on each row's number of failures: asked only with rows held.

use super::{Effort, Test};
use super::{Held, Said, failed, test};
use crate::base::Seed;
use crate::base::words::cause as words;
use crate::lattice::{Bits, Board, DealtJoins, Graph, JoinSums, Neighbours, Site, expected_products};
use crate::stats::deck::{Dealer, Dealing, redealt};
use crate::stats::permute::Strata;
use crate::tally::Field;

const DOUBLETS: Said = ("doublets_along_rows", words::DOUBLETS_TITLE, words::DOUBLETS);
const RUNS: Said = ("runs_along_rows", words::RUNS_TITLE, words::RUNS);

/// Doublets, then runs.
pub(super) fn tests(field: &Field, helds: &[Held], effort: &Effort, seed: Seed) -> Vec<Test> {
    let rows = Rows::of(field);
    let several = helds.iter().any(|held| held.fixed == "row");
    let asked = helds.iter().filter(|held| held.fixed.contains("row") || !several);
    let of_held: Vec<[Test; 2]> = asked.map(|held| rows.tests(held, effort, seed)).collect();
    (0..2).flat_map(|s| of_held.iter().map(move |tests| tests[s].clone())).collect()
}

/// The vines of each row, one after the other.
struct Rows {
    failed: Vec<u32>,
    board: Board,
    graph: Graph,
    /// Neighbours in the row.
    degrees: Vec<u32>,
    rows: f64,
}

impl Rows {
    fn of(field: &Field) -> Self {
        let mut sites = Vec::with_capacity(field.points.len());
        let rows = field.points.chunk_by(|a, b| a.place.row == b.place.row);
        let number = rows.clone().count() as f64;
        rows.for_each(|row| sites.extend(row.iter().zip(0..).map(|(p, step)| Site { line: p.place.row, step })));
        let graph = Graph::new(&sites, &[], Neighbours::Along);
        let degrees = graph.degrees();
        Rows { failed: failed(field), board: Board::new(&sites, &[]), graph, degrees, rows: number }
    }

    /// Doublets, and runs with a minus sign, so that more is more clustered. A run ends where a failed and a living
    /// vine meet: as often as failed vines have neighbours, less two for each doublet.
    fn statistics(&self, sums: &JoinSums) -> [f64; 2] {
        let doublets = f64::from(sums.joins.along);
        [doublets, -(self.rows + sums.weight - 2.0 * doublets)]
    }

    fn tests(&self, held: &Held, effort: &Effort, seed: Seed) -> [Test; 2] {
        let joins = DealtJoins::new(&self.board, &self.degrees, &self.failed, &held.strata);
        let stream = format!("cause.rows.{}", held.fixed);
        let results = redealt(&self.failed, &held.strata, &Dealt { rows: self, joins }, effort, &stream, seed);
        let [doublets, runs] = self.expected(&held.strata);
        let of_runs = test(RUNS, held, &results[1]).with_expected(-runs);
        let doublets = test(DOUBLETS, held, &results[0]).with_expected(doublets);
        [doublets, Test { statistic: -of_runs.statistic, ..of_runs }]
    }

    /// Exact expectations of the two, with the failures permuted within strata.
    fn expected(&self, strata: &Strata) -> [f64; 2] {
        let marks: Vec<f64> = self.failed.iter().map(|&f| f64::from(f)).collect();
        let doublets = expected_products(&marks, &self.graph, strata);
        let share = |group: &[u32]| {
            let sum = |of: &[u32]| group.iter().map(|&unit| f64::from(of[unit as usize])).sum::<f64>();
            sum(&self.failed) / group.len() as f64 * sum(&self.degrees)
        };
        let neighbours: f64 = strata.groups().map(share).sum();
        [doublets, -(self.rows + neighbours - 2.0 * doublets)]
    }
}

/// The rows, their failures dealt anew.
struct Dealt<'a> {
    rows: &'a Rows,
    joins: DealtJoins<'a>,
}

impl Dealing<2> for Dealt<'_> {
    type Table = Bits;

    fn table(&self) -> Bits {
        self.joins.bits()
    }

    fn deal(&self, table: &mut Bits, dealer: &mut Dealer) -> [f64; 2] {
        self.rows.statistics(&self.joins.deal(table, dealer))
    }

    fn statistics(&self, failed: &[u32]) -> [f64; 2] {
        self.rows.statistics(&JoinSums::of(&self.rows.board, &self.rows.degrees, failed))
    }

    fn work(&self) -> usize {
        self.joins.work()
    }
}
