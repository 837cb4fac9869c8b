//! `[[option]]`: courses of action that the grower wants weighed. Read as labels first; resolved once the rows,
//! batches and materials are known. An option that names a row, place or batch which isn't there is left out, and said.

use super::Unusable;
use super::layout::RowIndex;
use super::ledger::{Ledger, Note};
use super::nearest;
use super::node::Section;
use super::settings::Settings;
use super::value;
use crate::base::words::{fill, intake as say};
use crate::block::{Course, Do, Layout, Material, Place, Step, Target, Which};

const KEYS: &[&str] = &["name", "step"];
const STEP_KEYS: &[&str] = &["vines", "rows", "batch", "places", "do", "to", "material", "winter"];
const WHICH: [(&str, Which); 4] =
    [("failed", Which::Failed), ("weak", Which::Weak), ("living", Which::Living), ("all", Which::All)];
const ACTIONS: [(&str, Do); 7] = [
    ("leave", Do::Leave),
    ("replant", Do::Replant),
    ("take_up", Do::TakeUp),
    ("cut_back", Do::CutBack),
    ("move", Do::Move),
    ("clear", Do::Clear),
    ("plant", Do::Plant),
];
/// Winters ahead that a step may lie in.
const MOST_WINTERS: u64 = 50;

/// An option with rows, batches and materials as labels.
#[derive(Clone, Debug)]
pub(super) struct CourseDraft {
    name: String,
    steps: Vec<StepDraft>,
}

#[derive(Clone, Debug)]
struct StepDraft {
    line: u64,
    vines: Which,
    rows: Vec<String>,
    batch: Option<String>,
    places: Vec<String>,
    action: Do,
    to: Option<Which>,
    material: Option<String>,
    winter: u32,
}

/// Reads every `[[option]]`.
pub(super) fn read(root: &Section, ledger: &mut Ledger) -> Result<Vec<CourseDraft>, Unusable> {
    let mut drafts: Vec<CourseDraft> = Vec::new();
    for section in root.array("option")? {
        section.report_unknown(KEYS, ledger);
        let name = section.text("name")?.ok_or_else(|| lacks(&section, "option", "name", "\"…\""))?;
        if drafts.iter().any(|d| d.name == name) {
            return Err(section.refuse(Note::new(say::REPEATED_NAME, &[("what", &"the option"), ("name", &name)])));
        }
        let steps = section.array("step")?.iter().map(|s| step(s, ledger)).collect::<Result<_, _>>()?;
        drafts.push(CourseDraft { name, steps });
    }
    Ok(drafts)
}

fn lacks(section: &Section, action: &str, missing: &str, example: &str) -> Unusable {
    let values: [(&str, &dyn std::fmt::Display); 3] =
        [("action", &action), ("missing", &missing), ("example", &example)];
    section.refuse(Note::new(say::INCOMPLETE_STEP, &values))
}

fn step(section: &Section, ledger: &mut Ledger) -> Result<StepDraft, Unusable> {
    section.report_unknown(STEP_KEYS, ledger);
    let action = section.choice("do", &ACTIONS)?.ok_or_else(|| lacks(section, "…", "do", "\"replant\""))?;
    let step = StepDraft {
        line: section.line,
        vines: which(section)?,
        rows: section.texts("rows")?,
        batch: section.text("batch")?,
        places: section.texts("places")?,
        action,
        to: section.choice("to", &WHICH)?,
        material: section.text("material")?,
        winter: section.whole("winter", 0..=MOST_WINTERS)?.unwrap_or(0) as u32,
    };
    let name = ACTIONS.iter().find(|(_, a)| *a == action).map_or("", |(n, _)| n);
    match action {
        Do::Move if step.to.is_none() => Err(lacks(section, name, "to", "\"failed\"")),
        Do::Replant | Do::Plant if step.material.is_none() => Err(lacks(section, name, "material", "\"…\"")),
        _ => Ok(step),
    }
}

/// All vines of the rows, batch or places named, unless a state is said.
fn which(section: &Section) -> Result<Which, Unusable> {
    let narrowed = ["rows", "batch", "places"].iter().any(|key| section.get(key).is_some());
    let said = section.choice("vines", &WHICH)?;
    said.or(narrowed.then_some(Which::All)).ok_or_else(|| lacks(section, "step", "vines", "\"failed\""))
}

