//! What each vine needs this winter, by a written key.

pub(crate) mod counts;
pub mod key;
pub mod rules;
mod work;

pub use crate::tally::Calendar;
pub use key::Key;
pub use rules::{RULES, Rule, Verdict};

use crate::base::words::triage as words;
use crate::base::{Documented, Known, SourceKey};
use crate::block::{Block, Place, State};
use crate::tally::{PlaceNow, Standing, Tally};
use key::Witness;
use serde::Serialize;
use std::collections::BTreeMap;
use work::Totals;

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

/// Sorts every place of the block by the key ([`RULES`]), its thresholds from the block's assumptions.
///
/// With counts per row only, `vines` is absent and the totals come from the counts: failed ones are replaced (held
/// where terms are agreed for their batch, unless missing), good ones or those at the wire taken up, weak ones cut
/// back, the rest of the living and those nobody told looked at again.
pub fn triage(block: &Block, tally: &Tally) -> Triage {
    match &tally.field {
        Some(field) => by_vine(block, tally, &field.places),
        None => by_counts(block, tally),
    }
}

fn by_vine(block: &Block, tally: &Tally, places: &[PlaceNow]) -> Triage {
    let key = Key::of(block);
    let witness = Witness::new(block, tally, &key);
    let vines: Vec<Work> = places.iter().map(|now| line(block, &witness, now, &key)).collect();
    let mut rows: Vec<RowWork> = block.layout.rows.iter().map(|r| no_work(&r.label)).collect();
    let mut totals = work::none();
    for (now, work) in places.iter().zip(&vines) {
        work::add(&mut totals, work.action, 1);
        if let Some(row) = rows.get_mut(now.place.row as usize) {
            row.places += 1;
            row.empty += u64::from(now.standing == Standing::Empty);
            work::add(&mut row.totals, work.action, 1);
        }
    }
    let gaps = places.iter().filter(|now| is_gap(now.standing)).count() as u64;
    finish(block, Known::Value(vines), totals, rows, gaps)
}

/// Whether a place holds nothing that must be pulled before planting.
pub fn is_gap(standing: Standing) -> bool {
    matches!(standing, Standing::Empty | Standing::Failed(State::Missing))
}

fn line(block: &Block, witness: &Witness, now: &PlaceNow, key: &Key) -> Work {
    let (rule, verdict) = rules::decide(&witness.see(now), key);
    Work {
        row: block.layout.rows.get(now.place.row as usize).map_or(String::new(), |r| r.label.clone()),
        position: now.place.position,
        action: verdict.action,
        rule,
        why: verdict.why,
        place: now.place,
        batch: now.vine.and_then(|v| witness.batch(v)).map(str::to_string),
    }
}

fn no_work(row: &str) -> RowWork {
    RowWork { row: row.into(), places: 0, empty: 0, totals: work::none() }
}

fn by_counts(block: &Block, tally: &Tally) -> Triage {
    let sorted = counts::sort(block, tally);
    let gaps = sorted.iter().map(|c| c.gaps).sum();
    let vines = Known::absent(words::COUNTS_ONLY, words::COUNTS_ONLY_HELP);
    let mut totals = work::none();
    sorted.iter().flat_map(|c| &c.totals).for_each(|(action, n)| work::add(&mut totals, *action, *n));
    finish(block, vines, totals, counts::rows(block, &sorted), gaps)
}

fn finish(block: &Block, vines: Known<Vec<Work>>, totals: Totals, rows: Vec<RowWork>, gaps: u64) -> Triage {
    Triage {
        vines,
        labour_hours: work::hours(&totals, gaps, &block.assumptions),
        materials: work::materials(&totals, &block.assumptions),
        totals,
        rows,
        sources: Vec::new(),
    }
}
