//! Sentences of the room `report`.

pub const MONTHS: [&str; 12] = [
    "January",
    "February",
    "March",
    "April",
    "May",
    "June",
    "July",
    "August",
    "September",
    "October",
    "November",
    "December",
];

// Titles of the sections.
pub const WHAT_TO_DO: &str = "What to do";
pub const THE_BLOCK: &str = "The block, vine by vine";
pub const RATES: &str = "How many stand, and where";
pub const PATTERN: &str = "Is there a pattern?";
pub const WORK: &str = "Work list by row";
pub const YEARS: &str = "The options over the years";
pub const ORDER: &str = "How many vines to order";
pub const FINDINGS: &str = "What was read and what was set aside";
pub const ASSUMPTIONS: &str = "Assumptions behind the figures";
pub const SOURCES: &str = "Sources";
pub const LIMITS: &str = "What these data can't say";
pub const CAUTIONS: &str = "Before you start: cautions";

// The page.
pub const PAGE_TITLE: &str = "{block}: report on the young block";
pub const ESTATE_TITLE: &str = "Report on {n} blocks";
pub const ESTATE_OVERVIEW: &str = "The blocks at a glance";
pub const CONTENTS: &str = "Contents";
pub const WALKED: &str = "Walked {days}";
pub const COUNTED: &str = "Counted per row, day not recorded";
pub const STANDFIRST: &str = "{planted} vines planted · {seen} seen · {failed} failed · stand {stand}";
pub const FOOT: &str = "Made by fullstand {version}, seed {seed}. Intervals are made to hold the true value {level} of the time. Numbers are estimates.";
pub const TABLE_BEHIND: &str = "The numbers";
pub const TEXT_FOLDED: &str = "({title}: {n} lines, left out here; `fullstand report` has them.)";
pub const NOT_KNOWN: &str = "not known";
pub const RECOMMENDED_MARK: &str = "recommended";

// What to do.
pub const RECOMMENDED: &str = "{option}.";
pub const RECOMMENDED_NARROWLY: &str = "{option}, by a narrow margin over “{second}”.";
pub const RECOMMENDED_LESS_OFTEN: &str =
    "{option}, by a narrow margin: “{second}” is best in more of the futures drawn.";
pub const RECOMMENDED_UNDRAWN: &str = "{option}, by expected values alone.";
pub const NOTHING_TO_FILL: &str = "No gaps to fill.";
pub const NOT_RECOMMENDED: &str = "No option can be recommended: {reason}.";
pub const REFUSED: &str = "The options can't be weighed: {problem}.";
pub const ORDER_BY: &str =
    "Order {order} vines of “{material}” by {day}, to be at least {sure} sure of filling all {needed} places.";
pub const ORDER_ANYTIME: &str =
    "Order {order} vines of “{material}”, to be at least {sure} sure of filling all {needed} places.";
pub const ORDER_NOT_SURE: &str = "How many vines of “{material}” to order can't be said: {reason}.";
pub const ORDER_NONE: &str = "No vines need to be ordered.";
pub const WORK_THIS_WINTER: &str = "Work this winter: {work}; about {hours} in all.";
pub const WORK_AND_HELD: &str = "Work this winter: {work}; about {hours} in all, what is held not counted.";
pub const NO_WORK: &str = "No vine needs work this winter.";
pub const STAND_NOW: &str =
    "{failed} of {seen} vines seen have failed, so that {stand} stand ({level} interval {low} to {high}).";
pub const STAND_UNKNOWN: &str = "{failed} of {seen} vines seen have failed.";
pub const COST_FIRST: &str = "This winter costs {cost}. At the deepest point {low} more has gone out than come in.";
pub const COST_FIRST_ONLY: &str = "This winter costs {cost}.";
pub const WORTH: &str =
    "Over {years} years it is worth {mean} at present value, 8 times in 10 between {low} and {high}.";
pub const WORTH_EXPECTED: &str = "Over {years} years it is worth {mean} at present value, by expected values.";
pub const WORTH_UNKNOWN: &str = "Its present value isn't known: {reason}.";
pub const VINES_COST: &str =
    "The {order} vines to order cost {price}; the costs before count one vine for each of the {needed} places.";
pub const SURE_BEST: &str = "In {chance} of {n} futures drawn this is the best option.";
pub const SURE_BEST_SECOND: &str =
    "In {chance} of {n} futures drawn this is the best option, in {other} it is “{second}”.";
