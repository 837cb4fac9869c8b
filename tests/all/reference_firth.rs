//! Links, bias-reduced logistic regression, the studentised range and pairs of levels, against reference libraries.

use crate::oracle::{beside_the_clone, close, counts, numbers, read};
use fullstand::stats::adjust::{Adjustment, adjust};
use fullstand::stats::firth::{self, Firth};
use fullstand::stats::glm::{Config, Design, Link, binomial_regression};
use fullstand::stats::special::normal_cdf;
use fullstand::stats::studentised_range::{StudentisedRange, student_two_sided};
use serde_json::Value;

fn number(value: &Value) -> f64 {
    value.as_f64().expect("a number")
}

/// Crowder (1978), seeds by variety, extract and both: coefficients, standard errors, deviance of R 4.2.2 `glm`.
#[test]
fn links_of_crowder_seeds() {
    let oracle = read("glm_links_crowder");
    let data = &oracle["inputs"]["data"];
    let is = |name: &str, value: &str| -> Vec<f64> {
        let list = data[name].as_array().expect(name);
        list.iter().map(|v| f64::from(u8::from(v.as_str() == Some(value)))).collect()
    };
    let (gen_o75, cucumber) = (is("gen", "O75"), is("extract", "cucumber"));
    let rows: Vec<Vec<f64>> = gen_o75.iter().zip(&cucumber).map(|(&g, &e)| vec![1.0, g, e, g * e]).collect();
    let (germinated, sown) = (counts(&data["germ"]), counts(&data["n"]));
    for (name, link) in [("logit", Link::Logit), ("probit", Link::Probit), ("cloglog", Link::ComplementaryLogLog)] {
        let want = &oracle["expected"][name];
        let fit = binomial_regression(&Design::of_rows(&rows), &germinated, &sown, link, &Config::default());
        assert!(fit.converged && !fit.separated && fit.rank == 4, "{name}");
        let (betas, errors) = (numbers(&want["beta"]), numbers(&want["se"]));
        for k in 0..4 {
            close(name, fit.coefficients[k].expect("told"), betas[k], 1e-6, 0.0);
            close(name, fit.covariance[k][k].sqrt(), errors[k], 1e-6, 0.0);
        }
        close(name, fit.deviance, number(&want["deviance"]), 1e-6, 0.0);
        close(name, fit.log_likelihood, number(&want["loglik"]), 1e-6, 0.0);
    }
}

/// A rate of its own for each cell is the same rate by every link; a cell without failures is separated by all.
#[test]
fn links_agree_where_each_cell_has_its_rate() {
    let rows: Vec<Vec<f64>> = (0..3).map(|i| (0..3).map(|j| f64::from(u8::from(i == j))).collect()).collect();
    for link in [Link::Logit, Link::Probit, Link::ComplementaryLogLog] {
        let fit =
            binomial_regression(&Design::of_rows(&rows), &[3, 900, 60], &[1000, 1000, 80], link, &Config::default());
        for (got, want) in fit.fitted.iter().zip([0.003, 0.9, 0.75]) {
            close("rate", got.expect("fitted"), want, 1e-7, 0.0);
        }
        let apart =
            binomial_regression(&Design::of_rows(&rows), &[0, 900, 60], &[1000, 1000, 80], link, &Config::default());
        assert!(apart.separated && apart.coefficients.iter().flatten().all(|b| b.is_finite()), "{link:?} {apart:?}");
        assert!(apart.contrast(&[1.0, 0.0, 0.0]).is_none() && apart.contrast(&[0.0, 1.0, -1.0]).is_some());
    }
}

/// Normal quantile of a 95 % interval: what the reference's limits stand on (chi-square of one degree of freedom).
const TWO_SIDED_95: f64 = 1.959_963_984_540_054;

/// Coefficients, standard errors, likelihoods (brglm2 0.9), profile limits and penalised likelihood-ratio tests
/// (firthmodels 0.8.2) of a reference answer.
#[track_caller]
fn firth_is(oracle: &Value) {
    let want = &oracle["expected"];
    let rows: Vec<Vec<f64>> = want["design_rows"].as_array().expect("rows").iter().map(numbers).collect();
    let firth = Firth::new(
        &Design::of_rows(&rows),
        &counts(&want["successes"]),
        &counts(&want["trials"]),
        &firth::Config::default(),
    );
    let (fit, want, rel) = (&firth.fit, &want["firth"], number(&oracle["tol"]["rel"]));
    assert!(fit.converged);
    let binomials = number(&want["penalised_loglik_bernoulli"]) - 0.5 * number(&want["logdet_info"]);
    close("ln likelihood", fit.log_likelihood, binomials, rel, 0.0);
    close("ln determinant", fit.ln_determinant, number(&want["logdet_info"]), rel, 0.0);
    close("l*", fit.penalised_log_likelihood, number(&want["penalised_loglik_bernoulli"]), rel, 0.0);
    for k in 0..rows[0].len() {
        let weights: Vec<f64> = (0..rows[0].len()).map(|j| f64::from(u8::from(j == k))).collect();
        let contrast = firth.contrast(&weights).expect("told");
        close("coefficient", contrast.estimate, number(&want["beta"][k]), rel, 0.0);
        close("standard error", contrast.standard_error, number(&want["se"][k]), rel, 0.0);
        let mut profile = firth.profile(&weights).expect("told");
        let limits = profile.limits(TWO_SIDED_95, 1.0).expect("limits");
        close("low", limits.low, number(&want["pl_ci95"][k][0]), rel, 0.0);
        close("high", limits.high, number(&want["pl_ci95"][k][1]), rel, 0.0);
        // Not told by the reference for the first of the files.
        if let Some(p) = want["penalised_lrt_p"][k].as_f64() {
            close("p", 2.0 * normal_cdf(-profile.root(0.0, 1.0).abs()), p, rel, 0.0);
        }
    }
}

