//! What can't be told apart, and what would settle it: blocks worked by hand.

use crate::oracle::close;
use crate::tally::{Plot, autumn, place, planting};
use fullstand::base::Seed;
use fullstand::block::State::{self, Alive, Dead, Missing};
use fullstand::cause::unsettled::{Settle, Unsettled};
use fullstand::cause::{Cause, Config, cause};
use fullstand::tally::tally;

/// A row as letters of batches, upper case alive, lower case dead, `-` for a missing vine of the batch before.
fn ask(rows: &[&str]) -> Cause {
    let mut plot = Plot::default();
    let mut states: Vec<(u32, State)> = Vec::new();
    for (row, text) in rows.iter().enumerate() {
        let mut batch = "";
        for (i, letter) in text.chars().enumerate() {
            let state = match letter {
                '-' => Missing,
                l if l.is_lowercase() => Dead,
                _ => Alive,
            };
            batch = ["A", "B", "C"]
                .into_iter()
                .find(|b| letter.eq_ignore_ascii_case(&b.chars().next().unwrap()))
                .unwrap_or(batch);
            plot.plant(place(row as u32, i as u32 + 1), batch, planting());
            states.push((states.len() as u32, state));
        }
    }
    plot.walk(autumn(), &states);
    let block = plot.block();
    cause(&tally(&block, None).unwrap(), &Config { permutations: 999, ..Config::default() }, Seed::new(1))
}

fn of<'a>(cause: &'a Cause, level: &str) -> &'a Unsettled {
    cause.unsettled.iter().find(|u| u.factor == "batch" && u.level == level).unwrap()
}

fn explanations(u: &Unsettled) -> Vec<&str> {
    u.just_as_well.iter().map(|t| t.explanation.as_str()).collect()
}

fn what<'a>(u: &'a Unsettled, what: &str) -> &'a Settle {
    u.settle.iter().find(|s| s.what == what).unwrap()
}

/// Two rows of A (1 of 12 failed), two of B (6 of 11, one missing).
const OWN_ROWS: [&str; 4] = ["AAAAAA", "AAAaAA", "bbBBbb", "BbbB-B"];

#[test]
fn a_batch_with_rows_of_its_own_may_own_none_or_all_of_its_failures() {
    let got = ask(&OWN_ROWS);
    let b = of(&got, "B");
    assert_eq!((b.seen, b.failed, explanations(b)), (11, 6, vec!["row", "place", "order"]));
    close("excess", *b.excess_failures.value().unwrap(), 6.0 - 11.0 / 12.0, 1e-12, 0.0);
    assert_eq!((b.share_low.value(), b.share_high.value()), (Some(&0.0), Some(&1.0)));
    assert!(b.comparable.why().unwrap().reason.contains("no row holds"), "{:?}", b.comparable);
    assert!(
        b.said.contains("6 of 11") && b.said.contains("about 5 more") && b.said.contains("rows 3 and 4"),
        "{}",
        b.said
    );
    assert_eq!(got.unsettled[0].level, "B", "the most failures in excess come first");
}

#[test]
fn fewer_failures_than_the_others_leave_nothing_to_share_out() {
    let got = ask(&OWN_ROWS);
    let a = of(&got, "A");
    close("excess", *a.excess_failures.value().unwrap(), 1.0 - 12.0 * 6.0 / 11.0, 1e-12, 0.0);
    assert!(a.share_high.why().is_some() && a.said.contains("no more than"), "{}", a.said);
}

