//! What is known of a rate: one beta distribution, or a mixture of them.

use super::BetaBinomial;
use super::fit::Count;
use crate::stats::special::{beta_cdf, beta_density, beta_quantile, normal_cdf, normal_quantile};
use serde::Serialize;

/// A beta distribution by its mean m in 0..1 and theta = 1 / (a + b); theta = 0 is a rate known for certain.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct BetaRate {
    pub mean: f64,
    pub theta: f64,
}

/// Both shapes above this: the tail formula is used, its error there below 1e-7.
const LARGE_SHAPE: f64 = 4_000.0;

impl BetaRate {
    pub fn new(mean: f64, theta: f64) -> Self {
        BetaRate { mean: mean.clamp(0.0, 1.0), theta: theta.clamp(0.0, f64::MAX) }
    }

    /// By its mean and variance; the variance is cut to what a rate of that mean can have.
    pub fn of_moments(mean: f64, variance: f64) -> Self {
        let most = mean * (1.0 - mean);
        let rho = if most > 0.0 { (variance / most).clamp(0.0, 1.0 - 1e-12) } else { 0.0 };
        BetaRate::new(mean, rho / (1.0 - rho))
    }

    pub fn variance(&self) -> f64 {
        self.mean * (1.0 - self.mean) * self.theta / (1.0 + self.theta)
    }

    /// After `count.x` successes of `count.n`.
    pub fn updated(&self, count: Count) -> Self {
        let shrink = 1.0 + count.n as f64 * self.theta;
        BetaRate::new((self.mean + count.x as f64 * self.theta) / shrink, self.theta / shrink)
    }

    /// Successes among `n` whose rate this is.
    pub fn predictive(&self, n: u64) -> BetaBinomial {
        BetaBinomial::new(n, self.mean, self.theta)
    }

    /// Whether the rate is known for certain.
    fn is_point(&self) -> bool {
        self.theta == 0.0 || self.mean <= 0.0 || self.mean >= 1.0
    }

    fn shapes(&self) -> (f64, f64) {
        (self.mean / self.theta, (1.0 - self.mean) / self.theta)
    }

    /// Probability of a rate up to `x`.
    pub fn cdf(&self, x: f64) -> f64 {
        if self.is_point() {
            return f64::from(u8::from(x >= self.mean));
        }
        let (a, b) = self.shapes();
        if a.min(b) > LARGE_SHAPE && x > 0.0 && x < 1.0 { self.large_cdf(x) } else { beta_cdf(x, a, b) }
    }

    /// The rate below which it lies with probability `p`.
    pub fn quantile(&self, p: f64) -> f64 {
        if self.is_point() {
            return self.mean;
        }
        let (a, b) = self.shapes();
        if a.min(b) > LARGE_SHAPE {
            return bisect(|x| self.cdf(x), p);
        }
        beta_quantile(p, a, b)
    }

    /// Signed-root tail formula on the logit scale (DiCiccio & Martin 1991, `diciccio-martin-1991`, eq. 4; from
    /// memory): normal-cdf(r) + density(r) (1/r - 1/u), r the signed root of twice the drop of the log density from
    /// its mode, u the slope there in units of the mode's curvature.
    fn large_cdf(&self, x: f64) -> f64 {
        let (a, b) = self.shapes();
        let (m, q, y) = (self.mean, 1.0 - self.mean, 1.0 - x);
        let drop = -a * ((x - m) / m).ln_1p() - b * ((m - x) / q).ln_1p();
        let r = (2.0 * drop.max(0.0)).sqrt().copysign(x - m);
        let curvature = (m * q / self.theta).sqrt();
        let u = (x - m) / self.theta / curvature;
        let correction = if r.abs() < 1e-3 { (y - x) / curvature / 3.0 } else { 1.0 / r - 1.0 / u };
        (normal_cdf(r) + correction * (-0.5 * r * r).exp() / std::f64::consts::TAU.sqrt()).clamp(0.0, 1.0)
    }

    fn density(&self, x: f64) -> f64 {
        let (a, b) = self.shapes();
        beta_density(x, a, b)
    }
}

/// One part of a mixture; weights are at least 0.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Part {
    pub weight: f64,
    pub rate: BetaRate,
}

