//! block.toml: the block, terms, materials, options, and how the tables are written.

use super::Unusable;
use super::courses::{self, CourseDraft};
use super::ledger::{Ledger, Note};
use super::node::{Node, Section, Source};
use super::value::{DateForm, MOST_POSITIONS};
use super::{nearest, terms};
use crate::base::assumption::{BadOverride, DEFAULTS};
use crate::base::units::METRES_PER_FOOT;
use crate::base::words::intake as say;
use crate::base::{Assumptions, Quantity, Scale};
use crate::block::{Goal, Hemisphere, Limits, Material, PlantingOrder, StandFrom, StockType, Terms};
use jiff::civil::Date;
use std::collections::{BTreeMap, HashMap};
use std::ops::RangeInclusive;
use toml::de::DeTable;

/// Everything that block.toml says. Rows and batches are still labels: which there are, the register says.
#[derive(Debug, Default)]
pub(super) struct Settings {
    /// Name of the file it stands in.
    pub file: String,
    pub name: String,
    pub currency: String,
    pub planted_on: Option<Date>,
    /// Declared factors, by name.
    pub factors: Vec<String>,
    pub date_form: Option<DateForm>,
    pub hemisphere: Hemisphere,
    pub layout: LayoutSettings,
    /// Our column to the grower's heading.
    pub columns: BTreeMap<String, Own>,
    /// Our column to the grower's words (lower case) to ours.
    pub values: HashMap<String, HashMap<String, String>>,
    /// Terms by batch, with their line.
    pub terms: BTreeMap<String, (Terms, u64)>,
    pub materials: Vec<Material>,
    pub goal: Goal,
    pub limits: Limits,
    /// Line of the limits, for rows that don't exist.
    pub limits_line: u64,
    pub courses: Vec<CourseDraft>,
    pub assumptions: Assumptions,
}

/// A heading of the grower's own.
#[derive(Clone, Debug)]
pub(super) struct Own {
    pub heading: String,
    pub line: u64,
}

/// `[layout]`, lengths in metres.
#[derive(Clone, Debug, Default)]
pub(super) struct LayoutSettings {
    pub row_spacing_m: Option<f64>,
    pub vine_spacing_m: Option<f64>,
    pub training_height_cm: Option<f64>,
    pub topped_at_cm: Option<f64>,
    pub planted: PlantingOrder,
    pub rows: Vec<String>,
    pub special: Vec<SpecialRow>,
}

/// `[[layout.row]]`.
#[derive(Clone, Debug, Default)]
pub(super) struct SpecialRow {
    pub row: String,
    pub places: Option<u32>,
    pub offset_m: f64,
    pub gap_before_m: Option<f64>,
    /// Ascending, each once.
    pub no_vine: Vec<u32>,
}

impl LayoutSettings {
    pub fn special(&self, row: &str) -> Option<&SpecialRow> {
        self.special.iter().find(|s| s.row == row)
    }
}

const KEYS: &[&str] = &[
    "name",
    "currency",
    "planted_on",
    "factors",
    "date_format",
    "site",
    "layout",
    "columns",
    "values",
    "claim",
    "materials",
    "goal",
    "limits",
    "assumptions",
    "option",
];
const SITE_KEYS: &[&str] = &["hemisphere"];
const LAYOUT_KEYS: &[&str] = &[
    "row_spacing_m",
    "row_spacing_ft",
    "vine_spacing_m",
    "vine_spacing_ft",
    "training_height_cm",
    "topped_at_cm",
    "planted",
    "rows",
    "row",
];
const ROW_KEYS: &[&str] = &["row", "places", "offset_m", "gap_before_m", "no_vine"];
const MATERIAL_KEYS: &[&str] = &[
    "variety",
    "clone",
    "rootstock",
    "stock_type",
    "price_per_vine",
    "bundle",
    "available_from",
    "order_by",
    "first_year_stand",
    "stand_from",
    "mature_crop_kg",
    "price_per_kg",
];
const GOAL_KEYS: &[&str] = &["by"];
const LIMITS_KEYS: &[&str] = &["cash", "full_by", "hours_per_winter", "free_rows"];
pub(super) const STOCK_TYPES: [(&str, StockType); 3] =
    [("dormant", StockType::Dormant), ("green", StockType::Green), ("potted", StockType::Potted)];
