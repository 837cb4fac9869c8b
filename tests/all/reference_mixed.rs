//! The mixed model against lme4 (Bates et al. 2015), glmmTMB and blme, on data that anyone can have.

use crate::oracle::{beside_the_clone, close, numbers, read};
use fullstand::base::Seed;
use fullstand::stats::mixed::{
    Config, Laplace, MixedFit, Observed, Penalty, Term, maximum_by_quadrature, maximum_likelihood, variance_bootstrap,
};
use serde_json::Value;

/// One case: counts, dummies of a fixed factor beside the constant, random terms by name.
struct Case {
    failed: Vec<u64>,
    seen: Vec<u64>,
    fixed: Vec<Vec<f64>>,
    names: Vec<String>,
    terms: Vec<Term>,
    labels: Vec<Vec<String>>,
}

fn text(value: &Value) -> String {
    value.as_str().map_or_else(|| value.to_string(), str::to_string)
}

fn labels(data: &Value, name: &str) -> Vec<String> {
    data[name].as_array().expect("a column").iter().map(text).collect()
}

fn distinct(labels: &[String]) -> Vec<String> {
    let mut all = labels.to_vec();
    all.sort_by_key(|l| (l.parse::<u64>().unwrap_or(0), l.clone()));
    all.dedup();
    all
}

fn counts(data: &Value, name: &str) -> Vec<u64> {
    data[name].as_array().expect("counts").iter().map(|v| v.as_u64().expect("a count")).collect()
}

impl Case {
    fn new(data: &Value, failed: &str, seen: Option<&str>, fixed: &[&str], terms: &[&str]) -> Self {
        let failed = counts(data, failed);
        let cells = failed.len();
        let mut columns = vec![vec![1.0; cells]];
        let mut names = vec!["(Intercept)".to_string()];
        for name in fixed {
            let of = labels(data, name);
            for level in distinct(&of).iter().skip(1) {
                columns.push(of.iter().map(|l| f64::from(u8::from(l == level))).collect());
                names.push(format!("{name}{level}"));
            }
        }
        let levels: Vec<Vec<String>> = terms.iter().map(|t| distinct(&labels(data, t))).collect();
        let code = |t: &str, levels: &[String]| {
            labels(data, t).iter().map(|l| levels.iter().position(|k| k == l).unwrap() as u32).collect()
        };
        let of = |(t, l): (&&str, &Vec<String>)| Term { codes: code(t, l), levels: l.len() };
        Case {
            seen: seen.map_or_else(|| vec![1; cells], |s| counts(data, s)),
            failed,
            fixed: columns,
            names,
            terms: terms.iter().zip(&levels).map(of).collect(),
            labels: levels,
        }
    }

    fn observed(&self) -> Observed<'_> {
        Observed { failed: &self.failed, seen: &self.seen, fixed: &self.fixed, terms: &self.terms }
    }

    fn fit(&self) -> MixedFit {
        maximum_likelihood(&self.observed(), &Config::default()).expect("a sound model")
    }

    fn offset(&self, beta: &[f64]) -> Vec<f64> {
        (0..self.seen.len()).map(|i| self.fixed.iter().zip(beta).map(|(c, b)| c[i] * b).sum()).collect()
    }
}

