//! What a block shows of each feature that a cause may leave: shown, not there, or not looked at.

use super::{Config, Found};
use crate::base::Seed;
use crate::base::words::number::{count, p_value, percent, plain};
use crate::base::words::{fill, list::list, signature as words};
use crate::block::{Look, Union};
use crate::runs::{Held, Loss, Runs};
use crate::stats::hypergeometric::Hypergeometric;
use crate::stats::permute::Effort;
use crate::tally::{Field, Point, Tally};
use serde::Serialize;
use std::collections::HashMap;

/// Something that can be observed and that causes differ in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Feature {
    FollowsBatch,
    /// A factor that the grower declared: crew, machine, valve ...
    FollowsDeclared,
    FollowsPlantingDay,
    AlongOneRow,
    InPatches,
    LowGround,
    AtEdge,
    NeverGrew,
    UnionOpens,
    UnionHeightOff,
    RootstockAlive,
    BudsSwelled,
    Unguarded,
    VinesMissing,
    LivingAreWeak,
    WinterBetween,
}

impl Feature {
    pub(super) const ALL: [Feature; 16] = [
        Feature::FollowsBatch,
        Feature::FollowsDeclared,
        Feature::FollowsPlantingDay,
        Feature::AlongOneRow,
        Feature::InPatches,
        Feature::LowGround,
        Feature::AtEdge,
        Feature::NeverGrew,
        Feature::UnionOpens,
        Feature::UnionHeightOff,
        Feature::RootstockAlive,
        Feature::BudsSwelled,
        Feature::Unguarded,
        Feature::VinesMissing,
        Feature::LivingAreWeak,
        Feature::WinterBetween,
    ];
}

impl Feature {
    /// Whether it is about where or among which vines failures are, rather than what they look like.
    pub(super) fn is_pattern(self) -> bool {
        use Feature::*;
        matches!(self, FollowsBatch | FollowsDeclared | FollowsPlantingDay | AlongOneRow | InPatches | AtEdge)
    }
}

/// What the block shows of a feature, in a sentence with its numbers.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Answer {
    Shown(String),
    NotThere(String),
    /// Some of both: speaks neither for nor against anything.
    Between,
    /// What would have to be looked at.
    NotLooked(String),
}

use Answer::{Between, NotLooked, NotThere, Shown};

/// Every feature's answer.
pub(super) fn answers(
    tally: &Tally,
    found: &Found,
    config: &Config,
    effort: &Effort,
    seed: Seed,
) -> HashMap<Feature, Answer> {
    let evidence = Evidence { tally, found, config, looks: Looks::of(tally), effort, seed };
    Feature::ALL.into_iter().map(|feature| (feature, evidence.answer(feature))).collect()
}

struct Evidence<'a> {
    tally: &'a Tally,
    found: &'a Found,
    config: &'a Config,
    looks: Looks,
    effort: &'a Effort,
    seed: Seed,
}

