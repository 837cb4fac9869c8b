//! The options over the years: crop, money, and what would change the advice.

use super::folded;
use crate::base::words::number;
use crate::base::words::{fill, report as words};
use crate::options::{Driver, Information, Options, Outlook, SwitchPoint, Year};
use crate::report::advice::season_said;
use crate::report::figures::{crop_figure, option_tag, value_figure};
use crate::report::labels::sentence;
use crate::report::part::{Column, Part, Table};
use crate::study::Study;

/// A driver below this share of the spread is not listed.
const LEAST_SHOWN: f64 = 0.01;

pub fn parts(study: &Study) -> Option<Vec<Part>> {
    let options = study.options.as_ref().ok().filter(|o| !o.options.is_empty())?;
    let currency = &study.block.currency;
    let figures = crop_figure(options).into_iter().chain(value_figure(options, currency)).collect();
    let mut parts = vec![Part::List(options.options.iter().enumerate().map(said).collect()), Part::Figures(figures)];
    parts.extend(switches(&options.switch_points).map(Part::Table));
    parts.extend(drivers(&options.drivers).map(Part::Table));
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
        Part::Table(Table { caption, columns, rows, marked: None })
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

fn switches(points: &[SwitchPoint]) -> Option<Table> {
    let columns = vec![
        Column::text(words::C_ASSUMPTION),
        Column::number(words::C_NOW),
        Column::number(words::C_SWITCH),
        Column::text(words::C_TO),
    ];
    let row = |s: &SwitchPoint| {
        vec![s.assumption.clone(), number::plain(s.value_now), number::plain(s.value_at_switch), s.to_option.clone()]
    };
    table(words::YEARS_SWITCH, columns, points.iter().map(row).collect())
}

fn drivers(drivers: &[Driver]) -> Option<Table> {
    let columns = vec![Column::text(words::C_ASSUMPTION), Column::number(words::C_SHARE)];
    let row = |d: &Driver| vec![d.assumption.clone(), number::chance(d.share)];
    table(words::YEARS_DRIVERS, columns, drivers.iter().filter(|d| d.share >= LEAST_SHOWN).map(row).collect())
}

fn information(found: &[Information], currency: &str) -> Option<Table> {
    let columns = vec![Column::text(words::C_WHAT), Column::number(words::C_WORTH)];
    let row = |i: &Information| vec![i.about.clone(), number::money(i.worth, currency)];
    table(words::YEARS_INFORMATION, columns, found.iter().map(row).collect())
}

fn table(caption: &str, columns: Vec<Column>, rows: Vec<Vec<String>>) -> Option<Table> {
    (!rows.is_empty()).then(|| Table { caption: caption.into(), columns, rows, marked: None })
}
