//! Rootstocks compared (clones just so): stand and take, the probability of being best, the pairs, and what
//! difference this block could have shown at all.

use super::power::{PowerConfig, batches};
use super::spread::{Spread, median, seen_by, vines_in_a_run};
use super::{FactorRates, LevelRates, Stand};
use crate::base::known::Why;
use crate::base::words::list::list;
use crate::base::words::{fill, number, rates as words};
use crate::base::{Estimate, Known};
use crate::stats::power::{self, Arm, Design, cluster_logit, detectable_difference};
use crate::tally::Tally;
use serde::Serialize;

/// Levels, pairs and factors that sentences name at most.
const SAID_LEVELS: usize = 5;
const SAID_PAIRS: usize = 3;
const SAID_FACTORS: usize = 8;

/// The levels of a factor compared.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Comparison {
    pub factor: String,
    pub levels: Vec<Compared>,
    /// Factors that `stand`, `take` and `pairs` allow for.
    pub adjusted_for: Vec<String>,
    /// Factors that divide the vines just so: what is said of this one may be theirs.
    pub same_as: Vec<String>,
    pub pairs: Known<Vec<Pair>>,
    pub could_have_shown: Known<CouldHaveShown>,
    pub sentences: Vec<String>,
}

/// One level. Stand and take are the pooled ones of [`super::Rates::factors`] and [`super::Rates::take`].
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Compared {
    pub level: String,
    /// Batches with a vine of it seen; absent where batches aren't known.
    pub batches: Known<u64>,
    /// Vines ever planted.
    pub vines: u64,
    pub seen: u64,
    pub failed: u64,
    pub stand: Stand,
    pub take: Stand,
    /// Probability that its stand is the highest.
    pub probability_best: Known<f64>,
}

/// Two levels, from the joint posterior of the stands.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Pair {
    pub a: String,
    pub b: String,
    /// Stand of a less stand of b, as a share.
    pub difference: Difference,
    /// That a's stand is the higher one.
    pub probability_greater: f64,
}

/// A difference with its interval.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Difference {
    pub value: f64,
    pub low: f64,
    pub high: f64,
}

/// What the two levels that can be told apart best could have shown.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CouldHaveShown {
    /// The two levels, their batches and vines seen.
    pub between: [String; 2],
    pub batches_per_stock: [u64; 2],
    pub vines_per_stock: [u64; 2],
    /// Stand of the better one.
    pub assumed_stand: f64,
    /// Smallest difference in stand, as a share, that would have been told.
    pub smallest_difference: Known<f64>,
    /// With this chance, by a two-sided test of size `alpha`.
    pub power: f64,
    pub alpha: f64,
    /// Medians of what was reckoned with, on the logit scale.
    pub batch_sd: f64,
    pub row_sd: f64,
    pub spread_from: &'static str,
}

/// What a comparison is made of.
#[derive(Clone, Debug)]
pub struct Parts<'a> {
    pub tally: &'a Tally,
    /// Rates of the stand by factor, and of the take.
    pub stand: &'a [FactorRates],
    pub take: &'a [FactorRates],
    pub spread: &'a Spread,
    /// Level of the intervals.
    pub level: f64,
}

/// What the model of the rates holds beside the factor, and what its draws say of the pairs.
#[derive(Clone, Debug)]
pub struct Beside {
    pub adjusted_for: Vec<String>,
    pub same_as: Vec<String>,
    pub pairs: Known<Vec<Pair>>,
}

