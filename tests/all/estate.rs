//! Several blocks in one model.

use crate::contract::{document, fields_of, follows_the_rules};
use fullstand::base::{Quantity, Seed};
use fullstand::block::{Block, CountLine, CountSheet, Factor, Plants, UNKNOWN};
use fullstand::intake;
use fullstand::simulate::{Consignment, Dealt, Dialect, Scenario, WalkPlan, files, simulate};
use fullstand::tally::{Counts, NotPooled, Tally, pooled, tally};
use jiff::civil::{Date, date};
use serde_json::{Value, json};
use std::fs;
use std::path::Path;

/// A block of these batches and nurseries, planted in this year and walked in the winter after it.
fn block(name: &str, year: i16, batches: &[(&str, Option<&str>)]) -> Block {
    let consignment = |&(batch, nursery): &(&str, Option<&str>)| {
        let mut of = Consignment::named(batch);
        of.record.nursery = nursery.map(String::from);
        of
    };
    let scenario = Scenario {
        name: name.into(),
        rows: 6,
        places_per_row: 20,
        planted_on: date(year, 5, 10),
        deliveries: batches.iter().map(consignment).collect(),
        dealt: Dealt::Bundles { size: 10 },
        base_failure: 0.15,
        walks: vec![WalkPlan { date: date(year + 1, 1, 14), ..WalkPlan::default() }],
        ..Scenario::default()
    };
    simulate(&scenario, Seed::new(year as u64 + name.len() as u64)).block
}

/// L1 of two blocks came from one nursery, L1 of the third from another; B nobody wrote a nursery for.
fn three() -> [Block; 3] {
    [
        block("North", 2024, &[("L1", Some("Vogel")), ("L2", Some("Vogel"))]),
        block("South", 2024, &[("L1", Some("Vogel")), ("B", None)]),
        block("West", 2024, &[("L1", Some("Amsel")), ("B", None)]),
    ]
}

fn tallies(blocks: &[Block]) -> Vec<Tally> {
    blocks.iter().map(|block| tally(block, None).expect("a walk")).collect()
}

fn pool(blocks: &[Block]) -> Tally {
    let tallies = tallies(blocks);
    pooled(&blocks.iter().zip(&tallies).collect::<Vec<_>>()).expect("names of their own")
}

fn levels<'a>(tally: &'a Tally, factor: &str) -> &'a [String] {
    tally.factors.iter().find(|f| f.name == factor).map_or(&[], |f| &f.levels)
}

/// Counts of the vines with this label; an empty one is none.
fn counts(tally: &Tally, factor: &str, label: &str) -> Counts {
    let at = tally.factors.iter().position(|f| f.name == factor).expect("the factor");
    let code = tally.factors[at].levels.iter().position(|l| l == label).map_or(UNKNOWN, |code| code as u32);
    let mut sum = Counts::default();
    tally.cells.iter().filter(|cell| cell.codes[at] == code).for_each(|cell| sum.add(&cell.counts));
    sum
}

fn sum(all: &[Counts]) -> Counts {
    let mut sum = Counts::default();
    all.iter().for_each(|counts| sum.add(counts));
    sum
}

#[test]
fn pooled_counts_are_the_sums_and_rows_belong_to_their_block() {
    let blocks = three();
    let (all, each) = (pool(&blocks), tallies(&blocks));
    let names: Vec<&str> = all.factors.iter().map(|f| f.name.as_str()).collect();
    assert_eq!(names, ["block", "variety", "batch", "row"]);
    assert_eq!(all.total, sum(&each.iter().map(|t| t.total).collect::<Vec<_>>()));
    assert!(all.total.failed > 20 && all.field.is_none() && all.outcomes.is_empty());
    assert_eq!(levels(&all, "block"), ["North", "South", "West"]);
    for (block, tally) in blocks.iter().zip(&each) {
        assert_eq!(counts(&all, "block", &block.name), tally.total);
        for row in levels(tally, "row") {
            assert_eq!(counts(&all, "row", &format!("{}/{row}", block.name)), counts(tally, "row", row));
        }
    }
    assert_eq!(levels(&all, "row").len(), 18);
    assert_eq!(levels(&all, "row")[5..8], ["North/6", "South/1", "South/2"]);
    assert_eq!(all.walk, Some((date(2025, 1, 14), date(2025, 1, 14))));
}

