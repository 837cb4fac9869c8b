//! Shapes that an effect may have over the levels of an axis.

use super::ground::Tiles;
use std::sync::Arc;

/// An effect on the logit of failure over the levels of an axis: each class of levels has one, normal with a common
/// standard deviation.
#[derive(Clone, Debug)]
pub(super) struct Shape {
    pub classes: Classes,
    pub effects: Effects,
    /// Whether many effects share one standard deviation, which is integrated out.
    pub many: bool,
    pub ln_prior: f64,
}

/// Which class a level is in.
#[derive(Clone, Debug)]
pub(super) enum Classes {
    /// All in one.
    One,
    /// Each its own.
    Each(usize),
    /// Some levels apart from the rest, or two spans of them apart from each other too.
    Odd(Span),
    Twins(Span, Span),
    /// As listed, so many in number.
    Listed(Arc<[u32]>, usize),
    /// By the depth of a hollow, in twelfths.
    Round(Round),
}

/// Consecutive levels: `from` and those after it, below `to`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Span {
    pub from: u32,
    pub to: u32,
}

impl Span {
    pub(super) fn one(level: u32) -> Self {
        Span { from: level, to: level + 1 }
    }

    fn holds(self, level: u32) -> bool {
        (self.from..self.to).contains(&level)
    }
}

/// A hollow (or rise): depth times exp(-d^2 / (2 radius^2)) at distance d from its middle, metres.
#[derive(Clone, Debug)]
pub(super) struct Round {
    centres: Arc<[(f64, f64)]>,
    middle: (f64, f64),
    radius: f64,
    /// 1 / (2 radius^2).
    narrow: f64,
    cell: HollowCell,
    /// Twelfths of the depth by d^2 / (2 radius^2) in sixteenths.
    depths: Arc<[u32]>,
}

/// The hollows that one on a grid stands for: over how many metres across and along the rows their middles lie, and the
/// ratio of the greatest to the least of their radii.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct HollowCell {
    pub across: f64,
    pub along: f64,
    pub ratio: f64,
}

impl Round {
    fn new(centres: Arc<[(f64, f64)]>, depths: Arc<[u32]>, of: ((f64, f64), f64), cell: HollowCell) -> Self {
        let (middle, radius) = of;
        Round { centres, middle, radius, narrow: 0.5 / (radius * radius), cell, depths }
    }

    /// The eight that stand for halves of its cell: across, along, and of the radii.
    fn octants(&self) -> impl Iterator<Item = Round> {
        let HollowCell { across, along, ratio } = self.cell;
        let cell = HollowCell { across: across / 2.0, along: along / 2.0, ratio: ratio.sqrt() };
        let either = [-1.0, 1.0];
        let sides = either.into_iter().flat_map(move |x| either.map(|y| (x, y)));
        sides.flat_map(move |(x, y)| either.map(|z| (x, y, z))).map(move |(x, y, z)| {
            let middle = (self.middle.0 + x * across / 4.0, self.middle.1 + y * along / 4.0);
            let radius = self.radius * ratio.powf(z / 4.0);
            Round::new(self.centres.clone(), self.depths.clone(), (middle, radius), cell)
        })
    }

    fn depth(&self, tile: u32) -> u32 {
        let (x, y) = self.centres[tile as usize];
        let squared = (x - self.middle.0).powi(2) + (y - self.middle.1).powi(2);
        let step = squared * self.narrow * SIXTEEN;
        self.depths.get(step as usize).copied().unwrap_or(0)
    }
}

/// The effects that a class gets.
#[derive(Clone, Debug)]
pub(super) enum Effects {
    None,
    /// One of its own.
    Each,
    /// So many common ones, times these values: classes x width.
    Common(usize, Arc<[f64]>),
}

impl Classes {
    pub(super) fn of(&self, level: u32) -> u32 {
        match self {
            Classes::One => 0,
            Classes::Each(_) => level,
            Classes::Odd(odd) => u32::from(odd.holds(level)),
            Classes::Twins(one, other) => u32::from(one.holds(level)) + 2 * u32::from(other.holds(level)),
            Classes::Listed(of, _) => of[level as usize],
            Classes::Round(round) => round.depth(level),
        }
    }

    pub(super) fn count(&self) -> usize {
        match self {
            Classes::One => 1,
            Classes::Each(n) | Classes::Listed(_, n) => *n,
            Classes::Odd(_) => 2,
            Classes::Twins(..) => 3,
            Classes::Round(_) => DEPTHS + 1,
        }
    }
}

