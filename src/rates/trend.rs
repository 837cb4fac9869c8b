//! Whether failures rise or fall along the planting date, or along a declared grade.

use super::heterogeneity::{Question, plural, refused};
use super::levels::Outcome;
use super::{Config, or_absent};
use crate::base::known::Why;
use crate::base::words::rates as words;
use crate::base::{Known, Seed};
use crate::runs::{Held, Loss, Runs};
use crate::stats::trend::{Scored, Trend, cochran_armitage};
use crate::tally::{Field, Tally};
use jiff::civil::Date;
use serde::Serialize;
use std::collections::BTreeMap;

/// The trend of the share failed along a score: Cochran & Armitage. Vines missing without a trace are left out.
#[derive(Clone, Debug, Serialize)]
pub struct RatesTrend {
    /// `planting date` or `grade`.
    pub name: &'static str,
    /// `planted_on`, or the declared factor whose levels are all numbers.
    pub factor: String,
    /// Share failed gained with each day, or each unit of the grade.
    pub slope: Known<f64>,
    /// About standard normal if vines were strangers; positive where failures rise.
    pub z: Known<f64>,
    /// Of z, counting vines by themselves.
    pub p_value: Known<f64>,
    /// z^2 of planted runs whose scores are dealt anew.
    pub p_permuted: Known<f64>,
    pub p_permuted_error: Known<f64>,
    /// What was dealt anew for `p_permuted`.
    pub p_unit: String,
    /// By rising score.
    pub groups: Vec<ScoredLevel>,
}

#[derive(Clone, Debug, Serialize)]
pub struct ScoredLevel {
    pub level: String,
    /// Days since the first planting, or the grade.
    pub score: f64,
    pub seen: u64,
    pub failed: u64,
}

/// Planting date, where vines of the first planting carry two or more, then grades in the order of the factors.
pub fn trends(tally: &Tally, config: &Config, seed: Seed) -> Vec<RatesTrend> {
    let date = tally.field.as_ref().and_then(|field| of_dates(field, config, seed));
    let grades = (0..tally.factors.len()).filter_map(|index| of_grade(tally, index, config, seed));
    date.into_iter().chain(grades).collect()
}

fn of_dates(field: &Field, config: &Config, seed: Seed) -> Option<RatesTrend> {
    let mut dates: Vec<Date> = field.points.iter().filter_map(|p| p.planted_on).collect();
    dates.sort_unstable();
    dates.dedup();
    let first = *dates.first()?;
    let days = |date: &Date| f64::from((*date - first).get_days());
    let levels = dates.iter().map(|date| (date.to_string(), days(date))).collect();
    let label = |date: Date| dates.binary_search(&date).ok().map(|at| at as u32);
    let runs = Runs::labelled(field, |p| label(p.planted_on?), Loss::Failed);
    let mut counts = vec![(0, 0); dates.len()];
    for point in field.points.iter().filter(|p| !p.missing) {
        let count = point.planted_on.and_then(label).and_then(|at| counts.get_mut(at as usize));
        count.into_iter().for_each(|c| *c = (c.0 + 1, c.1 + u64::from(point.failed)));
    }
    let scores = Scores { name: "planting date", factor: "planted_on".into(), levels, counts };
    (dates.len() > 1).then(|| scores.trend(&runs, &words::PLANTING_DATES, config, seed))
}