#[test]
fn a_batch_is_its_nursery_and_its_name() {
    let blocks = three();
    let (all, each) = (pool(&blocks), tallies(&blocks));
    assert_eq!(levels(&all, "batch"), ["Amsel/L1", "South/B", "Vogel/L1", "Vogel/L2", "West/B"]);
    let of = |block: usize, batch: &str| counts(&each[block], "batch", batch);
    assert_eq!(counts(&all, "batch", "Vogel/L1"), sum(&[of(0, "L1"), of(1, "L1")]));
    assert_eq!(counts(&all, "batch", "Amsel/L1"), of(2, "L1"));
    assert_eq!(counts(&all, "batch", "South/B"), of(1, "B"));
    // A nursery that is called like a block is none the less another thing.
    let mut blocks = three();
    blocks[0].deliveries.iter_mut().for_each(|d| d.nursery = Some("West".into()));
    let with_b = |b: &mut Block| {
        let Plants::Vines(register) = &mut b.plants else { panic!("vines") };
        let batch = register.factors.iter_mut().find(|f| f.name == "batch").expect("batches");
        batch.levels[1] = "B".into();
        b.deliveries[1].batch = "B".into();
    };
    with_b(&mut blocks[0]);
    let all = pool(&blocks);
    assert_eq!(levels(&all, "batch").iter().filter(|l| *l == "West/B").count(), 2);
}

#[test]
fn one_of_two_batches_stays_no_single_one() {
    let mut blocks = three();
    let Plants::Vines(register) = &mut blocks[1].plants else { panic!("vines") };
    let batch = register.factors.iter_mut().find(|f| f.name == "batch").expect("batches");
    let both = batch.levels.iter().position(|l| l == "B").expect("B");
    batch.levels[both] = "L1|B".into();
    let all = pool(&blocks);
    let factor = all.factors.iter().find(|f| f.name == "batch").expect("batches");
    let at = factor.levels.iter().position(|l| l == "Vogel/L1|South/B").expect("both names");
    assert!(!factor.definite[at] && factor.definite.iter().filter(|d| **d).count() == factor.levels.len() - 1);
}

#[test]
fn seasons_are_a_factor_where_there_are_several() {
    let mut blocks = three();
    blocks[2] = block("West", 2025, &[("L1", Some("Amsel"))]);
    // A place of South replanted in the next spring: of the season after.
    let Plants::Vines(register) = &mut blocks[1].plants else { panic!("vines") };
    register.vines[3].planted_on = Some(date(2024, 11, 20));
    let (all, each) = (pool(&blocks), tallies(&blocks));
    assert_eq!(levels(&all, "planted"), ["2024", "2025"]);
    assert_eq!(counts(&all, "planted", "2025").planted, each[2].total.planted + 1);
    assert_eq!(all.total, sum(&each.iter().map(|t| t.total).collect::<Vec<_>>()));
    assert_eq!(all.walk, Some((date(2025, 1, 14), date(2026, 1, 14))));
    assert_eq!(levels(&pool(&three()), "planted"), [] as [&str; 0]);
    // Counts carry their block's season; without a date it isn't known.
    let counted = |planted_on: Option<Date>| Block { planted_on, ..of_counts("Counted") };
    let [north, south, _] = three();
    let dated = pool(&[north.clone(), counted(Some(date(2026, 4, 1)))]);
    assert_eq!((levels(&dated, "planted").len(), counts(&dated, "planted", "2026").planted), (2, 90));
    let undated = pool(&[north, block("West", 2025, &[("L1", None)]), counted(None), south]);
    assert_eq!(counts(&undated, "planted", "").planted, 90);
}

