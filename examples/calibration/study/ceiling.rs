//! The best that any verdict could do on the scenes: the classifier that knows what they are drawn from.
//!
//! It knows the strength of the effects, that one of six scenes is the case, each as likely as the others, and how
//! places, sizes and the base failure vary; and it names the truth that is then the most probable (Bayes' rule). All
//! that varies is averaged over a grid: middles of equal parts of each range, every batch, row and pair of rows.

use fullstand::block::Plants;
use fullstand::simulate::scene::{BASE_FAILURE, RADIUS_M};
use fullstand::simulate::{Scenario, Simulated, Strength};
use fullstand::stats::special::softplus;

const BASES: usize = 8;
const EFFECTS: usize = 5;
const RADII: usize = 6;
/// Centres of hollows lie this share of the radius apart.
const APART: f64 = 0.4;
/// Radii out to which a hollow is followed.
const REACH: f64 = 3.0;
/// Steps in which a hollow's depth is told.
const STEPS: usize = 32;
/// Batches beside a hollow are followed while they weigh more than exp(-this) of the weightiest by itself.
const NEGLIGIBLE: f64 = 12.0;

/// The verdict of the best classifier.
pub fn best_verdict(scenario: &Scenario, simulated: &Simulated, strength: Strength) -> &'static str {
    let Some(ground) = Ground::of(scenario, simulated, strength) else { return "chance" };
    let truths = [
        ("chance", ground.chance()),
        ("batch", ground.batch()),
        ("row", ground.rows()),
        ("place", ln_sum(&[ground.place(Bank::Smooth), ground.place(Bank::Sharp)])), // two of the six scenes
        ("batch+place", ground.batch_and_hollow()),
    ];
    truths.iter().max_by(|a, b| a.1.total_cmp(&b.1)).map_or("chance", |truth| truth.0)
}

/// How a hollow ends.
#[derive(Clone, Copy, PartialEq)]
enum Bank {
    Smooth,
    Sharp,
}

struct Ground {
    rows: usize,
    places: usize,
    row_m: f64,
    vine_m: f64,
    /// By vine, row by row.
    failed: Vec<bool>,
    batch: Vec<u32>,
    /// Failed and planted, by batch and by row.
    of_batch: Vec<(f64, f64)>,
    of_row: Vec<(f64, f64)>,
    /// Logits without an effect, and effects.
    bases: Vec<f64>,
    effects: Vec<f64>,
}

impl Ground {
    fn of(scenario: &Scenario, simulated: &Simulated, strength: Strength) -> Option<Self> {
        let Plants::Vines(register) = &simulated.block.plants else { return None };
        let batch = register.factor("batch")?.codes.clone();
        let failed: Vec<bool> = simulated.fates.iter().map(|f| f.is_failed()).collect();
        let (rows, places) = (scenario.rows as usize, scenario.places_per_row as usize);
        let mut of_batch = vec![(0.0, 0.0); scenario.deliveries.len()];
        let mut of_row = vec![(0.0, 0.0); rows];
        for (vine, fails) in failed.iter().enumerate() {
            for count in [of_batch.get_mut(batch[vine] as usize), of_row.get_mut(vine / places)].into_iter().flatten() {
                *count = (count.0 + f64::from(*fails), count.1 + 1.0);
            }
        }
        let bases = middles(BASE_FAILURE, BASES).map(|p| (p / (1.0 - p)).ln()).collect();
        let effects = middles(strength.range(), EFFECTS).collect();
        let (row_m, vine_m) = (scenario.row_spacing_m, scenario.vine_spacing_m);
        Some(Ground { rows, places, row_m, vine_m, failed, batch, of_batch, of_row, bases, effects })
    }

    /// ln likelihood where nothing is the matter.
    fn plain(&self, base: f64) -> f64 {
        self.of_row.iter().map(|(failed, n)| failed * base - n * softplus(base)).sum()
    }

    fn chance(&self) -> f64 {
        ln_mean(&self.bases.iter().map(|b| self.plain(*b)).collect::<Vec<_>>())
    }

    /// ln likelihood of each base, bad batch and effect.
    fn bad_batches(&self) -> Vec<(f64, u32, f64, f64)> {
        let mut all = Vec::new();
        for &base in &self.bases {
            let plain = self.plain(base);
            for (batch, &counts) in (0..).zip(&self.of_batch) {
                all.extend(self.effects.iter().map(|e| (base, batch, *e, plain + gain(counts, base, *e))));
            }
        }
        all
    }

    fn batch(&self) -> f64 {
        ln_mean(&self.bad_batches().iter().map(|b| b.3).collect::<Vec<_>>())
    }

    /// Half: one odd row; half: two, each with an effect of its own.
    fn rows(&self) -> f64 {
        let of_base = |base: &f64| {
            let odd =
                |row: &(f64, f64)| ln_mean(&self.effects.iter().map(|e| gain(*row, *base, *e)).collect::<Vec<_>>());
            let odd: Vec<f64> = self.of_row.iter().map(odd).collect();
            let pairs: Vec<f64> =
                odd.iter().enumerate().flat_map(|(i, a)| odd[..i].iter().map(move |b| a + b)).collect();
            self.plain(*base) + ln_mean(&[ln_mean(&odd), ln_mean(&pairs)])
        };
        ln_mean(&self.bases.iter().map(of_base).collect::<Vec<_>>())
    }

