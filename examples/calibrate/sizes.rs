//! How often each p-value of `rates` rejects in blocks where neither batch nor clone nor grade makes a difference.

use super::alarms::{Alarms, CHANCE, Ground, HOLLOW, HOLLOW_AND_ROWS, ROWS};
use fullstand::base::{Known, Seed};
use fullstand::rates::{self, factor_tests, level_by_row, trends};
use fullstand::simulate::{Consignment, Scenario, simulate};
use fullstand::tally::{Tally, TallyFactor, tally};
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::time::Instant;

pub const GROUNDS: [Ground; 4] = [CHANCE, ROWS, HOLLOW, HOLLOW_AND_ROWS];

/// Deliveries, the clone of each, and its grade.
const DELIVERIES: [(&str, &str, &str); 6] =
    [("A", "C1", "5"), ("B", "C2", "6"), ("C", "C2", "7"), ("D", "C3", "5"), ("E", "C3", "6"), ("F", "C3", "7")];

/// Tests that ask planted runs, or whole batches, and so hold whatever the ground is.
const OF_RUNS: [&str; 3] = ["batch p_value", "clone p_value", "grade p_permuted"];
/// Tests that hold rows, and take vines of a row for strangers.
const OF_VINES_BY_ROW: [&str; 4] =
    ["batch by_row", "level A by_row, exact", "batch variance_test", "clone variance_test"];

/// Whether the ground has nothing but what the test allows for.
pub fn is_null(test: &str, ground: &Ground) -> bool {
    let independent = ground.hollow == 0.0;
    OF_RUNS.contains(&test) || independent && (ground.row_sd == 0.0 || OF_VINES_BY_ROW.contains(&test))
}

/// At most 5 % and three standard errors.
pub fn holds(alarms: &Alarms) -> bool {
    alarms.at_5.value() <= 0.05 + 3.0 * alarms.at_5.error_at(0.05)
}

/// Rejections by test over `blocks` blocks with `permutations` re-arrangements, tables or draws each.
pub fn sizes(ground: &Ground, blocks: u64, permutations: usize) -> BTreeMap<&'static str, Alarms> {
    // The exact test of vines is measured among the alarms.
    let config = rates::Config { simulations: 0, permutations, null_draws: permutations, ..rates::Config::default() };
    let mut all = BTreeMap::<_, Alarms>::new();
    for (test, p) in (0..blocks).into_par_iter().flat_map_iter(|b| of_block(ground, b, &config)).collect::<Vec<_>>() {
        let alarms = all.entry(test).or_default();
        alarms.at_5.count(p <= 0.05 + 1e-12);
        alarms.at_1.count(p <= 0.01 + 1e-12);
    }
    all
}

/// Every p-value that the block has.
fn of_block(ground: &Ground, number: u64, config: &rates::Config) -> Vec<(&'static str, f64)> {
    let seed = Seed::new(500_000 + number);
    let block = simulate(&six_deliveries(ground.scenario(seed)), seed).block;
    let Ok(tally) = tally(&block, None).map(with_grade) else { return Vec::new() };
    let mut found = Vec::new();
    let mut note = |test: &'static str, p: Option<f64>| found.extend(p.map(|p| (test, p)));
    let tests = |factor: &str| factor_tests(&tally, factor, config, seed);
    let value = |p: &Known<f64>| p.value().copied();
    if let Some(batch) = tests("batch") {
        note("batch p_value", value(&batch.p_value));
        note("batch variance_test", batch.variance_test.value().map(|t| t.p_value));
        note("batch by_row", batch.by_row.value().map(|t| t.p_value));
    }
    if let Some(clone) = tests("clone") {
        note("clone p_value", value(&clone.p_value));
        note("clone variance_test", clone.variance_test.value().map(|t| t.p_value));
    }
    if let Some(row) = tests("row") {
        note("row p_value", value(&row.p_value));
        note("row variance_test", row.variance_test.value().map(|t| t.p_value));
    }
    let by_row = level_by_row(&tally, "batch", 0, config.level);
    note("level A by_row, exact", by_row.and_then(|l| value(&l.p_exact)));
    for trend in trends(&tally, config, seed).iter().filter(|t| t.factor == "grade") {
        note("grade p_value", value(&trend.p_value));
        note("grade p_permuted", value(&trend.p_permuted));
    }
    found
}

fn six_deliveries(scenario: Scenario) -> Scenario {
    let of =
        |(batch, clone, _): (&str, &str, &str)| Consignment { clone: Some(clone.into()), ..Consignment::named(batch) };
    Scenario { deliveries: DELIVERIES.map(of).into(), ..scenario }
}

/// The tally with a declared factor: each batch has a grade, two batches share one.
fn with_grade(mut tally: Tally) -> Tally {
    let Some(at) = tally.factors.iter().position(|f| f.name == "batch") else { return tally };
    let grades = ["5", "6", "7"];
    let grade_of: Vec<u32> = tally.factors[at]
        .levels
        .iter()
        .map(|batch| DELIVERIES.iter().find(|d| d.0 == batch).and_then(|d| grades.iter().position(|g| *g == d.2)))
        .map(|grade| grade.map_or(u32::MAX, |g| g as u32))
        .collect();
    let more = |codes: &[u32]| {
        let grade = grade_of.get(codes[at] as usize).copied().unwrap_or(u32::MAX);
        codes.iter().copied().chain([grade]).collect::<Box<[u32]>>()
    };
    tally.cells.iter_mut().for_each(|cell| cell.codes = more(&cell.codes));
    let points = tally.field.iter_mut().flat_map(|field| field.points.iter_mut());
    points.for_each(|point| point.codes = more(&point.codes));
    let levels = grades.map(String::from).into();
    tally.factors.push(TallyFactor { name: "grade".into(), levels, definite: vec![true; 3] });
    tally
}

/// Vines of a block, and the seconds that `rates` takes of it with its defaults: the median of five.
pub fn seconds_of_rates() -> (u64, f64) {
    let seed = Seed::new(1);
    let scenario = Scenario { rows: 100, places_per_row: 50, ..six_deliveries(CHANCE.scenario(seed)) };
    let Ok(tally) = tally(&simulate(&scenario, seed).block, None) else { return (0, 0.0) };
    let one = |_| {
        let start = Instant::now();
        let result = rates::rates(&tally, 0, &rates::Config::default(), seed);
        (start.elapsed().as_secs_f64(), result.vines)
    };
    let mut runs: Vec<(f64, u64)> = (0..5).map(one).collect();
    runs.sort_by(|a, b| a.0.total_cmp(&b.0));
    (runs[2].1, runs[2].0)
}