/// A mixture of beta distributions; its weights sum to 1.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Mixture {
    parts: Vec<Part>,
}

impl Mixture {
    /// Of these parts, their weights scaled to sum to 1. None where no part has a positive, finite weight.
    pub fn new(parts: Vec<Part>) -> Option<Self> {
        let usable = |p: &Part| p.weight > 0.0 && p.weight.is_finite() && p.rate.mean.is_finite();
        let mut parts: Vec<Part> = parts.into_iter().filter(usable).collect();
        let total: f64 = parts.iter().map(|p| p.weight).sum();
        parts.iter_mut().for_each(|p| p.weight /= total);
        (!parts.is_empty() && total.is_finite()).then_some(Mixture { parts })
    }

    /// One beta.
    pub fn of(rate: BetaRate) -> Self {
        Mixture { parts: vec![Part { weight: 1.0, rate }] }
    }

    pub fn parts(&self) -> &[Part] {
        &self.parts
    }

    pub fn mean(&self) -> f64 {
        self.parts.iter().map(|p| p.weight * p.rate.mean).sum()
    }

    pub fn variance(&self) -> f64 {
        let mean = self.mean();
        self.parts.iter().map(|p| p.weight * (p.rate.variance() + (p.rate.mean - mean).powi(2))).sum()
    }

    pub fn cdf(&self, x: f64) -> f64 {
        self.parts.iter().map(|p| p.weight * p.rate.cdf(x)).sum::<f64>().clamp(0.0, 1.0)
    }

    /// The rate below which it lies with probability `p`, within 1e-8 of itself or of its distance from 1.
    pub fn quantile(&self, p: f64) -> f64 {
        let alike = BetaRate::of_moments(self.mean(), self.variance());
        if let [only] = self.parts.as_slice() {
            return only.rate.quantile(p);
        }
        if alike.is_point() {
            return alike.mean;
        }
        secant(|x| self.cdf(x), p, alike)
    }

    /// Probability that at least `needed` of `n` succeed, `n` sharing one rate drawn from the mixture.
    pub fn probability_at_least(&self, needed: u64, n: u64) -> f64 {
        let of = |p: &Part| p.weight * p.rate.predictive(n).at_least(needed);
        self.parts.iter().map(of).sum::<f64>().clamp(0.0, 1.0)
    }

    /// Fewer parts: neighbours in the list that share one theta are merged up to a weight of 1/`limit`, mean and
    /// variance kept. At most `limit` parts and one for each change of theta.
    pub fn merged(&self, limit: usize) -> Self {
        if self.parts.len() <= limit {
            return self.clone();
        }
        let enough = 1.0 / limit.max(1) as f64;
        let mut groups: Vec<(f64, Vec<Part>)> = Vec::new();
        for part in &self.parts {
            let open = |(weight, group): &&mut (f64, Vec<Part>)| {
                *weight < enough && group.last().is_some_and(|p| p.rate.theta == part.rate.theta)
            };
            match groups.last_mut().filter(open) {
                Some((weight, group)) => {
                    *weight += part.weight;
                    group.push(*part);
                }
                None => groups.push((part.weight, vec![*part])),
            }
        }
        Mixture { parts: groups.iter().map(|(_, group)| as_one(group)).collect() }
    }
}

fn as_one(parts: &[Part]) -> Part {
    let weight: f64 = parts.iter().map(|p| p.weight).sum();
    let mean = parts.iter().map(|p| p.weight * p.rate.mean).sum::<f64>() / weight;
    let spread = |p: &Part| p.weight * (p.rate.variance() + (p.rate.mean - mean).powi(2));
    let variance = parts.iter().map(spread).sum::<f64>() / weight;
    Part { weight, rate: BetaRate::of_moments(mean, variance) }
}

