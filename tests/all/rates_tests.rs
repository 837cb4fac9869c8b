//! The tests of `rates`: of planted runs, of vines, of variances, by row and along a score.

use crate::counted::{counted, counts};
use crate::oracle::close;
use crate::tally::{Plot, autumn, place, planting};
use fullstand::base::{Known, Seed};
use fullstand::block::{Block, Plants, State, UNKNOWN};
use fullstand::cause::{self, cause};
use fullstand::rates::{Config, FactorRates, Rates, RatesTrend, rates};
use fullstand::simulate::{Consignment, Dealt, Effects, Scenario, simulate};
use fullstand::stats::stratified::{exact_conditional, mantel_haenszel};
use fullstand::tally::{Counts, Tally, tally};

fn run(tally: &Tally) -> Rates {
    rates(tally, 0, &Config::default(), Seed::new(1))
}

fn of<'a>(rates: &'a Rates, factor: &str) -> &'a FactorRates {
    rates.factors.iter().find(|f| f.factor == factor).unwrap_or_else(|| panic!("no factor {factor}"))
}

fn value<T: Clone>(known: &Known<T>) -> T {
    known.value().cloned().unwrap_or_else(|| panic!("{:?}", known.why()))
}

fn reason<T>(known: &Known<T>) -> &str {
    known.why().map_or("a value", |why| why.reason.as_str())
}

/// A block of bundles of 25 along a serpentine; `stock` names the clone of each of six deliveries, the first of which
/// fails by `effect` more on the logit.
fn bundles(effect: f64, stock: [&str; 6]) -> Scenario {
    let of = |(name, clone): (&str, &str)| Consignment { clone: Some(clone.into()), ..Consignment::named(name) };
    let mut deliveries: Vec<Consignment> = ["A", "B", "C", "D", "E", "F"].into_iter().zip(stock).map(of).collect();
    deliveries[0].effect = effect;
    Scenario {
        deliveries,
        dealt: Dealt::Bundles { size: 25 },
        base_failure: 0.07,
        effects: Effects::default(),
        ..Scenario::default()
    }
}

fn tallied(scenario: &Scenario) -> Tally {
    tally(&simulate(scenario, Seed::new(7)).block, None).unwrap()
}

const ONE_CLONE: [&str; 6] = ["C1"; 6];

/// One question, one answer: the p-value of a batch is that of `cause`, from the same re-arrangements.
#[test]
fn the_p_value_of_a_factor_is_that_of_its_planted_runs() {
    let tally = tallied(&bundles(1.2, ONE_CLONE));
    let (rates, cause) = (run(&tally), cause(&tally, &cause::Config::default(), Seed::new(1)));
    let tests = &of(&rates, "batch").tests;
    let theirs = cause.tests.iter().find(|t| t.about == "batch" && t.answers).unwrap();
    assert_eq!(
        (value(&tests.p_method), value(&tests.p_unit).as_str()),
        ("planted_runs_within_row_groups", "planted run")
    );
    assert_eq!(
        (value(&tests.p_value), value(&tests.p_monte_carlo_error)),
        (value(&theirs.p_value), value(&theirs.monte_carlo_error))
    );
    assert!(value(&tests.p_value) < 0.01 && value(&tests.p_value_vines) < 0.001);
    assert!(value(&tests.p_method_vines).starts_with("freeman_halton"));
    // The clone has one level only.
    assert!(reason(&of(&rates, "clone").tests.p_unit).contains("fewer than two levels"));
}

/// Batches are the error stratum of what they are nested in.
#[test]
fn a_clone_made_of_whole_batches_is_asked_about_in_batches() {
    let tally = tallied(&bundles(3.0, ["C1", "C1", "C1", "C2", "C2", "C2"]));
    let rates = run(&tally);
    let tests = &of(&rates, "clone").tests;
    // Six batches in threes part in 10 ways: no p below 0.1, however bad a single batch of the clone is.
    assert!(reason(&tests.p_value).contains("each clone is made of whole batches"), "{}", reason(&tests.p_value));
    assert!(reason(&tests.p_value).contains("0.1"));
    assert!(value(&tests.p_value_vines) < 1e-6);
    assert!(value(&of(&rates, "batch").tests.p_value) < 0.01);
    // One against five parts in 6 ways, two against four in 15, with a third clone in 60: in reach of 0.05.
    let three = tallied(&bundles(3.0, ["C1", "C2", "C2", "C3", "C3", "C3"]));
    let rates = run(&three);
    let tests = &of(&rates, "clone").tests;
    assert_eq!((value(&tests.p_method), value(&tests.p_unit).as_str()), ("finer_levels", "batch"));
    assert_eq!(value(&tests.p_monte_carlo_error), 0.0);
    let p = value(&tests.p_value);
    close("a whole number of 60ths", (60.0 * p).round(), 60.0 * p, 1e-9, 0.0);
}

