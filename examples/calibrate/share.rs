//! A share of simulated blocks with its Monte Carlo error.

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

    /// Standard error of the share if the true one is `p`.
    pub fn error_at(self, p: f64) -> f64 {
        (p * (1.0 - p) / self.of.max(1) as f64).sqrt()
    }
}

impl std::fmt::Display for Share {
    fn fmt(&self, f: &mut std::fmt::Formatter) -> std::fmt::Result {
        let p = self.value();
        write!(f, "{:5.1} % +- {:.1}", 100.0 * p, 100.0 * self.error_at(p))
    }
}

impl FromIterator<bool> for Share {
    fn from_iter<I: IntoIterator<Item = bool>>(hits: I) -> Self {
        let mut share = Share::default();
        hits.into_iter().for_each(|hit| share.count(hit));
        share
    }
}
