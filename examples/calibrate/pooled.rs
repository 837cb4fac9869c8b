//! How often pooled intervals hold the true stand, and stated odds to be best come true, where blocks are drawn from
//! the very prior that the model states.

use super::Share;
use super::coverage::binomial;
use fullstand::base::{Assumptions, Seed, seed};
use fullstand::rates::{Config, Draws, TermDraws, stand_draws};
use fullstand::stats::mixed::Prior;
use fullstand::stats::special::{chi_square_sf, logistic, normal_quantile};
use fullstand::tally::{Cell, CellTable, Counts, Tally, TallyFactor};
use rand::Rng;
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Standard deviations of the factors, logit.
#[derive(Clone, Copy, Debug)]
pub enum Spread {
    /// Drawn from the prior, each factor its own.
    Prior,
    /// The same for every factor; the constant is that of a 92 % stand.
    Fixed(f64),
}

/// What happened in all blocks.
#[derive(Clone, Debug, Default)]
pub struct Outcome {
    /// By factor: 90 % intervals of its levels' stands that hold the true one.
    pub stand: BTreeMap<String, Share>,
    /// Of levels without a failure, and of levels of under 30 vines.
    pub without_failure: Share,
    pub small: Share,
    /// 90 % intervals of the stand of a batch not seen.
    pub new_batch: Share,
    /// By tenth of the stated probability of one batch, picked blindly, to be the best: how often it was, the sum of
    /// what was stated, and of p (1 - p).
    pub best: [(Share, f64, f64); 10],
    /// Draws that weights were worth, as a share: the least, and the mean.
    pub least_effective: f64,
    pub mean_effective: f64,
    pub unweighted: u64,
}

const FACTORS: [&str; 4] = ["clone", "rootstock", "batch", "row"];

/// A block drawn: its tally, and the true effects.
struct Block {
    tally: Tally,
    constant: f64,
    sd: [f64; 4],
    effects: [Vec<f64>; 4],
}

pub fn pooled(spread: Spread, blocks: u64) -> Outcome {
    let of_block = |number: u64| {
        let mut rng = Seed::new(number).stream("calibrate.pooled", 0);
        let block = Block::draw(spread, &mut rng);
        let config = Config::default();
        let mut outcome = Outcome { least_effective: 1.0, ..Outcome::default() };
        if let Some(draws) = stand_draws(&block.tally, &config, Seed::new(number)) {
            outcome.take_in(&block, &draws, &mut rng);
        }
        outcome
    };
    let mut sum = Outcome { least_effective: 1.0, ..Outcome::default() };
    (0..blocks).into_par_iter().map(of_block).collect::<Vec<_>>().iter().for_each(|o| sum.add(o));
    sum.mean_effective /= blocks as f64;
    sum
}

impl Block {
    /// 3 to 40 batches of 8 to 120 vines in bundles along the rows; each batch holds one clone, and mostly the stock that
    /// goes with it.
    fn draw(spread: Spread, rng: &mut impl Rng) -> Self {
        let prior: Prior = Config::new(0.9, &Assumptions::default()).prior;
        let normal = |rng: &mut _| normal_quantile(seed::uniform(rng));
        let batches = 3 + seed::below(rng, 38);
        let clones = 2 + seed::below(rng, 3);
        let clone_of: Vec<u32> = (0..batches).map(|_| seed::below(rng, clones) as u32).collect();
        let mixed =
            |rng: &mut _, clone: u32| if seed::uniform(rng) < 0.7 { clone % 2 } else { seed::below(rng, 2) as u32 };
        let stock_of: Vec<u32> = clone_of.iter().map(|&c| mixed(rng, c)).collect();
        let size: Vec<usize> = (0..batches).map(|_| 8 + seed::below(rng, 113)).collect();
        let mut vines: Vec<u32> = Vec::new();
        let mut bundles: Vec<u32> = (0..batches).flat_map(|b| vec![b as u32; size[b].div_ceil(25)]).collect();
        seed::shuffle(&mut bundles, rng);
        let mut left = size.clone();
        for b in bundles {
            let now = left[b as usize].min(25);
            left[b as usize] -= now;
            vines.extend(vec![b; now]);
        }
        let per_row = 20 + seed::below(rng, 41);
        let rows = vines.len().div_ceil(per_row);
        let (constant, sd) = match spread {
            Spread::Prior => {
                let sd = [(); 4].map(|()| -seed::uniform(rng).ln() / prior.sd_rate);
                (prior.constant_mean + prior.constant_sd * normal(rng), sd)
            }
            Spread::Fixed(sd) => ((0.08f64 / 0.92).ln(), [sd; 4]),
        };
        let sizes = [clones, 2, batches, rows];
        let effects = std::array::from_fn(|f| (0..sizes[f]).map(|_| sd[f] * normal(rng)).collect());
        let mut block = Block { tally: empty(&sizes), constant, sd, effects };
        let mut cells: BTreeMap<[u32; 4], u64> = BTreeMap::new();
        for (place, &b) in vines.iter().enumerate() {
            let codes = [clone_of[b as usize], stock_of[b as usize], b, (place / per_row) as u32];
            *cells.entry(codes).or_default() += 1;
        }
        let mut table = CellTable::default();
        for (codes, n) in cells {
            let failed = binomial(n, logistic(block.eta(&codes)), rng);
            let counts = Counts { planted: n, seen: n, failed, died: failed, ..Counts::default() };
            table.add(&codes, &counts);
        }
        (block.tally.cells, block.tally.total) = table.finish();
        block
    }

