//! Pooling: what the groups together say about each group, about their spread, and about a group not yet seen.

use super::fit::{Count, logistic};
use super::ln_rising;
use super::mixture::{Mixture, Part};
use crate::base::Quantity;
use crate::stats::special::normal_quantile;
use std::collections::BTreeMap;

/// What is held plausible before the counts are seen: the mean rate over groups, and rho, the correlation within
/// groups. Both split-normal on the logit scale ([`Quantity`] as a rate), independent of each other. A quantity whose
/// three points agree is taken as known.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Prior {
    pub mean: Quantity,
    pub spread: Quantity,
}

/// Posterior rates. The parts of every mixture stand for the same values of (mean, theta), in the same order and
/// with the same weights.
#[derive(Clone, Debug, PartialEq)]
pub struct Pooled {
    /// The counts that were pooled.
    pub counts: Vec<Count>,
    /// Per group, in the order of the counts.
    pub levels: Vec<Mixture>,
    /// A group not yet seen: its parts are the posterior of (mean, theta) itself.
    pub new_level: Mixture,
}

/// Posterior of the groups' rates under beta-binomial sampling, integrated over (mean, rho).
///
/// Deterministic: trapezoids in the prior's own normal coordinates, which converge at exponential speed for smooth
/// peaks; the steps follow the posterior's width. Nodes of less than a millionth of the greatest weight are dropped.
/// Counts with x > n are taken as x = n. Model: Skellam (1948), `skellam-1948`; pooling by it: Gelman et al. (2013),
/// `gelman-2013`, section 5.3 (their prior differs).
pub fn pool(counts: &[Count], prior: &Prior) -> Pooled {
    let counts: Vec<Count> = counts.iter().map(|c| Count { x: c.x.min(c.n), n: c.n }).collect();
    let new_level = Search::new(&counts, prior).posterior();
    let level = |count: &Count| {
        let update = |p: &Part| Part { weight: p.weight, rate: p.rate.updated(*count) };
        Mixture::new(new_level.parts().iter().map(update).collect()).unwrap_or_else(|| new_level.clone())
    };
    Pooled { levels: counts.iter().map(level).collect(), counts, new_level }
}

impl Pooled {
    /// Posterior median of the standard deviation of the groups' rates on the logit scale,
    /// sqrt(trigamma(a) + trigamma(b)): the variance of the logit of a beta variable (Johnson, Kotz & Balakrishnan
    /// 1995, vol. 2, chapter 25; from memory). The median, since the mean hangs on the far tail.
    pub fn logit_sd(&self) -> f64 {
        let sd = |p: &Part| {
            let (a, b) = (p.rate.mean / p.rate.theta, (1.0 - p.rate.mean) / p.rate.theta);
            (trigamma(a) + trigamma(b)).sqrt()
        };
        let mut sds: Vec<(f64, f64)> = self.new_level.parts().iter().map(|p| (sd(p), p.weight)).collect();
        sds.sort_by(|a, b| a.0.total_cmp(&b.0));
        weighted_median(&sds)
    }
}

/// Straight-line interpolation of the cumulative weight, each value in the middle of its own.
fn weighted_median(sorted: &[(f64, f64)]) -> f64 {
    let mut before = (0.0, sorted.first().map_or(0.0, |s| s.0));
    let mut weight = 0.0;
    for &(value, w) in sorted {
        let here = weight + 0.5 * w;
        if here >= 0.5 {
            let share = if here > before.0 { (0.5 - before.0) / (here - before.0) } else { 1.0 };
            return before.1 + share * (value - before.1);
        }
        before = (here, value);
        weight += w;
    }
    before.1
}

/// Second derivative of ln Gamma, x > 0: recurrence to 12, then its series (Abramowitz & Stegun 6.4.6, 6.4.12; from
/// memory). 0 at infinity.
pub(super) fn trigamma(x: f64) -> f64 {
    let (mut sum, mut z) = (0.0, x);
    while z < 12.0 {
        sum += 1.0 / (z * z);
        z += 1.0;
    }
    let s = 1.0 / (z * z);
    sum + (1.0 + 0.5 / z + s * (1.0 / 6.0 - s * (1.0 / 30.0 - s * (1.0 / 42.0 - s / 30.0)))) / z
}

/// A rate as a function of a standard normal coordinate.
#[derive(Clone, Copy)]
struct Axis {
    middle: f64,
    left: f64,
    right: f64,
}

