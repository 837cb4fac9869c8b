//! Who was planted where: the planters' walk and how the deliveries were dealt out along it.

use super::scenario::{Dealt, Scenario};
use crate::base::{Seed, seed};
use crate::block::PlantingOrder;

/// Per vine (row by row, then by position): rank along the planters' walk, and index of its delivery.
pub(super) struct Planting {
    pub rank: Vec<u32>,
    pub delivery: Vec<u32>,
}

pub(super) fn plant(scenario: &Scenario, seed: Seed) -> Planting {
    let walk = walk(scenario);
    let dealt = deal(scenario, walk.len(), seed);
    let mut planting = Planting { rank: vec![0; walk.len()], delivery: vec![0; walk.len()] };
    for (rank, vine) in walk.into_iter().enumerate() {
        planting.rank[vine] = rank as u32;
        planting.delivery[vine] = dealt[rank];
    }
    planting
}

/// Whether there are several deliveries and each was planted in one go: one contiguous stretch of the walk.
pub(super) fn each_in_one_go(scenario: &Scenario, seed: Seed) -> bool {
    let dealt = deal(scenario, scenario.places(), seed);
    let mut stretches: Vec<u32> = dealt.chunk_by(|a, b| a == b).filter_map(|s| s.first().copied()).collect();
    let several = stretches.len() > 1;
    let number = stretches.len();
    stretches.sort_unstable();
    stretches.dedup();
    several && stretches.len() == number
}

/// Indices of vines in the order in which they were planted.
fn walk(scenario: &Scenario) -> Vec<usize> {
    let places = scenario.places_per_row as usize;
    let turns = scenario.planted != PlantingOrder::SameEnd;
    let along = move |row: usize, i: usize| if turns && row % 2 == 1 { places - 1 - i } else { i };
    (0..scenario.rows as usize).flat_map(|row| (0..places).map(move |i| row * places + along(row, i))).collect()
}

/// The delivery of each rank along the walk.
fn deal(scenario: &Scenario, vines: usize, seed: Seed) -> Vec<u32> {
    let amounts: Vec<f64> = scenario.deliveries.iter().map(|d| d.amount).collect();
    let quotas = apportion(&amounts, vines);
    match scenario.dealt {
        Dealt::OneAfterAnother => stretches(&quotas),
        Dealt::WholeRows => whole_rows(scenario, &amounts),
        Dealt::Interleaved { size } => laid(&taking_turns(bundles(&quotas, size))),
        Dealt::Bundles { size } => {
            let mut bundles = bundles(&quotas, size);
            seed::shuffle(&mut bundles, &mut seed.stream("simulate.deal", 0));
            laid(&bundles)
        }
        Dealt::PerVine => {
            let mut vines = stretches(&quotas);
            seed::shuffle(&mut vines, &mut seed.stream("simulate.deal", 0));
            vines
        }
    }
}

/// Splits `total` in proportion to the amounts, by largest remainder; all to the first where no amount is usable.
fn apportion(amounts: &[f64], total: usize) -> Vec<usize> {
    let usable: Vec<f64> = amounts.iter().map(|a| if a.is_finite() { a.max(0.0) } else { 0.0 }).collect();
    let sum: f64 = usable.iter().sum();
    if sum <= 0.0 || !sum.is_finite() {
        return std::iter::once(total).chain(std::iter::repeat(0)).take(amounts.len().max(1)).collect();
    }
    let exact: Vec<f64> = usable.iter().map(|a| a / sum * total as f64).collect();
    let mut parts: Vec<usize> = exact.iter().map(|e| e.floor() as usize).collect();
    let mut by_remainder: Vec<usize> = (0..parts.len()).collect();
    by_remainder.sort_by(|&a, &b| exact[b].fract().total_cmp(&exact[a].fract()));
    let left = total.saturating_sub(parts.iter().sum());
    by_remainder.into_iter().cycle().take(left).for_each(|i| parts[i] += 1);
    parts
}

/// One delivery after another.
fn stretches(quotas: &[usize]) -> Vec<u32> {
    (0u32..).zip(quotas).flat_map(|(delivery, &n)| std::iter::repeat_n(delivery, n)).collect()
}

/// Each delivery in adjacent rows of its own.
fn whole_rows(scenario: &Scenario, amounts: &[f64]) -> Vec<u32> {
    let rows = apportion(amounts, scenario.rows as usize);
    let places = scenario.places_per_row as usize;
    stretches(&rows).into_iter().flat_map(|delivery| std::iter::repeat_n(delivery, places)).collect()
}

/// (delivery, number of vines) of each bundle; the last one of a delivery may be short.
fn bundles(quotas: &[usize], size: u32) -> Vec<(u32, usize)> {
    let size = size.max(1) as usize;
    let of_one = |(delivery, &n): (u32, &usize)| (0..n.div_ceil(size)).map(move |i| (delivery, size.min(n - i * size)));
    (0u32..).zip(quotas).flat_map(of_one).collect()
}

/// The same bundles, the deliveries taking turns while they last.
fn taking_turns(bundles: Vec<(u32, usize)>) -> Vec<(u32, usize)> {
    let mut turn = 0;
    let mut last = None;
    let mut timed: Vec<_> = bundles
        .into_iter()
        .map(|bundle| {
            turn = if last == Some(bundle.0) { turn + 1 } else { 0 };
            last = Some(bundle.0);
            (turn, bundle)
        })
        .collect();
    timed.sort_by_key(|(turn, (delivery, _))| (*turn, *delivery));
    timed.into_iter().map(|(_, bundle)| bundle).collect()
}

fn laid(bundles: &[(u32, usize)]) -> Vec<u32> {
    bundles.iter().flat_map(|&(delivery, n)| std::iter::repeat_n(delivery, n)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn amounts_are_met_to_the_vine() {
        assert_eq!(apportion(&[430.0, 300.0, 350.0], 1080), [430, 300, 350]);
        assert_eq!(apportion(&[1.0, 1.0, 1.0], 10), [4, 3, 3]);
        assert_eq!(apportion(&[f64::NAN, 0.0], 7), [7, 0]);
        assert_eq!(apportion(&[], 7), [7]);
    }

    #[test]
    fn deliveries_take_turns_while_they_last() {
        assert_eq!(laid(&taking_turns(bundles(&[5, 2], 2))), [0, 0, 1, 1, 0, 0, 0]);
    }
}
