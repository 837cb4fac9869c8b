//! Sentences of the room `options`.

pub const THE_SAME_VINES: &str = "the same vines";
pub const ANOTHER_STOCK: &str = "another stock";
pub const ANOTHER_VARIETY: &str = "another variety";

pub const LEAVE_GAPS: &str = "Leave the gaps";
pub const LEAVE_GAPS_WHAT: &str = "work on the {living} living, plant nothing in the {failed} gaps";
pub const REPLANT_SAME: &str = "Replant the same";
pub const REPLANT_OTHER: &str = "Replant another stock";
pub const REPLANT_WHAT: &str = "replant {failed} gaps with “{material}” {when}";
pub const REPLANT_HELD_WHAT: &str = "replant {now} gaps with “{material}” {when}, and {held} more once the nursery has seen or sampled what is held there for a claim";
pub const NO_GAPS_WHAT: &str = "work on the {living} living; there are no gaps";
pub const GATHER: &str = "Gather the survivors";
pub const GATHER_WHAT: &str =
    "move the living of {rows} into gaps of the other rows and plant the freed ground with “{material}” {when}";
pub const START_AGAIN: &str = "Start the block again";
pub const START_AGAIN_WHAT: &str = "clear the block and plant it with “{material}” {when}";
pub const NO_ROW_TO_FREE: &str = "no row can be freed: the gaps of the other rows do not take in its living vines";
pub const NO_ROW_TO_FREE_HELP: &str = "more gaps than one row has living vines, or other rows under free_rows";
pub const THIS_WINTER: &str = "this winter";
pub const NEXT_WINTER: &str = "next winter{season}";
pub const IN_WINTER: &str = "{winter} winters from now{season}";

pub const STEP: &str = "{do} {vines}{rows}{batch}{places}{material} {when}";
pub const STEP_ROWS: &str = " of {rows}";
pub const ROW_ONE: &str = "row {rows}";
pub const ROW_MANY: &str = "rows {rows}";
pub const STEP_BATCH: &str = " of batch {batch}";
pub const STEP_PLACES: &str = " at {n} places named";
pub const STEP_MATERIAL: &str = " with “{material}”";
pub const NO_STEPS: &str = "work on the living as sorted, nothing else";

pub const BEYOND_HORIZON: &str = "winter {winter} lies beyond the {years} years that options are followed";
pub const BEYOND_HORIZON_WAY_OUT: &str = "an earlier winter, or a longer options.horizon_years under [assumptions]";
pub const NO_PLACES: &str = "it names single places, but only counts per row are known";
pub const NO_PLACES_WAY_OUT: &str = "name rows instead, or record the vines one by one";
pub const NOTHING_TO_PLANT: &str = "every place to be planted holds a living vine";
pub const NOTHING_TO_PLANT_WAY_OUT: &str = "clear or move these vines in a step before, or use replant";
pub const NO_MATERIAL: &str = "a step plants, but names no material";
pub const UNKNOWN_MATERIAL: &str = "there is no material “{material}”";
pub const NAME_A_MATERIAL: &str = "name one of {known}";
pub const NOT_YET_TO_BE_HAD: &str = "“{material}” cannot be had yet in winter {winter}";
pub const FIRST_WINTER: &str = "the first winter that can be met is {winter}{season}";
pub const BEFORE_HARVEST: &str = " (before the harvest of {harvest})";
pub const NO_RECEIVERS: &str = "vines are to be moved, but no place receives them";
pub const NO_RECEIVERS_WAY_OUT: &str = "say to = \"failed\", and leave rows with gaps out of those that are emptied";

pub const BREAKS_CASH: &str = "needs {need} at its deepest, the limit is {limit}";
pub const BREAKS_HOURS: &str = "takes {need} in one winter, the limit is {limit}";
pub const BREAKS_FULL_BY: &str = "is full with the harvest of {full}, the limit is {limit}";
pub const NEVER_FULL_BY: &str = "is not full within the years looked at, the limit is {limit}";

pub const NO_PRICE: &str = "no price or crop is known for {materials}";
pub const NO_PRICE_HELP: &str = "price_per_kg and mature_crop_kg of these materials in block.toml";
pub const NO_CROP: &str = "no crop of a mature vine is known for {materials}";
pub const NOT_REACHED: &str = "not reached within {years} years at this probability";
pub const NOT_REACHED_HELP: &str = "a longer options.horizon_years, or an option that leaves fewer gaps";
pub const NO_DRAWS: &str = "nothing was drawn, only the expected path was followed";
pub const NO_DRAWS_HELP: &str = "--draws 2000";
pub const NOT_RANKED: &str = "the goal can't be told of this option";
pub const NO_HARVEST_YEAR: &str = "the walk has no date";
pub const NO_HARVEST_YEAR_HELP: &str = "surveyed_on in surveys.csv or counts.csv";
pub const NONE_WITHIN_LIMITS: &str = "every option breaks a limit or cannot be ranked";
pub const NONE_WITHIN_LIMITS_HELP: &str = "wider [limits] in block.toml, or an [[option]] that keeps within them";

pub const WHY_VALUE: &str = "“{name}” has the highest present value, {value} on average";
pub const WHY_VALUE_SECOND: &str = ", {lead} more than “{second}”";
pub const WHY_VALUE_TIED: &str = ", hardly more than “{second}”";
pub const WHY_VALUE_LEVEL: &str =
    "The draws don't tell “{name}” ({value} on average) from “{second}” ({highest}), and it changes less";
pub const WHY_FULL: &str = "“{name}” is fully productive soonest, in {year}";
pub const WHY_FULL_YEAR: &str = "year {year}";
pub const WHY_FULL_NEVER: &str =
    "no option within the limits is expected to be fully productive within {years} years; “{name}” asks for least cash";
pub const WHY_CASH_OF: &str = ", and asks for {cash} at its deepest";
pub const WHY_EVEN: &str = "“{name}” keeps the block most even: {share} of the places at one stage on average";
pub const WHY_CASH: &str = "“{name}” asks for least cash, {cash} at its deepest";
pub const WHY_FELL_BACK: &str =
    ". Without a price of the crop, options are ranked by the year of the full crop, then by cash";
pub const WHY_UNRANKED: &str = ". Not ranked for want of a price: {names}";
pub const WHY_NONE: &str = "No option keeps within the limits: {breaks}";
