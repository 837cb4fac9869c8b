//! Which explanation the evidence supports. Never sees money.

mod pattern;
mod runs;
mod separable;

use crate::base::words::{base::LATER_HELP, cause as words, runs as run_words};
use crate::base::{Documented, Known, Seed, SourceKey};
use crate::stats::permute::{Effort, Randomisation, Silence};
use crate::tally::Tally;
use serde::Serialize;

/// Settings of [`cause()`].
#[derive(Clone, Debug)]
pub struct Config {
    pub level: f64,
    /// Re-arrangements per test.
    pub permutations: usize,
}

impl Default for Config {
    fn default() -> Self {
        Config { level: 0.9, permutations: 4_999 }
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

#[derive(Clone, Debug, Serialize)]
pub struct Patch {
    pub vines: Vec<(String, u32)>,
    pub observed: u64,
    pub expected: f64,
    pub p_value: f64,
}

/// One test by re-randomisation, or by exact moments.
#[derive(Clone, Debug, Serialize)]
pub struct Test {
    /// Name of the test, such as `joins_along_rows`.
    pub name: String,
    /// What is looked at, in a few words.
    pub title: String,
    /// The question in plain words.
    pub question: String,
    /// What is re-arranged: `vine` or `planted run`.
    pub unit: &'static str,
    /// What stays as it was: `nothing`, `row`, `batch`, `row and batch`.
    pub held_fixed: &'static str,
    pub statistic: f64,
    /// Its expectation if the re-arrangement made no difference.
    pub expected: f64,
    pub p_value: Known<f64>,
    /// Standard error of a simulated p-value; 0 where all arrangements were counted.
    pub monte_carlo_error: Known<f64>,
    /// How the p-value was had: `permutation` or `all arrangements`.
    pub method: &'static str,
    /// Arrangements made or counted.
    pub arrangements: u64,
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
    let tests = tally.field.as_ref().map_or_else(Vec::new, |field| {
        let mut tests = pattern::tests(tally, field, &effort, seed);
        tests.extend(runs::tests(tally, field, &effort, seed));
        tests
    });
    Cause {
        seen: tally.total.seen,
        failed: tally.total.failed,
        verdict: Known::absent(words::NO_VERDICT, LATER_HELP),
        cannot_tell_between: Vec::new(),
        explanations: Vec::new(),
        associated: Known::absent(words::NO_ASSOCIATED, LATER_HELP),
        patches: Known::absent(words::NO_PATCHES, LATER_HELP),
        sources: if tests.is_empty() { Vec::new() } else { SOURCES.to_vec() },
        tests,
        separable: separable::separable(tally),
    }
}

/// The works that the tests stand on.
const SOURCES: [SourceKey; 4] = ["agresti-2002", "cliff-ord-1981", "moran-1950", "phipson-smyth-2010"];

impl Test {
    /// A test from its re-randomisation; `none` says why there is no p-value where only one arrangement exists.
    fn new(
        name: &str,
        (title, question): (String, String),
        unit: &'static str,
        held_fixed: &'static str,
        result: &Randomisation,
        none: impl Fn() -> Known<f64>,
    ) -> Self {
        let absent = result.silence().map(|silence| match silence {
            Silence::OneArrangement => none(),
            Silence::OneValue => Known::absent(run_words::ONE_VALUE, run_words::ONE_VALUE_HELP),
        });
        Test {
            name: name.to_string(),
            title,
            question,
            unit,
            held_fixed,
            statistic: result.observed,
            expected: result.mean,
            p_value: absent.clone().unwrap_or(Known::Value(result.p_greater)),
            monte_carlo_error: absent.unwrap_or(Known::Value(result.error)),
            method: result.method,
            arrangements: result.arrangements,
        }
    }

    /// The same without its p-value, for this reason; one that had none before keeps the reason it has.
    fn refused(self, reason: &str, would_help: &str) -> Self {
        let refuse = |p: Known<f64>| if p.value().is_some() { Known::absent(reason, would_help) } else { p };
        Test { p_value: refuse(self.p_value), monte_carlo_error: refuse(self.monte_carlo_error), ..self }
    }

    /// The exact expectation instead of the mean over the arrangements drawn.
    fn with_expected(self, expected: f64) -> Self {
        Test { expected, ..self }
    }
}
