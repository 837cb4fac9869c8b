//! Whether the share failed rises or falls along an ordered score.
//!
//! Letters: group i has the score s(i) and n(i) plants of which x(i) failed; N and X their sums, p = X / N, q = 1 - p,
//! m = sum of n s / N the mean score.

use super::contingency::{ChiSquare, independence};
use super::permute::{Effort, Randomisation, Strata, randomise};
use super::special::normal_cdf;
use crate::base::Seed;
use serde::Serialize;

/// A group with its score.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Scored {
    /// In any unit; finite.
    pub score: f64,
    pub failed: u64,
    /// At least `failed`.
    pub seen: u64,
}

/// The trend of Cochran (1954) & Armitage (1955).
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Trend {
    /// sum of x (s - m) / sum of n (s - m)^2: the share failed gained with each unit of score.
    pub slope: f64,
    /// sum of x (s - m) / sqrt(p q sum of n (s - m)^2), about standard normal; positive where failures rise.
    pub z: f64,
    /// Of z, two-sided.
    pub p_value: f64,
    /// P(Z >= z): failures rise.
    pub p_greater: f64,
    /// z^2: the form with N in it.
    pub with_n: ChiSquare,
    /// z^2 (N - 1) / N, the squared correlation times N - 1: the variance is the permutation variance. Smaller by 1 / N.
    pub with_n_less_one: ChiSquare,
    /// Pearson's chi-square of the groups less z^2, on groups - 2 degrees of freedom: what no straight line explains.
    pub departure: Option<ChiSquare>,
}

/// Cochran-Armitage trend (Armitage 1955, `armitage-1955`; Agresti 2002, section 3.4.4 and p. 181, `agresti-2002`).
///
/// None where fewer than two scores occur, all or none failed, or a score isn't finite. It takes plants for
/// independent: where they were planted in runs, [`trend_redealt`] beside it. Groups without plants say nothing;
/// `failed` above `seen` counts as all.
pub fn cochran_armitage(groups: &[Scored]) -> Option<Trend> {
    let groups: Vec<Scored> = groups.iter().filter(|g| g.seen > 0).copied().collect();
    let (moment, spread, n, p) = moments(groups.iter().map(|g| (g.score, g.failed.min(g.seen) as f64, g.seen as f64)));
    let variance = p * (1.0 - p) * spread;
    if !variance.is_finite() || variance <= 0.0 || !moment.is_finite() {
        return None;
    }
    let z = moment / variance.sqrt();
    Some(Trend {
        slope: moment / spread,
        z,
        p_value: (2.0 * normal_cdf(-z.abs())).min(1.0),
        p_greater: normal_cdf(-z),
        with_n: ChiSquare::new(z * z, 1.0),
        with_n_less_one: ChiSquare::new(z * z * (n - 1.0) / n, 1.0),
        departure: departure(&groups, z * z),
    })
}

/// sum of x (s - m), sum of n (s - m)^2, N and p, of score, failed and seen.
fn moments(groups: impl Iterator<Item = (f64, f64, f64)> + Clone) -> (f64, f64, f64, f64) {
    let of = |f: &dyn Fn((f64, f64, f64)) -> f64| groups.clone().map(f).sum::<f64>();
    let n = of(&|(_, _, n)| n);
    let mean = of(&|(s, _, n)| n * s) / n;
    (of(&|(s, x, _)| x * (s - mean)), of(&|(s, _, n)| n * (s - mean).powi(2)), n, of(&|(_, x, _)| x) / n)
}

/// None with two groups or fewer.
fn departure(groups: &[Scored], trend: f64) -> Option<ChiSquare> {
    let df = groups.len().checked_sub(2).filter(|&df| df > 0)? as f64;
    let row = |g: &Scored| vec![g.failed.min(g.seen), g.seen - g.failed.min(g.seen)];
    let all = independence(&groups.iter().map(row).collect::<Vec<_>>())?.chi_square;
    Some(ChiSquare::new((all.statistic - trend).max(0.0), df))
}

/// The trend with the groups' labels dealt anew over `units`, within `strata`: `units` holds failed and seen of each
/// unit, `labels` its group, `scores` the score of each group. The statistic is z^2, so both directions count.
///
/// With units of one plant this is the permutation form of the trend test; with planted runs as units it holds its
/// size where plants of a run are alike. `name` and `seed` as in [`randomise`]. A label without a score counts as 0.
pub fn trend_redealt(
    units: &[(f64, f64)],
    labels: &[u32],
    scores: &[f64],
    strata: &Strata,
    effort: &Effort,
    (name, seed): (&str, Seed),
) -> Randomisation {
    let [result] = randomise(labels, strata, |labels| [squared_z(units, labels, scores)], effort, name, seed);
    result
}

