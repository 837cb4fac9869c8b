//! A density known by its logarithm at a few points, log-linear between them.

/// Sampled and evaluated in closed form.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Piecewise {
    points: Vec<f64>,
    /// ln density at the points, normalised.
    logs: Vec<f64>,
    /// Probability up to each point.
    below: Vec<f64>,
}

impl Piecewise {
    /// From rising points, two or more, and finite logarithms up to a constant.
    pub fn new(points: Vec<f64>, mut logs: Vec<f64>) -> Self {
        let most = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        logs.iter_mut().for_each(|l| *l -= most);
        let mut below = vec![0.0];
        for i in 1..points.len() {
            let piece = area(points[i] - points[i - 1], logs[i - 1], logs[i]);
            below.push(below[i - 1] + piece);
        }
        let total = below.last().copied().unwrap_or(1.0);
        below.iter_mut().for_each(|b| *b /= total);
        logs.iter_mut().for_each(|l| *l -= total.ln());
        Piecewise { points, logs, below }
    }

    /// The value below which lies probability `p`.
    pub fn quantile(&self, p: f64) -> f64 {
        let last = self.points.len() - 1;
        let i = self.below.partition_point(|b| *b <= p).clamp(1, last);
        let (width, left, right) = (self.points[i] - self.points[i - 1], self.logs[i - 1], self.logs[i]);
        let (slope, share) = ((right - left) / width, (p - self.below[i - 1]) * (-left).exp());
        let step = if (slope * width).abs() < 1e-9 { share } else { (slope * share).max(-1.0 + 1e-15).ln_1p() / slope };
        self.points[i - 1] + step.clamp(0.0, width)
    }

    /// Normal deviate of the probability below `x`, and ln density at `x`.
    pub fn ln_density(&self, x: f64) -> f64 {
        let last = self.points.len() - 1;
        let i = self.points.partition_point(|p| *p <= x).clamp(1, last);
        let share = (x - self.points[i - 1]) / (self.points[i] - self.points[i - 1]);
        self.logs[i - 1] + share * (self.logs[i] - self.logs[i - 1])
    }
}

/// Integral of exp of a straight line from `left` to `right` over `width`.
fn area(width: f64, left: f64, right: f64) -> f64 {
    let rise = right - left;
    let mean = if rise.abs() < 1e-6 { 1.0 + 0.5 * rise } else { rise.exp_m1() / rise };
    width * left.exp() * mean
}

#[cfg(test)]
mod tests {
    use super::*;

    /// exp(-x) on [0, 3]: log-linear itself, so everything is exact.
    #[test]
    fn an_exponential_is_exact() {
        let density = Piecewise::new(vec![0.0, 1.0, 3.0], vec![5.0, 4.0, 2.0]);
        let whole = 1.0 - (-3f64).exp();
        for p in [0.0, 0.1, 0.5, 0.9, 1.0] {
            let want = -(1.0 - p * whole).ln();
            assert!((density.quantile(p) - want).abs() < 1e-12, "{p}");
        }
        assert!((density.ln_density(2.0) - (-2.0 - whole.ln())).abs() < 1e-12);
    }
}
