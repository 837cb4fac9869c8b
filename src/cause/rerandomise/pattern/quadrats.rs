//! Dispersion of failures between quadrats: small pieces of ground, about square.
//!
//! Letters: x failed vines of a quadrat, E and V their expectation and variance where each vine fails with its stratum's
//! rate. The statistic is the mean over quadrats of (x - E)^2 / V, times Q / (Q - 1): where nothing is held it is the
//! usual index of dispersion D. V leaves out that strata keep their numbers: the arrangements see to that.

use super::{Effort, Test};
use super::{Held, Said, failed, test};
use crate::base::Seed;
use crate::base::words::{cause as words, fill, number};
use crate::lattice::{DealtCounts, Graph, Neighbours, QuadratSize, Tallies, counted, quadrats};
use crate::stats::deck::{Dealer, Dealing, redealt};
use crate::tally::Field;

const DISPERSION: Said = ("quadrat_dispersion", words::QUADRATS_TITLE, "");

/// One test for each thing held, quadrats of about so many vines: enough for a count to vary, few enough for a hollow to
/// hold several.
pub(super) fn tests(field: &Field, helds: &[Held], vines: f64, effort: &Effort, seed: Seed) -> Vec<Test> {
    let (failed, quadrats) = (failed(field), quadrats(&field.sites(), &field.lines, size(field, vines)));
    let of_held = |held: &Held| {
        let dealt = Dealt::of(&failed, &quadrats, held);
        let stream = format!("cause.quadrats.{}", held.fixed);
        let [result] = redealt(&failed, &held.strata, &dealt, effort, &stream, seed);
        let question = fill(words::QUADRATS, &[("held", &held.phrase), ("vines", &number::plain(vines))]);
        Test { question, ..test(DISPERSION, held, &result).with_expected(dealt.expected()) }
    };
    helds.iter().map(of_held).collect()
}

/// Lines and steps of a quadrat, by the distances between neighbours; the same both ways where they aren't known.
fn size(field: &Field, vines: f64) -> QuadratSize {
    let [across, along] = [Neighbours::Across, Neighbours::Along].map(|neighbours| spacing(field, neighbours));
    let (across, along) = across.zip(along).unwrap_or((1.0, 1.0));
    QuadratSize::square(vines, across, along)
}

/// Median distance in metres between neighbours.
fn spacing(field: &Field, neighbours: Neighbours) -> Option<f64> {
    let graph = Graph::new(&field.sites(), &field.lines, neighbours);
    let metres = |&(a, b): &(u32, u32)| {
        let (a, b) = (field.points[a as usize].x_y_m?, field.points[b as usize].x_y_m?);
        Some((a.0 - b.0).hypot(a.1 - b.1))
    };
    let mut distances: Vec<f64> = graph.joins.iter().filter_map(metres).collect();
    distances.sort_by(f64::total_cmp);
    distances.get(distances.len() / 2).copied()
}

/// The quadrats, their failures dealt anew.
struct Dealt {
    cells: Vec<u32>,
    counts: DealtCounts,
    quadrats: Vec<Quadrat>,
}

/// What chance makes of a quadrat.
#[derive(Clone, Copy, Default)]
struct Quadrat {
    expected: f64,
    /// V.
    variance: f64,
    /// Variance over the arrangements: hypergeometric in each stratum.
    dealt_variance: f64,
}

impl Dealt {
    fn of(failed: &[u32], quadrats: &[u32], held: &Held) -> Self {
        let number = quadrats.iter().max().map_or(0, |last| *last as usize + 1);
        let mut chance = vec![Quadrat::default(); number];
        for group in held.strata.groups() {
            let all = group.len() as f64;
            let rate = group.iter().map(|&unit| f64::from(failed[unit as usize])).sum::<f64>() / all;
            let mut here: Vec<u32> = group.iter().map(|&unit| quadrats[unit as usize]).collect();
            here.sort_unstable();
            for vines in here.chunk_by(|a, b| a == b) {
                let (quadrat, n) = (&mut chance[vines[0] as usize], vines.len() as f64);
                quadrat.expected += n * rate;
                quadrat.variance += n * rate * (1.0 - rate);
                quadrat.dealt_variance += n * (all - n) / (all - 1.0).max(1.0) * rate * (1.0 - rate);
            }
        }
        let counts = DealtCounts::new(quadrats, number, failed, &held.strata);
        Dealt { cells: quadrats.to_vec(), counts, quadrats: chance }
    }

    /// Over the quadrats in which failures can vary, Q - 1 at least 1.
    fn mean(&self, of: impl Fn(usize, &Quadrat) -> f64) -> f64 {
        let varying = || self.quadrats.iter().enumerate().filter(|(_, q)| q.variance > 0.0);
        let sum: f64 = varying().map(|(at, q)| of(at, q) / q.variance).sum();
        sum / (varying().count() as f64 - 1.0).max(1.0)
    }

    /// Exact expectation over the arrangements.
    fn expected(&self) -> f64 {
        self.mean(|_, q| q.dealt_variance)
    }

    fn dispersion(&self, counts: &[i32]) -> [f64; 1] {
        [self.mean(|at, q| (f64::from(counts[at]) - q.expected).powi(2))]
    }
}

impl Dealing<1> for Dealt {
    type Table = Tallies;

    fn table(&self) -> Tallies {
        self.counts.tallies()
    }

    fn deal(&self, table: &mut Tallies, dealer: &mut Dealer) -> [f64; 1] {
        self.counts.deal(table, dealer);
        self.dispersion(&table.counts)
    }

    fn statistics(&self, failed: &[u32]) -> [f64; 1] {
        self.dispersion(&counted(&self.cells, self.quadrats.len(), |site| failed[site] != 0))
    }

    fn work(&self) -> usize {
        self.counts.dealt() + self.quadrats.len()
    }
}
