//! One block: drawn, written as a grower's folder, read again as the command line reads it, and asked about.

use super::Ceiling;
use super::ceiling::best_verdict;
use fullstand::base::{Quantity, Seed, document};
use fullstand::cause::{Cause, cause};
use fullstand::intake;
use fullstand::simulate::{
    Dealt, Design, Dialect, Drawn, Prior, Scene, Simulated, Strength, cause_name, draw_scenario, draw_scene, files,
    simulate,
};
use fullstand::study::{Settings, cause_config, header};
use fullstand::tally::tally;
use rand::Rng;
use serde_json::{Value, json};
use std::path::Path;
use std::time::Instant;

/// What a block is drawn from: its number, and the range of its vines.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    Prior { number: u64, vines: (u32, u32) },
    Scene { number: u64, vines: (u32, u32), scene: Scene, strength: Strength },
}

impl Kind {
    pub fn prior(number: u64, vines: (u32, u32)) -> Self {
        Kind::Prior { number, vines }
    }

    /// Every scene in turn, then all of them in the other strength.
    pub fn scene(number: u64, vines: (u32, u32)) -> Self {
        let (scenes, strengths) = (Scene::ALL.len() as u64, Strength::BOTH.len() as u64);
        let scene = Scene::ALL[(number % scenes) as usize];
        let strength = Strength::BOTH[(number / scenes % strengths) as usize];
        Kind::Scene { number, vines, scene, strength }
    }

    /// Name of its folder.
    pub fn folder(&self) -> String {
        match self {
            Kind::Prior { number, .. } => format!("prior-{number:05}"),
            Kind::Scene { number, .. } => format!("scene-{number:05}"),
        }
    }

    fn seed(&self, seed: u64) -> Seed {
        let (name, number) = match self {
            Kind::Prior { number, .. } => ("calibration.prior", number),
            Kind::Scene { number, .. } => ("calibration.scene", number),
        };
        Seed::new(Seed::new(seed).stream(name, *number).next_u64())
    }

    fn draw(&self, seed: Seed) -> Drawn {
        match *self {
            Kind::Scene { vines, scene, strength, .. } => draw_scene(scene, strength, vines, seed),
            Kind::Prior { vines, .. } => {
                let design = Design { vines, ..Design::default() };
                draw_scenario(&Prior { design, ..Prior::default() }, seed)
            }
        }
    }
}

/// A block and what was said of it.
#[derive(Clone, Debug)]
pub struct Trial {
    pub kind: Kind,
    /// The explanation that is true.
    pub truth: String,
    pub dealt: &'static str,
    pub in_one_go: bool,
    pub vines: usize,
    pub failed: u64,
    /// (name, prior, probability); none where nothing failed.
    pub explanations: Vec<(String, f64, f64)>,
    /// None where none was given.
    pub verdict: Option<String>,
    pub cannot_tell_between: Vec<String>,
    /// The verdict of the classifier that knows what scenes are drawn from, where sought and where one answer can be
    /// told.
    pub best: Option<&'static str>,
    /// Of reading, counting and weighing.
    pub seconds: f64,
}

/// Re-arrangements per test: the tests stand beside the odds and don't enter them, so that few are enough here.
/// block.toml says so, and the command line reads it.
const PERMUTATIONS: f64 = 99.0;

impl Trial {
    /// Draws the block of this kind and asks about it; its folder is left as it was read.
    ///
    /// Errors: the folder can't be written, or isn't read as it was written.
    pub fn of(kind: &Kind, seed: u64, folder: &Path, ceiling: Ceiling) -> Result<Trial, String> {
        let seed = kind.seed(seed);
        let drawn = kind.draw(seed);
        let mut simulated = simulate(&drawn.scenario, seed);
        simulated.block.name = kind.folder();
        let few = simulated.block.assumptions.set("evidence.permutations", Quantity::certain(PERMUTATIONS));
        few.map_err(|e| e.to_string())?;
        write(folder, "truth.json", &pretty(&truth(kind, &drawn, &simulated, seed)))?;
        for (name, text) in files(&simulated.block, &Dialect::default()) {
            write(folder, &name, &text)?;
        }
        let (said, seconds) = ask(folder)?;
        let explanations = said.explanations.into_iter().map(|e| (e.name, e.prior, e.probability));
        Ok(Trial {
            kind: *kind,
            truth: cause_name(&drawn.causes),
            dealt: dealt(drawn.scenario.dealt),
            in_one_go: drawn.in_one_go,
            vines: simulated.fates.len(),
            failed: said.failed,
            explanations: explanations.collect(),
            verdict: said.verdict.value().cloned(),
            cannot_tell_between: said.cannot_tell_between,
            best: if ceiling == Ceiling::Sought { best(kind, &drawn, &simulated) } else { None },
            seconds,
        })
    }
}

