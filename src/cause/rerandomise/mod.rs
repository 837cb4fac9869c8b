//! Tests by re-randomisation: what the pattern of failures would be had failures or labels been dealt otherwise.
//!
//! | file | asks | re-arranged |
//! | --- | --- | --- |
//! | `pattern` | do failures cluster? | vines |
//! | `factors` | do failures differ between levels of a factor? | labels of planted runs, or of whole batches |
//! | `nearby` | does a row differ from those beside it, the edge from what lies inside? | vines beside each other |
//! | `order` | do failures follow the planting order? | pieces of planted runs |
//! | `questions` | which test answers which question, and what is left of its p-value among so many questions? | |

mod factors;
mod nearby;
mod order;
mod pattern;
mod questions;

pub(super) use pattern::patches;

use super::Config;
use crate::base::words::{cause as words, runs as run_words};
use crate::base::{Known, Seed, SourceKey};
use crate::stats::permute::{Effort, Randomisation, Silence};
use crate::tally::Tally;
use serde::Serialize;

/// The works that the tests stand on.
pub(super) const SOURCES: [SourceKey; 10] = [
    "agresti-2002",
    "besag-clifford-1991",
    "cliff-ord-1981",
    "holm-1979",
    "kulldorff-1997",
    "lancaster-1961",
    "moran-1950",
    "phipson-smyth-2010",
    "wald-wolfowitz-1940",
    "zhang-2010",
];

/// Every test of a block whose vines have places.
pub(super) fn tests(tally: &Tally, config: &Config, seed: Seed) -> Vec<Test> {
    let Some(field) = tally.field.as_ref().filter(|field| !field.points.is_empty()) else { return Vec::new() };
    let mut tests = pattern::tests(tally, field, config, seed);
    questions::mark_clustering(&mut tests);
    tests.extend(factors::tests(tally, field, config, seed));
    questions::adjust_answers(&mut tests);
    tests
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
    /// What the question is about: `clustering`, the name of a factor, `row`, `edge` or `order`.
    pub about: String,
    /// Whether this is the one test that answers the question; chosen before the failures are looked at.
    pub answers: bool,
    /// What is re-arranged: `vine`, `planted run`, `planted run within a row`, `stretch`, or the name of a finer factor.
    pub unit: &'static str,
    /// What stays as it was: `nothing`, `row`, `row group`, `batch`, `row and batch`, `place`, `place and batch`.
    pub held_fixed: &'static str,
    pub statistic: f64,
    /// Its expectation if the re-arrangement made no difference.
    pub expected: f64,
    pub p_value: Known<f64>,
    /// The p-value less half of the probability of the very same statistic (Lancaster 1961, `lancaster-1961`).
    pub mid_p: Known<f64>,
    /// Of a test that answers a question, adjusted for the number of questions (Holm 1979, `holm-1979`).
    pub p_adjusted: Known<f64>,
    /// Standard error of a simulated p-value; 0 where all arrangements were counted.
    pub monte_carlo_error: Known<f64>,
    /// How the p-value was had: `permutation`, `sequential permutation` or `all arrangements`.
    pub method: &'static str,
    /// Arrangements counted, or those drawn that the p-value stands on.
    pub arrangements: u64,
    /// For calibration: see [`Test::randomised_p`].
    #[serde(skip)]
    pub p_equal: f64,
}

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
            about: String::new(),
            answers: false,
            p_value: absent.clone().unwrap_or(Known::Value(result.p_greater)),
            mid_p: absent.clone().unwrap_or(Known::Value(result.mid_p())),
            p_adjusted: Known::absent(words::SUPPLEMENT, words::SUPPLEMENT_HELP),
            monte_carlo_error: absent.unwrap_or(Known::Value(result.error)),
            method: result.method,
            arrangements: result.arrangements,
            p_equal: result.p_equal,
        }
    }

    fn about(self, about: &str) -> Self {
        Test { about: about.to_string(), ..self }
    }

    /// The p-value less the share `u` of the probability of the very same statistic: uniform under the null where `u` is, unless
    /// drawing stopped early. For calibration only, because it decides by lot.
    pub fn randomised_p(&self, u: f64) -> Option<f64> {
        self.p_value.value().map(|p| p - u * self.p_equal)
    }

    /// The same without its p-value, for this reason; one that had none before keeps the reason it has.
    fn refused(self, reason: &str, would_help: &str) -> Self {
        let refuse = |p: Known<f64>| if p.value().is_some() { Known::absent(reason, would_help) } else { p };
        Test {
            p_value: refuse(self.p_value),
            mid_p: refuse(self.mid_p),
            monte_carlo_error: refuse(self.monte_carlo_error),
            ..self
        }
    }

    /// The exact expectation instead of the mean over the arrangements drawn.
    fn with_expected(self, expected: f64) -> Self {
        Test { expected, ..self }
    }
}
