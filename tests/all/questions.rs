//! Rows, edge, order and factors, asked of runs and of neighbours: designs small enough to count every arrangement by hand.

use crate::oracle::close;
use crate::tally::{Plot, autumn, place, planting};
use fullstand::base::Seed;
use fullstand::base::seed::uniform;
use fullstand::block::*;
use fullstand::cause::{Cause, Config, Test, cause};
use fullstand::runs::{Held, Loss, Runs};
use fullstand::simulate::{Consignment, Effects, Hollow, Scenario, simulate};
use fullstand::stats::adjust::{Adjustment, adjust};
use fullstand::stats::uniformity::jointly_uniform;
use fullstand::tally::{Tally, tally};

/// A serpentine planting; a letter is a batch (`.` none), a capital one a vine that failed.
fn block(rows: &[&str]) -> Block {
    let mut plot = Plot::default();
    let mut states = Vec::new();
    for (row, vines) in rows.iter().enumerate() {
        for (i, vine) in vines.chars().enumerate() {
            let batch = match vine.to_ascii_lowercase() {
                'a' => "A",
                'b' => "B",
                'c' => "C",
                _ => "",
            };
            plot.plant(place(row as u32, i as u32 + 1), batch, planting());
            let failed = vine.is_ascii_uppercase();
            states.push((states.len() as u32, if failed { State::Dead } else { State::Alive }));
        }
    }
    plot.walk(autumn(), &states);
    plot.block()
}

fn ask(block: &Block) -> Cause {
    cause(&tally(block, None).unwrap(), &Config::default(), Seed::new(1))
}

#[track_caller]
fn test<'a>(cause: &'a Cause, name: &str, held: &str) -> &'a Test {
    let found = cause.tests.iter().find(|t| t.name == name && t.held_fixed == held);
    found.unwrap_or_else(|| panic!("no test {name} holding {held}"))
}

#[track_caller]
fn exactly(test: &Test, statistic: f64, arrangements: u64, (reached, ties): (f64, f64)) {
    close(&test.name, test.statistic, statistic, 1e-12, 0.0);
    assert_eq!((test.arrangements, test.method), (arrangements, "all arrangements"), "{}", test.name);
    let all = arrangements as f64;
    close("p", *test.p_value.value().unwrap(), reached / all, 1e-12, 0.0);
    close("mid-p", *test.mid_p.value().unwrap(), (reached - ties / 2.0) / all, 1e-12, 0.0);
}

/// X marks a failure where no batch is known.
#[test]
fn a_row_is_compared_with_the_rows_beside_it() {
    let got = ask(&block(&["......", ".XX.X.", "......"]));
    // 3 of 18 failed; weights 1, -2, 1 by row: sum 0, squares 36. D = -6, variance 3 * 15 / (18 * 17) * 36 = 90 / 17.
    // Of 816 ways only the 20 with all three in the middle row reach it: D is 3 - 3 m with m there.
    let test = test(&got, "rows_against_neighbours", "place");
    exactly(test, 36.0 * 17.0 / 90.0, 816, (20.0, 20.0));
    assert_eq!((test.expected, test.unit, test.about.as_str(), test.answers), (1.0, "vine", "row", true));
}

/// A slope across the rows is none of a row's doing: 0, 2, 4 failures have no second difference.
#[test]
fn an_even_slope_of_the_ground_is_no_difference_between_rows() {
    let got = ask(&block(&["......", ".X..X.", ".XXXX."]));
    assert_eq!(test(&got, "rows_against_neighbours", "place").statistic, 0.0);
    assert!(test(&got, "failures_by_row", "nothing").statistic > 5.0);
}

#[test]
fn a_bad_batch_that_fills_a_row_is_no_bad_row() {
    let got = ask(&block(&["aaaaaa", "BBBBBb", "aaaaaA"]));
    // Within batches only the one row of b, or the rows of a on either side, trade failures: neither moves A(1) - 2 B(2) + A(3).
    assert!(got.tests.iter().all(|t| t.name != "rows_against_neighbours"), "{:?}", got.tests);
}

