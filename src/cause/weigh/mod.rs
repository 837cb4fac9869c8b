//! A model that weighs explanations against one another.
//!
//! One logistic model of failure a vine, ln odds = c + effects; an explanation says which effects there are. Half of the
//! prior of an explanation are effects of every level (or a smooth field of the ground), half are one or two odd levels (or
//! one hollow): one bad batch among good ones is no draw from one normal distribution. Effects are normal; effects of every
//! level share a standard deviation with an exponential prior (penalised complexity: Simpson et al. 2017, `simpson-2017`),
//! that of a single effect is an assumption. Each form's evidence is Laplace's, with the shared standard deviations
//! integrated out on a grid; forms are summed.
//!
//! | file | what it is for |
//! | --- | --- |
//! | `prior` | prior odds, base rate and sizes of effects, from the assumptions |
//! | `ground` | the block as counts on cells: levels of factors, parts of rows, tiles of ground, stretches of the planters' walk |
//! | `shape` | forms that an effect may have over the levels |
//! | `candidate` | the explanations of a block, each with its shapes |
//! | `evidence` | evidence of one or two shapes with their standard deviations integrated out |
//! | `pairing` | evidence of explanations, summed over shapes; in `pairing/hollows` hollows are looked at more closely |
//! | `verdict` | an explanation, or that these data can't tell |
//! | `draws` | what is read off: failures tied to each explanation, effects of levels, the map of the place effect |

mod candidate;
mod draws;
mod evidence;
mod ground;
mod pairing;
mod prior;
mod shape;
mod verdict;

pub use draws::{Associated, PlaceEffect, Stretch, Tied};
pub use prior::Prior;
pub use verdict::{Moved, Rule};

use crate::base::words::{cause as words, fill};
use crate::base::{Estimate, Known, Seed, SourceKey};
use crate::stats::special::ln_sum;
use crate::tally::Tally;
use candidate::candidates;
use evidence::{Joint, Table};
use ground::{Axis, Ground};
use pairing::{Bench, Pairing, Part, Sum, Weighed};
use prior::Pair;
use rayon::prelude::*;
use serde::Serialize;
use shape::Shape;

/// The works that the model stands on.
pub(super) const SOURCES: [SourceKey; 3] = ["riutort-mayol-2023", "simpson-2017", "tierney-kadane-1986"];

/// An explanation with what speaks for it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Explanation {
    /// A single name, or two joined by `+`.
    pub name: String,
    /// Probability before the counts.
    pub prior: f64,
    /// ln probability of what became of the vines, given the explanation.
    pub log_evidence: f64,
    pub probability: f64,
    /// Failures above what there would be were every level, place or stretch like the middle one, given the
    /// explanation: median and interval; 0 for chance.
    pub excess_failures: Known<Estimate>,
}

/// What the model comes to.
#[derive(Clone, Debug)]
pub(super) struct Weighing {
    pub verdict: String,
    pub between: Vec<String>,
    pub moved: Vec<Moved>,
    pub explanations: Vec<Explanation>,
    pub tied: Vec<Tied>,
    pub associated: Known<Vec<Associated>>,
    pub place_effect: Known<PlaceEffect>,
    pub resolution: Known<String>,
}

/// One explanation as weighed: which candidates it holds, its prior, and its shapes.
struct Entry {
    members: Vec<usize>,
    prior: f64,
    ln_evidence: f64,
    parts: Vec<Part>,
}

/// Pairs that can't come to this probability aren't looked at more closely.
const WORTH_A_CLOSER_LOOK: f64 = 0.02;
/// What a second explanation that has nothing to explain leaves of the evidence, about.
const NOTHING_TO_ADD: f64 = 0.3;

