//! A new block folder: block.toml with examples, tables with headings, and a sheet to carry through the rows.

use super::columns::Spec;
use super::files::{Files, folder_name};
use super::ledger::{Ledger, Note};
use super::walk_sheet::{SheetRow, walk_sheet};
use super::{Unusable, deliveries, diary, register, walks, workbook};
use crate::base::words::intake as say;
use crate::block::{Block, PlantingOrder};
use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};

/// What the sheets show where the folder doesn't say yet which rows there are.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StartConfig {
    /// Rows, labelled from 1; one page each.
    pub rows: u32,
    /// Places of each row.
    pub places: u32,
}

impl Default for StartConfig {
    fn default() -> Self {
        StartConfig { rows: 10, places: 45 }
    }
}

/// Writes what a block folder lacks, never over an existing file, and returns the files written.
///
/// The sheets show the rows of the block if the folder holds one that can be read, else those of `config`.
///
/// Errors: the folder or a file can't be written.
pub fn start(folder: &Path, config: &StartConfig) -> Result<Vec<PathBuf>, Unusable> {
    fs::create_dir_all(folder).map_err(|e| cannot_write(folder, &e))?;
    let block = super::read(folder).ok().map(|r| r.block);
    let name = block.as_ref().map_or_else(|| folder_name(folder), |b| b.name.clone());
    let rows = block.as_ref().map(rows_of).filter(|rows| !rows.is_empty()).unwrap_or_else(|| blank_rows(config));
    let mut wanted = missing_tables(folder, &name)?;
    wanted.push(("walk-sheet.html", walk_sheet(&name, &rows)));
    let mut written = Vec::new();
    for (file, text) in wanted {
        written.extend(write_new(folder.join(file), &text)?);
    }
    Ok(written)
}

/// The tables that no file of the folder holds. A folder of counts needs neither vines nor walks.
fn missing_tables(folder: &Path, name: &str) -> Result<Vec<(&'static str, String)>, Unusable> {
    let mut files = Files::list(folder)?;
    let mut ledger = Ledger::default();
    files.open_workbook(&mut ledger)?;
    let mut missing = Vec::new();
    if files.block(&mut ledger).is_err_and(|e| e.code == say::NO_BLOCK_TOML.code) {
        missing.push(("block.toml", say::NEW_BLOCK_TOML.replace("\"{name}\"", &workbook::quoted(name))));
    }
    let tables: [(&str, &str, &Spec, bool); 4] = [
        ("vines", "vines.csv", &register::SPEC, !files.has("counts")),
        ("surveys", "surveys.csv", &walks::SPEC, !files.has("counts")),
        ("batches", "batches.csv", &deliveries::SPEC, true),
        ("diary", "diary.csv", &diary::SPEC, true),
    ];
    let lacking = tables.iter().filter(|(table, _, _, needed)| *needed && !files.has(table));
    missing.extend(lacking.map(|(_, file, spec, _)| (*file, heading(spec))));
    Ok(missing)
}

fn heading(spec: &Spec) -> String {
    let names: Vec<&str> = spec.required.iter().chain(spec.optional).copied().collect();
    names.join(",") + "\n"
}

/// The rows of a block: walked up one and down the next, unless every row was planted from position 1.
fn rows_of(block: &Block) -> Vec<SheetRow> {
    let turns = usize::from(block.layout.planted != PlantingOrder::SameEnd);
    let rows = block.layout.rows.iter().enumerate().filter(|(_, row)| row.places > 0);
    rows.map(|(i, row)| SheetRow {
        label: row.label.clone(),
        positions: in_walking_order(row.places, i * turns),
        posts: row.no_vine.clone(),
    })
    .collect()
}

fn blank_rows(config: &StartConfig) -> Vec<SheetRow> {
    let row = |i: usize| SheetRow {
        label: (i + 1).to_string(),
        positions: in_walking_order(config.places, i),
        posts: Vec::new(),
    };
    (0..config.rows as usize).map(row).collect()
}

/// Positions from 1 on even passes, from the far end on odd ones.
fn in_walking_order(places: u32, pass: usize) -> Vec<u32> {
    let mut positions: Vec<u32> = (1..=places).collect();
    if pass % 2 == 1 {
        positions.reverse();
    }
    positions
}

/// Writes a file that isn't there yet; none where it is.
fn write_new(path: PathBuf, text: &str) -> Result<Option<PathBuf>, Unusable> {
    match fs::OpenOptions::new().write(true).create_new(true).open(&path) {
        Err(e) if e.kind() == std::io::ErrorKind::AlreadyExists => Ok(None),
        Err(e) => Err(cannot_write(&path, &e)),
        Ok(mut file) => match file.write_all(text.as_bytes()) {
            Ok(()) => Ok(Some(path)),
            Err(e) => Err(cannot_write(&path, &e)),
        },
    }
}

fn cannot_write(path: &Path, error: &std::io::Error) -> Unusable {
    let file = path.display();
    let values: [(&str, &dyn std::fmt::Display); 2] = [("file", &file), ("why", error)];
    Note::new(say::CANNOT_WRITE, &values).unusable(&file.to_string(), None)
}
