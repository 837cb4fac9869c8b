//! The page that the command prints, in Markdown.

use super::reliability::{BINS, Reliability, reliability};
use super::share::Share;
use super::trial::{Kind, Trial, is_identifiable};
use super::verdicts::{
    self, Verdicts, accuses_wrongly, is_aliased, is_right, is_told_as_aliased, names_batch, verdicts,
};
use super::{SIZES, Study};
use fullstand::base::Seed;
use fullstand::simulate::{Scene, Strength};
use std::fmt::Display;

/// Draws of truths from the statements, for the joint test.
const DRAWS: usize = 9_999;
/// Standard errors from which a pair is listed as going astray.
const ASTRAY: f64 = 3.0;
/// Failures below which blocks are reported apart.
const FEW: u64 = 25;

pub fn page(study: &Study) -> String {
    let mut parts = vec![opening(study)];
    if study.prior.iter().chain(&study.scenes).all(|t| t.explanations.is_empty()) {
        parts.push("No explanation was weighed in any block.".into());
        return parts.join("\n\n") + "\n";
    }
    if !study.prior.is_empty() {
        parts.extend(of_prior(study));
    }
    if !study.scenes.is_empty() {
        parts.extend(of_scenes(&study.scenes));
    }
    if !study.times.is_empty() {
        parts.push(times(&study.times));
    }
    parts.join("\n\n") + "\n"
}

fn opening(study: &Study) -> String {
    let (plan, blocks, scenes) = (&study.plan, study.prior.len(), study.scenes.len());
    format!(
        "# Calibration of `cause`: do its odds come true?\n\n\
         {blocks} blocks drawn from the prior that the model states ({} to {} vines), and {scenes} blocks of scenes that \
         growers know ({} to {} vines). Each was written as a block folder and read again as the command line reads it. \
         Repeat with\n\n\
         ```sh\n\
         cargo run --release --example calibration -- --blocks {blocks} --scenes {scenes} --seed {} --keep DIR\n\
         ```\n\n\
         which keeps each block with its `truth.json` and what was said of it, `cause.json`: \
         `fullstand cause DIR/prior-00000 --json` prints the same bytes. Intervals of shares are exact at 95 % \
         (Clopper & Pearson).",
        plan.prior_vines.0, plan.prior_vines.1, plan.scene_vines.0, plan.scene_vines.1, plan.seed
    )
}

// Blocks from the prior.

fn of_prior(study: &Study) -> Vec<String> {
    let trials = &weighed(&study.prior);
    let stated = verdicts::stated(trials);
    let joint = reliability(&stated, DRAWS, Seed::new(study.plan.seed));
    let unweighed = match study.prior.len() - trials.len() {
        0 => String::new(),
        n => format!(" In {n} blocks nothing was weighed, because nothing failed; they are left out."),
    };
    let unlisted = match trials.len() - stated.len() {
        0 => String::new(),
        n => format!(" In {n} blocks the truth is not among the explanations; they are left out of the tests."),
    };
    vec![
        format!(
            "## Stated odds, blocks from the prior\n\nEvery explanation of every block, by tenths.{unweighed}{unlisted}"
        ),
        bins(&joint),
        joint_test(&joint),
        log_score(&joint),
        frequencies(trials),
        groups(trials, study.plan.seed),
        astray(trials),
        prior_verdicts(trials),
        innocents("Blocks from the prior", &study.prior),
    ]
}

/// Those in which there was something to weigh.
fn weighed(trials: &[Trial]) -> Vec<Trial> {
    trials.iter().filter(|t| !t.explanations.is_empty()).cloned().collect()
}

fn bins(joint: &Reliability) -> String {
    let line = |(k, bin): (usize, &super::reliability::Bin)| {
        let n = bin.statements.max(1) as f64;
        let z = if bin.variance > 0.0 { (bin.true_ones as f64 - bin.stated) / bin.variance.sqrt() } else { 0.0 };
        vec![
            format!("{:.1} to {:.1}", k as f64 / BINS as f64, (k + 1) as f64 / BINS as f64),
            bin.statements.to_string(),
            format!("{:.3}", bin.stated / n),
            format!("{:.3}", bin.true_ones as f64 / n),
            format!("{:.1}", bin.stated),
            bin.true_ones.to_string(),
            format!("{z:+.1}"),
        ]
    };
    let heading = ["stated", "statements", "stated on average", "true", "should be true", "are true", "z"];
    table(&heading, joint.bins.iter().enumerate().map(line))
}

