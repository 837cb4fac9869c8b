//! The document `rates`.

use super::apart::{Confounded, ToldApart};
use super::by_row::LevelByRow;
use super::draws::Draws;
use super::heterogeneity::FactorTests;
use super::power::PowerAnswer;
use super::stand::Stand;
use super::stocks::Comparison;
use super::trend::RatesTrend;
use crate::base::known::as_stand;
use crate::base::{Documented, Estimate, Known, SourceKey};
use serde::Serialize;
use std::collections::BTreeMap;

/// Everything said of a block's rates.
#[derive(Clone, Debug, Serialize)]
pub struct Rates {
    pub vines: u64,
    pub seen: u64,
    pub failed: u64,
    pub missing: u64,
    pub unsure: u64,
    pub set_aside: u64,
    /// The whole block's stand.
    #[serde(serialize_with = "as_stand")]
    pub stand: Known<Estimate>,
    pub factors: Vec<FactorRates>,
    /// How the factors lie to each other, and which levels are sums of others.
    pub told_apart: ToldApart,
    /// Along the planting date and declared grades.
    pub trends: Vec<RatesTrend>,
    pub contrasts: Known<Vec<Contrast>>,
    pub fit: Known<Fit>,
    /// As `factors`, for the take: between bounds where some failures are of a kind not told.
    pub take: Vec<FactorRates>,
    /// Rootstocks compared, and clones.
    pub rootstock: Known<Comparison>,
    pub clone: Known<Comparison>,
    /// How many vines and batches tell two stands apart.
    pub power: Known<PowerAnswer>,
    pub vigour: Known<serde_json::Value>,
    pub survival: Known<serde_json::Value>,
    /// Draws of all stands together.
    #[serde(skip)]
    pub draws: Option<Draws>,
    #[serde(skip)]
    pub sources: Vec<SourceKey>,
}

#[derive(Clone, Debug, Serialize)]
pub struct FactorRates {
    pub factor: String,
    pub levels: Vec<LevelRates>,
    #[serde(flatten)]
    pub tests: FactorTests,
    /// Standard deviation of the levels' effects on the logit scale: the median of its posterior.
    pub sd: Known<f64>,
    /// sd^2 over the sum of all factors' sd^2 and pi^2/3: the levels' share of the variance of a vine's latent logit.
    pub share_of_variance: Known<f64>,
}

/// Rates of one level: of the stand in [`Rates::factors`], of the take in [`Rates::take`]. The counts are the same in
/// both.
#[derive(Clone, Debug, Serialize)]
pub struct LevelRates {
    /// Empty: the vines without a label, which are shown and never compared; the same goes for "L1|L3".
    pub level: String,
    pub seen: u64,
    pub failed: u64,
    pub missing: u64,
    pub never_grew: u64,
    pub raw: Stand,
    pub score: Stand,
    /// Adjusted for the other factors and standardised over the vines seen: the posterior's median and interval.
    /// Bounds where the level can't be told apart from the other factors.
    pub pooled: Stand,
    /// How far it can be told apart from the factors not nested within this one: 0 not at all, 1 wholly.
    pub separable: Known<f64>,
    /// Where it can't at all: with what it is confounded, and what would untie it. Else empty.
    pub confounded_with: Vec<Confounded>,
    /// Probability that its rate is the highest of the factor's compared levels.
    pub probability_best: Known<f64>,
    /// Against the factor's other levels within rows, counting vines.
    pub by_row: Known<LevelByRow>,
}

#[derive(Clone, Debug, Serialize)]
pub struct Contrast {
    pub factor: String,
    pub a: String,
    pub b: String,
    pub odds_ratio: f64,
    pub low: f64,
    pub high: f64,
    pub p_adjusted: f64,
}

/// The mixed model of failure by maximum likelihood (Laplace's approximation).
#[derive(Clone, Debug, Serialize)]
pub struct Fit {
    /// ln odds of failure where every effect is 0.
    pub intercept: f64,
    pub intercept_standard_error: Known<f64>,
    /// Standard deviation of each random factor, logit.
    pub sd: BTreeMap<String, f64>,
    /// Coefficients of the fixed factors, beside their first level.
    pub fixed: Vec<Coefficient>,
    /// Of the counts per cell, binomial coefficients included.
    pub log_likelihood: f64,
    /// The same without them: of the vines one by one.
    pub log_likelihood_of_vines: f64,
    /// Some standard deviation is 0.
    pub singular: bool,
    /// Factors that aren't in it, or share the standard deviation of another.
    pub left_out: Vec<LeftOut>,
    pub method: &'static str,
}

/// ln odds ratio of failure of a level over its factor's first.
#[derive(Clone, Debug, Serialize)]
pub struct Coefficient {
    pub factor: String,
    pub level: String,
    pub estimate: f64,
    pub standard_error: Known<f64>,
}

#[derive(Clone, Debug, Serialize)]
pub struct LeftOut {
    pub factor: String,
    pub reason: String,
}

impl Documented for Rates {
    const SCHEMA: &'static str = "rates";
    fn sources(&self) -> Vec<SourceKey> {
        self.sources.clone()
    }
}

/// Works that the rates stand on.
pub(super) const SOURCES: &[SourceKey] = &[
    "clopper-pearson-1934",
    "wilson-1927",
    "freeman-halton-1951",
    "mantel-haenszel-1959",
    "robins-1986",
    "landis-1978",
    "armitage-1955",
    "lin-1997",
    "commenges-1997",
    "phipson-smyth-2010",
    "john-williams-1995",
    "weeks-williams-1964",
    "golub-1965",
    "newton-spurrell-1967",
    "hestenes-stiefel-1952",
    "bates-2015",
    "simpson-2017",
    "rue-2009",
    "ionides-2008",
    "lane-nelder-1982",
    "hayes-bennett-1999",
    "donner-klar-2000",
    "gart-zweifel-1967",
    "zeger-1988",
    "ohagan-2005",
    "fleiss-1981",
    "mckay-1979",
];
