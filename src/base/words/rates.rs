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
pub const FIT_LATER: &str = "the model of all factors together is not built yet";
pub const VIGOUR_LATER: &str = "vigour by factor is not built yet";
pub const SURVIVAL_LATER: &str = "survival from walk to walk is not built yet";
pub const CONTRAST_MANY: &str = "{factor} has {levels} levels; pairs are compared up to {most}";
pub const CONTRAST_MANY_HELP: &str = "the rate of each level, which stands in `factors`";
pub const CONTRAST_WIDE: &str = "{beside} levels of other factors would have to be taken out beside {factor}: more than the {most} one analysis holds";
pub const CONTRAST_WIDE_HELP: &str = "the pooled rates, or fewer declared factors";
pub const CONTRAST_NO_UNITS: &str = "no {factor} came in more than one {unit}, so that what {a} and {b} differ by may be \
     what any {unit} differs from another by";
pub const CONTRAST_NO_UNITS_HELP: &str = "next time, or from other blocks, more than one {unit} of each {factor}";
pub const CONTRAST_ALIASED: &str = "{factor} {a} and {factor} {b} can't be told apart from what was planted with them \
     ({others}): no chain of shared levels leads from one to the other";
pub const CONTRAST_ALIASED_HELP: &str = "{a} and {b} planted with the same level of each of these: {others}";
pub const CONTRAST_NO_END: &str = "the interval has no end: the spread from {unit} to {unit} is known from {df} degrees of \
     freedom only";
pub const CONTRAST_NO_END_HELP: &str = "more than one {unit} of each {factor}";
