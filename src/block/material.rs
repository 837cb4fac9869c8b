//! What can be planted.

use crate::base::Quantity;
use jiff::civil::Date;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum StockType {
    Dormant,
    Green,
    Potted,
}

/// Where the stand expected of a material comes from.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum StandFrom {
    /// This block's own data.
    Block,
    /// What block.toml states.
    Stated,
    /// Both.
    #[default]
    Blend,
}

/// A material; money in the block's currency.
#[derive(Clone, Debug, Default)]
pub struct Material {
    pub name: String,
    pub variety: Option<String>,
    pub clone: Option<String>,
    pub rootstock: Option<String>,
    pub stock_type: Option<StockType>,
    pub price_per_vine: Option<Quantity>,
    pub bundle: Option<u64>,
    pub available_from: Option<Date>,
    pub order_by: Option<Date>,
    /// Rate in 0..1.
    pub first_year_stand: Option<Quantity>,
    pub stand_from: StandFrom,
    pub mature_crop_kg: Option<Quantity>,
    pub price_per_kg: Option<Quantity>,
}
