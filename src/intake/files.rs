//! Which file of a folder holds which table.

use super::decode::decode;
use super::ledger::{Ledger, Note};
use super::table::Table;
use super::workbook::{self, Workbook};
use super::{Folder, Unusable, delimited, parquet};
use crate::base::label::natural;
use crate::base::words::intake as say;
use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

/// The largest file that is read, in GiB and in bytes.
const MOST_GIB: u64 = 4;
const MOST_BYTES: u64 = MOST_GIB << 30;
/// The tables of a block folder, in the order in which they are accounted for.
pub(super) const TABLES: [&str; 5] = ["vines", "surveys", "batches", "diary", "counts"];
const BLOCK: &str = "block";
const BLOCK_WORKBOOK: &str = "block.xlsx";

/// What kind of folder this is.
pub(super) fn find(folder: &Path) -> Result<Folder, Unusable> {
    if Files::list(folder)?.holds_a_block() {
        return Ok(Folder::Block(folder.into()));
    }
    let mut blocks: Vec<(String, PathBuf)> = Vec::new();
    for entry in fs::read_dir(folder).map_err(|_| not_a_folder(folder))?.flatten() {
        let (name, path) = (entry.file_name().to_string_lossy().into_owned(), entry.path());
        let is_block = || Files::list(&path).is_ok_and(|files| files.holds_a_block());
        if !name.starts_with('.') && path.is_dir() && is_block() {
            blocks.push((name, path));
        }
    }
    blocks.sort_by(|a, b| natural(&a.0, &b.0));
    if blocks.is_empty() {
        return Err(no_block(folder));
    }
    Ok(Folder::Estate(folder_name(folder), blocks.into_iter().map(|b| b.1).collect()))
}

/// The folder's own name, also where it is given as `.`.
pub(super) fn folder_name(folder: &Path) -> String {
    let full = fs::canonicalize(folder).unwrap_or_else(|_| folder.into());
    full.file_name().unwrap_or(folder.as_os_str()).to_string_lossy().into_owned()
}

fn not_a_folder(folder: &Path) -> Unusable {
    Note::new(say::NOT_A_FOLDER, &[("folder", &folder.display())]).unusable("", None)
}

pub(super) fn no_block(folder: &Path) -> Unusable {
    Note::new(say::NO_BLOCK_TOML, &[("folder", &folder.display())]).unusable("block.toml", None)
}

/// Where a table stands.
enum Place {
    Csv(String),
    Parquet(String),
    /// A workbook that holds this table only.
    Workbook(String),
    /// A sheet of the folder's workbook.
    Sheet(String),
}

/// The files of a folder.
pub(super) struct Files {
    folder: PathBuf,
    /// Name in lower case to the name as written.
    names: BTreeMap<String, String>,
    /// The workbook that holds several tables, once it is opened.
    workbook: Option<Workbook>,
    /// Why the workbook that might have held tables couldn't be opened.
    pub unopened: Option<Unusable>,
}

impl Files {
    pub fn list(folder: &Path) -> Result<Self, Unusable> {
        let entries = fs::read_dir(folder).map_err(|_| not_a_folder(folder))?;
        let files = entries.flatten().filter(|e| e.path().is_file());
        let names = files.map(|e| e.file_name().to_string_lossy().into_owned());
        let names = names.map(|n| (n.to_lowercase(), n)).collect();
        Ok(Files { folder: folder.into(), names, workbook: None, unopened: None })
    }

    /// Opens the workbook that may hold several tables; one that isn't called block.xlsx may fail to open.
    pub fn open_workbook(&mut self, ledger: &mut Ledger) -> Result<(), Unusable> {
        match &self.workbooks()[..] {
            [] => {}
            [only] => match self.bytes(only).and_then(|bytes| Workbook::open(only, bytes)) {
                Ok(workbook) => self.workbook = Some(workbook),
                Err(error) if only.eq_ignore_ascii_case(BLOCK_WORKBOOK) => return Err(error),
                Err(error) => {
                    ledger.find(only, 0, Note::new(say::WORKBOOK_UNREADABLE, &[("why", &error.message)]));
                    self.unopened = Some(error);
                }
            },
            several => ledger.find("", 0, Note::new(say::WORKBOOKS_NOT_READ, &[("names", &several.join(", "))])),
        }
        Ok(())
    }

    /// block.xlsx, or else every workbook that isn't called after one table; lock files don't count.
    fn workbooks(&self) -> Vec<String> {
        if let Some(name) = self.names.get(BLOCK_WORKBOOK) {
            return vec![name.clone()];
        }
        let is_one = |lower: &str| {
            let stem = lower.strip_suffix(".xlsx").filter(|stem| !stem.starts_with("~$"));
            stem.is_some_and(|stem| !TABLES.contains(&stem))
        };
        self.names.iter().filter(|(lower, _)| is_one(lower)).map(|(_, name)| name.clone()).collect()
    }

