//! The odds that `cause` states, held against the truth of blocks drawn from its prior and of scenes; and the scoring
//! itself, by hand. The study is the one behind `cargo run --example calibration`.

#[path = "../../examples/calibration/study/mod.rs"]
mod study;

use fullstand::base::Seed;
use fullstand::simulate::{Cause, Prior, Scene, Strength, cause_name, draw_scene, simulate};
use std::path::Path;
use std::process::Command;
use study::ceiling::best_verdict;
use study::reliability::{Stated, reliability};
use study::share::Share;
use study::trial::{Kind, Trial};
use study::verdicts::{
    accuses_wrongly, by_explanation, by_single, is_aliased, is_right, is_told_as_aliased, misplaced, names_batch,
    stated, verdicts,
};
use study::{Ceiling, Plan, Times};

fn one() -> Seed {
    Seed::new(1)
}

fn two(p: f64, truth: usize) -> Stated {
    Stated { probability: vec![1.0 - p, p], prior: vec![0.5, 0.5], truth }
}

/// A hundred blocks said 0.75, of which 60 are true: 15 too few, with variance 100 x 0.75 x 0.25 = 18.75 in either
/// bin and nothing left once one is known: 15^2 / 18.75 = 12 on 1 degree of freedom, p = 2 (1 - Phi(sqrt 12)).
#[test]
fn the_joint_test_is_the_one_by_hand() {
    let blocks: Vec<Stated> = (0..100).map(|i| two(0.75, usize::from(i < 60))).collect();
    let joint = reliability(&blocks, 9_999, one());
    assert!((joint.chi_squared - 12.0).abs() < 1e-9 && joint.df == 1);
    assert!((joint.p_value - 5.320_055_051_392e-4).abs() < 1e-9, "{}", joint.p_value);
    // Two-sided binomial: P(X <= 60) + P(X >= 90) = 0.000687 + 0.000137 for Bin(100, 0.75).
    assert!((joint.p_drawn - 8.2e-4).abs() < 4.0 * (8.2e-4f64 / 9_999.0).sqrt(), "{}", joint.p_drawn);
    let (low, high) = (joint.bins[2], joint.bins[7]);
    assert_eq!((low.statements, low.true_ones, high.statements, high.true_ones), (100, 40, 100, 60));
    let (truth, entropy) = ((0.6 * 0.75f64.ln() + 0.4 * 0.25f64.ln()), 0.75 * 0.75f64.ln() + 0.25 * 0.25f64.ln());
    assert!((joint.log_score.mean - truth).abs() < 1e-12 && (joint.log_score.expected - entropy).abs() < 1e-12);
    assert!((joint.log_score.of_prior - 0.5f64.ln()).abs() < 1e-12);
}

/// Five probabilities, as unequal as `power` makes them.
fn statement(number: u64, power: f64, replicate: u64) -> Vec<f64> {
    let weights: Vec<f64> =
        (0..5).map(|k| one().keyed("weight", &[replicate, number, k]).ln().abs().powf(power)).collect();
    let sum: f64 = weights.iter().sum();
    weights.into_iter().map(|w| w / sum).collect()
}

fn drawn(probability: &[f64], at: f64) -> usize {
    let below = |k: &usize| probability[..=*k].iter().sum::<f64>() >= at;
    (0..probability.len()).find(below).unwrap_or(probability.len() - 1)
}

/// Truths drawn from statements that are sharpened or blunted by a power before they are stated.
fn stated_with(sharpened: f64, replicate: u64) -> Vec<Stated> {
    let of = |number: u64| {
        let probability = statement(number, 2.5, replicate);
        let truth = drawn(&probability, one().keyed("truth", &[replicate, number]));
        let told: Vec<f64> = probability.iter().map(|p| p.powf(sharpened)).collect();
        let sum: f64 = told.iter().sum();
        Stated { probability: told.into_iter().map(|p| p / sum).collect(), prior: vec![0.2; 5], truth }
    };
    (0..300).map(of).collect()
}

#[test]
fn calibrated_statements_pass_at_the_stated_rate() {
    let p: Vec<[f64; 2]> = (0..400)
        .map(|replicate| reliability(&stated_with(1.0, replicate), 199, Seed::new(replicate)))
        .map(|joint| [joint.p_value, joint.p_drawn])
        .collect();
    for which in [0, 1] {
        let rejected = p.iter().filter(|p| p[which] <= 0.05).count() as f64 / 400.0;
        assert!((rejected - 0.05).abs() < 4.0 * (0.05f64 * 0.95 / 400.0).sqrt(), "{rejected}");
        let mean = p.iter().map(|p| p[which]).sum::<f64>() / 400.0;
        assert!((mean - 0.5).abs() < 4.0 * (1.0f64 / 12.0 / 400.0).sqrt(), "{mean}");
    }
}

