//! Whether the levels of a factor differ: asked of planted runs, of single vines, and of the variance between levels.

use super::Config;
use super::apart::is_nested;
use super::by_row::ByRow;
use super::factor::or_absent;
use super::levels::{Level, Outcome};
use crate::base::known::Why;
use crate::base::words::{fill, number, rates as words, runs as run_words};
use crate::base::{Known, Seed};
use crate::block::UNKNOWN;
use crate::runs::{Held, Loss, Redealt, Runs, finer, stream, stream_of_levels};
use crate::stats::contingency::{ExactTest, freeman_halton_within};
use crate::stats::glm::{self, Design, Factor, logistic_regression};
use crate::stats::permute::{Effort, Silence};
use crate::stats::redealt_outcomes::{GroupCount, redealt_outcomes};
use crate::stats::variance_score::{Cells, Null, VarianceScore, variance_score};
use crate::tally::{Cell, Tally};
use serde::Serialize;
use std::collections::BTreeMap;

/// The tests of one factor.
#[derive(Clone, Debug, Serialize)]
pub struct FactorTests {
    /// That the levels differ no more than if the units, [`Self::p_unit`], had been given their levels anew.
    ///
    /// Batch, clone, rootstock, variety and declared factors: labels of planted runs (without places: of the cells of
    /// the table) are dealt anew, within rows or groups of them where that can speak clearly, else over the whole block. Where each level
    /// is made of whole levels of a finer one (a clone of its batches), those are dealt as wholes. Vines missing
    /// without a trace are left out. Row: the outcomes of single vines are dealt anew within each batch.
    pub p_value: Known<f64>,
    /// `planted_runs`, `stretches`, `cells`, each perhaps `_within_row_groups` or `_within_rows`; `finer_levels`; `vines`, `vines_within_batches`.
    pub p_method: Known<&'static str>,
    /// What was dealt anew: `planted run`, `stretch`, `cell`, `vine`, or the name of the finer factor.
    pub p_unit: Known<String>,
    /// Standard error of `p_value`; 0 where every arrangement was counted.
    pub p_monte_carlo_error: Known<f64>,
    /// The same question of single vines, as if neighbours were strangers: Freeman & Halton's exact test on lost and
    /// kept. It finds a hollow as readily as a batch.
    pub p_value_vines: Known<f64>,
    pub p_method_vines: Known<&'static str>,
    pub p_monte_carlo_error_vines: Known<f64>,
    /// That the variance between the levels' effects on the logit is 0, the other factors held.
    pub variance_test: Known<VarianceScore>,
    /// The levels compared within rows: the generalised Cochran-Mantel-Haenszel statistic, counting vines.
    pub by_row: Known<ByRow>,
}

/// One factor and what counts as a loss.
#[derive(Clone, Copy)]
pub(super) struct Question<'a> {
    pub(super) tally: &'a Tally,
    pub(super) index: usize,
    pub(super) outcome: Outcome,
}

/// Vines dealt in all of a test's dealings.
const MOST_DEALT: u64 = 40_000_000;

/// A p-value with how it was had.
struct Answer {
    p_value: f64,
    method: &'static str,
    unit: String,
    monte_carlo_error: f64,
}

impl FactorTests {
    /// The tests of a factor with these levels; `alone` says why there are none where fewer than two were seen.
    pub(super) fn new(asked: &Question, levels: &[Level], alone: &Why, config: &Config, seed: Seed) -> Self {
        let several = levels.iter().filter(|l| l.is_compared()).count() >= 2;
        let answer = if several { asked.levels_differ(config, seed) } else { Known::Absent(alone.clone()) };
        let vines = match several {
            true => asked.vines_differ(levels, config, seed),
            false => Known::Absent(alone.clone()),
        };
        let variance = if several { asked.variance(config, seed) } else { Known::Absent(alone.clone()) };
        FactorTests {
            p_value: read(&answer, |a| a.p_value),
            p_method: read(&answer, |a| a.method),
            p_unit: read(&answer, |a| a.unit.clone()),
            p_monte_carlo_error: read(&answer, |a| a.monte_carlo_error),
            p_value_vines: read(&vines, |t| t.p_value),
            p_method_vines: read(&vines, |t| t.method),
            p_monte_carlo_error_vines: read(&vines, |t| t.monte_carlo_error),
            variance_test: variance,
            by_row: if several { super::by_row::of_factor(asked) } else { Known::Absent(alone.clone()) },
        }
    }
}

