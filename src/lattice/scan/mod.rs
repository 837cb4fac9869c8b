//! The window of ground in which marks exceed chance the most: a scan statistic.
//!
//! | file | what it is for |
//! | --- | --- |
//! | [`likelihood`] | how much a window speaks for a higher rate inside |
//! | [`cells`] | sites in cells of a full grid, one each or several |
//! | `rectangles`, `circles` | the windows |
//! | [`search`] | the strongest window of an arrangement, fast |
//!
//! Windows are row-aligned rectangles and circles on the true distances, of up to half the sites (Kulldorff 1997,
//! `kulldorff-1997`). Small grids get every rectangle of lines and steps and every circle around a site; larger ones a
//! ladder of sizes (each about 1.4 times the one before, moved by a third or a quarter of itself), and very large ones cells of
//! several sites: [`Resolution`] says which.

pub mod cells;
mod circles;
pub mod likelihood;
mod rectangles;
pub mod search;

pub use likelihood::{bernoulli, log_likelihood_ratio};
pub use search::{Search, Strongest};

use super::grid::{Line, Site};
use cells::Cells;
use circles::Circles;
use rectangles::Rectangles;
use serde::Serialize;

/// Which windows to look at.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Shapes {
    #[default]
    Both,
    Rectangles,
    Circles,
}

/// How finely to look.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ScanConfig {
    pub shapes: Shapes,
    /// Sites are put into cells where they would be more.
    pub most_cells: usize,
    /// Up to so many, every rectangle is a window.
    pub every_rectangle_up_to: u64,
    /// Up to so many cells, every circle around one is a window.
    pub every_circle_up_to: usize,
    /// Stretches of lines that the circles of a ladder may be made of.
    pub most_stretches: usize,
}

impl Default for ScanConfig {
    fn default() -> Self {
        ScanConfig {
            shapes: Shapes::Both,
            most_cells: 8_192,
            every_rectangle_up_to: 150_000,
            every_circle_up_to: 400,
            most_stretches: 150_000,
        }
    }
}

/// Which windows were looked at.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Resolution {
    /// Lines and steps of a cell: 1 and 1 where every site is one.
    pub lines: u32,
    pub steps: u32,
    pub rectangles: Share,
    pub circles: Share,
}

/// Which windows of a kind.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub enum Share {
    /// All that differ, so many.
    Every(usize),
    /// A ladder of sizes, so many windows.
    Ladder(usize),
    /// None: not asked for, or distances are not known.
    None,
}

impl Share {
    pub fn windows(self) -> usize {
        match self {
            Share::Every(windows) | Share::Ladder(windows) => windows,
            Share::None => 0,
        }
    }
}

/// The shape of a window.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Shape {
    Rectangle,
    Circle,
}

/// Windows over some sites, whatever marks they bear.
#[derive(Clone, Debug)]
pub struct Scan {
    cells: Cells,
    rectangles: Rectangles,
    circles: Circles,
}

impl Scan {
    /// `metres`: where each site lies, if that is known of all. Distances across and along lines are the medians
    /// between neighbours, and give cells their shape.
    pub fn new(sites: &[Site], lines: &[Line], metres: Option<&[(f64, f64)]>, config: &ScanConfig) -> Self {
        let cells = Cells::new(sites, lines, metres, config.most_cells);
        let rectangles = match config.shapes {
            Shapes::Circles => Rectangles::none(),
            _ => Rectangles::new(cells.lines, cells.steps, config.every_rectangle_up_to),
        };
        let circles = match config.shapes {
            Shapes::Rectangles => Circles::none(),
            _ => Circles::new(&cells, config),
        };
        Scan { cells, rectangles, circles }
    }

    pub fn resolution(&self) -> Resolution {
        Resolution {
            lines: self.cells.size.lines,
            steps: self.cells.size.steps,
            rectangles: self.rectangles.share,
            circles: self.circles.share,
        }
    }

    fn shape(&self, window: usize) -> Shape {
        if window < self.rectangles.windows() { Shape::Rectangle } else { Shape::Circle }
    }

    /// Whether each cell lies in a window.
    fn inside(&self, window: usize) -> Vec<bool> {
        let mut inside = vec![false; self.cells.number()];
        let rectangles = self.rectangles.windows();
        match self.shape(window) {
            Shape::Rectangle => {
                let (lines, steps) = self.rectangles.window(window);
                let rows = lines.map(|line| line * self.cells.steps);
                rows.for_each(|row| inside[row + steps.start..row + steps.end].fill(true));
            }
            Shape::Circle => {
                let stretches = self.circles.stretches(window - rectangles);
                stretches.iter().for_each(|&(from, to)| inside[from as usize..to as usize].fill(true));
            }
        }
        inside
    }
}
