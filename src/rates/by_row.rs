//! Levels compared within rows: Mantel & Haenszel by row, counting vines.
//!
//! Unit: the vine. Vines of a row are taken for exchangeable, which neighbours planted as one run are not: beside a hollow
//! an innocent batch planted in bundles is found too often (docs/calibration.md). Whether a batch differs is asked
//! of planted runs (`heterogeneity`); these numbers say how large a difference is, and that it isn't one of rows.

use super::heterogeneity::Question;
use super::or_absent;
use crate::base::Known;
use crate::base::known::Why;
use crate::base::words::{fill, rates as words};
use crate::stats::generalised_cmh::{Asked, GroupCounts, generalised_cmh};
use crate::stats::hypergeometric::FourFold;
use crate::stats::stratified::{exact_conditional, mantel_haenszel};
use serde::Serialize;
use std::collections::BTreeMap;

/// One level against the factor's other levels within rows; vines missing without a trace are left out.
#[derive(Clone, Debug, Serialize)]
pub struct LevelByRow {
    /// Odds of failure, the level over the others, common to all rows (Mantel & Haenszel 1959).
    pub odds_ratio: Known<f64>,
    /// By Robins, Breslow & Greenland (1986); exact where no vine failed on one side.
    pub low: Known<f64>,
    pub high: Known<f64>,
    /// Mantel & Haenszel's chi-square.
    pub p_value: Known<f64>,
    /// The exact conditional test.
    pub p_exact: Known<f64>,
    /// Rows that hold vines of both sides, some failed and some not.
    pub informative_rows: u64,
    /// What is counted: `vine`.
    pub unit: &'static str,
}

/// All levels at once: the generalised Cochran-Mantel-Haenszel statistic.
#[derive(Clone, Copy, Debug, Serialize)]
pub struct ByRow {
    pub statistic: f64,
    pub df: f64,
    pub p_value: f64,
    /// What is counted: `vine`.
    pub unit: &'static str,
}

/// Vines lost and kept of each level, row by row.
pub(super) struct Rows {
    rows: Vec<BTreeMap<u32, [u64; 2]>>,
}

impl Rows {
    /// None where the factor is the row, or no rows are known.
    pub(super) fn of(asked: &Question) -> Option<Rows> {
        let row = asked.tally.factors.iter().position(|f| f.name == "row").filter(|&row| row != asked.index)?;
        let mut rows = BTreeMap::<u32, BTreeMap<u32, [u64; 2]>>::new();
        for cell in &asked.tally.cells {
            let (Some(code), Some(row)) = (asked.code(cell), cell.codes.get(row)) else { continue };
            let (told, lost) = asked.loss().counted(&cell.counts);
            let counts = rows.entry(*row).or_default().entry(code).or_default();
            (counts[0], counts[1]) = (counts[0] + lost, counts[1] + (told - lost));
        }
        Some(Rows { rows: rows.into_values().collect() })
    }

    /// `[[lost, kept] of the level, [lost, kept] of the others]` of the rows that hold the level.
    fn tables(&self, code: u32) -> Vec<FourFold> {
        let of_row = |row: &BTreeMap<u32, [u64; 2]>| {
            let own = *row.get(&code)?;
            let all = row.values().fold([0, 0], |sum, c| [sum[0] + c[0], sum[1] + c[1]]);
            Some([own, [all[0] - own[0], all[1] - own[1]]])
        };
        self.rows.iter().filter_map(of_row).collect()
    }

    pub(super) fn of_level(&self, code: u32, level: f64) -> Option<LevelByRow> {
        let tables = self.tables(code);
        let test = mantel_haenszel(&tables, level);
        if test.informative == 0 {
            return None;
        }
        let exact = exact_conditional(&tables, level);
        let large = Why::new(words::BY_ROW_LARGE, words::BY_ROW_LARGE_HELP);
        let unbounded = Why::new(words::BY_ROW_UNBOUNDED, words::BY_ROW_UNBOUNDED_HELP);
        let (low, high) = match (test.odds_ratio_interval, &exact) {
            (Some(interval), _) => (Some(interval.low), Some(interval.high)),
            (None, Some(exact)) => (Some(exact.low), exact.high),
            (None, None) => (None, None),
        };
        Some(LevelByRow {
            odds_ratio: or_absent(test.odds_ratio, &unbounded),
            low: or_absent(low, &large),
            high: or_absent(high, &unbounded),
            p_value: or_absent(test.test.map(|t| t.p_value), &unbounded),
            p_exact: or_absent(exact.map(|e| e.p_two_sided.clamp(0.0, 1.0)), &large),
            informative_rows: test.informative as u64,
            unit: "vine",
        })
    }

    fn of_factor(&self) -> Option<ByRow> {
        let group = |(&group, counts): (&u32, &[u64; 2])| GroupCounts { group, counts: counts.to_vec() };
        let strata: Vec<Vec<GroupCounts>> = self.rows.iter().map(|row| row.iter().map(group).collect()).collect();
        let test = generalised_cmh(&strata, &Asked::GeneralAssociation)?;
        Some(ByRow { statistic: test.statistic, df: test.df, p_value: test.p_value, unit: "vine" })
    }
}

/// All levels of the factor by row; absent for rows themselves, and where no row holds two levels, some vines of them
/// failed and some not.
pub(super) fn of_factor(asked: &Question) -> Known<ByRow> {
    or_absent(Rows::of(asked).and_then(|rows| rows.of_factor()), &no_row(asked.factor()))
}

/// Why nothing is said by row.
pub(super) fn no_row(factor: &str) -> Why {
    match factor {
        "row" => Why::new(words::ROWS_BY_ROW, words::ROWS_BY_ROW_HELP),
        _ => Why::new(fill(words::NO_ROW_HOLDS_BOTH, &[("factor", &factor)]), words::NO_ROW_HOLDS_BOTH_HELP),
    }
}
