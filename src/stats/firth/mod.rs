//! Bias-reduced logistic regression of grouped counts: finite where maximum likelihood runs away.
//!
//! Letters: cell i has n(i) plants of which d(i) failed, design row x(i), ln(mu/(1-mu)) = eta = x'b, information
//! I = X'WX with w = n mu (1-mu). What is maximised is the penalised log likelihood
//! l*(b) = sum of [d ln mu + (n-d) ln(1-mu)] + 1/2 ln det I(b) (Firth 1993, `firth-1993`; Jeffreys' prior),
//! whose score is X'(d - n mu + h (1/2 - mu)), h(i) = w(i) x(i)'I^-1 x(i). Its maximum is finite for any data
//! (Heinze & Schemper 2002, `heinze-schemper-2002`; Kosmidis & Firth 2021, `kosmidis-firth-2021`).
//!
//! Steps are scored with weights (n + h) mu (1-mu), the information of the counts with h plants added of which half
//! failed, and halved until they don't lower l*. Cells with equal design rows are added up first, so that forty
//! thousand cells cost what their distinct rows do.
//!
//! Not for predicted rates: they are drawn towards one half (Puhr et al. 2017, `puhr-2017`).

mod problem;
mod profile;

pub use profile::{Limits, Profile};

use super::glm::{Alias, Basis, Column, Contrast, Design, dot};
use problem::{Peak, Problem};
use serde::Serialize;

/// Settings of [`Firth::new`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Config {
    /// Stop where a step is shorter than this, in standard errors.
    pub tolerance: f64,
    pub most_iterations: usize,
    /// A column is aliased where less than this part of its length is left beside the columns before it.
    pub rank_tolerance: f64,
}

impl Default for Config {
    fn default() -> Self {
        Config { tolerance: 1e-7, most_iterations: 200, rank_tolerance: 1e-7 }
    }
}

/// A fitted bias-reduced logistic regression.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FirthFit {
    pub columns: Vec<Column>,
    /// ln odds ratios (a constant: ln odds); None for an aliased column.
    pub coefficients: Vec<Option<f64>>,
    /// Inverse information at the estimate, 0 for aliased columns.
    pub covariance: Vec<Vec<f64>>,
    pub rank: usize,
    pub aliased: Vec<Alias>,
    /// l*, without the binomial coefficients.
    pub penalised_log_likelihood: f64,
    /// The first part of it: the log likelihood, without the binomial coefficients.
    pub log_likelihood: f64,
    /// ln det I, of the columns that aren't aliased.
    pub ln_determinant: f64,
    /// mu for each cell; None where the cell took no part.
    pub fitted: Vec<Option<f64>>,
    pub converged: bool,
    pub iterations: usize,
}

/// A fit with what its profiles need: see [`Firth::profile`].
#[derive(Clone, Debug)]
pub struct Firth {
    pub fit: FirthFit,
    kept: Vec<usize>,
    problem: Problem,
    peak: Peak,
    config: Config,
}

impl Firth {
    /// Fits `failed` of `seen` in each cell of the design (the shortest list rules). `failed` above `seen` counts as
    /// all. Cells without plants or left out by the design take no part. Without any cell, rank is 0.
    pub fn new(design: &Design, failed: &[u64], seen: &[u64], config: &Config) -> Self {
        let (whole, groups) = Problem::gathered(design, failed, seen);
        let basis = Basis::new(whole.weighted_columns(), config.rank_tolerance);
        let problem = whole.with_columns(&basis.kept);
        let peak = problem.maximise(problem.start(), None, config);
        let fit = read_off(design, &problem, &groups, &basis, &peak);
        Firth { fit, kept: basis.kept, problem, peak, config: *config }
    }

    /// The sum of coefficients with these weights (one a column) and its standard error from the information; None
    /// where the data can't tell it (aliased, or all weights 0).
    pub fn contrast(&self, weights: &[f64]) -> Option<Contrast> {
        let of_kept = self.weights(weights)?;
        Some(Contrast {
            estimate: dot(&of_kept, &self.peak.coefficients),
            standard_error: self.peak.variance(&of_kept).sqrt(),
        })
    }

