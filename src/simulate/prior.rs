//! Random scenarios with known cause, drawn from a stated prior: what calibration needs.

use super::random::{between, exponential, normal, whole};
use super::scenario::{Consignment, Dealt, Effects, Hollow, OrderStep, Scenario, SmoothField};
use crate::base::{Assumptions, Seed, seed};
use rand::Rng;

/// One thing that can be the matter, in the order in which pairs are named.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Cause {
    Batch,
    Row,
    Place,
    Order,
}

impl Cause {
    pub const ALL: [Cause; 4] = [Cause::Batch, Cause::Row, Cause::Place, Cause::Order];

    /// Its name in the documents.
    pub fn name(self) -> &'static str {
        match self {
            Cause::Batch => "batch",
            Cause::Row => "row",
            Cause::Place => "place",
            Cause::Order => "order",
        }
    }
}

/// Name of what several causes together are: `chance` for none, else joined with `+` in order.
pub fn cause_name(causes: &[Cause]) -> String {
    let mut sorted = causes.to_vec();
    sorted.sort_unstable();
    sorted.dedup();
    let names: Vec<&str> = sorted.into_iter().map(Cause::name).collect();
    if names.is_empty() { "chance".into() } else { names.join("+") }
}

/// What scenarios are drawn from. Ranges are uniform, both ends included.
#[derive(Clone, Debug, PartialEq)]
pub struct Prior {
    /// Probability that nothing is the matter.
    pub chance: f64,
    /// Probability of two causes, where something is; each pair and each single cause as likely as its peers.
    pub pair: f64,
    /// The standard deviation of an effect that is exceeded with probability 0.1, logit: sds are exponential, the
    /// penalised-complexity prior (Simpson et al. 2017, Stat. Sci. 32:1; from memory).
    pub sd_once_in_ten: f64,
    /// Probability that a factor has one odd level (a row factor one or two) instead of a spread over all.
    pub odd_level: f64,
    pub rows: (u32, u32),
    pub places_per_row: (u32, u32),
    pub batches: (u32, u32),
    pub base_failure: (f64, f64),
    /// Size of bundles where deliveries were dealt out in them.
    pub bundle: u32,
    /// Radius of a hollow and range of a field, as a share of the block's shorter side.
    pub patch: (f64, f64),
}

impl Default for Prior {
    fn default() -> Self {
        let table = Assumptions::default();
        Prior {
            chance: table.get("explanation.prior.chance"),
            pair: 0.3,
            sd_once_in_ten: table.get("explanation.effect_sd_once_in_ten"),
            odd_level: 0.5,
            rows: (10, 32),
            places_per_row: (20, 45),
            batches: (3, 6),
            base_failure: (0.02, 0.10),
            bundle: 25,
            patch: (0.1, 0.4),
        }
    }
}

/// A scenario drawn, and what causes its failures beyond chance.
#[derive(Clone, Debug)]
pub struct Drawn {
    pub scenario: Scenario,
    /// In order, none twice; empty: chance alone.
    pub causes: Vec<Cause>,
}

/// Draws the causes, then a scenario with them.
pub fn draw_scenario(prior: &Prior, seed: Seed) -> Drawn {
    let causes = draw_causes(prior, &mut seed.stream("simulate.cause", 0));
    Drawn { scenario: scenario_of(&causes, prior, seed), causes }
}

fn draw_causes(prior: &Prior, rng: &mut impl Rng) -> Vec<Cause> {
    if seed::uniform(rng) < prior.chance {
        return Vec::new();
    }
    let mut all = Cause::ALL;
    seed::shuffle(&mut all, rng);
    let n = if seed::uniform(rng) < prior.pair { 2 } else { 1 };
    let mut causes = all[..n].to_vec();
    causes.sort_unstable();
    causes
}

/// Draws a scenario in which these are the causes. Each cause has a stream of its own, so that blocks of one seed
/// differ by what is added only.
pub fn scenario_of(causes: &[Cause], prior: &Prior, seed: Seed) -> Scenario {
    let mut scenario = planting(prior, &mut seed.stream("simulate.planting", 0));
    for cause in causes {
        let rng = &mut seed.stream("simulate.effect", *cause as u64);
        let sd = exponential(prior.sd_once_in_ten / std::f64::consts::LN_10, rng);
        match cause {
            Cause::Batch => add_batch(&mut scenario.deliveries, prior, sd, rng),
            Cause::Row => add_row(&mut scenario.effects, scenario.rows, prior, sd, rng),
            Cause::Place => add_place(&mut scenario, prior, sd, rng),
            Cause::Order => {
                let step = OrderStep { after: between(0.15, 0.85, rng), effect: sd * normal(rng) };
                scenario.effects.step = Some(step);
            }
        }
    }
    scenario
}

/// Layout, deliveries and base rate of a block in which nothing is the matter.
fn planting(prior: &Prior, rng: &mut impl Rng) -> Scenario {
    let (rows, places_per_row) = (draw(prior.rows, rng), draw(prior.places_per_row, rng));
    let batches = draw(prior.batches, rng);
    let ways = [Dealt::Bundles { size: prior.bundle }, Dealt::WholeRows, Dealt::OneAfterAnother];
    Scenario {
        rows,
        places_per_row,
        deliveries: (1..=batches).map(|i| Consignment::named(&format!("L{i}"))).collect(),
        dealt: ways[seed::below(rng, ways.len())],
        base_failure: between(prior.base_failure.0, prior.base_failure.1, rng),
        ..Scenario::default()
    }
}

fn draw(range: (u32, u32), rng: &mut impl Rng) -> u32 {
    whole(range.0, range.1, rng)
}

fn add_batch(deliveries: &mut [Consignment], prior: &Prior, sd: f64, rng: &mut impl Rng) {
    if deliveries.is_empty() {
        return;
    }
    if seed::uniform(rng) < prior.odd_level {
        let odd = seed::below(rng, deliveries.len());
        deliveries[odd].effect = sd * normal(rng);
    } else {
        deliveries.iter_mut().for_each(|d| d.effect = sd * normal(rng));
    }
}

fn add_row(effects: &mut Effects, rows: u32, prior: &Prior, sd: f64, rng: &mut impl Rng) {
    if seed::uniform(rng) >= prior.odd_level {
        effects.row_sd = sd;
        return;
    }
    let mut all: Vec<u32> = (0..rows).collect();
    seed::shuffle(&mut all, rng);
    let n = whole(1, 2, rng) as usize;
    effects.odd_rows = all.into_iter().take(n).map(|row| (row, sd * normal(rng))).collect();
}

/// A smooth field, or with probability `odd_level` one hollow or rise.
fn add_place(scenario: &mut Scenario, prior: &Prior, sd: f64, rng: &mut impl Rng) {
    let wide = f64::from(scenario.rows) * scenario.row_spacing_m;
    let long = f64::from(scenario.places_per_row) * scenario.vine_spacing_m;
    let reach = wide.min(long) * between(prior.patch.0, prior.patch.1, rng);
    if seed::uniform(rng) >= prior.odd_level {
        scenario.effects.field = Some(SmoothField { sd, range_m: reach });
        return;
    }
    let (across_m, along_m) = (between(0.0, wide, rng), between(0.0, long, rng));
    scenario.effects.hollows = vec![Hollow { across_m, along_m, radius_m: reach, depth: sd * normal(rng) }];
}
