//! How many vines to order to be sure of a full stand.

use crate::base::{Documented, Known, SourceKey};
use crate::block::Block;
use crate::options::Options;
use crate::tally::Tally;
use serde::Serialize;

/// The document `order`.
#[derive(Clone, Debug, Serialize)]
pub struct Orders {
    pub option: Known<String>,
    pub orders: Vec<Order>,
    #[serde(skip)]
    pub sources: Vec<SourceKey>,
}

#[derive(Clone, Debug, Serialize)]
pub struct Order {
    pub material: String,
    /// Places to fill.
    pub needed: u64,
    /// Probability asked for.
    pub sure: f64,
    /// Vines to order, whole bundles.
    pub order: Known<u64>,
    pub bundle: u64,
    /// Expected stand of the new batch, with its interval.
    pub expected_stand: f64,
    pub probability_enough: Known<f64>,
    pub order_by: Known<jiff::civil::Date>,
    pub price: Known<f64>,
    pub if_ordered: Vec<IfOrdered>,
}

#[derive(Clone, Debug, Serialize)]
pub struct IfOrdered {
    pub order: u64,
    pub probability_enough: f64,
}

impl Documented for Orders {
    const SCHEMA: &'static str = "order";
    fn sources(&self) -> Vec<SourceKey> {
        self.sources.clone()
    }
}

/// The order for one option (its name), or for the recommended one.
pub fn order(block: &Block, tally: &Tally, options: &Options, option: Option<&str>) -> Option<Orders> {
    let _ = (block, tally, options, option);
    todo!()
}
