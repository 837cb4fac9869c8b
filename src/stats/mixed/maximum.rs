//! Maximum likelihood of a binomial mixed model.

use super::cells::{Term, Unusable};
use super::factor::{Latent, Scales};
use super::laplace::{Inverse, Laplace};
use super::mode::Mode;
use crate::stats::minimise::{self, minimise};
use faer::Mat;
use faer::linalg::solvers::DenseSolveCore;
use rayon::prelude::*;
use serde::Serialize;

/// Counts, columns of fixed effects (the constant among them) and random intercepts.
#[derive(Clone, Copy, Debug)]
pub struct Observed<'a> {
    pub failed: &'a [u64],
    pub seen: &'a [u64],
    /// Each with one value a cell.
    pub fixed: &'a [Vec<f64>],
    pub terms: &'a [Term],
}

/// A normal prior on each coefficient, for separated data.
#[derive(Clone, Debug, PartialEq)]
pub struct Penalty {
    pub mean: Vec<f64>,
    pub sd: Vec<f64>,
}

/// Settings of [`maximum_likelihood`].
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Config {
    pub search: minimise::Config,
    /// None: plain maximum likelihood.
    pub penalty: Option<Penalty>,
    /// Terms held at standard deviation 0, by index.
    pub held: Vec<usize>,
}

/// A fitted mixed model.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MixedFit {
    /// Of the fixed columns.
    pub coefficients: Vec<f64>,
    /// From the Hessian of the approximate log likelihood by coefficients and positive standard deviations; none
    /// where it isn't positive definite.
    pub standard_errors: Vec<Option<f64>>,
    /// Standard deviation of each term, logit; 0 is an ordinary answer.
    pub sd: Vec<f64>,
    /// Laplace's approximation, binomial coefficients included and the penalty left out.
    pub log_likelihood: f64,
    /// Conditional modes of each term's effects, logit.
    pub modes: Vec<Vec<f64>>,
    /// Their standard deviations with coefficients and standard deviations held: too narrow to rank levels by.
    pub conditional_sd: Vec<Vec<f64>>,
    /// Some standard deviation is 0.
    pub singular: bool,
    pub converged: bool,
    pub evaluations: usize,
}

/// Where a coefficient is this far out and still climbing, the data are separated along it.
const FAR: f64 = 12.0;
/// Standard deviations below this are tried at 0.
const SMALL_SD: f64 = 0.05;
/// What is lost by setting a standard deviation to 0 must be below this.
const NO_LOSS: f64 = 1e-6;

impl MixedFit {
    /// Columns without a finite estimate: what iterations stopped at is far out with no curvature left.
    pub fn unbounded(&self) -> Vec<usize> {
        let far = |k: &usize| {
            let wide = self.standard_errors[*k].is_none_or(|se| se > FAR);
            self.coefficients[*k].abs() > FAR && wide
        };
        (0..self.coefficients.len()).filter(far).collect()
    }
}

/// Coefficients and standard deviations that maximise Laplace's approximation of the likelihood (Bates et al. 2015).
///
/// Errors name what can't be used. Not for data where a fixed column is separated, unless a penalty is given:
/// [`MixedFit::unbounded`] names such columns. Laplace's method puts standard deviations too low where levels hold few
/// plants: see [`super::maximum_by_quadrature`].
pub fn maximum_likelihood(observed: &Observed, config: &Config) -> Result<MixedFit, Unusable> {
    let search = Search::new(observed, config)?;
    let (start, scale) = search.start(observed);
    Ok(search.run(start, scale))
}

/// The maximum alone: coefficients then standard deviations, and the log likelihood; none where nothing could be
/// evaluated.
pub(super) fn maximum(observed: &Observed, config: &Config) -> Result<Option<(Vec<f64>, f64)>, Unusable> {
    let mut search = Search::new(observed, config)?;
    let (start, scale) = search.start(observed);
    let Some(Top { at: x, .. }) = search.climb(start, &scale) else { return Ok(None) };
    let sd = search.sd(&x);
    let value = search.mode(&x).map(|mode| mode.value());
    let x = x[..observed.fixed.len()].iter().copied().chain(sd).collect();
    Ok(value.map(|value| (x, value)))
}

struct Search<'a> {
    model: Laplace,
    fixed: &'a [Vec<f64>],
    config: &'a Config,
    /// Terms held at standard deviation 0.
    held: Vec<bool>,
    /// The mode of the last evaluation, from which the next one starts.
    last: Option<Latent>,
}

/// Where the climb ended.
struct Top {
    at: Vec<f64>,
    converged: bool,
    evaluations: usize,
}

