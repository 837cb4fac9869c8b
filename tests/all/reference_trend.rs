//! Trend and groups within strata against the answers of reference libraries and published tables.

use crate::oracle::{close, counts, numbers, read};
use fullstand::base::Seed;
use fullstand::stats::generalised_cmh::{Asked, GroupCounts, generalised_cmh};
use fullstand::stats::permute::{Effort, Strata};
use fullstand::stats::trend::{Scored, cochran_armitage, trend_redealt};

fn malformations() -> Vec<Scored> {
    let oracle = read("cochran_armitage_malform");
    let of = |key: &str| &oracle["inputs"][key];
    let groups = counts(of("x")).into_iter().zip(counts(of("n"))).zip(numbers(of("scores")));
    groups.map(|((failed, seen), score)| Scored { score, failed, seen }).collect()
}

/// Agresti (2002), table 3.7: both forms, the one-sided p and the departure from a line.
#[test]
fn cochran_armitage_in_both_forms() {
    let want = &read("cochran_armitage_malform")["expected"];
    let number = |key: &str| want[key].as_f64().expect("a number");
    let got = cochran_armitage(&malformations()).expect("a trend");
    close("with N", got.with_n.statistic, number("prop_trend_chisq"), 1e-6, 0.0);
    close("its p", got.with_n.p_value, number("prop_trend_p"), 1e-6, 0.0);
    close("two-sided p of z", got.p_value, number("prop_trend_p"), 1e-6, 0.0);
    close("z", got.z, number("Z"), 1e-6, 0.0);
    close("one-sided p", got.p_greater, number("one_sided_p"), 1e-6, 0.0);
    close("with N - 1", got.with_n_less_one.statistic, number("agresti_M2"), 1e-6, 0.0);
    close("with N - 1, by permutation moments", got.with_n_less_one.statistic, number("coin_quad"), 1e-6, 0.0);
    close("its p", got.with_n_less_one.p_value, number("coin_p"), 1e-6, 0.0);
    let departure = got.departure.expect("five groups");
    close("departure", departure.statistic, number("departure_chisq"), 1e-6, 0.0);
    close("its df", departure.df, number("departure_df"), 0.0, 0.0);
}

/// The permutation form against the sum over all tables with these margins, each with its number of ways.
#[test]
fn the_permutation_form_is_the_exact_one() {
    // Groups of 3, 4 and 2 plants with scores 0, 1, 3; 1, 1 and 2 failed.
    let (sizes, failed, scores) = ([3u64, 4, 2], [1u64, 1, 2], [0.0, 1.0, 3.0]);
    let choose = |n: u64, k: u64| (0..k).fold(1.0, |c, i| c * (n - i) as f64 / (i + 1) as f64);
    let mean = (4.0 + 6.0) / 9.0;
    let far = |x: [u64; 3]| x.iter().zip(scores).map(|(&x, s)| x as f64 * (s - mean)).sum::<f64>().abs();
    let (mut all, mut as_far) = (0.0, 0.0);
    for a in 0..=3u64 {
        for b in 0..=4u64.min(4 - a) {
            let x = [a, b, 4 - a - b];
            if x[2] <= 2 {
                let ways: f64 = x.iter().zip(sizes).map(|(&x, n)| choose(n, x)).product();
                all += ways;
                as_far += if far(x) >= far(failed) - 1e-9 { ways } else { 0.0 };
            }
        }
    }
    assert_eq!(all, 126.0);
    let plants: Vec<(u32, f64)> = (0..3u32)
        .flat_map(|g| (0..sizes[g as usize]).map(move |k| (g, if k < failed[g as usize] { 1.0 } else { 0.0 })))
        .collect();
    let (labels, units): (Vec<u32>, Vec<(f64, f64)>) = plants.into_iter().map(|(g, x)| (g, (x, 1.0))).unzip();
    let run =
        |effort: &Effort| trend_redealt(&units, &labels, &scores, &Strata::one(9), effort, ("trend", Seed::new(3)));
    let counted = run(&Effort::default());
    close("all arrangements", counted.p_greater, as_far / all, 1e-12, 0.0);
    assert_eq!(counted.error, 0.0);
    let drawn = run(&Effort { count_up_to: 1, ..Effort::default() });
    close("drawn", drawn.p_greater, as_far / all, 0.0, 4.0 * drawn.error);
}

fn job_satisfaction() -> Vec<Vec<GroupCounts>> {
    let oracle = read("gcmh_job");
    let group = |(group, row): (usize, &serde_json::Value)| GroupCounts { group: group as u32, counts: counts(row) };
    let strata = oracle["inputs"]["strata"].as_array().expect("strata").iter();
    strata.map(|s| s["table"].as_array().expect("rows").iter().enumerate().map(group).collect()).collect()
}

/// Agresti (2002), table 7.8: job satisfaction by income, men and women apart.
#[test]
fn generalised_cochran_mantel_haenszel() {
    let want = &read("gcmh_job")["expected"];
    let got = generalised_cmh(&job_satisfaction(), &Asked::GeneralAssociation).expect("a test");
    close("statistic", got.statistic, want["stat"].as_f64().expect("a number"), 1e-7, 0.0);
    close("df", got.df, want["df"].as_f64().expect("a number"), 0.0, 0.0);
    close("p", got.p_value, want["p"].as_f64().expect("a number"), 1e-7, 0.0);
}

/// The same table with scores: 9.0342 on 3 degrees of freedom for the mean scores and 6.1563 on 1 for the straight line
/// (Agresti 2002, p. 297, scores 1, 3, 4, 5 and 3, 10, 20, 35; from memory).
#[test]
fn mean_scores_and_correlation_within_strata() {
    let (income, satisfaction) = ([3.0, 10.0, 20.0, 35.0], [1.0, 3.0, 4.0, 5.0]);
    let strata = job_satisfaction();
    let means = generalised_cmh(&strata, &Asked::MeanScores { kinds: &satisfaction }).expect("a test");
    close("mean scores", means.statistic, 9.0342, 0.0, 5e-5);
    assert_eq!(means.df, 3.0);
    let line = Asked::Correlation { groups: &income, kinds: &satisfaction };
    let line = generalised_cmh(&strata, &line).expect("a test");
    close("correlation", line.statistic, 6.1563, 0.0, 5e-5);
    assert_eq!(line.df, 1.0);
}

/// Leaving a stratum's order of groups and kinds alone or not changes nothing.
#[test]
fn order_changes_nothing() {
    let strata = job_satisfaction();
    let mut turned = strata.clone();
    turned.reverse();
    turned.iter_mut().for_each(|s| {
        s.reverse();
        s.iter_mut().for_each(|g| g.counts.reverse());
    });
    let of = |s: &[Vec<GroupCounts>]| generalised_cmh(s, &Asked::GeneralAssociation).map(|t| t.statistic);
    close("turned", of(&turned).expect("a test"), of(&strata).expect("a test"), 1e-10, 0.0);
}
