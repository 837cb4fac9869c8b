//! Counts per cell.

use super::history::Outcome;
use crate::block::{Code, CountLine, Factor, Layout, Look, State, UNKNOWN};
use serde::Serialize;
use std::borrow::Cow;
use std::collections::HashMap;

/// A factor as tallied: the levels that occur, in row order for rows, natural order otherwise.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct TallyFactor {
    pub name: String,
    pub levels: Vec<String>,
    /// Per level: whether it names one thing ("L1|L3" doesn't, and is never a candidate explanation).
    pub definite: Vec<bool>,
}

/// Numbers of vines ever planted up to the walk. `seen = alive + failed`; unsure ones are outside `seen`.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Counts {
    pub planted: u64,
    pub seen: u64,
    /// All states but alive, `missing` included.
    pub failed: u64,
    pub missing: u64,
    pub unsure: u64,
    /// Never grew: seen `no_budburst`, and never seen growing before.
    pub never_grew: u64,
    pub died: u64,
    /// Dead, kind not told.
    pub dead: u64,
    pub scion_dead: u64,
    /// Alive, of these: reached the wire / looked at for it.
    pub reached_wire: u64,
    pub wire_seen: u64,
    /// Alive by the grower's class or counts.csv: strong, weak.
    pub good: u64,
    pub weak: u64,
}

impl Counts {
    /// One vine. `look` is its look in the chosen walk; `strong_from` the lowest vigour class that is strong.
    pub(super) fn of_vine(outcome: Outcome, look: Option<&Look>, strong_from: f64) -> Counts {
        let one = Counts { planted: 1, ..Counts::default() };
        match outcome {
            Outcome::NotCounted => Counts::default(),
            Outcome::NotSeen => one,
            Outcome::Unsure => Counts { unsure: 1, ..one },
            Outcome::LeftAlive => Counts { seen: 1, ..one },
            Outcome::Alive => Counts { seen: 1, ..one }.with_vigour(look, strong_from),
            Outcome::Failed(state) => Counts { seen: 1, failed: 1, ..one }.with_failure(state),
        }
    }

    fn with_failure(mut self, state: State) -> Counts {
        match state {
            State::Missing => self.missing += 1,
            State::NoBudburst => self.never_grew += 1,
            State::Died => self.died += 1,
            State::ScionDead => self.scion_dead += 1,
            State::Dead | State::Alive | State::Unsure => self.dead += 1,
        }
        self
    }

    /// Strong if it reached the wire or by the grower's class; weak if known not to be strong.
    fn with_vigour(mut self, look: Option<&Look>, strong_from: f64) -> Counts {
        let wire = look.and_then(|l| l.reached_wire);
        let strong = look.and_then(|l| l.vigour).map(|class| f64::from(class) >= strong_from);
        self.wire_seen += u64::from(wire.is_some());
        self.reached_wire += u64::from(wire == Some(true));
        if wire == Some(true) || strong == Some(true) {
            self.good += 1;
        } else if wire.is_some() || strong.is_some() {
            self.weak += 1;
        }
        self
    }

    /// A line of counts.csv, as the grower wrote it.
    pub(super) fn of_line(line: &CountLine) -> Counts {
        let seen = line.seen.max(line.failed);
        Counts {
            planted: line.planted,
            seen,
            failed: line.failed,
            missing: line.missing.unwrap_or(0),
            unsure: 0,
            never_grew: line.no_budburst.unwrap_or(0),
            died: line.died.unwrap_or(0),
            dead: line.dead.unwrap_or(0),
            scion_dead: line.scion_dead.unwrap_or(0),
            reached_wire: line.reached_wire.unwrap_or(0),
            wire_seen: line.reached_wire.map_or(0, |_| seen - line.failed),
            good: line.good.unwrap_or(0),
            weak: line.weak.unwrap_or(0),
        }
    }

    pub fn alive(&self) -> u64 {
        self.seen.saturating_sub(self.failed)
    }

    pub fn add(&mut self, other: &Counts) {
        let pairs = [
            (&mut self.planted, other.planted),
            (&mut self.seen, other.seen),
            (&mut self.failed, other.failed),
            (&mut self.missing, other.missing),
            (&mut self.unsure, other.unsure),
            (&mut self.never_grew, other.never_grew),
            (&mut self.died, other.died),
            (&mut self.dead, other.dead),
            (&mut self.scion_dead, other.scion_dead),
            (&mut self.reached_wire, other.reached_wire),
            (&mut self.wire_seen, other.wire_seen),
            (&mut self.good, other.good),
            (&mut self.weak, other.weak),
        ];
        for (mine, theirs) in pairs {
            *mine += theirs;
        }
    }
}

