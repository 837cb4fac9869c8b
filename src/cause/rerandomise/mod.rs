//! Tests by re-randomisation: what the pattern of failures would be had failures or labels been dealt otherwise.
//!
//! | file | asks | re-arranged |
//! | --- | --- | --- |
//! | `pattern` | do failures cluster? | vines |
//! | `factors` | do failures differ between levels of a factor? | labels of planted runs |

mod factors;
mod pattern;

pub(super) use pattern::patches;

use crate::base::words::runs as run_words;
use crate::base::{Known, Seed, SourceKey};
use crate::stats::permute::{Effort, Randomisation, Silence};
use crate::tally::Tally;
use serde::Serialize;

/// The works that the tests stand on.
pub(super) const SOURCES: [SourceKey; 7] = [
    "agresti-2002",
    "cliff-ord-1981",
    "kulldorff-1997",
    "moran-1950",
    "phipson-smyth-2010",
    "wald-wolfowitz-1940",
    "zhang-2010",
];

/// Every test of a block whose vines have places.
pub(super) fn tests(tally: &Tally, effort: &Effort, seed: Seed) -> Vec<Test> {
    let Some(field) = &tally.field else { return Vec::new() };
    let mut tests = pattern::tests(tally, field, effort, seed);
    tests.extend(factors::tests(tally, field, effort, seed));
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
