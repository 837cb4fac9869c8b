//! Re-randomisation within strata: what a statistic would be had the labels been dealt otherwise.
//!
//! Labels lie on units (marks on vines, or batches on planted runs) and are exchanged within strata only. Where few
//! distinct arrangements exist all of them are counted, else a sample is drawn.

use super::special::ln_choose;
use crate::base::Seed;
use crate::base::seed::shuffle;
use rayon::prelude::*;
use std::collections::BTreeMap;

/// The upper tail of a statistic over re-arrangements.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Randomisation {
    pub observed: f64,
    /// Mean and standard deviation over the arrangements.
    pub mean: f64,
    pub sd: f64,
    /// Share of arrangements with a statistic at least as large: all counted, or (b + 1) / (m + 1) of m drawn
    /// (Phipson & Smyth 2010, eq. 2).
    pub p_greater: f64,
    /// Standard error of `p_greater` from having drawn a sample; 0 where all were counted.
    pub error: f64,
    /// Arrangements drawn, or counted.
    pub arrangements: u64,
    /// [`PERMUTATION`] or [`ALL_ARRANGEMENTS`].
    pub method: &'static str,
}

/// Why a re-randomisation is no evidence either way.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Silence {
    /// The labels can be arranged in one way only.
    OneArrangement,
    /// Every arrangement has the same value.
    OneValue,
}

impl Randomisation {
    /// Why it is no evidence, if so.
    pub fn silence(&self) -> Option<Silence> {
        match self {
            r if r.arrangements == 1 && r.method == ALL_ARRANGEMENTS => Some(Silence::OneArrangement),
            r if r.sd <= 1e-12 * (1.0 + r.mean.abs()) => Some(Silence::OneValue),
            _ => None,
        }
    }
}

/// A sample of arrangements was drawn.
pub const PERMUTATION: &str = "permutation";
/// Every distinct arrangement was counted.
pub const ALL_ARRANGEMENTS: &str = "all arrangements";

/// How much work a test may be.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Effort {
    /// Arrangements drawn where there are too many to count.
    pub draws: u64,
    /// Up to so many distinct arrangements all of them are counted.
    pub count_up_to: u64,
    /// Arrangements times units is kept below this, so that a million units finish; at least [`FEWEST_DRAWS`] are made.
    pub most_moves: u64,
}

/// Draws that are made however many units there are.
pub const FEWEST_DRAWS: u64 = 199;

impl Default for Effort {
    fn default() -> Self {
        Effort { draws: 4_999, count_up_to: 20_000, most_moves: 200_000_000 }
    }
}

impl Effort {
    pub(super) fn draws_for(&self, units: usize) -> u64 {
        let affordable = self.most_moves / (units as u64).max(1);
        self.draws.min(affordable.max(FEWEST_DRAWS)).max(1)
    }

    fn count_up_to_for(&self, units: usize) -> u64 {
        self.count_up_to.min(self.most_moves / (units as u64).max(1))
    }

    /// Whether the arrangements of `labels` are few enough to count them all.
    pub(super) fn counts_all(&self, labels: &[u32], strata: &Strata) -> bool {
        strata.ln_arrangements(labels) <= (self.count_up_to_for(strata.units()) as f64).ln() + 1e-9
    }
}

/// Units by stratum.
#[derive(Clone, Debug, PartialEq)]
pub struct Strata {
    /// Unit indices, stratum after stratum.
    order: Vec<u32>,
    /// Where each stratum ends in `order`.
    ends: Vec<usize>,
}

impl Strata {
    /// One stratum of `units`: labels go anywhere.
    pub fn one(units: usize) -> Self {
        Strata { order: (0..units as u32).collect(), ends: vec![units] }
    }

    /// Units with the same key share a stratum.
    pub fn by<K: Ord>(keys: impl IntoIterator<Item = K>) -> Self {
        let mut groups: BTreeMap<K, Vec<u32>> = BTreeMap::new();
        for (unit, key) in keys.into_iter().enumerate() {
            groups.entry(key).or_default().push(unit as u32);
        }
        let mut strata = Strata { order: Vec::new(), ends: Vec::new() };
        for group in groups.into_values() {
            strata.order.extend(group);
            strata.ends.push(strata.order.len());
        }
        strata
    }

    /// Number of units.
    pub fn units(&self) -> usize {
        self.order.len()
    }

    /// Number of strata.
    pub fn count(&self) -> usize {
        self.ends.len()
    }

    /// The unit indices of each stratum.
    pub fn groups(&self) -> impl Iterator<Item = &[u32]> {
        self.ranges().map(|range| &self.order[range])
    }

