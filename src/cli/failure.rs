//! Every way to end without an answer, with its exit status.

use crate::base::words::{cli as words, fill};
use crate::intake::Unusable;
use crate::options::Refused;
use crate::tally::NoTally;
use serde_json::{Value, json};
use std::fmt;
use std::path::Path;

/// An error for the user: what is wrong, where, and a way out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Failure {
    status: u8,
    code: &'static str,
    message: String,
    file: String,
    line: Option<u64>,
    hint: String,
}

/// Codes of what is asked for by a name: a block of an estate may lack it where another has it.
pub const NO_SUCH_OPTION: &str = "no_such_option";
pub const NO_SUCH_BATCH: &str = "no_such_batch";
pub const NO_SUCH_FACTOR: &str = "no_such_factor";
const NO_SUCH: [&str; 3] = [NO_SUCH_OPTION, NO_SUCH_BATCH, NO_SUCH_FACTOR];

impl Failure {
    /// The question can't be answered from these data: exit status 1.
    pub fn cannot(code: &'static str, message: String, hint: String) -> Self {
        Failure { status: 1, code, message, file: String::new(), line: None, hint }
    }

    /// A file can't be written: exit status 1.
    pub fn not_written(file: &Path, error: &std::io::Error) -> Self {
        let message = fill(words::NOT_WRITTEN, &[("file", &file.display()), ("error", error)]);
        Failure::cannot("not_written", message, words::NOT_WRITTEN_HINT.into())
    }

    /// There are no evidence packs yet.
    pub fn no_pack(pack: &Path) -> Self {
        let mut failure =
            Failure::cannot("not_built", words::VERIFY_LATER.into(), crate::base::words::base::LATER_HELP.into());
        failure.file = pack.display().to_string();
        failure
    }

    /// The same failure in a block of an estate.
    pub fn in_block(mut self, folder: &Path) -> Self {
        let name = folder.file_name().unwrap_or_default().to_string_lossy();
        self.file = if self.file.is_empty() { name.into_owned() } else { format!("{name}/{}", self.file) };
        self
    }

    /// Whether something was asked for by a name that isn't there.
    pub fn is_about_a_name(&self) -> bool {
        NO_SUCH.contains(&self.code)
    }

    /// `--strict`, and lines were set aside: exit status 3.
    pub fn strict(set_aside: &[crate::intake::SetAside]) -> Self {
        let first = set_aside.first();
        Failure {
            status: 3,
            code: "set_aside",
            message: fill(words::STRICT, &[("n", &set_aside.len())]),
            file: first.map(|s| s.file.clone()).unwrap_or_default(),
            line: first.map(|s| s.line),
            hint: words::STRICT_HINT.into(),
        }
    }

    /// No tally of this block; `walks` are the days that can be asked for.
    pub fn no_tally(reason: &NoTally, walks: &[String]) -> Self {
        match reason {
            NoTally::NoWalk => Failure::cannot("no_walk", words::NO_WALK.into(), words::NO_WALK_HINT.into()),
            NoTally::NoSuchWalk(date) => Failure::cannot(
                "no_such_walk",
                fill(words::NO_SUCH_WALK, &[("date", date)]),
                fill(words::NO_SUCH_WALK_HINT, &[("walks", &walks.join(", "))]),
            ),
        }
    }

    pub fn status(&self) -> u8 {
        self.status
    }

    /// The document that `--json` prints.
    pub fn document(&self) -> Value {
        json!({ "error": {
            "status": self.status, "code": self.code, "message": self.message,
            "file": self.file, "line": self.line, "hint": self.hint,
        }})
    }
}

impl From<Unusable> for Failure {
    fn from(u: Unusable) -> Self {
        Failure { status: 3, code: u.code, message: u.message, file: u.file, line: u.line, hint: u.hint }
    }
}

impl From<Refused> for Failure {
    fn from(r: Refused) -> Self {
        let message = format!("option \"{}\": {}", r.option, r.problem);
        Failure::cannot("option_refused", message, r.way_out)
    }
}

impl fmt::Display for Failure {
    fn fmt(&self, f: &mut fmt::Formatter) -> fmt::Result {
        if !self.file.is_empty() {
            write!(f, "{}", self.file)?;
            self.line.map_or(Ok(()), |l| write!(f, ":{l}"))?;
            write!(f, ": ")?;
        }
        write!(f, "{}\n  {}", self.message, self.hint)
    }
}
