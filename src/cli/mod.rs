//! Files, clock, terminal. Holds no formula.
//!
//! `args` says what can be asked, `question` answers with a document, `write` makes files, `failure` is every
//! way to end without an answer.

mod args;
mod failure;
mod question;
mod write;

use crate::rates::ModelConfig;
use args::{Cli, Command};
use clap::Parser;
use failure::Failure;
use question::{Asked, Question};
use std::io::Write;
use std::path::Path;
use std::process::ExitCode;

/// Runs the program on the process's arguments.
pub fn main() -> ExitCode {
    let cli = Cli::parse();
    set_threads(cli.global.threads);
    match run(&cli) {
        Ok(text) => {
            print(&text);
            ExitCode::SUCCESS
        }
        Err(failure) => {
            if cli.global.json {
                print(&pretty(&failure.document()));
            } else {
                eprintln!("{failure}");
            }
            ExitCode::from(failure.status())
        }
    }
}

/// What goes to standard output.
fn run(cli: &Cli) -> Result<String, Failure> {
    let global = &cli.global;
    match &cli.command {
        Command::Demo { folder } => write::demo(folder.as_deref(), global),
        Command::New { folder } => write::new(folder, global),
        Command::Report { folder } => write::report(folder, global),
        Command::Check { folder } => write::check(folder, global),
        Command::Rates { folder, power, fixed, join, bootstrap } => {
            let model = ModelConfig { fixed: fixed.clone(), joined: join.clone(), bootstrap: *bootstrap };
            answer(&question::RATES, folder, global, Asked { power: *power, model, ..Asked::default() })
        }
        Command::Cause { folder } => answer(&question::CAUSE, folder, global, Asked::default()),
        Command::Triage { folder } => answer(&question::TRIAGE, folder, global, Asked::default()),
        Command::Options { folder } => answer(&question::OPTIONS, folder, global, Asked::default()),
        Command::Order { folder, option } => {
            answer(&question::ORDER, folder, global, Asked { option: option.clone(), ..Asked::default() })
        }
        Command::Claim { verify: Some(pack), .. } => Err(Failure::no_pack(pack)),
        Command::Claim { folder: Some(folder), batch: Some(batch), .. } => {
            answer(&question::CLAIM, folder, global, Asked { batch: Some(batch.clone()), ..Asked::default() })
        }
        Command::Claim { .. } => Err(Failure::no_pack(Path::new(""))),
        Command::Sample { folder } => answer(&question::SAMPLE, folder, global, Asked::default()),
        Command::Plan { folder } => answer(&question::PLAN, folder, global, Asked::default()),
        Command::Due { folder } => answer(&question::DUE, folder, global, Asked::default()),
        Command::Counts { folder } => answer(&question::COUNTS, folder, global, Asked::default()),
        Command::Assumptions { folder: Some(folder) } => {
            answer(&question::ASSUMPTIONS, folder, global, Asked::default())
        }
        Command::Assumptions { folder: None } => question::default_assumptions(global),
    }
}

/// One question, of a block or of every block of an estate.
fn answer(question: &Question, folder: &Path, global: &args::Global, asked: Asked) -> Result<String, Failure> {
    if global.json {
        question::documents(question, folder, global, &asked).map(|d| pretty(&d))
    } else {
        question::texts(question, folder, global, &asked)
    }
}

fn pretty(document: &serde_json::Value) -> String {
    let mut text = serde_json::to_string_pretty(document).unwrap_or_default();
    text.push('\n');
    text
}

/// Writes to standard output; a reader who has gone away is no error.
fn print(text: &str) {
    let mut out = std::io::stdout().lock();
    let _ = out.write_all(text.as_bytes()).and_then(|()| out.flush());
}

fn set_threads(threads: Option<usize>) {
    if let Some(n) = threads {
        // Fails only if a pool exists already, which at this point it doesn't.
        let _ = rayon::ThreadPoolBuilder::new().num_threads(n).build_global();
    }
}
