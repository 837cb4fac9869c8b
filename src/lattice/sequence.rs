//! Runs and doublets of a mark along a line.
//!
//! Letters: a line of n sites in order, n1 of them marked, n0 = n - n1 not; U runs (maximal stretches of sites alike);
//! a doublet is a pair of sites, one after the other, both marked. All orders of the marks are equally likely.
//! `E[U]` = 1 + 2 n1 n0 / n, `V[U]` = (E - 1)(E - 2)/(n - 1); of the C(n, n1) orders 2 C(n1-1, k-1) C(n0-1, k-1) have
//! 2k runs, and C(n1-1, k) C(n0-1, k-1) + C(n1-1, k-1) C(n0-1, k) have 2k + 1 (Wald & Wolfowitz 1940,
//! `wald-wolfowitz-1940`). `E[doublets]` = n1 (n1 - 1)/n.
//!
//! Few runs, or many doublets, are clustering. Conditional on each line's n1: lines that differ in their numbers of
//! marks say nothing here. Not where a treatment changes within the line: the change makes runs long.

use crate::stats::special::{ln_choose, normal_cdf};
use serde::Serialize;

/// Runs and doublets of one line.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct LineRuns {
    pub marked: u64,
    pub unmarked: u64,
    pub runs: u64,
    pub doublets: u64,
}

impl LineRuns {
    /// Of a line's marks in order.
    pub fn of(marks: &[bool]) -> Self {
        let count = |is: fn(&[bool]) -> bool| marks.windows(2).filter(|pair| is(pair)).count() as u64;
        let marked = marks.iter().filter(|m| **m).count() as u64;
        LineRuns {
            marked,
            unmarked: marks.len() as u64 - marked,
            runs: u64::from(!marks.is_empty()) + count(|pair| pair[0] != pair[1]),
            doublets: count(|pair| pair[0] && pair[1]),
        }
    }

    /// Whether the line has both kinds: else it has one run whatever the cause.
    pub fn is_informative(&self) -> bool {
        self.marked > 0 && self.unmarked > 0
    }

    fn sites(&self) -> f64 {
        (self.marked + self.unmarked) as f64
    }

    pub fn expected_runs(&self) -> f64 {
        let mixed = 2.0 * self.marked as f64 * self.unmarked as f64;
        if self.sites() > 0.0 { 1.0 + mixed / self.sites() } else { 0.0 }
    }

    pub fn variance_of_runs(&self) -> f64 {
        let expected = self.expected_runs();
        if self.is_informative() { (expected - 1.0) * (expected - 2.0) / (self.sites() - 1.0) } else { 0.0 }
    }

    pub fn expected_doublets(&self) -> f64 {
        let marked = self.marked as f64;
        if self.marked > 0 { marked * (marked - 1.0) / self.sites() } else { 0.0 }
    }

    /// Standard deviations above the expectation: below 0 is clustering. None without variance.
    pub fn z(&self) -> Option<f64> {
        let variance = self.variance_of_runs();
        (variance > 0.0).then(|| (self.runs as f64 - self.expected_runs()) / variance.sqrt())
    }

    /// The distribution of the number of runs.
    fn exact(&self) -> Runs {
        Runs { marked: self.marked, unmarked: self.unmarked }
    }

    /// Probability of so few runs; 1 where the line is not informative.
    pub fn p_few(&self) -> f64 {
        (1..=self.runs).map(|runs| self.exact().probability(runs)).sum::<f64>().min(1.0)
    }

    /// Probability of so many runs.
    pub fn p_many(&self) -> f64 {
        let most = 2 * self.marked.min(self.unmarked) + 1;
        (self.runs..=most.max(self.runs)).map(|runs| self.exact().probability(runs)).sum::<f64>().min(1.0)
    }

    /// Half the probability of just so many runs, and all of fewer (Lancaster 1961, `lancaster-1961`).
    pub fn mid_p_few(&self) -> f64 {
        self.p_few() - 0.5 * self.exact().probability(self.runs)
    }
}

struct Runs {
    marked: u64,
    unmarked: u64,
}

impl Runs {
    fn probability(&self, runs: u64) -> f64 {
        if self.marked == 0 || self.unmarked == 0 {
            return f64::from(u8::from(runs == 1));
        }
        let all = ln_choose(self.marked + self.unmarked, self.marked);
        let part = |of_marked: u64, of_unmarked: u64| {
            let possible = of_marked < self.marked && of_unmarked < self.unmarked;
            let ln = || ln_choose(self.marked - 1, of_marked) + ln_choose(self.unmarked - 1, of_unmarked) - all;
            if possible { ln().exp() } else { 0.0 }
        };
        match (runs / 2, runs % 2) {
            (0, _) => 0.0,
            (k, 0) => 2.0 * part(k - 1, k - 1),
            (k, _) => part(k, k - 1) + part(k - 1, k),
        }
    }
}

/// The lines together.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct CombinedRuns {
    /// Sum of U - E over informative lines with variance.
    pub excess: f64,
    pub variance: f64,
    /// excess / sqrt(variance).
    pub z: f64,
    /// Lower tail of the normal approximation: so few runs.
    pub p_few: f64,
    pub informative: u64,
}

/// Sum of U - E against its standard deviation, over the lines whose number of runs can vary; None where it can in
/// none.
pub fn combined_runs(lines: &[LineRuns]) -> Option<CombinedRuns> {
    let informative = || lines.iter().filter(|line| line.variance_of_runs() > 0.0);
    let excess = informative().map(|line| line.runs as f64 - line.expected_runs()).sum::<f64>();
    let variance = informative().map(LineRuns::variance_of_runs).sum::<f64>();
    let z = excess / variance.sqrt();
    let combined =
        CombinedRuns { excess, variance, z, p_few: normal_cdf(z), informative: informative().count() as u64 };
    (variance > 0.0).then_some(combined)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn three_of_six_by_hand() {
        // 20 orders of 3 and 3: 2, 4, 8, 4, 2 have 2 to 6 runs.
        let line = LineRuns::of(&[true, true, false, false, false, true]);
        assert_eq!((line.marked, line.unmarked, line.runs, line.doublets), (3, 3, 3, 1));
        assert!((line.p_few() - 6.0 / 20.0).abs() < 1e-14 && (line.p_many() - 18.0 / 20.0).abs() < 1e-14);
        assert!((line.mid_p_few() - 4.0 / 20.0).abs() < 1e-14);
        assert_eq!((line.expected_runs(), line.expected_doublets()), (4.0, 1.0));
        assert!((line.variance_of_runs() - 6.0 / 5.0).abs() < 1e-14);
    }

    #[test]
    fn lines_of_one_kind_say_nothing() {
        for line in [LineRuns::of(&[]), LineRuns::of(&[true]), LineRuns::of(&[false, false])] {
            assert_eq!((line.is_informative(), line.z(), line.variance_of_runs()), (false, None, 0.0));
        }
        assert_eq!(combined_runs(&[LineRuns::of(&[true, true]), LineRuns::of(&[true, false])]), None);
        let all = LineRuns::of(&[true, true, true]);
        assert_eq!((all.p_few(), all.p_many(), all.doublets, all.expected_doublets()), (1.0, 1.0, 2, 2.0));
    }
}
