//! What is simulated: a planting, what made vines fail, how they grew, who looked at them.

use crate::block::{Delivery, PlantingOrder};
use jiff::civil::{Date, date};
use std::collections::BTreeMap;

/// A block to simulate. Effects are on the logit scale and add up; positive ones make failure likelier.
#[derive(Clone, Debug)]
pub struct Scenario {
    pub name: String,
    pub rows: u32,
    pub places_per_row: u32,
    pub row_spacing_m: f64,
    pub vine_spacing_m: f64,
    /// Tracks: index of a row and the extra metres before it.
    pub tracks: Vec<(u32, f64)>,
    pub training_height_cm: f64,
    pub planted_on: Date,
    /// Days that the planting took, the vines spread evenly over them.
    pub planting_days: u32,
    /// The planters' walk; `Unknown` is walked as a serpentine, and the block doesn't know it.
    pub planted: PlantingOrder,
    pub deliveries: Vec<Consignment>,
    pub dealt: Dealt,
    /// Probability of failure without any effect, 0..1.
    pub base_failure: f64,
    pub effects: Effects,
    pub dying: Dying,
    pub growth: Growth,
    pub walks: Vec<WalkPlan>,
}

/// One delivery and what made it different.
#[derive(Clone, Debug, Default)]
pub struct Consignment {
    /// The delivery as recorded; `planted` is filled in.
    pub record: Delivery,
    /// Number of vines, or a share: only the ratio to the others counts, and the block is always filled.
    pub amount: f64,
    pub variety: Option<String>,
    pub clone: Option<String>,
    pub rootstock: Option<String>,
    /// Logit added for each vine of this batch.
    pub effect: f64,
    /// Added to the logarithm of the height of each vine of this batch.
    pub vigour: f64,
}

/// How the deliveries were dealt out to the places.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Dealt {
    /// Bundles of this size, shuffled, one after another along the planters' walk.
    Bundles { size: u32 },
    /// Bundles of this size, the deliveries taking turns.
    Interleaved { size: u32 },
    /// The first delivery to its last vine, then the next one: a row may hold the end of one and the start of another.
    OneAfterAnother,
    /// Each delivery in adjacent rows of its own: batch and place can't be told apart.
    WholeRows,
    /// Every vine at random.
    PerVine,
}

/// What made vines fail, apart from the delivery's own effect.
#[derive(Clone, Debug, Default)]
pub struct Effects {
    pub clone: BTreeMap<String, f64>,
    pub rootstock: BTreeMap<String, f64>,
    /// Standard deviation of an independent normal effect of each row.
    pub row_sd: f64,
    /// Index of a row and its effect.
    pub odd_rows: Vec<(u32, f64)>,
    /// Stretches of rows, as where a dripline is blocked from some place on.
    pub odd_stretches: Vec<OddStretch>,
    pub hollows: Vec<Hollow>,
    pub pools: Vec<Pool>,
    pub field: Option<SmoothField>,
    pub step: Option<OrderStep>,
    /// By delivery, in the scenario's order: what was the matter while it was being planted, which isn't its own
    /// doing. None for those beyond the end.
    pub while_planting: Vec<f64>,
    /// Added in the first and last row and on the first and last place of each row.
    pub edge: f64,
}

/// A Gaussian hollow (or, with negative depth, a rise).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Hollow {
    /// Metres across the rows, from the first one.
    pub across_m: f64,
    /// Metres along the rows, from position 1.
    pub along_m: f64,
    /// Standard deviation of the Gaussian.
    pub radius_m: f64,
    /// Logit at the centre.
    pub depth: f64,
}

/// A pool with a bank: the same everywhere within, nothing beyond.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pool {
    /// Metres across the rows, from the first one.
    pub across_m: f64,
    /// Metres along the rows, from position 1.
    pub along_m: f64,
    pub radius_m: f64,
    /// Logit within.
    pub depth: f64,
}

/// A stretch of a row.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OddStretch {
    /// Index of the row.
    pub row: u32,
    /// Index of its first place, from 0, and of the first one beyond it.
    pub from: u32,
    pub to: u32,
    /// Logit added.
    pub effect: f64,
}

/// A smooth random field: Gaussian, with a squared-exponential covariance.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SmoothField {
    pub sd: f64,
    /// Distance at which the correlation has fallen to exp(-1/2).
    pub range_m: f64,
}

/// A step along the planting order: a day, a crew, a valve that nobody wrote down.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct OrderStep {
    /// Share of the walk after which it holds, 0..1.
    pub after: f64,
    pub effect: f64,
}

/// How failed vines went: shares of the failures, the rest died after they had grown.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Dying {
    /// Never grew after planting.
    pub never_grew: f64,
    /// Gone without a trace.
    pub gone: f64,
}

