//! Stand, take and vigour by factor: raw rates with exact intervals, heterogeneity, pooled rates, and what a new
//! batch may do.

mod by_row;
mod heterogeneity;
mod levels;
mod new_batch;
mod pooling;
mod separable;
mod trend;

pub use by_row::{ByRow, LevelByRow};
pub use heterogeneity::FactorTests;
pub use new_batch::{NewBatch, new_batch};
pub use trend::{RatesTrend, ScoredLevel, trends};

use crate::base::known::Why;
use crate::base::known::as_stand;
use crate::base::words::{base as common, fill, rates as words};
use crate::base::{Assumptions, Documented, Estimate, Known, Seed, SourceKey};
use crate::block::Code;
use crate::stats::betabinomial::{Count, Prior};
use crate::stats::permute::Effort;
use crate::stats::proportion::{Interval, clopper_pearson, wilson};
use crate::tally::Tally;
use by_row::Rows;
use heterogeneity::Question;
use levels::{Kind, Level, Outcome};
use pooling::Shrunk;
use rayon::prelude::*;
use serde::Serialize;
use std::collections::BTreeMap;

/// Settings of [`rates()`].
#[derive(Clone, Debug)]
pub struct Config {
    /// Level of the intervals, in (0, 1).
    pub level: f64,
    /// Tables simulated where the exact test of vines is too large; 0: that test is left out.
    pub simulations: usize,
    /// Re-arrangements of labels, or of outcomes, for each test.
    pub permutations: usize,
    /// Draws from the null model for each test of a variance.
    pub null_draws: usize,
    /// Labels are dealt anew within rows where a p-value of this can be reached there.
    pub clear_below: f64,
    /// Finer levels are dealt anew as wholes where a p-value of this can be reached.
    pub likely_below: f64,
    /// What is held plausible of a factor's levels before they are counted.
    pub prior: Prior,
}

impl Config {
    /// The prior from the assumptions `pooling.mean_stand` and `pooling.level_spread`; tables, re-arrangements and
    /// draws as many as `evidence.*` says.
    pub fn new(level: f64, assumptions: &Assumptions) -> Self {
        let prior = Prior {
            mean: assumptions.quantity("pooling.mean_stand"),
            spread: assumptions.quantity("pooling.level_spread"),
        };
        Config {
            level,
            simulations: assumptions.get("evidence.simulated_tables") as usize,
            permutations: assumptions.get("evidence.permutations") as usize,
            null_draws: assumptions.get("evidence.null_draws") as usize,
            clear_below: assumptions.get("evidence.clear_below"),
            likely_below: assumptions.get("evidence.likely_below"),
            prior,
        }
    }

    fn effort(&self) -> Effort {
        Effort { draws: self.permutations as u64, ..Effort::default() }
    }
}

impl Default for Config {
    fn default() -> Self {
        Config::new(0.9, &Assumptions::default())
    }
}

/// The document `rates`.
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
    /// Along the planting date and declared grades.
    pub trends: Vec<RatesTrend>,
    pub contrasts: Known<Vec<Contrast>>,
    pub fit: Known<Fit>,
    pub take: Known<Vec<FactorRates>>,
    pub vigour: Known<serde_json::Value>,
    pub survival: Known<serde_json::Value>,
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
    /// sd^2 / (sd^2 + pi^2/3): the levels' share of the variance of a vine's latent logit.
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
    #[serde(serialize_with = "as_stand")]
    pub raw: Known<Estimate>,
    #[serde(serialize_with = "as_stand")]
    pub score: Known<Estimate>,
    /// In the light of the factor's other levels; not yet adjusted for the other factors.
    #[serde(serialize_with = "as_stand")]
    pub pooled: Known<Estimate>,
    /// How far it can be told apart from the factors not nested within this one: 0 not at all, 1 wholly.
    pub separable: Known<f64>,
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

#[derive(Clone, Debug, Serialize)]
pub struct Fit {
    pub intercept: f64,
    pub sd: BTreeMap<String, f64>,
    pub log_likelihood: f64,
}

impl Documented for Rates {
    const SCHEMA: &'static str = "rates";
    fn sources(&self) -> Vec<SourceKey> {
        self.sources.clone()
    }
}

