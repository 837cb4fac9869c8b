//! One tally over the blocks of an estate.

use super::cells::{CellTable, MATERIAL};
use super::season::Calendar;
use super::{Cell, Tally, TallyFactor, tally_register};
use crate::base::label::natural;
use crate::block::{Block, Code, Factor, Plants, Register, UNKNOWN};
use jiff::civil::Date;
use std::borrow::Cow;
use std::cmp::Ordering;
use std::collections::{BTreeMap, BTreeSet};

/// The factor whose levels are the blocks.
pub const BLOCK: &str = "block";
/// A declared factor of that name, which would else be taken for it.
const BLOCK_WITHIN: &str = "block_within";
/// The season of planting, named by its harvest.
pub const PLANTED: &str = "planted";

/// Why blocks can't be pooled.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NotPooled {
    #[error("two blocks are named {0}")]
    SameName(String),
}

/// The blocks' vines in one tally, each block as it was at the walk of its own tally.
///
/// Factors: `block`; what the vines are made of; `row`, named "block/row", so that rows of different blocks are never
/// one; declared factors, which are one where their names and levels are. A batch is its nursery and its name
/// ("nursery/batch"); where batches.csv names no nursery, its block and its name. `planted` is the season of planting,
/// named by the year of its harvest, where more than one is known. What a block doesn't say of its vines isn't known
/// of them.
///
/// There is no field, since blocks are no neighbours, and no list of outcomes. `walk` runs from the first day of the
/// earliest walk to the last day of the latest one.
///
/// Errors: two blocks have the same name.
pub fn pooled(blocks: &[(&Block, &Tally)]) -> Result<Tally, NotPooled> {
    let parts = parts(blocks)?;
    let factors: Vec<Merged> = names(&parts).iter().map(|name| Merged::of(name, &parts)).collect();
    let mut table = CellTable::default();
    for (at, part) in parts.iter().enumerate() {
        for cell in &part.tally.cells {
            let codes: Vec<Code> = factors.iter().map(|factor| factor.code(at, cell)).collect();
            table.add(&codes, &cell.counts);
        }
    }
    let (cells, total) = table.finish();
    let factors = factors.into_iter().map(|merged| merged.factor).collect();
    Ok(Tally { walk: walk(blocks), factors, cells, total, field: None, outcomes: Vec::new() })
}

/// A block of the estate.
struct Part<'a> {
    block: &'a Block,
    tally: Cow<'a, Tally>,
    /// Its place among the blocks in natural order.
    rank: u32,
    /// By batch, where one is known.
    nurseries: BTreeMap<&'a str, &'a str>,
}

fn parts<'a>(blocks: &[(&'a Block, &'a Tally)]) -> Result<Vec<Part<'a>>, NotPooled> {
    let mut names: Vec<&str> = blocks.iter().map(|(block, _)| block.name.as_str()).collect();
    names.sort_by(|a, b| natural(a, b));
    if let Some(pair) = names.windows(2).find(|pair| pair[0] == pair[1]) {
        return Err(NotPooled::SameName(pair[0].to_string()));
    }
    let several_seasons =
        blocks.iter().flat_map(|(block, tally)| seasons_counted(block, tally)).collect::<BTreeSet<_>>().len() > 1;
    let part = |&(block, tally): &(&'a Block, &'a Tally)| Part {
        block,
        tally: if several_seasons { Cow::Owned(with_seasons(block, tally)) } else { Cow::Borrowed(tally) },
        rank: names.iter().position(|name| *name == block.name).unwrap_or(0) as u32,
        nurseries: block.deliveries.iter().filter_map(|d| Some((d.batch.as_str(), d.nursery.as_deref()?))).collect(),
    };
    Ok(blocks.iter().map(part).collect())
}