#[test]
fn the_edge_is_compared_with_what_lies_inside() {
    let got = ask(&block(&["......", "..XX..", "......"]));
    // 14 of 18 vines are at the edge, 2 failed: mean 14/9, variance 2 * 16 / (18 * 17) * 14 * 4 / 18. Of 153 ways 6 have both
    // inside; the others are nearer to the mean.
    let variance = 2.0 * 16.0 / (18.0 * 17.0) * 14.0 * 4.0 / 18.0;
    exactly(test(&got, "failures_at_edge", "place"), (14.0f64 / 9.0).powi(2) / variance, 153, (6.0, 6.0));
}

#[test]
fn the_best_step_is_looked_for_in_every_order() {
    let got = ask(&block(&[".....", ".....", "XXXXX", "XXXXX"]));
    // Rows of 5 in four places. Cut in the middle: R = -5, V = 1/4 * 10 * 10 / 20. 2 * 2 * 2 of 24 orders keep like rows together.
    exactly(test(&got, "step_in_planting_order", "nothing"), 20.0, 24, (8.0, 8.0));
    let got = ask(&block(&[".....", "X....", "XX...", "XXX.."]));
    // r = -1.5 to 1.5, s = 0 to 3: sum of r s = 5, variance 5 * 5 / 3. Two of 24 orders are monotone.
    exactly(test(&got, "trend_in_planting_order", "nothing"), 3.0, 24, (2.0, 2.0));
}

/// The first batch failed, and in each batch the later row is the worse one.
#[test]
fn within_batches_a_batch_planted_first_is_no_step() {
    let got = ask(&block(&["AAAaaa", "AAAAAa", "bbbbbb", "bbBBbb"]));
    let within = test(&got, "step_in_planting_order", "batch");
    assert_eq!((within.arrangements, within.unit), (4, "planted run within a row"));
    // Residuals -1, 1, -1, 1 over a before b: R = -1 after the first row and after the third.
    // V after the first: p q n (N - n) / N = 2/9 * 3; after the third: b has p q = 5/36, times 3.
    close("step", within.statistic, (1.0 / (2.0 / 3.0f64)).max(1.0 / (5.0 / 12.0)), 1e-12, 0.0);
    assert!(test(&got, "step_in_planting_order", "nothing").statistic > within.statistic);
}

/// Thirteen rows of one run each: six rows make a group of six runs, and the last row joins the second group.
#[test]
fn rows_are_pooled_until_six_runs_begin_in_them() {
    let rows: Vec<&str> = (0..13).map(|row| if row % 2 == 0 { "aaaa" } else { "bbbb" }).collect();
    let tally = tally(&block(&rows), None).unwrap();
    let runs = Runs::of_factor(&tally, tally.field.as_ref().unwrap(), 0, Loss::Failed);
    let sizes = |held| runs.strata(held).groups().map(<[u32]>::len).collect::<Vec<_>>();
    assert_eq!((sizes(Held::Row), sizes(Held::RowGroup)), (vec![1; 13], vec![6, 7]));
    assert_eq!(runs.forms(), [Held::Nothing, Held::RowGroup, Held::Row]);
    // 20 * 35 arrangements within groups.
    assert_eq!((runs.best_held(0.01), runs.best_held(1e-3)), (Held::RowGroup, Held::Nothing));
}

/// Walked as a serpentine, two runs begin in each row: rows are held one by one.
#[test]
fn rows_of_several_runs_are_not_pooled() {
    let tally = tally(&block(&["aabb", "bbaa", "aabb", "bbaa", "aabb", "bbaa", "aabb"]), None).unwrap();
    let runs = Runs::of_factor(&tally, tally.field.as_ref().unwrap(), 0, Loss::Failed);
    assert_eq!(runs.forms(), [Held::Nothing, Held::Row]);
    assert_eq!((runs.best_held(0.01), runs.best_held(1e-3)), (Held::Row, Held::Nothing)); // 2^7 arrangements
}

