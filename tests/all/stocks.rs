//! Rootstocks compared, and what it takes to tell two stands apart.

use crate::contract::{demo, document, fullstand};
use crate::counted::counted;
use crate::oracle::close;
use fullstand::base::known::Why;
use fullstand::base::words::number;
use fullstand::base::{Assumptions, Known, Seed};
use fullstand::rates::{
    Beside, Comparison, Config, Difference, Pair, Parts, PowerAnswer, PowerConfig, Rates, Spread, Stand, compare,
    power_answer, rates,
};
use fullstand::stats::power::{self, Arm, Design, between_of_correlation, detectable_difference};
use fullstand::tally::{Cell, Counts, Tally, TallyFactor};

/// Stock, batch, row, vines seen, failed.
type Line = (u32, u32, u32, u64, u64);

fn tally(stocks: &[&str], batches: usize, rows: usize, lines: &[Line]) -> Tally {
    let numbers: Vec<String> = (1..=batches.max(rows)).map(|i| i.to_string()).collect();
    let numbers: Vec<&str> = numbers.iter().map(String::as_str).collect();
    let never_grew = |n, d| Counts { planted: n, seen: n, failed: d, never_grew: d, ..Counts::default() };
    let cell = |&(stock, batch, row, seen, failed): &Line| ([stock, batch, row], never_grew(seen, failed));
    let cells: Vec<([u32; 3], Counts)> = lines.iter().map(cell).collect();
    counted(&[("rootstock", stocks), ("batch", &numbers[..batches]), ("row", &numbers[..rows])], &cells)
}

/// Two stocks, three batches of each, every batch 40 vines in each of four rows of its own.
fn six_batches() -> Tally {
    let failed = |stock: u32, batch: u32, row: u32| u64::from(2 + 3 * stock + (batch + row) % 2);
    let of_batch = |b: u32| (0..4).map(move |r| (b / 3, b, 4 * b + r, 40, failed(b / 3, b, r)));
    let lines: Vec<Line> = (0..6).flat_map(of_batch).collect();
    tally(&["1103P", "SO4"], 6, 24, &lines)
}

fn point(batch: f64, row: f64) -> Spread {
    Spread { batch: Known::Value(vec![batch]), row: Known::Value(vec![row]) }
}

fn asking(difference: f64) -> PowerConfig {
    PowerConfig::new(Some(difference), &Assumptions::default())
}

fn run(tally: &Tally) -> Rates {
    rates(tally, 0, &Config { power: asking(0.05), ..Config::default() }, Seed::new(1))
}

fn compared(tally: &Tally, spread: &Spread, pairs: Known<Vec<Pair>>) -> Known<Comparison> {
    let rates = run(tally);
    let parts = Parts { tally, stand: &rates.factors, take: &rates.take, spread, level: 0.9 };
    compare("rootstock", &parts, beside(pairs), &asking(0.05))
}

fn beside(pairs: Known<Vec<Pair>>) -> Beside {
    Beside { adjusted_for: vec!["batch".into(), "row".into()], same_as: vec!["clone".into()], pairs }
}

fn no_pairs() -> Known<Vec<Pair>> {
    Known::absent("not asked", "nothing")
}

fn value<T: Clone>(known: &Known<T>) -> T {
    known.value().cloned().expect("a value")
}

fn answered(spread: &Spread, design: Known<Design>, difference: f64) -> PowerAnswer {
    value(&power_answer(&six_batches(), spread, &design, &asking(difference)))
}

fn no_design() -> Known<Design> {
    Known::absent("one stock", "another")
}

#[test]
fn every_stock_stands_with_its_batches_vines_and_pooled_rates() {
    let rates = run(&six_batches());
    let c = value(&rates.rootstock);
    let names: Vec<&str> = c.levels.iter().map(|l| l.level.as_str()).collect();
    assert_eq!(names, ["1103P", "SO4"]);
    assert_eq!((value(&c.levels[0].batches), c.levels[0].seen, c.levels[0].failed), (3, 480, 30));
    assert_eq!((value(&c.levels[1].batches), c.levels[1].vines, c.levels[1].failed), (3, 480, 66));
    for (level, rate) in c.levels.iter().zip(&rates.factors[0].levels) {
        assert_eq!((&level.stand, &level.probability_best), (&rate.pooled, &rate.probability_best));
    }
    assert_eq!(c.levels[0].take, rates.take[0].levels[0].pooled);
    assert!(rates.clone.why().unwrap().reason.contains("fewer than two levels of clone"));
}