impl Axis {
    fn new(quantity: &Quantity) -> Self {
        let logit = |p: f64| {
            let p = if p.is_finite() { p.clamp(1e-9, 1.0 - 1e-9) } else { 0.5 };
            (p / (1.0 - p)).ln()
        };
        let z90 = normal_quantile(0.9);
        let middle = logit(quantity.p50);
        let left = ((middle - logit(quantity.p10)) / z90).max(0.0);
        let right = ((logit(quantity.p90) - middle) / z90).max(0.0);
        Axis { middle, left, right }
    }

    fn sd(&self, z: f64) -> f64 {
        if z < 0.0 { self.left } else { self.right }
    }

    fn value(&self, z: f64) -> f64 {
        logistic(self.middle + z * self.sd(z))
    }

    fn is_certain(&self) -> bool {
        self.left <= 0.0 && self.right <= 0.0
    }

    /// The coordinate of a rate, where the axis reaches it within 8.
    fn coordinate(&self, rate: f64) -> f64 {
        let away = (rate / (1.0 - rate)).ln() - self.middle;
        let sd = self.sd(away);
        if sd > 0.0 { (away / sd).clamp(-8.0, 8.0) } else { 0.0 }
    }
}

/// A node of the quadrature: ln of likelihood x prior x the step it stands for.
#[derive(Clone, Copy)]
struct Node {
    ln_weight: f64,
    mean: f64,
    theta: f64,
}

/// How far below the top, in natural logarithms, the quadrature goes.
const DEPTH: f64 = 13.0;

struct Search {
    /// Distinct counts and how many groups have them.
    counts: Vec<(Count, f64)>,
    mean: Axis,
    spread: Axis,
}

impl Search {
    fn new(counts: &[Count], prior: &Prior) -> Self {
        let mut distinct = BTreeMap::<(u64, u64), f64>::new();
        counts.iter().filter(|c| c.n > 0).for_each(|c| *distinct.entry((c.n, c.x)).or_default() += 1.0);
        let counts = distinct.into_iter().map(|((n, x), times)| (Count { x, n }, times)).collect();
        Search { counts, mean: Axis::new(&prior.mean), spread: Axis::new(&prior.spread) }
    }

    fn posterior(&self) -> Mixture {
        let nodes = self.nodes();
        let top = nodes.iter().map(|n| n.ln_weight).fold(f64::NEG_INFINITY, f64::max);
        let part = |n: &Node| Part { weight: (n.ln_weight - top).exp(), rate: super::BetaRate::new(n.mean, n.theta) };
        let parts = nodes.iter().map(part).filter(|p| p.weight > 1e-6).collect();
        let guess = super::BetaRate::new(self.mean.value(0.0), theta_of(self.spread.value(0.0)));
        Mixture::new(parts).unwrap_or_else(|| Mixture::of(guess))
    }

    /// Slices of one rho each: a coarse scan first, then as fine as the posterior is narrow.
    fn nodes(&self) -> Vec<Node> {
        if self.spread.is_certain() {
            return self.slice(0.0, 1.0);
        }
        const COARSE: f64 = 0.5;
        let scan: Vec<Vec<Node>> = (-12..=12).map(|i| self.slice(COARSE * f64::from(i), COARSE)).collect();
        let mass: Vec<f64> = scan.iter().map(|slice| ln_sum(slice)).collect();
        let top = mass.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let wanted = |m: &f64| *m > top - DEPTH;
        let first = mass.iter().position(wanted).unwrap_or(0).saturating_sub(1);
        let last = (mass.iter().rposition(wanted).unwrap_or(0) + 1).min(scan.len() - 1);
        let finer = (20.0 / (last - first).max(1) as f64).ceil();
        if finer <= 1.0 {
            return scan.into_iter().flatten().collect();
        }
        let step = COARSE / finer;
        let node = |i: i32| self.slice(step * f64::from(i), step);
        let at = |i: usize| (i as i32 - 12) * finer as i32;
        (at(first)..=at(last)).flat_map(node).collect()
    }

    /// The nodes along the mean for one coordinate of rho.
    fn slice(&self, z_spread: f64, step_spread: f64) -> Vec<Node> {
        let theta = theta_of(self.spread.value(z_spread));
        let height = |z: f64| self.ln_likelihood(self.mean.value(z), theta) - 0.5 * (z * z + z_spread * z_spread);
        let node = |z: f64, ln_weight: f64| Node { ln_weight, mean: self.mean.value(z), theta };
        if self.mean.is_certain() {
            return vec![node(0.0, height(0.0) + step_spread.ln())];
        }
        let (mode, width) = self.peak(&height, theta);
        let step = 0.8 * width;
        let ln_step = (step * step_spread).ln();
        walk(&height, mode, step).into_iter().map(|(z, h)| node(z, h + ln_step)).collect()
    }