/// A crew goes over many bundles: what was dealt to it are its own stretches. A grade that is one for all of a batch came in bundles.
#[test]
fn a_declared_factor_came_to_stretches_of_its_own() {
    let mut block = block(&["abab", "abab", "baba", "baba", "abab", "abab"]);
    let Plants::Vines(register) = &mut block.plants else { unreachable!() };
    let factor = |name: &str, codes| Factor { name: name.into(), levels: vec!["1".into(), "2".into()], codes };
    let crews = register.vines.iter().map(|v| v.place.row / 2 % 2).collect();
    let grades = register.factors[0].codes.clone();
    register.factors.extend([factor("crew", crews), factor("grade", grades)]);
    let tally = tally(&block, None).unwrap();
    let units = |name: &str| {
        let at = tally.factors.iter().position(|f| f.name == name).unwrap();
        let runs = Runs::of_factor(&tally, tally.field.as_ref().unwrap(), at, Loss::Failed);
        (runs.unit.clone(), runs.units().len())
    };
    assert_eq!(units("crew"), ("stretch".into(), 3));
    assert_eq!(units("grade"), units("batch"));
}

/// Six deliveries of three clones in bundles of 5, two of each clone.
fn pairs(effect: f64) -> Scenario {
    six(["C1", "C1", "C2", "C2", "C3", "C3"], effect)
}

/// The same, one of the first clone, two of the second, three of the third.
fn unlike(effect: f64) -> Scenario {
    six(["C1", "C2", "C2", "C3", "C3", "C3"], effect)
}

fn six(clones: [&str; 6], effect: f64) -> Scenario {
    let of = |(name, clone): (&str, &str)| Consignment { clone: Some(clone.into()), ..Consignment::named(name) };
    let mut deliveries: Vec<Consignment> = ["A", "B", "C", "D", "E", "F"].into_iter().zip(clones).map(of).collect();
    deliveries[0].effect = effect;
    Scenario {
        rows: 12,
        places_per_row: 20,
        deliveries,
        dealt: fullstand::simulate::Dealt::Bundles { size: 5 },
        base_failure: 0.12,
        ..Scenario::default()
    }
}

fn simulated(scenario: &Scenario, seed: Seed) -> Tally {
    tally(&simulate(scenario, seed).block, None).unwrap()
}

/// One batch of a clone that failed is no clone that failed: the answer is asked of whole batches.
#[test]
fn a_clone_is_asked_about_in_batches_and_each_question_has_one_answer() {
    let got = cause(&simulated(&pairs(4.0), Seed::new(3)), &Config::default(), Seed::new(1));
    let clone = test(&got, "failures_by_clone_over_batch", "nothing");
    // Six batches in pairs: 90 deals, every p-value a multiple of 6 / 90.
    assert_eq!((clone.unit, clone.arrangements), ("batch", 90));
    let whole = |p: f64| (p * 15.0 - (p * 15.0).round()).abs() < 1e-9;
    assert!(clone.p_value.value().is_none_or(|p| whole(*p) && *p > 0.05), "{clone:?}");
    assert!(*test(&got, "failures_by_clone", "nothing").p_value.value().unwrap() < 0.01);
    let answers: Vec<&Test> = got.tests.iter().filter(|t| t.answers).collect();
    let mut about: Vec<&str> = answers.iter().map(|t| t.about.as_str()).collect();
    assert_eq!(about, ["clustering", "clone", "batch", "row", "edge", "order"]);
    about.extend(["variety"]);
    assert!(got.tests.iter().all(|t| about.contains(&t.about.as_str())));
    let with_p: Vec<&&Test> = answers.iter().filter(|t| t.p_value.value().is_some()).collect();
    let p: Vec<f64> = with_p.iter().map(|t| *t.p_value.value().unwrap()).collect();
    let adjusted: Vec<f64> = with_p.iter().map(|t| *t.p_adjusted.value().unwrap()).collect();
    assert_eq!(adjusted, adjust(&p, Adjustment::Holm));
    assert!(got.tests.iter().filter(|t| !t.answers).all(|t| t.p_adjusted.value().is_none()));
}

