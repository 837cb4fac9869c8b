//! An uncertain quantity as a grower states it: 10 %, 50 % and 90 % points.

use serde::{Deserialize, Serialize};

/// The 90 % point of the standard normal distribution.
const Z90: f64 = 1.281_551_565_544_600_4;

/// Where a quantity lives, which decides the scale on which it is split-normal.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Scale {
    /// An amount above 0: normal halves on the log scale.
    Amount,
    /// A rate between 0 and 1: normal halves on the logit scale.
    Rate,
}

/// A number, or three quantiles with p10 <= p50 <= p90.
///
/// Split-normal on the scale's transform: median p50, left and right standard deviation such that both other
/// quantiles are met (each half carries probability 1/2).
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub struct Quantity {
    pub p10: f64,
    pub p50: f64,
    pub p90: f64,
}

impl Quantity {
    /// A number without uncertainty.
    pub fn certain(value: f64) -> Self {
        Quantity { p10: value, p50: value, p90: value }
    }

    /// The value below which the quantity lies with probability normal-cdf(z).
    pub fn at_z(&self, z: f64, scale: Scale) -> f64 {
        let outer = if z < 0.0 { self.p10 } else { self.p90 };
        if outer == self.p50 {
            return self.p50;
        }
        let (mid, out) = (forward(self.p50, scale), forward(outer, scale));
        if !mid.is_finite() || !out.is_finite() {
            return self.p50;
        }
        backward(mid + (out - mid).abs() * z / Z90, scale)
    }

    /// Mean and standard deviation on the logit scale of the normal distribution with the median of a rate and as wide
    /// from p10 to p90; the standard deviation is 0.001 at least.
    pub fn logit_normal(&self) -> (f64, f64) {
        let logit = |rate: f64| forward(rate.clamp(1e-15, 1.0 - 1e-15), Scale::Rate);
        (logit(self.p50), ((logit(self.p90) - logit(self.p10)) / (2.0 * Z90)).max(1e-3))
    }

    /// Whether the three points are finite, in order and inside the scale.
    pub fn is_valid(&self, scale: Scale) -> bool {
        let inside = |v: f64| match scale {
            Scale::Amount => v.is_finite() && v >= 0.0,
            Scale::Rate => (0.0..=1.0).contains(&v),
        };
        inside(self.p10) && inside(self.p90) && self.p10 <= self.p50 && self.p50 <= self.p90
    }
}

fn forward(value: f64, scale: Scale) -> f64 {
    match scale {
        Scale::Amount => value.ln(),
        Scale::Rate => (value / (1.0 - value)).ln(),
    }
}

fn backward(value: f64, scale: Scale) -> f64 {
    match scale {
        Scale::Amount => value.exp(),
        Scale::Rate => 1.0 / (1.0 + (-value).exp()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn all_three_points_are_met() {
        let q = Quantity { p10: 0.82, p50: 0.93, p90: 0.98 };
        for (z, want) in [(-Z90, 0.82), (0.0, 0.93), (Z90, 0.98)] {
            assert!((q.at_z(z, Scale::Rate) - want).abs() < 1e-12);
        }
        let q = Quantity { p10: 0.9, p50: 1.2, p90: 1.5 };
        for (z, want) in [(-Z90, 0.9), (0.0, 1.2), (Z90, 1.5)] {
            assert!((q.at_z(z, Scale::Amount) - want).abs() < 1e-12);
        }
        assert_eq!(Quantity::certain(0.0).at_z(1.0, Scale::Amount), 0.0);
    }
}
