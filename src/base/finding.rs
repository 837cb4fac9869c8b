//! Findings: what was noticed in the files, coded, with place, reason and a way out.

use serde::Serialize;

/// Something worth saying about the input.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Finding {
    /// Code of the kind of finding, such as `walk_split`.
    pub code: &'static str,
    /// File it was found in, relative to the folder; empty where it is about the whole folder.
    pub file: String,
    /// Line in that file, counted from 1 with the heading as line 1; 0 where it is about the whole file.
    pub line: u64,
    pub message: String,
    /// The way out.
    pub hint: String,
}
