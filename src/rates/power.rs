//! How many vines and batches tell two stands apart, with this block's own differences between batches and rows.

use super::spread::{Spread, median, seen_by, vines_in_a_run};
use crate::base::known::Why;
use crate::base::words::{fill, number, rates as words};
use crate::base::{Assumptions, Known, Quantity};
use crate::stats::power::{self, Design, Wanted, least_clusters, least_plants, plants_if_independent};
use crate::tally::Tally;
use serde::Serialize;
use std::ops::RangeInclusive;

/// Batches of each stock for which the vines are worked out.
const BATCHES: RangeInclusive<u64> = 2..=12;

/// Settings of what a comparison could show.
#[derive(Clone, Debug, PartialEq)]
pub struct PowerConfig {
    /// The difference in stand to be told, in (0, 1); none: not asked.
    pub difference: Option<f64>,
    /// The higher of the two stands, in (0, 1).
    pub higher_stand: f64,
    pub wanted: Wanted,
    /// Correlation of failures within a batch, where the block can't say how much batches differ.
    pub batch_correlation: Quantity,
}

impl PowerConfig {
    /// From the assumptions `power.*` and `stand.new_batch_spread`.
    pub fn new(difference: Option<f64>, assumptions: &Assumptions) -> Self {
        PowerConfig {
            difference,
            higher_stand: assumptions.get("power.higher_stand"),
            wanted: Wanted { power: assumptions.get("power.wanted"), alpha: assumptions.get("power.alpha") },
            batch_correlation: assumptions.quantity("stand.new_batch_spread"),
        }
    }

    /// Why nothing can be reckoned with these.
    pub(super) fn unusable(&self) -> Option<Why> {
        let inside = |v: f64| v > 0.0 && v < 1.0;
        let usable = inside(self.higher_stand) && inside(self.wanted.power) && inside(self.wanted.alpha);
        (!usable).then(|| Why::new(words::POWER_UNUSABLE, words::POWER_UNUSABLE_HELP))
    }
}

impl Default for PowerConfig {
    fn default() -> Self {
        PowerConfig::new(None, &Assumptions::default())
    }
}

/// What it takes to tell two stands apart, two stocks planted alike.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PowerAnswer {
    pub from: f64,
    pub to: f64,
    /// Size of the two-sided test.
    pub alpha: f64,
    /// The chance wanted of telling them.
    pub power: f64,
    /// Medians of what was reckoned with, on the logit scale.
    pub batch_sd: f64,
    pub row_sd: f64,
    pub spread_from: &'static str,
    /// Vines of one batch in one row, which share the row's luck.
    pub vines_per_run: f64,
    /// Vines seen of this block's batches, at the median.
    pub vines_per_batch: Known<f64>,
    pub designs: Vec<PowerDesign>,
    /// The design with the fewest vines of each stock, and the one with the fewest batches.
    pub least: Known<Enough>,
    pub fewest_batches: Known<Enough>,
    /// Batches of each stock that it takes in batches as large as this block's.
    pub batches_of_this_size: Known<u64>,
    /// Power of this block's own stocks to tell such a difference.
    pub this_block_power: Known<f64>,
    /// Vines of each stock that would do if every vine stood for itself.
    pub vines_if_independent: f64,
    pub sentences: Vec<String>,
}

/// A number of batches and the fewest vines with which they are enough.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PowerDesign {
    pub batches_per_stock: u64,
    pub vines_per_batch: Known<u64>,
    pub vines_per_stock: Known<u64>,
    /// The power that these vines reach; absent where none are enough.
    pub power: Known<f64>,
}

/// A design that is enough.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
pub struct Enough {
    pub batches_per_stock: u64,
    pub vines_per_batch: u64,
    pub vines_per_stock: u64,
}

