//! Pairs of levels: hand-built tallies, properties, and blocks of known cause.

use crate::counted::{counted, counts};
use crate::oracle::close;
use fullstand::base::{Header, Seed, document, seed};
use fullstand::block::{Code, UNKNOWN};
use fullstand::rates::{Config, Contrast, ContrastNotTold, Contrasts, contrasts, rates};
use fullstand::simulate::{Consignment, Scenario, simulate};
use fullstand::stats::studentised_range::StudentisedRange;
use fullstand::tally::{Counts, Tally, tally};

/// A factor: name and levels.
type Named<'a> = (&'a str, &'a [&'a str]);

/// A tally of cells: codes, seen, failed.
fn of(factors: &[Named], cells: &[(&[Code], u64, u64)]) -> Tally {
    let cells: Vec<(&[Code], Counts)> = cells.iter().map(|(codes, n, d)| (*codes, counts(*n, *d))).collect();
    counted(factors, &cells)
}

const ROWS: Named = ("row", &["1", "2", "3", "4"]);

/// Three batches in four rows each, B without a failure.
fn three_batches() -> Tally {
    let failed = [[3, 5, 4, 4], [0, 0, 0, 0], [9, 2, 12, 5]];
    let codes: Vec<[Code; 2]> = (0..12).map(|i| [i / 4, i % 4]).collect();
    let cells: Vec<(&[Code], u64, u64)> =
        codes.iter().map(|c| (c.as_slice(), 40, failed[c[0] as usize][c[1] as usize])).collect();
    of(&[("batch", &["A", "B", "C"]), ROWS], &cells)
}

fn pair<'a>(all: &'a Contrasts, factor: &str, a: &str, b: &str) -> &'a Contrast {
    all.told.iter().find(|c| (c.factor.as_str(), c.a.as_str(), c.b.as_str()) == (factor, a, b)).expect("told")
}

fn not_told<'a>(all: &'a Contrasts, factor: &str) -> Vec<&'a ContrastNotTold> {
    all.not_told.iter().filter(|c| c.factor == factor).collect()
}

/// Beside rows alone, odds are those of d + 1/2 failed and n - d + 1/2 standing, and the dispersion is Pearson's over
/// the twelve cells about those rates.
#[test]
fn odds_and_dispersion_by_hand() {
    let all = contrasts(&three_batches(), 0.9);
    let named: Vec<(&str, &str)> = all.told.iter().map(|c| (c.a.as_str(), c.b.as_str())).collect();
    assert_eq!(named, [("A", "B"), ("A", "C"), ("B", "C")]);
    let odds = |d: f64| (d + 0.5) / (160.0 - d + 0.5);
    close("A / C", pair(&all, "batch", "A", "C").odds_ratio, odds(16.0) / odds(28.0), 1e-8, 0.0);
    close("A / B", pair(&all, "batch", "A", "B").odds_ratio, odds(16.0) / odds(0.0), 1e-8, 0.0);
    let rate = |d: f64| (d + 0.5) / 161.0;
    let apart = |list: [f64; 4], p: f64| list.iter().map(|d| (d - 40.0 * p).powi(2) / (40.0 * p * (1.0 - p))).sum();
    let pearson: f64 = [([3.0, 5.0, 4.0, 4.0], 16.0), ([0.0; 4], 0.0), ([9.0, 2.0, 12.0, 5.0], 28.0)]
        .map(|(list, d)| apart(list, rate(d)))
        .iter()
        .sum();
    assert!(pearson > 9.0, "{pearson}");
    for contrast in &all.told {
        assert_eq!((contrast.error_stratum.as_str(), contrast.error_df), ("cell", 9));
        close("dispersion", contrast.dispersion, pearson / 9.0, 1e-8, 0.0);
        assert!(contrast.adjusted_for.is_empty() && contrast.not_told_apart_from.is_empty());
    }
    assert!(all.not_told.is_empty());
}

