//! Whether the failures follow a pattern: first what can't be told, then what can, then what to look at.
//!
//! | file | what it says |
//! | --- | --- |
//! | `unsettled` | what can't be told apart, and what would settle it |
//! | `explanations` | how well each explanation fits |
//! | `kinds` | never grew, died later, missing |
//! | `look_at` | what to look at, and causes beside what the block shows |
//! | `tests` | the tests by re-arrangement |

mod explanations;
mod kinds;
mod look_at;
mod tests;
mod unsettled;

use crate::report::advice::{follows, unknown};
use crate::report::part::Part;
use crate::study::Study;

pub fn parts(study: &Study) -> Option<Vec<Part>> {
    let (cause, assumptions) = (&study.cause, &study.block.assumptions);
    let mut parts: Vec<Part> = Vec::new();
    let said = [unknown(study), follows(study)].concat();
    if !said.is_empty() {
        parts.push(Part::Notice(said.join(" ")));
    }
    parts.extend(unsettled::parts(&cause.unsettled));
    parts.extend(explanations::parts(cause));
    parts.extend(kinds::parts(&cause.kinds));
    parts.extend(look_at::parts(cause));
    parts.extend(tests::tested(&cause.tests, assumptions));
    parts.extend(explanations::separable(&cause.separable));
    Some(parts)
}
