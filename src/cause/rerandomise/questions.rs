//! One p-value for each question, adjusted for the number of questions.
//!
//! A question has one test that answers it, chosen by what is known before the failures are looked at: by the design
//! and the labels. The other tests of a question stand beside it as supplements and aren't adjusted.

use super::Test;
use crate::base::Known;
use crate::base::words::cause as words;
use crate::stats::adjust::{Adjustment, adjust};

/// What the tests of `pattern` ask about.
pub(super) const CLUSTERING: &str = "clustering";

/// The one of them that answers: join counts in any direction over the whole block. What else is held fixed takes rows or
/// batches for granted, which are asked about in questions of their own.
const CLUSTERING_ANSWER: (&str, &str) = ("joins_any_direction", "nothing");

/// Marks which test of `pattern` answers.
pub(super) fn mark_clustering(tests: &mut [Test]) {
    for test in tests {
        test.about = CLUSTERING.to_string();
        test.answers = (test.name.as_str(), test.held_fixed) == CLUSTERING_ANSWER;
    }
}

/// Adjusts the answers for each other (Holm 1979, `holm-1979`), and says of every other test why it isn't adjusted.
pub(super) fn adjust_answers(tests: &mut [Test]) {
    let answers: Vec<usize> =
        (0..tests.len()).filter(|&i| tests[i].answers && tests[i].p_value.value().is_some()).collect();
    let p: Vec<f64> = answers.iter().filter_map(|&i| tests[i].p_value.value().copied()).collect();
    let adjusted = adjust(&p, Adjustment::Holm);
    for test in tests.iter_mut() {
        test.p_adjusted = test.p_value.why().cloned().map_or_else(supplement, Known::Absent);
    }
    answers.iter().zip(adjusted).for_each(|(&i, p)| tests[i].p_adjusted = Known::Value(p));
}

fn supplement() -> Known<f64> {
    Known::absent(words::SUPPLEMENT, words::SUPPLEMENT_HELP)
}