/// Fixed effects, sds, log likelihood and conditional modes as lme4's Laplace fit has them.
fn assert_fit(case: &Case, terms: &[&str], expected: &Value, tol: &Value) -> MixedFit {
    let fit = case.fit();
    let abs = |name: &str, or: f64| tol[name].as_f64().unwrap_or(or);
    assert!(fit.converged, "{fit:?}");
    close("log likelihood", fit.log_likelihood, expected["loglik"].as_f64().unwrap(), 0.0, abs("loglik_abs", 1e-3));
    for ((name, b), want) in case.names.iter().zip(&fit.coefficients).zip(numbers(&expected["beta"])) {
        close(name, *b, want, 0.0, abs("beta_abs", 2e-3));
    }
    for ((b, se), want) in fit.coefficients.iter().zip(&fit.standard_errors).zip(numbers(&expected["se"])) {
        close(&format!("standard error beside {b}"), se.expect("finite"), want, 0.005, 0.0);
    }
    for (f, name) in terms.iter().enumerate() {
        let want = expected["sd"][name].as_f64().unwrap();
        close(name, fit.sd[f], want, abs("sd_rel", 0.0), abs("sd_abs", 1e-4));
        let blups = &expected["blups"][name];
        let sds = numbers(&blups["cond_sd"]);
        let of = labels(&serde_json::json!({"level": blups["level"].clone()}), "level");
        for ((level, mode), sd) in of.iter().zip(numbers(&blups["mode"])).zip(sds) {
            let at = case.labels[f].iter().position(|l| l == level).unwrap();
            close(&format!("{name} {level}"), fit.modes[f][at], mode, 0.0, abs("mode_abs", 5e-3));
            close(&format!("{name} {level} sd"), fit.conditional_sd[f][at], sd, 0.0, abs("mode_abs", 5e-3));
        }
    }
    fit
}

fn assert_objective(case: &Case, checks: &Value, tol: f64) {
    let model = Laplace::new(&case.failed, &case.seen, &case.terms).unwrap();
    let list = |v: &Value| v.as_array().map_or_else(|| vec![v.as_f64().unwrap()], |_| numbers(v));
    for check in checks.as_array().unwrap() {
        let (sd, beta) = (list(&check["theta"]), list(&check["beta"]));
        let value = model.log_likelihood(&case.offset(&beta), &sd).unwrap();
        close("objective", -2.0 * value, check["minus2_laplace_loglik"].as_f64().unwrap(), 0.0, tol);
    }
}

#[test]
fn one_term_matches_lme4_on_cbpp() {
    let oracle = read("glmm_cbpp");
    let case = Case::new(&oracle["inputs"]["data"], "incidence", Some("size"), &["period"], &["herd"]);
    assert_fit(&case, &["herd"], &oracle["expected"]["laplace"], &oracle["tol"]);
    assert_objective(&case, &oracle["expected"]["objective_checks"], 1e-4);
}

#[test]
fn crossed_terms_match_lme4_on_carrots() {
    let Some(oracle) = beside_the_clone("glmm_carrot_crossed") else { return };
    let case = Case::new(&oracle["inputs"]["data"], "y", Some("n"), &["trt"], &["gen", "block"]);
    assert_fit(&case, &["gen", "block"], &oracle["expected"]["laplace"], &oracle["tol"]);
    assert_objective(&case, &oracle["expected"]["objective_checks"], 1e-4);
}

#[test]
fn plants_one_by_one_match_lme4_on_peppers() {
    let Some(oracle) = beside_the_clone("glmm_pepper_f1_crossed") else { return };
    let case = Case::new(&oracle["inputs"]["data"], "y", None, &[], &["row", "quadrat"]);
    let laplace = &oracle["expected"]["laplace"];
    let fit = case.fit();
    close("log likelihood", fit.log_likelihood, laplace["loglik"].as_f64().unwrap(), 0.0, 1e-3);
    close("intercept", fit.coefficients[0], laplace["beta"].as_f64().unwrap(), 0.0, 2e-3);
    close("row", fit.sd[0], laplace["sd"]["row"].as_f64().unwrap(), 0.005, 0.0);
    close("quadrat", fit.sd[1], laplace["sd"]["quadrat"].as_f64().unwrap(), 0.005, 0.0);
    assert_objective(&case, &oracle["expected"]["objective_checks"], 1e-4);
}