    fn eta(&self, codes: &[u32]) -> f64 {
        self.constant + codes.iter().zip(&self.effects).map(|(&c, e)| e[c as usize]).sum::<f64>()
    }

    /// Vines seen and failed by level of a factor.
    fn counts(&self, factor: usize) -> (Vec<u64>, Vec<u64>) {
        let levels = self.effects[factor].len();
        let (mut seen, mut failed) = (vec![0; levels], vec![0; levels]);
        for cell in &self.tally.cells {
            let level = cell.codes[factor] as usize;
            seen[level] += cell.counts.seen;
            failed[level] += cell.counts.failed;
        }
        (seen, failed)
    }

    /// The stand had every vine this effect of the factor.
    fn stand(&self, factor: usize, effect: f64) -> f64 {
        let of = |cell: &Cell| {
            let rest = self.eta(&cell.codes) - self.effects[factor][cell.codes[factor] as usize];
            cell.counts.seen as f64 * (1.0 - logistic(rest + effect))
        };
        self.tally.cells.iter().map(of).sum::<f64>() / self.tally.total.seen as f64
    }
}

/// Whether the 90 % interval of the draws holds the truth.
fn holds(mut draws: Vec<f64>, truth: f64) -> bool {
    draws.sort_by(f64::total_cmp);
    let at = |p: f64| draws[((p * draws.len() as f64) as usize).min(draws.len() - 1)];
    at(0.05) <= truth && truth <= at(0.95)
}

fn empty(sizes: &[usize; 4]) -> Tally {
    let factor = |(name, &size): (&&str, &usize)| TallyFactor {
        name: (*name).into(),
        levels: (1..=size).map(|i| i.to_string()).collect(),
        definite: vec![true; size],
    };
    Tally {
        walk: None,
        factors: FACTORS.iter().zip(sizes).map(factor).collect(),
        cells: Vec::new(),
        total: Counts::default(),
        field: None,
        outcomes: Vec::new(),
    }
}

impl Outcome {
    fn take_in(&mut self, block: &Block, draws: &Draws, rng: &mut impl Rng) {
        let share = draws.effective / draws.count as f64;
        (self.least_effective, self.mean_effective) = (share, share);
        self.unweighted = u64::from(!draws.weighted);
        for (f, name) in FACTORS.iter().enumerate() {
            // Where clones and stocks split the vines alike, one term stands for both: the program then tells bounds.
            let Some(term) = draws.term(name).filter(|_| draws.terms.len() == FACTORS.len()) else { continue };
            let (seen, failed) = block.counts(f);
            for (level, effect) in block.effects[f].iter().enumerate() {
                let holds = holds(term.stand(level).collect(), block.stand(f, *effect));
                self.stand.entry((*name).into()).or_default().count(holds);
                if failed[level] == 0 {
                    self.without_failure.count(holds);
                }
                if seen[level] < 30 {
                    self.small.count(holds);
                }
            }
        }
        if let Some(batch) = draws.term("batch") {
            let truth = block.stand(2, block.sd[2] * normal_quantile(seed::uniform(rng)));
            self.new_batch.count(holds(batch.new_level.clone(), truth));
            self.best(block, batch, rng);
        }
    }

    /// One batch of the block, picked blindly, so that what is counted is independent from block to block.
    fn best(&mut self, block: &Block, batch: &TermDraws, rng: &mut impl Rng) {
        let effects = &block.effects[2];
        let pick = seed::below(rng, effects.len());
        let best = (0..effects.len()).min_by(|a, b| effects[*a].total_cmp(&effects[*b]));
        let wins = batch.stands().filter(|stands| stands.iter().all(|s| *s <= stands[pick])).count();
        let p = wins as f64 / batch.sd.len() as f64;
        let bin = &mut self.best[((p * 10.0) as usize).min(9)];
        bin.0.count(best == Some(pick));
        bin.1 += p;
        bin.2 += p * (1.0 - p);
    }

    fn add(&mut self, other: &Outcome) {
        let merge = |a: &mut Share, b: &Share| (a.hits, a.of) = (a.hits + b.hits, a.of + b.of);
        other.stand.iter().for_each(|(name, share)| merge(self.stand.entry(name.clone()).or_default(), share));
        merge(&mut self.without_failure, &other.without_failure);
        merge(&mut self.small, &other.small);
        merge(&mut self.new_batch, &other.new_batch);
        for (a, b) in self.best.iter_mut().zip(&other.best) {
            merge(&mut a.0, &b.0);
            (a.1, a.2) = (a.1 + b.1, a.2 + b.2);
        }
        self.least_effective = self.least_effective.min(other.least_effective);
        self.mean_effective += other.mean_effective;
        self.unweighted += other.unweighted;
    }

    /// Joint test that stated odds come true: sum over tenths of (hits - stated)^2 / sum of p (1 - p), chi-squared with
    /// as many degrees of freedom as tenths with five or more expected hits and misses; others are left out.
    pub fn best_test(&self) -> (f64, f64, f64) {
        let (mut square, mut df) = (0.0, 0.0);
        for (share, stated, variance) in &self.best {
            if *stated >= 5.0 && share.of as f64 - stated >= 5.0 {
                square += (share.hits as f64 - stated).powi(2) / variance;
                df += 1.0;
            }
        }
        (square, df, chi_square_sf(square, df))
    }
}
