//! Which option is best by the grower's goal, among those that keep within the limits.

use super::path::Score;
use crate::base::words::{fill, number, options as words};
use crate::block::{Goal, Limits};
use std::cmp::Ordering;

/// What the options are ranked by.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Ranking {
    pub goal: Goal,
    /// Whether the goal of block.toml had to give way because no crop has a price.
    pub fell_back: bool,
}

impl Ranking {
    /// The goal that can be had: without a present value of any two options, the year of the full crop and then cash.
    pub fn of(goal: Goal, with_value: usize) -> Self {
        let fell_back = goal == Goal::PresentValue && with_value < 2;
        Ranking { goal: if fell_back { Goal::FullCropYear } else { goal }, fell_back }
    }

    /// Its name in documents.
    pub fn name(self) -> &'static str {
        match self.goal {
            Goal::PresentValue => "present_value",
            Goal::FullCropYear => "full_crop_year",
            Goal::Evenness => "evenness",
            Goal::CashLowPoint => "cash_low_point",
        }
    }

    /// How good a score is, more is better; the second number decides where the first ties.
    /// None where the goal can't be told.
    pub fn merit(self, score: &Score) -> Option<(f64, f64)> {
        match self.goal {
            Goal::PresentValue => score.value.map(|v| (v, 0.0)),
            Goal::FullCropYear => Some((-score.full, score.cash)),
            Goal::Evenness => Some((score.evenness, 0.0)),
            Goal::CashLowPoint => Some((score.cash, 0.0)),
        }
    }

    /// Indices from best to worst of those that can be ranked and that `may` be chosen; ties in the order listed.
    pub fn order(self, scores: &[Score], may: &[bool]) -> Vec<usize> {
        let merit = |i: usize| scores.get(i).filter(|_| may.get(i) == Some(&true)).and_then(|s| self.merit(s));
        let mut order: Vec<(usize, (f64, f64))> = (0..scores.len()).filter_map(|i| Some((i, merit(i)?))).collect();
        order.sort_by(|a, b| compare(b.1, a.1));
        order.into_iter().map(|(i, _)| i).collect()
    }
}

/// Standard errors of a mean difference below which draws don't tell two options apart.
const TOLD_APART: f64 = 2.0;

impl Ranking {
    /// Whether the draws don't tell two options apart: neither number of the merit differs on average, draw by draw
    /// in the same futures, by more than [`TOLD_APART`] standard errors. A few draws tell nothing.
    fn is_level(self, a: &[Score], b: &[Score]) -> bool {
        let merits = || a.iter().zip(b).filter_map(|(a, b)| self.merit(a).zip(self.merit(b)));
        is_near_zero(merits().map(|(a, b)| a.0 - b.0)) && is_near_zero(merits().map(|(a, b)| a.1 - b.1))
    }

    /// The order with its first place given to the option listed first among those that the draws don't tell from
    /// the best: chance among the draws recommends nothing.
    pub fn settle(self, mut order: Vec<usize>, drawn: &[Vec<Score>]) -> Vec<usize> {
        let Some(best) = order.first().copied() else { return order };
        let level = |i: &usize| *i == best || (drawn[best].len() > 1 && self.is_level(&drawn[best], &drawn[*i]));
        let first = order.iter().copied().filter(level).min().unwrap_or(best);
        order.retain(|i| *i != first);
        order.insert(0, first);
        order
    }
}

fn is_near_zero(differences: impl Iterator<Item = f64> + Clone) -> bool {
    let n = differences.clone().count() as f64;
    let mean = differences.clone().sum::<f64>() / n;
    let variance = differences.map(|d| (d - mean) * (d - mean)).sum::<f64>() / (n - 1.0).max(1.0);
    mean.abs() <= TOLD_APART * (variance / n).sqrt()
}

fn compare(a: (f64, f64), b: (f64, f64)) -> Ordering {
    a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1))
}

/// Share of the draws in which each option is best; options that tie share a draw equally.
pub fn probability_best(ranking: Ranking, scores: &[Vec<Score>], may: &[bool]) -> Vec<f64> {
    let draws = scores.iter().map(Vec::len).min().unwrap_or(0);
    let mut won = vec![0.0; scores.len()];
    for draw in 0..draws {
        let merit = |i: usize| scores[i].get(draw).filter(|_| may[i]).and_then(|s| ranking.merit(s));
        let merits: Vec<Option<(f64, f64)>> = (0..scores.len()).map(merit).collect();
        let Some(best) = merits.iter().flatten().copied().max_by(|a, b| compare(*a, *b)) else { continue };
        let winners: Vec<usize> = (0..scores.len()).filter(|i| merits[*i] == Some(best)).collect();
        winners.iter().for_each(|i| won[*i] += 1.0 / winners.len() as f64);
    }
    won.iter().map(|w| w / draws.max(1) as f64).collect()
}

/// What limits are held against.
pub struct Demand {
    /// Deepest point of the cash balance, 0 or below.
    pub cash: f64,
    /// Year of the full crop, none where it isn't reached.
    pub full: Option<u32>,
    /// Hours of the winter that takes most.
    pub hours: f64,
}

/// Limits that an option breaks, in plain words.
pub fn broken(demand: &Demand, limits: &Limits, first_harvest: Option<i16>, currency: &str) -> Vec<String> {
    let mut breaks = Vec::new();
    if let Some(limit) = limits.cash.filter(|limit| -demand.cash > *limit) {
        let (need, limit) = (number::money(-demand.cash, currency), number::money(limit, currency));
        breaks.push(fill(words::BREAKS_CASH, &[("need", &need), ("limit", &limit)]));
    }
    if let Some(limit) = limits.hours_per_winter.filter(|limit| demand.hours > *limit) {
        let (need, limit) = (number::hours(demand.hours), number::hours(limit));
        breaks.push(fill(words::BREAKS_HOURS, &[("need", &need), ("limit", &limit)]));
    }
    if let Some((limit, first)) = limits.full_by.zip(first_harvest) {
        let full = demand.full.map(|y| i64::from(first) + i64::from(y) - 1);
        match full {
            Some(full) if full <= i64::from(limit) => {}
            Some(full) => breaks.push(fill(words::BREAKS_FULL_BY, &[("full", &full), ("limit", &limit)])),
            None => breaks.push(fill(words::NEVER_FULL_BY, &[("limit", &limit)])),
        }
    }
    breaks
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Present values draw by draw.
    fn drawn(values: &[f64]) -> Vec<Score> {
        let score = |v: &f64| Score { value: Some(*v), cash: 0.0, first: 3.0, full: 5.0, evenness: 0.5 };
        values.iter().map(score).collect()
    }

    #[test]
    fn chance_among_the_draws_recommends_nothing() {
        let ranking = Ranking::of(Goal::PresentValue, 2);
        let first = drawn(&[10.0, 12.0, 9.0, 11.0]);
        let noise = drawn(&[12.0, 10.5, 11.0, 9.5]); // higher on average by 0.25, by 1.03 standard errors less
        let better = drawn(&[11.0, 13.1, 9.9, 12.0]); // higher in every draw
        assert_eq!(ranking.settle(vec![1, 0], &[first.clone(), noise]), [0, 1]);
        assert_eq!(ranking.settle(vec![1, 0], &[first.clone(), better]), [1, 0]);
        assert_eq!(ranking.settle(vec![1, 0], &[first[..1].to_vec(), drawn(&[10.1])]), [1, 0]); // one path: no draws
        assert!(ranking.settle(vec![], &[]).is_empty());
    }
}