/// Pines, rows and columns crossed, fertiliser fixed; in the wider stand the rows' variance is 0.
#[test]
fn both_stands_of_pines_match_lme4() {
    for id in ["pines_glmm_10", "pines_glmm_15"] {
        let (oracle, terms) = (read(id), ["Row", "Col"]);
        let case = Case::new(&oracle["inputs"]["data"], "failed", None, &["Fert"], &terms);
        let (fit, want) = (case.fit(), &oracle["expected"]);
        close("log likelihood", fit.log_likelihood, want["logLik"].as_f64().unwrap(), 0.0, 1e-3);
        for (name, got) in ["(Intercept)", "Fert"].iter().zip(&fit.coefficients) {
            close(name, *got, want["fixed"][name].as_f64().unwrap(), 0.0, 2e-3);
        }
        for (f, name) in terms.iter().enumerate() {
            close(name, fit.sd[f], want["sd"][name].as_f64().unwrap(), 0.0, 5e-3);
            for (got, mode) in fit.modes[f].iter().zip(numbers(&want["modes"][name])) {
                close(&format!("{id} {name}"), *got, mode, 0.0, 5e-3);
            }
        }
        assert_eq!(fit.singular, want["singular"] == true, "{id}");
    }
}

/// Simulated rows x places: with batches crossed, and with batches in rows of their own, where both variances are 0.
#[test]
fn simulated_blocks_match_lme4() {
    for id in ["vineyard_sim_connected", "vineyard_sim_aliased"] {
        let oracle = read(id);
        let case = Case::new(&oracle["inputs"]["data"], "y", None, &["batch"], &["pos", "row"]);
        let (fit, want) = (case.fit(), &oracle["expected"]["glmm"]);
        close(id, fit.log_likelihood, want["loglik"].as_f64().unwrap(), 0.0, 1e-3);
        for (got, beta) in fit.coefficients.iter().zip(numbers(&want["beta"])) {
            close(id, *got, beta, 0.0, 5e-3);
        }
        for (f, name) in ["pos", "row"].iter().enumerate() {
            close(name, fit.sd[f], want["sd"][name].as_f64().unwrap(), 0.0, 5e-3);
        }
    }
}

/// A batch without a failure: no finite estimate without a prior, a finite one with it (blme's).
#[test]
fn a_batch_without_a_failure_is_named_or_penalised() {
    let oracle = read("glmm_separated_prior");
    let mut data = oracle["inputs"]["data"].clone();
    // B is the level the others are compared with: it comes first.
    for level in data["batch"].as_array_mut().unwrap() {
        *level = Value::from(if level == "B" { "0B".to_string() } else { text(level) });
    }
    let case = Case::new(&data, "dead", Some("n"), &["batch"], &["row"]);
    let plain = case.fit();
    assert_eq!(plain.unbounded(), [1], "{plain:?}");
    let penalty = Some(Penalty { mean: vec![0.0; 4], sd: vec![10.0, 2.5, 2.5, 2.5] });
    let config = Config { penalty, ..Config::default() };
    let fit = maximum_likelihood(&case.observed(), &config).unwrap();
    for (got, want) in fit.coefficients.iter().zip(numbers(&oracle["expected"]["map_beta"])) {
        close("coefficient", *got, want, 0.0, 0.02);
    }
    close("sd", fit.sd[0], oracle["expected"]["map_sd_row"].as_f64().unwrap(), 0.0, 0.02);
    for (got, want) in fit.standard_errors.iter().zip(numbers(&oracle["expected"]["map_se"])) {
        close("standard error", got.unwrap(), want, 0.0, 0.02);
    }
}