impl<'a> Search<'a> {
    fn new(observed: &Observed<'a>, config: &'a Config) -> Result<Self, Unusable> {
        let cells = observed.seen.len();
        let sound = |column: &&Vec<f64>| column.len() == cells && column.iter().all(|x| x.is_finite());
        if let Some(column) = observed.fixed.iter().find(|column| !sound(column)) {
            return Err(Unusable::Column { values: column.len(), cells });
        }
        let model = Laplace::new(observed.failed, observed.seen, observed.terms)?;
        let held = (0..observed.terms.len()).map(|f| config.held.contains(&f)).collect();
        Ok(Search { model, fixed: observed.fixed, config, held, last: None })
    }

    /// The overall rate as constant, a start of 0.5 for each sd; how far each may have to move.
    fn start(&self, observed: &Observed) -> (Vec<f64>, Vec<f64>) {
        let total = |counts: &[u64]| counts.iter().sum::<u64>() as f64;
        let (failed, seen) = (total(observed.failed), total(observed.seen));
        let odds = (failed + 0.5) / (seen - failed + 0.5);
        let weight = seen / (2.0 + odds + 1.0 / odds);
        let constant = self.fixed.iter().position(|c| c.iter().all(|x| *x == 1.0));
        let mut start = vec![0.0; self.fixed.len()];
        if let Some(at) = constant {
            start[at] = odds.ln();
        }
        let squares =
            |c: &Vec<f64>| c.iter().zip(observed.seen).map(|(x, n)| x * x * *n as f64).sum::<f64>() / seen.max(1.0);
        let mut scale: Vec<f64> = self.fixed.iter().map(|c| 1.0 / (1.0 + weight * squares(c)).sqrt()).collect();
        start.extend(vec![0.5; self.held.len()]);
        scale.extend(observed.terms.iter().map(|t| 0.5 / (t.levels as f64).sqrt()));
        (start, scale)
    }

    fn run(mut self, start: Vec<f64>, scale: Vec<f64>) -> MixedFit {
        match self.climb(start, &scale) {
            Some(top) => self.finish(top),
            None => self.failed(),
        }
    }

    /// The maximum; none where nothing could be evaluated.
    fn climb(&mut self, start: Vec<f64>, scale: &[f64]) -> Option<Top> {
        let mut top = Top { at: start, converged: false, evaluations: 0 };
        loop {
            let search = self.config.search;
            let found = minimise(|x| self.objective(x), &top.at, scale, &search)?;
            top = Top { at: found.at, converged: found.converged, evaluations: top.evaluations + found.evaluations };
            let Some(term) = self.vanishing(&top.at, found.value) else { return Some(top) };
            self.held[term] = true;
            let sd = self.fixed.len() + term;
            top.at[sd] = 0.0;
        }
    }

    fn sd(&self, x: &[f64]) -> Vec<f64> {
        let sd = x.iter().skip(self.fixed.len()).zip(&self.held);
        sd.map(|(s, held)| if *held { 0.0 } else { *s }).collect()
    }

    fn offset(&self, x: &[f64]) -> Vec<f64> {
        let mut offset = vec![0.0; self.model.cells.len()];
        for (column, b) in self.fixed.iter().zip(x) {
            offset.iter_mut().zip(column).for_each(|(o, value)| *o += b * value);
        }
        offset
    }

    fn mode(&mut self, x: &[f64]) -> Option<Mode> {
        let mode = self.model.mode(&self.offset(x), &self.sd(x), self.last.as_ref())?;
        self.last = Some(mode.u.clone());
        Some(mode)
    }

    /// Minus the penalised log likelihood and its gradient; the next evaluation starts from this one's mode.
    fn objective(&mut self, x: &[f64]) -> Option<(f64, Vec<f64>)> {
        let mode = self.mode(x)?;
        Some(self.at_mode(x, &mode))
    }

    fn at_mode(&self, x: &[f64], mode: &Mode) -> (f64, Vec<f64>) {
        let by = self.model.gradient(mode);
        let along = |column: &Vec<f64>| -column.iter().zip(&by.offset).map(|(a, b)| a * b).sum::<f64>();
        let mut gradient: Vec<f64> = self.fixed.iter().map(along).collect();
        gradient.extend(by.sd.iter().zip(&self.held).map(|(g, held)| if *held { 0.0 } else { -g }));
        let mut value = -mode.value();
        if let Some(penalty) = &self.config.penalty {
            for (k, (mean, sd)) in penalty.mean.iter().zip(&penalty.sd).enumerate().take(self.fixed.len()) {
                let z = (x[k] - mean) / sd;
                value += 0.5 * z * z;
                gradient[k] += z / sd;
            }
        }
        (value, gradient)
    }

