//! Scenes that growers know, drawn by hand rather than from a prior: sizes, places and strengths vary, the kind of
//! trouble doesn't.

use super::design::{BUNDLES, Design};
use super::planting::each_in_one_go;
use super::prior::{Cause, Drawn, some_rows, somewhere};
use super::random::{between, whole};
use super::scenario::{Dealt, Hollow, OddStretch, Pool, Scenario};
use crate::base::{Seed, seed};
use rand::Rng;

/// What happened. Batches were dealt in bundles of 25 and are innocent where nothing else is said.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Scene {
    Chance,
    /// One bad batch.
    Batch,
    /// A wet hollow, deepest at its centre.
    Hollow,
    /// Standing water with a bank.
    Pool,
    /// One or two whole rows without water.
    Driplines,
    /// The same from some place of the row to its end.
    DriplineEnds,
    /// One bad batch and a wet hollow.
    BatchAndHollow,
    /// One bad batch, each batch in adjacent rows of its own.
    BatchInOwnRows,
    /// A wet hollow, each batch innocent and in adjacent rows of its own.
    HollowInOwnRows,
}

/// Range of an effect, logit.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Strength {
    /// 2.2 to 3.4: odds of failure times 9 to 30.
    Strong,
    /// 0.6 to 1.4: odds of failure times 2 to 4.
    Weak,
}

impl Strength {
    pub const BOTH: [Strength; 2] = [Strength::Strong, Strength::Weak];

    pub fn name(self) -> &'static str {
        match self {
            Strength::Strong => "strong",
            Strength::Weak => "weak",
        }
    }

    /// Logit of each effect, uniform between these.
    pub fn range(self) -> (f64, f64) {
        match self {
            Strength::Strong => (2.2, 3.4),
            Strength::Weak => (0.6, 1.4),
        }
    }

    fn draw(self, rng: &mut impl Rng) -> f64 {
        between(self.range().0, self.range().1, rng)
    }
}

impl Scene {
    pub const ALL: [Scene; 9] = [
        Scene::Chance,
        Scene::Batch,
        Scene::Hollow,
        Scene::Pool,
        Scene::Driplines,
        Scene::DriplineEnds,
        Scene::BatchAndHollow,
        Scene::BatchInOwnRows,
        Scene::HollowInOwnRows,
    ];

    pub fn name(self) -> &'static str {
        match self {
            Scene::Chance => "chance",
            Scene::Batch => "one bad batch",
            Scene::Hollow => "wet hollow",
            Scene::Pool => "pool with a bank",
            Scene::Driplines => "driplines, whole rows",
            Scene::DriplineEnds => "driplines, ends of rows",
            Scene::BatchAndHollow => "batch and hollow",
            Scene::BatchInOwnRows => "bad batch in own rows",
            Scene::HollowInOwnRows => "hollow, batches in own rows",
        }
    }

    /// What is the matter, in order.
    pub fn causes(self) -> &'static [Cause] {
        match self {
            Scene::Chance => &[],
            Scene::Batch | Scene::BatchInOwnRows => &[Cause::Batch],
            Scene::Hollow | Scene::Pool | Scene::HollowInOwnRows => &[Cause::Place],
            Scene::Driplines | Scene::DriplineEnds => &[Cause::Row],
            Scene::BatchAndHollow => &[Cause::Batch, Cause::Place],
        }
    }

    fn dealt(self) -> Dealt {
        match self {
            Scene::BatchInOwnRows | Scene::HollowInOwnRows => Dealt::WholeRows,
            _ => BUNDLES,
        }
    }
}

/// Probability of failure where nothing is the matter, uniform.
pub const BASE_FAILURE: (f64, f64) = (0.02, 0.10);
/// Standard deviation of a hollow, radius of a pool, metres, uniform.
pub const RADIUS_M: (f64, f64) = (3.0, 10.0);
/// Share of the row before the first vine without water.
const STILL_WATERED: (f64, f64) = (0.3, 0.7);

/// Draws a block for a scene, to be simulated with the same seed; its number of vines is log-uniform in a range.
pub fn draw_scene(scene: Scene, strength: Strength, vines: (u32, u32), seed: Seed) -> Drawn {
    let design = Design { vines, dealt: vec![scene.dealt()], ..Design::default() };
    let rng = &mut seed.stream("simulate.scene", 0);
    let planted = design.draw(rng);
    let mut scenario = Scenario { base_failure: between(BASE_FAILURE.0, BASE_FAILURE.1, rng), ..planted };
    add(&mut scenario, scene, strength, rng);
    Drawn { in_one_go: each_in_one_go(&scenario, seed), scenario, causes: scene.causes().to_vec() }
}

fn add(scenario: &mut Scenario, scene: Scene, strength: Strength, rng: &mut impl Rng) {
    match scene {
        Scene::Chance => {}
        Scene::Batch | Scene::BatchInOwnRows => spoil_a_batch(scenario, strength, rng),
        Scene::Hollow | Scene::HollowInOwnRows => dig(scenario, strength, rng),
        Scene::BatchAndHollow => {
            spoil_a_batch(scenario, strength, rng);
            dig(scenario, strength, rng);
        }
        Scene::Pool => {
            let ((across_m, along_m), radius_m) = (somewhere(scenario, rng), between(RADIUS_M.0, RADIUS_M.1, rng));
            scenario.effects.pools = vec![Pool { across_m, along_m, radius_m, depth: strength.draw(rng) }];
        }
        Scene::Driplines => {
            let rows = dry_rows(scenario.rows, rng);
            scenario.effects.odd_rows = rows.into_iter().map(|row| (row, strength.draw(rng))).collect();
        }
        Scene::DriplineEnds => {
            let rows = dry_rows(scenario.rows, rng);
            let places = f64::from(scenario.places_per_row);
            let end = |row| OddStretch {
                row,
                from: (between(STILL_WATERED.0, STILL_WATERED.1, rng) * places) as u32,
                to: scenario.places_per_row,
                effect: strength.draw(rng),
            };
            scenario.effects.odd_stretches = rows.into_iter().map(end).collect();
        }
    }
}

fn spoil_a_batch(scenario: &mut Scenario, strength: Strength, rng: &mut impl Rng) {
    let bad = seed::below(rng, scenario.deliveries.len().max(1));
    scenario.deliveries.get_mut(bad).into_iter().for_each(|d| d.effect = strength.draw(rng));
}

fn dig(scenario: &mut Scenario, strength: Strength, rng: &mut impl Rng) {
    let ((across_m, along_m), radius_m) = (somewhere(scenario, rng), between(RADIUS_M.0, RADIUS_M.1, rng));
    scenario.effects.hollows = vec![Hollow { across_m, along_m, radius_m, depth: strength.draw(rng) }];
}

fn dry_rows(rows: u32, rng: &mut impl Rng) -> Vec<u32> {
    let n = whole(1, 2, rng) as usize;
    some_rows(rows, n, rng)
}