fn joint_test(joint: &Reliability) -> String {
    format!(
        "**One joint test over the ten bins: chi-squared {:.1} on {} degrees of freedom, p = {:.3}; drawn from the \
         statements ({} draws), p = {:.3}.** The statistic is the quadratic form of what is true less what should be, with \
         the covariance that calibrated statements have: exactly one explanation of a block is true, so a block adds \
         diag(a) - aa', a its probability in each bin. Nothing is estimated, and the dependence within a block is \
         exact. The second p-value draws each block's truth from its own statements and needs no large numbers.",
        joint.chi_squared, joint.df, joint.p_value, joint.draws, joint.p_drawn
    )
}

fn log_score(joint: &Reliability) -> String {
    let score = &joint.log_score;
    format!(
        "Logarithm of the probability given to the truth, on average: {:.3}; calibrated statements would have {:.3} \
         (standard error {:.3}, z = {:+.1}; below 0 is too sure); the probabilities before the data have {:.3}.",
        score.mean,
        score.expected,
        score.error,
        score.z(),
        score.of_prior
    )
}

fn frequencies(trials: &[Trial]) -> String {
    let line = |f: verdicts::Frequency| {
        let z = format!("{:+.1}", f.z());
        vec![f.name, format!("{:.1}", f.stated), format!("{:.0}", f.true_ones), z]
    };
    let heading = ["explanation", "should be true", "is true", "z"];
    format!(
        "## By explanation\n\n{}\n\nEach cause, alone or with another:\n\n{}",
        table(&heading, verdicts::by_explanation(trials).into_iter().map(line)),
        table(&heading, verdicts::by_single(trials).into_iter().map(line))
    )
}

