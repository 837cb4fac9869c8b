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
pub const FIT_LATER: &str = "the model of all factors together is not built yet";
pub const VIGOUR_LATER: &str = "vigour by factor is not built yet";
pub const SURVIVAL_LATER: &str = "survival from walk to walk is not built yet";

pub const LEVELS_OF: &str = "levels of {factor}";
pub const PLANTING_DATES: &str = "planting dates";
pub const ONE_LEVEL_IN_RUNS: &str =
    "fewer than two {levels} lie in planted runs whose vines were looked at, so there are no labels to deal anew";
pub const ONE_LEVEL_IN_RUNS_HELP: &str = "the missing labels and looks of the first planting";
pub const FINER_TOO_FEW: &str = "each {factor} is made of whole {levels}, and by dealing {n} {levels} anew no p-value \
     below {p} can be reached: a difference may be theirs";
pub const FINER_TOO_FEW_HELP: &str = "more batches of each, here or in other blocks read together as an estate";
pub const ROWS_ONE_ARRANGEMENT: &str =
    "within batches, the vines that failed and those that stand can be dealt to rows in one way only";
pub const ROWS_ONE_ARRANGEMENT_HELP: &str = "batches that lie in two or more rows and failed in part";
pub const VARIANCE_HELD: &str = "the other factors already fix the rate of every {factor}, so nothing is left to vary";
pub const VARIANCE_HELD_HELP: &str = "next time, each {factor} beside several levels of the other factors";
pub const ROWS_BY_ROW: &str = "rows can't be compared within rows";
pub const ROWS_BY_ROW_HELP: &str = "nothing: the row's own rate stands beside it";
pub const NO_ROW_HOLDS_BOTH: &str = "no row holds vines of this and of another {factor}, some failed and some not";
pub const NO_ROW_HOLDS_BOTH_HELP: &str = "next time, rows shared by both";
pub const BY_ROW_UNBOUNDED: &str =
    "in the rows that hold both, every other vine stands, so the odds have no upper bound";
pub const BY_ROW_UNBOUNDED_HELP: &str = "more vines looked at; the lower bound stands";
pub const BY_ROW_LARGE: &str = "so many vines would take too long to count exactly";
pub const BY_ROW_LARGE_HELP: &str = "nothing: with so many vines the chi-square is good";
pub const NO_TREND: &str = "fewer than two scores are known of vines of which some failed and some stand";
pub const NO_TREND_HELP: &str = "planting dates or grades of more vines";
pub const VINES_NOT_ASKED: &str = "the test that counts vines by themselves was left out";
pub const VINES_NOT_ASKED_HELP: &str = "a number of simulated tables above 0";
