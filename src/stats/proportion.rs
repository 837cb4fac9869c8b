//! Intervals for one binomial proportion.

/// An interval for a proportion, ends in 0..1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interval {
    pub low: f64,
    pub high: f64,
}

/// Exact interval of Clopper & Pearson (1934) for `x` of `n` at `level` in (0, 1).
pub fn clopper_pearson(x: u64, n: u64, level: f64) -> Interval {
    let _ = (x, n, level);
    todo!()
}

/// Score interval of Wilson (1927).
pub fn wilson(x: u64, n: u64, level: f64) -> Interval {
    let _ = (x, n, level);
    todo!()
}
