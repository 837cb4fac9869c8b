//! Prints how far the odds that `cause` states come true, on blocks of known cause.
//!
//! `cargo run --release --example calibration -- --blocks 3000 --scenes 3600 --seed 1 --keep DIR > docs/calibration-cause.md`
//! draws blocks from the prior that the model states, and scenes that growers know; keeps each as a block folder with
//! `truth.json` and `cause.json` beside its tables; and reads them back as the command line does, so that
//! `fullstand cause DIR/prior-00000 --json` prints the same bytes. Only the times differ from run to run.

mod study;

use clap::Parser;
use std::path::PathBuf;
use std::process::ExitCode;

/// Calibrate the odds of `cause` on blocks of known cause.
#[derive(Parser)]
struct Arguments {
    /// Blocks drawn from the stated prior.
    #[arg(long, default_value_t = 300)]
    blocks: u64,
    /// Blocks drawn of hand-made scenes, in turn.
    #[arg(long, default_value_t = 0)]
    scenes: u64,
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Keep the block folders here; else they are written, read and forgotten.
    #[arg(long)]
    keep: Option<PathBuf>,
    /// Vines of the smallest and largest block from the prior.
    #[arg(long, num_args = 2, default_values_t = [200, 2_000])]
    prior_vines: Vec<u32>,
    /// Vines of the smallest and largest scene.
    #[arg(long, num_args = 2, default_values_t = [200, 10_000])]
    scene_vines: Vec<u32>,
    /// Work out the best possible verdicts on scenes beside the program's.
    #[arg(long)]
    ceiling: bool,
    /// Take no times: then the page is the same in every run.
    #[arg(long)]
    no_times: bool,
}

fn main() -> ExitCode {
    let asked = Arguments::parse();
    let range = |vines: &[u32]| (vines[0], vines[1]); // clap holds the number of values
    let plan = study::Plan {
        blocks: asked.blocks,
        scenes: asked.scenes,
        seed: asked.seed,
        keep: asked.keep,
        prior_vines: range(&asked.prior_vines),
        scene_vines: range(&asked.scene_vines),
        times: if asked.no_times { study::Times::Left } else { study::Times::Taken },
        ceiling: if asked.ceiling { study::Ceiling::Sought } else { study::Ceiling::Left },
    };
    match study::run(&plan) {
        Ok(study) => {
            print!("{}", study::page(&study));
            ExitCode::SUCCESS
        }
        Err(trouble) => {
            eprintln!("{trouble}");
            ExitCode::FAILURE
        }
    }
}
