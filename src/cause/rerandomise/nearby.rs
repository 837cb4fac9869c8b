//! Whether rows, or the edge of the block, differ from the vines beside them.
//!
//! A row is a place and not the label of a planted run, so there is nothing to deal to runs. What is dealt anew are
//! the failures of single vines, and only among vines of one batch that stand close to each other: in rows that are
//! pooled by [`ROWS`], over stretches of about [`PLACES`] places. A difference between batches, or between parts of the
//! block further apart, then can't be taken for one between rows.
//!
//! A slope of the ground goes on within such a neighbourhood. Rows are therefore compared by second differences: a row
//! against the mean of the two beside it, which no even slope across the rows moves. The edge is compared with what lies
//! inside of it, and a hollow that has its middle at the edge is part of what is asked.

use crate::base::Seed;
use crate::lattice::Line;
use crate::stats::permute::{Effort, Randomisation, Strata, randomise};
use crate::tally::{Edge, Field, Point};
use std::collections::BTreeMap;

/// Adjacent rows in a neighbourhood; up to two left over join the last ones, and a track parts two rows.
const ROWS: usize = 3;
/// Places along the row in a neighbourhood, at least: about as long as the rows are wide.
const PLACES: i64 = 6;

/// Vines that stand close to each other and came in one batch, where some failed and some didn't. Vines missing without a
/// trace are left out.
pub(super) struct Nearby<'a> {
    points: Vec<&'a Point>,
    failed: Vec<u32>,
    strata: Strata,
    row_groups: Vec<usize>,
    edge: Edge,
}

impl<'a> Nearby<'a> {
    /// `batch` is the place of the batch among the codes, if any is known.
    pub(super) fn of(field: &'a Field, batch: Option<usize>) -> Self {
        let row_groups = row_groups(&field.lines);
        let windows = Windows::of(field, &row_groups);
        let mut strata = BTreeMap::<_, Vec<&Point>>::new();
        for point in field.points.iter().filter(|p| !p.missing) {
            let group = row_groups.get(point.place.row as usize).copied().unwrap_or(usize::MAX);
            let window = windows.of_step(group, step(field, point));
            let batch = batch.and_then(|at| point.codes.get(at));
            strata.entry((group, window, batch)).or_default().push(point);
        }
        let mixed = |points: &Vec<&Point>| points.iter().any(|p| p.failed) && points.iter().any(|p| !p.failed);
        strata.retain(|_, points| mixed(points));
        let keys = strata.values().enumerate().flat_map(|(stratum, points)| points.iter().map(move |_| stratum));
        let by_key = Strata::by(keys);
        let points: Vec<&Point> = strata.into_values().flatten().collect();
        let failed = points.iter().map(|p| u32::from(p.failed)).collect();
        Nearby { points, failed, strata: by_key, row_groups, edge: field.edge() }
    }

    /// Sum over rows that have one on either side in their group of z^2 of F(before) - 2 F(row) + F(after), F the failures of a
    /// row. None where no such row can be compared.
    pub(super) fn rows(&self, effort: &Effort, name: &str, seed: Seed) -> Option<(Randomisation, f64)> {
        let is_middle = |row: usize| {
            let group = |row: usize| self.row_groups.get(row);
            row > 0 && group(row - 1) == group(row) && group(row + 1) == group(row)
        };
        let middles: Vec<u32> =
            (0..self.row_groups.len()).filter(|&row| is_middle(row)).map(|row| row as u32).collect();
        let of_row = |row: u32, weight: f64| middles.binary_search(&row).ok().map(|at| (at, weight));
        let weights = |p: &Point| {
            let row = p.place.row;
            let before = row.checked_sub(1).and_then(|row| of_row(row, 1.0));
            [before, of_row(row, -2.0), of_row(row + 1, 1.0)].into_iter().flatten().collect()
        };
        self.redeal(Contrasts::of(self, middles.len(), weights), effort, name, seed)
    }

    /// z^2 of the failures at the edge. None where no vine of the edge can be compared with one beside it.
    pub(super) fn edge(&self, effort: &Effort, name: &str, seed: Seed) -> Option<(Randomisation, f64)> {
        let weights = |p: &Point| if self.edge.holds(p.place) { vec![(0, 1.0)] } else { Vec::new() };
        self.redeal(Contrasts::of(self, 1, weights), effort, name, seed)
    }

