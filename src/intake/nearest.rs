//! The nearest known name to one that was mistyped.

use crate::base::words::{fill, intake as say};

/// "did you mean …?", or that nothing has a name like it.
pub(super) fn hint<'n>(name: &str, known: impl Iterator<Item = &'n str>) -> String {
    match nearest(name, known) {
        Some(nearest) => fill(say::DID_YOU_MEAN, &[("nearest", &nearest)]),
        None => say::NO_NEAREST.to_string(),
    }
}

/// The known name that differs least, if no more than about a third of its letters differ.
fn nearest<'n>(name: &str, known: impl Iterator<Item = &'n str>) -> Option<&'n str> {
    let name: Vec<char> = name.to_lowercase().chars().take(80).collect();
    let differences = |k: &str| edits(&name, &k.chars().collect::<Vec<_>>());
    let close = |(edits, k): &(usize, &str)| *edits <= 1 + k.chars().count() / 3;
    known.map(|k| (differences(k), k)).filter(close).min().map(|(_, k)| k)
}

/// Levenshtein's distance: insertions, deletions and replacements (Levenshtein 1966; from memory).
fn edits(a: &[char], b: &[char]) -> usize {
    let mut above: Vec<usize> = (0..=b.len()).collect();
    for (i, x) in a.iter().enumerate() {
        let mut row = vec![i + 1];
        for (j, y) in b.iter().enumerate() {
            row.push((above[j] + usize::from(x != y)).min(above[j + 1] + 1).min(row[j] + 1));
        }
        above = row;
    }
    above[b.len()]
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_slip_finds_its_name_and_a_stranger_none() {
        let known = ["row_spacing_m", "vine_spacing_m", "rows"];
        assert_eq!(nearest("row_spacng_m", known.into_iter()), Some("row_spacing_m"));
        assert_eq!(nearest("Rows", known.into_iter()), Some("rows"));
        assert_eq!(nearest("colour of the shed", known.into_iter()), None);
    }
}
