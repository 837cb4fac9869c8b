//! The simulated planting as a grower would have recorded it.

use super::fate::later;
use super::planting::Planting;
use super::scenario::{Consignment, Scenario};
use crate::base::{Assumptions, label};
use crate::block::{
    Block, Code, Delivery, Factor, Goal, Hemisphere, Layout, Limits, Place, Plants, Register, RowLayout, UNKNOWN, Vine,
    Walk,
};

pub(super) fn block(scenario: &Scenario, planting: &Planting, walks: Vec<Walk>) -> Block {
    let register = Register { vines: vines(scenario, planting), factors: factors(scenario, planting), walks };
    Block {
        name: scenario.name.clone(),
        currency: "EUR".into(),
        planted_on: Some(scenario.planted_on),
        hemisphere: Hemisphere::North,
        layout: layout(scenario),
        plants: Plants::Vines(register),
        deliveries: deliveries(scenario, planting),
        diary: Vec::new(),
        terms: Default::default(),
        materials: Vec::new(),
        courses: Vec::new(),
        goal: Goal::default(),
        limits: Limits::default(),
        assumptions: Assumptions::default(),
    }
}

fn layout(scenario: &Scenario) -> Layout {
    let track = |row: u32| scenario.tracks.iter().find(|(at, _)| *at == row).map(|(_, metres)| *metres);
    let row = |row: u32| RowLayout {
        label: (row + 1).to_string(),
        places: scenario.places_per_row,
        gap_before_m: track(row),
        ..RowLayout::default()
    };
    Layout {
        row_spacing_m: Some(scenario.row_spacing_m),
        vine_spacing_m: Some(scenario.vine_spacing_m),
        training_height_cm: Some(scenario.training_height_cm),
        topped_at_cm: None,
        planted: scenario.planted,
        rows: (0..scenario.rows).map(row).collect(),
    }
}

fn vines(scenario: &Scenario, planting: &Planting) -> Vec<Vine> {
    let days = i64::from(scenario.planting_days.max(1));
    let total = scenario.places().max(1) as i64;
    let dates: Vec<_> = (0..days).map(|day| later(scenario.planted_on, day)).collect();
    let vine = |(i, &rank): (usize, &u32)| Vine {
        place: Place {
            row: i as u32 / scenario.places_per_row.max(1),
            position: i as u32 % scenario.places_per_row.max(1) + 1,
        },
        planted_on: dates.get((i64::from(rank) * days / total) as usize).copied(),
        planted_seq: None,
        removed_on: None,
        removed_why: None,
        moved_from: None,
        x_y_m: None,
        line: 0,
    };
    planting.rank.iter().enumerate().map(vine).collect()
}

/// What a column says of a delivery.
type Column = (&'static str, fn(&Consignment) -> Option<&str>);

const COLUMNS: [Column; 4] = [
    ("variety", |d| d.variety.as_deref()),
    ("clone", |d| d.clone.as_deref()),
    ("rootstock", |d| d.rootstock.as_deref()),
    ("batch", |d| Some(d.record.batch.as_str()).filter(|b| !b.is_empty())),
];

fn factors(scenario: &Scenario, planting: &Planting) -> Vec<Factor> {
    COLUMNS.iter().map(|column| factor(scenario, planting, column)).filter(|f| !f.levels.is_empty()).collect()
}

fn factor(scenario: &Scenario, planting: &Planting, (name, of): &Column) -> Factor {
    let mut levels: Vec<String> = scenario.deliveries.iter().filter_map(of).map(str::to_string).collect();
    levels.sort_by(|a, b| label::natural(a, b));
    levels.dedup();
    let code = |d: &Consignment| of(d).and_then(|l| levels.iter().position(|m| m == l)).map_or(UNKNOWN, |i| i as Code);
    let by_delivery: Vec<Code> = scenario.deliveries.iter().map(code).collect();
    let codes = planting.delivery.iter().map(|d| by_delivery.get(*d as usize).copied().unwrap_or(UNKNOWN)).collect();
    Factor { name: (*name).into(), levels, codes }
}

fn deliveries(scenario: &Scenario, planting: &Planting) -> Vec<Delivery> {
    let mut planted = vec![0u64; scenario.deliveries.len()];
    for d in &planting.delivery {
        planted.get_mut(*d as usize).into_iter().for_each(|n| *n += 1);
    }
    let record = |(d, n): (&Consignment, u64)| Delivery { planted: Some(n), ..d.record.clone() };
    scenario.deliveries.iter().zip(planted).map(record).filter(|d| !d.batch.is_empty()).collect()
}
