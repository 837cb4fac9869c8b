//! Results to the inputs of pictures.

use super::advice::season;
use super::labels::{ACTIONS, Look, STANDINGS, factor};
use super::part::{Figure, Key, Table};
use crate::base::Estimate;
use crate::base::words::number;
use crate::base::words::{fill, report as words};
use crate::block::Block;
use crate::options::{Options, Outlook, Year};
use crate::order::Order;
use crate::plot::interval::MARKS;
use crate::plot::line::style;
use crate::plot::{
    self, Alt, Axis, BlockMap, Interval, IntervalChart, IntervalRow, LineChart, MapClass, MapMark, MapRow, Series,
};
use crate::rates::{FactorRates, LevelRates, Rates, Stand};
use crate::tally::Field;
use crate::triage::Work;

/// The block by what was seen on each place.
pub fn states_map(block: &Block, field: &Field) -> Figure {
    let class = |standing| STANDINGS.iter().position(|(s, _)| *s == standing);
    let marks = field
        .places
        .iter()
        .filter_map(|p| Some(MapMark { row: p.place.row, position: p.place.position, class: class(p.standing)? }));
    let looks: Vec<Look> = STANDINGS.iter().map(|(_, l)| *l).collect();
    block_map(block, "states", (words::MAP_STATES, words::MAP_STATES_SAYS), &looks, marks.collect())
}

/// The block by the work that each place needs.
pub fn work_map(block: &Block, work: &[Work]) -> Figure {
    let class = |action| ACTIONS.iter().position(|a| a.action == action);
    let marks = work
        .iter()
        .filter_map(|w| Some(MapMark { row: w.place.row, position: w.place.position, class: class(w.action)? }));
    let looks: Vec<Look> = ACTIONS.iter().map(|a| a.look).collect();
    block_map(block, "work", (words::MAP_WORK, words::MAP_WORK_SAYS), &looks, marks.collect())
}

fn block_map(block: &Block, id: &str, (title, says): (&str, &str), looks: &[Look], marks: Vec<MapMark>) -> Figure {
    let counted: Vec<(usize, &Look)> =
        looks.iter().enumerate().map(|(i, look)| (marks.iter().filter(|m| m.class == i).count(), look)).collect();
    let present: Vec<String> = counted
        .iter()
        .filter(|(n, _)| *n > 0)
        .map(|(n, l)| format!("{} {}", l.label, number::count(*n as u64)))
        .collect();
    let key = counted.iter().filter(|(n, _)| *n > 0).map(|(n, l)| Key {
        symbol: l.shape.symbol(l.ink, None),
        label: l.label.into(),
        count: number::count(*n as u64),
    });
    let description = fill(says, &[("counts", &present.join(", "))]);
    let drawn = BlockMap {
        alt: Alt { title: title.into(), description },
        rows: map_rows(block),
        classes: looks.iter().map(|l| MapClass { shape: l.shape, ink: l.ink }).collect(),
        marks,
        row_title: words::MAP_ROW.into(),
    };
    Figure {
        id: format!("map-{id}"),
        title: title.into(),
        svg: plot::map(&drawn),
        caption: String::new(),
        key: key.collect(),
        table: None,
    }
}

/// Rows as the map draws them: tracks and set-back rows in places, where the spacings are known.
fn map_rows(block: &Block) -> Vec<MapRow> {
    let in_places = |metres: f64, spacing: Option<f64>| spacing.filter(|s| *s > 0.0).map_or(0.0, |s| metres / s);
    let layout = &block.layout;
    let row = |r: &crate::block::RowLayout| MapRow {
        label: r.label.clone(),
        gap_before: r.gap_before_m.map_or(0.0, |m| in_places(m, layout.row_spacing_m).clamp(0.8, 3.0)),
        offset: in_places(r.offset_m, layout.vine_spacing_m).max(0.0),
    };
    layout.rows.iter().map(row).collect()
}

/// More levels than this are not drawn side by side, but the lowest [`LOWEST`] of them.
pub const MOST_LEVELS: usize = 16;
const LOWEST: usize = 8;

/// The levels that a figure shows: all in their order, or of many those with the lowest stand, lowest first.
fn shown_levels(f: &FactorRates) -> Vec<&LevelRates> {
    if f.levels.len() <= MOST_LEVELS {
        return f.levels.iter().collect();
    }
    let stand = |l: &LevelRates| l.raw.value().map_or(f64::INFINITY, |e| e.value);
    let mut lowest: Vec<&LevelRates> = f.levels.iter().collect();
    lowest.sort_by(|a, b| stand(a).total_cmp(&stand(b)));
    lowest.truncate(LOWEST);
    lowest
}

fn rates_title(f: &FactorRates, shown: usize) -> String {
    let title = fill(words::RATES_FIGURE, &[("factor", &factor(&f.factor))]);
    match f.levels.len() {
        all if all > shown => fill(words::RATES_LOWEST, &[("figure", &title), ("n", &shown), ("all", &all)]),
        _ => title,
    }
}

