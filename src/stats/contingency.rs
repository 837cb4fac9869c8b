//! Exact and asymptotic tests of r x c tables.

use crate::base::Seed;

/// A p-value with how it was had.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ExactTest {
    pub p_value: f64,
    /// 0 where every table was counted.
    pub monte_carlo_error: f64,
    /// `freeman_halton_exact` or `freeman_halton_monte_carlo`.
    pub method: &'static str,
}

/// Freeman & Halton (1951): probability of a table at most as probable as this one, margins fixed.
/// Rows of two counts each `[failed, alive]`, or any r x c. Exact where few tables exist, else `simulations` tables.
pub fn freeman_halton(rows: &[Vec<u64>], simulations: usize, seed: Seed) -> ExactTest {
    let _ = (rows, simulations, seed);
    todo!()
}
