//! Which explanation the evidence supports. Never sees money.

mod rerandomise;
mod separable;

pub use rerandomise::Test;

use crate::base::words::{base::LATER_HELP, cause as words};
use crate::base::{Assumptions, Documented, Known, Seed, SourceKey};
use crate::lattice::scan::Shape;
use crate::stats::permute::Effort;
use crate::tally::Tally;
use serde::Serialize;

/// Settings of [`cause()`].
#[derive(Clone, Debug)]
pub struct Config {
    pub level: f64,
    /// Re-arrangements per test.
    pub permutations: usize,
    /// Re-arrangements as extreme as the block after which a test stops drawing; never by itself if none.
    pub stop_after: Option<u64>,
    /// Labels are dealt anew within groups of rows where a p-value of this can be reached there.
    pub clear_below: f64,
    /// Levels of a finer factor are dealt anew as wholes where a p-value of this can be reached.
    pub likely_below: f64,
}

impl Config {
    /// As the assumptions `evidence.*` say.
    pub fn new(level: f64, assumptions: &Assumptions) -> Self {
        Config {
            level,
            permutations: assumptions.get("evidence.permutations") as usize,
            stop_after: Some(assumptions.get("evidence.stop_after") as u64),
            clear_below: assumptions.get("evidence.clear_below"),
            likely_below: assumptions.get("evidence.likely_below"),
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
    pub associated: Known<Vec<Associated>>,
    pub patches: Known<Vec<Patch>>,
    pub tests: Vec<Test>,
    pub separable: Vec<Separable>,
    #[serde(skip)]
    pub sources: Vec<SourceKey>,
}

#[derive(Clone, Debug, Serialize)]
pub struct Explanation {
    pub name: String,
    pub prior: f64,
    pub log_evidence: f64,
    pub probability: f64,
}

#[derive(Clone, Debug, Serialize)]
pub struct Associated {
    pub factor: String,
    pub level: String,
    pub stand: f64,
    pub others_stand: f64,
    pub odds_ratio: f64,
    pub low: f64,
    pub high: f64,
    pub excess_failures: f64,
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

/// What the pattern of failures says, first edition: tests and separability; no explanation is weighed yet.
pub fn cause(tally: &Tally, config: &Config, seed: Seed) -> Cause {
    let tests = rerandomise::tests(tally, config, seed);
    Cause {
        seen: tally.total.seen,
        failed: tally.total.failed,
        verdict: Known::absent(words::NO_VERDICT, LATER_HELP),
        cannot_tell_between: Vec::new(),
        explanations: Vec::new(),
        associated: Known::absent(words::NO_ASSOCIATED, LATER_HELP),
        patches: rerandomise::patches(tally, &tests, &config.effort(), seed),
        sources: if tests.is_empty() { Vec::new() } else { rerandomise::SOURCES.to_vec() },
        tests,
        separable: separable::separable(tally),
    }
}
