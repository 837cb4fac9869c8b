//! The decision: the recommended option, vines to order, work this winter, what it costs, how sure.

use crate::base::Known;
use crate::base::words::number;
use crate::base::words::{fill, report as words};
use crate::options::{Options, Outlook};
use crate::report::advice::{advice, harvest, horizon, nothing_to_fill, orders, recommended, second, total};
use crate::report::figures::option_tag;
use crate::report::labels::clause;
use crate::report::part::{Column, Fact, Part, Table};
use crate::study::Study;
use crate::triage::Action;

pub fn parts(study: &Study) -> Option<Vec<Part>> {
    let mut advice = advice(study);
    let mut parts: Vec<Part> = Vec::new();
    if !advice.what.is_empty() {
        parts.push(Part::Lead(advice.what.remove(0)));
    }
    parts.push(Part::Facts(facts(study)));
    parts.push(Part::Answers(advice.answers()));
    if let Ok(options) = &study.options {
        parts.extend(options_table(study, options).map(Part::Table));
        parts.extend(breaks(options));
    }
    Some(parts)
}

/// The limits of block.toml that options break, and the options that can't be had at all.
fn breaks(options: &Options) -> Vec<Part> {
    let broken = |possible: bool, intro: &str, each_said: &str| {
        let these = options.options.iter().filter(|o| o.yearly.is_empty() != possible);
        let each = these.flat_map(|o| o.breaks.iter().map(move |b| (o, b)));
        let said: Vec<String> =
            each.map(|(o, limit)| fill(each_said, &[("option", &o.name), ("limit", &clause(limit))])).collect();
        (!said.is_empty()).then(|| Part::Notice(format!("{intro} {}", said.join(" "))))
    };
    [broken(true, words::BREAKS_INTRO, words::BREAKS), broken(false, words::IMPOSSIBLE_INTRO, words::IMPOSSIBLE)]
        .into_iter()
        .flatten()
        .collect()
}

fn facts(study: &Study) -> Vec<Fact> {
    let outlook = recommended(study);
    [
        stand(study),
        order(study),
        work(study),
        outlook.and_then(|o| cost(study, o)),
        outlook.and_then(|o| sure(study, o)),
    ]
    .into_iter()
    .flatten()
    .collect()
}

fn fact(label: &str, value: String, note: String) -> Option<Fact> {
    Some(Fact { label: label.into(), value, note })
}

fn stand(study: &Study) -> Option<Fact> {
    let stand = study.rates.stand.value()?;
    let note = fill(
        words::FACT_STAND_NOTE,
        &[
            ("level", &number::chance(study.settings.level)),
            ("low", &number::percent(stand.low)),
            ("high", &number::percent(stand.high)),
        ],
    );
    fact(words::FACT_STAND, number::percent(stand.value), note)
}

fn order(study: &Study) -> Option<Fact> {
    let order = orders(study).first()?;
    let note = fill(
        words::FACT_ORDER_NOTE,
        &[("needed", &number::count(order.needed)), ("chance", &number::chance(*order.probability_enough.value()?))],
    );
    fact(words::FACT_ORDER, number::count(*order.order.value()?), note)
}

fn work(study: &Study) -> Option<Fact> {
    let worked = Action::ALL.into_iter().filter(|a| !matches!(a, Action::Leave | Action::Hold));
    let vines: u64 = worked.map(|a| total(study, a)).sum();
    let (n, held) = (number::count(vines), total(study, Action::Hold));
    let note = match held {
        0 => fill(words::FACT_WORK_NOTE, &[("n", &n)]),
        held => fill(words::FACT_WORK_HELD_NOTE, &[("n", &n), ("held", &number::count(held))]),
    };
    fact(words::FACT_WORK, number::hours(study.triage.labour_hours), note)
}

fn cost(study: &Study, outlook: &Outlook) -> Option<Fact> {
    let first = outlook.yearly.first().filter(|y| y.year == 0)?;
    fact(words::FACT_COST, number::money(first.cost, &study.block.currency), words::FACT_COST_NOTE.into())
}

fn sure(study: &Study, outlook: &Outlook) -> Option<Fact> {
    let best = outlook.probability_best.value().filter(|_| !nothing_to_fill(study))?;
    let note =
        second(study, outlook).map(|(_, p)| fill(words::FACT_SURE_SECOND_NOTE, &[("other", &number::chance(p))]));
    fact(words::FACT_SURE, number::chance(*best), note.unwrap_or_else(|| words::FACT_SURE_NOTE.into()))
}

fn options_table(study: &Study, options: &Options) -> Option<Table> {
    let best = recommended(study).map(|o| o.name.as_str());
    let columns = vec![
        Column::text(words::C_OPTION),
        Column::number(words::C_PRESENT_VALUE),
        Column::number(words::C_BETWEEN),
        Column::number(words::C_CASH),
        Column::number(words::C_FULL),
        Column::number(words::C_BEST),
        Column::number(words::C_HOURS),
    ];
    let rows: Vec<Vec<String>> = options.options.iter().enumerate().map(|(i, o)| option_row(i, o, best)).collect();
    let marked = options.options.iter().position(|o| Some(o.name.as_str()) == best);
    let caption = match study.block.currency.as_str() {
        "" => words::OPTIONS_TABLE.into(),
        currency => fill(words::OPTIONS_TABLE_IN, &[("currency", &currency)]),
    };
    let table = Table { caption, columns, rows, marked, ..Table::default() };
    (!table.rows.is_empty()).then(|| without_unknown(table))
}

/// Without the columns of which no row knows anything.
fn without_unknown(table: Table) -> Table {
    let known = |j: usize| table.rows.iter().any(|r| r.get(j).is_some_and(|cell| cell != words::NOT_KNOWN));
    let kept: Vec<usize> = (0..table.columns.len()).filter(|j| known(*j)).collect();
    let columns = kept.iter().filter_map(|j| table.columns.get(*j).cloned()).collect();
    let row = |r: &Vec<String>| kept.iter().filter_map(|j| r.get(*j).cloned()).collect();
    Table { columns, rows: table.rows.iter().map(row).collect(), ..table }
}

fn option_row(index: usize, outlook: &Outlook, best: Option<&str>) -> Vec<String> {
    let money = number::whole;
    let mut name = fill(words::OPTION_TAGGED, &[("tag", &option_tag(index)), ("name", &outlook.name)]);
    if best == Some(outlook.name.as_str()) {
        name = format!("{name} ({})", words::RECOMMENDED_MARK);
    }
    let known = |said: Option<String>| said.unwrap_or_else(|| words::NOT_KNOWN.into());
    let value = outlook.present_value.value();
    let drawn = outlook.probability_best.value().is_some();
    vec![
        name,
        known(value.map(|s| money(s.mean))),
        known(value.filter(|_| drawn).map(|s| format!("{} to {}", money(s.p10), money(s.p90)))),
        known(outlook.cash_low_point.value().map(|v| money(*v))),
        full_from(outlook),
        known(outlook.probability_best.value().map(|p| number::chance(*p))),
        known((!outlook.yearly.is_empty()).then(|| number::hours(outlook.labour_hours))),
    ]
}

fn full_from(outlook: &Outlook) -> String {
    match &outlook.full_crop_year {
        Known::Absent(_) => words::NOT_KNOWN.into(),
        Known::Value(years) => {
            harvest(outlook, &years.p50).unwrap_or_else(|| fill(words::NOT_REACHED, &[("years", &horizon(outlook))]))
        }
    }
}
