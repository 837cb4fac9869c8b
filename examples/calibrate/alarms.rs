//! How often each test of `cause`, and the exact test of `rates`, rejects in blocks of known cause; whether randomised
//! p-values are uniform; what effects are found.

use super::Share;
use fullstand::base::{Seed, seed};
use fullstand::block::PlantingOrder;
use fullstand::cause;
use fullstand::simulate::{Consignment, Dealt, Effects, Hollow, Scenario, simulate};
use fullstand::stats::contingency::freeman_halton;
use fullstand::stats::uniformity::{JointUniformity, jointly_uniform};
use fullstand::tally::{Tally, tally};
use rayon::prelude::*;
use std::collections::BTreeMap;

/// Blocks of one kind: 24 rows of 45 vines along a serpentine, four deliveries, one vine in fourteen failing.
#[derive(Clone, Copy)]
pub struct Ground {
    pub name: &'static str,
    pub dealt: Dealt,
    /// Logit at the centre of a hollow of 8 m laid anywhere in the block; 0: none.
    pub hollow: f64,
    /// Standard deviation of the rows' effects, logit.
    pub row_sd: f64,
    /// Rows of 50 instead of 45, all planted from the same end.
    pub bands: bool,
    /// Logit of the first delivery.
    pub batch: f64,
}

/// Nothing the matter, four deliveries in shuffled bundles of 25.
pub const CHANCE: Ground =
    Ground { name: "chance", dealt: Dealt::Bundles { size: 25 }, hollow: 0.0, row_sd: 0.0, bands: false, batch: 0.0 };
pub const HOLLOW: Ground = Ground { name: "hollow, innocent batches", hollow: 3.2, ..CHANCE };
pub const ROWS: Ground = Ground { name: "rows differ", row_sd: 0.8, ..CHANCE };
pub const HOLLOW_AND_ROWS: Ground = Ground { name: "hollow and rows", hollow: 3.2, row_sd: 0.8, ..CHANCE };
pub const WHOLE_ROWS: Ground = Ground { name: "whole rows, chance", dealt: Dealt::WholeRows, ..CHANCE };
pub const WHOLE_ROWS_DIFFER: Ground = Ground { name: "whole rows, rows differ", row_sd: 0.8, ..WHOLE_ROWS };
pub const WHOLE_ROWS_HOLLOW: Ground = Ground { name: "whole rows, hollow", hollow: 3.2, ..WHOLE_ROWS };
pub const ONE_BY_ONE: Ground = Ground { name: "one after another, chance", dealt: Dealt::OneAfterAnother, ..CHANCE };
pub const TURNS: Ground =
    Ground { name: "taking turns, hollow", dealt: Dealt::Interleaved { size: 25 }, hollow: 3.2, ..CHANCE };
/// Deliveries taking turns in rows of 50 from the same end: each lies in a band across the rows.
pub const BANDS: Ground = Ground { name: "bands, hollow", bands: true, ..TURNS };
/// Runs longer than a row: what is cut at row ends belongs together.
pub const LONG_RUNS: Ground = Ground { name: "runs of 100, hollow", dealt: Dealt::Bundles { size: 100 }, ..HOLLOW };
pub const LONG_RUNS_ROWS: Ground = Ground { name: "runs of 100, rows differ", hollow: 0.0, row_sd: 0.8, ..LONG_RUNS };
pub const SHORT_RUNS: Ground = Ground { name: "runs of 10, hollow", dealt: Dealt::Bundles { size: 10 }, ..HOLLOW };
pub const BAD_BATCH: Ground = Ground { name: "one batch, odds ratio 6", batch: 1.791_759_469_228_055, ..CHANCE };

pub const ALL: [Ground; 14] = [
    CHANCE,
    HOLLOW,
    ROWS,
    HOLLOW_AND_ROWS,
    WHOLE_ROWS,
    WHOLE_ROWS_DIFFER,
    WHOLE_ROWS_HOLLOW,
    ONE_BY_ONE,
    TURNS,
    BANDS,
    LONG_RUNS,
    LONG_RUNS_ROWS,
    SHORT_RUNS,
    BAD_BATCH,
];

impl Ground {
    pub fn scenario(&self, seed: Seed) -> Scenario {
        let mut rng = seed.stream("calibrate.hollow", 0);
        let (across_m, along_m) = (57.0 * seed::uniform(&mut rng), 49.0 * seed::uniform(&mut rng));
        let hollow = Hollow { across_m, along_m, radius_m: 8.0, depth: self.hollow };
        let hollows = if self.hollow == 0.0 { Vec::new() } else { vec![hollow] };
        let first = Consignment::named("A").with_effect(self.batch);
        Scenario {
            deliveries: [first].into_iter().chain(["B", "C", "D"].map(Consignment::named)).collect(),
            dealt: self.dealt,
            places_per_row: if self.bands { 50 } else { 45 },
            planted: if self.bands { PlantingOrder::SameEnd } else { PlantingOrder::Serpentine },
            base_failure: 0.07,
            effects: Effects { hollows, row_sd: self.row_sd, ..Effects::default() },
            ..Scenario::default()
        }
    }
}

/// Rejections of one test among the blocks in which it had a p-value.
#[derive(Clone, Copy, Debug, Default)]
pub struct Alarms {
    pub at_5: Share,
    pub at_1: Share,
}

/// Never stopping early: randomised p-values are uniform then.
fn config(permutations: usize) -> cause::Config {
    cause::Config { permutations, stop_after: None, ..cause::Config::default() }
}

