//! The only bridge from vines to numbers: histories to counts per cell, the field with its places in metres,
//! planted runs and strata.

pub mod cells;
pub mod field;
pub mod history;

pub use cells::{Cell, Counts, TallyFactor};
pub use field::{Field, PlaceNow, Point, Run, Standing};
pub use history::{Histories, Outcome};

use crate::block::Block;
use jiff::civil::Date;

/// Everything that the models need of a block at one walk.
#[derive(Clone, Debug)]
pub struct Tally {
    /// First and last day of the chosen walk; none where only counts without a date are known.
    pub walk: Option<(Date, Date)>,
    /// `variety`, `clone`, `rootstock`, `batch`, `row`, then declared factors by name; those with any known level.
    pub factors: Vec<TallyFactor>,
    /// Distinct combinations of levels with their counts, ordered by code. Rates are per vine ever planted.
    pub cells: Vec<Cell>,
    pub total: Counts,
    /// The map per place, and the points for pattern tests; none where only counts are known.
    pub field: Option<Field>,
    /// Outcome of every vine of the register at the walk, by index; empty where only counts are known.
    pub outcomes: Vec<Outcome>,
}

/// Why there is no tally.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NoTally {
    #[error("no walk has a day on {0}")]
    NoSuchWalk(Date),
    #[error("no walk through the rows is recorded")]
    NoWalk,
}

/// Tallies the block at the walk that has a look on `survey`, or at the latest walk.
pub fn tally(block: &Block, survey: Option<Date>) -> Result<Tally, NoTally> {
    let _ = (block, survey);
    todo!()
}
