//! Circles around cells, on the true distances.

use super::cells::Cells;
use super::{ScanConfig, Share};

/// Circles as stretches of cells that follow each other on a line.
#[derive(Clone, Debug)]
pub(super) struct Circles {
    stretches: Vec<(u32, u32)>,
    /// Where each circle's stretches end.
    ends: Vec<u32>,
    pub share: Share,
}

/// Each radius of a ladder over the one before: areas grow 1.7 times.
const RATIO: f64 = 1.3;
/// Distances that differ by less, relatively, are the same.
const SAME: f64 = 1e-9;

impl Circles {
    pub fn new(cells: &Cells, config: &ScanConfig) -> Self {
        let mut circles = Circles::none();
        let Some(middles) = &cells.middles else { return circles };
        let ground = Ground::of(cells, middles);
        if ground.occupied().count() <= config.every_circle_up_to {
            circles.add_every(&ground);
            circles.share = Share::Every(circles.windows());
            return circles;
        }
        for part in [4.0, 3.0, 2.0, 1.0] {
            circles.stretches.clear();
            circles.ends.clear();
            if circles.add_ladder(&ground, part, config.most_stretches) {
                break;
            }
        }
        circles.share = Share::Ladder(circles.windows());
        circles
    }

    /// No window.
    pub fn none() -> Self {
        Circles { stretches: Vec::new(), ends: Vec::new(), share: Share::None }
    }

    pub fn windows(&self) -> usize {
        self.ends.len()
    }

    /// Cells of a circle, as ranges.
    pub fn stretches(&self, circle: usize) -> &[(u32, u32)] {
        let from = if circle == 0 { 0 } else { self.ends[circle - 1] as usize };
        &self.stretches[from..self.ends[circle] as usize]
    }

    /// All circles, in order, with their stretches.
    pub fn each(&self) -> impl Iterator<Item = &[(u32, u32)]> {
        (0..self.windows()).map(|circle| self.stretches(circle))
    }

    fn close(&mut self) {
        self.ends.push(self.stretches.len() as u32);
    }

    /// Every circle around a cell that holds at most half the sites.
    fn add_every(&mut self, ground: &Ground) {
        let all: Vec<u32> = ground.occupied().collect();
        for &centre in &all {
            let mut by_distance: Vec<(f64, u32)> =
                all.iter().map(|&cell| (ground.distance(centre, cell), cell)).collect();
            by_distance.sort_by(|a, b| a.0.total_cmp(&b.0));
            let (mut members, mut sites) = (Vec::new(), 0);
            for ring in by_distance.chunk_by(|a, b| b.0 - a.0 <= SAME * (1.0 + b.0)) {
                members.extend(ring.iter().map(|(_, cell)| *cell));
                sites += ring.iter().map(|(_, cell)| u64::from(ground.cells.sites[*cell as usize])).sum::<u64>();
                if 2 * sites > ground.sites {
                    break;
                }
                members.sort_unstable();
                let runs = members.chunk_by(|a, b| a + 1 == *b).map(|run| (run[0], run[run.len() - 1] + 1));
                self.stretches.extend(runs);
                self.close();
            }
        }
    }

    /// Radii that grow by [`RATIO`], around cells a `part` of the radius apart; false, and unfinished, where that
    /// makes more than `most` stretches.
    fn add_ladder(&mut self, ground: &Ground, part: f64, most: usize) -> bool {
        let (across, along) = ground.cells.spacing;
        let mut radius = across.min(along) * (1.0 + SAME);
        loop {
            let stride = |spacing: f64| ((radius / part / spacing) as usize).max(1);
            let (lines, steps) = (stride(across), stride(along));
            let mut any = false;
            for line in (0..ground.cells.lines).step_by(lines) {
                for step in (0..ground.cells.steps).step_by(steps) {
                    any |= self.add_circle(ground, line * ground.cells.steps + step, radius);
                }
                if self.stretches.len() > most && part > 1.0 {
                    return false;
                }
            }
            if !any || !radius.is_finite() {
                return true;
            }
            radius *= RATIO;
        }
    }

