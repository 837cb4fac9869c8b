//! Verdicts held against the truth, and where probability goes astray.

use super::reliability::Stated;
use super::share::Share;
use super::trial::Trial;
use std::collections::BTreeMap;

pub const CANNOT_TELL: &str = "cannot_tell";

/// Whether an explanation or verdict holds a batch.
pub fn names_batch(name: &str) -> bool {
    name.split('+').any(|single| single == "batch")
}

/// Whether the truth is a batch that was planted in one go: what goes with the planting order explains the same vines.
pub fn is_aliased(trial: &Trial) -> bool {
    trial.in_one_go && names_batch(&trial.truth)
}

/// Whether the answer says so: it can't tell a batch from what else explains its vines.
pub fn is_told_as_aliased(trial: &Trial) -> bool {
    let among = |name: &str| trial.cannot_tell_between.iter().any(|n| n == name);
    let verdict_is_open = trial.verdict.as_deref() == Some(CANNOT_TELL);
    verdict_is_open && among("batch") && ["row", "place", "order"].into_iter().any(among)
}

pub fn is_right(trial: &Trial) -> bool {
    trial.verdict.as_ref() == Some(&trial.truth)
}

/// The most probable explanation, whatever the verdict.
pub fn likeliest(trial: &Trial) -> Option<&str> {
    trial.explanations.iter().max_by(|a, b| a.2.total_cmp(&b.2)).map(|e| e.0.as_str())
}

/// Whether a batch is named where none is to blame.
pub fn accuses_wrongly(trial: &Trial) -> bool {
    trial.verdict.as_deref().is_some_and(names_batch) && !names_batch(&trial.truth)
}

/// What became of the blocks of one kind.
#[derive(Clone, Debug, Default)]
pub struct Verdicts {
    pub right: Share,
    pub cannot_tell: Share,
    /// Wrong verdicts, most frequent first.
    pub wrong: Vec<(String, u64)>,
    /// Mean probability stated for the verdict, where one was given, and how many of these were right.
    pub stated: f64,
    pub told: Share,
}

pub fn verdicts<'a>(trials: impl IntoIterator<Item = &'a Trial>) -> Verdicts {
    let mut all = Verdicts::default();
    let mut wrong: BTreeMap<&str, u64> = BTreeMap::new();
    for trial in trials {
        let verdict = trial.verdict.as_deref().unwrap_or("none");
        all.right.count(is_right(trial));
        all.cannot_tell.count(verdict == CANNOT_TELL);
        if let Some((_, _, probability)) = trial.explanations.iter().find(|e| e.0 == verdict) {
            all.told.count(is_right(trial));
            all.stated += probability;
        }
        if !is_right(trial) && verdict != CANNOT_TELL {
            *wrong.entry(verdict).or_default() += 1;
        }
    }
    all.stated /= all.told.of.max(1) as f64;
    all.wrong = wrong.into_iter().map(|(verdict, n)| (verdict.to_string(), n)).collect();
    all.wrong.sort_by_key(|(_, n)| std::cmp::Reverse(*n));
    all
}

/// The statements of the blocks whose truth is among their explanations.
pub fn stated<'a>(trials: impl IntoIterator<Item = &'a Trial>) -> Vec<Stated> {
    let of_one = |trial: &Trial| {
        Some(Stated {
            probability: trial.explanations.iter().map(|e| e.2).collect(),
            prior: trial.explanations.iter().map(|e| e.1).collect(),
            truth: trial.explanations.iter().position(|e| e.0 == trial.truth)?,
        })
    };
    trials.into_iter().filter_map(of_one).collect()
}

/// How often an explanation was true, and how often it should have been.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Frequency {
    pub name: String,
    pub true_ones: f64,
    pub stated: f64,
    pub variance: f64,
}

impl Frequency {
    /// Standard errors by which it was true more often than stated.
    pub fn z(&self) -> f64 {
        if self.variance > 0.0 { (self.true_ones - self.stated) / self.variance.sqrt() } else { 0.0 }
    }
}

/// Of each explanation, in the order in which they are first met.
pub fn by_explanation(trials: &[Trial]) -> Vec<Frequency> {
    let mut all: Vec<Frequency> = Vec::new();
    for trial in trials {
        for (name, _, p) in &trial.explanations {
            let at = all.iter().position(|f| &f.name == name).unwrap_or(all.len());
            if at == all.len() {
                all.push(Frequency { name: name.clone(), ..Frequency::default() });
            }
            add(&mut all[at], f64::from(name == &trial.truth), *p, p * (1.0 - p));
        }
    }
    all
}

/// Of each single cause, alone or with another.
pub fn by_single(trials: &[Trial]) -> Vec<Frequency> {
    let singles: Vec<String> =
        by_explanation(trials).into_iter().map(|f| f.name).filter(|n| !n.contains('+')).collect();
    let of = |single: String| {
        let mut sum = Frequency { name: single.clone(), ..Frequency::default() };
        let holds = |name: &str| name.split('+').any(|s| s == single);
        for trial in trials {
            let p: f64 = trial.explanations.iter().filter(|e| holds(&e.0)).map(|e| e.2).sum();
            add(&mut sum, f64::from(holds(&trial.truth)), p, p * (1.0 - p));
        }
        sum
    };
    singles.into_iter().map(of).collect()
}

fn add(sum: &mut Frequency, truth: f64, p: f64, variance: f64) {
    sum.true_ones += truth;
    sum.stated += p;
    sum.variance += variance.max(0.0);
}

/// Probability given to one explanation where another is true.
#[derive(Clone, Debug, PartialEq)]
pub struct Misplaced {
    pub truth: String,
    pub said: String,
    /// Sum over the blocks of that truth of the probability given to `said`.
    pub given: f64,
    /// What it would be on average, were the statements calibrated: the sum over all blocks of the product of both.
    pub expected: f64,
    pub z: f64,
}

/// Pairs of explanations between which probability goes astray by at least `least` standard errors, worst first.
pub fn misplaced(trials: &[Trial], least: f64) -> Vec<Misplaced> {
    let mut sums: BTreeMap<(&str, &str), (f64, f64, f64)> = BTreeMap::new();
    for trial in trials {
        for (truth, _, p) in &trial.explanations {
            for (said, _, q) in trial.explanations.iter().filter(|e| &e.0 != truth) {
                let sum = sums.entry((truth.as_str(), said.as_str())).or_default();
                let given = if truth == &trial.truth { *q } else { 0.0 };
                *sum = (sum.0 + given, sum.1 + p * q, sum.2 + p * (1.0 - p) * q * q);
            }
        }
    }
    let of = |((truth, said), (given, expected, variance)): ((&str, &str), (f64, f64, f64))| Misplaced {
        truth: truth.into(),
        said: said.into(),
        given,
        expected,
        z: if variance > 0.0 { (given - expected) / variance.sqrt() } else { 0.0 },
    };
    let mut all: Vec<Misplaced> = sums.into_iter().map(of).filter(|m| m.z.abs() >= least).collect();
    all.sort_by(|a, b| b.z.abs().total_cmp(&a.z.abs()));
    all
}