    /// The weights of the columns that aren't aliased.
    fn weights(&self, weights: &[f64]) -> Option<Vec<f64>> {
        let told = weights.len() == self.fit.columns.len() && weights.iter().all(|w| w.is_finite());
        let told = told && self.fit.aliased.iter().all(|alias| alias.keeps(weights));
        let of_kept: Vec<f64> = told.then(|| self.kept.iter().map(|&column| weights[column]).collect())?;
        of_kept.iter().any(|w| *w != 0.0).then_some(of_kept)
    }
}

fn read_off(design: &Design, problem: &Problem, groups: &[Option<usize>], basis: &Basis, peak: &Peak) -> FirthFit {
    let width = design.columns.len();
    let mut coefficients = vec![None; width];
    basis.kept.iter().zip(&peak.coefficients).for_each(|(&column, &value)| coefficients[column] = Some(value));
    let mut covariance = vec![vec![0.0; width]; width];
    basis.kept.iter().zip(&peak.inverse).for_each(|(&column, row)| covariance[column] = basis.spread(row, width));
    let rates = problem.rates(&peak.coefficients);
    FirthFit {
        columns: design.columns.clone(),
        coefficients,
        covariance,
        rank: basis.kept.len(),
        aliased: basis.aliased.clone(),
        penalised_log_likelihood: peak.height,
        log_likelihood: peak.height - 0.5 * peak.ln_determinant,
        ln_determinant: peak.ln_determinant,
        fitted: groups.iter().map(|group| rates.get((*group)?).copied()).collect(),
        converged: peak.converged,
        iterations: peak.iterations,
    }
}

#[cfg(test)]
mod tests {
    use super::super::glm::Factor;
    use super::super::special::logistic;
    use super::*;

    fn of(design: &Design, failed: &[u64], seen: &[u64]) -> Firth {
        Firth::new(design, failed, seen, &Config::default())
    }

    fn levels(codes: &[u32]) -> Design {
        let levels = codes.iter().filter(|code| **code < u32::MAX).max().map_or(0, |most| most + 1);
        Design::means(codes.len(), &[Factor { codes, levels }])
    }

    /// One factor: every level is logit((d + 1/2) / (n - d + 1/2)), and the profile of one level is that of d + 1/2
    /// failures of n + 1.
    #[test]
    fn one_factor_has_a_closed_form() {
        let firth = of(&levels(&[0, 1, 2]), &[0, 7, 40], &[40, 38, 40]);
        for (k, (d, n)) in [(0.0, 40.0), (7.0, 38.0), (40.0, 40.0f64)].into_iter().enumerate() {
            let want = ((d + 0.5) / (n - d + 0.5)).ln();
            assert!((firth.fit.coefficients[k].unwrap() - want).abs() < 1e-9, "{:?}", firth.fit);
        }
        let limits = firth.profile(&[0.0, 1.0, 0.0]).unwrap().limits(1.959_963_984_540_054, 1.0).unwrap();
        let height = |b: f64| 7.5 * logistic(b).ln() + 31.5 * logistic(-b).ln();
        for end in [limits.low, limits.high] {
            let drop = 2.0 * (height((7.5 / 31.5f64).ln()) - height(end));
            assert!((drop - 3.841_458_820_694_124).abs() < 1e-8, "{limits:?} {drop}");
        }
    }

    #[test]
    fn turning_a_contrast_turns_its_answers() {
        let firth = of(&levels(&[0, 1, 2]), &[0, 7, 3], &[40, 38, 12]);
        let (mut there, mut back) =
            (firth.profile(&[1.0, -1.0, 0.0]).unwrap(), firth.profile(&[-1.0, 1.0, 0.0]).unwrap());
        let (a, b) = (there.limits(2.5, 1.7).unwrap(), back.limits(2.5, 1.7).unwrap());
        assert!((a.low + b.high).abs() < 1e-8 && (a.high + b.low).abs() < 1e-8, "{a:?} {b:?}");
        let (r, s) = (there.root(0.3, 1.7), back.root(-0.3, 1.7));
        assert!((r + s).abs() < 1e-9 && r < 0.0);
        // A limit is where the root is the critical value, from wherever it was reached.
        assert!((firth.profile(&[1.0, -1.0, 0.0]).unwrap().root(a.low, 1.7) - 2.5).abs() < 1e-8);
        let wider = firth.profile(&[1.0, -1.0, 0.0]).unwrap().limits(3.5, 1.7).unwrap();
        let after = there.limits(3.5, 1.7).unwrap();
        assert!((wider.low - after.low).abs() < 1e-7 && (wider.high - after.high).abs() < 1e-7);
    }

