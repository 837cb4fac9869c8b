//! Draws: every option followed through the same futures.

use super::path::{Path, Priced, Score, run, score};
use super::plan::Plan;
use super::values::{Model, Values};
use crate::base::Seed;
use rayon::prelude::*;

/// Draws of one piece of work: fixed, so that the number of threads changes nothing.
const CHUNK: usize = 250;

/// A plan with what is known of its crop.
pub struct Entry {
    pub plan: Plan,
    pub priced: Priced,
}

/// What came of all draws.
pub struct Outcome {
    /// Mean path of each option.
    pub paths: Vec<Path>,
    /// Scores by option, then draw; one score of the expected path where nothing was drawn.
    pub scores: Vec<Vec<Score>>,
}

/// Follows every plan through `draws` futures, or along the expected path where `draws` is 0.
pub fn follow(entries: &[Entry], model: &Model, expected: &Values, draws: usize, seed: Seed) -> Outcome {
    if draws == 0 {
        return futures(entries, model, std::iter::once(expected.clone()));
    }
    let chunks: Vec<usize> = (0..draws).step_by(CHUNK).collect();
    let parts: Vec<Outcome> = chunks
        .par_iter()
        .map(|start| {
            let draw = |d: usize| model.drawn(expected, seed, d as u64);
            futures(entries, model, (*start..draws.min(start + CHUNK)).map(draw))
        })
        .collect();
    let mut all = Outcome::empty(entries.len(), expected.years);
    parts.into_iter().for_each(|part| all.take_in(part));
    all.paths.iter_mut().for_each(|p| p.divide(draws as f64));
    all
}

/// Sums of paths, and scores, over some sets of values.
fn futures(entries: &[Entry], model: &Model, values: impl Iterator<Item = Values>) -> Outcome {
    let mut paths: Vec<Option<Path>> = vec![None; entries.len()];
    let mut scores = vec![Vec::new(); entries.len()];
    for v in values {
        for ((entry, sum), scores) in entries.iter().zip(&mut paths).zip(&mut scores) {
            let path = run(&entry.plan, &v, &model.deliveries, entry.priced);
            scores.push(score(&path, &v, entry.priced));
            match sum {
                Some(sum) => sum.add(&path),
                None => *sum = Some(path),
            }
        }
    }
    Outcome { paths: paths.into_iter().map(Option::unwrap_or_default).collect(), scores }
}

impl Outcome {
    fn empty(options: usize, years: usize) -> Self {
        Outcome { paths: vec![Path::zeros(years); options], scores: vec![Vec::new(); options] }
    }

    fn take_in(&mut self, part: Outcome) {
        self.paths.iter_mut().zip(&part.paths).for_each(|(sum, path)| sum.add(path));
        self.scores.iter_mut().zip(part.scores).for_each(|(all, some)| all.extend(some));
    }
}
