//! Sentences of the room `triage`.

pub const EMPTY_PLACE: &str = "no vine stands here";
pub const MISSING: &str = "the vine is gone";
pub const NEVER_GREW: &str = "it never grew after planting";
pub const DIED: &str = "it grew, then died";
pub const DEAD: &str = "it is dead";
pub const ROOTSTOCK_ONLY: &str = "only the rootstock lives";
pub const UNION_MOVES: &str = "the graft union moves under the thumb";
pub const UNION_OPEN: &str = "the graft union is open";
pub const EVIDENCE_UNDER_CLAIM: &str =
    "{what}; terms are agreed for batch {batch}: leave it standing until the nursery has seen it or it is sampled";
pub const NOT_LOOKED_AT: &str = "nobody looked at it in this walk";
pub const NOT_TOLD: &str = "looked at, but not told whether it lives";
pub const WEAK_AGAIN: &str = "weak for {winters} winters in a row; {most} is where a vine is replaced";
pub const TRAINED: &str = "alive after {seasons} seasons; vines of more than {most} are trained already";
pub const SAID_SHORT_BUT_REACHED: &str =
    "noted as short of the wire, but {height} cm of live cane were measured and the wire is at {wire} cm";
pub const SAID_REACHED_BUT_SHORT: &str =
    "noted as at the wire, but only {height} cm of live cane were measured and the wire is at {wire} cm";
pub const SHORT_OF_THE_WIRE: &str = "{height} cm of live cane, the wire is at {wire} cm: cut back to {buds} buds";
pub const SHORT_BY_EYE: &str = "it did not reach the wire: cut back to {buds} buds";
pub const THICK_AT_THE_WIRE: &str = "reached the wire and is {mm} mm thick there, {least} mm or more make a trunk";
pub const THIN_AT_THE_WIRE: &str =
    "reached the wire but is {mm} mm thick there, {least} mm or more make a trunk: cut back to {buds} buds";
pub const STRONG_BY_EYE: &str = "vigour class {class}, from {least} on a vine is taken up";
pub const WEAK_BY_EYE: &str = "vigour class {class}, from {least} on a vine is taken up: cut back to {buds} buds";
pub const AT_THE_WIRE_BY_EYE: &str = "reached the wire; its thickness was not measured";
pub const NO_WIRE_HEIGHT: &str =
    "{height} cm of live cane, but block.toml gives no training_height_cm to hold it against";
pub const UNMEASURED: &str = "alive, but its height, thickness or vigour was not noted";
pub const COUNTS_ONLY: &str = "only counts per row are known, not which vine is which";
pub const COUNTS_ONLY_HELP: &str =
    "walk the rows vine by vine: vines.csv and surveys.csv, one line for each bad vine and one \"rest\" line a row";
