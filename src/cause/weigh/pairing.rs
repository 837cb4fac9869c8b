//! Evidence of a single explanation, and of two together: summed over the shapes that each may have.

mod hollows;

use super::candidate::{Candidate, TwoRows};
use super::evidence::{Hyper, Integrated, Joint, Point, Table};
use super::ground::{Axis, Ground};
use super::shape::{Shape, Span};
use crate::stats::logit_evidence::LogitFit;
use crate::stats::special::ln_sum;
use hollows::{SUBDIVISIONS, weightiest_hollows};
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};

/// One shape by itself.
#[derive(Clone, Debug)]
struct Single {
    ln_evidence: f64,
    /// Node of greatest weight, and the evidence there.
    peak: usize,
    at_peak: LogitFit,
}

impl Single {
    fn of(found: &Integrated) -> Self {
        Single { ln_evidence: found.ln_evidence, peak: found.peak.at.0, at_peak: found.peak.fit.clone() }
    }
}

/// A shape and what it came to by itself.
type Looked = (Shape, Integrated);

fn weight((shape, found): &Looked) -> f64 {
    shape.ln_prior + found.ln_evidence
}

/// An explanation whose shapes have been weighed one by one.
#[derive(Clone, Debug)]
pub(super) struct Weighed {
    pub candidate: Candidate,
    singles: Vec<Single>,
    /// Shapes that are followed into pairs.
    followed: Vec<usize>,
    pub sum: Sum,
}

impl Weighed {
    /// Adds a shape that is followed; returns its index.
    fn add(&mut self, shape: Shape, single: Single) -> usize {
        self.followed.push(self.singles.len());
        self.singles.push(single);
        self.candidate.shapes.push(shape);
        self.singles.len() - 1
    }
}

/// Evidence summed over shapes, and the weightiest of them.
#[derive(Clone, Debug)]
pub(super) struct Sum {
    pub ln_evidence: f64,
    pub parts: Vec<Part>,
}

/// Shapes with their weight within the explanation.
#[derive(Clone, Debug)]
pub(super) struct Part {
    pub shapes: [Shape; 2],
    pub ln_weight: f64,
    pub peak: Point,
}

/// What the sums stand on.
pub(super) struct Bench<'a> {
    pub hyper: &'a Hyper,
    pub ground: &'a Ground,
    /// ln evidence of no effect at all.
    pub nothing: f64,
}

/// Shapes of an explanation that are followed with every shape of another, beside the best spread.
const LEADERS: usize = 4;
/// Pairs of shapes whose standard deviations are integrated out together.
const EXACT: usize = 16;
/// Shapes that are followed into pairs at all, beside the spreads; the others are taken not to touch.
const FOLLOWED: usize = 150;
/// Odd rows, whole or in part, that are looked at two by two; and how many of one row at most.
const TWINS_AMONG: usize = 6;
const TWINS_OF_A_ROW: usize = 2;
/// Parts kept for what is read off the model.
const PARTS: usize = 8;

impl<'a> Bench<'a> {
    /// Table by one axis or two.
    pub(super) fn table(&self, a: &Axis, b: &Axis) -> Table {
        Table::new((&self.ground.failed, &self.ground.seen), a, b)
    }

    fn alone(&self) -> Axis {
        Axis { levels: 1, of_cell: vec![0; self.ground.seen.len()] }
    }

