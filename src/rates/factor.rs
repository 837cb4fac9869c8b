//! The rates of one factor, worked out level by level.

use super::apart::LevelApart;
use super::by_row::{self, LevelByRow, Rows};
use super::document::{FactorRates, LevelRates};
use super::draws::{self, Draws};
use super::heterogeneity::{FactorTests, Question};
use super::levels::{self, Kind, Level, Outcome};
use super::model::Model;
use super::pooled::Pooled;
use super::{Config, Stand};
use crate::base::known::Why;
use crate::base::words::{fill, rates as words};
use crate::base::{Estimate, Known, Seed};
use crate::block::Code;
use crate::stats::betabinomial::Count;
use crate::stats::proportion::{Interval, clopper_pearson, wilson};
use crate::tally::Tally;
use rayon::prelude::*;
use std::collections::BTreeMap;

/// What every factor's analysis starts from.
pub(super) struct Work<'a> {
    pub(super) tally: &'a Tally,
    /// How far the levels can be told apart, by factor and code.
    pub(super) apart: &'a [BTreeMap<Code, LevelApart>],
    pub(super) model: &'a Model,
    pub(super) config: &'a Config,
    pub(super) seed: Seed,
}

impl Work<'_> {
    /// `untold`: why no test can be made, where only bounds are known.
    pub(super) fn by_factor(&self, outcome: Outcome, untold: Option<&Why>) -> (Vec<FactorRates>, Option<Draws>) {
        let Work { tally, model, config, seed, .. } = *self;
        // Where nothing is told to have never grown, the take's best end is 1 without a model.
        let certain = outcome == Outcome::Take && untold.is_some() && tally.total.never_grew == 0;
        let count = if outcome == Outcome::Stand { config.draws } else { config.draws.div_ceil(2) };
        let draws = || draws::draws(tally, model, outcome, &config.prior, count, seed);
        let draws = if certain { None } else { draws() };
        let of = |(index, apart)| {
            let asked = Question { tally, index, outcome };
            Analysis::of(tally, index, apart, outcome, (model, draws.as_ref()), config)
                .rates(&asked, untold, config, seed)
        };
        (self.apart.par_iter().enumerate().map(of).collect(), draws)
    }

    /// The take; where some failures are of a kind not told, between the rates of both extremes. `stand` is what it is
    /// at worst where nothing is known to have grown and died.
    pub(super) fn take(&self, stand: &[FactorRates]) -> Vec<FactorRates> {
        let total = &self.tally.total;
        let untold = total.failed.saturating_sub(total.never_grew.saturating_add(total.died));
        if untold == 0 {
            return self.by_factor(Outcome::Take, None).0;
        }
        let reason = fill(words::KIND_NOT_TOLD, &[("failed", &total.failed), ("untold", &untold)]);
        let why = Why::new(reason, words::KIND_NOT_TOLD_HELP);
        let of = |outcome| self.by_factor(outcome, Some(&why)).0;
        let least = || if total.died == 0 { stand.to_vec() } else { of(Outcome::TakeAtLeast) };
        let (told, least) = rayon::join(|| of(Outcome::Take), least);
        told.into_iter().zip(least).map(|(most, least)| most.between(&least, &why)).collect()
    }
}