/// Works that the rates stand on.
const SOURCES: &[SourceKey] = &[
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
    "skellam-1948",
    "gelman-2013",
    "john-williams-1995",
];

/// Rates of a tally. `set_aside` lines are echoed from the intake.
///
/// Per level the raw rate with its exact and score intervals; per factor the tests of [`FactorTests`] and the rates pooled over its levels (beta-binomial, integrated over mean and spread).
/// Pooled rates are not adjusted for the other factors: `separable` says how far that matters.
pub fn rates(tally: &Tally, set_aside: u64, config: &Config, seed: Seed) -> Rates {
    let later = |reason: &str| Why::new(reason, common::LATER_HELP);
    let apart: Vec<_> = (0..tally.factors.len()).map(|index| separable::separable(tally, index)).collect();
    let by = |outcome| by_factor(tally, &apart, outcome, config, seed);
    let all = Outcome::Stand.kept(&tally.total);
    Rates {
        vines: tally.total.planted,
        seen: tally.total.seen,
        failed: tally.total.failed,
        missing: tally.total.missing,
        unsure: tally.total.unsure,
        set_aside,
        stand: raw(all, clopper_pearson(all.x, all.n, config.level), "clopper_pearson"),
        factors: by(Outcome::Stand),
        trends: trend::trends(tally, config, seed),
        contrasts: Known::Absent(later(words::CONTRASTS_LATER)),
        fit: Known::Absent(later(words::FIT_LATER)),
        take: match take_untold(tally) {
            Some(why) => Known::Absent(why),
            None => Known::Value(by(Outcome::Take)),
        },
        vigour: Known::Absent(later(words::VIGOUR_LATER)),
        survival: Known::Absent(later(words::SURVIVAL_LATER)),
        sources: SOURCES.to_vec(),
    }
}

/// The tests of one factor of the stand, without the rates beside them: so that their size can be measured on many
/// blocks. None without a factor of this name.
pub fn factor_tests(tally: &Tally, factor: &str, config: &Config, seed: Seed) -> Option<FactorTests> {
    let index = tally.factors.iter().position(|f| f.name == factor)?;
    let asked = Question { tally, index, outcome: Outcome::Stand };
    let levels = levels::levels(tally, index);
    let alone =
        Why::new(fill(words::NO_OTHER, &[("factor", &factor)]), fill(words::NO_OTHER_HELP, &[("factor", &factor)]));
    Some(FactorTests::new(&asked, &levels, &alone, config, seed))
}

/// One level of a factor of the stand against its others by row; None where no row tells. `level` in (0, 1).
pub fn level_by_row(tally: &Tally, factor: &str, code: Code, level: f64) -> Option<LevelByRow> {
    let index = tally.factors.iter().position(|f| f.name == factor)?;
    Rows::of(&Question { tally, index, outcome: Outcome::Stand })?.of_level(code, level)
}

/// Why the take isn't known: some failed vines may have grown or not.
fn take_untold(tally: &Tally) -> Option<Why> {
    let total = &tally.total;
    let untold = total.failed.saturating_sub(total.never_grew.saturating_add(total.died));
    let reason = fill(words::KIND_NOT_TOLD, &[("failed", &total.failed), ("untold", &untold)]);
    (untold > 0).then(|| Why::new(reason, words::KIND_NOT_TOLD_HELP))
}

/// `apart`: how far the levels can be told apart, by factor and code.
fn by_factor(
    tally: &Tally,
    apart: &[BTreeMap<Code, f64>],
    outcome: Outcome,
    config: &Config,
    seed: Seed,
) -> Vec<FactorRates> {
    let of = |(index, apart)| {
        Analysis::of(tally, index, apart, outcome, config).rates(&Question { tally, index, outcome }, config, seed)
    };
    apart.par_iter().enumerate().map(of).collect()
}

/// One factor, worked out; its results are read off.
struct Analysis<'a> {
    factor: &'a str,
    outcome: Outcome,
    level: f64,
    seen: u64,
    levels: Vec<Level>,
    shrunk: Option<Shrunk>,
    separable: &'a BTreeMap<Code, f64>,
}

