//! The studentised range: the distribution behind Tukey's comparison of every pair of several means.
//!
//! Letters: k means of unit variance, R their range; S^2 an independent variance estimate of nu degrees of freedom over
//! its expectation; Q = R / S. With phi, Phi the normal density and distribution function, P(R > w) = k int phi(z)
//! [Phi(z)^(k-1) - (Phi(z) - Phi(z-w))^(k-1)] dz, and P(Q > q) is its mean over w = q S: the double integral of
//! Copenhaver & Holland (1988, `copenhaver-holland-1988`). Here the upper tail is integrated itself, so that a p-value
//! of 1e-40 has its digits, and by sums at even steps, which converge geometrically for such integrands (Trefethen &
//! Weideman 2014, `trefethen-weideman-2014`).
//!
//! For every pair of k estimates with standard errors of their own, P(Q > sqrt(2) |z|) is exact where these are
//! equal and never too small otherwise (Kramer 1956, `kramer-1956`). k = 2 is Student's t, two-sided.
//!
//! Not for comparisons with one control, where it is wider than need be.

use super::special::{ln_gamma, normal_cdf};
use std::f64::consts::{FRAC_1_SQRT_2, LN_2, TAU};

/// More degrees of freedom than this are as good as infinitely many: the tail moves by less than a part in 10^5.
const AS_GOOD_AS_KNOWN: f64 = 1e6;

/// Part of the sum below which further terms add nothing.
const NOTHING: f64 = 1e-14;
const MOST_TERMS: usize = 100_000;

/// P(R > w) of three or more is 1 less a part in 10^10 below this.
const SMALL_RANGE: f64 = 1e-5;

/// Steps: of z, in standard deviations; of ln S at most, and in its standard deviations 1 / sqrt(2 nu).
const STEP: f64 = 0.25;
const LONGEST_STEP: f64 = 0.15;
const STEP_IN_DEVIATIONS: f64 = 0.75;

/// The integrand over z vanishes further than this from w/2.
const REACH: f64 = 7.6;

/// The studentised range of some means.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct StudentisedRange {
    /// k, 2 or more; fewer count as 2.
    pub groups: u32,
    /// nu > 0; infinite where the variance is known.
    pub df: f64,
}

impl StudentisedRange {
    /// P(Q > q): 1 for q of 0 or less or no number, within about 1e-12 of itself.
    pub fn upper_tail(&self, q: f64) -> f64 {
        match q {
            q if q.is_nan() || q <= 0.0 => 1.0,
            q if q.is_infinite() => 0.0,
            q if self.groups <= 2 => student_two_sided(q * FRAC_1_SQRT_2, self.df),
            q if self.df > AS_GOOD_AS_KNOWN => self.of_range(q),
            q => self.over_spread(q).min(1.0),
        }
    }

    /// The q with P(Q > q) = `p`; 0 at 1 or more, infinite at 0 or less. By regula falsi on ln P and ln q, halving
    /// the weight of an end that stays (the Illinois rule: Dowell & Jarratt 1971; from memory).
    pub fn upper_quantile(&self, p: f64) -> f64 {
        if p.is_nan() || p <= 0.0 || p >= 1.0 {
            return if p >= 1.0 { 0.0 } else { f64::INFINITY };
        }
        let excess = |x: f64| self.upper_tail(x.exp()).max(f64::MIN_POSITIVE).ln() - p.ln();
        let (mut low, mut high) = self.bracket(p, &excess);
        for _ in 0..200 {
            let x = (low.0 * high.1 - high.0 * low.1) / (high.1 - low.1);
            let x = if x > low.0 && x < high.0 { x } else { 0.5 * (low.0 + high.0) };
            let at = excess(x);
            if at.abs() <= 1e-13 || high.0 - low.0 <= 1e-15 {
                return x.exp();
            }
            if at > 0.0 {
                (low, high.1) = ((x, at), 0.5 * high.1);
            } else {
                (high, low.1) = ((x, at), 0.5 * low.1);
            }
        }
        (0.5 * (low.0 + high.0)).exp()
    }

    /// Two values of ln q with the excess above and below 0: of two means, and by Bonferroni's bound from two means at
    /// p over the number of pairs. For two means themselves, steps from 2 on.
    fn bracket(&self, p: f64, excess: &impl Fn(f64) -> f64) -> ((f64, f64), (f64, f64)) {
        let pairs = 0.5 * f64::from(self.groups) * (f64::from(self.groups) - 1.0);
        let (mut low, mut high) = (LN_2, 2.0 * LN_2);
        if self.groups > 2 {
            let two = StudentisedRange { groups: 2, df: self.df };
            (low, high) = (two.upper_quantile(p).ln() - 1e-9, two.upper_quantile(p / pairs).ln() + 1e-9);
        }
        let (mut low, mut high) = ((low, excess(low)), (high, excess(high)));
        for _ in 0..2_000 {
            if low.1 < 0.0 {
                (high, low) = (low, (low.0 - 1.0, excess(low.0 - 1.0)));
            } else if high.1 > 0.0 {
                (low, high) = (high, (high.0 + 1.0, excess(high.0 + 1.0)));
            } else {
                break;
            }
        }
        (low, high)
    }

