//! Tests and limits of a sum of coefficients by the profile of the penalised likelihood.
//!
//! Letters: c'b the sum, l*(v) the highest l* with c'b held at v, v^ the estimate. The signed root
//! r(v) = sign(v^ - v) sqrt(2 (l*(v^) - l*(v)) / phi) is compared with a standard normal, or with Student's t where
//! the dispersion phi was estimated (Heinze & Schemper 2002, `heinze-schemper-2002`, section 2; McCullagh & Nelder 1989,
//! `mccullagh-nelder-1989`, section 4.5 and 9.2.4). The limits are where it reaches a critical value, so that a test and an interval never
//! disagree.

use super::Firth;
use super::problem::{Held, Peak};
use serde::Serialize;

/// Limits further out than this are none: odds ratios beyond 1e200.
const FURTHEST: f64 = 460.0;

/// The root is met within this part of the critical value.
const TOLERANCE: f64 = 1e-10;
const MOST_STEPS: usize = 100;

/// A test of one value of a sum of coefficients.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Root {
    pub estimate: f64,
    /// r at the value tested: positive where the estimate lies above it.
    pub root: f64,
}

/// Profile limits of a sum of coefficients.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Limits {
    pub estimate: f64,
    pub low: f64,
    pub high: f64,
}

impl Firth {
    /// The signed root of the penalised likelihood ratio of the sum with these weights at `value`, divided by the
    /// root of `dispersion`. None where the sum can't be told (see [`Firth::contrast`]).
    pub fn root(&self, weights: &[f64], value: f64, dispersion: f64) -> Option<Root> {
        let line = Line::of(self, weights)?;
        let point = line.at(value, &line.top());
        Some(Root { estimate: line.estimate, root: (line.estimate - value).signum() * point.drop / dispersion.sqrt() })
    }

    /// Where the root is `critical` on either side, `critical` > 0. None where the sum can't be told, or a limit lies
    /// beyond odds ratios of 1e200.
    pub fn limits(&self, weights: &[f64], critical: f64, dispersion: f64) -> Option<Limits> {
        let line = Line::of(self, weights)?;
        let drop = critical * dispersion.sqrt();
        let (low, high) = (line.limit(-1.0, drop)?, line.limit(1.0, drop)?);
        Some(Limits { estimate: line.estimate, low, high })
    }
}

/// The profile along one sum of coefficients.
struct Line<'a> {
    firth: &'a Firth,
    weights: Vec<f64>,
    estimate: f64,
    standard_error: f64,
}

/// A point of the profile.
struct Point {
    value: f64,
    /// sqrt(2 (l*(v^) - l*(v))).
    drop: f64,
    peak: Peak,
}

impl<'a> Line<'a> {
    fn of(firth: &'a Firth, weights: &[f64]) -> Option<Self> {
        let contrast = firth.contrast(weights)?;
        let weights = firth.weights(weights)?;
        let standard_error = Some(contrast.standard_error).filter(|e| *e > 0.0 && e.is_finite())?;
        Some(Line { firth, weights, estimate: contrast.estimate, standard_error })
    }

    fn top(&self) -> Point {
        Point { value: self.estimate, drop: 0.0, peak: self.firth.peak.clone() }
    }

    /// The profile at `value`, reached from a point known.
    fn at(&self, value: f64, from: &Point) -> Point {
        let start = from.peak.moved(&self.weights, value - from.value);
        let held = Held { weights: &self.weights };
        let peak = self.firth.problem.maximise(start, Some(held), &self.firth.config);
        Point { value, drop: (2.0 * (self.firth.peak.height - peak.height)).max(0.0).sqrt(), peak }
    }

    /// Where the drop is as wanted, above (`side` 1) or below (-1) the estimate: Newton's method on the drop, which
    /// is nearly straight, kept inside a bracket. Its slope is the pull of what is held, over the drop.
    fn limit(&self, side: f64, wanted: f64) -> Option<f64> {
        let (mut below, mut above) = (0.0, f64::INFINITY);
        let mut point = self.top();
        let mut next = wanted * self.standard_error;
        for _ in 0..MOST_STEPS {
            if (self.estimate + side * next).abs() > FURTHEST {
                return None;
            }
            point = self.at(self.estimate + side * next, &point);
            let distance = next;
            if (point.drop - wanted).abs() <= TOLERANCE * wanted {
                return Some(point.value);
            }
            if point.drop < wanted {
                below = distance
            } else {
                above = distance
            }
            let newton = distance + (wanted - point.drop) * point.drop / (-side * point.peak.pull);
            next = inside(newton, below, above);
            if above.is_finite() && above - below <= 1e-14 * above {
                return Some(point.value);
            }
        }
        None
    }
}

/// `wanted` where it lies strictly between the two, else their middle; where nothing bounds it above, three times the
/// first does.
fn inside(wanted: f64, below: f64, above: f64) -> f64 {
    let most = if above.is_finite() { above } else { 3.0 * below };
    if wanted > below && wanted < most { wanted } else { 0.5 * (below + most) }
}
