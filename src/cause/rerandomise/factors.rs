//! Whether failures differ between the levels of a factor, follow the planting order, or differ between rows or at the edge.
//!
//! What came with the vines or went along with the planters is asked of planted runs (see [`crate::runs`]): batch, clone,
//! rootstock, variety, declared factors, the order. Row and edge are places: see [`super::nearby`].

use super::nearby::Nearby;
use super::order::Order;
use super::{Config, Test};
use crate::base::words::{cause as words, fill, number, rates as rate_words, runs as run_words};
use crate::base::{Known, Seed};
use crate::runs::{Held, Loss, Runs, finer, stream, stream_of_levels};
use crate::stats::permute::{Effort, Randomisation};
use crate::stats::redealt_outcomes::{GroupCount, redealt_outcomes};
use crate::tally::{Field, Tally};
use std::collections::BTreeMap;

/// The tests of every factor with two levels or more, of rows, edge and order; `missing` vines are left out.
pub(super) fn tests(tally: &Tally, field: &Field, config: &Config, seed: Seed) -> Vec<Test> {
    let asking = Asking { tally, field, config, effort: config.effort(), seed };
    let factors = (0..tally.factors.len()).flat_map(|factor| asking.of_factor(factor));
    factors.chain(asking.of_places()).chain(asking.of_order()).collect()
}

/// What all the tests are made from.
struct Asking<'a> {
    tally: &'a Tally,
    field: &'a Field,
    config: &'a Config,
    effort: Effort,
    seed: Seed,
}

impl Asking<'_> {
    /// Where each level is made of whole levels of a finer factor, those are dealt as wholes and answer; else the units to which
    /// the levels came answer, within rows where these have arrangements enough.
    fn of_factor(&self, factor: usize) -> Vec<Test> {
        let Some(name) = self.tally.factors.get(factor).map(|f| f.name.as_str()).filter(|name| *name != "row") else {
            return Vec::new();
        };
        let runs = Runs::of_factor(self.tally, self.field, factor, Loss::Failed);
        if !runs.are_several() {
            return Vec::new();
        }
        let asked = Asked { factor: name, levels: plural(name), runs };
        let best = asked.runs.best_held(self.config.clear_below);
        let whole = finer(self.tally, factor).map(|finer| self.over_levels(factor, finer));
        let of = |held: Held| {
            let test = asked.test(held, &self.effort, self.seed);
            Test { answers: whole.is_none() && held == best, ..test }
        };
        let mut tests: Vec<Test> = asked.runs.forms().into_iter().map(of).collect();
        tests.extend(whole);
        tests
    }

    /// The levels of a finer factor dealt as wholes.
    fn over_levels(&self, factor: usize, finer: usize) -> Test {
        let runs = Runs::of_levels(self.tally, factor, finer, Loss::Failed);
        let name = &self.tally.factors[factor].name;
        let stream = stream_of_levels(name, &runs.unit);
        let result = runs.redeal(Held::Nothing, &self.effort, &stream, self.seed).statistic;
        let (levels, finer) = (plural(name), plural(&runs.unit));
        let filled = |sentence| fill(sentence, &[("levels", &levels), ("finer", &finer)]);
        let said = (filled(words::BY_LEVEL_OVER_TITLE), filled(words::BY_LEVEL_OVER));
        let none = || Known::absent(run_words::ONE_VALUE, run_words::ONE_VALUE_HELP);
        let test = Test::new(
            &format!("failures_by_{name}_over_{}", runs.unit),
            said,
            unit(&runs.unit),
            "nothing",
            &result,
            none,
        );
        let test = Test { answers: true, ..test.about(name) };
        let smallest = runs.smallest_p();
        if smallest <= self.config.likely_below {
            return test;
        }
        let n = runs.units().len();
        let reason = fill(
            rate_words::FINER_TOO_FEW,
            &[("factor", name), ("levels", &finer), ("n", &n), ("p", &number::p_alone(smallest))],
        );
        test.refused(&reason, rate_words::FINER_TOO_FEW_HELP)
    }

    /// Rows against the rows beside them and rows at large, and the edge against what lies inside.
    fn of_places(&self) -> Vec<Test> {
        let batch = self.batch();
        let nearby = Nearby::of(self.field, batch);
        let held = if batch.is_some() { "place and batch" } else { "place" };
        let rows = nearby.rows(&self.effort, "cause.rows_against_neighbours", self.seed);
        let beside = rows.map(|r| self.near("rows_against_neighbours", words::ROWS_BESIDE, held, r).about("row"));
        let edge = nearby.edge(&self.effort, "cause.failures_at_edge", self.seed);
        let edge = edge.map(|r| self.near("failures_at_edge", words::AT_EDGE, held, r).about("edge"));
        let answers = |test: Test| Test { answers: true, ..test };
        beside.map(answers).into_iter().chain(self.rows_at_large()).chain(edge.map(answers)).collect()
    }

    fn near(
        &self,
        name: &str,
        (title, question): (&str, &str),
        held: &'static str,
        (result, expected): (Randomisation, f64),
    ) -> Test {
        let said = (title.to_string(), question.to_string());
        Test::new(name, said, "vine", held, &result, one_arrangement).with_expected(expected)
    }

    /// Failures dealt anew to all the vines of each batch: any place that differs makes rows differ.
    fn rows_at_large(&self) -> Option<Test> {
        let row = self.tally.factors.iter().position(|f| f.name == "row")?;
        let mut strata = BTreeMap::<Option<u32>, BTreeMap<u32, GroupCount>>::new();
        for point in self.field.points.iter().filter(|p| !p.missing) {
            let batch = self.batch().and_then(|at| point.codes.get(at).copied());
            let group = point.codes.get(row).copied()?;
            let none = GroupCount { group, failed: 0, seen: 0 };
            let count = strata.entry(batch).or_default().entry(group).or_insert(none);
            (count.failed, count.seen) = (count.failed + u64::from(point.failed), count.seen + 1);
        }
        let held = if strata.len() > 1 { "batch" } else { "nothing" };
        let strata: Vec<Vec<GroupCount>> = strata.into_values().map(|s| s.into_values().collect()).collect();
        let result = redealt_outcomes(&strata, &self.effort, "cause.failures_by_row", self.seed)?;
        let said = (words::BY_ROW.0.to_string(), words::BY_ROW.1.to_string());
        Some(Test::new("failures_by_row", said, "vine", held, &result, one_arrangement).about("row"))
    }

    /// The best step and the trend along the planters' order; within batches where that can speak clearly, which then answers.
    fn of_order(&self) -> Vec<Test> {
        let Some(runs) = Runs::in_order(self.field, Loss::Failed).filter(|runs| runs.units().len() > 2) else {
            return Vec::new();
        };
        let free = Order::of(&runs, false);
        let within = runs.are_several().then(|| Order::of(&runs, true));
        let speaks = |order: &Order| order.ln_orders() >= -self.config.clear_below.ln();
        let within_answers = within.as_ref().is_some_and(speaks);
        let mut tests = self.order(&free, &runs.unit, "nothing", !within_answers);
        tests.extend(within.iter().flat_map(|order| self.order(order, &runs.unit, "batch", within_answers)));
        tests
    }

    fn order(&self, order: &Order, of: &str, held: &'static str, answers: bool) -> Vec<Test> {
        let [step, trend] = order.redeal(&self.effort, &format!("cause.order.{held}"), self.seed);
        let phrase = if held == "batch" { words::ORDER_HELD_BATCH } else { words::ORDER_HELD_NOTHING };
        let test = |name: &str, (title, question): (&str, &str), result: &Randomisation| {
            let said = (title.to_string(), fill(question, &[("held", &phrase)]));
            Test::new(name, said, unit(of), held, result, one_arrangement).about("order")
        };
        let step = Test { answers, ..test("step_in_planting_order", words::ORDER_STEP, &step) };
        let trend = test("trend_in_planting_order", words::ORDER_TREND, &trend);
        vec![step, trend]
    }

    fn batch(&self) -> Option<usize> {
        self.tally.factors.iter().position(|f| f.name == "batch")
    }
}

