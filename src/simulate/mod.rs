//! Blocks with known cause, for calibration, tests, power and the demo.

use crate::base::Seed;
use crate::block::Block;

/// A block to simulate: layout, who was planted where, what made vines fail.
#[derive(Clone, Debug, Default)]
pub struct Scenario {}

/// A simulated block with the probabilities it was drawn from.
#[derive(Clone, Debug)]
pub struct Simulated {
    pub block: Block,
    /// Probability of failure of each vine, by index.
    pub failure_probability: Vec<f64>,
}

pub fn simulate(scenario: &Scenario, seed: Seed) -> Simulated {
    let _ = (scenario, seed);
    todo!()
}
