//! Counts per row, for a grower who counted instead of writing vine by vine.

use super::register::Factor;
use jiff::civil::Date;

/// One line of counts.csv. Numbers of vines.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct CountLine {
    /// Index of the row in the layout.
    pub row: u32,
    pub planted: u64,
    pub seen: u64,
    pub failed: u64,
    pub good: Option<u64>,
    pub weak: Option<u64>,
    pub reached_wire: Option<u64>,
    pub no_budburst: Option<u64>,
    pub died: Option<u64>,
    pub dead: Option<u64>,
    pub scion_dead: Option<u64>,
    pub missing: Option<u64>,
    pub surveyed_on: Option<Date>,
    /// Line of the file.
    pub line: u32,
}

/// The sheet: `factors` are coded per line, in the order of [`super::Register::factors`].
#[derive(Clone, Debug, Default)]
pub struct CountSheet {
    pub lines: Vec<CountLine>,
    pub factors: Vec<Factor>,
}
