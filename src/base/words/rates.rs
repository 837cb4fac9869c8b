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

// What can be told apart.
pub const UNLABELLED_VINES: &str = "vines without a {factor}";
pub const FROM_TO: &str = "{from} to {to}";
pub const LESS: &str = "{sum} less {taken}";
pub const ONLY_IN_ROWS: &str = "{factor} {level} stands only in {with}, and nothing else stands there";
pub const SAME_VINES: &str = "{factor} {level} and {with} are the same vines";
pub const A_SUM: &str = "{factor} {level} can't be told from {with} taken together";
pub const LOOK_AT_UNSEEN: &str =
    "a look at {n} vines not seen in this walk, of {factor} {level} elsewhere or of another {factor} there; also ";
pub const ANOTHER_IN_ROWS: &str = "another {factor} in {with}, or {factor} {level} in {beside} as well";
pub const ANOTHER_IN_ROWS_FAILED: &str = "another {factor} in {with}, where {failed} failed vines leave room for it, or {factor} {level} in {beside} as well";
pub const ANOTHER_WITH: &str = "another {factor} with {with}, or {factor} {level} with another {other}";
pub const ANOTHER_WITH_FAILED: &str = "another {factor} with {with}, as when the {failed} failed vines are replaced, or {factor} {level} with another {other}";
pub const ANOTHER_BATCH: &str = "another {factor} of {with}";
pub const ANOTHER_BATCH_FAILED: &str = "another {factor} of {with}, as when the {failed} failed vines are replaced";
pub const FROM_ANOTHER: &str = "{factor} {level} from another {other}";
pub const ANOTHER_SUM: &str = "{factor} {level} with another {others}, or another {factor} with the same";
pub const NESTED: &str = "every {inner} holds one {outer} only, so a difference between {outers} rests on {n} {inners} and may come from these";
pub const NESTED_HELP: &str = "more {inners} of each {outer}, or {inners} that hold two {outers}";
pub const SAME_SPLIT: &str = "{factor} and {other} divide the vines alike, so nothing tells one from the other";
pub const SAME_SPLIT_HELP: &str = "one {factor} with two {others}, or one {other} with two {factors}";
pub const GROUPS: &str = "{factors} and {others} fall into {n} groups without a vine in common, and {factors} of different groups can't be compared: {groups}";
pub const GROUPS_HELP: &str = "{factors} of one group among the {others} of another";
pub const NO_STRATUM: &str = "no other factor lies wholly within {factor}, so its levels are compared by their vines";
pub const NO_STRATUM_HELP: &str = "nothing: it is no lack";
