//! From paths and scores to what the document says of each option.

use super::chance::{Entry, Outcome};
use super::path::{Path, Score};
use super::rank::{Demand, Ranking, broken, probability_best};
use super::scene::Scene;
use super::standard::Standard;
use super::values::Values;
use super::{Candidate, Outlook, Spread, VinesNeeded, Year, YearSpread};
use crate::base::words::{fill, number, options as words};
use crate::base::{Known, Why};
use crate::block::{Do, Step, Which};
use crate::stats::special::quantile;
use crate::triage::Action;

/// The outlooks, and how they rank.
pub struct Weighed {
    pub outlooks: Vec<Outlook>,
    /// Expected scores, in the order of the outlooks.
    pub scores: Vec<Score>,
    /// From best to worst, those within the limits; the first is the recommended one ([`Ranking::settle`]).
    pub order: Vec<usize>,
}

impl Weighed {
    /// Name of the best, absent where none keeps within the limits.
    pub fn recommended(&self) -> Known<String> {
        let best = self.order.first().and_then(|i| self.outlooks.get(*i)).map(|o| o.name.clone());
        Known::from_option(best, words::NONE_WITHIN_LIMITS, words::NONE_WITHIN_LIMITS_HELP)
    }
}

/// What came of each option.
pub fn weigh(
    scene: &Scene,
    candidates: &[Candidate],
    entries: &[Entry],
    outcome: &Outcome,
    expected: &Values,
    ranking: Ranking,
    draws: usize,
) -> Weighed {
    let each = candidates.iter().zip(entries).zip(outcome.paths.iter().zip(&outcome.scores));
    let (mut outlooks, mut scores) = (Vec::new(), Vec::new());
    for ((candidate, entry), (path, drawn)) in each {
        let view = View { scene, candidate, entry, path, drawn, years: expected.years };
        let score = view.expected(expected);
        outlooks.push(if candidate.impossible.is_some() { view.impossible() } else { view.outlook(&score) });
        scores.push(score);
    }
    let may: Vec<bool> = outlooks.iter().map(|o| o.breaks.is_empty()).collect();
    if draws > 0 {
        let best = probability_best(ranking, &outcome.scores, &may);
        for ((outlook, p), score) in outlooks.iter_mut().zip(best).zip(&scores) {
            if outlook.cash_low_point.value().is_some() {
                let p = ranking.merit(score).map(|_| p);
                outlook.probability_best = Known::from_option(p, words::NOT_RANKED, words::NO_PRICE_HELP);
            }
        }
    }
    let order = ranking.settle(ranking.order(&scores, &may), &outcome.scores);
    Weighed { outlooks, scores, order }
}

/// One option and what came of it.
struct View<'a> {
    scene: &'a Scene<'a>,
    candidate: &'a Candidate,
    entry: &'a Entry,
    path: &'a Path,
    drawn: &'a [Score],
    years: usize,
}