/// Names that explanations and columns have already, so that no declared factor may take them.
const TAKEN: &[&str] = &["chance", "place", "order", "edge", "cannot_tell"];
/// Plausible distances between rows or vines, and heights on a trellis.
const SPACING_M: RangeInclusive<f64> = 0.1..=50.0;
const TRELLIS_CM: RangeInclusive<f64> = 1.0..=1000.0;
const OFFSET_M: RangeInclusive<f64> = -10_000.0..=10_000.0;
const MONEY: RangeInclusive<f64> = 0.0..=1e12;

/// Reads the text of block.toml.
pub(super) fn read(file: &str, text: &str, ledger: &mut Ledger) -> Result<Settings, Unusable> {
    let source = Source { file, text };
    let parsed = DeTable::parse(text).map_err(|e| source.refuse(&e))?;
    let root = Section { source, table: parsed.get_ref(), line: 1 };
    root.report_unknown(KEYS, ledger);
    let nameless = || Note::new(say::NO_NAME, &[]).unusable(file, Some(1));
    let mut settings = Settings {
        file: file.into(),
        name: root.text("name")?.ok_or_else(nameless)?,
        currency: root.text("currency")?.unwrap_or_default(),
        planted_on: root.date("planted_on")?,
        factors: factors(&root)?,
        date_form: root.read("date_format", |n| n.date_form())?,
        hemisphere: site(&root, ledger)?,
        layout: layout(&root, ledger)?,
        materials: materials(&root, ledger)?,
        goal: goal(&root, ledger)?,
        terms: terms::read(&root, ledger)?,
        courses: courses::read(&root, ledger)?,
        assumptions: assumptions(&root)?,
        ..Settings::default()
    };
    limits(&root, &mut settings, ledger)?;
    dialect(&root, &mut settings, ledger)?;
    Ok(settings)
}

fn factors(root: &Section) -> Result<Vec<String>, Unusable> {
    let Some(node) = root.get("factors") else { return Ok(Vec::new()) };
    let mut names = Vec::new();
    for item in node.list()? {
        let name = item.text()?;
        if name.contains('+') || TAKEN.contains(&name.as_str()) || super::is_taken_by_a_column(&name) {
            return Err(item.refuse(Note::new(say::BAD_FACTOR, &[("name", &name)])));
        }
        if names.contains(&name) {
            return Err(item.refuse(Note::new(say::REPEATED_NAME, &[("what", &"the factor"), ("name", &name)])));
        }
        names.push(name);
    }
    names.sort();
    Ok(names)
}

fn site(root: &Section, ledger: &mut Ledger) -> Result<Hemisphere, Unusable> {
    let Some(site) = root.read("site", |n| n.section())? else { return Ok(Hemisphere::North) };
    site.report_unknown(SITE_KEYS, ledger);
    let words = [("north", Hemisphere::North), ("south", Hemisphere::South)];
    Ok(site.choice("hemisphere", &words)?.unwrap_or_default())
}

fn layout(root: &Section, ledger: &mut Ledger) -> Result<LayoutSettings, Unusable> {
    let Some(layout) = root.read("layout", |n| n.section())? else { return Ok(LayoutSettings::default()) };
    layout.report_unknown(LAYOUT_KEYS, ledger);
    let orders = [
        ("serpentine", PlantingOrder::Serpentine),
        ("same_end", PlantingOrder::SameEnd),
        ("unknown", PlantingOrder::Unknown),
    ];
    let rows = layout.texts("rows")?;
    refuse_repeats(&layout, "rows", rows.iter())?;
    Ok(LayoutSettings {
        row_spacing_m: spacing(&layout, "row_spacing_m", "row_spacing_ft")?,
        vine_spacing_m: spacing(&layout, "vine_spacing_m", "vine_spacing_ft")?,
        training_height_cm: layout.number("training_height_cm", TRELLIS_CM)?,
        topped_at_cm: layout.number("topped_at_cm", TRELLIS_CM)?,
        planted: layout.choice("planted", &orders)?.unwrap_or_default(),
        rows,
        special: special_rows(&layout, ledger)?,
    })
}

