//! block.toml of a block.

use super::files::{Dialect, stock_type};
use crate::base::{Quantity, label};
use crate::block::{
    Block, Clock, Course, Do, Goal, Hemisphere, Layout, Limits, Material, Notice, PlantingOrder, Plants, RowLayout,
    StandFrom, Step, Terms, Which,
};
use jiff::civil::Date;
use toml::value::{Date as TomlDate, Datetime};
use toml::{Table, Value};

/// The columns of the register that need no declaring.
const PLAIN: [&str; 4] = ["variety", "clone", "rootstock", "batch"];

/// The text of block.toml; lengths in metres.
pub(super) fn text(block: &Block, dialect: &Dialect) -> String {
    let mut file = Table::new();
    put(&mut file, "name", Some(block.name.as_str()));
    put(&mut file, "currency", Some(block.currency.as_str()).filter(|c| !c.is_empty()));
    put(&mut file, "planted_on", block.planted_on.map(date));
    put(&mut file, "factors", not_empty(declared(block)));
    put(&mut file, "date_format", dialect.date_format());
    if block.hemisphere == Hemisphere::South {
        put(&mut file, "site", Some(Table::from_iter([("hemisphere".to_string(), Value::from("south"))])));
    }
    put(&mut file, "layout", Some(layout(block)));
    put(&mut file, "claim", by_name(block.terms.iter().map(|(batch, t)| (batch.clone(), terms(t)))));
    put(&mut file, "materials", by_name(block.materials.iter().map(|m| (m.name.clone(), material(m)))));
    put(&mut file, "goal", goal(block.goal));
    put(&mut file, "limits", Some(limits(&block.limits)).filter(|t| !t.is_empty()));
    put(&mut file, "assumptions", by_name(overridden(block)));
    put(&mut file, "option", not_empty(block.courses.iter().map(|c| course(block, c)).collect()));
    toml::to_string(&file).unwrap_or_default()
}

fn put(table: &mut Table, key: &str, value: Option<impl Into<Value>>) {
    if let Some(value) = value {
        table.insert(key.into(), value.into());
    }
}

fn not_empty<T>(list: Vec<T>) -> Option<Vec<T>> {
    Some(list).filter(|l| !l.is_empty())
}

fn by_name(entries: impl Iterator<Item = (String, impl Into<Value>)>) -> Option<Table> {
    Some(entries.map(|(name, value)| (name, value.into())).collect::<Table>()).filter(|t| !t.is_empty())
}

fn date(date: Date) -> Datetime {
    let of = TomlDate { year: date.year().max(0) as u16, month: date.month() as u8, day: date.day() as u8 };
    Datetime { date: Some(of), time: None, offset: None }
}

/// A number, or three of them.
fn quantity(q: Quantity) -> Value {
    if q.p10 == q.p90 {
        return q.p50.into();
    }
    let points = [("p10", q.p10), ("p50", q.p50), ("p90", q.p90)];
    Table::from_iter(points.map(|(name, value)| (name.to_string(), Value::from(value)))).into()
}

fn declared(block: &Block) -> Vec<String> {
    let factors = match &block.plants {
        Plants::Vines(register) => &register.factors,
        Plants::Counts(sheet) => &sheet.factors,
    };
    factors.iter().map(|f| f.name.clone()).filter(|n| !PLAIN.contains(&n.as_str())).collect()
}

fn layout(block: &Block) -> Table {
    let from: &Layout = &block.layout;
    let mut table = Table::new();
    put(&mut table, "row_spacing_m", from.row_spacing_m);
    put(&mut table, "vine_spacing_m", from.vine_spacing_m);
    put(&mut table, "training_height_cm", from.training_height_cm);
    put(&mut table, "topped_at_cm", from.topped_at_cm);
    put(&mut table, "planted", Some(planted(from.planted)));
    put(&mut table, "rows", rows_out_of_order(from));
    let furthest = furthest(block);
    let special = from.rows.iter().zip(furthest).filter_map(|(row, furthest)| special_row(row, furthest)).collect();
    put(&mut table, "row", not_empty(special));
    table
}

fn planted(order: PlantingOrder) -> &'static str {
    match order {
        PlantingOrder::Serpentine => "serpentine",
        PlantingOrder::SameEnd => "same_end",
        PlantingOrder::Unknown => "unknown",
    }
}

/// The order of the rows, where it isn't the natural one.
fn rows_out_of_order(layout: &Layout) -> Option<Vec<String>> {
    let labels: Vec<String> = layout.rows.iter().map(|r| r.label.clone()).collect();
    let natural = labels.is_sorted_by(|a, b| label::natural(a, b).is_le());
    (!natural).then_some(labels)
}

/// The furthest position recorded in each row.
fn furthest(block: &Block) -> Vec<u32> {
    let mut furthest = vec![0; block.layout.rows.len()];
    if let Plants::Vines(register) = &block.plants {
        for vine in &register.vines {
            let row = &mut furthest[vine.place.row as usize];
            *row = vine.place.position.max(*row);
        }
    }
    furthest
}

