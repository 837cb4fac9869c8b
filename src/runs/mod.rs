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
use crate::stats::trend::squared_z;
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
    /// What a unit is, as results name it.
    pub unit: String,
    units: Vec<Unit>,
    /// None where the units have no places.
    bands: Option<Bands>,
}

/// The stream for dealing the labels of a factor anew: one question, one stream, so that all who ask it get the same
/// answer.
pub fn stream(factor: &str, held: Held) -> String {
    format!("cause.failures_by_{factor}.{}", held.name())
}

/// Labels dealt anew.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Redealt {
    /// Of [`Runs::redeal`], the deviance between levels, G2 = 2 sum over levels of [f ln(f / np) + (n - f) ln((n - f) / n(1 - p))], with
    /// n vines of a level, f of them failed, p the share failed of all (Agresti 2002, `agresti-2002`, eq. 3.11).
    pub statistic: Randomisation,
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

    /// Planted runs cut where the label changes. Where no batch is known there are no runs: stretches of one label
    /// row by row take their part, cut at row ends where the planters' walk isn't known.
    pub fn labelled(field: &Field, label: impl Fn(&Point) -> Option<u32>, loss: Loss) -> Self {
        let no_runs = field.runs.is_empty();
        let units = if no_runs { unit::of_stretches(field, label, loss) } else { unit::of_runs(field, label, loss) };
        let unit = if no_runs { "stretch" } else { "planted run" };
        Runs { unit: unit.into(), bands: Some(Bands::of(field, &units)), units }
    }

    /// Cells of a table of counts in the place of planted runs, where nothing is known of places but the row.
    pub fn of_cells(tally: &Tally, factor: usize, loss: Loss) -> Self {
        Runs { unit: "cell".into(), units: unit::of_cells(tally, factor, loss), bands: None }
    }

    /// The levels of a finer factor, each of which lies within one level of this one, as whole units.
    pub fn of_levels(tally: &Tally, factor: usize, finer: usize, loss: Loss) -> Self {
        let unit = tally.factors.get(finer).map(|f| f.name.clone()).unwrap_or_default();
        Runs { unit, units: unit::of_levels(tally, factor, finer, loss), bands: None }
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

    /// Within rows, where there are arrangements enough to reach a p-value of `least_p` there, else freely: looks at
    /// labels only, so that the choice costs nothing.
    pub fn best_held(&self, least_p: f64) -> Held {
        let within_rows = self.strata(Held::Row).ln_arrangements(&self.labels());
        if within_rows >= -least_p.ln() - 1e-9 { Held::Row } else { Held::Nothing }
    }

    /// The smallest p-value that dealing labels freely can reach: one in the number of ways to part the units into
    /// groups of these sizes. Levels of as many units trade places without a change.
    pub fn smallest_p(&self) -> f64 {
        let mut sizes = std::collections::BTreeMap::<u32, u32>::new();
        self.units.iter().for_each(|u| *sizes.entry(u.label).or_default() += 1);
        let mut alike = std::collections::BTreeMap::<u32, u32>::new();
        sizes.values().for_each(|size| *alike.entry(*size).or_default() += 1);
        let trades: f64 = alike.values().map(|&n| (1..=n).map(|i| f64::from(i).ln()).sum::<f64>()).sum();
        (trades - Strata::one(self.units.len()).ln_arrangements(&self.labels())).exp().min(1.0)
    }

    /// Deals the labels anew; the seed's stream is `name`.
    pub fn redeal(&self, held: Held, effort: &Effort, name: &str, seed: Seed) -> Redealt {
        let levels = self.units.iter().map(|u| u.label as usize + 1).max().unwrap_or(0);
        self.redeal_by(|labels| self.between(labels, levels), held, effort, (name, seed))
    }

    /// The same for the trend over `scores`, one for each label: [`squared_z`].
    pub fn redeal_trend(&self, scores: &[f64], held: Held, effort: &Effort, stream: (&str, Seed)) -> Redealt {
        let counts: Vec<(f64, f64)> = self.units.iter().map(|u| (u.failed, u.seen)).collect();
        self.redeal_by(|labels| squared_z(&counts, labels, scores), held, effort, stream)
    }

    fn redeal_by(
        &self,
        statistic: impl Fn(&[u32]) -> f64 + Sync,
        held: Held,
        effort: &Effort,
        (name, seed): (&str, Seed),
    ) -> Redealt {
        let alike = |labels: &[u32]| self.bands.as_ref().map_or(0.0, |bands| bands.alike(labels));
        let both = |labels: &[u32]| [statistic(labels), alike(labels)];
        let [statistic, alike] = randomise(&self.labels(), &self.strata(held), both, effort, name, seed);
        Redealt { statistic, in_bands: self.bands.is_some() && Bands::are_plain(&alike) }
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