    fn place(&self, bank: Bank) -> f64 {
        let of_base = |base: &f64| self.plain(*base) + self.hollows([*base; 2], 0, bank);
        ln_mean(&self.bases.iter().map(of_base).collect::<Vec<_>>())
    }

    /// A batch that weighs nothing by itself is taken to weigh nothing beside a hollow.
    fn batch_and_hollow(&self) -> f64 {
        let bad = self.bad_batches();
        let best = bad.iter().map(|b| b.3).fold(f64::NEG_INFINITY, f64::max);
        let followed = bad.iter().filter(|b| b.3 > best - NEGLIGIBLE);
        let both = followed.map(|(base, batch, e, ln)| ln + self.hollows([*base, base + e], *batch, Bank::Smooth));
        ln_sum(&both.collect::<Vec<_>>()) - (bad.len().max(1) as f64).ln()
    }

    /// ln of the mean over hollows of what a hollow adds to the likelihood, where `batch` has the second logit and
    /// all others the first.
    fn hollows(&self, logits: [f64; 2], batch: u32, bank: Bank) -> f64 {
        let of_radius = |radius: f64| {
            let cost = |effect: f64| logits.map(|l| steps().map(|s| softplus(l + effect * s) - softplus(l)).collect());
            let costs: Vec<[Vec<f64>; 2]> = self.effects.iter().map(|e| cost(*e)).collect();
            let centres = middles(self.across(), self.centres(self.across(), radius));
            let along: Vec<f64> = middles(self.along(), self.centres(self.along(), radius)).collect();
            let gains = centres.flat_map(|x| along.iter().map(move |y| (x, *y)));
            let gains: Vec<f64> = gains.flat_map(|at| self.gains_around(at, radius, (bank, batch), &costs)).collect();
            ln_mean(&gains)
        };
        ln_mean(&middles(RADIUS_M, RADII).map(of_radius).collect::<Vec<_>>())
    }

    /// Metres from edge to edge, the outermost vines half a spacing within.
    fn across(&self) -> (f64, f64) {
        (-0.5 * self.row_m, (self.rows as f64 - 0.5) * self.row_m)
    }

    fn along(&self) -> (f64, f64) {
        (-0.5 * self.vine_m, (self.places as f64 - 0.5) * self.vine_m)
    }

    fn centres(&self, (from, to): (f64, f64), radius: f64) -> usize {
        ((to - from) / (APART * radius)).ceil().max(1.0) as usize
    }

    /// For each effect, what a hollow around a centre adds to the ln likelihood.
    fn gains_around(
        &self,
        (x, y): (f64, f64),
        radius: f64,
        (bank, batch): (Bank, u32),
        costs: &[[Vec<f64>; 2]],
    ) -> [f64; EFFECTS] {
        let reach = if bank == Bank::Smooth { REACH * radius } else { radius };
        let fall = |metres: f64| (-metres * metres / (2.0 * radius * radius)).exp();
        let near = |at: f64, spacing: f64, n: usize| {
            let from = ((at - reach) / spacing).ceil().max(0.0) as usize;
            from..(((at + reach) / spacing).floor() + 1.0).clamp(0.0, n as f64) as usize
        };
        let places = near(y, self.vine_m, self.places);
        let along: Vec<(f64, f64)> = places.clone().map(|i| i as f64 * self.vine_m - y).map(|m| (m, fall(m))).collect();
        let mut gains = [0.0; EFFECTS];
        for row in near(x, self.row_m, self.rows) {
            let metres = row as f64 * self.row_m - x;
            let across = fall(metres);
            for (place, (m, f)) in places.clone().zip(&along) {
                let depth = match bank {
                    Bank::Smooth => across * f,
                    Bank::Sharp => f64::from(metres * metres + m * m <= radius * radius),
                };
                let vine = row * self.places + place;
                let step = (depth * STEPS as f64).round() as usize;
                let failed = if self.failed[vine] { step as f64 / STEPS as f64 } else { 0.0 };
                let class = usize::from(self.batch[vine] == batch);
                for ((gain, cost), effect) in gains.iter_mut().zip(costs).zip(&self.effects) {
                    *gain += failed * effect - cost[class][step];
                }
            }
        }
        gains
    }
}

/// What an effect on some vines adds to the ln likelihood.
fn gain((failed, n): (f64, f64), base: f64, effect: f64) -> f64 {
    failed * effect - n * (softplus(base + effect) - softplus(base))
}

fn steps() -> impl Iterator<Item = f64> {
    (0..=STEPS).map(|s| s as f64 / STEPS as f64)
}

/// Middles of `n` equal parts.
fn middles((low, high): (f64, f64), n: usize) -> impl Iterator<Item = f64> {
    (0..n).map(move |i| low + (high - low) * (i as f64 + 0.5) / n as f64)
}

fn ln_sum(logs: &[f64]) -> f64 {
    let most = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if most == f64::NEG_INFINITY { most } else { most + logs.iter().map(|l| (l - most).exp()).sum::<f64>().ln() }
}

fn ln_mean(logs: &[f64]) -> f64 {
    ln_sum(logs) - (logs.len().max(1) as f64).ln()
}
