//! Intervals for one binomial proportion.
//!
//! Letters: x successes of n, p = x/n, alpha = 1 - level, z the normal quantile at 1 - alpha/2. Every function
//! gives [0, 1] where n = 0 (nothing is known) or x > n (not a count of successes), and takes a level outside
//! (0, 1) as the nearest one inside. Sources beside each formula.

use super::special::{beta_cdf, beta_quantile, normal_quantile};
use serde::Serialize;

/// An interval for a proportion, ends in 0..1.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Interval {
    pub low: f64,
    pub high: f64,
}

const NOTHING_KNOWN: Interval = Interval { low: 0.0, high: 1.0 };

/// Half of 1 - level, kept inside (0, 1/2).
pub(super) fn tail(level: f64) -> f64 {
    let tail = 0.5 * (1.0 - level);
    if tail.is_nan() { 0.025 } else { tail.clamp(1e-15, 0.5) }
}

/// The normal quantile that leaves `tail(level)` above it.
pub(super) fn z_of(level: f64) -> f64 {
    -normal_quantile(tail(level))
}

/// Exact interval of Clopper & Pearson (1934) for `x` of `n` at `level` in (0, 1): the quantile of Beta(x, n-x+1)
/// at alpha/2 and of Beta(x+1, n-x) at 1 - alpha/2. Never covers less than the level; wide.
pub fn clopper_pearson(x: u64, n: u64, level: f64) -> Interval {
    if n == 0 || x > n {
        return NOTHING_KNOWN;
    }
    let (tail, s, f) = (tail(level), x as f64, (n - x) as f64);
    // The upper end is one less the lower end of the failures: the small quantile keeps its digits.
    let low = |a: f64, b: f64| if a == 0.0 { 0.0 } else { beta_quantile(tail, a, b + 1.0) };
    Interval { low: low(s, f), high: 1.0 - low(f, s) }
}

/// Score interval of Wilson (1927): the p with |x/n - p| <= z sqrt(p (1-p) / n).
pub fn wilson(x: u64, n: u64, level: f64) -> Interval {
    if n == 0 || x > n {
        return NOTHING_KNOWN;
    }
    let (s, n, z) = (x as f64, n as f64, z_of(level));
    let (p, z2) = (s / n, z * z);
    let half = z * (z2 + 4.0 * s * (1.0 - p)).sqrt();
    let ends = |sign: f64| (2.0 * s + z2 + sign * half) / (2.0 * (n + z2));
    Interval {
        low: if s == 0.0 { 0.0 } else { ends(-1.0).max(0.0) },
        high: if s == n { 1.0 } else { ends(1.0).min(1.0) },
    }
}

/// Score interval with continuity correction (Newcombe 1998a, method 4): the p with
/// |x/n - p| <= z sqrt(p (1-p) / n) + 1/(2n). Closed form of Fleiss (1981), its ends 0 at x = 0 and 1 at x = n.
///
/// The correction is dropped where x = n/2, as the reference library does (it is min(1/2, |x - n/2|)).
pub fn wilson_continuity(x: u64, n: u64, level: f64) -> Interval {
    if n == 0 || x > n {
        return NOTHING_KNOWN;
    }
    let (s, n, z) = (x as f64, n as f64, z_of(level));
    let correction = 0.5f64.min((s - 0.5 * n).abs());
    let low = |s: f64| if s == 0.0 { 0.0 } else { score_low(s - correction, n, z) };
    Interval { low: low(s), high: 1.0 - low(n - s) }
}

/// Lower end of the score interval for a count `s` that need not be whole.
fn score_low(s: f64, n: f64, z: f64) -> f64 {
    let (s, z2) = (s.max(0.0), z * z);
    let half = z * (z2 + 4.0 * s * (1.0 - s / n)).sqrt();
    ((2.0 * s + z2 - half) / (2.0 * (n + z2))).max(0.0)
}

/// What [`jeffreys`] does where x is 0 or n.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Ends {
    /// Both tails alpha/2 everywhere.
    EqualTailed,
    /// Low end 0 at x = 0 and high end 1 at x = n, the other end unchanged (Brown, Cai & DasGupta 2001, 3.1.2 (c)).
    #[default]
    Whole,
}