/// Answers `config.difference`. `this_block` is its best pair of stocks, where it has one.
///
/// Power is averaged over the draws of `spread`, so that what isn't known of the spread is in the answer: see
/// [`crate::stats::power`] for model, formula and limits.
pub fn power_answer(
    tally: &Tally,
    spread: &Spread,
    this_block: &Known<Design>,
    config: &PowerConfig,
) -> Known<PowerAnswer> {
    match asked(config) {
        Ok((from, to)) => Known::Value(Question::of(tally, spread, (from, to), config).answer(spread, this_block)),
        Err(why) => Known::Absent(why),
    }
}

/// The two stands; or why there is no answer.
fn asked(config: &PowerConfig) -> Result<(f64, f64), Why> {
    let difference = config.difference.ok_or(Why::new(words::POWER_NOT_ASKED, words::POWER_NOT_ASKED_HELP))?;
    if let Some(why) = config.unusable() {
        return Err(why);
    }
    let to = config.higher_stand - difference;
    if difference > 0.0 && to > 0.0 {
        return Ok((config.higher_stand, to));
    }
    let (difference, stand) = (number::percent(difference), number::percent(config.higher_stand));
    let reason = fill(words::POWER_TOO_LARGE, &[("difference", &difference), ("stand", &stand)]);
    Err(Why::new(reason, words::POWER_TOO_LARGE_HELP))
}

/// A difference, and all that it depends on.
struct Question {
    from: f64,
    to: f64,
    wanted: Wanted,
    run: f64,
    spreads: Vec<power::Spread>,
    vines_per_batch: Option<f64>,
}

impl Question {
    fn of(tally: &Tally, spread: &Spread, (from, to): (f64, f64), config: &PowerConfig) -> Self {
        let run = vines_in_a_run(tally);
        let batches: Vec<f64> = seen_by(tally, ["batch"]).into_values().map(|n| n as f64).collect();
        Question {
            from,
            to,
            wanted: config.wanted,
            run,
            spreads: spread.draws(run, &config.batch_correlation, config.higher_stand),
            vines_per_batch: median(&batches),
        }
    }

    fn power(&self, design: &Design) -> f64 {
        power::power(self.from, self.to, design, &self.spreads, self.wanted.alpha)
    }

    fn enough(&self, batches: u64) -> Option<Enough> {
        let vines = least_plants(self.from, self.to, batches, &self.spreads, &self.wanted)?;
        Some(Enough { batches_per_stock: batches, vines_per_batch: vines, vines_per_stock: batches * vines })
    }

    fn answer(&self, spread: &Spread, this_block: &Known<Design>) -> PowerAnswer {
        let enough: Vec<(u64, Option<Enough>)> = BATCHES.map(|m| (m, self.enough(m))).collect();
        let reached = || enough.iter().filter_map(|(_, e)| *e);
        let none = || fill(words::POWER_NONE, &[("batches", BATCHES.end())]);
        let among = |e: Option<Enough>| Known::from_option(e, none(), words::POWER_NOT_ENOUGH_HELP);
        let sd = |of: fn(&power::Spread) -> f64| median(&self.spreads.iter().map(of).collect::<Vec<_>>());
        let mut answer = PowerAnswer {
            from: self.from,
            to: self.to,
            alpha: self.wanted.alpha,
            power: self.wanted.power,
            batch_sd: sd(|s| s.between).unwrap_or_default(),
            row_sd: sd(|s| s.within).unwrap_or_default(),
            spread_from: spread.source(),
            vines_per_run: self.run,
            vines_per_batch: Known::from_option(
                self.vines_per_batch,
                words::POWER_NO_BATCHES,
                words::STOCKS_BATCHES_UNKNOWN_HELP,
            ),
            designs: enough.iter().map(|(m, e)| self.design(*m, *e)).collect(),
            least: among(reached().min_by_key(|e| e.vines_per_stock)),
            fewest_batches: among(reached().next()),
            batches_of_this_size: self.batches_of_this_size(),
            this_block_power: this_block.clone().map(|design| self.power(&design)),
            vines_if_independent: plants_if_independent(self.from, self.to, &self.wanted),
            sentences: Vec::new(),
        };
        answer.sentences = sentences(&answer);
        answer
    }