/// Two rows counted, with a declared factor that has a name of ours.
fn of_counts(name: &str) -> Block {
    let line = |row, planted, failed| CountLine {
        row,
        planted,
        seen: planted,
        failed,
        dead: Some(failed),
        ..CountLine::default()
    };
    let factor = |name: &str| Factor { name: name.into(), levels: vec!["x".into(), "y".into()], codes: vec![0, 1] };
    let sheet =
        CountSheet { lines: vec![line(0, 45, 3), line(1, 45, 1)], factors: vec![factor("clone"), factor("block")] };
    Block { name: name.into(), plants: Plants::Counts(sheet), ..block(name, 2024, &[("A", None)]) }
}

#[test]
fn what_one_block_says_is_not_known_of_the_others() {
    let blocks = [three()[0].clone(), of_counts("Counted")];
    let all = pool(&blocks);
    let names: Vec<&str> = all.factors.iter().map(|f| f.name.as_str()).collect();
    assert_eq!(names, ["block", "variety", "clone", "batch", "row", "block_within"]);
    assert_eq!(levels(&all, "block"), ["Counted", "North"]);
    assert_eq!((levels(&all, "clone"), levels(&all, "block_within").len()), (&["x".to_string(), "y".into()][..], 2));
    assert_eq!(counts(&all, "clone", "x").seen, 45);
    assert_eq!(counts(&all, "clone", "").planted, 120);
    assert_eq!(counts(&all, "batch", "").planted, 90);
}

#[test]
fn blocks_need_names_of_their_own() {
    let [north, south, west] = three();
    let south = Block { name: "West".into(), ..south };
    let blocks = [north, south, west];
    let tallies = tallies(&blocks);
    let error = pooled(&blocks.iter().zip(&tallies).collect::<Vec<_>>()).expect_err("two of a name");
    assert_eq!(error, NotPooled::SameName("West".into()));
    assert_eq!(pooled(&[]).expect("nothing").total, Counts::default());
}

/// Writes the blocks as folders of an estate.
fn written(blocks: &[Block]) -> tempfile::TempDir {
    let estate = tempfile::tempdir().unwrap();
    for (i, block) in blocks.iter().enumerate() {
        let folder = estate.path().join(format!("{i}"));
        fs::create_dir(&folder).unwrap();
        for (name, text) in files(block, &Dialect::default()) {
            fs::write(folder.join(name), text).unwrap();
        }
    }
    estate
}

fn asked(command: &str, estate: &Path) -> Value {
    document(&[command, estate.to_str().unwrap(), "--draws", "50"])
}

fn factor<'d>(rates: &'d Value, name: &str) -> &'d Value {
    rates["factors"].as_array().unwrap().iter().find(|f| f["factor"] == name).unwrap()
}

/// Label, seen, failed and pooled stand of each level.
fn answers(rates: &Value, name: &str) -> Vec<(String, u64, u64, f64)> {
    let number = |l: &Value, field: &str| l[field].as_u64().unwrap();
    let of = |l: &Value| {
        let label = l["level"].as_str().unwrap().to_string();
        let pooled = &l["pooled"];
        // A level that can't be told apart has bounds only.
        let stand = pooled["stand"].as_f64().unwrap_or_else(|| pooled["high"].as_f64().unwrap());
        (label, number(l, "seen"), number(l, "failed"), stand)
    };
    factor(rates, name)["levels"].as_array().unwrap().iter().map(of).collect()
}