    /// Weighs every shape of an explanation; none where none can be fitted.
    pub(super) fn weigh(&self, mut candidate: Candidate) -> Option<Weighed> {
        let table = self.table(&candidate.axis, &self.alone());
        let one = |shape: Shape| self.by_itself(&table, &shape).map(|found| (shape, found));
        let all = |shapes: Vec<Shape>| shapes.into_par_iter().filter_map(one).collect::<Vec<_>>();
        let mut looked: Vec<Looked> = all(std::mem::take(&mut candidate.shapes));
        for _ in 0..SUBDIVISIONS {
            let (hollows, mut others) = weightiest_hollows(looked);
            others.extend(all(hollows.iter().flat_map(|(shape, _)| shape.octants()).collect()));
            looked = others;
        }
        let mut rest = None;
        if let Some(two) = &candidate.twins {
            let gain = |found: &Integrated| found.ln_evidence - self.nothing;
            let odd = looked.iter().filter_map(|(shape, found)| OddRow::of(shape, gain(found), two));
            let twins = Twins::of(odd.collect(), two, std::iter::empty());
            rest = Some(twins.ln_rest + self.nothing);
            looked.extend(all(twins.shapes));
        }
        let mut singles = Vec::new();
        let mut parts = Vec::new();
        for (shape, found) in looked {
            let ln_weight = shape.ln_prior + found.ln_evidence;
            singles.push(Single::of(&found));
            parts.push(Part { shapes: [shape.clone(), Shape::none()], ln_weight, peak: found.peak });
            candidate.shapes.push(shape);
        }
        let logs: Vec<f64> = parts.iter().map(|p| p.ln_weight).chain(rest).collect();
        let followed = followed(&candidate, &singles);
        (!parts.is_empty()).then(|| Weighed {
            candidate,
            singles,
            followed,
            sum: Sum { ln_evidence: ln_sum(&logs), parts: best(parts) },
        })
    }

    /// Evidence of one shape by itself, on a table by its axis and none.
    fn by_itself(&self, table: &Table, shape: &Shape) -> Option<Integrated> {
        Joint::new(self.hyper, table, [shape, &Shape::none()])?.integrate((0, 0), None)
    }

    /// A first look at two explanations together; none where no pair of shapes can be fitted.
    pub(super) fn look_at<'b>(&'b self, a: &'b Weighed, b: &'b Weighed) -> Option<Pairing<'a, 'b>> {
        let table = self.table(&a.candidate.axis, &b.candidate.axis);
        let mut pairing = Pairing {
            bench: self,
            table,
            sides: [a.clone(), b.clone()],
            known: BTreeMap::new(),
            best: (0, 0),
            rest: [None, None],
        };
        pairing.first_look()?;
        Some(pairing)
    }
}

/// An odd row, whole or in part.
#[derive(Clone, Copy, Debug, PartialEq)]
struct OddRow {
    levels: Span,
    row: u32,
    /// ln of its share in the prior of its row.
    ln_share: f64,
    /// ln of that share times its evidence, over the evidence of no odd row.
    ln_gain: f64,
}

impl OddRow {
    /// `gain`: ln evidence of the shape over that of no odd row. None for another shape.
    fn of(shape: &Shape, gain: f64, two: &TwoRows) -> Option<Self> {
        let levels = shape.odd_levels()?;
        let ln_share = shape.ln_prior - two.ln_prior + (two.rows as f64).ln();
        Some(OddRow { levels, row: levels.from / two.parts, ln_share, ln_gain: ln_share + gain })
    }
}

/// Two rows that are odd together: the likeliest pairs as shapes, the others summed.
struct Twins {
    shapes: Vec<Shape>,
    /// ln of prior times evidence over that of no odd row, of all pairs that aren't shapes, as if the two didn't touch.
    ln_rest: f64,
}

impl Twins {
    /// `before`: pairs that are shapes already.
    fn of(mut odd: Vec<OddRow>, two: &TwoRows, before: impl Iterator<Item = (Span, Span)>) -> Self {
        let n = two.rows as f64;
        let each = two.ln_prior - (n * (n - 1.0) / 2.0).ln();
        odd.sort_by(|a, b| b.ln_gain.total_cmp(&a.ln_gain).then(a.levels.cmp(&b.levels)));
        let first = likeliest(&odd);
        let apart = first.iter().enumerate().flat_map(|(at, a)| first[at + 1..].iter().map(move |b| (*a, *b)));
        let twins = |(a, b): (&OddRow, &OddRow)| {
            let levels = (a.levels.min(b.levels), a.levels.max(b.levels));
            Shape::twins(levels, each + a.ln_share + b.ln_share)
        };
        let shapes: Vec<Shape> = apart.filter(|(a, b)| a.row != b.row).map(twins).collect();
        let looked_at: BTreeSet<(Span, Span)> = before.chain(shapes.iter().filter_map(Shape::twin_levels)).collect();
        Twins { ln_rest: each + ln_of_others(&odd, &looked_at), shapes }
    }
}