    /// Stratum of each unit.
    pub fn of_units(&self) -> Vec<u32> {
        let mut of = vec![0; self.units()];
        for (stratum, group) in self.groups().enumerate() {
            group.iter().for_each(|&unit| of[unit as usize] = stratum as u32);
        }
        of
    }

    fn ranges(&self) -> impl Iterator<Item = std::ops::Range<usize>> {
        let starts = std::iter::once(0).chain(self.ends.iter().copied());
        starts.zip(self.ends.iter().copied()).map(|(from, to)| from..to)
    }

    /// ln of the number of distinct arrangements of `labels`: a multinomial coefficient per stratum.
    pub fn ln_arrangements(&self, labels: &[u32]) -> f64 {
        self.groups().map(|group| ln_multinomial(group.iter().map(|&unit| labels[unit as usize]))).sum()
    }
}

fn ln_multinomial(labels: impl Iterator<Item = u32>) -> f64 {
    let mut of_label: BTreeMap<u32, u64> = BTreeMap::new();
    labels.for_each(|label| *of_label.entry(label).or_default() += 1);
    let chosen = of_label.values().scan(0, |sum, &n| {
        *sum += n;
        Some(ln_choose(*sum, n))
    });
    chosen.sum()
}

/// Re-randomises `labels` (one per unit) within `strata`, for `K` statistics of the same arrangements at once.
///
/// `statistic` takes the labels by unit. Replicate `r` depends on `seed`, `name` and `r` only, so that neither the
/// number of threads nor another test moves it.
pub fn randomise<const K: usize>(
    labels: &[u32],
    strata: &Strata,
    statistic: impl Fn(&[u32]) -> [f64; K] + Sync,
    effort: &Effort,
    name: &str,
    seed: Seed,
) -> [Randomisation; K] {
    let observed = statistic(labels);
    let few = effort.counts_all(labels, strata);
    let values = match few {
        true => every_arrangement(labels, strata, &statistic),
        false => drawn(labels, strata, &statistic, effort.draws_for(strata.units()), name, seed),
    };
    std::array::from_fn(|k| summarise(observed[k], values.iter().map(|v| v[k]), few))
}

/// Replicates that share a buffer. Each starts afresh, so the size changes nothing but speed.
const CHUNK: u64 = 32;

fn drawn<const K: usize>(
    labels: &[u32],
    strata: &Strata,
    statistic: &(impl Fn(&[u32]) -> [f64; K] + Sync),
    draws: u64,
    name: &str,
    seed: Seed,
) -> Vec<[f64; K]> {
    let sorted = by_stratum(labels, strata);
    let chunks = (0..draws.div_ceil(CHUNK)).into_par_iter();
    let of_chunk = |chunk: u64| {
        let (mut dealt, mut by_unit) = (sorted.clone(), labels.to_vec());
        let replicate = |replicate: u64| {
            dealt.copy_from_slice(&sorted);
            let mut rng = seed.stream(name, replicate);
            strata.ranges().for_each(|range| shuffle(&mut dealt[range], &mut rng));
            put_back(&dealt, strata, &mut by_unit);
            statistic(&by_unit)
        };
        (chunk * CHUNK..draws.min((chunk + 1) * CHUNK)).map(replicate).collect::<Vec<_>>()
    };
    chunks.flat_map_iter(of_chunk).collect()
}

/// Labels in the order of the strata.
fn by_stratum(labels: &[u32], strata: &Strata) -> Vec<u32> {
    strata.order.iter().map(|&unit| labels[unit as usize]).collect()
}

fn put_back(dealt: &[u32], strata: &Strata, by_unit: &mut [u32]) {
    strata.order.iter().zip(dealt).for_each(|(&unit, &label)| by_unit[unit as usize] = label);
}

/// The statistic of every distinct arrangement: strata turn over like the wheels of a counter.
fn every_arrangement<const K: usize>(
    labels: &[u32],
    strata: &Strata,
    statistic: &impl Fn(&[u32]) -> [f64; K],
) -> Vec<[f64; K]> {
    let (mut dealt, mut by_unit) = (by_stratum(labels, strata), labels.to_vec());
    strata.ranges().for_each(|range| dealt[range].sort_unstable());
    let mut values = Vec::new();
    loop {
        put_back(&dealt, strata, &mut by_unit);
        values.push(statistic(&by_unit));
        if !strata.ranges().any(|range| next_arrangement(&mut dealt[range])) {
            return values;
        }
    }
}

/// The next distinct order of a multiset in lexicographic order; false, and the first order, after the last one
/// (Narayana Pandita's algorithm; Knuth, TAOCP 4A, 7.2.1.2, algorithm L; from memory).
fn next_arrangement(items: &mut [u32]) -> bool {
    let Some(pivot) = items.windows(2).rposition(|w| w[0] < w[1]) else {
        items.reverse();
        return false;
    };
    let larger = items.iter().rposition(|&item| item > items[pivot]).unwrap_or(pivot);
    items.swap(pivot, larger);
    items[pivot + 1..].reverse();
    true
}

