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
pub const JOINS_WITH_DIAGONALS_TITLE: &str = "Failed neighbours, diagonals too";
pub const JOINS_WITH_DIAGONALS: &str =
    "Do failed vines stand next to each other, diagonals counted too, more often than if failures were {held}?";
pub const DOUBLETS_TITLE: &str = "Failed vines one after the other in a row";
pub const DOUBLETS: &str = "Does a failed vine follow a failed vine in its row, whatever places lie empty between them, \
     more often than if failures were {held}?";
pub const RUNS_TITLE: &str = "Stretches of failed and of living vines";
pub const RUNS: &str = "Do failed and living vines take turns along the rows in fewer, longer stretches than if failures were {held}? \
     Few stretches speak for clustering.";
pub const QUADRATS_TITLE: &str = "Differences between small pieces of ground";
pub const QUADRATS: &str = "Do failures differ between pieces of ground of about {vines} vines, as square as whole rows allow, \
     more than if failures were {held}? 1 is chance.";

pub const PATCH_TITLE: &str = "Strongest patch";
pub const PATCH: &str = "Has some patch of ground more failures than the strongest patch would have if failures were {held}? \
     Looked at, up to half the vines each: {windows}.";
pub const EVERY_RECTANGLE: &str = "every rectangle of rows and places";
pub const LADDER_OF_RECTANGLES: &str = "{n} rectangles of rows and places, each size about 1.4 times the one before";
pub const EVERY_CIRCLE: &str = ", every circle around a vine";
pub const LADDER_OF_CIRCLES: &str = ", {n} circles, each radius 1.3 times the one before";
pub const WINDOWS_OF_CELLS: &str = ", all made of cells of {rows} rows and {places} places";
pub const NO_PLACES: &str = "patches need to know where each vine stands";
pub const NO_PLACES_HELP: &str = "a register of vines by row and position, and a walk that looks at each";

pub const BY_DECLARED: &str =
    "Do failures differ between {levels} more than if the {units} had been given theirs anew {held}?";
pub const PLANTED_RUNS: &str = "planted runs";
pub const STRETCHES: &str = "stretches";
pub const BY_LEVEL_OVER_TITLE: &str = "Differences between {levels}, by whole {finer}";
pub const BY_LEVEL_OVER: &str = "Do failures differ between {levels} more than if whole {finer} had been given theirs anew? \
     A single one of the {finer} that failed is then no difference between {levels}.";
/// Title and question, as of all below.
pub const ROWS_BESIDE: (&str, &str) = (
    "Rows that differ from the rows beside them",
    "Do rows differ from the two rows beside them more than if failures were dealt out anew among vines of one batch that \
     stand close to each other? Ground that changes slowly from row to row doesn't count.",
);
pub const BY_ROW: (&str, &str) = (
    "Differences between rows",
    "Do failures differ between rows more than if they were dealt out anew among all the vines of each batch? \
     Any place that is worse than others makes rows differ.",
);
pub const AT_EDGE: (&str, &str) = (
    "Failures at the edge of the block",
    "Do vines at the edge (outermost rows, first and last vine of each row) fail more or less often than if failures were \
     dealt out anew among vines of one batch that stand close to each other?",
);
pub const ORDER_STEP: (&str, &str) = (
    "A step along the planting order",
    "Is there a point in the planters' walk after which failures are more, or fewer, than if what was planted together had been \
     planted {held}? A place that lies at one end of the walk gives the same picture.",
);
pub const ORDER_TREND: (&str, &str) = (
    "A trend along the planting order",
    "Do failures rise or fall along the planters' walk more than if what was planted together had been planted {held}? \
     A place that lies at one end of the walk gives the same picture.",
);
pub const ORDER_HELD_NOTHING: &str = "in any order";
pub const ORDER_HELD_BATCH: &str = "in any order within each batch";
pub const SUPPLEMENT: &str = "another test answers this question; this one stands beside it";
pub const SUPPLEMENT_HELP: &str = "the test marked as the answer to the question";