/// The first of so many, but not more than so many of one row.
fn likeliest(odd: &[OddRow]) -> Vec<&OddRow> {
    let mut of_row = BTreeMap::<u32, usize>::new();
    let may = |one: &&OddRow| {
        let taken = of_row.entry(one.row).or_default();
        *taken += 1;
        *taken <= TWINS_OF_A_ROW
    };
    odd.iter().filter(may).take(TWINS_AMONG).collect()
}

/// ln of the product of the gains of two rows, summed over all pairs of different rows but those looked at. What rounding
/// leaves is nothing beside the pairs looked at, which it is added to.
fn ln_of_others(odd: &[OddRow], looked_at: &BTreeSet<(Span, Span)>) -> f64 {
    let most = odd.iter().map(|one| one.ln_gain).fold(f64::NEG_INFINITY, f64::max);
    let gains: BTreeMap<Span, f64> = odd.iter().map(|one| (one.levels, (one.ln_gain - most).exp())).collect();
    let mut of_row = BTreeMap::<u32, f64>::new();
    odd.iter().for_each(|one| *of_row.entry(one.row).or_default() += gains[&one.levels]);
    let mut before = 0.0;
    let with_those_before = |gain: &f64| {
        let pairs = gain * before;
        before += gain;
        pairs
    };
    let all: f64 = of_row.values().map(with_those_before).sum();
    let gain = |levels: &Span| gains.get(levels).copied().unwrap_or(0.0);
    let looked_at: f64 = looked_at.iter().map(|(one, other)| gain(one) * gain(other)).sum();
    2.0 * most + (all - looked_at).max(0.0).ln()
}

/// The weightiest parts.
fn best(mut parts: Vec<Part>) -> Vec<Part> {
    parts.sort_by(|p, q| q.ln_weight.total_cmp(&p.ln_weight));
    parts.truncate(PARTS);
    parts
}

/// Two explanations while their shapes are looked at pair by pair.
pub(super) struct Pairing<'a, 'b> {
    bench: &'b Bench<'a>,
    table: Table,
    sides: [Weighed; 2],
    /// ln evidence of pairs looked at, with the fit where it was integrated over a grid.
    known: BTreeMap<(usize, usize), (f64, Option<Point>)>,
    best: (usize, usize),
    /// What pairs of odd rows that aren't shapes come to, on each side.
    rest: [Option<f64>; 2],
}

impl Pairing<'_, '_> {
    fn first_look(&mut self) -> Option<()> {
        let mut rows: BTreeSet<usize> = leaders(&self.sides[0]);
        let mut columns: BTreeSet<usize> = leaders(&self.sides[1]);
        self.look(&rows, &columns);
        for _ in 0..3 {
            let (i, j) = self.top(1).first().copied()?;
            if !rows.insert(i) & !columns.insert(j) {
                break;
            }
            self.look(&rows, &columns);
        }
        self.settle()
    }

    /// The sum with the weightiest pairs integrated over both standard deviations.
    pub(super) fn refined(mut self) -> Sum {
        self.look_at_hollows();
        self.exact();
        if self.settle().is_some() {
            self.exact();
            self.settle();
        }
        self.add_up()
    }

