//! A share of blocks with its exact interval.

use fullstand::stats::proportion::clopper_pearson;

/// Hits of trials.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Share {
    pub hits: u64,
    pub of: u64,
}

impl Share {
    pub fn count(&mut self, hit: bool) {
        self.hits += u64::from(hit);
        self.of += 1;
    }

    pub fn value(self) -> f64 {
        self.hits as f64 / self.of.max(1) as f64
    }

    /// The upper limit that holds in 95 % of studies: Clopper & Pearson (1934), one-sided.
    pub fn upper(self) -> f64 {
        clopper_pearson(self.hits, self.of, 0.9).high
    }
}

impl FromIterator<bool> for Share {
    fn from_iter<I: IntoIterator<Item = bool>>(hits: I) -> Self {
        let mut share = Share::default();
        hits.into_iter().for_each(|hit| share.count(hit));
        share
    }
}

/// `93.1 % (27 of 29; 79.2 to 98.2 %)`, the interval exact, two-sided at 95 %.
impl std::fmt::Display for Share {
    fn fmt(&self, f: &mut std::fmt::Formatter) -> std::fmt::Result {
        if self.of == 0 {
            return write!(f, "none asked");
        }
        let at = clopper_pearson(self.hits, self.of, 0.95);
        let percent = |p: f64| 100.0 * p;
        let (value, low, high) = (percent(self.value()), percent(at.low), percent(at.high));
        write!(f, "{value:.1} % ({} of {}; {low:.1} to {high:.1} %)", self.hits, self.of)
    }
}
