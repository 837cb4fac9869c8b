//! How far each level can be told apart from each other factor, before anything is claimed about it.

use super::Separable;
use crate::stats::projection::efficiencies;
use crate::tally::{Cell, Tally};

/// The factors whose levels may be accused.
const ASKED: [&str; 3] = ["batch", "clone", "rootstock"];

/// Every level of batch, clone and rootstock against every other factor and row, one weight per vine seen. Levels
/// that name no one thing, or of which no vine was seen, are left out, and so is a factor of one level.
pub(super) fn separable(tally: &Tally) -> Vec<Separable> {
    let cells: Vec<&Cell> = tally.cells.iter().filter(|c| c.counts.seen > 0).collect();
    let weights: Vec<f64> = cells.iter().map(|c| c.counts.seen as f64).collect();
    let column = |at: usize| cells.iter().map(|c| c.codes[at]).collect::<Vec<u32>>();
    let mut list = Vec::new();
    for asked in ASKED {
        let Some(at) = tally.factors.iter().position(|f| f.name == asked) else { continue };
        let codes = column(at);
        if codes.iter().all(|c| Some(c) == codes.first()) {
            continue;
        }
        for (other, from) in tally.factors.iter().enumerate().filter(|(other, _)| *other != at) {
            let levels = efficiencies(&codes, &[column(other)], &weights).into_iter();
            list.extend(levels.filter_map(|l| entry(tally, at, l.code, &from.name, l.efficiency)));
        }
    }
    list
}

fn entry(tally: &Tally, at: usize, code: u32, from: &str, efficiency: f64) -> Option<Separable> {
    let factor = &tally.factors[at];
    let level = factor.levels.get(code as usize)?;
    let definite = factor.definite.get(code as usize) == Some(&true);
    definite.then(|| Separable {
        factor: factor.name.clone(),
        level: level.clone(),
        from: from.to_string(),
        efficiency,
    })
}
