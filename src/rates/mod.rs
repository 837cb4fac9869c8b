//! Stand, take and vigour by factor: raw rates with exact intervals, heterogeneity, pooled rates, and what a new
//! batch may do.

use crate::base::known::as_stand;
use crate::base::{Documented, Estimate, Known, Seed, SourceKey};
use crate::tally::Tally;
use serde::Serialize;

/// Settings of [`rates()`].
#[derive(Clone, Debug)]
pub struct Config {
    /// Level of the intervals, in (0, 1).
    pub level: f64,
    /// Tables simulated where the exact test is too large.
    pub simulations: usize,
}

impl Default for Config {
    fn default() -> Self {
        Config { level: 0.9, simulations: 9_999 }
    }
}

/// The document `rates`.
#[derive(Clone, Debug, Serialize)]
pub struct Rates {
    pub vines: u64,
    pub seen: u64,
    pub failed: u64,
    pub missing: u64,
    pub unsure: u64,
    pub set_aside: u64,
    /// The whole block's stand.
    #[serde(serialize_with = "as_stand")]
    pub stand: Known<Estimate>,
    pub factors: Vec<FactorRates>,
    pub contrasts: Known<Vec<Contrast>>,
    pub fit: Known<Fit>,
    pub take: Known<Vec<FactorRates>>,
    pub vigour: Known<serde_json::Value>,
    pub survival: Known<serde_json::Value>,
    #[serde(skip)]
    pub sources: Vec<SourceKey>,
}

#[derive(Clone, Debug, Serialize)]
pub struct FactorRates {
    pub factor: String,
    pub levels: Vec<LevelRates>,
    /// Heterogeneity between levels.
    pub p_value: Known<f64>,
    pub p_method: Known<&'static str>,
    pub p_monte_carlo_error: Known<f64>,
    pub sd: Known<f64>,
    pub share_of_variance: Known<f64>,
}

#[derive(Clone, Debug, Serialize)]
pub struct LevelRates {
    pub level: String,
    pub seen: u64,
    pub failed: u64,
    pub missing: u64,
    pub never_grew: u64,
    #[serde(serialize_with = "as_stand")]
    pub raw: Known<Estimate>,
    #[serde(serialize_with = "as_stand")]
    pub score: Known<Estimate>,
    #[serde(serialize_with = "as_stand")]
    pub pooled: Known<Estimate>,
    pub separable: Known<f64>,
    pub probability_best: Known<f64>,
}

#[derive(Clone, Debug, Serialize)]
pub struct Contrast {
    pub factor: String,
    pub a: String,
    pub b: String,
    pub odds_ratio: f64,
    pub low: f64,
    pub high: f64,
    pub p_adjusted: f64,
}

#[derive(Clone, Debug, Serialize)]
pub struct Fit {
    pub intercept: f64,
    pub sd: std::collections::BTreeMap<String, f64>,
    pub log_likelihood: f64,
}

impl Documented for Rates {
    const SCHEMA: &'static str = "rates";
    fn sources(&self) -> Vec<SourceKey> {
        self.sources.clone()
    }
}

/// Rates of a tally. `set_aside` lines are echoed from the intake.
pub fn rates(tally: &Tally, set_aside: u64, config: &Config, seed: Seed) -> Rates {
    let _ = (tally, set_aside, config, seed);
    todo!()
}

/// What the stand of a batch not yet seen may be: a mixture of beta distributions.
#[derive(Clone, Debug, PartialEq)]
pub struct NewBatch {
    /// Weight, alpha (alive), beta (failed); weights sum to 1.
    pub parts: Vec<(f64, f64, f64)>,
}

impl NewBatch {
    /// Expected stand.
    pub fn mean(&self) -> f64 {
        self.parts.iter().map(|(w, a, b)| w * a / (a + b)).sum()
    }

    /// The stand below which a new batch lies with probability `p` in (0, 1).
    pub fn quantile(&self, p: f64) -> f64 {
        let _ = p;
        todo!()
    }

    /// Probability that at least `needed` of `planted` stand.
    pub fn probability_at_least(&self, needed: u64, planted: u64) -> f64 {
        let _ = (needed, planted);
        todo!()
    }
}

/// The stand of a new batch of a material: from this block's batches, from what is stated, or both.
///
/// `stated` is the quantity that block.toml gives for the material, or the assumption `take.new_batch`.
/// `spread` is the assumption `stand.new_batch_spread` where the block has too few batches to tell.
pub fn new_batch(
    tally: &Tally,
    stated: crate::base::Quantity,
    from: crate::block::StandFrom,
    assumptions: &crate::base::Assumptions,
) -> NewBatch {
    let _ = (tally, stated, from, assumptions);
    todo!()
}
