//! The strongest window of an arrangement of marks, and of many dealt anew.
//!
//! A window's ratio grows with its marked sites, so that most windows of most arrangements are passed over by one
//! comparison: only those with so many marked sites that the ratio may reach a floor are worked out. Where none reaches
//! it, those that may reach the next lower of `FLOORS` are.

use super::likelihood::{fewest, log_likelihood_ratio};
use super::rectangles::Group;
use super::{Scan, Shape};
use crate::lattice::dealt_counts::{DealtCounts, Tallies, counted};
use crate::stats::deck::{Dealer, Dealing};
use crate::stats::permute::Strata;
use rayon::prelude::*;

/// Chance alone reaches the first ratio in nearly every arrangement of a block, the second in nearly every one of a small
/// block; the last lets any window in that has more marks than expected.
const FLOORS: [f64; 3] = [4.0, 2.0, 0.0];
/// A window that can't be the strongest.
const NEVER: i32 = i32::MAX;

/// A search among some of the scan's sites for the window with the most marks beyond what their strata have.
#[derive(Clone, Debug)]
pub struct Search<'a> {
    scan: &'a Scan,
    dealt: DealtCounts,
    /// The cell of each site of the search.
    cells: Vec<u32>,
    marked: Vec<bool>,
    sites: Sums<f64>,
    expected: Sums<f64>,
    /// The fewest marked sites of each window with which its ratio can reach each floor.
    fewest: [Vec<i32>; 3],
    all_sites: f64,
    all_cases: f64,
}

/// The strongest window.
#[derive(Clone, Debug, PartialEq)]
pub struct Strongest {
    pub shape: Shape,
    /// Indices of its sites among those of the search.
    pub sites: Vec<u32>,
    pub marked: u64,
    /// What their strata have of as many sites.
    pub expected: f64,
    pub log_likelihood_ratio: f64,
}

impl<'a> Search<'a> {
    /// Among the `sites` of the scan (distinct indices); `marks` (0 or another number) and `strata` are theirs, in the
    /// same order.
    pub fn new(scan: &'a Scan, sites: &[u32], marks: &[u32], strata: &Strata) -> Self {
        let number = scan.cells.number();
        let cells: Vec<u32> = sites.iter().map(|&site| scan.cells.of_site[site as usize]).collect();
        let (mut in_cell, mut expected) = (vec![0.0; number], vec![0.0; number]);
        for group in strata.groups() {
            let rate = group.iter().filter(|&&unit| marks[unit as usize] != 0).count() as f64 / group.len() as f64;
            for &unit in group {
                in_cell[cells[unit as usize] as usize] += 1.0;
                expected[cells[unit as usize] as usize] += rate;
            }
        }
        let mut search = Search {
            dealt: DealtCounts::new(&cells, number, marks, strata),
            marked: marks.iter().map(|&mark| mark != 0).collect(),
            cells,
            sites: Sums::of(scan, &in_cell),
            expected: Sums::of(scan, &expected),
            fewest: FLOORS.map(|_| Vec::new()),
            all_sites: sites.len() as f64,
            all_cases: marks.iter().filter(|mark| **mark != 0).count() as f64,
            scan,
        };
        search.fewest = FLOORS.map(|floor| search.fewest(floor));
        search
    }

    /// The strongest window of the marks as they are; None where no window has more marks than expected.
    pub fn strongest(&self) -> Option<Strongest> {
        let counts = counted(&self.cells, self.scan.cells.number(), |site| self.marked[site]);
        let (ratio, window) = self.best(&Sums::of(self.scan, &counts))?;
        let inside = self.scan.inside(window);
        let of_site = |site: &u32| inside[self.cells[*site as usize] as usize];
        let sites: Vec<u32> = (0..self.cells.len() as u32).filter(of_site).collect();
        Some(Strongest {
            shape: self.scan.shape(window),
            marked: sites.iter().filter(|&&site| self.marked[site as usize]).count() as u64,
            expected: self.expected.of_window(self.scan, window),
            log_likelihood_ratio: ratio,
            sites,
        })
    }

    fn fewest(&self, floor: f64) -> Vec<i32> {
        let of_window = |window: usize| {
            let (sites, expected) =
                (self.sites.of_window(self.scan, window), self.expected.of_window(self.scan, window));
            let possible = sites > 0.0 && 2.0 * sites <= self.all_sites && expected > 0.0;
            if possible { fewest(floor, sites, expected, self.all_cases, self.all_sites) } else { NEVER }
        };
        let windows = self.scan.rectangles.windows() + self.scan.circles.windows();
        (0..windows).into_par_iter().map(of_window).collect()
    }

    /// The largest ratio, and its window: the first of several.
    fn best(&self, counts: &Sums<i32>) -> Option<(f64, usize)> {
        let mut floors = FLOORS.iter().zip(&self.fewest);
        floors.find_map(|(floor, fewest)| self.best_with(counts, fewest).filter(|best| best.0 >= *floor))
    }