/// A p-value and the interval beside it come from one profile: they never disagree, whatever the level.
#[test]
fn p_values_and_limits_agree() {
    for number in 0..40 {
        let mut rng = Seed::new(number).stream("contrasts", 0);
        let codes: Vec<[Code; 3]> = (0..24).map(|i| [i / 6, i % 4, i % 3]).collect();
        let failed: Vec<u64> =
            codes.iter().map(|c| seed::below(&mut rng, 3 + 7 * (c[0] % 2) as usize) as u64).collect();
        let cells: Vec<(&[Code], u64, u64)> = codes.iter().zip(&failed).map(|(c, d)| (c.as_slice(), 30, *d)).collect();
        let crews: Named = ("crew", &["a", "b", "c"]);
        let tally = of(&[("batch", &["A", "B", "C", "D"]), ROWS, crews], &cells);
        for level in [0.5, 0.9, 0.99] {
            let all = contrasts(&tally, level);
            assert_eq!(all.told.len(), 6 + 3);
            for c in &all.told {
                assert_eq!(c.p_adjusted < 1.0 - level, c.low > 1.0 || c.high < 1.0, "{c:?}");
                assert_eq!(c.p_alone < 1.0 - level, c.low_alone > 1.0 || c.high_alone < 1.0, "{c:?}");
                let rising = [c.low, c.low_alone, c.odds_ratio, c.high_alone, c.high];
                assert!(rising.windows(2).all(|w| w[0] < w[1]), "{c:?}");
                assert!(c.p_alone <= c.p_adjusted + 1e-12 && c.p_alone <= c.p_holm && c.p_holm <= 1.0, "{c:?}");
                assert_eq!(c.adjusted_for, [if c.factor == "crew" { "batch" } else { "crew" }]);
            }
        }
    }
}

/// With many vines and nothing to disperse, the interval is Tukey's about the estimate.
#[test]
fn large_counts_give_tukeys_interval() {
    let codes: Vec<[Code; 2]> = (0..12).map(|i| [i / 4, i % 4]).collect();
    let failed = [50_000, 60_000, 61_000];
    let cells: Vec<(&[Code], u64, u64)> =
        codes.iter().map(|c| (c.as_slice(), 500_000, failed[c[0] as usize])).collect();
    let all = contrasts(&of(&[("batch", &["A", "B", "C"]), ROWS], &cells), 0.95);
    let c = pair(&all, "batch", "A", "B");
    assert_eq!((c.dispersion, c.error_df), (1.0, 9));
    let error = [50.0, 60.0].map(|d: f64| 1.0 / (4e3 * d) + 1.0 / (4e3 * (500.0 - d))).iter().sum::<f64>().sqrt();
    let half = StudentisedRange { groups: 3, df: 9.0 }.upper_quantile(0.05) / 2f64.sqrt() * error;
    close("low", c.low.ln(), c.odds_ratio.ln() - half, 1e-4, 0.0);
    close("high", c.high.ln(), c.odds_ratio.ln() + half, 1e-4, 0.0);
}

#[test]
fn turning_the_levels_turns_the_odds() {
    let tally = three_batches();
    let mut turned = tally.clone();
    turned.factors[0].levels.reverse();
    turned.cells.iter_mut().for_each(|cell| cell.codes[0] = 2 - cell.codes[0]);
    turned.cells.sort_by(|a, b| a.codes.cmp(&b.codes));
    let (here, there) = (contrasts(&tally, 0.9), contrasts(&turned, 0.9));
    for c in &here.told {
        let back = pair(&there, "batch", &c.b, &c.a);
        close("odds", back.odds_ratio, 1.0 / c.odds_ratio, 1e-8, 0.0);
        close("low", back.low, 1.0 / c.high, 1e-7, 0.0);
        close("high", back.high, 1.0 / c.low, 1e-7, 0.0);
        close("p", back.p_adjusted, c.p_adjusted, 1e-7, 0.0);
        close("holm", back.p_holm, c.p_holm, 1e-7, 0.0);
    }
}

/// What the levels are called and which cell comes first changes nothing.
#[test]
fn other_names_and_orders_give_the_same() {
    let tally = three_batches();
    let mut other = tally.clone();
    other.factors[0].levels = ["x", "y", "z"].map(String::from).to_vec();
    other.cells.reverse();
    let (here, there) = (contrasts(&tally, 0.9), contrasts(&other, 0.9));
    for (c, d) in here.told.iter().zip(&there.told) {
        close("odds", d.odds_ratio, c.odds_ratio, 1e-9, 0.0);
        close("p", d.p_adjusted, c.p_adjusted, 1e-7, 0.0);
    }
}

/// Clone 1 in two batches, clone 2 in two: the spread between batches is the measure, with two degrees of freedom.
#[test]
fn clones_are_measured_by_their_batches() {
    let factors: [Named; 3] = [("clone", &["C1", "C2"]), ("batch", &["A", "B", "C", "D"]), ROWS];
    let codes: Vec<[Code; 3]> = (0..16).map(|i| [i / 8, i / 4, i % 4]).collect();
    let failed = [2, 9, 3, 12];
    let cells: Vec<(&[Code], u64, u64)> = codes.iter().map(|c| (c.as_slice(), 40, failed[c[1] as usize])).collect();
    let all = contrasts(&of(&factors, &cells), 0.9);
    let clone = pair(&all, "clone", "C1", "C2");
    assert_eq!((clone.error_stratum.as_str(), clone.error_df), ("batch", 2));
    assert!(clone.dispersion > 10.0 && clone.p_adjusted > 0.5, "{clone:?}");
    assert!(clone.adjusted_for.is_empty());
    // Batches of one clone differ plainly; of two clones, the clone may be why.
    let (same, other) = (pair(&all, "batch", "A", "B"), pair(&all, "batch", "A", "C"));
    assert_eq!((same.error_stratum.as_str(), same.error_df), ("cell", 12));
    assert!(same.p_adjusted < 0.01 && same.not_told_apart_from.is_empty());
    assert_eq!(other.not_told_apart_from, ["clone"]);
}

