//! Tables in, (block, findings) out. Nothing above it validates again.
//!
//! The way of a file: bytes are decoded (`decode`), split into a neutral table (`delimited`, `workbook`, `parquet`),
//! its headings matched (`columns`), its cells read (`value`), and its lines turned into what the block records
//! (`register`, `walks`, `deliveries`, `diary`, `counts`). What is said about the files on the way, and the account of
//! every line, is kept in the `ledger`; the sentences stand in [`crate::base::words::intake`].

mod coding;
mod columns;
mod counts;
mod courses;
mod decode;
mod delimited;
mod deliveries;
mod diary;
mod export;
mod files;
mod layout;
mod ledger;
mod nearest;
mod node;
mod parquet;
mod register;
mod settings;
mod start;
mod table;
mod terms;
mod value;
mod walk_sheet;
mod walks;
mod workbook;

pub use export::set_aside_csv;
pub use start::{StartConfig, start};

use crate::base::words::intake as say;
use crate::base::{Documented, Finding};
use crate::block::{Block, CountSheet, Factor, Layout, Plants, Register};
use columns::{Factors, Spec};
use courses::Known;
use files::Files;
use layout::RowIndex;
use ledger::{Ledger, Note};
use serde::Serialize;
use settings::Settings;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use table::Table;

/// A folder read: the block, what was noticed, the lines that couldn't be used.
#[derive(Clone, Debug)]
pub struct Reading {
    pub block: Block,
    pub check: Check,
    pub set_aside: Vec<SetAside>,
}

/// The document `check`. Files stand in a fixed order; findings in order of file and line, and every line that was
/// set aside is one of them.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Check {
    pub files: Vec<FileCount>,
    pub findings: Vec<Finding>,
    /// Vines ever planted; one that was moved counts once.
    pub vines: u64,
    /// Places that can hold a vine.
    pub places: u64,
    pub walks: u64,
}

/// Lines of a table, its heading not counted: `lines = used + set_aside + blank`. A line whose cells hold line breaks
/// is one line.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct FileCount {
    pub file: String,
    pub lines: u64,
    pub used: u64,
    pub set_aside: u64,
    pub blank: u64,
}

/// A line that couldn't be used, as it stood.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SetAside {
    /// Code of the reason, one of [`crate::base::words::intake::SET_ASIDE`].
    pub code: &'static str,
    pub file: String,
    pub line: u64,
    pub reason: String,
    pub hint: String,
    /// The line's cells.
    pub cells: Vec<String>,
}

impl SetAside {
    fn as_finding(&self) -> Finding {
        let SetAside { code, file, line, reason, hint, .. } = self;
        Finding { code, file: file.clone(), line: *line, message: reason.clone(), hint: hint.clone() }
    }
}

impl Documented for Check {
    const SCHEMA: &'static str = "check";
}

/// Input that can't be used at all: exit status 3.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{file}{}: {message}", line.map(|l| format!(":{l}")).unwrap_or_default())]
pub struct Unusable {
    /// Code of the kind, such as `no_block_toml`; one of [`crate::base::words::intake::UNUSABLE`].
    pub code: &'static str,
    pub message: String,
    pub file: String,
    pub line: Option<u64>,
    pub hint: String,
}

/// One block folder, or an estate.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Folder {
    Block(PathBuf),
    /// Name, and the folders of its blocks in natural order.
    Estate(String, Vec<PathBuf>),
}

/// What kind of folder this is: one with a block.toml (or a workbook with a sheet `block`), or one of such folders.
///
/// Errors: it is neither, or can't be read.
pub fn find(folder: &Path) -> Result<Folder, Unusable> {
    files::find(folder)
}

/// Reads a block folder.
///
/// Errors: block.toml is missing or can't be used, a file can't be read, a table lacks a required column, or there is
/// neither a register nor a sheet of counts. Everything else is a finding, or a line set aside.
pub fn read(folder: &Path) -> Result<Reading, Unusable> {
    let mut ledger = Ledger::default();
    let mut files = Files::list(folder)?;
    files.open_workbook(&mut ledger)?;
    let (file, text) = files.block(&mut ledger)?;
    let settings = settings::read(&file, &text, &mut ledger)?;
    let tables = Tables::read(&mut files, &mut ledger)?;
    tables.report_headings(&settings, &mut ledger);
    let recorded = record(&tables, &settings, &mut ledger).map_err(|e| no_register(e, files.unopened.take()))?;
    report_claims(&settings, recorded.batches(), &mut ledger);
    let mut check = recorded.check();
    let block = block(recorded, settings, &mut ledger);
    let (files, findings, set_aside) = ledger.close();
    (check.files, check.findings) = (files, findings);
    Ok(Reading { block, check, set_aside })
}

