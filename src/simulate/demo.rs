//! The demo block: a scenario of our own invention, generated from a fixed seed.

use super::files::{Dialect, Table, tables};
use super::scenario::{Consignment, Dealt, Dying, Effects, Growth, Hollow, Measured, Scenario, WalkPlan};
use super::{Simulated, simulate};
use crate::base::Seed;
use crate::block::{Block, Delivery, DiaryEntry, LookDetail, Plants, State, StockType};
use jiff::civil::{Date, date};
use std::collections::BTreeMap;

/// What is said in the folder about the folder.
const README: &str = include_str!("demo/README.txt");
/// The block's own file, with comments for its reader; it describes the same layout as [`scenario`].
const BLOCK: &str = include_str!("demo/block.toml");

/// A folder to write: the text of each file by name.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Demo {
    /// Name of the folder.
    pub name: String,
    pub files: BTreeMap<String, String>,
}

/// The demo block's folder, always the same. The tables have semicolons and decimal commas, and a few slips.
pub fn demo() -> Demo {
    let dialect = Dialect::continental();
    let mut block = simulated().block;
    block.diary = diary();
    write_in_winter(&mut block);
    let mut files: BTreeMap<String, String> = BTreeMap::new();
    for (name, mut table) in tables(&block, &dialect) {
        if name == "surveys.csv" {
            add_slips(&mut table);
        }
        files.insert(name.into(), table.text(&dialect));
    }
    files.insert("block.toml".into(), BLOCK.into());
    files.insert("README.txt".into(), README.into());
    Demo { name: "varnsley-hollow".into(), files }
}

/// The demo's block before any slip of the pen, with the truth behind it.
pub fn simulated() -> Simulated {
    simulate(&scenario(), Seed::new(SEED))
}

const SEED: u64 = 2025;

/// Row and position of the vine whose height was written ten times too high.
const TOO_HIGH: (u32, u32) = (4, 12);
/// Row and position of the vine that was written twice, alive and dead.
const TWICE: (&str, &str) = ("10", "30");

/// About 24 rows of 45 vines, three deliveries on two rootstocks, one of which took badly, and a damp hollow.
pub fn scenario() -> Scenario {
    Scenario {
        name: "Varnsley Hollow".into(),
        row_spacing_m: 2.3,
        vine_spacing_m: 1.0,
        tracks: vec![(12, 4.0)],
        training_height_cm: 80.0,
        planted_on: date(2025, 4, 22),
        planting_days: 3,
        deliveries: deliveries(),
        dealt: Dealt::Bundles { size: 75 },
        base_failure: 0.02,
        effects: Effects {
            hollows: vec![Hollow { across_m: 50.0, along_m: 25.0, radius_m: 4.5, depth: 3.4 }],
            ..Effects::default()
        },
        dying: Dying { never_grew: 0.7, gone: 0.04 },
        growth: Growth { height_cm: 94.0, ..Growth::default() },
        walks: walks(),
        ..Scenario::default()
    }
}

/// The bad delivery shares clone and rootstock with a good one, so that neither can be taken for it.
fn deliveries() -> Vec<Consignment> {
    let of = |record: Delivery, amount: f64, clone: &str, rootstock: &str| Consignment {
        record: Delivery { stock_type: Some(StockType::Dormant), ..bought(record, amount as u64) },
        amount,
        variety: Some("Blaufränkisch".into()),
        clone: Some(clone.into()),
        rootstock: Some(rootstock.into()),
        ..Consignment::default()
    };
    vec![
        of(good("P1", "Pellivane Vines", 4, 15), 430.0, "C2", "SO4"),
        Consignment { effect: 2.3, vigour: -0.12, ..of(bad(), 300.0, "C2", "SO4") },
        of(good("T1", "Tessmoor Graftings", 4, 17), 350.0, "C5", "1103P"),
    ]
}

/// Twenty more than were planted.
fn bought(record: Delivery, planted: u64) -> Delivery {
    Delivery { ordered: Some(planted + 20), delivered: Some(planted + 20), spares: Some(20), ..record }
}

