//! The study: blocks drawn, asked about, and their answers held against the truth. Computes and prints nothing.

pub mod ceiling;
mod page;
pub mod reliability;
pub mod share;
pub mod trial;
pub mod verdicts;

pub use page::page;

use rayon::prelude::*;
use std::path::{Path, PathBuf};
use trial::{Kind, Trial};

/// What is asked for.
#[derive(Clone, Debug)]
pub struct Plan {
    pub blocks: u64,
    pub scenes: u64,
    pub seed: u64,
    pub keep: Option<PathBuf>,
    pub prior_vines: (u32, u32),
    pub scene_vines: (u32, u32),
    pub times: Times,
    pub ceiling: Ceiling,
}

/// Whether the best possible verdict on scenes is worked out beside the program's.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ceiling {
    Sought,
    Left,
}

/// Whether some blocks are asked about once more, each alone, for the time it takes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Times {
    Taken,
    Left,
}

/// The blocks and what was said of them, in the order drawn.
#[derive(Debug)]
pub struct Study {
    pub plan: Plan,
    pub prior: Vec<Trial>,
    pub scenes: Vec<Trial>,
    /// (vines, seconds) of blocks asked about alone.
    pub times: Vec<(usize, f64)>,
}

/// Draws and asks. Blocks are independent of each other and of the number of threads.
///
/// Errors: a folder can't be written, or isn't read as it was written.
pub fn run(plan: &Plan) -> Result<Study, String> {
    let kinds = |n: u64, kind: fn(u64, &Plan) -> Kind| (0..n).map(|i| kind(i, plan)).collect::<Vec<_>>();
    let forgotten = tempfile::tempdir().map_err(|e| e.to_string())?;
    let root = plan.keep.as_deref().unwrap_or(forgotten.path());
    let ask = |kinds: Vec<Kind>| -> Result<Vec<Trial>, String> {
        let one = |kind: &Kind| {
            let folder = root.join(kind.folder());
            let trial = Trial::of(kind, plan.seed, &folder, plan.ceiling);
            if plan.keep.is_none() {
                let _ = std::fs::remove_dir_all(&folder); // one left behind goes with the folder above it
            }
            trial
        };
        kinds.par_iter().map(one).collect()
    };
    let prior = ask(kinds(plan.blocks, |i, plan| Kind::prior(i, plan.prior_vines)))?;
    let scenes = ask(kinds(plan.scenes, |i, plan| Kind::scene(i, plan.scene_vines)))?;
    let times = match plan.times {
        Times::Taken => times(plan, prior.iter().chain(&scenes), root)?,
        Times::Left => Vec::new(),
    };
    Ok(Study { plan: plan.clone(), prior, scenes, times })
}

/// Upper ends of the classes by size.
pub const SIZES: [usize; 5] = [500, 1_000, 2_000, 5_000, usize::MAX];
const TIMED_OF_EACH: usize = 5;

/// Asks about the first few blocks of each size again, each alone: in the run itself blocks share the cores.
fn times<'a>(plan: &Plan, trials: impl Iterator<Item = &'a Trial>, root: &Path) -> Result<Vec<(usize, f64)>, String> {
    let mut of_class = [0; SIZES.len()];
    let mut times = Vec::new();
    for trial in trials {
        let class = SIZES.iter().position(|end| trial.vines <= *end).unwrap_or(0);
        if of_class[class] < TIMED_OF_EACH {
            of_class[class] += 1;
            times.push((trial.vines, Trial::of(&trial.kind, plan.seed, &root.join("timed"), Ceiling::Left)?.seconds));
        }
    }
    let _ = std::fs::remove_dir_all(root.join("timed"));
    Ok(times)
}