#[test]
fn what_the_block_could_have_shown_is_that_of_its_equal_design() {
    let c = value(&compared(&six_batches(), &point(0.3, 0.2), no_pairs()));
    let could = value(&c.could_have_shown);
    let one = power::Spread { between: 0.3, within: 0.2, run: 40.0 };
    let want = detectable_difference(0.95, &Design::even(3.0, 160.0), &[one], &power::Wanted::default()).unwrap();
    close("difference", value(&could.smallest_difference), want, 1e-3, 0.0);
    assert_eq!((could.batches_per_stock, could.vines_per_stock), ([3, 3], [480, 480]));
    assert_eq!((could.batch_sd, could.row_sd, could.spread_from), (0.3, 0.2, "this block"));
    assert_eq!(c.adjusted_for, ["batch", "row"]);
    // The more batches differ, the larger a difference has to be.
    let wider = value(&compared(&six_batches(), &point(0.6, 0.2), no_pairs()));
    assert!(value(&value(&wider.could_have_shown).smallest_difference) > want + 0.02);
}

/// Of a stand between bounds the draws say what was assumed: no pair with it is given.
#[test]
fn pairs_of_a_stock_between_bounds_are_not_given() {
    let mut rates = run(&six_batches());
    let why = Why::new("it can't be told from rows 1 to 12", "a row that holds both");
    rates.factors[0].levels[0].pooled = Stand::Bounded { low: 0.5, high: 0.99, why: why.clone() };
    let spread = point(0.3, 0.2);
    let parts = Parts { tally: &six_batches(), stand: &rates.factors, take: &rates.take, spread: &spread, level: 0.9 };
    let c = value(&compare("rootstock", &parts, beside(value(&rates.rootstock).pairs), &asking(0.05)));
    assert_eq!(c.pairs.why(), Some(&why));
    assert!(!c.sentences.iter().any(|s| s.contains("points above")), "{:?}", c.sentences);
}

/// Each stock is one clone: the model can't allow for the one in the other, and says so.
#[test]
fn stocks_that_are_clones_too_are_not_adjusted_for_them() {
    let mut t = six_batches();
    t.factors.insert(0, TallyFactor { name: "clone".into(), ..t.factors[0].clone() });
    t.cells.iter_mut().for_each(|c| c.codes = [&c.codes[..1], &c.codes[..]].concat().into());
    let rates = run(&t);
    let (stock, clone) = (value(&rates.rootstock), value(&rates.clone));
    assert_eq!(
        (stock.adjusted_for, stock.same_as),
        (vec!["batch".to_string(), "row".into()], vec!["clone".to_string()])
    );
    assert_eq!(clone.same_as, ["rootstock"]);
    assert_eq!(stock.pairs, clone.pairs);
    let pair = &value(&stock.pairs)[0];
    assert!(pair.difference.low < pair.difference.value && pair.difference.value < pair.difference.high);
    assert!(pair.probability_greater > 0.5 && pair.difference.value > 0.0, "{pair:?}");
}

#[test]
fn the_sentences_carry_the_numbers_of_the_result() {
    let pair = Pair {
        a: "SO4".into(),
        b: "1103P".into(),
        difference: Difference { value: -0.071, low: -0.12, high: 0.004 },
        probability_greater: 0.06,
    };
    let c = value(&compared(&six_batches(), &point(0.3, 0.2), Known::Value(vec![pair])));
    let said = c.sentences.join(" ").replace('\u{a0}', " ");
    let best = number::chance(value(&c.levels[0].probability_best)).replace('\u{a0}', " ");
    assert!(said.contains(&format!("1103P has the highest stand with a chance of {best}")), "{said}");
    assert!(said.contains("These stands allow for batch and row."), "{said}");
    assert!(said.contains("divide these vines just as clone does"), "{said}");
    let higher = "1103P stands 7.1 points above SO4 (−0.4 to 12 points); it is the better one with a chance of 94 %.";
    assert!(said.contains(higher), "{said}");
    let smallest = 100.0 * value(&value(&c.could_have_shown).smallest_difference);
    assert!(said.contains(&format!("a difference of {smallest:.1} points")), "{said}");
    assert!(said.contains("1103P: 480 vines in 3 batches"), "{said}");
}

