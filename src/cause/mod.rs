//! Which explanation the evidence supports. Never sees money.

mod rerandomise;
mod separable;
pub mod signature;
pub mod unsettled;

pub use rerandomise::Test;

use crate::base::words::{base::LATER_HELP, cause as words};
use crate::base::{Documented, Known, Seed, SourceKey};
use crate::stats::permute::Effort;
use crate::tally::Tally;
use serde::Serialize;
use signature::{Found, Kinds, LookAt, Signature};
use unsettled::Unsettled;

/// Settings of [`cause()`].
#[derive(Clone, Debug)]
pub struct Config {
    pub level: f64,
    /// Re-arrangements per test.
    pub permutations: usize,
    pub signature: signature::Config,
    pub unsettled: unsettled::Config,
}

impl Default for Config {
    fn default() -> Self {
        let (signature, unsettled) = (signature::Config::default(), unsettled::Config::default());
        Config { level: 0.9, permutations: 4_999, signature, unsettled }
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

/// What the pattern of failures says, first edition: tests and separability; no explanation is weighed yet.
pub fn cause(tally: &Tally, config: &Config, seed: Seed) -> Cause {
    let effort = Effort { draws: config.permutations as u64, ..Effort::default() };
    let tests = rerandomise::tests(tally, &effort, seed);
    let separable = separable::separable(tally);
    let fewer = Effort { draws: effort.draws.min(config.signature.permutations), ..effort };
    let found = Found::of(tally, &tests, &config.signature);
    let (signatures, look_at) = signature::signatures(tally, &found, &config.signature, &fewer, seed);
    Cause {
        seen: tally.total.seen,
        failed: tally.total.failed,
        verdict: Known::absent(words::NO_VERDICT, LATER_HELP),
        cannot_tell_between: Vec::new(),
        explanations: Vec::new(),
        associated: Known::absent(words::NO_ASSOCIATED, LATER_HELP),
        patches: Known::absent(words::NO_PATCHES, LATER_HELP),
        sources: sources(&tests, &signatures),
        tests,
        unsettled: unsettled::unsettled(tally, &separable, &config.unsettled, &fewer, seed),
        separable,
        kinds: signature::kinds(tally, &fewer, seed),
        signatures,
        look_at,
    }
}

/// The works that the answers given stand on.
fn sources(tests: &[Test], signatures: &[Signature]) -> Vec<SourceKey> {
    let mut keys = unsettled::SOURCES.to_vec();
    if !tests.is_empty() {
        keys.extend(rerandomise::SOURCES);
    }
    if !signatures.is_empty() {
        keys.extend(signature::sources());
    }
    keys
}
