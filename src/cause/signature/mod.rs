//! Signatures: what the failures' kinds and pattern are consistent with, and what to look at. Never a diagnosis.
//!
//! | file | what it is for |
//! | --- | --- |
//! | `kinds` | never grew, died later, missing: counted and tested apart |
//! | `clustered` | joins between vines of one kind |
//! | `evidence` | what the block shows of each feature |
//! | `table` | what each cause would show, with its source |
//! | `checks` | field checks, what they would find, their cautions |
//! | `look_at` | which checks tell most apart here, and at which vines |

mod checks;
mod clustered;
mod evidence;
mod kinds;
mod look_at;
mod table;

pub use evidence::Feature;
pub use kinds::{Kind, KindTest, Kinds, LevelKinds};
pub use look_at::{FindingThere, LookAt};
pub use table::Cause;

pub(super) use kinds::kinds;
pub(super) use look_at::Places;

use crate::base::{Assumptions, Seed, SourceKey};
use crate::cause::Test;
use crate::stats::hypergeometric::FourFold;
use crate::stats::permute::Effort;
use crate::stats::stratified::exact_conditional;
use crate::tally::Tally;
use evidence::{Answer, answers};
use serde::Serialize;
use std::collections::{BTreeMap, HashMap};
use table::{Basis, ENTRIES, Entry, Speaks};

/// Settings of `signatures`.
#[derive(Clone, Debug, PartialEq)]
pub struct Config {
    /// p-value below which a difference or a pattern is said to be likely (`evidence.likely_below`).
    pub likely_below: f64,
    /// Share from which a sign is said to be on many of the vines; one less it, on most (`signature.many`).
    pub many: f64,
    /// Days from planting to the walk between which a winter lies (`signature.winter_days`).
    pub winter_days: f64,
    /// Re-arrangements for each test of a kind, a signature or a comparable part, at most (`signature.permutations`).
    pub permutations: u64,
    /// Vines named for each check (`signature.vines_to_look_at`).
    pub vines: usize,
}

impl Config {
    pub fn new(assumptions: &Assumptions) -> Self {
        Config {
            likely_below: assumptions.get("evidence.likely_below"),
            many: assumptions.get("signature.many"),
            winter_days: assumptions.get("signature.winter_days"),
            permutations: assumptions.get("signature.permutations") as u64,
            vines: assumptions.get("signature.vines_to_look_at") as usize,
        }
    }
}

impl Default for Config {
    fn default() -> Self {
        Config::new(&Assumptions::default())
    }
}

/// What the other parts of `cause` found, as far as signatures go by it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Found {
    /// p-value of the differences between the levels of each factor, in the strictest form that has an answer.
    pub by_factor: Vec<(String, f64)>,
    /// p-values of failed neighbours in any direction, along and across the rows, likewise.
    pub clustered: Option<f64>,
    pub along: Option<f64>,
    pub across: Option<f64>,
    /// Labels of rows in which more failed than chance explains.
    pub odd_rows: Vec<String>,
}

impl Found {
    /// From the tests by re-randomisation (forms come from the loosest to the strictest) and the counts of rows.
    pub fn of(tally: &Tally, tests: &[Test], config: &Config) -> Self {
        let p = |name: &str| {
            let answered = tests.iter().rev().filter(|t| t.name == name).find_map(|t| t.p_value.value());
            answered.copied()
        };
        let factors = tally.factors.iter().map(|f| f.name.clone()).filter(|name| name != "row");
        Found {
            by_factor: factors.filter_map(|name| Some((name.clone(), p(&format!("failures_by_{name}"))?))).collect(),
            clustered: p("joins_any_direction"),
            along: p("joins_along_rows"),
            across: p("joins_across_rows"),
            odd_rows: odd_rows(tally, config.likely_below),
        }
    }

    pub(super) fn p_of(&self, factor: &str) -> Option<f64> {
        self.by_factor.iter().find(|(name, _)| name == factor).map(|(_, p)| *p)
    }
}

/// Rows of which more failed than the same batches elsewhere explain, missing vines left out: the exact test that the
/// odds of failure are those of the other rows, by batch (Mehta, Patel & Gray 1985, `mehta-patel-gray-1985`), upper
/// tail, times the number of rows (Bonferroni), below `below`. Rows that hold all of their batches say nothing.
fn odd_rows(tally: &Tally, below: f64) -> Vec<String> {
    let Some((at, rows)) = tally.factors.iter().enumerate().find(|(_, f)| f.name == "row") else { return Vec::new() };
    let batches = Batches::of(tally, at);
    let n = rows.levels.len() as f64;
    let is_odd = |row: u32| batches.p_more(row).is_some_and(|p| p * n < below);
    let labels = rows.levels.iter().zip(0u32..);
    labels.filter(|(_, row)| is_odd(*row)).map(|(label, _)| label.clone()).collect()
}

