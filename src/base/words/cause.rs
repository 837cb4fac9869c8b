//! Sentences of the room `cause`.

pub const JOINS_ANY_DIRECTION_TITLE: &str = "Failed neighbours, any direction";
pub const JOINS_ALONG_ROWS_TITLE: &str = "Failed neighbours along the rows";
pub const JOINS_ACROSS_ROWS_TITLE: &str = "Failed neighbours across the rows";
pub const MORANS_I_TITLE: &str = "Likeness of neighbours (Moran's I)";
pub const BY_LEVEL_TITLE: &str = "Differences between {levels}";

pub const JOINS_ANY_DIRECTION: &str =
    "Do failed vines stand next to each other, along or across the rows, more often than if failures were {held}?";
pub const JOINS_ALONG_ROWS: &str =
    "Do failed vines stand next to each other along the rows more often than if failures were {held}?";
pub const JOINS_ACROSS_ROWS: &str =
    "Do failed vines stand next to each other across the rows more often than if failures were {held}?";
pub const MORANS_I: &str = "Are neighbouring vines more alike, failed or alive, than if failures were {held}?";

pub const HELD_NOTHING: &str = "dealt out anew over the whole block";
pub const HELD_ROW: &str = "dealt out anew within each row, every row keeping its number";
pub const HELD_BATCH: &str = "dealt out anew within each batch, every batch keeping its number";
pub const HELD_ROW_AND_BATCH: &str =
    "dealt out anew within each batch of each row, every row and every batch keeping its number";

pub const BY_BATCH: &str =
    "Do failures differ between batches more than if the planted runs had been given their batches anew {held}?";
pub const BY_CLONE_OR_STOCK: &str = "Do failures differ between {levels} more than if the planted runs had been given \
     their {levels} anew {held}? Where {levels} came in batches of their own, the difference may be the batch's.";

pub const ONE_ARRANGEMENT: &str = "with this held fixed, failures can be arranged in one way only";
pub const ONE_ARRANGEMENT_HELP: &str = "rows or batches in which some vines stand and some failed";

pub const NOTHING_SEEN: &str = "no vine was seen, so that there is nothing to explain";
pub const NOTHING_FAILED: &str =
    "no vine failed (but those missing without a trace), so that there is nothing to explain";
pub const NOTHING_TO_WEIGH: &str =
    "these data have one batch, one row and no places, so that no explanation can be weighed against chance";
pub const NOT_FITTED: &str = "the model's numbers overflowed";
pub const NOTHING_WEIGHED_HELP: &str = "a walk with places, rows and batches recorded";
pub const NO_ASSOCIATED: &str = "no factor but the row has two levels of which vines were seen";
pub const NO_ASSOCIATED_HELP: &str = "vines of two batches, clones or rootstocks in the register";
pub const NO_PLACE_EFFECT: &str = "vines have no places";
pub const NO_PLACE_EFFECT_HELP: &str = "a register with row and position of every vine";
pub const NOT_READ_OFF: &str = "the explanation is too unlikely to be read off";
pub const NOT_READ_OFF_HELP: &str = "nothing, unless other prior odds make it likelier";
pub const RESOLUTION: &str = "the ground is looked at in {tiles} tiles of about {side} m";
pub const RESOLUTION_IN_PLACES: &str =
    "the ground is looked at in {tiles} tiles of about {side} places; without spacings a row counts as two places";
pub const NO_PATCHES: &str = "patches of failures are not searched for yet";
