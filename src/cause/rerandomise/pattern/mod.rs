//! Whether failures cluster, with vines re-arranged while row, batch or both are held.
//!
//! | file | asks |
//! | --- | --- |
//! | `joins` | do failed vines stand next to each other? |
//! | `rows` | do failures come in stretches along the rows? |
//! | `quadrats` | do small pieces of ground differ? |
//! | `patches` | which patch of ground has most failures beyond chance? |
//!
//! Permuting vines asks only whether vines are independent of their neighbours. Whether batches differ is asked of
//! planted runs (`runs`), because vines planted as a bundle aren't exchangeable one by one.

mod joins;
mod patches;
mod quadrats;
mod rows;

pub(in crate::cause) use patches::patches;

use super::{Config, Effort, Test};
use crate::base::words::{cause as words, fill};
use crate::base::{Known, Seed};
use crate::stats::permute::{Randomisation, Strata};
use crate::tally::{Field, Tally};

/// The tests, statistic by statistic; none where there are no points.
pub(super) fn tests(tally: &Tally, field: &Field, config: &Config, seed: Seed) -> Vec<Test> {
    if field.points.is_empty() {
        return Vec::new();
    }
    let helds = helds(tally, field);
    // Counts are dealt fast and are held against reference libraries: they never stop early.
    let effort = &config.effort();
    let whole = &Effort { stop_after: None, ..*effort };
    let mut tests = joins::tests(field, &helds, whole, seed);
    tests.extend(rows::tests(field, &helds, whole, seed));
    tests.extend(quadrats::tests(field, &helds, config.quadrat_vines, whole, seed));
    tests.extend(patches::tests(field, &helds, effort, seed));
    tests
}

/// Something held fixed while vines are re-arranged.
struct Held {
    fixed: &'static str,
    /// How the re-arrangement reads in a question.
    phrase: &'static str,
    strata: Strata,
}

/// What can be held fixed in this block: rows where there are two, batches where there are two.
fn helds(tally: &Tally, field: &Field) -> Vec<Held> {
    let row: Vec<u32> = field.points.iter().map(|p| p.place.row).collect();
    let mut helds = vec![Held { fixed: "nothing", phrase: words::HELD_NOTHING, strata: Strata::one(row.len()) }];
    let rows = Strata::by(row.iter().copied());
    let several_rows = rows.count() > 1;
    if several_rows {
        helds.push(Held { fixed: "row", phrase: words::HELD_ROW, strata: rows });
    }
    let Some(at) = tally.factors.iter().position(|f| f.name == "batch") else { return helds };
    let batch = || field.points.iter().map(|p| p.codes.get(at).copied());
    let batches = Strata::by(batch());
    if batches.count() > 1 {
        helds.push(Held { fixed: "batch", phrase: words::HELD_BATCH, strata: batches });
        let both = Strata::by(row.iter().copied().zip(batch()));
        if several_rows {
            helds.push(Held { fixed: "row and batch", phrase: words::HELD_ROW_AND_BATCH, strata: both });
        }
    }
    helds
}

/// What a statistic is called: name of the test, title, question.
type Said = (&'static str, &'static str, &'static str);

/// The test of vines that comes of a re-randomisation.
fn test((name, title, question): Said, held: &Held, result: &Randomisation) -> Test {
    let said = (title.to_string(), fill(question, &[("held", &held.phrase)]));
    let none = || Known::absent(words::ONE_ARRANGEMENT, words::ONE_ARRANGEMENT_HELP);
    Test::new(name, said, "vine", held.fixed, result, none)
}

/// 1 where the vine failed, by point.
fn failed(field: &Field) -> Vec<u32> {
    field.points.iter().map(|p| u32::from(p.failed)).collect()
}
