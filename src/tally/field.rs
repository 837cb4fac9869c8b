//! The field: the map per place, points for pattern tests, planted runs.

use super::cells::Coder;
use super::history::{Lives, Outcome};
use crate::block::{Code, Layout, Look, Place, PlantingOrder, RowLayout, State, UNKNOWN, VineIx};
use crate::lattice::{Line, Site};
use jiff::civil::Date;
use std::collections::BTreeMap;

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
    /// Failed without having grown.
    pub never_grew: bool,
    /// Failed after having grown.
    pub died_later: bool,
    /// The day it was planted on, where known.
    pub planted_on: Option<Date>,
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
    /// Every row of the layout as a line of the lattice: its shift in whole vine spacings, and tracks before it.
    pub lines: Vec<Line>,
    /// Along the planters' walk; none where its order isn't known (one run per row and stretch is used then,
    /// see [`Field::runs_within_rows`]).
    pub runs: Vec<Run>,
    /// Whether the planters' walk wasn't known, so that runs were cut at row ends.
    pub runs_within_rows: bool,
    /// Indices of the points along the planters' walk; none where its order isn't known.
    pub walk: Option<Vec<u32>>,
}

/// Which places lie at the edge: the layout's first and last row, and the first and last place of each row.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Edge {
    last_row: u32,
    ends: BTreeMap<u32, (u32, u32)>,
}

impl Edge {
    pub fn holds(&self, place: Place) -> bool {
        let Place { row, position } = place;
        let is_end = self.ends.get(&row).is_some_and(|&(first, last)| position == first || position == last);
        row == 0 || row == self.last_row || is_end
    }
}

impl Field {
    pub fn edge(&self) -> Edge {
        let mut ends = BTreeMap::new();
        for place in self.places.iter().map(|p| p.place).chain(self.points.iter().map(|p| p.place)) {
            let (first, last) = ends.entry(place.row).or_insert((place.position, place.position));
            (*first, *last) = ((*first).min(place.position), (*last).max(place.position));
        }
        Edge { last_row: (self.lines.len() as u32).saturating_sub(1), ends }
    }

    /// The points' sites on the lattice, in the order of `points`: lines are rows, steps are positions.
    pub fn sites(&self) -> Vec<Site> {
        let site = |p: &Point| Site { line: p.place.row, step: i32::try_from(p.place.position).unwrap_or(i32::MAX) };
        self.points.iter().map(site).collect()
    }
}

/// The layout's rows as lines. An offset is rounded to whole vine spacings, and unknown (0) without them.
fn lines(layout: &Layout) -> Vec<Line> {
    let steps = |offset_m: f64| layout.vine_spacing_m.filter(|m| *m > 0.0).map_or(0.0, |m| (offset_m / m).round());
    let line = |row: &RowLayout| Line {
        offset: steps(row.offset_m) as i32,
        gap_before: row.gap_before_m.is_some_and(|gap| gap > 0.0),
    };
    layout.rows.iter().map(line).collect()
}

/// The field of a block at a walk.
pub(super) fn field(layout: &Layout, lives: &Lives, outcomes: &[Outcome], coder: &Coder) -> Field {
    let first = first_planting(lives, outcomes);
    let metres = Metres::of(layout);
    let known = first.iter().filter(|&&ix| is_known(outcomes[ix as usize]));
    let points: Vec<Point> = known.map(|&ix| point(ix, lives, outcomes, coder, &metres)).collect();
    let order = PlantersWalk::of(layout.planted, &first, lives);
    let runs = runs(&first, &points, &order, lives, coder);
    let runs_within_rows = matches!(order, PlantersWalk::Unknown);
    let walk = (!runs_within_rows).then(|| along(&points, &order, lives));
    Field { places: places(layout, lives), points, lines: lines(layout), runs, runs_within_rows, walk }
}

fn along(points: &[Point], walk: &PlantersWalk, lives: &Lives) -> Vec<u32> {
    let mut order: Vec<u32> = (0..points.len() as u32).collect();
    order.sort_by_key(|&p| walk.key(points[p as usize].vine, lives));
    order
}

/// Every place of the layout but posts, row by row, with what stands there now.
fn places(layout: &Layout, lives: &Lives) -> Vec<PlaceNow> {
    let mut latest = by_place(lives).filter_map(|vines| vines.last().copied()).peekable();
    let mut places = Vec::new();
    for (row, at) in layout.rows.iter().enumerate() {
        for position in (1..=at.places).filter(|p| at.no_vine.binary_search(p).is_err()) {
            let place = Place { row: row as u32, position };
            let of = |ix: &VineIx| lives.register.vines[*ix as usize].place;
            while latest.next_if(|ix| of(ix) < place).is_some() {}
            places.push(place_now(place, latest.next_if(|ix| of(ix) == place), lives));
        }
    }
    places
}

fn place_now(place: Place, vine: Option<VineIx>, lives: &Lives) -> PlaceNow {
    let vine = vine.filter(|&ix| !lives.is_removed(ix));
    let standing = match vine.map(|ix| lives.standing(ix)) {
        None => Standing::Empty,
        Some(Outcome::Failed(state)) => Standing::Failed(state),
        Some(Outcome::Alive) => Standing::Alive,
        Some(Outcome::Unsure) => Standing::Unsure,
        Some(_) => Standing::NotSeen,
    };
    PlaceNow { place, vine, standing, look: vine.and_then(|ix| lives.look(ix)).cloned() }
}

