//! What each vine needs this winter, by a written key.

use crate::base::{Documented, Known, SourceKey};
use crate::block::{Block, Place};
use crate::tally::Tally;
use serde::Serialize;
use std::collections::BTreeMap;

/// What to do with a vine.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Action {
    TakeUp,
    CutBack,
    Replace,
    Move,
    /// Failed, but evidence: leave it standing until the nursery has seen it or it is sampled.
    Hold,
    LookAgain,
    Leave,
}

impl Action {
    pub const ALL: [Action; 7] = [
        Action::TakeUp,
        Action::CutBack,
        Action::Replace,
        Action::Move,
        Action::Hold,
        Action::LookAgain,
        Action::Leave,
    ];
}

/// The document `triage`.
#[derive(Clone, Debug, Serialize)]
pub struct Triage {
    /// In walking order: row by row, by position. Absent where only counts are known.
    pub vines: Known<Vec<Work>>,
    /// Every action, also where it is 0.
    pub totals: BTreeMap<Action, u64>,
    pub labour_hours: f64,
    /// Things to buy: vines, guards, ties.
    pub materials: BTreeMap<&'static str, u64>,
    /// Totals per row, rows in order across the block.
    pub rows: Vec<RowWork>,
    #[serde(skip)]
    pub sources: Vec<SourceKey>,
}

/// One vine's line of the work list.
#[derive(Clone, Debug, Serialize)]
pub struct Work {
    pub row: String,
    pub position: u32,
    pub action: Action,
    /// Name of the rule that fired.
    pub rule: &'static str,
    pub why: String,
    #[serde(skip)]
    pub place: Place,
    #[serde(skip)]
    pub batch: Option<String>,
}

#[derive(Clone, Debug, Serialize)]
pub struct RowWork {
    pub row: String,
    /// Places that can hold a vine.
    pub places: u64,
    /// Places without a vine now (never planted, or removed and not replaced); part of `replace`.
    pub empty: u64,
    pub totals: BTreeMap<Action, u64>,
}

impl Documented for Triage {
    const SCHEMA: &'static str = "triage";
    fn sources(&self) -> Vec<SourceKey> {
        self.sources.clone()
    }
}

/// Sorts every place of the block by the key.
pub fn triage(block: &Block, tally: &Tally) -> Triage {
    let _ = (block, tally);
    todo!()
}
