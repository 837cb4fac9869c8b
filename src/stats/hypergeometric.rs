//! The hypergeometric distribution, at any size.
//!
//! Every probability is computed from [`ln_binomial_pmf`] (Loader 2000), never from binomial coefficients, which
//! overflow beyond a population of about a thousand.

use super::proportion::tail;
use super::special::ln_binomial_pmf;
use crate::base::seed::uniform;
use rand::Rng;
use serde::Serialize;

/// Two tables are equally probable where their probabilities differ by less than this part: without it, rounding
/// decides which of the tied tables count.
pub(super) const TIE: f64 = 1e-7;

/// The number of marked ones among `drawn` taken without replacement from `population` of which `marked` are marked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Hypergeometric {
    population: u64,
    marked: u64,
    drawn: u64,
}

impl Hypergeometric {
    /// `marked` and `drawn` above `population` are taken as `population`.
    pub fn new(population: u64, marked: u64, drawn: u64) -> Self {
        Hypergeometric { population, marked: marked.min(population), drawn: drawn.min(population) }
    }

    /// Smallest possible count: max(0, drawn + marked - population).
    pub fn smallest(&self) -> u64 {
        self.drawn.saturating_sub(self.population - self.marked)
    }

    /// Largest possible count: min(drawn, marked).
    pub fn largest(&self) -> u64 {
        self.drawn.min(self.marked)
    }

    /// The most probable count: floor((drawn+1)(marked+1)/(population+2)).
    pub fn mode(&self) -> u64 {
        let product = (u128::from(self.drawn) + 1) * (u128::from(self.marked) + 1);
        let mode = product / (u128::from(self.population) + 2);
        u64::try_from(mode).unwrap_or(u64::MAX).clamp(self.smallest(), self.largest())
    }

    /// ln P(X = k): Binomial(k; marked) Binomial(drawn-k; population-marked) / Binomial(drawn; population), each at
    /// chance drawn/population (Loader 2000, section 5). Minus infinity outside the possible counts.
    pub fn ln_pmf(&self, k: u64) -> f64 {
        if k < self.smallest() || k > self.largest() {
            return f64::NEG_INFINITY;
        }
        if self.smallest() == self.largest() {
            return 0.0;
        }
        let p = self.drawn as f64 / self.population as f64;
        let q = (self.population - self.drawn) as f64 / self.population as f64;
        let plain = self.population - self.marked;
        ln_binomial_pmf(k, self.marked, p, q) + ln_binomial_pmf(self.drawn - k, plain, p, q)
            - ln_binomial_pmf(self.drawn, self.population, p, q)
    }

    /// P(X = k).
    pub fn pmf(&self, k: u64) -> f64 {
        self.ln_pmf(k).exp()
    }

    /// P(X = k+1) / P(X = k) for a possible k.
    fn ratio_up(&self, k: u64) -> f64 {
        let rest = (self.population - self.marked) as f64 - self.drawn as f64 + k as f64 + 1.0;
        ((self.marked - k) as f64 / (k as f64 + 1.0)) * ((self.drawn - k) as f64 / rest)
    }

    /// P(X <= k).
    pub fn cdf(&self, k: u64) -> f64 {
        if k >= self.largest() {
            1.0
        } else if k < self.smallest() {
            0.0
        } else if k < self.mode() {
            self.sum_down(k).min(1.0)
        } else {
            (1.0 - self.sum_up(k + 1)).clamp(0.0, 1.0)
        }
    }

    /// P(X > k), to full relative precision far into the tail.
    pub fn sf(&self, k: u64) -> f64 {
        if k >= self.largest() {
            0.0
        } else if k < self.smallest() {
            1.0
        } else if k < self.mode() {
            (1.0 - self.sum_down(k)).clamp(0.0, 1.0)
        } else {
            self.sum_up(k + 1).min(1.0)
        }
    }

    /// P(X >= k).
    pub fn at_least(&self, k: u64) -> f64 {
        if k == 0 { 1.0 } else { self.sf(k - 1) }
    }

    /// Sum of the probabilities of k, k-1, ... for k below the mode.
    fn sum_down(&self, k: u64) -> f64 {
        let (mut term, mut sum) = (1.0, 1.0);
        for j in (self.smallest()..k).rev() {
            term /= self.ratio_up(j);
            sum += term;
            if term < 1e-18 * sum {
                break;
            }
        }
        sum * self.pmf(k)
    }