    fn ln_likelihood(&self, mean: f64, theta: f64) -> f64 {
        let of = |(c, times): &(Count, f64)| {
            times * (ln_rising(mean, theta, c.x) + ln_rising(1.0 - mean, theta, c.n - c.x) - ln_rising(1.0, theta, c.n))
        };
        self.counts.iter().map(of).sum()
    }

    /// Mode and standard deviation along the mean's coordinate, by Newton steps on differences.
    fn peak(&self, height: &impl Fn(f64) -> f64, theta: f64) -> (f64, f64) {
        let mut z = self.mean.coordinate(self.pooled_rate());
        let mut width = self.expected_width(z, theta);
        let mut here = height(z);
        for _ in 0..25 {
            let h = 0.3 * width;
            let (below, above) = (height(z - h), height(z + h));
            let (slope, bend) = ((above - below) / (2.0 * h), (2.0 * here - above - below) / (h * h));
            if bend > 0.0 {
                width = (1.0 / bend.sqrt()).clamp(0.2 * width, 3.0 * width).min(1.5);
            }
            let mut step = (slope * width * width).clamp(-4.0 * width, 4.0 * width);
            let mut there = height(z + step);
            while there < here && step.abs() > 0.05 * width {
                step *= 0.5;
                there = height(z + step);
            }
            if there >= here {
                (z, here) = (z + step, there);
            }
            if step.abs() < 0.1 * width {
                break;
            }
        }
        (z, width)
    }

    /// Laplace's rule of succession on all counts: inside (0, 1) whatever the counts.
    fn pooled_rate(&self) -> f64 {
        let sum = |f: fn(&Count) -> u64| self.counts.iter().map(|(c, times)| times * f(c) as f64).sum::<f64>();
        (sum(|c| c.x) + 1.0) / (sum(|c| c.n) + 2.0)
    }

    /// From the information of the mean, n m q / (1 + (n - 1) rho) per group, and the prior's 1.
    fn expected_width(&self, z: f64, theta: f64) -> f64 {
        let m = self.mean.value(z);
        let rho = theta / (1.0 + theta);
        let of = |(c, times): &(Count, f64)| times * c.n as f64 / (1.0 + (c.n as f64 - 1.0) * rho);
        let information: f64 = self.counts.iter().map(of).sum::<f64>() * m * (1.0 - m);
        1.0 / (1.0 + information * self.mean.sd(z).powi(2)).sqrt()
    }
}

fn theta_of(rho: f64) -> f64 {
    rho / (1.0 - rho).max(1e-9)
}

/// Equidistant points both ways from the mode, until [`DEPTH`] below it.
fn walk(height: &impl Fn(f64) -> f64, mode: f64, step: f64) -> Vec<(f64, f64)> {
    let top = height(mode);
    let along = |direction: f64| {
        (1..=200)
            .map(move |i| mode + direction * step * f64::from(i))
            .map(|z| (z, height(z)))
            .take_while(move |(_, h)| *h > top - DEPTH)
    };
    let mut points: Vec<(f64, f64)> = along(-1.0).collect();
    points.reverse();
    points.push((mode, top));
    points.extend(along(1.0));
    points
}

fn ln_sum(nodes: &[Node]) -> f64 {
    let top = nodes.iter().map(|n| n.ln_weight).fold(f64::NEG_INFINITY, f64::max);
    if top.is_finite() { top + nodes.iter().map(|n| (n.ln_weight - top).exp()).sum::<f64>().ln() } else { top }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn trigamma_meets_its_closed_forms() {
        let sixth = std::f64::consts::PI.powi(2) / 6.0; // trigamma(1) = pi^2/6, trigamma(1/2) = pi^2/2
        assert!((trigamma(1.0) - sixth).abs() < 1e-13);
        assert!((trigamma(0.5) - 3.0 * sixth).abs() < 1e-12);
        assert_eq!(trigamma(f64::INFINITY), 0.0);
    }

    #[test]
    fn medians_of_weighted_values() {
        assert_eq!(weighted_median(&[(3.0, 1.0)]), 3.0);
        assert!((weighted_median(&[(1.0, 0.5), (2.0, 0.5)]) - 1.5).abs() < 1e-12);
        assert_eq!(weighted_median(&[]), 0.0);
    }
}