pub const SURE_BEST_UNKNOWN: &str = "How often this is the best option isn't known: {reason}.";
pub const SURE_FULL: &str =
    "The block carries a full crop from the harvest of {year}, 8 times in 10 between {low} and {high}.";
pub const SURE_FULL_ONE: &str = "The block carries a full crop from the harvest of {year}.";
pub const SURE_ORDER: &str = "{order} vines of “{material}” fill all {needed} places with a chance of {chance}.";
pub const CAUSE_TOLD: &str = "The failures are associated most with: {verdict}.";
pub const CAUSE_CANT_TELL: &str = "These data can't tell between {names}.";
pub const CAUSE_ABSENT: &str = "Why the vines failed isn't settled here: {reason}.";
pub const CAUSE_CLEARS_NOBODY: &str = "Nothing here clears or accuses anybody.";
pub const NEXT_LOOK: &str = "Look again at what this walk couldn't settle ({n}), then run this again.";
pub const NEXT_ORDER: &str = "Place the order for “{material}” by {day}.";
pub const NEXT_ORDER_ANYTIME: &str = "Place the order for “{material}”.";
pub const NEXT_WORK: &str = "Carry the work list through the rows.";
pub const NEXT_NOTHING: &str = "Walk the rows again next season.";
pub const OPTIONS_TABLE: &str = "The options side by side";
pub const OPTIONS_TABLE_IN: &str = "The options side by side, money in {currency}";
pub const FACT_STAND: &str = "Stand";
pub const FACT_ORDER: &str = "Vines to order";
pub const FACT_WORK: &str = "Work this winter";
pub const FACT_COST: &str = "Cost this winter";
pub const FACT_SURE: &str = "Best option in";
pub const FACT_STAND_NOTE: &str = "{level} interval {low} to {high}";
pub const FACT_ORDER_NOTE: &str = "to fill {needed} places, {chance} sure";
pub const FACT_WORK_NOTE: &str = "{n} vines to work on";
pub const FACT_WORK_HELD_NOTE: &str = "{n} vines to work on; {held} more are held";
pub const FACT_COST_NOTE: &str = "paid before the coming season";
pub const FACT_SURE_NOTE: &str = "of the futures drawn";
pub const FACT_SURE_SECOND_NOTE: &str = "of the futures drawn; the runner-up in {other}";
pub const BREAKS: &str = "“{option}” {limit}.";
pub const IMPOSSIBLE: &str = "“{option}”: {limit}.";
pub const BREAKS_INTRO: &str = "These break a limit that you set.";
pub const IMPOSSIBLE_INTRO: &str = "These can't be had on this block.";

// What the advice answers.
pub const ASKED_WHAT: &str = "What to do";
pub const ASKED_WHY: &str = "Why";
pub const ASKED_COST: &str = "Cost";
pub const ASKED_SURE: &str = "How sure";
pub const ASKED_FOLLOWS: &str = "Pattern";
pub const ASKED_UNKNOWN: &str = "Can't tell";
pub const ASKED_NEXT: &str = "Next";

// The map.
pub const MAP_STATES: &str = "What was seen";
pub const MAP_STATES_SAYS: &str = "Every place of the block with the state of its vine at the walk: {counts}.";
pub const MAP_WORK: &str = "What to do there";
pub const MAP_WORK_SAYS: &str = "Every place of the block with the work it needs this winter: {counts}.";
pub const MAP_CAPTION: &str =
    "Each sign is a place; rows side by side, position 1 at the top. Signs differ in shape as well as in colour.";
pub const MAP_SET_BACK: &str = "A row that starts further in is drawn so: count its positions from its own first vine.";
pub const MAP_ABSENT: &str = "There is no map: the vines were counted per row, not recorded one by one.";
pub const MAP_ROW: &str = "row";
pub const MAP_TABLE: &str = "Failures by row";
pub const FIRST_PLANTING_NOTE: &str = "The map shows what stands on each place now. The rates below count every vine ever planted, so that a failed vine still counts in its own batch after it was replaced.";

pub const STATE_ALIVE: &str = "alive";
pub const STATE_NO_BUDBURST: &str = "never grew";
pub const STATE_DIED: &str = "grew, then died";
pub const STATE_DEAD: &str = "dead, kind not told";
pub const STATE_SCION_DEAD: &str = "only the rootstock lives";
pub const STATE_MISSING: &str = "no vine there";
pub const STATE_UNSURE: &str = "looked at, not told";
pub const STATE_NOT_SEEN: &str = "not looked at";
pub const STATE_EMPTY: &str = "place without a vine";

