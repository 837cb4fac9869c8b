//! Results to sections to HTML and text. Computes no statistic.
//!
//! [`sections`] says what there is to say, in parts that know no format; [`html()`] and [`text`] write the parts;
//! [`number`] is the only place that rounds.

pub mod advice;
mod figures;
mod html;
pub mod labels;
pub mod number;
pub mod part;
mod screen;
pub mod sections;
pub mod text;

use crate::study::Study;

/// The report as one self-contained HTML file: no script, nothing from the network. Several blocks are an estate:
/// an overview, then each block's sections.
pub fn html(studies: &[Study]) -> String {
    html::page(studies)
}

/// The one screen that says what to do, why, what it costs and how sure, in lines of at most `width` columns.
pub fn screen(study: &Study, width: usize) -> String {
    screen::screen(study, width)
}
