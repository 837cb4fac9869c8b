//! Lines over years or amounts, each named at its end.

use super::Alt;
use super::ink::{self, Ink};
use super::interval::Axis;
use super::shape::{self, Shape};
use super::sheet::{Anchor, Scale, Sheet, Stroke, draw};

/// One line.
#[derive(Clone, Debug, PartialEq)]
pub struct Series {
    /// A letter or two, written at the line's end.
    pub tag: String,
    /// In order of x.
    pub points: Vec<(f64, f64)>,
}

pub struct LineChart<'a> {
    pub alt: Alt,
    pub series: Vec<Series>,
    pub x: Axis<'a>,
    pub y: Axis<'a>,
    /// A level of y drawn across, with its name.
    pub reference: Option<(f64, String)>,
    /// A point on the lines that is singled out.
    pub singled_out: Option<(f64, f64)>,
}

const WIDTH: f64 = 360.0;
const HEIGHT: f64 = 232.0;
const TOP: f64 = 14.0;
const BOTTOM: f64 = HEIGHT - 40.0;
const TAG_STEP: f64 = 12.5;

/// Sign, ink and dash of the series with this number.
pub fn style(number: usize) -> (Shape, Ink, usize) {
    let take = |n: usize| number % n;
    (shape::SERIES[take(shape::SERIES.len())], ink::SERIES[take(ink::SERIES.len())], take(ink::DASHES.len()))
}

/// The chart. 360 units wide: on a phone it is read without zooming.
pub fn lines(chart: &LineChart) -> String {
    draw(WIDTH, HEIGHT, 460.0, &chart.alt, |sheet| {
        let tag = chart.series.iter().map(|s| s.tag.chars().count()).max().unwrap_or(0);
        let right = WIDTH - 12.0 - tag as f64 * 9.0;
        let x = Scale::new((chart.x.low, chart.x.high), (46.0, right));
        let y = Scale::new((chart.y.low, chart.y.high), (BOTTOM, TOP));
        axes(sheet, chart, &x, &y, right);
        for (i, series) in chart.series.iter().enumerate() {
            trace(sheet, series, style(i), &x, &y);
        }
        tags(sheet, chart, &x, &y);
        if let Some((px, py)) = chart.singled_out {
            sheet.sign(Shape::Diamond, (x.at(px), y.at(py)), 5.5, Ink::Vermillion);
        }
    })
}

fn axes(sheet: &Sheet, chart: &LineChart, x: &Scale, y: &Scale, right: f64) {
    for value in y.ticks(6) {
        let at = y.at(value);
        sheet.line(&[(46.0, at), (right, at)], Stroke::solid(Ink::Rule, 1.0));
        sheet.text(&(chart.y.tick)(value), (41.0, at), 11.0, Anchor::End, Ink::Quiet);
    }
    for value in x.ticks(6).into_iter().filter(|v| v.fract() == 0.0) {
        let at = x.at(value);
        sheet.line(&[(at, BOTTOM), (at, BOTTOM + 4.0)], Stroke::solid(Ink::Quiet, 1.0));
        sheet.text(&(chart.x.tick)(value), (at, BOTTOM + 13.0), 11.0, Anchor::Middle, Ink::Quiet);
    }
    sheet.line(&[(46.0, BOTTOM), (right, BOTTOM)], Stroke::solid(Ink::Quiet, 1.0));
    sheet.text(&chart.x.title, ((46.0 + right) / 2.0, HEIGHT - 8.0), 11.0, Anchor::Middle, Ink::Quiet);
    if let Some((value, name)) = &chart.reference {
        let at = y.at(*value);
        sheet.line(&[(46.0, at), (right, at)], Stroke { ink: Ink::Text, width: 1.0, dash: 2 });
        sheet.text(name, (50.0, at - 7.0), 11.0, Anchor::Start, Ink::Text);
    }
}

fn trace(sheet: &Sheet, series: &Series, (shape, ink, dash): (Shape, Ink, usize), x: &Scale, y: &Scale) {
    let points: Vec<(f64, f64)> = series.points.iter().map(|(px, py)| (x.at(*px), y.at(*py))).collect();
    sheet.line(&points, Stroke { ink, width: 1.8, dash });
    for p in points {
        sheet.sign(shape, p, 2.8, ink);
    }
}

/// The names at the lines' ends, moved apart where lines end together.
fn tags(sheet: &Sheet, chart: &LineChart, x: &Scale, y: &Scale) {
    let mut ends: Vec<(f64, f64, usize)> = chart
        .series
        .iter()
        .enumerate()
        .filter_map(|(i, s)| s.points.last().map(|(px, py)| (y.at(*py), x.at(*px), i)))
        .collect();
    ends.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.2.cmp(&b.2)));
    let mut free = TOP - 6.0;
    for (at, end, i) in ends {
        let at = at.max(free);
        free = at + TAG_STEP;
        if let Some(series) = chart.series.get(i) {
            sheet.text(&series.tag, (end + 8.0, at), 12.0, Anchor::Start, style(i).1);
        }
    }
}
