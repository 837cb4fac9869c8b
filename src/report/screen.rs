//! The one screen.

use super::advice::advice;
use super::html::walked;
use super::text::wrapped;
use crate::base::words::number;
use crate::base::words::{fill, report as words};
use crate::study::Study;

/// From this width on, the questions stand in a column beside their answers.
const TWO_COLUMNS: usize = 60;
const COLUMN: usize = 13;

/// What to do, why, what it costs, how sure, what can't be told, what comes next.
pub(super) fn screen(study: &Study, width: usize) -> String {
    let width = width.clamp(40, 110);
    let answers = advice(study).answers();
    let said: String = answers.iter().map(|a| format!("\n{}", answer(a.question, &a.said, width))).collect();
    head(study, width) + &said
}

fn head(study: &Study, width: usize) -> String {
    let rates = &study.rates;
    let stand = rates.stand.value().map_or_else(|| words::NOT_KNOWN.into(), |e| number::percent(e.value));
    let counts = fill(
        words::STANDFIRST,
        &[
            ("planted", &number::count(rates.vines)),
            ("seen", &number::count(rates.seen)),
            ("failed", &number::count(rates.failed)),
            ("stand", &stand),
        ],
    );
    wrapped(&format!("{} · {}", study.block.name, walked(study)), "", "", width) + &wrapped(&counts, "", "", width)
}

fn answer(question: &str, said: &str, width: usize) -> String {
    if width < TWO_COLUMNS {
        return format!("{question}\n{}", wrapped(said, "  ", "  ", width));
    }
    wrapped(said, &format!("{question:<COLUMN$}"), &" ".repeat(COLUMN), width)
}