    /// Sees to the best pair: that all shapes are looked at with it, two odd rows among them.
    fn settle(&mut self) -> Option<()> {
        let (i, j) = self.top(1).first().copied()?;
        self.look(&BTreeSet::from([i]), &BTreeSet::from([j]));
        self.rest = [self.twins(0, j), self.twins(1, i)];
        let (i, j) = self.top(1).first().copied()?;
        self.look(&BTreeSet::from([i]), &BTreeSet::from([j]));
        self.best = (i, j);
        Some(())
    }

    /// The shape of the other side in the best pair.
    fn beside(&self, side: usize) -> usize {
        if side == 0 { self.best.1 } else { self.best.0 }
    }

    fn counts(&self) -> (usize, usize) {
        (self.sides[0].singles.len(), self.sides[1].singles.len())
    }

    fn ln_prior(&self, (i, j): (usize, usize)) -> f64 {
        self.sides[0].candidate.shapes[i].ln_prior + self.sides[1].candidate.shapes[j].ln_prior
    }

    /// Looks at the pairs of these with all, as far as they aren't known.
    fn look(&mut self, rows: &BTreeSet<usize>, columns: &BTreeSet<usize>) {
        let [n, m] = [0, 1].map(|side| &self.sides[side].followed);
        let across = rows.iter().flat_map(|&i| m.iter().map(move |&j| (i, j)));
        let down = columns.iter().flat_map(|&j| n.iter().map(move |&i| (i, j)));
        let mut open: Vec<(usize, usize)> = across.chain(down).filter(|pair| !self.known.contains_key(pair)).collect();
        open.sort_unstable();
        open.dedup();
        let this = &*self;
        let found: Vec<Option<f64>> = open.par_iter().map(|&pair| this.glance(pair)).collect();
        let found = open.into_iter().zip(found).filter_map(|(pair, value)| Some((pair, (value?, None))));
        self.known.extend(found);
    }

