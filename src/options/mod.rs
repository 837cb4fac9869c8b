//! What each course of action costs, when it first crops and when the block is fully productive.
//!
//! First edition, honest and simple. The way: `scene` (the places as triage sorted them) and the steps of each
//! option (`standard`, or a course of block.toml) are compiled to cohorts and paid jobs (`plan`); these are
//! followed through the years (`path`) with the values of the expected path or of one draw (`values`, `chance`),
//! ranked (`rank`), and the values moved one by one (`sensitivity`).
//!
//! What it takes for granted: all vines of the block are of its commonest variety, clone and rootstock; what the key
//! replaces or holds is failed, all else lives, also what nobody looked at; vines taken up and older ones are on time,
//! those cut back or moved late by the years assumed, those to look at again partly the one and partly the other; what
//! fails of the newly planted is replanted once, the winter after; neighbours don't make up for a gap; a material's price and crop are one
//! level per draw, not one per year. A claim's worth is left out.
//!
//! With draws, `yearly`, `evenness` and the cash low point are those of the mean path, so that `yearly` discounted is
//! the mean present value; the cash goal ranks draws by their own low points. Without draws all spreads are one value.

pub mod catalogue;
mod chance;
mod outlook;
pub mod path;
pub mod plan;
mod rank;
pub mod scene;
mod sensitivity;
pub mod standard;
pub mod values;
mod why;

pub use path::present_value;
pub use standard::{STANDARD, Standard};

use crate::base::words;
use crate::base::{Assumption, Documented, Known, Seed, SourceKey};
use crate::block::{Block, Course};
use crate::rates::Draws;
use crate::tally::Tally;
use crate::triage::Triage;
use chance::{Entry, follow};
use path::Priced;
use plan::{Plan, Problem, compile};
use rank::Ranking;
use scene::Scene;
use sensitivity::Study;
use serde::Serialize;
use values::{Model, USED, horizon};

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

/// What is known of the block at the walk.
#[derive(Clone, Copy, Debug)]
pub struct Walked<'a> {
    pub tally: &'a Tally,
    /// Draws of its rates; none: the batches by themselves say what a new one may do.
    pub draws: Option<&'a Draws>,
    pub triage: &'a Triage,
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
    pub vines_needed: Vec<VinesNeeded>,
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

/// Places that an option fills with one material.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct VinesNeeded {
    pub material: String,
    pub places: u64,
    /// Of these, gaps among older vines, where a new vine has a harder start (`take.replant_factor`).
    pub among_older: u64,
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
    /// 0 is the winter of the walk: its steps, before any harvest.
    pub year: u32,
    /// Calendar year of the harvest; absent where the walk has no date.
    pub harvest: Known<i16>,
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

/// Weighs the standard options and those of block.toml.
///
/// # Errors
/// An option of block.toml that can't be carried out as written, with a way out. Standard options never refuse: one
/// that can't be had on this block is listed with the reason and no figures.
pub fn options(block: &Block, walk: &Walked, config: &Config, seed: Seed) -> Result<Options, Refused> {
    let scene = Scene::of(block, walk);
    let candidates = candidates(&scene)?;
    let entries: Vec<Entry> = candidates.iter().map(|c| c.entry(&scene)).collect();
    let model = Model::new(&block.assumptions, &scene.catalogue.stocks, entries.iter().map(|e| &e.plan));
    let expected = model.expected();
    let outcome = follow(&entries, &model, &expected, config.draws, seed);
    let possible: Vec<bool> = candidates.iter().map(|c| c.impossible.is_none()).collect();
    let valued = entries.iter().zip(&possible).filter(|(e, p)| **p && e.priced.income).count();
    let ranking = Ranking::of(block.goal, valued);
    let weighed = outlook::weigh(&scene, &candidates, &entries, &outcome, &expected, ranking, config.draws);
    let names: Vec<String> = candidates.iter().map(|c| c.name.clone()).collect();
    let study = Study {
        entries: &entries,
        possible: &possible,
        names: &names,
        model: &model,
        expected: &expected,
        ranking,
        limits: &block.limits,
        first_harvest: scene.first_harvest,
    };
    Ok(Options {
        goal: ranking.name(),
        recommended: weighed.recommended(),
        why: why::sentence(&weighed, ranking, block, &expected),
        switch_points: study.switch_points(),
        drivers: study.drivers(),
        value_of_information: Known::absent(words::base::LATER, words::base::LATER_HELP),
        assumptions: block.assumptions.list().into_iter().filter(|a| USED.contains(&a.name.as_str())).collect(),
        sources: vec!["bioletti-1922", "brealey-myers-1981"],
        options: weighed.outlooks,
    })
}

/// An option before it is followed.
struct Candidate {
    name: String,
    origin: &'static str,
    what: String,
    plan: Plan,
    /// Why a standard option can't be had on this block.
    impossible: Option<Problem>,
}

impl Candidate {
    fn entry(&self, scene: &Scene) -> Entry {
        let stocks = self.plan.cohorts.iter().filter_map(|(c, _)| scene.catalogue.stocks.get(c.stock));
        let crop = stocks.clone().all(|s| s.mature_crop_kg.is_some());
        let income = crop && stocks.clone().all(|s| s.price_per_kg.is_some());
        Entry { plan: self.plan.clone(), priced: Priced { crop, income } }
    }
}

fn candidates(scene: &Scene) -> Result<Vec<Candidate>, Refused> {
    let mut all: Vec<Candidate> = STANDARD.iter().map(|s| from_standard(scene, s)).collect();
    for course in &scene.block.courses {
        all.push(from_course(scene, course)?);
    }
    Ok(all)
}

fn from_standard(scene: &Scene, standard: &Standard) -> Candidate {
    let years = horizon(&scene.block.assumptions) as u32;
    let followed = (standard.steps)(scene).and_then(|steps| {
        let what = outlook::standard_in_words(scene, standard, &steps);
        Ok((what, compile(scene, &steps, years)?))
    });
    let (what, plan, impossible) = match followed {
        Ok((what, plan)) => (what, plan, None),
        Err(problem) => (problem.problem.clone(), Plan::default(), Some(problem)),
    };
    Candidate { name: standard.name.into(), origin: "standard", what, plan, impossible }
}

fn from_course(scene: &Scene, course: &Course) -> Result<Candidate, Refused> {
    let years = horizon(&scene.block.assumptions) as u32;
    let refused = |p: Problem| Refused { option: course.name.clone(), problem: p.problem, way_out: p.way_out };
    Ok(Candidate {
        name: course.name.clone(),
        origin: "block.toml",
        what: outlook::steps_in_words(scene, &course.steps),
        plan: compile(scene, &course.steps, years).map_err(refused)?,
        impossible: None,
    })
}
