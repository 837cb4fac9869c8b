//! batches.csv: what is known of each delivery.

use super::Unusable;
use super::columns::{Columns, Factors, Spec, whole_lines};
use super::ledger::{Ledger, Note};
use super::settings::{STOCK_TYPES, Settings};
use super::table::{Line, Table};
use super::value;
use crate::base::words::intake as say;
use crate::block::Delivery;
use jiff::civil::Date;
use std::collections::HashMap;

pub(super) const SPEC: Spec = Spec {
    required: &["batch"],
    optional: &[
        "nursery",
        "stock_type",
        "ordered_on",
        "ordered",
        "delivered_on",
        "delivered",
        "planted",
        "spares",
        "opened_on",
        "condition_on_arrival",
        "discovered_on",
        "notified_on",
        "note",
    ],
    factors: Factors::Elsewhere,
};

/// Reads the deliveries, one line per batch.
///
/// Errors: a required column is missing.
pub(super) fn read(table: &Table, settings: &Settings, ledger: &mut Ledger) -> Result<Vec<Delivery>, Unusable> {
    let columns = Columns::find(table, &SPEC, settings, ledger)?;
    let mut deliveries = Vec::new();
    let mut line_of: HashMap<String, u64> = HashMap::new();
    for line in whole_lines(table, ledger) {
        match delivery(line, &columns, settings).and_then(|d| once(d, line, &mut line_of)) {
            Ok(delivery) => deliveries.push(delivery),
            Err(note) => ledger.set_aside(line, note),
        }
    }
    Ok(deliveries)
}

fn once(delivery: Delivery, line: Line, line_of: &mut HashMap<String, u64>) -> Result<Delivery, Note> {
    if let Some(other) = line_of.get(&delivery.batch) {
        return Err(Note::new(say::BATCH_LISTED_TWICE, &[("batch", &delivery.batch), ("other", other)]));
    }
    line_of.insert(delivery.batch.clone(), line.number());
    Ok(delivery)
}

fn delivery(line: Line, columns: &Columns, settings: &Settings) -> Result<Delivery, Note> {
    let cell = |name: &str| columns.at(name).read(line);
    let date = |name: &str| -> Result<Option<Date>, Note> { value::date(name, cell(name), settings.date_form) };
    let count = |name: &str| value::count(name, cell(name));
    let text = |name: &str| value::text(cell(name));
    Ok(Delivery {
        batch: value::batch(&value::filled("batch", Ok(text("batch")))?)?,
        nursery: text("nursery"),
        stock_type: value::word("stock_type", cell("stock_type"), &STOCK_TYPES)?,
        ordered_on: date("ordered_on")?,
        ordered: count("ordered")?,
        delivered_on: date("delivered_on")?,
        delivered: count("delivered")?,
        planted: count("planted")?,
        spares: count("spares")?,
        opened_on: date("opened_on")?,
        condition_on_arrival: text("condition_on_arrival"),
        discovered_on: date("discovered_on")?,
        notified_on: date("notified_on")?,
        note: text("note"),
    })
}