/// A name and what belongs to it.
type Group = (&'static str, fn(&Trial) -> bool);

const GROUPS: [Group; 12] = [
    ("up to 500 vines", |t| t.vines <= 500),
    ("500 to 1,000 vines", |t| (501..=1_000).contains(&t.vines)),
    ("over 1,000 vines", |t| t.vines > 1_000),
    ("under 10 failures", |t| t.failed < 10),
    ("10 to 24 failures", |t| (10..FEW).contains(&t.failed)),
    ("25 to 99 failures", |t| (FEW..100).contains(&t.failed)),
    ("100 failures or more", |t| t.failed >= 100),
    ("in bundles", |t| t.dealt == "bundles"),
    ("in whole rows", |t| t.dealt == "whole rows"),
    ("one batch after another", |t| t.dealt == "one after another"),
    ("fewer than half failed", |t| t.failed * 2 < t.vines as u64),
    ("half or more failed", |t| t.failed * 2 >= t.vines as u64),
];

fn groups(trials: &[Trial], seed: u64) -> String {
    let line = |(name, belongs): &Group| {
        let stated = verdicts::stated(trials.iter().filter(|t| belongs(t)));
        let joint = reliability(&stated, DRAWS / 10, Seed::new(seed));
        let score = joint.log_score;
        vec![
            name.to_string(),
            joint.blocks.to_string(),
            format!("{:.3}", joint.p_drawn),
            format!("{:.3}", score.mean),
            format!("{:.3}", score.expected),
            format!("{:+.1}", score.z()),
            format!("{:.3}", score.of_prior),
        ]
    };
    let heading = ["blocks", "number", "joint p", "log score", "if calibrated", "z", "before the data"];
    format!("## By kind of block\n\n{}", table(&heading, GROUPS.iter().map(line)))
}

fn astray(trials: &[Trial]) -> String {
    let line = |m: verdicts::Misplaced| {
        vec![m.truth, m.said, format!("{:.1}", m.given), format!("{:.1}", m.expected), format!("{:+.1}", m.z)]
    };
    let misplaced = verdicts::misplaced(trials, ASTRAY);
    if misplaced.is_empty() {
        return format!(
            "No pair of explanations takes probability from one another by {ASTRAY} standard errors or more."
        );
    }
    let heading = ["where this is true", "this is given", "blocks' worth", "if calibrated", "z"];
    format!(
        "Pairs between which probability goes astray by {ASTRAY} standard errors or more:\n\n{}",
        table(&heading, misplaced.into_iter().take(20).map(line))
    )
}

fn prior_verdicts(trials: &[Trial]) -> String {
    let mut names: Vec<&str> = trials.iter().map(|t| t.truth.as_str()).collect();
    names.sort_unstable();
    names.dedup();
    names.sort_by_key(|n| (n.contains('+'), *n != "chance"));
    let of = |name: &str| verdicts(trials.iter().filter(|t| t.truth == name));
    let lines = names.into_iter().map(|name| verdict_line(vec![name.into()], &of(name)));
    let all = verdicts(trials);
    format!(
        "## Verdicts by truth, blocks from the prior\n\nMany effects drawn are too small to show, so that `chance` or \
         `cannot_tell` is the best answer. Where a verdict other than `cannot_tell` is given, its probability is {:.3} on \
         average, and it is right in {}.\n\n{}",
        all.stated,
        all.told,
        table(&["truth", "blocks", "right", "cannot tell", "wrong", "wrong verdicts"], lines)
    )
}

fn verdict_line(mut cells: Vec<String>, v: &Verdicts) -> Vec<String> {
    let wrong: Vec<String> = v.wrong.iter().take(4).map(|(verdict, n)| format!("{verdict} {n}")).collect();
    let wrongs: u64 = v.wrong.iter().map(|(_, n)| n).sum();
    cells.push(v.right.of.to_string());
    cells.extend([v.right.hits, v.cannot_tell.hits, wrongs].map(|n| n.to_string()));
    cells.push(wrong.join(", "));
    cells
}

fn innocents(what: &str, trials: &[Trial]) -> String {
    let named: Share = trials.iter().filter(|t| !names_batch(&t.truth)).map(accuses_wrongly).collect();
    format!(
        "{what} whose batches are innocent: a batch is named in {named}; one-sided upper limit at 95 %: {:.2} %.",
        100.0 * named.upper()
    )
}

// Scenes.

fn of_scenes(trials: &[Trial]) -> Vec<String> {
    vec![scene_table(trials), scene_summary(trials), innocents("Scenes", trials), aliased(trials)]
}

fn kind_of(trial: &Trial) -> Option<(Scene, Strength)> {
    match trial.kind {
        Kind::Scene { scene, strength, .. } => Some((scene, strength)),
        Kind::Prior { .. } => None,
    }
}

fn scene_table(trials: &[Trial]) -> String {
    let mut lines = Vec::new();
    for strength in Strength::BOTH {
        for scene in Scene::ALL {
            for few in [false, true] {
                let here = |t: &&Trial| kind_of(t) == Some((scene, strength)) && (t.failed < FEW) == few;
                let failures = if few { "under 25" } else { "25 or more" };
                let cells = [scene.name(), strength.name(), failures].map(String::from).into();
                lines.push(verdict_line(cells, &verdicts(trials.iter().filter(here))));
            }
        }
    }
    lines.retain(|cells| cells[3] != "0");
    let heading = ["scene", "strength", "failures", "blocks", "right", "cannot tell", "wrong", "wrong verdicts"];
    format!(
        "## Scenes\n\nBase failure 2 to 10 %; strong effects are 2.2 to 3.4 logit, weak ones 0.6 to 1.4; hollows and pools \
         have a radius of 3 to 10 m, anywhere in the block; batches in bundles of 25 unless they have rows of their own. \
         With a bad batch in rows of its own, `cannot_tell` is the right answer.\n\n{}",
        table(&heading, lines)
    )
}

fn scene_summary(trials: &[Trial]) -> String {
    let line = |strength: Strength, few: bool| {
        let belongs = |t: &&Trial| {
            kind_of(t).is_some_and(|(scene, s)| is_identifiable(scene) && s == strength) && (t.failed < FEW) == few
        };
        let here: Vec<&Trial> = trials.iter().filter(belongs).collect();
        let right: Share = here.iter().map(|t| is_right(t)).collect();
        let likeliest: Share = here.iter().map(|t| verdicts::likeliest(t) == Some(t.truth.as_str())).collect();
        let sought = here.iter().filter(|t| t.best.is_some());
        let possible: Share = sought.clone().map(|t| t.best == Some(t.truth.as_str())).collect();
        let same: Share = sought.filter(|t| t.best == Some(t.truth.as_str())).map(|t| is_right(t)).collect();
        let failures = if few { "under 25 failures" } else { "25 failures or more" };
        vec![
            strength.name().into(),
            failures.into(),
            right.to_string(),
            likeliest.to_string(),
            possible.to_string(),
            same.to_string(),
        ]
    };
    let lines = Strength::BOTH.into_iter().flat_map(|s| [line(s, false), line(s, true)]);
    format!(
        "Verdicts right where one answer can be told (batches in bundles, whole rows). The best possible ones are those of \
         the classifier that knows the strength and what all six of these scenes are drawn from, and always names the \
         likeliest. On other blocks, of 200 to 1,440 vines and strong effects, a trial of ours found 99.3 % for such a \
         classifier, 94.9 % under 25 failures.\n\n{}",
        table(
            &["strength", "", "right", "likeliest is right", "best possible", "right where the best possible is"],
            lines
        )
    )
}

fn aliased(trials: &[Trial]) -> String {
    let mut text = Vec::new();
    for strength in Strength::BOTH {
        let here: Vec<&Trial> =
            trials.iter().filter(|t| is_aliased(t) && kind_of(t).is_some_and(|k| k.1 == strength)).collect();
        let told: Share = here.iter().map(|t| is_told_as_aliased(t)).collect();
        let accused: Share = here.iter().map(|t| t.verdict.as_deref().is_some_and(names_batch)).collect();
        let mut ratios: Vec<f64> = here.iter().filter_map(|t| batch_to_order(t)).collect();
        ratios.sort_by(f64::total_cmp);
        let at = |share: f64| ratios.get(((ratios.len().max(1) - 1) as f64 * share) as usize).copied().unwrap_or(0.0);
        text.push(format!(
            "- {}: `cannot_tell` with `batch` and one of `row`, `place`, `order` in {told}; a batch named in {accused}; \
             probability of the batch over that of the planting order: median {:.2}, 10 % {:.2}, 90 % {:.2}.",
            strength.name(),
            at(0.5),
            at(0.1),
            at(0.9)
        ));
    }
    format!("A bad batch in rows of its own:\n\n{}", text.join("\n"))
}

fn batch_to_order(trial: &Trial) -> Option<f64> {
    let of = |name: &str| trial.explanations.iter().find(|e| e.0 == name).map(|e| e.2);
    Some(of("batch")? / of("order").filter(|p| *p > 0.0)?)
}

// Times.

fn times(times: &[(usize, f64)]) -> String {
    let mut from = 0;
    let mut lines = Vec::new();
    for end in SIZES {
        let mut here: Vec<(f64, usize)> =
            times.iter().filter(|(n, _)| *n > from && *n <= end).map(|(n, s)| (*s, *n)).collect();
        here.sort_by(|a, b| a.0.total_cmp(&b.0));
        if let Some((median, _)) = here.get(here.len() / 2) {
            let vines = here.iter().map(|h| h.1).sum::<usize>() / here.len();
            let longest = here.last().map_or(0.0, |l| l.0);
            lines.push(vec![
                vines.to_string(),
                here.len().to_string(),
                format!("{median:.2}"),
                format!("{longest:.2}"),
            ]);
        }
        from = end;
    }
    let heading = ["vines on average", "blocks", "median, seconds", "longest, seconds"];
    format!("## Time\n\nReading, counting, testing and weighing, one block at a time.\n\n{}", table(&heading, lines))
}

fn table<C: Display>(heading: &[&str], lines: impl IntoIterator<Item = Vec<C>>) -> String {
    let line = |cells: Vec<String>| format!("| {} |", cells.join(" | "));
    let mut text = vec![line(heading.iter().map(|h| h.to_string()).collect())];
    text.push(format!("|{}", " --- |".repeat(heading.len())));
    text.extend(lines.into_iter().map(|cells| line(cells.iter().map(|c| c.to_string()).collect())));
    text.join("\n")
}
