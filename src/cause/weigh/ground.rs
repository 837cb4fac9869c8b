//! The block as the model sees it: counts on cells, each with its level on every axis that an explanation may follow.

use super::Prior;
use crate::tally::{Cell, Field, Point, Tally};
use std::collections::HashMap;
use std::sync::Arc;

/// Levels of every cell: of a factor, of the tiles of the ground, of the stretches of the planters' walk, of the edge.
#[derive(Clone, Debug)]
pub(super) struct Axis {
    pub levels: usize,
    pub of_cell: Vec<u32>,
}

/// Counts on cells; vines missing without a trace are left out.
#[derive(Clone, Debug)]
pub(super) struct Ground {
    pub failed: Vec<f64>,
    pub seen: Vec<f64>,
    /// In the order of [`Tally::factors`]; unknown levels share one of their own, the last.
    pub factors: Vec<Axis>,
    /// Parts of rows, [`PARTS`] to a row in the order of its places; none where vines have no places.
    pub parts: Option<Axis>,
    /// Tiles with their centres; none where vines have no places.
    pub tiles: Option<(Axis, Tiles)>,
    /// Stretches of the planters' walk; none where its order isn't known.
    pub walk: Option<(Axis, Walk)>,
    /// 1 for the outer rows and the ends of rows.
    pub edge: Option<Axis>,
    /// The cell of each point of the field.
    pub of_point: Vec<u32>,
}

/// Square pieces of ground.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Tiles {
    /// Metres across and along the rows of the middle of each tile's vines.
    pub centres: Vec<(f64, f64)>,
    /// Metres from the first to the last vine.
    pub extent: (f64, f64),
    /// Length of a tile's side, metres.
    pub side: f64,
    /// Whether metres are true; else places count 1 and rows 2.
    pub in_metres: bool,
}

/// Stretches of the planters' walk.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Walk {
    /// Of each stretch, how many of the places where a step may lie were passed before it.
    pub passed: Vec<u32>,
    /// Of each stretch, its batch, where every batch was planted in one go and there are several; else empty.
    pub batch: Vec<u32>,
    pub batches: usize,
    /// Number of places where a step may lie.
    pub cuts: u32,
}

/// Parts that a row is told in.
pub(super) const PARTS: u32 = 8;
/// Places where a step may lie.
const CUTS: u32 = 40;
/// Most tiles.
const MOST_TILES: f64 = 4_000.0;

impl Ground {
    /// Cells of a block, fine enough for the hollows and steps that are held likely.
    pub(super) fn of(tally: &Tally, prior: &Prior) -> Self {
        match &tally.field {
            Some(field) => of_field(tally, field, prior),
            None => of_cells(tally),
        }
    }
}

/// Where only counts per cell are known.
fn of_cells(tally: &Tally) -> Ground {
    let told = |c: &Cell| c.counts.seen.saturating_sub(c.counts.missing);
    let cells: Vec<&Cell> = tally.cells.iter().filter(|c| told(c) > 0).collect();
    let axis = |at: usize| axis(tally, at, cells.iter().map(|c| c.codes.get(at).copied()));
    Ground {
        failed: cells.iter().map(|c| c.counts.failed.saturating_sub(c.counts.missing).min(told(c)) as f64).collect(),
        seen: cells.iter().map(|c| told(c) as f64).collect(),
        factors: (0..tally.factors.len()).map(axis).collect(),
        parts: None,
        tiles: None,
        walk: None,
        edge: None,
        of_point: Vec::new(),
    }
}

fn axis(tally: &Tally, at: usize, codes: impl Iterator<Item = Option<u32>>) -> Axis {
    let unknown = tally.factors[at].levels.len() as u32;
    let of_cell: Vec<u32> = codes.map(|c| c.map_or(unknown, |c| c.min(unknown))).collect();
    let levels = of_cell.iter().max().map_or(0, |m| *m as usize + 1).max(unknown as usize);
    Axis { levels, of_cell }
}