/// Weighs the explanations of a block. Absent where no vine was seen, none failed, or nothing but chance could be weighed.
pub(super) fn weigh(tally: &Tally, prior: &Prior, level: f64, seed: Seed) -> Known<Weighing> {
    let absent = |reason: &str| Known::absent(reason, words::NOTHING_WEIGHED_HELP);
    let ground = Ground::of(tally, prior);
    if ground.seen.iter().sum::<f64>() <= 0.0 {
        return absent(words::NOTHING_SEEN);
    }
    if ground.failed.iter().sum::<f64>() <= 0.0 {
        return absent(words::NOTHING_FAILED);
    }
    let hyper = prior.hyper();
    let Some(nothing) = of_nothing(&ground, &hyper) else { return absent(words::NOT_FITTED) };
    let bench = Bench { hyper: &hyper, ground: &ground, nothing: nothing.ln_evidence };
    let weighed: Vec<Weighed> = candidates(tally, &ground, prior).into_iter().filter_map(|c| bench.weigh(c)).collect();
    if weighed.is_empty() {
        return absent(words::NOTHING_TO_WEIGH);
    }
    let entries = entries(prior, &bench, &weighed, nothing);
    let explanations = explanations(&entries, &weighed);
    let Some(verdict) = verdict::verdict(&explanations, &prior.rule) else { return absent(words::NOT_FITTED) };
    let verdict = if fills_bands(tally, &ground) { verdict.without_accusing() } else { verdict };
    let model = draws::Model { tally, bench: &bench, weighed: &weighed, entries: &entries, level, seed };
    let read = model.read_off(&explanations);
    Known::Value(Weighing {
        moved: verdict::moved(&explanations, &verdict.name, &prior.rule),
        verdict: verdict.name,
        between: verdict.between,
        explanations: explanations
            .into_iter()
            .zip(read.excess)
            .map(|(e, x)| Explanation { excess_failures: x, ..e })
            .collect(),
        tied: read.tied,
        associated: read.associated,
        place_effect: read.place_effect,
        resolution: resolution(&ground),
    })
}

/// Whether every batch fills a band of rows of its own, and nobody knows in what order they were planted: then no
/// explanation stands for what changed with the batch, and the batch can't be accused.
fn fills_bands(tally: &Tally, ground: &Ground) -> bool {
    let axis = |name: &str| tally.factors.iter().position(|f| f.name == name).map(|at| &ground.factors[at]);
    let (Some(batch), Some(row)) = (axis("batch"), axis("row")) else { return false };
    let order_known = ground.walk.as_ref().is_some_and(|(_, walk)| !walk.batch.is_empty());
    let seen = (0..ground.seen.len()).filter(|&cell| ground.seen[cell] > 0.0);
    let mut bands: Vec<(u32, u32)> = seen.map(|cell| (row.of_cell[cell], batch.of_cell[cell])).collect();
    bands.sort_unstable();
    bands.dedup();
    let shared = bands.windows(2).any(|w| w[0].0 == w[1].0);
    bands.dedup_by_key(|(_, batch)| *batch);
    let mut batches: Vec<u32> = bands.iter().map(|b| b.1).collect();
    batches.sort_unstable();
    batches.dedup();
    !order_known && !shared && bands.len() == batches.len()
}

fn of_nothing(ground: &Ground, hyper: &evidence::Hyper) -> Option<Sum> {
    let alone = Axis { levels: 1, of_cell: vec![0; ground.seen.len()] };
    let none = Shape::none();
    let table = Table::new((&ground.failed, &ground.seen), &alone, &alone);
    let found = Joint::new(hyper, &table, [&none, &none])?.integrate((0, 0), None)?;
    let part = Part { shapes: [none.clone(), none.clone()], ln_weight: found.ln_evidence, peak: found.peak };
    Some(Sum { ln_evidence: found.ln_evidence, parts: vec![part] })
}