pub const TAKE_UP: &str = "take up";
pub const CUT_BACK: &str = "cut back";
pub const REPLACE: &str = "replace";
pub const MOVE: &str = "move";
pub const HOLD: &str = "hold";
pub const LOOK_AGAIN: &str = "look again";
pub const LEAVE: &str = "leave";
pub const TAKE_UP_MEANS: &str = "train the strongest cane up to the wire";
pub const CUT_BACK_MEANS: &str = "cut the strongest cane back to a few buds";
pub const REPLACE_MEANS: &str =
    "failed: take out what is left and plant a new vine, where and when the option you choose says";
pub const MOVE_MEANS: &str = "lift it and plant it elsewhere";
pub const HOLD_MEANS: &str = "failed, but evidence: leave it standing until the nursery has seen it or it is sampled";
pub const LOOK_AGAIN_MEANS: &str = "couldn't be told; look once more before deciding";
pub const LEAVE_MEANS: &str = "needs nothing this winter";

// Rates.
pub const RATES_INTRO: &str = "The stand is the share of the vines seen that are alive. A dot is what was counted, its line the {level} interval: the shorter the line, the more is known. Where two lines overlap widely, the difference may be chance.";
pub const RATES_FIGURE: &str = "Stand by {factor}";
pub const RATES_SAYS: &str = "Stand with {level} intervals for {n} levels of {factor}: {rows}.";
pub const RATES_ROW: &str = "{level}: {stand}";
pub const RATES_DIFFER: &str = "Do they differ? Asked of planted runs; of rows, vine by vine";
pub const RATES_LOWEST: &str = "{figure}: the {n} lowest of {all}";
pub const RATES_LOWEST_NOTE: &str = "Of many, some come out low by chance alone: the adjusted value allows for that. All of them stand under the numbers.";
pub const RATES_WHOLE: &str = "whole block {stand}";
pub const RATES_RAW: &str = "as counted";
pub const RATES_POOLED: &str = "adjusted for what was planted beside it";
pub const RATES_POOLED_NOTE: &str = "Adjusted: the stand had every vine been of this level, all else as it was planted. A small level borrows strength from the others, so that its value lies nearer to the whole. A line without a mark: bounds, where a level can't be told from what was planted with it.";
pub const RATES_TAKE: &str = "Take: grew at all, of those seen";
pub const RATES_CONTRASTS: &str = "Pairs compared";
pub const ODDS_TINY: &str = "under {least}";
pub const ODDS_HUGE: &str = "over {most}";
pub const STAND_AXIS: &str = "stand, % of vines seen";
pub const ANSWER_SAME: &str = "no sign of a difference beyond chance";
pub const ANSWER_HINT: &str = "a hint of more than chance, no more";
pub const ANSWER_LIKELY: &str = "probably more than chance";
pub const ANSWER_CLEAR: &str = "clearly more than chance would make it";
pub const RATES_NOT_CAUSE: &str = "A difference is an association. Rows, batches, crews and places often go together, and a rate alone can't tell which of them it comes from. Vines planted together share their ground, so that counting each by itself would make differences between batches look surer than they are: batches, clones and rootstocks are compared by whole planted runs, or by whole batches, instead.";

// Pattern.
pub const PATTERN_TABLE: &str = "Tests of pattern";
pub const PATTERN_INTRO: &str = "Each question has one test that answers it, chosen by the design before looking at the failures. Failures (or what was planted together, or its labels) are dealt out anew, many times, to see how often chance alone makes as much of a pattern: a small p-value means seldom. The adjusted one allows for the number of questions asked, and the answer goes by it.";
pub const PATTERN_NONE: &str =
    "No test of pattern has an answer here: every way to deal the failures out gives the same.";