/// Compares the levels of `factor`; absent where fewer than two are known and seen.
///
/// Nothing is estimated here but the reach: the smallest difference that the pair with the most precise mean logits
/// tells with the power wanted ([`crate::stats::power`]). Levels that share a batch count as if they had one each,
/// which says a little less than such a block can show.
pub fn compare(factor: &str, parts: &Parts, beside: Beside, config: &PowerConfig) -> Known<Comparison> {
    let compared = levels(factor, parts);
    if compared.len() < 2 {
        return Known::Absent(alone(factor));
    }
    let could_have_shown = match best_pair(factor, parts.tally, parts.spread, config) {
        Known::Value(pair) => Known::Value(pair.could_have_shown(factor, parts, config)),
        Known::Absent(why) => Known::Absent(why),
    };
    let pairs = told_pairs(beside.pairs, &compared);
    let mut comparison = Comparison {
        factor: factor.into(),
        levels: compared,
        adjusted_for: beside.adjusted_for,
        same_as: beside.same_as,
        pairs,
        could_have_shown,
        sentences: Vec::new(),
    };
    comparison.sentences = sentences(&comparison, parts.level);
    Known::Value(comparison)
}

/// The pairs of levels with a stand that is told: of one between bounds the draws only say what was assumed.
fn told_pairs(pairs: Known<Vec<Pair>>, levels: &[Compared]) -> Known<Vec<Pair>> {
    let untold = levels.iter().find_map(|l| l.stand.why().cloned());
    let is_told = |label: &str| levels.iter().any(|l| l.level == label && l.stand.value().is_some());
    match (pairs.map(|p| p.into_iter().filter(|p| is_told(&p.a) && is_told(&p.b)).collect::<Vec<_>>()), untold) {
        (Known::Value(left), Some(why)) if left.is_empty() => Known::Absent(why),
        (pairs, _) => pairs,
    }
}

fn alone(factor: &str) -> Why {
    let filled = |sentence| fill(sentence, &[("factor", &factor)]);
    Why::new(filled(words::NO_OTHER), filled(words::NO_OTHER_HELP))
}

fn rates_of<'a>(factors: &'a [FactorRates], factor: &str) -> &'a [LevelRates] {
    factors.iter().find(|f| f.factor == factor).map_or(&[], |f| &f.levels)
}

/// The definite levels with vines seen.
fn levels(factor: &str, parts: &Parts) -> Vec<Compared> {
    let Some(index) = parts.tally.factors.iter().position(|f| f.name == factor) else { return Vec::new() };
    let labels = parts.tally.factors.get(index).map_or(&[][..], |f| &f.levels);
    let by_batch = seen_by(parts.tally, [factor, "batch"]);
    let seen = seen_by(parts.tally, [factor]);
    let one = |[code]: &[u32; 1]| {
        let label = labels.get(*code as usize)?;
        let rates = rates_of(parts.stand, factor).iter().find(|l| l.level == *label)?;
        let cells = parts.tally.cells.iter().filter(|c| c.codes.get(index) == Some(code));
        let take = rates_of(parts.take, factor).iter().find(|l| l.level == *label);
        let batches = by_batch.keys().filter(|[stock, _]| stock == code).count() as u64;
        Some(Compared {
            level: label.clone(),
            batches: match by_batch.is_empty() {
                true => Known::Absent(batches_unknown(factor)),
                false => Known::Value(batches),
            },
            vines: cells.map(|c| c.counts.planted).sum(),
            seen: rates.seen,
            failed: rates.failed,
            stand: rates.pooled.clone(),
            take: take.map_or_else(|| Stand::Untold(alone(factor)), |l| l.pooled.clone()),
            probability_best: rates.probability_best.clone(),
        })
    };
    seen.keys().filter_map(one).collect()
}

fn batches_unknown(factor: &str) -> Why {
    Why::new(fill(words::STOCKS_BATCHES_UNKNOWN, &[("factor", &factor)]), words::STOCKS_BATCHES_UNKNOWN_HELP)
}

/// Two levels with their batches.
pub(super) struct BestPair {
    arms: [Stock; 2],
}

#[derive(Clone)]
struct Stock {
    label: String,
    batches: u64,
    vines: u64,
    arm: Arm,
    /// Variance of its mean logit.
    variance: f64,
}

