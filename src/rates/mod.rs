//! Stand, take and vigour by factor: raw rates with exact intervals, heterogeneity, pooled rates, and what a new
//! batch may do.

mod draws;
mod fit;
mod levels;
mod model;
mod new_batch;
mod pairs;
mod pooled;
mod power;
mod separable;
mod spread;
mod stand;
mod stocks;

pub use draws::{Draws, TermDraws, stand_draws};
pub use new_batch::{NewBatch, new_batch};
pub use power::{Enough, PowerAnswer, PowerConfig, PowerDesign, power_answer};
pub use spread::Spread;
pub use stand::Stand;
pub use stocks::{Beside, Compared, Comparison, CouldHaveShown, Difference, Pair, Parts, compare};

use crate::base::known::Why;
use crate::base::known::as_stand;
use crate::base::words::{base as common, fill, rates as words};
use crate::base::{Assumptions, Documented, Estimate, Known, Seed, SourceKey};
use crate::block::Code;
use crate::stats::betabinomial::Count;
use crate::stats::contingency::{ExactTest, freeman_halton};
use crate::stats::mixed::Prior;
use crate::stats::proportion::{Interval, clopper_pearson, wilson};
use crate::tally::Tally;
use levels::{Kind, Level, Outcome};
use model::Model;
use pooled::Pooled;
use serde::Serialize;
use std::collections::BTreeMap;

/// Settings of [`rates()`].
#[derive(Clone, Debug)]
pub struct Config {
    /// Level of the intervals, in (0, 1).
    pub level: f64,
    /// Tables simulated where the exact test is too large.
    pub simulations: usize,
    /// What is held plausible before counting.
    pub prior: Prior,
    /// Draws of the posterior; fewer are made of very many cells.
    pub draws: usize,
    /// Factors that are fixed effects in `fit`, by name.
    pub fixed: Vec<String>,
    /// What is asked of a comparison's reach.
    pub power: PowerConfig,
}

impl Config {
    /// The prior from the assumptions `pooling.mean_stand` and `explanation.effect_sd_once_in_ten`; draws as many as
    /// `pooling.draws` and tables as many as `evidence.simulated_tables` say.
    pub fn new(level: f64, assumptions: &Assumptions) -> Self {
        Config {
            level,
            simulations: assumptions.get("evidence.simulated_tables") as usize,
            prior: draws::prior(assumptions),
            draws: assumptions.get("pooling.draws") as usize,
            fixed: Vec::new(),
            power: PowerConfig::new(None, assumptions),
        }
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
    /// That the levels differ no more than vines do by chance: Freeman & Halton's exact test.
    pub p_value: Known<f64>,
    pub p_method: Known<&'static str>,
    /// Standard error of `p_value`; 0 where every table was counted.
    pub p_monte_carlo_error: Known<f64>,
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
    /// Probability that its rate is the highest of the factor's compared levels.
    pub probability_best: Known<f64>,
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
const SOURCES: &[SourceKey] = &[
    "clopper-pearson-1934",
    "wilson-1927",
    "freeman-halton-1951",
    "phipson-smyth-2010",
    "bates-2015",
    "simpson-2017",
    "rue-2009",
    "ionides-2008",
    "lane-nelder-1982",
    "john-williams-1995",
    "hayes-bennett-1999",
    "donner-klar-2000",
    "gart-zweifel-1967",
    "zeger-1988",
    "ohagan-2005",
    "fleiss-1981",
];

/// Rates of a tally. `set_aside` lines are echoed from the intake.
///
/// Per level the raw rate with its exact and score intervals; per factor a test that the levels differ no more than
/// chance; and, from one mixed model of all factors, rates adjusted for everything planted beside them.
pub fn rates(tally: &Tally, set_aside: u64, config: &Config, seed: Seed) -> Rates {
    let later = |reason: &str| Why::new(reason, common::LATER_HELP);
    let apart: Vec<_> = (0..tally.factors.len()).map(|index| separable::separable(tally, index)).collect();
    let model = Model::of(tally);
    let work = Work { tally, apart: &apart, model: &model, config, seed };
    let ((factors, draws), (take, fit)) =
        rayon::join(|| work.by_factor(Outcome::Stand), || (work.take(), fit::fit(tally, &model, &config.fixed)));
    let all = Outcome::Stand.kept(&tally.total);
    let reach = work.reach(&factors, &take, draws.as_ref());
    Rates {
        vines: tally.total.planted,
        seen: tally.total.seen,
        failed: tally.total.failed,
        missing: tally.total.missing,
        unsure: tally.total.unsure,
        set_aside,
        stand: raw(all, clopper_pearson(all.x, all.n, config.level), "clopper_pearson"),
        contrasts: Known::Absent(later(words::CONTRASTS_LATER)),
        fit,
        rootstock: reach.rootstock,
        clone: reach.clone,
        power: reach.power,
        factors,
        take,
        vigour: Known::Absent(later(words::VIGOUR_LATER)),
        survival: Known::Absent(later(words::SURVIVAL_LATER)),
        draws,
        sources: SOURCES.to_vec(),
    }
}

/// What stands on the factors' rates: stocks and clones compared, and what a comparison could show.
struct Reach {
    rootstock: Known<Comparison>,
    clone: Known<Comparison>,
    power: Known<PowerAnswer>,
}

/// What every factor's analysis starts from.
struct Work<'a> {
    tally: &'a Tally,
    /// How far the levels can be told apart, by factor and code.
    apart: &'a [BTreeMap<Code, f64>],
    model: &'a Model,
    config: &'a Config,
    seed: Seed,
}

impl Work<'_> {
    fn reach(&self, stand: &[FactorRates], take: &[FactorRates], draws: Option<&Draws>) -> Reach {
        let Work { tally, model, config, .. } = *self;
        let spread = &Spread { batch: self.sds(draws, "batch"), row: self.sds(draws, "row") };
        let parts = Parts { tally, stand, take, spread, level: config.level };
        let beside = |factor: &str| {
            let pairs = pairs::of_factor(tally, model, draws, factor, config.level);
            Beside { adjusted_for: self.others(factor, false), same_as: self.others(factor, true), pairs }
        };
        let design = stocks::best_pair("rootstock", tally, spread, &config.power).map(|pair| pair.design());
        Reach {
            rootstock: compare("rootstock", &parts, beside("rootstock"), &config.power),
            clone: compare("clone", &parts, beside("clone"), &config.power),
            power: power_answer(tally, spread, &design, &config.power),
        }
    }