/// The stand of each level of a factor, as counted and pooled.
pub fn rates_figure(rates: &Rates, f: &FactorRates, level: f64, table: Table) -> Option<Figure> {
    let levels = shown_levels(f);
    let rows: Vec<IntervalRow> = levels.iter().filter_map(|l| interval_row(l)).collect();
    let lowest = rows.iter().flat_map(|r| [r.first, r.second]).flatten().map(|i| i.low).reduce(f64::min)?;
    let said: Vec<String> = levels.iter().filter_map(|l| level_said(l)).collect();
    let title = rates_title(f, levels.len());
    let description = fill(
        words::RATES_SAYS,
        &[
            ("level", &number::chance(level)),
            ("n", &levels.len()),
            ("factor", &factor(&f.factor)),
            ("rows", &said.join(", ")),
        ],
    );
    let pooled = rows.iter().any(|r| r.second.is_some());
    let tick = |v: f64| number::whole(v * 100.0);
    let whole = |e: &Estimate| (e.value, fill(words::RATES_WHOLE, &[("stand", &number::percent(e.value))]));
    let chart = IntervalChart {
        alt: Alt { title: title.clone(), description },
        rows,
        axis: Axis { low: (lowest * 10.0).floor() / 10.0, high: 1.0, title: words::STAND_AXIS.into(), tick: &tick },
        note_title: words::C_SEEN.to_lowercase(),
        reference: rates.stand.value().map(whole),
    };
    let svg = plot::intervals(&chart);
    let key = if pooled { pooled_key() } else { Vec::new() };
    Some(Figure {
        id: format!("rates-{}", anchor(&f.factor)),
        title,
        svg,
        caption: String::new(),
        key,
        table: Some(table),
    })
}

fn interval(stand: &Stand) -> Option<Interval> {
    stand.ends().map(|(low, high)| Interval { low, mid: stand.value().map(|e| e.value), high })
}

fn interval_row(level: &LevelRates) -> Option<IntervalRow> {
    let (first, second) = (interval(&level.raw), interval(&level.pooled));
    (first.is_some() || second.is_some()).then(|| IntervalRow {
        label: level.level.clone(),
        note: number::count(level.seen),
        first,
        second,
    })
}

fn level_said(level: &LevelRates) -> Option<String> {
    let stand = number::percent(level.raw.value()?.value);
    Some(fill(words::RATES_ROW, &[("level", &level.level), ("stand", &stand)]))
}

fn pooled_key() -> Vec<Key> {
    let labels = [words::RATES_RAW, words::RATES_POOLED];
    let line = |((shape, ink, dash), label): ((plot::Shape, plot::Ink, usize), &str)| Key {
        symbol: shape.symbol(ink, Some(dash)),
        label: label.into(),
        count: String::new(),
    };
    MARKS.into_iter().zip(labels).map(line).collect()
}

/// A name as an anchor: letters and digits, the rest as dashes.
fn anchor(name: &str) -> String {
    name.chars().map(|c| if c.is_ascii_alphanumeric() { c.to_ascii_lowercase() } else { '-' }).collect()
}

/// The letter of the option with this number: A to Z, then AA.
pub fn option_tag(number: usize) -> String {
    let letter = char::from(b'A' + (number % 26) as u8).to_string();
    if number < 26 { letter } else { format!("{}{letter}", option_tag(number / 26 - 1)) }
}

/// The crop by year of every option.
pub fn crop_figure(options: &Options) -> Option<Figure> {
    let years = || options.options.iter().flat_map(harvests);
    let (first, last) = (years().map(season).reduce(f64::min)?, years().map(season).reduce(f64::max)?);
    let most = years().map(|y| y.crop_share).fold(1.0, f64::max);
    let said: Vec<String> = options.options.iter().enumerate().filter_map(|(i, o)| crop_said(i, o)).collect();
    let description = fill(words::YEARS_CROP_SAYS, &[("n", &options.options.len()), ("rows", &said.join("; "))]);
    let (percent, year) = (|v: f64| number::chance(v), |v: f64| format!("{v:.0}"));
    let chart = LineChart {
        alt: Alt { title: words::YEARS_CROP.into(), description },
        series: options.options.iter().enumerate().map(|(i, o)| crop_series(i, o)).collect(),
        x: Axis { low: first, high: last, title: words::YEARS_AXIS.into(), tick: &year },
        y: Axis { low: 0.0, high: most, title: String::new(), tick: &percent },
        reference: None,
        singled_out: None,
    };
    let key = options.options.iter().enumerate().map(|(i, o)| option_key(i, &o.name)).collect();
    Some(Figure {
        id: "crop-by-year".into(),
        title: words::YEARS_CROP.into(),
        svg: plot::lines(&chart),
        caption: words::YEARS_CROP_CAPTION.into(),
        key,
        table: None,
    })
}