impl Shape {
    /// No effect.
    pub(super) fn none() -> Self {
        Shape { classes: Classes::One, effects: Effects::None, many: false, ln_prior: 0.0 }
    }

    /// Every level its own effect.
    pub(super) fn spread(levels: usize, ln_prior: f64) -> Self {
        Shape { classes: Classes::Each(levels), effects: Effects::Each, many: true, ln_prior }
    }

    /// Every group of levels its own effect.
    pub(super) fn grouped(of_level: Arc<[u32]>, groups: usize, ln_prior: f64) -> Self {
        Shape { classes: Classes::Listed(of_level, groups), effects: Effects::Each, many: true, ln_prior }
    }

    /// Some levels unlike the rest.
    pub(super) fn odd(levels: Span, ln_prior: f64) -> Self {
        let effects = Effects::Common(1, Arc::from([0.0, 1.0]));
        Shape { classes: Classes::Odd(levels), effects, many: false, ln_prior }
    }

    /// Two spans of levels unlike the rest, each in its own way.
    pub(super) fn twins((one, other): (Span, Span), ln_prior: f64) -> Self {
        let effects = Effects::Common(2, Arc::from([0.0, 0.0, 1.0, 0.0, 0.0, 1.0]));
        Shape { classes: Classes::Twins(one, other), effects, many: false, ln_prior }
    }

    /// Some levels, marked by true, unlike the rest.
    pub(super) fn marked(of_level: impl Iterator<Item = bool>, ln_prior: f64) -> Self {
        let classes = Classes::Listed(of_level.map(u32::from).collect(), 2);
        Shape { classes, effects: Effects::Common(1, Arc::from([0.0, 1.0])), many: false, ln_prior }
    }

    /// The eight hollows that a hollow stands for, an eighth of its prior each; none of another shape.
    pub(super) fn octants(&self) -> Vec<Shape> {
        let Classes::Round(round) = &self.classes else { return Vec::new() };
        let ln_prior = self.ln_prior - 8f64.ln();
        round.octants().map(|octant| Shape { classes: Classes::Round(octant), ln_prior, ..self.clone() }).collect()
    }

    pub(super) fn is_hollow(&self) -> bool {
        matches!(self.classes, Classes::Round(_))
    }

    /// The levels that are unlike the rest, if it is one span of them.
    pub(super) fn odd_levels(&self) -> Option<Span> {
        if let Classes::Odd(levels) = self.classes { Some(levels) } else { None }
    }

    /// The two spans of levels that are unlike the rest and each other, if there are two.
    pub(super) fn twin_levels(&self) -> Option<(Span, Span)> {
        if let Classes::Twins(one, other) = self.classes { Some((one, other)) } else { None }
    }

    /// Slope and (positive) curvature of the ln likelihood in a single effect, where the effect is none: from the
    /// failures beyond those expected and their variance, by level.
    pub(super) fn score(&self, residuals: &[(f64, f64)]) -> (f64, f64) {
        let Effects::Common(1, values) = &self.effects else { return (0.0, 0.0) };
        let add = |sum: (f64, f64), (level, (failures, variance)): (u32, &(f64, f64))| {
            let value = values[self.classes.of(level) as usize];
            (sum.0 + value * failures, sum.1 + value * value * variance)
        };
        (0..).zip(residuals).fold((0.0, 0.0), add)
    }

    /// Number of common effects.
    pub(super) fn width(&self) -> usize {
        match self.effects {
            Effects::Common(width, _) => width,
            _ => 0,
        }
    }
}

/// Steps in which a hollow's depth is told.
const DEPTHS: usize = 12;
const SIXTEEN: f64 = 16.0;

/// Hollows over tiles: what they share.
pub(super) struct Hollows {
    centres: Arc<[(f64, f64)]>,
    depths: Arc<[u32]>,
    values: Arc<[f64]>,
}

impl Hollows {
    pub(super) fn over(tiles: &Tiles) -> Self {
        // Beyond exp(-x) of a twenty-fourth there is no twelfth left.
        let last = (2.0 * DEPTHS as f64).ln();
        let at = |step: usize| (step as f64 + 0.5) / SIXTEEN;
        let depth = |step: usize| ((-at(step)).exp() * DEPTHS as f64).round() as u32;
        Hollows {
            centres: tiles.centres.clone().into(),
            depths: (0..).take_while(|&step| at(step) < last).map(depth).collect(),
            values: (0..=DEPTHS).map(|d| d as f64 / DEPTHS as f64).collect(),
        }
    }

