//! The hypergeometric distribution, at any size.
//!
//! Every probability is computed from [`ln_binomial_pmf`] (Loader 2000), never from binomial coefficients, which
//! overflow beyond a population of about a thousand.

use super::special::ln_binomial_pmf;
use crate::base::seed::uniform;
use rand::Rng;

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
}
