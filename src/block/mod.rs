//! The block as recorded: layout, vines, walks, materials, terms. Holds what the files say; derives no number.

pub mod counts;
pub mod course;
pub mod layout;
pub mod material;
pub mod register;
pub mod terms;
pub mod walk;

pub use counts::{CountLine, CountSheet};
pub use course::{Course, Do, Step, Target, Which};
pub use layout::{Hemisphere, Layout, PlantingOrder, RowLayout};
pub use material::{Material, StandFrom, StockType};
pub use register::{Code, Factor, Place, Register, RemovedWhy, UNKNOWN, Vine, VineIx};
pub use terms::{Clock, Notice, Terms};
pub use walk::{Look, LookDetail, State, Union, Walk};

use crate::base::Assumptions;
use jiff::civil::Date;
use std::collections::BTreeMap;

/// A planted block and everything recorded about it. Made by `intake`, which has checked it: indices are in
/// range, dates are dates, positions are at least 1.
#[derive(Clone, Debug)]
pub struct Block {
    pub name: String,
    /// ISO 4217 label; never converted.
    pub currency: String,
    pub planted_on: Option<Date>,
    pub hemisphere: Hemisphere,
    pub layout: Layout,
    pub plants: Plants,
    pub deliveries: Vec<Delivery>,
    pub diary: Vec<DiaryEntry>,
    /// Terms agreed, by batch.
    pub terms: BTreeMap<String, Terms>,
    pub materials: Vec<Material>,
    pub courses: Vec<Course>,
    pub goal: Goal,
    pub limits: Limits,
    pub assumptions: Assumptions,
}

/// Vine by vine, or counted per row.
#[derive(Clone, Debug)]
pub enum Plants {
    Vines(Register),
    Counts(CountSheet),
}

/// What is known of one delivery (batches.csv).
#[derive(Clone, Debug, Default)]
pub struct Delivery {
    pub batch: String,
    pub nursery: Option<String>,
    pub stock_type: Option<StockType>,
    pub ordered_on: Option<Date>,
    pub ordered: Option<u64>,
    pub delivered_on: Option<Date>,
    pub delivered: Option<u64>,
    pub planted: Option<u64>,
    pub spares: Option<u64>,
    pub opened_on: Option<Date>,
    pub condition_on_arrival: Option<String>,
    pub discovered_on: Option<Date>,
    pub notified_on: Option<Date>,
    pub note: Option<String>,
}

/// One line of diary.csv, kept for the timeline of a claim.
#[derive(Clone, Debug)]
pub struct DiaryEntry {
    pub date: Date,
    pub row_from: Option<String>,
    pub row_to: Option<String>,
    pub event: String,
    pub amount: Option<f64>,
    pub unit: Option<String>,
    pub note: Option<String>,
}

/// What the grower optimises.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Goal {
    #[default]
    PresentValue,
    FullCropYear,
    Evenness,
    CashLowPoint,
}

/// What the grower can't exceed.
#[derive(Clone, Debug, Default)]
pub struct Limits {
    /// The deepest the running cash balance may fall, in the block's currency, positive.
    pub cash: Option<f64>,
    /// Calendar year of the harvest by which the block must be full.
    pub full_by: Option<i16>,
    pub hours_per_winter: Option<f64>,
    pub free_rows: Vec<String>,
}