fn spacing(layout: &Section, metres: &str, feet: &str) -> Result<Option<f64>, Unusable> {
    if let (Some(_), Some(node)) = (layout.get(metres), layout.get(feet)) {
        return Err(node.refuse(Note::new(say::CONFLICTING_KEYS, &[("first", &metres), ("second", &feet)])));
    }
    let in_feet = (SPACING_M.start() / METRES_PER_FOOT).ceil()..=(SPACING_M.end() / METRES_PER_FOOT).floor();
    let converted = layout.number(feet, in_feet)?.map(|ft| ft * METRES_PER_FOOT);
    Ok(layout.number(metres, SPACING_M)?.or(converted))
}

fn special_rows(layout: &Section, ledger: &mut Ledger) -> Result<Vec<SpecialRow>, Unusable> {
    let sections = layout.array("row")?;
    let rows: Vec<SpecialRow> = sections.iter().map(|s| special_row(s, ledger)).collect::<Result<_, _>>()?;
    refuse_repeats(layout, "row", rows.iter().map(|r| &r.row))?;
    Ok(rows)
}

fn special_row(section: &Section, ledger: &mut Ledger) -> Result<SpecialRow, Unusable> {
    section.report_unknown(ROW_KEYS, ledger);
    let most = u64::from(MOST_POSITIONS);
    let row = section.text("row")?.ok_or_else(|| section.refuse(incomplete("row", "\"12\"")))?;
    let places = section.whole("places", 1..=most)?.map(|p| p as u32);
    let posts = section.read("no_vine", |n| n.list())?.unwrap_or_default();
    let last = places.map_or(most, u64::from);
    let mut no_vine: Vec<u32> = posts.iter().map(|n| n.whole(1..=last).map(|p| p as u32)).collect::<Result<_, _>>()?;
    no_vine.sort_unstable();
    no_vine.dedup();
    let offset_m = section.number("offset_m", OFFSET_M)?.unwrap_or(0.0);
    Ok(SpecialRow { row, places, offset_m, gap_before_m: section.number("gap_before_m", 0.0..=10_000.0)?, no_vine })
}

fn incomplete(key: &str, example: &str) -> Note {
    let values: [(&str, &dyn std::fmt::Display); 4] =
        [("key", &key), ("found", &"missing"), ("wanted", &say::A_TEXT), ("example", &example)];
    Note::new(say::BAD_VALUE, &values)
}

fn refuse_repeats<'n>(section: &Section, key: &str, names: impl Iterator<Item = &'n String>) -> Result<(), Unusable> {
    let mut seen = std::collections::HashSet::new();
    let mut names = names;
    let Some(twice) = names.find(|name| !seen.insert(*name)) else { return Ok(()) };
    let note = Note::new(say::REPEATED_NAME, &[("what", &key), ("name", twice)]);
    Err(section.get(key).map_or_else(|| section.refuse(note.clone()), |n| n.refuse(note.clone())))
}

fn materials(root: &Section, ledger: &mut Ledger) -> Result<Vec<Material>, Unusable> {
    root.sections("materials")?.into_iter().map(|(name, section)| material(name, &section, ledger)).collect()
}

fn material(name: &str, section: &Section, ledger: &mut Ledger) -> Result<Material, Unusable> {
    section.report_unknown(MATERIAL_KEYS, ledger);
    let from = [("block", StandFrom::Block), ("stated", StandFrom::Stated), ("blend", StandFrom::Blend)];
    Ok(Material {
        name: name.trim().into(),
        variety: section.text("variety")?,
        clone: section.text("clone")?,
        rootstock: section.text("rootstock")?,
        stock_type: section.choice("stock_type", &STOCK_TYPES)?,
        price_per_vine: section.quantity("price_per_vine", Scale::Amount)?,
        bundle: section.whole("bundle", 1..=1_000_000)?,
        available_from: section.date("available_from")?,
        order_by: section.date("order_by")?,
        first_year_stand: section.quantity("first_year_stand", Scale::Rate)?,
        stand_from: section.choice("stand_from", &from)?.unwrap_or_default(),
        mature_crop_kg: section.quantity("mature_crop_kg", Scale::Amount)?,
        price_per_kg: section.quantity("price_per_kg", Scale::Amount)?,
    })
}