/// First day of the earliest walk, last day of the latest one.
fn walk(blocks: &[(&Block, &Tally)]) -> Option<(Date, Date)> {
    let days = || blocks.iter().filter_map(|(_, tally)| tally.walk);
    Some((days().map(|w| w.0).min()?, days().map(|w| w.1).max()?))
}

// Seasons of planting.

/// The season of each vine of the register that was planted on a known day.
fn seasons(block: &Block, register: &Register) -> Vec<Option<i16>> {
    let calendar = Calendar::of(block);
    let season = |day: Option<Date>| day.or(block.planted_on).map(|day| calendar.season(day));
    register.vines.iter().map(|vine| season(vine.planted_on)).collect()
}

/// Seasons known of the vines that count.
fn seasons_counted(block: &Block, tally: &Tally) -> BTreeSet<i16> {
    match &block.plants {
        Plants::Counts(_) => block.planted_on.map(|day| Calendar::of(block).season(day)).into_iter().collect(),
        Plants::Vines(register) => {
            let vines = seasons(block, register).into_iter().zip(&tally.outcomes);
            vines
                .filter(|(_, outcome)| **outcome != super::Outcome::NotCounted)
                .filter_map(|(season, _)| season)
                .collect()
        }
    }
}

/// The tally with a factor `planted`.
fn with_seasons(block: &Block, tally: &Tally) -> Tally {
    match &block.plants {
        Plants::Counts(_) => with_one_season(block, tally),
        Plants::Vines(register) => tallied_again(block, register, tally),
    }
}

/// Counts without a date of their own: all of the block's season.
fn with_one_season(block: &Block, tally: &Tally) -> Tally {
    let season = block.planted_on.map(|day| Calendar::of(block).season(day).to_string());
    let code = if season.is_some() { 0 } else { UNKNOWN };
    let mut dated = tally.clone();
    dated.factors.push(TallyFactor {
        name: PLANTED.into(),
        levels: season.into_iter().collect(),
        definite: vec![true],
    });
    let codes = |cell: &Cell| cell.codes.iter().copied().chain([code]).collect();
    dated.cells.iter_mut().for_each(|cell| cell.codes = codes(cell));
    dated
}

/// Vine by vine at the same walk: replants are of a later season than what they replaced.
fn tallied_again(block: &Block, register: &Register, tally: &Tally) -> Tally {
    let seasons = seasons(block, register);
    let levels: Vec<i16> = seasons.iter().flatten().copied().collect::<BTreeSet<_>>().into_iter().collect();
    let code =
        |season: &Option<i16>| season.and_then(|s| levels.binary_search(&s).ok()).map_or(UNKNOWN, |at| at as Code);
    let planted = Factor {
        name: PLANTED.into(),
        levels: levels.iter().map(i16::to_string).collect(),
        codes: seasons.iter().map(code).collect(),
    };
    let factors: Vec<Factor> = register.factors.iter().cloned().chain([planted]).collect();
    let of_days = |at: &usize| register.walks.get(*at).map(|w| (w.first_day, w.last_day)) == tally.walk;
    let same_days = (0..register.walks.len()).rev().filter(of_days);
    let mut again = same_days.filter_map(|at| tally_register(block, register, at, &factors).ok());
    again.find(|again| again.outcomes == tally.outcomes).unwrap_or_else(|| tally.clone())
}

// Factors.

/// The estate's factors in order.
fn names(parts: &[Part]) -> Vec<String> {
    let named = |name: &&str| parts.iter().any(|part| part.tally.factors.iter().any(|f| f.name == **name));
    let fixed = MATERIAL.into_iter().chain(["row"]);
    let first = [BLOCK].into_iter().chain(fixed.clone().filter(named));
    let all = parts.iter().flat_map(|part| &part.tally.factors).map(|f| pooled_name(&f.name));
    let mut declared: Vec<&str> = all.filter(|name| !fixed.clone().any(|f| f == *name)).collect();
    declared.sort_by(|a, b| natural(a, b));
    declared.dedup();
    first.chain(declared).map(String::from).collect()
}

