//! The field: the map per place, points for pattern tests, planted runs.

use crate::block::{Code, Look, Place, State, VineIx};

/// What stands on a place at the walk.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Standing {
    Alive,
    Failed(State),
    Unsure,
    NotSeen,
    /// No vine recorded here, or removed and not replaced.
    Empty,
}

/// A place of the layout as it is now: the vine planted there latest.
#[derive(Clone, Debug, PartialEq)]
pub struct PlaceNow {
    pub place: Place,
    pub vine: Option<VineIx>,
    pub standing: Standing,
    /// The look in the chosen walk, if there was one.
    pub look: Option<Look>,
}

/// A vine of the first planting with a known outcome: a marked point for the pattern tests.
#[derive(Clone, Debug, PartialEq)]
pub struct Point {
    pub place: Place,
    pub vine: VineIx,
    pub failed: bool,
    /// Gone without a trace: counted apart where failures are held against a batch.
    pub missing: bool,
    /// Metres across and along the rows, where spacings are known.
    pub x_y_m: Option<(f64, f64)>,
    /// Codes in the order of [`super::Tally::factors`].
    pub codes: Box<[Code]>,
}

/// A planted run: a contiguous stretch of one batch along the planters' walk. The unit for tests of batch,
/// clone and stock.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Run {
    pub batch: Code,
    /// Row in which the run begins.
    pub row: u32,
    /// Indices into [`Field::points`].
    pub points: Vec<u32>,
}

/// The field.
#[derive(Clone, Debug, PartialEq)]
pub struct Field {
    /// Every place that can hold a vine, row by row.
    pub places: Vec<PlaceNow>,
    /// Row by row, one per place at most.
    pub points: Vec<Point>,
    /// Along the planters' walk; none where its order isn't known (one run per row and stretch is used then,
    /// see [`Field::runs_within_rows`]).
    pub runs: Vec<Run>,
    /// Whether the planters' walk wasn't known, so that runs were cut at row ends.
    pub runs_within_rows: bool,
}