    /// A small standard deviation without which nothing is lost.
    fn vanishing(&mut self, x: &[f64], value: f64) -> Option<usize> {
        let p = self.fixed.len();
        let small: Vec<usize> = (0..self.held.len()).filter(|&f| !self.held[f] && x[p + f].abs() < SMALL_SD).collect();
        small.into_iter().find(|&f| {
            let mut without = x.to_vec();
            without[p + f] = 0.0;
            self.objective(&without).is_some_and(|(v, _)| v <= value + NO_LOSS)
        })
    }

    fn finish(mut self, top: Top) -> MixedFit {
        let Top { at: x, converged, evaluations } = top;
        let p = self.fixed.len();
        let Some(mode) = self.mode(&x) else { return self.failed() };
        let standard_errors = self.standard_errors(&x);
        let sd = self.sd(&x);
        let (modes, conditional_sd) = self.effects(&mode);
        MixedFit {
            coefficients: x[..p].to_vec(),
            standard_errors,
            singular: sd.contains(&0.0),
            sd: sd.iter().map(|s| s.abs()).collect(),
            log_likelihood: mode.value(),
            modes,
            conditional_sd,
            converged,
            evaluations,
        }
    }

    /// What is said where nothing could be evaluated.
    fn failed(&self) -> MixedFit {
        let p = self.fixed.len();
        MixedFit {
            coefficients: vec![0.0; p],
            standard_errors: vec![None; p],
            sd: vec![0.0; self.held.len()],
            log_likelihood: f64::MIN,
            modes: Vec::new(),
            conditional_sd: Vec::new(),
            singular: true,
            converged: false,
            evaluations: 0,
        }
    }

    /// By term in the order given: scale times u, and scale times the square root of the diagonal of H^-1.
    fn effects(&self, mode: &Mode) -> (Vec<Vec<f64>>, Vec<Vec<f64>>) {
        let cells = &self.model.cells;
        let inverse = Inverse::new(cells, mode);
        let Scales { swept, core } = &mode.scales;
        let mut modes = vec![Vec::new(); self.held.len()];
        let mut sds = modes.clone();
        modes[cells.swept] = mode.u.swept.iter().map(|u| swept * u).collect();
        sds[cells.swept] = inverse.swept_diagonal.iter().map(|v| swept.abs() * v.sqrt()).collect();
        for (f, scale) in core.iter().enumerate() {
            let end = cells.first.get(f + 1).copied().unwrap_or(cells.width);
            let columns = cells.first[f]..end;
            modes[cells.core[f]] = columns.clone().map(|c| scale * mode.u.core[c]).collect();
            sds[cells.core[f]] = columns.map(|c| scale.abs() * inverse.block[(c, c)].sqrt()).collect();
        }
        (modes, sds)
    }

    /// Of the coefficients, by central differences of the gradient.
    fn standard_errors(&self, x: &[f64]) -> Vec<Option<f64>> {
        let p = self.fixed.len();
        let free: Vec<usize> = (0..x.len()).filter(|&k| k < p || !self.held[k - p]).collect();
        let Some(hessian) = self.hessian(x, &free) else { return vec![None; p] };
        let covariance = hessian.as_ref().llt(faer::Side::Lower).ok().map(|llt| llt.inverse());
        let error = |k: usize| {
            let variance = covariance.as_ref().map(|c| c[(k, k)]);
            variance.filter(|v| *v > 0.0 && v.is_finite()).map(f64::sqrt)
        };
        (0..p).map(error).collect()
    }

    fn hessian(&self, x: &[f64], free: &[usize]) -> Option<Mat<f64>> {
        let gradient = |k: usize, by: f64| {
            let mut at = x.to_vec();
            at[k] += by;
            let mode = self.model.mode(&self.offset(&at), &self.sd(&at), self.last.as_ref())?;
            Some(self.at_mode(&at, &mode).1)
        };
        let column = |&k: &usize| {
            let h = 1e-4 * (1.0 + x[k].abs());
            let (above, below) = (gradient(k, h)?, gradient(k, -h)?);
            Some(free.iter().map(|&row| (above[row] - below[row]) / (2.0 * h)).collect::<Vec<f64>>())
        };
        let columns: Vec<Vec<f64>> = free.par_iter().map(column).collect::<Option<_>>()?;
        Some(Mat::from_fn(free.len(), free.len(), |i, j| 0.5 * (columns[i][j] + columns[j][i])))
    }
}
