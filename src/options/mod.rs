//! What each course of action costs, when it first crops and when the block is fully productive.

use crate::base::{Assumption, Documented, Known, Seed, SourceKey};
use crate::block::Block;
use crate::tally::Tally;
use crate::triage::Triage;
use serde::Serialize;

/// Settings of [`options()`].
#[derive(Clone, Debug)]
pub struct Config {
    /// Draws of the uncertain quantities; 0: the expected path only.
    pub draws: usize,
}

impl Default for Config {
    fn default() -> Self {
        Config { draws: 2_000 }
    }
}

/// The document `options`. Money in the block's currency, at the winter of the walk.
#[derive(Clone, Debug, Serialize)]
pub struct Options {
    pub options: Vec<Outlook>,
    /// `present_value`, `full_crop_year`, `evenness` or `cash_low_point`: what the options were ranked by.
    pub goal: &'static str,
    pub recommended: Known<String>,
    pub why: String,
    pub switch_points: Vec<SwitchPoint>,
    pub drivers: Vec<Driver>,
    pub value_of_information: Known<Vec<Information>>,
    pub assumptions: Vec<Assumption>,
    #[serde(skip)]
    pub sources: Vec<SourceKey>,
}

#[derive(Clone, Debug, Serialize)]
pub struct Outlook {
    pub name: String,
    /// Where the option comes from: `standard` or `block.toml`.
    pub origin: &'static str,
    /// What is done, in plain words.
    pub what: String,
    pub present_value: Known<Spread>,
    /// The deepest point of the running cash balance, negative or 0.
    pub cash_low_point: Known<f64>,
    pub first_crop_year: Known<YearSpread>,
    pub full_crop_year: Known<YearSpread>,
    pub probability_best: Known<f64>,
    pub labour_hours: f64,
    /// Share of places at the commonest stage, per year, 0..1.
    pub evenness: Vec<f64>,
    pub yearly: Vec<Year>,
    /// Vines to buy, by material.
    pub vines_needed: Vec<(String, u64)>,
    /// Limits of block.toml that the option breaks, in plain words; none: it can be done.
    pub breaks: Vec<String>,
}

#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Spread {
    pub mean: f64,
    pub p10: f64,
    pub p50: f64,
    pub p90: f64,
}

/// Years count harvests from the walk: year 1 is the coming season's. Absent where not reached at that probability.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct YearSpread {
    pub p10: Known<u32>,
    pub p50: Known<u32>,
    pub p90: Known<u32>,
    pub probability_within_horizon: f64,
}

#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Year {
    pub year: u32,
    /// Calendar year of the harvest.
    pub harvest: i16,
    pub cost: f64,
    pub income: Known<f64>,
    pub crop_kg: Known<f64>,
    /// Crop as a share of the full block's.
    pub crop_share: f64,
}

#[derive(Clone, Debug, Serialize)]
pub struct SwitchPoint {
    pub assumption: String,
    pub value_now: f64,
    pub value_at_switch: f64,
    pub to_option: String,
}

#[derive(Clone, Debug, Serialize)]
pub struct Driver {
    pub assumption: String,
    pub share: f64,
}

#[derive(Clone, Debug, Serialize)]
pub struct Information {
    pub about: String,
    pub worth: f64,
}

impl Documented for Options {
    const SCHEMA: &'static str = "options";
    fn sources(&self) -> Vec<SourceKey> {
        self.sources.clone()
    }
}

/// An option named in block.toml that can't be carried out as written.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[error("option \"{option}\": {problem}; {way_out}")]
pub struct Refused {
    pub option: String,
    pub problem: String,
    pub way_out: String,
}

pub fn options(block: &Block, tally: &Tally, triage: &Triage, config: &Config, seed: Seed) -> Result<Options, Refused> {
    let _ = (block, tally, triage, config, seed);
    todo!()
}
