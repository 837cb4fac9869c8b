//! Never grew is not died later: the kinds of failure counted and tested apart.
//!
//! Factors are asked of planted runs ([`crate::runs`]), clustering of vines. A vine `missing` is no evidence against a
//! batch: it counts in neither kind, and is shown by place alone.

use super::clustered::clustered;
use crate::base::words::{fill, runs as run_words, signature as words};
use crate::base::{Known, Seed};
use crate::lattice::Site;
use crate::runs::{Held, Loss, Runs};
use crate::stats::adjust::{Adjustment, adjust};
use crate::stats::permute::{Effort, Silence};
use crate::tally::{Counts, Field, Point, Tally};
use serde::Serialize;

/// The kinds of failure, apart.
#[derive(Clone, Debug, Serialize)]
pub struct Kinds {
    /// Vines seen but those missing: what the first two kinds are shares of.
    pub told: u64,
    pub never_grew: Kind,
    pub died_later: Kind,
    pub missing: Kind,
    /// Dead, and nobody can tell whether they ever grew.
    pub dead: u64,
    /// Only the rootstock lives; whether the scion ever grew isn't told either.
    pub scion_dead: u64,
    /// Counts of each batch and each row.
    pub levels: Vec<LevelKinds>,
}

/// One kind of failure.
#[derive(Clone, Debug, Serialize)]
pub struct Kind {
    /// Told to be of this kind.
    pub vines: u64,
    /// The most it can be: with all those whose kind isn't told.
    pub at_most: u64,
    /// Empty where there is none of this kind.
    pub tests: Vec<KindTest>,
}

/// A question asked of one kind of failure.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct KindTest {
    /// `batch`, `row`, `edge`, or `place` for clustering.
    pub about: &'static str,
    pub question: String,
    /// What is dealt anew: `planted run`, `stretch`, `cell` or `vine`.
    pub unit: String,
    pub held_fixed: &'static str,
    /// Joins between vines of the kind, or the deviance between levels.
    pub statistic: f64,
    pub expected: f64,
    pub p_value: Known<f64>,
    /// Adjusted for all questions asked of the kinds (Holm 1979, `holm-1979`).
    pub p_adjusted: Known<f64>,
    pub monte_carlo_error: Known<f64>,
    pub method: &'static str,
}

/// The kinds at one level of a factor.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct LevelKinds {
    pub factor: String,
    pub level: String,
    pub seen: u64,
    pub never_grew: u64,
    pub died_later: u64,
    pub dead: u64,
    pub scion_dead: u64,
    pub missing: u64,
}

/// Counts and tests of each kind. Batches are dealt within rows where a p-value of `clear_below` can be reached there.
pub(in crate::cause) fn kinds(tally: &Tally, clear_below: f64, effort: &Effort, seed: Seed) -> Kinds {
    let total = &tally.total;
    let untold = total.dead + total.scion_dead;
    let kind = |loss, name, vines: u64, more: u64| {
        let asked = Asked { tally, loss, name, clear_below, effort, seed };
        Kind { vines, at_most: vines + more, tests: if vines > 0 { asked.tests() } else { Vec::new() } }
    };
    let mut kinds = Kinds {
        told: total.seen.saturating_sub(total.missing),
        never_grew: kind(Loss::NeverGrew, words::NEVER_GREW, total.never_grew, untold),
        died_later: kind(Loss::DiedLater, words::DIED_LATER, total.died, untold),
        missing: kind(Loss::Missing, words::MISSING, total.missing, 0),
        dead: total.dead,
        scion_dead: total.scion_dead,
        levels: ["batch", "row"].iter().flat_map(|factor| levels(tally, factor)).collect(),
    };
    kinds.adjust();
    kinds
}

impl Kinds {
    /// Adjusts the p-values for all questions that had an answer.
    fn adjust(&mut self) {
        let kinds = [&mut self.never_grew, &mut self.died_later, &mut self.missing];
        let mut tests: Vec<&mut KindTest> = kinds.into_iter().flat_map(|kind| &mut kind.tests).collect();
        let p: Vec<f64> = tests.iter().filter_map(|t| t.p_value.value().copied()).collect();
        let mut adjusted = adjust(&p, Adjustment::Holm).into_iter();
        for test in &mut tests {
            test.p_adjusted = test.p_value.clone().map(|p| adjusted.next().unwrap_or(p));
        }
    }
}

/// A kind of failure that is asked about.
struct Asked<'a> {
    tally: &'a Tally,
    loss: Loss,
    /// In words.
    name: &'static str,
    clear_below: f64,
    effort: &'a Effort,
    seed: Seed,
}