/// Rejections by test and what it holds fixed, over `blocks` blocks with `permutations` re-arrangements per test.
pub fn alarms(ground: &Ground, blocks: u64, permutations: usize) -> BTreeMap<(String, &'static str), Alarms> {
    let of_block = |number: u64| {
        let seed = Seed::new(1_000 + number);
        let block = simulate(&ground.scenario(seed), seed).block;
        let Ok(tally) = tally(&block, None) else { return Vec::new() };
        let tests = cause::tests(&tally, &config(permutations), seed);
        let pattern = tests.into_iter().filter_map(|t| Some(((t.name, t.held_fixed), *t.p_value.value()?)));
        let exact =
            ["batch", "row"].map(|factor| ((format!("rates_{factor}"), "nothing"), exact(&tally, factor, seed)));
        pattern.chain(exact).collect::<Vec<_>>()
    };
    let mut all = BTreeMap::<_, Alarms>::new();
    for (key, p) in (0..blocks).into_par_iter().flat_map_iter(of_block).collect::<Vec<_>>() {
        let alarms = all.entry(key).or_default();
        alarms.at_5.count(p <= 0.05 + 1e-12);
        alarms.at_1.count(p <= 0.01 + 1e-12);
    }
    all
}

/// The exact test of `rates` on failed and kept by level, without the pooling that `rates` does beside it.
fn exact(tally: &Tally, factor: &str, seed: Seed) -> f64 {
    let at = tally.factors.iter().position(|f| f.name == factor).unwrap_or(0);
    let mut table = vec![vec![0, 0]; tally.factors[at].levels.len()];
    for cell in &tally.cells {
        let row = &mut table[cell.codes[at] as usize];
        (row[0], row[1]) = (row[0] + cell.counts.failed, row[1] + cell.counts.alive());
    }
    freeman_halton(&table, 999, seed).p_value
}

/// Whether the randomised p-values of all tests that answer a question are uniform over blocks, together and each by
/// itself, in ten bins; and how many blocks have every one of them.
pub fn uniformity(ground: &Ground, blocks: u64, permutations: usize) -> Vec<(String, Option<JointUniformity>)> {
    let of_block = |number: u64| {
        let seed = Seed::new(2_000_000 + number);
        let block = simulate(&ground.scenario(seed), seed).block;
        let tests = cause::tests(&tally(&block, None).ok()?, &config(permutations), seed);
        let mut lot = seed.stream("calibrate.lot", 0);
        let answers = tests.into_iter().filter(|t| t.answers);
        let mut p = |t: cause::Test| Some((t.about.clone(), t.randomised_p(seed::uniform(&mut lot))?));
        answers.map(&mut p).collect::<Option<Vec<(String, f64)>>>()
    };
    let all: Vec<Vec<(String, f64)>> = (0..blocks).into_par_iter().filter_map(of_block).collect();
    let names: Vec<String> = all.first().into_iter().flatten().map(|(about, _)| about.clone()).collect();
    let sets = |only: Option<usize>| -> Vec<Vec<f64>> {
        let kept = |(i, _): &(usize, &(String, f64))| only.is_none_or(|only| only == *i);
        all.iter().map(|set| set.iter().enumerate().filter(kept).map(|(_, (_, p))| *p).collect()).collect()
    };
    let joint = ("all together".to_string(), jointly_uniform(&sets(None), BINS));
    let each = names.into_iter().enumerate().map(|(i, name)| (name, jointly_uniform(&sets(Some(i)), BINS)));
    [joint].into_iter().chain(each).collect()
}

const BINS: usize = 10;

/// A block in which the first batch has these odds of failure against the others.
#[derive(Clone, Copy)]
pub struct Design {
    pub rows: u32,
    pub places_per_row: u32,
    pub batches: u32,
}

pub const DESIGNS: [Design; 4] = [
    Design { rows: 10, places_per_row: 25, batches: 2 },
    Design { rows: 24, places_per_row: 45, batches: 4 },
    Design { rows: 24, places_per_row: 45, batches: 8 },
    Design { rows: 60, places_per_row: 80, batches: 4 },
];

pub const ODDS: [f64; 7] = [1.0, 1.2, 1.5, 2.0, 3.0, 5.0, 10.0];

/// Share of blocks in which the batch is found at 5 %: by the answer, and by each of the forms.
pub fn power(design: Design, odds: f64, blocks: u64, permutations: usize) -> BTreeMap<&'static str, Share> {
    let of_block = |number: u64| {
        let seed = Seed::new(3_000_000 + number);
        let block = simulate(&design.scenario(odds), seed).block;
        let Ok(tally) = tally(&block, None) else { return Vec::new() };
        let tests = cause::tests(&tally, &config(permutations), seed).into_iter().filter(|t| t.about == "batch");
        let found = |t: &cause::Test| t.p_value.value().is_some_and(|p| *p <= 0.05 + 1e-12);
        tests
            .flat_map(|t| [(t.held_fixed, found(&t))].into_iter().chain(t.answers.then_some(("answer", found(&t)))))
            .collect()
    };
    let mut all = BTreeMap::<_, Share>::new();
    let found = (0..blocks).into_par_iter().flat_map_iter(of_block).collect::<Vec<_>>();
    found.into_iter().for_each(|(form, hit)| all.entry(form).or_default().count(hit));
    all
}

impl Design {
    fn scenario(self, odds: f64) -> Scenario {
        let first = |i: u32| if i == 0 { odds.ln() } else { 0.0 };
        Scenario {
            rows: self.rows,
            places_per_row: self.places_per_row,
            deliveries: (0..self.batches).map(|i| Consignment::named(&format!("L{i}")).with_effect(first(i))).collect(),
            dealt: Dealt::Bundles { size: 25 },
            base_failure: 0.07,
            ..Scenario::default()
        }
    }
}
