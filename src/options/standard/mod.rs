//! The standard options. A new one is a file beside these and a line in [`STANDARD`].

mod gather;
mod leave_gaps;
mod replant_other;
mod replant_same;
mod start_again;

use super::plan::Problem;
use super::scene::Scene;
use crate::block::Step;

/// A standard option: the same steps that a course of block.toml has, found from the scene.
#[derive(Clone, Copy)]
pub struct Standard {
    pub name: &'static str,
    /// What is done; `{failed}`, `{living}`, `{material}`, `{rows}` and `{when}` are filled from the scene and the steps.
    pub what: &'static str,
    /// The steps, or why the option can't be had on this block.
    pub steps: fn(&Scene) -> Result<Vec<Step>, Problem>,
}

/// In the order in which documents list them.
pub const STANDARD: &[Standard] =
    &[leave_gaps::OPTION, replant_same::OPTION, replant_other::OPTION, gather::OPTION, start_again::OPTION];
