//! How often intervals hold the true rate, and stated odds come true.

use super::Share;
use fullstand::base::{Quantity, Scale, Seed, seed};
use fullstand::rates::{self, Rates, rates};
use fullstand::stats::betabinomial::{BetaBinomial, BetaRate, Count};
use fullstand::stats::proportion::{Interval, clopper_pearson, wilson};
use fullstand::stats::special::normal_quantile;
use fullstand::tally::{Cell, Counts, Tally, TallyFactor};
use rand::Rng;
use rayon::prelude::*;

/// Least and mean coverage of an interval at `level` over true rates from 0.50 to 0.99: exact, by summing over all
/// counts, so without Monte Carlo error.
pub fn of_interval(interval: fn(u64, u64, f64) -> Interval, n: u64, level: f64) -> (f64, f64) {
    let of_rate = |rate: f64| {
        let holds = |x: &u64| {
            let at = interval(*x, n, level);
            at.low <= rate && rate <= at.high
        };
        let chance = BetaBinomial::new(n, rate, 0.0);
        (0..=n).filter(holds).map(|x| chance.ln_pmf(x).exp()).sum::<f64>()
    };
    let all: Vec<f64> = (500..=990).step_by(5).map(|p| of_rate(f64::from(p) / 1000.0)).collect();
    (all.iter().copied().fold(1.0, f64::min), all.iter().sum::<f64>() / all.len() as f64)
}

/// The two intervals of a raw rate.
/// An interval for x of n at a level.
pub type Method = fn(u64, u64, f64) -> Interval;

pub const INTERVALS: [(&str, Method); 2] = [("raw", clopper_pearson), ("score", wilson)];

/// What pooled rates and probabilities did in blocks whose true rates are known.
#[derive(Clone, Debug, Default)]
pub struct Pooled {
    /// 90 % intervals that hold the true rate: all levels; the level of the lowest true rate; the highest.
    pub all: Share,
    pub lowest: Share,
    pub highest: Share,
    /// By stated probability to be best, in tenths: how often the level was.
    pub best: [Share; 10],
}

/// A quantity's value, drawn.
pub fn drawn(quantity: &Quantity, rng: &mut impl Rng) -> f64 {
    quantity.at_z(normal_quantile(seed::uniform(rng)), Scale::Rate)
}

/// A group's rate about a mean, at correlation `rho` within groups.
pub fn rate_about(mean: f64, rho: f64, rng: &mut impl Rng) -> f64 {
    BetaRate::new(mean, rho / (1.0 - rho)).quantile(seed::uniform(rng))
}

pub fn binomial(n: u64, rate: f64, rng: &mut impl Rng) -> u64 {
    (0..n).filter(|_| seed::uniform(rng) < rate).count() as u64
}

/// Levels' true stands, drawn as the pooling's prior says.
pub fn from_the_prior(levels: usize, rng: &mut impl Rng) -> Vec<f64> {
    let prior = rates::Config::default().prior;
    let (mean, rho) = (drawn(&prior.mean, rng), drawn(&prior.spread, rng));
    (0..levels).map(|_| rate_about(mean, rho, rng)).collect()
}

/// Levels of `vines` vines each with the stands that `truth` draws, in `blocks` blocks.
pub fn pooled(truth: impl Fn(&mut dyn Rng) -> Vec<f64> + Sync, vines: u64, blocks: u64) -> Pooled {
    let of_block = |number: u64| {
        let mut rng = Seed::new(number).stream("calibrate.pooled", 0);
        let truth = truth(&mut rng);
        let kept: Vec<Count> = truth.iter().map(|&p| Count { x: binomial(vines, p, &mut rng), n: vines }).collect();
        (truth, rates_of(&kept))
    };
    let mut sum = Pooled::default();
    for (truth, rates) in (0..blocks).into_par_iter().map(of_block).collect::<Vec<_>>() {
        sum.take_in(&truth, &rates);
    }
    sum
}

impl Pooled {
    fn take_in(&mut self, truth: &[f64], rates: &Rates) {
        let lowest = truth.iter().copied().fold(1.0, f64::min);
        let highest = truth.iter().copied().fold(0.0, f64::max);
        for (level, &rate) in rates.factors[0].levels.iter().zip(truth) {
            let Some(interval) = level.pooled.value() else { continue };
            let holds = interval.low <= rate && rate <= interval.high;
            self.all.count(holds);
            if rate == lowest {
                self.lowest.count(holds);
            }
            if rate == highest {
                self.highest.count(holds);
            }
            if let Some(best) = level.probability_best.value() {
                self.best[((best * 10.0) as usize).min(9)].count(rate == highest);
            }
        }
    }
}

/// The rates of one factor's levels of which so many stand.
fn rates_of(kept: &[Count]) -> Rates {
    rates(
        &tally_of(kept),
        0,
        &rates::Config { simulations: 0, permutations: 1, null_draws: 1, ..Default::default() },
        Seed::new(1),
    )
}

/// A tally of one factor, `batch`.
pub fn tally_of(kept: &[Count]) -> Tally {
    let counts =
        |c: &Count| Counts { planted: c.n, seen: c.n, failed: c.n - c.x, dead: c.n - c.x, ..Counts::default() };
    let mut total = Counts::default();
    kept.iter().for_each(|c| total.add(&counts(c)));
    let levels: Vec<String> = (0..kept.len()).map(|i| format!("L{i}")).collect();
    let definite = vec![true; levels.len()];
    let cells = kept.iter().enumerate().map(|(i, c)| Cell { codes: [i as u32].into(), counts: counts(c) });
    Tally {
        walk: None,
        factors: vec![TallyFactor { name: "batch".into(), levels, definite }],
        cells: cells.collect(),
        total,
        field: None,
        outcomes: Vec::new(),
    }
}
