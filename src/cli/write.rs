//! The commands that write files.

use super::args::Global;
use super::failure::Failure;
use super::question::{self, Asked};
use crate::base::words::{cli as words, fill};
use crate::base::{Documented, Header, Known, document};
use crate::intake::{self, Folder, Reading};
use crate::study::Study;
use crate::{report, simulate};
use serde::Serialize;
use std::path::{Path, PathBuf};

const DEMO_FOLDER: &str = "fullstand-demo";
const DEMO_MARK: &str = "README.txt";
const REPORT: &str = "report.html";
const SET_ASIDE: &str = "set-aside.csv";

/// Documents that list the files written.
#[derive(Serialize)]
struct Files<const KIND: char> {
    files: Vec<String>,
}

impl Documented for Files<'d'> {
    const SCHEMA: &'static str = "demo";
}
impl Documented for Files<'n'> {
    const SCHEMA: &'static str = "new";
}
impl Documented for Files<'r'> {
    const SCHEMA: &'static str = "report";
}

/// Writes the demo block and its report, and says the one screen.
pub fn demo(folder: Option<&Path>, global: &Global) -> Result<String, Failure> {
    let parent = global.out.clone().unwrap_or_default();
    let folder = parent.join(folder.unwrap_or(Path::new(DEMO_FOLDER)));
    let taken = folder.exists() && !folder.join(DEMO_MARK).exists() && !is_empty(&folder);
    if taken {
        let message = fill(words::NOT_THE_DEMO, &[("folder", &folder.display())]);
        return Err(Failure::cannot("not_the_demo", message, words::NOT_THE_DEMO_HINT.into()));
    }
    let mut written = Vec::new();
    for (name, text) in &simulate::demo().files {
        written.push(write(&folder, name, text)?);
    }
    let study = study(&folder, global)?;
    let page = write(&folder, REPORT, &report::html(std::slice::from_ref(&study)))?;
    written.push(page.clone());
    Ok(match global.json {
        true => listed::<'d'>(&study.header(), &written),
        false => screen_and_path(&study, &page),
    })
}

/// Starts a block folder.
pub fn new(folder: &Path, global: &Global) -> Result<String, Failure> {
    let folder = global.out.clone().unwrap_or_default().join(folder);
    let written = intake::start(&folder, &intake::StartConfig::default())?;
    let name = folder.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
    let settings = global.settings();
    let header = Header { block: name, surveyed_on: None, seed: settings.seed, level: settings.level };
    Ok(match global.json {
        true => listed::<'n'>(&header, &written),
        false => written.iter().map(|f| fill(words::WRITTEN, &[("file", &f.display())]) + "\n").collect(),
    })
}

/// Writes the report of a block or an estate.
pub fn report(folder: &Path, global: &Global) -> Result<String, Failure> {
    let (name, folders) = match intake::find(folder)? {
        Folder::Block(folder) => (None, vec![folder]),
        Folder::Estate(name, folders) => (Some(name), folders),
    };
    let of_block = |f: &PathBuf| study(f, global).map_err(|e| if name.is_some() { e.in_block(f) } else { e });
    let studies = folders.iter().map(of_block).collect::<Result<Vec<_>, _>>()?;
    let page = write(global.out.as_deref().unwrap_or(folder), REPORT, &report::html(&studies))?;
    if !global.json {
        return Ok(studies.iter().map(|s| screen_and_path(s, &page)).collect());
    }
    let one = |s: &Study| document(&s.header(), &Files::<'r'> { files: vec![page.display().to_string()] });
    Ok(match name {
        None => studies.first().map(|s| super::pretty(&one(s))).unwrap_or_default(),
        Some(estate) => {
            let absent = Known::absent(words::NOT_POOLED, words::NOT_POOLED_HELP);
            super::pretty(&question::estate_document(&estate, studies.iter().map(one).collect(), absent))
        }
    })
}

/// What was read; the lines set aside go to a file too.
pub fn check(folder: &Path, global: &Global) -> Result<String, Failure> {
    match intake::find(folder)? {
        Folder::Block(block) => {
            let to = global.out.as_deref().unwrap_or(&block);
            write_set_aside(&intake::read(&block)?, to, global)?;
        }
        Folder::Estate(_, blocks) => blocks.iter().try_for_each(|block| {
            let reading = intake::read(block).map_err(|e| Failure::from(e).in_block(block))?;
            write_set_aside(&reading, &place_in_estate(block, global), global)
        })?,
    }
    match global.json {
        true => question::documents(&question::CHECK, folder, global, &Asked::default()).map(|d| super::pretty(&d)),
        false => question::texts(&question::CHECK, folder, global, &Asked::default()),
    }
}

/// Where the files of a block of an estate go: its own folder, or one of its name below `--out`.
fn place_in_estate(block: &Path, global: &Global) -> PathBuf {
    match &global.out {
        None => block.into(),
        Some(out) => out.join(block.file_name().unwrap_or_default()),
    }
}

/// Lines set aside are written to `to`; an older file is brought up to date.
fn write_set_aside(reading: &Reading, to: &Path, global: &Global) -> Result<(), Failure> {
    if reading.set_aside.is_empty() && !to.join(SET_ASIDE).exists() {
        return Ok(());
    }
    let file = write(to, SET_ASIDE, &intake::set_aside_csv(&reading.set_aside))?;
    if !global.quiet && !reading.set_aside.is_empty() {
        eprintln!("{}", fill(words::SET_ASIDE_NOTE, &[("n", &reading.set_aside.len()), ("file", &file.display())]));
    }
    Ok(())
}

fn study(folder: &Path, global: &Global) -> Result<Study, Failure> {
    let reading = question::read(folder, global)?;
    Study::run(reading.clone(), global.settings()).map_err(|e| question::no_tally(&e, &reading))
}

fn screen_and_path(study: &Study, page: &Path) -> String {
    format!("{}\n{}\n", report::screen(study, width()), fill(words::OPEN_REPORT, &[("file", &page.display())]))
}

fn listed<const KIND: char>(header: &Header, files: &[PathBuf]) -> String
where
    Files<KIND>: Documented,
{
    let files = files.iter().map(|f| f.display().to_string()).collect();
    super::pretty(&document(header, &Files::<KIND> { files }))
}

/// Writes a file, making its folder; a symbolic link in its place is not followed.
fn write(folder: &Path, name: &str, text: &str) -> Result<PathBuf, Failure> {
    let file = folder.join(name);
    let failed = |e: std::io::Error| Failure::not_written(&file, &e);
    std::fs::create_dir_all(folder).map_err(failed)?;
    if file.is_symlink() {
        std::fs::remove_file(&file).map_err(failed)?;
    }
    std::fs::write(&file, text).map_err(failed)?;
    Ok(file)
}

fn is_empty(folder: &Path) -> bool {
    std::fs::read_dir(folder).is_ok_and(|mut entries| entries.next().is_none())
}

/// Columns of the terminal, within what is comfortable to read.
pub fn width() -> usize {
    terminal_size::terminal_size().map_or(100, |(w, _)| usize::from(w.0)).clamp(60, 120)
}
