//! The beta-binomial against reference libraries: Crowder's (1978) seeds, an under-dispersed case, batches, orders.

use crate::oracle::{close, counts, numbers, read};
use fullstand::base::seed::uniform;
use fullstand::base::{Quantity, Scale, Seed};
use fullstand::stats::betabinomial::{
    BetaBinomial, BetaRate, Count, Fit, Prior, fit, homogeneity, pool, probability_greatest, regression, tarone,
};
use fullstand::stats::special::normal_quantile;
use serde_json::Value;

fn zip(x: &[u64], n: &[u64]) -> Vec<Count> {
    x.iter().zip(n).map(|(&x, &n)| Count { x, n }).collect()
}

/// Plates of Crowder (1978): the counts, and each plate's `gen.extract`.
fn seeds() -> (Vec<Count>, Vec<String>) {
    let data = &read("betabinomial_crowder")["inputs"]["data"];
    let word = |column: &str, i: usize| data[column][i].as_str().unwrap().to_string();
    let all = zip(&counts(&data["germ"]), &counts(&data["n"]));
    let cells = (0..all.len()).map(|i| format!("{}.{}", word("gen", i), word("extract", i))).collect();
    (all, cells)
}

/// `est_rel` 1e-3 is the optimisers' tolerance, `stat_rel` 1e-8 that of closed forms (the file's `tol`).
fn check(what: &str, groups: &[Count], want: &Value) {
    let got: Fit = fit(groups).unwrap();
    let number = |key: &str| want[key].as_f64().unwrap();
    close(&format!("{what} mu"), got.mean, number("mu"), 1e-3, 0.0);
    close(&format!("{what} rho"), got.rho, number("rho"), 1e-3, 1e-12);
    close(&format!("{what} loglik"), got.log_likelihood, number("loglik_bb"), 0.0, 1e-5);
    close(&format!("{what} loglik0"), got.log_likelihood_binomial, number("loglik_binomial"), 0.0, 1e-8);
    close(&format!("{what} LRT"), got.lrt, number("LRT"), 1e-3, 1e-5);
    close(&format!("{what} p"), got.p_value, number("p_LRT_half_chibar"), 1e-3, 0.0);
    assert_eq!(got.at_boundary, want["boundary"].as_bool().unwrap(), "{what}");
    if let Some(errors) = want["se_mu_rho"].as_array() {
        // The reference's information is by differences, which lose up to 3 % where rho is near 0; the exact ones
        // are in `standard_errors_in_forty_digits`.
        close(&format!("{what} se mu"), got.mean_standard_error.unwrap(), errors[0].as_f64().unwrap(), 3e-2, 0.0);
        close(&format!("{what} se rho"), got.rho_standard_error.unwrap(), errors[1].as_f64().unwrap(), 3e-2, 0.0);
    }
    let (t, want_t) = (tarone(groups).unwrap(), &want["tarone"]);
    close(&format!("{what} Tarone S"), t.s, want_t["S"].as_f64().unwrap(), 1e-8, 0.0);
    close(&format!("{what} Tarone Z"), t.z, want_t["Z"].as_f64().unwrap(), 1e-8, 0.0);
    close(&format!("{what} Tarone p"), t.p_value, want_t["p_one_sided"].as_f64().unwrap(), 1e-8, 0.0);
    let (h, want_h) = (homogeneity(groups).unwrap(), &want["pearson_homogeneity"]);
    for (name, got, key) in [("X2", h.x2, "X2"), ("df", h.df, "df"), ("p", h.p_value, "p"), ("phi", h.phi, "phi")] {
        close(&format!("{what} Pearson {name}"), got, want_h[key].as_f64().unwrap(), 1e-8, 0.0);
    }
}

#[test]
fn crowders_seeds_overall_and_by_cell() {
    let (all, cells) = seeds();
    let want = &read("betabinomial_crowder")["expected"];
    check("overall", &all, &want["overall"]);
    for (cell, expected) in want["by_cell"].as_object().unwrap() {
        let own: Vec<Count> = all.iter().zip(&cells).filter(|(_, c)| *c == cell).map(|(n, _)| *n).collect();
        check(cell, &own, expected);
    }
}

