//! Evidence of one or two shapes together, their standard deviations integrated out.

use super::ground::Axis;
use super::shape::{Effects, Shape};
use crate::stats::legendre::gauss_legendre;
use crate::stats::logit_evidence::{LogitFit, LogitModel, Scales};
use crate::stats::special::ln_sum;
use std::collections::BTreeMap;

/// A standard deviation and the ln of its prior mass.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Node {
    pub sd: f64,
    pub ln_mass: f64,
}

/// What is held plausible of the constant and of standard deviations before the counts are seen.
#[derive(Clone, Debug)]
pub(super) struct Hyper {
    pub constant_mean: f64,
    pub constant_sd: f64,
    /// Points of the standard deviation: of shapes of many effects, of a single effect, of none.
    many: Vec<Node>,
    single: [Node; 1],
    none: [Node; 1],
}

/// Number of points of the standard deviation of many effects.
const NODES: usize = 12;

impl Hyper {
    /// Standard deviations of many effects are exponential with P(sd > `once_in_ten`) = 0.1; that of a single effect is
    /// known: one draw says nothing of how widely such effects are spread.
    pub(super) fn new((constant_mean, constant_sd): (f64, f64), once_in_ten: f64, odd_sd: f64) -> Self {
        let mean = once_in_ten.max(1e-6) / std::f64::consts::LN_10;
        let known = |sd: f64| [Node { sd, ln_mass: 0.0 }];
        Hyper { constant_mean, constant_sd, many: nodes(NODES, mean), single: known(odd_sd), none: known(0.0) }
    }

    /// Variance of a single effect, logit squared.
    pub(super) fn odd_variance(&self) -> f64 {
        self.single[0].sd.powi(2)
    }

    pub(super) fn nodes(&self, shape: &Shape) -> &[Node] {
        match (&shape.effects, shape.many) {
            (Effects::None, _) => &self.none,
            (_, true) => &self.many,
            (_, false) => &self.single,
        }
    }
}

/// Gauss-Legendre points of the distribution function of an exponential distribution.
fn nodes(n: usize, mean: f64) -> Vec<Node> {
    let of = |(u, weight): (f64, f64)| Node { sd: -mean * (1.0 - u).ln(), ln_mass: weight.ln() };
    gauss_legendre(n).into_iter().map(of).collect()
}

/// Counts by the levels of two axes.
pub(super) struct Table {
    levels: Vec<(u32, u32)>,
    failed: Vec<f64>,
    seen: Vec<f64>,
}

impl Table {
    pub(super) fn new((failed, seen): (&[f64], &[f64]), a: &Axis, b: &Axis) -> Self {
        let mut sums = BTreeMap::<(u32, u32), (f64, f64)>::new();
        for (i, n) in seen.iter().enumerate().filter(|(_, n)| **n > 0.0) {
            let sum = sums.entry((a.of_cell[i], b.of_cell[i])).or_default();
            *sum = (sum.0 + failed[i], sum.1 + n);
        }
        let (levels, counts): (Vec<_>, Vec<(f64, f64)>) = sums.into_iter().unzip();
        let (failed, seen) = counts.into_iter().unzip();
        Table { levels, failed, seen }
    }

    /// Levels on both axes, failed, seen.
    pub(super) fn cells(&self) -> impl Iterator<Item = ((u32, u32), f64, f64)> {
        self.levels.iter().zip(&self.failed).zip(&self.seen).map(|((at, f), n)| (*at, *f, *n))
    }

    /// Classes of both shapes, failed and seen, of every cell of classes that holds a vine.
    fn collapsed(&self, a: &Shape, b: &Shape) -> Vec<(u32, u32, f64, f64)> {
        let (of_a, of_b) = (a.classes.count(), b.classes.count());
        let classes = self.levels.iter().map(|&(x, y)| (a.classes.of(x), b.classes.of(y)));
        if of_a * of_b > 4 * self.seen.len() {
            return classes.zip(self.failed.iter().zip(&self.seen)).map(|((x, y), (f, n))| (x, y, *f, *n)).collect();
        }
        let mut sums = vec![(0.0, 0.0); of_a * of_b];
        for ((x, y), (f, n)) in classes.zip(self.failed.iter().zip(&self.seen)) {
            let sum = &mut sums[x as usize * of_b + y as usize];
            *sum = (sum.0 + f, sum.1 + n);
        }
        let cells = sums.into_iter().enumerate().filter(|(_, s)| s.1 > 0.0);
        cells.map(|(at, (f, n))| ((at / of_b) as u32, (at % of_b) as u32, f, n)).collect()
    }
}