impl FactorTests {
    /// None of them, for one reason.
    pub(super) fn absent(why: &Why) -> Self {
        FactorTests {
            p_value: Known::Absent(why.clone()),
            p_method: Known::Absent(why.clone()),
            p_unit: Known::Absent(why.clone()),
            p_monte_carlo_error: Known::Absent(why.clone()),
            p_value_vines: Known::Absent(why.clone()),
            p_method_vines: Known::Absent(why.clone()),
            p_monte_carlo_error_vines: Known::Absent(why.clone()),
            variance_test: Known::Absent(why.clone()),
            by_row: Known::Absent(why.clone()),
        }
    }
}

impl FactorTests {
    /// Why the labels can't be dealt anew, where they lie in bands.
    pub(super) fn in_bands(&self) -> Option<&Why> {
        self.p_value.why().filter(|why| why.would_help == run_words::IN_BANDS_HELP)
    }
}

fn read<A, T>(answer: &Known<A>, of: impl Fn(&A) -> T) -> Known<T> {
    match answer {
        Known::Value(answer) => Known::Value(of(answer)),
        Known::Absent(why) => Known::Absent(why.clone()),
    }
}

impl Question<'_> {
    pub(super) fn factor(&self) -> &str {
        self.tally.factors.get(self.index).map_or("", |f| f.name.as_str())
    }

    pub(super) fn loss(&self) -> Loss {
        match self.outcome {
            Outcome::Stand => Loss::Failed,
            Outcome::Take | Outcome::TakeAtLeast => Loss::NeverGrew,
        }
    }

    /// Code of the factor's level, where it names one thing.
    pub(super) fn code(&self, cell: &Cell) -> Option<u32> {
        let factor = self.tally.factors.get(self.index)?;
        let code = cell.codes.get(self.index).copied()?;
        (factor.definite.get(code as usize) == Some(&true)).then_some(code)
    }

    /// Vines seen and lost, as the levels' rates count them.
    fn seen_and_lost(&self, cell: &Cell) -> (u64, u64) {
        let kept = self.outcome.kept(&cell.counts);
        (kept.n, kept.n - kept.x)
    }

    fn stream(&self, what: &str) -> String {
        let outcome = if self.outcome == Outcome::Stand { "stand" } else { "take" };
        format!("rates.{outcome}.{}.{what}", self.factor())
    }

    /// Freeman & Halton's test on lost and kept of the compared levels.
    fn vines_differ(&self, levels: &[Level], config: &Config, seed: Seed) -> Known<ExactTest> {
        if config.simulations == 0 {
            return Known::absent(words::VINES_NOT_ASKED, words::VINES_NOT_ASKED_HELP);
        }
        let compared = levels.iter().filter(|l| l.is_compared()).map(|l| self.outcome.kept(&l.counts));
        let table: Vec<Vec<u64>> = compared.map(|c| vec![c.n - c.x, c.x]).collect();
        Known::Value(freeman_halton_within(&table, MOST_ARCS, config.simulations, seed))
    }

    fn levels_differ(&self, config: &Config, seed: Seed) -> Known<Answer> {
        let loss = self.loss();
        match (self.factor(), finer(self.tally, self.index), &self.tally.field) {
            ("row", ..) => self.rows_differ(config, seed),
            (_, Some(finer), _) => self.finer_levels_differ(finer, config, seed),
            (.., Some(field)) => self.runs_differ(&Runs::of_factor(self.tally, field, self.index, loss), config, seed),
            (.., None) => self.runs_differ(&Runs::of_cells(self.tally, self.index, loss), config, seed),
        }
    }

    fn runs_differ(&self, runs: &Runs, config: &Config, seed: Seed) -> Known<Answer> {
        let levels: &dyn std::fmt::Display = &plural(self.factor());
        if !runs.are_several() {
            let reason = fill(words::ONE_LEVEL_IN_RUNS, &[("levels", levels)]);
            return Known::absent(reason, words::ONE_LEVEL_IN_RUNS_HELP);
        }
        if runs.smallest_p() >= 1.0 {
            return Known::absent(run_words::ONE_VALUE, run_words::ONE_VALUE_HELP);
        }
        if runs.smallest_p() > config.likely_below {
            let values: [(&str, &dyn std::fmt::Display); 4] = [
                ("levels", levels),
                ("n", &runs.units().len()),
                ("unit", &runs.unit),
                ("p", &number::plain(runs.smallest_p())),
            ];
            return Known::absent(fill(words::UNITS_TOO_FEW, &values), fill(words::UNITS_TOO_FEW_HELP, &values));
        }
        let held = runs.best_held(config.clear_below);
        let redealt = runs.redeal(held, &config.effort(), &self.stream_of_runs(held), seed);
        self.answer(&redealt, runs, held, levels)
    }

    /// The stand's question is that of `cause`, and so is its stream.
    fn stream_of_runs(&self, held: Held) -> String {
        match self.outcome {
            Outcome::Stand => stream(self.factor(), held),
            Outcome::Take | Outcome::TakeAtLeast => self.stream(held.name()),
        }
    }

    fn answer(&self, redealt: &Redealt, runs: &Runs, held: Held, levels: &dyn std::fmt::Display) -> Known<Answer> {
        if let Some(why) = refused(redealt, held, levels) {
            return Known::Absent(why);
        }
        let method = match (runs.unit.as_str(), held) {
            ("planted run", Held::Nothing) => "planted_runs",
            ("planted run", Held::RowGroup) => "planted_runs_within_row_groups",
            ("planted run", Held::Row) => "planted_runs_within_rows",
            ("stretch", Held::Nothing) => "stretches",
            ("stretch", Held::RowGroup) => "stretches_within_row_groups",
            ("stretch", Held::Row) => "stretches_within_rows",
            ("cell", Held::Nothing) => "cells",
            ("cell", Held::RowGroup) => "cells_within_row_groups",
            ("cell", Held::Row) => "cells_within_rows",
            _ => "finer_levels",
        };
        Known::Value(Answer {
            p_value: redealt.statistic.p_greater,
            method,
            unit: runs.unit.clone(),
            monte_carlo_error: redealt.statistic.error,
        })
    }

    fn finer_levels_differ(&self, finer: usize, config: &Config, seed: Seed) -> Known<Answer> {
        let runs = Runs::of_levels(self.tally, self.index, finer, self.loss());
        let smallest = runs.smallest_p();
        if smallest > config.likely_below {
            let n = runs.units().len();
            let (p, levels) = (crate::base::words::number::p_alone(smallest), plural(&runs.unit));
            let filled =
                |sentence| fill(sentence, &[("factor", &self.factor()), ("levels", &levels), ("n", &n), ("p", &p)]);
            return Known::absent(filled(words::FINER_TOO_FEW), words::FINER_TOO_FEW_HELP);
        }
        let stream = match self.outcome {
            Outcome::Stand => stream_of_levels(self.factor(), &runs.unit),
            Outcome::Take | Outcome::TakeAtLeast => self.stream(&format!("by {}", runs.unit)),
        };
        let redealt = runs.redeal(Held::Nothing, &config.effort(), &stream, seed);
        self.answer(&redealt, &runs, Held::Nothing, &plural(self.factor()))
    }

    /// A row is a place: whether places differ is asked of single vines, each batch keeping its own losses.
    fn rows_differ(&self, config: &Config, seed: Seed) -> Known<Answer> {
        let batch = self.tally.factors.iter().position(|f| f.name == "batch");
        let mut strata = BTreeMap::<Option<u32>, Vec<GroupCount>>::new();
        for cell in &self.tally.cells {
            let Some(group) = self.code(cell) else { continue };
            let (seen, failed) = self.seen_and_lost(cell);
            let stratum = batch.and_then(|batch| cell.codes.get(batch).copied());
            strata.entry(stratum).or_default().push(GroupCount { group, failed, seen });
        }
        let method = if strata.len() > 1 { "vines_within_batches" } else { "vines" };
        let strata: Vec<Vec<GroupCount>> = strata.into_values().collect();
        // Ten million vines are dealt a few dozen times, not for minutes.
        let effort = Effort { most_moves: MOST_DEALT, ..config.effort() };
        let result = redealt_outcomes(&strata, &effort, &self.stream("vines"), seed);
        let answer =
            result.map(|r| Answer { p_value: r.p_greater, method, unit: "vine".into(), monte_carlo_error: r.error });
        or_absent(answer, &Why::new(words::ROWS_ONE_ARRANGEMENT, words::ROWS_ONE_ARRANGEMENT_HELP))
    }

    /// The score test that the levels' effects have no variance, the factors held that aren't nested within this one:
    /// fitted as fixed effects up to [`MOST_HELD_LEVELS`] of their levels, else each combination of them at its own
    /// rate. What is nested within this one (the batches of a clone) counts as this one's.
    fn variance(&self, config: &Config, seed: Seed) -> Known<VarianceScore> {
        let cells = self.tally.cells.iter().filter(|cell| cell.counts.seen > 0);
        let cells: Vec<(&Cell, u32)> = cells.filter_map(|cell| Some((cell, self.code(cell)?))).collect();
        let codes: Vec<u32> = cells.iter().map(|(_, code)| *code).collect();
        let (seen, failed): (Vec<u64>, Vec<u64>) = cells.iter().map(|(cell, _)| self.seen_and_lost(cell)).unzip();
        let held = self.held(&cells);
        let name = self.stream("variance");
        let test = |fitted: &[f64], null: &Null| {
            let cells = Cells { failed: &failed, seen: &seen, codes: &codes, fitted };
            variance_score(&cells, null, config.null_draws as u64, &name, seed)
        };
        let score = if held.iter().map(|(levels, _)| *levels as usize).sum::<usize>() <= MOST_HELD_LEVELS {
            let factors: Vec<Factor> = held.iter().map(|(levels, codes)| Factor { codes, levels: *levels }).collect();
            let design = Design::treatment(cells.len(), &factors);
            let fit = logistic_regression(&design, &failed, &seen, &glm::Config::default());
            let fitted: Vec<f64> = fit.fitted.iter().map(|p| p.unwrap_or(f64::NAN)).collect();
            test(&fitted, &Null::Design { columns: design.columns.len(), rows: &design.rows })
        } else {
            let groups = combinations(&held, cells.len());
            test(&rates_of(&groups, &failed, &seen), &Null::Groups(&groups))
        };
        let filled = |sentence| fill(sentence, &[("factor", &self.factor())]);
        or_absent(score, &Why::new(filled(words::VARIANCE_HELD), filled(words::VARIANCE_HELD_HELP)))
    }

    /// Number of levels and code by cell of each factor held; vines without a label are a level of their own.
    fn held(&self, cells: &[(&Cell, u32)]) -> Vec<(u32, Vec<u32>)> {
        let others =
            (0..self.tally.factors.len()).filter(|&i| i != self.index && !is_nested(self.tally, i, self.index));
        let column = |i: usize| cells.iter().map(|(cell, _)| cell.codes.get(i).copied().unwrap_or(UNKNOWN)).collect();
        let numbered = others.map(|i| numbered(column(i)));
        numbered.filter(|(levels, _)| *levels > 1).collect()
    }
}

