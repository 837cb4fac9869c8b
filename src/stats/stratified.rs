//! One comparison of two groups across strata (rows, batches, stands).
//!
//! Letters, for each stratum: `[[a, b], [c, d]]` with the groups as rows and the outcomes as columns, r1 = a + b,
//! r2 = c + d, c1 = a + c, c2 = b + d, n the sum. A stratum with an empty margin says nothing of the odds ratio.

use super::contingency::ChiSquare;
use super::hypergeometric::{Conditional, ConditionalTest, FourFold, Hypergeometric};
use super::proportion::{Interval, z_of};
use serde::Serialize;

/// The common odds ratio of Mantel & Haenszel and the tests beside it; None where undefined.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct MantelHaenszel {
    /// sum(a d / n) / sum(b c / n).
    pub odds_ratio: Option<f64>,
    /// exp(ln odds ratio +- z s), s by Robins, Breslow & Greenland (1986).
    pub odds_ratio_interval: Option<Interval>,
    /// sum(a r2 / n) / sum(c r1 / n): risk of the first outcome in the first group over that in the second. Strata in
    /// which all have the same outcome count here.
    pub risk_ratio: Option<f64>,
    /// (sum of a - E)^2 / sum of V, with E = r1 c1 / n and V = r1 r2 c1 c2 / (n^2 (n-1)).
    pub test: Option<ChiSquare>,
    /// The same with |sum of a - E| less 1/2 wherever it is at least 1/2; some libraries always subtract.
    pub corrected_test: Option<ChiSquare>,
    /// Strata that say something of the odds ratio.
    pub informative: usize,
}

/// Mantel & Haenszel (1959, `mantel-haenszel-1959`) at `level` in (0, 1), with the interval of Robins, Breslow &
/// Greenland (1986, `robins-1986`).
pub fn mantel_haenszel(strata: &[FourFold], level: f64) -> MantelHaenszel {
    let cells: Vec<Cells> = strata.iter().map(Cells::of).filter(|s| s.n > 0.0).collect();
    let odds_ratio = common_odds_ratio(&cells);
    let apart: f64 = cells.iter().map(|s| s.a - s.expected()).sum();
    let variance: f64 = cells.iter().map(Cells::variance).sum();
    let correction = if apart.abs() >= 0.5 { 0.5 } else { 0.0 };
    let test = |apart: f64| (variance > 0.0).then(|| ChiSquare::new(apart * apart / variance, 1.0));
    MantelHaenszel {
        odds_ratio,
        odds_ratio_interval: odds_ratio.and_then(|or| robins_interval(&cells, or, level)),
        risk_ratio: ratio(sum(&cells, |s| s.a * s.r2 / s.n), sum(&cells, |s| s.c * s.r1 / s.n)),
        test: test(apart),
        corrected_test: test(apart.abs() - correction),
        informative: cells.iter().filter(|s| s.informative()).count(),
    }
}

/// One stratum as numbers.
struct Cells {
    a: f64,
    b: f64,
    c: f64,
    d: f64,
    r1: f64,
    r2: f64,
    c1: f64,
    c2: f64,
    n: f64,
}

impl Cells {
    fn of(table: &FourFold) -> Self {
        let [[a, b], [c, d]] = table.map(|row| row.map(|n| n as f64));
        Cells { a, b, c, d, r1: a + b, r2: c + d, c1: a + c, c2: b + d, n: a + b + c + d }
    }

    fn informative(&self) -> bool {
        [self.r1, self.r2, self.c1, self.c2].iter().all(|&margin| margin > 0.0)
    }

    fn expected(&self) -> f64 {
        self.r1 * self.c1 / self.n
    }

    /// Hypergeometric variance of a.
    fn variance(&self) -> f64 {
        if self.n > 1.0 { (self.r1 * self.c1 / self.n) * (self.r2 * self.c2 / self.n) / (self.n - 1.0) } else { 0.0 }
    }

    /// a with this odds ratio and these margins: the root of
    /// (1 - psi) a^2 + (r2 - c1 + psi (r1 + c1)) a - psi r1 c1 = 0 that leaves no cell negative.
    fn fitted(&self, psi: f64) -> f64 {
        let (second, first, last) = (1.0 - psi, self.r2 - self.c1 + psi * (self.r1 + self.c1), psi * self.r1 * self.c1);
        let root = (first * first + 4.0 * second * last).max(0.0).sqrt();
        if first >= 0.0 { 2.0 * last / (first + root) } else { (root - first) / (2.0 * second) }
    }