#[test]
fn statements_too_sure_or_too_timid_are_found_out() {
    for replicate in 0..5 {
        let sure = reliability(&stated_with(2.0, replicate), 999, one());
        assert!(sure.p_value < 0.01 && sure.p_drawn < 0.01 && sure.log_score.z() < -3.0, "{sure:?}");
        let timid = reliability(&stated_with(0.4, replicate), 999, one());
        assert!(timid.p_value < 0.01 && timid.log_score.z() > 3.0, "{timid:?}");
    }
}

#[test]
fn no_block_is_no_evidence() {
    let joint = reliability(&[], 9, one());
    assert_eq!((joint.blocks, joint.df, joint.p_drawn), (0, 0, 1.0));
    assert!(joint.p_value.is_finite() && joint.log_score.z() == 0.0);
}

fn trial(truth: &str, explanations: &[(&str, f64)], verdict: &str, between: &[&str]) -> Trial {
    Trial {
        kind: Kind::prior(0, (200, 200)),
        truth: truth.into(),
        dealt: "bundles",
        in_one_go: false,
        vines: 200,
        failed: 30,
        explanations: explanations.iter().map(|(n, p)| (n.to_string(), 0.25, *p)).collect(),
        verdict: Some(verdict.into()),
        cannot_tell_between: between.iter().map(|s| s.to_string()).collect(),
        best: None,
        seconds: 0.0,
    }
}

/// Four blocks by hand: two right, one open, one in which a batch is named and a place is true.
fn four() -> Vec<Trial> {
    let odds = |batch: f64, place: f64| {
        vec![("chance", 1.0 - batch - place - 0.05), ("batch", batch), ("place", place), ("batch+place", 0.05)]
    };
    vec![
        trial("batch", &odds(0.9, 0.0), "batch", &[]),
        trial("place", &odds(0.1, 0.6), "place", &[]),
        trial("batch", &odds(0.5, 0.4), "cannot_tell", &["batch", "place"]),
        trial("place", &odds(0.9, 0.05), "batch", &[]),
    ]
}

#[test]
fn verdicts_are_counted_as_by_hand() {
    let v = verdicts(&four());
    assert_eq!((v.right, v.cannot_tell), (Share { hits: 2, of: 4 }, Share { hits: 1, of: 4 }));
    assert_eq!((v.wrong, v.told), (vec![("batch".to_string(), 1)], Share { hits: 2, of: 3 }));
    assert!((v.stated - 0.8).abs() < 1e-12);
    assert!(names_batch("batch+place") && !names_batch("row+place") && !names_batch("batches"));
    let open = |between: &[&str]| {
        let one = Trial { in_one_go: true, ..trial("batch", &[], "cannot_tell", between) };
        (is_aliased(&one), is_told_as_aliased(&one))
    };
    assert_eq!((open(&["batch", "order"]), open(&["batch", "chance"])), ((true, true), (true, false)));
    assert!(!is_aliased(&four()[0]) && !is_told_as_aliased(&four()[0]));
}

#[test]
fn frequencies_are_summed_as_by_hand() {
    let find = |all: Vec<study::verdicts::Frequency>, name: &str| all.into_iter().find(|f| f.name == name).unwrap();
    let batch = find(by_explanation(&four()), "batch");
    assert!((batch.true_ones - 2.0).abs() < 1e-12 && (batch.stated - 2.4).abs() < 1e-12);
    assert!((batch.variance - (3.0 * 0.09 + 0.25)).abs() < 1e-12);
    let place = find(by_single(&four()), "place"); // alone and with the batch
    assert!((place.true_ones - 2.0).abs() < 1e-12 && (place.stated - (1.05 + 0.2)).abs() < 1e-12);
    // Where the place was true, the batch was given 0.1 + 0.9; the products are 0 + 0.06 + 0.2 + 0.045.
    let all = misplaced(&four(), 0.0);
    let astray = all.iter().find(|m| (m.truth.as_str(), m.said.as_str()) == ("place", "batch")).unwrap();
    assert!((astray.given - 1.0).abs() < 1e-12 && (astray.expected - 0.305).abs() < 1e-12 && astray.z > 0.0);
}

#[test]
fn a_share_has_its_exact_limit() {
    // None of 299: the one-sided 95 % limit is 1 - 0.05^(1/299), the rule of three.
    let none = Share { hits: 0, of: 299 };
    assert!((none.upper() - (1.0 - 0.05f64.powf(1.0 / 299.0))).abs() < 1e-12);
    assert_eq!(Share::default().to_string(), "none asked");
}

fn plan(blocks: u64, scenes: u64) -> Plan {
    Plan {
        blocks,
        scenes,
        seed: 1,
        keep: None,
        prior_vines: (200, 400),
        scene_vines: (300, 500),
        times: Times::Left,
        ceiling: Ceiling::Left,
    }
}