#[test]
fn stocks_of_one_batch_each_could_not_have_shown_anything() {
    let one_each = tally(&["1103P", "SO4"], 2, 1, &[(0, 0, 0, 300, 12), (1, 1, 0, 300, 60)]);
    let c = value(&compared(&one_each, &point(0.3, 0.2), no_pairs()));
    assert!(c.could_have_shown.why().unwrap().reason.contains("no two rootstocks have three labelled batches"));
    let mut unlabelled = six_batches();
    unlabelled.factors[1].name = "crew".into();
    let c = value(&compared(&unlabelled, &point(0.3, 0.2), no_pairs()));
    assert!(c.could_have_shown.why().unwrap().reason.contains("which batch"));
    assert!(c.levels[0].batches.value().is_none() && c.levels[0].seen == 480);
    // Two batches of one and one of the other leave one degree of freedom: no difference is large enough.
    let three = tally(&["1103P", "SO4"], 3, 1, &[(0, 0, 0, 300, 12), (0, 1, 0, 300, 12), (1, 2, 0, 300, 60)]);
    let c = value(&compared(&three, &point(1.5, 0.0), no_pairs()));
    assert!(value(&c.could_have_shown).smallest_difference.value().is_none());
    assert!(c.sentences.last().unwrap().contains("could not have told any difference"));
}

#[test]
fn one_stock_and_one_that_is_either_are_not_compared() {
    let t = tally(&["1103P", "1103P|SO4"], 2, 1, &[(0, 0, 0, 300, 12), (1, 1, 0, 300, 60)]);
    let why = compared(&t, &point(0.3, 0.2), no_pairs());
    assert!(why.why().unwrap().reason.contains("fewer than two levels of rootstock"));
}

#[test]
fn names_and_order_of_the_stocks_change_nothing() {
    let could = |t: &Tally| value(&value(&compared(t, &point(0.4, 0.3), no_pairs())).could_have_shown);
    let first = could(&six_batches());
    let mut turned = six_batches();
    turned.cells.iter_mut().for_each(|c| c.codes[0] = 1 - c.codes[0]);
    turned.cells.reverse();
    let second = could(&turned);
    assert_eq!(first.smallest_difference, second.smallest_difference);
    assert_eq!(first.vines_per_stock, second.vines_per_stock);
}

#[test]
fn the_answer_holds_the_fewest_vines_by_number_of_batches() {
    let design = Design::even(3.0, 160.0);
    let a = answered(&point(0.3, 0.2), Known::Value(design), 0.05);
    let one = [power::Spread { between: 0.3, within: 0.2, run: 40.0 }];
    let batches: Vec<u64> = a.designs.iter().map(|d| d.batches_per_stock).collect();
    assert_eq!(batches, (2..=12).collect::<Vec<_>>());
    for d in a.designs.iter().filter(|d| d.vines_per_batch.value().is_some()) {
        let (m, n) = (d.batches_per_stock as f64, value(&d.vines_per_batch) as f64);
        let at = |n: f64| power::power(0.95, a.to, &Design::even(m, n), &one, 0.05);
        assert_eq!(value(&d.power), at(n));
        assert!(at(n) >= 0.8 && at(n - 1.0) < 0.8, "{m} batches of {n}: {}", at(n));
        assert_eq!(value(&d.vines_per_stock), d.batches_per_stock * value(&d.vines_per_batch));
    }
    assert!(a.designs[0].vines_per_batch.value().is_none()); // two batches that differ so: never
    let (least, fewest) = (value(&a.least), value(&a.fewest_batches));
    assert!(least.vines_per_stock < fewest.vines_per_stock && least.batches_per_stock > fewest.batches_per_stock);
    close("this block", value(&a.this_block_power), power::power(0.95, 0.90, &design, &one, 0.05), 1e-9, 0.0);
    assert_eq!(value(&a.vines_per_batch), 160.0);
    let needed = value(&a.batches_of_this_size) as f64;
    assert!(power::power(0.95, 0.90, &Design::even(needed, 160.0), &one, 0.05) >= 0.8);
    // R 4.2.2: power.prop.test(p1 = .95, p2 = .90, power = .8)$n
    close("independent", a.vines_if_independent, 434.432_022_77, 1e-6, 0.0);
}

#[test]
fn the_answer_is_said_in_words() {
    let a = answered(&point(0.3, 0.2), no_design(), 0.05);
    let said = a.sentences.join(" ").replace('\u{a0}', " ");
    let fewest = value(&a.fewest_batches);
    let start = format!(
        "To tell a stand of 95 % from one of 90 % with a chance of 80 %, it takes at least {} batches of each stock with {} vines in each",
        fewest.batches_per_stock,
        number::count(fewest.vines_per_batch)
    );
    assert!(said.starts_with(&start), "{said}");
    assert!(said.contains("435 vines of each would do") && said.contains("deviations 0.3 and 0.2"), "{said}");
    assert!(!said.contains("This block would"), "{said}");
    let never = answered(&point(2.0, 0.2), no_design(), 0.05);
    assert!(never.sentences[0].contains("12 batches of each stock are too few"), "{:?}", never.sentences);
    assert!(never.least.value().is_none() && never.designs.iter().all(|d| d.power.value().is_none()));
}