    /// P(R > w) of k normal means of unit variance.
    fn of_range(&self, w: f64) -> f64 {
        if w < SMALL_RANGE && self.groups > 2 {
            return 1.0;
        }
        let others = f64::from(self.groups.max(2) - 1);
        let integrand = |z: f64| {
            let (all, above) = (normal_cdf(z), normal_cdf(z - w));
            let apart = -((others * (-(above / all).min(1.0)).ln_1p()).exp_m1());
            (others * all.ln() - 0.5 * z * z).exp() * apart
        };
        let terms = (2.0 * REACH / STEP) as usize;
        let sum: f64 = (0..=terms).map(|i| integrand(0.5 * w - REACH + STEP * i as f64)).sum();
        ((others + 1.0) * STEP * sum / TAU.sqrt()).min(1.0)
    }

    /// The mean of P(R > q S), over u = ln S of density 2 (nu/2)^(nu/2) / Gamma(nu/2) exp(nu u - nu exp(2u) / 2): up
    /// and
    /// down from where the integrand is highest far out, until further terms add nothing.
    fn over_spread(&self, q: f64) -> f64 {
        let (nu, half) = (self.df, 0.5 * self.df);
        let constant = LN_2 + half * half.ln() - half - ln_gamma(half);
        let integrand = |u: f64| {
            let density = (constant + nu * (u - 0.5 * (2.0 * u).exp_m1())).exp();
            if density > 0.0 { density * self.of_range(q * u.exp()) } else { 0.0 }
        };
        let step = (STEP_IN_DEVIATIONS / (2.0 * nu).sqrt()).min(LONGEST_STEP);
        let start = 0.5 * (nu / (nu + 0.5 * q * q)).ln();
        let mut sum = integrand(start);
        for u in (1..MOST_TERMS).map(|i| start + i as f64 * step) {
            let term = integrand(u);
            sum += term;
            if u > 0.0 && term <= NOTHING * sum {
                break;
            }
        }
        for term in (1..MOST_TERMS).map(|i| integrand(start - i as f64 * step)) {
            sum += term;
            if term <= NOTHING * sum {
                break;
            }
        }
        step * sum
    }
}

/// Two-sided tail of Student's t with `df` degrees of freedom (infinite: the normal): the studentised range of two,
/// in closed form.
pub fn student_two_sided(t: f64, df: f64) -> f64 {
    let square = t * t;
    match df {
        _ if t.is_nan() || df.is_nan() || df <= 0.0 => 1.0,
        df if df > AS_GOOD_AS_KNOWN => libm::erfc(t.abs() * FRAC_1_SQRT_2),
        df => super::special::beta_cdf(df / (df + square), 0.5 * df, 0.5),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_double_integral_of_two_is_students_t() {
        for df in [1.0, 2.0, 7.0, 60.0, 4e4, f64::INFINITY] {
            for t in [0.01, 0.7, 2.0, 6.3, 12.0, 36.0] {
                let (range, q) = (StudentisedRange { groups: 2, df }, t * 2f64.sqrt());
                let got = if df.is_finite() { range.over_spread(q) } else { range.of_range(q) };
                let want = student_two_sided(t, df);
                assert!((got - want).abs() <= 1e-9 * want, "t {t}, df {df}: {got} {want}");
            }
        }
    }

    #[test]
    fn quantiles_invert_the_tail() {
        for df in [1.0, 3.0, 40.0, f64::INFINITY] {
            for groups in [2, 5, 20] {
                for p in [0.999, 0.5, 0.1, 0.01, 1e-9] {
                    let range = StudentisedRange { groups, df };
                    let back = range.upper_tail(range.upper_quantile(p));
                    assert!((back / p - 1.0).abs() < 1e-9, "{range:?} {p}: {back}");
                }
            }
        }
        assert_eq!(StudentisedRange { groups: 3, df: 5.0 }.upper_quantile(1.0), 0.0);
        assert_eq!(StudentisedRange { groups: 3, df: 5.0 }.upper_quantile(0.0), f64::INFINITY);
    }

    #[test]
    fn odd_input_is_harmless() {
        let range = StudentisedRange { groups: 0, df: 9.0 };
        assert_eq!(
            (range.upper_tail(f64::NAN), range.upper_tail(-1.0), range.upper_tail(f64::INFINITY)),
            (1.0, 1.0, 0.0)
        );
        assert!(StudentisedRange { groups: 4, df: 1e-3 }.upper_tail(1.0) <= 1.0);
        assert_eq!(student_two_sided(f64::NAN, 3.0), 1.0);
    }
}
