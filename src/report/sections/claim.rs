//! The counts behind a claim, for the terminal: the report itself takes no side.

use crate::base::words::number;
use crate::base::words::{fill, report as words};
use crate::claim::Claim;
use crate::report::part::{Column, Part, Table};

/// What is known for a claim, and that it is no more than counts.
pub fn said(claim: &Claim) -> Vec<Part> {
    let unknown = || words::NOT_KNOWN.to_string();
    let rows = [
        (words::CLAIM_DELIVERED, claim.delivered.value().map_or_else(unknown, |n| number::count(*n))),
        (words::CLAIM_PLANTED, number::count(claim.planted)),
        (words::CLAIM_SEEN, number::count(claim.seen)),
        (words::CLAIM_FAILED, number::count(claim.failed)),
        (words::CLAIM_MISSING, number::count(claim.missing)),
        (words::CLAIM_COUNTED, number::count(claim.counted)),
    ];
    let columns = vec![Column::text(words::C_WHAT), Column::number(words::C_VINES)];
    let rows = rows.into_iter().map(|(what, n)| vec![what.to_string(), n]).collect();
    let caution = words::CAUTION_LIST.iter().find(|(title, _)| *title == words::CLAIMS_TITLE);
    let caption = fill(words::CLAIM, &[("batch", &claim.batch)]);
    let table = Part::Table(Table { caption, columns, rows, ..Table::default() });
    let share = claim.separable.value().map(|s| fill(words::CLAIM_SEPARABLE, &[("share", &number::percent(*s))]));
    let caution = caution.map(|(title, text)| Part::Notice(format!("{title}. {text}")));
    let texts = share.into_iter().chain([words::CLAIM_LATER.to_string()]).map(Part::Text);
    [table].into_iter().chain(texts).chain(caution).collect()
}