    /// Sum of the probabilities of k, k+1, ... for k above the mode.
    fn sum_up(&self, k: u64) -> f64 {
        let (mut term, mut sum) = (1.0, 1.0);
        for j in k..self.largest() {
            term *= self.ratio_up(j);
            sum += term;
            if term < 1e-18 * sum {
                break;
            }
        }
        sum * self.pmf(k)
    }

    /// A random count, by inversion from the mode outwards: about one standard deviation of steps.
    pub fn sample(&self, rng: &mut impl Rng) -> u64 {
        let (smallest, largest, mode) = (self.smallest(), self.largest(), self.mode());
        if smallest == largest {
            return smallest;
        }
        let mut left = uniform(rng) - self.pmf(mode);
        let (mut below, mut above) = (mode, mode);
        let (mut below_p, mut above_p) = (self.pmf(mode), self.pmf(mode));
        while left > 0.0 && (below > smallest || above < largest) {
            if above < largest {
                above_p *= self.ratio_up(above);
                above += 1;
                left -= above_p;
                if left <= 0.0 {
                    return above;
                }
            }
            if below > smallest {
                below -= 1;
                below_p /= self.ratio_up(below);
                left -= below_p;
                if left <= 0.0 {
                    return below;
                }
            }
        }
        mode
    }
}

/// Two by two counts: rows are groups, columns outcomes, `[[a, b], [c, d]]`.
pub type FourFold = [[u64; 2]; 2];

/// The exact test of odds ratio 1 given the margins, with the odds ratio and its exact interval.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ConditionalTest {
    /// Sum of the probabilities of all counts at most as probable as the one seen.
    pub p_two_sided: f64,
    /// P(count >= seen).
    pub p_greater: f64,
    /// P(count <= seen).
    pub p_less: f64,
    /// The three above with the counts as probable as the one seen (of the tails: the one seen) taken by half.
    pub mid_p_two_sided: f64,
    pub mid_p_greater: f64,
    pub mid_p_less: f64,
    /// Twice the smaller of the two mid-p tails, at most 1.
    pub mid_p_doubled: f64,
    /// P(count = seen).
    pub point_probability: f64,
    /// Conditional maximum-likelihood odds ratio; None where it is infinite or the margins leave one count only.
    pub odds_ratio: Option<f64>,
    /// Exact interval of the odds ratio, each tail half of 1 - level.
    pub low: f64,
    /// None where it has no upper end.
    pub high: Option<f64>,
}

/// Fisher's exact test of a four-fold table at `level` in (0, 1) (Fisher 1935, `fisher-1935`; the interval:
/// Cornfield 1956, `cornfield-1956`). The odds ratio is a d / (b c) by conditional likelihood.
///
/// Time and memory grow with the smaller margin: a million is some tenths of a second.
pub fn fisher(table: FourFold, level: f64) -> ConditionalTest {
    let [[a, b], [c, d]] = table;
    let distribution = Conditional::of_urn(&Hypergeometric::new(a + b + c + d, a + c, a + b));
    distribution.test(&distribution, a, level)
}

/// A count's distribution given all margins, known up to the odds ratio: P(k) proportional to weight(k) psi^k
/// (Fisher's noncentral hypergeometric distribution, or the sum of several).
#[derive(Clone, Debug)]
pub(super) struct Conditional {
    pub(super) lowest: u64,
    /// ln weight of `lowest` and the counts after it; at psi = 1 the ln probabilities.
    pub(super) ln_weights: Vec<f64>,
}

impl Conditional {
    pub(super) fn of_urn(urn: &Hypergeometric) -> Self {
        let ln_weights = (urn.smallest()..=urn.largest()).map(|k| urn.ln_pmf(k)).collect();
        Conditional { lowest: urn.smallest(), ln_weights }
    }