    /// Adds a circle unless its centre is empty or it holds more than half the sites.
    fn add_circle(&mut self, ground: &Ground, centre: usize, radius: f64) -> bool {
        if ground.cells.sites[centre] == 0 {
            return false;
        }
        let (begin, mut sites) = (self.stretches.len(), 0);
        for cell in ground.within(ground.middles[centre], radius) {
            sites += u64::from(ground.cells.sites[cell as usize]);
            if 2 * sites > ground.sites {
                self.stretches.truncate(begin);
                return false;
            }
            match self.stretches[begin..].last_mut() {
                Some(last) if last.1 == cell => last.1 += 1,
                _ => self.stretches.push((cell, cell + 1)),
            }
        }
        self.close();
        true
    }
}

/// The occupied cells, line by line, in pieces that can be passed over together.
struct Ground<'a> {
    cells: &'a Cells,
    middles: &'a [(f64, f64)],
    /// The box of each line, and its pieces.
    lines: Vec<(Frame, Vec<Piece>)>,
    sites: u64,
}

/// A few occupied cells of a line, and the box they lie in.
struct Piece {
    cells: Vec<u32>,
    frame: Frame,
}

/// Cells of a piece.
const PIECE: usize = 16;

impl<'a> Ground<'a> {
    fn of(cells: &'a Cells, middles: &'a [(f64, f64)]) -> Self {
        let occupied: Vec<u32> = (0..cells.number() as u32).filter(|&cell| cells.sites[cell as usize] > 0).collect();
        let of_lines = occupied.chunk_by(|a, b| *a as usize / cells.steps == *b as usize / cells.steps);
        let piece = |piece: &[u32]| Piece { cells: piece.to_vec(), frame: Frame::of(piece, middles) };
        let line = |line: &[u32]| (Frame::of(line, middles), line.chunks(PIECE).map(piece).collect());
        let sites = cells.sites.iter().map(|&n| u64::from(n)).sum();
        Ground { cells, middles, lines: of_lines.map(line).collect(), sites }
    }

    fn occupied(&self) -> impl Iterator<Item = u32> {
        self.lines.iter().flat_map(|(_, pieces)| pieces).flat_map(|piece| piece.cells.iter().copied())
    }

    fn distance(&self, a: u32, b: u32) -> f64 {
        let (a, b) = (self.middles[a as usize], self.middles[b as usize]);
        (a.0 - b.0).hypot(a.1 - b.1)
    }

    /// Cells within the radius of a point, in order.
    fn within(&self, at: (f64, f64), radius: f64) -> impl Iterator<Item = u32> {
        let square = radius * radius * (1.0 + SAME);
        let lines = self.lines.iter().filter(move |(frame, _)| frame.is_near(at, square));
        let pieces = lines.flat_map(|(_, pieces)| pieces).filter(move |piece| piece.frame.is_near(at, square));
        pieces.flat_map(|piece| piece.cells.iter().copied()).filter(move |&cell| {
            let middle = self.middles[cell as usize];
            (middle.0 - at.0).powi(2) + (middle.1 - at.1).powi(2) <= square
        })
    }
}

/// The box around some cells.
struct Frame {
    low: (f64, f64),
    high: (f64, f64),
}

impl Frame {
    fn of(cells: &[u32], middles: &[(f64, f64)]) -> Self {
        let bound = |of: fn(f64, f64) -> f64, start: f64| {
            let each = cells.iter().map(|&cell| middles[cell as usize]);
            each.fold((start, start), |bound, at| (of(bound.0, at.0), of(bound.1, at.1)))
        };
        Frame { low: bound(f64::min, f64::INFINITY), high: bound(f64::max, f64::NEG_INFINITY) }
    }

    /// Whether some point of it may lie within the root of `square` of a point.
    fn is_near(&self, at: (f64, f64), square: f64) -> bool {
        let apart = |at: f64, low: f64, high: f64| (low - at).max(at - high).max(0.0);
        apart(at.0, self.low.0, self.high.0).powi(2) + apart(at.1, self.low.1, self.high.1).powi(2) <= square
    }
}
