//! Whether the stand of a new batch, and the orders that stand on it, keep what they promise.

use super::Share;
use super::coverage::{binomial, drawn, rate_about, tally_of};
use fullstand::base::{Assumptions, Quantity, Scale, Seed, seed};
use fullstand::block::StandFrom;
use fullstand::rates::new_batch;
use fullstand::stats::betabinomial::Count;
use rand::Rng;
use rayon::prelude::*;

/// Of new batches: those whose stand lies between the 10 % and 90 % points stated, below the first, above the second.
#[derive(Clone, Copy, Debug, Default)]
pub struct Range {
    pub inside: Share,
    pub below: Share,
    pub above: Share,
    /// Orders after which all places were filled.
    pub filled: Share,
}

/// Places to fill.
const NEEDED: u64 = 100;
const BUNDLE: u64 = 25;

/// Three batches of 360 and a new one drawn from the hierarchy that `from` takes for granted, `blocks` times; the new
/// one is ordered for 100 gaps among older vines.
pub fn new_batches(from: StandFrom, blocks: u64) -> Range {
    let one = |number: u64| {
        let mut rng = Seed::new(number).stream("calibrate.new_batch", 0);
        let assumptions = Assumptions::default();
        let stated = assumptions.quantity("take.new_batch");
        let (seen, truth) = hierarchy(from, &stated, &assumptions, &mut rng);
        let batch = new_batch(&tally_of(&seen), None, stated, from, &assumptions);
        let factor = assumptions.get("take.replant_factor");
        let order = smallest(&batch.times(factor), assumptions.get("order.sure"));
        let stands = order.map(|order| binomial(order, truth * factor, &mut rng) >= NEEDED);
        (truth < batch.quantile(0.1), truth > batch.quantile(0.9), stands)
    };
    let mut range = Range::default();
    for (below, above, filled) in (0..blocks).into_par_iter().map(one).collect::<Vec<_>>() {
        range.inside.count(!below && !above);
        range.below.count(below);
        range.above.count(above);
        filled.into_iter().for_each(|filled| range.filled.count(filled));
    }
    range
}

/// The batches seen, and the stand of the new one.
fn hierarchy(from: StandFrom, stated: &Quantity, a: &Assumptions, rng: &mut impl Rng) -> (Vec<Count>, f64) {
    if from == StandFrom::Stated {
        let at = fullstand::stats::special::normal_quantile(seed::uniform(rng));
        return (vec![Count { x: 340, n: 360 }], stated.at_z(at, Scale::Rate));
    }
    let mean = if from == StandFrom::Block { a.quantity("pooling.mean_stand") } else { *stated };
    let (mean, rho) = (drawn(&mean, rng), drawn(&a.quantity("stand.new_batch_spread"), rng));
    let seen = (0..3).map(|_| rate_about(mean, rho, rng)).collect::<Vec<_>>();
    let seen = seen.into_iter().map(|rate| Count { x: binomial(360, rate, rng), n: 360 }).collect();
    (seen, rate_about(mean, rho, rng))
}

/// The smallest order of whole bundles that is sure enough, up to three times the places: as `order` has it.
fn smallest(batch: &fullstand::rates::NewBatch, sure: f64) -> Option<u64> {
    let orders = (NEEDED.div_ceil(BUNDLE)..=3 * NEEDED / BUNDLE).map(|bundles| bundles * BUNDLE);
    orders.into_iter().find(|&order| batch.probability_at_least(NEEDED, order) >= sure)
}