impl Asked<'_> {
    /// By batch (unless vines are missing without a trace), by row, by edge, by place.
    fn tests(&self) -> Vec<KindTest> {
        let batch = (self.loss != Loss::Missing).then(|| self.of_factor("batch")).flatten();
        let row = self.of_factor("row");
        let Some(field) = &self.tally.field else { return batch.into_iter().chain(row).collect() };
        let edge = field.edge();
        let label = |p: &Point| Some(u32::from(edge.holds(p.place)));
        let edge = self.of_runs("edge", &Runs::labelled(field, label, self.loss));
        batch.into_iter().chain(row).chain(edge).chain(self.of_places(field)).collect()
    }

    fn of_factor(&self, about: &'static str) -> Option<KindTest> {
        let at = self.tally.factors.iter().position(|f| f.name == about)?;
        let runs = match &self.tally.field {
            Some(field) => Runs::of_factor(self.tally, field, at, self.loss),
            None => Runs::of_cells(self.tally, at, self.loss),
        };
        self.of_runs(about, &runs)
    }

    /// Whether levels differ, their labels dealt over the runs anew; none where there is one level only.
    fn of_runs(&self, about: &'static str, runs: &Runs) -> Option<KindTest> {
        if !runs.are_several() {
            return None;
        }
        let held = if about == "batch" { runs.best_held(self.clear_below) } else { Held::Nothing };
        let redealt = runs.redeal(held, self.effort, &self.stream(about), self.seed);
        let result = redealt.statistic;
        let absent = match result.silence() {
            // The edge is a band: there the question is the band itself.
            _ if redealt.in_bands && about != "edge" => Some((words::IN_BANDS, words::IN_BANDS_HELP)),
            Some(Silence::OneArrangement) => Some((words::ONE_ARRANGEMENT, words::ONE_ARRANGEMENT_HELP)),
            Some(Silence::OneValue) => Some((run_words::ONE_VALUE, run_words::ONE_VALUE_HELP)),
            None => None,
        };
        let known = |value| absent.map_or(Known::Value(value), |(why, help)| Known::absent(why, help));
        let question = match about {
            "batch" => words::KIND_BY_BATCH,
            "row" => words::KIND_BY_ROW,
            _ => words::KIND_BY_EDGE,
        };
        Some(KindTest {
            about,
            question: fill(question, &[("kind", &self.name)]),
            unit: runs.unit.clone(),
            held_fixed: held.name(),
            statistic: result.observed,
            expected: result.mean,
            p_value: known(result.p_greater),
            p_adjusted: known(result.p_greater),
            monte_carlo_error: known(result.error),
            method: result.method,
        })
    }

    /// Whether vines of the kind stand beside each other; vines missing are no sites, unless they are asked about.
    fn of_places(&self, field: &Field) -> Option<KindTest> {
        let is_site = |p: &&Point| self.loss == Loss::Missing || !p.missing;
        let points: Vec<&Point> = field.points.iter().filter(is_site).collect();
        let sites: Vec<Site> = points.iter().map(|p| site(p)).collect();
        let marked: Vec<bool> = points.iter().map(|p| self.is_of_kind(p)).collect();
        let got = clustered((&sites, &field.lines), &marked, self.effort, &self.stream("place"), self.seed);
        let known = |value: Option<f64>| Known::from_option(value, words::ONE_VALUE_PLACE, words::ONE_VALUE_PLACE_HELP);
        (!points.is_empty()).then(|| KindTest {
            about: "place",
            question: fill(words::KIND_BY_PLACE, &[("kind", &self.name)]),
            unit: "vine".into(),
            held_fixed: "nothing",
            statistic: got.joins,
            expected: got.expected,
            p_value: known(got.p_value),
            p_adjusted: known(got.p_value),
            monte_carlo_error: known(got.p_value.map(|_| got.error)),
            method: got.method,
        })
    }

    fn is_of_kind(&self, point: &Point) -> bool {
        match self.loss {
            Loss::Failed => point.failed && !point.missing,
            Loss::NeverGrew => point.never_grew,
            Loss::DiedLater => point.died_later,
            Loss::Missing => point.missing,
        }
    }

    fn stream(&self, about: &str) -> String {
        format!("cause.kinds.{:?}.{about}", self.loss)
    }
}

fn site(point: &Point) -> Site {
    Site { line: point.place.row, step: i32::try_from(point.place.position).unwrap_or(i32::MAX) }
}

/// The kinds at each level of a factor.
fn levels(tally: &Tally, factor: &str) -> Vec<LevelKinds> {
    let Some((at, of)) = tally.factors.iter().enumerate().find(|(_, f)| f.name == factor) else { return Vec::new() };
    let mut counts = vec![Counts::default(); of.levels.len()];
    for cell in &tally.cells {
        let code = cell.codes.get(at).copied().unwrap_or(u32::MAX);
        if let Some(level) = counts.get_mut(code as usize) {
            level.add(&cell.counts);
        }
    }
    let level = |(level, n): (&String, Counts)| LevelKinds {
        factor: factor.to_string(),
        level: level.clone(),
        seen: n.seen,
        never_grew: n.never_grew,
        died_later: n.died,
        dead: n.dead,
        scion_dead: n.scion_dead,
        missing: n.missing,
    };
    of.levels.iter().zip(counts).map(level).filter(|l| l.seen > 0).collect()
}