/// A factor's name in the pooled tally.
fn pooled_name(name: &str) -> &str {
    if name == BLOCK { BLOCK_WITHIN } else { name }
}

/// A level of the estate.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Level {
    /// Block and row, for the order of rows; else 0.
    place: (u32, u32),
    label: String,
    /// What tells it from a level of the same label: of a batch, whether the first part is a nursery.
    of_nursery: bool,
    definite: bool,
}

impl Level {
    fn in_order(&self, other: &Self) -> Ordering {
        let by_label = || natural(&self.label, &other.label).then(self.of_nursery.cmp(&other.of_nursery));
        self.place.cmp(&other.place).then_with(by_label)
    }
}

impl Part<'_> {
    fn factor(&self, name: &str) -> Option<(usize, &TallyFactor)> {
        self.tally.factors.iter().enumerate().find(|(_, f)| pooled_name(&f.name) == name)
    }

    /// The estate's levels of this block's levels, by code.
    fn levels(&self, name: &str) -> Vec<Level> {
        if name == BLOCK {
            return vec![self.level(self.block.name.clone(), true)];
        }
        let Some((_, factor)) = self.factor(name) else { return Vec::new() };
        let named = factor.levels.iter().zip(&factor.definite).enumerate();
        named.map(|(code, (label, definite))| self.named(name, code as u32, label, *definite)).collect()
    }

    fn named(&self, name: &str, code: u32, label: &str, definite: bool) -> Level {
        let in_block = |label: &str| format!("{}/{label}", self.block.name);
        match name {
            "row" => Level { place: (self.rank, code), ..self.level(in_block(label), definite) },
            "batch" => {
                let nursery = |batch: &str| self.nurseries.get(batch);
                let one = |batch: &str| nursery(batch).map_or_else(|| in_block(batch), |n| format!("{n}/{batch}"));
                let labels: Vec<String> = label.split('|').map(one).collect();
                let of_nursery = label.split('|').all(|batch| nursery(batch).is_some());
                Level { of_nursery, ..self.level(labels.join("|"), definite) }
            }
            _ => self.level(label.to_string(), definite),
        }
    }

    fn level(&self, label: String, definite: bool) -> Level {
        Level { place: (0, 0), label, of_nursery: false, definite }
    }
}

/// A factor of the estate.
struct Merged {
    factor: TallyFactor,
    /// For each block the place of its factor (none where it has only one level, or none) and the code of each code.
    blocks: Vec<(Option<usize>, Vec<Code>)>,
}

impl Merged {
    fn of(name: &str, parts: &[Part]) -> Self {
        let of_parts: Vec<Vec<Level>> = parts.iter().map(|part| part.levels(name)).collect();
        let mut levels: Vec<Level> = of_parts.iter().flatten().cloned().collect();
        levels.sort_by(Level::in_order);
        levels.dedup();
        let code = |level: &Level| levels.binary_search_by(|l| l.in_order(level)).map_or(UNKNOWN, |at| at as Code);
        let recoded = |(part, of): (&Part, &Vec<Level>)| {
            (part.factor(name).filter(|_| name != BLOCK).map(|(at, _)| at), of.iter().map(code).collect())
        };
        Merged {
            blocks: parts.iter().zip(&of_parts).map(recoded).collect(),
            factor: TallyFactor {
                name: name.into(),
                definite: levels.iter().map(|l| l.definite).collect(),
                levels: levels.into_iter().map(|l| l.label).collect(),
            },
        }
    }

    fn code(&self, block: usize, cell: &Cell) -> Code {
        let Some((at, codes)) = self.blocks.get(block) else { return UNKNOWN };
        let own = at.map_or(0, |at| cell.codes.get(at).copied().unwrap_or(UNKNOWN));
        codes.get(own as usize).copied().unwrap_or(UNKNOWN)
    }
}
