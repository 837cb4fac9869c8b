//! What the comparable part alone says: rows that hold the level and another one.

use super::{Level, RowCounts};
use crate::base::words::number::{count, plain};
use crate::base::words::unsettled as words;
use crate::base::{Known, Seed};
use crate::runs::{Held, Loss, Runs, stream};
use crate::stats::hypergeometric::FourFold;
use crate::stats::permute::Effort;
use crate::stats::stratified::mantel_haenszel;
use crate::tally::Point;
use serde::Serialize;

/// The level against its neighbours in the rows that hold both.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Comparable {
    pub rows: u64,
    /// Vines seen there, missing ones left out, and how many of them failed; of both sides.
    pub vines: u64,
    pub failed: u64,
    /// What odds ratio and limits count: `vine`.
    pub unit: &'static str,
    /// Odds of failure of the level over those of the others, by row (Mantel & Haenszel 1959, `mantel-haenszel-1959`).
    pub odds_ratio: Known<f64>,
    /// Limits that treat each vine by itself (Robins, Breslow & Greenland 1986, `robins-1986`): too narrow where vines
    /// planted together share their fate, which `p_value` allows for.
    pub low: Known<f64>,
    pub high: Known<f64>,
    /// Labels of planted runs dealt anew within rows.
    pub p_value: Known<f64>,
    pub p_unit: &'static str,
}

/// Absent where no row holds both.
pub(super) fn comparable(level: &Level, confidence: f64, effort: &Effort, seed: Seed) -> Known<Comparable> {
    let rows: Vec<RowCounts> = level.rows().into_iter().filter(RowCounts::holds_both).collect();
    if rows.is_empty() {
        let said = |sentence| level.fill(sentence, &[]);
        return Known::absent(said(words::NO_MIXED_ROW), said(words::NO_MIXED_ROW_HELP));
    }
    let table = |(n, x): (u64, u64)| [x, n - x.min(n)];
    let strata: Vec<FourFold> = rows.iter().map(|r| [table(r.mine), table(r.others)]).collect();
    let pooled = mantel_haenszel(&strata, confidence);
    let limits = pooled.odds_ratio_interval;
    let known = |value: Option<f64>| Known::from_option(value, words::NO_ODDS, words::NO_ODDS_HELP);
    Known::Value(Comparable {
        rows: rows.len() as u64,
        vines: rows.iter().map(|r| r.mine.0 + r.others.0).sum(),
        failed: rows.iter().map(|r| r.mine.1 + r.others.1).sum(),
        unit: "vine",
        odds_ratio: known(pooled.odds_ratio),
        low: known(limits.map(|l| l.low)),
        high: known(limits.map(|l| l.high)),
        p_value: by_runs(level, effort, seed),
        p_unit: "planted run",
    })
}

/// p-value of the level against all others, the labels of planted runs dealt anew within rows.
fn by_runs(level: &Level, effort: &Effort, seed: Seed) -> Known<f64> {
    let none = || Known::absent(words::NO_RUNS, words::NO_RUNS_HELP);
    let Some(field) = level.tally.field.as_ref() else { return none() };
    let runs = Runs::labelled(field, |p: &Point| level.is_mine(&p.codes).map(u32::from), Loss::Failed);
    if !runs.are_several() {
        return none();
    }
    let name = format!("{}.{}", stream(level.factor_name(), Held::Row), level.label());
    let redealt = runs.redeal(Held::Row, effort, &name, seed);
    match redealt.statistic.silence() {
        Some(_) => none(),
        None if redealt.in_bands => Known::absent(level.fill(words::RUNS_IN_BANDS, &[]), words::RUNS_IN_BANDS_HELP),
        None => Known::Value(redealt.statistic.p_greater),
    }
}

impl Comparable {
    pub(super) fn said(&self, level: &Level, odds: f64) -> String {
        let noun = if self.rows == 1 { words::THE_ROW } else { words::THE_ROWS };
        let rows = format!("{} {noun}", count(self.rows));
        let values: [(&str, &dyn std::fmt::Display); 4] =
            [("rows", &rows), ("vines", &count(self.vines)), ("failed", &count(self.failed)), ("odds", &plain(odds))];
        level.fill(words::COMPARABLE, &values)
    }
}
