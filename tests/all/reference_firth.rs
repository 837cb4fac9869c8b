//! Links, bias-reduced logistic regression, the studentised range and pairs of levels, against reference libraries.

use crate::oracle::{beside_the_clone, close, counts, numbers, read};
use fullstand::stats::firth::{self, Firth};
use fullstand::stats::glm::{Config, Design, Link, binomial_regression};
use fullstand::stats::special::normal_cdf;
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
        let limits = firth.limits(&weights, TWO_SIDED_95, 1.0).expect("limits");
        close("low", limits.low, number(&want["pl_ci95"][k][0]), rel, 0.0);
        close("high", limits.high, number(&want["pl_ci95"][k][1]), rel, 0.0);
        // Not told by the reference for the first of the files.
        if let Some(p) = want["penalised_lrt_p"][k].as_f64() {
            let root = firth.root(&weights, 0.0, 1.0).expect("root").root;
            close("p", 2.0 * normal_cdf(-root.abs()), p, rel, 0.0);
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
