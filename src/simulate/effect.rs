//! From causes to probabilities: what each row, place and rank adds to the logit of failure.

use super::planting::Planting;
use super::random::normal;
use super::scenario::{Hollow, OddStretch, Pool, Scenario, SmoothField};
use crate::base::{Seed, seed};
use rand::Rng;

/// What the effects were, on the logit scale.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Truth {
    /// By delivery, in the scenario's order: the batch alone.
    pub batch: Vec<f64>,
    /// By row of the layout: spread and odd rows together.
    pub row: Vec<f64>,
    /// By vine: hollows, pools and field together.
    pub place: Vec<f64>,
    /// Rank along the planters' walk, by vine, from 0.
    pub planting_rank: Vec<u32>,
}

/// Draws what is random about the effects.
pub(super) fn draw(scenario: &Scenario, planting: &Planting, seed: Seed) -> Truth {
    Truth {
        batch: scenario.deliveries.iter().map(|d| d.effect).collect(),
        row: rows(scenario, seed),
        place: places(scenario, seed),
        planting_rank: planting.rank.clone(),
    }
}

/// Probability of failure of each vine: `1 / (1 + exp(-logit))` of the sum of all effects.
pub(super) fn probabilities(scenario: &Scenario, planting: &Planting, truth: &Truth) -> Vec<f64> {
    let base = scenario.base_failure.clamp(1e-12, 1.0 - 1e-12);
    let base = (base / (1.0 - base)).ln();
    let stock: Vec<f64> = (0..scenario.deliveries.len()).map(|i| base + of_stock(scenario, i)).collect();
    let places = scenario.places_per_row as usize;
    (0..scenario.places())
        .map(|vine| {
            let row = vine / places;
            let planted = stock.get(planting.delivery[vine] as usize).copied().unwrap_or(base);
            let (in_row, place) = (truth.row[row] + stretch(scenario, row, vine % places), truth.place[vine]);
            let here = in_row + place + edge(scenario, row, vine % places);
            logistic(planted + here + step(scenario, planting.rank[vine]))
        })
        .collect()
}

/// Batch, clone and rootstock together, and what was the matter while they were planted.
fn of_stock(scenario: &Scenario, delivery: usize) -> f64 {
    let d = &scenario.deliveries[delivery];
    let of = |name: &Option<String>, effects: &std::collections::BTreeMap<String, f64>| {
        name.as_ref().and_then(|n| effects.get(n)).copied().unwrap_or(0.0)
    };
    let meanwhile = scenario.effects.while_planting.get(delivery).copied().unwrap_or(0.0);
    d.effect + meanwhile + of(&d.clone, &scenario.effects.clone) + of(&d.rootstock, &scenario.effects.rootstock)
}

fn stretch(scenario: &Scenario, row: usize, place: usize) -> f64 {
    let holds = |s: &&OddStretch| s.row as usize == row && (s.from as usize..s.to as usize).contains(&place);
    scenario.effects.odd_stretches.iter().filter(holds).map(|s| s.effect).sum()
}

fn edge(scenario: &Scenario, row: usize, place: usize) -> f64 {
    let outer = |i: usize, n: u32| i == 0 || i + 1 == n as usize;
    let at_edge = outer(row, scenario.rows) || outer(place, scenario.places_per_row);
    if at_edge { scenario.effects.edge } else { 0.0 }
}

fn step(scenario: &Scenario, rank: u32) -> f64 {
    let vines = scenario.places() as f64;
    scenario.effects.step.filter(|s| f64::from(rank) >= s.after * vines).map_or(0.0, |s| s.effect)
}

fn logistic(logit: f64) -> f64 {
    let p = 1.0 / (1.0 + (-logit).exp());
    if p.is_finite() { p } else { 0.5 }
}

fn rows(scenario: &Scenario, seed: Seed) -> Vec<f64> {
    let mut rng = seed.stream("simulate.row", 0);
    let mut rows: Vec<f64> = (0..scenario.rows).map(|_| scenario.effects.row_sd * normal(&mut rng)).collect();
    for (row, effect) in &scenario.effects.odd_rows {
        rows.get_mut(*row as usize).into_iter().for_each(|r| *r += effect);
    }
    rows
}

fn places(scenario: &Scenario, seed: Seed) -> Vec<f64> {
    let (across, along) = (scenario.across_m(), scenario.along_m());
    let mut effects = vec![0.0; scenario.places()];
    for hollow in &scenario.effects.hollows {
        add_hollow(&mut effects, hollow, &across, &along);
    }
    for pool in &scenario.effects.pools {
        add_pool(&mut effects, pool, &across, &along);
    }
    if let Some(field) = &scenario.effects.field {
        add_field(&mut effects, field, &across, &along, &mut seed.stream("simulate.field", 0));
    }
    effects
}

/// `depth exp(-d^2 / (2 radius^2))`, d the distance from the centre.
fn add_hollow(effects: &mut [f64], hollow: &Hollow, across: &[f64], along: &[f64]) {
    let scale = 2.0 * hollow.radius_m.max(1e-9).powi(2);
    let fall = |squared: f64| hollow.depth * (-squared / scale).exp();
    add_around(effects, (hollow.across_m, hollow.along_m), fall, across, along);
}

/// `depth` within the radius.
fn add_pool(effects: &mut [f64], pool: &Pool, across: &[f64], along: &[f64]) {
    let reach = pool.radius_m.powi(2);
    let within = |squared: f64| if squared <= reach { pool.depth } else { 0.0 };
    add_around(effects, (pool.across_m, pool.along_m), within, across, along);
}

/// Adds what goes with the squared distance from a centre.
fn add_around(effects: &mut [f64], centre: (f64, f64), by: impl Fn(f64) -> f64, across: &[f64], along: &[f64]) {
    let each = effects.iter_mut().zip(across.iter().flat_map(|x| along.iter().map(move |y| (x, y))));
    for (effect, (x, y)) in each {
        *effect += by((x - centre.0).powi(2) + (y - centre.1).powi(2));
    }
}

/// Waves whose sum stands for the field.
const WAVES: u32 = 64;

/// A Gaussian field as a sum of random cosines, `sd sqrt(2/K) sum cos(w.s + b)`, w normal with sd 1/range, b uniform
/// (Rahimi & Recht 2007, Random features for large-scale kernel machines, NIPS 20; from memory). Each wave is
/// a product over the grid, so that a million places cost no cosine of their own.
fn add_field(effects: &mut [f64], field: &SmoothField, across: &[f64], along: &[f64], rng: &mut impl Rng) {
    let scale = field.sd * (2.0 / f64::from(WAVES)).sqrt();
    let frequency = 1.0 / field.range_m.max(1e-9);
    for _ in 0..WAVES {
        let (wx, wy) = (normal(rng) * frequency, normal(rng) * frequency);
        let phase = std::f64::consts::TAU * seed::uniform(rng);
        let rows: Vec<(f64, f64)> = across.iter().map(|x| (wx * x + phase).sin_cos()).collect();
        let places: Vec<(f64, f64)> = along.iter().map(|y| (wy * y).sin_cos()).collect();
        let waves = rows.iter().flat_map(|r| places.iter().map(move |p| r.1 * p.1 - r.0 * p.0));
        effects.iter_mut().zip(waves).for_each(|(effect, wave)| *effect += scale * wave);
    }
}