fn good(batch: &str, nursery: &str, month: i8, day: i8) -> Delivery {
    Delivery {
        batch: batch.into(),
        nursery: Some(nursery.into()),
        ordered_on: Some(date(2024, 6, 20)),
        delivered_on: Some(date(2025, month, day)),
        opened_on: Some(date(2025, 4, 22)),
        condition_on_arrival: Some("roots moist".into()),
        ..Delivery::default()
    }
}

fn bad() -> Delivery {
    Delivery {
        condition_on_arrival: Some("packing dry on one pallet".into()),
        discovered_on: Some(date(2025, 7, 8)),
        notified_on: Some(date(2025, 7, 15)),
        note: Some("photographs taken at unloading".into()),
        ..good("Q1", "Quorley Grafted Vines", 4, 9)
    }
}

fn walks() -> Vec<WalkPlan> {
    let summer = WalkPlan { label: Some("summer".into()), date: date(2025, 7, 8), ..WalkPlan::default() };
    let measured = Measured::Canes { grown: 1.0, missing: 0.03, height_error_cm: 2.0, diameter_error_mm: 0.2 };
    let winter = WalkPlan {
        label: Some("first winter".into()),
        date: date(2026, 1, 13),
        days: 2,
        unsure: 0.006,
        kind_told: 0.9,
        measured,
        ..WalkPlan::default()
    };
    vec![summer, winter]
}

fn diary() -> Vec<DiaryEntry> {
    let entry =
        |date: Date, rows: Option<(&str, &str)>, event: &str, amount: Option<(f64, &str)>, note: &str| DiaryEntry {
            date,
            row_from: rows.map(|r| r.0.to_string()),
            row_to: rows.map(|r| r.1.to_string()),
            event: event.into(),
            amount: amount.map(|a| a.0),
            unit: amount.map(|a| a.1.to_string()),
            note: Some(note.to_string()).filter(|n| !n.is_empty()),
        };
    vec![
        entry(date(2025, 4, 9), None, "delivery into store", Some((4.5, "°C")), "Q1, store thermometer"),
        entry(date(2025, 4, 22), Some(("1", "24")), "planting", None, "three days, same crew"),
        entry(date(2025, 4, 26), Some(("1", "24")), "watering", Some((6.0, "l/vine")), ""),
        entry(date(2025, 5, 19), Some(("18", "23")), "rain", Some((48.5, "mm")), "water stood in the hollow for days"),
        entry(date(2025, 6, 12), Some(("1", "24")), "watering", Some((8.0, "l/vine")), ""),
    ]
}

/// How some of the dead were told in winter, and a height with a digit too many.
fn write_in_winter(block: &mut Block) {
    let Plants::Vines(register) = &mut block.plants else { return };
    let place = |vine: u32| register.vines.get(vine as usize).map(|v| (v.place.row + 1, v.place.position));
    let Some(walk) = register.walks.last_mut() else { return };
    for look in walk.looks.iter_mut().filter(|l| l.state == State::Died).take(2) {
        look.detail = Some(Box::new(LookDetail { method: Some("scratch".into()), ..LookDetail::default() }));
    }
    let slip = walk.looks.iter_mut().find(|l| place(l.vine) == Some(TOO_HIGH));
    slip.into_iter().for_each(|look| look.height_cm = look.height_cm.map(|h| h * 10.0));
}

/// What `check` will set aside: a position past the row's end, and two lines for one vine that disagree.
fn add_slips(surveys: &mut Table) {
    let winter = [("surveyed_on", "13.01.2026"), ("walk", "first winter")];
    let past_the_end = [("row", "6"), ("position", "47"), ("state", "dead")];
    let twice = [("row", TWICE.0), ("position", TWICE.1), ("state", "dead")];
    for slip in [past_the_end, twice] {
        surveys.add(&[&slip[..], &winter].concat());
    }
}
