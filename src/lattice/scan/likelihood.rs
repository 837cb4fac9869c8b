//! How much a window speaks for a higher rate inside.

/// Log likelihood ratio of a window with `cases` of `sites` marked where `expected` would be by chance, out of
/// `all_cases` of `all_sites`; 0 unless more are marked than expected.
///
/// Letters: o the four counts (marked and not, inside and outside), e their expectations: sum of o ln(o / e). With the
/// same rate everywhere, e = n C / N inside, it is the Bernoulli ratio of Kulldorff 1997 (`kulldorff-1997`), section 3.
/// With rates by stratum, e is the sum of the rates of the sites inside: a window that only has its strata's numbers
/// gets 0. It then leaves out that strata keep their numbers; a null made by dealing within strata allows for that.
pub fn log_likelihood_ratio(cases: f64, sites: f64, expected: f64, all_cases: f64, all_sites: f64) -> f64 {
    if cases <= expected + 1e-9 {
        return 0.0;
    }
    let outside = all_sites - sites - all_cases;
    let parts = [
        (cases, expected),
        (sites - cases, sites - expected),
        (all_cases - cases, all_cases - expected),
        (outside + cases, outside + expected),
    ];
    let part = |&(o, e): &(f64, f64)| if o > 0.0 { o * (o / e).ln() } else { 0.0 };
    let ratio: f64 = parts.iter().map(part).sum();
    if ratio.is_finite() { ratio.max(0.0) } else { 0.0 }
}

/// The same where one rate holds everywhere.
pub fn bernoulli(cases: u64, sites: u64, all_cases: u64, all_sites: u64) -> f64 {
    let [cases, sites, all_cases, all_sites] = [cases, sites, all_cases, all_sites].map(|count| count as f64);
    log_likelihood_ratio(cases, sites, sites * all_cases / all_sites, all_cases, all_sites)
}

/// The fewest marked sites with which the ratio can reach `floor`; at least one more than expected.
///
/// With d = cases - expected and h(u) = (1 + u) ln(1 + u) - u the ratio is the sum of e h(d/e), d with the sign of the
/// count; h(u) is at most u^2/2 above 0 and u^2 below, so that the ratio is at most d^2 times a sum of 1/(2e) and 1/e.
pub(super) fn fewest(floor: f64, sites: f64, expected: f64, all_cases: f64, all_sites: f64) -> i32 {
    let more = 0.5 / expected + 0.5 / (all_sites - sites - all_cases + expected);
    let fewer = 1.0 / (sites - expected) + 1.0 / (all_cases - expected);
    let apart = (floor / (more + fewer)).sqrt();
    let apart = if apart.is_finite() { apart } else { 0.0 };
    (expected + apart - 1e-6).ceil().max((expected + 1e-9).floor() + 1.0) as i32
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_count_below_the_fewest_reaches_the_floor() {
        for (sites, all_cases, all_sites) in
            [(10.0, 30.0, 200.0), (5.0, 5.0, 100.0), (40.0, 70.0, 80.0), (3.0, 90.0, 99.0)]
        {
            for expected in [sites * all_cases / all_sites, 0.3 * sites * all_cases / all_sites] {
                for floor in [0.0, 1.0, 3.0] {
                    let fewest = fewest(floor, sites, expected, all_cases, all_sites);
                    for cases in 0..=sites as i32 {
                        let ratio = log_likelihood_ratio(cases.into(), sites, expected, all_cases, all_sites);
                        assert!(
                            cases >= fewest || ratio < floor + 1e-12 && (floor > 0.0 || ratio == 0.0),
                            "{cases} {fewest} {ratio}"
                        );
                    }
                }
            }
        }
    }
}