/// Maximum and second derivatives of the same likelihood in 40-digit arithmetic: plates O73 with bean and cucumber.
#[test]
fn standard_errors_in_forty_digits() {
    let bean = zip(&[8, 10, 8, 23, 0], &[16, 30, 28, 45, 4]);
    let cucumber = zip(&[3, 22, 15, 32, 3], &[12, 41, 30, 51, 7]);
    let want = [
        (bean, [0.389_005_651_395_068, 0.016_266_027_999_917, 0.055_476_739_434_837, 0.035_005_509_560_643]),
        (cucumber, [0.529_542_656_603_362, 0.001_922_712_143_573, 0.053_621_494_812_441, 0.026_553_402_546_079]),
    ];
    for (groups, [mu, rho, se_mu, se_rho]) in want {
        let got = fit(&groups).unwrap();
        close("mu", got.mean, mu, 1e-8, 0.0);
        close("rho", got.rho, rho, 1e-6, 0.0);
        close("se mu", got.mean_standard_error.unwrap(), se_mu, 1e-6, 0.0);
        close("se rho", got.rho_standard_error.unwrap(), se_rho, 1e-6, 0.0);
    }
}

#[test]
fn crowders_seeds_by_regression() {
    let (all, cells) = seeds();
    let design: Vec<Vec<f64>> = cells
        .iter()
        .map(|cell| {
            let (gen75, cucumber) = (f64::from(u8::from(cell.starts_with("O75"))), cell.ends_with("cucumber"));
            let cucumber = f64::from(u8::from(cucumber));
            vec![1.0, gen75, cucumber, gen75 * cucumber]
        })
        .collect();
    let want = &read("betabinomial_crowder")["expected"]["regression"];
    let got = regression(&all, &design).unwrap();
    for (i, beta) in numbers(&want["vgam_beta"]).into_iter().enumerate() {
        close("coefficient", got.coefficients[i], beta, 1e-3, 0.0);
    }
    // Observed information, as glmmTMB has it; VGAM's expected information differs by 1 %.
    for (i, se) in numbers(&want["glmmTMB_se"]).into_iter().enumerate() {
        close("standard error", got.standard_errors[i], se, 1e-3, 0.0);
    }
    close("rho", got.rho, want["rho"].as_f64().unwrap(), 1e-3, 0.0);
    close("loglik", got.log_likelihood, want["loglik_bb"].as_f64().unwrap(), 0.0, 1e-5);
    close("loglik0", got.log_likelihood_binomial, want["loglik_binomial"].as_f64().unwrap(), 0.0, 1e-8);
    close("LRT", got.lrt, want["LRT"].as_f64().unwrap(), 1e-3, 0.0);
    close("p", got.p_value, want["p_LRT_half_chibar"].as_f64().unwrap(), 1e-3, 0.0);
}

#[test]
fn less_spread_than_chance_is_the_boundary_not_a_failure() {
    let case = read("betabinomial_boundary");
    let groups = zip(&counts(&case["inputs"]["x"]), &counts(&case["inputs"]["n"]));
    check("boundary", &groups, &case["expected"]);
    let got = fit(&groups).unwrap();
    assert_eq!((got.rho, got.lrt, got.p_value, got.rho_standard_error), (0.0, 0.0, 1.0, None));
}

#[test]
fn empirical_bayes_of_ten_batches() {
    let case = read("eb_batches");
    let groups = zip(&counts(&case["inputs"]["x"]), &counts(&case["inputs"]["n"]));
    let (want, got) = (&case["expected"], fit(&groups).unwrap());
    let precision = 1.0 / got.rate().theta;
    close("alpha", got.mean * precision, want["alpha"].as_f64().unwrap(), 1e-3, 0.0);
    close("beta", (1.0 - got.mean) * precision, want["beta"].as_f64().unwrap(), 1e-3, 0.0);
    close("loglik", got.log_likelihood, want["loglik"].as_f64().unwrap(), 1e-3, 0.0);
    for (i, group) in groups.iter().enumerate() {
        let rate = got.plug_in(*group);
        let each = |key: &str| want[key][i].as_f64().unwrap();
        close("mean", rate.mean, each("post_mean"), 1e-3, 0.0);
        close("low", rate.quantile(0.025), each("post_lo95"), 1e-3, 0.0);
        close("high", rate.quantile(0.975), each("post_hi95"), 1e-3, 0.0);
        close("above", 1.0 - rate.cdf(got.mean), each("p_rate_gt_mean"), 1e-3, 0.0);
    }
}