#[test]
fn rates_of_an_estate_are_one_document_over_all() {
    let estate = written(&three());
    let doc = asked("rates", estate.path());
    let (all, blocks) = (&doc["pooled"], doc["blocks"].as_array().unwrap());
    follows_the_rules("rates", fields_of("rates"), all);
    assert_eq!(
        (&all["block"], &all["surveyed_on"], &doc["absent"]),
        (&doc["estate"], &json!("2025-01-14"), &json!([]))
    );
    for field in ["vines", "seen", "failed", "missing", "unsure", "set_aside"] {
        let total: u64 = blocks.iter().map(|b| b[field].as_u64().unwrap()).sum();
        assert_eq!(all[field].as_u64(), Some(total), "{field}");
    }
    let labels: Vec<String> = answers(all, "batch").into_iter().map(|a| a.0).collect();
    assert_eq!(labels, ["Amsel/L1", "South/B", "Vogel/L1", "Vogel/L2", "West/B"]);
    assert_eq!(answers(all, "block").len(), 3);
    let told = all["told_apart"]["factors"].as_array().unwrap();
    let row = told.iter().find(|f| f["factor"] == "row").unwrap();
    assert_eq!(row["nested_in"], json!(["block"]));
    // What isn't pooled says so.
    let cause = asked("cause", estate.path());
    assert_eq!((&cause["pooled"], &cause["absent"][0]["field"]), (&Value::Null, &json!("pooled")));
    assert!(cause["absent"][0]["would_help"].as_str().unwrap().contains("rates"));
}

/// Names carry no meaning: other names of blocks change labels and order, and nothing else.
#[test]
fn renamed_blocks_give_the_same_answers_in_their_order() {
    let first = written(&three());
    let [north, south, west] = three();
    let named = |block: Block, name: &str| Block { name: name.into(), ..block };
    let second = written(&[named(north, "Z"), named(south, "M"), named(west, "A")]);
    let (one, two) = (asked("rates", first.path()), asked("rates", second.path()));
    let mut turned = answers(&two["pooled"], "block");
    turned.reverse();
    let (was, is) = (answers(&one["pooled"], "block"), turned);
    let new: Vec<&str> = is.iter().map(|a| a.0.as_str()).collect();
    assert_eq!(new, ["Z", "M", "A"]);
    for (a, b) in was.iter().zip(&is) {
        assert_eq!((a.1, a.2), (b.1, b.2));
        assert!((a.3 - b.3).abs() < 0.01, "{a:?} {b:?}");
    }
    let vogel = |d: &Value| answers(&d["pooled"], "batch").into_iter().find(|a| a.0 == "Vogel/L1").map(|a| (a.1, a.2));
    assert_eq!(vogel(&one), vogel(&two));
}

#[test]
fn an_estate_with_two_blocks_of_one_name_answers_for_each_and_says_why_not_for_all() {
    let [north, south, _] = three();
    let estate = written(&[north, Block { name: "North".into(), ..south }]);
    let doc = asked("rates", estate.path());
    assert_eq!((doc["blocks"].as_array().unwrap().len(), &doc["pooled"]), (2, &Value::Null));
    assert!(doc["absent"][0]["reason"].as_str().unwrap().contains("\"North\""));
}

#[test]
fn assumptions_that_blocks_share_hold_for_all() {
    let [mut north, mut south, _] = three();
    let (pooling, spread) = ("pooling.mean_stand", "stand.new_batch_spread");
    let quantity = |p50: f64| Quantity { p10: 0.9 * p50, p50, p90: 1.1 * p50 };
    for block in [&mut north, &mut south] {
        block.assumptions.set(pooling, quantity(0.7)).unwrap();
    }
    north.assumptions.set(spread, quantity(0.3)).unwrap();
    let shared = fullstand::base::Assumptions::shared(&[&north.assumptions, &south.assumptions]);
    assert_eq!(shared.quantity(pooling), quantity(0.7));
    assert_eq!(shared.quantity(spread), fullstand::base::Assumptions::default().quantity(spread));
    assert!(shared.is_overridden(pooling) && !shared.is_overridden(spread));
    // A real estate: two stands of one plantation.
    let pines = [env!("CARGO_MANIFEST_DIR"), "notebooks-data", "pines"].iter().collect::<std::path::PathBuf>();
    let doc = asked("rates", &pines);
    let total: u64 = ["spacing-10", "spacing-15"]
        .map(|stand| tally(&intake::read(&pines.join(stand)).unwrap().block, None).unwrap().total.seen)
        .iter()
        .sum();
    assert_eq!(doc["pooled"]["seen"].as_u64(), Some(total));
    assert_eq!(answers(&doc["pooled"], "fert").len(), 2);
}