/// Arcs up to which the test of vines counts every table: some hundredths of a second a factor.
const MOST_ARCS: usize = 200_000;

/// Levels of the factors held up to which they are fitted as fixed effects: about a hundred rows and a dozen others.
const MOST_HELD_LEVELS: usize = 120;

/// Codes numbered from 0 in rising order, and how many there are.
fn numbered(codes: Vec<u32>) -> (u32, Vec<u32>) {
    let mut distinct = codes.clone();
    distinct.sort_unstable();
    distinct.dedup();
    let number = |code: &u32| distinct.binary_search(code).unwrap_or(0) as u32;
    (distinct.len() as u32, codes.iter().map(number).collect())
}

/// The number of each cell's combination of codes.
fn combinations(held: &[(u32, Vec<u32>)], cells: usize) -> Vec<u32> {
    let mut numbers = BTreeMap::<Vec<u32>, u32>::new();
    let combination = |cell: usize| held.iter().map(|(_, codes)| codes.get(cell).copied().unwrap_or(UNKNOWN)).collect();
    let number = |cell: usize| {
        let next = numbers.len() as u32;
        *numbers.entry(combination(cell)).or_insert(next)
    };
    (0..cells).map(number).collect()
}

/// The share failed of each cell's group.
fn rates_of(groups: &[u32], failed: &[u64], seen: &[u64]) -> Vec<f64> {
    let mut sums = BTreeMap::<u32, (u64, u64)>::new();
    for ((group, failed), seen) in groups.iter().zip(failed).zip(seen) {
        let sum = sums.entry(*group).or_default();
        *sum = (sum.0 + failed, sum.1 + seen);
    }
    groups.iter().map(|group| sums.get(group).map_or(f64::NAN, |(d, n)| *d as f64 / *n as f64)).collect()
}

/// Why labels dealt anew are no evidence, if so.
pub(super) fn refused(redealt: &Redealt, held: Held, levels: &dyn std::fmt::Display) -> Option<Why> {
    let values: [(&str, &dyn std::fmt::Display); 2] = [("levels", levels), ("held", &held.phrase())];
    match redealt.statistic.silence() {
        _ if redealt.in_bands => Some(Why::new(fill(run_words::IN_BANDS, &values), run_words::IN_BANDS_HELP)),
        Some(Silence::OneArrangement) => Some(Why::new(
            fill(run_words::ONE_ARRANGEMENT, &values[..1]),
            fill(run_words::ONE_ARRANGEMENT_HELP, &values[..1]),
        )),
        Some(Silence::OneValue) => Some(Why::new(run_words::ONE_VALUE, run_words::ONE_VALUE_HELP)),
        None => None,
    }
}

/// A factor's levels in a sentence.
pub(super) fn plural(factor: &str) -> String {
    match factor {
        "batch" => "batches".into(),
        "variety" => "varieties".into(),
        "clone" | "rootstock" | "row" => format!("{factor}s"),
        declared => fill(words::LEVELS_OF, &[("factor", &declared)]),
    }
}