/// One combination of levels, codes in the order of [`super::Tally::factors`], `UNKNOWN` where empty.
#[derive(Clone, Debug, PartialEq)]
pub struct Cell {
    pub codes: Box<[Code]>,
    pub counts: Counts,
}

/// Cells under construction: records come in any order and in as many pieces as one likes.
#[derive(Clone, Debug, Default)]
pub struct CellTable {
    cells: HashMap<Box<[Code]>, Counts>,
    total: Counts,
}

impl CellTable {
    /// Adds the counts of a record, or of many with the same codes.
    pub fn add(&mut self, codes: &[Code], counts: &Counts) {
        self.total.add(counts);
        match self.cells.get_mut(codes) {
            Some(cell) => cell.add(counts),
            None => drop(self.cells.insert(codes.into(), *counts)),
        }
    }

    /// The cells, ordered by code, and their total.
    pub fn finish(self) -> (Vec<Cell>, Counts) {
        let mut cells: Vec<Cell> = self.cells.into_iter().map(|(codes, counts)| Cell { codes, counts }).collect();
        cells.sort_by(|a, b| a.codes.cmp(&b.codes));
        (cells, self.total)
    }
}

/// The factors of a set of records (vines or lines of counts), recoded to the levels that occur.
pub(super) struct Coder<'a> {
    pub factors: Vec<TallyFactor>,
    columns: Vec<Column<'a>>,
}

struct Column<'a> {
    raw: Cow<'a, [Code]>,
    /// New code by old code.
    recode: Vec<Code>,
}

impl<'a> Coder<'a> {
    /// `rows` is the row of each record; `counted` says which records' levels occur.
    pub fn new(factors: &'a [Factor], rows: Vec<u32>, layout: &Layout, counted: impl Fn(usize) -> bool) -> Self {
        let labels = layout.rows.iter().map(|r| r.label.clone()).collect();
        let by_row = Factor { name: "row".into(), levels: labels, codes: rows };
        let mut coder = Coder { factors: Vec::new(), columns: Vec::new() };
        let declared = factors.iter().position(|f| !MATERIAL.contains(&f.name.as_str())).unwrap_or(factors.len());
        factors[..declared].iter().for_each(|f| coder.push(f, Cow::Borrowed(&f.codes), &counted));
        coder.push(&by_row, Cow::Owned(by_row.codes.clone()), &counted);
        factors[declared..].iter().for_each(|f| coder.push(f, Cow::Borrowed(&f.codes), &counted));
        coder
    }

    /// Takes a factor in, unless none of its levels occurs; `row` always.
    fn push(&mut self, factor: &Factor, raw: Cow<'a, [Code]>, counted: &impl Fn(usize) -> bool) {
        let mut occurs = vec![false; factor.levels.len()];
        for (_, &code) in raw.iter().enumerate().filter(|(i, _)| counted(*i)) {
            if let Some(level) = occurs.get_mut(code as usize) {
                *level = true;
            }
        }
        let kept: Vec<usize> = (0..occurs.len()).filter(|&l| occurs[l]).collect();
        if kept.is_empty() && factor.name != "row" {
            return;
        }
        let mut recode = vec![UNKNOWN; factor.levels.len()];
        kept.iter().enumerate().for_each(|(new, &old)| recode[old] = new as Code);
        self.factors.push(TallyFactor {
            name: factor.name.clone(),
            levels: kept.iter().map(|&l| factor.levels[l].clone()).collect(),
            definite: kept.iter().map(|&l| factor.is_definite(l as Code)).collect(),
        });
        self.columns.push(Column { raw, recode });
    }

    /// Codes of a record, in the order of the factors.
    pub fn codes(&self, record: usize) -> Box<[Code]> {
        let code = |c: &Column| {
            let raw = c.raw.get(record).copied().unwrap_or(UNKNOWN);
            c.recode.get(raw as usize).copied().unwrap_or(UNKNOWN)
        };
        self.columns.iter().map(code).collect()
    }
}

/// What a vine is made of, in the order of the tally's factors; `row` follows, then what the grower declared.
pub(super) const MATERIAL: [&str; 4] = ["variety", "clone", "rootstock", "batch"];