    fn design(&self, batches: u64, enough: Option<Enough>) -> PowerDesign {
        let enough = Known::from_option(enough, words::POWER_NOT_ENOUGH, words::POWER_NOT_ENOUGH_HELP);
        let power = |e: Enough| self.power(&Design::even(batches as f64, e.vines_per_batch as f64));
        PowerDesign {
            batches_per_stock: batches,
            vines_per_batch: enough.clone().map(|e| e.vines_per_batch),
            vines_per_stock: enough.clone().map(|e| e.vines_per_stock),
            power: enough.map(power),
        }
    }

    fn batches_of_this_size(&self) -> Known<u64> {
        let Some(vines) = self.vines_per_batch else {
            return Known::absent(words::POWER_NO_BATCHES, words::STOCKS_BATCHES_UNKNOWN_HELP);
        };
        let batches = least_clusters(self.from, self.to, vines, &self.spreads, &self.wanted);
        Known::from_option(batches, words::POWER_NO_NUMBER, words::POWER_NOT_ENOUGH_HELP)
    }
}

/// "1 batch", "6 batches".
pub(super) fn batches(n: u64) -> String {
    if n == 1 { words::BATCH.into() } else { fill(words::BATCHES, &[("n", &number::count(n))]) }
}

/// The answer in words.
fn sentences(a: &PowerAnswer) -> Vec<String> {
    let all = [said_enough(a), said_this_size(a), said_this_block(a), said_independent(a), Some(said_spread(a))];
    all.into_iter().flatten().collect()
}

fn said_enough(a: &PowerAnswer) -> Option<String> {
    let (from, to, power) = (number::percent(a.from), number::percent(a.to), number::chance(a.power));
    let Some(fewest) = a.fewest_batches.value() else {
        let most = batches(*BATCHES.end());
        return Some(fill(words::POWER_NEVER, &[("from", &from), ("to", &to), ("power", &power), ("batches", &most)]));
    };
    let design =
        |e: &Enough| (batches(e.batches_per_stock), number::count(e.vines_per_batch), number::count(e.vines_per_stock));
    let (m, n, total) = design(fewest);
    let asked: [(&str, &dyn std::fmt::Display); 3] = [("from", &from), ("to", &to), ("power", &power)];
    let needed: [(&str, &dyn std::fmt::Display); 3] = [("batches", &m), ("vines", &n), ("total", &total)];
    let said = fill(words::POWER_FEWEST, &[asked, needed].concat());
    let Some(least) = a.least.value().filter(|l| *l != fewest) else { return Some(said) };
    let (m, n, total) = design(least);
    Some(said + " " + &fill(words::POWER_LEAST, &[("batches", &m), ("vines", &n), ("total", &total)]))
}

fn said_this_size(a: &PowerAnswer) -> Option<String> {
    let (needed, vines) = (a.batches_of_this_size.value()?, a.vines_per_batch.value()?);
    let vines = number::count(vines.round() as u64);
    Some(fill(words::POWER_THIS_SIZE, &[("vines", &vines), ("batches", &batches(*needed))]))
}

fn said_this_block(a: &PowerAnswer) -> Option<String> {
    Some(fill(words::POWER_THIS_BLOCK, &[("power", &number::chance(*a.this_block_power.value()?))]))
}

fn said_independent(a: &PowerAnswer) -> Option<String> {
    let vines = number::count(a.vines_if_independent.ceil() as u64);
    Some(fill(words::POWER_INDEPENDENT, &[("vines", &vines)]))
}

fn said_spread(a: &PowerAnswer) -> String {
    match a.spread_from {
        words::POWER_SPREAD_SOURCE_BLOCK => {
            let (batch, row) = (number::plain(a.batch_sd), number::plain(a.row_sd));
            fill(words::POWER_SPREAD_BLOCK, &[("batch", &batch), ("row", &row)])
        }
        _ => words::POWER_SPREAD_ASSUMED.into(),
    }
}