impl<'a> Analysis<'a> {
    fn of(
        tally: &'a Tally,
        index: usize,
        separable: &'a BTreeMap<Code, f64>,
        outcome: Outcome,
        config: &Config,
    ) -> Self {
        let levels = levels::levels(tally, index);
        Analysis {
            factor: tally.factors.get(index).map_or("", |f| f.name.as_str()),
            outcome,
            level: config.level,
            seen: tally.total.seen,
            shrunk: Shrunk::new(&levels, outcome, &config.prior, config.level),
            separable,
            levels,
        }
    }

    fn rates(&self, asked: &Question, config: &Config, seed: Seed) -> FactorRates {
        let (shrunk, alone, rows) = (self.shrunk.as_ref(), self.alone(), Rows::of(asked));
        FactorRates {
            factor: self.factor.to_string(),
            levels: (0..self.levels.len()).filter_map(|i| self.level_rates(i, rows.as_ref())).collect(),
            tests: FactorTests::new(asked, &self.levels, &alone, config, seed),
            sd: or_absent(shrunk.map(|s| s.sd), &alone),
            share_of_variance: or_absent(shrunk.map(Shrunk::share_of_variance), &alone),
        }
    }

    fn level_rates(&self, i: usize, rows: Option<&Rows>) -> Option<LevelRates> {
        let level = self.levels.get(i)?;
        let why = self.silence(level).unwrap_or_else(|| self.alone());
        let kept = self.outcome.kept(&level.counts);
        let shrunk = self.shrunk.as_ref();
        Some(LevelRates {
            level: level.label.clone(),
            seen: level.counts.seen,
            failed: level.counts.failed,
            missing: level.counts.missing,
            never_grew: level.counts.never_grew,
            raw: raw(kept, clopper_pearson(kept.x, kept.n, self.level), "clopper_pearson"),
            score: raw(kept, wilson(kept.x, kept.n, self.level), "wilson"),
            pooled: or_absent(shrunk.and_then(|s| s.pooled.get(i)?.clone()), &why),
            separable: or_absent(self.separable_of(level), &why),
            probability_best: or_absent(shrunk.and_then(|s| *s.probability_best.get(i)?), &why),
            by_row: self.by_row(level, rows, &why),
        })
    }

    fn by_row(&self, level: &Level, rows: Option<&Rows>, why: &Why) -> Known<LevelByRow> {
        if !level.is_compared() {
            return Known::Absent(why.clone());
        }
        or_absent(rows.and_then(|rows| rows.of_level(level.code, self.level)), &by_row::no_row(self.factor))
    }

    /// None where the level isn't compared, or holds every vine seen.
    fn separable_of(&self, level: &Level) -> Option<f64> {
        let varies = level.is_compared() && level.counts.seen < self.seen;
        self.separable.get(&level.code).copied().filter(|_| varies)
    }

    /// Why nothing is said of a level beyond its raw rate.
    fn silence(&self, level: &Level) -> Option<Why> {
        let factor: (&str, &dyn std::fmt::Display) = ("factor", &self.factor);
        match level.kind {
            Kind::Unlabelled => Some(Why::new(fill(words::UNLABELLED, &[factor]), words::UNLABELLED_HELP)),
            Kind::NotOne => {
                Some(Why::new(fill(words::NOT_ONE, &[factor, ("level", &level.label)]), words::NOT_ONE_HELP))
            }
            Kind::Definite if level.counts.seen == 0 => Some(not_seen()),
            Kind::Definite => None,
        }
    }

    fn alone(&self) -> Why {
        let filled = |sentence| fill(sentence, &[("factor", &self.factor)]);
        Why::new(filled(words::NO_OTHER), filled(words::NO_OTHER_HELP))
    }
}

/// The share kept with an interval; absent where none was seen.
fn raw(kept: Count, interval: Interval, method: &'static str) -> Known<Estimate> {
    let value = (kept.n > 0).then(|| kept.x as f64 / kept.n as f64);
    let estimate = value.map(|value| Estimate { value, low: interval.low, high: interval.high, method });
    or_absent(estimate, &not_seen())
}

fn not_seen() -> Why {
    Why::new(words::NOT_SEEN, words::NOT_SEEN_HELP)
}

fn or_absent<T>(value: Option<T>, why: &Why) -> Known<T> {
    value.map_or_else(|| Known::Absent(why.clone()), Known::Value)
}