impl Evidence<'_> {
    fn answer(&self, feature: Feature) -> Answer {
        match feature {
            Feature::FollowsBatch => self.follows_batch(),
            Feature::FollowsDeclared => self.follows_declared(),
            Feature::FollowsPlantingDay => self.follows_day(),
            Feature::AlongOneRow => self.along_one_row(),
            Feature::InPatches => self.in_patches(),
            Feature::LowGround => NotLooked(words::NO_GROUND.into()),
            Feature::AtEdge => self.at_edge(),
            Feature::NeverGrew => self.never_grew(),
            Feature::UnionOpens => self.share(self.looks.union, words::UNION_OPENS, words::UNION_NOT_TESTED),
            Feature::UnionHeightOff => self.share(self.looks.height, words::HEIGHT_OFF, words::HEIGHT_NOT_MEASURED),
            Feature::RootstockAlive => self.rootstock_alive(),
            Feature::BudsSwelled => self.share(self.looks.swelled, words::BUDS_SWELLED, words::STAGE_NOT_RECORDED),
            Feature::Unguarded => self.unguarded(),
            Feature::VinesMissing => self.vines_missing(),
            Feature::LivingAreWeak => self.living_are_weak(),
            Feature::WinterBetween => self.winter_between(),
        }
    }

    /// By a p-value: shown below the cut point that says "probably".
    fn by_p(&self, p: Option<f64>, what: &str, not_tested: &str) -> Answer {
        let Some(p) = p else { return NotLooked(not_tested.into()) };
        let shown = p < self.config.likely_below;
        let sentence = if shown { words::DIFFERS } else { words::DIFFERS_NOT };
        let said = fill(sentence, &[("what", &what), ("p", &p_value(p))]);
        if shown { Shown(said) } else { NotThere(said) }
    }

    fn follows_batch(&self) -> Answer {
        self.by_p(self.found.p_of("batch"), words::BETWEEN_BATCHES, words::BATCHES_NOT_COMPARED)
    }

    /// The declared factor that differs most; its p-value times the number of them (Bonferroni).
    fn follows_declared(&self) -> Answer {
        let declared = || self.found.by_factor.iter().filter(|(name, _)| !words::NOT_DECLARED.contains(&name.as_str()));
        let n = declared().count() as f64;
        let Some((name, p)) = declared().min_by(|a, b| a.1.total_cmp(&b.1)) else {
            return NotLooked(words::NOTHING_DECLARED.into());
        };
        let what = fill(words::BETWEEN_LEVELS, &[("factor", name)]);
        self.by_p(Some((p * n).min(1.0)), &what, words::NOTHING_DECLARED)
    }

    fn follows_day(&self) -> Answer {
        let p = self.tally.field.as_ref().and_then(|field| self.day_p(field));
        self.by_p(p, words::BETWEEN_DAYS, words::ONE_DAY)
    }

    /// Planting days dealt anew over the planted runs.
    fn day_p(&self, field: &Field) -> Option<f64> {
        let mut days: Vec<_> = field.points.iter().filter_map(|p| p.planted_on).collect();
        days.sort_unstable();
        days.dedup();
        let label = |p: &Point| days.binary_search(&p.planted_on?).ok().map(|at| at as u32);
        let runs = Runs::labelled(field, label, Loss::Failed);
        let redealt =
            runs.are_several().then(|| runs.redeal(Held::Nothing, self.effort, "cause.signature.day", self.seed))?;
        let answers = redealt.statistic.silence().is_none() && !redealt.in_bands;
        answers.then_some(redealt.statistic.p_greater)
    }

    fn along_one_row(&self) -> Answer {
        if !self.found.odd_rows.is_empty() {
            let noun = if self.found.odd_rows.len() == 1 { words::THE_ROW } else { words::THE_ROWS };
            let rows = format!("{noun} {}", list(&self.found.odd_rows, 6));
            return Shown(fill(words::ODD_ROWS, &[("rows", &rows)]));
        }
        let (Some(along), Some(across)) = (self.found.along, self.found.across) else {
            return NotLooked(words::NO_PLACES.into());
        };
        let likely = |p: f64| p < self.config.likely_below;
        let said = |sentence| fill(sentence, &[("along", &p_value(along)), ("across", &p_value(across))]);
        match (likely(along), likely(across)) {
            (true, false) => Shown(said(words::ALONG_ONLY)),
            (true, true) => NotThere(said(words::ALONG_AND_ACROSS)),
            (false, _) => NotThere(said(words::NOT_ALONG)),
        }
    }

    fn in_patches(&self) -> Answer {
        let (Some(any), Some(across)) = (self.found.clustered, self.found.across) else {
            return NotLooked(words::NO_PLACES.into());
        };
        let likely = |p: f64| p < self.config.likely_below;
        let said = |sentence| fill(sentence, &[("p", &p_value(any)), ("across", &p_value(across))]);
        match (likely(any), likely(across)) {
            (true, true) => Shown(said(words::PATCHES)),
            (false, false) => NotThere(said(words::SCATTERED)),
            _ => Between,
        }
    }

    /// The share failed on the block's edge and inside, edge labels dealt over planted runs.
    fn at_edge(&self) -> Answer {
        let Some(field) = &self.tally.field else { return NotLooked(words::NO_PLACES.into()) };
        let edge = field.edge();
        let label = |p: &Point| Some(u32::from(edge.holds(p.place)));
        let mut counts = [(0u64, 0u64); 2];
        for p in field.points.iter().filter(|p| !p.missing) {
            let of = &mut counts[usize::from(edge.holds(p.place))];
            *of = (of.0 + u64::from(p.failed), of.1 + 1);
        }
        let [(inside, n), (outside, m)] = counts;
        let runs = Runs::labelled(field, label, Loss::Failed);
        if n == 0 || m == 0 || !runs.are_several() {
            return NotLooked(words::NO_EDGE.into());
        }
        let p = runs.redeal(Held::Nothing, self.effort, "cause.signature.edge", self.seed).statistic.p_greater;
        let (at_edge, within) = (outside as f64 / m as f64, inside as f64 / n as f64);
        let values: [(&str, &dyn std::fmt::Display); 3] =
            [("edge", &percent(at_edge)), ("inside", &percent(within)), ("p", &p_value(p))];
        match p < self.config.likely_below && at_edge > within {
            true => Shown(fill(words::MORE_AT_EDGE, &values)),
            false => NotThere(fill(words::NOT_MORE_AT_EDGE, &values)),
        }
    }

    fn never_grew(&self) -> Answer {
        let (never, died) = (self.tally.total.never_grew, self.tally.total.died);
        let values: [(&str, &dyn std::fmt::Display); 2] = [("never", &count(never)), ("died", &count(died))];
        match never as f64 / (never + died) as f64 {
            share if share >= 1.0 - self.config.many => Shown(fill(words::MOST_NEVER_GREW, &values)),
            share if share <= self.config.many => NotThere(fill(words::MOST_DIED_LATER, &values)),
            share if share.is_nan() => NotLooked(words::KIND_NOT_TOLD.into()),
            _ => Between,
        }
    }

    /// A share of the vines looked at: many of them, or not.
    fn share(&self, (yes, looked): (u64, u64), sentence: &str, not_looked: &str) -> Answer {
        if looked == 0 {
            return NotLooked(not_looked.into());
        }
        let said = fill(sentence, &[("n", &count(yes)), ("of", &count(looked))]);
        if yes as f64 >= self.config.many * looked as f64 { Shown(said) } else { NotThere(said) }
    }

    fn rootstock_alive(&self) -> Answer {
        let (n, failed) =
            (self.tally.total.scion_dead, self.tally.total.failed.saturating_sub(self.tally.total.missing));
        match n {
            0 => NotLooked(words::ROOTSTOCK_NOT_SEEN.into()),
            n if n as f64 >= self.config.many * failed as f64 => {
                Shown(fill(words::ROOTSTOCK_ALIVE, &[("n", &count(n)), ("of", &count(failed))]))
            }
            _ => Between,
        }
    }

    /// Failures with and without a guard; upper tail of the hypergeometric distribution (Fisher 1935, `fisher-1935`).
    fn unguarded(&self) -> Answer {
        let [(without, n), (with, m)] = self.looks.guard;
        if n == 0 || m == 0 {
            return NotLooked(words::GUARD_NOT_RECORDED.into());
        }
        let p = Hypergeometric::new(n + m, without + with, n).at_least(without);
        let values: [(&str, &dyn std::fmt::Display); 5] =
            [("a", &count(without)), ("n", &count(n)), ("b", &count(with)), ("m", &count(m)), ("p", &p_value(p))];
        let shown = p < self.config.likely_below;
        if shown {
            Shown(fill(words::MORE_UNGUARDED, &values))
        } else {
            NotThere(fill(words::UNGUARDED_ALIKE, &values))
        }
    }

    fn vines_missing(&self) -> Answer {
        let (missing, failed) = (self.tally.total.missing, self.tally.total.failed);
        let said = |sentence| fill(sentence, &[("n", &count(missing)), ("of", &count(failed))]);
        match missing {
            0 => NotThere(words::NONE_MISSING.into()),
            n if n as f64 >= self.config.many * failed as f64 => Shown(said(words::MANY_MISSING)),
            _ => Between,
        }
    }

    fn living_are_weak(&self) -> Answer {
        let total = &self.tally.total;
        self.share((total.weak, total.weak + total.good), words::LIVING_WEAK, words::VIGOUR_NOT_RECORDED)
    }

    /// Whether vines went through a winter: by the days from the first planting to the walk.
    fn winter_between(&self) -> Answer {
        let planted = self.tally.field.iter().flat_map(|f| &f.points).filter_map(|p| p.planted_on).min();
        let Some((planted, (_, walk))) = planted.zip(self.tally.walk) else {
            return NotLooked(words::NO_DATES.into());
        };
        let days = f64::from((walk - planted).get_days());
        let said = |sentence| fill(sentence, &[("days", &plain(days))]);
        match days >= self.config.winter_days {
            true => Shown(said(words::WINTER_BETWEEN)),
            false => NotThere(said(words::NO_WINTER_BETWEEN)),
        }
    }
}