#[test]
fn labels_in_bands_or_in_runs_of_their_own_are_not_dealt_anew() {
    let whole = Scenario { dealt: Dealt::WholeRows, ..bundles(0.0, ONE_CLONE) };
    let rates = run(&tallied(&whole));
    let tests = &of(&rates, "batch").tests;
    assert!(reason(&tests.p_value).contains("every arrangement gives the same value"), "{}", reason(&tests.p_value));
    assert!(tests.p_value_vines.value().is_some());
    assert!(reason(&tests.by_row).contains("no row holds"), "{}", reason(&tests.by_row));
    let turns = Scenario {
        dealt: Dealt::Interleaved { size: 15 },
        planted: fullstand::block::PlantingOrder::SameEnd,
        ..bundles(0.0, ONE_CLONE)
    };
    let rates = run(&tallied(&turns));
    assert!(reason(&of(&rates, "batch").tests.p_value).contains("bands across the rows"));
}

const ROWS: [&str; 12] = ["1", "2", "3", "4", "5", "6", "7", "8", "9", "10", "11", "12"];

/// Twelve rows of two batches (or crews) of 20 vines; the second loses `worse` more in each row.
fn two_in_each_row(factor: &str, labels: [&str; 2], worse: u64) -> Tally {
    let cell = |row: u32, code: u32| (vec![code, row], counts(20, 1 + u64::from(row % 3) + u64::from(code) * worse));
    let mut cells: Vec<(Vec<u32>, Counts)> = (0..12).flat_map(|row| [cell(row, 0), cell(row, 1)]).collect();
    cells.push((vec![UNKNOWN, 3], counts(5, 5)));
    counted(&[(factor, &labels), ("row", &ROWS)], &cells)
}

/// Without places the cells of the table are the units, and rows are held.
#[test]
fn cells_of_a_table_of_counts_play_the_part_of_runs() {
    let rates = run(&two_in_each_row("batch", ["a", "b"], 2));
    let tests = &of(&rates, "batch").tests;
    assert_eq!((value(&tests.p_method), value(&tests.p_unit).as_str()), ("cells_within_rows", "cell"));
    // Every row has its worse cell in b: 2 of 4,096 arrangements are as far apart.
    close("p", value(&tests.p_value), 2.0 / 4_096.0, 1e-12, 0.0);
    let even = run(&two_in_each_row("batch", ["a", "b"], 0));
    assert!(of(&even, "batch").tests.p_value.value().is_none_or(|p| *p > 0.9));
}

/// A row is a place: batches keep their own losses while outcomes are dealt to vines.
#[test]
fn rows_are_asked_about_within_batches() {
    let rates = run(&two_in_each_row("batch", ["a", "b"], 5));
    let tests = &of(&rates, "row").tests;
    assert_eq!((value(&tests.p_method), value(&tests.p_unit).as_str()), ("vines_within_batches", "vine"));
    // Row r loses 7 + 2 (r mod 3) of 40 (row 4 five more without a label): the rest is batches, which are held.
    assert!(value(&tests.p_value) > 0.05, "{:?}", tests.p_value);
    assert!(reason(&tests.by_row).contains("rows can't be compared within rows"));
    // A bad row is found though its batch is bad too.
    let cell = |row: u32, code: u32, failed| (vec![code, row], counts(20, failed));
    let cells: Vec<_> =
        (0..12).flat_map(|row| [cell(row, 0, 1), cell(row, 1, if row == 5 { 15 } else { 4 })]).collect();
    let bad = run(&counted(&[("batch", &["a", "b"]), ("row", &ROWS)], &cells));
    assert!(value(&of(&bad, "row").tests.p_value) < 0.02);
    assert!(value(&of(&bad, "row").tests.variance_test).p_value < 0.02);
}

