//! Groups of plants, their failures dealt anew to the plants of each stratum.
//!
//! Letters: stratum h has n plants of which d failed; group g has n(g) of them, and lost x(g) over all strata.
//! E(g) = sum over strata of n(g) d / n, V(g) = sum of n(g) (n - n(g)) d (n - d) / (n^2 (n - 1)) (hypergeometric).

use super::permute::{Effort, PERMUTATION, Randomisation, summarise};
use crate::base::Seed;
use crate::base::seed::below;
use rand::Rng;
use rayon::prelude::*;

/// One group in one stratum.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct GroupCount {
    pub group: u32,
    pub failed: u64,
    /// At least `failed`.
    pub seen: u64,
}

/// Dealings that share a stream and go on from one another; fixed, so that the number of threads changes nothing.
const PER_STREAM: u64 = 250;

/// X2 = sum over groups of (x - E)^2 / V with its distribution where the failures of each stratum fall on any of its
/// plants alike: a Monte Carlo test that groups differ no more than plants do by chance, whatever the strata's own
/// rates. `effort.draws` dealings, fewer where they would move more than `effort.most_moves` plants.
///
/// None where no stratum has plants of two groups, some failed and some not. It asks about single plants: where
/// neighbours share their ground, places differ by more than chance, and that is what it finds.
pub fn redealt_outcomes(strata: &[Vec<GroupCount>], effort: &Effort, name: &str, seed: Seed) -> Option<Randomisation> {
    let scale = Scale::of(strata);
    let observed = scale.statistic(&scale.observed);
    let urns: Vec<Urn> = strata.iter().filter_map(|stratum| Urn::of(stratum)).collect();
    if urns.is_empty() || scale.variance.iter().all(|v| *v <= 0.0) {
        return None;
    }
    let draws = effort.draws_for(urns.iter().map(|u| u.dealt).sum());
    let of_stream = |stream: u64| {
        let (mut rng, mut urns) = (seed.stream(name, stream), urns.clone());
        let dealings = PER_STREAM.min(draws - stream * PER_STREAM);
        (0..dealings).map(|_| scale.statistic(&scale.dealt(&mut urns, &mut rng))).collect::<Vec<f64>>()
    };
    let values: Vec<f64> = (0..draws.div_ceil(PER_STREAM)).into_par_iter().flat_map_iter(of_stream).collect();
    let result = summarise(observed, values.iter().copied(), false);
    debug_assert_eq!(result.method, PERMUTATION);
    Some(result)
}

/// The groups' sums.
struct Scale {
    /// Groups that lost in strata that can't vary are here too, with what they must lose.
    observed: Vec<f64>,
    fixed: Vec<f64>,
    expected: Vec<f64>,
    variance: Vec<f64>,
}

impl Scale {
    fn of(strata: &[Vec<GroupCount>]) -> Self {
        let groups = strata.iter().flatten().map(|g| g.group as usize + 1).max().unwrap_or(0);
        let mut scale = Scale {
            observed: vec![0.0; groups],
            fixed: vec![0.0; groups],
            expected: vec![0.0; groups],
            variance: vec![0.0; groups],
        };
        strata.iter().for_each(|stratum| scale.add(stratum));
        scale
    }

    fn add(&mut self, stratum: &[GroupCount]) {
        let of = |count: fn(&GroupCount) -> u64| stratum.iter().map(|g| count(g) as f64).sum::<f64>();
        let (n, d) = (of(|g| g.seen), of(|g| g.failed.min(g.seen)));
        let drawn = Urn::of(stratum).is_some();
        for g in stratum.iter().filter(|g| g.seen > 0) {
            let (at, seen, failed) = (g.group as usize, g.seen as f64, g.failed.min(g.seen) as f64);
            self.observed[at] += failed;
            self.expected[at] += seen * d / n;
            self.fixed[at] += if drawn { 0.0 } else { failed };
            self.variance[at] += if n > 1.0 { seen * (n - seen) / n * d * (n - d) / n / (n - 1.0) } else { 0.0 };
        }
    }

