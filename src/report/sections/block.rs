//! The block from above: what was seen, and what to do there.

use crate::base::words::number;
use crate::base::words::report as words;
use crate::rates::FactorRates;
use crate::report::figures::{states_map, work_map};
use crate::report::part::{Column, Part, Table};
use crate::study::Study;

pub fn parts(study: &Study) -> Option<Vec<Part>> {
    let Some(field) = study.tally.field.as_ref().filter(|f| !f.places.is_empty()) else {
        return Some(vec![Part::Text(words::MAP_ABSENT.into())]);
    };
    let mut states = states_map(&study.block, field);
    states.table = study.rates.factors.iter().find(|f| f.factor == "row").map(failures_by_row);
    let mut figures = vec![states];
    figures.extend(study.triage.vines.value().map(|work| work_map(&study.block, work)));
    let set_back = study.block.layout.rows.iter().any(|r| r.offset_m > 0.0);
    let caption =
        if set_back { format!("{} {}", words::MAP_CAPTION, words::MAP_SET_BACK) } else { words::MAP_CAPTION.into() };
    Some(vec![Part::Text(caption), Part::Figures(figures), Part::Text(words::FIRST_PLANTING_NOTE.into())])
}

fn failures_by_row(rows: &FactorRates) -> Table {
    let columns = vec![
        Column::text(words::C_ROW),
        Column::number(words::C_SEEN),
        Column::number(words::C_FAILED),
        Column::number(words::C_MISSING),
    ];
    let line = |l: &crate::rates::LevelRates| {
        vec![l.level.clone(), number::count(l.seen), number::count(l.failed), number::count(l.missing)]
    };
    Table {
        caption: words::MAP_TABLE.into(),
        columns,
        rows: rows.levels.iter().map(line).collect(),
        ..Table::default()
    }
}
