//! The walks through the rows: what was seen of which vine, when.

use super::register::VineIx;
use jiff::civil::Date;

/// What a vine was seen to be.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum State {
    Alive,
    /// Never grew after planting.
    NoBudburst,
    /// Grew, then died.
    Died,
    /// Dead, can't tell which of the two.
    Dead,
    /// Only the rootstock lives.
    ScionDead,
    /// No vine there.
    Missing,
    /// Looked at, not told.
    Unsure,
}

impl State {
    /// All states with their names in the files.
    pub const NAMES: [(&'static str, State); 7] = [
        ("alive", State::Alive),
        ("no_budburst", State::NoBudburst),
        ("died", State::Died),
        ("dead", State::Dead),
        ("scion_dead", State::ScionDead),
        ("missing", State::Missing),
        ("unsure", State::Unsure),
    ];

    pub fn name(self) -> &'static str {
        Self::NAMES.iter().find(|(_, s)| *s == self).map_or("", |(n, _)| n)
    }

    /// Any state that isn't alive; `unsure` is neither.
    pub fn is_failed(self) -> bool {
        !matches!(self, State::Alive | State::Unsure)
    }
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Union {
    Ok,
    Moves,
    Open,
}

/// One vine looked at once.
#[derive(Clone, Debug, PartialEq)]
pub struct Look {
    pub vine: VineIx,
    pub date: Date,
    pub state: State,
    /// Live ripened cane above ground.
    pub height_cm: Option<f32>,
    /// That cane where it meets the wire, or at its tip if shorter.
    pub diameter_mm: Option<f32>,
    pub reached_wire: Option<bool>,
    /// The grower's own class, 1 (weakest) to 9.
    pub vigour: Option<u8>,
    /// Furthest BBCH stage seen, 0 to 99.
    pub stage_bbch: Option<u8>,
    pub union: Option<Union>,
    pub union_height_cm: Option<f32>,
    /// The rarer columns, only where one of them is filled.
    pub detail: Option<Box<LookDetail>>,
    /// Line of surveys.csv.
    pub line: u32,
}

/// Columns kept for the record.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct LookDetail {
    pub guard: Option<String>,
    pub cause_seen: Option<String>,
    pub by: Option<String>,
    pub method: Option<String>,
    pub note: Option<String>,
    pub photo: Option<String>,
}

/// One walk: at most one look per vine.
#[derive(Clone, Debug, PartialEq)]
pub struct Walk {
    /// The grower's label, or the first day.
    pub label: String,
    pub first_day: Date,
    pub last_day: Date,
    /// In order of vine.
    pub looks: Vec<Look>,
}
