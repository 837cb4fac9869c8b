//! The table of counts per cell, in the columns of counts.csv.

use super::{Cell, Counts, Tally};
use serde_json::{Map, Value, json};

/// Columns that every record has, before the declared factors.
const LEVELS: [&str; 5] = ["row", "batch", "variety", "clone", "rootstock"];

/// One record per cell: labels, then numbers of vines. `good` and `weak` only where every living vine has a class,
/// so that `seen = good + weak + failed`.
pub fn records(tally: &Tally) -> Vec<Map<String, Value>> {
    tally.cells.iter().map(|cell| record(tally, cell)).collect()
}

fn record(tally: &Tally, cell: &Cell) -> Map<String, Value> {
    let mut record = Map::new();
    LEVELS.iter().for_each(|name| insert(&mut record, name, label(tally, cell, name)));
    let declared = tally.factors.iter().filter(|f| !LEVELS.contains(&f.name.as_str()));
    declared.for_each(|f| insert(&mut record, &f.name, label(tally, cell, &f.name)));
    numbers(&cell.counts).into_iter().for_each(|(name, n)| insert(&mut record, name, n));
    insert(&mut record, "surveyed_on", json!(tally.walk.map(|(_, last)| last.to_string())));
    record
}

fn insert(record: &mut Map<String, Value>, name: &str, value: Value) {
    record.insert(name.into(), value);
}

fn label(tally: &Tally, cell: &Cell, name: &str) -> Value {
    let factor = tally.factors.iter().position(|f| f.name == name);
    json!(factor.and_then(|i| tally.factors[i].levels.get(cell.codes[i] as usize)))
}

/// Kinds of failure stand only where every failure has one, or vines of that kind were counted.
fn numbers(c: &Counts) -> [(&'static str, Value); 11] {
    let classed = c.good.saturating_add(c.weak) == c.alive();
    let told: u64 = [c.never_grew, c.died, c.dead, c.scion_dead, c.missing].iter().sum();
    let kind = |n: u64| json!((told == c.failed || n > 0).then_some(n));
    [
        ("planted", json!(c.planted)),
        ("seen", json!(c.seen)),
        ("failed", json!(c.failed)),
        ("good", json!(classed.then_some(c.good))),
        ("weak", json!(classed.then_some(c.weak))),
        ("reached_wire", json!((c.wire_seen == c.alive()).then_some(c.reached_wire))),
        ("no_budburst", kind(c.never_grew)),
        ("died", kind(c.died)),
        ("dead", kind(c.dead)),
        ("scion_dead", kind(c.scion_dead)),
        ("missing", kind(c.missing)),
    ]
}
