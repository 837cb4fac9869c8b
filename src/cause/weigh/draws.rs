//! What is read off the model: failures tied to each explanation, effects of levels, the map of the place effect.
//!
//! All by draws: a shape by its weight within the explanation, its standard deviations where they peak, its effects from
//! the normal distribution about their mode.

use super::evidence::{Joint, Table};
use super::pairing::{Bench, Part, Weighed};
use super::{Entry, Explanation};
use crate::base::seed::uniform;
use crate::base::words::cause as words;
use crate::base::{Estimate, Known, Seed};
use crate::stats::logit_evidence::LogitFit;
use crate::stats::special::{logistic, normal_quantile, quantile};
use crate::tally::{Field, Tally};
use rayon::prelude::*;
use serde::Serialize;
use std::collections::BTreeMap;

/// How failures go with a level, adjusted for what is weighed beside its factor, if the factor's levels differ at all.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Associated {
    pub factor: String,
    pub level: String,
    /// Stand as counted, of the level and of all others; vines missing without a trace are left out.
    pub stand: f64,
    pub others_stand: f64,
    /// Odds of failure over those of the other levels, by the model: median and interval.
    pub odds_ratio: f64,
    pub low: f64,
    pub high: f64,
    /// Failures of the level above what there would be were it like the others: mean.
    pub excess_failures: f64,
    /// Probability that the factor has a part in it at all.
    pub probability: f64,
}

/// Failures tied to a single explanation, alone or with another.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Tied {
    pub name: String,
    /// Probability that it has a part in the failures.
    pub probability: f64,
    /// If it has: failures above what there would be were all of its levels like the middle one; median and interval.
    pub excess_failures: Known<Estimate>,
}

/// The smooth effect of the place, if there is one.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PlaceEffect {
    /// Probability that the place has a part in it.
    pub probability: f64,
    pub stretches: Vec<Stretch>,
}

/// A stretch of a row with its odds of failure over those of a middling place: median and interval.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Stretch {
    pub row: String,
    pub from: u32,
    pub to: u32,
    pub odds_ratio: f64,
    pub low: f64,
    pub high: f64,
}

pub(super) struct Model<'a> {
    pub tally: &'a Tally,
    pub bench: &'a Bench<'a>,
    pub weighed: &'a [Weighed],
    pub entries: &'a [Entry],
    pub level: f64,
    pub seed: Seed,
}

pub(super) struct Read {
    /// One an explanation.
    pub excess: Vec<Known<Estimate>>,
    /// One a single explanation.
    pub tied: Vec<Tied>,
    pub associated: Known<Vec<Associated>>,
    pub place_effect: Known<PlaceEffect>,
}

/// Draws per explanation.
const DRAWS: usize = 200;
/// Explanations below this probability aren't read off.
const READ_FROM: f64 = 0.01;

/// Counts by the levels of an explanation's axes, with draws of the effects over those levels.
struct Drawn {
    table: Table,
    draws: Vec<Draw>,
}

struct Draw {
    constant: f64,
    /// By level of each axis.
    effects: [Vec<f64>; 2],
    /// Of each axis, the effect of the middle vine.
    middle: [f64; 2],
}