    /// The same among the windows that have the fewest marks asked for.
    fn best_with(&self, counts: &Sums<i32>, fewest: &[i32]) -> Option<(f64, usize)> {
        let mut best = Best { search: self, found: None };
        let rectangles = &self.scan.rectangles;
        let (width, mut between) = (rectangles.width(), vec![0; self.scan.cells.steps + 1]);
        for (at, (lines, fewest)) in rectangles.lines.iter().zip(fewest.chunks_exact(width.max(1))).enumerate() {
            let (upper, lower) = (counts.row(lines.start), counts.row(lines.end));
            between
                .iter_mut()
                .zip(lower.iter().zip(upper))
                .for_each(|(between, (lower, upper))| *between = lower - upper);
            let mut from = 0;
            for group in &rectangles.groups {
                let fewest = &fewest[from..from + group.number];
                if reaches(&between, *group, fewest) {
                    best.look(&between, *group, fewest, at * width + from);
                }
                from += group.number;
            }
        }
        let first = rectangles.windows();
        for (at, (stretches, &fewest)) in self.scan.circles.each().zip(&fewest[first..]).enumerate() {
            let marked = counts.of_stretches(stretches);
            if marked >= fewest {
                best.consider(first + at, marked);
            }
        }
        best.found
    }

    fn ratio(&self, window: usize, marked: i32) -> f64 {
        let (sites, expected) = (self.sites.of_window(self.scan, window), self.expected.of_window(self.scan, window));
        log_likelihood_ratio(marked.into(), sites, expected, self.all_cases, self.all_sites)
    }

    fn largest(&self, counts: &Sums<i32>) -> [f64; 1] {
        [self.best(counts).map_or(0.0, |best| best.0)]
    }
}

/// Whether any stretch of the group has the fewest marks asked for.
fn reaches(between: &[i32], group: Group, fewest: &[i32]) -> bool {
    let (starts, ends) = (between, &between[group.size..]);
    if group.stride == 1 {
        let stretches = starts.iter().zip(ends).zip(fewest);
        return stretches.fold(false, |any, ((start, end), fewest)| any | (end - start >= *fewest));
    }
    let stretches = starts.iter().step_by(group.stride).zip(ends.iter().step_by(group.stride)).zip(fewest);
    stretches.fold(false, |any, ((start, end), fewest)| any | (end - start >= *fewest))
}

/// The best window so far.
struct Best<'a> {
    search: &'a Search<'a>,
    found: Option<(f64, usize)>,
}

impl Best<'_> {
    fn look(&mut self, between: &[i32], group: Group, fewest: &[i32], window: usize) {
        for (k, &fewest) in fewest.iter().enumerate() {
            let marked = between[k * group.stride + group.size] - between[k * group.stride];
            if marked >= fewest {
                self.consider(window + k, marked);
            }
        }
    }

    fn consider(&mut self, window: usize, marked: i32) {
        let ratio = self.search.ratio(window, marked);
        if ratio > self.found.map_or(0.0, |(best, _)| best + 1e-10) {
            self.found = Some((ratio, window));
        }
    }
}

/// Sums over cells: of every rectangle from the first cell on, and of every stretch in the order of the cells.
#[derive(Clone, Debug)]
struct Sums<T> {
    corner: Vec<T>,
    width: usize,
    before: Vec<T>,
}

impl<T: Copy + Default + std::ops::Add<Output = T> + std::ops::Sub<Output = T> + std::iter::Sum> Sums<T> {
    fn of(scan: &Scan, cells: &[T]) -> Self {
        let (lines, width) = (scan.cells.lines, scan.cells.steps + 1);
        let mut sums = Sums {
            corner: vec![T::default(); (lines + 1) * width],
            width,
            before: vec![T::default(); cells.len() + 1],
        };
        sums.fill(cells);
        sums
    }

    fn fill(&mut self, cells: &[T]) {
        let steps = self.width - 1;
        for (line, of_line) in cells.chunks_exact(steps.max(1)).enumerate() {
            let (above, below) = self.corner[line * self.width..].split_at_mut(self.width);
            let mut sum = T::default();
            for ((below, above), cell) in below[1..].iter_mut().zip(&above[1..]).zip(of_line) {
                sum = sum + *cell;
                *below = *above + sum;
            }
        }
        let mut sum = T::default();
        for (before, cell) in self.before[1..].iter_mut().zip(cells) {
            sum = sum + *cell;
            *before = sum;
        }
    }

    fn row(&self, line: usize) -> &[T] {
        &self.corner[line * self.width..(line + 1) * self.width]
    }

    fn of_stretches(&self, stretches: &[(u32, u32)]) -> T {
        stretches.iter().map(|&(from, to)| self.before[to as usize] - self.before[from as usize]).sum()
    }

    fn of_window(&self, scan: &Scan, window: usize) -> T {
        if window >= scan.rectangles.windows() {
            return self.of_stretches(scan.circles.stretches(window - scan.rectangles.windows()));
        }
        let (lines, steps) = scan.rectangles.window(window);
        let (upper, lower) = (self.row(lines.start), self.row(lines.end));
        lower[steps.end] - lower[steps.start] - upper[steps.end] + upper[steps.start]
    }
}

/// What a deal is written into.
pub struct Table {
    tallies: Tallies,
    sums: Sums<i32>,
}

impl Dealing<1> for Search<'_> {
    type Table = Table;

    fn table(&self) -> Table {
        let tallies = self.dealt.tallies();
        Table { sums: Sums::of(self.scan, &tallies.counts), tallies }
    }

    fn deal(&self, table: &mut Table, dealer: &mut Dealer) -> [f64; 1] {
        self.dealt.deal(&mut table.tallies, dealer);
        table.sums.fill(&table.tallies.counts);
        self.largest(&table.sums)
    }

    fn statistics(&self, marks: &[u32]) -> [f64; 1] {
        let counts = counted(&self.cells, self.scan.cells.number(), |site| marks[site] != 0);
        self.largest(&Sums::of(self.scan, &counts))
    }

    fn work(&self) -> usize {
        self.dealt.dealt() + self.fewest[0].len()
    }
}
