//! The sections of the report, in reading order. A new one is a file here and a line in [`SECTIONS`].

pub(super) mod assumptions;
mod block;
mod cautions;
pub(super) mod claim;
pub(super) mod findings;
mod limits;
mod order;
mod pattern;
mod rates;
mod sources;
mod stocks;
mod what_to_do;
mod work;
mod years;

use super::part::{Part, Section};
use crate::base::words::{rates as rates_words, report as words};
use crate::study::Study;

/// A section: its anchor, its title, and what it has to say of a block; none: it is left out.
pub struct SectionSpec {
    pub id: &'static str,
    pub title: &'static str,
    pub build: fn(&Study) -> Option<Vec<Part>>,
}

const fn section(id: &'static str, title: &'static str, build: fn(&Study) -> Option<Vec<Part>>) -> SectionSpec {
    SectionSpec { id, title, build }
}

/// All sections, from what a grower needs first to what stands behind it.
pub const SECTIONS: &[SectionSpec] = &[
    section("what-to-do", words::WHAT_TO_DO, what_to_do::parts),
    section("block", words::THE_BLOCK, block::parts),
    section("rates", words::RATES, rates::parts),
    section("stocks", rates_words::STOCKS_TITLE, stocks::parts),
    section("pattern", words::PATTERN, pattern::parts),
    section("work", words::WORK, work::parts),
    section("options", words::YEARS, years::parts),
    section("order", words::ORDER, order::parts),
    section("read", words::FINDINGS, findings::parts),
    section("assumptions", words::ASSUMPTIONS, assumptions::parts),
    section("sources", words::SOURCES, sources::parts),
    section("limits", words::LIMITS, limits::parts),
    section("cautions", words::CAUTIONS, cautions::parts),
];

/// The sections that have something to say of this block.
pub fn sections(study: &Study) -> Vec<Section> {
    let build = |spec: &SectionSpec| {
        let parts = (spec.build)(study).filter(|parts| !parts.is_empty())?;
        Some(Section { id: spec.id, title: spec.title, parts })
    };
    SECTIONS.iter().filter_map(build).collect()
}

/// Folds parts away under a title, which a table of the same name needn't repeat; nothing where there are none.
fn folded(title: &str, mut parts: Vec<Part>) -> Option<Part> {
    for part in &mut parts {
        if let Part::Table(table) = part
            && table.caption == title
        {
            table.caption.clear();
        }
    }
    (!parts.is_empty()).then(|| Part::Folded { title: title.into(), parts })
}
