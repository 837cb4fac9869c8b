//! Sentences of the report's section about the pattern of failures.

// What can't be told apart.
pub const UNSETTLED: &str = "What can't be told apart";
pub const WOULD_SETTLE: &str = "What would settle it";
pub const SETTLE_INTRO: &str = "For {level}, from what costs a look to what costs a season";
pub const UNSETTLED_TABLE: &str = "Levels that something else explains as well";
pub const C_LEVEL: &str = "Level";
pub const C_AS_WELL: &str = "Explained as well by";
pub const C_EXCESS: &str = "Failures in excess";
pub const C_OWN_SHARE: &str = "Its own share of them";
pub const C_COMPARABLE: &str = "Rows that hold it and another";
pub const ROWS_IN_PART: &str = "rows, in part";
pub const NONE_SIGN: &str = "–";
pub const FROM_TO: &str = "{low} to {high}";
pub const COMPARABLE: &str =
    "odds ratio {odds} ({low} to {high}, unit: {unit}) from {vines} vines, {failed} failed, in {rows} rows; {runs}";
pub const BY_RUNS: &str = "{p} with the {unit} as unit";
pub const NOT_BY_RUNS: &str = "with the {unit} as unit no answer: {reason}";
pub const AT: &str = "Where: {places}.";
pub const IN_ROW: &str = "row {row}: {positions}";

// How well explanations fit.
pub const C_HAS_A_PART: &str = "Chance that it has a part";
pub const C_TIED: &str = "Failures tied to it, if so";
pub const TIED_TABLE: &str = "What the failures follow";
pub const WEIGHED: &str = "One model of failure, vine by vine, weighs these explanations against one another: prior odds from the assumptions, evidence from the counts. Half of what an explanation holds likely are differences between all its levels, half one odd level or two.";
pub const MOVES_NOT: &str = "Halving or doubling the prior odds of any one of them leaves the verdict as it is.";
pub const MOVES: &str = "The verdict hangs on the prior odds: {list}.";
pub const MOVES_TO: &str = "with those of {name} {times} it would be {verdict}";
pub const HALVED: &str = "halved";
pub const DOUBLED: &str = "doubled";
pub const CANNOT_TELL: &str = "that these data can't tell";
pub const C_LOG_EVIDENCE: &str = "Log evidence";
pub const TOLD: &str = "The failures are associated most with: {verdict} (probability {chance}).";
pub const ASSOCIATED: &str = "Failures are associated with {level}: {stand} of it stand, {others} of the others; about {excess} failures in excess.";
pub const COINCIDES: &str = "Of {level} about {excess} more vines failed than at the rate of the others, but {others} fit as well: how many of them are its own can't be told from these data.";
pub const COINCIDES_ONE: &str = "Of {level} about {excess} more vines failed than at the rate of the others, but {others} fits as well: how many of them are its own can't be told from these data.";

// Kinds of failure.
pub const KINDS: &str = "Of the failures {never} never grew and {died} grew and then died: these are counted and tested apart, for they come from different things.";
pub const KINDS_DEAD: &str = "Dead, and nobody can tell which: {n}; these may be of either kind.";
pub const KINDS_SCION_DEAD: &str = "Only the rootstock lives: {n}.";
pub const KINDS_MISSING: &str = "Missing vines ({n}) are no evidence against a batch and are left out of both.";
pub const KINDS_TABLE: &str = "Never grew, died later, missing: counts and tests";
pub const KINDS_TESTS: &str = "Tests of each kind";
pub const KINDS_COUNTS: &str = "Counts by batch and row";
pub const NEVER_GREW: &str = "Never grew";
pub const DIED_LATER: &str = "Died later";
pub const MISSING: &str = "Missing";
pub const C_KIND: &str = "Kind";
pub const C_ABOUT: &str = "Asked about";
pub const C_UNIT: &str = "Unit";
pub const C_FOUND: &str = "Found";
pub const C_EXPECTED: &str = "By chance";
pub const C_ADJUSTED: &str = "p‑value for all questions";
pub const C_SEEN: &str = "Seen";
pub const C_DEAD: &str = "Dead, kind not told";
pub const C_SCION_DEAD: &str = "Only rootstock alive";
/// What a test of a kind is about.
pub const ABOUT: &[(&str, &str)] = &[
    ("batch", "difference between batches"),
    ("row", "difference between rows"),
    ("edge", "edge against inside"),
    ("place", "standing beside each other"),
];

// What to look at.
pub const LOOK_AT: &str = "What to look at";
pub const LOOK_AT_INTRO: &str = "These checks tell most apart of what is still open, for most vines. What one finds is a hint and no diagnosis: photograph it, write it down, and ask the nursery, an adviser or a laboratory before drawing conclusions.";
pub const LOOK_AT_MORE: &str = "More to look at";
pub const FINDING: &str = "{found}: consistent with {causes}";
pub const SIGNATURES: &str = "Causes beside what this block shows";
pub const SIGNATURES_INTRO: &str = "For each cause what it would leave behind, and what of that this block shows. Several may be at work at once, and most of what is said of causes is the trade's memory rather than published: where each comes from stands behind it. None of this names a cause.";
pub const C_CAUSE: &str = "Cause";
pub const C_SAYS: &str = "What it leaves behind";
pub const C_FOR: &str = "Consistent with it";
pub const C_AGAINST: &str = "Speaks against it";
pub const C_NOT_LOOKED: &str = "Not looked at";
pub const STATEMENT: &str = "{said} [{source}]";
