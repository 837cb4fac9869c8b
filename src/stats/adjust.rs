//! P-values adjusted for having looked at several.
//!
//! Letters: p(1) <= ... <= p(m) the p-values in rising order, i the rank. Each adjusted value is the smallest level
//! at which its hypothesis would be rejected.

/// A way of adjusting. The first four keep the chance of any false finding at the level, the last two the expected
/// share of false ones among the findings.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Adjustment {
    /// m p.
    Bonferroni,
    /// Step down: running maximum of (m-i+1) p(i). Any dependence (Holm 1979, `holm-1979`).
    Holm,
    /// Step up: running minimum from the largest of (m-i+1) p(i). Independent or positively dependent tests
    /// (Hochberg 1988, `hochberg-1988`).
    Hochberg,
    /// Closed testing with Simes' test (Hommel 1988, `hommel-1988`; algorithm of Wright 1992, `wright-1992`). As Hochberg, never larger.
    Hommel,
    /// Running minimum from the largest of m p(i) / i (Benjamini & Hochberg 1995, `benjamini-hochberg-1995`).
    BenjaminiHochberg,
    /// The same times 1 + 1/2 + ... + 1/m: any dependence (Benjamini & Yekutieli 2001, `benjamini-yekutieli-2001`).
    BenjaminiYekutieli,
}

/// The p-values adjusted, in the order given, in 0..1. What is not a number counts as 1.
pub fn adjust(p_values: &[f64], adjustment: Adjustment) -> Vec<f64> {
    let p: Vec<f64> = p_values.iter().map(|&p| if p.is_nan() { 1.0 } else { p.clamp(0.0, 1.0) }).collect();
    let mut order: Vec<usize> = (0..p.len()).collect();
    order.sort_by(|&a, &b| p[a].total_cmp(&p[b]));
    let sorted: Vec<f64> = order.iter().map(|&i| p[i]).collect();
    let mut result = p;
    for (&place, value) in order.iter().zip(in_order(&sorted, adjustment)) {
        result[place] = value.min(1.0);
    }
    result
}

/// Adjusted values of p-values in rising order.
fn in_order(p: &[f64], adjustment: Adjustment) -> Vec<f64> {
    let m = p.len() as f64;
    let times = |factor: &dyn Fn(f64) -> f64| p.iter().zip(1u32..).map(|(p, i)| p * factor(f64::from(i))).collect();
    match adjustment {
        Adjustment::Bonferroni => times(&|_| m),
        Adjustment::Holm => running_maximum(times(&|i| m - i + 1.0)),
        Adjustment::Hochberg => running_minimum(times(&|i| m - i + 1.0)),
        Adjustment::Hommel => hommel(p),
        Adjustment::BenjaminiHochberg => running_minimum(times(&|i| m / i)),
        Adjustment::BenjaminiYekutieli => {
            let harmonic: f64 = (1..=p.len()).map(|i| 1.0 / i as f64).sum();
            running_minimum(times(&|i| harmonic * m / i))
        }
    }
}

fn running_maximum(mut values: Vec<f64>) -> Vec<f64> {
    let mut most = 0.0f64;
    for value in &mut values {
        most = most.max(*value);
        *value = most;
    }
    values
}

fn running_minimum(mut values: Vec<f64>) -> Vec<f64> {
    let mut least = 1.0f64;
    for value in values.iter_mut().rev() {
        least = least.min(*value);
        *value = least;
    }
    values
}

/// Wright (1992), appendix: for every size of an intersection that holds a hypothesis, Simes' p-value of the one
/// least in its favour (itself with the largest of the others); the adjusted value is the largest of these.
fn hommel(p: &[f64]) -> Vec<f64> {
    let m = p.len();
    // The least of size * p / rank over the `count` largest p-values, ranked up to `size`.
    let simes = |size: usize, count: usize| {
        let ranked = p[m - count..].iter().zip(size - count + 1..);
        ranked.map(|(p, rank)| size as f64 * p / rank as f64).fold(f64::INFINITY, f64::min)
    };
    let mut adjusted = vec![simes(m, m); m];
    for size in 2..m {
        let others = simes(size, size - 1);
        for (i, adjusted) in adjusted.iter_mut().enumerate() {
            // One of the `size` largest is met by exactly these.
            let own = size as f64 * p[i.min(m - size)];
            *adjusted = adjusted.max(own.min(others));
        }
    }
    adjusted.iter().zip(p).map(|(a, p)| a.max(*p)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use Adjustment::*;

    #[track_caller]
    fn is(adjustment: Adjustment, want: [f64; 3]) {
        let got = adjust(&[0.03, 0.01, 0.04], adjustment);
        assert!(got.iter().zip(want).all(|(g, w)| (g - w).abs() < 1e-15), "{adjustment:?} {got:?}");
    }

    #[test]
    fn three_p_values_by_hand() {
        is(Bonferroni, [0.09, 0.03, 0.12]);
        is(Holm, [0.06, 0.03, 0.06]);
        is(Hochberg, [0.04, 0.03, 0.04]);
        is(Hommel, [0.04, 0.03, 0.04]);
        is(BenjaminiHochberg, [0.04, 0.03, 0.04]);
        is(BenjaminiYekutieli, [0.04 * 11.0 / 6.0, 0.03 * 11.0 / 6.0, 0.04 * 11.0 / 6.0]);
    }

    #[test]
    fn odd_input_is_harmless() {
        for adjustment in [Bonferroni, Holm, Hochberg, Hommel, BenjaminiHochberg, BenjaminiYekutieli] {
            assert!(adjust(&[], adjustment).is_empty());
            assert_eq!(adjust(&[0.2], adjustment), [0.2]);
            assert_eq!(adjust(&[f64::NAN, 3.0], adjustment), [1.0, 1.0]);
        }
    }
}