/// What was noted in the chosen walk of vines of the first planting: how many show it, of how many looked at for it.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Looks {
    /// Failed vines whose union moves or is open.
    union: (u64, u64),
    /// Failed vines whose union is buried, or stands higher than nurseries and advisers want it.
    height: (u64, u64),
    /// Failed vines whose buds had swelled.
    swelled: (u64, u64),
    /// Failed of those without a guard, and of those with one.
    guard: [(u64, u64); 2],
}

/// Union heights that guidelines hold proper end here (UK planting guideline, seen in part: at least 5, at most
/// 10 cm above the soil).
const HIGHEST_UNION_CM: f32 = 10.0;

/// Stage from which buds have begun to swell (BBCH, Lorenz et al. 1995, `lorenz-1995`: 00 winter buds, 01 beginning
/// of swelling).
const SWELLING_FROM: u8 = 1;

/// How growers write that there is no guard.
const NO_GUARD: [&str; 7] = ["no", "none", "off", "0", "without", "-", "n"];

impl Looks {
    fn of(tally: &Tally) -> Self {
        let Some(field) = &tally.field else { return Looks::default() };
        let looks: HashMap<u32, &Look> =
            field.places.iter().filter_map(|p| Some((p.vine?, p.look.as_ref()?))).collect();
        let mut sum = Looks::default();
        for point in &field.points {
            if let Some(look) = looks.get(&point.vine) {
                sum.add(point, look);
            }
        }
        sum
    }

    fn add(&mut self, point: &Point, look: &Look) {
        let guard = look.detail.as_ref().and_then(|d| d.guard.as_deref()).map(str::trim).filter(|g| !g.is_empty());
        if let Some(guard) = guard {
            let none = NO_GUARD.iter().any(|no| guard.eq_ignore_ascii_case(no));
            add(&mut self.guard[usize::from(!none)], Some(point.failed));
        }
        if point.failed && !point.missing {
            add(&mut self.union, look.union.map(|u| u != Union::Ok));
            add(&mut self.height, look.union_height_cm.map(|cm| cm <= 0.0 || cm > HIGHEST_UNION_CM));
            add(&mut self.swelled, look.stage_bbch.map(|stage| stage >= SWELLING_FROM));
        }
    }
}

fn add(sum: &mut (u64, u64), shows: Option<bool>) {
    if let Some(shows) = shows {
        *sum = (sum.0 + u64::from(shows), sum.1 + 1);
    }
}