    /// The term that a factor is, alone or with others that split the vines alike.
    fn term(&self, factor: &str) -> Option<usize> {
        self.model.term(self.tally.factors.iter().position(|f| f.name == factor)?)
    }

    /// Draws of the standard deviation of a factor's levels.
    fn sds(&self, draws: Option<&Draws>, factor: &str) -> Known<Vec<f64>> {
        let sds = draws.zip(self.term(factor)).and_then(|(draws, term)| Some(draws.terms.get(term)?.sd.clone()));
        Known::from_option(sds, words::POWER_NO_BATCHES, words::STOCKS_BATCHES_UNKNOWN_HELP)
    }

    /// The model's other factors: those that share the factor's term, or those that don't.
    fn others(&self, factor: &str, sharing: bool) -> Vec<String> {
        let own = self.term(factor);
        let named = self.tally.factors.iter().map(|f| f.name.as_str()).filter(|name| *name != factor);
        let of = named.filter(|name| self.term(name).is_some_and(|term| (Some(term) == own) == sharing));
        of.map(str::to_string).collect()
    }

    fn by_factor(&self, outcome: Outcome) -> (Vec<FactorRates>, Option<Draws>) {
        let Work { tally, model, config, seed, .. } = *self;
        let draws = draws::draws(tally, model, outcome, &config.prior, config.draws, seed);
        let of = |(index, apart)| {
            Analysis::of(tally, index, apart, outcome, (model, draws.as_ref()), config).rates(config, seed)
        };
        (self.apart.iter().enumerate().map(of).collect(), draws)
    }

    /// The take; where some failures are of a kind not told, between the rates of both extremes.
    fn take(&self) -> Vec<FactorRates> {
        let total = &self.tally.total;
        let untold = total.failed.saturating_sub(total.never_grew.saturating_add(total.died));
        let (told, _) = self.by_factor(Outcome::Take);
        if untold == 0 {
            return told;
        }
        let reason = fill(words::KIND_NOT_TOLD, &[("failed", &total.failed), ("untold", &untold)]);
        let why = Why::new(reason, words::KIND_NOT_TOLD_HELP);
        let (least, _) = self.by_factor(Outcome::TakeAtLeast);
        told.into_iter().zip(least).map(|(most, least)| most.between(&least, &why)).collect()
    }
}