/// Against the strata written out, the unlabelled vines left aside and `missing` counted apart.
#[test]
fn levels_are_compared_by_row() {
    let mut tally = two_in_each_row("batch", ["a", "b"], 2);
    tally.cells[0].counts.missing = 1;
    let rates = run(&tally);
    let lost = |row: u64, code: u64| 1 + row % 3 + 2 * code;
    let table = |row: u64| {
        let [a, b] = [0, 1].map(|code| [lost(row, code), 20 - lost(row, code)]);
        if row == 0 { [[0, 19], b] } else { [a, b] }
    };
    let strata: Vec<_> = (0..12).map(table).collect();
    let (want, exact) = (mantel_haenszel(&strata, 0.9), exact_conditional(&strata, 0.9).unwrap());
    let batch = of(&rates, "batch");
    let got = value(&batch.levels.iter().find(|l| l.level == "a").unwrap().by_row);
    close("odds ratio", value(&got.odds_ratio), want.odds_ratio.unwrap(), 1e-12, 0.0);
    close("low", value(&got.low), want.odds_ratio_interval.unwrap().low, 1e-12, 0.0);
    close("high", value(&got.high), want.odds_ratio_interval.unwrap().high, 1e-12, 0.0);
    close("p", value(&got.p_value), want.test.unwrap().p_value, 1e-12, 0.0);
    close("exact p", value(&got.p_exact), exact.p_two_sided, 1e-12, 0.0);
    assert_eq!((got.informative_rows, got.unit), (12, "vine"));
    let all = value(&batch.tests.by_row);
    close("two levels: one chi-square", all.statistic, want.test.unwrap().statistic, 1e-10, 0.0);
    assert_eq!((all.df, all.unit), (1.0, "vine"));
    assert!(reason(&batch.levels[0].by_row).contains("no label for batch"));
}

#[test]
fn a_level_without_a_loss_has_bounds_by_row() {
    let cell = |row: u32, code: u32| (vec![code, row], counts(20, u64::from(code) * 3));
    let cells: Vec<_> = (0..12).flat_map(|row| [cell(row, 0), cell(row, 1)]).collect();
    let rates = run(&counted(&[("batch", &["a", "b"]), ("row", &ROWS)], &cells));
    let [none, some] = [0, 1].map(|i| value(&of(&rates, "batch").levels[i].by_row));
    assert_eq!((value(&none.odds_ratio), value(&none.low)), (0.0, 0.0));
    assert!(value(&none.high) < 0.2 && value(&none.p_exact) < 1e-6);
    assert!(reason(&some.odds_ratio).contains("no upper bound") && reason(&some.high).contains("no upper bound"));
    close("turned", value(&some.low), 1.0 / value(&none.high), 1e-6, 0.0);
}

/// The variance is tested in the light of the other factors: a batch that takes whole rows leaves none to them.
#[test]
fn a_variance_is_tested_beside_the_other_factors() {
    let tests = |worse| run(&two_in_each_row("batch", ["a", "b"], worse)).factors;
    let p = |factors: &[FactorRates], i: usize| value(&factors[i].tests.variance_test).p_value;
    let (bad, even) = (tests(5), tests(0));
    assert!(p(&bad, 0) < 0.01 && p(&even, 0) > 0.2, "{} {}", p(&bad, 0), p(&even, 0));
    assert!(value(&bad[0].tests.variance_test).statistic > 0.0);
    // Batches that are crews: one holds what the other would test, so nothing is left.
    let cell = |row: u32, code: u32| (vec![code, row, code], counts(20, 2 + 4 * u64::from(code)));
    let cells: Vec<_> = (0..12).flat_map(|row| [cell(row, 0), cell(row, 1)]).collect();
    let factors: [(&str, &[&str]); 3] = [("batch", &["a", "b"]), ("row", &ROWS), ("crew", &["x", "y"])];
    let aliased = run(&counted(&factors, &cells));
    // One-to-one factors are nested in each other, so neither is held against the other.
    assert!(value(&of(&aliased, "batch").tests.variance_test).p_value < 0.02);
    assert_eq!(aliased.factors.len(), 3);
}

/// Beyond a hundred and twenty levels held, each combination keeps its own rate.
#[test]
fn many_rows_are_held_one_by_one() {
    let names: Vec<String> = (1..=150).map(|i| i.to_string()).collect();
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let tally = |worse: u64| {
        let cell = |row: u32, code: u32| (vec![code, row], counts(20, u64::from(row % 4) + u64::from(code) * worse));
        let cells: Vec<_> = (0..150).flat_map(|row| [cell(row, 0), cell(row, 1)]).collect();
        run(&counted(&[("batch", &["a", "b"]), ("row", &names)], &cells))
    };
    let p = |worse| value(&of(&tally(worse), "batch").tests.variance_test).p_value;
    assert!(p(1) < 0.01 && p(0) > 0.5, "{} {}", p(1), p(0));
}