/// What stops early says so, and keeps the order of magnitude.
#[test]
fn early_stopping_is_reported_as_it_is() {
    let tally = simulated(&unlike(0.0), Seed::new(5));
    let run = |stop_after| cause(&tally, &Config { stop_after, ..Config::default() }, Seed::new(1));
    let (stopped, whole) = (run(Some(100)), run(None));
    let (mut early, mut all) = (0, 0);
    for (s, w) in stopped.tests.iter().zip(&whole.tests).filter(|(s, _)| s.p_value.value().is_some()) {
        let (p, q) = (*s.p_value.value().unwrap(), *w.p_value.value().unwrap());
        let error = s.monte_carlo_error.value().unwrap().hypot(*w.monte_carlo_error.value().unwrap());
        assert!((p - q).abs() <= 4.0 * error + 1e-12, "{} {} {p} {q}", s.name, s.held_fixed);
        if s.method == "sequential permutation" {
            close("h / l", p * s.arrangements as f64, 100.0, 1e-12, 0.0);
            early += 1;
        }
        all += 1;
    }
    assert!(early > 3 && early < all && whole.tests.iter().all(|t| t.method != "sequential permutation"));
}

/// Over blocks in which nothing is the matter the randomised p-values of all answers are uniform, jointly. 400 blocks.
#[test]
fn randomised_p_values_are_uniform_where_nothing_is_the_matter() {
    let config = Config { permutations: 39, stop_after: None, ..Config::default() };
    let of_block = |number: u64| {
        let seed = Seed::new(9_000 + number);
        let got = cause(&simulated(&unlike(0.0), seed), &config, seed);
        let mut rng = seed.stream("lot", 0);
        let answers = got.tests.iter().filter(|t| t.answers);
        answers.map(|t| t.randomised_p(uniform(&mut rng))).collect::<Option<Vec<f64>>>()
    };
    let sets: Vec<Vec<f64>> = (0..400).filter_map(of_block).collect();
    assert!(sets.len() > 360, "{} blocks have every answer", sets.len());
    let joint = jointly_uniform(&sets, 5).unwrap();
    assert_eq!(joint.shares, 6 * 4);
    assert!(joint.p_value > 0.001, "{joint:?}");
}

/// A hollow moves neither rows against their neighbours nor an innocent batch beyond what chance does. 200 blocks: 4 standard errors.
#[test]
fn beside_a_hollow_rows_and_batches_are_found_no_oftener_than_the_level_says() {
    let config = Config { permutations: 99, ..Config::default() };
    let mut found = std::collections::BTreeMap::<String, u32>::new();
    for number in 0..200 {
        let seed = Seed::new(20_000 + number);
        let mut rng = seed.stream("hollow", 0);
        let (across_m, along_m) = (29.0 * uniform(&mut rng), 22.0 * uniform(&mut rng));
        let hollow = Hollow { across_m, along_m, radius_m: 6.0, depth: 3.0 };
        let scenario = Scenario { effects: Effects { hollows: vec![hollow], ..Effects::default() }, ..unlike(0.0) };
        let got = cause(&simulated(&scenario, seed), &config, seed);
        for test in got.tests.iter().filter(|t| t.answers && t.p_value.value().is_some_and(|p| *p <= 0.05)) {
            *found.entry(test.about.clone()).or_default() += 1;
        }
    }
    let share = |about: &str| f64::from(found.get(about).copied().unwrap_or(0)) / 200.0;
    let limit = 0.05 + 4.0 * (0.05 * 0.95 / 200.0f64).sqrt();
    for about in ["batch", "clone", "row"] {
        assert!(share(about) <= limit, "{about} {found:?}");
    }
    assert!(share("clustering") > 0.8, "{found:?}");
}