/// The block folders that are kept give the command line's answers, to the byte.
#[test]
fn the_command_line_says_the_same_of_a_kept_block() {
    let kept = tempfile::tempdir().unwrap();
    let study = study::run(&Plan { keep: Some(kept.path().into()), prior_vines: (200, 220), ..plan(1, 0) }).unwrap();
    assert_eq!((study.prior.len(), study.scenes.len()), (1, 0));
    let asked =
        |folder: &Path| Command::new(env!("CARGO_BIN_EXE_fullstand")).arg("cause").arg(folder).arg("--json").output();
    let folder = kept.path().join("prior-00000");
    let said = std::fs::read(folder.join("cause.json")).unwrap();
    assert_eq!(String::from_utf8_lossy(&asked(&folder).unwrap().stdout), String::from_utf8_lossy(&said));
    let again = study::run(&Plan { prior_vines: (200, 220), ..plan(1, 0) }).unwrap(); // forgotten folders are read the same
    assert_eq!(study::page(&study), study::page(&again));
}

#[test]
fn scenes_come_in_turn_and_in_both_strengths() {
    let at = |number: u64| match Kind::scene(number, (200, 300)) {
        Kind::Scene { scene, strength, .. } => (scene, strength),
        Kind::Prior { .. } => panic!("a scene"),
    };
    assert_eq!(at(0), (Scene::Chance, Strength::Strong));
    assert_eq!(at(10), (Scene::Batch, Strength::Weak));
}

#[test]
fn a_block_of_each_size_is_timed_alone() {
    let study = study::run(&Plan { times: Times::Taken, prior_vines: (200, 200), ..plan(1, 0) }).unwrap();
    assert_eq!(study.times.len(), 1);
    assert!(study.times[0].1 > 0.0);
}

/// The classifier that knows what the scenes are drawn from finds nearly all strong ones out.
#[test]
fn the_best_possible_verdict_is_mostly_right_on_strong_scenes() {
    let is_right = |(scene, number): (Scene, u64)| {
        let drawn = draw_scene(scene, Strength::Strong, (200, 300), Seed::new(number));
        let simulated = simulate(&drawn.scenario, Seed::new(number));
        best_verdict(&drawn.scenario, &simulated, Strength::Strong) == cause_name(&drawn.causes)
    };
    let scenes = [Scene::Chance, Scene::Batch, Scene::Pool, Scene::Driplines];
    let right = scenes.into_iter().flat_map(|scene| [(scene, 1), (scene, 2)]).filter(|drawn| is_right(*drawn)).count();
    assert!(right >= 7, "{right} of 8");
}

/// The model's prior is the one drawn from.
#[track_caller]
fn states_the_prior(trial: &Trial) {
    let weights = Prior::default().weights.over(&Cause::ALL);
    assert_eq!(trial.explanations.len(), weights.len());
    for (causes, weight) in weights {
        let name = cause_name(&causes);
        let stated = trial.explanations.iter().find(|e| e.0 == name).unwrap_or_else(|| panic!("no {name}")).1;
        assert!((stated - weight).abs() < 1e-9, "{name}: {stated}, drawn with {weight}");
    }
}

/// A short run with a fixed seed: what must hold of it whatever the odds are like in detail.
#[test]
fn a_short_run_says_nothing_silly() {
    let study = study::run(&Plan { prior_vines: (200, 220), scene_vines: (300, 320), ..plan(5, 8) }).unwrap();
    let all: Vec<Trial> = study.prior.iter().chain(&study.scenes).filter(|t| t.failed > 0).cloned().collect();
    for trial in &all {
        let probabilities = trial.explanations.iter().map(|e| e.2);
        assert!(probabilities.clone().all(|p| (0.0..=1.0).contains(&p)));
        assert!((probabilities.sum::<f64>() - 1.0).abs() < 1e-9, "{trial:?}");
        assert!(!accuses_wrongly(trial), "{trial:?}");
        states_the_prior(trial);
    }
    let score = reliability(&stated(&all), 99, one()).log_score;
    assert!(score.mean > score.of_prior + 0.2 && score.z() > -3.0, "{score:?}");
    // The first eight scenes are strong: the batch is in the verdict where it is in the truth, unless the verdict is open.
    for trial in &study.scenes {
        let open = trial.verdict.as_deref() == Some("cannot_tell");
        match is_aliased(trial) {
            true => assert!(is_told_as_aliased(trial), "{trial:?}"),
            false => assert!(
                open || trial.verdict.as_deref().map(names_batch) == Some(names_batch(&trial.truth)),
                "{trial:?}"
            ),
        }
    }
    assert!(study.scenes.iter().filter(|t| is_right(t)).count() >= 3);
    assert!(study::page(&study).contains("One joint test over the ten bins"));
}
