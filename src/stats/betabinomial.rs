//! The beta-binomial: x of n where the rate itself differs from group to group.
//!
//! Letters: m the mean rate, rho the correlation of two members of one group, theta = rho / (1 - rho) = 1 / (a + b),
//! a = m / theta and b = (1 - m) / theta the shapes of the beta (Skellam 1948, `skellam-1948`; Prentice 1986,
//! `prentice-1986`). Everything is written in (m, theta), which has no seam at theta = 0, the binomial.

mod best;
mod fit;
mod mixture;
mod posterior;

pub use best::probability_greatest;
pub use fit::{Count, Fit, Homogeneity, NoFit, Overdispersion, Regression, fit, homogeneity, regression, tarone};
pub use mixture::{BetaRate, Mixture, Part};
pub use posterior::{Pooled, Prior, pool};

use super::special::ln_choose;

/// Number of successes among `n` members of one group.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BetaBinomial {
    n: u64,
    mean: f64,
    theta: f64,
}

impl BetaBinomial {
    /// `mean` in 0..1 and `theta` = 1/(a + b) from 0 (binomial) up; values outside count as the nearest inside.
    pub fn new(n: u64, mean: f64, theta: f64) -> Self {
        BetaBinomial { n, mean: mean.clamp(0.0, 1.0), theta: theta.clamp(0.0, f64::MAX) }
    }

    /// By the shapes of the beta, both above 0.
    pub fn from_shapes(n: u64, alpha: f64, beta: f64) -> Self {
        BetaBinomial::new(n, alpha / (alpha + beta), 1.0 / (alpha + beta))
    }

    pub fn mean(&self) -> f64 {
        self.n as f64 * self.mean
    }

    /// Standard deviation: sqrt(n m (1-m) (1 + (n-1) rho)).
    pub fn sd(&self) -> f64 {
        let n = self.n as f64;
        let rho = self.theta / (1.0 + self.theta);
        (n * self.mean * (1.0 - self.mean) * (1.0 + (n - 1.0).max(0.0) * rho)).sqrt()
    }

    /// ln of the probability of exactly `x`; minus infinity where impossible.
    pub fn ln_pmf(&self, x: u64) -> f64 {
        if x > self.n {
            return f64::NEG_INFINITY;
        }
        ln_choose(self.n, x) + ln_rising(self.mean, self.theta, x) + ln_rising(1.0 - self.mean, self.theta, self.n - x)
            - ln_rising(1.0, self.theta, self.n)
    }

    /// Probability of at most `x`.
    pub fn cdf(&self, x: u64) -> f64 {
        if x >= self.n { 1.0 } else { 1.0 - self.at_least(x + 1) }.clamp(0.0, 1.0)
    }

    /// Probability of at least `x`: the shorter tail is summed by the ratios of neighbouring terms.
    pub fn at_least(&self, x: u64) -> f64 {
        match x {
            0 => 1.0,
            x if x > self.n => 0.0,
            _ if self.mean <= 0.0 => 0.0,
            _ if self.mean >= 1.0 => 1.0,
            x if x as f64 > self.mean() => self.sum_up(x).min(1.0),
            x => (1.0 - self.sum_down(x - 1)).max(0.0),
        }
    }

    /// The least x with P(X <= x) >= `p`.
    pub fn quantile(&self, p: f64) -> u64 {
        let (mut below, mut reached) = (0, self.n);
        while below < reached {
            let middle = below + (reached - below) / 2;
            if self.cdf(middle) >= p { reached = middle } else { below = middle + 1 }
        }
        reached
    }

    fn sum_up(&self, from: u64) -> f64 {
        let mut term = self.ln_pmf(from).exp();
        let mut sum = term;
        for x in from..self.n {
            term *= self.ratio(x);
            sum += term;
            if self.is_negligible(term, sum) {
                break;
            }
        }
        sum
    }

    fn sum_down(&self, from: u64) -> f64 {
        let mut term = self.ln_pmf(from).exp();
        let mut sum = term;
        for x in (0..from).rev() {
            term /= self.ratio(x);
            sum += term;
            if self.is_negligible(term, sum) {
                break;
            }
        }
        sum
    }