impl View<'_> {
    /// The mean score; cash from the mean path, as its table shows it.
    fn expected(&self, v: &Values) -> Score {
        let n = self.drawn.len().max(1) as f64;
        let mean = |of: fn(&Score) -> f64| self.drawn.iter().map(of).sum::<f64>() / n;
        Score {
            value: self.entry.priced.income.then(|| mean(|s| s.value.unwrap_or(0.0))),
            cash: super::path::score(self.path, v, self.entry.priced).cash,
            first: mean(|s| s.first),
            full: mean(|s| s.full),
            evenness: mean(|s| s.evenness),
        }
    }

    fn outlook(&self, score: &Score) -> Outlook {
        let full_crop_year = self.year_spread(|s| s.full);
        let demand = Demand {
            cash: score.cash,
            full: full_crop_year.p50.value().copied(),
            hours: self.path.hours.iter().copied().fold(0.0, f64::max),
        };
        let block = self.scene.block;
        Outlook {
            name: self.candidate.name.clone(),
            origin: self.candidate.origin,
            what: self.candidate.what.clone(),
            present_value: self.present_value(),
            cash_low_point: Known::Value(score.cash),
            first_crop_year: Known::Value(self.year_spread(|s| s.first)),
            full_crop_year: Known::Value(full_crop_year),
            probability_best: Known::absent(words::NO_DRAWS, words::NO_DRAWS_HELP),
            labour_hours: self.path.hours.iter().sum(),
            evenness: self.path.evenness.iter().skip(1).copied().collect(),
            yearly: (0..=self.years).map(|y| self.year(y)).collect(),
            vines_needed: self.vines_needed(),
            breaks: broken(&demand, &block.limits, self.scene.first_harvest, &block.currency),
        }
    }

    /// A standard option that can't be had: listed with the reason, without a figure.
    fn impossible(&self) -> Outlook {
        let (reason, help) = self.candidate.impossible.as_ref().map_or(("", ""), |p| (&p.problem, &p.way_out));
        let why = Why::new(reason, help);
        Outlook {
            name: self.candidate.name.clone(),
            origin: self.candidate.origin,
            what: self.candidate.what.clone(),
            present_value: Known::Absent(why.clone()),
            cash_low_point: Known::Absent(why.clone()),
            first_crop_year: Known::Absent(why.clone()),
            full_crop_year: Known::Absent(why.clone()),
            probability_best: Known::Absent(why),
            labour_hours: 0.0,
            evenness: Vec::new(),
            yearly: Vec::new(),
            vines_needed: Vec::new(),
            breaks: vec![reason.into()],
        }
    }

    fn present_value(&self) -> Known<Spread> {
        if !self.entry.priced.income {
            return Known::absent(self.unpriced(words::NO_PRICE, Lacks::Price), words::NO_PRICE_HELP);
        }
        let mut values: Vec<f64> = self.drawn.iter().filter_map(|s| s.value).collect();
        values.sort_by(f64::total_cmp);
        let mean = values.iter().sum::<f64>() / values.len().max(1) as f64;
        let at = |p: f64| quantile(&values, p);
        Known::Value(Spread { mean, p10: at(0.1), p50: at(0.5), p90: at(0.9) })
    }

    /// Names the materials that lack what is needed.
    fn unpriced(&self, sentence: &str, lacks: Lacks) -> String {
        let stocks = &self.scene.catalogue.stocks;
        let mut at: Vec<usize> = self.entry.plan.cohorts.iter().map(|(c, _)| c.stock).collect();
        at.sort_unstable();
        at.dedup();
        let lacking = at
            .into_iter()
            .filter_map(|i| stocks.get(i))
            .filter(|s| s.mature_crop_kg.is_none() || (lacks == Lacks::Price && s.price_per_kg.is_none()));
        let names: Vec<String> = lacking.map(|s| format!("“{}”", s.name)).collect();
        fill(sentence, &[("materials", &names.join(", "))])
    }

    /// Years by which the share of draws reaches each probability.
    fn year_spread(&self, of: fn(&Score) -> f64) -> YearSpread {
        let mut years: Vec<f64> = self.drawn.iter().map(of).collect();
        years.sort_by(f64::total_cmp);
        let horizon = self.years as f64;
        let within = years.iter().filter(|y| **y <= horizon).count();
        let at = |p: f64| {
            let nth = (p * years.len() as f64).ceil().max(1.0) as usize - 1;
            let year = years.get(nth).filter(|y| **y <= horizon).map(|y| *y as u32);
            Known::from_option(year, fill(words::NOT_REACHED, &[("years", &self.years)]), words::NOT_REACHED_HELP)
        };
        let probability_within_horizon = within as f64 / years.len().max(1) as f64;
        YearSpread { p10: at(0.1), p50: at(0.5), p90: at(0.9), probability_within_horizon }
    }

    fn year(&self, year: usize) -> Year {
        let (path, priced) = (self.path, self.entry.priced);
        let cost = path.work[year] + path.upkeep[year] + path.harvest_cost[year];
        let harvest = self.scene.first_harvest.and_then(|h| h.checked_add(year as i16 - 1));
        let income = priced.income.then_some(path.income[year]);
        let crop = priced.crop.then_some(path.crop_kg[year]);
        Year {
            year: year as u32,
            harvest: Known::from_option(harvest, words::NO_HARVEST_YEAR, words::NO_HARVEST_YEAR_HELP),
            cost,
            income: Known::from_option(income, self.unpriced(words::NO_PRICE, Lacks::Price), words::NO_PRICE_HELP),
            crop_kg: Known::from_option(crop, self.unpriced(words::NO_CROP, Lacks::Crop), words::NO_PRICE_HELP),
            crop_share: path.share[year],
        }
    }

    fn vines_needed(&self) -> Vec<VinesNeeded> {
        let of_stock = |(stock, (places, among_older)): (usize, (f64, f64))| {
            let material = self.scene.catalogue.stocks.get(stock)?.name.clone();
            Some(VinesNeeded { material, places: places as u64, among_older: among_older as u64 })
        };
        self.entry.plan.places_to_fill().into_iter().filter_map(of_stock).collect()
    }
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Lacks {
    Price,
    Crop,
}

