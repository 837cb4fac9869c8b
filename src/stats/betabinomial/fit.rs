//! Maximum likelihood of the beta-binomial, and tests of whether groups differ more than chance makes them.

use super::ln_rising;
use super::mixture::BetaRate;
use crate::stats::special::{chi_square_sf, ln_choose, normal_cdf};
use serde::Serialize;

/// One group: `x` successes of `n`.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Count {
    pub x: u64,
    pub n: u64,
}

/// Why there is no estimate.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NoFit {
    #[error("no group has any trials, or a count exceeds its trials")]
    Empty,
    #[error("the design's columns depend on each other, or its shape doesn't match the counts")]
    Singular,
    #[error("a coefficient runs to infinity: some combination of groups has all or none")]
    Separated,
    #[error("the search for the maximum didn't settle")]
    NotConverged,
}

/// Maximum likelihood without covariates.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Fit {
    /// Mean rate, 0..1.
    pub mean: f64,
    /// Correlation within groups, 0..1; 0 where groups differ no more than chance.
    pub rho: f64,
    /// By the observed information. None where every trial, or none, succeeded.
    pub mean_standard_error: Option<f64>,
    /// None at the boundary rho = 0.
    pub rho_standard_error: Option<f64>,
    pub log_likelihood: f64,
    pub log_likelihood_binomial: f64,
    /// Twice the gain over rho = 0.
    pub lrt: f64,
    /// Of `lrt`: half the upper tail of chi-square with 1 degree of freedom, 1 at the boundary (`self-liang-1987`).
    pub p_value: f64,
    pub at_boundary: bool,
}

impl Fit {
    /// The fitted distribution of a group's rate.
    pub fn rate(&self) -> BetaRate {
        BetaRate::new(self.mean, self.rho / (1.0 - self.rho))
    }

    /// The group's rate given its own count, the fit taken as known: empirical Bayes. Intervals from it are too
    /// narrow, since the fit is not known; [`super::pool`] integrates over it.
    pub fn plug_in(&self, count: Count) -> BetaRate {
        self.rate().updated(count)
    }
}

/// Maximum likelihood with logit m = design x coefficients and one rho.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Regression {
    pub coefficients: Vec<f64>,
    /// By the observed information.
    pub standard_errors: Vec<f64>,
    pub rho: f64,
    /// None at the boundary rho = 0.
    pub rho_standard_error: Option<f64>,
    pub log_likelihood: f64,
    pub log_likelihood_binomial: f64,
    pub lrt: f64,
    pub p_value: f64,
    pub at_boundary: bool,
}

/// Maximum likelihood of (mean, rho).
pub fn fit(counts: &[Count]) -> Result<Fit, NoFit> {
    let (x, n) = totals(counts)?;
    if x == 0 || x == n {
        return Ok(certain(if x == 0 { 0.0 } else { 1.0 }));
    }
    let r = regression(counts, &vec![vec![1.0]; counts.len()])?;
    let mean = logistic(r.coefficients[0]);
    Ok(Fit {
        mean,
        rho: r.rho,
        mean_standard_error: Some(r.standard_errors[0] * mean * (1.0 - mean)),
        rho_standard_error: r.rho_standard_error,
        log_likelihood: r.log_likelihood,
        log_likelihood_binomial: r.log_likelihood_binomial,
        lrt: r.lrt,
        p_value: r.p_value,
        at_boundary: r.at_boundary,
    })
}

fn certain(mean: f64) -> Fit {
    Fit {
        mean,
        rho: 0.0,
        mean_standard_error: None,
        rho_standard_error: None,
        log_likelihood: 0.0,
        log_likelihood_binomial: 0.0,
        lrt: 0.0,
        p_value: 1.0,
        at_boundary: true,
    }
}

/// Regression on a small `design`: one row per count, each of the same length (give the constant as a column).
pub fn regression(counts: &[Count], design: &[Vec<f64>]) -> Result<Regression, NoFit> {
    totals(counts)?;
    let problem = Problem::new(counts, design)?;
    let binomial = problem.climb(Point { coefficients: vec![0.0; problem.width], ln_theta: None })?;
    let start = problem.spread_start(&binomial);
    // A search that runs off towards theta = 0 is the boundary's answer, not a failure.
    let spread = problem.climb(start).ok().filter(|p| problem.value(p) > problem.value(&binomial) + 1e-9);
    problem.report(&binomial, spread.as_ref().unwrap_or(&binomial))
}

