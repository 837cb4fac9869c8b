//! Join counts: how many neighbours share a mark, more than chance would have it.
//!
//! Letters: n sites of which k are marked (black, B) and w = n - k aren't (white, W); J joins, of which T pairs share
//! a site and D = J(J - 1)/2 - T pairs don't; x^(m) = x (x - 1) ... (x - m + 1). All k-subsets of the sites are
//! equally likely ("nonfree sampling"). Source: Cliff & Ord 1981 (`cliff-ord-1981`), section 1.3, written here with
//! counts of pairs of joins instead of their sums of weights; checked by enumeration.

use super::grid::Graph;
use crate::stats::permute::Strata;
use crate::stats::special::normal_cdf;
use serde::Serialize;

/// A statistic with its moments under permutation.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Moments {
    pub observed: f64,
    pub expected: f64,
    /// 0 where the statistic can take one value only.
    pub variance: f64,
}

impl Moments {
    /// Standard deviations above the expectation; none without variance.
    pub fn z(&self) -> Option<f64> {
        let z = (self.observed - self.expected) / self.variance.sqrt();
        (self.variance > 0.0 && z.is_finite()).then_some(z)
    }

    /// Upper tail of the normal approximation; none without variance.
    pub fn p_greater(&self) -> Option<f64> {
        self.z().map(|z| normal_cdf(-z))
    }
}

/// Join counts of a mark.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct JoinCounts {
    pub joins: u64,
    /// Both marked, one marked, none marked.
    pub bb: Moments,
    pub bw: Moments,
    pub ww: Moments,
}

/// Counts the joins of the marked sites; `marked` has one entry per site.
pub fn join_counts(marked: &[bool], graph: &Graph) -> JoinCounts {
    let (mut bb, mut ww) = (0.0, 0.0);
    for &(a, b) in &graph.joins {
        match (marked[a as usize], marked[b as usize]) {
            (true, true) => bb += 1.0,
            (false, false) => ww += 1.0,
            _ => {}
        }
    }
    let pairs = Pairs::of(graph);
    let (n, k) = (marked.len() as f64, marked.iter().filter(|m| **m).count() as f64);
    JoinCounts {
        joins: graph.joins.len() as u64,
        bb: pairs.same(bb, k, n),
        bw: pairs.mixed(pairs.joins - bb - ww, k, n),
        ww: pairs.same(ww, n - k, n),
    }
}

/// Joins, and pairs of joins that do or don't share a site.
pub(super) struct Pairs {
    joins: f64,
    sharing: f64,
    apart: f64,
}

impl Pairs {
    pub(super) fn of(graph: &Graph) -> Self {
        let joins = graph.joins.len() as f64;
        let sharing = graph.degrees().into_iter().map(f64::from).map(|d| d * (d - 1.0) / 2.0).sum();
        Pairs { joins, sharing, apart: joins * (joins - 1.0) / 2.0 - sharing }
    }

    pub(super) fn joins(&self) -> f64 {
        self.joins
    }

    /// Joins between two of the k: E = J k^(2)/n^(2); E[square] = E + 2 T k^(3)/n^(3) + 2 D k^(4)/n^(4).
    pub(super) fn same(&self, observed: f64, k: f64, n: f64) -> Moments {
        let all = |m| ratio(falling(k, m), falling(n, m));
        self.moments(observed, all(2), all(3), all(4))
    }

    /// Joins between one of the k and one of the w others: a join is one with 2kw/n^(2), two that share a site
    /// both are with kw(n - 2)/n^(3), two apart with 4 k^(2) w^(2)/n^(4).
    fn mixed(&self, observed: f64, k: f64, n: f64) -> Moments {
        let w = n - k;
        let one = ratio(2.0 * k * w, falling(n, 2));
        let sharing = ratio(k * w * (n - 2.0), falling(n, 3));
        let apart = ratio(4.0 * falling(k, 2) * falling(w, 2), falling(n, 4));
        self.moments(observed, one, sharing, apart)
    }

    /// From the probabilities that one join, two that share a site, and two apart are of the kind.
    pub(super) fn moments(&self, observed: f64, one: f64, sharing: f64, apart: f64) -> Moments {
        let expected = self.joins * one;
        let square = expected + 2.0 * self.sharing * sharing + 2.0 * self.apart * apart;
        let variance = square - expected * expected;
        // What is left of two equal numbers by rounding is no variance.
        let rounding = 1e-12 * (1.0 + square);
        Moments { observed, expected, variance: if variance > rounding { variance } else { 0.0 } }
    }
}

/// x (x - 1) ... (x - m + 1).
pub(super) fn falling(x: f64, m: u32) -> f64 {
    (0..m).map(|i| (x - f64::from(i)).max(0.0)).product()
}

pub(super) fn ratio(part: f64, whole: f64) -> f64 {
    if whole > 0.0 { part / whole } else { 0.0 }
}

/// Expectation of the sum over joins of the product of the two sites' values, the values permuted within strata:
/// (S^2 - Q) / (N (N - 1)) for a join within a stratum of N sites with sum S and sum of squares Q, the product of
/// the two means for a join between strata. With marks of 0 and 1 it is the expectation of BB.
pub fn expected_products(values: &[f64], graph: &Graph, strata: &Strata) -> f64 {
    let sums = |group: &[u32]| {
        let of_group = || group.iter().map(|&site| values[site as usize]);
        (group.len() as f64, of_group().sum::<f64>(), of_group().map(|v| v * v).sum::<f64>())
    };
    let sums: Vec<(f64, f64, f64)> = strata.groups().map(sums).collect();
    let of = strata.of_units();
    let of_join = |&(a, b): &(u32, u32)| {
        let (a, b) = (of[a as usize] as usize, of[b as usize] as usize);
        let ((n, s, q), (m, t, _)) = (sums[a], sums[b]);
        if a == b { ratio(s * s - q, n * (n - 1.0)) } else { (s / n) * (t / m) }
    };
    graph.joins.iter().map(of_join).sum()
}
