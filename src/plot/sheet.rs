//! The sheet that plotters draws on: ten dots to a page unit, because plotters places everything on whole dots.
//!
//! Texts are anchored at the point where they belong, so that plotters' guess of their width, which counts bytes
//! and takes umlauts for two letters, moves nothing.

use super::ink::{self, Ink};
use super::shape::Shape;
use super::{Alt, open};
use plotters::coord::Shift;
use plotters::drawing::DrawingArea;
use plotters::prelude::*;
use plotters::style::text_anchor::{HPos, Pos, VPos};

/// Dots per unit of the page.
const DOTS: f64 = 10.0;
/// plotters divides every font size by this (plotters-svg 0.3.7, `draw_text`).
const FONT_DIVISOR: f64 = 1.24;

/// Where a text stands to its point.
#[derive(Clone, Copy)]
pub enum Anchor {
    Start,
    Middle,
    End,
}

/// A stroke: ink, width in page units, number of the dash.
#[derive(Clone, Copy)]
pub struct Stroke {
    pub ink: Ink,
    pub width: f64,
    pub dash: usize,
}

impl Stroke {
    pub fn solid(ink: Ink, width: f64) -> Self {
        Stroke { ink, width, dash: 0 }
    }
}

/// A sheet in page units, (0, 0) at the upper left. Drawing to a text in memory can't fail, so that no method
/// here reports an error.
pub struct Sheet<'a> {
    area: DrawingArea<SVGBackend<'a>, Shift>,
}

/// Draws on a sheet of this size and gives the `<svg>`, at most `most` units wide on the page.
pub fn draw(width: f64, height: f64, most: f64, alt: &Alt, paint: impl FnOnce(&Sheet)) -> String {
    let mut raw = String::new();
    {
        let size = (dots(width) as u32, dots(height) as u32);
        let sheet = Sheet { area: SVGBackend::with_string(&mut raw, size).into_drawing_area() };
        paint(&sheet);
        let _ = sheet.area.present();
    }
    let body = raw.split_once(">\n").map_or("", |(_, rest)| rest);
    let body = body.replace('\n', "").replace(" opacity=\"1\"", "").replace(" font-family=\"sans-serif\"", "");
    let style = format!("max-width:{most:.0}px");
    open(width * DOTS, height * DOTS, &style, alt) + &ink::settle(&body)
}

fn dots(units: f64) -> i32 {
    (units * DOTS).round() as i32
}

fn point((x, y): (f64, f64)) -> (i32, i32) {
    (dots(x), dots(y))
}

impl Sheet<'_> {
    pub fn text(&self, text: &str, at: (f64, f64), size: f64, anchor: Anchor, ink: Ink) {
        let across = match anchor {
            Anchor::Start => HPos::Left,
            Anchor::Middle => HPos::Center,
            Anchor::End => HPos::Right,
        };
        let color = ink.carried(0);
        let style = TextStyle::from(("sans-serif", size * DOTS * FONT_DIVISOR).into_font())
            .color(&color)
            .pos(Pos::new(across, VPos::Center));
        let _ = self.area.draw(&Text::new(text, point(at), style));
    }

    pub fn line(&self, points: &[(f64, f64)], stroke: Stroke) {
        let style = stroke.ink.carried(stroke.dash).stroke_width(dots(stroke.width).max(1) as u32);
        let path: Vec<(i32, i32)> = points.iter().copied().map(point).collect();
        let _ = self.area.draw(&PathElement::new(path, style));
    }

    /// A sign around a point, `r` from its middle to its side.
    pub fn sign(&self, shape: Shape, (x, y): (f64, f64), r: f64, ink: Ink) {
        let fill = ink.carried(0).filled();
        let corners: &[(f64, f64)] = match shape {
            Shape::Square => &[(-0.9, -0.9), (0.9, -0.9), (0.9, 0.9), (-0.9, 0.9)],
            Shape::Triangle => &[(0.0, -1.1), (1.1, 0.9), (-1.1, 0.9)],
            Shape::Wedge => &[(0.0, 1.1), (1.1, -0.9), (-1.1, -0.9)],
            Shape::Diamond => &[(0.0, -1.25), (1.25, 0.0), (0.0, 1.25), (-1.25, 0.0)],
            Shape::Cross => return self.cross((x, y), r, ink),
            _ => {
                let _ = self.area.draw(&Circle::new(point((x, y)), dots(r), fill));
                return;
            }
        };
        let outline: Vec<(i32, i32)> = corners.iter().map(|(dx, dy)| point((x + dx * r, y + dy * r))).collect();
        let _ = self.area.draw(&Polygon::new(outline, fill));
    }

    fn cross(&self, (x, y): (f64, f64), r: f64, ink: Ink) {
        let stroke = Stroke::solid(ink, 1.8);
        self.line(&[(x - r, y - r), (x + r, y + r)], stroke);
        self.line(&[(x - r, y + r), (x + r, y - r)], stroke);
    }
}