/// The years with a harvest: all but the winter of the walk.
fn harvests(outlook: &Outlook) -> impl Iterator<Item = &Year> {
    outlook.yearly.iter().filter(|y| y.year > 0)
}

fn crop_series(number: usize, outlook: &Outlook) -> Series {
    let points = harvests(outlook).map(|y| (season(y), y.crop_share)).collect();
    Series { tag: option_tag(number), points }
}

fn crop_said(number: usize, outlook: &Outlook) -> Option<String> {
    let (first, last) = (harvests(outlook).next()?, harvests(outlook).last()?);
    let values: [(&str, &dyn std::fmt::Display); 3] = [
        ("tag", &option_tag(number)),
        ("first", &number::chance(first.crop_share)),
        ("last", &number::chance(last.crop_share)),
    ];
    Some(fill(words::YEARS_CROP_ROW, &values))
}

fn option_key(number: usize, name: &str) -> Key {
    let (shape, ink, dash) = style(number);
    let label = fill(words::OPTION_TAGGED, &[("tag", &option_tag(number)), ("name", &name)]);
    Key { symbol: shape.symbol(ink, Some(dash)), label, count: String::new() }
}

/// The present values with their ranges; none where no option has one.
pub fn value_figure(options: &Options, currency: &str) -> Option<Figure> {
    let known = || options.options.iter().enumerate().filter_map(|(i, o)| Some((i, o, o.present_value.value()?)));
    let low = known().map(|(_, _, s)| s.p10).reduce(f64::min)?.min(0.0);
    let high = known().map(|(_, _, s)| s.p90).reduce(f64::max)?.max(0.0);
    let rows = known().map(|(i, o, s)| IntervalRow {
        label: fill(words::OPTION_TAGGED, &[("tag", &option_tag(i)), ("name", &o.name)]),
        note: String::new(),
        first: Some(Interval { low: s.p10, mid: Some(s.p50), high: s.p90 }),
        second: None,
    });
    let said = known().map(|(i, _, s)| {
        let (low, high) = (number::money(s.p10, currency), number::money(s.p90, currency));
        fill(words::YEARS_VALUE_ROW, &[("tag", &option_tag(i)), ("low", &low), ("high", &high)])
    });
    let description = fill(words::YEARS_VALUE_SAYS, &[("rows", &said.collect::<Vec<_>>().join("; "))]);
    let title = match currency {
        "" => words::VALUE_AXIS.into(),
        label => fill(words::VALUE_AXIS_IN, &[("currency", &label)]),
    };
    let tick = |v: f64| number::whole(v);
    let chart = IntervalChart {
        alt: Alt { title: words::YEARS_VALUE.into(), description },
        rows: rows.collect(),
        axis: Axis { low, high, title, tick: &tick },
        note_title: String::new(),
        reference: None,
    };
    Some(Figure {
        id: "present-value".into(),
        title: words::YEARS_VALUE.into(),
        svg: plot::intervals(&chart),
        caption: words::YEARS_VALUE_CAPTION.into(),
        key: Vec::new(),
        table: None,
    })
}

/// The chance that an order is enough, by number ordered.
pub fn order_figure(order: &Order, index: usize, table: Table) -> Option<Figure> {
    let (first, last) = (order.if_ordered.first()?, order.if_ordered.last()?);
    let title = fill(words::ORDER_FIGURE, &[("material", &order.material)]);
    let description =
        fill(words::ORDER_SAYS, &[("first", &number::count(first.order)), ("last", &number::count(last.order))]);
    let (percent, vines) = (|v: f64| number::chance(v), |v: f64| number::whole(v));
    let points = order.if_ordered.iter().map(|o| (o.order as f64, o.probability_enough)).collect();
    let singled_out = order.order.value().zip(order.probability_enough.value()).map(|(n, p)| (*n as f64, *p));
    let chart = LineChart {
        alt: Alt { title: title.clone(), description },
        series: vec![Series { tag: String::new(), points }],
        x: Axis { low: first.order as f64, high: last.order as f64, title: words::ORDER_X.into(), tick: &vines },
        y: Axis { low: 0.0, high: 1.0, title: String::new(), tick: &percent },
        reference: Some((order.sure, fill(words::ORDER_SURE, &[("sure", &number::chance(order.sure))]))),
        singled_out,
    };
    let caption = singled_out.map(|_| fill(words::ORDER_CAPTION, &[("bundle", &number::count(order.bundle))]));
    Some(Figure {
        id: format!("order-{}", index + 1),
        title,
        svg: plot::lines(&chart),
        caption: caption.unwrap_or_default(),
        key: Vec::new(),
        table: Some(table),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn options_go_from_a_to_z_and_on() {
        assert_eq!(["A", "Z", "AA", "AB"], [0, 25, 26, 27].map(option_tag).each_ref().map(String::as_str));
    }
}
