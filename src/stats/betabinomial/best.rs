//! Which group has the greatest rate.

use super::fit::Count;
use super::mixture::{BetaRate, Mixture};
use super::posterior::{Pooled, trigamma};
use crate::stats::special::beta_cdf;
use std::collections::BTreeMap;

/// Parts of the posterior of (mean, theta) times groups: with many groups the posterior is narrow, and its neighbours
/// are merged.
const WORK: usize = 3_000;
const LEAST_PARTS: usize = 24;

/// Per group, the probability that its rate is the greatest of all; they sum to 1.
///
/// Given (mean, theta) the groups are independent, so it is the integral of one group's density times the others'
/// distribution functions, averaged over the posterior. By quadrature on the logit scale in steps of a fifth of the
/// narrowest group's standard deviation nearby. Groups of equal counts are worked out once.
pub fn probability_greatest(pooled: &Pooled) -> Vec<f64> {
    let Kinds { of_group, first, times } = Kinds::of(&pooled.counts);
    let grid = Grid::over(first.iter().filter_map(|&group| pooled.levels.get(group)));
    let mut sums = vec![0.0; first.len()];
    let parts = (WORK / pooled.counts.len().max(1)).max(LEAST_PARTS);
    for part in pooled.new_level.merged(parts).parts() {
        let rates: Vec<BetaRate> = first.iter().map(|&group| part.rate.updated(pooled.counts[group])).collect();
        sums.iter_mut().zip(grid.greatest(&rates, &times)).for_each(|(sum, p)| *sum += part.weight * p);
    }
    let total: f64 = sums.iter().zip(&times).map(|(sum, times)| sum * times).sum();
    of_group.iter().map(|&kind| if total > 0.0 { sums[kind] / total } else { 0.0 }).collect()
}

/// Groups by their counts.
struct Kinds {
    /// Kind of each group.
    of_group: Vec<usize>,
    /// First group of each kind.
    first: Vec<usize>,
    /// Groups of each kind.
    times: Vec<f64>,
}

impl Kinds {
    fn of(counts: &[Count]) -> Self {
        let mut known = BTreeMap::new();
        let mut kinds = Kinds { of_group: Vec::new(), first: Vec::new(), times: Vec::new() };
        for (group, count) in counts.iter().enumerate() {
            let kind = *known.entry((count.n, count.x)).or_insert(kinds.first.len());
            if kind == kinds.first.len() {
                kinds.first.push(group);
                kinds.times.push(0.0);
            }
            kinds.times[kind] += 1.0;
            kinds.of_group.push(kind);
        }
        kinds
    }
}

/// Points on the logit scale where the greatest rate can lie, with ln x and ln(1 - x) there.
struct Grid {
    points: Vec<Point>,
}

struct Point {
    y: f64,
    ln_x: f64,
    ln_rest: f64,
}

impl Point {
    fn at(y: f64) -> Self {
        Point { y, ln_x: -(-y).exp().ln_1p(), ln_rest: -y.exp().ln_1p() }
    }
}

/// Standard deviations beyond which a group is taken not to reach.
const REACH: f64 = 7.0;
const MOST_POINTS: usize = 4_000;

impl Grid {
    fn over<'a>(levels: impl Iterator<Item = &'a Mixture>) -> Self {
        let widths: Vec<(f64, f64)> = levels.map(width).collect();
        let greatest = |sign: f64| widths.iter().map(|(c, sd)| c + sign * REACH * sd).fold(f64::NEG_INFINITY, f64::max);
        let (from, to) = (greatest(-1.0).max(-60.0), greatest(1.0).min(60.0));
        let step = |y: f64| 0.2 * widths.iter().map(|(c, sd)| sd.max(0.2 * (y - c).abs())).fold(1.0, f64::min);
        let least = (to - from) / MOST_POINTS as f64;
        let mut points = vec![Point::at(from)];
        let mut y = from;
        while y < to && points.len() <= MOST_POINTS {
            y += step(y).max(least);
            points.push(Point::at(y));
        }
        Grid { points }
    }

    /// Probability of one of each rate's `times` groups to have the greatest, all of them independent.
    fn greatest(&self, rates: &[BetaRate], times: &[f64]) -> Vec<f64> {
        if rates.iter().all(|r| r.theta == 0.0) {
            return vec![1.0 / times.iter().sum::<f64>().max(1.0); rates.len()];
        }
        let reached: Vec<Vec<f64>> = rates.iter().map(|r| self.distribution(r)).collect();
        let mut sums = vec![0.0; rates.len()];
        for k in 1..self.points.len() {
            let middle: Vec<f64> = reached.iter().map(|f| (0.5 * (f[k - 1] + f[k])).ln()).collect();
            let all: f64 = middle.iter().zip(times).map(|(m, times)| m * times).sum();
            for (j, f) in reached.iter().enumerate() {
                let gained = f[k] - f[k - 1];
                if gained > 0.0 {
                    sums[j] += gained * (all - middle[j]).exp();
                }
            }
        }
        sums
    }

    /// The distribution function at the points: what lies below the first, then the density by trapezoids, scaled to
    /// end at 1.
    fn distribution(&self, rate: &BetaRate) -> Vec<f64> {
        let (a, b) = (rate.mean / rate.theta, (1.0 - rate.mean) / rate.theta);
        let heights: Vec<f64> = self.points.iter().map(|p| a * p.ln_x + b * p.ln_rest).collect();
        let top = heights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let density: Vec<f64> = heights.iter().map(|h| (h - top).exp()).collect();
        let below = self.points.first().map_or(0.0, |p| beta_cdf(p.ln_x.exp(), a, b));
        let mut area = 0.0;
        let mut areas = vec![0.0];
        for (k, pair) in self.points.windows(2).enumerate() {
            area += 0.5 * (density[k] + density[k + 1]) * (pair[1].y - pair[0].y);
            areas.push(area);
        }
        areas.iter().map(|part| below + (1.0 - below) * part / area.max(f64::MIN_POSITIVE)).collect()
    }
}

/// Middle and standard deviation on the logit scale of the beta of the same mean and variance.
fn width(level: &Mixture) -> (f64, f64) {
    let alike = BetaRate::of_moments(level.mean(), level.variance());
    let (a, b) = (alike.mean / alike.theta, (1.0 - alike.mean) / alike.theta);
    let sd = (trigamma(a) + trigamma(b)).sqrt();
    let middle = (a / b).ln();
    if middle.is_finite() && sd.is_finite() && sd > 0.0 { (middle, sd) } else { (0.0, 1.0) }
}
