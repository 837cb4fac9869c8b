//! The block seen from above, one sign per place: rows side by side, position 1 at the top.
//!
//! Written by hand, one `<path>` per class: twenty thousand vines stay a small picture.

use super::ink::Ink;
use super::shape::Shape;
use super::{Alt, escaped, open};
use std::fmt::Write;

pub struct BlockMap {
    pub alt: Alt,
    /// In order across the block.
    pub rows: Vec<MapRow>,
    pub classes: Vec<MapClass>,
    pub marks: Vec<MapMark>,
    /// Written above the rows.
    pub row_title: String,
}

#[derive(Clone, Debug, PartialEq)]
pub struct MapRow {
    pub label: String,
    /// Places left free before this row (a track).
    pub gap_before: f64,
    /// Places by which position 1 is set back from the baseline.
    pub offset: f64,
}

#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MapClass {
    pub shape: Shape,
    pub ink: Ink,
}

/// A place: index of its row, position from 1, index of its class.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MapMark {
    pub row: u32,
    pub position: u32,
    pub class: usize,
}

const LEFT: f64 = 26.0;
/// Room above the first place, under labels that lie.
const TOP: f64 = 34.0;
const LETTER: f64 = 6.2;
/// Smallest and largest distance between places, and what the block is fitted into, in page units.
const CELL: (f64, f64) = (6.0, 22.0);
const FIT: (f64, f64) = (330.0, 640.0);
/// What it is fitted into across where the signs would become smaller than this otherwise.
const WIDE: f64 = 800.0;
const CLEAR: f64 = 9.0;
/// Row labels of more letters than this stand upright, and are cut after as many as this.
const LYING: usize = 3;
const LONGEST: usize = 24;

/// Positions written at the side, however long the rows.
const MOST_TICKS: usize = 200;

struct Grid {
    /// Across, per row.
    x: Vec<f64>,
    offset: Vec<f64>,
    cell: f64,
    /// Furthest position, offsets included.
    depth: f64,
    /// Letters of the longest row label.
    letters: usize,
}

impl Grid {
    fn upright(&self) -> bool {
        self.letters > LYING
    }

    fn top(&self) -> f64 {
        if self.upright() { TOP - 8.0 + self.letters as f64 * LETTER } else { TOP }
    }

    fn y(&self, row: u32, position: f64) -> f64 {
        self.top() + (position - 0.5 + self.offset.get(row as usize).copied().unwrap_or(0.0)) * self.cell
    }
}

/// The map. Empty where the block has no places.
pub fn map(map: &BlockMap) -> String {
    let grid = grid(map);
    let width = (grid.x.last().copied().unwrap_or(LEFT) + grid.cell).max(120.0);
    let height = grid.top() + grid.depth * grid.cell + 6.0;
    let mut out = open(width, height, &style(width, grid.cell), &map.alt);
    labels(&mut out, map, &grid);
    for (number, class) in map.classes.iter().enumerate() {
        let r = grid.cell * 0.32;
        let data: String = map
            .marks
            .iter()
            .filter(|m| m.class == number)
            .filter_map(|m| Some((grid.x.get(m.row as usize)?, grid.y(m.row, f64::from(m.position)))))
            .map(|(x, y)| class.shape.path(*x, y, r))
            .collect();
        if !data.is_empty() {
            out.push_str(&class.shape.element(&data, r, class.ink));
        }
    }
    out + "</svg>"
}

/// At most as wide as drawn and a tenth more; never so narrow that the signs run together: then it scrolls. `--wide`
/// tells the page to give it a line of its own.
fn style(width: f64, cell: f64) -> String {
    let least = width * (CELL.0 / cell).min(1.0);
    let wide = if width > FIT.0 * 1.2 { ";--wide:1" } else { "" };
    format!("width:{:.0}px;min-width:{least:.0}px{wide}", width * 1.1)
}

fn grid(map: &BlockMap) -> Grid {
    let gaps: f64 = map.rows.iter().map(|r| r.gap_before).sum();
    let across = map.rows.len() as f64 + gaps;
    let offset: Vec<f64> = map.rows.iter().map(|r| r.offset).collect();
    let reach = |m: &MapMark| f64::from(m.position) + offset.get(m.row as usize).copied().unwrap_or(0.0);
    let depth = map.marks.iter().map(reach).fold(1.0, f64::max);
    let wide = FIT.0 / across.max(1.0) < CLEAR && FIT.1 / depth >= CELL.0;
    let fit = if wide { WIDE } else { FIT.0 };
    let cell = (fit / across.max(1.0)).min(FIT.1 / depth).clamp(CELL.0, CELL.1);
    let letters = map.rows.iter().map(|r| r.label.chars().count()).max().unwrap_or(1).min(LONGEST);
    let mut at = LEFT - cell * 0.5;
    let step = |row: &MapRow| {
        at += (1.0 + row.gap_before) * cell;
        at
    };
    let x = map.rows.iter().map(step).collect();
    Grid { x, offset, cell, depth, letters }
}

fn labels(out: &mut String, map: &BlockMap, grid: &Grid) {
    let quiet = Ink::Quiet.fill();
    let _ = write!(out, "<g {quiet} font-size=\"11\">");
    let _ = write!(out, "<text x=\"{LEFT}\" y=\"11\">{}</text>", escaped(&map.row_title));
    let across = if grid.upright() { 12.0 } else { grid.letters as f64 * LETTER + 4.0 };
    let every = (across / grid.cell).ceil().max(1.0) as usize;
    for (row, x) in map.rows.iter().zip(&grid.x).step_by(every) {
        out.push_str(&row_label(&row.label, *x, grid));
    }
    let least = if grid.cell < 9.0 { 10 } else { 5 };
    let every = least.max(grid.depth as usize / MOST_TICKS);
    for position in std::iter::once(1).chain((every..=grid.depth as usize).step_by(every)) {
        let y = grid.top() + (position as f64 - 0.5) * grid.cell + 4.0;
        let _ = write!(out, "<text x=\"{}\" y=\"{y:.1}\" text-anchor=\"end\">{position}</text>", LEFT - 6.0);
    }
    out.push_str("</g>");
}

/// A row's label above its first place; a long one stands upright.
fn row_label(label: &str, x: f64, grid: &Grid) -> String {
    let cut: String = match label.chars().count() {
        n if n > LONGEST => label.chars().take(LONGEST - 1).chain(['…']).collect(),
        _ => label.into(),
    };
    let text = escaped(&cut);
    match grid.upright() {
        true => {
            let (x, y) = (x + 4.0, grid.top() - 7.0);
            format!("<text x=\"{x:.1}\" y=\"{y:.1}\" transform=\"rotate(-90 {x:.1} {y:.1})\">{text}</text>")
        }
        false => format!("<text x=\"{x:.1}\" y=\"27\" text-anchor=\"middle\">{text}</text>"),
    }
}
