//! Student's t and the non-central t distribution: the power of a t test.

use super::special::{beta_quantile, normal_cdf};

/// Points of the rule for the mixture over the estimated standard deviation: absolute error below 1e-8 from 2 degrees
/// of freedom up, below 1e-5 at 1.
const POINTS: usize = 128;
/// The mixture's density is taken as nothing where it has fallen by exp(-FALL).
const FALL: f64 = 40.0;

/// The value that |T| exceeds with probability `alpha` under Student's t with `df` > 0 degrees of freedom, `alpha` in
/// (0, 1). df / (df + T^2) is Beta(df/2, 1/2).
pub fn two_sided_quantile(alpha: f64, df: f64) -> f64 {
    let x = beta_quantile(alpha, 0.5 * df, 0.5);
    (df * (1.0 - x) / x).sqrt()
}

/// Probability that |T| exceeds `t` >= 0 where T = (Z + `shift`) / S: Z standard normal, S^2 an independent chi-square
/// over its `df` > 0 degrees of freedom (they needn't be whole).
///
/// Integrates Phi(shift - t s) + Phi(-shift - t s) over the density of u = ln s, proportional to
/// exp(df (u - (e^(2u) - 1)/2)), by the trapezoidal rule, which converges exponentially on analytic integrands. Checked
/// against R's `pt(ncp = )` and `power.t.test`. Not for df above 1e8: the normal distribution serves there.
pub fn two_sided_tail(t: f64, df: f64, shift: f64) -> f64 {
    let reach = (FALL / df).sqrt();
    let (from, to) = (-(FALL / df + reach), reach.ln_1p());
    let step = (to - from) / (POINTS - 1) as f64;
    let (mut mass, mut beyond) = (0.0, 0.0);
    for i in 0..POINTS {
        let u = from + step * i as f64;
        let weight = (df * (u - 0.5 * (2.0 * u).exp_m1())).exp();
        let bound = t * u.exp();
        mass += weight;
        beyond += weight * (normal_cdf(shift - bound) + normal_cdf(-shift - bound));
    }
    (beyond / mass).clamp(0.0, 1.0)
}

/// Power of the two-sided t test of size `alpha` where the estimate lies `shift` standard errors from 0.
pub fn power(shift: f64, df: f64, alpha: f64) -> f64 {
    two_sided_tail(two_sided_quantile(alpha, df), df, shift)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_size_is_alpha_without_a_difference() {
        for df in [1.0, 2.0, 3.5, 22.0, 400.0] {
            let size = power(0.0, df, 0.05);
            assert!((size - 0.05).abs() < 1e-5, "df {df}: {size}");
        }
    }

    /// n a group, difference in standard deviations, alpha, power: `power.t.test(strict = TRUE)` of R 4.2.2. The first
    /// stands in its help as 0.8689528.
    #[test]
    fn powers_of_the_t_test_are_met() {
        let known = [
            (20.0, 1.0, 0.05, 0.868_953_027_725),
            (2.0, 1.0, 0.05, 0.095_201_755_498),
            (2.0, 3.0, 0.05, 0.387_400_128_526),
            (3.0, 2.0, 0.10, 0.645_281_438_116),
            (6.0, 1.7, 0.05, 0.756_126_724_515),
            (12.0, 0.6, 0.01, 0.112_393_810_700),
            (60.0, 0.5, 0.05, 0.775_265_888_513),
            (22.021_10, 1.0, 0.05, 0.90), // of the help: power 0.90 at delta 1 needs n = 22.02110
        ];
        for (n, delta, alpha, want) in known {
            let got = power(delta / (2.0_f64 / n).sqrt(), 2.0 * (n - 1.0), alpha);
            assert!((got - want).abs() < 1e-6, "n {n}, delta {delta}: {got}, want {want}");
        }
    }

    /// R 4.2.2: `qt`, and `1 - pt(t, df, ncp) + pt(-t, df, ncp)`.
    #[test]
    fn quantiles_and_tails_are_met_at_degrees_that_are_not_whole() {
        for (alpha, df, want) in
            [(0.05, 2.0, 4.302_652_729_75), (0.05, 1.0, 12.706_204_736_2), (0.1, 3.5, 2.222_433_493_65)]
        {
            let got = two_sided_quantile(alpha, df);
            assert!((got - want).abs() < 1e-8, "df {df}: {got}");
        }
        let tails = [
            (2.0, 3.5, 1.2, 0.304_482_736_763),
            (2.5, 1.3, 2.0, 0.513_729_451_53),
            (4.3, 10.0, 2.5, 0.108_311_136_139),
        ];
        for (t, df, shift, want) in tails {
            let got = two_sided_tail(t, df, shift);
            assert!((got - want).abs() < if df < 2.0 { 2e-6 } else { 1e-8 }, "t {t}, df {df}: {got}, want {want}");
        }
    }
}
