//! Planted runs and their labels re-dealt: the unit for batch, clone, stock and declared factors.
//!
//! Vines planted as a bundle share their ground, so exchanging vines would find a batch wherever there is a hollow.
//! What is exchanged here are the labels of whole planted runs. They aren't cut at row ends: the pieces of one run
//! share their batch and lie side by side, so they can't be exchanged apart (measured in docs/calibration.md).
//!
//! That holds where the labels lie as if dealt out by chance. Where deliveries took turns in a fixed order, one level
//! may lie in a band across the rows, and a hollow in the band is taken for the level's doing. So the planting is
//! tested first, without a look at the failures: see [`Redealt::in_bands`].

mod bands;
mod unit;

pub use unit::{Loss, Unit};

use crate::base::Seed;
use crate::stats::permute::{Effort, Randomisation, Strata, randomise};
use crate::tally::{Field, Point, Tally};
use bands::Bands;

/// What stays as it was while labels are dealt anew.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Held {
    Nothing,
    /// Labels stay within the row in which their units begin.
    Row,
}

impl Held {
    /// As results name it.
    pub fn name(self) -> &'static str {
        match self {
            Held::Nothing => "nothing",
            Held::Row => "row",
        }
    }
}

/// Units with a label each: planted runs, cells of a table of counts, or the levels of a finer factor.
pub struct Runs {
    units: Vec<Unit>,
    /// None where the units have no places.
    bands: Option<Bands>,
}

/// Labels dealt anew.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Redealt {
    /// The deviance between levels, G2 = 2 sum over levels of [f ln(f / np) + (n - f) ln((n - f) / n(1 - p))], with
    /// n vines of a level, f of them failed, p the share failed of all (Agresti 2002, `agresti-2002`, eq. 3.11).
    pub between: Randomisation,
    /// Whether the labels lie in bands across the rows, so that a hollow would be taken for a level's doing.
    pub in_bands: bool,
}

impl Runs {
    /// Planted runs cut where the factor's level changes; runs of an unknown or doubtful level are left out, and so
    /// are vines missing without a trace. Empty without a factor of this index.
    pub fn of_factor(tally: &Tally, field: &Field, factor: usize, loss: Loss) -> Self {
        let definite = tally.factors.get(factor).map_or(&[][..], |f| &f.definite);
        let level = |p: &Point| p.codes.get(factor).copied().filter(|&c| definite.get(c as usize) == Some(&true));
        Runs::labelled(field, level, loss)
    }

    /// Planted runs cut where the label changes.
    pub fn labelled(field: &Field, label: impl Fn(&Point) -> Option<u32>, loss: Loss) -> Self {
        let units = unit::of_runs(field, label, loss);
        Runs { bands: Some(Bands::of(field, &units)), units }
    }

    pub fn units(&self) -> &[Unit] {
        &self.units
    }

    /// The label of each unit.
    pub fn labels(&self) -> Vec<u32> {
        self.units.iter().map(|u| u.label).collect()
    }

    /// Whether two labels occur.
    pub fn are_several(&self) -> bool {
        self.units.first().is_some_and(|first| self.units.iter().any(|u| u.label != first.label))
    }

    /// The units by what is held.
    pub fn strata(&self, held: Held) -> Strata {
        match held {
            Held::Nothing => Strata::one(self.units.len()),
            Held::Row => Strata::by(self.units.iter().map(|u| u.row)),
        }
    }

    /// Deals the labels anew; the seed's stream is `name`.
    pub fn redeal(&self, held: Held, effort: &Effort, name: &str, seed: Seed) -> Redealt {
        let labels = self.labels();
        let levels = labels.iter().max().map_or(0, |l| *l as usize + 1);
        let alike = |labels: &[u32]| self.bands.as_ref().map_or(0.0, |bands| bands.alike(labels));
        let statistic = |labels: &[u32]| [self.between(labels, levels), alike(labels)];
        let [between, alike] = randomise(&labels, &self.strata(held), statistic, effort, name, seed);
        Redealt { between, in_bands: Bands::are_plain(&alike) }
    }

    fn between(&self, labels: &[u32], levels: usize) -> f64 {
        let mut table = vec![(0.0, 0.0); levels];
        let (mut seen, mut failed) = (0.0, 0.0);
        for (unit, &label) in self.units.iter().zip(labels) {
            let cell = &mut table[label as usize];
            (cell.0, cell.1) = (cell.0 + unit.seen, cell.1 + unit.failed);
            (seen, failed) = (seen + unit.seen, failed + unit.failed);
        }
        let term = |count: f64, expected: f64| if count > 0.0 { count * (count / expected).ln() } else { 0.0 };
        let p = failed / seen;
        let of_level = |&(n, f): &(f64, f64)| term(f, n * p) + term(n - f, n * (1.0 - p));
        (2.0 * table.iter().map(of_level).sum::<f64>()).max(0.0)
    }
}
