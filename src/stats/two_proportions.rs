//! Two proportions compared: difference, ratio and odds ratio, each with its interval.

use super::proportion::{Interval, wilson, z_of};
use serde::Serialize;

/// A comparison and its interval; the interval is absent where the method has none.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Comparison {
    pub estimate: f64,
    pub interval: Option<Interval>,
}

/// The three comparisons of x1 of n1 with x2 of n2; None where undefined.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct TwoProportions {
    pub difference: Option<Comparison>,
    pub risk_ratio: Option<Comparison>,
    pub odds_ratio: Option<Comparison>,
}

/// Compares `x1` of `n1` with `x2` of `n2` at `level` in (0, 1).
pub fn two_proportions(x1: u64, n1: u64, x2: u64, n2: u64, level: f64) -> TwoProportions {
    TwoProportions {
        difference: difference(x1, n1, x2, n2, level),
        risk_ratio: risk_ratio(x1, n1, x2, n2, level),
        odds_ratio: odds_ratio(x1, n1, x2, n2, level),
    }
}

/// The proportions, or None where a group is empty or holds more successes than members.
fn shares(x1: u64, n1: u64, x2: u64, n2: u64) -> Option<(f64, f64)> {
    let sound = n1 > 0 && n2 > 0 && x1 <= n1 && x2 <= n2;
    sound.then(|| (x1 as f64 / n1 as f64, x2 as f64 / n2 as f64))
}

/// p1 - p2 with the hybrid score interval of Newcombe (1998b), method 10, `newcombe-1998b`: with (l, u) the Wilson
/// interval of each, from d - sqrt((p1-l1)^2 + (u2-p2)^2) to d + sqrt((u1-p1)^2 + (p2-l2)^2). In -1..1.
/// None where a group is empty.
pub fn difference(x1: u64, n1: u64, x2: u64, n2: u64, level: f64) -> Option<Comparison> {
    let (p1, p2) = shares(x1, n1, x2, n2)?;
    let (w1, w2) = (wilson(x1, n1, level), wilson(x2, n2, level));
    let estimate = p1 - p2;
    let low = estimate - (p1 - w1.low).hypot(w2.high - p2);
    let high = estimate + (w1.high - p1).hypot(p2 - w2.low);
    Some(Comparison { estimate, interval: Some(Interval { low, high }) })
}

/// p1 / p2 with the log interval of Katz et al. (1978), `katz-1978`:
/// ln ratio +- z sqrt(1/x1 - 1/n1 + 1/x2 - 1/n2). None where a group is empty or x2 is 0; no interval where x1 is 0.
pub fn risk_ratio(x1: u64, n1: u64, x2: u64, n2: u64, level: f64) -> Option<Comparison> {
    let (p1, p2) = shares(x1, n1, x2, n2)?;
    if x2 == 0 {
        return None;
    }
    let variance = inverse(x1) - inverse(n1) + inverse(x2) - inverse(n2);
    Some(log_interval(p1 / p2, variance, x1 > 0, level))
}

/// (x1 (n2-x2)) / ((n1-x1) x2) with the logit interval of Woolf (1955), `woolf-1955`: ln ratio +- z sqrt(sum of
/// 1/cell). None where a cell is 0: the exact interval of `hypergeometric::fisher` is for these.
pub fn odds_ratio(x1: u64, n1: u64, x2: u64, n2: u64, level: f64) -> Option<Comparison> {
    shares(x1, n1, x2, n2)?;
    let cells = [x1, n1 - x1, x2, n2 - x2];
    if cells.contains(&0) {
        return None;
    }
    let [a, b, c, d] = cells.map(|n| n as f64);
    Some(log_interval((a / b) * (d / c), cells.into_iter().map(inverse).sum(), true, level))
}

fn inverse(n: u64) -> f64 {
    1.0 / n as f64
}

/// exp(ln ratio +- z sqrt(variance)), where there is one.
fn log_interval(estimate: f64, variance: f64, defined: bool, level: f64) -> Comparison {
    let factor = (z_of(level) * variance.max(0.0).sqrt()).exp();
    let interval =
        (defined && factor.is_finite()).then(|| Interval { low: estimate / factor, high: estimate * factor });
    Comparison { estimate, interval }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_undefined_is_absent() {
        assert_eq!(difference(1, 2, 0, 0, 0.9), None);
        assert_eq!(risk_ratio(1, 2, 0, 5, 0.9), None);
        assert_eq!(odds_ratio(2, 2, 1, 5, 0.9), None);
        assert_eq!(odds_ratio(3, 2, 1, 5, 0.9), None);
        assert_eq!(risk_ratio(0, 9, 3, 9, 0.9), Some(Comparison { estimate: 0.0, interval: None }));
    }

    #[test]
    fn swapping_groups_mirrors_the_answer() {
        let (here, there) = (two_proportions(3, 20, 9, 30, 0.9), two_proportions(9, 30, 3, 20, 0.9));
        let ends = |c: Option<Comparison>| c.and_then(|c| c.interval).map_or((0.0, 0.0), |i| (i.low, i.high));
        let ((a, b), (c, d)) = (ends(here.difference), ends(there.difference));
        assert!((a + d).abs() < 1e-15 && (b + c).abs() < 1e-15);
        let ((a, b), (c, d)) = (ends(here.odds_ratio), ends(there.odds_ratio));
        assert!((a * d - 1.0).abs() < 1e-14 && (b * c - 1.0).abs() < 1e-14);
        // (3/17) / (9/21) = 63/153.
        assert!((here.odds_ratio.map_or(0.0, |c| c.estimate) - 63.0 / 153.0).abs() < 1e-15);
    }
}
