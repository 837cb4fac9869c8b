//! Which factors are fitted beside the one compared, and the design.

use super::super::levels::Level;
use crate::block::{Code, UNKNOWN};
use crate::stats::firth::{Config, Firth};
use crate::stats::glm::{Design, Factor};
use crate::tally::{Cell, Tally};
use std::collections::{BTreeMap, HashMap};

/// The other factors, sorted by how they lie to the one compared.
pub(super) struct Beside {
    /// Fitted as fixed effects: name and index.
    pub fitted: Vec<(String, usize)>,
    /// Each of its levels lies in a single level of the factor compared, and they are more: error strata, by index.
    pub finer: Vec<usize>,
    /// Each level of the factor compared lies in a single level of these: name, and its level by compared level.
    coarser: Vec<(String, Vec<Option<Code>>)>,
}

impl Beside {
    pub(super) fn of(tally: &Tally, index: usize, compared: &[Level]) -> Self {
        let mut beside = Beside { fitted: Vec::new(), finer: Vec::new(), coarser: Vec::new() };
        for (other, factor) in tally.factors.iter().enumerate().filter(|(other, _)| *other != index) {
            let lies = Lies::of(tally, index, other, compared);
            if lies.levels < 2 {
                continue;
            }
            let is_row = factor.name == "row";
            // A batch is the finest that a planter handles: one a clone is a stratum of its own, without freedom.
            if lies.within && !is_row && (lies.levels > compared.len() || factor.name == "batch") {
                beside.finer.push(other);
            }
            match (lies.around, lies.within || is_row) {
                (Some(homes), _) => beside.coarser.push((factor.name.clone(), homes)),
                (None, true) => {}
                (None, false) => beside.fitted.push((factor.name.clone(), other)),
            }
        }
        beside
    }

    pub(super) fn names(&self) -> Vec<String> {
        self.fitted.iter().map(|(name, _)| name.clone()).collect()
    }

    /// Factors that differ between these two levels wherever they are.
    pub(super) fn shared_differences(&self, a: usize, b: usize) -> Vec<String> {
        let differ = |homes: &[Option<Code>]| homes.get(a) != homes.get(b);
        self.coarser.iter().filter(|(_, homes)| differ(homes)).map(|(name, _)| name.clone()).collect()
    }
}

/// How another factor lies to the one compared, by the vines seen that have a definite level of both.
struct Lies {
    /// Its levels.
    levels: usize,
    /// Each of them lies in a single compared level.
    within: bool,
    /// Where each compared level lies in a single one of them: which.
    around: Option<Vec<Option<Code>>>,
}

impl Lies {
    fn of(tally: &Tally, index: usize, other: usize, compared: &[Level]) -> Self {
        let (mut homes, mut holds) = (BTreeMap::<Code, Code>::new(), BTreeMap::<Code, Code>::new());
        let (mut within, mut around) = (true, true);
        for cell in tally.cells.iter().filter(|cell| cell.counts.seen > 0) {
            let (Some(&mine), Some(&theirs)) = (cell.codes.get(index), cell.codes.get(other)) else { continue };
            let definite = tally.factors[other].definite.get(theirs as usize) == Some(&true);
            if !definite || !compared.iter().any(|level| level.code == mine) {
                continue;
            }
            within &= *homes.entry(theirs).or_insert(mine) == mine;
            around &= *holds.entry(mine).or_insert(theirs) == theirs;
        }
        let home = |level: &Level| holds.get(&level.code).copied();
        Lies { levels: homes.len(), within, around: around.then(|| compared.iter().map(home).collect()) }
    }
}

/// The cells with a compared level, coded for the fit.
pub(super) struct Coded<'a> {
    pub design: Design,
    pub cells: Vec<&'a Cell>,
    /// Index of the factor compared, and of those fitted beside it.
    used: Vec<usize>,
    /// A cell of each combination of levels of those.
    by_codes: HashMap<Vec<Code>, usize>,
}

impl<'a> Coded<'a> {
    /// Columns: one for each compared level, then one for each level but the first of the others, vines without a
    /// label being a level of their own.
    pub(super) fn of(tally: &'a Tally, index: usize, compared: &[Level], fitted: &[(String, usize)]) -> Self {
        let used: Vec<usize> = std::iter::once(index).chain(fitted.iter().map(|(_, other)| *other)).collect();
        let is_compared = |cell: &&Cell| compared.iter().any(|level| Some(&level.code) == cell.codes.get(index));
        let cells: Vec<&Cell> = tally.cells.iter().filter(|c| c.counts.seen > 0).filter(is_compared).collect();
        let coded: Vec<(Vec<u32>, u32)> = used.iter().map(|&at| numbered(&cells, at)).collect();
        let factors: Vec<Factor> = coded.iter().map(|(codes, levels)| Factor { codes, levels: *levels }).collect();
        let design = Design::means(cells.len(), &factors);
        let by_codes = cells.iter().enumerate().map(|(i, cell)| (key(&used, &cell.codes), i)).collect();
        Coded { design, cells, used, by_codes }
    }

    pub(super) fn fit(&self) -> Firth {
        let failed: Vec<u64> = self.cells.iter().map(|cell| cell.counts.failed).collect();
        let seen: Vec<u64> = self.cells.iter().map(|cell| cell.counts.seen).collect();
        Firth::new(&self.design, &failed, &seen, &Config::default())
    }

    /// A cell with the same levels of the factors fitted as a vine with these codes.
    pub(super) fn like(&self, codes: &[Code]) -> Option<usize> {
        self.by_codes.get(&key(&self.used, codes)).copied()
    }
}

fn code(codes: &[Code], at: usize) -> Code {
    codes.get(at).copied().unwrap_or(UNKNOWN)
}

fn key(used: &[usize], codes: &[Code]) -> Vec<Code> {
    used.iter().map(|&at| code(codes, at)).collect()
}

/// The cells' codes of a factor numbered from 0 in rising order, and how many there are.
fn numbered(cells: &[&Cell], at: usize) -> (Vec<u32>, u32) {
    let raw: Vec<Code> = cells.iter().map(|cell| code(&cell.codes, at)).collect();
    let mut levels = raw.clone();
    levels.sort_unstable();
    levels.dedup();
    let number = |code: &Code| levels.partition_point(|level| level < code) as u32;
    (raw.iter().map(number).collect(), levels.len() as u32)
}
