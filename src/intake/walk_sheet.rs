//! The sheet to print and carry through the rows: a page per row, a box per place in walking order.

use crate::base::words::{fill, intake as say};
use maud::{DOCTYPE, Markup, PreEscaped, html};

/// Lines and columns of boxes on one page: 108 places, in the space that A4 and Letter share.
const LINES: usize = 18;
const COLUMNS: usize = 6;

/// One row of the block as it is walked.
#[derive(Clone, Debug)]
pub(super) struct SheetRow {
    pub label: String,
    /// Positions in walking order.
    pub positions: Vec<u32>,
    /// Positions without a vine.
    pub posts: Vec<u32>,
}

/// Sizes in mm; 186 x 254 mm is what A4 and Letter both leave inside margins of 12 mm.
const STYLE: &str = "
@page { margin: 12mm }
* { box-sizing: border-box }
body { margin: 0; font-family: sans-serif; font-size: 10pt; color: #000; background: #fff }
section { width: 186mm; max-width: 100%; margin: 0 auto; break-after: page; break-inside: avoid }
section:last-of-type { break-after: auto }
header { display: flex; flex-wrap: wrap; justify-content: space-between; align-items: baseline; gap: 2mm 6mm }
h1 { font-size: 11pt; font-weight: normal; margin: 0; width: 100% }
h2 { font-size: 18pt; margin: 0 }
p { margin: 1mm 0 }
ol { list-style: none; margin: 1mm 0; padding: 0; display: grid; grid-auto-flow: column; grid-auto-columns: minmax(31mm, 1fr);
     grid-template-rows: repeat(18, 9.6mm); overflow-x: auto }
li { display: flex; align-items: center; height: 9.6mm }
li b { width: 9mm; text-align: right; padding-right: 1mm; font-weight: normal }
li i { width: 9.6mm; height: 9mm; border: 0.4mm solid #000 }
li u { min-width: 11mm; flex: 1; margin-right: 2mm; height: 9mm; border-bottom: 0.2mm solid #777; text-decoration: none; font-size: 8pt }
.key { border-top: 0.3mm solid #000; padding-top: 1mm; font-size: 9pt }
.key dl { display: grid; grid-template-columns: 7mm 1fr 7mm 1fr; gap: 0.5mm 2mm; margin: 0 }
.key dt { font-weight: bold } .key dd { margin: 0 }
@media screen { section { padding: 6mm 0; border-bottom: 1px dashed #777 } body { padding: 0 4mm } }
";

/// The sheet as one self-contained HTML file.
pub(super) fn walk_sheet(block: &str, rows: &[SheetRow]) -> String {
    let title = fill(say::SHEET_TITLE, &[("block", &block)]);
    html! {
        (DOCTYPE)
        html lang="en" {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width, initial-scale=1";
                title { (title) }
                style { (PreEscaped(STYLE)) }
            }
            body { @for row in rows { (pages(&title, row)) } }
        }
    }
    .into_string()
}

fn pages(title: &str, row: &SheetRow) -> Markup {
    let parts = row.positions.len().div_ceil(LINES * COLUMNS);
    html! {
        @for (i, positions) in row.positions.chunks(LINES * COLUMNS).enumerate() {
            section { (heading(title, row, positions, (i + 1, parts))) (boxes(row, positions)) (key()) }
        }
    }
}

fn heading(title: &str, row: &SheetRow, positions: &[u32], (part, of): (usize, usize)) -> Markup {
    let (first, last) = (positions.first().copied().unwrap_or(0), positions.last().copied().unwrap_or(0));
    html! {
        header {
            h1 { (title) @if of > 1 { ", " (fill(say::SHEET_PART, &[("part", &part), ("of", &of)])) } }
            h2 { (fill(say::SHEET_ROW, &[("row", &row.label)])) }
            span { (say::SHEET_DAY) }
            span { (say::SHEET_BY) }
        }
        p { (fill(say::SHEET_ORDER, &[("first", &first), ("last", &last)])) ". " (say::SHEET_REST) }
    }
}

fn boxes(row: &SheetRow, positions: &[u32]) -> Markup {
    html! {
        ol {
            @for position in positions {
                @if row.posts.contains(position) {
                    li { b { (position) } u { (say::SHEET_POST) } }
                } @else {
                    li { b { (position) } i {} u {} }
                }
            }
        }
    }
}

fn key() -> Markup {
    html! {
        div class="key" {
            dl {
                @for (letter, state, meaning) in say::SHEET_STATES {
                    dt { (letter) } dd { b { (state) } ": " (meaning) }
                }
            }
            @for note in say::SHEET_NOTES { p { (note) } }
        }
    }
}
