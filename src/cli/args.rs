//! What can be asked on the command line.

use crate::base::Seed;
use crate::base::words::cli as words;
use crate::study::Settings;
use clap::{Args, Parser, Subcommand};
use jiff::civil::Date;
use std::path::PathBuf;

#[derive(Debug, Parser)]
#[command(name = "fullstand", version, about = words::ABOUT, after_help = words::AFTER_HELP)]
pub struct Cli {
    #[command(flatten)]
    pub global: Global,
    #[command(subcommand)]
    pub command: Command,
}

/// Options that every command takes.
#[derive(Args, Debug)]
pub struct Global {
    /// Print one JSON document instead of text
    #[arg(long, global = true)]
    pub json: bool,
    /// A day of the walk to look at (default: the latest walk)
    #[arg(long, global = true, value_name = "DATE")]
    pub survey: Option<Date>,
    /// Seed of everything random: the same seed gives the same bytes
    #[arg(long, global = true, value_name = "N", default_value_t = 1)]
    pub seed: u64,
    /// Level of intervals, between 0 and 1
    #[arg(long, global = true, value_name = "LEVEL", default_value_t = 0.90, value_parser = level)]
    pub level: f64,
    /// Folder for the files written (default: the block's folder)
    #[arg(long, global = true, value_name = "DIR")]
    pub out: Option<PathBuf>,
    /// Threads to use; changes no number
    #[arg(long, global = true, value_name = "N", value_parser = threads)]
    pub threads: Option<usize>,
    /// Draws of uncertain quantities; 0 shows expected values only
    #[arg(long, global = true, value_name = "N", default_value_t = 2_000, value_parser = draws)]
    pub draws: usize,
    /// Say nothing on standard error but errors
    #[arg(long, global = true)]
    pub quiet: bool,
    /// Refuse input of which any line was set aside
    #[arg(long, global = true)]
    pub strict: bool,
}

impl Global {
    pub fn settings(&self) -> Settings {
        Settings {
            seed: Seed::new(self.seed),
            level: self.level,
            draws: self.draws,
            survey: self.survey,
            ..Settings::default()
        }
    }
}

#[derive(Debug, Subcommand)]
pub enum Command {
    #[command(about = words::DEMO)]
    Demo { folder: Option<PathBuf> },
    #[command(about = words::NEW)]
    New { folder: PathBuf },
    #[command(about = words::CHECK)]
    Check { folder: PathBuf },
    #[command(about = words::RATES)]
    Rates {
        folder: PathBuf,
        /// Say how many vines and batches tell stands apart that differ by DIFF, such as 0.05
        #[arg(long, value_name = "DIFF", value_parser = difference)]
        power: Option<f64>,
        /// Take this factor for a fixed effect in `fit` (may be given again)
        #[arg(long, value_name = "FACTOR")]
        fixed: Vec<String>,
        /// Let combinations of two factors differ too, such as clone+rootstock (may be given again)
        #[arg(long, value_name = "A+B", value_parser = joined)]
        join: Vec<String>,
        /// Test each standard deviation of `fit` by N simulated sets of counts
        #[arg(long, value_name = "N", default_value_t = 0, value_parser = draws)]
        bootstrap: usize,
    },
    #[command(about = words::CAUSE)]
    Cause { folder: PathBuf },
    #[command(about = words::TRIAGE)]
    Triage { folder: PathBuf },
    #[command(about = words::OPTIONS)]
    Options { folder: PathBuf },
    #[command(about = words::ORDER)]
    Order {
        folder: PathBuf,
        /// The option to order for (default: the recommended one)
        #[arg(long, value_name = "NAME")]
        option: Option<String>,
    },
    #[command(about = words::CLAIM)]
    Claim {
        #[arg(required_unless_present = "verify")]
        folder: Option<PathBuf>,
        /// The batch the claim is about
        #[arg(long, value_name = "BATCH", required_unless_present = "verify")]
        batch: Option<String>,
        /// An evidence pack to check
        #[arg(long, value_name = "PACK")]
        verify: Option<PathBuf>,
    },
    #[command(about = words::SAMPLE)]
    Sample { folder: PathBuf },
    #[command(about = words::PLAN)]
    Plan { folder: PathBuf },
    #[command(about = words::DUE)]
    Due { folder: PathBuf },
    #[command(about = words::COUNTS)]
    Counts { folder: PathBuf },
    #[command(about = words::ASSUMPTIONS)]
    Assumptions { folder: Option<PathBuf> },
    #[command(about = words::REPORT)]
    Report { folder: PathBuf },
}

fn joined(text: &str) -> Result<String, String> {
    match text.split_once('+') {
        Some((a, b)) if !a.is_empty() && !b.is_empty() && a != b && !b.contains('+') => Ok(text.to_string()),
        _ => Err("two factors joined by +, such as clone+rootstock".into()),
    }
}

fn level(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(level) if level > 0.0 && level < 1.0 => Ok(level),
        _ => Err("a number between 0 and 1, such as 0.90".into()),
    }
}

fn difference(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(difference) if difference > 0.0 && difference < 1.0 => Ok(difference),
        _ => Err("a difference between 0 and 1, such as 0.05".into()),
    }
}

fn threads(text: &str) -> Result<usize, String> {
    within(text, 1, 1_024)
}

fn draws(text: &str) -> Result<usize, String> {
    within(text, 0, 1_000_000)
}

fn within(text: &str, least: usize, most: usize) -> Result<usize, String> {
    match text.parse::<usize>() {
        Ok(n) if (least..=most).contains(&n) => Ok(n),
        _ => Err(format!("a whole number from {least} to {most}")),
    }
}