/// What the labels of an option may name.
pub(super) struct Known<'b> {
    pub layout: &'b Layout,
    pub rows: &'b RowIndex,
    pub batches: &'b [String],
}

/// The options with rows as indices and everything else looked up; those that name what isn't there are left out.
pub(super) fn resolve(settings: &Settings, known: &Known, ledger: &mut Ledger) -> Vec<Course> {
    let mut courses = Vec::new();
    for draft in &settings.courses {
        let steps: Option<Vec<Step>> = draft
            .steps
            .iter()
            .map(|step| {
                let resolved = resolve_step(step, &draft.name, known);
                resolved.map_err(|note| ledger.find(&settings.file, step.line, note)).ok()
            })
            .collect();
        courses.extend(steps.map(|steps| Course { name: draft.name.clone(), steps }));
    }
    courses
}

/// The materials that options plant without block.toml describing them; nothing is known of them but the name.
pub(super) fn undescribed(settings: &Settings, ledger: &mut Ledger) -> Vec<Material> {
    let mut named: Vec<Material> = Vec::new();
    for step in settings.courses.iter().flat_map(|c| &c.steps) {
        let Some(name) = &step.material else { continue };
        if settings.materials.iter().chain(&named).any(|m| m.name == *name) {
            continue;
        }
        let hint = nearest::hint(name, settings.materials.iter().map(|m| m.name.as_str()));
        let note = Note::new(say::UNDESCRIBED_MATERIAL, &[("material", name), ("nearest", &hint)]);
        ledger.find(&settings.file, step.line, note);
        named.push(Material { name: name.clone(), ..Material::default() });
    }
    named
}

fn resolve_step(step: &StepDraft, option: &str, known: &Known) -> Result<Step, Note> {
    let leave_out = |what: &str, name: &String, known: String| {
        let values: [(&str, &dyn std::fmt::Display); 4] =
            [("option", &option), ("what", &what), ("name", name), ("known", &known)];
        Note::new(say::OPTION_LEFT_OUT, &values)
    };
    let rows = || fill(say::KNOWN_ROWS, &[("known", &row_labels(known.layout))]);
    let row = |label: &String| known.rows.index(label).ok_or_else(|| leave_out("row", label, rows()));
    let place = |p: &String| resolve_place(p, known).ok_or_else(|| leave_out("place", p, say::PLACES_LOOK_SO.into()));
    if let Some(batch) = step.batch.as_ref().filter(|b| !known.batches.contains(b)) {
        let batches = fill(say::KNOWN_BATCHES, &[("known", &some_of(known.batches.iter().map(String::as_str)))]);
        return Err(leave_out("batch", batch, batches));
    }
    let target = Target {
        vines: step.vines,
        rows: step.rows.iter().map(row).collect::<Result<_, _>>()?,
        batch: step.batch.clone(),
        places: step.places.iter().map(place).collect::<Result<_, _>>()?,
    };
    Ok(Step { target, action: step.action, to: step.to, material: step.material.clone(), winter: step.winter })
}

fn resolve_place(text: &str, known: &Known) -> Option<Place> {
    let (row, position) = value::place("places", text).ok()??;
    let row = known.rows.index(row)?;
    (position <= known.layout.rows.get(row as usize)?.places).then_some(Place { row, position })
}

/// A row that block.toml names and nobody planted.
pub(super) fn unknown_row(label: &str, layout: &Layout) -> Note {
    Note::new(say::UNKNOWN_ROW, &[("row", &label), ("rows", &row_labels(layout))])
}

fn row_labels(layout: &Layout) -> String {
    some_of(layout.rows.iter().map(|r| r.label.as_str()))
}

/// At most twenty names, for a message.
pub(super) fn some_of<'n>(names: impl Iterator<Item = &'n str>) -> String {
    let mut some: Vec<&str> = names.take(21).collect();
    if some.len() > 20 {
        some[20] = "…";
    }
    some.join(", ")
}
