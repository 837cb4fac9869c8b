//! The posterior against long runs of the No-U-Turn sampler on the same model, and against a grid integral.

use crate::oracle::{close, counts, numbers, read};
use fullstand::base::Seed;
use fullstand::stats::mixed::{Effort, Posterior, Prior, Term, posterior};
use serde_json::Value;

/// Draws enough that their own error stays well below the tolerance.
const EFFORT: Effort = Effort { draws: 60_000, nodes: 6_000 };

struct Case {
    oracle: Value,
    factors: Vec<String>,
    levels: Vec<Vec<String>>,
    posterior: Posterior,
}

fn text(value: &Value) -> String {
    value.as_str().map_or_else(|| value.to_string(), str::to_string)
}

fn case(id: &str) -> Case {
    let oracle = read(&format!("nuts/{id}"));
    let inputs = &oracle["inputs"];
    let factors: Vec<String> = oracle["expected"]["sd"].as_object().unwrap().keys().cloned().collect();
    let of = |f: &String| inputs["data"][f].as_array().unwrap().iter().map(text).collect::<Vec<String>>();
    let stands = &oracle["expected"]["stand"];
    // With one factor the levels stand alone.
    let level = |f: &String| stands.get(f).unwrap_or(stands).as_object().unwrap().keys().cloned().collect();
    let levels: Vec<Vec<String>> = factors.iter().map(level).collect();
    let term = |(f, levels): (&String, &Vec<String>)| Term {
        codes: of(f).iter().map(|l| levels.iter().position(|k| k == l).unwrap() as u32).collect(),
        levels: levels.len(),
    };
    let terms: Vec<Term> = factors.iter().zip(&levels).map(term).collect();
    let (failed, seen) = (counts(&inputs["data"]["failed"]), counts(&inputs["data"]["seen"]));
    let number = |name: &str| inputs["prior"][name].as_f64().unwrap();
    let prior = Prior { constant_mean: number("b0_mean"), constant_sd: number("b0_sd"), sd_rate: number("sd_rate") };
    let posterior = posterior((&failed, &seen), &terms, &prior, &EFFORT, Seed::new(1)).unwrap().unwrap();
    Case { oracle, factors, levels, posterior }
}

fn quantile(values: &mut [f64], p: f64) -> f64 {
    values.sort_by(f64::total_cmp);
    values[((values.len() - 1) as f64 * p).round() as usize]
}

/// Median and ends within 5 % of a posterior sd; the largest miss, in posterior sds.
fn miss(what: &str, mut values: Vec<f64>, want: &Value) -> (f64, String) {
    let (sd, quantiles) = (want["sd"].as_f64().unwrap(), numbers(&want["quantiles"]));
    let off = |(p, i): (f64, usize)| (quantile(&mut values, p) - quantiles[i]) / sd;
    // The quantiles kept are symmetric about the median, 5 % the second from either end.
    let last = quantiles.len() - 1;
    let off: Vec<f64> = [(0.05, 1), (0.5, last / 2), (0.95, last - 1)].into_iter().map(off).collect();
    (off.iter().fold(0.0, |m, o| o.abs().max(m)), format!("{what}: {off:.3?}"))
}

fn assert_posterior(id: &str) {
    let Case { oracle, factors, levels, posterior } = case(id);
    let want = &oracle["expected"];
    println!(
        "{id}: effective {:.0} of {}, nodes {:.0}",
        posterior.effective, posterior.draws, posterior.effective_nodes
    );
    let mut misses = vec![miss("constant", posterior.constant.clone(), &want["b0"])];
    for (f, name) in factors.iter().enumerate() {
        misses.push(miss(&format!("sd {name}"), posterior.sd[f].clone(), &want["sd"][name]));
        let width = levels[f].len();
        for (at, level) in levels[f].iter().enumerate() {
            let of = |all: &[f64]| all.iter().skip(at).step_by(width).copied().collect::<Vec<f64>>();
            let what = format!("{name} {level}");
            misses.push(miss(&format!("effect {what}"), of(&posterior.effects[f]), &want["effect"][name][level]));
            let stand = of(&posterior.standardised[f]).iter().map(|r| 1.0 - r).collect();
            misses.push(miss(&format!("stand {what}"), stand, &want["stand"][name][level]));
        }
    }
    misses.sort_by(|a, b| b.0.total_cmp(&a.0));
    misses.iter().take(12).for_each(|(_, line)| println!("  {line}"));
    assert!(misses[0].0 < 0.05, "{id}: {}", misses[0].1);
}