/// Vines failed and alive, missing ones left out.
type FailedAlive = [u64; 2];

/// Counts by batch, of each row and in all. Vines without a batch are one of their own.
struct Batches {
    of_row: BTreeMap<u32, BTreeMap<u32, FailedAlive>>,
    all: BTreeMap<u32, FailedAlive>,
}

impl Batches {
    fn of(tally: &Tally, row_at: usize) -> Self {
        let batch_at = tally.factors.iter().position(|f| f.name == "batch");
        let mut batches = Batches { of_row: BTreeMap::new(), all: BTreeMap::new() };
        for cell in &tally.cells {
            let batch = batch_at.and_then(|at| cell.codes.get(at)).copied().unwrap_or(u32::MAX);
            let row = cell.codes.get(row_at).copied().unwrap_or(u32::MAX);
            let failed = cell.counts.failed.saturating_sub(cell.counts.missing);
            for of in [
                batches.of_row.entry(row).or_default().entry(batch).or_default(),
                batches.all.entry(batch).or_default(),
            ] {
                *of = [of[0] + failed, of[1] + cell.counts.alive()];
            }
        }
        batches
    }

    /// p-value of as many failures in the row or more; none where the row has none, or nothing to compare with.
    fn p_more(&self, row: u32) -> Option<f64> {
        let mine = self.of_row.get(&row)?;
        let stratum = |(batch, here): (&u32, &FailedAlive)| {
            let all = self.all.get(batch).copied().unwrap_or_default();
            [*here, [all[0].saturating_sub(here[0]), all[1].saturating_sub(here[1])]]
        };
        let strata: Vec<FourFold> = mine.iter().map(stratum).collect();
        let failed: u64 = mine.values().map(|n| n[0]).sum();
        let expected = strata.iter().map(|[a, b]| expected(a, b)).sum::<f64>();
        if failed as f64 <= expected {
            return None;
        }
        Some(exact_conditional(&strata, 0.9)?.p_greater)
    }
}

/// Failures expected in the first group at the rate of both.
fn expected(first: &FailedAlive, second: &FailedAlive) -> f64 {
    let n = (first[0] + first[1]) as f64;
    let all = n + (second[0] + second[1]) as f64;
    if all > 0.0 { n * (first[0] + second[0]) as f64 / all } else { 0.0 }
}

/// One thing said for or against a cause, or not looked at.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Statement {
    pub feature: Feature,
    pub said: String,
    /// Key of the published work that ties this feature to the cause, or that there is none.
    pub source: &'static str,
}

/// A cause beside what the block shows.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Signature {
    pub cause: Cause,
    pub title: &'static str,
    /// The traces it leaves.
    pub says: &'static str,
    pub consistent_with: Vec<Statement>,
    pub speaks_against: Vec<Statement>,
    pub not_looked_at: Vec<Statement>,
    /// Whether it is still in play: no more speaks against it than for it.
    pub in_play: bool,
    /// Where what is said of its traces comes from.
    pub sources: Vec<&'static str>,
}

/// Every cause beside what the block shows, and what to look at. Never a diagnosis: features are few, causes share
/// them, and most of what ties them to causes is remembered rather than published (each statement says which).
///
/// Don't use it to name a cause, to judge a delivery, or in place of someone who digs and looks.
pub(super) fn signatures(
    tally: &Tally,
    found: &Found,
    config: &Config,
    effort: &Effort,
    seed: Seed,
) -> (Vec<Signature>, Vec<LookAt>) {
    if tally.total.failed == 0 {
        return (Vec::new(), Vec::new());
    }
    let answers = answers(tally, found, config, effort, seed);
    let signatures: Vec<Signature> = ENTRIES.iter().map(|entry| Signature::of(entry, &answers)).collect();
    let in_play: Vec<Cause> = signatures.iter().filter(|s| s.in_play).map(|s| s.cause).collect();
    let look_at = look_at::look_at(tally, &in_play, config.vines);
    (signatures, look_at)
}

