//! The explanations of a block, each with the shapes that its effect may have and their prior odds.

use super::Prior;
use super::ground::{Axis, Ground, PARTS, Tiles, Walk};
use super::shape::{self, Classes, HollowCell, Hollows, Shape, Span};
use crate::tally::Tally;
use std::sync::Arc;

/// A single explanation.
#[derive(Clone, Debug)]
pub(super) struct Candidate {
    pub name: String,
    pub axis: Axis,
    pub shapes: Vec<Shape>,
    /// Where two odd rows are thought of.
    pub twins: Option<TwoRows>,
}

/// Two odd rows, each as a whole or in part, as the shapes of one odd row are.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct TwoRows {
    /// Of all pairs together; one odd row has the same.
    pub ln_prior: f64,
    /// Number of rows that may be odd.
    pub rows: usize,
    /// Levels of the axis for each row.
    pub parts: u32,
}

/// Names in the order in which pairs are named; declared factors follow.
const ORDER: [&str; 8] = ["batch", "row", "place", "order", "clone", "rootstock", "variety", "edge"];

/// The explanations that a block can have, in order of name.
pub(super) fn candidates(tally: &Tally, ground: &Ground, prior: &Prior) -> Vec<Candidate> {
    let mut list: Vec<Candidate> =
        tally.factors.iter().enumerate().filter_map(|(at, _)| of_factor(tally, ground, prior, at)).collect();
    list.extend(ground.tiles.as_ref().and_then(|(axis, tiles)| place(axis, tiles, prior)));
    list.extend(ground.walk.as_ref().and_then(|(axis, walk)| order(axis, walk, prior)));
    list.extend(ground.edge.as_ref().and_then(edge));
    let rank = |name: &str| ORDER.iter().position(|n| *n == name).unwrap_or(ORDER.len());
    list.sort_by(|a, b| rank(&a.name).cmp(&rank(&b.name)).then_with(|| a.name.cmp(&b.name)));
    list
}

/// Every level its own effect, or one odd level among those that name one thing.
fn of_factor(tally: &Tally, ground: &Ground, prior: &Prior, at: usize) -> Option<Candidate> {
    let (factor, axis) = (&tally.factors[at], &ground.factors[at]);
    let mut seen = vec![0.0; axis.levels];
    axis.of_cell.iter().zip(&ground.seen).for_each(|(level, n)| seen[*level as usize] += n);
    let definite = |l: &u32| factor.definite.get(*l as usize) == Some(&true) && seen[*l as usize] > 0.0;
    let levels: Vec<u32> = (0..axis.levels as u32).filter(definite).collect();
    if levels.len() < 2 {
        return None;
    }
    if factor.name == "row" && levels.len() > 2 {
        return Some(rows(axis, ground.parts.as_ref(), &levels, prior));
    }
    let mut shapes = vec![Shape::spread(axis.levels, (1.0 - prior.odd_level).ln())];
    let ln_prior = (prior.odd_level / levels.len() as f64).ln();
    shapes.extend(levels.iter().map(|&l| Shape::odd(Span::one(l), ln_prior)));
    Some(Candidate { name: factor.name.clone(), axis: axis.clone(), shapes, twins: None })
}

/// Every row its own effect, or one odd row, or two; where vines have places an odd row may be odd from some place on only,
/// to either end, as behind a break in a dripline.
fn rows(rows: &Axis, parts: Option<&Axis>, levels: &[u32], prior: &Prior) -> Candidate {
    let (axis, per) = parts.map_or((rows, 1), |axis| (axis, PARTS));
    let of_level: Arc<[u32]> = (0..axis.levels as u32).map(|level| level / per).collect();
    let mut shapes = vec![Shape::grouped(of_level, rows.levels, (1.0 - prior.odd_level).ln())];
    let (odd, n) = (0.5 * prior.odd_level, levels.len());
    let in_part = if per > 1 { prior.row_part } else { 0.0 };
    let whole = ((1.0 - in_part) * odd / n as f64).ln();
    let ends_of_a_row = 2 * (per - 1).max(1);
    let part = (in_part * odd / (n as f64 * f64::from(ends_of_a_row))).ln();
    for first in levels.iter().map(|row| row * per) {
        let end = first + per;
        shapes.push(Shape::odd(Span { from: first, to: end }, whole));
        let ends = (first + 1..end).flat_map(|cut| [Span { from: first, to: cut }, Span { from: cut, to: end }]);
        shapes.extend(ends.map(|span| Shape::odd(span, part)));
    }
    shapes.retain(|shape| shape.ln_prior > f64::NEG_INFINITY);
    let twins = (odd > 0.0).then(|| TwoRows { ln_prior: odd.ln(), rows: n, parts: per });
    Candidate { name: "row".into(), axis: axis.clone(), shapes, twins }
}

/// Fields of how many ranges are looked at.
const RANGES: usize = 3;
/// Most tiles of a field.
const MOST_FIELD_TILES: f64 = 700.0;

/// The side that ranges are shares of: the shorter one; of a strip, an eighth of the longer.
fn side((across, along): (f64, f64)) -> f64 {
    across.min(along).max(0.125 * across.max(along)).max(1e-6)
}

