//! The evidence for a claim, and its limits. First edition: the counts; the rest says that it is absent.

use crate::base::words::base as words;
use crate::base::{Documented, Known};
use crate::block::{Block, State, Terms};
use crate::rates::Rates;
use crate::tally::{Counts, Tally};
use serde::Serialize;
use serde_json::Value;

/// The document `claim`.
#[derive(Clone, Debug, Serialize)]
pub struct Claim {
    pub batch: String,
    pub delivered: Known<u64>,
    pub planted: u64,
    pub seen: u64,
    pub failed: u64,
    pub missing: u64,
    /// Failures that count by the terms; where they are silent all but `missing`.
    pub counted: u64,
    pub lot: Known<Value>,
    pub process: Known<Value>,
    pub comparison: Known<Value>,
    pub separable: Known<f64>,
    pub sensitivity: Known<Value>,
    pub calendar: Known<Vec<Value>>,
    pub not_shown: Known<Vec<Value>>,
    pub manifest: Known<Vec<Value>>,
}

impl Documented for Claim {
    const SCHEMA: &'static str = "claim";
}

/// The counts behind a claim about one batch; none if no vine is of that batch.
pub fn claim(block: &Block, tally: &Tally, rates: &Rates, batch: &str) -> Option<Claim> {
    Some(of_counts(block, counts_of(tally, batch)?, rates, batch))
}

/// The same for a block that holds no vine of the batch, as one of an estate may: nothing planted, nothing failed.
pub fn claim_of_none(block: &Block, rates: &Rates, batch: &str) -> Claim {
    of_counts(block, Counts::default(), rates, batch)
}

fn of_counts(block: &Block, counts: Counts, rates: &Rates, batch: &str) -> Claim {
    let delivery = block.deliveries.iter().find(|d| d.batch == batch);
    Claim {
        batch: batch.into(),
        delivered: Known::from_option(delivery.and_then(|d| d.delivered), words::NOT_RECORDED, words::WRITE_BATCHES),
        planted: counts.planted,
        seen: counts.seen,
        failed: counts.failed,
        missing: counts.missing,
        counted: counted(&counts, block.terms.get(batch)),
        lot: later(),
        process: later(),
        comparison: later(),
        separable: separable(rates, batch),
        sensitivity: later(),
        calendar: later(),
        not_shown: later(),
        manifest: later(),
    }
}

/// The counts of every cell of the batch.
fn counts_of(tally: &Tally, batch: &str) -> Option<Counts> {
    let factor = tally.factors.iter().position(|f| f.name == "batch")?;
    let code = tally.factors[factor].levels.iter().position(|l| l == batch)? as u32;
    let mut sum = Counts::default();
    tally.cells.iter().filter(|c| c.codes[factor] == code).for_each(|c| sum.add(&c.counts));
    Some(sum)
}

/// Failures that count against the batch.
fn counted(counts: &Counts, terms: Option<&Terms>) -> u64 {
    let Some(covers) = terms.and_then(|t| t.covers.as_ref()) else {
        return counts.failed.saturating_sub(counts.missing);
    };
    let of = |state: &State| match state {
        State::NoBudburst => counts.never_grew,
        State::Died => counts.died,
        State::Dead => counts.dead,
        State::ScionDead => counts.scion_dead,
        State::Missing => counts.missing,
        State::Alive | State::Unsure => 0,
    };
    covers.iter().map(of).sum()
}

fn separable(rates: &Rates, batch: &str) -> Known<f64> {
    let levels = rates.factors.iter().find(|f| f.factor == "batch").map(|f| &f.levels);
    match levels.and_then(|l| l.iter().find(|l| l.level == batch)) {
        Some(level) => level.separable.clone(),
        None => later(),
    }
}

fn later<T>() -> Known<T> {
    Known::absent(words::LATER, words::LATER_HELP)
}
