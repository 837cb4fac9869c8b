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
use crate::base::words::runs as words;
use crate::stats::incidence;
use crate::stats::permute::{Effort, Randomisation, Strata, randomise};
use crate::stats::trend::squared_z;
use crate::tally::{Field, Point, Tally};
use bands::Bands;
use std::collections::{BTreeMap, BTreeSet};

/// What stays as it was while labels are dealt anew.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Held {
    Nothing,
    /// Labels stay within the group of adjacent rows in which their units begin: rows are pooled, from the first on,
    /// until [`UNITS_PER_GROUP`] units begin in the group; rows left over join the last one. It looks at where units
    /// begin and at nothing else, so that dealing labels anew leaves the groups as they are.
    RowGroup,
    /// Labels stay within the row in which their units begin.
    Row,
}

/// Units that make a group of rows: enough for several arrangements, few enough to stand close to each other.
pub const UNITS_PER_GROUP: usize = 6;

/// Share of units that may begin alone in their row before rows are pooled.
pub const MOST_ALONE: f64 = 0.1;

impl Held {
    /// As results name it.
    pub fn name(self) -> &'static str {
        match self {
            Held::Nothing => "nothing",
            Held::RowGroup => "row group",
            Held::Row => "row",
        }
    }

    /// As it reads in a sentence.
    pub fn phrase(self) -> &'static str {
        match self {
            Held::Nothing => words::HELD_NOTHING,
            Held::RowGroup => words::HELD_ROW_GROUP,
            Held::Row => words::HELD_ROW,
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

/// The same for dealing the levels of a finer factor as wholes.
pub fn stream_of_levels(factor: &str, finer: &str) -> String {
    format!("cause.failures_by_{factor}.by {finer}")
}

/// What a vine is made of: it comes with the vine, in bundles.
const MATERIAL: [&str; 4] = ["batch", "clone", "rootstock", "variety"];

/// The nearest material that is finer than this factor: of those with more levels, each within one level of this
/// one, the one with fewest. None for a batch, which is asked about in its own runs, and for a row, which is a place.
pub fn finer(tally: &Tally, factor: usize) -> Option<usize> {
    let name = &tally.factors.get(factor)?.name;
    if name == "batch" || name == "row" {
        return None;
    }
    let others = tally.factors.iter().enumerate().filter(|(i, f)| *i != factor && MATERIAL.contains(&f.name.as_str()));
    let own = levels_seen(tally, factor);
    let finer =
        others.map(|(i, _)| (levels_seen(tally, i), i)).filter(|&(n, i)| n > own && is_nested(tally, i, factor));
    finer.min().map(|(_, index)| index)
}

/// Levels seen that name one thing.
fn levels_seen(tally: &Tally, factor: usize) -> usize {
    let seen = tally.cells.iter().filter(|cell| cell.counts.seen > 0);
    seen.filter_map(|cell| unit::definite(tally, factor, &cell.codes)).collect::<BTreeSet<u32>>().len()
}

/// Whether every known level of `inner` lies in one level of `outer`.
fn is_nested(tally: &Tally, inner: usize, outer: usize) -> bool {
    let codes = |factor: usize| -> Vec<u32> {
        tally.cells.iter().map(|cell| cell.codes.get(factor).copied().unwrap_or(u32::MAX)).collect()
    };
    let seen: Vec<f64> = tally.cells.iter().map(|cell| cell.counts.seen as f64).collect();
    incidence::is_nested(&codes(inner), &codes(outer), &seen)
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
    /// The units to which the levels of a factor came. What comes with the vine (batch, clone, rootstock, variety, and a
    /// declared factor that is one for all of a batch) came to planted runs, cut where the level changes. Another
    /// declared factor (a crew, a treatment) came to stretches of its own along the planters' walk, however many
    /// bundles were planted in one. Runs of an unknown or doubtful level are left out, and so are vines missing without
    /// a trace. Empty without a factor of this index.
    pub fn of_factor(tally: &Tally, field: &Field, factor: usize, loss: Loss) -> Self {
        let level = |p: &Point| unit::definite(tally, factor, &p.codes);
        match Runs::comes_with_the_vine(tally, factor) {
            true => Runs::labelled(field, level, loss),
            false => Runs::placed("stretch", field, unit::of_own_stretches(field, level, loss)),
        }
    }

    fn comes_with_the_vine(tally: &Tally, factor: usize) -> bool {
        let is_material = tally.factors.get(factor).is_some_and(|f| MATERIAL.contains(&f.name.as_str()));
        let batch = tally.factors.iter().position(|f| f.name == "batch");
        is_material || batch.is_some_and(|batch| is_nested(tally, batch, factor))
    }

    /// Planted runs cut at row ends, labelled with their batch, in the planters' order; rows where no batch is known.
    /// None where the planters' order isn't known.
    pub fn in_order(field: &Field, loss: Loss) -> Option<Self> {
        let units = || if field.runs.is_empty() { unit::of_rows(field, loss) } else { unit::of_pieces(field, loss) };
        (!field.runs_within_rows).then(|| Runs::placed("planted run within a row", field, units()))
    }

    fn placed(unit: &str, field: &Field, units: Vec<Unit>) -> Self {
        Runs { unit: unit.into(), bands: Some(Bands::of(field, &units)), units }
    }

    /// Planted runs cut where the label changes. Where no batch is known there are no runs: stretches of one label
    /// row by row take their part, cut at row ends where the planters' walk isn't known.
    pub fn labelled(field: &Field, label: impl Fn(&Point) -> Option<u32>, loss: Loss) -> Self {
        let no_runs = field.runs.is_empty();
        let units = if no_runs { unit::of_stretches(field, label, loss) } else { unit::of_runs(field, label, loss) };
        let unit = if no_runs { "stretch" } else { "planted run" };
        Runs::placed(unit, field, units)
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
            Held::RowGroup => {
                let groups = self.row_groups();
                Strata::by(self.units.iter().map(|u| groups.get(&u.row).copied()))
            }
            Held::Row => Strata::by(self.units.iter().map(|u| u.row)),
        }
    }

    /// The group of each row in which units begin (see [`Held::RowGroup`]).
    fn row_groups(&self) -> BTreeMap<u32, u32> {
        let mut begin = BTreeMap::<u32, usize>::new();
        self.units.iter().for_each(|u| *begin.entry(u.row).or_default() += 1);
        let (mut group, mut filled, mut left) = (0, 0, self.units.len());
        let mut groups = BTreeMap::new();
        for (row, units) in begin {
            groups.insert(row, group);
            (filled, left) = (filled + units, left - units);
            if filled >= UNITS_PER_GROUP && left >= UNITS_PER_GROUP {
                (group, filled) = (group + 1, 0);
            }
        }
        groups
    }

    /// What can be held, from the loosest to the strictest. Rows are pooled where holding single ones would leave more than
    /// one unit in ten ([`MOST_ALONE`]) without another to trade labels with, and two groups can be made.
    pub fn forms(&self) -> Vec<Held> {
        let alone = self.strata(Held::Row).groups().filter(|row| row.len() == 1).count() as f64;
        let pooled = alone > MOST_ALONE * self.units.len() as f64 && self.strata(Held::RowGroup).count() > 1;
        [Held::Nothing].into_iter().chain(pooled.then_some(Held::RowGroup)).chain([Held::Row]).collect()
    }

    /// What is held to answer a question: rows or groups of them, where there are arrangements enough to reach a p-value
    /// of `least_p` there, else nothing. It looks at labels only, so that the choice costs nothing.
    pub fn best_held(&self, least_p: f64) -> Held {
        let within = if self.forms().contains(&Held::RowGroup) { Held::RowGroup } else { Held::Row };
        let arrangements = self.strata(within).ln_arrangements(&self.labels());
        if arrangements >= -least_p.ln() - 1e-9 { within } else { Held::Nothing }
    }

    /// The smallest p-value that dealing labels freely can reach: one in the number of ways to part the units into
    /// groups of these sizes. Levels of as many units trade places without a change.
    pub fn smallest_p(&self) -> f64 {
        let mut sizes = BTreeMap::<u32, u32>::new();
        self.units.iter().for_each(|u| *sizes.entry(u.label).or_default() += 1);
        let mut alike = BTreeMap::<u32, u32>::new();
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