/// A declared factor whose levels that name one thing are all numbers.
fn of_grade(tally: &Tally, index: usize, config: &Config, seed: Seed) -> Option<RatesTrend> {
    let factor = tally.factors.get(index)?;
    if ["variety", "clone", "rootstock", "batch", "row"].contains(&factor.name.as_str()) {
        return None;
    }
    let number = |label: &String| label.trim().replace(',', ".").parse::<f64>().ok().filter(|n| n.is_finite());
    let definite = |code: usize| factor.definite.get(code) == Some(&true);
    let of = |(code, label): (usize, &String)| if definite(code) { number(label) } else { Some(0.0) };
    let scores: Option<Vec<f64>> = factor.levels.iter().enumerate().map(of).collect();
    let levels: Vec<(String, f64)> = factor.levels.iter().cloned().zip(scores?).collect();
    let asked = Question { tally, index, outcome: Outcome::Stand };
    let mut counts = vec![(0, 0); levels.len()];
    for cell in &tally.cells {
        let Some(count) = asked.code(cell).and_then(|code| counts.get_mut(code as usize)) else { continue };
        let (told, lost) = Loss::Failed.counted(&cell.counts);
        *count = (count.0 + told, count.1 + lost);
    }
    let runs = match &tally.field {
        Some(field) => Runs::of_factor(tally, field, index, Loss::Failed),
        None => Runs::of_cells(tally, index, Loss::Failed),
    };
    let occur = levels.iter().zip(&counts).filter(|(_, c)| c.0 > 0).map(|(l, _)| (l.1.to_bits(), ()));
    let several = occur.collect::<BTreeMap<_, _>>().len() > 1;
    let scores = Scores { name: "grade", factor: factor.name.clone(), levels, counts };
    several.then(|| scores.trend(&runs, &plural(&factor.name), config, seed))
}

/// Levels with their scores, and vines seen and failed of each, by code.
struct Scores {
    name: &'static str,
    factor: String,
    levels: Vec<(String, f64)>,
    counts: Vec<(u64, u64)>,
}

impl Scores {
    fn trend(self, runs: &Runs, plural: &dyn std::fmt::Display, config: &Config, seed: Seed) -> RatesTrend {
        let groups = self.groups();
        let scored = |g: &ScoredLevel| Scored { score: g.score, failed: g.failed, seen: g.seen };
        let trend = cochran_armitage(&groups.iter().map(scored).collect::<Vec<_>>());
        let permuted = self.permuted(runs, plural, config, seed);
        let flat = Why::new(words::NO_TREND, words::NO_TREND_HELP);
        let of = |value: fn(&Trend) -> f64| or_absent(trend.as_ref().map(value), &flat);
        RatesTrend {
            slope: of(|t| t.slope),
            z: of(|t| t.z),
            p_value: of(|t| t.p_value),
            p_permuted: permuted.clone().map(|(p, _)| p),
            p_permuted_error: permuted.map(|(_, error)| error),
            p_unit: runs.unit.clone(),
            groups,
            name: self.name,
            factor: self.factor,
        }
    }

    fn groups(&self) -> Vec<ScoredLevel> {
        let all = self.levels.iter().zip(&self.counts);
        let seen = all.filter(|(_, count)| count.0 > 0);
        let group = |((level, score), (seen, failed)): (&(String, f64), &(u64, u64))| ScoredLevel {
            level: level.clone(),
            score: *score,
            seen: *seen,
            failed: *failed,
        };
        let mut groups: Vec<ScoredLevel> = seen.map(group).collect();
        groups.sort_by(|a, b| a.score.total_cmp(&b.score));
        groups
    }

    /// p-value and its error; scores are dealt anew to the units, as labels are for the other tests.
    fn permuted(&self, runs: &Runs, plural: &dyn std::fmt::Display, config: &Config, seed: Seed) -> Known<(f64, f64)> {
        if !runs.are_several() {
            return Known::absent(words::NO_TREND, words::NO_TREND_HELP);
        }
        let held: Held = runs.best_held(config.clear_below);
        let scores: Vec<f64> = self.levels.iter().map(|(_, score)| *score).collect();
        let stream = format!("rates.trend.{}.{}", self.factor, held.name());
        let redealt = runs.redeal_trend(&scores, held, &config.effort(), (&stream, seed));
        match refused(&redealt, held, plural) {
            Some(why) => Known::Absent(why),
            None => Known::Value((redealt.statistic.p_greater, redealt.statistic.error)),
        }
    }
}