fn special_row(row: &RowLayout, furthest: u32) -> Option<Table> {
    let mut table = Table::new();
    put(&mut table, "places", (row.places != furthest).then_some(row.places));
    put(&mut table, "offset_m", Some(row.offset_m).filter(|m| *m != 0.0));
    put(&mut table, "gap_before_m", row.gap_before_m);
    put(&mut table, "no_vine", not_empty(row.no_vine.iter().map(|p| Value::from(*p)).collect()));
    if table.is_empty() {
        return None;
    }
    put(&mut table, "row", Some(row.label.as_str()));
    Some(table)
}

fn terms(from: &Terms) -> Table {
    let mut table = Table::new();
    let covers = |states: &Vec<crate::block::State>| states.iter().map(|s| Value::from(s.name())).collect::<Vec<_>>();
    put(&mut table, "guaranteed", from.guaranteed);
    put(&mut table, "covers", from.covers.as_ref().map(covers));
    put(&mut table, "judged_by", from.judged_by.map(date));
    put(&mut table, "price_per_vine", from.price_per_vine);
    put(&mut table, "cap_share", from.cap_share);
    put(&mut table, "union_max_cm", from.union_max_cm);
    put(&mut table, "condition_text", from.condition_text.as_deref());
    put(&mut table, "notice", not_empty(from.notice.iter().map(notice).collect()));
    table
}

fn notice(from: &Notice) -> Table {
    let mut table = Table::new();
    let after = match from.after {
        Clock::Delivery => "delivery",
        Clock::Planting => "planting",
        Clock::Discovery => "discovery",
    };
    put(&mut table, "after", Some(after));
    put(&mut table, "days", Some(from.days));
    put(&mut table, "working", Some(from.working).filter(|w| *w));
    put(&mut table, "if_loss_over", from.if_loss_over);
    table
}

fn material(from: &Material) -> Table {
    let mut table = Table::new();
    put(&mut table, "variety", from.variety.as_deref());
    put(&mut table, "clone", from.clone.as_deref());
    put(&mut table, "rootstock", from.rootstock.as_deref());
    put(&mut table, "stock_type", from.stock_type.map(stock_type));
    put(&mut table, "price_per_vine", from.price_per_vine.map(quantity));
    put(&mut table, "bundle", from.bundle.map(|n| n as i64));
    put(&mut table, "available_from", from.available_from.map(date));
    put(&mut table, "order_by", from.order_by.map(date));
    put(&mut table, "first_year_stand", from.first_year_stand.map(quantity));
    put(&mut table, "stand_from", stand_from(from.stand_from));
    put(&mut table, "mature_crop_kg", from.mature_crop_kg.map(quantity));
    put(&mut table, "price_per_kg", from.price_per_kg.map(quantity));
    table
}

fn stand_from(from: StandFrom) -> Option<&'static str> {
    match from {
        StandFrom::Block => Some("block"),
        StandFrom::Stated => Some("stated"),
        StandFrom::Blend => None,
    }
}

fn goal(goal: Goal) -> Option<Table> {
    let by = match goal {
        Goal::PresentValue => return None,
        Goal::FullCropYear => "full_crop_year",
        Goal::Evenness => "evenness",
        Goal::CashLowPoint => "cash_low_point",
    };
    Some(Table::from_iter([("by".to_string(), Value::from(by))]))
}

fn limits(from: &Limits) -> Table {
    let mut table = Table::new();
    put(&mut table, "cash", from.cash);
    put(&mut table, "full_by", from.full_by.map(i64::from));
    put(&mut table, "hours_per_winter", from.hours_per_winter);
    put(&mut table, "free_rows", not_empty(from.free_rows.clone()));
    table
}

fn overridden(block: &Block) -> impl Iterator<Item = (String, Value)> {
    let ours = block.assumptions.list().into_iter().filter(|a| block.assumptions.is_overridden(&a.name));
    ours.map(|a| (a.name, Value::from(a.value)))
}

fn course(block: &Block, from: &Course) -> Table {
    let mut table = Table::new();
    put(&mut table, "name", Some(from.name.as_str()));
    put(&mut table, "step", not_empty(from.steps.iter().map(|s| step(block, s)).collect()));
    table
}

fn step(block: &Block, from: &Step) -> Table {
    let label = |row: &u32| Value::from(block.layout.label(*row));
    let place = |p: &crate::block::Place| Value::from(format!("{}/{}", block.layout.label(p.row), p.position));
    let mut table = Table::new();
    put(&mut table, "vines", Some(which(from.target.vines)));
    put(&mut table, "rows", not_empty(from.target.rows.iter().map(label).collect()));
    put(&mut table, "batch", from.target.batch.as_deref());
    put(&mut table, "places", not_empty(from.target.places.iter().map(place).collect()));
    put(&mut table, "do", Some(action(from.action)));
    put(&mut table, "to", from.to.map(which));
    put(&mut table, "material", from.material.as_deref());
    put(&mut table, "winter", Some(from.winter));
    table
}

fn which(which: Which) -> &'static str {
    match which {
        Which::Failed => "failed",
        Which::Weak => "weak",
        Which::Living => "living",
        Which::All => "all",
    }
}

fn action(action: Do) -> &'static str {
    match action {
        Do::Leave => "leave",
        Do::Replant => "replant",
        Do::TakeUp => "take_up",
        Do::CutBack => "cut_back",
        Do::Move => "move",
        Do::Clear => "clear",
        Do::Plant => "plant",
    }
}
