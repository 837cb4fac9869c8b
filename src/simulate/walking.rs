//! The walks through the rows: what was seen and measured of each vine.

use super::fate::{Cane, Fate, later};
use super::random::{happens, normal};
use super::scenario::{Measured, Scenario, WalkPlan};
use crate::base::Seed;
use crate::block::{Look, State, Walk};
use jiff::civil::Date;
use rand::Rng;

/// Every walk, in order of date.
pub(super) fn walk(scenario: &Scenario, fates: &[Fate], canes: &[Cane], seed: Seed) -> Vec<Walk> {
    let one = |(i, plan): (usize, &WalkPlan)| {
        walk_once(scenario, plan, fates, canes, &mut seed.stream("simulate.walk", i as u64))
    };
    let mut walks: Vec<Walk> = scenario.walks.iter().enumerate().filter_map(one).collect();
    walks.sort_by_key(|w| w.first_day);
    walks
}

/// None where nobody was looked at: such a walk leaves no line.
fn walk_once(scenario: &Scenario, plan: &WalkPlan, fates: &[Fate], canes: &[Cane], rng: &mut impl Rng) -> Option<Walk> {
    let days = row_days(scenario, plan);
    let places = scenario.places_per_row as usize;
    let mut looks = Vec::new();
    for (vine, fate) in fates.iter().enumerate() {
        if happens(plan.looked_at, rng) {
            let date = days[vine / places];
            let look = blank(vine, date, seen(plan, *fate, date, rng));
            looks.push(measure(look, scenario, plan, canes.get(vine), rng));
        }
    }
    let first_day = looks.iter().map(|l| l.date).min()?;
    let last_day = looks.iter().map(|l| l.date).max()?;
    let label = plan.label.clone().unwrap_or_else(|| first_day.to_string());
    Some(Walk { label, first_day, last_day, looks })
}

/// The day on which each row was walked.
fn row_days(scenario: &Scenario, plan: &WalkPlan) -> Vec<Date> {
    let day = |row: u32| i64::from(row) * i64::from(plan.days.max(1)) / i64::from(scenario.rows.max(1));
    (0..scenario.rows).map(|row| later(plan.date, day(row))).collect()
}

fn seen(plan: &WalkPlan, fate: Fate, date: Date, rng: &mut impl Rng) -> State {
    let state = match fate {
        Fate::NeverGrew => State::NoBudburst,
        Fate::Died(on) if on <= date => State::Died,
        Fate::Gone(on) if on <= date => State::Missing,
        _ => State::Alive,
    };
    if happens(plan.unsure, rng) {
        return State::Unsure;
    }
    let told = !matches!(state, State::NoBudburst | State::Died) || happens(plan.kind_told, rng);
    if told { state } else { State::Dead }
}

fn blank(vine: usize, date: Date, state: State) -> Look {
    Look {
        vine: vine as u32,
        date,
        state,
        height_cm: None,
        diameter_mm: None,
        reached_wire: None,
        vigour: None,
        stage_bbch: None,
        union: None,
        union_height_cm: None,
        detail: None,
        line: 0,
    }
}

/// Adds the measures of a living cane, with their errors, to the centimetre and the tenth of a millimetre.
fn measure(look: Look, scenario: &Scenario, plan: &WalkPlan, cane: Option<&Cane>, rng: &mut impl Rng) -> Look {
    let (Measured::Canes { grown, missing, height_error_cm, diameter_error_mm }, Some(cane), State::Alive) =
        (plan.measured, cane, look.state)
    else {
        return look;
    };
    if happens(missing, rng) {
        return look;
    }
    let height = f64::from(cane.height_cm) * grown;
    let reached = height >= scenario.training_height_cm;
    let share = if reached { 1.0 } else { scenario.growth.tip_share };
    let thick = f64::from(cane.diameter_mm) * grown.max(0.0).powf(scenario.growth.diameter_power) * share;
    let height = (height + height_error_cm * normal(rng)).round().max(1.0);
    let diameter = ((thick + diameter_error_mm * normal(rng)) * 10.0).round().max(1.0) / 10.0;
    Look { height_cm: Some(height as f32), diameter_mm: Some(diameter as f32), reached_wire: Some(reached), ..look }
}