    #[test]
    fn the_same_model_in_other_columns_gives_the_same() {
        let (clone, crew) = ([0, 0, 1, 1, 2, 2, 2], [0, 1, 0, 1, 0, 1, u32::MAX]);
        let factors = [Factor { codes: &clone, levels: 3 }, Factor { codes: &crew, levels: 2 }];
        let (failed, seen) = ([3, 0, 9, 4, 1, 1, 5], [30, 20, 44, 25, 50, 10, 9]);
        let means = of(&Design::means(7, &factors), &failed, &seen);
        let treatment = of(&Design::treatment(7, &factors), &failed, &seen);
        let (a, b) = (means.contrast(&[0.0, 1.0, -1.0, 0.0]), treatment.contrast(&[0.0, 1.0, -1.0, 0.0]));
        assert!((a.unwrap().estimate - b.unwrap().estimate).abs() < 1e-9);
        let a = means.profile(&[1.0, 0.0, -1.0, 0.0]).unwrap().limits(3.0, 1.0).unwrap();
        let b = treatment.profile(&[0.0, 0.0, -1.0, 0.0]).unwrap().limits(3.0, 1.0).unwrap();
        assert!((a.low - b.low).abs() < 1e-7 && (a.high - b.high).abs() < 1e-7);
        assert!(means.fit.fitted[6].is_none() && means.fit.rank == 4);
    }

    #[test]
    fn limits_far_out_are_met_or_said_to_be_none() {
        let firth = of(&levels(&[0, 1]), &[0, 40], &[400, 400]);
        let profile = || firth.profile(&[1.0, -1.0]).unwrap();
        let far = profile().limits(12.7, 1.6).unwrap();
        assert!(far.low < -200.0 && far.high > 0.0, "{far:?}");
        assert!((profile().root(far.low, 1.6) - 12.7).abs() < 1e-6);
        assert!(profile().limits(127.0, 1.6).is_none());
    }

    #[test]
    fn what_is_aliased_is_not_told() {
        // Clone 0 with crew 0 and clone 1 with crew 1 only: crew 1 equals clone 1.
        let codes = [0, 0, 1, 1];
        let factors = [Factor { codes: &codes, levels: 2 }, Factor { codes: &codes, levels: 2 }];
        let firth = of(&Design::means(4, &factors), &[1, 2, 3, 4], &[10; 4]);
        assert_eq!(firth.fit.aliased.len(), 1);
        assert!(firth.contrast(&[1.0, -1.0, 0.0]).is_none() && firth.profile(&[1.0, -1.0, 0.0]).is_none());
        assert!(firth.profile(&[1.0, 0.0, 0.0]).is_some());
        assert!(firth.contrast(&[0.0; 3]).is_none() && firth.contrast(&[1.0]).is_none());
        assert!(firth.contrast(&[f64::NAN, 0.0, 0.0]).is_none());
    }

    #[test]
    fn odd_input_is_harmless() {
        let firth = of(&levels(&[0, 1, u32::MAX, 2]), &[9, 7, 1, 1], &[4, 4, 4, 0]);
        assert_eq!((firth.fit.rank, firth.fit.aliased.len()), (2, 1));
        assert!(firth.fit.fitted[2].is_none() && firth.fit.fitted[3].is_none());
        let nothing = of(&Design::treatment(0, &[]), &[], &[]);
        assert_eq!((nothing.fit.rank, nothing.fit.penalised_log_likelihood), (0, 0.0));
    }
}
