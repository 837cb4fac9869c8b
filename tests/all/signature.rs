//! Kinds of failure apart, causes beside what a block shows, and what to look at: blocks worked by hand.

use crate::oracle::close;
use crate::tally::{Plot, autumn, place, walked};
use fullstand::base::{Header, Seed, document};
use fullstand::block::*;
use fullstand::cause::signature::{Cause as Reason, Feature, KindTest, Signature};
use fullstand::cause::{Cause, Config, cause};
use fullstand::tally::tally;

/// Vines of a row in the order of position: batch and state.
type Row = Vec<(&'static str, State)>;

fn ask(plot: Plot) -> Cause {
    let block = plot.block();
    cause(&tally(&block, None).unwrap(), &Config { permutations: 999, ..Config::default() }, Seed::new(1))
}

/// `n` vines of a batch of which the first stand in these states, the others alive.
fn run(batch: &'static str, n: usize, states: &[State]) -> Row {
    (0..n).map(|i| (batch, states.get(i).copied().unwrap_or(State::Alive))).collect()
}

fn of(cause: &Cause, reason: Reason) -> &Signature {
    cause.signatures.iter().find(|s| s.cause == reason).unwrap()
}

fn says(list: &[fullstand::cause::signature::Statement], feature: Feature) -> Option<&str> {
    list.iter().find(|s| s.feature == feature).map(|s| s.said.as_str())
}

fn about<'a>(tests: &'a [KindTest], about: &str) -> &'a KindTest {
    tests.iter().find(|t| t.about == about).unwrap()
}

use State::{Alive, Dead, Died, Missing, NoBudburst, ScionDead};

/// Six runs of 4, three of each batch; A never grew, in B one died later. Serpentine: row 1 A B A, row 2 (walked
/// from its far end) B A B.
fn never_grew_in_a() -> Plot {
    let a = |states: &[State]| run("A", 4, states);
    let b = |states: &[State]| run("B", 4, states);
    let first = [a(&[NoBudburst, NoBudburst, NoBudburst]), b(&[Died]), a(&[NoBudburst, NoBudburst, Dead])].concat();
    let second = [b(&[Missing]), a(&[NoBudburst, NoBudburst, ScionDead]), b(&[])].concat();
    walked(&[first, second])
}

#[test]
fn kinds_are_counted_apart_and_bounded() {
    let kinds = ask(never_grew_in_a()).kinds;
    assert_eq!((kinds.told, kinds.dead, kinds.scion_dead), (23, 1, 1));
    let counts = |k: &fullstand::cause::signature::Kind| (k.vines, k.at_most);
    // Two of which nobody can tell the kind may be of either.
    assert_eq!(
        (counts(&kinds.never_grew), counts(&kinds.died_later), counts(&kinds.missing)),
        ((7, 9), (1, 3), (1, 1))
    );
    let b = kinds.levels.iter().find(|l| l.factor == "batch" && l.level == "B").unwrap();
    assert_eq!((b.seen, b.never_grew, b.died_later, b.dead, b.missing), (12, 0, 1, 0, 1));
    assert_eq!(kinds.levels.iter().filter(|l| l.factor == "row").count(), 2);
}

#[test]
fn never_grown_vines_are_asked_of_planted_runs() {
    let kinds = ask(never_grew_in_a()).kinds;
    let test = about(&kinds.never_grew.tests, "batch");
    // A: 7 of 12, B: 0 of 11 (one missing left out); 7 of 23 in all.
    let (n, p) = (12.0, 7.0 / 23.0);
    let g2: f64 =
        2.0 * (7.0 * (7.0_f64 / (n * p)).ln() + 5.0 * (5.0 / (n * (1.0 - p))).ln() + 11.0 * (1.0 / (1.0 - p)).ln());
    close("G2", test.statistic, g2, 1e-12, 0.0);
    // Runs along the walk: A B A | B A B, the third and fourth turning at the row's end stay two, for batches change.
    // Three labels of six: 20 deals; the one seen and its mirror are as uneven only if B's runs held all seven.
    assert_eq!((test.unit.as_str(), test.held_fixed, test.method), ("planted run", "nothing", "all arrangements"));
    close("p", *test.p_value.value().unwrap(), 2.0 / 20.0, 1e-12, 0.0);
    // The one that died later can lie in any run: no evidence.
    let died = about(&kinds.died_later.tests, "batch");
    assert!(*died.p_value.value().unwrap() > 0.3, "{died:?}");
    assert!(kinds.missing.tests.iter().all(|t| t.about != "batch"), "missing vines are no evidence against a batch");
}