pub const PATTERN_CONFOUNDED: &str = "Where clones or rootstocks came in batches of their own, a difference between them may be the batch's, and the other way round.";
pub const PATTERN_ASKS: &str = "{title}: {question}";
pub const PATTERN_ALL: &str = "Every test, what it asks and how it was done";
pub const PATTERN_ANSWER: &str = "{sign} (found {statistic}, by chance {expected})";
pub const SIGN_NONE: &str = "no sign of it";
pub const SIGN_HINT: &str = "a hint, no more";
pub const SIGN_LIKELY: &str = "probably";
pub const SIGN_CLEAR: &str = "yes, clearly";
pub const REARRANGED: &str = "{n} re-arrangements; unit: {unit}";
/// Within what something was dealt out anew, by what was held fixed.
pub const DEALT_WITHIN: &[(&str, &str)] = &[
    ("nothing", "over the whole block"),
    ("row", "within each row"),
    ("batch", "within each batch"),
    ("row and batch", "within each batch of each row"),
    ("row group", "within groups of adjacent rows"),
    ("place", "among vines that stand close to each other"),
    ("place and batch", "among vines of a batch that stand close to each other"),
];
pub const SEPARABLE_TABLE: &str = "What can be told apart";
pub const SEPARABLE_INTRO: &str = "0 % means that the two always go together in this block and no arithmetic can part them; 100 % that they can be told apart wholly.";
pub const ASSOCIATED_TABLE: &str = "What the failures are associated with";
pub const PATCH: &str =
    "A patch of {n} vines around row {row}, position {position}: {observed} failed, {expected} expected ({p}).";
pub const EXPLANATIONS_TABLE: &str = "How well each explanation fits";

// Work.
pub const WORK_INTRO: &str = "Carry this through the rows. Tie a tape with the letter to the vine, or write the letter on it. Vines that need nothing are only counted.";
pub const WORK_TAPES: &str = "The letters";
pub const WORK_TOTALS: &str = "Totals by row";
pub const WORK_ROW: &str = "Row {row}";
pub const WORK_ROW_NOTE: &str = "{leave} of {places} places need nothing";
pub const WORK_ROW_ALL: &str = "{places} places";
pub const WORK_REST: &str = "all the others";
pub const WORK_BY_ROW: &str = "Row by row";
pub const WORK_REASONS: &str = "Why, vine by vine";
pub const WORK_BUY: &str = "To have ready for it: {things}.";
pub const WORK_HELD: &str =
    "That is for the {now} to replace now; the {held} held need a vine each once the claim has been seen.";
pub const WORK_ORDER: &str = "An order of {order} “{material}” fills all {needed} with a chance of {chance}.";
pub const WORK_OPTION: &str = "This counts a vine for each of the {replace} places that failed; “{option}” fills {needed}. Where it clears, moves or leaves vines, go by it.";
pub const WORK_HOURS: &str = "Labour: about {hours}.";

// Years.
pub const YEARS_CROP: &str = "Crop as a share of a full block";
pub const YEARS_CROP_SAYS: &str =
    "Expected crop share by harvest year for {n} options. First and last year shown: {rows}.";
pub const YEARS_CROP_ROW: &str = "{tag} {first} to {last}";
pub const YEARS_VALUE: &str = "Present value of each option";
pub const YEARS_VALUE_SAYS: &str = "Median present value with the range that holds 8 times in 10: {rows}.";
pub const YEARS_VALUE_ROW: &str = "{tag} {low} to {high}";
pub const YEARS_VALUE_CAPTION: &str =
    "Dot: the middle of the futures drawn. Line: 8 times in 10 it lies here. Later money counts less.";
pub const YEARS_CROP_CAPTION: &str = "Letters are the options of the key.";
pub const YEARS_TABLE: &str = "Year by year";
pub const THIS_WINTER: &str = "this winter";
pub const YEAR_NUMBERED: &str = "year {n}";
pub const YEARS_AXIS: &str = "harvest";
pub const YEARS_SWITCH: &str = "What would change the advice";
pub const YEARS_DRIVERS: &str = "Which assumptions the result hangs on most";
pub const YEARS_INFORMATION: &str = "What it is worth to find out first";
pub const VALUE_AXIS: &str = "present value";
pub const VALUE_AXIS_IN: &str = "present value, {currency}";
pub const OPTION_TAGGED: &str = "{tag}  {name}";
pub const NOT_REACHED: &str = "not within {years} years";

// Order.
pub const ORDER_FIGURE: &str = "Chance that an order of “{material}” is enough";
pub const ORDER_SAYS: &str = "The chance that enough vines stand, by number ordered, from {first} to {last} vines.";
pub const ORDER_CAPTION: &str =
    "The diamond is the order proposed: the fewest whole bundles of {bundle} that reach the chance asked for.";
