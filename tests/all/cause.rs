//! What the pattern of failures says, on blocks built by hand.

use crate::oracle::{close, counts, read};
use crate::tally::{Plot, autumn, batch_factor, block, place, planting, row_of, walked};
use fullstand::base::seed::{shuffle, uniform};
use fullstand::base::{Header, Seed, document};
use fullstand::block::*;
use fullstand::cause::{Cause, Config, Test, cause, tests};
use fullstand::lattice::{Graph, Neighbours, Site, moran};
use fullstand::stats::permute::{Effort, Strata, randomise};
use fullstand::tally::{Tally, tally};

fn planted(rows: &[Vec<(&'static str, State)>]) -> Block {
    walked(rows).block()
}

fn ask(block: &Block, permutations: usize) -> Cause {
    cause(&tallied(block), &Config { permutations, ..Config::default() }, Seed::new(1))
}

fn tallied(block: &Block) -> Tally {
    tally(block, None).unwrap()
}

#[track_caller]
fn test<'a>(cause: &'a Cause, name: &str, held: &str) -> &'a Test {
    let found = cause.tests.iter().find(|t| t.name == name && t.held_fixed == held);
    found.unwrap_or_else(|| panic!("no test {name} holding {held}"))
}

fn state(failed: bool) -> State {
    if failed { State::Dead } else { State::Alive }
}

/// A simulated block of the reference files, with its batches.
fn reference_block(id: &str) -> Block {
    const BATCHES: [&str; 4] = ["A", "B", "C", "D"];
    let oracle = read(id);
    let data = &oracle["inputs"]["data"];
    let (row, failed) = (counts(&data["row"]), counts(&data["y"]));
    let mut rows = vec![Vec::new(); *row.iter().max().unwrap() as usize];
    for (i, batch) in data["batch"].as_array().unwrap().iter().enumerate() {
        let batch = BATCHES.into_iter().find(|b| batch == b).unwrap();
        rows[row[i] as usize - 1].push((batch, state(failed[i] == 1)));
    }
    planted(&rows)
}

/// From the block to the test: R's closed-form expectations and permutation p-values (see `reference_lattice`).
fn agrees(id: &str, block: &str) -> Cause {
    let want = &read(id)["expected"]["permutation"];
    let got = ask(&reference_block(block), 4_999);
    let schemes = [("nothing", "global"), ("row", "within_row"), ("batch", "within_batch")];
    for (held, theirs) in schemes.into_iter().chain([("row and batch", "within_row_batch")]) {
        let test = test(&got, "joins_any_direction", held);
        let number = |key: &str| want[theirs][key].as_f64().unwrap();
        assert_eq!((test.statistic, test.unit), (want["observed_BB"].as_f64().unwrap(), "vine"));
        close(held, test.expected, number("exact_expectation"), 1e-10, 0.0);
        close(held, *test.p_value.value().unwrap(), number("p_greater"), 0.0, 0.03);
    }
    got
}

#[test]
fn a_batch_that_rows_share_can_be_told_from_them() {
    let got = agrees("restricted_perm_connected", "vineyard_sim_connected");
    let p = |held| *test(&got, "failures_by_batch", held).p_value.value().unwrap();
    assert!(p("nothing") < 0.01 && p("row") < 0.01, "{} {}", p("nothing"), p("row"));
    assert!(got.separable.iter().filter(|s| s.from == "row").all(|s| s.efficiency > 0.5));
}

#[test]
fn a_batch_with_rows_of_its_own_cannot() {
    let got = agrees("restricted_perm_aliased", "vineyard_sim_aliased");
    let held = test(&got, "failures_by_batch", "row");
    assert_eq!((held.arrangements, held.unit), (1, "planted run"));
    let why = held.p_value.why().unwrap();
    assert!(why.reason.contains("in no row do planted runs of two or more batches begin"), "{}", why.reason);
    assert_eq!(got.separable.iter().filter(|s| s.from == "row").map(|s| s.efficiency).sum::<f64>(), 0.0);
}