/// The tables of a folder.
struct Tables {
    vines: Option<Table>,
    surveys: Option<Table>,
    batches: Option<Table>,
    diary: Option<Table>,
    counts: Option<Table>,
}

impl Tables {
    /// Reads what the folder holds, and opens the account of what will be used.
    fn read(files: &mut Files, ledger: &mut Ledger) -> Result<Self, Unusable> {
        let mut table = |name: &str| files.table(name, ledger);
        let [vines, surveys, batches, diary, counts] = files::TABLES;
        let mut tables = Tables {
            vines: table(vines)?,
            surveys: table(surveys)?,
            batches: table(batches)?,
            diary: table(diary)?,
            counts: table(counts)?,
        };
        tables.choose(ledger);
        tables.all().for_each(|t| ledger.open(t));
        Ok(tables)
    }

    fn all(&self) -> impl Iterator<Item = &Table> {
        [&self.vines, &self.surveys, &self.batches, &self.diary, &self.counts].into_iter().flatten()
    }

    /// Vines one by one go before counts per row; without vines there is nothing that a walk could be about.
    fn choose(&mut self, ledger: &mut Ledger) {
        let has_lines = |t: &Option<Table>| t.as_ref().is_some_and(|t| t.len() > 0);
        let counted = has_lines(&self.counts) && !has_lines(&self.vines) || self.vines.is_none();
        let (unused, kind) = match counted {
            true => (&mut self.surveys, say::SURVEYS_NOT_READ),
            false => (&mut self.counts, say::COUNTS_NOT_READ),
        };
        if let Some(table) = unused.take().filter(|t| t.len() > 0) {
            ledger.find(&table.file, 0, Note::new(kind, &[]));
        }
    }

    /// Headings that block.toml names and no table has.
    fn report_headings(&self, settings: &Settings, ledger: &mut Ledger) {
        let same = |a: &str, b: &str| a.to_lowercase() == b.to_lowercase();
        let is_there = |heading: &str| self.all().any(|t| t.heading.iter().any(|h| same(h, heading)));
        for (column, own) in settings.columns.iter().filter(|(_, own)| !is_there(&own.heading)) {
            let note = Note::new(say::COLUMN_NOT_FOUND, &[("heading", &own.heading), ("column", column)]);
            ledger.find(&settings.file, own.line, note);
        }
    }
}

/// What the tables record.
struct Recorded {
    plants: Plants,
    layout: Layout,
    rows: RowIndex,
    deliveries: Vec<crate::block::Delivery>,
    diary: Vec<crate::block::DiaryEntry>,
}

impl Recorded {
    fn batches(&self) -> &[String] {
        let factors: &[Factor] = match &self.plants {
            Plants::Vines(register) => &register.factors,
            Plants::Counts(sheet) => &sheet.factors,
        };
        factors.iter().find(|f| f.name == "batch").map_or(&[], |f| &f.levels)
    }

    /// The check, its files and findings still open.
    fn check(&self) -> Check {
        let (vines, walks) = match &self.plants {
            Plants::Vines(register) => (vines_planted(register), register.walks.len() as u64),
            Plants::Counts(sheet) => counted(sheet),
        };
        Check { vines, walks, places: self.layout.places(), ..Check::default() }
    }
}

/// A vine that was moved has two entries and is one vine.
fn vines_planted(register: &Register) -> u64 {
    register.vines.iter().filter(|v| v.moved_from.is_none()).count() as u64
}

/// Vines planted and days counted; the same rows may have been counted on several days.
fn counted(sheet: &CountSheet) -> (u64, u64) {
    let mut by_day: BTreeMap<_, u64> = BTreeMap::new();
    for line in &sheet.lines {
        *by_day.entry(line.surveyed_on).or_insert(0) += line.planted;
    }
    (by_day.values().copied().max().unwrap_or(0), by_day.len() as u64)
}