/// The least x in 0..1 with cdf(x) >= p, by bisection.
fn bisect(cdf: impl Fn(f64) -> f64, p: f64) -> f64 {
    let (mut low, mut high) = (0.0, 1.0);
    for _ in 0..60 {
        let middle = 0.5 * (low + high);
        if cdf(middle) < p { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

/// The same with secant steps inside the bracket, from the quantile of a beta that is nearly alike. The steps are
/// taken on the normal scale of the probability and the logit scale of the rate, where the curve is nearly straight.
fn secant(cdf: impl Fn(f64) -> f64, p: f64, alike: BetaRate) -> f64 {
    let target = normal_quantile(p);
    let (mut low, mut high) = (0.0, 1.0);
    let mut x = alike.quantile(p).clamp(1e-12, 1.0 - 1e-12);
    let mut slope = alike.density(x) * x * (1.0 - x) / normal_density(target);
    let mut last: Option<(f64, f64)> = None;
    for _ in 0..100 {
        let reached = cdf(x);
        if reached < p {
            low = x
        } else {
            high = x
        }
        let (y, z) = (logit(x), normal_quantile(reached));
        if let Some((y0, z0)) = last.filter(|(y0, _)| *y0 != y) {
            slope = (z - z0) / (y - y0);
        }
        let aimed = 1.0 / (1.0 + (-(y - (z - target) / slope)).exp());
        let next = if aimed > low && aimed < high { aimed } else { 0.5 * (low + high) };
        if (next - x).abs() < 1e-8 * next.min(1.0 - next) || high - low < 1e-16 {
            return next;
        }
        last = z.is_finite().then_some((y, z));
        x = next;
    }
    x
}

fn normal_density(z: f64) -> f64 {
    (-0.5 * z * z).exp() / std::f64::consts::TAU.sqrt()
}

fn logit(x: f64) -> f64 {
    (x / (1.0 - x)).ln()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_tail_formula_meets_the_continued_fraction() {
        for (a, b) in [(4_100.0, 4_100.0), (18_000.0, 4_500.0), (9_000.0, 5_000.0)] {
            let rate = BetaRate::new(a / (a + b), 1.0 / (a + b));
            let sd = rate.variance().sqrt();
            for z in [-4.0, -2.0, -1e-4, 0.0, 1e-3, 0.5, 3.0] {
                let x = rate.mean + z * sd;
                let (got, want) = (rate.large_cdf(x), beta_cdf(x, a, b));
                assert!((got - want).abs() < 1e-7, "Beta({a}, {b}) at {z} sd: {got} {want}");
            }
        }
    }

    #[test]
    fn quantiles_invert_the_mixture() {
        let part = |weight, mean, theta| Part { weight, rate: BetaRate::new(mean, theta) };
        let mixtures = [
            vec![part(1.0, 0.9, 0.05), part(3.0, 0.5, 0.001), part(1.0, 0.95, 1e-7)],
            vec![part(1.0, 0.999, 2.0), part(1.0, 0.001, 2.0)],
            vec![part(1.0, 0.93, 0.01), part(0.2, 0.6, 0.2)],
        ];
        for parts in mixtures {
            let mixture = Mixture::new(parts).unwrap();
            for p in [0.001, 0.05, 0.37, 0.5, 0.95, 0.999] {
                let x = mixture.quantile(p);
                let beside = mixture.cdf(x - 1e-8) <= p && p <= mixture.cdf(x + 1e-8);
                assert!(beside, "{p}: {x} {}", mixture.cdf(x));
            }
        }
    }

    #[test]
    fn merging_keeps_mean_and_variance() {
        let part = |i: u32| Part {
            weight: f64::from(1 + i % 3),
            rate: BetaRate::new(0.8 + 0.003 * f64::from(i % 25), 0.01 * f64::from(1 + i / 25)),
        };
        let whole = Mixture::new((0..100).map(part).collect()).unwrap();
        let few = whole.merged(12);
        assert!(few.parts().len() <= 12 + 4);
        assert!((few.mean() - whole.mean()).abs() < 1e-12 && (few.variance() - whole.variance()).abs() < 1e-12);
        assert!((few.quantile(0.05) - whole.quantile(0.05)).abs() < 2e-4);
    }

    #[test]
    fn a_point_is_a_point() {
        let certain = Mixture::of(BetaRate::new(0.83, 0.0));
        assert_eq!(certain.quantile(0.1), 0.83);
        assert!(Mixture::new(vec![]).is_none());
        let two = |x| Part { weight: 1.0, rate: BetaRate::new(x, 0.0) };
        let both = Mixture::new(vec![two(0.5), two(0.9)]).unwrap();
        assert!((both.quantile(0.25) - 0.5).abs() < 1e-8 && (both.quantile(0.75) - 0.9).abs() < 1e-8);
    }
}
