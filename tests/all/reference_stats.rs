//! `stats` against the answers of reference libraries and published tables.

use crate::oracle::{close, counts, numbers, read};
use fullstand::base::Seed;
use fullstand::stats::contingency::freeman_halton;
use fullstand::stats::proportion::{
    Ends, Interval, agresti_coull, clopper_pearson, jeffreys, mid_p, wilson, wilson_continuity,
};
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