#[test]
fn power_is_averaged_over_what_is_not_known_of_the_spread() {
    let design = || Known::Value(Design::even(6.0, 160.0));
    let draws = Spread { batch: Known::Value(vec![0.1, 0.7]), row: Known::Value(vec![0.2, 0.4]) };
    let at = |b: f64, r: f64| value(&answered(&point(b, r), design(), 0.05).this_block_power);
    let mean = 0.5 * (at(0.1, 0.2) + at(0.7, 0.4));
    close("assurance", value(&answered(&draws, design(), 0.05).this_block_power), mean, 1e-12, 0.0);
}

#[test]
fn without_batches_to_compare_their_spread_is_assumed_and_said_so() {
    let unknown = Spread { batch: Known::absent("one batch", "another"), row: Known::absent("one row", "another") };
    let a = answered(&unknown, no_design(), 0.05);
    assert_eq!((a.spread_from, a.row_sd), ("assumption stand.new_batch_spread", 0.0));
    close("sd", a.batch_sd, between_of_correlation(0.95, 0.05), 1e-9, 0.0);
    assert!(a.sentences.last().unwrap().contains("isn't known from this block"));
}

#[test]
fn what_can_not_be_asked_is_said() {
    let of = |config: &PowerConfig| {
        let answer = power_answer(&six_batches(), &point(0.3, 0.2), &no_design(), config);
        answer.why().expect("absent").clone()
    };
    assert!(of(&PowerConfig::default()).would_help.contains("--power 0.05"));
    assert!(of(&asking(0.96)).reason.contains("doesn't fit"));
    let bad = PowerConfig { higher_stand: 1.5, ..asking(0.05) };
    assert!(of(&bad).reason.contains("between 0 and 1"));
    // A block with bad assumptions still compares.
    let parts_of = run(&six_batches());
    let parts = Parts {
        tally: &six_batches(),
        stand: &parts_of.factors,
        take: &parts_of.take,
        spread: &point(0.3, 0.2),
        level: 0.9,
    };
    let c = value(&compare("rootstock", &parts, beside(no_pairs()), &bad));
    assert!(c.could_have_shown.why().unwrap().reason.contains("between 0 and 1"));
}

/// Replants of a further batch add next to nothing to what could be shown.
#[test]
fn a_handful_of_replants_is_no_further_batch() {
    let mut with_replants = six_batches();
    with_replants.factors[1].levels.push("7".into());
    with_replants.factors[1].definite.push(true);
    with_replants
        .cells
        .push(Cell { codes: [0, 6, 0].into(), counts: Counts { planted: 2, seen: 2, ..Counts::default() } });
    let told = |t: &Tally| {
        let c = value(&compared(t, &point(0.3, 0.2), no_pairs()));
        value(&value(&c.could_have_shown).smallest_difference)
    };
    close("difference", told(&with_replants), told(&six_batches()), 0.05, 0.0);
    let spread = power::Spread { between: 0.3, within: 0.2, run: 40.0 };
    assert!(Arm::of(&[160.0, 160.0, 160.0, 2.0], 0.95, &spread).unwrap().clusters < 3.2);
}

#[test]
fn the_command_answers_in_both_forms() {
    let (_keep, folder) = demo();
    let asked = document(&["rates", &folder, "--power", "0.05"]);
    for field in ["rootstock", "clone", "power"] {
        assert!(asked[field].is_object(), "{field}");
    }
    assert_eq!(asked["power"]["designs"].as_array().unwrap().len(), 11);
    assert_eq!(asked["rootstock"]["levels"].as_array().unwrap().len(), 2);
    let silent = document(&["rates", &folder]);
    assert!(silent["power"].is_null());
    let absent = silent["absent"].as_array().unwrap();
    let why = absent.iter().find(|a| a["field"] == "power").unwrap();
    assert!(why["would_help"].as_str().unwrap().contains("--power 0.05"));
    let words = String::from_utf8(fullstand(&["rates", &folder, "--power", "0.05"]).stdout).unwrap();
    assert!(words.contains("Stocks and clones compared") && words.contains("To tell a stand of"), "{words}");
    for wrong in ["0", "1", "-0.1", "five"] {
        assert_eq!(fullstand(&["rates", &folder, "--power", wrong]).status.code(), Some(2), "{wrong}");
    }
}
