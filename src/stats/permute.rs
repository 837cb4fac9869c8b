//! Re-randomisation within strata: what a statistic would be had the labels been dealt otherwise.
//!
//! Labels lie on units (marks on vines, or batches on planted runs) and are exchanged within strata only. Where few
//! distinct arrangements exist all of them are counted, else a sample is drawn: of a fixed size, or until enough of its
//! arrangements have reached the observed statistic ([`Effort::stop_after`]).

use super::special::ln_choose;
use crate::base::Seed;
use crate::base::seed::shuffle;
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::ops::Range;

/// The upper tail of a statistic over re-arrangements.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Randomisation {
    pub observed: f64,
    /// Mean and standard deviation over the arrangements.
    pub mean: f64,
    pub sd: f64,
    /// Share of arrangements with a statistic at least as large: all counted, or (b + 1) / (m + 1) of m drawn
    /// (Phipson & Smyth 2010, eq. 2), or h / l where the h-th of them was the l-th drawn and the drawing stopped there
    /// (Besag & Clifford 1991, `besag-clifford-1991`).
    pub p_greater: f64,
    /// The part of `p_greater` that is due to arrangements with the very same statistic; the observed one is among them.
    pub p_equal: f64,
    /// Standard error of `p_greater` from having drawn a sample; 0 where all were counted.
    pub error: f64,
    /// Arrangements counted, or those drawn that the p-value stands on.
    pub arrangements: u64,
    /// [`PERMUTATION`], [`SEQUENTIAL`] or [`ALL_ARRANGEMENTS`].
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

    /// `p_greater` less half of `p_equal` (Lancaster 1961, `lancaster-1961`): on average a half under the null, where an
    /// exact p-value of few arrangements is more. It may reject more often than its level says: beside the p-value, not in its place.
    pub fn mid_p(&self) -> f64 {
        self.p_greater - 0.5 * self.p_equal
    }

    /// `p_greater` less the share `u` of `p_equal`. With `u` uniform over 0 to 1 it is uniform under the null, whatever the
    /// ties, unless the drawing stopped early. For calibration only: it decides by lot.
    pub fn randomised_p(&self, u: f64) -> f64 {
        self.p_greater - u * self.p_equal
    }
}

/// A sample of arrangements was drawn.
pub const PERMUTATION: &str = "permutation";
/// A sample was drawn until enough arrangements had reached the observed statistic.
pub const SEQUENTIAL: &str = "sequential permutation";
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
    /// Drawing stops once so many arrangements have reached the observed statistic; never by itself if none. The p-value
    /// stays valid (Besag & Clifford 1991, `besag-clifford-1991`), and its relative error is about one over the root of this number.
    pub stop_after: Option<u64>,
}

/// Draws that are made however many units there are.
pub const FEWEST_DRAWS: u64 = 199;

