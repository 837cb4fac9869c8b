//! Links, bias-reduced logistic regression, the studentised range and pairs of levels, against reference libraries.

use crate::oracle::{close, counts, numbers, read};
use fullstand::stats::glm::{Config, Design, Link, binomial_regression};
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
