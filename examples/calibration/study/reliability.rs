//! Whether stated probabilities come true: ten bins with one joint test, and the log score.
//!
//! A block states a probability for each of its explanations, and exactly one of them is true. Where the statements
//! are calibrated, the truth of a block is a draw from them; so over blocks the number of true explanations in each bin
//! has a known mean and a known covariance, `sum over blocks of diag(a) - a a'`, a the block's probability in each
//! bin: the dependence within a block is exact, and none is estimated. The joint test is the quadratic form of what
//! was observed less expected with that covariance. Its null distribution is drawn too: truths from the statements.

use fullstand::base::{Seed, seed};
use fullstand::stats::special::chi_square_sf;
use rand::Rng;
use rayon::prelude::*;

/// What was said of one block, and which of it was true.
#[derive(Clone, Debug)]
pub struct Stated {
    /// Probability of each explanation; they add up to one.
    pub probability: Vec<f64>,
    /// The same before the data.
    pub prior: Vec<f64>,
    /// Index of the true one.
    pub truth: usize,
}

pub const BINS: usize = 10;

/// Explanations stated with a probability in one tenth.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Bin {
    pub statements: u64,
    /// Sum of the probabilities: how many should be true.
    pub stated: f64,
    pub true_ones: u64,
    /// Variance of the number of true ones, were the statements calibrated.
    pub variance: f64,
}

/// Mean logarithm of the probability given to the truth; higher is better.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LogScore {
    pub mean: f64,
    /// What it would be on average, were the statements calibrated, and the standard error of the mean then.
    pub expected: f64,
    pub error: f64,
    /// Of the probabilities before the data.
    pub of_prior: f64,
}

impl LogScore {
    /// Standard errors by which the score exceeds what calibrated statements would have; clearly below 0: too sure.
    pub fn z(&self) -> f64 {
        if self.error > 0.0 { (self.mean - self.expected) / self.error } else { 0.0 }
    }
}

#[derive(Clone, Debug, PartialEq)]
pub struct Reliability {
    pub blocks: usize,
    pub bins: [Bin; BINS],
    pub chi_squared: f64,
    pub df: usize,
    /// By the chi-squared distribution.
    pub p_value: f64,
    /// By drawing the truths from the statements: `(1 + as extreme) / (1 + draws)`.
    pub p_drawn: f64,
    pub draws: usize,
    pub log_score: LogScore,
}

/// Holds the statements against the truths; `draws` of truths from the statements.
pub fn reliability(blocks: &[Stated], draws: usize, seed: Seed) -> Reliability {
    let in_bins: Vec<[f64; BINS]> = blocks.iter().map(|b| stated_in_bins(&b.probability)).collect();
    let mut bins = [Bin::default(); BINS];
    for (block, of_block) in blocks.iter().zip(&in_bins) {
        block.probability.iter().for_each(|p| bins[bin(*p)].statements += 1);
        let truth = block.probability.get(block.truth).map_or(0, |p| bin(*p));
        bins[truth].true_ones += 1;
        for (bin, a) in bins.iter_mut().zip(of_block) {
            bin.stated += a;
            bin.variance += a * (1.0 - a);
        }
    }
    let form = QuadraticForm::of(&in_bins);
    let chi_squared = form.of_excess(&bins.map(|b| b.true_ones as f64 - b.stated));
    let extreme = (0..draws as u64).into_par_iter().filter(|draw| {
        let mut rng = seed.stream("calibration.truth", *draw);
        form.of_excess(&drawn_excess(blocks, &bins, &mut rng)) >= chi_squared - 1e-9
    });
    let p_drawn = (1 + extreme.count()) as f64 / (1 + draws) as f64;
    let p_value = chi_square_sf(chi_squared, form.rank() as f64);
    let log_score = log_score(blocks);
    Reliability { blocks: blocks.len(), bins, chi_squared, df: form.rank(), p_value, p_drawn, draws, log_score }
}

fn bin(p: f64) -> usize {
    ((p * BINS as f64) as usize).min(BINS - 1)
}

fn stated_in_bins(probability: &[f64]) -> [f64; BINS] {
    let mut bins = [0.0; BINS];
    probability.iter().for_each(|p| bins[bin(*p)] += p);
    bins
}

fn drawn_excess(blocks: &[Stated], bins: &[Bin; BINS], rng: &mut impl Rng) -> [f64; BINS] {
    let mut excess = bins.map(|b| -b.stated);
    for block in blocks {
        let mut left = seed::uniform(rng) * block.probability.iter().sum::<f64>();
        let drawn = block.probability.iter().find(|p| {
            left -= **p;
            left <= 0.0
        });
        excess[drawn.map_or(0, |p| bin(*p))] += 1.0;
    }
    excess
}

/// `d' V^- d` by a Cholesky factor with pivoting: V is singular, because the excesses add up to zero.
struct QuadraticForm {
    /// (bin, column of the factor) in the order of the pivots.
    columns: Vec<(usize, [f64; BINS])>,
}

impl QuadraticForm {
    fn of(in_bins: &[[f64; BINS]]) -> Self {
        let mut left = covariance(in_bins);
        let mut columns = Vec::new();
        let largest = (0..BINS).map(|k| left[k][k]).fold(0.0, f64::max);
        for _ in 0..BINS {
            let pivot = (0..BINS).max_by(|a, b| left[*a][*a].total_cmp(&left[*b][*b])).unwrap_or(0);
            if left[pivot][pivot] <= 1e-9 * largest {
                break;
            }
            let root = left[pivot][pivot].sqrt();
            let column = left[pivot].map(|v| v / root);
            for (j, row) in left.iter_mut().enumerate() {
                row.iter_mut().zip(&column).for_each(|(v, c)| *v -= column[j] * c);
            }
            columns.push((pivot, column));
        }
        QuadraticForm { columns }
    }

    fn rank(&self) -> usize {
        self.columns.len()
    }

    fn of_excess(&self, excess: &[f64; BINS]) -> f64 {
        let (mut left, mut form) = (*excess, 0.0);
        for (pivot, column) in &self.columns {
            let z = left[*pivot] / column[*pivot];
            left.iter_mut().zip(column).for_each(|(l, c)| *l -= z * c);
            form += z * z;
        }
        form
    }
}

fn covariance(in_bins: &[[f64; BINS]]) -> [[f64; BINS]; BINS] {
    let mut covariance = [[0.0; BINS]; BINS];
    for a in in_bins {
        for (j, row) in covariance.iter_mut().enumerate() {
            row.iter_mut().zip(a).for_each(|(v, a_k)| *v -= a[j] * a_k);
            row[j] += a[j];
        }
    }
    covariance
}

fn log_score(blocks: &[Stated]) -> LogScore {
    let n = blocks.len().max(1) as f64;
    let of_truth = |p: &[f64], truth: usize| p.get(truth).copied().unwrap_or(0.0).max(f64::MIN_POSITIVE).ln();
    let moment = |b: &Stated, power: i32| -> f64 {
        b.probability.iter().filter(|p| **p > 0.0).map(|p| p * p.ln().powi(power)).sum()
    };
    let variance = |b: &Stated| moment(b, 2) - moment(b, 1).powi(2);
    LogScore {
        mean: blocks.iter().map(|b| of_truth(&b.probability, b.truth)).sum::<f64>() / n,
        expected: blocks.iter().map(|b| moment(b, 1)).sum::<f64>() / n,
        error: blocks.iter().map(variance).sum::<f64>().max(0.0).sqrt() / n,
        of_prior: blocks.iter().map(|b| of_truth(&b.prior, b.truth)).sum::<f64>() / n,
    }
}