#[test]
fn predictive_failures_and_orders() {
    let case = read("bb_predictive");
    for want in case["expected"].as_array().unwrap() {
        let (a, b) = (want["post"][0].as_f64().unwrap(), want["post"][1].as_f64().unwrap());
        let d = BetaBinomial::from_shapes(want["future_N"].as_u64().unwrap(), a, b);
        close("mean", d.mean(), want["mean"].as_f64().unwrap(), 1e-9, 0.0);
        close("sd", d.sd(), want["sd"].as_f64().unwrap(), 1e-9, 0.0);
        close("pmf0", d.ln_pmf(0).exp(), want["pmf0"].as_f64().unwrap(), 1e-9, 0.0);
        for (p, x) in want["quantiles"].as_object().unwrap() {
            let x = x.as_u64().unwrap();
            assert_eq!(d.quantile(p.parse().unwrap()), x, "{a} {b} at {p}");
            close("cdf", d.cdf(x), want["cdf_at_quantiles"][p].as_f64().unwrap(), 1e-9, 0.0);
        }
        let need = want["need_alive"].as_u64().unwrap();
        for (sure, order) in want["order"].as_object().unwrap() {
            let alive = |k: u64| BetaBinomial::from_shapes(k, b, a).at_least(need);
            let k = (need..).find(|&k| alive(k) >= sure.parse().unwrap()).unwrap();
            assert_eq!(k, order["K"].as_u64().unwrap());
            close("enough", alive(k), order["prob"].as_f64().unwrap(), 1e-9, 0.0);
        }
    }
}

fn weak() -> Prior {
    let q = |p10, p50, p90| Quantity { p10, p50, p90 };
    Prior { mean: q(0.1, 0.5, 0.9), spread: q(0.005, 0.05, 0.3) }
}

/// A count of `n` with chance `p`.
fn toss(n: u64, p: f64, rng: &mut impl rand::Rng) -> Count {
    Count { x: (0..n).filter(|_| uniform(rng) < p).count() as u64, n }
}

#[test]
fn intervals_of_levels_drawn_from_the_prior_cover_what_they_say() {
    let sizes = [8, 20, 45, 45, 120, 300];
    let (mut inside, mut new_inside, mut plug_in, mut plug_in_new, mut trials, mut sets) = (0, 0, 0, 0, 0, 0);
    for replicate in 0..400 {
        let mut rng = Seed::new(11).stream("coverage", replicate);
        let mut draw = |q: Quantity| q.at_z(normal_quantile(uniform(&mut rng)), Scale::Rate);
        let (mean, rho) = (draw(weak().mean), draw(weak().spread));
        let rate = BetaRate::new(mean, rho / (1.0 - rho));
        let rates: Vec<f64> = (0..=sizes.len()).map(|_| rate.quantile(uniform(&mut rng))).collect();
        let groups: Vec<Count> = sizes.iter().zip(&rates).map(|(n, p)| toss(*n, *p, &mut rng)).collect();
        let pooled = pool(&groups, &weak());
        let holds = |low: f64, high: f64, p: f64| u32::from(low <= p && p <= high);
        for (level, p) in pooled.levels.iter().zip(&rates) {
            inside += holds(level.quantile(0.05), level.quantile(0.95), *p);
            trials += 1;
        }
        let new = rates[sizes.len()];
        new_inside += holds(pooled.new_level.quantile(0.05), pooled.new_level.quantile(0.95), new);
        let fitted = fit(&groups).unwrap();
        plug_in_new += holds(fitted.rate().quantile(0.05), fitted.rate().quantile(0.95), new);
        for (group, p) in groups.iter().zip(&rates) {
            let level = fitted.plug_in(*group);
            plug_in += holds(level.quantile(0.05), level.quantile(0.95), *p);
        }
        sets += 1;
    }
    let share = |n: u32, of: u32| f64::from(n) / f64::from(of);
    println!(
        "coverage of 90 %: levels {:.4}, new level {:.4}; plug-in: levels {:.4}, new level {:.4}",
        share(inside, trials),
        share(new_inside, sets),
        share(plug_in, trials),
        share(plug_in_new, sets)
    );
    // Four binomial standard errors; levels of one set are nearly independent given its counts.
    let within = |n: u32, of: u32| (share(n, of) - 0.9).abs() < 4.0 * (0.09 / f64::from(of)).sqrt();
    assert!(within(inside, trials), "{}", share(inside, trials));
    assert!(within(new_inside, sets), "{}", share(new_inside, sets));
    assert!(share(plug_in_new, sets) < share(new_inside, sets), "what is taken as known makes intervals too narrow");
}

/// The same posterior by midpoint sums over both normal coordinates: its parts and weights.
fn brute(groups: &[Count], prior: &Prior) -> Vec<(f64, BetaRate)> {
    let middle = |i: i32, of: i32| -5.0 + 10.0 * (f64::from(i) + 0.5) / f64::from(of);
    let mut cells = Vec::new();
    for k in 0..160 {
        let z_spread = middle(k, 160);
        let rho = prior.spread.at_z(z_spread, Scale::Rate);
        for i in 0..1_200 {
            let z_mean = middle(i, 1_200);
            let rate = BetaRate::new(prior.mean.at_z(z_mean, Scale::Rate), rho / (1.0 - rho));
            let ln: f64 = groups.iter().map(|c| rate.predictive(c.n).ln_pmf(c.x)).sum();
            cells.push((ln - 0.5 * (z_mean * z_mean + z_spread * z_spread), rate));
        }
    }
    let top = cells.iter().map(|c| c.0).fold(f64::NEG_INFINITY, f64::max);
    cells.retain(|c| c.0 > top - 14.0);
    let total: f64 = cells.iter().map(|c| (c.0 - top).exp()).sum();
    cells.into_iter().map(|(ln, rate)| ((ln - top).exp() / total, rate)).collect()
}