    /// Whether block.toml is here in one of its forms.
    pub fn holds_a_block(mut self) -> bool {
        if self.names.contains_key("block.toml") || self.names.contains_key(BLOCK_WORKBOOK) {
            return true;
        }
        let opened = self.open_workbook(&mut Ledger::default()).is_ok();
        opened && self.workbook.is_some_and(|w| w.sheet_named(BLOCK).is_some())
    }

    /// Name and text of block.toml.
    pub fn block(&mut self, ledger: &mut Ledger) -> Result<(String, String), Unusable> {
        let sheet = self.workbook.as_ref().and_then(|w| w.sheet_named(BLOCK));
        let Some(name) = self.names.get("block.toml").cloned() else {
            let (Some(sheet), Some(workbook)) = (sheet, &mut self.workbook) else {
                return Err(no_block(&self.folder));
            };
            let name = sheet_name(&workbook.file, BLOCK);
            return Ok((name.clone(), workbook::block_text(&workbook.table(&sheet, &name)?)));
        };
        if let (Some(_), Some(workbook)) = (sheet, &self.workbook) {
            return Err(two_sources(BLOCK, &name, &workbook.file));
        }
        let text = self.text(&name, ledger)?;
        Ok((name, text))
    }

    /// A table by its name; none where no file holds it.
    pub fn table(&mut self, table: &str, ledger: &mut Ledger) -> Result<Option<Table>, Unusable> {
        let mut places = self.places(table);
        let place = places.pop();
        if let (Some(first), Some(second)) = (places.pop(), &place) {
            return Err(two_sources(table, &self.describe(&first), &self.describe(second)));
        }
        place.map(|place| self.read(table, place, ledger)).transpose()
    }

    /// Whether any file holds this table.
    pub fn has(&self, table: &str) -> bool {
        !self.places(table).is_empty()
    }

    fn places(&self, table: &str) -> Vec<Place> {
        let file = |extension: &str| self.names.get(&format!("{table}.{extension}")).cloned();
        let sheet = self.workbook.as_ref().and_then(|w| w.sheet_named(table));
        let places = [
            file("csv").map(Place::Csv),
            file("parquet").map(Place::Parquet),
            file("xlsx").map(Place::Workbook),
            sheet.map(Place::Sheet),
        ];
        places.into_iter().flatten().collect()
    }

    fn describe(&self, place: &Place) -> String {
        match place {
            Place::Csv(name) | Place::Parquet(name) | Place::Workbook(name) => name.clone(),
            Place::Sheet(sheet) => sheet_name(self.workbook.as_ref().map_or("", |w| &w.file), sheet),
        }
    }

    fn read(&mut self, table: &str, place: Place, ledger: &mut Ledger) -> Result<Table, Unusable> {
        let name = self.describe(&place);
        match place {
            Place::Csv(file) => Ok(delimited::read(&name, &self.text(&file, ledger)?)),
            Place::Parquet(file) => {
                self.check_size(&file)?;
                let source = fs::File::open(self.folder.join(&file));
                parquet::read(&name, source.map_err(|e| workbook::unreadable(&file, &e.to_string()))?)
            }
            Place::Workbook(file) => {
                let mut workbook = Workbook::open(&file, self.bytes(&file)?)?;
                let sheet = workbook.sheet_named(table).or_else(|| workbook.first_sheet()).unwrap_or_default();
                workbook.table(&sheet, &name)
            }
            Place::Sheet(sheet) => match &mut self.workbook {
                Some(workbook) => workbook.table(&sheet, &name),
                None => Ok(Table::default()),
            },
        }
    }

    fn text(&self, name: &str, ledger: &mut Ledger) -> Result<String, Unusable> {
        let decoded = decode(self.bytes(name)?);
        if let Some(line) = decoded.mixed_from {
            ledger.find(name, line, Note::new(say::MIXED_ENCODING, &[]));
        }
        Ok(decoded.text)
    }

    fn bytes(&self, name: &str) -> Result<Vec<u8>, Unusable> {
        self.check_size(name)?;
        fs::read(self.folder.join(name)).map_err(|e| workbook::unreadable(name, &e.to_string()))
    }

    fn check_size(&self, name: &str) -> Result<(), Unusable> {
        let size = fs::metadata(self.folder.join(name)).map_or(0, |m| m.len());
        if size <= MOST_BYTES {
            return Ok(());
        }
        Err(Note::new(say::TOO_LARGE, &[("limit", &MOST_GIB)]).unusable(name, None))
    }
}

fn two_sources(table: &str, first: &str, second: &str) -> Unusable {
    let values: [(&str, &dyn std::fmt::Display); 3] = [("table", &table), ("first", &first), ("second", &second)];
    Note::new(say::TWO_SOURCES, &values).unusable(second, None)
}

/// How messages call a sheet of the folder's workbook.
fn sheet_name(file: &str, sheet: &str) -> String {
    format!("{file}:{sheet}")
}
