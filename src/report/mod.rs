//! Results to sections to HTML and text. Computes no statistic.

pub mod part;

use crate::study::Study;

/// The report as one self-contained HTML file.
pub fn html(studies: &[Study]) -> String {
    let _ = studies;
    todo!()
}

/// The one screen that says what to do, why, what it costs and how sure.
pub fn screen(study: &Study, width: usize) -> String {
    let _ = (study, width);
    todo!()
}
