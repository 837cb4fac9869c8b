//! The planting register: every vine ever planted, replants included.

use jiff::civil::Date;

/// Index of a vine in [`Register::vines`].
pub type VineIx = u32;
/// Index of a level in [`Factor::levels`], or [`UNKNOWN`].
pub type Code = u32;
/// The level isn't known (an empty cell).
pub const UNKNOWN: Code = u32::MAX;

/// A place in the block: index of the row in the layout, position from 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Place {
    pub row: u32,
    pub position: u32,
}

/// Why a vine was removed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum RemovedWhy {
    Failed,
    Moved,
    Cleared,
    Dug,
    Other,
}

/// One vine ever planted; its levels stand in [`Register::factors`] at the same index.
#[derive(Clone, Debug, PartialEq)]
pub struct Vine {
    pub place: Place,
    pub planted_on: Option<Date>,
    pub planted_seq: Option<u32>,
    pub removed_on: Option<Date>,
    pub removed_why: Option<RemovedWhy>,
    /// Where this vine stood before it was moved here.
    pub moved_from: Option<Place>,
    /// Metres, where the register gives them.
    pub x_y_m: Option<(f64, f64)>,
    /// Line of the register, for findings.
    pub line: u32,
}

/// A column of labels, coded. `levels` in natural order; `codes` has one entry per vine (or count line).
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Factor {
    /// `variety`, `clone`, `rootstock`, `batch`, or a declared factor's name.
    pub name: String,
    pub levels: Vec<String>,
    pub codes: Vec<Code>,
}

impl Factor {
    /// The label of a vine, none where it isn't known.
    pub fn label(&self, index: usize) -> Option<&str> {
        self.levels.get(self.codes[index] as usize).map(String::as_str)
    }

    /// Whether a level names one thing: "L1|L3" is one of two and never a candidate explanation.
    pub fn is_definite(&self, code: Code) -> bool {
        self.levels.get(code as usize).is_some_and(|l| !(self.name == "batch" && l.contains('|')))
    }
}

/// The register and the walks over it.
#[derive(Clone, Debug, Default)]
pub struct Register {
    /// In order of place, then planting date: replants follow what they replaced.
    pub vines: Vec<Vine>,
    /// `variety`, `clone`, `rootstock`, `batch` (each only if its column holds anything), then declared ones by name.
    pub factors: Vec<Factor>,
    /// In order of date.
    pub walks: Vec<super::walk::Walk>,
}

impl Register {
    pub fn factor(&self, name: &str) -> Option<&Factor> {
        self.factors.iter().find(|f| f.name == name)
    }
}
