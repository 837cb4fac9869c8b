//! Parts to one HTML page. maud escapes every text; only what `plot` drew and our own style sheet go in as they are.

use super::advice::advice;
use super::part::{Column, Entry, Fact, Figure, Key, Part, Section, Table};
use super::sections::sections;
use crate::base::words::number;
use crate::base::words::{fill, report as words};
use crate::study::Study;
use maud::{DOCTYPE, Markup, PreEscaped, html};

const STYLE: &str = include_str!("page.css");
/// Nothing may be fetched or run; styles are those of the page itself.
const POLICY: &str =
    "default-src 'none'; style-src 'unsafe-inline'; img-src data:; base-uri 'none'; form-action 'none'";
/// A table that needs more letters than this side by side is set as one card per row on a phone.
const PHONE: usize = 46;
/// No text is taken to need more letters than this in a line: it wraps.
const WRAPS: usize = 24;

/// Where in the page a part stands: before its ids, and the level of its headings.
#[derive(Clone, Copy)]
struct Setting<'a> {
    prefix: &'a str,
    level: u8,
}

/// The page for one block, or for an estate.
pub(super) fn page(studies: &[Study]) -> String {
    let title = match studies {
        [one] => fill(words::PAGE_TITLE, &[("block", &one.block.name)]),
        many => fill(words::ESTATE_TITLE, &[("n", &many.len())]),
    };
    let body = match studies {
        [one] => block(one, Setting { prefix: "", level: 1 }),
        many => estate(many, &title),
    };
    let page = html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta http-equiv="Content-Security-Policy" content=(POLICY);
                meta name="viewport" content="width=device-width, initial-scale=1";
                meta name="color-scheme" content="light dark";
                meta name="referrer" content="no-referrer";
                link rel="icon" href="data:,";
                title { (title) }
                style { (PreEscaped(STYLE)) }
            }
            body { main { (body) } }
        }
    };
    page.into_string()
}

fn estate(studies: &[Study], title: &str) -> Markup {
    let prefixes: Vec<String> = (1..=studies.len()).map(|n| format!("b{n}-")).collect();
    html! {
        header { h1 { (title) } }
        section.overview { h2 { (words::ESTATE_OVERVIEW) } (overview(studies, &prefixes)) }
        @for (study, prefix) in studies.iter().zip(&prefixes) {
            article { (block(study, Setting { prefix, level: 2 })) }
        }
    }
}

fn overview(studies: &[Study], prefixes: &[String]) -> Markup {
    html! {
        div.scroll { table {
            thead { tr {
                th scope="col" { (words::C_BLOCK) }
                th.n scope="col" { (words::C_SEEN) }
                th.n scope="col" { (words::C_STAND) }
                th scope="col" { (words::C_ADVICE) }
            } }
            tbody { @for (study, prefix) in studies.iter().zip(prefixes) { tr {
                th scope="row" { a href=(format!("#{prefix}top")) { (study.block.name) } }
                td.n { (number::count(study.rates.seen)) }
                td.n { (stand(study)) }
                td { (advice(study).what.first().cloned().unwrap_or_default()) }
            } } }
        } }
    }
}

fn stand(study: &Study) -> String {
    study.rates.stand.value().map_or_else(|| words::NOT_KNOWN.into(), |e| number::percent(e.value))
}

fn block(study: &Study, at: Setting) -> Markup {
    let sections = sections(study);
    let rates = &study.rates;
    let standfirst = fill(
        words::STANDFIRST,
        &[
            ("planted", &number::count(rates.vines)),
            ("seen", &number::count(rates.seen)),
            ("failed", &number::count(rates.failed)),
            ("stand", &stand(study)),
        ],
    );
    html! {
        header id=(format!("{}top", at.prefix)) {
            p.walked { (walked(study)) }
            (heading(at.level, html! { (study.block.name) }))
            p.standfirst { (standfirst) }
        }
        @for (i, s) in sections.iter().enumerate() {
            (section(s, Setting { level: at.level + 1, ..at }))
            @if i == 0 { (contents(sections.get(1..).unwrap_or_default(), at)) }
        }
        footer { (foot(study)) }
    }
}

/// The way on, behind the decision: nobody has to pass it to learn what to do.
fn contents(sections: &[Section], at: Setting) -> Markup {
    html! {
        nav aria-label=(words::CONTENTS) { ol {
            @for s in sections { li { a href=(format!("#{}{}", at.prefix, s.id)) { (s.title) } } }
        } }
    }
}

/// The days of the walk, in words.
pub(super) fn walked(study: &Study) -> String {
    match study.tally.walk {
        Some((first, last)) => fill(words::WALKED, &[("days", &number::days(first, last))]),
        None => words::COUNTED.into(),
    }
}