    /// Asymptotic variance of a whose fitted value is `a`: 1 / (sum of 1 / fitted cell).
    fn fitted_variance(&self, a: f64) -> f64 {
        1.0 / [a, self.r1 - a, self.c1 - a, self.r2 - self.c1 + a].iter().map(|cell| 1.0 / cell).sum::<f64>()
    }
}

fn sum(strata: &[Cells], f: impl Fn(&Cells) -> f64) -> f64 {
    strata.iter().map(f).sum()
}

fn ratio(over: f64, under: f64) -> Option<f64> {
    (under > 0.0).then(|| over / under)
}

fn common_odds_ratio(strata: &[Cells]) -> Option<f64> {
    ratio(sum(strata, |s| s.a * s.d / s.n), sum(strata, |s| s.b * s.c / s.n))
}

/// Robins, Breslow & Greenland (1986), eq. 3: with P = (a+d)/n, Q = (b+c)/n, R = a d / n, S = b c / n,
/// s^2 = sum(P R) / (2 R+^2) + sum(P S + Q R) / (2 R+ S+) + sum(Q S) / (2 S+^2). None where the odds ratio is 0.
fn robins_interval(strata: &[Cells], odds_ratio: f64, level: f64) -> Option<Interval> {
    let (p, q) = (|s: &Cells| (s.a + s.d) / s.n, |s: &Cells| (s.b + s.c) / s.n);
    let (r, s) = (|s: &Cells| s.a * s.d / s.n, |s: &Cells| s.b * s.c / s.n);
    let (r_sum, s_sum) = (sum(strata, r), sum(strata, s));
    if r_sum <= 0.0 || s_sum <= 0.0 {
        return None;
    }
    let first = sum(strata, |t| p(t) * r(t)) / (2.0 * r_sum * r_sum);
    let mixed = sum(strata, |t| p(t) * s(t) + q(t) * r(t)) / (2.0 * r_sum * s_sum);
    let last = sum(strata, |t| q(t) * s(t)) / (2.0 * s_sum * s_sum);
    let factor = (z_of(level) * (first + mixed + last).sqrt()).exp();
    factor.is_finite().then(|| Interval { low: odds_ratio / factor, high: odds_ratio * factor })
}

/// Most products in the convolution of the strata's distributions.
const LARGEST_CONVOLUTION: f64 = 4e8;

/// The exact conditional test that the common odds ratio is 1, with its estimate and exact interval: the sum of the
/// strata's a, given all margins, has the convolution of their hypergeometric distributions
/// (Mehta, Patel & Gray 1985, `mehta-patel-gray-1985`).
///
/// None where the convolution would take more than 4e8 products (strata of several ten thousand plants each): the
/// asymptotic answer of [`mantel_haenszel`] is good there.
pub fn exact_conditional(strata: &[FourFold], level: f64) -> Option<ConditionalTest> {
    let urns: Vec<Hypergeometric> = strata.iter().map(urn).collect();
    let widths = urns.iter().map(|u| (u.largest() - u.smallest() + 1) as f64);
    let (products, _) =
        widths.fold((0.0, 1.0), |(products, so_far), width| (products + so_far * width, so_far + width));
    if products > LARGEST_CONVOLUTION {
        return None;
    }
    let seen = strata.iter().map(|[[a, _], _]| a).sum();
    let near = convolution(&urns, rough_ln_odds_ratio(strata));
    Some(convolution(&urns, 0.0).test(&near, seen, level))
}

fn urn(table: &FourFold) -> Hypergeometric {
    let [[a, b], [c, d]] = *table;
    Hypergeometric::new(a + b + c + d, a + c, a + b)
}

/// A finite guess at the common ln odds ratio, every cell raised by a half.
fn rough_ln_odds_ratio(strata: &[FourFold]) -> f64 {
    let raised = |s: &Cells| (s.a + 0.5, s.b + 0.5, s.c + 0.5, s.d + 0.5, s.n + 2.0);
    let cells: Vec<Cells> = strata.iter().map(Cells::of).filter(Cells::informative).collect();
    let over = sum(&cells, |s| raised(s).0 * raised(s).3 / raised(s).4);
    let under = sum(&cells, |s| raised(s).1 * raised(s).2 / raised(s).4);
    if over > 0.0 && under > 0.0 { (over / under).ln() } else { 0.0 }
}