/// z^2 of the trend over units, each with failed and seen, a label, and a score for each label; 0 where undefined.
pub fn squared_z(units: &[(f64, f64)], labels: &[u32], scores: &[f64]) -> f64 {
    let score = |label: &u32| scores.get(*label as usize).copied().unwrap_or(0.0);
    let scored = labels.iter().zip(units).map(|(label, &(failed, seen))| (score(label), failed, seen));
    let (moment, spread, _, p) = moments(scored);
    let variance = p * (1.0 - p) * spread;
    if variance > 0.0 { moment * moment / variance } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn groups(of: &[(f64, u64, u64)]) -> Vec<Scored> {
        of.iter().map(|&(score, failed, seen)| Scored { score, failed, seen }).collect()
    }

    #[test]
    fn two_groups_are_pearsons_chi_square() {
        let both = [vec![12, 388], vec![60, 340]];
        let trend = cochran_armitage(&groups(&[(1.0, 12, 400), (3.0, 60, 400)])).expect("a trend");
        let pearson = independence(&both).expect("a table").chi_square.statistic;
        assert!((trend.with_n.statistic - pearson).abs() < 1e-10 && trend.z > 0.0, "{trend:?}");
        // (60/400 - 12/400) / 2 for each unit of score.
        assert!((trend.slope - 0.06).abs() < 1e-12 && trend.departure.is_none());
    }

    #[test]
    fn scores_may_be_moved_and_stretched() {
        let z = |a: f64, b: f64| {
            let moved = [(0.0, 3, 40), (1.0, 5, 40), (4.0, 12, 50)].map(|(s, x, n)| (a + b * s, x, n));
            cochran_armitage(&groups(&moved)).map_or(0.0, |t| t.z)
        };
        assert!((z(0.0, 1.0) - z(7.0, 3.0)).abs() < 1e-10 && (z(0.0, 1.0) + z(0.0, -1.0)).abs() < 1e-10);
    }

    #[test]
    fn what_is_undefined_is_absent() {
        let none = |of: &[(f64, u64, u64)]| cochran_armitage(&groups(of)).is_none();
        assert!(none(&[]) && none(&[(1.0, 2, 5)]) && none(&[(1.0, 2, 5), (1.0, 3, 5)]));
        assert!(none(&[(1.0, 0, 5), (2.0, 0, 5)]) && none(&[(1.0, 5, 5), (2.0, 5, 5)]));
        assert!(none(&[(1.0, 2, 5), (f64::NAN, 3, 5)]) && none(&[(1.0, 2, 5), (9.0, 0, 0)]));
    }

    #[test]
    fn all_arrangements_are_counted_by_hand() {
        // Six plants, two at each of the scores 0, 1, 2, the two at 2 failed. X = 2: 15 ways to place the failures.
        // Sums of scores of the two failed: 4 in 1 way, 0 in 1 way (as far from the mean 2), so p = 2/15.
        let units = [(0.0, 1.0), (0.0, 1.0), (0.0, 1.0), (0.0, 1.0), (1.0, 1.0), (1.0, 1.0)];
        let (labels, strata) = ([0, 0, 1, 1, 2, 2], Strata::one(6));
        let name = ("trend", Seed::new(1));
        let got = trend_redealt(&units, &labels, &[0.0, 1.0, 2.0], &strata, &Effort::default(), name);
        assert!((got.p_greater - 2.0 / 15.0).abs() < 1e-12 && got.arrangements == 90, "{got:?}");
        // sum of x (s - m) = 2, p q = 2/9, sum of n (s - m)^2 = 4: z^2 = 4 / (8/9).
        assert!((got.observed - 4.5).abs() < 1e-12, "{got:?}");
    }

    #[test]
    fn the_permutation_variance_is_that_of_the_form_with_n_less_one() {
        // The mean of z^2 over all arrangements is N / (N - 1).
        let units = [(1.0, 1.0), (0.0, 1.0), (1.0, 1.0), (0.0, 1.0), (0.0, 1.0), (0.0, 1.0), (1.0, 1.0)];
        let (labels, strata) = ([0, 0, 0, 1, 1, 2, 2], Strata::one(7));
        let name = ("trend", Seed::new(1));
        let got = trend_redealt(&units, &labels, &[0.0, 1.0, 3.5], &strata, &Effort::default(), name);
        assert!((got.mean - 7.0 / 6.0).abs() < 1e-12, "{got:?}");
    }
}
