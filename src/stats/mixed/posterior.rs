//! The posterior of a binomial mixed model whose standard deviations have penalised-complexity priors.

use super::cells::{Term, Unusable};
use super::draw::{Draw, Drawer};
use super::hypercube::Hypercube;
use super::laplace::Laplace;
use super::nodes::{Hyper, Node};
use super::skew::Margins;
use super::standardise::{Lattice, Rests};
use crate::base::Seed;
use crate::base::seed::uniform;
use crate::stats::special::{ln_sum, normal_quantile};
use rayon::prelude::*;

/// What is held plausible before counting.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Prior {
    /// Normal, of the constant: ln odds of failure.
    pub constant_mean: f64,
    pub constant_sd: f64,
    /// Rate of the exponential prior of each standard deviation, per logit: -ln(p) / s where P(sd > s) = p.
    pub sd_rate: f64,
}

impl Prior {
    /// ln density of the constant, up to a constant.
    pub fn ln_constant(&self, constant: f64) -> f64 {
        -0.5 * ((constant - self.constant_mean) / self.constant_sd).powi(2)
    }
}

/// How much work is put in.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Effort {
    pub draws: usize,
    /// Points of the standard deviations.
    pub nodes: usize,
}

impl Effort {
    /// About as much for small models as for large ones: fewer draws and points where there are many cells.
    pub fn of_size(cells: usize, draws: usize) -> Self {
        let share = |work: usize, least: usize, most: usize| (work / cells.max(1)).clamp(least, most);
        Effort { draws: share(1_000_000, 500.min(draws), draws.max(1)), nodes: share(400_000, 32, 1_000) }
    }
}

/// Draws of everything, equally likely each.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Posterior {
    pub draws: usize,
    /// ln odds of failure where every effect is 0, one a draw.
    pub constant: Vec<f64>,
    /// By term: standard deviation, logit, one a draw.
    pub sd: Vec<Vec<f64>>,
    /// By term: effects, logit; draw after draw, each with one value a level.
    pub effects: Vec<Vec<f64>>,
    /// By term: failure rate had every plant been of the level; draw after draw.
    pub standardised: Vec<Vec<f64>>,
    /// By term: the same for a level not seen, one a draw.
    pub new_level: Vec<Vec<f64>>,
    /// By term: the same for a level whose effect is 0, one a draw.
    pub middle: Vec<Vec<f64>>,
    /// ln marginal likelihood, priors integrated out.
    pub log_evidence: f64,
    /// Draws that the weighted ones are worth, before they were made equally likely.
    pub effective: f64,
    /// Points of the standard deviations that the weighted ones are worth.
    pub effective_nodes: f64,
    /// Whether weights were used: they aren't where they hang on a handful of draws.
    pub weighted: bool,
}

/// Share of the draws that weights must leave to be used.
const LEAST_EFFECTIVE: f64 = 0.05;

/// The posterior given `failed` of `seen` plants a cell, with a constant and random intercepts `terms` (which may be
/// none). Laplace's method over the effects, numeric integration over the standard deviations, importance weights for
/// what both miss. Errors name what can't be used; none where numbers overflow.
///
/// Not for terms that hold few plants and no prior knowledge at once with hundreds of levels beside the largest: then
/// `weighted` is false and skewness is corrected to first order only.
pub fn posterior(
    (failed, seen): (&[u64], &[u64]),
    terms: &[Term],
    prior: &Prior,
    effort: &Effort,
    seed: Seed,
) -> Result<Option<Posterior>, Unusable> {
    let constant = Term { codes: vec![0; seen.len()], levels: 1 };
    let all: Vec<Term> = terms.iter().cloned().chain([constant]).collect();
    let model = Laplace::new(failed, seen, &all)?;
    let hyper = Hyper {
        model: &model,
        offset: vec![prior.constant_mean; seen.len()],
        unknown: terms.len(),
        given: vec![prior.constant_sd],
        rate: prior.sd_rate,
    };
    let Some(nodes) = hyper.nodes(effort.nodes, seed) else { return Ok(None) };
    let (drawn, log_evidence) = draws(&model, &nodes, &hyper.offset, effort.draws, seed);
    let weighed = Weighed::new(drawn, log_evidence, seed);
    let effective_nodes = effective(nodes.iter().map(|n| n.log_weight));
    Ok(Some(Posterior { effective_nodes, ..read_off(&model, &nodes, prior, terms.len(), weighed, seed) }))
}