#[test]
fn the_gradient_is_that_of_the_objective() {
    let oracle = read("pines_glmm_10");
    let case = Case::new(&oracle["inputs"]["data"], "failed", None, &["Fert"], &["Row", "Col"]);
    let model = Laplace::new(&case.failed, &case.seen, &case.terms).unwrap();
    for (beta, sd) in [([-2.5, 1.0], [0.4, 0.7]), ([-1.0, 0.0], [1.5, 0.1])] {
        let offset = case.offset(&beta);
        let (_, gradient) = model.with_gradient(&offset, &sd).unwrap();
        let h = 1e-5;
        for f in 0..2 {
            let at = |d: f64| {
                let mut sd = sd;
                sd[f] += d;
                model.log_likelihood(&offset, &sd).unwrap()
            };
            close("by sd", gradient.sd[f], (at(h) - at(-h)) / (2.0 * h), 1e-5, 1e-6);
        }
        let at = |d: f64| model.log_likelihood(&case.offset(&[beta[0] + d, beta[1]]), &sd).unwrap();
        close("by constant", gradient.offset.iter().sum(), (at(h) - at(-h)) / (2.0 * h), 1e-5, 1e-6);
    }
}

/// lme4's log likelihoods with more than one node omit a constant: compared with the true one (80 nodes).
#[test]
fn quadrature_matches_lme4_and_the_true_likelihood() {
    let oracle = read("glmm_cbpp");
    let case = Case::new(&oracle["inputs"]["data"], "incidence", Some("size"), &["period"], &["herd"]);
    let start = [-1.4, -1.0, -1.1, -1.6, 0.6];
    for (nodes, name) in [(9, "nAGQ9"), (25, "nAGQ25")] {
        let counts = (case.failed.as_slice(), case.seen.as_slice());
        let fit = maximum_by_quadrature(counts, &case.fixed, &case.terms[0], nodes, &start).unwrap().unwrap();
        let want = &oracle["expected"][name];
        close("log likelihood", fit.log_likelihood, want["true_marginal_loglik_80pt"].as_f64().unwrap(), 0.0, 1e-3);
        close("sd", fit.sd, want["sd"]["herd"].as_f64().unwrap(), 0.005, 0.0);
        for (got, beta) in fit.coefficients.iter().zip(numbers(&want["beta"])) {
            close(name, *got, beta, 0.0, 2e-3);
        }
    }
}

/// R's simulate-and-refit of the same test: 300 simulated sets, so its own answer is uncertain too.
#[test]
fn the_bootstrap_of_a_variance_matches_lme4s() {
    let oracle = read("parboot_varcomp_cbpp");
    let case = Case::new(&oracle["inputs"]["data"], "incidence", Some("size"), &["period"], &["herd"]);
    let test = variance_bootstrap(&case.observed(), 0, 999, Seed::new(42)).unwrap().unwrap();
    let want = &oracle["expected"];
    close("ratio", test.likelihood_ratio, want["obs_LRT"].as_f64().unwrap(), 0.0, 1e-3);
    let zeros = test.null.iter().filter(|r| **r == 0.0).count() as f64 / test.null.len() as f64;
    close("share of zeros", zeros, want["prop_zero"].as_f64().unwrap(), 0.0, 0.08);
    let at_95 = test.null[(0.95 * test.null.len() as f64) as usize];
    close("95 % point", at_95, want["quantiles"]["95%"].as_f64().unwrap(), 0.0, 0.8);
    assert!(test.p_value < 0.01, "{test:?}");
}

/// Random intercepts only, on three open data sets, as lme4 fits them.
#[test]
fn random_intercepts_alone_match_lme4() {
    let oracle = read("glmm_random_only");
    for (name, case_of) in oracle["cases"].as_object().unwrap() {
        let (data, want) = (&case_of["inputs"]["data"], &case_of["expected"]);
        let terms: Vec<&str> = want["sd"].as_object().unwrap().keys().map(String::as_str).collect();
        let case = Case::new(data, "failed", Some("planted"), &[], &terms);
        let fit = case.fit();
        close(name, fit.log_likelihood, want["logLik"].as_f64().unwrap(), 0.0, 1e-3);
        close(name, fit.coefficients[0], want["intercept"].as_f64().unwrap(), 0.0, 2e-3);
        for (f, term) in terms.iter().enumerate() {
            close(&format!("{name} {term}"), fit.sd[f], want["sd"][*term].as_f64().unwrap(), 0.005, 1e-3);
        }
    }
}
