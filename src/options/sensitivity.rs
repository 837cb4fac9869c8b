//! Which number would have to be how different for another option to be best, and which numbers matter most.
//! One number moved at a time over its plausible range, on the expected path.

use super::chance::Entry;
use super::path::{Score, run, score};
use super::rank::{Demand, Ranking, broken};
use super::values::{Knob, Model, Values};
use super::{Driver, SwitchPoint};
use crate::block::Limits;

/// Points looked at on either side of the value now.
const STEPS: u32 = 12;
/// Halvings of the stretch in which the recommendation changes.
const HALVINGS: u32 = 40;

/// What the runs go over.
pub struct Study<'a> {
    pub entries: &'a [Entry],
    /// Whether each option can be had at all.
    pub possible: &'a [bool],
    pub names: &'a [String],
    pub model: &'a Model<'a>,
    pub expected: &'a Values,
    pub ranking: Ranking,
    pub limits: &'a Limits,
    pub first_harvest: Option<i16>,
}

impl Study<'_> {
    /// Scores of all options, and from best to worst those within the limits.
    fn judge(&self, v: &Values) -> (Vec<Score>, Vec<usize>) {
        let mut scores = Vec::with_capacity(self.entries.len());
        let mut may = Vec::with_capacity(self.entries.len());
        for (entry, possible) in self.entries.iter().zip(self.possible) {
            let path = run(&entry.plan, v, &self.model.deliveries, entry.priced);
            let s = score(&path, v, entry.priced);
            let demand = Demand {
                cash: s.cash,
                full: (s.full <= v.years as f64).then_some(s.full as u32),
                hours: path.hours.iter().copied().fold(0.0, f64::max),
            };
            may.push(*possible && broken(&demand, self.limits, self.first_harvest, "").is_empty());
            scores.push(s);
        }
        let order = self.ranking.order(&scores, &may);
        (scores, order)
    }

    fn best_at(&self, knob: Knob, value: f64) -> Option<usize> {
        self.judge(&self.model.moved(self.expected, knob, value)).1.first().copied()
    }

    /// For each number, the value nearest to now at which another option becomes best; numbers without one left out.
    pub fn switch_points(&self) -> Vec<SwitchPoint> {
        let Some(best) = self.judge(self.expected).1.first().copied() else { return Vec::new() };
        self.model.knobs().into_iter().filter_map(|knob| self.switch_point(knob, best)).collect()
    }

    fn switch_point(&self, knob: Knob, best: usize) -> Option<SwitchPoint> {
        let range = self.model.range(knob);
        let sides = [range.p10, range.p90].into_iter().filter_map(|end| self.first_switch(knob, range.p50, end, best));
        let (value, to) = sides.min_by(|a, b| (a.0 - range.p50).abs().total_cmp(&(b.0 - range.p50).abs()))?;
        Some(SwitchPoint {
            assumption: self.model.name(knob),
            value_now: range.p50,
            value_at_switch: value,
            to_option: self.names.get(to)?.clone(),
        })
    }

    /// First value on the way from `now` to `end` at which another option than `best` is best, and that option.
    fn first_switch(&self, knob: Knob, now: f64, end: f64, best: usize) -> Option<(f64, usize)> {
        if now == end {
            return None;
        }
        let at = |step: u32| now + (end - now) * f64::from(step) / f64::from(STEPS);
        let other = |value: f64| self.best_at(knob, value).filter(|b| *b != best);
        let step = (1..=STEPS).find(|step| other(at(*step)).is_some())?;
        let (mut same, mut changed) = (at(step - 1), at(step));
        for _ in 0..HALVINGS {
            let middle = 0.5 * (same + changed);
            if other(middle).is_some() { changed = middle } else { same = middle }
        }
        Some((changed, other(changed)?))
    }

    /// Each number's share of the variance of best less second best, from its effect between the ends of its range;
    /// the largest first, summing to 1. Empty where nothing moves it, or there is no second.
    pub fn drivers(&self) -> Vec<Driver> {
        let (_, order) = self.judge(self.expected);
        let (Some(best), Some(second)) = (order.first(), order.get(1)) else { return Vec::new() };
        let lead = |knob, value| {
            let (scores, _) = self.judge(&self.model.moved(self.expected, knob, value));
            let merit = |i: usize| scores.get(i).and_then(|s| self.ranking.merit(s)).map_or(0.0, |m| m.0);
            merit(*best) - merit(*second)
        };
        let effect = |knob: Knob| {
            let range = self.model.range(knob);
            let half = 0.5 * (lead(knob, range.p90) - lead(knob, range.p10));
            (self.model.name(knob), half * half)
        };
        shares(self.model.knobs().into_iter().map(effect).collect())
    }
}

fn shares(effects: Vec<(String, f64)>) -> Vec<Driver> {
    let total: f64 = effects.iter().map(|e| e.1).sum();
    if !total.is_normal() {
        return Vec::new();
    }
    let moving = effects.into_iter().filter(|e| e.1 > 0.0);
    let mut drivers: Vec<Driver> = moving.map(|(assumption, e)| Driver { assumption, share: e / total }).collect();
    drivers.sort_by(|a, b| b.share.total_cmp(&a.share));
    drivers
}
