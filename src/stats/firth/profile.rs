//! Tests and limits of a sum of coefficients by the profile of the penalised likelihood.
//!
//! Letters: c'b the sum, l*(v) the highest l* with c'b held at v, v^ the estimate. The signed root
//! r(v) = sign(v^ - v) sqrt(2 (l*(v^) - l*(v)) / phi) is compared with a standard normal, or with Student's t where
//! the dispersion phi was estimated (Heinze & Schemper 2002, `heinze-schemper-2002`; phi as in McCullagh & Nelder 1989,
//! `mccullagh-nelder-1989`, section 4.5). The limits are where it reaches a critical value, so that a test and an
//! interval never disagree.
//!
//! Dividing l* itself by phi leaves the estimate where it is: the penalty isn't made heavier where phi is large.

use super::Firth;
use super::problem::{Held, Peak};
use crate::stats::glm::Contrast;
use serde::Serialize;

/// Limits further out than this are none: odds ratios beyond 1e199.
const FURTHEST: f64 = 460.0;

/// The root is met within this part of the critical value, or within the rounding of l* (as a part of it).
const TOLERANCE: f64 = 1e-10;
const ROUNDING: f64 = 1e-14;
const MOST_STEPS: usize = 100;

/// Profile limits of a sum of coefficients.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Limits {
    pub low: f64,
    pub high: f64,
}

/// The profile along one sum of coefficients: see [`Firth::profile`]. Points once worked out are kept, and the next
/// ones start from the nearest.
#[derive(Clone, Debug)]
pub struct Profile<'a> {
    firth: &'a Firth,
    weights: Vec<f64>,
    pub estimate: f64,
    /// From the information at the estimate.
    pub standard_error: f64,
    points: Vec<Point>,
}

/// A point of the profile.
#[derive(Clone, Debug)]
struct Point {
    value: f64,
    /// sqrt(2 (l*(v^) - l*(v))).
    drop: f64,
    peak: Peak,
}

impl Firth {
    /// The profile of the sum with these weights; None where the data can't tell it (see [`Firth::contrast`]).
    pub fn profile(&self, weights: &[f64]) -> Option<Profile<'_>> {
        let Contrast { estimate, standard_error } = self.contrast(weights)?;
        let weights = self.weights(weights)?;
        let top = Point { value: estimate, drop: 0.0, peak: self.peak.clone() };
        let told = standard_error > 0.0 && standard_error.is_finite();
        told.then(|| Profile { firth: self, weights, estimate, standard_error, points: vec![top] })
    }
}

impl Profile<'_> {
    /// r at `value`, the dispersion being phi: positive where the estimate lies above it.
    pub fn root(&mut self, value: f64, dispersion: f64) -> f64 {
        (self.estimate - value).signum() * self.at(value).drop / dispersion.sqrt()
    }

    /// Where r is `critical` > 0 on one side and minus that on the other. None where a limit lies beyond odds ratios of
    /// 1e199.
    pub fn limits(&mut self, critical: f64, dispersion: f64) -> Option<Limits> {
        let drop = critical * dispersion.sqrt();
        let (low, high) = (self.limit(-1.0, drop)?, self.limit(1.0, drop)?);
        Some(Limits { low, high })
    }

    /// The profile at `value`, reached from the nearest point known.
    fn at(&mut self, value: f64) -> Point {
        let apart = |p: &&Point| (p.value - value).abs();
        let nearest = self.points.iter().min_by(|a, b| apart(a).total_cmp(&apart(b)));
        let Some(from) = nearest else { return Point { value, drop: 0.0, peak: self.firth.peak.clone() } };
        let start = from.peak.moved(&self.weights, value - from.value);
        let held = Held { weights: &self.weights };
        let peak = self.firth.problem.maximise(start, Some(held), &self.firth.config);
        let drop = (2.0 * (self.firth.peak.height - peak.height)).max(0.0).sqrt();
        self.points.push(Point { value, drop, peak: peak.clone() });
        Point { value, drop, peak }
    }

    /// Where the drop is as wanted, above (`side` 1) or below (-1) the estimate: Newton's method on the drop, which
    /// is nearly straight, kept inside a bracket. Its slope is the pull of what is held, over the drop.
    fn limit(&mut self, side: f64, wanted: f64) -> Option<f64> {
        let near = TOLERANCE * wanted + ROUNDING * self.firth.peak.height.abs() / wanted;
        let (mut below, mut next) = self.known_below(side, wanted);
        let mut above = f64::INFINITY;
        for _ in 0..MOST_STEPS {
            let value = self.estimate + side * next;
            if value.abs() > FURTHEST {
                return None;
            }
            let point = self.at(value);
            if point.drop < wanted {
                below = next
            } else {
                above = next
            }
            let narrow = above.is_finite() && above - below <= 1e-14 * above;
            if narrow || (point.drop - wanted).abs() <= near {
                return Some(value);
            }
            next = inside(point.newton(side, next, wanted), below, above);
        }
        None
    }

    /// The furthest distance known on this side where the drop is less than wanted, and Newton's step from there.
    fn known_below(&self, side: f64, wanted: f64) -> (f64, f64) {
        let distance = |p: &Point| side * (p.value - self.estimate);
        let below = self.points.iter().filter(|p| distance(p) > 0.0 && p.drop < wanted);
        match below.max_by(|a, b| distance(a).total_cmp(&distance(b))) {
            Some(p) => (distance(p), inside(p.newton(side, distance(p), wanted), distance(p), f64::INFINITY)),
            None => (0.0, wanted * self.standard_error),
        }
    }
}

impl Point {
    fn newton(&self, side: f64, distance: f64, wanted: f64) -> f64 {
        distance + (wanted - self.drop) * self.drop / (-side * self.peak.pull)
    }
}

/// `wanted` where it lies strictly between the two, else their middle; where nothing bounds it above, three times the
/// first does.
fn inside(wanted: f64, below: f64, above: f64) -> f64 {
    let most = if above.is_finite() { above } else { 3.0 * below };
    if wanted > below && wanted < most { wanted } else { 0.5 * (below + most) }
}
