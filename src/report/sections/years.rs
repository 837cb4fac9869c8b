//! The options over the years: crop, money, and what would change the advice.

use super::folded;
use crate::base::Assumptions;
use crate::base::words::number;
use crate::base::words::{fill, report as words};
use crate::options::{Driver, Information, Options, Outlook, SwitchPoint, Year};
use crate::report::advice::season_said;
use crate::report::figures::{crop_figure, option_tag, value_figure};
use crate::report::labels::{assumption, sentence};
use crate::report::part::{Column, Part, Table};
use crate::study::Study;

/// A driver below this share of the spread is not listed.
const LEAST_SHOWN: f64 = 0.01;
/// The most drivers that are listed.
const MOST_SHOWN: usize = 8;

pub fn parts(study: &Study) -> Option<Vec<Part>> {
    let options = study.options.as_ref().ok().filter(|o| !o.options.is_empty())?;
    let (currency, assumptions) = (&study.block.currency, &study.block.assumptions);
    let figures = crop_figure(options).into_iter().chain(value_figure(options, currency)).collect();
    let mut parts = vec![Part::List(options.options.iter().enumerate().map(said).collect()), Part::Figures(figures)];
    parts.extend(switches(&options.switch_points, assumptions).map(Part::Table));
    parts.extend(drivers(&options.drivers, assumptions).map(Part::Table));
    parts.extend(options.value_of_information.value().and_then(|i| information(i, currency)).map(Part::Table));
    parts.extend(folded(words::YEARS_TABLE, yearly(options, currency)));
    Some(parts)
}

fn said((number, outlook): (usize, &Outlook)) -> String {
    let name = fill(words::OPTION_TAGGED, &[("tag", &option_tag(number)), ("name", &outlook.name)]);
    format!("{}: {}", name, sentence(&outlook.what))
}

fn yearly(options: &Options, currency: &str) -> Vec<Part> {
    let table = |(i, o): (usize, &Outlook)| {
        let columns = vec![
            Column::number(words::C_HARVEST),
            Column::number(words::C_COST),
            Column::number(words::C_INCOME),
            Column::number(words::C_CROP),
            Column::number(words::C_CROP_KG),
        ];
        let caption = fill(words::OPTION_TAGGED, &[("tag", &option_tag(i)), ("name", &o.name)]);
        let rows = o.yearly.iter().map(|y| year(y, currency)).collect();
        Part::Table(Table { caption, columns, rows, ..Table::default() })
    };
    options.options.iter().enumerate().filter(|(_, o)| !o.yearly.is_empty()).map(table).collect()
}

fn year(year: &Year, currency: &str) -> Vec<String> {
    let unknown = || words::NOT_KNOWN.to_string();
    vec![
        season_said(year),
        number::money(year.cost, currency),
        year.income.value().map_or_else(unknown, |v| number::money(*v, currency)),
        number::percent(year.crop_share),
        year.crop_kg.value().map_or_else(unknown, |v| number::whole(*v)),
    ]
}

fn switches(points: &[SwitchPoint], assumptions: &Assumptions) -> Option<Table> {
    let columns = vec![
        Column::text(words::C_ASSUMPTION),
        Column::number(words::C_NOW),
        Column::number(words::C_SWITCH),
        Column::text(words::C_TO),
    ];
    let row = |s: &SwitchPoint| {
        let (now, then) = number::apart(s.value_now, s.value_at_switch);
        vec![assumption(&s.assumption, assumptions), now, then, s.to_option.clone()]
    };
    let keys = points.iter().map(|s| s.assumption.clone()).collect();
    table(words::YEARS_SWITCH, columns, points.iter().map(row).collect(), keys)
}

fn drivers(drivers: &[Driver], assumptions: &Assumptions) -> Option<Table> {
    let columns = vec![Column::text(words::C_ASSUMPTION), Column::number(words::C_SHARE)];
    let row = |d: &Driver| vec![assumption(&d.assumption, assumptions), number::chance(d.share)];
    let shown = || drivers.iter().filter(|d| d.share >= LEAST_SHOWN).take(MOST_SHOWN);
    let keys = shown().map(|d| d.assumption.clone()).collect();
    table(words::YEARS_DRIVERS, columns, shown().map(row).collect(), keys)
}

fn information(found: &[Information], currency: &str) -> Option<Table> {
    let columns = vec![Column::text(words::C_WHAT), Column::number(words::C_WORTH)];
    let row = |i: &Information| vec![i.about.clone(), number::money(i.worth, currency)];
    table(words::YEARS_INFORMATION, columns, found.iter().map(row).collect(), Vec::new())
}

fn table(caption: &str, columns: Vec<Column>, rows: Vec<Vec<String>>, keys: Vec<String>) -> Option<Table> {
    (!rows.is_empty()).then(|| Table { caption: caption.into(), columns, rows, keys, ..Table::default() })
}