/// How the living grew by the end of the season.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Growth {
    /// Median height of live cane.
    pub height_cm: f64,
    /// Standard deviation of the logarithm of the height.
    pub height_sd: f64,
    /// Median diameter at the wire of a vine of median height.
    pub diameter_mm: f64,
    /// Standard deviation of the logarithm of the diameter at a given height.
    pub diameter_sd: f64,
    /// Diameter goes with height to this power.
    pub diameter_power: f64,
    /// Diameter at the tip of a cane that doesn't reach the wire, as a share of what it would be at the wire.
    pub tip_share: f64,
    /// Added to the logarithm of the height per logit of the place's effect on failure.
    pub place: f64,
}

/// One walk through the rows. Shares are 0..1.
#[derive(Clone, Debug, PartialEq)]
pub struct WalkPlan {
    /// Label; none: the walk is named after its first day.
    pub label: Option<String>,
    pub date: Date,
    /// Days that the walk took, the rows spread evenly over them.
    pub days: u32,
    /// Share of the vines looked at.
    pub looked_at: f64,
    /// Share of those looked at whose state nobody could tell.
    pub unsure: f64,
    /// Share of the failures whose kind was told; the others are written `dead`.
    pub kind_told: f64,
    pub measured: Measured,
}

/// What was measured of the living.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Measured {
    /// Only states were written: the bad ones, and one line for the rest of the row.
    Nothing,
    /// Height, diameter and whether the wire was reached.
    Canes {
        /// Share of the season's growth made by then, 0..1.
        grown: f64,
        /// Share of the living left unmeasured.
        missing: f64,
        height_error_cm: f64,
        diameter_error_mm: f64,
    },
}

impl Default for Scenario {
    fn default() -> Self {
        Scenario {
            name: "Simulated".into(),
            rows: 24,
            places_per_row: 45,
            row_spacing_m: 2.4,
            vine_spacing_m: 1.1,
            tracks: Vec::new(),
            training_height_cm: 85.0,
            planted_on: date(2025, 5, 14),
            planting_days: 1,
            planted: PlantingOrder::Serpentine,
            deliveries: ["A", "B", "C"].map(Consignment::named).into(),
            dealt: Dealt::Bundles { size: 25 },
            base_failure: 0.05,
            effects: Effects::default(),
            dying: Dying::default(),
            growth: Growth::default(),
            walks: vec![WalkPlan::default()],
        }
    }
}

impl Consignment {
    /// An ordinary delivery of this name, as large as any other ordinary one.
    pub fn named(batch: &str) -> Self {
        let record = Delivery { batch: batch.into(), ..Delivery::default() };
        Consignment { record, amount: 1.0, variety: Some("Furmint".into()), ..Consignment::default() }
    }

    /// The same delivery with an effect on failure.
    pub fn with_effect(self, effect: f64) -> Self {
        Consignment { effect, ..self }
    }
}

impl Default for Dying {
    fn default() -> Self {
        Dying { never_grew: 0.6, gone: 0.03 }
    }
}

impl Default for Growth {
    fn default() -> Self {
        Growth {
            height_cm: 100.0,
            height_sd: 0.25,
            diameter_mm: 8.8,
            diameter_sd: 0.12,
            diameter_power: 0.5,
            tip_share: 0.55,
            place: -0.1,
        }
    }
}

impl Default for WalkPlan {
    fn default() -> Self {
        WalkPlan {
            label: None,
            date: date(2026, 1, 14),
            days: 1,
            looked_at: 1.0,
            unsure: 0.0,
            kind_told: 1.0,
            measured: Measured::Nothing,
        }
    }
}

impl Measured {
    /// A measuring of dormant canes with a stick and a calliper: to about 2 cm and 0.2 mm.
    pub fn in_winter() -> Self {
        Measured::Canes { grown: 1.0, missing: 0.0, height_error_cm: 2.0, diameter_error_mm: 0.2 }
    }
}

impl Scenario {
    /// Number of places, each planted once.
    pub fn places(&self) -> usize {
        self.rows as usize * self.places_per_row as usize
    }

    /// Metres across the rows of each row.
    pub(super) fn across_m(&self) -> Vec<f64> {
        let gap = |row: u32| self.tracks.iter().filter(|(at, _)| *at <= row).map(|(_, m)| m).sum::<f64>();
        (0..self.rows).map(|row| f64::from(row) * self.row_spacing_m + gap(row)).collect()
    }

    /// Metres along the rows of each position.
    pub(super) fn along_m(&self) -> Vec<f64> {
        (0..self.places_per_row).map(|i| f64::from(i) * self.vine_spacing_m).collect()
    }
}