#[test]
fn the_quadrature_meets_a_brute_one() {
    let skewed = Prior {
        mean: Quantity { p10: 0.82, p50: 0.93, p90: 0.98 },
        spread: Quantity { p10: 0.02, p50: 0.05, p90: 0.15 },
    };
    let sets = [vec![(55, 60), (40, 42), (12, 30)], vec![(0, 12), (0, 40)], vec![(480, 500), (1900, 2000), (45, 50)]];
    let all = sets.iter().flat_map(|set| [(set, weak()), (set, skewed)]);
    // Nothing of 52 under a prior of 0.93 lies beyond the brute sums' reach.
    for (set, prior) in all.filter(|(set, prior)| set[0].0 > 0 || *prior == weak()) {
        let groups: Vec<Count> = set.iter().map(|&(x, n)| Count { x, n }).collect();
        let (pooled, cells) = (pool(&groups, &prior), brute(&groups, &prior));
        let cut = pooled.levels[0].quantile(0.95);
        let average = |f: &dyn Fn(&BetaRate) -> f64| cells.iter().map(|(w, rate)| w * f(rate)).sum::<f64>();
        close("level", pooled.levels[0].mean(), average(&|r| r.updated(groups[0]).mean), 4e-3, 0.0);
        close("new level", pooled.new_level.mean(), average(&|r| r.mean), 4e-3, 0.0);
        close("tail", 0.95, average(&|r| r.updated(groups[0]).cdf(cut)), 0.0, 5e-4);
        let cut = pooled.new_level.quantile(0.1);
        close("new tail", 0.1, average(&|r| r.cdf(cut)), 0.0, 2e-3);
    }
}

#[test]
fn the_best_of_a_few_by_draws() {
    let groups: Vec<Count> = [(93, 100), (46, 50), (1_820, 2_000), (7, 12)].map(|(x, n)| Count { x, n }).to_vec();
    let pooled = pool(&groups, &weak());
    let got = probability_greatest(&pooled);
    assert!((got.iter().sum::<f64>() - 1.0).abs() < 1e-12);
    let mut rng = Seed::new(5).stream("best", 0);
    let draws = 6_000;
    let mut wins = vec![0.0; groups.len()];
    for _ in 0..draws {
        let (mut u, parts) = (uniform(&mut rng), pooled.new_level.parts());
        let k = parts.iter().position(|p| {
            u -= p.weight;
            u <= 0.0
        });
        let rate = parts[k.unwrap_or(0)].rate;
        let drawn: Vec<f64> = groups.iter().map(|c| rate.updated(*c).quantile(uniform(&mut rng))).collect();
        let best = (0..drawn.len()).max_by(|&a, &b| drawn[a].total_cmp(&drawn[b])).unwrap();
        wins[best] += 1.0 / f64::from(draws);
    }
    for (p, w) in got.iter().zip(&wins) {
        assert!((p - w).abs() < 0.005 + 4.0 * (w * (1.0 - w) / f64::from(draws)).sqrt(), "{got:?} {wins:?}");
    }
}

#[test]
fn relabelling_permutes_and_doubling_narrows() {
    let groups: Vec<Count> = [(40, 45), (44, 45), (20, 45), (0, 0)].map(|(x, n)| Count { x, n }).to_vec();
    let reversed: Vec<Count> = groups.iter().rev().copied().collect();
    let doubled: Vec<Count> = groups.iter().map(|c| Count { x: 2 * c.x, n: 2 * c.n }).collect();
    let (here, there, twice) = (pool(&groups, &weak()), pool(&reversed, &weak()), pool(&doubled, &weak()));
    let width = |m: &fullstand::stats::betabinomial::Mixture| m.quantile(0.95) - m.quantile(0.05);
    for (a, b) in here.levels.iter().zip(there.levels.iter().rev()) {
        assert_eq!(a, b);
    }
    for (one, two) in here.levels.iter().zip(&twice.levels).take(3) {
        assert!(width(two) < width(one));
    }
    let best = probability_greatest(&here);
    assert!(best.iter().zip(probability_greatest(&there).iter().rev()).all(|(a, b)| (a - b).abs() < 1e-9));
}