/// The pair whose difference in mean logits is the most precise.
pub(super) fn best_pair(factor: &str, tally: &Tally, spread: &Spread, config: &PowerConfig) -> Known<BestPair> {
    if let Some(why) = config.unusable() {
        return Known::Absent(why);
    }
    let stocks = stocks(factor, tally, spread, config);
    if stocks.len() < 2 {
        return Known::Absent(batches_unknown(factor));
    }
    let pairs = stocks.iter().enumerate().flat_map(|(i, a)| stocks.iter().skip(i + 1).map(move |b| (a, b)));
    let testable = pairs.filter(|(a, b)| a.batches + b.batches > 2);
    let best = testable.min_by(|x, y| (x.0.variance + x.1.variance).total_cmp(&(y.0.variance + y.1.variance)));
    let filled = |sentence| fill(sentence, &[("factor", &factor)]);
    let best = best.map(|(a, b)| BestPair { arms: [a.clone(), b.clone()] });
    Known::from_option(best, filled(words::STOCKS_ONE_BATCH), filled(words::STOCKS_ONE_BATCH_HELP))
}

fn stocks(factor: &str, tally: &Tally, spread: &Spread, config: &PowerConfig) -> Vec<Stock> {
    let labels = tally.factors.iter().find(|f| f.name == factor).map_or(&[][..], |f| &f.levels);
    let middle = middle(&spread.draws(vines_in_a_run(tally), &config.batch_correlation, config.higher_stand));
    let by_batch = seen_by(tally, [factor, "batch"]);
    let one = |(code, label): (usize, &String)| {
        let own = by_batch.iter().filter(|([stock, _], _)| *stock as usize == code);
        let sizes: Vec<u64> = own.map(|(_, seen)| *seen).collect();
        let arm = Arm::of(&sizes.iter().map(|n| *n as f64).collect::<Vec<_>>(), config.higher_stand, &middle)?;
        let variance = cluster_logit(config.higher_stand, arm.size, &middle).variance / arm.clusters;
        Some(Stock { label: label.clone(), batches: sizes.len() as u64, vines: sizes.iter().sum(), arm, variance })
    };
    labels.iter().enumerate().filter_map(one).collect()
}

/// The medians of draws.
fn middle(draws: &[power::Spread]) -> power::Spread {
    let of = |get: fn(&power::Spread) -> f64| median(&draws.iter().map(get).collect::<Vec<_>>()).unwrap_or_default();
    power::Spread { between: of(|d| d.between), within: of(|d| d.within), run: of(|d| d.run).max(1.0) }
}

impl BestPair {
    pub(super) fn design(&self) -> Design {
        let [a, b] = &self.arms;
        Design { a: a.arm, b: b.arm }
    }

    fn could_have_shown(&self, factor: &str, parts: &Parts, config: &PowerConfig) -> CouldHaveShown {
        let run = vines_in_a_run(parts.tally);
        let draws = parts.spread.draws(run, &config.batch_correlation, config.higher_stand);
        let middle = middle(&draws);
        let smallest = detectable_difference(config.higher_stand, &self.design(), &draws, &config.wanted);
        let help = fill(words::STOCKS_ANY_DIFFERENCE_HELP, &[("factor", &factor)]);
        let of = |get: fn(&Stock) -> u64| self.arms.each_ref().map(get);
        CouldHaveShown {
            between: self.arms.each_ref().map(|s| s.label.clone()),
            batches_per_stock: of(|s| s.batches),
            vines_per_stock: of(|s| s.vines),
            assumed_stand: config.higher_stand,
            smallest_difference: Known::from_option(smallest, words::STOCKS_ANY_DIFFERENCE, help),
            power: config.wanted.power,
            alpha: config.wanted.alpha,
            batch_sd: middle.between,
            row_sd: middle.within,
            spread_from: parts.spread.source(),
        }
    }
}