pub const ORDER_FACTS: &str = "{needed} places to fill; a new batch is expected to stand at {stand}, 8 times in 10 between {low} and {high}. To be at least {sure} sure of enough, order {order} (bundles of {bundle}).";
pub const ORDER_FACTS_NEVER: &str = "{needed} places to fill; a new batch is expected to stand at {stand}, 8 times in 10 between {low} and {high}. No order reaches {sure}: {reason}.";
pub const ORDER_FOR: &str = "The order is for the option “{option}”.";
pub const ORDER_X: &str = "vines ordered";
pub const ORDER_SURE: &str = "asked for: {sure}";

// The counts behind a claim.
pub const CLAIM: &str = "Claim for batch {batch}: what was counted";
pub const CLAIM_LATER: &str = "The comparison with the terms, the interval, the calendar and the evidence pack come in a later version. These counts alone show no cause: failures may be associated with the batch, the place or the work.";
pub const CLAIM_DELIVERED: &str = "vines delivered";
pub const CLAIM_PLANTED: &str = "planted";
pub const CLAIM_SEEN: &str = "seen in the walk";
pub const CLAIM_FAILED: &str = "failed";
pub const CLAIM_MISSING: &str = "of these gone";
pub const CLAIM_COUNTED: &str = "of these counted by the terms";
pub const CLAIM_SEPARABLE: &str =
    "{share} of the batch can be told apart from the other factors recorded (100 %: wholly; 0 %: not at all).";
pub const C_VINES: &str = "Vines";

// Findings.
pub const READ: &str = "{vines} vines on {places} places, {walks} walks.";
pub const FILES_TABLE: &str = "Lines read";
pub const FINDINGS_TABLE: &str = "What was noticed";
pub const SET_ASIDE_TABLE: &str = "Lines set aside";
pub const SET_ASIDE_NONE: &str = "No line was set aside.";
pub const SET_ASIDE_ONE: &str = "One line couldn't be used and was set aside; nothing was guessed in its place.";
pub const SET_ASIDE_SOME: &str = "{n} lines couldn't be used and were set aside; nothing was guessed in their place.";

// Assumptions.
pub const ASSUMPTIONS_INTRO: &str =
    "Every number that the block's own files didn't give. Each can be set in block.toml under [assumptions].";
pub const ASSUMPTIONS_SET: &str = "Set by you";
pub const ASSUMPTIONS_NONE_SET: &str = "None was set in block.toml: all are the program's defaults.";
pub const ASSUMPTIONS_ALL: &str = "All assumptions in force ({n})";
pub const SET_MARK: &str = "● ";

// Limits.
pub const LIMITS_INTRO: &str = "What is missing is said here, with what would help. Nothing was filled in.";
pub const LIMITS_ABOUT: &str = "{what}: {reason}.";
pub const LIMITS_HELP: &str = "Would help: {help}.";
pub const LIMITS_LATER: &str = "This version of the program doesn't work these out yet: {what}.";