    /// The test of psi = 1, the estimate of psi and its interval for a `seen` count. The latter two come from
    /// `near`: the same distribution, accurate near the estimate.
    pub(super) fn test(&self, near: &Conditional, seen: u64, level: f64) -> ConditionalTest {
        let p = self.probabilities(0.0);
        let at = self.index(seen);
        let point = p.get(at).copied().unwrap_or(0.0);
        let (less, greater) = tails(&p, at);
        let (mid_less, mid_greater) = (less - 0.5 * point, greater - 0.5 * point);
        let tied = |q: f64| q >= point * (1.0 - TIE) && q <= point * (1.0 + TIE);
        let as_extreme = sum_small_first(p.iter().copied().filter(|&q| q <= point * (1.0 + TIE)));
        let ties = sum_small_first(p.iter().copied().filter(|&q| tied(q)));
        let (low, high) = near.interval(at, level);
        ConditionalTest {
            p_two_sided: as_extreme.min(1.0),
            p_greater: greater,
            p_less: less,
            mid_p_two_sided: (as_extreme - 0.5 * ties).clamp(0.0, 1.0),
            mid_p_greater: mid_greater,
            mid_p_less: mid_less,
            mid_p_doubled: (2.0 * mid_less.min(mid_greater)).min(1.0),
            point_probability: point,
            odds_ratio: near.estimate(at),
            low,
            high,
        }
    }

    /// Place of a count among the possible ones, the nearest where it isn't possible.
    fn index(&self, seen: u64) -> usize {
        let last = self.ln_weights.len().saturating_sub(1);
        usize::try_from(seen.saturating_sub(self.lowest)).unwrap_or(last).min(last)
    }

    /// Probabilities at ln psi.
    fn probabilities(&self, ln_psi: f64) -> Vec<f64> {
        let ln: Vec<f64> = self.ln_weights.iter().enumerate().map(|(k, w)| w + k as f64 * ln_psi).collect();
        let most = ln.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let p: Vec<f64> = ln.iter().map(|l| (l - most).exp()).collect();
        let sum: f64 = p.iter().sum();
        p.into_iter().map(|p| p / sum).collect()
    }

    /// psi at which the mean is the count seen.
    fn estimate(&self, at: usize) -> Option<f64> {
        let last = self.ln_weights.len().saturating_sub(1);
        if at == last {
            return None;
        }
        if at == 0 {
            return Some(0.0);
        }
        let mean = |p: &[f64]| p.iter().enumerate().map(|(k, p)| k as f64 * p).sum::<f64>();
        Some(self.rising_root(|p| mean(p) - at as f64).exp())
    }

    /// psi at which P(count >= seen), then P(count <= seen), is half of 1 - level.
    fn interval(&self, at: usize, level: f64) -> (f64, Option<f64>) {
        let tail = tail(level);
        let last = self.ln_weights.len().saturating_sub(1);
        let low = if at == 0 { 0.0 } else { self.rising_root(|p| tails(p, at).1 - tail).exp() };
        let high = (at < last).then(|| self.rising_root(|p| tail - tails(p, at).0).exp());
        (low, high)
    }

    /// ln psi at which a function of the probabilities, rising with psi, passes 0: bracket, then bisection.
    fn rising_root(&self, function: impl Fn(&[f64]) -> f64) -> f64 {
        let value = |ln_psi: f64| function(&self.probabilities(ln_psi));
        let (mut low, mut high) = (-1.0, 1.0);
        while value(low) > 0.0 && low > -600.0 {
            low *= 2.0;
        }
        while value(high) < 0.0 && high < 600.0 {
            high *= 2.0;
        }
        while high - low > 1e-13 * (1.0 + low.abs().min(high.abs())) {
            let middle = 0.5 * (low + high);
            if middle <= low || middle >= high {
                break;
            }
            if value(middle) < 0.0 { low = middle } else { high = middle }
        }
        0.5 * (low + high)
    }
}

/// P(at most) and P(at least) the one `at`, each summed from its far end.
fn tails(p: &[f64], at: usize) -> (f64, f64) {
    let less: f64 = p.iter().take(at + 1).sum();
    let greater: f64 = p.iter().skip(at).rev().sum();
    (less.min(1.0), greater.min(1.0))
}

