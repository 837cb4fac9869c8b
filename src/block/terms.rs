//! Terms agreed for a batch. Where they are silent nothing is assumed.

use super::walk::State;
use jiff::civil::Date;

/// From what event a notice period runs.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Clock {
    Delivery,
    Planting,
    Discovery,
}

#[derive(Clone, Debug, PartialEq)]
pub struct Notice {
    pub after: Clock,
    pub days: u32,
    /// Working days.
    pub working: bool,
    /// Applies only if the loss exceeds this share.
    pub if_loss_over: Option<f64>,
}

#[derive(Clone, Debug, Default, PartialEq)]
pub struct Terms {
    /// Take agreed, 0..1.
    pub guaranteed: Option<f64>,
    /// States that count against it; none said: all failures but `missing`.
    pub covers: Option<Vec<State>>,
    pub judged_by: Option<Date>,
    pub price_per_vine: Option<f64>,
    /// The most that is replaced, as a share of the order.
    pub cap_share: Option<f64>,
    pub union_max_cm: Option<f64>,
    pub condition_text: Option<String>,
    pub notice: Vec<Notice>,
}
