//! The strongest patch of failures, and further ones beside it.
//!
//! Asked of each arrangement that row and batch allow: where rows differ, the whole of a bad row is no patch once rows
//! are held. The patches themselves are those beyond what batches have: with batches held where there are several.

use super::{Config, Effort, Test};
use super::{Held, failed, helds, test};
use crate::base::words::{cause as words, fill, number};
use crate::base::{Known, Seed};
use crate::cause::Patch;
use crate::lattice::scan::{Resolution, Search, Share, Strongest};
use crate::lattice::{Scan, ScanConfig};
use crate::stats::deck::redealt;
use crate::stats::permute::Strata;
use crate::tally::{Field, Tally};

const NAME: &str = "strongest_patch";
/// Arrangements drawn at most.
const MOST_DRAWS: u64 = 999;

/// One test for each thing held; its statistic is the log likelihood ratio of the strongest window.
pub(super) fn tests(field: &Field, helds: &[Held], effort: &Effort, seed: Seed) -> Vec<Test> {
    let (scan, failed) = (scan(field), failed(field));
    let (windows, effort) = (windows(&scan.resolution()), &effort_of(effort));
    let of_held = |held: &Held| {
        let search = Search::new(&scan, &every(field), &failed, &held.strata);
        let [result] = redealt(&failed, &held.strata, &search, effort, &stream(held, 0), seed);
        let question = fill(words::PATCH, &[("held", &held.phrase), ("windows", &windows)]);
        Test { question, ..test((NAME, words::PATCH_TITLE, ""), held, &result) }
    };
    helds.iter().map(of_held).collect()
}

/// The patches beyond what chance leaves: the strongest, then the strongest of the rest once its vines are set aside,
/// while each is unlikely by chance (Zhang, Assuncao & Kulldorff 2010, `zhang-2010`). `tests` are those of the block: the
/// first patch has its p-value there.
///
/// Absent without places, or where failures can be arranged in one way only; empty where nothing stands out.
pub(in crate::cause) fn patches(tally: &Tally, tests: &[Test], config: &Config, seed: Seed) -> Known<Vec<Patch>> {
    let Some(field) = tally.field.as_ref().filter(|field| !field.points.is_empty()) else {
        return Known::absent(words::NO_PLACES, words::NO_PLACES_HELP);
    };
    let helds = helds(tally, field);
    let Some(held) = helds.iter().find(|held| held.fixed == "batch").or(helds.first()) else {
        return Known::Value(Vec::new());
    };
    let Some(first) = tests.iter().find(|test| test.name == NAME && test.held_fixed == held.fixed) else {
        return Known::Value(Vec::new());
    };
    let found = |p: &f64| Hunt::of(tally, field, held).patches(*p, config, seed);
    match &first.p_value {
        Known::Value(p) => Known::Value(if *p <= config.likely_below { found(p) } else { Vec::new() }),
        Known::Absent(why) => Known::Absent(why.clone()),
    }
}

/// The vines that are still looked at.
struct Hunt<'a> {
    tally: &'a Tally,
    field: &'a Field,
    held: &'a Held,
    scan: Scan,
    sites: Vec<u32>,
}

impl<'a> Hunt<'a> {
    fn of(tally: &'a Tally, field: &'a Field, held: &'a Held) -> Self {
        Hunt { tally, field, held, scan: scan(field), sites: every(field) }
    }

    fn patches(mut self, first: f64, config: &Config, seed: Seed) -> Vec<Patch> {
        let of_units = self.held.strata.of_units();
        let effort = &effort_of(&config.effort());
        let mut patches = Vec::new();
        while patches.len() < config.patches {
            let failed: Vec<u32> =
                self.sites.iter().map(|&at| u32::from(self.field.points[at as usize].failed)).collect();
            let strata = Strata::by(self.sites.iter().map(|&at| of_units[at as usize]));
            let search = Search::new(&self.scan, &self.sites, &failed, &strata);
            let Some(found) = search.strongest() else { break };
            let p_value = if patches.is_empty() {
                first
            } else {
                let stream = stream(self.held, patches.len());
                let [result] = redealt(&failed, &strata, &search, effort, &stream, seed);
                if result.silence().is_some() || result.p_greater > config.likely_below {
                    break;
                }
                result.p_greater
            };
            patches.push(self.patch(&found, p_value));
            self.set_aside(&found);
        }
        patches
    }

    fn patch(&self, found: &Strongest, p_value: f64) -> Patch {
        let rows = self.tally.factors.iter().position(|factor| factor.name == "row");
        let label = |codes: &[u32]| {
            let at = rows?;
            self.tally.factors[at].levels.get(*codes.get(at)? as usize).cloned()
        };
        let vine = |&at: &u32| {
            let point = &self.field.points[self.sites[at as usize] as usize];
            (label(&point.codes).unwrap_or_default(), point.place.position)
        };
        Patch {
            vines: found.sites.iter().map(vine).collect(),
            observed: found.marked,
            expected: found.expected,
            p_value,
            shape: found.shape,
            held_fixed: self.held.fixed,
        }
    }

    fn set_aside(&mut self, found: &Strongest) {
        let mut gone = found.sites.iter().copied().peekable();
        let mut at = 0..;
        self.sites.retain(|_| at.next().is_none_or(|at| gone.next_if_eq(&at).is_none()));
    }
}

/// Windows cost more than joins do: fewer arrangements, and a quarter of the work for each thing held.
fn effort_of(effort: &Effort) -> Effort {
    Effort { draws: effort.draws.min(MOST_DRAWS), most_moves: effort.most_moves / 4, ..*effort }
}

fn every(field: &Field) -> Vec<u32> {
    (0..field.points.len() as u32).collect()
}

fn scan(field: &Field) -> Scan {
    let metres: Option<Vec<(f64, f64)>> = field.points.iter().map(|p| p.x_y_m).collect();
    Scan::new(&field.sites(), &field.lines, metres.as_deref(), &ScanConfig::default())
}

fn stream(held: &Held, patch: usize) -> String {
    format!("cause.patches.{}.{patch}", held.fixed)
}

/// Which windows were looked at, in words.
fn windows(resolution: &Resolution) -> String {
    let said = |share: Share, every: &str, ladder: &str| match share {
        Share::Every(_) => every.to_string(),
        Share::Ladder(windows) => fill(ladder, &[("n", &number::count(windows as u64))]),
        Share::None => String::new(),
    };
    let rectangles = said(resolution.rectangles, words::EVERY_RECTANGLE, words::LADDER_OF_RECTANGLES);
    let circles = said(resolution.circles, words::EVERY_CIRCLE, words::LADDER_OF_CIRCLES);
    let cells = match (resolution.lines, resolution.steps) {
        (1, 1) => String::new(),
        (rows, places) => fill(words::WINDOWS_OF_CELLS, &[("rows", &rows), ("places", &places)]),
    };
    format!("{rectangles}{circles}{cells}")
}