/// What a field of a result is called in a sentence; a field that isn't listed goes by its own name.
pub const FIELDS: &[(&str, &str)] = &[
    ("rates.contrasts.posterior", "the posterior of the pairs compared"),
    ("rates.fit", "a model of all factors at once"),
    ("rates.take", "the take (grew at all)"),
    ("rates.rootstock", "rootstocks compared"),
    ("rates.rootstock.levels.take", "the take of rootstocks"),
    ("rates.rootstock.levels.batches", "the batches of a rootstock"),
    ("rates.rootstock.pairs", "differences between rootstocks"),
    ("rates.rootstock.could_have_shown", "the difference between rootstocks that this block could have shown"),
    ("rates.clone", "clones compared"),
    ("rates.clone.levels.take", "the take of clones"),
    ("rates.clone.levels.batches", "the batches of a clone"),
    ("rates.clone.pairs", "differences between clones"),
    ("rates.clone.could_have_shown", "the difference between clones that this block could have shown"),
    ("rates.power", "how many vines and batches tell two stands apart"),
    ("rates.vigour", "vigour"),
    ("rates.survival", "survival over several walks"),
    ("rates.stand", "the block's stand"),
    ("rates.factors.levels.raw", "the stand of some levels"),
    ("rates.factors.levels.score", "the score interval of some levels"),
    ("rates.factors.levels.pooled", "the adjusted stand of some levels"),
    ("rates.factors.levels.separable", "whether a level can be told apart"),
    ("rates.factors.levels.probability_best", "which level is best"),
    ("rates.factors.p_value", "whether levels differ"),
    ("rates.factors.p_method", "whether levels differ"),
    ("rates.factors.p_monte_carlo_error", "whether levels differ"),
    ("rates.factors.p_unit", "whether levels differ"),
    ("rates.factors.p_value_vines", "whether levels differ, counting vines"),
    ("rates.factors.p_method_vines", "whether levels differ, counting vines"),
    ("rates.factors.p_monte_carlo_error_vines", "whether levels differ, counting vines"),
    ("rates.factors.variance_test", "whether levels vary beside the other factors"),
    ("rates.factors.by_row", "levels compared within rows"),
    ("rates.factors.levels.by_row", "levels compared within rows"),
    ("rates.factors.levels.by_row.odds_ratio", "the odds of some levels within rows"),
    ("rates.factors.levels.by_row.low", "the odds of some levels within rows"),
    ("rates.factors.levels.by_row.high", "the odds of some levels within rows"),
    ("rates.factors.levels.by_row.p_value", "the odds of some levels within rows"),
    ("rates.factors.levels.by_row.p_exact", "the odds of some levels within rows"),
    ("rates.trends.slope", "a trend"),
    ("rates.trends.z", "a trend"),
    ("rates.trends.p_value", "a trend"),
    ("rates.trends.p_permuted", "a trend over planted runs"),
    ("rates.trends.p_permuted_error", "a trend over planted runs"),
    ("rates.factors.sd", "the spread between levels"),
    ("rates.factors.share_of_variance", "the share of a factor in the differences"),
    ("cause.verdict", "which explanation the evidence supports"),
    ("cause.associated", "what the failures are associated with most"),
    ("cause.patches", "patches of failures"),
    ("cause.tests.p_value", "some tests of pattern"),
    ("cause.tests.monte_carlo_error", "the simulation error of some tests"),
    ("cause.unsettled.comparable", "the comparable part of a level that can't be told apart"),
    ("cause.unsettled", "the share of a level that can't be told apart"),
    ("cause.kinds", "some tests of kinds of failure"),
    ("triage.vines", "the work vine by vine"),
    ("options.recommended", "which option is best"),
    ("options.value_of_information", "what it is worth to find out more first"),
    ("options.options.present_value", "the present value of the options"),
    ("options.options.cash_low_point", "the lowest cash balance"),
    ("options.options.first_crop_year", "the year of the first crop"),
    ("options.options.full_crop_year", "the year of the full crop"),
    ("options.options.probability_best", "how often an option is best"),
    ("options.options.yearly.income", "income by year"),
    ("options.options.yearly.crop_kg", "crop in kilograms by year"),
    ("order.option", "the option that the order is for"),
    ("order.orders.order", "the number to order"),
    ("order.orders.probability_enough", "the chance that an order is enough"),
    ("order.orders.order_by", "the day to order by"),
    ("order.orders.price", "what the order costs"),
];

/// What a factor or an explanation is called in a sentence; declared ones go by their own name.
pub const FACTORS: &[(&str, &str)] = &[
    ("variety", "variety"),
    ("clone", "clone"),
    ("rootstock", "rootstock"),
    ("batch", "batch"),
    ("row", "row"),
    ("place", "place in the block"),
    ("order", "planting order"),
    ("edge", "edge of the block"),
    ("chance", "chance"),
];

/// What a material's quantity of block.toml is called.
pub const MATERIAL_FIELDS: &[(&str, &str)] = &[
    ("first_year_stand", "first-year stand of “{material}”"),
    ("price_per_vine", "price of a vine of “{material}”"),
    ("mature_crop_kg", "crop of a mature vine of “{material}”"),
    ("price_per_kg", "price of the crop of “{material}”"),
];

/// Title of the caution that goes with every claim.
pub const CLAIMS_TITLE: &str = "Claims";

