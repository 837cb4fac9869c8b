//! Field checks that tell causes apart, as data: what one would find under which cause.

use super::table::{Basis, Cause};
use crate::base::words::signature as words;
use Basis::{Memory, Practice, Work};
use Cause::*;

/// The vines at which a check is made.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum At {
    /// Failed vines still standing.
    Failed,
    NeverGrew,
    DiedLater,
    /// Places where a vine is missing.
    Missing,
    /// No vine: papers, logs, spares.
    Papers,
}

/// What one may find, and the causes of which one would find it.
pub(super) struct Finding {
    pub found: &'static str,
    pub causes: &'static [Cause],
}

/// A check.
pub(super) struct Check {
    pub name: &'static str,
    /// What to do, in words.
    pub how: &'static str,
    pub at: At,
    pub findings: &'static [Finding],
    pub caution: &'static str,
    pub basis: Basis,
}

const fn finds(found: &'static str, causes: &'static [Cause]) -> Finding {
    Finding { found, causes }
}

/// The checks, from what costs a look to what costs a laboratory: checks that tell as much apart stand in this order.
pub(super) const CHECKS: &[Check] = &[
    Check {
        name: "papers",
        how: words::CHECK_PAPERS,
        at: At::Papers,
        findings: &[
            finds(words::FINDS_STORE, &[DryingInStore]),
            finds(words::FINDS_FROST_NIGHT, &[SpringFrost]),
            finds(words::FINDS_SPRAY, &[HerbicideContact]),
            finds(words::FINDS_COLD_NIGHT, &[WinterCold]),
            finds(words::FINDS_DAY_OR_CREW, &[Planting]),
            finds(words::FINDS_WATER_STOOD, &[Waterlogging]),
            finds(words::FINDS_VALVE, &[DriplineOrDrought]),
        ],
        caution: words::CAUTION_PAPERS,
        basis: Practice,
    },
    Check {
        name: "thumb",
        how: words::CHECK_THUMB,
        at: At::Failed,
        findings: &[
            finds(words::FINDS_OPEN_UNION, &[UnionFailure]),
            finds(
                words::FINDS_FIRM_UNION,
                &[
                    DryingInStore,
                    Waterlogging,
                    DriplineOrDrought,
                    SpringFrost,
                    WinterCold,
                    Planting,
                    HerbicideContact,
                    Soil,
                ],
            ),
        ],
        caution: words::CAUTION_THUMB,
        basis: Memory,
    },
    Check {
        name: "scratch",
        how: words::CHECK_SCRATCH,
        at: At::Failed,
        findings: &[
            finds(words::FINDS_GREEN_BELOW, &[UnionFailure, WinterCold, SpringFrost, Animals]),
            finds(words::FINDS_DRY_ALL, &[DryingInStore, Waterlogging, DriplineOrDrought]),
        ],
        caution: words::CAUTION_CUT,
        basis: Memory,
    },
    Check {
        name: "buds",
        how: words::CHECK_BUDS,
        at: At::NeverGrew,
        findings: &[
            finds(words::FINDS_SWOLLEN, &[SpringFrost]),
            finds(words::FINDS_UNSWOLLEN, &[DryingInStore, WinterCold]),
        ],
        caution: words::CAUTION_CUT,
        basis: Work("umn-extension-2020"),
    },
    Check {
        name: "bark",
        how: words::CHECK_BARK,
        at: At::DiedLater,
        findings: &[
            finds(words::FINDS_BITES, &[Animals]),
            finds(words::FINDS_BURN, &[HerbicideContact]),
            finds(
                words::FINDS_SOUND_BARK,
                &[DryingInStore, UnionFailure, Waterlogging, DriplineOrDrought, Planting, Soil],
            ),
        ],
        caution: words::CAUTION_SPRAY,
        basis: Work("uga-extension-2018"),
    },
    Check {
        name: "empty_places",
        how: words::CHECK_EMPTY,
        at: At::Missing,
        findings: &[finds(words::FINDS_GNAWED, &[Animals]), finds(words::FINDS_CLEAN_HOLE, &[Taken])],
        caution: words::CAUTION_NONE,
        basis: Practice,
    },
    Check {
        name: "emitters",
        how: words::CHECK_EMITTERS,
        at: At::DiedLater,
        findings: &[
            finds(words::FINDS_DRY_EMITTER, &[DriplineOrDrought]),
            finds(words::FINDS_WET_EMITTER, &[HerbicideContact, Animals, Planting, UnionFailure, Waterlogging, Soil]),
        ],
        caution: words::CAUTION_NONE,
        basis: Memory,
    },
    Check {
        name: "union_height",
        how: words::CHECK_HEIGHT,
        at: At::Failed,
        findings: &[
            finds(words::FINDS_OFF_HEIGHT, &[UnionHeight]),
            finds(words::FINDS_PROPER_HEIGHT, &[Waterlogging, DriplineOrDrought, UnionFailure, DryingInStore]),
        ],
        caution: words::CAUTION_NONE,
        basis: Practice,
    },
    Check {
        name: "spares",
        how: words::CHECK_SPARES,
        at: At::Papers,
        findings: &[
            finds(words::FINDS_SPARES_FAIL, &[DryingInStore, UnionFailure, WoodAndRootDisease]),
            finds(
                words::FINDS_SPARES_GROW,
                &[Waterlogging, DriplineOrDrought, SpringFrost, WinterCold, Animals, Planting, HerbicideContact, Soil],
            ),
        ],
        caution: words::CAUTION_SPARES,
        basis: Memory,
    },
    Check {
        name: "dig",
        how: words::CHECK_DIG,
        at: At::Failed,
        findings: &[
            finds(words::FINDS_TURNED_UP, &[Planting]),
            finds(words::FINDS_SOUR, &[Waterlogging]),
            finds(words::FINDS_DRY_BALL, &[DriplineOrDrought]),
            finds(words::FINDS_NO_NEW_ROOTS, &[DryingInStore]),
            finds(words::FINDS_LESIONS, &[WoodAndRootDisease]),
            finds(words::FINDS_GALLS, &[Soil]),
        ],
        caution: words::CAUTION_DIG,
        basis: Work("ucce-black-foot-2015"),
    },
    Check {
        name: "laboratory",
        how: words::CHECK_LAB,
        at: At::Failed,
        findings: &[
            finds(words::FINDS_FUNGI, &[WoodAndRootDisease]),
            finds(words::FINDS_IN_SOIL, &[Soil]),
            finds(
                words::FINDS_NOTHING_IN_LAB,
                &[DryingInStore, Waterlogging, DriplineOrDrought, UnionFailure, Planting],
            ),
        ],
        caution: words::CAUTION_LAB,
        basis: Work("halleen-2003"),
    },
];