/// Bayesian interval under Jeffreys' prior: quantiles of Beta(x + 1/2, n - x + 1/2)
/// (Brown, Cai & DasGupta 2001, eq. 8).
pub fn jeffreys(x: u64, n: u64, level: f64, ends: Ends) -> Interval {
    if n == 0 || x > n {
        return NOTHING_KNOWN;
    }
    let (tail, s, f) = (tail(level), x as f64, (n - x) as f64);
    let low = |s: f64, f: f64| match ends {
        Ends::Whole if s == 0.0 => 0.0,
        _ => beta_quantile(tail, s + 0.5, f + 0.5),
    };
    Interval { low: low(s, f), high: 1.0 - low(f, s) }
}

/// Adjusted Wald interval of Agresti & Coull (1998): Wald's about (x + z^2/2) of (n + z^2). Its ends may lie
/// outside 0..1 and are given as they come: [`Interval::clipped`] cuts them.
pub fn agresti_coull(x: u64, n: u64, level: f64) -> Interval {
    if n == 0 || x > n {
        return NOTHING_KNOWN;
    }
    let z = z_of(level);
    let size = n as f64 + z * z;
    let p = (x as f64 + 0.5 * z * z) / size;
    let half = z * (p * (1.0 - p) / size).sqrt();
    Interval { low: p - half, high: p + half }
}

impl Interval {
    /// The part inside 0..1.
    pub fn clipped(self) -> Interval {
        Interval { low: self.low.clamp(0.0, 1.0), high: self.high.clamp(0.0, 1.0) }
    }
}

/// Exact interval by the mid-p rule: the p at which P(X > x) + P(X = x)/2 is alpha/2, and its mirror image
/// (Lancaster 1961; Newcombe 1998a, method 6). Covers the level on average, not always.
pub fn mid_p(x: u64, n: u64, level: f64) -> Interval {
    if n == 0 || x > n {
        return NOTHING_KNOWN;
    }
    let tail = tail(level);
    Interval { low: mid_p_low(x, n, tail), high: 1.0 - mid_p_low(n - x, n, tail) }
}

/// The p at which P(X > x) + P(X = x)/2 = (P(X >= x) + P(X > x))/2 reaches `tail`: by bisection, since it only rises.
fn mid_p_low(x: u64, n: u64, tail: f64) -> f64 {
    if x == 0 {
        return 0.0;
    }
    let (s, f) = (x as f64, (n - x) as f64);
    let at_least = |p: f64| beta_cdf(p, s, f + 1.0);
    let above = |p: f64| if f == 0.0 { 0.0 } else { beta_cdf(p, s + 1.0, f) };
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..200 {
        let middle = 0.5 * (low + high);
        if middle <= low || middle >= high {
            break;
        }
        if 0.5 * (at_least(middle) + above(middle)) < tail { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn all(x: u64, n: u64) -> [Interval; 7] {
        [
            clopper_pearson(x, n, 0.9),
            wilson(x, n, 0.9),
            wilson_continuity(x, n, 0.9),
            jeffreys(x, n, 0.9, Ends::EqualTailed),
            jeffreys(x, n, 0.9, Ends::Whole),
            agresti_coull(x, n, 0.9),
            mid_p(x, n, 0.9),
        ]
    }

    #[test]
    fn nothing_seen_is_nothing_known() {
        assert_eq!(all(0, 0), [NOTHING_KNOWN; 7]);
        assert_eq!(all(3, 2), [NOTHING_KNOWN; 7]);
    }

    #[test]
    fn failures_mirror_successes() {
        for (x, n) in [(1, 9), (4, 9), (60, 4_000), (8, 9)] {
            for (here, there) in all(x, n).into_iter().zip(all(n - x, n)) {
                assert!((here.low - (1.0 - there.high)).abs() < 1e-9, "{x}/{n} {here:?} {there:?}");
                assert!(here.low <= x as f64 / n as f64 && x as f64 / n as f64 <= here.high, "{x}/{n} {here:?}");
            }
        }
    }

    #[test]
    fn closed_forms_by_hand() {
        // 0 of n: (1-p)^n = alpha/2. Both by hand for n = 1 at 90 %: 0.95; mid-p: (1-p)/2 = 0.05.
        assert!((clopper_pearson(0, 1, 0.9).high - 0.95).abs() < 1e-12);
        assert!((mid_p(0, 1, 0.9).high - 0.9).abs() < 1e-12);
        // x = n/2 = 1/2 of 1 by Wilson has the middle 1/2.
        let w = wilson(5, 10, 0.9);
        assert!((w.low + w.high - 1.0).abs() < 1e-15);
    }
}
