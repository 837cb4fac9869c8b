//! What can't be told apart, said first: bounds for a level's share of the failures, and what would settle it.
//!
//! | file | what it is for |
//! | --- | --- |
//! | `ties` | what explains the same vines just as well |
//! | `comparable` | what the rows that hold two levels or more say |
//! | `settle` | what would settle it: vines, rows, papers, laboratory, the next planting |

mod comparable;
mod settle;
mod ties;

pub use comparable::Comparable;
pub use settle::Settle;
pub use ties::JustAsWell;

use super::Separable;
use super::signature::Places;
use crate::base::words::list::{list, plural};
use crate::base::words::number::{count, plain};
use crate::base::words::{fill, unsettled as words};
use crate::base::{Assumptions, Known, Seed, SourceKey};
use crate::stats::permute::Effort;
use crate::tally::{Cell, Tally};
use serde::Serialize;
use std::collections::BTreeMap;

/// Settings of `unsettled`.
#[derive(Clone, Debug, PartialEq)]
pub struct Config {
    /// Level of limits, in (0, 1).
    pub level: f64,
    /// Efficiency against rows below which a level is only partly told apart (`unsettled.partly_below`).
    pub partly_below: f64,
    /// Vines named for each thing to look at (`signature.vines_to_look_at`).
    pub vines: usize,
}

impl Config {
    pub fn new(level: f64, assumptions: &Assumptions) -> Self {
        let vines = assumptions.get("signature.vines_to_look_at") as usize;
        Config { level, partly_below: assumptions.get("unsettled.partly_below"), vines }
    }
}

impl Default for Config {
    fn default() -> Self {
        Config::new(0.9, &Assumptions::default())
    }
}

/// The works that it stands on.
pub(super) const SOURCES: [SourceKey; 3] = ["john-williams-1995", "mantel-haenszel-1959", "robins-1986"];

/// A level whose failures something else explains just as well, or nearly.
#[derive(Clone, Debug, Serialize)]
pub struct Unsettled {
    pub factor: String,
    pub level: String,
    /// Vines seen and failed, missing ones left out.
    pub seen: u64,
    pub failed: u64,
    /// What explains the same vines just as well; empty where it is told apart in part.
    pub just_as_well: Vec<JustAsWell>,
    /// Failures above what the rate of the factor's other levels gives: x - n x' / n', of n vines x failed, of the
    /// others' n' vines x'. Below 0 where fewer failed.
    pub excess_failures: Known<f64>,
    /// Bounds for the level's own share of that excess: no arithmetic can narrow them where levels coincide.
    pub share_low: Known<f64>,
    pub share_high: Known<f64>,
    pub comparable: Known<Comparable>,
    pub settle: Vec<Settle>,
    /// All of this in one or two sentences.
    pub said: String,
}

/// A level of a factor, by index and code.
#[derive(Clone, Copy)]
struct Level<'a> {
    tally: &'a Tally,
    factor: usize,
    code: u32,
}

/// Vines seen and failed, missing ones left out.
type Told = (u64, u64);

fn sum(a: Told, b: Told) -> Told {
    (a.0 + b.0, a.1 + b.1)
}

/// A row's vines of the level, and of others.
struct RowCounts {
    /// Code of the row.
    row: u32,
    mine: Told,
    others: Told,
}

impl RowCounts {
    fn holds_both(&self) -> bool {
        self.mine.0 > 0 && self.others.0 > 0
    }
}

/// The levels of batch, clone and rootstock (those of `separable`) that something else explains just as well, or from
/// which rows leave less than `partly_below` to tell them by. Those with the most excess failures come first.
pub(super) fn unsettled(
    tally: &Tally,
    separable: &[Separable],
    config: &Config,
    effort: &Effort,
    seed: Seed,
) -> Vec<Unsettled> {
    let places = Places::of(tally);
    let of_level = |pairs: &[Separable]| {
        let (factor, level) = (pairs.first()?.factor.as_str(), pairs.first()?.level.as_str());
        let at = tally.factors.iter().position(|f| f.name == factor)?;
        let code = tally.factors.get(at)?.levels.iter().position(|l| l == level)? as u32;
        Level { tally, factor: at, code }.unsettled(pairs, &places, config, (effort, seed))
    };
    let mut by_level: Vec<Separable> = separable.to_vec();
    by_level.sort_by(|a, b| (&a.factor, &a.level).cmp(&(&b.factor, &b.level)));
    let levels = by_level.chunk_by(|a, b| (&a.factor, &a.level) == (&b.factor, &b.level));
    let mut list: Vec<Unsettled> = levels.filter_map(of_level).collect();
    let excess = |u: &Unsettled| u.excess_failures.value().copied().unwrap_or(0.0);
    list.sort_by(|a, b| excess(b).total_cmp(&excess(a)));
    list
}

impl<'a> Level<'a> {
    fn unsettled(
        &self,
        pairs: &[Separable],
        places: &Places,
        config: &Config,
        (effort, seed): (&Effort, Seed),
    ) -> Option<Unsettled> {
        let just_as_well = ties::just_as_well(self, pairs);
        let from_row = pairs.iter().find(|s| s.from == "row").map(|s| s.efficiency);
        if just_as_well.is_empty() && from_row.is_none_or(|e| e >= config.partly_below) {
            return None;
        }
        let (mine, others) = self.counts();
        let excess = (others.0 > 0).then(|| mine.1 as f64 - mine.0 as f64 * others.1 as f64 / others.0 as f64);
        let bound = |share: f64| match excess {
            Some(excess) if excess > 0.0 => Known::Value(share),
            _ => Known::absent(words::NO_EXCESS, words::NO_EXCESS_HELP),
        };
        let comparable = comparable::comparable(self, config.level, effort, seed);
        Some(Unsettled {
            factor: self.factor_name().into(),
            level: self.label().into(),
            seen: mine.0,
            failed: mine.1,
            said: self.said(mine, excess, &just_as_well, &comparable),
            settle: settle::settle(self, &just_as_well, places, config.vines),
            just_as_well,
            excess_failures: Known::from_option(
                excess,
                self.fill(words::NO_OTHERS, &[]),
                self.fill(words::NO_OTHERS_HELP, &[]),
            ),
            share_low: bound(0.0),
            share_high: bound(1.0),
            comparable,
        })
    }