pub(super) fn summarise(observed: f64, values: impl Iterator<Item = f64> + Clone, counted: bool) -> Randomisation {
    let n = values.clone().count() as f64;
    let mean = values.clone().sum::<f64>() / n;
    let spread = values.clone().map(|v| (v - mean).powi(2)).sum::<f64>();
    let degrees = if counted { n } else { (n - 1.0).max(1.0) };
    // Sums in another order differ in the last digits; those are ties.
    let tie = 1e-10 * (1.0 + observed.abs());
    let as_large = values.filter(|v| *v >= observed - tie).count() as f64;
    let p_greater = if counted { as_large / n } else { (as_large + 1.0) / (n + 1.0) };
    Randomisation {
        observed,
        mean,
        sd: (spread / degrees).sqrt(),
        p_greater,
        error: if counted { 0.0 } else { (p_greater * (1.0 - p_greater) / (n + 1.0)).sqrt() },
        arrangements: n as u64,
        method: if counted { ALL_ARRANGEMENTS } else { PERMUTATION },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sum_of_first(n: usize) -> impl Fn(&[u32]) -> [f64; 1] + Sync {
        move |labels| [labels[..n].iter().map(|&l| f64::from(l)).sum()]
    }

    #[test]
    fn all_arrangements_give_fishers_exact_tail() {
        // Tea tasting (Fisher 1935): 3 of 4 right; P(at least 3) = 17/70.
        let labels = [1, 1, 1, 0, 1, 0, 0, 0];
        let [r] = randomise(&labels, &Strata::one(8), sum_of_first(4), &Effort::default(), "tea", Seed::new(1));
        assert_eq!((r.arrangements, r.method, r.error), (70, ALL_ARRANGEMENTS, 0.0));
        assert!((r.p_greater - 17.0 / 70.0).abs() < 1e-15, "{r:?}");
        // Hypergeometric mean 2 and variance 4 * 1/2 * 1/2 * 4/7.
        assert!((r.mean - 2.0).abs() < 1e-12 && (r.sd * r.sd - 4.0 / 7.0).abs() < 1e-12, "{r:?}");
    }

    #[test]
    fn strata_keep_their_own_labels() {
        // Two strata of 2 with one mark each, one all marked: 2 * 2 * 1 arrangements.
        let (labels, keys) = ([1, 0, 1, 0, 1, 1], [0, 1, 1, 0, 2, 2]);
        let strata = Strata::by(keys);
        let kept = |l: &[u32]| [f64::from(l[0] + l[3]), f64::from(l[1] + l[2]), f64::from(l[0]), f64::from(l[4])];
        let r = randomise(&labels, &strata, kept, &Effort::default(), "strata", Seed::new(1));
        assert_eq!(r.map(|r| (r.mean, r.sd)), [(1.0, 0.0), (1.0, 0.0), (0.5, 0.5), (1.0, 0.0)]);
        assert_eq!(r[0].arrangements, 4);
        assert_eq!(strata.of_units(), keys);
    }

    #[test]
    fn draws_agree_with_counting_and_threads_change_nothing() {
        let labels = [1, 1, 1, 0, 1, 0, 0, 0];
        let effort = Effort { count_up_to: 1, ..Effort::default() };
        let run = || randomise(&labels, &Strata::one(8), sum_of_first(4), &effort, "tea", Seed::new(1))[0];
        let pool = |threads| rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        let (one, three) = (pool(1).install(run), pool(3).install(run));
        assert_eq!(one, three);
        assert_eq!((one.arrangements, one.method), (4_999, PERMUTATION));
        assert!((one.p_greater - 17.0 / 70.0).abs() < 4.0 * one.error, "{one:?}");
        assert!((one.error - 0.00606).abs() < 2e-4, "{one:?}"); // sqrt(17/70 * 53/70 / 5000)
    }

    #[test]
    fn one_arrangement_is_no_evidence() {
        let [r] = randomise(&[1, 1, 1], &Strata::one(3), sum_of_first(2), &Effort::default(), "one", Seed::new(1));
        assert_eq!((r.p_greater, r.arrangements), (1.0, 1));
        let [r] = randomise(&[], &Strata::one(0), |_| [0.0], &Effort::default(), "none", Seed::new(1));
        assert_eq!((r.p_greater, r.arrangements), (1.0, 1));
    }

    #[test]
    fn a_million_units_get_fewer_draws() {
        assert_eq!(Effort::default().draws_for(1_000_000), 200);
        assert_eq!(Effort::default().draws_for(1_000), 4_999);
    }
}