fn totals(counts: &[Count]) -> Result<(u64, u64), NoFit> {
    let (x, n) = counts.iter().fold((0u64, 0u64), |(x, n), c| (x.saturating_add(c.x), n.saturating_add(c.n)));
    if n == 0 || counts.iter().any(|c| c.x > c.n) { Err(NoFit::Empty) } else { Ok((x, n)) }
}

/// Where the search stands; `ln_theta` none: theta = 0.
#[derive(Clone, Debug)]
struct Point {
    coefficients: Vec<f64>,
    ln_theta: Option<f64>,
}

impl Point {
    fn theta(&self) -> f64 {
        self.ln_theta.map_or(0.0, f64::exp)
    }

    fn moved(&self, step: &[f64], by: f64) -> Point {
        let coefficients = self.coefficients.iter().zip(step).map(|(c, s)| c + by * s).collect();
        let ln_theta = self.ln_theta.zip(step.last()).map(|(t, s)| t + (by * s).clamp(-3.0, 3.0));
        Point { coefficients, ln_theta }
    }
}

struct Problem<'a> {
    counts: &'a [Count],
    design: &'a [Vec<f64>],
    width: usize,
}

impl<'a> Problem<'a> {
    fn new(counts: &'a [Count], design: &'a [Vec<f64>]) -> Result<Self, NoFit> {
        let width = design.first().map_or(0, Vec::len);
        let shaped = design.len() == counts.len() && design.iter().all(|row| row.len() == width);
        let finite = design.iter().flatten().all(|v| v.is_finite());
        if width == 0 || !shaped || !finite { Err(NoFit::Singular) } else { Ok(Problem { counts, design, width }) }
    }

    fn eta(&self, row: &[f64], point: &Point) -> f64 {
        row.iter().zip(&point.coefficients).map(|(d, c)| d * c).sum()
    }

    fn value(&self, point: &Point) -> f64 {
        let theta = point.theta();
        let of = |(c, row): (&Count, &Vec<f64>)| {
            let eta = self.eta(row, point);
            ln_choose(c.n, c.x) + ln_rising(logistic(eta), theta, c.x) + ln_rising(logistic(-eta), theta, c.n - c.x)
                - ln_rising(1.0, theta, c.n)
        };
        self.counts.iter().zip(self.design).map(of).sum()
    }

    /// Gradient and observed information in the coefficients and, where the point has one, ln theta.
    fn slope(&self, point: &Point) -> (Vec<f64>, Vec<Vec<f64>>) {
        let size = self.width + usize::from(point.ln_theta.is_some());
        let (mut gradient, mut information) = (vec![0.0; size], vec![vec![0.0; size]; size]);
        for (count, row) in self.counts.iter().zip(self.design) {
            let s = Slopes::of(*count, self.eta(row, point), point.theta());
            let direction: Vec<f64> = row.iter().copied().chain(point.ln_theta.map(|_| 1.0)).collect();
            for i in 0..size {
                let spread_i = i >= self.width;
                gradient[i] += direction[i] * if spread_i { s.omega } else { s.eta };
                for j in 0..size {
                    let second = match (spread_i, j >= self.width) {
                        (false, false) => s.eta_eta,
                        (true, true) => s.omega_omega,
                        _ => s.eta_omega,
                    };
                    information[i][j] -= direction[i] * direction[j] * second;
                }
            }
        }
        (gradient, information)
    }

    /// Newton's method with halved steps, from `point` to the nearest maximum.
    fn climb(&self, mut point: Point) -> Result<Point, NoFit> {
        let mut here = self.value(&point);
        for _ in 0..200 {
            let (gradient, information) = self.slope(&point);
            let step = uphill(&gradient, &information).ok_or(NoFit::Singular)?;
            let promised: f64 = step.iter().zip(&gradient).map(|(s, g)| s * g).sum();
            if promised.abs() < 1e-14 * (1.0 + here.abs()) {
                return Ok(point);
            }
            let Some((next, there)) = self.better(&point, &step, here) else { return Ok(point) };
            if there - here < 1e-13 * (1.0 + here.abs()) && promised < 1e-9 {
                return Ok(next);
            }
            (point, here) = (next, there);
            self.check_bounds(&point)?;
        }
        Err(NoFit::NotConverged)
    }