/// A straight scale from values to page units.
#[derive(Clone, Copy)]
pub struct Scale {
    values: (f64, f64),
    units: (f64, f64),
}

impl Scale {
    /// `values.0` lies at `units.0`. A scale without extent is given one; one that isn't finite runs from 0 to 1.
    pub fn new(values: (f64, f64), units: (f64, f64)) -> Self {
        let (low, high) = if (values.1 - values.0).is_finite() { values } else { (0.0, 1.0) };
        let high = if high > low { high } else { low + low.abs().max(1.0) };
        Scale { values: (low, high), units }
    }

    pub fn at(&self, value: f64) -> f64 {
        let value = if value.is_finite() { value } else { self.values.0 };
        let share = ((value - self.values.0) / (self.values.1 - self.values.0)).clamp(0.0, 1.0);
        self.units.0 + share * (self.units.1 - self.units.0)
    }

    /// Round values for ticks (steps of 1, 2 or 5 times a power of ten), about `most` of them.
    pub fn ticks(&self, most: u32) -> Vec<f64> {
        let (low, high) = self.values;
        let least = (high - low) / f64::from(most.max(1));
        let power = 10f64.powf(least.log10().floor());
        let step = [1.0, 2.0, 5.0, 10.0].map(|n| n * power).into_iter().find(|s| *s >= least * 0.999).unwrap_or(least);
        let first = (low / step - 1e-9).ceil();
        (0..=most).map(|k| (first + f64::from(k)) * step).take_while(|v| *v <= high + step * 1e-9).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ticks_are_round_and_inside() {
        let close = |got: Vec<f64>, want: &[f64]| {
            assert_eq!(got.len(), want.len(), "{got:?}");
            got.iter().zip(want).for_each(|(g, w)| assert!((g - w).abs() < 1e-9, "{got:?}"));
        };
        close(Scale::new((0.0, 1.0), (0.0, 1.0)).ticks(5), &[0.0, 0.2, 0.4, 0.6, 0.8, 1.0]);
        close(Scale::new((-3_200.0, 900.0), (0.0, 1.0)).ticks(5), &[-3_000.0, -2_000.0, -1_000.0, 0.0]);
        close(Scale::new((f64::NAN, 1.0), (0.0, 1.0)).ticks(2), &[0.0, 0.5, 1.0]);
        assert!(!Scale::new((7.0, 7.0), (0.0, 1.0)).ticks(4).is_empty());
    }

    #[test]
    fn texts_are_escaped_and_colours_named() {
        let alt = Alt { title: "<script>".into(), description: "a & \"b\"".into() };
        let svg = draw(10.0, 10.0, 10.0, &alt, |sheet| {
            sheet.text("Grün <b>&\"", (1.0, 1.0), 3.0, Anchor::Start, Ink::Text);
            sheet.line(&[(0.0, 0.0), (1.0, 1.0)], Stroke { ink: Ink::Sky, width: 1.0, dash: 1 });
        });
        assert!(!svg.contains("<script>") && !svg.contains("<b>"), "{svg}");
        assert!(svg.contains("Grün &lt;b&gt;&amp;&quot;") && svg.contains("class=\"f-text\""), "{svg}");
        assert!(svg.contains("class=\"s-sky\" stroke-dasharray=\"60 35\""), "{svg}");
        assert!(!svg.contains("#01"), "a stand-in colour is left: {svg}");
    }
}
