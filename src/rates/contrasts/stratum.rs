//! The error stratum: what is independent of one another where levels are compared.

use super::super::levels::Level;
use super::design::{Beside, Coded};
use crate::block::Code;
use crate::stats::dispersion::{Dispersion, Observed, dispersion};
use crate::stats::firth::FirthFit;
use crate::tally::{Field, Point, Tally};
use std::collections::BTreeMap;

/// What the units are.
pub(super) enum Stratum {
    /// The levels of a factor nested in the one compared, by name and index: the one with fewest levels.
    Finer { name: String, at: usize },
    /// Stretches of one level within a planted run: index of the factor compared.
    Runs { at: usize },
    /// Combinations of all labels, rows included.
    Cells,
}

impl Stratum {
    pub(super) fn of(tally: &Tally, index: usize, compared: &[Level], beside: &Beside) -> Self {
        let levels = |at: &usize| tally.factors.get(*at).map_or(0, |f| f.levels.len());
        if let Some(&at) = beside.finer.iter().min_by_key(|at| levels(at)) {
            let name = tally.factors.get(at).map_or_else(String::new, |f| f.name.clone());
            return Stratum::Finer { name, at };
        }
        let is_compared = |p: &Point| compared.iter().any(|level| Some(&level.code) == p.codes.get(index));
        let in_runs = |field: &Field| {
            field.runs.iter().flat_map(|r| &r.points).any(|&p| field.points.get(p as usize).is_some_and(is_compared))
        };
        match &tally.field {
            Some(field) if in_runs(field) => Stratum::Runs { at: index },
            _ => Stratum::Cells,
        }
    }

    pub(super) fn name(&self) -> &str {
        match self {
            Stratum::Finer { name, .. } => name,
            Stratum::Runs { .. } => "planted run",
            Stratum::Cells => "cell",
        }
    }

    /// How much more the units differ than vines do by chance, about the fit.
    pub(super) fn dispersion(&self, tally: &Tally, coded: &Coded, fit: &FirthFit) -> Dispersion {
        let observed = match (self, &tally.field) {
            (Stratum::Runs { at }, Some(field)) => of_runs(field, *at, coded, fit),
            (Stratum::Finer { at, .. }, _) => of_cells(coded, fit, |_, codes| {
                let code = codes.get(*at).copied()?;
                (tally.factors.get(*at)?.definite.get(code as usize) == Some(&true)).then_some(code as usize)
            }),
            _ => of_cells(coded, fit, |cell, _| Some(cell)),
        };
        dispersion(coded.design.columns.len(), &observed)
    }
}

/// The cells by unit; those of none are left out.
fn of_cells(coded: &Coded, fit: &FirthFit, unit: impl Fn(usize, &[Code]) -> Option<usize>) -> Vec<Observed> {
    let of = |(i, cell): (usize, &&crate::tally::Cell)| {
        Some(Observed {
            unit: unit(i, &cell.codes)?,
            row: coded.design.rows.get(i)?.clone(),
            rate: (*fit.fitted.get(i)?)?,
            seen: cell.counts.seen as f64,
            failed: cell.counts.failed as f64,
        })
    };
    coded.cells.iter().enumerate().filter_map(of).collect()
}

/// Planted runs cut where the level compared changes, counted by unit and cell of the design.
fn of_runs(field: &Field, at: usize, coded: &Coded, fit: &FirthFit) -> Vec<Observed> {
    let mut counted = BTreeMap::<(usize, usize), (f64, f64)>::new();
    let mut unit = 0;
    for run in &field.runs {
        let points: Vec<&Point> = run.points.iter().filter_map(|&p| field.points.get(p as usize)).collect();
        for stretch in points.chunk_by(|a, b| a.codes.get(at) == b.codes.get(at)) {
            for alike in stretch.chunk_by(|a, b| a.codes == b.codes) {
                let Some(cell) = alike.first().and_then(|p| coded.like(&p.codes)) else { continue };
                let (seen, failed) = counted.entry((unit, cell)).or_default();
                *seen += alike.len() as f64;
                *failed += alike.iter().filter(|p| p.failed).count() as f64;
            }
            unit += 1;
        }
    }
    let of = |((unit, cell), (seen, failed)): ((usize, usize), (f64, f64))| {
        let (row, rate) = (coded.design.rows.get(cell)?.clone(), (*fit.fitted.get(cell)?)?);
        Some(Observed { unit, row, rate, seen, failed })
    };
    counted.into_iter().filter_map(of).collect()
}