impl Model<'_> {
    pub(super) fn read_off(&self, explanations: &[Explanation]) -> Read {
        let wanted = |at: usize| {
            let entry = &self.entries[at];
            !entry.parts.is_empty() && (entry.members.len() == 1 || explanations[at].probability >= READ_FROM)
        };
        let drawn: Vec<Option<Drawn>> =
            (0..self.entries.len()).into_par_iter().map(|at| wanted(at).then(|| self.draw(at)).flatten()).collect();
        let excess = |(at, drawn): (usize, &Option<Drawn>)| match (drawn, self.entries[at].members.is_empty()) {
            (_, true) => Known::Value(Estimate { value: 0.0, low: 0.0, high: 0.0, method: "by definition" }),
            (Some(drawn), _) => Known::Value(self.estimate(self.excess(drawn, &[0, 1], 0..drawn.draws.len()))),
            (None, _) => Known::absent(words::NOT_READ_OFF, words::NOT_READ_OFF_HELP),
        };
        Read {
            excess: drawn.iter().enumerate().map(excess).collect(),
            tied: self.tied(explanations, &drawn),
            associated: self.associated(explanations, &drawn),
            place_effect: self.place_effect(explanations, &drawn),
        }
    }

    fn draw(&self, at: usize) -> Option<Drawn> {
        let entry = &self.entries[at];
        let alone = super::Axis { levels: 1, of_cell: vec![0; self.bench.ground.seen.len()] };
        let axis = |i: usize| entry.members.get(i).map_or(&alone, |&m| &self.weighed[m].candidate.axis);
        let table = self.bench.table(axis(0), axis(1));
        let seen = [0, 1].map(|side| self.seen_of(axis(side)));
        let mut rng = self.seed.stream("cause.weigh.draw", at as u64);
        let mut draws = Vec::with_capacity(DRAWS);
        for (part, count) in shares(&entry.parts) {
            let shapes = [&part.shapes[0], &part.shapes[1]];
            let joint = Joint::new(self.bench.hyper, &table, shapes)?;
            let scales = joint.scales(joint.sds(part.peak.at));
            for _ in 0..count {
                let numbers = joint.model.width + joint.model.levels;
                let normals: Vec<f64> = (0..numbers).map(|_| normal_quantile(uniform(&mut rng))).collect();
                let (columns, groups) = part.peak.fit.draw(&normals);
                let fit = LogitFit { columns, groups, ..part.peak.fit.clone() };
                let effects = [0, 1].map(|side| joint.over_levels(side, &scales, &fit, axis(side).levels));
                let middle = [0, 1].map(|side| middle(&effects[side], &seen[side]));
                draws.push(Draw { constant: joint.constant(&scales, &fit), effects, middle });
            }
        }
        Some(Drawn { table, draws })
    }

    /// Vines seen of each level.
    fn seen_of(&self, axis: &super::Axis) -> Vec<f64> {
        let mut seen = vec![0.0; axis.levels];
        axis.of_cell.iter().zip(&self.bench.ground.seen).for_each(|(level, n)| seen[*level as usize] += n);
        seen
    }

    /// Failures above those with these sides' effects at the middle.
    fn excess(&self, drawn: &Drawn, sides: &[usize], draws: impl Iterator<Item = usize>) -> Vec<f64> {
        let of = |draw: &Draw| {
            let without = |(a, b): (u32, u32)| {
                let part = |side: usize, level: u32| match sides.contains(&side) {
                    true => draw.effects[side][level as usize] - draw.middle[side],
                    false => 0.0,
                };
                draw.at(a, b) - part(0, a) - part(1, b)
            };
            drawn
                .table
                .cells()
                .map(|(at, _, n)| n * (logistic(draw.at(at.0, at.1)) - logistic(without(at))))
                .sum::<f64>()
        };
        draws.filter_map(|i| drawn.draws.get(i)).map(of).collect()
    }

    fn estimate(&self, values: Vec<f64>) -> Estimate {
        let (value, low, high) = self.summary(values);
        Estimate { value, low, high, method: "posterior" }
    }

    fn tied(&self, explanations: &[Explanation], drawn: &[Option<Drawn>]) -> Vec<Tied> {
        let one = |(candidate, weighed): (usize, &Weighed)| {
            let mut values = Vec::new();
            for (at, side, count) in self.holding(candidate, explanations, drawn) {
                let Some(drawn) = &drawn[at] else { continue };
                values.extend(self.excess(drawn, &[side], spread_evenly(drawn.draws.len(), count)));
            }
            let excess_failures = match values.is_empty() {
                true => Known::absent(words::NOT_READ_OFF, words::NOT_READ_OFF_HELP),
                false => Known::Value(self.estimate(values)),
            };
            let probability = self.probability(candidate, explanations);
            Tied { name: weighed.candidate.name.clone(), probability, excess_failures }
        };
        self.weighed.iter().enumerate().map(one).collect()
    }

    /// Median and interval.
    fn summary(&self, mut values: Vec<f64>) -> (f64, f64, f64) {
        values.sort_by(f64::total_cmp);
        let at = |p: f64| quantile(&values, p);
        (at(0.5), at(0.5 * (1.0 - self.level)), at(0.5 * (1.0 + self.level)))
    }

    /// Entries that hold a candidate and were drawn, with the side on which it stands and draws by their probability.
    fn holding(
        &self,
        candidate: usize,
        explanations: &[Explanation],
        drawn: &[Option<Drawn>],
    ) -> Vec<(usize, usize, usize)> {
        let holds = |at: &usize| self.entries[*at].members.contains(&candidate) && drawn[*at].is_some();
        let list: Vec<usize> = (0..self.entries.len()).filter(holds).collect();
        let all: f64 = list.iter().map(|&at| explanations[at].probability).sum();
        let side = |at: usize| self.entries[at].members.iter().position(|&m| m == candidate).unwrap_or(0);
        let count = |at: usize| match all > 0.0 {
            true => (explanations[at].probability / all * DRAWS as f64).round() as usize,
            false => DRAWS,
        };
        list.into_iter().map(|at| (at, side(at), count(at))).filter(|held| held.2 > 0).collect()
    }

    fn probability(&self, candidate: usize, explanations: &[Explanation]) -> f64 {
        let holds = |at: &usize| self.entries[*at].members.contains(&candidate);
        (0..self.entries.len()).filter(holds).map(|at| explanations[at].probability).sum::<f64>().min(1.0)
    }

    fn associated(&self, explanations: &[Explanation], drawn: &[Option<Drawn>]) -> Known<Vec<Associated>> {
        let mut list = Vec::new();
        for (at, factor) in self.tally.factors.iter().enumerate().filter(|(_, f)| f.name != "row") {
            let Some(candidate) = self.weighed.iter().position(|w| w.candidate.name == factor.name) else { continue };
            let held = self.holding(candidate, explanations, drawn);
            let levels = factor.levels.iter().enumerate().filter(|(l, _)| factor.definite.get(*l) == Some(&true));
            let probability = self.probability(candidate, explanations);
            list.extend(levels.filter_map(|(level, name)| {
                let counted = self.counted(at, level)?;
                let values = self.of_level(level, &held, drawn);
                let (odds_ratio, low, high) = self.summary(values.iter().map(|v| v.0.exp()).collect());
                let excess_failures = values.iter().map(|v| v.1).sum::<f64>() / values.len().max(1) as f64;
                let (stand, others_stand) = counted;
                let (factor, level) = (factor.name.clone(), name.clone());
                let known = !values.is_empty();
                known.then_some(Associated {
                    factor,
                    level,
                    stand,
                    others_stand,
                    odds_ratio,
                    low,
                    high,
                    excess_failures,
                    probability,
                })
            }));
        }
        if list.is_empty() {
            Known::absent(words::NO_ASSOCIATED, words::NO_ASSOCIATED_HELP)
        } else {
            Known::Value(list)
        }
    }

    /// Stand of a level, and of all others; none where either wasn't seen.
    fn counted(&self, factor: usize, level: usize) -> Option<(f64, f64)> {
        let ground = self.bench.ground;
        let (mut own, mut others) = ((0.0, 0.0), (0.0, 0.0));
        for (cell, &code) in ground.factors[factor].of_cell.iter().enumerate() {
            let sum = if code as usize == level { &mut own } else { &mut others };
            *sum = (sum.0 + ground.failed[cell], sum.1 + ground.seen[cell]);
        }
        let stand = |(failed, seen): (f64, f64)| (seen > 0.0).then(|| 1.0 - failed / seen);
        Some((stand(own)?, stand(others)?))
    }

    /// ln odds ratio of a level to the mean of the others, weighted by vines, and its failures in excess, by draw.
    fn of_level(&self, level: usize, held: &[(usize, usize, usize)], drawn: &[Option<Drawn>]) -> Vec<(f64, f64)> {
        let mut values = Vec::new();
        for &(at, side, count) in held {
            let Some(drawn) = &drawn[at] else { continue };
            let own = |(a, b): (u32, u32)| if side == 0 { a } else { b } as usize;
            let seen: f64 = drawn.table.cells().filter(|c| own(c.0) != level).map(|c| c.2).sum();
            let of = |draw: &Draw| {
                let effect = &draw.effects[side];
                let others = drawn.table.cells().filter(|c| own(c.0) != level).map(|c| c.2 * effect[own(c.0)]);
                let apart = effect[level] - others.sum::<f64>() / seen.max(1.0);
                let cells = drawn.table.cells().filter(|c| own(c.0) == level);
                let excess = cells.map(|((a, b), _, n)| {
                    let eta = draw.at(a, b);
                    n * (logistic(eta) - logistic(eta - apart))
                });
                (apart, excess.sum::<f64>())
            };
            values.extend(spread_evenly(drawn.draws.len(), count).map(|i| of(&drawn.draws[i])));
        }
        values
    }

    fn place_effect(&self, explanations: &[Explanation], drawn: &[Option<Drawn>]) -> Known<PlaceEffect> {
        let absent = || Known::absent(words::NO_PLACE_EFFECT, words::NO_PLACE_EFFECT_HELP);
        let Some(candidate) = self.weighed.iter().position(|w| w.candidate.name == "place") else { return absent() };
        let (Some(field), Some((tiles, _))) = (&self.tally.field, &self.bench.ground.tiles) else { return absent() };
        let mut of_tile: Vec<Vec<f64>> = vec![Vec::new(); tiles.levels];
        for (at, side, count) in self.holding(candidate, explanations, drawn) {
            let Some(drawn) = &drawn[at] else { continue };
            for draw in spread_evenly(drawn.draws.len(), count).map(|i| &drawn.draws[i]) {
                of_tile.iter_mut().zip(&draw.effects[side]).for_each(|(values, effect)| values.push(effect.exp()));
            }
        }
        let summaries: Vec<(f64, f64, f64)> = of_tile.into_iter().map(|values| self.summary(values)).collect();
        let tile = |point: usize| tiles.of_cell[self.bench.ground.of_point[point] as usize] as usize;
        let stretches = stretches(field, self.tally, &tile, &summaries);
        Known::Value(PlaceEffect { probability: self.probability(candidate, explanations), stretches })
    }
}