#[test]
fn one_batch_a_clone_tells_nothing_of_clones() {
    let factors: [Named; 3] = [("clone", &["C1", "C2"]), ("batch", &["A", "B"]), ROWS];
    let codes: Vec<[Code; 3]> = (0..8).map(|i| [i / 4, i / 4, i % 4]).collect();
    let cells: Vec<(&[Code], u64, u64)> = codes.iter().map(|c| (c.as_slice(), 40, 2 + 5 * u64::from(c[0]))).collect();
    let all = contrasts(&of(&factors, &cells), 0.9);
    let untold = not_told(&all, "clone");
    assert_eq!((untold.len(), untold[0].a.as_str(), untold[0].b.as_str()), (1, "C1", "C2"));
    assert!(untold[0].why.reason.contains("no clone came in more than one batch"), "{:?}", untold[0]);
    assert!(untold[0].why.would_help.contains("batch of each clone"));
    assert_eq!(pair(&all, "batch", "A", "B").not_told_apart_from, ["clone"]);
}

/// Batches A and B share crew a, C and D crew b: no chain leads across.
#[test]
fn pairs_without_a_chain_are_not_told() {
    let factors: [Named; 3] = [("batch", &["A", "B", "C", "D"]), ("crew", &["a", "b", "c", "d"]), ROWS];
    let planted: [(Code, Code); 8] = [(0, 0), (0, 1), (1, 0), (1, 1), (2, 2), (2, 3), (3, 2), (3, 3)];
    let codes: Vec<[Code; 3]> = planted.iter().flat_map(|&(b, c)| (0..4).map(move |r| [b, c, r])).collect();
    let cells: Vec<(&[Code], u64, u64)> =
        codes.iter().map(|c| (c.as_slice(), 20, 1 + u64::from(c[0] + c[2]))).collect();
    let all = contrasts(&of(&factors, &cells), 0.9);
    let batches: Vec<(&str, &str)> =
        all.told.iter().filter(|c| c.factor == "batch").map(|c| (c.a.as_str(), c.b.as_str())).collect();
    assert_eq!(batches, [("A", "B"), ("C", "D")]);
    let untold = not_told(&all, "batch");
    assert_eq!(untold.len(), 4);
    assert!(untold[0].why.reason.contains("crew"), "{:?}", untold[0]);
    assert_eq!(pair(&all, "batch", "A", "B").adjusted_for, ["crew"]);
}

/// Crew takes out what crews do: batch A went to the bad crew more often, and is no worse itself.
#[test]
fn pairs_are_adjusted_for_what_was_planted_beside_them() {
    let factors: [Named; 3] = [("batch", &["A", "B"]), ("crew", &["a", "b"]), ROWS];
    let codes: Vec<[Code; 3]> = (0..16).map(|i| [i / 8, (i / 4) % 2, i % 4]).collect();
    let cell = |c: &[Code; 3]| {
        let seen = if c[0] == c[1] { 40 } else { 160 };
        (seen, if c[1] == 0 { seen * 3 / 10 } else { seen / 20 })
    };
    let counts: Vec<(u64, u64)> = codes.iter().map(cell).collect();
    let cells: Vec<(&[Code], u64, u64)> = codes.iter().zip(&counts).map(|(c, n)| (c.as_slice(), n.0, n.1)).collect();
    let all = contrasts(&of(&factors, &cells), 0.9);
    let batch = pair(&all, "batch", "A", "B");
    assert!((batch.odds_ratio.ln()).abs() < 0.02 && batch.p_adjusted > 0.9, "{batch:?}");
    assert!(pair(&all, "crew", "a", "b").low > 4.0);
}