/// The distribution of the sum. The strata are taken at odds ratio exp(`tilt`), so that what is near there does not
/// underflow, and the weights are given back at 1.
fn convolution(urns: &[Hypergeometric], tilt: f64) -> Conditional {
    let (mut lowest, mut ln_scale, mut weights) = (0, 0.0, vec![1.0]);
    for urn in urns {
        let one = Conditional::of_urn(urn);
        let tilted: Vec<f64> = one.ln_weights.iter().enumerate().map(|(k, w)| w + k as f64 * tilt).collect();
        let most = tilted.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let scaled: Vec<f64> = tilted.iter().map(|w| (w - most).exp()).collect();
        weights = convolve(&weights, &scaled);
        let top = weights.iter().copied().fold(0.0, f64::max);
        weights.iter_mut().for_each(|w| *w /= top);
        lowest += one.lowest;
        ln_scale += most + top.ln();
    }
    let untilted = |(k, w): (usize, &f64)| w.ln() + ln_scale - k as f64 * tilt;
    Conditional { lowest, ln_weights: weights.iter().enumerate().map(untilted).collect() }
}

fn convolve(a: &[f64], b: &[f64]) -> Vec<f64> {
    let mut sums = vec![0.0; (a.len() + b.len()).saturating_sub(1)];
    for (i, x) in a.iter().enumerate() {
        sums[i..].iter_mut().zip(b).for_each(|(sum, y)| *sum += x * y);
    }
    sums
}

/// Breslow & Day's test that the odds ratio is the same in every stratum, and Tarone's correction of it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Homogeneity {
    /// sum of (a - A)^2 / V.
    pub breslow_day: ChiSquare,
    /// The same less (sum of a - A)^2 / sum of V.
    pub tarone: ChiSquare,
    /// A: a under the common odds ratio, for every stratum given; 0 where the stratum is uninformative and c1 is 0.
    pub fitted: Vec<f64>,
    /// V, 0 where the stratum is uninformative.
    pub variances: Vec<f64>,
}

/// Breslow & Day (1980, eq. 4.32, `breslow-day-1980`) at the Mantel-Haenszel odds ratio; Tarone (1985, `tarone-1985`).
/// Uninformative strata take no degree of freedom. None with fewer than two informative strata, or where the common
/// odds ratio is 0 or infinite.
pub fn homogeneity(strata: &[FourFold]) -> Option<Homogeneity> {
    let cells: Vec<Cells> = strata.iter().map(Cells::of).collect();
    let informative: Vec<Cells> = strata.iter().map(Cells::of).filter(Cells::informative).collect();
    let psi = common_odds_ratio(&informative).filter(|&psi| psi > 0.0)?;
    let df = informative.len().checked_sub(1).filter(|&df| df > 0)? as f64;
    let fitted_or_fixed = |s: &Cells| if s.informative() { s.fitted(psi) } else { s.a };
    let fitted: Vec<f64> = cells.iter().map(fitted_or_fixed).collect();
    let variance = |(s, &a): (&Cells, &f64)| if s.informative() { s.fitted_variance(a) } else { 0.0 };
    let variances: Vec<f64> = cells.iter().zip(&fitted).map(variance).collect();
    let terms =
        || cells.iter().zip(&fitted).zip(&variances).filter(|(_, v)| **v > 0.0).map(|((s, a), v)| (s.a - a, *v));
    let breslow_day: f64 = terms().map(|(apart, v)| apart * apart / v).sum();
    let (apart, v) = terms().fold((0.0, 0.0), |(x, y), (apart, v)| (x + apart, y + v));
    let tarone = (breslow_day - apart * apart / v).max(0.0);
    Some(Homogeneity {
        breslow_day: ChiSquare::new(breslow_day, df),
        tarone: ChiSquare::new(tarone, df),
        fitted,
        variances,
    })
}

/// Woolf's (1955, `woolf-1955`) test of the same, every cell raised by a half: with w = 1 / (sum of 1 / cell),
/// sum of w (ln odds ratio - weighted mean)^2 on strata - 1 degrees of freedom. Misleads where strata are many and small:
/// [`homogeneity`] first. Empty strata are left out; None with fewer than two.
pub fn woolf(strata: &[FourFold]) -> Option<ChiSquare> {
    let filled = strata.iter().filter(|t| t.iter().flatten().any(|&n| n > 0));
    let raised: Vec<[f64; 4]> = filled.map(|[[a, b], [c, d]]| [a, b, c, d].map(|&n| n as f64 + 0.5)).collect();
    let df = raised.len().checked_sub(1).filter(|&df| df > 0)? as f64;
    let points: Vec<(f64, f64)> = raised
        .iter()
        .map(|cells @ [a, b, c, d]| (1.0 / cells.iter().map(|n| 1.0 / n).sum::<f64>(), (a * d / (b * c)).ln()))
        .collect();
    let weight: f64 = points.iter().map(|(w, _)| w).sum();
    let mean = points.iter().map(|(w, x)| w * x).sum::<f64>() / weight;
    Some(ChiSquare::new(points.iter().map(|(w, x)| w * (x - mean).powi(2)).sum(), df))
}