/// Six runs of 4 in two rows: A A B | B A B, fails 0 1 3 | 3 0 (2 missing) 2.
fn six_runs() -> Block {
    let run = |batch, dead: usize, missing: usize| {
        (0..4).map(move |i| match i {
            i if i < dead => (batch, State::Dead),
            i if i < dead + missing => (batch, State::Missing),
            _ => (batch, State::Alive),
        })
    };
    let gap = |row: Vec<(&'static str, State)>| row;
    let first = run("A", 0, 0).chain(run("", 0, 0)).chain(run("A", 1, 0)).chain(run("B", 3, 0)).collect();
    let second = run("B", 2, 0).chain(run("A", 0, 2)).chain(run("B", 3, 0)).collect();
    planted(&[gap(first), gap(second)])
}

#[test]
fn the_batch_test_counts_every_deal_of_few_runs() {
    let got = ask(&six_runs(), 99);
    let free = test(&got, "failures_by_batch", "nothing");
    // Runs along the serpentine: A, (unlabelled), A, B + B (one run over the row end), A, B. Of A 10 told and 1
    // failed, of B 12 and 8; the two missing are left out. G2 = 2 sum O ln(O/E) with E of 22 vines, 9 failed.
    let terms =
        [(1.0, 10.0 * 9.0 / 22.0), (9.0, 10.0 * 13.0 / 22.0), (8.0, 12.0 * 9.0 / 22.0), (4.0, 12.0 * 13.0 / 22.0)];
    let g2: f64 = terms.iter().map(|(o, e): &(f64, f64)| 2.0 * o * (o / e).ln()).sum();
    close("G2", free.statistic, g2, 1e-12, 0.0);
    // Five runs, three of A: 10 deals. B on the run of 8 (6 failed) and on that of 4 (2 failed) is the most uneven.
    assert_eq!((free.arrangements, free.method), (10, "all arrangements"));
    assert_eq!((free.p_value.value(), free.monte_carlo_error.value()), (Some(&0.1), Some(&0.0)));
    // Within rows: the first row holds A, A, B, the second A, B: 3 x 2 deals.
    assert_eq!(test(&got, "failures_by_batch", "row").arrangements, 6);
}

#[test]
fn clone_and_stock_are_asked_of_runs_too() {
    let mut block = six_runs();
    let Plants::Vines(register) = &mut block.plants else { unreachable!() };
    let clone_of = |batch: &u32| 1u32.checked_sub(*batch).unwrap_or(UNKNOWN);
    let codes = register.factors[0].codes.iter().map(clone_of).collect();
    register.factors.insert(0, Factor { name: "clone".into(), levels: vec!["C1".into(), "C2".into()], codes });
    let got = ask(&block, 99);
    let (clone, batch) = (test(&got, "failures_by_clone", "nothing"), test(&got, "failures_by_batch", "nothing"));
    // B and A are one clone each: the same split of the runs.
    assert_eq!((clone.statistic, clone.arrangements), (batch.statistic, batch.arrangements));
    assert!(clone.question.contains("the difference may be the batch's"));
    let from = |factor: &str, level: &str, from: &str| {
        got.separable.iter().find(|s| s.factor == factor && s.level == level && s.from == from).unwrap().efficiency
    };
    assert_eq!((from("batch", "A", "clone"), from("batch", "B", "clone")), (0.0, 0.0));
    assert!(from("clone", "C2", "row") > 0.8 && from("clone", "C2", "row") <= 1.0);
}

#[test]
fn morans_i_is_the_lattices() {
    let rows = [[0, 1, 1, 0, 0], [0, 0, 1, 0, 1], [1, 0, 0, 0, 0]];
    let mut plot = Plot::default();
    let (mut sites, mut marks, mut looks) = (Vec::new(), Vec::new(), Vec::new());
    for (row, position) in (0..3).flat_map(|r| (1..=5).map(move |p| (r, p))).filter(|at| *at != (1, 4)) {
        let failed = rows[row as usize][position as usize - 1];
        plot.plant(place(row, position), "", planting());
        sites.push(Site { line: row, step: position as i32 });
        marks.push(f64::from(failed));
        looks.push((looks.len() as u32, state(failed == 1)));
    }
    plot.walk(autumn(), &looks);
    let got = ask(&plot.block(), 99);
    let want = moran(&marks, &Graph::new(&sites, &[], Neighbours::Rook)).unwrap();
    let test = test(&got, "morans_i", "nothing");
    close("I", test.statistic, want.observed, 1e-12, 0.0);
    close("E", test.expected, want.expected, 1e-12, 0.0);
    // No batch is known: there is nothing of it to hold, to test or to tell apart.
    assert!(got.tests.iter().all(|t| !t.held_fixed.contains("batch") && t.about != "batch"));
    assert!(got.separable.is_empty());
}

/// Tests of patterns with row, batch, both or nothing held; runs and doublets with rows held.
const OF_PATTERNS: usize = 5 * 4 + 2 * 2 + 4 + 4;

#[test]
fn where_nothing_failed_nothing_is_claimed() {
    let got = ask(&planted(&vec![vec![("A", State::Alive), ("B", State::Alive)]; 2]), 99);
    // Of the batch two, of the order two over the whole block and two within batches; rows and edge have nothing to compare.
    assert_eq!((got.seen, got.failed, got.tests.len()), (4, 0, OF_PATTERNS + 2 + 4));
    let nothing = |t: &Test| t.statistic == if t.name == "runs_along_rows" { 2.0 } else { 0.0 };
    assert!(got.tests.iter().all(|t| t.p_value.value().is_none() && nothing(t) && t.expected == t.statistic));
    assert!(got.verdict.value().is_none() && got.explanations.is_empty() && got.cannot_tell_between.is_empty());
    let header = Header { block: "Test".into(), surveyed_on: Some(autumn()), seed: Seed::new(1), level: 0.9 };
    let text = document(&header, &got).to_string();
    assert!(!text.contains("no finite answer"), "{text}"); // no NaN on the way
    for nobody_seen in [planted(&[vec![("A", State::Unsure)]]), planted(&[])] {
        assert_eq!(ask(&nobody_seen, 99).tests.len(), 0);
    }
}

#[test]
fn counted_rows_have_no_pattern_but_can_be_told_apart_or_not() {
    let line = |row, failed| CountLine { row, planted: 40, seen: 40, failed, ..CountLine::default() };
    let lines = vec![line(0, 3), line(0, 1), line(1, 9), line(2, 2)];
    let layout = Layout { rows: (0..3).map(|r| row_of(r, 80)).collect(), ..Layout::default() };
    let factors = vec![batch_factor(&["L1", "L2", "L2", "L3"])];
    let got = ask(&block(layout, Plants::Counts(CountSheet { lines, factors })), 99);
    assert_eq!((got.seen, got.failed, got.tests.len()), (160, 15, 0));
    let efficiency: Vec<f64> = got.separable.iter().map(|s| s.efficiency).collect();
    // L1: 30 of about its mean, 20 within rows. L2: 40 about, 20 within. L3 has a row of its own.
    assert_eq!(efficiency.len(), 3);
    close("L1", efficiency[0], 20.0 / 30.0, 1e-12, 0.0);
    close("L2", efficiency[1], 20.0 / 40.0, 1e-12, 0.0);
    assert_eq!(efficiency[2], 0.0);
}

#[test]
fn the_same_seed_gives_the_same_answer_on_any_number_of_threads() {
    let block = reference_block("vineyard_sim_connected");
    let pool = |n| rayon::ThreadPoolBuilder::new().num_threads(n).build().unwrap();
    let text = |n| pool(n).install(|| serde_json::to_string(&ask(&block, 499)).unwrap());
    assert_eq!(text(1), text(2));
}

/// A walk back along the same way: the rows in reverse, each still planted from the end that it was planted from.
#[test]
fn walking_the_other_way_changes_no_statistic() {
    let batch = |row: usize, i: usize| ["A", "B", "C"][(row * 7 + i / 4) % 3];
    let dead = |row: usize, i: usize| (row * row + 3 * i * i + i / 3).is_multiple_of(5);
    let mut rows: Vec<Vec<_>> =
        (0..6).map(|row| (0..20).map(|i| (batch(row, i), state(dead(row, i)))).collect()).collect();
    let there = ask(&planted(&rows), 99);
    rows.reverse();
    let back = ask(&planted(&rows), 99);
    // Of the batch two, of rows two, of the edge one, of the order four.
    assert_eq!(there.tests.len(), OF_PATTERNS + 2 + 2 + 1 + 4);
    for (a, b) in there.tests.iter().zip(&back.tests) {
        assert_eq!((&a.name, a.held_fixed), (&b.name, b.held_fixed));
        close(&a.name, a.statistic, b.statistic, 1e-12, 1e-9);
        // The scan stops drawing once it may, and its expectation is that of the arrangements drawn.
        if a.name == "strongest_patch" {
            continue;
        }
        assert_eq!((&a.name, a.arrangements), (&b.name, b.arrangements));
        if a.about == "clustering" {
            close(&a.name, a.expected, b.expected, 1e-12, 1e-12);
        }
    }
}

/// 24 rows of 45, four equally good batches dealt out in bundles of 25 along the serpentine, and a damp hollow.
fn innocent(number: u64) -> Block {
    let mut rng = Seed::new(7).stream("innocent", number);
    let mut bundles: Vec<&str> = ["A", "B", "C", "D"].into_iter().cycle().take(44).collect();
    shuffle(&mut bundles, &mut rng);
    let (line, step) = (4.0 + 16.0 * uniform(&mut rng), 8.0 + 30.0 * uniform(&mut rng));
    let mut vine = |row: usize, position: usize| {
        let walked = if row.is_multiple_of(2) { position } else { 44 - position };
        let batch = bundles[(row * 45 + walked) / 25];
        let far = ((row as f64 - line) / 3.5).powi(2) + ((position as f64 - step) / 8.0).powi(2);
        let logit = -2.9 + 3.2 * (-far / 2.0).exp();
        (batch, state(uniform(&mut rng) < 1.0 / (1.0 + (-logit).exp())))
    };
    let rows: Vec<Vec<_>> = (0..24).map(|row| (0..45).map(|position| vine(row, position)).collect()).collect();
    planted(&rows)
}

/// p-value of the deviance between batches with single vines exchanged within rows: the wrong unit.
fn by_vines(tally: &Tally) -> f64 {
    let points = &tally.field.as_ref().unwrap().points;
    let failed: Vec<bool> = points.iter().map(|p| p.failed).collect();
    let batch: Vec<u32> = points.iter().map(|p| p.codes[0]).collect();
    let all = failed.iter().filter(|f| **f).count() as f64 / failed.len() as f64;
    let deviance = |batch: &[u32]| {
        let mut table = [(0.0, 0.0); 4];
        for (&b, &failed) in batch.iter().zip(&failed) {
            table[b as usize].0 += 1.0;
            table[b as usize].1 += f64::from(u8::from(failed));
        }
        let term = |o: f64, e: f64| if o > 0.0 { 2.0 * o * (o / e).ln() } else { 0.0 };
        [table.iter().map(|&(n, f): &(f64, f64)| term(f, n * all) + term(n - f, n * (1.0 - all))).sum()]
    };
    let strata = Strata::by(points.iter().map(|p| p.place.row));
    let effort = Effort { draws: 99, ..Effort::default() };
    randomise(&batch, &strata, deviance, &effort, "vines", Seed::new(1))[0].p_greater
}

/// With an innocent batch planted in bundles and a strong hollow, exchanging runs rejects in about 5 % of blocks at
/// the 5 % level, exchanging vines in far more. 200 blocks: one standard error is 1.5 %. (Of 1,000 blocks 2.9 %, 4.8 %
/// within rows, and 23.8 % by vines: two runs side by side never share a batch, which makes the free deal careful.)
#[test]
fn an_innocent_batch_in_bundles_is_accused_as_often_as_the_level_says() {
    let blocks = 200;
    let (mut by_run, mut within, mut by_vine) = (0, 0, 0);
    for number in 0..blocks {
        let tally = tallied(&innocent(number));
        let config = Config { permutations: 99, ..Config::default() };
        let got = tests(&tally, &config, Seed::new(number));
        // Absent where the batches lie in bands: nobody is accused then.
        let of = |held| got.iter().find(|t| t.name == "failures_by_batch" && t.held_fixed == held).unwrap();
        let rejects = |held| of(held).p_value.value().is_some_and(|p| *p <= 0.05);
        by_run += u32::from(rejects("nothing"));
        within += u32::from(rejects("row"));
        by_vine += u32::from(by_vines(&tally) <= 0.05);
    }
    let share = |n: u32| f64::from(n) / blocks as f64;
    let (by_run, within, by_vine) = (share(by_run), share(within), share(by_vine));
    assert!((0.005..=0.095).contains(&by_run), "runs: {by_run}");
    assert!((0.005..=0.095).contains(&within), "runs within rows: {within}");
    assert!(by_vine > 0.15, "vines: {by_vine}");
}
