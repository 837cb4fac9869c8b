//! Results to sections to HTML and text. Computes no statistic.
//!
//! [`sections`] says what there is to say, in parts that know no format; [`html()`] and [`text()`] write the parts;
//! [`number`](crate::base::words::number) is the only place that rounds.

pub mod advice;
mod figures;
mod html;
pub mod labels;
pub mod part;
mod screen;
pub mod sections;
pub mod text;

use crate::base::Assumptions;
use crate::claim::Claim;
use crate::intake::Check;
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

/// The sections with these ids for the terminal, in the order of the report; a section with nothing to say is left
/// out. Lines have at most `width` columns where their words allow.
pub fn text(study: &Study, ids: &[&str], width: usize) -> String {
    let asked = sections::sections(study).into_iter().filter(|s| ids.contains(&s.id));
    let written: Vec<String> = asked.map(|s| text::section(&s, width)).collect();
    text::headed(&[study.block.name.as_str(), &html::walked(study)].join(" · "), &written.join("\n"), width)
}

/// What was read of a block, for the terminal.
pub fn check_text(block: &str, check: &Check, width: usize) -> String {
    text::headed(block, &text::parts(&sections::findings::said(check), width), width)
}

/// The counts behind a claim, for the terminal.
pub fn claim_text(block: &str, claim: &Claim, width: usize) -> String {
    text::headed(block, &text::parts(&sections::claim::said(claim), width), width)
}

/// A sentence under the block's name, for the terminal.
pub fn sentence_text(block: &str, sentence: &str, width: usize) -> String {
    text::headed(block, &text::wrapped(sentence, "", "", width), width)
}

/// A table of assumptions, for the terminal.
pub fn assumptions_text(assumptions: &Assumptions, width: usize) -> String {
    text::parts(&sections::assumptions::said(assumptions), width)
}
