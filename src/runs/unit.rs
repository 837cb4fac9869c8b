//! What labels are dealt to.

use crate::tally::{Counts, Field, Point, Tally};
use std::collections::BTreeMap;

/// What counts as a loss.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Loss {
    /// Any failure but a vine missing without a trace.
    Failed,
    /// Never grew.
    NeverGrew,
    /// Grew, then died.
    DiedLater,
    /// Missing without a trace: the one loss for which vines missing are counted.
    Missing,
}

impl Loss {
    fn of(self, point: &Point) -> bool {
        match self {
            Loss::Failed => point.failed,
            Loss::NeverGrew => point.never_grew,
            Loss::DiedLater => point.died_later,
            Loss::Missing => point.missing,
        }
    }

    /// Whether a vine counts among those told.
    fn tells(self, point: &Point) -> bool {
        self == Loss::Missing || !point.missing
    }

    /// Vines told and lost of a cell; vines missing without a trace count in neither, unless they are asked about.
    pub fn counted(self, counts: &Counts) -> (u64, u64) {
        let without_missing = counts.seen.saturating_sub(counts.missing);
        let told = if self == Loss::Missing { counts.seen } else { without_missing };
        let lost = match self {
            Loss::Failed => counts.failed.saturating_sub(counts.missing),
            Loss::NeverGrew => counts.never_grew,
            Loss::DiedLater => counts.died,
            Loss::Missing => counts.missing,
        };
        (told, lost.min(told))
    }
}

/// A stretch of one label along the planters' walk, or what plays its part where there are no places.
#[derive(Clone, Debug, PartialEq)]
pub struct Unit {
    pub label: u32,
    /// The row in which it begins.
    pub(super) row: u32,
    /// Index of the planted run that it is (a part) of.
    pub(super) run: u32,
    /// Indices of its points in the field.
    pub(super) points: Vec<u32>,
    /// Vines with a known outcome but those missing without a trace, and those lost of them.
    pub seen: f64,
    pub failed: f64,
}

/// Planted runs cut where the label changes; stretches without a label are left out.
pub(super) fn of_runs(field: &Field, label: impl Fn(&Point) -> Option<u32>, loss: Loss) -> Vec<Unit> {
    let mut units = Vec::new();
    for (index, run) in field.runs.iter().enumerate() {
        let points: Vec<(u32, &Point)> = points(field, &run.points).collect();
        let stretches = points.chunk_by(|(_, a), (_, b)| label(a) == label(b));
        units.extend(stretches.filter_map(|stretch| Unit::of(label(stretch.first()?.1)?, index as u32, stretch, loss)));
    }
    units
}

/// Stretches of one label row by row, each a run of its own; cut at row ends where the planters' walk isn't known.
pub(super) fn of_stretches(field: &Field, label: impl Fn(&Point) -> Option<u32>, loss: Loss) -> Vec<Unit> {
    let points: Vec<(u32, &Point)> = field.points.iter().enumerate().map(|(i, p)| (i as u32, p)).collect();
    let goes_on =
        |a: &Point, b: &Point| label(a) == label(b) && !(field.runs_within_rows && a.place.row != b.place.row);
    let stretches = points.chunk_by(|(_, a), (_, b)| goes_on(a, b)).enumerate();
    let of =
        |(run, stretch): (usize, &[(u32, &Point)])| Unit::of(label(stretch.first()?.1)?, run as u32, stretch, loss);
    stretches.filter_map(of).collect()
}

/// Stretches of one label along the planters' walk, whatever was planted in them; row by row where no batch is known.
pub(super) fn of_own_stretches(field: &Field, label: impl Fn(&Point) -> Option<u32>, loss: Loss) -> Vec<Unit> {
    if field.runs.is_empty() {
        return of_stretches(field, label, loss);
    }
    let points: Vec<(u32, &Point)> = field.runs.iter().flat_map(|run| points(field, &run.points)).collect();
    let ends = |a: &Point, b: &Point| field.runs_within_rows && a.place.row != b.place.row;
    let stretches = points.chunk_by(|(_, a), (_, b)| label(a) == label(b) && !ends(a, b)).enumerate();
    let of =
        |(run, stretch): (usize, &[(u32, &Point)])| Unit::of(label(stretch.first()?.1)?, run as u32, stretch, loss);
    stretches.filter_map(of).collect()
}

