//! How often the intervals of a raw rate hold the true one.

use fullstand::base::{Quantity, Scale, seed};
use fullstand::stats::betabinomial::{BetaBinomial, BetaRate, Count};
use fullstand::stats::proportion::{Interval, clopper_pearson, wilson};
use fullstand::stats::special::normal_quantile;
use fullstand::tally::{Cell, Counts, Tally, TallyFactor};
use rand::Rng;

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

/// An interval for x of n at a level.
pub type Method = fn(u64, u64, f64) -> Interval;

/// The two intervals of a raw rate.
pub const INTERVALS: [(&str, Method); 2] = [("raw", clopper_pearson), ("score", wilson)];

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