    /// One hollow of this radius around a middle, metres.
    pub(super) fn at(&self, middle: (f64, f64), radius: f64, cell: HollowCell, ln_prior: f64) -> Shape {
        let round = Round::new(self.centres.clone(), self.depths.clone(), (middle, radius), cell);
        let effects = Effects::Common(1, self.values.clone());
        Shape { classes: Classes::Round(round), effects, many: false, ln_prior }
    }
}

/// Most functions that a field is made of.
const MOST_FUNCTIONS: usize = 64;
/// Share of the field's variance that the functions have to reach.
const VARIANCE_KEPT: f64 = 0.98;

/// A Gaussian field of variance 1 over tiles, one class each, with covariance exp(-d^2 / (2 range^2)), as a sum of sines with
/// normal weights: the Hilbert-space approximation of Riutort-Mayol et al. 2023 (`riutort-mayol-2023`), eq. 8 to 16, with
/// their rules for the boundary (3.2 ranges, or a fifth, beyond the half extent) and the number of functions
/// (1.75 half extents a range). The functions of least weight are left out, and the rest scaled to a mean variance of 1.
pub(super) fn field(tiles: &Tiles, classes: Classes, range: f64, ln_prior: f64) -> Shape {
    let (x, y) = (Waves::of(tiles.extent.0, range), Waves::of(tiles.extent.1, range));
    let mut waves: Vec<(f64, u32, u32)> = (1..=x.count)
        .flat_map(|j| (1..=y.count).map(move |k| (j, k)))
        .map(|(j, k)| (-0.5 * range * range * (x.frequency(j).powi(2) + y.frequency(k).powi(2)), j, k))
        .collect();
    waves.sort_by(|a, b| b.0.total_cmp(&a.0).then((a.1, a.2).cmp(&(b.1, b.2))));
    let all: f64 = waves.iter().map(|w| w.0.exp()).sum();
    let mut kept = 0.0;
    let enough = waves.iter().position(|w| {
        kept += w.0.exp();
        kept >= VARIANCE_KEPT * all
    });
    waves.truncate(enough.map_or(waves.len(), |n| n + 1).min(MOST_FUNCTIONS));
    let at = |&(px, py): &(f64, f64)| {
        let of_wave = |&(ln, j, k): &(f64, u32, u32)| (0.5 * ln).exp() * x.at(j, px) * y.at(k, py);
        waves.iter().map(of_wave).collect::<Vec<f64>>()
    };
    let mut values: Vec<f64> = tiles.centres.iter().flat_map(at).collect();
    let mean_square = values.iter().map(|v| v * v).sum::<f64>() / tiles.centres.len().max(1) as f64;
    let scale = if mean_square > 0.0 { 1.0 / mean_square.sqrt() } else { 0.0 };
    values.iter_mut().for_each(|v| *v *= scale);
    let effects = Effects::Common(waves.len(), values.into());
    Shape { classes, effects, many: true, ln_prior }
}

/// Sines on one side of the ground.
struct Waves {
    middle: f64,
    /// Half the length on whose ends they vanish.
    reach: f64,
    count: u32,
}

impl Waves {
    fn of(extent: f64, range: f64) -> Self {
        let half = 0.5 * extent;
        let reach = (1.2 * half).max(3.2 * range);
        let count = (1.75 * reach / range).ceil().clamp(1.0, 60.0) as u32;
        Waves { middle: half, reach, count }
    }

    fn frequency(&self, j: u32) -> f64 {
        std::f64::consts::PI * f64::from(j) / (2.0 * self.reach)
    }

