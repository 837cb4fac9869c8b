//! Random scenarios with known cause, drawn from the prior that the model of `cause` states: what calibration needs.

use super::design::Design;
use super::planting::each_in_one_go;
use super::random::{between, between_logs, exponential, happens, normal};
use super::scenario::{Dying, Hollow, OddStretch, OrderStep, Scenario, SmoothField};
use crate::base::{Assumptions, Quantity, Seed, seed};
use rand::Rng;

/// One thing that can be the matter, in the order in which pairs are named.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Cause {
    Batch,
    Row,
    Place,
    /// What changed along the planters' walk and nobody wrote down: a day, a crew, a valve.
    Order,
    /// The outermost vines.
    Edge,
}

impl Cause {
    pub const ALL: [Cause; 5] = [Cause::Batch, Cause::Row, Cause::Place, Cause::Order, Cause::Edge];

    /// Its name in the documents.
    pub fn name(self) -> &'static str {
        match self {
            Cause::Batch => "batch",
            Cause::Row => "row",
            Cause::Place => "place",
            Cause::Order => "order",
            Cause::Edge => "edge",
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

/// Weights of the explanations before the data: the assumptions `explanation.prior.*`.
#[derive(Clone, Debug, PartialEq)]
pub struct Weights {
    pub chance: f64,
    pub batch: f64,
    pub row: f64,
    pub place: f64,
    pub order: f64,
    /// Of clone, rootstock, variety, edge and declared factors together. A block drawn here has only the edge of them.
    pub others: f64,
    /// Of all pairs together, each in proportion to the product of its single weights.
    pub pairs: f64,
}

impl Weights {
    /// As the table of assumptions has them.
    pub fn of(table: &Assumptions) -> Self {
        Weights {
            chance: table.get("explanation.prior.chance"),
            batch: table.get("explanation.prior.batch"),
            row: table.get("explanation.prior.row"),
            place: table.get("explanation.prior.place"),
            order: table.get("explanation.prior.order"),
            others: table.get("explanation.prior.others"),
            pairs: table.get("explanation.prior.pairs"),
        }
    }

    fn single(&self, cause: Cause) -> f64 {
        match cause {
            Cause::Batch => self.batch,
            Cause::Row => self.row,
            Cause::Place => self.place,
            Cause::Order => self.order,
            Cause::Edge => self.others,
        }
    }

    /// Prior probability of chance, of each cause alone and of each pair of them, adding up to one.
    pub fn over(&self, present: &[Cause]) -> Vec<(Vec<Cause>, f64)> {
        let singles = present.iter().map(|c| (vec![*c], self.single(*c)));
        let after = |i: usize| present.iter().skip(i + 1);
        let pairs = present.iter().enumerate().flat_map(|(i, a)| after(i).map(move |b| (*a, *b)));
        let product = |a: Cause, b: Cause| self.single(a) * self.single(b);
        let products: f64 = pairs.clone().map(|(a, b)| product(a, b)).sum();
        let share = if products > 0.0 { self.pairs / products } else { 0.0 };
        let pairs = pairs.map(|(a, b)| (vec![a, b], share * product(a, b)));
        let mut all: Vec<_> = std::iter::once((Vec::new(), self.chance)).chain(singles).chain(pairs).collect();
        let total: f64 = all.iter().map(|(_, weight)| weight).sum();
        all.iter_mut().for_each(|(_, weight)| *weight /= total);
        all
    }
}

/// What scenarios are drawn from.
#[derive(Clone, Debug, PartialEq)]
pub struct Prior {
    pub weights: Weights,
    /// The standard deviation of effects of all levels that is exceeded with probability 0.1, logit: it is exponential,
    /// the penalised-complexity prior (Simpson et al. 2017, Stat. Sci. 32:1; from memory).
    pub sd_once_in_ten: f64,
    /// The standard deviation of the effect of one odd level, hollow or step, logit.
    pub odd_sd: f64,
    /// Stand where nothing is the matter, normal on the logit scale.
    pub base_stand: Quantity,
    /// Probability that a factor has one odd level (a row factor one or two, a place one hollow or rise) instead of
    /// a spread over all.
    pub odd_level: f64,
    /// Probability that an odd row is odd from some place on only, anywhere along it, to one of its ends.
    pub row_part: f64,
    /// Probability that what goes with the planting order follows the deliveries, where each was planted in one go.
    pub order_by_batch: f64,
    /// Range of a field as a share of the block's shorter side, log-uniform.
    pub reach: (f64, f64),
    /// Least radius of a hollow, metres; log-uniform up to the longest range of a field, or twice the least.
    pub radius_m: f64,
    /// Share of the planters' walk at either end where no step lies.
    pub step_from: f64,
    pub design: Design,
}

impl Default for Prior {
    fn default() -> Self {
        let table = Assumptions::default();
        Prior {
            weights: Weights::of(&table),
            sd_once_in_ten: table.get("explanation.effect_sd_once_in_ten"),
            odd_sd: table.get("explanation.odd_effect_sd"),
            base_stand: table.quantity("explanation.base_stand"),
            odd_level: table.get("explanation.odd_level"),
            row_part: table.get("explanation.row_part"),
            order_by_batch: table.get("explanation.order_with_batch"),
            reach: (table.get("explanation.field_range.least"), table.get("explanation.field_range.most")),
            radius_m: table.get("explanation.hollow_radius"),
            step_from: table.get("explanation.step_from"),
            design: Design::default(),
        }
    }
}

/// A scenario drawn, and what causes its failures beyond chance.
#[derive(Clone, Debug)]
pub struct Drawn {
    pub scenario: Scenario,
    /// In order, none twice; empty: chance alone.
    pub causes: Vec<Cause>,
    /// Whether each delivery was planted in one go, so that batch and planting order can't be told apart.
    pub in_one_go: bool,
}

/// Draws the causes, then a scenario with them, to be simulated with the same seed: it is the seed that deals the
/// deliveries out, and what goes with the planting order depends on how they lie.
pub fn draw_scenario(prior: &Prior, seed: Seed) -> Drawn {
    let causes = draw_causes(prior, &mut seed.stream("simulate.cause", 0));
    let scenario = scenario_of(&causes, prior, seed);
    Drawn { in_one_go: each_in_one_go(&scenario, seed), scenario, causes }
}

fn draw_causes(prior: &Prior, rng: &mut impl Rng) -> Vec<Cause> {
    let several = prior.design.batches.0 > 1;
    let present: Vec<Cause> = Cause::ALL.into_iter().filter(|c| *c != Cause::Batch || several).collect();
    let mut left = seed::uniform(rng);
    let mut drawn = prior.weights.over(&present).into_iter().skip_while(|(_, weight)| {
        left -= weight;
        left > 0.0
    });
    drawn.next().map(|(causes, _)| causes).unwrap_or_default()
}

/// Draws a scenario in which these are the causes, to be simulated with the same seed. Each cause has a stream of its
/// own, so that blocks of one seed differ by what is added only.
pub fn scenario_of(causes: &[Cause], prior: &Prior, seed: Seed) -> Scenario {
    let mut scenario = planting(prior, &mut seed.stream("simulate.planting", 0));
    for cause in causes {
        let rng = &mut seed.stream("simulate.effect", *cause as u64);
        match cause {
            Cause::Batch => add_batch(&mut scenario, prior, rng),
            Cause::Row => add_row(&mut scenario, prior, rng),
            Cause::Place => add_place(&mut scenario, prior, rng),
            Cause::Order => add_order(&mut scenario, prior, seed, rng),
            Cause::Edge => scenario.effects.edge = odd(prior, rng),
        }
    }
    scenario
}

/// A block in which nothing is the matter. None of the failed goes without a trace, because the model leaves those out.
fn planting(prior: &Prior, rng: &mut impl Rng) -> Scenario {
    let scenario = prior.design.draw(rng);
    let dying = Dying { gone: 0.0, ..scenario.dying };
    Scenario { base_failure: base_failure(prior, rng), dying, ..scenario }
}

fn base_failure(prior: &Prior, rng: &mut impl Rng) -> f64 {
    let (mean, sd) = prior.base_stand.logit_normal();
    1.0 / (1.0 + (mean + sd * normal(rng)).exp())
}

/// The standard deviation that many effects share.
fn shared_sd(prior: &Prior, rng: &mut impl Rng) -> f64 {
    exponential(prior.sd_once_in_ten / std::f64::consts::LN_10, rng)
}

/// The effect of one odd level, hollow or step.
fn odd(prior: &Prior, rng: &mut impl Rng) -> f64 {
    prior.odd_sd * normal(rng)
}

/// An independent effect of each level, or with probability `odd_level` of one alone.
fn levels(n: usize, prior: &Prior, rng: &mut impl Rng) -> Vec<f64> {
    if n == 0 || !happens(prior.odd_level, rng) {
        let sd = shared_sd(prior, rng);
        return (0..n).map(|_| sd * normal(rng)).collect();
    }
    let (one, effect) = (seed::below(rng, n), odd(prior, rng));
    (0..n).map(|level| if level == one { effect } else { 0.0 }).collect()
}

fn add_batch(scenario: &mut Scenario, prior: &Prior, rng: &mut impl Rng) {
    let effects = levels(scenario.deliveries.len(), prior, rng);
    scenario.deliveries.iter_mut().zip(effects).for_each(|(delivery, effect)| delivery.effect = effect);
}

/// An independent effect of each row, or with probability `odd_level` of one or two rows, each as a whole or in part.
fn add_row(scenario: &mut Scenario, prior: &Prior, rng: &mut impl Rng) {
    if !happens(prior.odd_level, rng) {
        scenario.effects.row_sd = shared_sd(prior, rng);
        return;
    }
    let n = if happens(0.5, rng) { 2 } else { 1 };
    for row in some_rows(scenario.rows, n, rng) {
        let effect = odd(prior, rng);
        if !happens(prior.row_part, rng) {
            scenario.effects.odd_rows.push((row, effect));
            continue;
        }
        let cut = (between(0.0, 1.0, rng) * f64::from(scenario.places_per_row)).round() as u32;
        let (from, to) = if happens(0.5, rng) { (0, cut) } else { (cut, scenario.places_per_row) };
        scenario.effects.odd_stretches.push(OddStretch { row, from, to, effect });
    }
}

/// `n` different rows.
pub(super) fn some_rows(rows: u32, n: usize, rng: &mut impl Rng) -> Vec<u32> {
    let mut all: Vec<u32> = (0..rows).collect();
    seed::shuffle(&mut all, rng);
    all.truncate(n);
    all
}

/// A smooth field, or with probability `odd_level` one hollow or rise.
fn add_place(scenario: &mut Scenario, prior: &Prior, rng: &mut impl Rng) {
    let (wide, long) = sides_m(scenario);
    let side = wide.min(long);
    if !happens(prior.odd_level, rng) {
        let range_m = side * between_logs(prior.reach.0, prior.reach.1, rng);
        scenario.effects.field = Some(SmoothField { sd: shared_sd(prior, rng), range_m });
        return;
    }
    let radius_m = between_logs(prior.radius_m, (side * prior.reach.1).max(2.0 * prior.radius_m), rng);
    let (across_m, along_m) = somewhere(scenario, rng);
    scenario.effects.hollows = vec![Hollow { across_m, along_m, radius_m, depth: odd(prior, rng) }];
}

/// Metres across and along the rows.
fn sides_m(scenario: &Scenario) -> (f64, f64) {
    let wide = f64::from(scenario.rows) * scenario.row_spacing_m;
    (wide, f64::from(scenario.places_per_row) * scenario.vine_spacing_m)
}

/// Anywhere in the block, whose outermost vines stand half a spacing within it.
pub(super) fn somewhere(scenario: &Scenario, rng: &mut impl Rng) -> (f64, f64) {
    let (wide, long) = sides_m(scenario);
    let across = between(0.0, wide, rng) - scenario.row_spacing_m / 2.0;
    (across, between(0.0, long, rng) - scenario.vine_spacing_m / 2.0)
}

/// A step somewhere between the ends of the walk; where each delivery was planted in one go mostly something that
/// was the matter while one or several of them were.
fn add_order(scenario: &mut Scenario, prior: &Prior, seed: Seed, rng: &mut impl Rng) {
    let (after, effect) = (between(prior.step_from, 1.0 - prior.step_from, rng), odd(prior, rng));
    if each_in_one_go(scenario, seed) && happens(prior.order_by_batch, rng) {
        scenario.effects.while_planting = levels(scenario.deliveries.len(), prior, rng);
    } else {
        scenario.effects.step = Some(OrderStep { after, effect });
    }
}
