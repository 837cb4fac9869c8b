//! Sites in cells of a full grid of lines and steps: one each, or several where there are too many.

use crate::lattice::grid::{Graph, Line, Neighbours, Site};
use crate::lattice::quadrats::QuadratSize;

/// The cells, line by line.
#[derive(Clone, Debug)]
pub struct Cells {
    /// Lines and steps of cells. Lines and steps without any site are left out.
    pub lines: usize,
    pub steps: usize,
    /// Lines and steps of sites in a cell.
    pub size: QuadratSize,
    /// The cell of each site.
    pub of_site: Vec<u32>,
    /// Sites of each cell.
    pub sites: Vec<u32>,
    /// Middle of each cell's sites in metres, where every site's place is known.
    pub middles: Option<Vec<(f64, f64)>>,
    /// Metres across and along lines between neighbouring cells; 1 and 1 where they aren't known.
    pub spacing: (f64, f64),
}

impl Cells {
    /// At most about `most` cells.
    pub fn new(sites: &[Site], lines: &[Line], metres: Option<&[(f64, f64)]>, most: usize) -> Self {
        let line = |site: &Site| i64::from(site.line);
        let offset = |site: &Site| lines.get(site.line as usize).map_or(0, |line| i64::from(line.offset));
        let (across, lines_used) = ranks(sites.iter().map(line));
        let (along, steps_used) = ranks(sites.iter().map(|site| i64::from(site.step) + offset(site)));
        let (a, b) = metres.and_then(|metres| spacings(sites, lines, metres)).unwrap_or((1.0, 1.0));
        let size = size(lines_used, steps_used, (a, b), most);
        let (grid_lines, grid_steps) = grid(lines_used, steps_used, size);
        let part = |rank: usize, used: usize, cells: usize| rank * cells / used.max(1);
        let cell = |(line, step): (&usize, &usize)| {
            part(*line, lines_used, grid_lines) * grid_steps + part(*step, steps_used, grid_steps)
        };
        let of_site: Vec<u32> = across.iter().zip(&along).map(cell).map(|cell| cell as u32).collect();
        let mut number = vec![0; grid_lines * grid_steps];
        of_site.iter().for_each(|&cell| number[cell as usize] += 1);
        let middles = metres.map(|metres| middles(&of_site, &number, metres));
        let spacing = (a * f64::from(size.lines), b * f64::from(size.steps));
        Cells { lines: grid_lines, steps: grid_steps, size, of_site, sites: number, middles, spacing }
    }

    pub fn number(&self) -> usize {
        self.sites.len()
    }
}

/// The rank of each value among those that occur, and how many do.
fn ranks(values: impl Iterator<Item = i64> + Clone) -> (Vec<usize>, usize) {
    let mut used: Vec<i64> = values.clone().collect();
    used.sort_unstable();
    used.dedup();
    (values.map(|value| used.partition_point(|u| *u < value)).collect(), used.len())
}

/// Cells that are about square on the ground, one site each where they are at most `most`.
fn size(lines: usize, steps: usize, (across, along): (f64, f64), most: usize) -> QuadratSize {
    let mut size = QuadratSize { lines: 1, steps: 1 };
    let mut sites = lines as f64 * steps as f64 / most.max(1) as f64;
    let cells = |size| {
        let (lines, steps) = grid(lines, steps, size);
        lines as f64 * steps as f64
    };
    while cells(size) > most.max(4) as f64 {
        size = QuadratSize::square(sites, across, along);
        sites *= 1.1;
    }
    size
}

fn grid(lines: usize, steps: usize, size: QuadratSize) -> (usize, usize) {
    (lines.div_ceil(size.lines as usize), steps.div_ceil(size.steps as usize))
}

/// Median distances between neighbours across and along lines.
fn spacings(sites: &[Site], lines: &[Line], metres: &[(f64, f64)]) -> Option<(f64, f64)> {
    let median = |neighbours| {
        let joins = Graph::new(sites, lines, neighbours).joins;
        let distance = |&(a, b): &(u32, u32)| {
            let (a, b) = (metres[a as usize], metres[b as usize]);
            (a.0 - b.0).hypot(a.1 - b.1)
        };
        let mut distances: Vec<f64> = joins.iter().map(distance).filter(|d| *d > 0.0 && d.is_finite()).collect();
        distances.sort_by(f64::total_cmp);
        distances.get(distances.len() / 2).copied()
    };
    median(Neighbours::Across).zip(median(Neighbours::Along))
}

fn middles(of_site: &[u32], number: &[u32], metres: &[(f64, f64)]) -> Vec<(f64, f64)> {
    let mut sums = vec![(0.0, 0.0); number.len()];
    for (&cell, at) in of_site.iter().zip(metres) {
        let sum = &mut sums[cell as usize];
        *sum = (sum.0 + at.0, sum.1 + at.1);
    }
    let middle = |(sum, &n): (&(f64, f64), &u32)| (sum.0 / f64::from(n.max(1)), sum.1 / f64::from(n.max(1)));
    sums.iter().zip(number).map(middle).collect()
}