impl Draw {
    /// ln odds of failure at these levels.
    fn at(&self, a: u32, b: u32) -> f64 {
        self.constant + self.effects[0][a as usize] + self.effects[1][b as usize]
    }
}

/// Indices of `count` of so many draws, evenly spread over them, some more than once if need be.
fn spread_evenly(draws: usize, count: usize) -> impl Iterator<Item = usize> {
    (0..count).map(move |i| i * draws / count.max(1)).filter(move |i| *i < draws)
}

/// The effect of the middle vine, levels in the order of their effects.
fn middle(effects: &[f64], seen: &[f64]) -> f64 {
    let mut order: Vec<usize> = (0..effects.len()).collect();
    order.sort_by(|&i, &j| effects[i].total_cmp(&effects[j]));
    let half = 0.5 * seen.iter().sum::<f64>();
    let mut passed = 0.0;
    let at = order.iter().find(|&&i| {
        passed += seen[i];
        passed >= half
    });
    at.map_or(0.0, |&i| effects[i])
}

/// How many draws each part gets, by its weight.
fn shares(parts: &[Part]) -> impl Iterator<Item = (&Part, usize)> {
    let most = parts.iter().map(|p| p.ln_weight).fold(f64::NEG_INFINITY, f64::max);
    let weights: Vec<f64> = parts.iter().map(|p| (p.ln_weight - most).exp()).collect();
    let all: f64 = weights.iter().sum();
    let mut passed = 0.0;
    let mut given = 0;
    parts.iter().zip(weights).map(move |(part, weight)| {
        passed += weight;
        let upto = (passed / all * DRAWS as f64).round() as usize;
        let count = upto.saturating_sub(given);
        given += count;
        (part, count)
    })
}

/// Stretches of rows within one tile.
fn stretches(
    field: &Field,
    tally: &Tally,
    tile: &impl Fn(usize) -> usize,
    summaries: &[(f64, f64, f64)],
) -> Vec<Stretch> {
    let row_factor = tally.factors.iter().position(|f| f.name == "row");
    let label = |point: usize| {
        let code = field.points[point].codes.get(row_factor?)?;
        tally.factors[row_factor?].levels.get(*code as usize).cloned()
    };
    let mut of = BTreeMap::<(u32, usize), (usize, u32, u32)>::new();
    for (index, point) in field.points.iter().enumerate() {
        let position = point.place.position;
        let stretch = of.entry((point.place.row, tile(index))).or_insert((index, position, position));
        *stretch = (stretch.0, stretch.1.min(position), stretch.2.max(position));
    }
    let mut list: Vec<((u32, u32), Stretch)> = of
        .into_iter()
        .filter_map(|((row, tile), (point, from, to))| {
            let (odds_ratio, low, high) = summaries[tile];
            Some(((row, from), Stretch { row: label(point)?, from, to, odds_ratio, low, high }))
        })
        .collect();
    list.sort_by_key(|(at, _)| *at);
    list.into_iter().map(|(_, stretch)| stretch).collect()
}