    fn joint(&self, (i, j): (usize, usize)) -> Option<Joint<'_>> {
        let shapes = [&self.sides[0].candidate.shapes[i], &self.sides[1].candidate.shapes[j]];
        Joint::new(self.bench.hyper, &self.table, shapes)
    }

    /// ln evidence of a pair from one fit, at the standard deviations where each peaks by itself; many effects are taken
    /// to be as wide about their peak as by themselves.
    fn glance(&self, (i, j): (usize, usize)) -> Option<f64> {
        let joint = self.joint((i, j))?;
        let singles = [&self.sides[0].singles[i], &self.sides[1].singles[j]];
        let beyond = |s: &Single| s.ln_evidence - s.at_peak.log_evidence;
        let side = usize::from(singles[1].ln_evidence > singles[0].ln_evidence);
        let start = joint.start(side, &singles[side].at_peak);
        let fit = joint.at((singles[0].peak, singles[1].peak), Some(&start))?;
        Some(fit.log_evidence + beyond(singles[0]) + beyond(singles[1]))
    }

    /// The weightiest pairs.
    fn top(&self, n: usize) -> Vec<(usize, usize)> {
        let mut pairs: Vec<((usize, usize), f64)> =
            self.known.iter().map(|(p, v)| (*p, v.0 + self.ln_prior(*p))).collect();
        pairs.sort_by(|p, q| q.1.total_cmp(&p.1).then(p.0.cmp(&q.0)));
        pairs.into_iter().take(n).map(|p| p.0).collect()
    }

    /// Integrates the weightiest pairs over the grid, until the weightiest are all of that kind.
    fn exact(&mut self) {
        for _ in 0..3 {
            let open: Vec<(usize, usize)> = self
                .top(EXACT)
                .into_iter()
                .filter(|pair| self.known.get(pair).is_some_and(|v| v.1.is_none()))
                .collect();
            if open.is_empty() {
                return;
            }
            let this = &*self;
            let found: Vec<Option<Integrated>> = open.par_iter().map(|pair| this.integrated(*pair)).collect();
            for (pair, found) in open.into_iter().zip(found) {
                match found {
                    Some(found) => self.known.insert(pair, (found.ln_evidence, Some(found.peak))),
                    None => self.known.remove(&pair),
                };
            }
        }
    }

    /// From the peak of the one that says more by itself.
    fn integrated(&self, (i, j): (usize, usize)) -> Option<Integrated> {
        let joint = self.joint((i, j))?;
        let singles = [&self.sides[0].singles[i], &self.sides[1].singles[j]];
        let side = usize::from(singles[1].ln_evidence > singles[0].ln_evidence);
        let near = joint.start(side, &singles[side].at_peak);
        joint.integrate((singles[0].peak, singles[1].peak), Some(&near))
    }

    /// Adds the likeliest two odd rows given the other side's shape; returns what the others come to, over the
    /// evidence of that shape by itself.
    fn twins(&mut self, side: usize, other: usize) -> Option<f64> {
        let two = self.sides[side].candidate.twins?;
        let pair = |own: usize| in_order(side, own, other);
        let alone = self.sides[1 - side].singles[other].ln_evidence;
        let gain = |own: usize| match self.known.get(&pair(own)) {
            Some(known) => known.0 - alone,
            None => self.untouched(side, own),
        };
        let shapes = &self.sides[side].candidate.shapes;
        let odd = shapes.iter().enumerate().filter_map(|(own, shape)| OddRow::of(shape, gain(own), &two)).collect();
        let twins = Twins::of(odd, &two, shapes.iter().filter_map(Shape::twin_levels));
        let table = self.bench.table(&self.sides[side].candidate.axis, &self.bench.alone());
        for shape in twins.shapes {
            let is_same = |s: &Shape| s.twin_levels() == shape.twin_levels();
            let own = match self.sides[side].candidate.shapes.iter().position(is_same) {
                Some(own) => own,
                None => {
                    let Some(found) = self.bench.by_itself(&table, &shape) else { continue };
                    self.sides[side].add(shape, Single::of(&found))
                }
            };
            let value = (!self.known.contains_key(&pair(own))).then(|| self.glance(pair(own))).flatten();
            self.known.extend(value.map(|value| (pair(own), (value, None))));
        }
        Some(twins.ln_rest)
    }

    /// What a shape that isn't followed adds to the evidence: what it does by itself, but nothing in its favour.
    fn untouched(&self, side: usize, own: usize) -> f64 {
        (self.sides[side].singles[own].ln_evidence - self.bench.nothing).min(0.0)
    }

    /// All pairs: those looked at, and the others as if the two didn't touch beyond what they do at the best pair.
    pub(super) fn add_up(&self) -> Sum {
        let ((i, j), extra) = (self.best, self.rest);
        let (n, m) = self.counts();
        let value = |pair: (usize, usize)| self.known.get(&pair).map(|v| v.0);
        let middle = value((i, j)).unwrap_or(0.0);
        let alone = |side: usize, own: usize| self.sides[side].singles[own].ln_evidence;
        let beside_j = |k: usize| value((k, j)).unwrap_or_else(|| alone(1, j) + self.untouched(0, k));
        let beside_i = |l: usize| value((i, l)).unwrap_or_else(|| alone(0, i) + self.untouched(1, l));
        let down: Vec<f64> = (0..n).map(|k| beside_j(k) - middle).collect();
        let across: Vec<f64> = (0..m).map(beside_i).collect();
        let weight = |k: usize, l: usize| value((k, l)).unwrap_or_else(|| down[k] + across[l]) + self.ln_prior((k, l));
        let pairs = (0..n).flat_map(|k| (0..m).map(move |l| (k, l)));
        let mut logs: Vec<f64> = pairs.map(|(k, l)| weight(k, l)).collect();
        let prior = |side: usize, k: usize| self.sides[side].candidate.shapes[k].ln_prior;
        if let Some(rest) = extra[0] {
            let base = alone(1, j) + rest - middle;
            logs.extend((0..m).map(|l| base + across[l] + prior(1, l)));
        }
        if let Some(rest) = extra[1] {
            let base = alone(0, i) + rest;
            logs.extend((0..n).map(|k| base + down[k] + prior(0, k)));
        }
        let parts = self.known.iter().filter_map(|(&(k, l), v)| {
            let shapes = [self.sides[0].candidate.shapes[k].clone(), self.sides[1].candidate.shapes[l].clone()];
            Some(Part { shapes, ln_weight: v.0 + self.ln_prior((k, l)), peak: v.1.clone()? })
        });
        Sum { ln_evidence: ln_sum(&logs), parts: best(parts.collect()) }
    }
}

