//! Rates of levels in the light of the factor's other levels.

use super::levels::{Level, Outcome};
use crate::base::Estimate;
use crate::stats::betabinomial::{Count, Mixture, Prior, pool, probability_greatest};
use std::collections::BTreeMap;
use std::f64::consts::PI;

/// Parts of a level's mixture times levels for which intervals are worked out; with more, neighbours are merged
/// (moves the ends by less than 0.0003 at a hundred levels).
const WORK: usize = 2_400;
const LEAST_PARTS: usize = 24;

/// A factor's compared levels, pooled.
pub(super) struct Shrunk {
    /// Per level of the factor; none where it isn't compared.
    pub(super) pooled: Vec<Option<Estimate>>,
    pub(super) probability_best: Vec<Option<f64>>,
    /// Standard deviation of the level effects on the logit scale: its posterior median.
    pub(super) sd: f64,
}

impl Shrunk {
    /// None where fewer than two levels can be compared.
    pub(super) fn new(levels: &[Level], outcome: Outcome, prior: &Prior, level: f64) -> Option<Self> {
        let compared: Vec<usize> = (0..levels.len()).filter(|&i| levels[i].is_compared()).collect();
        if compared.len() < 2 {
            return None;
        }
        let counts: Vec<Count> = compared.iter().map(|&i| outcome.kept(&levels[i].counts)).collect();
        let posterior = pool(&counts, prior);
        let parts = (WORK / compared.len()).max(LEAST_PARTS);
        // Levels of equal counts are worked out once: two thousand rows hold some dozens of different ones.
        let mut of_count = BTreeMap::new();
        let rates = counts.iter().zip(&posterior.levels);
        let one = |(c, rate): (&Count, &Mixture)| {
            of_count.entry((c.n, c.x)).or_insert_with(|| estimate(&rate.merged(parts), level)).clone()
        };
        let estimates = rates.map(one).collect();
        Some(Shrunk {
            pooled: spread_out(levels.len(), &compared, estimates),
            probability_best: spread_out(levels.len(), &compared, probability_greatest(&posterior)),
            sd: posterior.logit_sd(),
        })
    }

    /// Share of the variance of a vine's latent logit that lies between levels: sd^2 / (sd^2 + pi^2/3), pi^2/3 the
    /// variance of the standard logistic distribution.
    pub(super) fn share_of_variance(&self) -> f64 {
        let between = self.sd * self.sd;
        if between.is_finite() { between / (between + PI * PI / 3.0) } else { 1.0 }
    }
}

fn estimate(rate: &Mixture, level: f64) -> Estimate {
    let tail = 0.5 * (1.0 - level);
    Estimate {
        value: rate.mean(),
        low: rate.quantile(tail),
        high: rate.quantile(1.0 - tail),
        method: "beta_binomial_posterior",
    }
}

fn spread_out<T>(size: usize, places: &[usize], values: Vec<T>) -> Vec<Option<T>> {
    let mut all: Vec<Option<T>> = (0..size).map(|_| None).collect();
    places.iter().zip(values).for_each(|(&place, value)| all[place] = Some(value));
    all
}
