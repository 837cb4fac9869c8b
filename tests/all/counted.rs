//! Tallies of counts written down by hand.

use fullstand::tally::{Cell, Counts, Tally, TallyFactor};

/// Vines seen, of which so many are dead, kind not told.
pub fn counts(seen: u64, failed: u64) -> Counts {
    Counts { planted: seen, seen, failed, dead: failed, ..Counts::default() }
}

/// A tally of these factors (name, levels; one with a bar names no one thing) and cells (codes, counts), without places.
pub fn counted<C: AsRef<[u32]>>(factors: &[(&str, &[&str])], cells: &[(C, Counts)]) -> Tally {
    let factor = |(name, levels): &(&str, &[&str])| TallyFactor {
        name: name.to_string(),
        levels: levels.iter().map(|l| l.to_string()).collect(),
        definite: levels.iter().map(|l| !l.contains('|')).collect(),
    };
    let mut total = Counts::default();
    cells.iter().for_each(|(_, c)| total.add(c));
    Tally {
        walk: None,
        factors: factors.iter().map(factor).collect(),
        cells: cells.iter().map(|(codes, counts)| Cell { codes: codes.as_ref().into(), counts: *counts }).collect(),
        total,
        field: None,
        outcomes: Vec::new(),
    }
}
