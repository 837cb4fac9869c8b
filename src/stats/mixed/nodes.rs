//! Integration over the standard deviations.
//!
//! Each has an exponential prior, the penalised-complexity prior of a standard deviation (Simpson et al. 2017,
//! `simpson-2017`). Their posterior, L(s) times the prior with L by Laplace's method, is explored along each axis
//! through its mode, the others following by regression; points are then drawn evenly from those margins, joined by
//! the normal copula of the curvature at the mode, and weighted by what the approximation misses. Points are a
//! low-discrepancy sequence, so a few dozen do. A standard deviation of 0 with a flat end of its posterior is
//! nothing special to it.

use super::cells::Cells;
use super::factor::{Latent, Scales};
use super::laplace::Laplace;
use super::mode::{CLOSE, EXACT, Mode};
use super::piecewise::Piecewise;
use crate::base::seed::{Seed, uniform};
use crate::stats::minimise::{self, minimise};
use crate::stats::special::{normal_cdf, normal_quantile};
use faer::linalg::solvers::DenseSolveCore;
use faer::{Mat, Side};
use rayon::prelude::*;

/// A point of the standard deviations with the conditional mode there.
pub(super) struct Node {
    pub mode: Mode,
    /// ln of posterior over proposal density.
    pub log_weight: f64,
}

/// What is integrated over: standard deviations of the first terms; the others' scales are given.
pub(super) struct Hyper<'a> {
    pub model: &'a Laplace,
    pub offset: Vec<f64>,
    /// Terms whose sd is unknown.
    pub unknown: usize,
    /// Scales of the terms after those.
    pub given: Vec<f64>,
    /// Rate of the exponential prior.
    pub rate: f64,
}

/// Drop of the log density at which an axis has been followed far enough.
const FAR_DOWN: f64 = 9.0;
const MOST_POINTS: usize = 40;
/// First step along an axis in its own sds, and how steps grow.
const FIRST_STEP: f64 = 0.6;
const GROWTH: f64 = 1.25;
/// The kink of the prior at 0 is rounded off over this for the search of the mode.
const ROUNDED: f64 = 0.01;

struct Centre {
    at: Vec<f64>,
    covariance: Mat<f64>,
    start: Start,
}

/// Effects from which a mode nearby is sought: those on the logit scale stay about the same.
#[derive(Clone)]
struct Start {
    scales: Scales,
    u: Latent,
}

impl Start {
    fn of(mode: &Mode) -> Self {
        Start { scales: mode.scales.clone(), u: mode.u.clone() }
    }

    /// The same effects at other scales; where these would be far out, the same spherical ones.
    fn at(&self, cells: &Cells, scales: &Scales) -> Latent {
        let ratio = |was: f64, is: f64| if was.abs() < 4.0 * is.abs() { was / is } else { 1.0 };
        let mut u = self.u.clone();
        let swept = ratio(self.scales.swept, scales.swept);
        u.swept.iter_mut().for_each(|x| *x *= swept);
        for (f, &first) in cells.first.iter().enumerate() {
            let end = cells.first.get(f + 1).copied().unwrap_or(cells.width);
            let core = ratio(self.scales.core[f], scales.core[f]);
            u.core[first..end].iter_mut().for_each(|x| *x *= core);
        }
        u
    }
}

