//! Signs that are told apart by shape alone, so that a picture reads in grey.

use super::ink::Ink;
use std::fmt::Write;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Shape {
    /// A small round dot.
    Dot,
    /// A large round dot.
    Disc,
    Square,
    Triangle,
    /// A triangle on its tip.
    Wedge,
    Diamond,
    Cross,
    Plus,
    /// A hollow circle.
    Ring,
    /// A hollow square.
    Frame,
    /// A hollow diamond.
    Lozenge,
    /// A short line along the row.
    Dash,
}

/// For series that have to be told apart, in order of use.
pub const SERIES: [Shape; 6] =
    [Shape::Disc, Shape::Square, Shape::Triangle, Shape::Diamond, Shape::Wedge, Shape::Cross];

impl Shape {
    /// Whether it is drawn by lines rather than filled.
    pub fn is_stroked(self) -> bool {
        matches!(
            self,
            Shape::Dot
                | Shape::Disc
                | Shape::Cross
                | Shape::Plus
                | Shape::Ring
                | Shape::Frame
                | Shape::Lozenge
                | Shape::Dash
        )
    }

    /// Path data of the sign around (x, y), `r` from its middle to its side. Round dots are lines without
    /// length, made round by their caps: the shortest form there is.
    pub fn path(self, x: f64, y: f64, r: f64) -> String {
        let n = |v: f64| format!("{}", (v * 10.0).round() / 10.0);
        let (d, s) = (n(2.0 * r), n(r));
        let at = |dx: f64, dy: f64| format!("M{} {}", n(x + dx), n(y + dy));
        match self {
            Shape::Dot | Shape::Disc => at(0.0, 0.0) + "h0",
            Shape::Square | Shape::Frame => format!("{}h{d}v{d}h-{d}z", at(-r, -r)),
            Shape::Triangle => format!("{}l{s} {d}h-{d}z", at(0.0, -r)),
            Shape::Wedge => format!("{}l{s} -{d}h-{d}z", at(0.0, r)),
            Shape::Diamond | Shape::Lozenge => format!("{}l{s} {s}l-{s} {s}l-{s} -{s}z", at(0.0, -r)),
            Shape::Cross => format!("{}l{d} {d}m0 -{d}l-{d} {d}", at(-r, -r)),
            Shape::Plus => format!("{}h{d}m-{s} -{s}v{d}", at(-r, 0.0)),
            Shape::Ring => format!("{}a{s} {s} 0 1 0 {d} 0a{s} {s} 0 1 0 -{d} 0z", at(-r, 0.0)),
            Shape::Dash => format!("{}v{d}", at(0.0, -r)),
        }
    }

    /// A `<path>` of this sign's path data in an ink; `r` as in [`Shape::path`].
    pub fn element(self, data: &str, r: f64, ink: Ink) -> String {
        let mut out = String::with_capacity(data.len() + 96);
        let _ = match self {
            Shape::Dot => {
                write!(out, "<path {} stroke-linecap=\"round\" stroke-width=\"{:.1}\"", ink.stroke(), r * 0.9)
            }
            Shape::Disc => {
                write!(out, "<path {} stroke-linecap=\"round\" stroke-width=\"{:.1}\"", ink.stroke(), r * 2.0)
            }
            s if s.is_stroked() => write!(out, "<path {} stroke-width=\"{:.1}\"", ink.stroke(), (r * 0.5).max(0.8)),
            _ => write!(out, "<path {}", ink.fill()),
        };
        let _ = write!(out, " d=\"{data}\"/>");
        out
    }

    /// The sign alone, for the key of a figure; `dash` of a line through it, if it stands for a line.
    pub fn symbol(self, ink: Ink, line: Option<usize>) -> String {
        let through = line.map_or(String::new(), |dash| {
            let dashes = super::ink::DASHES[dash % super::ink::DASHES.len()];
            let tenth: Vec<String> = dashes
                .split_whitespace()
                .filter_map(|d| d.parse::<f64>().ok())
                .map(|d| format!("{}", d / 10.0))
                .collect();
            format!(
                "<path {} stroke-width=\"1.8\" stroke-dasharray=\"{}\" d=\"M0 8h28\"/>",
                ink.stroke(),
                tenth.join(" ")
            )
        });
        let (width, x) = if line.is_some() { (28, 14.0) } else { (16, 8.0) };
        let sign = self.element(&self.path(x, 8.0, 5.0), 5.0, ink);
        format!(
            "<svg aria-hidden=\"true\" viewBox=\"0 0 {width} 16\" width=\"{width}\" height=\"16\">{through}{sign}</svg>"
        )
    }
}
