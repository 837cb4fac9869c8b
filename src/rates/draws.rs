//! Draws from the posterior of all rates together: what orders, options and claims stand on.

use super::levels::Outcome;
use super::model::Model;
use crate::base::{Assumptions, Seed};
use crate::stats::mixed::{Effort, Posterior, Prior, posterior};
use crate::tally::Tally;
use std::mem::take;

/// Equally likely draws of every rate and effect of a block, or of an estate.
#[derive(Clone, Debug, PartialEq)]
pub struct Draws {
    /// Number of draws.
    pub count: usize,
    /// ln odds of failure where every effect is 0, one a draw.
    pub constant: Vec<f64>,
    /// By term of the model.
    pub terms: Vec<TermDraws>,
    /// Draws that the weighted ones were worth before they were made equally likely.
    pub effective: f64,
    /// Points of the standard deviations that the weighted ones were worth.
    pub effective_nodes: f64,
    /// Whether what the approximation misses was weighed in.
    pub weighted: bool,
    /// ln marginal likelihood of the counts.
    pub log_evidence: f64,
    /// What was held plausible before counting.
    pub prior: Prior,
}

/// Draws of the levels of one factor.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct TermDraws {
    pub factor: String,
    /// Number of levels, those without a label among them.
    pub levels: usize,
    /// Standard deviation of the levels' effects, logit; one a draw.
    pub sd: Vec<f64>,
    /// ln odds of failure beside the mean level; draw after draw, each with one value a level.
    effects: Vec<f64>,
    /// Stand had every vine been of the level, 0..1; the same order.
    stands: Vec<f64>,
    /// Stand of a level not seen (the next batch, another row), one a draw: as mixed a planting as this one.
    pub new_level: Vec<f64>,
    /// Stand of the level in the middle, one a draw.
    pub middle: Vec<f64>,
}

impl Draws {
    /// The draws of a factor that is a term of its own.
    pub fn term(&self, factor: &str) -> Option<&TermDraws> {
        self.terms.iter().find(|t| t.factor == factor)
    }
}

impl TermDraws {
    /// ln odds of failure of a level beside the mean level, one a draw.
    pub fn effect(&self, level: usize) -> impl Iterator<Item = f64> + '_ {
        self.effects.iter().skip(level).step_by(self.levels.max(1)).copied()
    }

    /// Stand of a level, standardised over the vines seen, one a draw.
    pub fn stand(&self, level: usize) -> impl Iterator<Item = f64> + '_ {
        self.stands.iter().skip(level).step_by(self.levels.max(1)).copied()
    }

    /// The stands of all levels in each draw.
    pub fn stands(&self) -> impl Iterator<Item = &[f64]> {
        self.stands.chunks_exact(self.levels.max(1))
    }
}

/// Draws of the stand alone: what orders and options need. None where nothing was seen.
pub fn stand_draws(tally: &Tally, config: &super::Config, seed: Seed) -> Option<Draws> {
    draws(tally, &Model::of(tally, &config.model.joined), Outcome::Stand, &config.prior, config.draws, seed)
}

/// The prior: one for rates and for causes.
pub(super) fn prior(assumptions: &Assumptions) -> Prior {
    let (mean, sd) = assumptions.quantity("pooling.mean_stand").logit_normal();
    let once_in_ten = assumptions.get("explanation.effect_sd_once_in_ten");
    Prior { constant_mean: -mean, constant_sd: sd, sd_rate: std::f64::consts::LN_10 / once_in_ten.max(1e-6) }
}

/// Draws of the stand or the take; none where nothing was seen.
pub(super) fn draws(
    tally: &Tally,
    model: &Model,
    outcome: Outcome,
    prior: &Prior,
    draws: usize,
    seed: Seed,
) -> Option<Draws> {
    if model.seen.is_empty() {
        return None;
    }
    let failed = model.failed(tally, outcome);
    let effort = Effort::of_size(model.seen.len(), draws);
    let mut found = posterior((&failed, &model.seen), &model.terms, prior, &effort, seed).ok()??;
    Some(Draws {
        count: found.draws,
        constant: take(&mut found.constant),
        terms: (0..model.terms.len()).map(|term| term_draws(model, &mut found, term)).collect(),
        effective: found.effective,
        effective_nodes: found.effective_nodes,
        weighted: found.weighted,
        log_evidence: found.log_evidence,
        prior: *prior,
    })
}

/// The draws of one term, taken out of the posterior.
fn term_draws(model: &Model, found: &mut Posterior, term: usize) -> TermDraws {
    let stands = |failures: &mut Vec<f64>| {
        failures.iter_mut().for_each(|f| *f = 1.0 - *f);
        take(failures)
    };
    TermDraws {
        factor: model.names[term].clone(),
        levels: model.terms[term].levels,
        sd: take(&mut found.sd[term]),
        effects: take(&mut found.effects[term]),
        stands: stands(&mut found.standardised[term]),
        new_level: stands(&mut found.new_level[term]),
        middle: stands(&mut found.middle[term]),
    }
}
