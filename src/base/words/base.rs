//! Sentences that belong to no room.

pub const NO_WALK: &str = "no walk through the rows is recorded";
pub const NO_WALK_HELP: &str = "walk the rows and write surveys.csv";
pub const NOT_FINITE: &str = "the calculation has no finite answer for these data";
pub const NOT_FINITE_HELP: &str = "more vines seen, or a walk that looks at every vine";
pub const LATER: &str = "this part of the program is not built yet";
pub const LATER_HELP: &str = "a later version of the program";
pub const NOT_RECORDED: &str = "not recorded";
pub const WRITE_BATCHES: &str = "write it in batches.csv";
