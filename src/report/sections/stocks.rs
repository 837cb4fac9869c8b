//! Stocks and clones compared, and what a comparison could show.

use crate::base::Known;
use crate::base::words::number;
use crate::base::words::{rates as words, report as report_words};
use crate::rates::{Comparison, PowerAnswer, PowerDesign};
use crate::report::labels::sentence;
use crate::report::part::{Column, Part, Table};
use crate::study::Study;

pub fn parts(study: &Study) -> Option<Vec<Part>> {
    let rates = &study.rates;
    let mut parts: Vec<Part> = [&rates.rootstock, &rates.clone].into_iter().filter_map(compared).collect();
    match &rates.power {
        Known::Value(power) => parts.extend([Part::Text(power.sentences.join(" ")), Part::Table(designs(power))]),
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
    let count = |n: &Known<u64>| n.value().map_or(report_words::NOT_KNOWN.into(), |n| number::count(*n));
    let row = |d: &PowerDesign| {
        let chance = d.power.value().map_or(report_words::NOT_KNOWN.into(), |p| number::chance(*p));
        vec![number::count(d.batches_per_stock), count(&d.vines_per_batch), count(&d.vines_per_stock), chance]
    };
    Table {
        caption: words::POWER_DESIGNS.into(),
        columns,
        rows: power.designs.iter().map(row).collect(),
        ..Table::default()
    }
}
