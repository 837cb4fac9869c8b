//! Whether failures differ between batches, clones or rootstocks, asked of planted runs.
//!
//! Vines planted as a bundle share their ground, so exchanging vines would find a batch wherever there is a hollow.
//! What is exchanged here are the labels of whole planted runs. They aren't cut at row ends: the pieces of one run
//! share their batch and lie side by side, so they can't be exchanged apart (measured in docs/calibration.md).
//!
//! That holds where the labels lie as if dealt out by chance. Where deliveries took turns in a fixed order, one level
//! may lie in a band across the rows, and a hollow in the band is taken for the level's doing. So the planting is
//! tested first, without a look at the failures: see [`Bands`].

use super::bands::Bands;
use super::pattern::Held;
use super::{Effort, Test};
use crate::base::words::{cause as words, fill};
use crate::base::{Known, Seed};
use crate::stats::permute::{Strata, randomise};
use crate::tally::{Field, Point, Tally};

/// The factors asked about: name, plural, test, question.
const FACTORS: [(&str, &str, &str, &str); 3] = [
    ("batch", "batches", "failures_by_batch", words::BY_BATCH),
    ("clone", "clones", "failures_by_clone", words::BY_CLONE_OR_STOCK),
    ("rootstock", "rootstocks", "failures_by_rootstock", words::BY_CLONE_OR_STOCK),
];

/// A stretch of one level along the planters' walk.
pub(super) struct Unit {
    label: u32,
    /// The row in which it begins.
    row: u32,
    /// Index of the planted run that it is (a part) of.
    pub run: u32,
    /// Indices of its points in the field.
    pub points: Vec<u32>,
    /// Vines with a known outcome but those missing without a trace, and those failed of them.
    seen: f64,
    failed: f64,
}

/// The tests of every factor with two levels or more; `missing` vines are left out.
pub(super) fn tests(tally: &Tally, field: &Field, effort: &Effort, seed: Seed) -> Vec<Test> {
    let of_factor = |&(name, plural, test, question): &(&str, &str, &'static str, &str)| {
        let units = units(tally, field, name);
        let several = units.iter().any(|u| u.label != units[0].label);
        let asked = Asked { plural, test, question, field, units };
        if several { asked.tests(effort, seed) } else { Vec::new() }
    };
    FACTORS.iter().flat_map(of_factor).collect()
}

/// Planted runs cut where the factor's level changes; runs of an unknown or doubtful level are left out.
fn units(tally: &Tally, field: &Field, factor: &str) -> Vec<Unit> {
    let Some(at) = tally.factors.iter().position(|f| f.name == factor) else { return Vec::new() };
    let definite = &tally.factors[at].definite;
    let level = |p: &Point| p.codes.get(at).copied().filter(|&c| definite.get(c as usize) == Some(&true));
    let mut units = Vec::new();
    for (index, run) in field.runs.iter().enumerate() {
        let points: Vec<(u32, &Point)> =
            run.points.iter().filter_map(|&p| Some((p, field.points.get(p as usize)?))).collect();
        let stretches = points.chunk_by(|(_, a), (_, b)| level(a) == level(b));
        units.extend(stretches.filter_map(|stretch| Unit::of(level(stretch.first()?.1)?, index as u32, stretch)));
    }
    units
}

impl Unit {
    /// None where every vine of the stretch is missing.
    fn of(label: u32, run: u32, stretch: &[(u32, &Point)]) -> Option<Unit> {
        let told = || stretch.iter().filter(|(_, p)| !p.missing);
        let (seen, failed) = (told().count() as f64, told().filter(|(_, p)| p.failed).count() as f64);
        let points = stretch.iter().map(|(index, _)| *index).collect();
        (seen > 0.0).then_some(Unit { label, row: stretch.first()?.1.place.row, run, points, seen, failed })
    }
}

/// A question about the levels of one factor.
struct Asked<'a> {
    plural: &'a str,
    test: &'static str,
    question: &'a str,
    field: &'a Field,
    units: Vec<Unit>,
}

impl Asked<'_> {
    fn tests(&self, effort: &Effort, seed: Seed) -> Vec<Test> {
        let free = Held { fixed: "nothing", phrase: words::RUNS_HELD_NOTHING, strata: Strata::one(self.units.len()) };
        let rows = Strata::by(self.units.iter().map(|u| u.row));
        let rows = Held { fixed: "row", phrase: words::RUNS_HELD_ROW, strata: rows };
        vec![self.test(&free, effort, seed), self.test(&rows, effort, seed)]
    }

    fn test(&self, held: &Held, effort: &Effort, seed: Seed) -> Test {
        let Held { fixed, phrase, strata } = held;
        let units = &self.units;
        let labels: Vec<u32> = units.iter().map(|u| u.label).collect();
        let levels = labels.iter().max().map_or(0, |l| *l as usize + 1);
        let stream = format!("cause.{}.{fixed}", self.test);
        let bands = Bands::of(self.field, units);
        let statistic = |labels: &[u32]| [between(units, labels, levels), bands.alike(labels)];
        let [result, alike] = randomise(&labels, strata, statistic, effort, &stream, seed);
        let question = fill(self.question, &[("levels", &self.plural), ("held", &phrase)]);
        let none = || {
            let reason = fill(words::RUNS_ONE_ARRANGEMENT, &[("levels", &self.plural)]);
            Known::absent(reason, fill(words::RUNS_ONE_ARRANGEMENT_HELP, &[("levels", &self.plural)]))
        };
        let title = fill(words::BY_LEVEL_TITLE, &[("levels", &self.plural)]);
        let test = Test::new(self.test, (title, question), "planted run", fixed, &result, none);
        let reason = fill(words::RUNS_IN_BANDS, &[("levels", &self.plural), ("held", &phrase)]);
        if Bands::are_plain(&alike) { test.refused(&reason, words::RUNS_IN_BANDS_HELP) } else { test }
    }
}

/// Deviance between levels, G2 = 2 sum over levels of [f ln(f / np) + (n - f) ln((n - f) / n(1 - p))], with n vines
/// of a level, f of them failed, p the share failed of all (Agresti 2002, `agresti-2002`, eq. 3.11).
fn between(units: &[Unit], labels: &[u32], levels: usize) -> f64 {
    let mut table = vec![(0.0, 0.0); levels];
    let (mut seen, mut failed) = (0.0, 0.0);
    for (unit, &label) in units.iter().zip(labels) {
        let cell = &mut table[label as usize];
        (cell.0, cell.1) = (cell.0 + unit.seen, cell.1 + unit.failed);
        (seen, failed) = (seen + unit.seen, failed + unit.failed);
    }
    let term = |count: f64, expected: f64| if count > 0.0 { count * (count / expected).ln() } else { 0.0 };
    let p = failed / seen;
    let of_level = |&(n, f): &(f64, f64)| term(f, n * p) + term(n - f, n * (1.0 - p));
    (2.0 * table.iter().map(of_level).sum::<f64>()).max(0.0)
}