fn trend<'a>(rates: &'a Rates, factor: &str) -> &'a RatesTrend {
    rates.trends.iter().find(|t| t.factor == factor).unwrap()
}

#[test]
fn a_grade_in_numbers_has_a_trend_and_names_have_none() {
    let cell = |row: u32, code: u32| (vec![row, code], counts(20, 1 + 2 * u64::from(code)));
    let cells: Vec<_> = (0..12).flat_map(|row| [cell(row, 0), cell(row, 1), cell(row, 2)]).collect();
    let rates = run(&counted(&[("row", &ROWS), ("caliper", &["5", "6.5", "8"])], &cells));
    let got = trend(&rates, "caliper");
    let scores: Vec<(f64, u64, u64)> = got.groups.iter().map(|g| (g.score, g.seen, g.failed)).collect();
    assert_eq!((got.name, scores), ("grade", vec![(5.0, 240, 12), (6.5, 240, 36), (8.0, 240, 60)]));
    // 48 more of 240 over 3 mm.
    close("slope", value(&got.slope), 0.2 / 3.0, 1e-12, 0.0);
    assert!(value(&got.z) > 4.0 && value(&got.p_value) < 1e-4 && value(&got.p_permuted) < 1e-3);
    assert_eq!(got.p_unit, "cell");
    let named = run(&counted(&[("row", &ROWS), ("caliper", &["5", "6.5", "thick"])], &cells));
    assert!(named.trends.is_empty());
}

/// Four rows of ten vines planted on two days, the second of which took badly.
fn two_days() -> Block {
    let mut plot = Plot::default();
    let mut states = Vec::new();
    for row in 0..4u32 {
        for position in 1..=10u32 {
            let day = if row < 2 { planting() } else { planting().tomorrow().unwrap() };
            let batch = if (row + position / 3) % 2 == 0 { "A" } else { "B" };
            plot.plant(place(row, position), batch, day);
            let failed = row >= 2 && position % 2 == 0;
            states.push((states.len() as u32, if failed { State::Dead } else { State::Alive }));
        }
    }
    plot.walk(autumn(), &states);
    plot.block()
}

#[test]
fn planting_days_have_a_trend_counting_vines_and_none_where_they_lie_in_bands() {
    let rates = run(&tally(&two_days(), None).unwrap());
    let got = trend(&rates, "planted_on");
    assert_eq!((got.name, got.groups.len(), got.p_unit.as_str()), ("planting date", 2, "planted run"));
    assert_eq!((got.groups[0].score, got.groups[1].score), (0.0, 1.0));
    assert_eq!((got.groups[0].failed, got.groups[1].failed, got.groups[1].seen), (0, 10, 20));
    close("slope", value(&got.slope), 0.5, 1e-12, 0.0);
    assert!(value(&got.p_value) < 0.001);
    let one_day = run(&tallied(&Scenario { planting_days: 1, ..bundles(0.0, ONE_CLONE) }));
    assert!(one_day.trends.is_empty());
}

/// Without batches a declared factor is asked about in its own stretches.
#[test]
fn stretches_take_the_part_of_runs_where_no_batch_is_known() {
    let mut block = two_days();
    let Plants::Vines(register) = &mut block.plants else { panic!("a register") };
    register.factors.retain(|f| f.name == "batch");
    register.factors.iter_mut().for_each(|f| f.name = "crew".into());
    let tallied = tally(&block, None).unwrap();
    let rates = run(&tallied);
    let tests = &of(&rates, "crew").tests;
    let known = tests.p_unit.value().map(String::as_str);
    assert!(known == Some("stretch") || reason(&tests.p_value).contains("bands"), "{tests:?}");
    let cause = cause(&tallied, &cause::Config::default(), Seed::new(1));
    let crew = cause.tests.iter().find(|t| t.about == "crew" && t.answers).unwrap();
    assert_eq!((crew.unit, crew.p_value.value()), ("stretch", tests.p_value.value()));
}

/// The take has the same tests, of vines that never grew.
#[test]
fn the_take_has_its_own_tests() {
    let scenario = bundles(1.5, ONE_CLONE);
    let scenario = Scenario { dying: fullstand::simulate::Dying { never_grew: 1.0, gone: 0.0 }, ..scenario };
    let rates = run(&tallied(&scenario));
    let take = rates.take.clone();
    let tests = &take.iter().find(|f| f.factor == "batch").unwrap().tests;
    assert_eq!(value(&tests.p_method), "planted_runs_within_row_groups");
    assert!(value(&tests.p_value) < 0.05 && value(&tests.variance_test).p_value < 0.05);
}
