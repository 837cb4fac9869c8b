//! The mixed model by maximum likelihood: what a statistician would compare with.

use super::levels::Outcome;
use super::model::{Model, Place};
use super::{Coefficient, FactorBootstrap, Fit};
use crate::base::known::Why;
use crate::base::words::{fill, rates as words};
use crate::base::{Known, Seed};
use crate::stats::mixed::{Config, MixedFit, Observed, Term, maximum_likelihood, variance_bootstrap};
use crate::stats::special::ln_choose;
use crate::tally::Tally;

/// What of the mixed model is asked for beside its random factors.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct ModelConfig {
    /// Factors that are fixed effects in `fit`, by name.
    pub fixed: Vec<String>,
    /// Pairs of factors whose combinations are a random term too, such as `clone+rootstock`.
    pub joined: Vec<String>,
    /// Sets of counts simulated for the bootstrap of each standard deviation; 0: not asked.
    pub bootstrap: usize,
}

/// Failure by maximum likelihood.
pub(super) fn fit(tally: &Tally, model: &Model, config: &ModelConfig, seed: Seed) -> Known<Fit> {
    if model.terms.is_empty() {
        return Known::absent(words::NO_TERM, words::NO_TERM_HELP);
    }
    let is_fixed = |term: &usize| config.fixed.contains(&model.names[*term]);
    let (fixed, random): (Vec<usize>, Vec<usize>) = (0..model.terms.len()).partition(is_fixed);
    let mut columns = vec![Column::constant(model.seen.len())];
    fixed.iter().for_each(|&term| columns.extend(dummies(tally, model, term)));
    let values: Vec<Vec<f64>> = columns.iter().map(|c| c.values.clone()).collect();
    // Without a random term the model still needs one: a constant one, held at standard deviation 0.
    let mut terms: Vec<Term> = random.iter().map(|&t| model.terms[t].clone()).collect();
    let held = if terms.is_empty() { vec![0] } else { Vec::new() };
    if terms.is_empty() {
        terms.push(Term { codes: vec![0; model.seen.len()], levels: 1 });
    }
    let failed = model.failed(tally, Outcome::Stand);
    let observed = Observed { failed: &failed, seen: &model.seen, fixed: &values, terms: &terms };
    match maximum_likelihood(&observed, &Config { held, ..Config::default() }) {
        Ok(found) if found.converged => {
            let ways = failed.iter().zip(&model.seen).map(|(&d, &n)| ln_choose(n, d)).sum();
            let tests = bootstrap(&observed, model, &random, config.bootstrap, seed);
            Known::Value(Fit { bootstrap: tests, ..read_off(tally, model, &columns, &random, found, ways) })
        }
        Ok(_) => Known::absent(words::NO_MAXIMUM, words::NO_MAXIMUM_HELP),
        Err(reason) => Known::Absent(Why::new(reason.to_string(), words::NO_TERM_HELP)),
    }
}

/// Of each random term: whether its standard deviation is 0.
fn bootstrap(
    observed: &Observed,
    model: &Model,
    random: &[usize],
    count: usize,
    seed: Seed,
) -> Known<Vec<FactorBootstrap>> {
    if count == 0 {
        return Known::absent(words::BOOTSTRAP_NOT_ASKED, words::BOOTSTRAP_NOT_ASKED_HELP);
    }
    let one = |(at, term): (usize, &usize)| {
        let test = variance_bootstrap(observed, at, count, seed).ok()??;
        Some(FactorBootstrap {
            factor: model.names[*term].clone(),
            likelihood_ratio: test.likelihood_ratio,
            p_value: test.p_value,
            monte_carlo_error: test.monte_carlo_error,
            simulated: test.null.len(),
        })
    };
    Known::Value(random.iter().enumerate().filter_map(one).collect())
}

struct Column {
    factor: String,
    level: String,
    values: Vec<f64>,
}

impl Column {
    fn constant(cells: usize) -> Self {
        Column { factor: String::new(), level: String::new(), values: vec![1.0; cells] }
    }
}

/// An indicator of each level of a term but the first.
fn dummies(tally: &Tally, model: &Model, term: usize) -> Vec<Column> {
    let of = &model.terms[term];
    let labels = labels(tally, model, term);
    let column = |level: usize| Column {
        factor: model.names[term].clone(),
        level: labels[level].clone(),
        values: of.codes.iter().map(|&c| f64::from(u8::from(c as usize == level))).collect(),
    };
    (1..of.levels).map(column).collect()
}

/// The label of each level of a term; empty for the vines without one.
fn labels(tally: &Tally, model: &Model, term: usize) -> Vec<String> {
    let mut labels = vec![String::new(); model.terms[term].levels];
    let factor = tally.factors.iter().position(|f| f.name == model.names[term]);
    if let Some((factor, Place::Term { level_of, .. })) = factor.zip(factor.and_then(|f| model.places.get(f))) {
        let levels = &tally.factors[factor].levels;
        let known = level_of.iter().zip(levels).filter_map(|(at, label)| Some(((*at)? as usize, label)));
        known.for_each(|(at, label)| labels[at].clone_from(label));
    }
    labels
}

fn read_off(tally: &Tally, model: &Model, columns: &[Column], random: &[usize], found: MixedFit, ways: f64) -> Fit {
    let name = |term: &usize| model.names[*term].clone();
    let unbounded = found.unbounded();
    let error = |k: usize| found.standard_errors[k].filter(|_| !unbounded.contains(&k));
    let coefficient = |(k, column): (usize, &Column)| Coefficient {
        factor: column.factor.clone(),
        level: column.level.clone(),
        estimate: found.coefficients[k],
        standard_error: Known::from_option(error(k), words::NO_FINITE, words::NO_FINITE_HELP),
    };
    Fit {
        intercept: found.coefficients[0],
        intercept_standard_error: Known::from_option(error(0), words::NO_FINITE, words::NO_FINITE_HELP),
        sd: random.iter().map(name).zip(found.sd.iter().copied()).collect(),
        fixed: columns.iter().enumerate().skip(1).map(coefficient).collect(),
        log_likelihood: found.log_likelihood,
        log_likelihood_of_vines: found.log_likelihood - ways,
        singular: found.singular,
        left_out: left_out(tally, model),
        bootstrap: Known::absent(words::BOOTSTRAP_NOT_ASKED, words::BOOTSTRAP_NOT_ASKED_HELP),
        method: "laplace",
    }
}

/// Factors that have no standard deviation of their own, and why.
fn left_out(tally: &Tally, model: &Model) -> Vec<super::LeftOut> {
    let of = |(factor, place): (usize, &Place)| {
        let name = tally.factors[factor].name.clone();
        let reason = match place {
            Place::Term { term, .. } if model.names[*term] == name => return None,
            Place::Term { term, .. } => fill(words::SPLITS_ALIKE, &[("other", &model.names[*term])]),
            Place::Alone => words::ONE_LEVEL.to_string(),
            Place::TooMany => words::TOO_MANY_LEVELS.to_string(),
        };
        Some(super::LeftOut { factor: name, reason })
    };
    model.places.iter().enumerate().filter_map(of).collect()
}