    /// With the exact expectation: one for each contrast that varies.
    fn redeal(&self, contrasts: Contrasts, effort: &Effort, name: &str, seed: Seed) -> Option<(Randomisation, f64)> {
        let expected = contrasts.varying() as f64;
        let statistic = |failed: &[u32]| [contrasts.statistic(failed)];
        let [result] = randomise(&self.failed, &self.strata, statistic, effort, name, seed);
        (expected > 0.0).then_some((result, expected))
    }
}

/// The group of each row of the layout.
fn row_groups(lines: &[Line]) -> Vec<usize> {
    let (mut groups, mut before) = (Vec::new(), 0);
    for segment in lines.chunk_by(|_, next| !next.gap_before) {
        let whole = (segment.len() / ROWS).max(1);
        groups.extend((0..segment.len()).map(|row| before + (row / ROWS).min(whole - 1)));
        before += whole;
    }
    groups
}

/// Place along the row in whole vine spacings, rows shifted against each other as they are.
fn step(field: &Field, point: &Point) -> i64 {
    let offset = field.lines.get(point.place.row as usize).map_or(0, |line| i64::from(line.offset));
    i64::from(point.place.position) + offset
}

/// First and last step of each group of rows.
struct Windows {
    reach: BTreeMap<usize, (i64, i64)>,
}

impl Windows {
    fn of(field: &Field, row_groups: &[usize]) -> Self {
        let mut reach = BTreeMap::new();
        for point in &field.points {
            let Some(&group) = row_groups.get(point.place.row as usize) else { continue };
            let at = step(field, point);
            let (first, last) = reach.entry(group).or_insert((at, at));
            (*first, *last) = ((*first).min(at), (*last).max(at));
        }
        Windows { reach }
    }

    /// Windows of equal length, as many as have [`PLACES`] places.
    fn of_step(&self, group: usize, step: i64) -> i64 {
        let Some((first, last)) = self.reach.get(&group) else { return 0 };
        let places = last - first + 1;
        (step - first) * (places / PLACES).max(1) / places
    }
}

/// Weighted sums of the failures, with mean and variance over all ways to deal the failures of each stratum: with n vines
/// of which d failed and weights w, d sum(w) / n and d (n - d) / (n (n - 1)) times the sum of squares of w about its mean.
struct Contrasts {
    /// Of each vine: contrast and weight.
    weights: Vec<Vec<(usize, f64)>>,
    mean: Vec<f64>,
    variance: Vec<f64>,
}

impl Contrasts {
    fn of(nearby: &Nearby, count: usize, weights: impl Fn(&Point) -> Vec<(usize, f64)>) -> Self {
        let weights: Vec<Vec<(usize, f64)>> = nearby.points.iter().map(|p| weights(p)).collect();
        let mut all = Contrasts { weights, mean: vec![0.0; count], variance: vec![0.0; count] };
        nearby.strata.groups().for_each(|vines| all.add(vines, &nearby.failed));
        all
    }

    fn add(&mut self, vines: &[u32], failed: &[u32]) {
        let n = vines.len() as f64;
        let d = vines.iter().map(|&v| f64::from(failed[v as usize])).sum::<f64>();
        let mut sums = BTreeMap::<usize, (f64, f64)>::new();
        for &(contrast, weight) in vines.iter().flat_map(|&v| &self.weights[v as usize]) {
            let sum = sums.entry(contrast).or_default();
            (sum.0, sum.1) = (sum.0 + weight, sum.1 + weight * weight);
        }
        for (contrast, (sum, squares)) in sums {
            self.mean[contrast] += d * sum / n;
            self.variance[contrast] += d * (n - d) / (n * (n - 1.0)) * (squares - sum * sum / n).max(0.0);
        }
    }

    fn varying(&self) -> usize {
        self.variance.iter().filter(|v| **v > VARIES).count()
    }

    fn statistic(&self, failed: &[u32]) -> f64 {
        let mut sums = vec![0.0; self.mean.len()];
        let of_failed = self.weights.iter().zip(failed).filter(|(_, failed)| **failed == 1);
        of_failed.flat_map(|(weights, _)| weights).for_each(|&(contrast, weight)| sums[contrast] += weight);
        let z_squared = |((sum, mean), variance): ((&f64, &f64), &f64)| (sum - mean).powi(2) / variance;
        let all = sums.iter().zip(&self.mean).zip(&self.variance);
        all.filter(|(_, variance)| **variance > VARIES).map(z_squared).sum()
    }
}

/// Above rounding.
const VARIES: f64 = 1e-9;
