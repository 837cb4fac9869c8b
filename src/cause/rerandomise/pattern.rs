//! Whether failures cluster: join counts and Moran's I, with vines re-arranged while row, batch or both are held.
//!
//! Permuting vines asks only whether vines are independent of their neighbours. Whether batches differ is asked of
//! planted runs (`runs`), because vines planted as a bundle aren't exchangeable one by one.

use super::{Effort, Test};
use crate::base::words::{cause as words, fill};
use crate::base::{Known, Seed};
use crate::lattice::{Graph, Neighbours, expected_products};
use crate::stats::permute::{Strata, randomise};
use crate::tally::{Field, Tally};

/// The statistics, in the order of [`Lattice::statistics`]: name, title, question.
const STATISTICS: [(&str, &str, &str); 4] = [
    ("joins_any_direction", words::JOINS_ANY_DIRECTION_TITLE, words::JOINS_ANY_DIRECTION),
    ("joins_along_rows", words::JOINS_ALONG_ROWS_TITLE, words::JOINS_ALONG_ROWS),
    ("joins_across_rows", words::JOINS_ACROSS_ROWS_TITLE, words::JOINS_ACROSS_ROWS),
    ("morans_i", words::MORANS_I_TITLE, words::MORANS_I),
];

/// Something held fixed while vines are re-arranged.
struct Held {
    fixed: &'static str,
    /// How the re-arrangement reads in a question.
    phrase: &'static str,
    strata: Strata,
}

/// The tests, statistic by statistic; none where there are no points.
pub(super) fn tests(tally: &Tally, field: &Field, effort: &Effort, seed: Seed) -> Vec<Test> {
    if field.points.is_empty() {
        return Vec::new();
    }
    let lattice = Lattice::of(field);
    let of_held: Vec<[Test; 4]> = helds(tally, field).iter().map(|held| lattice.tests(held, effort, seed)).collect();
    (0..STATISTICS.len()).flat_map(|s| of_held.iter().map(move |tests| tests[s].clone())).collect()
}

/// What can be held fixed in this block: rows where there are two, batches where there are two.
fn helds(tally: &Tally, field: &Field) -> Vec<Held> {
    let row: Vec<u32> = field.points.iter().map(|p| p.place.row).collect();
    let mut helds = vec![Held { fixed: "nothing", phrase: words::HELD_NOTHING, strata: Strata::one(row.len()) }];
    let rows = Strata::by(row.iter().copied());
    let several_rows = rows.count() > 1;
    if several_rows {
        helds.push(Held { fixed: "row", phrase: words::HELD_ROW, strata: rows });
    }
    let Some(at) = tally.factors.iter().position(|f| f.name == "batch") else { return helds };
    let batch = || field.points.iter().map(|p| p.codes.get(at).copied());
    let batches = Strata::by(batch());
    if batches.count() > 1 {
        helds.push(Held { fixed: "batch", phrase: words::HELD_BATCH, strata: batches });
        let both = Strata::by(row.iter().copied().zip(batch()));
        if several_rows {
            helds.push(Held { fixed: "row and batch", phrase: words::HELD_ROW_AND_BATCH, strata: both });
        }
    }
    helds
}

/// The points with their neighbours.
struct Lattice {
    /// 1 where the vine failed.
    failed: Vec<u32>,
    along: Graph,
    across: Graph,
    rook: Graph,
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
        let sites = field.sites();
        let graph = |neighbours| Graph::new(&sites, &field.lines, neighbours);
        let failed: Vec<u32> = field.points.iter().map(|p| u32::from(p.failed)).collect();
        let rook = graph(Neighbours::Rook);
        let moran = MoranScale::of(&failed, &rook);
        let (along, across) = (graph(Neighbours::Along), graph(Neighbours::Across));
        Lattice { degrees: rook.degrees(), failed, along, across, rook, moran }
    }

    /// The four statistics of an arrangement of the failures.
    fn statistics(&self, failed: &[u32]) -> [f64; 4] {
        let (along, across) = (both_failed(failed, &self.along), both_failed(failed, &self.across));
        let any = along + across;
        let degrees: f64 = failed.iter().zip(&self.degrees).map(|(f, d)| f64::from(f * d)).sum();
        [any, along, across, self.moran.of_joins(any, degrees)]
    }

    /// Exact expectations of the four, with the failures permuted within strata.
    fn expected(&self, strata: &Strata) -> [f64; 4] {
        let marks: Vec<f64> = self.failed.iter().map(|&f| f64::from(f)).collect();
        let centred: Vec<f64> = marks.iter().map(|m| m - self.moran.share).collect();
        let of = |graph| expected_products(&marks, graph, strata);
        let moran = self.moran.factor * expected_products(&centred, &self.rook, strata);
        [of(&self.rook), of(&self.along), of(&self.across), moran]
    }

    fn tests(&self, held: &Held, effort: &Effort, seed: Seed) -> [Test; 4] {
        let stream = format!("cause.pattern.{}", held.fixed);
        let results = randomise(&self.failed, &held.strata, |f| self.statistics(f), effort, &stream, seed);
        let expected = self.expected(&held.strata);
        std::array::from_fn(|s| {
            let (name, title, question) = STATISTICS[s];
            let said = (title.to_string(), fill(question, &[("held", &held.phrase)]));
            let none = || Known::absent(words::ONE_ARRANGEMENT, words::ONE_ARRANGEMENT_HELP);
            Test::new(name, said, "vine", held.fixed, &results[s], none).with_expected(expected[s])
        })
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

/// Joins between two failed sites.
fn both_failed(failed: &[u32], graph: &Graph) -> f64 {
    f64::from(graph.joins.iter().map(|&(a, b)| failed[a as usize] & failed[b as usize]).sum::<u32>())
}