/// Draws from the nodes by their weights, and the log evidence by Laplace's method.
fn draws(model: &Laplace, nodes: &[Node], offset: &[f64], count: usize, seed: Seed) -> (Vec<Draw>, f64) {
    let logs: Vec<f64> = nodes.iter().map(|n| n.log_weight).collect();
    let chosen = systematic(&logs, count, uniform(&mut seed.stream("mixed.choose", 0)));
    let mut times = vec![0usize; nodes.len()];
    chosen.iter().for_each(|&node| times[node] += 1);
    let first: Vec<usize> = times.iter().scan(0, |sum, n| Some(std::mem::replace(sum, *sum + n))).collect();
    let cells = &model.cells;
    let margins = Margins::new(cells, nodes);
    let cube = Hypercube::new(count, cells.width + cells.groups(), seed);
    // The offset is the same in every cell, so its order doesn't matter.
    let of_node = |(index, node): (usize, &Node)| {
        let drawer = || Drawer::new(cells, node, offset, margins.near(&node.mode.scales));
        let drawer = (times[index] > 0).then(drawer);
        let points = first[index]..first[index] + times[index];
        drawer.map_or_else(Vec::new, |d| points.map(|p| d.draw(index, |i| cube.at(p, i))).collect())
    };
    let drawn: Vec<Vec<Draw>> = nodes.par_iter().enumerate().map(of_node).collect();
    (drawn.into_iter().flatten().collect(), log_mean(&logs))
}

/// Draws made equally likely.
struct Weighed {
    draws: Vec<Draw>,
    chosen: Vec<usize>,
    log_evidence: f64,
    effective: f64,
    weighted: bool,
}

impl Weighed {
    /// Weights are cut at the square root of their number times their mean (Ionides 2008, `ionides-2008`).
    fn new(draws: Vec<Draw>, log_evidence: f64, seed: Seed) -> Self {
        let count = draws.len();
        let logs: Vec<f64> = draws.iter().map(|d| d.log_weight).collect();
        let mean = log_mean(&logs);
        let most = mean + 0.5 * (count as f64).ln();
        let cut: Vec<f64> = logs.iter().map(|l| l.min(most)).collect();
        let effective = effective(cut.iter().copied());
        let weighted = mean.is_finite() && effective >= LEAST_EFFECTIVE * count as f64;
        let shift = uniform(&mut seed.stream("mixed.choose", 1));
        let chosen = if weighted { systematic(&cut, count, shift) } else { (0..count).collect() };
        let log_evidence = if weighted { log_evidence + mean } else { log_evidence };
        Weighed { draws, chosen, log_evidence, effective, weighted }
    }
}

/// What weights are worth: the square of their sum over the sum of their squares.
fn effective(logs: impl Iterator<Item = f64> + Clone) -> f64 {
    let most = logs.clone().fold(f64::NEG_INFINITY, f64::max);
    let (sum, squares) = logs.map(|l| (l - most).exp()).fold((0.0, 0.0), |(s, q), w| (s + w, q + w * w));
    if squares > 0.0 { sum * sum / squares } else { 0.0 }
}

/// ln of the mean of exponentials.
fn log_mean(logs: &[f64]) -> f64 {
    ln_sum(logs) - (logs.len().max(1) as f64).ln()
}

/// Indices drawn in proportion to exp(logs): evenly spaced pointers with one random shift in (0, 1).
fn systematic(logs: &[f64], count: usize, shift: f64) -> Vec<usize> {
    let most = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let weights: Vec<f64> = logs.iter().map(|l| (l - most).exp()).collect();
    let total: f64 = weights.iter().sum();
    let (mut at, mut below) = (0, weights.first().copied().unwrap_or(0.0));
    let mut chosen = Vec::with_capacity(count);
    for i in 0..count {
        let pointer = (i as f64 + shift) / count as f64 * total;
        while below < pointer && at + 1 < weights.len() {
            at += 1;
            below += weights[at];
        }
        chosen.push(at);
    }
    chosen
}

/// One draw as the result holds it.
struct Line {
    constant: f64,
    sd: Vec<f64>,
    effects: Vec<Vec<f64>>,
    standardised: Vec<Vec<f64>>,
    new_level: Vec<f64>,
    middle: Vec<f64>,
}