    fn at(&self, j: u32, place: f64) -> f64 {
        (self.frequency(j) * (place - self.middle + self.reach)).sin()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tiles() -> Tiles {
        let centres = (0..14).flat_map(|i| (0..20).map(move |j| (2.5 * f64::from(i) + 1.0, 2.5 * f64::from(j) + 1.0)));
        Tiles { centres: centres.collect(), extent: (34.5, 49.5), side: 2.5, in_metres: true }
    }

    /// The sum of sines has the covariance it stands for: 1 on average, and exp(-d^2 / (2 range^2)) at distance d.
    #[test]
    fn a_field_has_its_covariance() {
        for (range, close) in [(6.0, 0.1), (12.0, 0.05)] {
            let tiles = tiles();
            let shape = field(&tiles, Classes::Each(tiles.centres.len()), range, 0.0);
            let Effects::Common(width, values) = &shape.effects else { panic!("no field") };
            let row = |i: usize| &values[i * width..(i + 1) * width];
            let covariance = |i: usize, j: usize| row(i).iter().zip(row(j)).map(|(a, b)| a * b).sum::<f64>();
            for (i, j) in [(150, 150), (150, 152), (150, 191), (150, 156), (125, 170)] {
                let ((x, y), (u, v)) = (tiles.centres[i], tiles.centres[j]);
                let want = (-((x - u).powi(2) + (y - v).powi(2)) / (2.0 * range * range)).exp();
                assert!((covariance(i, j) - want).abs() < close, "{range}: {i} {j}: {} for {want}", covariance(i, j));
            }
        }
    }

    #[test]
    fn a_hollow_is_deepest_in_the_middle() {
        let tiles = tiles();
        let shape =
            Hollows::over(&tiles).at(tiles.centres[150], 5.0, HollowCell { across: 4.0, along: 4.0, ratio: 1.7 }, 0.0);
        let Effects::Common(1, values) = &shape.effects else { panic!("no hollow") };
        let depth = |tile: u32| values[shape.classes.of(tile) as usize];
        // 5 m off: exp(-1/2) = 0.61, told in twelfths.
        assert_eq!((depth(150), depth(152), depth(0)), (1.0, 7.0 / 12.0, 0.0));
    }

    /// The eight stand for the same ground, radii and prior as the whole.
    #[test]
    fn octants_of_a_hollow_come_to_the_whole() {
        let cell = HollowCell { across: 4.0, along: 6.0, ratio: 1.7 };
        let whole = Hollows::over(&tiles()).at((10.0, 20.0), 5.0, cell, 0.3f64.ln());
        let octants = whole.octants();
        assert!((octants.iter().map(|h| h.ln_prior.exp()).sum::<f64>() - 0.3).abs() < 1e-12);
        let rounds: Vec<&Round> =
            octants.iter().filter_map(|h| if let Classes::Round(r) = &h.classes { Some(r) } else { None }).collect();
        let reaches = |of: fn(&Round) -> (f64, f64)| {
            let ends =
                rounds.iter().map(|r| of(r)).flat_map(|(middle, width)| [middle - width / 2.0, middle + width / 2.0]);
            ends.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), end| (low.min(end), high.max(end)))
        };
        assert_eq!(reaches(|r| (r.middle.0, r.cell.across)), (8.0, 12.0));
        assert_eq!(reaches(|r| (r.middle.1, r.cell.along)), (17.0, 23.0));
        let (least, greatest) = reaches(|r| (r.radius.ln(), r.cell.ratio.ln()));
        assert!((greatest - least - 1.7f64.ln()).abs() < 1e-12 && (least + greatest - 2.0 * 5f64.ln()).abs() < 1e-12);
        assert_eq!(rounds.len(), 8);
    }

    /// Against the ln likelihood itself, by differences.
    #[test]
    fn the_score_is_slope_and_curvature_of_the_ln_likelihood() {
        let shape = Shape::odd(Span::one(1), 0.0);
        let (failed, seen, base) = ([3.0, 9.0, 2.0], [40.0, 30.0, 25.0], -2.0f64);
        let ln_likelihood = |effect: f64| {
            let eta = |level: usize| base + if level == 1 { effect } else { 0.0 };
            (0..3).map(|l| failed[l] * eta(l) - seen[l] * eta(l).exp().ln_1p()).sum::<f64>()
        };
        let rate = 1.0 / (1.0 + 2f64.exp());
        let residuals = [0, 1, 2].map(|l| (failed[l] - seen[l] * rate, seen[l] * rate * (1.0 - rate)));
        let (slope, curvature) = shape.score(&residuals);
        let h = 1e-3;
        let (down, at, up) = (ln_likelihood(-h), ln_likelihood(0.0), ln_likelihood(h));
        assert!((slope - (up - down) / (2.0 * h)).abs() < 1e-4, "{slope}");
        assert!((curvature + (up - 2.0 * at + down) / (h * h)).abs() < 1e-4, "{curvature}");
    }

    #[test]
    fn two_odd_spans_go_their_own_ways() {
        let shape = Shape::twins((Span::one(2), Span { from: 5, to: 7 }), 0.0);
        assert_eq!([0, 2, 4, 5, 6, 7].map(|l| shape.classes.of(l)), [0, 1, 0, 2, 2, 0]);
        assert_eq!(shape.width(), 2);
    }
}
