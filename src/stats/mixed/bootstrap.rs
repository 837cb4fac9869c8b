//! Parametric bootstrap of a variance component.
//!
//! Whether a term's standard deviation is 0 can't be read off the chi-squared distribution: 0 is the edge of what is
//! possible, and half the theoretical mixture is only its limit (Self & Liang 1987, `self-liang-1987`). So counts are
//! simulated from the fit without the term, and the likelihood ratio of both fits is taken anew each time (Davison &
//! Hinkley 1997, `davison-hinkley-1997`, section 4.4).

use super::cells::Unusable;
use super::maximum::{Config, Observed, maximum};
use crate::base::Seed;
use crate::base::seed::uniform;
use crate::stats::special::{logistic, normal_quantile};
use rand::Rng;
use rayon::prelude::*;
use serde::Serialize;

/// The test of one term.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct VarianceBootstrap {
    /// Twice the log likelihood gained by the term, 0 or more.
    pub likelihood_ratio: f64,
    /// (1 + simulated ratios at least as large) / (1 + simulated ones).
    pub p_value: f64,
    /// Its standard error by simulation.
    pub monte_carlo_error: f64,
    /// Simulated ratios, in rising order.
    pub null: Vec<f64>,
}

/// A ratio below this is 0 to the search's tolerance.
const NOTHING: f64 = 1e-6;

/// Tests `term` against `count` simulated sets of counts. None where a fit fails. Errors name what can't be used.
pub fn variance_bootstrap(
    observed: &Observed,
    term: usize,
    count: usize,
    seed: Seed,
) -> Result<Option<VarianceBootstrap>, Unusable> {
    let config = Config { held: vec![term], ..Config::default() };
    let Some((null, without)) = maximum(observed, &config)? else { return Ok(None) };
    let Some((_, with)) = maximum(observed, &Config::default())? else { return Ok(None) };
    let ratio = gained(with, without);
    let one = |replicate: usize| {
        let failed = simulated(observed, &null, &mut seed.stream("mixed.bootstrap", replicate as u64));
        let again = Observed { failed: &failed, ..*observed };
        let without = maximum(&again, &config).ok()??.1;
        Some(gained(maximum(&again, &Config::default()).ok()??.1, without))
    };
    let mut null: Vec<f64> = (0..count).into_par_iter().filter_map(one).collect();
    null.sort_by(f64::total_cmp);
    let as_large = null.iter().filter(|r| **r >= ratio).count() as f64;
    let p = (1.0 + as_large) / (1.0 + null.len() as f64);
    let error = (p * (1.0 - p) / (1.0 + null.len() as f64)).sqrt();
    Ok(Some(VarianceBootstrap { likelihood_ratio: ratio, p_value: p, monte_carlo_error: error, null }))
}

fn gained(with: f64, without: f64) -> f64 {
    let ratio = 2.0 * (with - without);
    if ratio < NOTHING { 0.0 } else { ratio }
}

/// Counts drawn from a fit: coefficients of the fixed columns, then standard deviations.
fn simulated(observed: &Observed, fit: &[f64], rng: &mut impl Rng) -> Vec<u64> {
    let (fixed, sd) = fit.split_at(observed.fixed.len());
    let effects: Vec<Vec<f64>> = (observed.terms.iter().zip(sd))
        .map(|(term, sd)| (0..term.levels).map(|_| sd * normal_quantile(uniform(rng))).collect())
        .collect();
    let mut failed = Vec::with_capacity(observed.seen.len());
    for (cell, &seen) in observed.seen.iter().enumerate() {
        let of_fixed: f64 = observed.fixed.iter().zip(fixed).map(|(c, b)| c[cell] * b).sum();
        let of_terms: f64 = observed.terms.iter().zip(&effects).map(|(t, e)| e[t.codes[cell] as usize]).sum();
        let rate = logistic(of_fixed + of_terms);
        failed.push((0..seen).filter(|_| uniform(rng) < rate).count() as u64);
    }
    failed
}