    fn statistic(&self, lost: &[f64]) -> f64 {
        let groups = lost.iter().zip(&self.expected).zip(&self.variance);
        groups.filter(|(_, v)| **v > 0.0).map(|((x, e), v)| (x - e).powi(2) / v).sum()
    }

    /// Losses of each group, dealt anew.
    fn dealt(&self, urns: &mut [Urn], rng: &mut impl Rng) -> Vec<f64> {
        let mut lost = self.fixed.clone();
        urns.iter_mut().for_each(|urn| urn.deal(&mut lost, rng));
        lost
    }
}

/// The plants of a stratum, by group; the rarer outcome is dealt.
#[derive(Clone)]
struct Urn {
    plants: Vec<u32>,
    dealt: usize,
    /// Whether the plants dealt are those that live.
    living: bool,
}

impl Urn {
    /// None where nothing can be dealt anew.
    fn of(stratum: &[GroupCount]) -> Option<Urn> {
        let failed: u64 = stratum.iter().map(|g| g.failed.min(g.seen)).sum();
        let seen: u64 = stratum.iter().map(|g| g.seen).sum();
        let groups = stratum.iter().filter(|g| g.seen > 0).count();
        let living = seen - failed < failed;
        let plants = || stratum.iter().flat_map(|g| std::iter::repeat_n(g.group, g.seen as usize)).collect();
        let dealt = failed.min(seen - failed) as usize;
        (groups > 1 && dealt > 0).then(|| Urn { plants: plants(), dealt, living })
    }

    /// The first plants of a partial Fisher-Yates shuffle get the rarer outcome.
    fn deal(&mut self, lost: &mut [f64], rng: &mut impl Rng) {
        if self.living {
            self.plants.iter().for_each(|&g| lost[g as usize] += 1.0);
        }
        let each = if self.living { -1.0 } else { 1.0 };
        for at in 0..self.dealt {
            let other = at + below(rng, self.plants.len() - at);
            self.plants.swap(at, other);
            lost[self.plants[at] as usize] += each;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::hypergeometric::fisher;

    fn count(group: u32, failed: u64, seen: u64) -> GroupCount {
        GroupCount { group, failed, seen }
    }

    fn run(strata: &[Vec<GroupCount>]) -> Option<Randomisation> {
        let effort = Effort { draws: 19_999, ..Effort::default() };
        redealt_outcomes(strata, &effort, "outcomes", Seed::new(1))
    }

    #[test]
    fn one_stratum_of_equal_groups_is_fishers_test() {
        let got = run(&[vec![count(0, 3, 20), count(1, 9, 20)]]).expect("a test");
        let want = fisher([[3, 17], [9, 11]], 0.9).p_two_sided;
        assert!((got.p_greater - want).abs() < 4.0 * got.error, "{got:?} {want}");
        // The mean of (x - E)^2 / V is 1 in each group.
        assert!((got.mean - 2.0).abs() < 0.1, "{got:?}");
        // Dealing the living instead changes nothing.
        let turned = run(&[vec![count(0, 17, 20), count(1, 11, 20)]]).expect("a test");
        assert!((turned.p_greater - want).abs() < 4.0 * turned.error && turned.observed == got.observed);
    }

    #[test]
    fn what_differs_between_strata_only_is_no_difference_of_groups() {
        let strata = [vec![count(0, 18, 20), count(1, 17, 20)], vec![count(1, 1, 20), count(2, 2, 20), count(3, 0, 0)]];
        assert!(run(&strata).is_some_and(|r| r.p_greater > 0.5));
        let pooled = vec![count(0, 18, 20), count(1, 18, 40), count(2, 2, 20)];
        assert!(run(&[pooled]).is_some_and(|r| r.p_greater < 0.01));
    }

    #[test]
    fn one_arrangement_is_absent() {
        assert!(run(&[]).is_none() && run(&[vec![count(0, 3, 9)]]).is_none());
        assert!(run(&[vec![count(0, 0, 9), count(1, 0, 9)], vec![count(0, 5, 5), count(1, 5, 5)]]).is_none());
    }
}