impl Hyper<'_> {
    /// The mode at these standard deviations, from the effects of a start.
    fn mode(&self, sd: &[f64], start: Option<&Start>, tolerance: f64) -> Option<Mode> {
        let scales: Vec<f64> = sd.iter().chain(&self.given).copied().collect();
        let scales = Scales::new(&self.model.cells, &scales);
        let start = start.map(|start| start.at(&self.model.cells, &scales));
        Mode::find(&self.model.cells, &self.offset, scales, start.as_ref(), tolerance)
    }

    /// ln likelihood times prior.
    fn log_posterior(&self, mode: &Mode, sd: &[f64]) -> f64 {
        let prior = |s: &f64| self.rate.ln() - self.rate * s;
        mode.value() + sd.iter().map(prior).sum::<f64>()
    }

    /// `count` nodes; none where the model can't be evaluated anywhere.
    pub fn nodes(&self, count: usize, seed: Seed) -> Option<Vec<Node>> {
        if self.unknown == 0 {
            let mode = self.mode(&[], None, CLOSE)?;
            return Some(vec![Node { log_weight: mode.value(), mode }]);
        }
        let centre = self.centre()?;
        let axes: Vec<Piecewise> = (0..self.unknown).into_par_iter().map(|f| self.axis(&centre, f)).collect();
        let copula = Copula::new(&centre.covariance);
        let shift = shift(self.unknown, seed);
        let node = |i: usize| {
            let (z, ln_copula) = copula.point(&evenly(i, &shift));
            let sd: Vec<f64> = z.iter().zip(&axes).map(|(z, axis)| axis.quantile(normal_cdf(*z))).collect();
            let proposal = ln_copula + sd.iter().zip(&axes).map(|(s, axis)| axis.ln_density(*s)).sum::<f64>();
            let mode = self.mode(&sd, Some(&centre.start), CLOSE)?;
            Some(Node { log_weight: self.log_posterior(&mode, &sd) - proposal, mode })
        };
        let nodes: Vec<Node> = (0..count).into_par_iter().filter_map(node).collect();
        (!nodes.is_empty()).then_some(nodes)
    }

    /// The mode of the posterior and the curvature there.
    fn centre(&self) -> Option<Centre> {
        let mut last: Option<Start> = None;
        let mut objective = |x: &[f64]| {
            let mode = self.mode(x, last.as_ref(), EXACT)?;
            let gradient = self.model.gradient(&mode).sd;
            last = Some(Start::of(&mode));
            let round = |s: &f64| (s * s + ROUNDED * ROUNDED).sqrt();
            let value = -mode.value() + x.iter().map(|s| self.rate * round(s)).sum::<f64>();
            Some((value, x.iter().zip(&gradient).map(|(s, g)| self.rate * s / round(s) - g).collect()))
        };
        let config = minimise::Config { tolerance: 1e-4, most_steps: 60 };
        let found = minimise(&mut objective, &vec![0.4; self.unknown], &vec![0.2; self.unknown], &config)?;
        let at: Vec<f64> = found.at.iter().map(|s| s.abs()).collect();
        let covariance = self.covariance(&at, last.as_ref());
        let start = Start::of(&self.mode(&at, last.as_ref(), CLOSE)?);
        Some(Centre { at, covariance, start })
    }

    /// Inverse of minus the Hessian of ln L; where that is not positive definite its diagonal alone.
    fn covariance(&self, at: &[f64], start: Option<&Start>) -> Mat<f64> {
        let k = at.len();
        let gradient = |x: &[f64]| self.mode(x, start, EXACT).map(|mode| self.model.gradient(&mode).sd);
        let mut hessian = Mat::<f64>::zeros(k, k);
        for j in 0..k {
            let h = 0.02 + 0.02 * at[j];
            let moved = |d: f64| {
                let mut x = at.to_vec();
                x[j] += d;
                gradient(&x)
            };
            // L is even in each sd, so a step below 0 is as good as one above.
            if let (Some(above), Some(below)) = (moved(h), moved(-h)) {
                for i in 0..k {
                    hessian[(i, j)] -= 0.25 * (above[i] - below[i]) / h;
                    hessian[(j, i)] -= 0.25 * (above[i] - below[i]) / h;
                }
            }
        }
        let usual = 1.0 / (self.rate * self.rate);
        let least = 1.0 / (9.0 * usual);
        (0..k).for_each(|j| hessian[(j, j)] = hessian[(j, j)].max(least));
        match hessian.as_ref().llt(Side::Lower) {
            Ok(llt) => llt.inverse(),
            Err(_) => Mat::from_fn(k, k, |i, j| if i == j { 1.0 / hessian[(i, i)] } else { 0.0 }),
        }
    }

    /// The posterior along one axis, from 0 or far down below the mode to far down above it.
    fn axis(&self, centre: &Centre, f: usize) -> Piecewise {
        let (at, spread) = (centre.at[f], centre.covariance[(f, f)].sqrt());
        let mut start = centre.start.clone();
        let mut log_at = |s: f64| {
            let follow = |g: usize| {
                let slope = centre.covariance[(g, f)] / centre.covariance[(f, f)];
                if g == f { s } else { (centre.at[g] + slope * (s - at)).max(0.0) }
            };
            let sd: Vec<f64> = (0..self.unknown).map(follow).collect();
            let mode = self.mode(&sd, Some(&start), CLOSE)?;
            start = Start::of(&mode);
            Some(mode.value() - self.rate * s)
        };
        let peak = log_at(at).unwrap_or(0.0);
        let mut known = vec![(at, peak)];
        for direction in [1.0, -1.0] {
            let (mut s, mut step) = (at, FIRST_STEP * spread);
            for _ in 0..MOST_POINTS {
                if s <= 0.0 && direction < 0.0 {
                    break;
                }
                s = (s + direction * step).max(0.0);
                step *= GROWTH;
                let Some(log) = log_at(s).filter(|l| l.is_finite()) else { break };
                known.push((s, log));
                if log < peak - FAR_DOWN {
                    break;
                }
            }
        }
        known.sort_by(|a, b| a.0.total_cmp(&b.0));
        known.dedup_by(|a, b| a.0 == b.0);
        if known.len() < 2 {
            known.push((at + spread.max(1e-6), peak - 1.0));
        }
        let (points, logs) = known.into_iter().unzip();
        Piecewise::new(points, logs)
    }
}