fn read_off(model: &Laplace, nodes: &[Node], prior: &Prior, terms: usize, weighed: Weighed, seed: Seed) -> Posterior {
    let lattice = Lattice::new();
    let reader = Reader { model, nodes, prior, terms, lattice };
    let lines: Vec<Line> = weighed
        .chosen
        .par_iter()
        .enumerate()
        .map(|(i, &draw)| reader.line(&weighed.draws[draw], seed, i as u64))
        .collect();
    let mut posterior = Posterior {
        draws: lines.len(),
        sd: vec![Vec::with_capacity(lines.len()); terms],
        effects: vec![Vec::new(); terms],
        standardised: vec![Vec::new(); terms],
        new_level: vec![Vec::with_capacity(lines.len()); terms],
        middle: vec![Vec::with_capacity(lines.len()); terms],
        log_evidence: weighed.log_evidence,
        effective: weighed.effective,
        weighted: weighed.weighted,
        ..Posterior::default()
    };
    for line in lines {
        posterior.constant.push(line.constant);
        for f in 0..terms {
            posterior.sd[f].push(line.sd[f]);
            posterior.effects[f].extend(&line.effects[f]);
            posterior.standardised[f].extend(&line.standardised[f]);
            posterior.new_level[f].push(line.new_level[f]);
            posterior.middle[f].push(line.middle[f]);
        }
    }
    posterior
}

struct Reader<'a> {
    model: &'a Laplace,
    nodes: &'a [Node],
    prior: &'a Prior,
    terms: usize,
    lattice: Lattice,
}

impl Reader<'_> {
    fn line(&self, draw: &Draw, seed: Seed, number: u64) -> Line {
        let cells = &self.model.cells;
        let scales = &self.nodes[draw.node].mode.scales;
        let mut sd = vec![0.0; self.terms + 1];
        let mut effects = vec![Vec::new(); self.terms + 1];
        sd[cells.swept] = scales.swept;
        effects[cells.swept] = draw.swept.iter().map(|u| scales.swept * u).collect();
        for (f, &scale) in scales.core.iter().enumerate() {
            let end = cells.first.get(f + 1).copied().unwrap_or(cells.width);
            sd[cells.core[f]] = scale;
            effects[cells.core[f]] = draw.core[cells.first[f]..end].iter().map(|u| scale * u).collect();
        }
        let constant = self.prior.constant_mean + effects[self.terms].first().copied().unwrap_or(0.0);
        effects.truncate(self.terms);
        let deviate = |f: usize| normal_quantile(seed.keyed("mixed.new_level", &[number, f as u64]));
        let new: Vec<f64> = (0..self.terms).map(|f| sd[f] * deviate(f)).collect();
        let mut standardised = self.standardised(constant, &effects, &new);
        let middle = standardised.iter_mut().filter_map(Vec::pop).collect();
        let new_level = standardised.iter_mut().filter_map(Vec::pop).collect();
        Line { constant, sd, effects, standardised, new_level, middle }
    }

    /// By term: rates of its levels, then of the level not seen and of the one in the middle.
    fn standardised(&self, constant: f64, effects: &[Vec<f64>], new: &[f64]) -> Vec<Vec<f64>> {
        let cells = &self.model.cells;
        let mut rests: Vec<Rests> = (0..self.terms).map(|_| Rests::new()).collect();
        let total: f64 = cells.seen.iter().sum::<f64>().max(1.0);
        let mut own = vec![0.0; self.terms];
        for group in 0..cells.groups() {
            for cell in cells.cells_of(group) {
                if let Some(effect) = own.get_mut(cells.swept) {
                    *effect = effects[cells.swept][group];
                }
                for (f, &c) in cells.columns(cell).iter().enumerate() {
                    if let Some(effect) = own.get_mut(cells.core[f]) {
                        *effect = effects[cells.core[f]][c as usize - cells.first[f]];
                    }
                }
                let eta = constant + own.iter().sum::<f64>();
                own.iter().zip(&mut rests).for_each(|(e, r)| r.add(eta - e, cells.seen[cell] / total));
            }
        }
        let of_term = |f: usize| {
            let asked: Vec<f64> = effects[f].iter().copied().chain([new[f], 0.0]).collect();
            self.lattice.rates(&rests[f], &asked)
        };
        (0..self.terms).map(of_term).collect()
    }
}
