//! The model that weighs explanations: odds are odds, and what can't be told apart stays so.

use fullstand::base::{Assumptions, Seed};
use fullstand::cause::{Cause, Config, Prior, cause};
use fullstand::simulate::{Consignment, Dealt, Hollow, OddStretch, Scenario, simulate};
use fullstand::tally::{Tally, TallyFactor, tally};

fn block(change: impl Fn(&mut Scenario), seed: u64) -> Tally {
    let mut scenario = Scenario {
        rows: 16,
        places_per_row: 30,
        base_failure: 0.05,
        deliveries: ["L1", "L2", "L3", "L4"].map(Consignment::named).to_vec(),
        dealt: Dealt::Bundles { size: 25 },
        ..Scenario::default()
    };
    change(&mut scenario);
    tally(&simulate(&scenario, Seed::new(seed)).block, None).unwrap()
}

fn weighed(tally: &Tally, prior: Prior) -> Cause {
    cause(tally, &Config { permutations: 19, prior, ..Config::default() }, Seed::new(1))
}

fn probability(cause: &Cause, name: &str) -> f64 {
    cause.explanations.iter().find(|e| e.name == name).unwrap_or_else(|| panic!("no {name}")).probability
}

fn with_batch(cause: &Cause) -> f64 {
    cause.explanations.iter().filter(|e| e.name.split('+').any(|n| n == "batch")).map(|e| e.probability).sum()
}

fn bad_batch(scenario: &mut Scenario) {
    scenario.deliveries[2].effect = 2.4;
}

#[test]
fn doubling_the_prior_odds_doubles_the_odds() {
    let tally = block(bad_batch, 3);
    let prior = Prior::default();
    let odds = |prior: Prior| {
        let got = weighed(&tally, prior);
        (probability(&got, "batch") / probability(&got, "chance"), got)
    };
    let (one, got) = odds(prior.clone());
    let (two, _) = odds(Prior { batch: 2.0 * prior.batch, ..prior.clone() });
    assert!((two / one - 2.0).abs() < 1e-9, "{}", two / one);
    let (half, _) = odds(Prior { chance: 2.0 * prior.chance, ..prior });
    assert!((half / one - 0.5).abs() < 1e-9, "{}", half / one);
    let sum: f64 = got.explanations.iter().map(|e| e.probability).sum();
    let priors: f64 = got.explanations.iter().map(|e| e.prior).sum();
    assert!((sum - 1.0).abs() < 1e-9 && (priors - 1.0).abs() < 1e-9, "{sum} {priors}");
}

#[test]
fn strong_causes_are_named() {
    let hollow = |s: &mut Scenario| {
        s.effects.hollows = vec![Hollow { across_m: 18.0, along_m: 15.0, radius_m: 6.0, depth: 3.2 }]
    };
    let rows = |s: &mut Scenario| s.effects.odd_rows = vec![(5, 3.0), (11, 2.6)];
    let both = |s: &mut Scenario| {
        hollow(s);
        s.deliveries[1].effect = 2.8;
    };
    let verdict = |tally: &Tally| weighed(tally, Prior::default()).verdict.value().cloned().unwrap();
    assert_eq!(verdict(&block(bad_batch, 5)), "batch");
    assert_eq!(verdict(&block(hollow, 6)), "place");
    assert_eq!(verdict(&block(rows, 7)), "row");
    assert_eq!(verdict(&block(both, 8)), "batch+place");
}

#[test]
fn a_hollow_is_found_beside_a_bad_batch() {
    let tally = block(
        |s| {
            bad_batch(s);
            s.effects.hollows = vec![Hollow { across_m: 20.5, along_m: 12.3, radius_m: 3.5, depth: 3.4 }];
        },
        8,
    );
    let got = weighed(&tally, Prior::default());
    let evidence = |name: &str| got.explanations.iter().find(|e| e.name == name).unwrap().log_evidence;
    let gain = evidence("batch+place") - evidence("batch");
    assert!(gain > 5.0, "{gain}");
}

#[test]
fn a_row_that_fails_from_some_place_on_is_a_row() {
    let end = OddStretch { row: 9, from: 12, to: 30, effect: 3.2 };
    let tally = block(|s| s.effects.odd_stretches = vec![end], 8);
    let whole = weighed(&tally, Prior { row_part: 0.0, ..Prior::default() });
    let parts = weighed(&tally, Prior::default());
    let evidence = |got: &Cause| got.explanations.iter().find(|e| e.name == "row").unwrap().log_evidence;
    assert!(evidence(&parts) > evidence(&whole) + 1.0, "{} {}", evidence(&parts), evidence(&whole));
    assert_eq!(parts.verdict.value().map(String::as_str), Some("row"));
}

/// At the ends of what a probability may be some shapes have no prior at all.
#[test]
fn shapes_without_prior_are_no_trouble() {
    let tally = block(|s| s.effects.odd_rows = vec![(5, 3.0), (11, 2.6)], 7);
    for (odd_level, row_part) in [(0.0, 0.5), (1.0, 0.5), (0.5, 0.0), (0.5, 1.0), (1.0, 1.0)] {
        let got = weighed(&tally, Prior { odd_level, row_part, ..Prior::default() });
        let sum: f64 = got.explanations.iter().map(|e| e.probability).sum();
        let told = got.explanations.iter().all(|e| e.log_evidence.is_finite());
        assert!((sum - 1.0).abs() < 1e-9 && told, "{odd_level} {row_part}: {:?}", got.explanations);
    }
}

