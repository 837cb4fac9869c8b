//! The smallest number of whole bundles that is sure enough.

use super::IfOrdered;
use crate::base::Known;
use crate::base::words::{fill, number, order as words};

/// The most that is looked at, as a multiple of the places.
const MOST: u64 = 3;
/// Lines of the table beside the answer.
const LINES: u64 = 12;
/// Bundles shown beyond the answer.
const BEYOND: u64 = 2;

pub(super) struct Question {
    /// Places to fill, at least 1.
    pub(super) needed: u64,
    /// Vines in a bundle, at least 1.
    pub(super) bundle: u64,
    /// Probability asked for.
    pub(super) sure: f64,
}

pub(super) struct Answer {
    pub(super) chosen: Known<IfOrdered>,
    /// Around the answer, from the fewest bundles that could be enough.
    pub(super) beside: Vec<IfOrdered>,
}

impl Question {
    /// `enough`: probability that so many vines are enough; it never falls as they become more.
    pub(super) fn answer(&self, enough: impl Fn(u64) -> f64) -> Answer {
        let line = |bundles: u64| {
            let order = bundles.saturating_mul(self.bundle);
            IfOrdered { order, probability_enough: enough(order) }
        };
        let (first, most) = (self.bundles(1), self.bundles(MOST));
        let chosen = least(first, most, |bundles| line(bundles).probability_enough >= self.sure);
        let last = chosen.map_or(most, |bundles| bundles + BEYOND);
        Answer {
            beside: thinned(first, last, chosen).into_iter().map(line).collect(),
            chosen: chosen.map_or_else(|| self.never(&line(most)), |bundles| Known::Value(line(bundles))),
        }
    }

    /// Bundles that hold `times` the places.
    fn bundles(&self, times: u64) -> u64 {
        self.needed.saturating_mul(times).div_ceil(self.bundle.max(1))
    }

    fn never(&self, most: &IfOrdered) -> Known<IfOrdered> {
        let reached = number::chance(most.probability_enough);
        let values: [(&str, &dyn std::fmt::Display); 4] = [
            ("most", &number::count(most.order)),
            ("needed", &number::count(self.needed)),
            ("reached", &reached),
            ("sure", &number::chance(self.sure)),
        ];
        Known::absent(fill(words::NEVER_SURE, &values), words::NEVER_SURE_HELP)
    }
}

/// The least number from `first` to `most` that is good, where all above a good one are.
fn least(first: u64, most: u64, good: impl Fn(u64) -> bool) -> Option<u64> {
    if !good(most) {
        return None;
    }
    let (mut below, mut reached) = (first, most);
    while below < reached {
        let middle = below + (reached - below) / 2;
        if good(middle) { reached = middle } else { below = middle + 1 }
    }
    Some(reached)
}

/// At most [`LINES`] numbers from `first` to `last`, both among them, and `chosen`.
fn thinned(first: u64, last: u64, chosen: Option<u64>) -> Vec<u64> {
    let span = last.saturating_sub(first);
    if span < LINES {
        return (first..=last).collect();
    }
    let steps = LINES - 2;
    let even = |i: u64| first + (u128::from(span) * u128::from(i) / u128::from(steps)) as u64;
    let mut lines: Vec<u64> = (0..=steps).map(even).chain(chosen).collect();
    lines.sort_unstable();
    lines.dedup();
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_is_short_and_holds_the_answer() {
        assert_eq!(thinned(4, 8, Some(6)), [4, 5, 6, 7, 8]);
        let lines = thinned(40, 132, Some(130));
        assert!(lines.len() <= LINES as usize && lines.contains(&40) && lines.contains(&130) && lines.contains(&132));
    }

    #[test]
    fn never_sure_is_said() {
        let question = Question { needed: 10, bundle: 25, sure: 0.9 };
        let answer = question.answer(|_| 0.5);
        assert!(answer.chosen.why().is_some_and(|w| w.reason.contains("50 vines would fill all 10 places")));
        assert_eq!(answer.beside.len(), 2);
        assert_eq!(question.answer(|n| if n > 25 { 0.95 } else { 0.1 }).chosen.value().map(|o| o.order), Some(50));
    }
}