fn record(tables: &Tables, settings: &Settings, ledger: &mut Ledger) -> Result<Recorded, Unusable> {
    let deliveries = or_none(&tables.batches, |t| deliveries::read(t, settings, ledger))?;
    let diary = or_none(&tables.diary, |t| diary::read(t, settings, ledger))?;
    let (plants, layout, rows) = match (&tables.vines, &tables.counts) {
        (_, Some(counts)) => {
            let counted = counts::read(counts, settings, ledger)?;
            (Plants::Counts(counted.sheet), counted.layout, counted.rows)
        }
        (Some(vines), None) => {
            let mut planted = register::read(vines, settings, ledger)?;
            let walks = or_none(&tables.surveys, |t| walks::read(t, settings, &planted, ledger))?;
            walks::report_replants(&walks, &planted, vines, ledger);
            planted.register.walks = walks;
            (Plants::Vines(planted.register), planted.layout, planted.rows)
        }
        (None, None) => return Err(Note::new(say::NO_REGISTER, &[]).unusable("", None)),
    };
    Ok(Recorded { plants, layout, rows, deliveries, diary })
}

/// Where there is no register, a workbook that couldn't be opened is the likelier trouble.
fn no_register(error: Unusable, unopened: Option<Unusable>) -> Unusable {
    unopened.filter(|_| error.code == say::NO_REGISTER.code).unwrap_or(error)
}

/// What is read from a table, or nothing where there is none.
fn or_none<T>(
    table: &Option<Table>,
    read: impl FnOnce(&Table) -> Result<Vec<T>, Unusable>,
) -> Result<Vec<T>, Unusable> {
    table.as_ref().map_or_else(|| Ok(Vec::new()), read)
}

/// Terms for a batch that nobody planted.
fn report_claims(settings: &Settings, batches: &[String], ledger: &mut Ledger) {
    for (batch, (_, line)) in settings.terms.iter().filter(|(batch, _)| !batches.contains(batch)) {
        let known = courses::some_of(batches.iter().map(String::as_str));
        let values: [(&str, &dyn std::fmt::Display); 2] = [("batch", batch), ("known", &known)];
        ledger.find(&settings.file, *line, Note::new(say::CLAIM_FOR_UNKNOWN_BATCH, &values));
    }
}

/// Puts the block together. Options and rows to free that name what isn't there are left out, and said.
fn block(recorded: Recorded, mut settings: Settings, ledger: &mut Ledger) -> Block {
    let known = Known { layout: &recorded.layout, rows: &recorded.rows, batches: recorded.batches() };
    let courses = courses::resolve(&settings, &known, ledger);
    let undescribed = courses::undescribed(&settings, ledger);
    settings.materials.extend(undescribed);
    let (there, absent) = settings.limits.free_rows.into_iter().partition(|row| recorded.rows.index(row).is_some());
    settings.limits.free_rows = there;
    let absent: Vec<String> = absent;
    for row in &absent {
        ledger.find(&settings.file, settings.limits_line, courses::unknown_row(row, &recorded.layout));
    }
    Block {
        name: settings.name,
        currency: settings.currency,
        planted_on: settings.planted_on,
        hemisphere: settings.hemisphere,
        layout: recorded.layout,
        plants: recorded.plants,
        deliveries: recorded.deliveries,
        diary: recorded.diary,
        terms: settings.terms.into_iter().map(|(batch, (terms, _))| (batch, terms)).collect(),
        materials: settings.materials,
        courses,
        goal: settings.goal,
        limits: settings.limits,
        assumptions: settings.assumptions,
    }
}

/// The columns of every table.
const SPECS: [&Spec; 5] = [&register::SPEC, &walks::SPEC, &deliveries::SPEC, &diary::SPEC, &counts::SPEC];

fn all_columns() -> impl Iterator<Item = &'static str> {
    SPECS.into_iter().flat_map(|spec| spec.required.iter().chain(spec.optional).copied())
}

fn is_column(name: &str) -> bool {
    all_columns().any(|column| column == name)
}

/// Whether a table with declared factors has a column of this name already.
fn is_taken_by_a_column(name: &str) -> bool {
    let with_factors = SPECS.into_iter().filter(|spec| spec.factors == Factors::Here);
    with_factors.flat_map(|spec| spec.required.iter().chain(spec.optional)).any(|column| *column == name)
}