/// The model of two shapes together.
pub(super) struct Joint<'a> {
    hyper: &'a Hyper,
    shapes: [&'a Shape; 2],
    pub model: LogitModel,
    /// Which shape's effects are the swept grouping, if one's are.
    pub swept: Option<usize>,
    /// Columns of each shape: the first, and how many.
    pub columns: [(usize, usize); 2],
}

/// Points looked at on a grid of standard deviations: index of each shape's node, and the fit.
#[derive(Clone, Debug)]
pub(super) struct Point {
    pub at: (usize, usize),
    pub fit: LogitFit,
}

/// Evidence over the grid.
#[derive(Clone, Debug)]
pub(super) struct Integrated {
    pub ln_evidence: f64,
    /// Where the weight is greatest.
    pub peak: Point,
}

/// Most columns that are factored.
const MOST_COLUMNS: usize = 300;
/// Points are followed while they weigh more than exp(-this) of the weightiest.
const NEGLIGIBLE: f64 = 6.0;

impl<'a> Joint<'a> {
    /// None where the model would be too wide.
    pub(super) fn new(hyper: &'a Hyper, table: &Table, shapes: [&'a Shape; 2]) -> Option<Self> {
        let own = |s: &Shape| matches!(s.effects, Effects::Each);
        let size = |s: &Shape| if own(s) { s.classes.count() } else { 0 };
        let swept = match (size(shapes[0]), size(shapes[1])) {
            (0, 0) => None,
            (a, b) => Some(usize::from(b > a)),
        };
        let width_of = |i: usize| if Some(i) == swept { 0 } else { size(shapes[i]).max(shapes[i].width()) };
        let columns = [(1, width_of(0)), (1 + width_of(0), width_of(1))];
        let width = 1 + width_of(0) + width_of(1);
        if width > MOST_COLUMNS {
            return None;
        }
        let cells = table.collapsed(shapes[0], shapes[1]);
        let mut model = LogitModel { width, ..LogitModel::default() };
        model.levels = swept.map_or(0, |i| shapes[i].classes.count());
        for (a, b, failed, seen) in cells {
            let class = [a, b];
            let start = model.columns.len();
            model.columns.resize(start + width, 0.0);
            let line = &mut model.columns[start..];
            line[0] = 1.0;
            for i in [0, 1] {
                let to = &mut line[columns[i].0..columns[i].0 + columns[i].1];
                match &shapes[i].effects {
                    Effects::Each if Some(i) == swept => model.groups.push(class[i]),
                    Effects::Each => to[class[i] as usize] = 1.0,
                    Effects::Common(w, values) => {
                        to.copy_from_slice(&values[class[i] as usize * w..(class[i] as usize + 1) * w])
                    }
                    Effects::None => {}
                }
            }
            model.failed.push(failed);
            model.seen.push(seen);
        }
        Some(Joint { hyper, shapes, model, swept, columns })
    }

    pub(super) fn scales(&self, sds: [f64; 2]) -> Scales {
        let mut columns = vec![self.hyper.constant_sd; self.model.width];
        for i in [0, 1] {
            columns[self.columns[i].0..self.columns[i].0 + self.columns[i].1].fill(sds[i]);
        }
        let groups = self.swept.map_or(0.0, |i| sds[i]);
        Scales { constant_mean: self.hyper.constant_mean, columns, groups }
    }

    pub(super) fn sds(&self, at: (usize, usize)) -> [f64; 2] {
        let node = |i: usize, at: usize| self.hyper.nodes(self.shapes[i]).get(at).map_or(0.0, |n| n.sd);
        [node(0, at.0), node(1, at.1)]
    }

    /// ln odds of failure without any effect.
    pub(super) fn constant(&self, scales: &Scales, fit: &LogitFit) -> f64 {
        scales.constant_mean + scales.columns[0] * fit.columns[0]
    }

    /// The effect of one side's shape by level of its axis, logit.
    pub(super) fn over_levels(&self, side: usize, scales: &Scales, fit: &LogitFit, levels: usize) -> Vec<f64> {
        let (shape, (first, width)) = (self.shapes[side], self.columns[side]);
        let own: Vec<f64> = (first..first + width).map(|c| scales.columns[c] * fit.columns[c]).collect();
        let of_class = |class: usize| match &shape.effects {
            Effects::None => 0.0,
            Effects::Each if self.swept == Some(side) => scales.groups * fit.groups.get(class).copied().unwrap_or(0.0),
            Effects::Each => own.get(class).copied().unwrap_or(0.0),
            Effects::Common(w, values) => values[class * w..(class + 1) * w].iter().zip(&own).map(|(v, e)| v * e).sum(),
        };
        let of_classes: Vec<f64> = (0..shape.classes.count()).map(of_class).collect();
        (0..levels as u32).map(|l| of_classes[shape.classes.of(l) as usize]).collect()
    }

    /// The fit of one shape by itself as a start for both.
    pub(super) fn start(&self, side: usize, alone: &LogitFit) -> LogitFit {
        let mut columns = vec![0.0; self.model.width];
        columns[0] = alone.columns[0];
        let (first, width) = self.columns[side];
        let own = if alone.groups.is_empty() { &alone.columns[1..] } else { &alone.groups[..] };
        let mut groups = vec![0.0; self.model.levels];
        let to = if self.swept == Some(side) { &mut groups[..] } else { &mut columns[first..first + width] };
        to.iter_mut().zip(own).for_each(|(t, o)| *t = *o);
        LogitFit { columns, groups, factor: Vec::new(), diagonal: Vec::new(), cross: Vec::new(), ..*alone }
    }

    pub(super) fn at(&self, at: (usize, usize), start: Option<&LogitFit>) -> Option<LogitFit> {
        self.model.fit(&self.scales(self.sds(at)), start)
    }

    /// Evidence with both standard deviations integrated out: from `start` over the grid as far as there is weight.
    pub(super) fn integrate(&self, start: (usize, usize), near: Option<&LogitFit>) -> Option<Integrated> {
        let nodes = [self.hyper.nodes(self.shapes[0]), self.hyper.nodes(self.shapes[1])];
        let mass = |at: (usize, usize)| nodes[0][at.0].ln_mass + nodes[1][at.1].ln_mass;
        let mut seen = BTreeMap::<(usize, usize), f64>::new();
        let mut peak = Point { at: start, fit: self.at(start, near)? };
        let mut best = peak.fit.log_evidence + mass(start);
        seen.insert(start, best);
        let mut open = vec![Point { at: start, fit: peak.fit.clone() }];
        while let Some(from) = open.pop() {
            if seen.get(&from.at).is_none_or(|w| *w < best - NEGLIGIBLE) {
                continue;
            }
            for at in neighbours(from.at, (nodes[0].len(), nodes[1].len())) {
                if seen.contains_key(&at) {
                    continue;
                }
                let Some(fit) = self.at(at, Some(&from.fit)) else { continue };
                let weight = fit.log_evidence + mass(at);
                seen.insert(at, weight);
                if weight > best {
                    (best, peak) = (weight, Point { at, fit: fit.clone() });
                }
                open.push(Point { at, fit });
            }
        }
        let weights: Vec<f64> = seen.into_values().collect();
        Some(Integrated { ln_evidence: ln_sum(&weights), peak })
    }
}

fn neighbours((a, b): (usize, usize), (rows, columns): (usize, usize)) -> impl Iterator<Item = (usize, usize)> {
    let all = [(a.wrapping_sub(1), b), (a + 1, b), (a, b.wrapping_sub(1)), (a, b + 1)];
    all.into_iter().filter(move |at| at.0 < rows && at.1 < columns)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn points_of_the_standard_deviation_have_the_mean_of_its_prior() {
        // P(sd > 2) = 0.1: a mean of 2 / ln 10.
        let mean: f64 = nodes(12, 2.0 / std::f64::consts::LN_10).iter().map(|n| n.sd * n.ln_mass.exp()).sum();
        assert!((mean - 0.8686).abs() < 0.01, "{mean}");
    }
}