/// The vines planted at each place up to the walk, place by place, in the order of planting.
fn by_place<'a>(lives: &'a Lives) -> impl Iterator<Item = Vec<VineIx>> + 'a {
    let place = |ix: &VineIx| lives.register.vines[*ix as usize].place;
    lives.by_place.chunk_by(move |a, b| place(a) == place(b)).filter_map(|vines| {
        let planted = vines.iter().copied().filter(|&ix| lives.is_planted(&lives.register.vines[ix as usize]));
        Some(planted.collect::<Vec<_>>()).filter(|planted| !planted.is_empty())
    })
}

/// The first planting: the first vine of each place. One that was moved there isn't of it.
fn first_planting(lives: &Lives, outcomes: &[Outcome]) -> Vec<VineIx> {
    let first = by_place(lives).filter_map(|vines| vines.first().copied());
    first.filter(|&ix| outcomes[ix as usize] != Outcome::NotCounted).collect()
}

fn is_known(outcome: Outcome) -> bool {
    matches!(outcome, Outcome::Alive | Outcome::LeftAlive | Outcome::Failed(_))
}

fn point(ix: VineIx, lives: &Lives, outcomes: &[Outcome], coder: &Coder, metres: &Metres) -> Point {
    let vine = &lives.register.vines[ix as usize];
    let outcome = outcomes[ix as usize];
    Point {
        place: vine.place,
        vine: ix,
        failed: matches!(outcome, Outcome::Failed(_)),
        missing: outcome == Outcome::Failed(State::Missing),
        never_grew: outcome == Outcome::Failed(State::NoBudburst),
        died_later: outcome == Outcome::Failed(State::Died),
        planted_on: lives.planted_on(vine),
        x_y_m: vine.x_y_m.or_else(|| metres.at(vine.place)),
        codes: coder.codes(ix as usize),
    }
}

/// Metres of position 1 of each row, so that the gaps before a row are summed once.
struct Metres {
    first: Vec<Option<(f64, f64)>>,
    vine_m: f64,
}

impl Metres {
    fn of(layout: &Layout) -> Self {
        let row = |row: usize| layout.metres(Place { row: row as u32, position: 1 });
        Metres { first: (0..layout.rows.len()).map(row).collect(), vine_m: layout.vine_spacing_m.unwrap_or(0.0) }
    }

    fn at(&self, place: Place) -> Option<(f64, f64)> {
        let (across, along) = self.first.get(place.row as usize).copied().flatten()?;
        Some((across, along + f64::from(place.position.saturating_sub(1)) * self.vine_m))
    }
}

/// The order in which the planters walked.
enum PlantersWalk {
    /// As numbered in the register.
    Numbered,
    Serpentine,
    SameEnd,
    Unknown,
}

impl PlantersWalk {
    fn of(planted: PlantingOrder, first: &[VineIx], lives: &Lives) -> Self {
        let numbered = |ix: &VineIx| lives.register.vines[*ix as usize].planted_seq.is_some();
        match planted {
            _ if !first.is_empty() && first.iter().all(numbered) => PlantersWalk::Numbered,
            PlantingOrder::Serpentine => PlantersWalk::Serpentine,
            PlantingOrder::SameEnd => PlantersWalk::SameEnd,
            PlantingOrder::Unknown => PlantersWalk::Unknown,
        }
    }

    /// Sorting by this key puts vines in the planters' order.
    fn key(&self, ix: VineIx, lives: &Lives) -> (u32, u32) {
        let vine = &lives.register.vines[ix as usize];
        let Place { row, position } = vine.place;
        match self {
            PlantersWalk::Numbered => (vine.planted_seq.unwrap_or(u32::MAX), 0),
            PlantersWalk::Serpentine if row % 2 == 1 => (row, u32::MAX - position),
            _ => (row, position),
        }
    }
}

/// Planted runs along the planters' walk. A vine without a batch is in no run and ends the one before it; one with
/// an unknown outcome does neither.
fn runs(first: &[VineIx], points: &[Point], walk: &PlantersWalk, lives: &Lives, coder: &Coder) -> Vec<Run> {
    let Some(batch) = coder.factors.iter().position(|f| f.name == "batch") else { return Vec::new() };
    let mut vines: Vec<(VineIx, Place, Code)> = first
        .iter()
        .map(|&ix| (ix, batch))
        .map(|(ix, batch)| {
            (
                ix,
                lives.register.vines[ix as usize].place,
                coder.codes(ix as usize).get(batch).copied().unwrap_or(UNKNOWN),
            )
        })
        .collect();
    vines.sort_by_key(|&(ix, ..)| walk.key(ix, lives));
    let cut_at_row_ends = matches!(walk, PlantersWalk::Unknown);
    let stretches = vines.chunk_by(|a, b| a.2 == b.2 && !(cut_at_row_ends && a.1.row != b.1.row));
    let labelled = stretches.filter(|stretch| stretch.first().is_some_and(|v| v.2 != UNKNOWN));
    labelled.filter_map(|stretch| run(stretch, points)).collect()
}

/// The points of a stretch; none where nobody knows what became of any vine of it.
fn run(stretch: &[(VineIx, Place, Code)], points: &[Point]) -> Option<Run> {
    let &(_, Place { row, .. }, batch) = stretch.first()?;
    let index = |place: &Place| points.binary_search_by(|p| p.place.cmp(place)).ok();
    let points: Vec<u32> = stretch.iter().filter_map(|(_, place, _)| index(place)).map(|i| i as u32).collect();
    (!points.is_empty()).then_some(Run { batch, row, points })
}