/// A shape of one side and one of the other, the first side's first.
fn in_order(side: usize, own: usize, other: usize) -> (usize, usize) {
    if side == 0 { (own, other) } else { (other, own) }
}

/// Spreads, and the weightiest other shapes.
fn followed(candidate: &Candidate, singles: &[Single]) -> Vec<usize> {
    let weight = |i: usize| candidate.shapes[i].ln_prior + singles[i].ln_evidence;
    let (spreads, mut others): (Vec<usize>, Vec<usize>) = (0..singles.len()).partition(|&i| candidate.shapes[i].many);
    others.sort_by(|&i, &j| weight(j).total_cmp(&weight(i)).then(i.cmp(&j)));
    let mut followed: Vec<usize> = spreads.into_iter().chain(others.into_iter().take(FOLLOWED)).collect();
    followed.sort_unstable();
    followed
}

/// The best spread and the weightiest other shapes.
fn leaders(weighed: &Weighed) -> BTreeSet<usize> {
    let shapes = &weighed.candidate.shapes;
    let weight = |i: &usize| shapes[*i].ln_prior + weighed.singles[*i].ln_evidence;
    let mut order: Vec<usize> = (0..shapes.len()).collect();
    order.sort_by(|i, j| weight(j).total_cmp(&weight(i)).then(i.cmp(j)));
    let spread = order.iter().copied().find(|&i| shapes[i].many);
    let others = order.iter().copied().filter(|&i| !shapes[i].many).take(LEADERS);
    spread.into_iter().chain(others).collect()
}

#[cfg(test)]
mod tests {
    use super::super::prior;
    use super::*;

    /// Twelve rows of 20 vines in five batches; failures by a rule that looks like chance, with a bad batch and a bad row.
    fn ground(bad_row: bool) -> Ground {
        let cells: Vec<(u32, u32)> = (0..12).flat_map(|row| (0..5).map(move |b| (row, b))).collect();
        let failed = |(i, &(row, batch)): (usize, &(u32, u32))| {
            let chance = f64::from(u8::from(i % 4 == 0));
            chance + 2.0 * f64::from(u8::from(batch == 3)) + 2.0 * f64::from(u8::from(bad_row && row == 7))
        };
        let axis = |of: fn(&(u32, u32)) -> u32, levels| Axis { levels, of_cell: cells.iter().map(of).collect() };
        Ground {
            failed: cells.iter().enumerate().map(failed).map(|f| f.min(4.0)).collect(),
            seen: vec![4.0; cells.len()],
            factors: vec![axis(|c| c.1, 5), axis(|c| c.0, 12)],
            parts: None,
            tiles: None,
            walk: None,
            edge: None,
            of_point: Vec::new(),
        }
    }

    fn candidate(name: &str, axis: &Axis) -> Candidate {
        let levels = axis.levels as u32;
        let mut shapes = vec![Shape::spread(axis.levels, 0.5f64.ln())];
        let odd = if name == "row" { 0.25 } else { 0.5 };
        shapes.extend((0..levels).map(|l| Shape::odd(Span::one(l), (odd / f64::from(levels)).ln())));
        let twins = (name == "row").then(|| TwoRows { ln_prior: 0.25f64.ln(), rows: axis.levels, parts: 1 });
        Candidate { name: name.into(), axis: axis.clone(), shapes, twins }
    }