impl FactorRates {
    /// What holds of both extremes: bounds of the rates, and nothing where they need a point.
    fn between(self, other: &FactorRates, why: &Why) -> Self {
        let bounded = |(a, b): (LevelRates, &LevelRates)| LevelRates {
            raw: a.raw.between(&b.raw, why),
            score: a.score.between(&b.score, why),
            pooled: a.pooled.between(&b.pooled, why),
            probability_best: Known::Absent(why.clone()),
            ..a
        };
        FactorRates {
            levels: self.levels.into_iter().zip(&other.levels).map(bounded).collect(),
            p_value: Known::Absent(why.clone()),
            p_method: Known::Absent(why.clone()),
            p_monte_carlo_error: Known::Absent(why.clone()),
            sd: Known::Absent(why.clone()),
            share_of_variance: Known::Absent(why.clone()),
            ..self
        }
    }
}

/// One factor, worked out; its results are read off.
struct Analysis<'a> {
    factor: &'a str,
    outcome: Outcome,
    level: f64,
    seen: u64,
    levels: Vec<Level>,
    pooled: Option<Pooled>,
    separable: &'a BTreeMap<Code, f64>,
}

impl<'a> Analysis<'a> {
    fn of(
        tally: &'a Tally,
        index: usize,
        separable: &'a BTreeMap<Code, f64>,
        outcome: Outcome,
        (model, draws): (&Model, Option<&Draws>),
        config: &Config,
    ) -> Self {
        let levels = levels::levels(tally, index);
        Analysis {
            factor: tally.factors.get(index).map_or("", |f| f.name.as_str()),
            outcome,
            level: config.level,
            seen: tally.total.seen,
            pooled: draws.and_then(|d| Pooled::new(d, model, index, &levels, config.level)),
            separable,
            levels,
        }
    }

    fn rates(&self, config: &Config, seed: Seed) -> FactorRates {
        let (test, pooled, alone) = (self.heterogeneity(config, seed), self.pooled.as_ref(), self.alone());
        FactorRates {
            factor: self.factor.to_string(),
            levels: (0..self.levels.len()).filter_map(|i| self.level_rates(i)).collect(),
            p_value: or_absent(test.map(|t| t.p_value), &alone),
            p_method: or_absent(test.map(|t| t.method), &alone),
            p_monte_carlo_error: or_absent(test.map(|t| t.monte_carlo_error), &alone),
            sd: or_absent(pooled.map(|p| p.sd), &alone),
            share_of_variance: or_absent(pooled.map(|p| p.share), &alone),
        }
    }

    /// Freeman & Halton's test on lost and kept of the compared levels; none where fewer than two are.
    fn heterogeneity(&self, config: &Config, seed: Seed) -> Option<ExactTest> {
        let compared = self.levels.iter().filter(|l| l.is_compared()).map(|l| self.outcome.kept(&l.counts));
        let table: Vec<Vec<u64>> = compared.map(|c| vec![c.n - c.x, c.x]).collect();
        (table.len() >= 2).then(|| freeman_halton(&table, config.simulations, seed))
    }

    fn level_rates(&self, i: usize) -> Option<LevelRates> {
        let level = self.levels.get(i)?;
        let why = self.silence(level).unwrap_or_else(|| self.alone());
        let kept = self.outcome.kept(&level.counts);
        let stand = |interval, method| Stand::from(raw(kept, interval, method));
        Some(LevelRates {
            level: level.label.clone(),
            seen: level.counts.seen,
            failed: level.counts.failed,
            missing: level.counts.missing,
            never_grew: level.counts.never_grew,
            raw: stand(clopper_pearson(kept.x, kept.n, self.level), "clopper_pearson"),
            score: stand(wilson(kept.x, kept.n, self.level), "wilson"),
            pooled: self.pooled_of(i, &why),
            separable: or_absent(self.separable_of(level), &why),
            probability_best: or_absent(self.pooled.as_ref().and_then(|p| *p.best.get(i)?), &why),
        })
    }

    fn pooled_of(&self, i: usize, why: &Why) -> Stand {
        Stand::new(self.pooled.as_ref().and_then(|p| p.stand.get(i)?.clone()), why)
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