    fn better(&self, point: &Point, step: &[f64], here: f64) -> Option<(Point, f64)> {
        (0..40).map(|halving| point.moved(step, 0.5f64.powi(halving))).find_map(|next| {
            let there = self.value(&next);
            (there > here).then_some((next, there))
        })
    }

    fn check_bounds(&self, point: &Point) -> Result<(), NoFit> {
        if self.design.iter().any(|row| self.eta(row, point).abs() > 30.0) {
            return Err(NoFit::Separated);
        }
        if point.ln_theta.is_some_and(|t| t.abs() > 30.0) { Err(NoFit::NotConverged) } else { Ok(()) }
    }

    /// The best of a coarse row of thetas, at the binomial's coefficients.
    fn spread_start(&self, binomial: &Point) -> Point {
        let at = |i: i32| Point { ln_theta: Some(f64::from(i)), ..binomial.clone() };
        (-12..=3).map(at).max_by(|a, b| self.value(a).total_cmp(&self.value(b))).unwrap_or_else(|| at(-3))
    }

    fn report(&self, binomial: &Point, best: &Point) -> Result<Regression, NoFit> {
        let (_, information) = self.slope(best);
        let errors = standard_errors(&information).ok_or(NoFit::Singular)?;
        let (log_likelihood, log_likelihood_binomial) = (self.value(best), self.value(binomial));
        let lrt = (2.0 * (log_likelihood - log_likelihood_binomial)).max(0.0);
        let at_boundary = best.ln_theta.is_none();
        let rho = best.theta() / (1.0 + best.theta());
        Ok(Regression {
            coefficients: best.coefficients.clone(),
            standard_errors: errors[..self.width].to_vec(),
            rho,
            rho_standard_error: errors.get(self.width).map(|e| e * rho * (1.0 - rho)),
            log_likelihood,
            log_likelihood_binomial,
            lrt,
            p_value: if at_boundary { 1.0 } else { normal_cdf(-lrt.sqrt()) },
            at_boundary,
        })
    }
}

/// Derivatives of one group's log-likelihood in eta = logit m and omega = ln theta.
struct Slopes {
    eta: f64,
    omega: f64,
    eta_eta: f64,
    eta_omega: f64,
    omega_omega: f64,
}

impl Slopes {
    fn of(count: Count, eta: f64, theta: f64) -> Self {
        let (m, q) = (logistic(eta), logistic(-eta));
        let (a, b, c) =
            (Sums::of(m, theta, count.x), Sums::of(q, theta, count.n - count.x), Sums::of(1.0, theta, count.n));
        let v = m * q;
        let by_m = a.first - b.first;
        let by_theta = a.first_k + b.first_k - c.first_k;
        Slopes {
            eta: by_m * v,
            omega: by_theta * theta,
            eta_eta: -(a.second + b.second) * v * v + by_m * v * (q - m),
            eta_omega: (b.second_k - a.second_k) * v * theta,
            omega_omega: (c.second_kk - a.second_kk - b.second_kk) * theta * theta + by_theta * theta,
        }
    }
}

/// Sums over j < k of 1/t, j/t, 1/t^2, j/t^2, j^2/t^2 with t = m + j theta.
#[derive(Default)]
struct Sums {
    first: f64,
    first_k: f64,
    second: f64,
    second_k: f64,
    second_kk: f64,
}

impl Sums {
    fn of(m: f64, theta: f64, k: u64) -> Self {
        let mut sums = Sums::default();
        for j in 0..k {
            let j = j as f64;
            let r = 1.0 / (m + j * theta);
            sums.first += r;
            sums.first_k += j * r;
            sums.second += r * r;
            sums.second_k += j * r * r;
            sums.second_kk += j * j * r * r;
        }
        sums
    }
}

pub(super) fn logistic(eta: f64) -> f64 {
    1.0 / (1.0 + (-eta).exp())
}