fn of_field(tally: &Tally, field: &Field, prior: &Prior) -> Ground {
    let points: Vec<&Point> = field.points.iter().collect();
    let factors: Vec<Axis> =
        (0..tally.factors.len()).map(|at| axis(tally, at, points.iter().map(|p| p.codes.get(at).copied()))).collect();
    let (tile_axis, tiles) = tiles(&points, prior.hollow_radius_m);
    let batch = tally.factors.iter().position(|f| f.name == "batch").map(|at| &factors[at]);
    let walk = field.walk.as_ref().map(|order| walk(order, batch, prior.step_from));
    let at_edge = field.edge();
    let of_cell = points.iter().map(|p| u32::from(at_edge.holds(p.place))).collect();
    let edge = Axis { levels: 2, of_cell };
    let row = tally.factors.iter().position(|f| f.name == "row");
    let parts = row.map(|at| parts(&points, &factors[at]));
    let axes = factors.iter().chain([&tile_axis, &edge]).chain(&parts).chain(walk.as_ref().map(|w| &w.0));
    let (of_point, cells) = refine(points.len(), axes);
    let first = first_of(&of_point, cells);
    let thin = |axis: &Axis| Axis { levels: axis.levels, of_cell: first.iter().map(|&p| axis.of_cell[p]).collect() };
    let mut ground = Ground {
        failed: vec![0.0; cells],
        seen: vec![0.0; cells],
        factors: factors.iter().map(thin).collect(),
        parts: parts.as_ref().map(thin),
        tiles: (!points.is_empty()).then(|| (thin(&tile_axis), tiles)),
        walk: walk.as_ref().map(|(axis, walk)| (thin(axis), walk.clone())),
        edge: Some(thin(&edge)),
        of_point,
    };
    for (point, &cell) in points.iter().zip(&ground.of_point).filter(|(p, _)| !p.missing) {
        ground.seen[cell as usize] += 1.0;
        ground.failed[cell as usize] += f64::from(u8::from(point.failed));
    }
    ground
}

/// Equal parts of each row, between its first place and its last.
fn parts(points: &[&Point], row: &Axis) -> Axis {
    let mut ends = vec![(u32::MAX, 0); row.levels];
    let places = || points.iter().map(|p| p.place.position).zip(&row.of_cell);
    for (place, &row) in places() {
        let end = &mut ends[row as usize];
        *end = (end.0.min(place), end.1.max(place));
    }
    let part = |(place, &row): (u32, &u32)| {
        let (first, last) = ends[row as usize];
        let along = u64::from(place - first) * u64::from(PARTS) / (u64::from(last - first) + 1);
        row * PARTS + along as u32
    };
    Axis { levels: row.levels * PARTS as usize, of_cell: places().map(part).collect() }
}

/// The cell of each point, points of one cell sharing all levels; and the number of cells.
fn refine<'a>(points: usize, axes: impl Iterator<Item = &'a Axis>) -> (Vec<u32>, usize) {
    let (mut of_point, mut cells) = (vec![0u32; points], usize::from(points > 0));
    for axis in axes {
        let mut known = HashMap::<(u32, u32), u32>::new();
        for (cell, level) in of_point.iter_mut().zip(&axis.of_cell) {
            let next = known.len() as u32;
            *cell = *known.entry((*cell, *level)).or_insert(next);
        }
        cells = known.len();
    }
    (of_point, cells)
}

/// The first point of each cell.
fn first_of(of_point: &[u32], cells: usize) -> Vec<usize> {
    let mut first = vec![usize::MAX; cells];
    of_point.iter().enumerate().rev().for_each(|(point, &cell)| first[cell as usize] = point);
    first
}

