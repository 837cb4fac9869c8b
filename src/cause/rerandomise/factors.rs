//! Whether failures differ between batches, clones or rootstocks, asked of planted runs (see [`crate::runs`]).

use super::{Effort, Test};
use crate::base::words::{cause as words, fill, runs as run_words};
use crate::base::{Known, Seed};
use crate::runs::{Held, Loss, Runs, stream};
use crate::tally::{Field, Tally};

/// The factors asked about: name, plural, test, question.
const FACTORS: [(&str, &str, &str, &str); 3] = [
    ("batch", "batches", "failures_by_batch", words::BY_BATCH),
    ("clone", "clones", "failures_by_clone", words::BY_CLONE_OR_STOCK),
    ("rootstock", "rootstocks", "failures_by_rootstock", words::BY_CLONE_OR_STOCK),
];

/// The tests of every factor with two levels or more; `missing` vines are left out.
pub(super) fn tests(tally: &Tally, field: &Field, effort: &Effort, seed: Seed) -> Vec<Test> {
    let of_factor = |&(name, plural, test, question): &(&'static str, &'static str, &'static str, &'static str)| {
        let Some(at) = tally.factors.iter().position(|f| f.name == name) else { return Vec::new() };
        if field.runs.is_empty() {
            return Vec::new();
        }
        let asked =
            Asked { factor: name, plural, test, question, runs: Runs::of_factor(tally, field, at, Loss::Failed) };
        let of = |held| asked.test(held, effort, seed);
        if asked.runs.are_several() { [Held::Nothing, Held::Row].map(of).into() } else { Vec::new() }
    };
    FACTORS.iter().flat_map(of_factor).collect()
}

/// A question about the levels of one factor.
struct Asked {
    factor: &'static str,
    plural: &'static str,
    test: &'static str,
    question: &'static str,
    runs: Runs,
}

impl Asked {
    fn test(&self, held: Held, effort: &Effort, seed: Seed) -> Test {
        let phrase = match held {
            Held::Nothing => run_words::HELD_NOTHING,
            Held::Row => run_words::HELD_ROW,
        };
        let filled = |sentence| fill(sentence, &[("levels", &self.plural)]);
        let redealt = self.runs.redeal(held, effort, &stream(self.factor, held), seed);
        let question = fill(self.question, &[("levels", &self.plural), ("held", &phrase)]);
        let none = || Known::absent(filled(run_words::ONE_ARRANGEMENT), filled(run_words::ONE_ARRANGEMENT_HELP));
        let said = (filled(words::BY_LEVEL_TITLE), question);
        let test = Test::new(self.test, said, "planted run", held.name(), &redealt.statistic, none);
        let reason = fill(run_words::IN_BANDS, &[("levels", &self.plural), ("held", &phrase)]);
        if redealt.in_bands { test.refused(&reason, run_words::IN_BANDS_HELP) } else { test }
    }
}