impl Default for Effort {
    fn default() -> Self {
        Effort { draws: 4_999, count_up_to: 20_000, most_moves: 200_000_000, stop_after: None }
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

    fn ranges(&self) -> impl Iterator<Item = Range<usize>> {
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
    if effort.counts_all(labels, strata) {
        let values = every_arrangement(labels, strata, &statistic);
        return std::array::from_fn(|k| summarise(observed[k], values.iter().map(|v| v[k]), true));
    }
    let draws = effort.draws_for(strata.units());
    let deal = |range: Range<u64>| drawn(labels, strata, &statistic, range, name, seed);
    let values = until_enough(&observed, draws, effort.stop_after, deal);
    std::array::from_fn(|k| summarise_drawn(observed[k], values.iter().map(|v| v[k]), effort.stop_after))
}

/// Replicates that share a buffer. Each starts afresh, so the size changes nothing but speed.
const CHUNK: u64 = 32;

/// Replicates drawn between two looks at whether enough have reached the observed statistic. They are looked at in
/// their order whatever thread drew them, and those drawn past the stop count for the mean only.
pub(super) const ROUND: u64 = 256;

/// Replicates in their order, up to the round in which each of the K statistics has been reached `stop_after` times.
pub(super) fn until_enough<const K: usize>(
    observed: &[f64; K],
    draws: u64,
    stop_after: Option<u64>,
    deal: impl Fn(Range<u64>) -> Vec<[f64; K]>,
) -> Vec<[f64; K]> {
    let Some(enough) = stop_after else { return deal(0..draws) };
    let (mut values, mut reached) = (Vec::new(), [0; K]);
    while (values.len() as u64) < draws && reached.iter().any(|n| *n < enough) {
        let from = values.len() as u64;
        let round = deal(from..draws.min(from + ROUND));
        round.iter().for_each(|v| (0..K).for_each(|k| reached[k] += u64::from(v[k] >= least_tie(observed[k]))));
        values.extend(round);
    }
    values
}

fn drawn<const K: usize>(
    labels: &[u32],
    strata: &Strata,
    statistic: &(impl Fn(&[u32]) -> [f64; K] + Sync),
    range: Range<u64>,
    name: &str,
    seed: Seed,
) -> Vec<[f64; K]> {
    let sorted = by_stratum(labels, strata);
    let Range { start, end } = range;
    let chunks = (0..(end - start).div_ceil(CHUNK)).into_par_iter();
    let of_chunk = |chunk: u64| {
        let (mut dealt, mut by_unit) = (sorted.clone(), labels.to_vec());
        let replicate = |replicate: u64| {
            dealt.copy_from_slice(&sorted);
            let mut rng = seed.stream(name, replicate);
            strata.ranges().for_each(|range| shuffle(&mut dealt[range], &mut rng));
            put_back(&dealt, strata, &mut by_unit);
            statistic(&by_unit)
        };
        (start + chunk * CHUNK..end.min(start + (chunk + 1) * CHUNK)).map(replicate).collect::<Vec<_>>()
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

/// Sums in another order differ in the last digits; those are ties.
fn tie(observed: f64) -> f64 {
    1e-10 * (1.0 + observed.abs())
}

/// What counts as reaching the observed statistic.
fn least_tie(observed: f64) -> f64 {
    observed - tie(observed)
}

/// Of all arrangements (`counted`), or of a sample of a fixed size.
pub(super) fn summarise(observed: f64, values: impl Iterator<Item = f64> + Clone, counted: bool) -> Randomisation {
    if !counted {
        return summarise_drawn(observed, values, None);
    }
    let n = values.clone().count() as f64;
    let (mean, spread) = mean_and_spread(values.clone());
    let (reached, ties) = reached(observed, values);
    Randomisation {
        observed,
        mean,
        sd: (spread / n).sqrt(),
        p_greater: reached / n,
        p_equal: ties / n,
        error: 0.0,
        arrangements: n as u64,
        method: ALL_ARRANGEMENTS,
    }
}

/// Of a sample in the order in which it was drawn. Mean and standard deviation are those of the whole sample.
pub(super) fn summarise_drawn(
    observed: f64,
    values: impl Iterator<Item = f64> + Clone,
    stop_after: Option<u64>,
) -> Randomisation {
    let n = values.clone().count() as f64;
    let (mean, spread) = mean_and_spread(values.clone());
    let tail = stop_after.and_then(|h| stopped(observed, values.clone(), h));
    let tail = tail.unwrap_or_else(|| fixed(observed, values, n));
    Randomisation { mean, sd: (spread / (n - 1.0).max(1.0)).sqrt(), ..tail }
}

/// Mean, and sum of squares about it.
fn mean_and_spread(values: impl Iterator<Item = f64> + Clone) -> (f64, f64) {
    let mean = values.clone().sum::<f64>() / values.clone().count() as f64;
    (mean, values.map(|v| (v - mean).powi(2)).sum())
}

/// Arrangements at least as large, and those of them that are as large.
fn reached(observed: f64, values: impl Iterator<Item = f64>) -> (f64, f64) {
    let (mut reached, mut ties) = (0.0, 0.0);
    for value in values.filter(|v| *v >= least_tie(observed)) {
        reached += 1.0;
        ties += f64::from(u8::from(value <= observed + tie(observed)));
    }
    (reached, ties)
}

/// The tail of a sample of `n`, in which the observed arrangement is counted too.
fn fixed(observed: f64, values: impl Iterator<Item = f64>, n: f64) -> Randomisation {
    let (reached, ties) = reached(observed, values);
    let p_greater = (reached + 1.0) / (n + 1.0);
    let error = (p_greater * (1.0 - p_greater) / (n + 1.0)).sqrt();
    let p_equal = (ties + 1.0) / (n + 1.0);
    let arrangements = n as u64;
    Randomisation { observed, mean: observed, sd: 0.0, p_greater, p_equal, error, arrangements, method: PERMUTATION }
}

/// The tail where the drawing stopped at the arrangement that was the `enough`-th to reach the observed statistic; none
/// where it didn't. The standard error is that of an inverse binomial sample, p sqrt((1 - p) / h).
fn stopped(observed: f64, values: impl Iterator<Item = f64> + Clone, enough: u64) -> Option<Randomisation> {
    let nth = usize::try_from(enough).ok()?.checked_sub(1)?;
    let (at, _) = values.clone().enumerate().filter(|(_, v)| *v >= least_tie(observed)).nth(nth)?;
    let (h, l) = (enough as f64, at as f64 + 1.0);
    let (_, ties) = reached(observed, values.take(at + 1));
    let p_greater = h / l;
    let error = p_greater * ((1.0 - p_greater) / h).sqrt();
    let arrangements = at as u64 + 1;
    Some(Randomisation {
        observed,
        mean: observed,
        sd: 0.0,
        p_greater,
        p_equal: ties / l,
        error,
        arrangements,
        method: SEQUENTIAL,
    })
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

    /// Of the 70 ways of the tea tasting 17 have at least 3 right, 16 of them 3.
    #[test]
    fn mid_p_takes_half_of_the_ties() {
        let labels = [1, 1, 1, 0, 1, 0, 0, 0];
        let [r] = randomise(&labels, &Strata::one(8), sum_of_first(4), &Effort::default(), "tea", Seed::new(1));
        assert!((r.p_equal - 16.0 / 70.0).abs() < 1e-15 && (r.mid_p() - 9.0 / 70.0).abs() < 1e-15, "{r:?}");
        assert!((r.randomised_p(0.25) - 13.0 / 70.0).abs() < 1e-15, "{r:?}");
        let effort = Effort { count_up_to: 1, ..Effort::default() };
        let [r] = randomise(&labels, &Strata::one(8), sum_of_first(4), &effort, "tea", Seed::new(1));
        assert!((r.mid_p() - 9.0 / 70.0).abs() < 4.0 * r.error, "{r:?}");
    }

    #[test]
    fn drawing_stops_at_the_draw_that_was_enough() {
        // Observed 2: reached by the second (as large), third and fifth draw.
        let draws = [1.0, 2.0, 3.0, 0.0, 5.0, 1.0];
        let of = |stop_after| summarise_drawn(2.0, draws.into_iter(), stop_after);
        let two = of(Some(2));
        assert_eq!((two.p_greater, two.p_equal, two.arrangements, two.method), (2.0 / 3.0, 1.0 / 3.0, 3, SEQUENTIAL));
        assert!((two.error - 2.0 / 3.0 * (1.0f64 / 6.0).sqrt()).abs() < 1e-15 && two.mean == 2.0);
        assert_eq!((of(Some(3)).p_greater, of(Some(3)).arrangements), (3.0 / 5.0, 5));
        for never in [Some(4), Some(0), None] {
            assert_eq!((of(never).p_greater, of(never).arrangements, of(never).method), (4.0 / 7.0, 6, PERMUTATION));
        }
    }

    /// Of two labels 0 and 1 over units of continuous values, the p-value of a null reaches each attainable level with
    /// just that probability, stopped or not, on any number of threads. 2,000 nulls: 4 standard errors.
    #[test]
    fn a_test_that_stops_early_keeps_its_size() {
        let effort = Effort { draws: 99, count_up_to: 1, stop_after: Some(5), ..Effort::default() };
        let p = |null: u64| {
            let mut rng = Seed::new(null).stream("values", 0);
            let values: Vec<f64> = (0..12).map(|_| crate::base::seed::uniform(&mut rng)).collect();
            let labels: Vec<u32> = (0..12).map(|i| i % 2).collect();
            let sum = |l: &[u32]| [l.iter().zip(&values).map(|(l, v)| f64::from(*l) * v).sum::<f64>()];
            randomise(&labels, &Strata::one(12), sum, &effort, "stopping", Seed::new(null))[0]
        };
        let pool = |threads| rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        let all: Vec<Randomisation> = pool(2).install(|| (0..2_000).map(p).collect());
        assert_eq!(all[..50], pool(1).install(|| (0..50).map(p).collect::<Vec<_>>())[..]);
        for level in [0.01f64, 0.05, 0.1, 0.25, 0.5] {
            let share = all.iter().filter(|r| r.p_greater <= level + 1e-12).count() as f64 / 2_000.0;
            assert!((share - level).abs() < 4.0 * (level * (1.0 - level) / 2_000.0).sqrt(), "{level} {share}");
        }
        assert!(all.iter().any(|r| r.method == SEQUENTIAL) && all.iter().any(|r| r.method == PERMUTATION));
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
