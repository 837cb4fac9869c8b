//! What labels are dealt to.

use crate::tally::{Field, Point};

/// What counts as a loss.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Loss {
    /// Any failure but a vine missing without a trace.
    Failed,
    /// Never grew.
    NeverGrew,
}

impl Loss {
    fn of(self, point: &Point) -> bool {
        match self {
            Loss::Failed => point.failed,
            Loss::NeverGrew => point.never_grew,
        }
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
        let points: Vec<(u32, &Point)> =
            run.points.iter().filter_map(|&p| Some((p, field.points.get(p as usize)?))).collect();
        let stretches = points.chunk_by(|(_, a), (_, b)| label(a) == label(b));
        units.extend(stretches.filter_map(|stretch| Unit::of(label(stretch.first()?.1)?, index as u32, stretch, loss)));
    }
    units
}

impl Unit {
    /// None where every vine of the stretch is missing.
    fn of(label: u32, run: u32, stretch: &[(u32, &Point)], loss: Loss) -> Option<Unit> {
        let told = || stretch.iter().filter(|(_, p)| !p.missing);
        let (seen, failed) = (told().count() as f64, told().filter(|(_, p)| loss.of(p)).count() as f64);
        let points = stretch.iter().map(|(index, _)| *index).collect();
        (seen > 0.0).then_some(Unit { label, row: stretch.first()?.1.place.row, run, points, seen, failed })
    }
}
