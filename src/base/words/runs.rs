//! Sentences of the room `runs`.

pub const HELD_NOTHING: &str = "over the whole block";
pub const HELD_ROW: &str = "within the row they begin in";
pub const HELD_ROW_GROUP: &str = "within the group of adjacent rows they begin in";
pub const ONE_ARRANGEMENT: &str =
    "in no row do planted runs of two or more {levels} begin, so that {levels} can't be exchanged within rows";
pub const ONE_ARRANGEMENT_HELP: &str = "next time, runs of two or more {levels} within each row";
pub const IN_BANDS: &str = "{levels} lie in bands across the rows, more than chance would put them there by dealing them anew {held}: \
     a hollow in such a band would be taken for the doing of the one that lies there";
pub const IN_BANDS_HELP: &str = "next time, bundles planted in no fixed order";
pub const ONE_VALUE: &str = "every arrangement gives the same value, so that none speaks for or against it";
pub const ONE_VALUE_HELP: &str = "more failures seen, or more planted runs of each level";
