//! How many vines to order, and how sure that is.

use crate::base::Known;
use crate::base::words::number;
use crate::base::words::{fill, report as words};
use crate::order::{IfOrdered, Order};
use crate::report::figures::order_figure;
use crate::report::labels::clause;
use crate::report::part::{Column, Figure, Part, Table};
use crate::study::Study;

pub fn parts(study: &Study) -> Option<Vec<Part>> {
    let orders = study.orders.as_ref().filter(|o| !o.orders.is_empty())?;
    let mut parts = Vec::new();
    if let Some(option) = orders.option.value() {
        parts.push(Part::Text(fill(words::ORDER_FOR, &[("option", option)])));
    }
    parts.push(Part::List(orders.orders.iter().map(said).collect()));
    let figure = |(i, o): (usize, &Order)| order_figure(o, i, table(o));
    let figures: Vec<Figure> = orders.orders.iter().enumerate().filter_map(figure).collect();
    if !figures.is_empty() {
        parts.push(Part::Figures(figures));
    }
    Some(parts)
}

fn said(order: &Order) -> String {
    let (sentence, name, value) = match &order.order {
        Known::Value(n) => (words::ORDER_FACTS, "order", number::count(*n)),
        Known::Absent(why) => (words::ORDER_FACTS_NEVER, "reason", clause(&why.reason).to_string()),
    };
    let said = fill(
        sentence,
        &[
            ("needed", &number::count(order.needed)),
            ("stand", &number::percent(order.expected_stand)),
            ("low", &number::percent(order.stand.p10)),
            ("high", &number::percent(order.stand.p90)),
            ("sure", &number::chance(order.sure)),
            ("bundle", &number::count(order.bundle)),
            (name, &value),
        ],
    );
    format!("“{}”: {said}", order.material)
}

fn table(order: &Order) -> Table {
    let columns = vec![Column::number(words::C_ORDERED), Column::number(words::C_ENOUGH)];
    let row = |o: &IfOrdered| vec![number::count(o.order), number::chance(o.probability_enough)];
    let marked = order.order.value().and_then(|n| order.if_ordered.iter().position(|o| o.order == *n));
    Table {
        caption: order.material.clone(),
        columns,
        rows: order.if_ordered.iter().map(row).collect(),
        marked,
        ..Table::default()
    }
}