fn one_arrangement() -> Known<f64> {
    Known::absent(words::ONE_ARRANGEMENT, words::ONE_ARRANGEMENT_HELP)
}

/// The unit as results name it.
fn unit(name: &str) -> &'static str {
    const NAMES: [&str; 7] =
        ["planted run", "stretch", "planted run within a row", "batch", "clone", "rootstock", "variety"];
    NAMES.into_iter().find(|known| *known == name).unwrap_or("unit")
}

/// Levels of a factor in a sentence.
fn plural(factor: &str) -> String {
    match factor {
        "batch" => "batches".into(),
        "variety" => "varieties".into(),
        "clone" | "rootstock" => format!("{factor}s"),
        declared => fill(rate_words::LEVELS_OF, &[("factor", &declared)]),
    }
}

/// A question about the levels of one factor.
struct Asked<'a> {
    factor: &'a str,
    levels: String,
    runs: Runs,
}

impl Asked<'_> {
    fn test(&self, held: Held, effort: &Effort, seed: Seed) -> Test {
        let phrase = held.phrase();
        let filled =
            |sentence| fill(sentence, &[("levels", &self.levels), ("held", &phrase), ("units", &self.units())]);
        let redealt = self.runs.redeal(held, effort, &stream(self.factor, held), seed);
        let none = || Known::absent(filled(run_words::ONE_ARRANGEMENT), filled(run_words::ONE_ARRANGEMENT_HELP));
        let said = (filled(words::BY_LEVEL_TITLE), filled(self.question()));
        let name = format!("failures_by_{}", self.factor);
        let test =
            Test::new(&name, said, unit(&self.runs.unit), held.name(), &redealt.statistic, none).about(self.factor);
        if redealt.in_bands { test.refused(&filled(run_words::IN_BANDS), run_words::IN_BANDS_HELP) } else { test }
    }

    fn question(&self) -> &'static str {
        match self.factor {
            "batch" => words::BY_BATCH,
            "clone" | "rootstock" | "variety" => words::BY_CLONE_OR_STOCK,
            _ => words::BY_DECLARED,
        }
    }

    fn units(&self) -> &'static str {
        if self.runs.unit == "stretch" { words::STRETCHES } else { words::PLANTED_RUNS }
    }
}
