//! Stocks and clones compared, and what a comparison could show.

use crate::base::Known;
use crate::base::words::number;
use crate::base::words::rates as words;
use crate::rates::{Comparison, PowerAnswer, PowerDesign};
use crate::report::labels::sentence;
use crate::report::part::{Column, Part, Table};
use crate::study::Study;

pub fn parts(study: &Study) -> Option<Vec<Part>> {
    let rates = &study.rates;
    let mut parts: Vec<Part> = [&rates.rootstock, &rates.clone].into_iter().filter_map(compared).collect();
    match &rates.power {
        Known::Value(power) => {
            parts.push(Part::Text(power.sentences.join(" ")));
            parts.extend(power.least.value().map(|_| Part::Table(designs(power))));
        }
        Known::Absent(why) if study.settings.power.is_some() => parts.push(Part::Text(sentence(&why.reason))),
        Known::Absent(_) => {}
    }
    (!parts.is_empty()).then_some(parts)
}

fn compared(comparison: &Known<Comparison>) -> Option<Part> {
    comparison.value().map(|c| Part::Text(c.sentences.join(" ")))
}

fn designs(power: &PowerAnswer) -> Table {
    let columns = vec![
        Column::number(words::POWER_C_BATCHES),
        Column::number(words::POWER_C_VINES),
        Column::number(words::POWER_C_TOTAL),
        Column::number(words::POWER_C_CHANCE),
    ];
    let count = |n: &Known<u64>| n.value().map_or(words::POWER_C_NONE.into(), |n| number::count(*n));
    let chance = |p: &Known<f64>| p.value().map_or(String::new(), |p| number::chance(*p));
    let row = |d: &PowerDesign| {
        vec![number::count(d.batches_per_stock), count(&d.vines_per_batch), count(&d.vines_per_stock), chance(&d.power)]
    };
    Table {
        caption: words::POWER_DESIGNS.into(),
        columns,
        rows: power.designs.iter().map(row).collect(),
        ..Table::default()
    }
}