/// a d / (b c) of one stratum; None where it is infinite or nothing is known.
pub fn stratum_odds_ratio(table: FourFold) -> Option<f64> {
    let s = Cells::of(&table);
    ratio(s.a * s.d, s.b * s.c)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::hypergeometric::fisher;

    #[test]
    fn one_stratum_is_the_four_fold_table() {
        let table = [[3, 1], [1, 3]];
        let mh = mantel_haenszel(&[table], 0.95);
        assert_eq!(mh.odds_ratio, Some(9.0));
        // (3 - 2)^2 / (4*4*4*4 / (64 * 7)).
        assert!(mh.test.is_some_and(|t| (t.statistic - 1.75).abs() < 1e-14), "{mh:?}");
        // With one stratum the interval is Woolf's.
        let woolf = crate::stats::two_proportions::odds_ratio(3, 4, 1, 4, 0.95).and_then(|c| c.interval);
        let (a, b) = (mh.odds_ratio_interval.map_or(0.0, |i| i.low), woolf.map_or(1.0, |i| i.low));
        assert!((a - b).abs() < 1e-14, "{a} {b}");
        let (exact, one) = (exact_conditional(&[table], 0.95), fisher(table, 0.95));
        assert!(exact.is_some_and(|e| (e.p_two_sided - one.p_two_sided).abs() < 1e-14));
        assert!(exact.is_some_and(|e| (e.low - one.low).abs() < 1e-10));
    }

    #[test]
    fn strata_that_say_nothing_change_nothing() {
        let strata = [[[0, 6], [2, 4]], [[3, 2], [5, 4]]];
        let mut more = strata.to_vec();
        more.extend([[[0, 5], [0, 5]], [[0, 0], [3, 2]], [[0, 0], [0, 0]], [[1, 0], [0, 0]]]);
        let (few, many) = (mantel_haenszel(&strata, 0.9), mantel_haenszel(&more, 0.9));
        assert_eq!((few.odds_ratio, few.test, few.informative), (many.odds_ratio, many.test, many.informative));
        assert_eq!(homogeneity(&strata).map(|h| h.breslow_day), homogeneity(&more).map(|h| h.breslow_day));
        assert_eq!(exact_conditional(&strata, 0.9), exact_conditional(&more, 0.9));
    }

    #[test]
    fn what_is_undefined_is_absent() {
        let nothing = mantel_haenszel(&[], 0.9);
        assert_eq!((nothing.odds_ratio, nothing.risk_ratio, nothing.test), (None, None, None));
        assert_eq!(homogeneity(&[[[0, 5], [0, 5]]]), None);
        assert_eq!(woolf(&[[[1, 2], [3, 4]]]), None);
        assert_eq!(stratum_odds_ratio([[2, 0], [0, 8]]), None);
        assert_eq!(mantel_haenszel(&[[[2, 0], [1, 8]]], 0.9).odds_ratio, None);
        let zero = mantel_haenszel(&[[[0, 2], [1, 8]]], 0.9);
        assert_eq!((zero.odds_ratio, zero.odds_ratio_interval), (Some(0.0), None));
    }

    #[test]
    fn swapping_the_groups_inverts_the_odds_ratio() {
        let strata = [[[4, 9], [2, 17]], [[5, 5], [3, 9]], [[1, 14], [2, 8]]];
        let swapped = strata.map(|[first, second]| [second, first]);
        let product = |f: &dyn Fn(&[FourFold]) -> Option<f64>| Some(f(&strata)? * f(&swapped)?);
        let mh = product(&|s| mantel_haenszel(s, 0.9).odds_ratio);
        let exact = product(&|s| exact_conditional(s, 0.9)?.odds_ratio);
        assert!(mh.is_some_and(|p| (p - 1.0).abs() < 1e-13) && exact.is_some_and(|p| (p - 1.0).abs() < 1e-10));
        let ends = product(&|s| {
            Some(if s == strata { exact_conditional(s, 0.9)?.low } else { exact_conditional(s, 0.9)?.high? })
        });
        assert!(ends.is_some_and(|p| (p - 1.0).abs() < 1e-10), "{ends:?}");
    }
}