/// The normal copula of a covariance.
struct Copula {
    /// Cholesky factor of the correlation.
    lower: Mat<f64>,
    ln_det: f64,
}

impl Copula {
    fn new(covariance: &Mat<f64>) -> Self {
        let k = covariance.nrows();
        // Drawn in a little, so that a nearly certain correlation doesn't leave the rest unexplored.
        let correlation = Mat::from_fn(k, k, |i, j| {
            let r = covariance[(i, j)] / (covariance[(i, i)] * covariance[(j, j)]).sqrt();
            if i == j { 1.0 } else { 0.9 * r }
        });
        match correlation.as_ref().llt(Side::Lower) {
            Ok(llt) => {
                let lower = llt.L().to_owned();
                let ln_det = 2.0 * (0..k).map(|i| lower[(i, i)].ln()).sum::<f64>();
                Copula { lower, ln_det }
            }
            Err(_) => Copula { lower: Mat::identity(k, k), ln_det: 0.0 },
        }
    }

    /// Correlated normal deviates of independent uniforms, and the log of the copula's density there.
    fn point(&self, uniforms: &[f64]) -> (Vec<f64>, f64) {
        let e: Vec<f64> = uniforms.iter().map(|u| normal_quantile(*u)).collect();
        let z: Vec<f64> = (0..e.len()).map(|i| (0..=i).map(|j| self.lower[(i, j)] * e[j]).sum()).collect();
        let squares = |v: &[f64]| v.iter().map(|x| x * x).sum::<f64>();
        let ln = -0.5 * self.ln_det - 0.5 * squares(&e) + 0.5 * squares(&z);
        (z, ln)
    }
}

/// Point `i` of the additive recurrence with the generalised golden ratio (Roberts 2018, from memory), shifted.
fn evenly(i: usize, shift: &[f64]) -> Vec<f64> {
    let k = shift.len();
    let ratio = (0..60).fold(1.5f64, |x, _| (1.0 + x).powf(1.0 / (k as f64 + 1.0)));
    let coordinate = |j: usize| (shift[j] + (i as f64 + 1.0) * ratio.powi(-(j as i32 + 1))).fract();
    (0..k).map(|j| coordinate(j).clamp(1e-9, 1.0 - 1e-9)).collect()
}

fn shift(k: usize, seed: Seed) -> Vec<f64> {
    let mut rng = seed.stream("mixed.nodes", 0);
    (0..k).map(|_| uniform(&mut rng)).collect()
}