#[test]
fn what_is_not_compared_is_left_out() {
    // Unlabelled vines and "A|B" belong to no level; a level of which none was seen has no pair.
    let factors: [Named; 2] = [("batch", &["A", "A|B", "B", "C"]), ROWS];
    let codes: Vec<[Code; 2]> = (0..16).map(|i| [[0, 1, 2, UNKNOWN][i as usize / 4], i % 4]).collect();
    let mut cells: Vec<(&[Code], u64, u64)> = codes.iter().map(|c| (c.as_slice(), 20, 2)).collect();
    cells.push((&[3, 0], 0, 0));
    let all = contrasts(&of(&factors, &cells), 0.9);
    assert_eq!(all.told.len() + all.not_told.len(), 1);
    assert_eq!(pair(&all, "batch", "A", "B").error_df, 6);
    assert!(contrasts(&of(&[], &[]), 0.9).told.is_empty());
}

#[test]
fn many_levels_are_not_paired() {
    let names: Vec<String> = (0..21).map(|i| format!("v{i}")).collect();
    let names: Vec<&str> = names.iter().map(String::as_str).collect();
    let codes: Vec<[Code; 2]> = (0..84).map(|i| [i / 4, i % 4]).collect();
    let cells: Vec<(&[Code], u64, u64)> = codes.iter().map(|c| (c.as_slice(), 20, u64::from(c[1]))).collect();
    let all = contrasts(&of(&[("valve", &names), ROWS], &cells), 0.9);
    assert!(all.told.is_empty() && all.not_told.len() == 1);
    assert!(all.not_told[0].a.is_empty() && all.not_told[0].why.reason.contains("21 levels"));
    let all = contrasts(&of(&[("valve", &names[..20]), ROWS], &cells[..80]), 0.9);
    assert_eq!(all.told.len(), 190);
}

/// No row holds a batch twice, and each batch stands in one cell: nothing says what cells differ by anyway.
#[test]
fn without_a_second_unit_nothing_is_told() {
    let all = contrasts(&of(&[("batch", &["A", "B"])], &[(&[0], 500, 20), (&[1], 90, 30)]), 0.9);
    assert!(all.told.is_empty());
    assert!(all.not_told[0].why.reason.contains("more than one cell"), "{:?}", all.not_told);
}

#[test]
fn the_document_lists_what_is_told_and_what_is_not() {
    let header = Header { block: "B".into(), surveyed_on: None, seed: Seed::new(1), level: 0.9 };
    let doc = document(&header, &rates(&three_batches(), 0, &Config::default(), Seed::new(1)));
    assert_eq!(doc["contrasts"].as_array().unwrap().len(), 3);
    assert!(doc["contrasts_not_told"].as_array().unwrap().is_empty());
    // Both analyses put every pair on the same side of 1.
    for pair in doc["contrasts"].as_array().unwrap() {
        let odds = |of: &serde_json::Value| of["odds_ratio"].as_f64().unwrap();
        let posterior = &pair["posterior"];
        assert_eq!(odds(pair) < 1.0, odds(posterior) < 1.0, "{pair}");
        assert_eq!(odds(posterior) < 1.0, posterior["probability_greater"].as_f64().unwrap() < 0.5, "{pair}");
        assert_eq!(odds(posterior) < 1.0, posterior["difference"]["value"].as_f64().unwrap() < 0.0, "{pair}");
    }
    assert!(doc["sources"].as_array().unwrap().iter().any(|s| s["key"] == "firth-1993"));
    let one = of(&[("batch", &["A", "B"])], &[(&[0], 500, 20), (&[1], 90, 30)]);
    let doc = document(&header, &rates(&one, 0, &Config::default(), Seed::new(1)));
    let untold = &doc["contrasts_not_told"][0];
    assert!(["factor", "a", "b", "reason", "would_help"].iter().all(|key| untold[key].is_string()), "{untold}");
}

/// Vines planted in bundles of 25: the bundles are the units, and one poor batch of four is found.
#[test]
fn a_poor_batch_is_found_among_planted_runs() {
    let deliveries = [Consignment::named("A").with_effect(6f64.ln())].into_iter();
    let deliveries = deliveries.chain(["B", "C", "D"].map(Consignment::named)).collect();
    let block = simulate(&Scenario { deliveries, base_failure: 0.07, ..Scenario::default() }, Seed::new(5)).block;
    let tally = tally(&block, None).expect("a walk");
    let all = contrasts(&tally, 0.9);
    let (a, others) = all.told.iter().filter(|c| c.factor == "batch").partition::<Vec<_>, _>(|c| c.a == "A");
    assert!(a.len() == 3 && a.iter().all(|c| c.low > 1.0 && c.p_adjusted < 0.01), "{a:?}");
    assert!(others.len() == 3 && others.iter().all(|c| c.p_adjusted > 0.1), "{others:?}");
    let runs = tally.field.as_ref().expect("a field").runs.len();
    assert!(a.iter().all(|c| c.error_stratum == "planted run" && c.error_df == runs - 4));
}