/// Heinze & Schemper (2002): 79 women, one column separated.
#[test]
fn firth_of_the_endometrial_data() {
    firth_is(&read("glm_firth_endometrial"));
}

/// Five batches, two of them without a failure.
#[test]
fn firth_of_batches_without_failures() {
    firth_is(&read("glm_firth_zero_batches"));
}

#[test]
fn firth_of_apples_by_inoculum_and_clone() {
    if let Some(oracle) = beside_the_clone("glm_jansen_apple") {
        firth_is(&oracle);
    }
}

/// R 4.2.2 `ptukey`, upper tail; its printed tables' points at 5 %.
#[test]
fn studentised_range_upper_tail() {
    let oracle = read("ptukey");
    let (inputs, want) = (&oracle["inputs"], numbers(&oracle["expected"]["p_upper"]));
    let (q, groups) = (numbers(&inputs["q"]), counts(&inputs["k"]));
    let df = |v: &Value| match v.as_str().expect("df") {
        "Inf" => f64::INFINITY,
        number => number.parse().expect("df"),
    };
    for (i, v) in inputs["df"].as_array().expect("df").iter().enumerate() {
        let range = StudentisedRange { groups: groups[i] as u32, df: df(v) };
        close("tail", range.upper_tail(q[i]), want[i], 0.0, 1e-6);
    }
    for (groups, point) in [(3, 3.314), (4, 3.633)] {
        let got = StudentisedRange { groups, df: f64::INFINITY }.upper_quantile(0.05);
        close("table", got, point, 0.0, 5e-4);
    }
}

/// Far tails and one degree of freedom, where R's `ptukey` is off by up to 12 % or says NaN: the double integral of the
/// definition by R 4.2.2 `integrate` at a relative tolerance of 1e-12 (one-dimensional where df is infinite). Points:
/// `qtukey`.
#[test]
fn studentised_range_far_out() {
    for (groups, df, q, want) in [
        (3, 10.0, 15.0, 2.518_530_890_194_35e-6),
        (3, 10.0, 20.0, 1.683_538_996_139_69e-7),
        (5, 3.0, 40.0, 3.882_666_978_543_88e-4),
        (20, 400.0, 3.5, 0.604_048_839_670_281),
        (4, f64::INFINITY, 10.0, 9.224_148_045_740_11e-12),
        (3, 1.0, 60.0, 0.022_502_178_926_189_1),
        (5, 5.0, 5.0, 0.078_925_483_829_995_2),
        (6, f64::INFINITY, 30.0, 1.081_949_125_969_13e-98),
    ] {
        close("tail", StudentisedRange { groups, df }.upper_tail(q), want, 1e-9, 0.0);
    }
    let point = |groups, df, p| StudentisedRange { groups, df }.upper_quantile(p);
    close("3 of 2", point(3, 2.0, 0.1), 5.732_648_952_540_98, 1e-4, 0.0);
    close("20", point(20, f64::INFINITY, 0.01), 5.645_214_685_137_03, 1e-4, 0.0);
}

/// Pairs of a reference answer: Tukey's and Holm's p-values and Tukey's limits from its estimates and standard errors.
#[track_caller]
fn pairs_are_adjusted(oracle: &Value) {
    let (pairs, tol) = (&oracle["expected"]["pairs"], &oracle["tol"]);
    let (rel, abs) = (number(&tol["rel"]), number(&tol["p_abs"]));
    let groups = oracle["expected"]["levels"].as_array().expect("levels").len() as u32;
    let range = StudentisedRange { groups, df: f64::INFINITY };
    let (estimates, errors) = (numbers(&pairs["log_or"]), numbers(&pairs["se"]));
    let z: Vec<f64> = estimates.iter().zip(&errors).map(|(e, s)| e / s).collect();
    let alone: Vec<f64> = z.iter().map(|z| student_two_sided(*z, f64::INFINITY)).collect();
    let holm = adjust(&alone, Adjustment::Holm);
    let critical = range.upper_quantile(0.05) / 2f64.sqrt();
    for i in 0..z.len() {
        let want = |name: &str| number(&pairs[name][i]);
        close("alone", alone[i], want("p_none"), rel, 1e-12);
        close("holm", holm[i], want("p_holm"), rel, 1e-12);
        close("tukey", range.upper_tail(z[i].abs() * 2f64.sqrt()), want("p_tukey"), rel, abs.min(1e-9));
        close("low", (estimates[i] - critical * errors[i]).exp(), want("or_tukey_lcl"), rel, 0.0);
        close("high", (estimates[i] + critical * errors[i]).exp(), want("or_tukey_ucl"), rel, 0.0);
    }
}

/// Four periods of a mixed model of lme4's cbpp, by emmeans 1.8.4.
#[test]
fn pairs_of_periods_are_adjusted_as_the_reference_does() {
    pairs_are_adjusted(&read("emmeans_cbpp_glmm"));
}

/// Eight carrot genotypes, 28 pairs.
#[test]
fn pairs_of_genotypes_are_adjusted_as_the_reference_does() {
    if let Some(oracle) = beside_the_clone("emmeans_carrot") {
        pairs_are_adjusted(&oracle);
    }
}