fn foot(study: &Study) -> String {
    fill(
        words::FOOT,
        &[
            ("version", &env!("CARGO_PKG_VERSION")),
            ("seed", &study.settings.seed.number()),
            ("level", &number::chance(study.settings.level)),
        ],
    )
}

fn heading(level: u8, inner: Markup) -> Markup {
    match level {
        1 => html! { h1 { (inner) } },
        2 => html! { h2 { (inner) } },
        3 => html! { h3 { (inner) } },
        _ => html! { h4 { (inner) } },
    }
}

fn section(section: &Section, at: Setting) -> Markup {
    let class = format!("part {}", section.id);
    html! {
        section id=(format!("{}{}", at.prefix, section.id)) class=(class) {
            (heading(at.level, html! { (section.title) }))
            (parts(&section.parts, Setting { level: at.level + 1, ..at }))
        }
    }
}

fn parts(parts: &[Part], at: Setting) -> Markup {
    html! { @for p in parts { (part(p, at)) } }
}

fn part(part: &Part, at: Setting) -> Markup {
    match part {
        Part::Lead(text) => html! { p.lead { (text) } },
        Part::Heading(text) => heading(at.level, html! { (text) }),
        Part::Text(text) => html! { p { (text) } },
        Part::List(items) if items.is_empty() => html! {},
        Part::List(items) => html! { ul { @for i in items { li { (i) } } } },
        Part::Facts(facts) => html! { dl.facts { @for f in facts { (fact(f)) } } },
        Part::Answers(answers) => html! {
            dl.answers { @for a in answers { div { dt { (a.question) } dd { (a.said) } } } }
        },
        Part::Table(t) => table(t),
        Part::Figures(figures) => html! { div.figures { @for f in figures { (figure(f, at)) } } },
        Part::Entries(entries) => html! { div.entries { @for e in entries { (entry(e, at)) } } },
        Part::Notice(text) => html! { p.notice { (text) } },
        Part::Folded { title, parts: inner } => {
            html! { details { summary { (title) } (parts(inner, at)) } }
        }
    }
}

fn fact(fact: &Fact) -> Markup {
    html! { div { dt { (fact.label) } dd { strong { (fact.value) } " " span { (fact.note) } } } }
}

/// Cells carry their column's title, which a phone shows beside them.
fn table(table: &Table) -> Markup {
    html! {
        div.scroll { table class=[(letters_across(table) > PHONE).then_some("cards")] {
            @if !table.caption.is_empty() { caption { (table.caption) } }
            thead { tr { @for c in &table.columns { th scope="col" class=[c.numeric.then_some("n")] { (c.title) } } } }
            tbody { @for (i, row) in table.rows.iter().enumerate() {
                tr class=[(table.marked == Some(i)).then_some("marked")] {
                    @for (j, (cell, c)) in row.iter().zip(&table.columns).enumerate() {
                        @if j == 0 {
                            th scope="row" class=[c.numeric.then_some("n")] {
                                (cell) @if let Some(k) = table.keys.get(i) { " " code { (k) } }
                            }
                        }
                        @else { td class=[c.numeric.then_some("n")] data-title=(c.title) { (cell) } }
                    }
                }
            } }
        } }
    }
}

/// Letters that the columns need side by side, gaps included.
fn letters_across(table: &Table) -> usize {
    let length = |text: &str| text.chars().count().min(WRAPS);
    let column = |(j, c): (usize, &Column)| {
        let title = c.title.split(' ').map(length).max().unwrap_or(0);
        let cells = table.rows.iter().filter_map(|r| r.get(j)).map(|cell| length(cell));
        cells.chain([title]).max().unwrap_or(0) + 2
    };
    table.columns.iter().enumerate().map(column).sum()
}

fn figure(figure: &Figure, at: Setting) -> Markup {
    html! {
        figure id=(format!("{}{}", at.prefix, figure.id)) role="group" {
            p.title { (figure.title) }
            div.scroll { (PreEscaped(&figure.svg)) }
            @if !figure.key.is_empty() { ul.key { @for k in &figure.key { (key(k)) } } }
            @if !figure.caption.is_empty() { figcaption { (figure.caption) } }
            @if let Some(t) = &figure.table { details { summary { (words::TABLE_BEHIND) } (table(t)) } }
        }
    }
}

fn key(key: &Key) -> Markup {
    html! { li { (PreEscaped(&key.symbol)) span { (key.label) } @if !key.count.is_empty() { b { (key.count) } } } }
}

fn entry(entry: &Entry, at: Setting) -> Markup {
    html! {
        div.entry {
            (heading(at.level + 1, html! { (entry.title) @if !entry.note.is_empty() { " " small { (entry.note) } } }))
            dl { @for l in &entry.lines { div { dt { @if !l.tag.is_empty() { b { (l.tag) } " " } (l.label) } dd { (l.text) } } } }
        }
    }
}
