//! A bell-shaped density known at evenly spaced points: integrated by the trapezoid rule, drawn by straight lines
//! between the points. Lines widen a bell: spacing^2 / 6 is added to its variance, which is taken off again about the mean.

/// The density of one variable.
pub(super) struct Even {
    first: f64,
    step: f64,
    /// Density at the points, up to a factor.
    values: Vec<f64>,
    total: f64,
    mean: f64,
    shrink: f64,
    /// ln of the integral.
    pub log_integral: f64,
}

impl Even {
    /// From the logarithms at `first`, `first + step` and so on: three points or more that reach into both tails.
    pub fn new(first: f64, step: f64, logs: Vec<f64>) -> Self {
        let most = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let mut values = logs;
        values.iter_mut().for_each(|l| *l = (*l - most).exp());
        let (mut total, mut sum, mut squares) = (0.0, 0.0, 0.0);
        for (i, value) in values.iter().enumerate() {
            let x = i as f64;
            (total, sum, squares) = (total + value, sum + value * x, squares + value * x * x);
        }
        let mean = sum / total;
        let variance = (squares / total - mean * mean).max(1e-12);
        Even {
            first,
            step,
            total,
            mean: first + step * mean,
            shrink: (variance / (variance + 1.0 / 6.0)).sqrt(),
            log_integral: most + (total * step).ln(),
            values,
        }
    }

    /// The value below which lies probability `p` in (0, 1).
    pub fn quantile(&self, p: f64) -> f64 {
        // Each point is the top of a triangle that reaches to its neighbours.
        let mut left = p * self.total - 0.5 * self.values[0];
        let last = self.values.len() - 1;
        let mut piece = 0;
        while piece + 1 < last && left > 0.5 * (self.values[piece] + self.values[piece + 1]) {
            left -= 0.5 * (self.values[piece] + self.values[piece + 1]);
            piece += 1;
        }
        let (a, b) = (self.values[piece], self.values[piece + 1]);
        let share = along(a, b, left.max(0.0));
        let x = self.first + self.step * (piece as f64 + share);
        self.mean + self.shrink * (x - self.mean)
    }
}

/// Share of a piece whose density goes from a to b up to which the area `left` lies.
fn along(a: f64, b: f64, left: f64) -> f64 {
    let root = (a * a + 2.0 * (b - a) * left).max(0.0).sqrt();
    let share = if a + root > 0.0 { 2.0 * left / (a + root) } else { 0.5 };
    share.clamp(0.0, 1.0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::special::normal_quantile;

    /// Points 0.75 sds apart, out to 5.25: a normal density comes back.
    #[test]
    fn a_normal_density_is_drawn_as_one() {
        let logs = (-7..=7).map(|i| -0.5 * (0.75 * f64::from(i)).powi(2)).collect();
        let even = Even::new(1.0 - 7.0 * 0.75 * 2.0, 0.75 * 2.0, logs);
        assert!((even.log_integral - (2.0 * std::f64::consts::PI.sqrt() * 2f64.sqrt()).ln()).abs() < 1e-6);
        for p in [0.01, 0.05, 0.25, 0.5, 0.75, 0.95, 0.99] {
            let want = 1.0 + 2.0 * normal_quantile(p);
            assert!((even.quantile(p) - want).abs() < 2.0 * 0.012, "{p}: {} {want}", even.quantile(p));
        }
    }
}
