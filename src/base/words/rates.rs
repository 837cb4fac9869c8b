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

// Stocks compared.
pub const STOCKS_BEST: &str =
    "Of {n} {factor}s compared, {best} has the highest stand with a chance of {chance}: {levels} ({level} intervals).";
pub const STOCKS_LEVEL: &str = "{level} {stand} ({low} to {high})";
pub const STOCKS_MORE: &str = "and {n} lower ones";
pub const STOCKS_ADJUSTED: &str = "These stands allow for {factors}.";
pub const STOCKS_NOT_ADJUSTED: &str = "Nothing else that could be allowed for is known of these vines, so that a difference between {factor}s may be one of batch or place.";
pub const STOCKS_SAME: &str =
    "The {factor}s divide these vines just as {others} does: what is said of one may be due to the other.";
pub const STOCKS_PAIR: &str =
    "{a} stands {points} points above {b} ({low} to {high} points); it is the better one with a chance of {chance}.";
pub const STOCKS_COULD: &str = "Had one of them a stand of {stand}, this block ({a}: {vines_a} vines in {batches_a}; {b}: {vines_b} vines in {batches_b}) would have told a difference of {points} points from chance with a chance of {power}; a smaller one would more often have gone unseen.";
pub const STOCKS_COULD_NOT: &str = "This block ({a}: {vines_a} vines in {batches_a}; {b}: {vines_b} vines in {batches_b}) could not have told any difference in stand, however large, with a chance of {power}: batches differ too much for so few of them.";
pub const STOCKS_BATCHES_UNKNOWN: &str = "which batch the vines came in isn't known, so a difference between {factor}s can't be told from one between batches";
pub const STOCKS_BATCHES_UNKNOWN_HELP: &str = "the batch of each vine in vines.csv, from delivery notes";
pub const STOCKS_ONE_BATCH: &str = "no two {factor}s have three labelled batches between them, so a difference between them can't be told from one between batches";
pub const STOCKS_ONE_BATCH_HELP: &str = "a second batch of each {factor}, here or in another block of the estate";
pub const STOCKS_ANY_DIFFERENCE: &str =
    "no difference would have been told, however large: batches differ too much for so few of them";
pub const STOCKS_ANY_DIFFERENCE_HELP: &str =
    "more batches of each {factor}; more vines of the same batches help little";
pub const BATCHES: &str = "{n} batches";
pub const BATCH: &str = "1 batch";

// What a comparison could show.
pub const POWER_NOT_ASKED: &str = "how many vines and batches tell two stands apart wasn't asked";
pub const POWER_NOT_ASKED_HELP: &str =
    "ask with the difference to be told, such as `fullstand rates FOLDER --power 0.05`";
pub const POWER_TOO_LARGE: &str =
    "a difference of {difference} doesn't fit below the higher stand {stand} (assumption power.higher_stand)";
pub const POWER_TOO_LARGE_HELP: &str = "a smaller difference, such as `--power 0.05`";
pub const POWER_UNUSABLE: &str =
    "the assumptions power.higher_stand, power.wanted and power.alpha have to lie between 0 and 1";
pub const POWER_UNUSABLE_HELP: &str = "change them under [assumptions] in block.toml, or leave them out";
pub const POWER_NO_BATCHES: &str = "which batch the vines came in isn't known";
pub const POWER_NOT_ENOUGH: &str =
    "so few batches of each are not enough, however many vines each holds: batches differ too much";
pub const POWER_NONE: &str = "up to {batches} batches of each are too few, however many vines each holds";
pub const POWER_NOT_ENOUGH_HELP: &str = "more batches of each, or a larger difference to be told";
pub const POWER_NO_NUMBER: &str = "not even 1 000 batches of this block's size would be enough";
pub const POWER_FEWEST: &str = "To tell a stand of {from} from one of {to} with a chance of {power}, it takes at least {batches} of each stock with {vines} vines in each: {total} vines of each stock.";
pub const POWER_LEAST: &str = "The fewest vines that do it are {total} of each stock, in {batches} of {vines}.";
pub const POWER_NEVER: &str = "To tell a stand of {from} from one of {to} with a chance of {power}, {batches} of each stock are too few, however many vines each holds.";
pub const POWER_THIS_SIZE: &str = "In batches of {vines} vines, as here, it takes {batches} of each.";
pub const POWER_THIS_BLOCK: &str = "This block would have told that difference with a chance of {power}.";
pub const POWER_INDEPENDENT: &str = "Did every vine fail or live by itself, {vines} vines of each would do: what makes the difference hard to tell is that the vines of a batch and of a row share their luck.";
pub const POWER_SPREAD_BLOCK: &str = "Reckoned with how much batches and rows differ in this block (standard deviations {batch} and {row} on the logit scale).";
pub const POWER_SPREAD_ASSUMED: &str =
    "How much batches differ isn't known from this block: reckoned with the assumption stand.new_batch_spread.";
pub const POWER_SPREAD_SOURCE_BLOCK: &str = "this block";
pub const POWER_SPREAD_SOURCE_ASSUMED: &str = "assumption stand.new_batch_spread";
pub const POWER_DESIGNS: &str = "The fewest vines in each batch that are enough, by number of batches";
pub const POWER_C_BATCHES: &str = "Batches of each";
pub const POWER_C_VINES: &str = "Vines in each batch";
pub const POWER_C_TOTAL: &str = "Vines of each stock";
pub const POWER_C_CHANCE: &str = "Chance";
pub const POWER_C_NONE: &str = "not enough";
pub const STOCKS_TITLE: &str = "Stocks and clones compared";

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
pub const CONTRAST_NO_POSTERIOR: &str = "{factor} isn't part of the model of all factors";
pub const CONTRAST_NO_POSTERIOR_HELP: &str = "the penalised comparison, which stands beside it";
pub const VINES_NOT_ASKED: &str = "the test that counts vines by themselves was left out";
pub const VINES_NOT_ASKED_HELP: &str = "a number of simulated tables above 0";
pub const BOOTSTRAP_NOT_ASKED: &str = "whether a standard deviation is 0 wasn't tested by simulation";
pub const BOOTSTRAP_NOT_ASKED_HELP: &str =
    "ask with `fullstand rates FOLDER --bootstrap 999`; the score test stands beside each factor";
pub const UNITS_TOO_FEW: &str =
    "the {levels} lie in {n} {unit}s only, and by dealing these anew no p-value below {p} can be reached";
pub const UNITS_TOO_FEW_HELP: &str =
    "more {unit}s of each of the {levels}; the vine-level test stands beside it, as if neighbours were strangers";
