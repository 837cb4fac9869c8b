//! Rates of levels read off the draws: adjusted for the other factors, standardised over the vines seen.

use super::draws::{Draws, TermDraws};
use super::levels::Level;
use super::model::Model;
use crate::base::Estimate;
use std::f64::consts::PI;

/// A factor's compared levels in the light of everything planted beside them.
pub(super) struct Pooled {
    /// Per level of the factor; none where it isn't compared.
    pub(super) stand: Vec<Option<Estimate>>,
    /// Probability that its stand is the highest of the compared levels.
    pub(super) best: Vec<Option<f64>>,
    /// Standard deviation of the levels' effects on the logit scale: the median of its posterior.
    pub(super) sd: f64,
    /// sd^2 over the sum of all factors' sd^2 and pi^2/3 (the variance of the standard logistic distribution): the
    /// levels' share of the variance of a vine's latent logit; the median of its posterior.
    pub(super) share: f64,
}

impl Pooled {
    /// None where the factor isn't part of the model.
    pub(super) fn new(draws: &Draws, model: &Model, factor: usize, levels: &[Level], level: f64) -> Option<Self> {
        let places: Vec<Option<(usize, usize)>> =
            levels.iter().map(|l| model.level(factor, l.code).filter(|_| l.is_compared())).collect();
        let term = places.iter().flatten().map(|(term, _)| *term).next()?;
        let of = draws.terms.get(term)?;
        let at = |place: &Option<(usize, usize)>| place.map(|(_, level)| level);
        let places: Vec<Option<usize>> = places.iter().map(at).collect();
        let stand = |level_at: &Option<usize>| level_at.map(|l| estimate(of.stand(l).collect(), level));
        Some(Pooled {
            stand: places.iter().map(stand).collect(),
            best: best(of, &places),
            sd: quantile(&mut of.sd.clone(), 0.5),
            share: quantile(&mut shares(draws, of), 0.5),
        })
    }
}

/// Median and equal-tailed interval of draws of a stand.
pub(super) fn estimate(mut draws: Vec<f64>, level: f64) -> Estimate {
    draws.sort_by(f64::total_cmp);
    let tail = 0.5 * (1.0 - level);
    Estimate {
        value: quantile_of_sorted(&draws, 0.5),
        low: quantile_of_sorted(&draws, tail),
        high: quantile_of_sorted(&draws, 1.0 - tail),
        method: "mixed_model_posterior",
    }
}

pub(super) fn quantile(draws: &mut [f64], p: f64) -> f64 {
    draws.sort_by(f64::total_cmp);
    quantile_of_sorted(draws, p)
}

/// Between the two nearest draws, in proportion; 0 without draws.
fn quantile_of_sorted(sorted: &[f64], p: f64) -> f64 {
    let Some(last) = sorted.len().checked_sub(1) else { return 0.0 };
    let at = (p * sorted.len() as f64 - 0.5).clamp(0.0, last as f64);
    let (below, share) = (at.floor() as usize, at.fract());
    sorted[below] + share * (sorted[(below + 1).min(last)] - sorted[below])
}

fn best(of: &TermDraws, places: &[Option<usize>]) -> Vec<Option<f64>> {
    let mut wins = vec![0u32; of.levels];
    let compared: Vec<usize> = places.iter().flatten().copied().collect();
    for stands in of.stands() {
        let first = compared.iter().copied().max_by(|a, b| stands[*a].total_cmp(&stands[*b]));
        first.into_iter().for_each(|level| wins[level] += 1);
    }
    let count = wins.iter().sum::<u32>().max(1);
    places.iter().map(|place| place.map(|level| f64::from(wins[level]) / f64::from(count))).collect()
}

fn shares(draws: &Draws, of: &TermDraws) -> Vec<f64> {
    let share = |i: usize| {
        let total: f64 = draws.terms.iter().map(|t| t.sd[i] * t.sd[i]).sum();
        of.sd[i] * of.sd[i] / (total + PI * PI / 3.0)
    };
    (0..of.sd.len()).map(share).collect()
}