impl FactorRates {
    /// What holds of both extremes: bounds of the rates, and nothing where they need a point.
    fn between(self, other: &FactorRates, why: &Why) -> Self {
        let told_none = self.levels.iter().all(|l| l.never_grew == 0);
        let bounded = |(a, b): (LevelRates, &LevelRates)| LevelRates {
            raw: a.raw.between(&b.raw, why),
            score: a.score.between(&b.score, why),
            pooled: if told_none { b.pooled.up_to_1(why) } else { a.pooled.between(&b.pooled, why) },
            probability_best: Known::Absent(why.clone()),
            by_row: Known::Absent(why.clone()),
            ..a
        };
        FactorRates {
            levels: self.levels.into_iter().zip(&other.levels).map(bounded).collect(),
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
    apart: &'a BTreeMap<Code, LevelApart>,
}

impl<'a> Analysis<'a> {
    fn of(
        tally: &'a Tally,
        index: usize,
        apart: &'a BTreeMap<Code, LevelApart>,
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
            apart,
            levels,
        }
    }

    fn rates(&self, asked: &Question, untold: Option<&Why>, config: &Config, seed: Seed) -> FactorRates {
        let (pooled, alone, rows) = (self.pooled.as_ref(), self.alone(), Rows::of(asked));
        let made = || FactorTests::new(asked, &self.levels, &alone, config, seed);
        FactorRates {
            factor: self.factor.to_string(),
            levels: (0..self.levels.len()).filter_map(|i| self.level_rates(i, rows.as_ref())).collect(),
            tests: untold.map_or_else(made, FactorTests::absent),
            sd: or_absent(pooled.map(|p| p.sd), &alone),
            share_of_variance: or_absent(pooled.map(|p| p.share), &alone),
        }
    }

    fn level_rates(&self, i: usize, rows: Option<&Rows>) -> Option<LevelRates> {
        let level = self.levels.get(i)?;
        let why = self.silence(level).unwrap_or_else(|| self.alone());
        let kept = self.outcome.kept(&level.counts);
        let stand = |interval, method| Stand::from(raw(kept, interval, method));
        let raw = stand(clopper_pearson(kept.x, kept.n, self.level), "clopper_pearson");
        Some(LevelRates {
            level: level.label.clone(),
            seen: level.counts.seen,
            failed: level.counts.failed,
            missing: level.counts.missing,
            never_grew: level.counts.never_grew,
            raw: raw.clone(),
            score: stand(wilson(kept.x, kept.n, self.level), "wilson"),
            pooled: self.pooled_of(i, level, &raw, &why),
            separable: or_absent(self.apart_of(level).map(|a| a.separable), &why),
            confounded_with: self.apart_of(level).map(|a| a.confounded_with.clone()).unwrap_or_default(),
            probability_best: or_absent(self.pooled.as_ref().and_then(|p| *p.best.get(i)?), &why),
            by_row: self.by_row(level, rows, &why),
        })
    }

    fn by_row(&self, level: &Level, rows: Option<&Rows>, why: &Why) -> Known<LevelByRow> {
        if !level.is_compared() {
            return Known::Absent(why.clone());
        }
        or_absent(rows.and_then(|rows| rows.of_level(level.code, self.level)), &by_row::no_row(self.factor))
    }

    /// Where the level can't be told apart from other factors its own part can be anything from none of the difference
    /// to all of it: bounds that hold the raw interval and the posterior's.
    fn pooled_of(&self, i: usize, level: &Level, raw: &Stand, why: &Why) -> Stand {
        let pooled = Stand::new(self.pooled.as_ref().and_then(|p| p.stand.get(i)?.clone()), why);
        match self.apart_of(level).filter(|apart| !apart.is_told()).and_then(|a| a.confounded_with.first()) {
            Some(tie) => pooled.between(raw, &Why::new(tie.sentence.clone(), tie.would_help.clone())),
            None => pooled,
        }
    }

    /// None where the level isn't compared, or holds every vine seen.
    fn apart_of(&self, level: &Level) -> Option<&LevelApart> {
        let varies = level.is_compared() && level.counts.seen < self.seen;
        self.apart.get(&level.code).filter(|_| varies)
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
pub(super) fn raw(kept: Count, interval: Interval, method: &'static str) -> Known<Estimate> {
    let value = (kept.n > 0).then(|| kept.x as f64 / kept.n as f64);
    let estimate = value.map(|value| Estimate { value, low: interval.low, high: interval.high, method });
    or_absent(estimate, &not_seen())
}

fn not_seen() -> Why {
    Why::new(words::NOT_SEEN, words::NOT_SEEN_HELP)
}

pub(super) fn or_absent<T>(value: Option<T>, why: &Why) -> Known<T> {
    value.map_or_else(|| Known::Absent(why.clone()), Known::Value)
}
