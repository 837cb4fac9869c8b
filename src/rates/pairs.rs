//! Pairs of levels, from the joint posterior of all rates.

use super::draws::{Draws, TermDraws};
use super::levels::levels;
use super::model::Model;
use super::pooled::quantile;
use super::stocks::{Difference, Pair};
use crate::base::Known;
use crate::base::words::{fill, rates as words};
use crate::tally::Tally;

/// Levels of a factor up to which all pairs are worked out.
pub(super) const MOST_LEVELS: usize = 20;

/// What the posterior says of two levels.
pub(super) struct PosteriorPair {
    /// Labels.
    pub(super) a: String,
    pub(super) b: String,
    /// Odds of failure of a over b, adjusted for the other factors: median and interval.
    pub(super) odds_ratio: Difference,
    /// That a fails more than b.
    pub(super) probability_greater: f64,
    /// Stand of a less stand of b.
    pub(super) difference: Difference,
}

/// All pairs of the compared levels of the factor at `index`, in the order of the levels; none where it isn't part of
/// the model or has more than 20 levels.
pub(super) fn pairs(
    tally: &Tally,
    model: &Model,
    draws: &Draws,
    index: usize,
    level: f64,
) -> Option<Vec<PosteriorPair>> {
    let of_factor = levels(tally, index);
    let placed = of_factor.iter().filter(|l| l.is_compared());
    let placed: Vec<(&str, (usize, usize))> =
        placed.filter_map(|l| Some((l.label.as_str(), model.level(index, l.code)?))).collect();
    let (_, (term, _)) = placed.first()?;
    let of = draws.terms.get(*term).filter(|_| placed.len() <= MOST_LEVELS)?;
    let two = placed.iter().enumerate().flat_map(|(i, a)| placed.iter().skip(i + 1).map(move |b| (a, b)));
    Some(two.map(|(a, b)| pair(of, (a.0, a.1.1), (b.0, b.1.1), level)).collect())
}

fn pair(of: &TermDraws, a: (&str, usize), b: (&str, usize), level: f64) -> PosteriorPair {
    let log_odds: Vec<f64> = of.effect(a.1).zip(of.effect(b.1)).map(|(a, b)| a - b).collect();
    let greater = log_odds.iter().filter(|d| **d > 0.0).count() as f64 / log_odds.len().max(1) as f64;
    let by_odds = interval(log_odds, level);
    PosteriorPair {
        a: a.0.into(),
        b: b.0.into(),
        odds_ratio: Difference { value: by_odds.value.exp(), low: by_odds.low.exp(), high: by_odds.high.exp() },
        probability_greater: greater,
        difference: interval(of.stand(a.1).zip(of.stand(b.1)).map(|(a, b)| a - b).collect(), level),
    }
}

fn interval(mut draws: Vec<f64>, level: f64) -> Difference {
    let tail = 0.5 * (1.0 - level);
    let mut at = |p: f64| quantile(&mut draws, p);
    Difference { value: at(0.5), low: at(tail), high: at(1.0 - tail) }
}

/// The pairs of a factor by name, by their stands.
pub(super) fn of_factor(
    tally: &Tally,
    model: &Model,
    draws: Option<&Draws>,
    factor: &str,
    level: f64,
) -> Known<Vec<Pair>> {
    let index = tally.factors.iter().position(|f| f.name == factor);
    let found = index.zip(draws).and_then(|(index, draws)| pairs(tally, model, draws, index, level));
    let pair = |p: PosteriorPair| Pair {
        a: p.a,
        b: p.b,
        difference: p.difference,
        probability_greater: 1.0 - p.probability_greater,
    };
    let filled = |sentence| fill(sentence, &[("factor", &factor)]);
    let pairs = found.map(|pairs| pairs.into_iter().map(pair).collect());
    Known::from_option(pairs, filled(words::NO_OTHER), filled(words::NO_OTHER_HELP))
}
