//! The cautions, with every report.

use crate::base::words::report as words;
use crate::report::part::Part;
use crate::study::Study;

pub fn parts(_: &Study) -> Option<Vec<Part>> {
    let caution = |(title, text): &(&str, &str)| Part::Notice(format!("{title}. {text}"));
    Some(words::CAUTION_LIST.iter().map(caution).collect())
}
