//! One block, every answer: runs the rooms in order, once.

use crate::base::{Assumptions, Header, Seed};
use crate::block::Block;
use crate::intake::{Check, Reading, SetAside};
use crate::{cause, options, order, rates, tally, triage};
use jiff::civil::Date;

/// What the user chose on the command line.
#[derive(Clone, Debug)]
pub struct Settings {
    pub seed: Seed,
    /// Level of intervals, in (0, 1).
    pub level: f64,
    /// Draws of uncertain quantities; 0: expected values only.
    pub draws: usize,
    pub survey: Option<Date>,
    /// The difference in stand that `rates` is asked about, in (0, 1).
    pub power: Option<f64>,
    /// What of the rates' model is asked for beside its random factors.
    pub model: rates::ModelConfig,
}

impl Default for Settings {
    fn default() -> Self {
        Settings { seed: Seed::new(1), level: 0.9, draws: 2_000, survey: None, power: None, model: Default::default() }
    }
}

/// All answers for one block.
#[derive(Clone, Debug)]
pub struct Study {
    pub settings: Settings,
    pub block: Block,
    pub check: Check,
    pub set_aside: Vec<SetAside>,
    pub tally: tally::Tally,
    pub rates: rates::Rates,
    pub cause: cause::Cause,
    pub triage: triage::Triage,
    pub options: Result<options::Options, options::Refused>,
    pub orders: Option<order::Orders>,
}

impl Study {
    /// Runs every analysis.
    pub fn run(reading: Reading, settings: Settings) -> Result<Study, tally::NoTally> {
        let tally = tally::tally(&reading.block, settings.survey)?;
        let block = reading.block;
        let set_aside_lines = reading.set_aside.len() as u64;
        let rates = rates::rates(&tally, set_aside_lines, &rates_config(&settings, &block), settings.seed);
        let cause = cause::cause(&tally, &cause_config(&settings, &block), settings.seed);
        let triage = triage::triage(&block, &tally);
        let walked = options::Walked { tally: &tally, draws: rates.draws.as_ref(), triage: &triage };
        let options = options::options(&block, &walked, &options::Config { draws: settings.draws }, settings.seed);
        let orders = options.as_ref().ok().and_then(|o| order::order(&block, &tally, walked.draws, o, None));
        Ok(Study {
            settings,
            block,
            check: reading.check,
            set_aside: reading.set_aside,
            tally,
            rates,
            cause,
            triage,
            options,
            orders,
        })
    }

    /// What its documents echo.
    pub fn header(&self) -> Header {
        header(&self.block, &self.tally, &self.settings)
    }
}

/// What the documents of a block echo.
pub fn header(block: &Block, tally: &tally::Tally, settings: &Settings) -> Header {
    Header {
        block: block.name.clone(),
        surveyed_on: tally.walk.map(|(_, last)| last),
        seed: settings.seed,
        level: settings.level,
    }
}

/// What a document over all blocks of an estate echoes.
pub fn estate_header(estate: &str, pooled: &tally::Tally, settings: &Settings) -> Header {
    Header {
        block: estate.into(),
        surveyed_on: pooled.walk.map(|(_, last)| last),
        seed: settings.seed,
        level: settings.level,
    }
}

/// Rates over all blocks of an estate. Assumptions are those that the blocks share; where they differ, the defaults.
///
/// Errors: the blocks can't be pooled.
pub fn pooled_rates(
    blocks: &[(&Reading, &tally::Tally)],
    settings: &Settings,
) -> Result<(tally::Tally, rates::Rates), tally::NotPooled> {
    let tallies: Vec<(&Block, &tally::Tally)> =
        blocks.iter().map(|(reading, tally)| (&reading.block, *tally)).collect();
    let assumptions: Vec<&Assumptions> = blocks.iter().map(|(reading, _)| &reading.block.assumptions).collect();
    let set_aside = blocks.iter().map(|(reading, _)| reading.set_aside.len() as u64).sum();
    let shared = Assumptions::shared(&assumptions);
    let model = settings.model.clone();
    let config = rates::Config { model, ..rates::Config::new(settings.level, &shared) };
    let tally = tally::pooled(&tallies)?;
    let rates = rates::rates(&tally, set_aside, &config, settings.seed);
    Ok((tally, rates))
}

/// The rates' settings that follow from the command line and the block's assumptions.
pub fn rates_config(settings: &Settings, block: &Block) -> rates::Config {
    let power = rates::PowerConfig::new(settings.power, &block.assumptions);
    let model = settings.model.clone();
    rates::Config { power, model, ..rates::Config::new(settings.level, &block.assumptions) }
}

/// The cause's settings that follow from the command line and the block's assumptions.
pub fn cause_config(settings: &Settings, block: &Block) -> cause::Config {
    let assumptions = &block.assumptions;
    cause::Config {
        level: settings.level,
        permutations: assumptions.get("evidence.permutations") as usize,
        signature: cause::signature::Config::new(assumptions),
        unsettled: cause::unsettled::Config::new(settings.level, assumptions),
    }
}
