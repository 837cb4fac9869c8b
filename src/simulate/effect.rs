//! From causes to probabilities: what each row, place and rank adds to the logit of failure.

use super::planting::Planting;
use super::random::normal;
use super::scenario::{Hollow, Scenario, SmoothField};
use crate::base::{Seed, seed};
use rand::Rng;

/// What the effects were, on the logit scale.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Truth {
    /// By delivery, in the scenario's order: the batch alone.
    pub batch: Vec<f64>,
    /// By row of the layout: spread and odd rows together.
    pub row: Vec<f64>,
    /// By vine: hollows and field together.
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
            let here = truth.row[row] + truth.place[vine] + edge(scenario, row, vine % places);
            logistic(planted + here + step(scenario, planting.rank[vine]))
        })
        .collect()
}

/// Batch, clone and rootstock together.
fn of_stock(scenario: &Scenario, delivery: usize) -> f64 {
    let d = &scenario.deliveries[delivery];
    let of = |name: &Option<String>, effects: &std::collections::BTreeMap<String, f64>| {
        name.as_ref().and_then(|n| effects.get(n)).copied().unwrap_or(0.0)
    };
    d.effect + of(&d.clone, &scenario.effects.clone) + of(&d.rootstock, &scenario.effects.rootstock)
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
    if let Some(field) = &scenario.effects.field {
        add_field(&mut effects, field, &across, &along, &mut seed.stream("simulate.field", 0));
    }
    effects
}

/// `depth exp(-d^2 / (2 radius^2))`, d the distance from the centre.
fn add_hollow(effects: &mut [f64], hollow: &Hollow, across: &[f64], along: &[f64]) {
    let scale = 2.0 * hollow.radius_m.max(1e-9).powi(2);
    let each = effects.iter_mut().zip(across.iter().flat_map(|x| along.iter().map(move |y| (x, y))));
    for (effect, (x, y)) in each {
        let squared = (x - hollow.across_m).powi(2) + (y - hollow.along_m).powi(2);
        *effect += hollow.depth * (-squared / scale).exp();
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