#[test]
fn a_batch_with_rows_of_its_own_cannot_be_told_from_the_order_of_planting() {
    let tally = block(
        |s| {
            bad_batch(s);
            s.dealt = Dealt::WholeRows;
        },
        9,
    );
    let got = weighed(&tally, Prior::default());
    assert_eq!(got.verdict.value().map(String::as_str), Some("cannot_tell"));
    assert!(
        ["batch", "order"].iter().all(|n| got.cannot_tell_between.iter().any(|b| b == n)),
        "{:?}",
        got.cannot_tell_between
    );
    // Four parts in five of the order's prior follow the batches exactly, the fifth says next to nothing.
    let prior = Prior::default();
    let ratio = probability(&got, "order") / probability(&got, "batch") / (prior.order / prior.batch);
    assert!((0.75..=1.25).contains(&ratio), "{ratio}");
}

#[test]
fn a_bad_batch_has_its_excess_and_its_odds() {
    let tally = block(bad_batch, 5);
    let got = weighed(&tally, Prior::default());
    let associated = got.associated.value().unwrap();
    let of = |level: &str| associated.iter().find(|a| a.level == level).unwrap();
    let (bad, good) = (of("L3"), of("L1"));
    assert!(bad.low > 2.0 && bad.odds_ratio > 5.0 && bad.high < 60.0, "{bad:?}");
    assert!(good.odds_ratio < 1.0 && good.excess_failures < 0.0, "{good:?}");
    // Of the batch's failures those above the others' rate are in excess.
    let (failed, seen) = counted(&tally, "L3");
    let others = (1.0 - bad.others_stand) * seen;
    assert!((bad.excess_failures - (failed - others)).abs() < 4.0, "{} {}", bad.excess_failures, failed - others);
    let tied = got.tied.iter().find(|t| t.name == "batch").unwrap();
    let excess = tied.excess_failures.value().unwrap();
    assert!(tied.probability > 0.9 && excess.low > 5.0 && (excess.value - bad.excess_failures).abs() < 6.0, "{tied:?}");
}

fn counted(tally: &Tally, batch: &str) -> (f64, f64) {
    let at = tally.factors.iter().position(|f| f.name == "batch").unwrap();
    let code = tally.factors[at].levels.iter().position(|l| l == batch).unwrap() as u32;
    let of = tally.cells.iter().filter(|c| c.codes[at] == code);
    of.fold((0.0, 0.0), |sum, c| (sum.0 + c.counts.failed as f64, sum.1 + c.counts.seen as f64))
}

/// A further column in the register, dealt out by a rule that has nothing to do with the failures, moves the probability
/// that the batch has a part in them by no more than its own prior share.
#[test]
fn an_irrelevant_factor_moves_next_to_nothing() {
    for (seed, change) in [(5, Some(())), (11, None)] {
        let tally = block(|s| change.iter().for_each(|()| bad_batch(s)), seed);
        let before = weighed(&tally, Prior::default());
        let mut more = tally.clone();
        let levels: Vec<String> = ["north", "south", "home"].map(String::from).to_vec();
        more.factors.push(TallyFactor { name: "crew".into(), definite: vec![true; levels.len()], levels });
        more.cells.iter_mut().for_each(|c| c.codes = c.codes.iter().copied().chain([0]).collect());
        let field = more.field.as_mut().unwrap();
        for (i, point) in field.points.iter_mut().enumerate() {
            let code = (i as u32 / 7 * 5) % 3;
            point.codes = point.codes.iter().copied().chain([code]).collect();
        }
        let after = weighed(&more, Prior::default());
        let share: f64 =
            after.explanations.iter().filter(|e| e.name.split('+').any(|n| n == "crew")).map(|e| e.prior).sum();
        let moved = (with_batch(&after) - with_batch(&before)).abs();
        assert!(moved <= share, "{moved} for {share}");
    }
}

#[test]
fn counts_without_places_are_weighed_too_and_a_single_batch_in_a_single_row_is_not() {
    let tally = block(bad_batch, 5);
    let counts = Tally { field: None, ..tally.clone() };
    let got = weighed(&counts, Prior::default());
    assert_eq!(got.verdict.value().map(String::as_str), Some("batch"));
    assert!(got.explanations.iter().all(|e| !e.name.contains("place") && !e.name.contains("order")));
    assert!(got.place_effect.value().is_none());
    let bare = Tally { factors: Vec::new(), ..counts };
    assert!(weighed(&bare, Prior::default()).verdict.why().unwrap().reason.contains("no explanation can be weighed"));
}

/// Where only counts are known, a batch in a band of rows of its own could be the ground or the day of planting, however
/// many vines say so; two bands of it among others couldn't so easily.
#[test]
fn a_band_of_rows_is_never_held_against_its_batch() {
    let in_rows = |s: &mut Scenario| {
        bad_batch(s);
        s.rows = 24;
        s.dealt = Dealt::WholeRows;
    };
    let counts = Tally { field: None, ..block(in_rows, 9) };
    let got = weighed(&counts, Prior::default());
    assert!(with_batch(&got) > 0.9, "{}", with_batch(&got));
    assert_eq!(got.verdict.value().map(String::as_str), Some("cannot_tell"));
    assert_eq!(got.cannot_tell_between, ["batch", "row"]);
}

#[test]
fn the_prior_is_the_table_of_assumptions() {
    let table = Assumptions::default().with("explanation.prior.batch", 0.2);
    assert_eq!(Prior::new(&table).batch, 0.2);
    assert_eq!(Prior::default().chance, 0.45);
}
