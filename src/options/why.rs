//! The recommendation in plain words, every figure from the result.

use super::outlook::Weighed;
use super::rank::Ranking;
use super::values::Values;
use crate::base::words::{fill, number, options as words};
use crate::block::{Block, Goal};

/// Why the best option is recommended, or why none is.
pub fn sentence(weighed: &Weighed, ranking: Ranking, block: &Block, expected: &Values) -> String {
    let Some(best) = weighed.order.first().copied() else {
        return none(weighed);
    };
    let mut text = match ranking.goal {
        Goal::PresentValue => by_value(weighed, best, &block.currency),
        Goal::FullCropYear => by_full_crop(weighed, best, block, expected),
        Goal::Evenness => by_evenness(weighed, best),
        Goal::CashLowPoint => by_cash(weighed, best, &block.currency),
    };
    if ranking.fell_back {
        text += words::WHY_FELL_BACK;
    }
    text + &unranked(weighed, ranking) + "."
}

fn by_value(weighed: &Weighed, best: usize, currency: &str) -> String {
    let name = &weighed.outlooks[best].name;
    let value = weighed.scores[best].value.unwrap_or(0.0);
    let mut text = fill(words::WHY_VALUE, &[("name", name), ("value", &number::money(value, currency))]);
    if let Some(second) = weighed.order.get(1) {
        let lead = value - weighed.scores[*second].value.unwrap_or(0.0);
        if lead < 0.0 {
            return level(weighed, best, *second, currency);
        }
        let sentence = if lead >= 0.5 { words::WHY_VALUE_SECOND } else { words::WHY_VALUE_TIED };
        text +=
            &fill(sentence, &[("lead", &number::money(lead, currency)), ("second", &weighed.outlooks[*second].name)]);
    }
    text
}

/// The draws don't tell the recommended option from the one with the highest mean.
fn level(weighed: &Weighed, best: usize, highest: usize, currency: &str) -> String {
    let value = |i: usize| number::money(weighed.scores[i].value.unwrap_or(0.0), currency);
    let values: [(&str, &dyn std::fmt::Display); 4] = [
        ("name", &weighed.outlooks[best].name),
        ("value", &value(best)),
        ("second", &weighed.outlooks[highest].name),
        ("highest", &value(highest)),
    ];
    fill(words::WHY_VALUE_LEVEL, &values)
}

fn by_full_crop(weighed: &Weighed, best: usize, block: &Block, expected: &Values) -> String {
    let outlook = &weighed.outlooks[best];
    let median = outlook.full_crop_year.value().and_then(|s| s.p50.value()).copied();
    let mut text = match median {
        None => fill(words::WHY_FULL_NEVER, &[("years", &expected.years), ("name", &outlook.name)]),
        Some(year) => {
            let harvest = outlook.yearly.iter().find(|y| y.year == year).and_then(|y| y.harvest.value());
            let counted = || fill(words::WHY_FULL_YEAR, &[("year", &year)]);
            let year = harvest.map_or_else(counted, i16::to_string);
            fill(words::WHY_FULL, &[("name", &outlook.name), ("year", &year)])
        }
    };
    let cash = number::money(-weighed.scores[best].cash, &block.currency);
    text += &fill(words::WHY_CASH_OF, &[("cash", &cash)]);
    text
}

fn by_evenness(weighed: &Weighed, best: usize) -> String {
    let share = number::chance(weighed.scores[best].evenness);
    fill(words::WHY_EVEN, &[("name", &weighed.outlooks[best].name), ("share", &share)])
}

fn by_cash(weighed: &Weighed, best: usize, currency: &str) -> String {
    let cash = number::money(-weighed.scores[best].cash, currency);
    fill(words::WHY_CASH, &[("name", &weighed.outlooks[best].name), ("cash", &cash)])
}

/// Options that could be had but that the goal says nothing of.
fn unranked(weighed: &Weighed, ranking: Ranking) -> String {
    let mute = weighed
        .outlooks
        .iter()
        .zip(&weighed.scores)
        .filter(|(o, s)| o.cash_low_point.value().is_some() && ranking.merit(s).is_none());
    let names: Vec<String> = mute.map(|(o, _)| format!("“{}”", o.name)).collect();
    if names.is_empty() { String::new() } else { fill(words::WHY_UNRANKED, &[("names", &names.join(", "))]) }
}

fn none(weighed: &Weighed) -> String {
    let each = weighed.outlooks.iter().filter(|o| !o.breaks.is_empty());
    let breaks: Vec<String> = each.map(|o| format!("“{}” {}", o.name, o.breaks.join(", "))).collect();
    fill(words::WHY_NONE, &[("breaks", &breaks.join("; "))]) + "."
}