#[test]
fn herds_and_periods_agree_with_a_long_run() {
    assert_posterior("cbpp");
}

#[test]
fn pines_one_by_one_agree_with_a_long_run() {
    assert_posterior("pines_10");
}

#[test]
fn three_batches_agree_with_a_grid_integral() {
    let Case { oracle, levels, posterior, .. } = case("three_batches");
    for (at, level) in levels[0].iter().enumerate() {
        let stand = posterior.standardised[0].iter().skip(at).step_by(3).map(|r| 1.0 - r).collect();
        let (off, line) = miss(level, stand, &oracle["expected"]["stand"][level]);
        assert!(off < 0.05, "{line}");
    }
}

/// The same data as a grower's folder of counts, herds as rows: `fit` is lme4's, `pooled` the long run's.
#[test]
fn a_folder_of_counts_tells_the_same() {
    let random_only = read("glmm_random_only");
    let (want, data) = (&random_only["cases"]["cbpp"]["expected"], &random_only["cases"]["cbpp"]["inputs"]["data"]);
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("block.toml"), "name = \"Herds\"\nfactors = [\"period\"]\n").unwrap();
    let cell = |i: usize, name: &str| text(&data[name][i]);
    let line = |i: usize| ["row", "planted", "failed", "period"].map(|name| cell(i, name)).join(",");
    let lines: Vec<String> = (0..data["row"].as_array().unwrap().len()).map(line).collect();
    let counts = format!("row,planted,failed,period\n{}\n", lines.join("\n"));
    std::fs::write(folder.path().join("counts.csv"), counts).unwrap();
    let asked = std::process::Command::new(env!("CARGO_BIN_EXE_fullstand"))
        .args(["rates", "--json"])
        .arg(folder.path())
        .output()
        .unwrap();
    assert!(asked.status.success(), "{}", String::from_utf8_lossy(&asked.stderr));
    let rates: Value = serde_json::from_slice(&asked.stdout).unwrap();
    let number = |v: &Value| v.as_f64().unwrap_or_else(|| panic!("{v}"));
    let fit = &rates["fit"];
    close("intercept", number(&fit["intercept"]), number(&want["intercept"]), 0.0, 2e-3);
    close("log likelihood", number(&fit["log_likelihood"]), number(&want["logLik"]), 0.0, 1e-3);
    for name in ["row", "period"] {
        close(name, number(&fit["sd"][name]), number(&want["sd"][name]), 0.005, 0.0);
    }
    let long_run = read("nuts/cbpp");
    for (ours, theirs) in [("row", "herd"), ("period", "period")] {
        let factors = rates["factors"].as_array().unwrap();
        let factor = factors.iter().find(|f| f["factor"] == ours).unwrap();
        for level in factor["levels"].as_array().unwrap() {
            let name = level["level"].as_str().unwrap();
            let want = &long_run["expected"]["stand"][theirs][name];
            let (sd, quantiles) = (number(&want["sd"]), numbers(&want["quantiles"]));
            for (end, at) in [("low", 1), ("stand", 2), ("high", 3)] {
                let off = (number(&level["pooled"][end]) - quantiles[at]) / sd;
                // 4,000 draws: their own error is up to 0.033 at the ends.
                assert!(off.abs() < 0.1, "{ours} {name} {end}: off by {off:.3} posterior sds");
            }
        }
    }
}