fn tiles(points: &[&Point], shortest: f64) -> (Axis, Tiles) {
    let in_metres = points.iter().all(|p| p.x_y_m.is_some());
    let place = |p: &Point| {
        p.x_y_m.filter(|_| in_metres).unwrap_or((2.0 * f64::from(p.place.row), f64::from(p.place.position)))
    };
    let places: Vec<(f64, f64)> = points.iter().map(|p| place(p)).collect();
    let least = |of: fn(&(f64, f64)) -> f64| places.iter().map(of).fold(f64::INFINITY, f64::min);
    let most = |of: fn(&(f64, f64)) -> f64| places.iter().map(of).fold(f64::NEG_INFINITY, f64::max);
    let (x, y) = (least(|p| p.0), least(|p| p.1));
    let extent = ((most(|p| p.0) - x).max(0.0), (most(|p| p.1) - y).max(0.0));
    let side = affordable(extent, shortest / 1.5, MOST_TILES);
    let from_first: Vec<(f64, f64)> = places.iter().map(|(px, py)| (px - x, py - y)).collect();
    let (centres, of_cell) = squares(&from_first, side);
    (Axis { levels: centres.len(), of_cell }, Tiles { centres, extent, side, in_metres })
}

/// Squares of this side that hold a place: the middle of the places in each, and the square of each place.
fn squares(places: &[(f64, f64)], side: f64) -> (Vec<(f64, f64)>, Vec<u32>) {
    let mut known = HashMap::<(i64, i64), u32>::new();
    let mut sums: Vec<(f64, f64, f64)> = Vec::new();
    let mut of_place = Vec::with_capacity(places.len());
    for &(x, y) in places {
        let square = *known.entry(((x / side) as i64, (y / side) as i64)).or_insert_with(|| {
            sums.push((0.0, 0.0, 0.0));
            sums.len() as u32 - 1
        });
        let sum = &mut sums[square as usize];
        *sum = (sum.0 + x, sum.1 + y, sum.2 + 1.0);
        of_place.push(square);
    }
    (sums.iter().map(|s| (s.0 / s.2, s.1 / s.2)).collect(), of_place)
}

/// The side of squares of which about so many cover the ground, at least `side`.
fn affordable((across, along): (f64, f64), side: f64, most: f64) -> f64 {
    side.max((across * along / most).sqrt()).max((across + along) / most).max(1e-6)
}

impl Tiles {
    /// Larger tiles of about this side, at most about so many; and the larger tile of each tile.
    pub(super) fn coarser(&self, side: f64, most: f64) -> (Tiles, Arc<[u32]>) {
        let side = affordable(self.extent, side, most);
        let (centres, of) = squares(&self.centres, side);
        (Tiles { centres, side, ..self.clone() }, of.into())
    }
}

/// Stretches between places where a step may lie; where every batch was planted in one go, cut between batches too.
fn walk(order: &[u32], batch: Option<&Axis>, ends: f64) -> (Axis, Walk) {
    let n = order.len() as f64;
    let passed_at = |rank: usize| {
        let share = (rank as f64 + 0.5) / n.max(1.0);
        let cuts = (share - ends) / (1.0 - 2.0 * ends) * f64::from(CUTS);
        (cuts + 0.5).floor().clamp(0.0, f64::from(CUTS)) as u32
    };
    let codes = |p: u32| batch.and_then(|b| b.of_cell.get(p as usize)).copied().unwrap_or(0);
    let stretches = order.chunk_by(|a, b| codes(*a) == codes(*b)).count();
    let distinct: std::collections::BTreeSet<u32> = order.iter().map(|&p| codes(p)).collect();
    let in_one_go = stretches == distinct.len() && stretches > 1;
    let mut known = HashMap::<(u32, u32), u32>::new();
    let (mut passed, mut batches) = (Vec::new(), Vec::new());
    let mut of_cell = vec![0; order.len()];
    for (rank, &point) in order.iter().enumerate() {
        let key = (passed_at(rank), if in_one_go { codes(point) } else { 0 });
        let level = *known.entry(key).or_insert_with(|| {
            passed.push(key.0);
            batches.push(key.1);
            passed.len() as u32 - 1
        });
        of_cell[point as usize] = level;
    }
    let levels = passed.len();
    let batch = if in_one_go { batches } else { Vec::new() };
    let batches = batch.iter().max().map_or(0, |m| *m as usize + 1);
    (Axis { levels, of_cell }, Walk { passed, batch, batches, cuts: CUTS })
}
