//! Blocks with known cause, for calibration, tests, power and the demo.
//!
//! A [`Scenario`] says what was planted where and what made vines fail; [`simulate`] draws a block from it and
//! returns the truth beside it. [`draw_scenario`] draws the scenario too, from the prior that the model of `cause`
//! states; [`draw_scene`] draws one of the scenes that growers know. [`files()`] writes any block as a grower's
//! folder, and [`demo()`] is one such folder.

pub mod demo;
pub mod design;
pub mod effect;
pub mod fate;
pub mod files;
mod planting;
pub mod prior;
mod random;
mod record;
pub mod scenario;
pub mod scene;
mod settings;
mod walking;

pub use demo::{Demo, demo};
pub use design::Design;
pub use effect::Truth;
pub use fate::Fate;
pub use files::{DateForm, Decimal, Delimiter, Dialect, LineEnd, files};
pub use prior::{Cause, Drawn, Prior, Weights, cause_name, draw_scenario, scenario_of};
pub use scenario::{
    Consignment, Dealt, Dying, Effects, Growth, Hollow, Measured, OddStretch, OrderStep, Pool, Scenario, SmoothField,
    WalkPlan,
};
pub use scene::{Scene, Strength, draw_scene};

use crate::base::Seed;
use crate::block::Block;

/// A simulated block with what it was drawn from. Vines stand row by row, then by position.
#[derive(Clone, Debug)]
pub struct Simulated {
    pub block: Block,
    /// Probability of having failed by the last walk, of each vine, by index.
    pub failure_probability: Vec<f64>,
    /// What became of each vine, by index.
    pub fates: Vec<Fate>,
    pub truth: Truth,
}

/// Draws a block. Every kind of chance has a stream of its own, so that the same seed with one more walk, or with
/// another effect, moves nothing else. Time and memory grow with the number of places.
pub fn simulate(scenario: &Scenario, seed: Seed) -> Simulated {
    let planting = planting::plant(scenario, seed);
    let truth = effect::draw(scenario, &planting, seed);
    let failure_probability = effect::probabilities(scenario, &planting, &truth);
    let fates = fate::draw(scenario, &failure_probability, seed);
    let canes = fate::grow(scenario, &planting, &truth, seed);
    let walks = walking::walk(scenario, &fates, &canes, seed);
    let block = record::block(scenario, &planting, walks);
    Simulated { block, failure_probability, fates, truth }
}
