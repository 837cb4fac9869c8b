//! How much batches and rows differ: what the reach of a comparison depends on.

use crate::base::words::rates as words;
use crate::base::{Known, Quantity, Scale};
use crate::block::{Code, UNKNOWN};
use crate::stats::power::{self, between_of_correlation};
use crate::tally::Tally;
use std::collections::BTreeMap;

/// Draws over which power is averaged at most: they are taken evenly from those given.
const MOST_DRAWS: usize = 32;
/// Normal deviates of five equally likely fifths' medians.
const FIFTHS: [f64; 5] = [-1.281_551_565_5, -0.524_400_512_7, 0.0, 0.524_400_512_7, 1.281_551_565_5];

/// Standard deviations between batches and between rows on the logit scale: draws from their joint posterior, paired
/// by index, or one point each.
#[derive(Clone, Debug, PartialEq)]
pub struct Spread {
    pub batch: Known<Vec<f64>>,
    pub row: Known<Vec<f64>>,
}

impl Spread {
    /// Where the batches' part comes from, in words.
    pub(super) fn source(&self) -> &'static str {
        match self.batch.value().and_then(|d| median(d)) {
            Some(_) => words::POWER_SPREAD_SOURCE_BLOCK,
            None => words::POWER_SPREAD_SOURCE_ASSUMED,
        }
    }

    /// At most [`MOST_DRAWS`] equally likely pairs with runs of `run` vines. Without a batch sd the assumed `correlation`
    /// of vines of a batch at `stand` takes its place, in five points; without a row sd rows are taken to be alike.
    pub(super) fn draws(&self, run: f64, correlation: &Quantity, stand: f64) -> Vec<power::Spread> {
        let given = self.batch.value().map(|d| evenly(d)).filter(|d| !d.is_empty());
        let assumed = || {
            let sd = |z: &f64| between_of_correlation(stand, correlation.at_z(*z, Scale::Rate));
            FIFTHS.iter().map(sd).collect()
        };
        let batch: Vec<f64> = given.unwrap_or_else(assumed);
        let row = self.row.value().map(|d| evenly(d)).filter(|d| !d.is_empty()).unwrap_or_else(|| vec![0.0]);
        let longest = batch.len().max(row.len());
        let pairs = batch.iter().cycle().zip(row.iter().cycle()).take(longest);
        pairs.map(|(b, r)| power::Spread { between: *b, within: *r, run: run.max(1.0) }).collect()
    }
}

/// The finite ones, [`MOST_DRAWS`] at most, evenly over their order.
fn evenly(draws: &[f64]) -> Vec<f64> {
    let take = draws.len().min(MOST_DRAWS);
    let picked = (0..take).filter_map(|i| draws.get((2 * i + 1) * draws.len() / (2 * take)));
    picked.copied().filter(|d| d.is_finite()).map(|d| d.max(0.0)).collect()
}

/// The middle value; none of nothing.
pub(super) fn median(values: &[f64]) -> Option<f64> {
    let mut sorted: Vec<f64> = values.iter().copied().filter(|v| v.is_finite()).collect();
    sorted.sort_by(f64::total_cmp);
    let (low, high) = (sorted.get(sorted.len().saturating_sub(1) / 2)?, sorted.get(sorted.len() / 2)?);
    Some(0.5 * (low + high))
}

/// Vines seen by the definite levels of these factors, those without a vine seen left out; empty where the block lacks
/// one of the factors.
pub(super) fn seen_by<const N: usize>(tally: &Tally, names: [&str; N]) -> BTreeMap<[Code; N], u64> {
    let mut seen = BTreeMap::new();
    let found = names.map(|name| tally.factors.iter().position(|f| f.name == name));
    for cell in tally.cells.iter().filter(|cell| cell.counts.seen > 0) {
        let code = |index: Option<usize>| {
            let index = index?;
            let code = cell.codes.get(index).copied().filter(|c| *c != UNKNOWN)?;
            tally.factors.get(index)?.definite.get(code as usize)?.then_some(code)
        };
        let codes = found.map(code);
        if codes.iter().all(Option::is_some) {
            *seen.entry(codes.map(Option::unwrap_or_default)).or_insert(0) += cell.counts.seen;
        }
    }
    seen
}

/// Vines of one batch in one row, at the median; of one row where batches aren't known; 1 where neither is.
pub(super) fn vines_in_a_run(tally: &Tally) -> f64 {
    let of = |seen: Vec<u64>| median(&seen.iter().map(|n| *n as f64).collect::<Vec<_>>());
    let by_batch = of(seen_by(tally, ["batch", "row"]).into_values().collect());
    by_batch.or_else(|| of(seen_by(tally, ["row"]).into_values().collect())).unwrap_or(1.0).max(1.0)
}