#[test]
fn p_values_of_kinds_are_adjusted_for_all_questions() {
    let kinds = ask(never_grew_in_a()).kinds;
    let tests = [&kinds.never_grew, &kinds.died_later, &kinds.missing].into_iter().flat_map(|k| &k.tests);
    let mut p: Vec<(f64, f64)> = tests.filter_map(|t| Some((*t.p_value.value()?, *t.p_adjusted.value()?))).collect();
    p.sort_by(|a, b| a.0.total_cmp(&b.0));
    close("Holm", p[0].1, (p[0].0 * p.len() as f64).min(1.0), 1e-12, 0.0);
    assert_eq!(p.len(), 3, "{p:?}");
    assert!(p.windows(2).all(|w| w[0].1 <= w[1].1) && p.iter().all(|(raw, adjusted)| adjusted >= raw));
}

/// 6 rows of 20 of one batch; vines at these places died.
fn died_at(at: impl Fn(usize, usize) -> bool) -> Plot {
    let row = |r: usize| (0..20).map(|i| ("A", if at(r, i) { Died } else { Alive })).collect();
    walked(&(0..6).map(row).collect::<Vec<Row>>())
}

#[test]
fn a_stretch_of_one_row_is_consistent_with_a_dripline_and_speaks_against_water() {
    let got = ask(died_at(|r, i| r == 3 && i >= 8));
    let drip = of(&got, Reason::DriplineOrDrought);
    let row = says(&drip.consistent_with, Feature::AlongOneRow).unwrap();
    assert!(row.contains("row 4"), "{row}");
    assert!(says(&drip.consistent_with, Feature::NeverGrew).unwrap().contains("12 did, 0 never grew"));
    let union = of(&got, Reason::UnionFailure);
    assert!(says(&union.speaks_against, Feature::AlongOneRow).is_some());
    // One batch: nothing to compare, and so nothing held against it.
    assert!(says(&union.not_looked_at, Feature::FollowsBatch).is_some());
}

#[test]
fn a_patch_is_consistent_with_standing_water() {
    let got = ask(died_at(|r, i| (1..5).contains(&r) && (5..11).contains(&i)));
    let water = of(&got, Reason::Waterlogging);
    assert!(says(&water.consistent_with, Feature::InPatches).is_some() && water.in_play);
    assert!(says(&of(&got, Reason::UnionFailure).speaks_against, Feature::InPatches).is_some());
    assert!(says(&of(&got, Reason::DriplineOrDrought).speaks_against, Feature::AlongOneRow).is_some());
}

#[test]
fn what_was_seen_on_the_vines_is_put_beside_the_causes() {
    let mut plot = died_at(|r, i| (r * 20 + i) % 17 == 0);
    let guarded = |g: &str| Some(Box::new(LookDetail { guard: Some(g.into()), ..LookDetail::default() }));
    for (i, look) in plot.walks[0].looks.iter_mut().enumerate() {
        let failed = look.state == Died;
        look.union = failed.then_some(if i % 2 == 0 { Union::Open } else { Union::Ok });
        look.stage_bbch = failed.then_some(0);
        look.detail = guarded(if failed { "none" } else { "mesh" });
    }
    let got = ask(plot);
    // 8 died (0, 17, 34 ... 119), every second at an even index.
    let opens = says(&of(&got, Reason::UnionFailure).consistent_with, Feature::UnionOpens).unwrap();
    assert!(opens.contains("4 of 8"), "{opens}");
    let frost = says(&of(&got, Reason::SpringFrost).speaks_against, Feature::BudsSwelled).unwrap();
    assert!(frost.contains("0 of 8"), "{frost}");
    let guard = says(&of(&got, Reason::Animals).consistent_with, Feature::Unguarded).unwrap();
    assert!(guard.contains("8 of 8") && guard.contains("0 of 112"), "{guard}");
}

#[test]
fn no_winter_lies_between_may_and_september() {
    let got = ask(died_at(|r, i| (r * 20 + i) % 17 == 0));
    let winter = says(&of(&got, Reason::WinterCold).speaks_against, Feature::WinterBetween).unwrap();
    assert!(winter.contains("133 days"), "{winter}"); // 10 May to 20 September
}

/// Batch A in bundles died everywhere, and so did a hollow: several causes may be at work.
#[test]
fn failures_by_batch_and_by_place_hold_nothing_against_either() {
    let rows: Vec<Row> = (0..12)
        .map(|r| {
            let vine = |i: usize| {
                let batch = if (r * 3 + i / 10) * 7 % 5 < 2 { "A" } else { "B" };
                let hollow = (4..8).contains(&r) && (12..19).contains(&i);
                (
                    batch,
                    if (batch == "A" && Seed::new(4).keyed("vine", &[r as u64, i as u64]) < 0.4) || hollow {
                        Died
                    } else {
                        Alive
                    },
                )
            };
            (0..40).map(vine).collect()
        })
        .collect();
    let got = ask(walked(&rows));
    let water = of(&got, Reason::Waterlogging);
    let union = of(&got, Reason::UnionFailure);
    assert!(says(&water.consistent_with, Feature::InPatches).is_some(), "{water:?}");
    assert!(says(&union.consistent_with, Feature::FollowsBatch).is_some(), "{union:?}");
    assert_eq!(says(&water.speaks_against, Feature::FollowsBatch), None);
    assert_eq!(says(&union.speaks_against, Feature::InPatches), None);
}