    /// P(X = x + 1) / P(X = x), for x < n and a mean inside (0, 1).
    fn ratio(&self, x: u64) -> f64 {
        let (k, left) = (x as f64, (self.n - x) as f64);
        left / (k + 1.0) * (self.mean + k * self.theta) / (1.0 - self.mean + (left - 1.0) * self.theta)
    }

    /// Away from the mean terms only fall where both shapes are above 1.
    fn is_negligible(&self, term: f64, sum: f64) -> bool {
        term <= 1e-20 * sum && self.theta < self.mean.min(1.0 - self.mean)
    }
}

/// Sum of ln(m + j theta) over j < k, the logarithm of a rising factorial in units of 1/theta.
///
/// The first terms are multiplied out; the rest is the difference of two Stirling series, arranged so that nothing
/// cancels however small theta is (Abramowitz & Stegun 6.1.40; from memory).
pub(super) fn ln_rising(m: f64, theta: f64, k: u64) -> f64 {
    if theta == 0.0 || k == 0 {
        return if k == 0 { 0.0 } else { k as f64 * m.ln() };
    }
    let first = if k <= DIRECT as u64 { k as f64 } else { (DIRECT - m / theta).ceil().max(0.0) };
    let product: f64 = (0..first as u32).map(|j| m + f64::from(j) * theta).product();
    let (from, left) = (m + first * theta, k as f64 - first);
    let direct = if first == 0.0 { 0.0 } else { product.ln() };
    if left <= 0.0 { direct } else { direct + ln_rising_series(from, theta, left) }
}

/// Terms multiplied out before the series is used; at arguments from here up its error is below 1e-13.
const DIRECT: f64 = 12.0;

fn ln_rising_series(m: f64, theta: f64, k: f64) -> f64 {
    let from = m / theta;
    (from - 0.5) * (k / from).ln_1p() + k * (m + k * theta).ln() - k + stirling_tail(from + k) - stirling_tail(from)
}

/// ln Gamma(z) - [(z - 1/2) ln z - z + ln(2 pi) / 2] for z >= 12.
fn stirling_tail(z: f64) -> f64 {
    let s = 1.0 / (z * z);
    (1.0 / 12.0 - s * (1.0 / 360.0 - s * (1.0 / 1260.0 - s * (1.0 / 1680.0 - s / 1188.0)))) / z
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn rising_factorials_are_their_sums() {
        for theta in [0.0, 1e-12, 1e-6, 1e-3, 0.05, 0.7, 30.0] {
            for (m, k) in [(0.93, 1), (0.07, 13), (1.0, 50), (1e-4, 200), (0.5, 20_000)] {
                let want: f64 = (0..k).map(|j| (m + j as f64 * theta).ln()).sum();
                let got = ln_rising(m, theta, k);
                assert!((got - want).abs() < 1e-11 * want.abs().max(1.0), "{m} {theta} {k}: {got} {want}");
            }
        }
    }

    #[test]
    fn probabilities_sum_to_one_at_any_size() {
        for n in [1, 45, 20_000] {
            for theta in [0.0, 1e-9, 0.01, 0.5, 4.0] {
                let d = BetaBinomial::new(n, 0.91, theta);
                let middle = d.quantile(0.3);
                assert!((d.sum_up(0) - 1.0).abs() < 1e-8 || d.ln_pmf(0) < -700.0, "n {n}, theta {theta}");
                let total: f64 = (0..=n).map(|x| d.ln_pmf(x).exp()).sum();
                assert!((total - 1.0).abs() < 1e-8, "n {n}, theta {theta}: {total}");
                let below: f64 = (0..=middle).map(|x| d.ln_pmf(x).exp()).sum();
                assert!((d.cdf(middle) - below).abs() < 1e-8, "n {n}, theta {theta}");
                assert!(d.cdf(middle) >= 0.3 && (middle == 0 || d.cdf(middle - 1) < 0.3));
            }
        }
    }

    #[test]
    fn certain_rates_are_certain() {
        assert_eq!(BetaBinomial::new(10, 1.0, 0.3).at_least(10), 1.0);
        assert_eq!(BetaBinomial::new(10, 0.0, 0.0).at_least(1), 0.0);
        assert_eq!(BetaBinomial::new(10, 0.4, 0.1).at_least(11), 0.0);
        assert_eq!(BetaBinomial::new(0, 0.4, 0.1).quantile(0.9), 0);
    }
}
