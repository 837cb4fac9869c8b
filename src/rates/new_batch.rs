//! What the stand of a batch not yet seen may be.

use super::draws::Draws;
use super::levels::{Outcome, levels};
use crate::base::{Assumptions, Quantity, Scale};
use crate::block::StandFrom;
use crate::stats::betabinomial::{BetaRate, Count, Mixture, Part, Prior, pool};
use crate::stats::special::normal_quantile;
use crate::tally::Tally;

/// What the stand of a batch not yet seen may be: a mixture of beta distributions (of certain rates, where only what
/// is stated counts), and a table of its quantiles, so that drawing from it costs nothing.
#[derive(Clone, Debug, PartialEq)]
pub struct NewBatch {
    stand: Mixture,
    /// logit of the quantile at each normal deviate from -[`REACH`] to [`REACH`].
    table: Vec<f64>,
}

/// The table's ends and steps, in normal deviates.
const REACH: f64 = 5.0;
const STEPS: usize = 80;
/// Parts of the mixture kept for the table; moves quantiles from 1 % to 99 % by less than 0.0005.
const PARTS: usize = 120;
/// Beyond this many vines chance among them is nothing beside what isn't known of their rate.
const MANY: u64 = 200_000;

impl NewBatch {
    /// Expected stand, 0..1.
    pub fn mean(&self) -> f64 {
        self.stand.mean()
    }

    /// The stand below which a new batch lies with probability `p` in (0, 1); from a table between normal deviates of
    /// -5 and 5, its ends beyond.
    pub fn quantile(&self, p: f64) -> f64 {
        let z = normal_quantile(if p.is_nan() { 0.5 } else { p }).clamp(-REACH, REACH);
        let at = (z + REACH) / (2.0 * REACH) * STEPS as f64;
        let below = (at as usize).min(STEPS - 1);
        let share = at - below as f64;
        let value = |i: usize| self.table.get(i).copied().unwrap_or(0.0);
        logistic((1.0 - share) * value(below) + share * value(below + 1))
    }

    /// Probability that at least `needed` of `planted` stand: the sum of beta-binomial tails, exact up to 200,000
    /// vines planted.
    pub fn probability_at_least(&self, needed: u64, planted: u64) -> f64 {
        match needed {
            0 => 1.0,
            _ if needed > planted => 0.0,
            _ if planted > MANY => 1.0 - self.stand.cdf((needed as f64 - 0.5) / planted as f64),
            _ => self.stand.probability_at_least(needed, planted),
        }
    }

    /// The stand where each vine also has to survive something it survives with probability `factor`, 0..1: every
    /// part by its mean and variance, m' = f m and v' = f^2 v.
    pub fn times(&self, factor: f64) -> Self {
        let factor = factor.clamp(0.0, 1.0);
        if factor == 1.0 {
            return self.clone();
        }
        let thinned = |p: &Part| {
            let rate = BetaRate::of_moments(factor * p.rate.mean, factor * factor * p.rate.variance());
            Part { rate, ..*p }
        };
        let parts = self.stand.parts().iter().map(thinned).collect();
        Mixture::new(parts).map_or_else(|| self.clone(), NewBatch::of)
    }

    /// What is known of the stand, as a mixture.
    pub fn stand(&self) -> &Mixture {
        &self.stand
    }

    /// Split-normal on the logit scale, as certain rates a tenth of a normal deviate apart.
    fn stated(stated: &Quantity) -> Self {
        let at = |z: f64| stated.at_z(z, Scale::Rate).clamp(0.0, 1.0);
        let node = |z: f64| Part { weight: (-0.5 * z * z).exp(), rate: BetaRate::new(at(z), 0.0) };
        let nodes = (-50..=50).map(|i| node(0.1 * f64::from(i))).collect();
        let stand = Mixture::new(nodes).unwrap_or_else(|| Mixture::of(BetaRate::new(stated.p50, 0.0)));
        NewBatch { stand, table: deviates().map(|z| logit(at(z))).collect() }
    }

    fn of(stand: Mixture) -> Self {
        let few = stand.merged(PARTS);
        let quantile = |z: f64| logit(few.quantile(crate::stats::special::normal_cdf(z)));
        let table = deviates().map(quantile).collect();
        NewBatch { stand, table }
    }
}

fn deviates() -> impl Iterator<Item = f64> {
    (0..=STEPS).map(|i| REACH * (2.0 * i as f64 / STEPS as f64 - 1.0))
}

