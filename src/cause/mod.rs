//! Which explanation the evidence supports. Never sees money.

mod rerandomise;
mod separable;
mod weigh;

pub use rerandomise::Test;
pub use weigh::{Associated, Explanation, PlaceEffect, Prior, Stretch, Tied};

use crate::base::words::{base::LATER_HELP, cause as words};
use crate::base::{Assumptions, Documented, Known, Seed, SourceKey, Why};
use crate::stats::permute::Effort;
use crate::tally::Tally;
use serde::Serialize;

/// Settings of [`cause()`].
#[derive(Clone, Debug)]
pub struct Config {
    pub level: f64,
    /// Re-arrangements per test.
    pub permutations: usize,
    pub prior: Prior,
}

impl Default for Config {
    fn default() -> Self {
        Config::new(0.9, &Assumptions::default())
    }
}

impl Config {
    /// Re-arrangements and prior as the assumptions `evidence.permutations` and `explanation.*` say.
    pub fn new(level: f64, assumptions: &Assumptions) -> Self {
        Config {
            level,
            permutations: assumptions.get("evidence.permutations") as usize,
            prior: Prior::new(assumptions),
        }
    }
}

/// The document `cause`.
#[derive(Clone, Debug, Serialize)]
pub struct Cause {
    pub seen: u64,
    pub failed: u64,
    pub verdict: Known<String>,
    pub cannot_tell_between: Vec<String>,
    pub explanations: Vec<Explanation>,
    /// Failures tied to each single explanation.
    pub tied: Vec<Tied>,
    pub associated: Known<Vec<Associated>>,
    pub place_effect: Known<PlaceEffect>,
    /// How finely the ground was looked at.
    pub resolution: Known<String>,
    pub patches: Known<Vec<Patch>>,
    pub tests: Vec<Test>,
    pub separable: Vec<Separable>,
    #[serde(skip)]
    pub sources: Vec<SourceKey>,
}

#[derive(Clone, Debug, Serialize)]
pub struct Patch {
    pub vines: Vec<(String, u32)>,
    pub observed: u64,
    pub expected: f64,
    pub p_value: f64,
}

/// How far a level can be told apart from another factor.
#[derive(Clone, Debug, Serialize)]
pub struct Separable {
    pub factor: String,
    pub level: String,
    pub from: String,
    /// 0 not at all, 1 wholly.
    pub efficiency: f64,
}

impl Documented for Cause {
    const SCHEMA: &'static str = "cause";
    fn sources(&self) -> Vec<SourceKey> {
        self.sources.clone()
    }
}

/// The tests by re-randomisation alone.
pub fn tests(tally: &Tally, config: &Config, seed: Seed) -> Vec<Test> {
    let effort = Effort { draws: config.permutations as u64, ..Effort::default() };
    rerandomise::tests(tally, &effort, seed)
}

/// What the pattern of failures says: tests by re-randomisation, and a model that weighs explanations.
pub fn cause(tally: &Tally, config: &Config, seed: Seed) -> Cause {
    let tests = tests(tally, config, seed);
    let weighed = weigh::weigh(tally, &config.prior, config.level, seed);
    let absent = weighed.why().cloned();
    let weighing = weighed.value();
    let mut sources = if tests.is_empty() { Vec::new() } else { rerandomise::SOURCES.to_vec() };
    sources.extend(weighing.iter().flat_map(|_| weigh::SOURCES));
    Cause {
        seen: tally.total.seen,
        failed: tally.total.failed,
        verdict: weighing.map_or_else(|| absent_for(&absent), |w| Known::Value(w.verdict.clone())),
        cannot_tell_between: weighing.map(|w| w.between.clone()).unwrap_or_default(),
        explanations: weighing.map(|w| w.explanations.clone()).unwrap_or_default(),
        tied: weighing.map(|w| w.tied.clone()).unwrap_or_default(),
        associated: weighing.map_or_else(|| absent_for(&absent), |w| w.associated.clone()),
        place_effect: weighing.map_or_else(|| absent_for(&absent), |w| w.place_effect.clone()),
        resolution: weighing.map_or_else(|| absent_for(&absent), |w| w.resolution.clone()),
        patches: Known::absent(words::NO_PATCHES, LATER_HELP),
        sources,
        tests,
        separable: separable::separable(tally),
    }
}

/// Absent for this reason.
fn absent_for<T>(why: &Option<Why>) -> Known<T> {
    why.clone().map_or_else(|| Known::absent(words::NOT_FITTED, words::NOTHING_WEIGHED_HELP), Known::Absent)
}