/// What a standard option does on this block.
pub fn standard_in_words(scene: &Scene, standard: &Standard, steps: &[Step]) -> String {
    let failed = scene.count(|u| u.is_failed());
    let held = scene.count(|u| u.action == Action::Hold);
    let planting = steps.iter().find(|s| s.material.is_some());
    let material = planting.and_then(|s| s.material.as_deref()).unwrap_or("");
    let rows = planting.map_or(String::new(), |s| rows_in_words(scene, &s.target.rows));
    let values: [(&str, &dyn std::fmt::Display); 7] = [
        ("failed", &number::count(failed)),
        ("now", &number::count(failed - held)),
        ("held", &number::count(held)),
        ("living", &number::count(scene.places() - failed)),
        ("material", &material),
        ("rows", &rows),
        ("when", &when(scene, planting.map_or(0, |s| s.winter))),
    ];
    let what = match standard.what {
        words::REPLANT_WHAT | words::LEAVE_GAPS_WHAT if failed == 0 => words::NO_GAPS_WHAT,
        words::REPLANT_WHAT if held > 0 => words::REPLANT_HELD_WHAT,
        what => what,
    };
    fill(what, &values)
}

/// What a course of block.toml does, step by step.
pub fn steps_in_words(scene: &Scene, steps: &[Step]) -> String {
    let each: Vec<String> = steps.iter().map(|s| step_in_words(scene, s)).collect();
    if each.is_empty() { words::NO_STEPS.into() } else { each.join("; ") }
}

fn step_in_words(scene: &Scene, step: &Step) -> String {
    let target = &step.target;
    let rows = rows_in_words(scene, &target.rows);
    let rows = if rows.is_empty() { rows } else { fill(words::STEP_ROWS, &[("rows", &rows)]) };
    let batch = target.batch.as_ref().map_or(String::new(), |b| fill(words::STEP_BATCH, &[("batch", b)]));
    let n = target.places.len();
    let places = if n == 0 { String::new() } else { fill(words::STEP_PLACES, &[("n", &number::count(n as u64))]) };
    let material = step.material.as_ref().map_or(String::new(), |m| fill(words::STEP_MATERIAL, &[("material", m)]));
    let values: [(&str, &dyn std::fmt::Display); 7] = [
        ("do", &action_in_words(step.action)),
        ("vines", &which_in_words(target.vines)),
        ("rows", &rows),
        ("batch", &batch),
        ("places", &places),
        ("material", &material),
        ("when", &when(scene, step.winter)),
    ];
    fill(words::STEP, &values)
}

/// A winter by its distance from the walk, and the harvest after it where that is known.
fn when(scene: &Scene, winter: u32) -> String {
    let season = scene.season(winter);
    match winter {
        0 => words::THIS_WINTER.into(),
        1 => fill(words::NEXT_WINTER, &[("season", &season)]),
        _ => fill(words::IN_WINTER, &[("winter", &winter), ("season", &season)]),
    }
}

/// "row 24", "rows 23, 24"; nothing where no row is named.
fn rows_in_words(scene: &Scene, rows: &[u32]) -> String {
    let labels = scene.row_labels(rows);
    match rows.len() {
        0 => String::new(),
        1 => fill(words::ROW_ONE, &[("rows", &labels)]),
        _ => fill(words::ROW_MANY, &[("rows", &labels)]),
    }
}

fn action_in_words(action: Do) -> &'static str {
    match action {
        Do::Leave => "leave",
        Do::Replant => "replant",
        Do::TakeUp => "take up",
        Do::CutBack => "cut back",
        Do::Move => "move",
        Do::Clear => "clear",
        Do::Plant => "plant",
    }
}

fn which_in_words(which: Which) -> &'static str {
    match which {
        Which::Failed => "the failed",
        Which::Weak => "the weak",
        Which::Living => "the living",
        Which::All => "all places",
    }
}