/// The cautions, shown with every report: title and text.
pub const CAUTION_LIST: &[(&str, &str)] = &[
    (
        "Eyes and wire",
        "Wear eye protection whenever wire is strained or cut and whenever canes are pulled out. Let the tension off first, and stand clear of the recoil.",
    ),
    (
        "Secateurs and digging",
        "Wear a cut-resistant glove on the holding hand and lock the blades when walking; take breaks. Before digging, find buried pipes and cables; don't work in a pit that could collapse.",
    ),
    (
        "Sprays and fumigation",
        "This report names no product and no dose. Follow the label and local licence rules; leave licensed work to those who hold the licence. Don't spray to test a guess. Shield young trunks.",
    ),
    (
        "Moving plant material",
        "Moving vines, cuttings, soil, posts or samples may need a permit or a plant passport. Ask the plant-health authority first, before anything leaves the block or comes into it.",
    ),
    (
        CLAIMS_TITLE,
        "This is not legal advice. Deadlines and limits differ by country and contract: have a licensed lawyer read yours. Keep the failed vines and their labels until the nursery has seen them, and admit no fault.",
    ),
    (
        "Associations, not causes",
        "Failures that go with a batch, a row or a crew are associated with it. Something else that goes along may lie behind it. Numbers of a small crew are no grading of people.",
    ),
    (
        "Estimates",
        "Years, money and chances are estimates from the inputs and assumptions listed here. They are no advice on tax, insurance or subsidies; look for deadlines of your own there.",
    ),
];

// Headings of columns.
pub const C_OPTION: &str = "Option";
pub const C_PRESENT_VALUE: &str = "Present value";
pub const C_BETWEEN: &str = "8 times in 10";
pub const C_CASH: &str = "Lowest balance";
pub const C_FULL: &str = "Full crop from";
pub const C_BEST: &str = "Best in";
pub const C_HOURS: &str = "Work, all years";
pub const C_BY: &str = "By";
pub const C_LOWEST: &str = "Lowest stand";
pub const C_HIGHEST: &str = "Highest stand";
pub const C_LEVEL: &str = "Level";
pub const C_SEEN: &str = "Seen";
pub const C_FAILED: &str = "Failed";
pub const C_MISSING: &str = "of these gone";
pub const C_NEVER_GREW: &str = "Never grew";
pub const C_STAND: &str = "Stand";
pub const C_TAKE: &str = "Take";
pub const C_INTERVAL: &str = "Interval";
pub const C_ADJUSTED: &str = "Adjusted";
pub const C_APART: &str = "Can be told apart";
pub const C_TEST: &str = "Looked at";
pub const C_DEALT: &str = "Dealt out anew";
pub const C_ANSWER: &str = "Answer";
pub const C_P: &str = "p‑value";
pub const C_P_ADJUSTED: &str = "adjusted";
pub const C_HOW: &str = "How tested";
pub const C_WHAT: &str = "What";
pub const C_FROM: &str = "From";
pub const C_PAIR: &str = "Pair";
pub const C_ODDS: &str = "Odds of failure";
pub const C_OTHERS: &str = "Others stand";
pub const C_EXCESS: &str = "Failures beyond the others";
pub const C_EXPLANATION: &str = "Explanation";
pub const C_PRIOR: &str = "Before";
pub const C_POSTERIOR: &str = "After these data";
pub const C_ROW: &str = "Row";
pub const C_PLACES: &str = "Places";
pub const C_POSITION: &str = "Position";
pub const C_DO: &str = "Do";
pub const C_WHY: &str = "Why";
pub const C_HARVEST: &str = "Harvest";
pub const C_COST: &str = "Cost";
pub const C_INCOME: &str = "Income";
pub const C_CROP: &str = "Crop share";
pub const C_CROP_KG: &str = "Crop, kg";
pub const C_ASSUMPTION: &str = "Assumption";
pub const C_NOW: &str = "Now";
pub const C_SWITCH: &str = "Changes at";
pub const C_TO: &str = "Then best";
pub const C_SHARE: &str = "Share";
pub const C_WORTH: &str = "Worth";
pub const C_ORDERED: &str = "Ordered";
pub const C_ENOUGH: &str = "Chance of enough";
pub const C_FILE: &str = "File";
pub const C_LINES: &str = "Lines";
pub const C_USED: &str = "Used";
pub const C_SET_ASIDE: &str = "Set aside";
pub const C_BLANK: &str = "Blank";
pub const C_WHERE: &str = "Where";
pub const C_HINT: &str = "Way out";
pub const C_VALUE: &str = "Value";
pub const C_UNIT: &str = "Unit";
pub const C_RANGE: &str = "Plausible range";
pub const C_SOURCE: &str = "Source";
pub const C_BLOCK: &str = "Block";
pub const C_ADVICE: &str = "Advice";
