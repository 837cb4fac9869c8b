//! Sentences of the room `order`.

pub const NEVER_SURE: &str =
    "even {most} vines would fill all {needed} places with a chance of {reached} only, and {sure} is asked for";
pub const NEVER_SURE_HELP: &str =
    "a lower `order.sure`, a material whose stand is better known, or an order in two steps";
pub const NO_RECOMMENDATION: &str = "no option is recommended, so there is nothing to order for";
pub const NO_RECOMMENDATION_HELP: &str = "name the option: --option NAME";
pub const NO_ORDER_BY: &str = "block.toml gives no `order_by` for this material";
pub const NO_ORDER_BY_HELP: &str = "the nursery's last day for orders, as `order_by` of the material";
pub const NO_PRICE: &str = "block.toml gives no price for this material";
pub const NO_PRICE_HELP: &str = "`price_per_vine` of the material";
