//! Sentences of the room `rates`.

pub const NOT_SEEN: &str = "none of these vines was looked at in this walk";
pub const NOT_SEEN_HELP: &str = "look at them, and write a line for each or one `rest` line a row";
pub const UNLABELLED: &str = "these vines have no label for {factor}, so they may belong to any";
pub const UNLABELLED_HELP: &str = "the missing labels in vines.csv, from delivery notes or the planting plan";
pub const NOT_ONE: &str = "\"{level}\" names more than one {factor}, so these vines may belong to either";
pub const NOT_ONE_HELP: &str = "which of them was planted here, from delivery notes or the planting plan";
pub const NO_OTHER: &str = "fewer than two levels of {factor} are known and seen, so there is nothing to compare";
pub const NO_OTHER_HELP: &str = "a second {factor} in the block, or the block read together with others as an estate";
pub const KIND_NOT_TOLD: &str = "of {failed} failed vines {untold} are not told as never grown or grown and then died";
pub const KIND_NOT_TOLD_HELP: &str = "a walk at bud break that writes `no_budburst`, and `died` for those seen growing";
pub const CONTRASTS_LATER: &str = "comparisons of levels adjusted for the other factors are not built yet";
pub const VIGOUR_LATER: &str = "vigour by factor is not built yet";
pub const SURVIVAL_LATER: &str = "survival from walk to walk is not built yet";
pub const NO_TERM: &str = "no factor has two levels or more among the vines seen, so there is nothing to fit";
pub const NO_TERM_HELP: &str = "a second batch, row or clone, or the block read together with others as an estate";
pub const NO_MAXIMUM: &str = "the search for the most likely values didn't settle";
pub const NO_MAXIMUM_HELP: &str = "the pooled rates, which don't depend on it";
pub const NO_FINITE: &str = "the data hold no finite estimate of it: one side has no failure, or no survivor";
pub const NO_FINITE_HELP: &str = "the pooled rates, which stay finite, or more vines";
pub const SPLITS_ALIKE: &str = "it splits the vines exactly as {other} does, so both share one standard deviation";
pub const ONE_LEVEL: &str = "fewer than two of its levels were seen";
pub const TOO_MANY_LEVELS: &str = "it has too many levels to be fitted beside the others";