/// Middles of `n` parts between two lengths, even on the log scale.
fn middles((low, high): (f64, f64), n: usize) -> Vec<f64> {
    (0..n).map(|i| low * (high / low).powf((i as f64 + 0.5) / n as f64)).collect()
}

/// A Gaussian field, or one hollow or rise with its middle anywhere.
fn place(axis: &Axis, tiles: &Tiles, prior: &Prior) -> Option<Candidate> {
    if tiles.centres.len() < 4 {
        return None;
    }
    let mut shapes = fields(tiles, prior);
    shapes.extend(hollows(tiles, prior));
    Some(Candidate { name: "place".into(), axis: axis.clone(), shapes, twins: None })
}

fn fields(tiles: &Tiles, prior: &Prior) -> Vec<Shape> {
    let (least, most) = prior.field_range;
    let ranges = middles((side(tiles.extent) * least, side(tiles.extent) * most), RANGES);
    let (coarse, of_tile) = tiles.coarser(ranges[0] / 1.5, MOST_FIELD_TILES);
    let classes = Classes::Listed(of_tile, coarse.centres.len());
    let ln_prior = ((1.0 - prior.odd_level) / ranges.len() as f64).ln();
    ranges.into_iter().map(|range| shape::field(&coarse, classes.clone(), range, ln_prior)).collect()
}

/// Radii log-uniform from the least to the greatest range of a field, or twice the least.
fn hollows(tiles: &Tiles, prior: &Prior) -> Vec<Shape> {
    let least = prior.hollow_radius_m.max(1.5 * tiles.side);
    let most = (side(tiles.extent) * prior.field_range.1).max(2.0 * least);
    let count = ((most / least).ln() / 1.7f64.ln()).ceil().max(1.0) as usize;
    let hollows = Hollows::over(tiles);
    let ratio = (most / least).powf(1.0 / count as f64);
    let of_radius = |radius: f64| {
        let (apart, centres) = centres(tiles.extent, radius);
        let ln_prior = (prior.odd_level / (count * centres.len()) as f64).ln();
        let cell = HollowCell { across: apart.0, along: apart.1, ratio };
        let one = |middle| hollows.at(middle, radius, cell, ln_prior);
        centres.into_iter().map(one).collect::<Vec<Shape>>()
    };
    middles((least, most), count).into_iter().flat_map(of_radius).collect()
}

/// Middles of oblongs about as wide as the radius that cover the ground, and how far apart they lie.
fn centres((across, along): (f64, f64), radius: f64) -> ((f64, f64), Vec<(f64, f64)>) {
    let count = |length: f64| (length / radius).ceil().clamp(1.0, 200.0);
    let apart = (across / count(across), along / count(along));
    let middles = |length: f64, apart: f64| (0..count(length) as usize).map(move |i| (i as f64 + 0.5) * apart);
    let all = middles(across, apart.0).flat_map(|x| middles(along, apart.1).map(move |y| (x, y)));
    (apart, all.collect())
}

/// Where every batch was planted in one go, mostly something that changed with the batch, as batches differ; otherwise a
/// step somewhere along the planters' walk.
fn order(axis: &Axis, walk: &Walk, prior: &Prior) -> Option<Candidate> {
    if axis.levels < 2 {
        return None;
    }
    let with_batch = if walk.batch.is_empty() { 0.0 } else { prior.order_with_batch };
    let mut shapes = Vec::new();
    if with_batch > 0.0 {
        let of: Arc<[u32]> = walk.batch.clone().into();
        let mut named: Vec<u32> = walk.batch.clone();
        named.sort_unstable();
        named.dedup();
        shapes.push(Shape::grouped(of, walk.batches, ((1.0 - prior.odd_level) * with_batch).ln()));
        let ln_prior = (prior.odd_level * with_batch / named.len() as f64).ln();
        shapes.extend(named.iter().map(|b| Shape::marked(walk.batch.iter().map(|x| x == b), ln_prior)));
    }
    let ln_prior = ((1.0 - with_batch) / f64::from(walk.cuts)).ln();
    shapes.extend((1..=walk.cuts).map(|cut| Shape::marked(walk.passed.iter().map(|p| *p >= cut), ln_prior)));
    Some(Candidate { name: "order".into(), axis: axis.clone(), shapes, twins: None })
}

fn edge(axis: &Axis) -> Option<Candidate> {
    let outer = axis.of_cell.contains(&1) && axis.of_cell.contains(&0);
    let shapes = vec![Shape::marked([false, true].into_iter(), 0.0)];
    outer.then(|| Candidate { name: "edge".into(), axis: axis.clone(), shapes, twins: None })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Shapes of rows, whole and in part, and pairs of odd rows come to a prior of 1.
    #[test]
    fn the_prior_of_rows_comes_to_one() {
        let axis = |levels| Axis { levels, of_cell: Vec::new() };
        for parts in [None, Some(axis(5 * PARTS as usize))] {
            let got = rows(&axis(5), parts.as_ref(), &[0, 1, 3], &Prior::default());
            let sum: f64 = got.shapes.iter().map(|s| s.ln_prior.exp()).sum();
            assert!((sum + got.twins.unwrap().ln_prior.exp() - 1.0).abs() < 1e-12, "{sum}");
            assert_eq!(got.shapes.len(), if parts.is_some() { 1 + 3 * 15 } else { 1 + 3 });
        }
    }
}