/// Newton's step; the information is made positive definite by adding to its diagonal where it isn't.
fn uphill(gradient: &[f64], information: &[Vec<f64>]) -> Option<Vec<f64>> {
    let scale = (0..gradient.len()).map(|i| information[i][i].abs()).fold(0.0, f64::max);
    let ridged = |ridge: f64| {
        let mut matrix = information.to_vec();
        (0..matrix.len()).for_each(|i| matrix[i][i] += ridge * scale);
        solve(&matrix, gradient)
    };
    [0.0, 1e-3, 1e-2, 0.1, 1.0, 10.0].into_iter().find_map(ridged)
}

fn standard_errors(information: &[Vec<f64>]) -> Option<Vec<f64>> {
    let unit = |i: usize| (0..information.len()).map(|j| f64::from(u8::from(i == j))).collect::<Vec<_>>();
    (0..information.len()).map(|i| solve(information, &unit(i)).map(|column| column[i].sqrt())).collect()
}

/// Solves a symmetric positive definite system by Cholesky; none where it isn't one.
fn solve(matrix: &[Vec<f64>], right: &[f64]) -> Option<Vec<f64>> {
    let size = right.len();
    let mut l = vec![vec![0.0; size]; size];
    for i in 0..size {
        for j in 0..=i {
            let rest = matrix[i][j] - (0..j).map(|k| l[i][k] * l[j][k]).sum::<f64>();
            if i == j && !(rest > 1e-12 * matrix[i][i].abs() && rest > 0.0) {
                return None;
            }
            l[i][j] = if i == j { rest.sqrt() } else { rest / l[j][j] };
        }
    }
    let mut x = right.to_vec();
    for i in 0..size {
        x[i] = (x[i] - (0..i).map(|k| l[i][k] * x[k]).sum::<f64>()) / l[i][i];
    }
    for i in (0..size).rev() {
        x[i] = (x[i] - (i + 1..size).map(|k| l[k][i] * x[k]).sum::<f64>()) / l[i][i];
    }
    Some(x)
}

/// Tarone's test of more variation between groups than the binomial has.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Overdispersion {
    /// Sum of (x - n p)^2 / (p q).
    pub s: f64,
    pub z: f64,
    /// One-sided, upper tail.
    pub p_value: f64,
}

/// Tarone (1979), `tarone-1979`: Z = (S - sum n) / sqrt(2 sum n (n - 1)). None where every trial or none succeeded,
/// or no group has two.
pub fn tarone(counts: &[Count]) -> Option<Overdispersion> {
    let p = pooled_rate(counts)?;
    let s: f64 = counts.iter().map(|c| (c.x as f64 - c.n as f64 * p).powi(2)).sum::<f64>() / (p * (1.0 - p));
    let n: f64 = counts.iter().map(|c| c.n as f64).sum();
    let pairs: f64 = counts.iter().map(|c| c.n as f64 * (c.n as f64 - 1.0)).sum();
    let z = (s - n) / (2.0 * pairs).sqrt();
    (pairs > 0.0).then(|| Overdispersion { s, z, p_value: normal_cdf(-z) })
}

/// Pearson's test that all groups have one rate.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Homogeneity {
    pub x2: f64,
    pub df: f64,
    pub p_value: f64,
    /// X2 / df: 1 where groups differ as by chance.
    pub phi: f64,
}

/// Pearson's X2 of the groups that have trials. None where every trial or none succeeded, or one group only.
pub fn homogeneity(counts: &[Count]) -> Option<Homogeneity> {
    let p = pooled_rate(counts)?;
    let tried = counts.iter().filter(|c| c.n > 0);
    let df = tried.clone().count() as f64 - 1.0;
    let part = |c: &Count| (c.x as f64 - c.n as f64 * p).powi(2) / (c.n as f64 * p * (1.0 - p));
    let x2 = tried.map(part).sum();
    (df > 0.0).then(|| Homogeneity { x2, df, p_value: chi_square_sf(x2, df), phi: x2 / df })
}

fn pooled_rate(counts: &[Count]) -> Option<f64> {
    let (x, n) = totals(counts).ok()?;
    (x > 0 && x < n).then(|| x as f64 / n as f64)
}