/// The comparison in words.
fn sentences(comparison: &Comparison, level: f64) -> Vec<String> {
    let said = [said_best(comparison, level), Some(said_adjusted(comparison))];
    let pairs = comparison.pairs.value().filter(|pairs| pairs.len() <= SAID_PAIRS);
    let pairs = pairs.into_iter().flatten().map(said_pair);
    let could = comparison.could_have_shown.value().map(said_could);
    said.into_iter().flatten().chain(pairs).chain(could).collect()
}

fn said_best(comparison: &Comparison, level: f64) -> Option<String> {
    let of = |l: &Compared| Some((*l.probability_best.value()?, l.level.clone(), l.stand.value()?.clone()));
    let mut known: Vec<_> = comparison.levels.iter().filter_map(of).collect();
    known.sort_by(|a, b| b.2.value.total_cmp(&a.2.value));
    let best = known.iter().max_by(|a, b| a.0.total_cmp(&b.0))?;
    let one = |(_, label, e): &(f64, String, Estimate)| {
        let (stand, low, high) = (number::percent(e.value), number::percent(e.low), number::percent(e.high));
        fill(words::STOCKS_LEVEL, &[("level", label), ("stand", &stand), ("low", &low), ("high", &high)])
    };
    let mut levels: Vec<String> = known.iter().take(SAID_LEVELS).map(one).collect();
    if let Some(more) = known.len().checked_sub(SAID_LEVELS).filter(|n| *n > 0) {
        levels.push(fill(words::STOCKS_MORE, &[("n", &more)]));
    }
    Some(fill(
        words::STOCKS_BEST,
        &[
            ("n", &known.len()),
            ("factor", &comparison.factor),
            ("best", &best.1),
            ("chance", &number::chance(best.0)),
            ("levels", &levels.join(", ")),
            ("level", &number::chance(level)),
        ],
    ))
}

fn said_adjusted(comparison: &Comparison) -> String {
    let (factor, same) = (&comparison.factor, list(&comparison.same_as, SAID_FACTORS));
    let said = match comparison.adjusted_for.is_empty() {
        true => fill(words::STOCKS_NOT_ADJUSTED, &[("factor", factor)]),
        false => fill(words::STOCKS_ADJUSTED, &[("factors", &list(&comparison.adjusted_for, SAID_FACTORS))]),
    };
    match comparison.same_as.is_empty() {
        true => said,
        false => said + " " + &fill(words::STOCKS_SAME, &[("factor", factor), ("others", &same)]),
    }
}

/// The higher one first.
fn said_pair(pair: &Pair) -> String {
    let d = &pair.difference;
    let (a, b, value, low, high, chance) = match d.value >= 0.0 {
        true => (&pair.a, &pair.b, d.value, d.low, d.high, pair.probability_greater),
        false => (&pair.b, &pair.a, -d.value, -d.high, -d.low, 1.0 - pair.probability_greater),
    };
    fill(
        words::STOCKS_PAIR,
        &[
            ("a", a),
            ("b", b),
            ("points", &number::points(value)),
            ("low", &number::points(low)),
            ("high", &number::points(high)),
            ("chance", &number::chance(chance)),
        ],
    )
}

fn said_could(could: &CouldHaveShown) -> String {
    let ([a, b], [batches_a, batches_b], [vines_a, vines_b]) =
        (&could.between, could.batches_per_stock.map(batches), could.vines_per_stock.map(number::count));
    let (stand, power) = (number::percent(could.assumed_stand), number::chance(could.power));
    let block: [(&str, &dyn std::fmt::Display); 8] = [
        ("a", a),
        ("b", b),
        ("batches_a", &batches_a),
        ("batches_b", &batches_b),
        ("vines_a", &vines_a),
        ("vines_b", &vines_b),
        ("stand", &stand),
        ("power", &power),
    ];
    match could.smallest_difference.value() {
        None => fill(words::STOCKS_COULD_NOT, &block),
        Some(smallest) => {
            let points = number::points(*smallest);
            fill(words::STOCKS_COULD, &[&block[..], &[("points", &points as &dyn std::fmt::Display)]].concat())
        }
    }
}