/// The stand of a new batch of a material: from this block's batches, from what is stated, or both.
///
/// `stated` is the quantity that block.toml gives for the material, or the assumption `take.new_batch`.
/// - `Stated`: `stated` itself.
/// - `Blend`: `stated` is what is held plausible of the mean over batches, and this block's batches are weighed in. A
///   plain number is given the width of `take.new_batch`, since else no batch could move it.
/// - `Block`: the same with `pooling.mean_stand`, which says next to nothing, in place of `stated`.
///
/// Where other factors were planted beside the batches, a new batch is that of the mixed model, the mean reweighted
/// from its prior to what is stated. Where batch is the only factor, or what is stated and the block disagree so much
/// that a hundred draws would carry the weight, the beta-binomial stands: how far batches differ from their mean is
/// then held to be `stand.new_batch_spread` (value and range) until the block's batches say otherwise; one batch
/// can't. Batches are the definite, labelled ones; a block without any counts as one batch. Where nothing was seen,
/// `Block` falls back to `Blend`.
pub fn new_batch(
    tally: &Tally,
    draws: Option<&Draws>,
    stated: Quantity,
    from: StandFrom,
    assumptions: &Assumptions,
) -> NewBatch {
    let batches = batches(tally);
    let mean = match from {
        StandFrom::Stated => return NewBatch::stated(&stated),
        StandFrom::Block if !batches.is_empty() => None,
        _ => Some(widened(stated, &assumptions.quantity("take.new_batch"))),
    };
    if let Some(adjusted) = draws.and_then(|d| adjusted(d, mean.as_ref())) {
        return NewBatch::of(adjusted);
    }
    let mean = mean.unwrap_or_else(|| assumptions.quantity("pooling.mean_stand"));
    let prior = Prior { mean, spread: assumptions.quantity("stand.new_batch_spread") };
    NewBatch::of(pool(&batches, &prior).new_level)
}

/// Draws that reweighting must leave.
const LEAST_EFFECTIVE: f64 = 100.0;
/// Equally likely parts that draws are gathered in.
const GATHERED: usize = 200;

/// A new batch by the mixed model; none where batch is its only factor or isn't in it, or reweighting leaves too few
/// draws.
fn adjusted(draws: &Draws, stated: Option<&Quantity>) -> Option<Mixture> {
    let term = draws.term("batch").filter(|_| draws.terms.len() > 1)?;
    let log_weight = |(constant, middle): (&f64, &f64)| {
        let of = |stated: &Quantity| ln_split_normal(logit(*middle), stated) - draws.prior.ln_constant(*constant);
        stated.map_or(0.0, of)
    };
    let logs: Vec<f64> = draws.constant.iter().zip(&term.middle).map(log_weight).collect();
    let most = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let weights: Vec<f64> = logs.iter().map(|l| (l - most).exp()).collect();
    let (sum, squares) = (weights.iter().sum::<f64>(), weights.iter().map(|w| w * w).sum::<f64>());
    let enough = sum * sum >= LEAST_EFFECTIVE * squares;
    if enough { gathered(&term.new_level, &weights) } else { None }
}

/// ln density, up to a constant, of a rate's logit as [`Quantity`] has it: a normal half on either side of the median.
fn ln_split_normal(x: f64, rate: &Quantity) -> f64 {
    let middle = logit(rate.p50);
    let outer = logit(if x < middle { rate.p10 } else { rate.p90 });
    let sd = ((outer - middle).abs() / normal_quantile(0.9)).max(1e-3);
    -0.5 * ((x - middle) / sd).powi(2) - sd.ln()
}

/// Weighted draws as certain rates, neighbours put together.
fn gathered(stands: &[f64], weights: &[f64]) -> Option<Mixture> {
    let mut sorted: Vec<(f64, f64)> = stands.iter().copied().zip(weights.iter().copied()).collect();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
    let share = sorted.iter().map(|(_, w)| w).sum::<f64>() / GATHERED as f64;
    let mut parts: Vec<(f64, f64)> = Vec::new();
    for (stand, weight) in sorted {
        match parts.last_mut().filter(|(_, held)| *held < share) {
            Some((sum, held)) => (*sum, *held) = (*sum + stand * weight, *held + weight),
            None => parts.push((stand * weight, weight)),
        }
    }
    let part = |(sum, weight): (f64, f64)| Part { weight, rate: BetaRate::new(sum / weight, 0.0) };
    Mixture::new(parts.into_iter().filter(|(_, w)| *w > 0.0).map(part).collect())
}

fn batches(tally: &Tally) -> Vec<Count> {
    let of = |index| levels(tally, index).into_iter().filter(|level| level.is_compared());
    let index = tally.factors.iter().position(|f| f.name == "batch");
    let batches: Vec<Count> = index.into_iter().flat_map(of).map(|l| Outcome::Stand.kept(&l.counts)).collect();
    if batches.is_empty() && tally.total.seen > 0 { vec![Outcome::Stand.kept(&tally.total)] } else { batches }
}

/// A plain number with the logit width of `pattern`; anything else as it is.
fn widened(stated: Quantity, pattern: &Quantity) -> Quantity {
    if stated.p10 < stated.p90 {
        return stated;
    }
    let moved = |to: f64| logistic(logit(stated.p50) + logit(to) - logit(pattern.p50));
    Quantity { p10: moved(pattern.p10), p50: stated.p50, p90: moved(pattern.p90) }
}

fn logit(p: f64) -> f64 {
    let p = p.clamp(1e-15, 1.0 - 1e-15);
    (p / (1.0 - p)).ln()
}

fn logistic(y: f64) -> f64 {
    1.0 / (1.0 + (-y).exp())
}