    /// Pairs looked at and the rest come to all pairs of stretches of different rows.
    #[test]
    fn two_odd_rows_come_to_all_pairs() {
        let two = TwoRows { ln_prior: 0.25f64.ln(), rows: 7, parts: 2 };
        let gain = |i: u32| (f64::from(i * i % 11) - 4.0) / 2.0;
        let odd =
            |i: u32| OddRow { levels: Span::one(i), row: i / 2, ln_share: 0.5f64.ln(), ln_gain: 0.5f64.ln() + gain(i) };
        // A pair that is a shape already, of two that gain next to nothing.
        let before = (Span::one(2), Span::one(11));
        let twins = Twins::of((0..14).map(odd).collect(), &two, [before].into_iter());
        assert!(twins.shapes.iter().all(|s| s.twin_levels() != Some(before)));
        let each = 0.25 / 21.0 / 4.0;
        let looked_at = twins.shapes.iter().filter_map(|s| {
            let (a, b) = s.twin_levels()?;
            Some((s.ln_prior + gain(a.from) + gain(b.from)).exp())
        });
        let looked_at = looked_at.chain([each * (gain(2) + gain(11)).exp()]);
        let pairs = (0..14).flat_map(|i| (0..i).filter(move |j| j / 2 != i / 2).map(move |j| (i, j)));
        let want: f64 = pairs.map(|(i, j)| (gain(i) + gain(j)).exp()).sum::<f64>() * each;
        let got = looked_at.sum::<f64>() + twins.ln_rest.exp();
        assert!((got / want - 1.0).abs() < 1e-12 && twins.shapes.len() >= 12, "{got} {want} {}", twins.shapes.len());
    }

    /// Every pair of shapes integrated over its grid, every pair of rows among them.
    fn by_brute_force(bench: &Bench, a: &Candidate, b: &Candidate) -> f64 {
        let mut rows = b.shapes.clone();
        let n = b.axis.levels as u32;
        let each = (0.25 / f64::from(n * (n - 1) / 2)).ln();
        rows.extend((0..n).flat_map(|i| (i + 1..n).map(move |j| Shape::twins((Span::one(i), Span::one(j)), each))));
        let table = bench.table(&a.axis, &b.axis);
        let logs = a.shapes.iter().flat_map(|x| rows.iter().map(move |y| (x, y))).map(|(x, y)| {
            Joint::new(bench.hyper, &table, [x, y]).unwrap().integrate((0, 0), None).unwrap().ln_evidence
                + x.ln_prior
                + y.ln_prior
        });
        ln_sum(&logs.collect::<Vec<_>>())
    }

    #[test]
    fn the_sum_over_shapes_is_that_of_all_pairs() {
        for bad_row in [false, true] {
            let ground = ground(bad_row);
            let hyper = prior::Prior::default().hyper();
            let alone = Axis { levels: 1, of_cell: vec![0; ground.seen.len()] };
            let table = Table::new((&ground.failed, &ground.seen), &alone, &alone);
            let none = Shape::none();
            let nothing =
                Joint::new(&hyper, &table, [&none, &none]).unwrap().integrate((0, 0), None).unwrap().ln_evidence;
            let bench = Bench { hyper: &hyper, ground: &ground, nothing };
            let (batch, row) = (candidate("batch", &ground.factors[0]), candidate("row", &ground.factors[1]));
            let want = by_brute_force(&bench, &batch, &row);
            let (batch, row) = (bench.weigh(batch).unwrap(), bench.weigh(row).unwrap());
            let looked = bench.look_at(&batch, &row).unwrap();
            let (first, refined) = (looked.add_up().ln_evidence, looked.refined().ln_evidence);
            assert!((first - want).abs() < 0.1, "{bad_row}: {first} for {want}");
            assert!((refined - want).abs() < 0.01, "{bad_row}: {refined} for {want}");
        }
    }
}