/// Chance, every single explanation, every pair; priors come to 1.
fn entries(prior: &Prior, bench: &Bench, weighed: &[Weighed], nothing: Sum) -> Vec<Entry> {
    let names: Vec<&str> = weighed.iter().map(|w| w.candidate.name.as_str()).collect();
    let singles = prior.singles(&names);
    let entry = |members: Vec<usize>, odds: f64, sum: Sum| Entry {
        members,
        prior: odds,
        ln_evidence: sum.ln_evidence,
        parts: sum.parts,
    };
    let mut entries = vec![entry(Vec::new(), prior.chance.max(0.0), nothing)];
    entries.extend(weighed.iter().zip(&singles).enumerate().map(|(i, (w, odds))| entry(vec![i], *odds, w.sum.clone())));
    let best = entries.iter().map(|e| e.prior.ln() + e.ln_evidence).fold(f64::NEG_INFINITY, f64::max);
    let pairs = together(bench, weighed, &prior.of_pairs(&singles), best);
    entries.extend(pairs.into_iter().map(|(pair, sum)| entry(vec![pair.members.0, pair.members.1], pair.odds, sum)));
    let all: f64 = entries.iter().map(|e| e.prior).sum();
    entries.iter_mut().for_each(|e| e.prior = if all > 0.0 { e.prior / all } else { 0.0 });
    entries
}

/// Evidence of pairs: a first look at all, a closer one at those that may matter.
fn together(bench: &Bench, weighed: &[Weighed], pairs: &[Pair], best_single: f64) -> Vec<(Pair, Sum)> {
    let of = |pair: &Pair| (&weighed[pair.members.0], &weighed[pair.members.1]);
    let look = |pair: &Pair| {
        let looked = bench.look_at(of(pair).0, of(pair).1)?;
        Some((*pair, looked.add_up(), looked))
    };
    let looked: Vec<(Pair, Sum, Pairing)> = pairs.par_iter().filter_map(look).collect();
    let best = looked.iter().map(|(pair, sum, _)| pair.odds.ln() + sum.ln_evidence).fold(best_single, f64::max);
    let matters = |pair: &Pair, sum: &Sum| {
        let alone = of(pair).0.sum.ln_evidence.max(of(pair).1.sum.ln_evidence) + NOTHING_TO_ADD.ln();
        pair.odds.ln() + sum.ln_evidence.max(alone) > best + WORTH_A_CLOSER_LOOK.ln()
    };
    let closer = |(pair, sum, looked): (Pair, Sum, Pairing)| match matters(&pair, &sum) {
        true => (pair, looked.refined()),
        false => (pair, sum),
    };
    looked.into_par_iter().map(closer).collect()
}

/// Probabilities: prior times evidence, come to 1.
fn explanations(entries: &[Entry], weighed: &[Weighed]) -> Vec<Explanation> {
    let logs: Vec<f64> = entries.iter().map(|e| e.prior.ln() + e.ln_evidence).collect();
    let all = ln_sum(&logs);
    let name = |e: &Entry| {
        let names: Vec<&str> = e.members.iter().map(|&i| weighed[i].candidate.name.as_str()).collect();
        if names.is_empty() { "chance".to_string() } else { names.join("+") }
    };
    let one = |(e, ln): (&Entry, &f64)| Explanation {
        prior: e.prior,
        log_evidence: e.ln_evidence,
        probability: (ln - all).exp(),
        ..Explanation::named(&name(e))
    };
    entries.iter().zip(&logs).map(one).collect()
}

impl Explanation {
    fn named(name: &str) -> Self {
        let excess_failures = Known::absent(words::NOT_READ_OFF, words::NOT_READ_OFF_HELP);
        Explanation { name: name.into(), prior: 0.0, log_evidence: 0.0, probability: 0.0, excess_failures }
    }
}

/// How finely the ground was looked at.
fn resolution(ground: &Ground) -> Known<String> {
    let Some((axis, tiles)) = &ground.tiles else {
        return Known::absent(words::NO_PLACE_EFFECT, words::NO_PLACE_EFFECT_HELP);
    };
    let side = crate::base::words::number::plain(tiles.side);
    let sentence = if tiles.in_metres { words::RESOLUTION } else { words::RESOLUTION_IN_PLACES };
    Known::Value(fill(sentence, &[("tiles", &axis.levels), ("side", &side)]))
}