#[test]
fn both_sides_of_the_boundary_are_compared_and_dug() {
    let got = ask(&OWN_ROWS);
    let b = of(&got, "B");
    let compare = what(b, "compare_rows");
    assert_eq!(compare.rows, ["3", "2"]);
    assert!(
        compare.how.contains("batch B: 4 of 6 failed") && compare.how.contains("(1 of 6 failed)"),
        "{}",
        compare.how
    );
    let dug = &what(b, "dig").places;
    let at = |row: &str, p: u32| (row.to_string(), p);
    assert_eq!(dug, &[at("3", 1), at("3", 2), at("3", 5), at("3", 6), at("2", 4)]);
    let order: Vec<&str> = b.settle.iter().map(|s| s.what).collect();
    assert_eq!(
        order,
        ["compare_rows", "dig", "records", "spares", "elsewhere", "laboratory", "next_planting"],
        "from what costs a look to what costs a season"
    );
}

#[test]
fn rows_that_take_turns_are_tied_to_rows_but_not_to_ground_or_order() {
    let got = ask(&["AAAA", "bbBB", "AAaA", "bBBB"]);
    assert_eq!(explanations(of(&got, "B")), ["row"]);
}

#[test]
fn batches_in_bundles_in_every_row_are_settled() {
    let got = ask(&["AABBAABB", "BBAAbbAA", "ABABaBAB"]);
    assert!(got.unsettled.is_empty(), "{:?}", got.unsettled);
}

/// A in one go over a row and a half (the second row is walked from its far end): told from the rows in part only.
const IN_PART: [&str; 4] = ["aaAaAaAA", "BBBBAAaa", "BBBBBBbB", "BBBBBBBB"];

#[test]
fn what_is_told_in_part_says_what_the_comparable_rows_say() {
    let got = ask(&IN_PART);
    let a = of(&got, "A");
    assert_eq!(explanations(a), ["order"]);
    let c = a.comparable.value().unwrap();
    // Row 2 alone: 2 of 4 against 0 of 4, so the odds ratio has no upper end.
    assert_eq!((c.rows, c.vines, c.failed, c.unit, c.p_unit), (1, 8, 2, "vine", "planted run"));
    assert!(c.odds_ratio.why().is_some() && c.low.why().is_some());
    // Of B 1 of 20 failed, of A 6 of 12.
    close("excess", *a.excess_failures.value().unwrap(), 6.0 - 12.0 / 20.0, 1e-12, 0.0);
}

#[test]
fn the_odds_in_rows_that_hold_both_are_mantel_and_haenszels() {
    // A, planted in one go over the turn of the rows, shares rows 1 and 2 with B.
    let got = ask(&["BBBBaaAA", "BBbBAAAa", "CCCCCCCC", "CcCCCCCC"]);
    let a = got.unsettled.iter().find(|u| u.level == "A").unwrap();
    let c = a.comparable.value().unwrap();
    assert_eq!((c.rows, c.vines, c.failed), (2, 16, 4));
    // Row 1: a 2, b 2, c 0, d 4; row 2: a 1, b 3, c 1, d 3; sum ad/n = 8/8 + 3/8, sum bc/n = 0 + 3/8.
    close("odds ratio", *c.odds_ratio.value().unwrap(), (8.0 + 3.0) / 3.0, 1e-12, 0.0);
    let (low, high) = (*c.low.value().unwrap(), *c.high.value().unwrap());
    // ln limits lie evenly about it: 90 %, Robins, Breslow & Greenland. P = 6/8, 4/8; Q = 2/8, 4/8; R = 1, 3/8; S = 0, 3/8.
    let (r, s) = (11.0 / 8.0, 3.0 / 8.0);
    let pr = 0.75 + 0.5 * 3.0 / 8.0;
    let mixed = 0.5 * 3.0 / 8.0 + 0.25 * 1.0 + 0.5 * 3.0 / 8.0;
    let qs = 0.5 * 3.0 / 8.0;
    let variance: f64 = pr / (2.0 * r * r) + mixed / (2.0 * r * s) + qs / (2.0 * s * s);
    let half = 1.6448536269514722 * variance.sqrt();
    close("low", low, (11.0_f64 / 3.0).ln().exp() * (-half).exp(), 1e-9, 0.0);
    close("high", high, (11.0_f64 / 3.0).ln().exp() * half.exp(), 1e-9, 0.0);
}