/// Planted runs cut at row ends, labelled with their batch.
pub(super) fn of_pieces(field: &Field, loss: Loss) -> Vec<Unit> {
    let mut units = Vec::new();
    for (index, run) in field.runs.iter().enumerate() {
        let points: Vec<(u32, &Point)> = points(field, &run.points).collect();
        let pieces = points.chunk_by(|(_, a), (_, b)| a.place.row == b.place.row);
        units.extend(pieces.filter_map(|piece| Unit::of(run.batch, index as u32, piece, loss)));
    }
    units
}

/// Rows, all with the same label.
pub(super) fn of_rows(field: &Field, loss: Loss) -> Vec<Unit> {
    let points: Vec<(u32, &Point)> = field.points.iter().enumerate().map(|(i, p)| (i as u32, p)).collect();
    let rows = points.chunk_by(|(_, a), (_, b)| a.place.row == b.place.row).enumerate();
    rows.filter_map(|(run, row)| Unit::of(0, run as u32, row, loss)).collect()
}

/// Points with their indices.
fn points<'a>(field: &'a Field, indices: &'a [u32]) -> impl Iterator<Item = (u32, &'a Point)> {
    indices.iter().filter_map(|&p| Some((p, field.points.get(p as usize)?)))
}

/// Cells with a definite level of the factor, in the place of planted runs.
pub(super) fn of_cells(tally: &Tally, factor: usize, loss: Loss) -> Vec<Unit> {
    let row = tally.factors.iter().position(|f| f.name == "row");
    let unit = |(index, cell): (usize, &crate::tally::Cell)| {
        let row = row.and_then(|row| cell.codes.get(row)).copied().unwrap_or(u32::MAX);
        Unit::counted(definite(tally, factor, &cell.codes)?, row, index as u32, loss.counted(&cell.counts))
    };
    tally.cells.iter().enumerate().filter_map(unit).collect()
}

/// The levels of `finer` as units, by rising code; each lies within one level of `factor`.
pub(super) fn of_levels(tally: &Tally, factor: usize, finer: usize, loss: Loss) -> Vec<Unit> {
    let mut levels = BTreeMap::<u32, (u32, u64, u64)>::new();
    for cell in &tally.cells {
        let codes = definite(tally, finer, &cell.codes).zip(definite(tally, factor, &cell.codes));
        let Some((inner, outer)) = codes else { continue };
        let (told, lost) = loss.counted(&cell.counts);
        let level = levels.entry(inner).or_insert((outer, 0, 0));
        (level.1, level.2) = (level.1 + told, level.2 + lost);
    }
    let unit = |(inner, (outer, told, lost)): (u32, (u32, u64, u64))| Unit::counted(outer, 0, inner, (told, lost));
    levels.into_iter().filter_map(unit).collect()
}

/// The code of a level that names one thing.
pub(super) fn definite(tally: &Tally, factor: usize, codes: &[u32]) -> Option<u32> {
    let code = codes.get(factor).copied()?;
    tally.factors.get(factor)?.definite.get(code as usize).is_some_and(|definite| *definite).then_some(code)
}

impl Unit {
    /// None where no vine was told.
    fn counted(label: u32, row: u32, run: u32, (told, lost): (u64, u64)) -> Option<Unit> {
        let unit = Unit { label, row, run, points: Vec::new(), seen: told as f64, failed: lost as f64 };
        (told > 0).then_some(unit)
    }

    /// None where no vine of the stretch was told.
    fn of(label: u32, run: u32, stretch: &[(u32, &Point)], loss: Loss) -> Option<Unit> {
        let told = || stretch.iter().filter(|(_, p)| loss.tells(p));
        let (seen, failed) = (told().count() as f64, told().filter(|(_, p)| loss.of(p)).count() as f64);
        let points = stretch.iter().map(|(index, _)| *index).collect();
        (seen > 0.0).then_some(Unit { label, row: stretch.first()?.1.place.row, run, points, seen, failed })
    }
}