impl Signature {
    fn of(entry: &Entry, answers: &HashMap<Feature, Answer>) -> Self {
        let mut signature = Signature {
            cause: entry.cause,
            title: entry.title,
            says: entry.says,
            consistent_with: Vec::new(),
            speaks_against: Vec::new(),
            not_looked_at: Vec::new(),
            in_play: true,
            sources: vec![entry.says_basis.text()],
        };
        let several = are_several(answers);
        for expectation in entry.expects {
            let Some(answer) = answers.get(&expectation.feature) else { continue };
            let (list, said) = match answer {
                Answer::Between => continue,
                Answer::NotLooked(said) => (&mut signature.not_looked_at, said),
                Answer::Shown(_)
                    if expectation.shown == Speaks::Against && several && expectation.feature.is_pattern() =>
                {
                    continue;
                }
                Answer::Shown(said) => match signature.side(expectation.shown) {
                    Some(list) => (list, said),
                    None => continue,
                },
                Answer::NotThere(said) => match signature.side(expectation.not_there) {
                    Some(list) => (list, said),
                    None => continue,
                },
            };
            let source = expectation.basis.text();
            list.push(Statement { feature: expectation.feature, said: said.clone(), source });
            signature.sources.push(source);
        }
        signature.sources.sort_unstable();
        signature.sources.dedup();
        signature.in_play = signature.speaks_against.len() <= signature.consistent_with.len();
        signature
    }

    fn side(&mut self, speaks: Speaks) -> Option<&mut Vec<Statement>> {
        match speaks {
            Speaks::For => Some(&mut self.consistent_with),
            Speaks::Against => Some(&mut self.speaks_against),
            Speaks::Neither => None,
        }
    }
}

/// Whether failures follow batches and places at once: there may be two causes, so that neither pattern is held
/// against a cause that leaves the other.
fn are_several(answers: &HashMap<Feature, Answer>) -> bool {
    let shown = |feature: &Feature| matches!(answers.get(feature), Some(Answer::Shown(_)));
    let by_planting = [Feature::FollowsBatch, Feature::FollowsDeclared, Feature::FollowsPlantingDay];
    let by_place = [Feature::InPatches, Feature::AlongOneRow, Feature::AtEdge];
    by_planting.iter().any(shown) && by_place.iter().any(shown)
}

/// The published works that signatures stand on.
pub(super) fn sources() -> Vec<SourceKey> {
    let of_entry = |entry: &Entry| {
        let bases = entry.expects.iter().map(|e| e.basis).chain([entry.says_basis]);
        bases.collect::<Vec<Basis>>()
    };
    let bases = ENTRIES.iter().flat_map(of_entry).chain(checks::CHECKS.iter().map(|c| c.basis));
    let works = bases.filter_map(|basis| if let Basis::Work(key) = basis { Some(key) } else { None });
    works.chain(["cliff-ord-1981", "fisher-1935", "holm-1979", "lorenz-1995", "mehta-patel-gray-1985"]).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::base::source::WORKS;

    #[test]
    fn every_cause_has_one_entry_and_is_told_by_some_check() {
        for entry in ENTRIES {
            assert_eq!(ENTRIES.iter().filter(|e| e.cause == entry.cause).count(), 1, "{:?}", entry.cause);
            assert!(!entry.expects.is_empty() && !entry.says.is_empty());
            let checked = checks::CHECKS.iter().any(|c| c.findings.iter().any(|f| f.causes.contains(&entry.cause)));
            assert!(checked, "no check tells {:?}", entry.cause);
        }
    }

    #[test]
    fn no_feature_stands_twice_under_a_cause_and_every_one_is_used() {
        for entry in ENTRIES {
            for (i, e) in entry.expects.iter().enumerate() {
                assert!(entry.expects[i + 1..].iter().all(|other| other.feature != e.feature), "{:?}", entry.cause);
                assert!((e.shown, e.not_there) != (Speaks::Neither, Speaks::Neither), "{:?}", entry.cause);
            }
        }
        let used = |f: &Feature| ENTRIES.iter().any(|e| e.expects.iter().any(|x| x.feature == *f));
        assert!(Feature::ALL.iter().all(used));
    }

    #[test]
    fn every_check_tells_something_apart_and_every_work_is_in_the_bibliography() {
        for check in checks::CHECKS {
            assert!(check.findings.len() >= 2, "{}", check.name);
        }
        assert!(sources().iter().all(|key| WORKS.iter().any(|w| w.key == *key)));
    }
}
