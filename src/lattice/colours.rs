//! Join counts of several colours, each site bearing one.
//!
//! Letters as in [`super::joins`], with k and l sites of two colours: a join is between the two with 2 k l / n^(2), two
//! joins that share a site both are with k l (k + l - 2) / n^(3), two apart with 4 k^(2) l^(2) / n^(4). All
//! arrangements of the colours are equally likely. Source: Cliff & Ord 1981 (`cliff-ord-1981`), section 1.3; the
//! probabilities by counting.

use super::grid::Graph;
use super::joins::{Moments, Pairs, falling, ratio};
use serde::Serialize;

/// Joins between sites of two colours, or of one.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ColourJoins {
    /// The colours, the lower first.
    pub colours: (u32, u32),
    pub joins: Moments,
}

/// Join counts of every pair of colours.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct ManyColours {
    /// Pairs in order, each colour with itself first.
    pub pairs: Vec<ColourJoins>,
    /// All joins between sites of different colours.
    pub different: Moments,
}

/// Counts the joins of each pair of the colours 0 to `number` - 1; a site of a colour beyond is of none.
pub fn colour_joins(colours: &[u32], number: u32, graph: &Graph) -> ManyColours {
    let mut counts = vec![vec![0.0; number as usize]; number as usize];
    for &(a, b) in &graph.joins {
        let (a, b) = (colours[a as usize], colours[b as usize]);
        if a.max(b) < number {
            counts[a.min(b) as usize][a.max(b) as usize] += 1.0;
        }
    }
    let of = |colour: u32| colours.iter().filter(|c| **c == colour).count() as f64;
    let sites: Vec<f64> = (0..number).map(of).collect();
    let (pairs, n) = (Pairs::of(graph), colours.len() as f64);
    let between = |a: usize, b: usize| {
        let observed = counts[a][b];
        let joins = if a == b { pairs.same(observed, sites[a], n) } else { pairs.two(observed, sites[a], sites[b], n) };
        ColourJoins { colours: (a as u32, b as u32), joins }
    };
    let same = (0..number as usize).map(|a| between(a, a));
    let mixed = (0..number as usize).flat_map(|a| (a + 1..number as usize).map(move |b| (a, b)));
    let of_pairs: Vec<ColourJoins> = same.chain(mixed.map(|(a, b)| between(a, b))).collect();
    let observed = of_pairs.iter().filter(|p| p.colours.0 != p.colours.1).map(|p| p.joins.observed).sum();
    ManyColours { pairs: of_pairs, different: pairs.different(observed, &sites, n) }
}

impl Pairs {
    /// Joins between one of the k and one of the l.
    fn two(&self, observed: f64, k: f64, l: f64, n: f64) -> Moments {
        let one = ratio(2.0 * k * l, falling(n, 2));
        let sharing = ratio(k * l * (k + l - 2.0), falling(n, 3));
        let apart = ratio(4.0 * falling(k, 2) * falling(l, 2), falling(n, 4));
        self.moments(observed, one, sharing, apart)
    }

    /// Joins between sites of different colours: those that are not between sites of the same.
    fn different(&self, observed: f64, sites: &[f64], n: f64) -> Moments {
        let sum = |m| sites.iter().map(|&k| falling(k, m)).sum::<f64>();
        let pairs = |k: f64| falling(k, 2);
        let two_colours = sum(2).powi(2) - sites.iter().map(|&k| pairs(k).powi(2)).sum::<f64>();
        let same = self.moments(
            self.joins() - observed,
            ratio(sum(2), falling(n, 2)),
            ratio(sum(3), falling(n, 3)),
            ratio(sum(4) + two_colours, falling(n, 4)),
        );
        Moments { observed, expected: self.joins() - same.expected, variance: same.variance }
    }
}