/// Scenes with one right answer: batches dealt in bundles, and an effect that runs along whole rows.
pub fn is_identifiable(scene: Scene) -> bool {
    !matches!(scene, Scene::BatchInOwnRows | Scene::HollowInOwnRows | Scene::DriplineEnds)
}

fn best(kind: &Kind, drawn: &Drawn, simulated: &Simulated) -> Option<&'static str> {
    match *kind {
        Kind::Scene { scene, strength, .. } if is_identifiable(scene) => {
            Some(best_verdict(&drawn.scenario, simulated, strength))
        }
        _ => None,
    }
}

/// What the command line does for `fullstand cause FOLDER --json`, whose document is left in the folder.
fn ask(folder: &Path) -> Result<(Cause, f64), String> {
    let began = Instant::now();
    let reading = intake::read(folder).map_err(|e| e.to_string())?;
    if !reading.check.findings.is_empty() {
        return Err(format!("{}: {:?}", folder.display(), reading.check.findings));
    }
    let tally = tally(&reading.block, None).map_err(|e| e.to_string())?;
    let settings = Settings::default();
    let said = cause(&tally, &cause_config(&settings, &reading.block), settings.seed);
    let seconds = began.elapsed().as_secs_f64();
    write(folder, "cause.json", &pretty(&document(&header(&reading.block, &tally, &settings), &said)))?;
    Ok((said, seconds))
}

fn pretty(value: &Value) -> String {
    format!("{value:#}\n")
}

fn write(folder: &Path, name: &str, text: &str) -> Result<(), String> {
    let written = std::fs::create_dir_all(folder).and_then(|()| std::fs::write(folder.join(name), text));
    written.map_err(|e| format!("{}: {e}", folder.join(name).display()))
}

fn dealt(dealt: Dealt) -> &'static str {
    match dealt {
        Dealt::Bundles { .. } => "bundles",
        Dealt::Interleaved { .. } => "bundles in turn",
        Dealt::OneAfterAnother => "one after another",
        Dealt::WholeRows => "whole rows",
        Dealt::PerVine => "vine by vine",
    }
}

/// What was drawn, effects in logits.
fn truth(kind: &Kind, drawn: &Drawn, simulated: &Simulated, seed: Seed) -> Value {
    let (scenario, effects) = (&drawn.scenario, &drawn.scenario.effects);
    let (scene, strength) = match kind {
        Kind::Scene { scene, strength, .. } => (Some(scene.name()), Some(strength.name())),
        Kind::Prior { .. } => (None, None),
    };
    let batches = scenario.deliveries.iter().zip(&simulated.truth.batch);
    let hollow =
        |x: f64, y: f64, r: f64, depth: f64| json!({"across_m": x, "along_m": y, "radius_m": r, "logit": depth});
    json!({
        "explanation": cause_name(&drawn.causes),
        "scene": scene,
        "strength": strength,
        "seed": seed.number(),
        "dealt": dealt(scenario.dealt),
        "each_batch_in_one_go": drawn.in_one_go,
        "base_failure": scenario.base_failure,
        "batch": batches.map(|(d, effect)| json!({"batch": d.record.batch, "logit": effect})).collect::<Vec<_>>(),
        "while_planting": effects.while_planting,
        "row": simulated.truth.row,
        "odd_stretches": effects.odd_stretches.iter()
            .map(|s| json!({"row": s.row + 1, "from": s.from + 1, "to": s.to, "logit": s.effect})).collect::<Vec<_>>(),
        "hollows": effects.hollows.iter()
            .map(|h| hollow(h.across_m, h.along_m, h.radius_m, h.depth)).collect::<Vec<_>>(),
        "pools": effects.pools.iter()
            .map(|p| hollow(p.across_m, p.along_m, p.radius_m, p.depth)).collect::<Vec<_>>(),
        "field": effects.field.map(|f| json!({"sd": f.sd, "range_m": f.range_m})),
        "step": effects.step.map(|s| json!({"after_share": s.after, "logit": s.effect})),
        "edge": effects.edge,
        "failure_probability_mean":
            simulated.failure_probability.iter().sum::<f64>() / simulated.failure_probability.len().max(1) as f64,
    })
}
