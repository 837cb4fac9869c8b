//! Tables in, (block, findings) out. Nothing above it validates again.

use crate::base::{Documented, Finding};
use crate::block::Block;
use serde::Serialize;
use std::path::{Path, PathBuf};

/// A folder read: the block, what was noticed, the lines that couldn't be used.
#[derive(Clone, Debug)]
pub struct Reading {
    pub block: Block,
    pub check: Check,
    pub set_aside: Vec<SetAside>,
}

/// The document `check`.
#[derive(Clone, Debug, Default, Serialize)]
pub struct Check {
    pub files: Vec<FileCount>,
    pub findings: Vec<Finding>,
    pub vines: u64,
    pub places: u64,
    pub walks: u64,
}

/// Lines of a table, its heading not counted: `lines = used + set_aside + blank`.
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
    pub file: String,
    pub line: u64,
    pub reason: String,
    pub hint: String,
    /// The line's cells.
    pub cells: Vec<String>,
}

impl Documented for Check {
    const SCHEMA: &'static str = "check";
}

/// Input that can't be used at all: exit status 3.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{file}{}: {message}", line.map(|l| format!(":{l}")).unwrap_or_default())]
pub struct Unusable {
    /// Code of the kind, such as `no_block_toml`.
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

/// What kind of folder this is.
pub fn find(folder: &Path) -> Result<Folder, Unusable> {
    let _ = folder;
    todo!()
}

/// Reads a block folder.
pub fn read(folder: &Path) -> Result<Reading, Unusable> {
    let _ = folder;
    todo!()
}
