//! Whether the levels of a factor lie in bands across the rows.

use super::Unit;
use crate::stats::permute::Randomisation;
use crate::tally::Field;
use std::collections::HashMap;

/// Rows apart up to which vines at one position are compared: about as wide as a hollow.
const ROWS_APART: usize = 4;

/// Exchanging labels puts as many like vines across from each other as there are with at most this probability:
/// the labels were not dealt out by chance.
const PLAIN_AT: f64 = 0.01;

/// Pairs of vines at the same position of rows up to [`ROWS_APART`] apart, by the units that they belong to. Vines of
/// one planted run are left out: a run that turns at a row's end lies beside itself in every planting.
pub(super) struct Bands {
    pairs: Vec<(u32, u32, f64)>,
}

impl Bands {
    pub(super) fn of(field: &Field, units: &[Unit]) -> Self {
        let rows = by_row(field, units);
        let mut pairs = HashMap::<(u32, u32), u32>::new();
        for (row, here) in rows.iter().enumerate() {
            for there in rows.iter().skip(row + 1).take(ROWS_APART) {
                across(here, there).for_each(|pair| *pairs.entry(pair).or_default() += 1);
            }
        }
        let apart = |(a, b): (u32, u32)| units[a as usize].run != units[b as usize].run;
        let pairs = pairs.into_iter().filter(|(pair, _)| apart(*pair));
        Bands { pairs: pairs.map(|((a, b), n)| (a, b, f64::from(n))).collect() }
    }

    /// Pairs of one label: whole numbers, so that the order of summing changes nothing.
    pub(super) fn alike(&self, labels: &[u32]) -> f64 {
        self.pairs.iter().filter(|(a, b, _)| labels[*a as usize] == labels[*b as usize]).map(|pair| pair.2).sum()
    }

    pub(super) fn are_plain(alike: &Randomisation) -> bool {
        alike.p_greater <= PLAIN_AT
    }
}

/// Position and unit of the points of each row of the layout, by rising position.
fn by_row(field: &Field, units: &[Unit]) -> Vec<Vec<(u32, u32)>> {
    let mut rows = vec![Vec::new(); field.lines.len()];
    for (unit, points) in units.iter().enumerate().map(|(i, unit)| (i as u32, &unit.points)) {
        for place in points.iter().filter_map(|&p| Some(field.points.get(p as usize)?.place)) {
            if let Some(row) = rows.get_mut(place.row as usize) {
                row.push((place.position, unit));
            }
        }
    }
    rows.iter_mut().for_each(|row| row.sort_unstable());
    rows
}

/// Units of the vines that stand at the same position in both rows.
fn across<'a>(here: &'a [(u32, u32)], there: &'a [(u32, u32)]) -> impl Iterator<Item = (u32, u32)> + 'a {
    let mut rest = there.iter().peekable();
    here.iter().filter_map(move |&(position, unit)| {
        while rest.next_if(|(other, _)| *other < position).is_some() {}
        rest.next_if(|(other, _)| *other == position).map(|(_, other)| (unit, *other))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn vines_are_paired_by_position() {
        let pairs: Vec<_> = across(&[(1, 0), (2, 0), (4, 1)], &[(2, 7), (3, 7), (4, 8), (9, 8)]).collect();
        assert_eq!(pairs, [(0, 7), (1, 8)]);
    }
}
