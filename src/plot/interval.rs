//! Dots with their intervals, one line per level or option.

use super::Alt;
use super::ink::Ink;
use super::shape::Shape;
use super::sheet::{Anchor, Scale, Sheet, Stroke, draw};

/// A point and its interval, in the axis' unit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interval {
    pub low: f64,
    /// None: bounds without a value.
    pub mid: Option<f64>,
    pub high: f64,
}

/// One line: up to two intervals of the same thing.
#[derive(Clone, Debug, PartialEq)]
pub struct IntervalRow {
    pub label: String,
    /// At the right, such as the number seen.
    pub note: String,
    /// Drawn as a disc on a solid line.
    pub first: Option<Interval>,
    /// Drawn as a diamond on a dashed line, below the first.
    pub second: Option<Interval>,
}

/// The value axis.
pub struct Axis<'a> {
    pub low: f64,
    pub high: f64,
    pub title: String,
    /// Writes a tick's value.
    pub tick: &'a dyn Fn(f64) -> String,
}

pub struct IntervalChart<'a> {
    pub alt: Alt,
    pub rows: Vec<IntervalRow>,
    pub axis: Axis<'a>,
    /// Heading of the rows' notes.
    pub note_title: String,
    /// A value drawn as a line through all rows, with its name.
    pub reference: Option<(f64, String)>,
}

/// The sign and ink of the first and the second interval of a row, for the key.
pub const MARKS: [(Shape, Ink, usize); 2] = [(Shape::Disc, Ink::Blue, 0), (Shape::Diamond, Ink::Vermillion, 4)];

const WIDTH: f64 = 360.0;
const LETTER: f64 = 7.2;
const TEXT: f64 = 12.0;
/// Labels up to this many letters stand beside their line, longer ones above it.
const BESIDE: usize = 14;

struct Frame {
    left: f64,
    right: f64,
    top: f64,
    bottom: f64,
    step: f64,
    above: bool,
}

/// The chart. 360 units wide: on a phone it is read without zooming.
pub fn intervals(chart: &IntervalChart) -> String {
    let frame = frame(chart);
    draw(WIDTH, frame.bottom + 36.0, 480.0, &chart.alt, |sheet| {
        let scale = Scale::new((chart.axis.low, chart.axis.high), (frame.left, frame.right));
        axis(sheet, chart, &frame, &scale);
        for (i, row) in chart.rows.iter().enumerate() {
            line(sheet, row, &frame, &scale, frame.top + frame.step * i as f64);
        }
    })
}

fn frame(chart: &IntervalChart) -> Frame {
    let letters = |f: fn(&IntervalRow) -> &str| chart.rows.iter().map(|r| f(r).chars().count()).max().unwrap_or(0);
    let label = letters(|r| &r.label);
    let note = letters(|r| &r.note).max(chart.note_title.chars().count());
    let above = label > BESIDE;
    let left = if above { 14.0 } else { 14.0 + label as f64 * LETTER };
    let right = WIDTH - 14.0 - if above { 0.0 } else { note as f64 * LETTER };
    let two = chart.rows.iter().any(|r| r.first.is_some() && r.second.is_some());
    let step = if above {
        42.0
    } else if two {
        27.0
    } else {
        22.0
    };
    let top = 22.0;
    Frame { left, right, top, bottom: top + step * chart.rows.len() as f64, step, above }
}

fn axis(sheet: &Sheet, chart: &IntervalChart, frame: &Frame, scale: &Scale) {
    for value in scale.ticks(5) {
        let x = scale.at(value);
        for (from, to) in grid_stretches(chart, frame) {
            sheet.line(&[(x, from), (x, to)], Stroke::solid(Ink::Rule, 1.0));
        }
        sheet.text(&(chart.axis.tick)(value), (x, frame.bottom + 11.0), 11.0, Anchor::Middle, Ink::Quiet);
    }
    sheet.text(&chart.note_title, (WIDTH - 4.0, 9.0), 11.0, Anchor::End, Ink::Quiet);
    let middle = (frame.left + frame.right) / 2.0;
    sheet.text(&chart.axis.title, (middle, frame.bottom + 27.0), 11.0, Anchor::Middle, Ink::Quiet);
    if let Some((value, name)) = &chart.reference {
        let x = scale.at(*value);
        sheet.line(&[(x, frame.top - 6.0), (x, frame.bottom)], Stroke { ink: Ink::Quiet, width: 1.2, dash: 2 });
        let half = name.chars().count() as f64 * LETTER / 2.0;
        let at = x.clamp(half + 2.0, (frame.right + 4.0 - half).max(half + 2.0));
        sheet.text(name, (at, 9.0), 11.0, Anchor::Middle, Ink::Quiet);
    }
}

/// From where to where grid lines run: through all rows, or, where labels stand above the lines, beside these only.
fn grid_stretches(chart: &IntervalChart, frame: &Frame) -> Vec<(f64, f64)> {
    if !frame.above {
        return vec![(frame.top - 4.0, frame.bottom)];
    }
    let row = |i: usize| frame.top + frame.step * i as f64;
    (0..chart.rows.len()).map(|i| (row(i) + 21.0, row(i) + 37.0)).collect()
}

fn line(sheet: &Sheet, row: &IntervalRow, frame: &Frame, scale: &Scale, top: f64) {
    let middle = if frame.above { top + 29.0 } else { top + frame.step / 2.0 };
    if frame.above {
        sheet.text(&row.label, (frame.left - 10.0, top + 12.0), TEXT, Anchor::Start, Ink::Text);
        sheet.text(&row.note, (WIDTH - 4.0, top + 12.0), 11.0, Anchor::End, Ink::Quiet);
    } else {
        sheet.text(&row.label, (frame.left - 10.0, middle), TEXT, Anchor::End, Ink::Text);
        sheet.text(&row.note, (WIDTH - 4.0, middle), 11.0, Anchor::End, Ink::Quiet);
    }
    let apart = if row.first.is_some() && row.second.is_some() { 5.0 } else { 0.0 };
    for (interval, mark, dy) in [(row.first, MARKS[0], -apart), (row.second, MARKS[1], apart)] {
        if let Some(interval) = interval {
            dot(sheet, interval, mark, scale, middle + dy);
        }
    }
}

fn dot(sheet: &Sheet, interval: Interval, (shape, ink, dash): (Shape, Ink, usize), scale: &Scale, y: f64) {
    let (from, to) = (scale.at(interval.low), scale.at(interval.high));
    sheet.line(&[(from, y), (to, y)], Stroke { ink, width: 1.8, dash });
    for x in [from, to] {
        sheet.line(&[(x, y - 2.6), (x, y + 2.6)], Stroke::solid(ink, 1.4));
    }
    if let Some(mid) = interval.mid {
        sheet.sign(shape, (scale.at(mid), y), 3.6, ink);
    }
}
