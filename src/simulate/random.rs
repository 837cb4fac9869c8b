//! Draws that the simulator needs beyond the uniform.

use crate::base::seed::uniform;
use rand::Rng;

/// A standard normal (Box & Muller 1958, Ann. Math. Stat. 29:610).
pub(super) fn normal(rng: &mut impl Rng) -> f64 {
    let radius = (-2.0 * uniform(rng).ln()).sqrt();
    radius * (std::f64::consts::TAU * uniform(rng)).cos()
}

/// Whether something of this probability happens. Certain things take no draw.
pub(super) fn happens(probability: f64, rng: &mut impl Rng) -> bool {
    probability >= 1.0 || (probability > 0.0 && uniform(rng) < probability)
}

/// An exponential of this mean.
pub(super) fn exponential(mean: f64, rng: &mut impl Rng) -> f64 {
    -mean * uniform(rng).ln()
}

/// A uniform between two numbers.
pub(super) fn between(low: f64, high: f64, rng: &mut impl Rng) -> f64 {
    low + (high - low) * uniform(rng)
}

/// A whole number from `low` to `high`, both included.
pub(super) fn whole(low: u32, high: u32, rng: &mut impl Rng) -> u32 {
    low + crate::base::seed::below(rng, (high.max(low) - low + 1) as usize) as u32
}

/// A log-uniform between two positive numbers.
pub(super) fn between_logs(low: f64, high: f64, rng: &mut impl Rng) -> f64 {
    between(low.ln(), high.ln(), rng).exp()
}
