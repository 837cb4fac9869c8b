//! Whether p-values that come in sets are uniform, all tests at once.

use super::glm::Cholesky;
use super::special::beta_cdf;
use serde::Serialize;

/// Hotelling's test of [`jointly_uniform`].
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct JointUniformity {
    /// T^2 = n (m - u)' S^-1 (m - u).
    pub t_squared: f64,
    /// Shares tested: tests times (bins - 1).
    pub shares: usize,
    /// Sets of p-values.
    pub sets: usize,
    pub p_value: f64,
}

/// Whether the p-values of several tests are uniform over 0 to 1, from `sets` of one p-value for each test. The tests of a set may
/// depend on each other in any way, the sets may not (simulated blocks).
///
/// Each p-value is sorted into `bins` of equal width; m is the mean over the n sets of the indicators of all but the last bin of
/// each test, u = 1 / bins, S their covariance over the sets. T^2 (n - k) / (k (n - 1)) is about F with k = tests times (bins - 1)
/// and n - k degrees of freedom (Hotelling 1931, `hotelling-1931`), in large samples because indicators aren't normal. None
/// with fewer than 2 k sets, or where sets differ in length. Don't take it for small samples: each bin should expect 5 or more.
pub fn jointly_uniform(sets: &[Vec<f64>], bins: usize) -> Option<JointUniformity> {
    let tests = sets.first()?.len();
    let (n, k) = (sets.len(), tests * bins.saturating_sub(1));
    if k == 0 || n < 2 * k || sets.iter().any(|set| set.len() != tests) {
        return None;
    }
    let indicators: Vec<Vec<f64>> = sets.iter().map(|set| indicators(set, bins)).collect();
    let mean = |at: usize| indicators.iter().map(|i| i[at]).sum::<f64>() / n as f64;
    let mean: Vec<f64> = (0..k).map(mean).collect();
    let covariance = |a: usize, b: usize| {
        indicators.iter().map(|i| (i[a] - mean[a]) * (i[b] - mean[b])).sum::<f64>() / (n as f64 - 1.0)
    };
    let s = (0..k).map(|a| (0..k).map(|b| covariance(a, b)).collect()).collect();
    let off: Vec<f64> = mean.iter().map(|m| m - 1.0 / bins as f64).collect();
    let solved = Cholesky::new(s).solve(&off);
    let t_squared = n as f64 * off.iter().zip(&solved).map(|(x, y)| x * y).sum::<f64>();
    Some(JointUniformity { t_squared, shares: k, sets: n, p_value: tail(t_squared, k as f64, n as f64) })
}

fn indicators(set: &[f64], bins: usize) -> Vec<f64> {
    let bin = |p: &f64| ((p * bins as f64) as usize).min(bins - 1);
    set.iter().flat_map(|p| (0..bins - 1).map(move |b| f64::from(u8::from(bin(p) == b)))).collect()
}

/// P(F >= f) with f = T^2 (n - k) / (k (n - 1)) on k and n - k degrees of freedom.
fn tail(t_squared: f64, k: f64, n: f64) -> f64 {
    let x = t_squared / (t_squared + n - 1.0);
    (1.0 - beta_cdf(x.clamp(0.0, 1.0), k / 2.0, (n - k) / 2.0)).clamp(0.0, 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::Seed;
    use crate::base::seed::uniform;

    /// Sets of a p-value, the same again with a little noise, and one of its own raised to a power.
    fn sets(seed: u64, power: f64) -> Vec<Vec<f64>> {
        let mut rng = Seed::new(seed).stream("sets", 0);
        let mut one = || {
            let (a, b, c) = (uniform(&mut rng), uniform(&mut rng), uniform(&mut rng));
            vec![a, (a + 0.1 * b).fract(), c.powf(power)]
        };
        (0..400).map(|_| one()).collect()
    }

    #[test]
    fn one_test_and_two_bins_is_a_t_test() {
        // 30 of 40 below a half: m = 0.75, S = 0.75 * 0.25 * 40 / 39, T^2 = 40 * 0.25^2 / S = 13, F(1, 39).
        let sets: Vec<Vec<f64>> = (0..40).map(|i| vec![if i < 30 { 0.2 } else { 0.8 }]).collect();
        let got = jointly_uniform(&sets, 2).expect("a test");
        assert!((got.t_squared - 13.0).abs() < 1e-10, "{got:?}");
        // R: 2 * pt(-sqrt(13), 39) = 0.000874; from memory of the table: t(0.9995; 39) = 3.558.
        assert!(got.p_value > 0.0005 && got.p_value < 0.001, "{got:?}");
    }

    #[test]
    fn dependent_p_values_pass_and_crooked_ones_fail() {
        let rejected =
            (0..200).filter(|&s| jointly_uniform(&sets(s, 1.0), 5).is_some_and(|u| u.p_value < 0.05)).count();
        assert!((2..=22).contains(&rejected), "{rejected} of 200"); // 10 expected, 4 standard errors
        assert!(jointly_uniform(&sets(1, 1.5), 5).is_some_and(|u| u.p_value < 0.001));
    }

    #[test]
    fn too_little_is_no_test() {
        assert!(jointly_uniform(&[], 5).is_none());
        assert!(jointly_uniform(&vec![vec![0.5]; 7], 5).is_none());
        assert!(jointly_uniform(&vec![vec![0.5]; 40], 1).is_none());
    }
}