fn goal(root: &Section, ledger: &mut Ledger) -> Result<Goal, Unusable> {
    let Some(goal) = root.read("goal", |n| n.section())? else { return Ok(Goal::default()) };
    goal.report_unknown(GOAL_KEYS, ledger);
    let words = [
        ("present_value", Goal::PresentValue),
        ("full_crop_year", Goal::FullCropYear),
        ("evenness", Goal::Evenness),
        ("cash_low_point", Goal::CashLowPoint),
    ];
    Ok(goal.choice("by", &words)?.unwrap_or_default())
}

fn limits(root: &Section, settings: &mut Settings, ledger: &mut Ledger) -> Result<(), Unusable> {
    let Some(limits) = root.read("limits", |n| n.section())? else { return Ok(()) };
    limits.report_unknown(LIMITS_KEYS, ledger);
    settings.limits_line = limits.get("free_rows").map_or(limits.line, |n| n.line());
    settings.limits = Limits {
        cash: limits.number("cash", MONEY)?,
        full_by: limits.whole("full_by", 1900..=2199)?.map(|year| year as i16),
        hours_per_winter: limits.number("hours_per_winter", 0.0..=1e9)?,
        free_rows: limits.texts("free_rows")?,
    };
    Ok(())
}

/// The grower's own headings and words.
fn dialect(root: &Section, settings: &mut Settings, ledger: &mut Ledger) -> Result<(), Unusable> {
    let known = |name: &str| super::is_column(name) || settings.factors.iter().any(|f| f == name);
    let mut columns = BTreeMap::new();
    let mut values = HashMap::new();
    for node in entries(root, "columns")? {
        report_unknown_column(node, &known, ledger);
        columns.insert(node.key.to_string(), Own { heading: node.text()?, line: node.line() });
    }
    for node in entries(root, "values")? {
        report_unknown_column(node, &known, ledger);
        let words = node.section()?.entries().map(|n| Ok((n.key.trim().to_lowercase(), n.text()?)));
        values.insert(node.key.to_string(), words.collect::<Result<HashMap<_, _>, Unusable>>()?);
    }
    (settings.columns, settings.values) = (columns, values);
    Ok(())
}

fn entries<'t>(root: &Section<'t>, key: &str) -> Result<Vec<Node<'t>>, Unusable> {
    Ok(root.read(key, |n| n.section())?.map_or_else(Vec::new, |s| s.entries().collect()))
}

fn report_unknown_column(node: Node, known: &impl Fn(&str) -> bool, ledger: &mut Ledger) {
    if !known(node.key) {
        let hint = nearest::hint(node.key, super::all_columns());
        let note = Note::new(say::UNKNOWN_KEY, &[("key", &node.key), ("nearest", &hint)]);
        ledger.find(node.source.file, node.line(), note);
    }
}

/// `[assumptions]`; a name may be quoted whole or be written as sections, `labour.price_per_hour = 22`.
fn assumptions(root: &Section) -> Result<Assumptions, Unusable> {
    let mut assumptions = Assumptions::default();
    let mut open: Vec<(String, Node)> =
        entries(root, "assumptions")?.into_iter().map(|n| (n.key.to_string(), n)).collect();
    while let Some((name, node)) = open.pop() {
        match (node.unchecked_quantity(), node.section()) {
            (Some(quantity), _) => set(&mut assumptions, &name, quantity, node)?,
            (None, Ok(below)) if below.get("p50").is_none() => {
                open.extend(below.entries().map(|n| (format!("{name}.{}", n.key), n)));
            }
            _ => return Err(node.wrong(say::AN_AMOUNT, "22")),
        }
    }
    Ok(assumptions)
}

/// A name that stands for nothing is refused: money would be reckoned without the grower's own figure, unsaid.
fn set(assumptions: &mut Assumptions, name: &str, value: Quantity, node: Node) -> Result<(), Unusable> {
    match assumptions.set(name, value) {
        Ok(()) => Ok(()),
        Err(BadOverride::Unusable { .. }) => Err(node.wrong(say::AN_AMOUNT, "22")),
        Err(BadOverride::Unknown { .. }) => {
            let hint = nearest::hint(name, DEFAULTS.iter().map(|d| d.name));
            Err(node.refuse(Note::new(say::UNKNOWN_ASSUMPTION, &[("key", &name), ("nearest", &hint)])))
        }
    }
}