#[test]
fn checks_are_ordered_by_pairs_told_apart_times_vines() {
    let got = ask(died_at(|r, i| (1..5).contains(&r) && (5..11).contains(&i)));
    assert!(got.look_at.len() >= 3);
    assert!(got.look_at.windows(2).all(|w| w[0].weight >= w[1].weight));
    let in_play: Vec<Reason> = got.signatures.iter().filter(|s| s.in_play).map(|s| s.cause).collect();
    for look in &got.look_at {
        let sizes: Vec<usize> = look.findings.iter().map(|f| f.speaks_for.len()).collect();
        let pairs: usize =
            (0..sizes.len()).flat_map(|i| (0..i).map(move |j| (i, j))).map(|(i, j)| sizes[i] * sizes[j]).sum();
        assert_eq!(look.weight, (pairs as u64 * look.vines) as f64, "{}", look.check);
        assert!(look.tells_apart.iter().all(|c| in_play.contains(c)) && !look.caution.is_empty());
    }
    // 24 died: vines to look at are failed ones, those beside them live in the same row.
    let dig = got.look_at.iter().find(|l| l.check == "dig").unwrap();
    assert_eq!((dig.vines, dig.places.len(), dig.compare_with.len()), (24, 8, 8));
    let failed = |(row, p): &(String, u32)| (2..=5).contains(&row.parse::<u32>().unwrap()) && (6..=11).contains(p);
    assert!(dig.places.iter().all(failed) && !dig.compare_with.iter().any(failed));
    assert!(dig.places.iter().zip(&dig.compare_with).all(|(a, b)| a.0 == b.0));
}

#[test]
fn a_replaced_vine_is_not_looked_at_any_more() {
    let mut first = died_at(|r, i| r == 3 && i >= 8);
    for vine in &mut first.vines {
        if vine.place == place(3, 9) {
            (vine.removed_on, vine.removed_why) = (Some(autumn()), Some(RemovedWhy::Failed));
        }
    }
    let got = ask(first);
    let named = got.look_at.iter().flat_map(|l| &l.places).any(|(row, position)| (row.as_str(), *position) == ("4", 9));
    assert!(!named);
    assert!(got.look_at.iter().any(|l| !l.places.is_empty()));
}

#[test]
fn a_block_without_failures_has_nothing_to_look_at() {
    let got = ask(died_at(|_, _| false));
    assert!(got.signatures.is_empty() && got.look_at.is_empty());
    assert!(got.kinds.never_grew.tests.is_empty() && got.kinds.missing.tests.is_empty());
}

#[test]
fn missing_vines_are_shown_by_place_and_held_against_nobody() {
    let row = |r: usize| (0..20).map(|_| ("A", if r == 0 { Missing } else { Alive })).collect();
    let got = ask(walked(&(0..6).map(row).collect::<Vec<Row>>()));
    assert_eq!((got.kinds.missing.vines, got.kinds.never_grew.at_most), (20, 0));
    let place = about(&got.kinds.missing.tests, "place");
    // 19 joins along the row; of 214 in all 214 * 20 * 19 / (120 * 119) are expected.
    assert_eq!(place.statistic, 19.0);
    close("expected", place.expected, 214.0 * 20.0 * 19.0 / (120.0 * 119.0), 1e-12, 0.0);
    assert!(*place.p_value.value().unwrap() < 0.001);
    let taken = of(&got, Reason::Taken);
    assert!(says(&taken.consistent_with, Feature::VinesMissing).unwrap().contains("20 of 20"));
    assert!(got.look_at.iter().any(|l| l.check == "empty_places" && l.vines == 20));
}

#[test]
fn the_document_names_a_source_behind_every_statement() {
    let got = ask(never_grew_in_a());
    let header = Header { block: "B".into(), surveyed_on: None, seed: Seed::new(1), level: 0.9 };
    let document = document(&header, &got);
    let works: Vec<&str> = document["sources"].as_array().unwrap().iter().filter_map(|s| s["key"].as_str()).collect();
    for signature in document["signatures"].as_array().unwrap() {
        for source in signature["sources"].as_array().unwrap().iter().filter_map(|s| s.as_str()) {
            let unpublished = ["from memory", "common practice, no source"].contains(&source);
            assert!(unpublished || works.contains(&source), "{source}");
        }
    }
    assert!(document["look_at"].as_array().unwrap().iter().all(|l| l["where"].is_array() && l["caution"].is_string()));
}
