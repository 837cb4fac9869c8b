//! Where the places are.

use super::register::Place;

#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Hemisphere {
    #[default]
    North,
    South,
}

/// The order in which the planters walked.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum PlantingOrder {
    /// Up one row and down the next.
    Serpentine,
    /// Every row from position 1.
    SameEnd,
    #[default]
    Unknown,
}

/// The layout; lengths in metres unless the name says otherwise.
#[derive(Clone, Debug, Default)]
pub struct Layout {
    pub row_spacing_m: Option<f64>,
    pub vine_spacing_m: Option<f64>,
    /// Height of the wire that the trunk has to reach.
    pub training_height_cm: Option<f64>,
    /// Canes were cut at this height, if they were.
    pub topped_at_cm: Option<f64>,
    pub planted: PlantingOrder,
    /// Every row, in order across the block.
    pub rows: Vec<RowLayout>,
}

/// One row.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RowLayout {
    pub label: String,
    /// Number of places, positions 1 to `places`: as block.toml says, else the furthest position recorded.
    pub places: u32,
    /// Distance of position 1 from the baseline.
    pub offset_m: f64,
    /// Extra distance to the row before it (a track): the two rows are no neighbours.
    pub gap_before_m: Option<f64>,
    /// Positions that hold no vine (posts), ascending.
    pub no_vine: Vec<u32>,
}

impl Layout {
    /// Index of the row with this label.
    pub fn row(&self, label: &str) -> Option<u32> {
        self.rows.iter().position(|r| r.label == label).map(|i| i as u32)
    }

    pub fn label(&self, row: u32) -> &str {
        &self.rows[row as usize].label
    }

    /// Places that can hold a vine.
    pub fn places(&self) -> u64 {
        self.rows.iter().map(|r| u64::from(r.places) - r.no_vine.len() as u64).sum()
    }

    /// Metres across the rows and along the row, or none without spacings.
    pub fn metres(&self, place: Place) -> Option<(f64, f64)> {
        let (row_m, vine_m) = (self.row_spacing_m?, self.vine_spacing_m?);
        let row = &self.rows[place.row as usize];
        let gaps: f64 = self.rows[..=place.row as usize].iter().filter_map(|r| r.gap_before_m).sum();
        Some((f64::from(place.row) * row_m + gaps, row.offset_m + f64::from(place.position - 1) * vine_m))
    }
}