    /// Vines seen and failed, missing ones left out, of this level and of the factor's other definite levels.
    fn counts(&self) -> (Told, Told) {
        let add = |(mine, others): (Told, Told), (is_mine, told): (bool, Told)| match is_mine {
            true => (sum(mine, told), others),
            false => (mine, sum(others, told)),
        };
        self.told().map(|(_, is_mine, told)| (is_mine, told)).fold(Default::default(), add)
    }

    /// Every cell of a definite level: the cell, whether it is of this level, and its counts.
    fn told(&self) -> impl Iterator<Item = (&'a Cell, bool, Told)> {
        let counts = |cell: &Cell| {
            let of = |n: u64| n.saturating_sub(cell.counts.missing);
            (of(cell.counts.seen), of(cell.counts.failed))
        };
        self.tally.cells.iter().filter_map(move |cell| Some((cell, self.is_mine(&cell.codes)?, counts(cell))))
    }

    /// Whether codes are of this level, or of another definite one; none where neither.
    fn is_mine(&self, codes: &[u32]) -> Option<bool> {
        let code = codes.get(self.factor).copied()?;
        let definite = self.tally.factors.get(self.factor)?.definite.get(code as usize) == Some(&true);
        definite.then_some(code == self.code)
    }

    /// The rows in order, with the counts of this level and of the others.
    fn rows(&self) -> Vec<RowCounts> {
        let Some(at) = self.row_at() else { return Vec::new() };
        let mut by_row = BTreeMap::<u32, (Told, Told)>::new();
        for (cell, is_mine, told) in self.told() {
            let Some(&row) = cell.codes.get(at) else { continue };
            let (mine, others) = by_row.entry(row).or_default();
            let of = if is_mine { mine } else { others };
            *of = sum(*of, told);
        }
        by_row.into_iter().map(|(row, (mine, others))| RowCounts { row, mine, others }).collect()
    }

    /// Codes of the rows that hold vines of this level.
    fn own_rows(&self) -> Vec<u32> {
        self.rows().iter().filter(|r| r.mine.0 > 0).map(|r| r.row).collect()
    }

    fn row_at(&self) -> Option<usize> {
        self.tally.factors.iter().position(|f| f.name == "row")
    }

    fn factor_name(&self) -> &'a str {
        self.tally.factors.get(self.factor).map_or("", |f| &f.name)
    }

    fn label(&self) -> &'a str {
        self.tally.factors.get(self.factor).and_then(|f| f.levels.get(self.code as usize)).map_or("", String::as_str)
    }

    /// Fills a sentence, `{level}` as "batch L3".
    fn fill(&self, sentence: &str, values: &[(&str, &dyn std::fmt::Display)]) -> String {
        let (factor, level) = (self.factor_name(), format!("{} {}", self.factor_name(), self.label()));
        let factors = plural(factor);
        let mut all: Vec<(&str, &dyn std::fmt::Display)> = vec![("factor", &factor), ("factors", &factors)];
        all.push(("level", &level));
        all.extend(values);
        fill(sentence, &all)
    }

    fn said(
        &self,
        (seen, failed): Told,
        excess: Option<f64>,
        ties: &[JustAsWell],
        comparable: &Known<Comparable>,
    ) -> String {
        let excess = excess.unwrap_or(0.0);
        let sentence = match ties {
            _ if excess <= 0.0 => words::SAID_NO_EXCESS,
            [] => words::SAID_PARTLY,
            _ => words::SAID,
        };
        let names: Vec<String> = ties.iter().map(|t| t.with.clone()).collect();
        let others = if names.is_empty() { words::THE_ROWS.to_string() } else { list(&names, 4) };
        let values: [(&str, &dyn std::fmt::Display); 4] = [
            ("failed", &count(failed)),
            ("seen", &count(seen)),
            ("excess", &plain(excess.round())),
            ("others", &others),
        ];
        let said = self.fill(sentence, &values);
        match comparable.value().and_then(|c| Some((c, c.odds_ratio.value()?))) {
            Some((c, odds)) => said + " " + &c.said(self, *odds),
            None => said,
        }
    }
}

/// Rows in words: `row 4`, `rows 1, 2 and 7 to 12`.
fn rows_named(tally: &Tally, codes: &[u32]) -> String {
    let labels = tally.factors.iter().find(|f| f.name == "row").map_or(&[][..], |f| &f.levels);
    let label = |code: u32| labels.get(code as usize).cloned().unwrap_or_default();
    let stretches: Vec<String> = codes
        .chunk_by(|a, b| a.checked_add(1) == Some(*b))
        .flat_map(|stretch| match stretch {
            [first, _, .., last] => vec![format!("{} to {}", label(*first), label(*last))],
            few => few.iter().map(|&code| label(code)).collect(),
        })
        .collect();
    let noun = if codes.len() == 1 { words::THE_ROW } else { words::THE_ROWS };
    format!("{noun} {}", list(&stretches, 6))
}
