//! Sentences about what can't be told apart, and what would settle it.

pub const ROWS_ALONE: &str = "{level} stands in {rows}, and no other {factor} does";
pub const ROWS_ALTERNATE: &str = "each row holds one {factor} only; {level} stands in {rows}";
pub const BAND: &str = "{rows} lie side by side, so that a step or a hollow in the ground there fits as well";
pub const ONE_GO: &str =
    "{level} was planted in one go, so that a day, a crew or anything else that changed while planting fits as well";
pub const SAME_VINES: &str = "the vines of {level} are those of {with}";
pub const THE_ORDER: &str = "the planting order";
pub const THE_GROUND: &str = "the ground under them";
pub const SAID: &str = "{level}: {failed} of {seen} vines failed, about {excess} more than at the rate of the other {factors}. These data can't tell whose they are: any share from none to all may be {level}'s own, the rest that of {others}.";
pub const SAID_PARTLY: &str = "{level}: {failed} of {seen} vines failed, about {excess} more than at the rate of the other {factors}. Only part of that can be told from {others}.";
pub const SAID_NO_EXCESS: &str = "{level}: {failed} of {seen} vines failed, no more than at the rate of the other {factors}; it can't be told from {others}.";
pub const COMPARABLE: &str = "In the {rows} that hold {level} and another {factor} ({vines} vines, {failed} failed) the odds of failure of {level} are {odds} times those of its neighbours.";
pub const THE_ROWS: &str = "rows";
pub const THE_ROW: &str = "row";

pub const NO_EXCESS: &str = "no more failed at this level than at the rate of the others";
pub const NO_EXCESS_HELP: &str = "nothing: there is no excess to share out";
pub const NO_OTHERS: &str = "no vine of another {factor} was seen";
pub const NO_OTHERS_HELP: &str = "a second {factor} in the block, or the block read together with others as an estate";
pub const NO_MIXED_ROW: &str = "no row holds vines of {level} and of another {factor}, both seen";
pub const NO_MIXED_ROW_HELP: &str = "next time, two or more of them in each row; replants of another one beside these";
pub const NO_ODDS: &str = "in the rows that hold both, one side has no failure or no survivor";
pub const NO_ODDS_HELP: &str = "more rows that hold both";
pub const NO_RUNS: &str =
    "within these rows the planted runs can be given their labels in one way only, or the vines' places aren't known";
pub const NO_RUNS_HELP: &str = "more rows that hold runs of both";

pub const RUNS_IN_BANDS: &str =
    "runs of {level} lie in bands across the rows, so that a hollow there would be taken for its doing";
pub const RUNS_IN_BANDS_HELP: &str = "next time, bundles planted in no fixed order";

// What would settle it.
pub const SETTLE_COMPARE: &str = "Compare row {mine} ({level}: {a} of {n} failed) with row {theirs} ({b} of {m} failed), side by side at the boundary. Ground fades out over a few rows and doesn't know where {level} ends; a sharp step along the whole boundary speaks for {level}, or for what changed with it when it was planted.";
pub const SETTLE_DIG: &str = "Dig up failed vines on both sides of the boundary, and a living one beside each; look at unions, roots and soil. The same finding on both sides speaks for the ground, a different one for {level} or how it was planted. Find pipes and cables first; photograph, label and keep the vines; let the nursery or an adviser be there where a claim is open.";
pub const SETTLE_RECORDS: &str = "Write down who planted {rows} on which day, from which store, on which valve, and lay it beside the map: if one of these changed where {level} doesn't, it can be told apart.";
pub const SETTLE_LABORATORY: &str = "A laboratory can say whether sick and healthy vines of {level} carry what those of another {factor} in the nearest rows don't: five to ten sick and five healthy of each, under code numbers (from memory). It can't say why vines dried out. Ask it, and the plant-health authority, before vines or soil travel.";
pub const SETTLE_SPARES: &str = "Vines of {level} that were never planted, potted up beside those of another {factor}, fail or grow without this ground.";
pub const SETTLE_ELSEWHERE: &str = "If {level} was planted elsewhere too, count it there, beside another {factor}.";
pub const SETTLE_NEXT: &str = "When the gaps are filled, plant two or more {factors} into each row, in bundles in no fixed order, and write each bundle down: then the ground can be told from the {factor}.";
