//! Which explanation the evidence supports. Never sees money.

mod rerandomise;
mod separable;
pub mod signature;
pub mod unsettled;
mod weigh;

pub use rerandomise::Test;
pub use weigh::{Associated, Explanation, Moved, PlaceEffect, Prior, Rule, Stretch, Tied};

use crate::base::words::cause as words;
use crate::base::{Assumptions, Documented, Known, Seed, SourceKey, Why};
use crate::lattice::scan::Shape;
use crate::stats::permute::Effort;
use crate::tally::Tally;
use serde::Serialize;
use signature::{Found, Kinds, LookAt, Signature};
use unsettled::Unsettled;

/// Settings of [`cause()`].
#[derive(Clone, Debug)]
pub struct Config {
    /// Level of intervals, in (0, 1).
    pub level: f64,
    /// Re-arrangements per test.
    pub permutations: usize,
    pub prior: Prior,
    pub signature: signature::Config,
    pub unsettled: unsettled::Config,
    /// Re-arrangements as extreme as the block after which a test stops drawing; never by itself if none.
    pub stop_after: Option<u64>,
    /// Labels are dealt anew within groups of rows where a p-value of this can be reached there.
    pub clear_below: f64,
    /// Levels of a finer factor are dealt anew as wholes where a p-value of this can be reached; a further patch is looked
    /// for while the one before has less.
    pub likely_below: f64,
    /// Vines of a small piece of ground, about.
    pub quadrat_vines: f64,
    /// Patches looked for at most.
    pub patches: usize,
}

impl Config {
    /// As the assumptions `evidence.*` and `explanation.*` say.
    pub fn new(level: f64, assumptions: &Assumptions) -> Self {
        Config {
            level,
            permutations: assumptions.get("evidence.permutations") as usize,
            stop_after: Some(assumptions.get("evidence.stop_after") as u64),
            clear_below: assumptions.get("evidence.clear_below"),
            likely_below: assumptions.get("evidence.likely_below"),
            quadrat_vines: assumptions.get("evidence.quadrat_vines"),
            patches: assumptions.get("evidence.patches") as usize,
            prior: Prior::new(assumptions),
            signature: signature::Config::new(assumptions),
            unsettled: unsettled::Config::new(level, assumptions),
        }
    }

    fn effort(&self) -> Effort {
        Effort { draws: self.permutations as u64, stop_after: self.stop_after, ..Effort::default() }
    }
}

impl Default for Config {
    fn default() -> Self {
        Config::new(0.9, &Assumptions::default())
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
    /// Where halving or doubling one explanation's prior odds gives another verdict.
    pub verdict_moves: Vec<Moved>,
    /// Failures tied to each single explanation.
    pub tied: Vec<Tied>,
    pub associated: Known<Vec<Associated>>,
    pub place_effect: Known<PlaceEffect>,
    /// How finely the ground was looked at.
    pub resolution: Known<String>,
    pub patches: Known<Vec<Patch>>,
    pub tests: Vec<Test>,
    pub separable: Vec<Separable>,
    /// What can't be told apart, and what would settle it.
    pub unsettled: Vec<Unsettled>,
    /// The kinds of failure, apart.
    pub kinds: Kinds,
    /// Causes beside what the block shows; never a diagnosis.
    pub signatures: Vec<Signature>,
    /// What to look at, most telling first.
    pub look_at: Vec<LookAt>,
    #[serde(skip)]
    pub sources: Vec<SourceKey>,
}

/// A patch of ground with more failures than chance leaves.
#[derive(Clone, Debug, Serialize)]
pub struct Patch {
    /// Row and position of its vines, failed or not.
    pub vines: Vec<(String, u32)>,
    /// Failed.
    pub observed: u64,
    /// What chance has of as many vines, with what is held fixed.
    pub expected: f64,
    /// Of the strongest window anywhere, those of the patches before set aside.
    pub p_value: f64,
    pub shape: Shape,
    /// What the expectation and the p-value hold fixed: `batch`, or `nothing` where there are not several.
    pub held_fixed: &'static str,
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
    rerandomise::tests(tally, config, seed)
}

/// What the pattern of failures says: tests by re-randomisation, and a model that weighs explanations.
pub fn cause(tally: &Tally, config: &Config, seed: Seed) -> Cause {
    let tests = tests(tally, config, seed);
    let weighed = weigh::weigh(tally, &config.prior, config.level, seed);
    let separable = separable::separable(tally);
    let effort = config.effort();
    let fewer = Effort { draws: effort.draws.min(config.signature.permutations), ..effort };
    let found = Found::of(tally, &tests, &config.signature);
    let (signatures, look_at) = signature::signatures(tally, &found, &config.signature, &fewer, seed);
    let absent = weighed.why().cloned();
    let weighing = weighed.value();
    Cause {
        seen: tally.total.seen,
        failed: tally.total.failed,
        verdict: weighing.map_or_else(|| absent_for(&absent), |w| Known::Value(w.verdict.clone())),
        cannot_tell_between: weighing.map(|w| w.between.clone()).unwrap_or_default(),
        explanations: weighing.map(|w| w.explanations.clone()).unwrap_or_default(),
        verdict_moves: weighing.map(|w| w.moved.clone()).unwrap_or_default(),
        tied: weighing.map(|w| w.tied.clone()).unwrap_or_default(),
        associated: weighing.map_or_else(|| absent_for(&absent), |w| w.associated.clone()),
        place_effect: weighing.map_or_else(|| absent_for(&absent), |w| w.place_effect.clone()),
        resolution: weighing.map_or_else(|| absent_for(&absent), |w| w.resolution.clone()),
        patches: rerandomise::patches(tally, &tests, config, seed),
        sources: sources(&tests, &signatures, weighing.is_some()),
        tests,
        unsettled: unsettled::unsettled(tally, &separable, &config.unsettled, &fewer, seed),
        separable,
        kinds: signature::kinds(tally, config.clear_below, &fewer, seed),
        signatures,
        look_at,
    }
}

/// Absent for this reason.
fn absent_for<T>(why: &Option<Why>) -> Known<T> {
    why.clone().map_or_else(|| Known::absent(words::NOT_FITTED, words::NOTHING_WEIGHED_HELP), Known::Absent)
}

/// The works that the answers given stand on.
fn sources(tests: &[Test], signatures: &[Signature], weighed: bool) -> Vec<SourceKey> {
    let mut keys = unsettled::SOURCES.to_vec();
    if !tests.is_empty() {
        keys.extend(rerandomise::SOURCES);
    }
    if !signatures.is_empty() {
        keys.extend(signature::sources());
    }
    if weighed {
        keys.extend(weigh::SOURCES);
    }
    keys
}