/// A sum that keeps the digits of small terms beside large ones.
fn sum_small_first(terms: impl Iterator<Item = f64>) -> f64 {
    let mut terms: Vec<f64> = terms.collect();
    terms.sort_by(f64::total_cmp);
    terms.iter().sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::Seed;

    #[test]
    fn small_urns_by_hand() {
        // 4 marked of 8, 4 drawn: 1, 16, 36, 16, 1 of 70.
        let urn = Hypergeometric::new(8, 4, 4);
        for (k, ways) in [1.0, 16.0, 36.0, 16.0, 1.0].into_iter().enumerate() {
            assert!((urn.pmf(k as u64) - ways / 70.0).abs() < 1e-15, "{k}");
        }
        assert!((urn.cdf(2) - 53.0 / 70.0).abs() < 1e-15);
        assert!((urn.sf(2) - 17.0 / 70.0).abs() < 1e-15);
        assert_eq!(urn.mode(), 2);
        assert_eq!((urn.cdf(4), urn.sf(4), urn.at_least(0)), (1.0, 0.0, 1.0));
        // 5 of 6 marked, 3 drawn: at least 2.
        assert_eq!(Hypergeometric::new(6, 5, 3).smallest(), 2);
    }

    #[test]
    fn probabilities_sum_to_one_at_any_size() {
        for (population, marked, drawn) in
            [(20_000, 450, 10_000), (1_000_000, 3_000, 20_000), (1_000_000, 999_000, 500)]
        {
            let urn = Hypergeometric::new(population, marked, drawn);
            let sum: f64 = (urn.smallest()..=urn.largest()).map(|k| urn.pmf(k)).sum();
            assert!((sum - 1.0).abs() < 1e-11, "{urn:?} {sum}");
            let k = urn.mode() + 3;
            assert!((urn.cdf(k) + urn.sf(k) - 1.0).abs() < 1e-12);
        }
    }

    #[test]
    fn samples_follow_the_distribution() {
        let urn = Hypergeometric::new(60, 25, 20);
        let mut rng = Seed::new(5).stream("hypergeometric test", 0);
        let draws: Vec<u64> = (0..40_000).map(|_| urn.sample(&mut rng)).collect();
        for k in [6, 8, 10] {
            let share = draws.iter().filter(|&&d| d == k).count() as f64 / 40_000.0;
            let want = urn.pmf(k);
            assert!((share - want).abs() < 4.0 * (want / 40_000.0).sqrt(), "{k}: {share} {want}");
        }
    }

    /// Two-sided values of exact rational arithmetic (Python integers), to the digits shown; at these sizes a
    /// widespread library returns 0.00081, 0.48 and 0.45.
    #[test]
    fn fisher_holds_at_sizes_of_a_block() {
        for (table, want, tolerance) in [
            ([[30, 60], [970, 940]], 0.00162, 5e-6),
            ([[300, 150], [9_700, 9_850]], 7.5e-13, 5e-15),
            ([[50, 10], [5_000, 5_050]], 8.7e-8, 5e-10),
        ] {
            let test = fisher(table, 0.95);
            assert!((test.p_two_sided - want).abs() < tolerance, "{table:?} {test:?}");
            let urn =
                Hypergeometric::new(table.iter().flatten().sum(), table[0][0] + table[1][0], table[0][0] + table[0][1]);
            assert!((test.p_greater - urn.at_least(table[0][0])).abs() <= 1e-11 * test.p_greater, "{table:?} {test:?}");
        }
    }

    #[test]
    fn odds_ratios_without_an_end_are_absent() {
        let test = fisher([[3, 0], [0, 3]], 0.9);
        assert_eq!((test.odds_ratio, test.high), (None, None));
        // P(3 | psi) = psi^3 / (1 + 9 psi + 9 psi^2 + psi^3) = 0.05.
        let psi = test.low;
        assert!((psi.powi(3) / (1.0 + 9.0 * psi + 9.0 * psi * psi + psi.powi(3)) - 0.05).abs() < 1e-12);
        assert!((test.p_two_sided - 0.1).abs() < 1e-14);
        let none = fisher([[0, 4], [0, 5]], 0.9);
        assert_eq!((none.p_two_sided, none.odds_ratio, none.low, none.high), (1.0, None, 0.0, None));
        assert_eq!(fisher([[0, 0], [0, 0]], 0.9).p_two_sided, 1.0);
        assert_eq!(fisher([[0, 4], [3, 5]], 0.9).odds_ratio, Some(0.0));
    }
}
