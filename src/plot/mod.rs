//! Results to SVG. Computes no statistic.
//!
//! Charts with axes are drawn by plotters (`interval`, `line`), the block map by hand (`map`). Both give
//! an `<svg>` for a page: it scales with its column, carries a title and a description, has no ids (the page
//! gives those), and names its colours by class so that the page can swap them for a dark screen.

pub mod ink;
pub mod interval;
pub mod line;
pub mod map;
pub mod shape;
mod sheet;

pub use ink::Ink;
pub use interval::{Axis, Interval, IntervalChart, IntervalRow, intervals};
pub use line::{LineChart, Series, lines};
pub use map::{BlockMap, MapClass, MapMark, MapRow, map};
pub use shape::Shape;

/// What a picture says to someone who can't see it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Alt {
    pub title: String,
    pub description: String,
}

/// Text made safe for the inside of an element.
fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;")
}

/// The opening of an `<svg>` of this size in its own units, with what it says in words.
fn open(width: f64, height: f64, style: &str, alt: &Alt) -> String {
    format!(
        "<svg role=\"img\" viewBox=\"0 0 {width:.0} {height:.0}\" style=\"{style}\"><title>{}</title><desc>{}</desc>",
        escaped(&alt.title),
        escaped(&alt.description)
    )
}
