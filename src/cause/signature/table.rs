//! What is known of the traces that causes leave: one entry a cause, as data, each statement with where it comes from.

use super::evidence::Feature;
use super::evidence::Feature::*;
use crate::base::SourceKey;
use crate::base::words::signature as words;
use serde::Serialize;

/// A cause that young vines fail of.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Cause {
    DryingInStore,
    UnionFailure,
    WoodAndRootDisease,
    Waterlogging,
    DriplineOrDrought,
    SpringFrost,
    WinterCold,
    Animals,
    Planting,
    HerbicideContact,
    UnionHeight,
    Soil,
    Taken,
}

/// Which way a finding speaks.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Speaks {
    For,
    Against,
    Neither,
}

/// Where a statement comes from.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Basis {
    Work(SourceKey),
    /// Seen in no source: as those who plant vines tell it.
    Practice,
    /// Remembered, not looked up.
    Memory,
}

impl Basis {
    pub(super) fn text(self) -> &'static str {
        match self {
            Basis::Work(key) => key,
            Basis::Practice => words::COMMON_PRACTICE,
            Basis::Memory => words::FROM_MEMORY,
        }
    }
}

/// What a feature says of a cause where it is shown, and where it was looked for and isn't there.
pub(super) struct Expectation {
    pub feature: Feature,
    pub shown: Speaks,
    pub not_there: Speaks,
    pub basis: Basis,
}

/// A cause with its traces.
pub(super) struct Entry {
    pub cause: Cause,
    /// What a grower calls it.
    pub title: &'static str,
    /// Its traces in words.
    pub says: &'static str,
    pub says_basis: Basis,
    pub expects: &'static [Expectation],
}

const fn on(feature: Feature, shown: Speaks, not_there: Speaks, basis: Basis) -> Expectation {
    Expectation { feature, shown, not_there, basis }
}

use Basis::{Memory, Practice, Work};
use Speaks::{Against, For, Neither};

/// The causes, in the order in which vines meet them. Esca is not among them: in the maps of grown
/// vineyards its signs begin about the sixth year (from an abstract).
pub(super) const ENTRIES: &[Entry] = &[
    Entry {
        cause: Cause::DryingInStore,
        title: words::DRYING_IN_STORE,
        says: words::DRYING_IN_STORE_SAYS,
        says_basis: Memory,
        expects: &[
            on(FollowsBatch, For, Neither, Memory),
            on(FollowsPlantingDay, For, Neither, Memory),
            on(NeverGrew, For, Against, Memory),
            on(BudsSwelled, Neither, For, Work("umn-extension-2020")),
            on(InPatches, Against, For, Memory),
            on(AlongOneRow, Against, Neither, Memory),
        ],
    },
    Entry {
        cause: Cause::UnionFailure,
        title: words::UNION_FAILURE,
        says: words::UNION_FAILURE_SAYS,
        says_basis: Memory,
        expects: &[
            on(FollowsBatch, For, Against, Memory),
            on(UnionOpens, For, Against, Memory),
            on(RootstockAlive, For, Neither, Memory),
            on(InPatches, Against, For, Memory),
            on(AlongOneRow, Against, Neither, Memory),
        ],
    },
    Entry {
        cause: Cause::WoodAndRootDisease,
        title: words::WOOD_AND_ROOT_DISEASE,
        says: words::WOOD_AND_ROOT_DISEASE_SAYS,
        says_basis: Work("gramaje-armengol-2011"),
        expects: &[
            on(FollowsBatch, For, Neither, Work("gramaje-armengol-2011")),
            on(LivingAreWeak, For, Neither, Work("ucce-black-foot-2015")),
            on(LowGround, For, Neither, Work("ucce-black-foot-2015")),
        ],
    },
    Entry {
        cause: Cause::Waterlogging,
        title: words::WATERLOGGING,
        says: words::WATERLOGGING_SAYS,
        says_basis: Memory,
        expects: &[
            on(InPatches, For, Against, Memory),
            on(LowGround, For, Against, Memory),
            on(FollowsBatch, Against, Neither, Memory),
        ],
    },
    Entry {
        cause: Cause::DriplineOrDrought,
        title: words::DRIPLINE,
        says: words::DRIPLINE_SAYS,
        says_basis: Memory,
        expects: &[
            on(AlongOneRow, For, Against, Memory),
            on(FollowsDeclared, For, Neither, Memory),
            on(NeverGrew, Against, For, Memory),
            on(FollowsBatch, Against, Neither, Memory),
        ],
    },
    Entry {
        cause: Cause::SpringFrost,
        title: words::SPRING_FROST,
        says: words::SPRING_FROST_SAYS,
        says_basis: Work("umn-extension-2020"),
        expects: &[
            on(BudsSwelled, For, Against, Work("umn-extension-2020")),
            on(InPatches, For, Neither, Memory),
            on(LowGround, For, Neither, Memory),
            on(FollowsBatch, Against, Neither, Memory),
        ],
    },
    Entry {
        cause: Cause::WinterCold,
        title: words::WINTER_COLD,
        says: words::WINTER_COLD_SAYS,
        says_basis: Work("umn-extension-2020"),
        expects: &[
            on(WinterBetween, For, Against, Practice),
            on(BudsSwelled, Against, For, Work("umn-extension-2020")),
            on(InPatches, For, Neither, Memory),
            on(UnionHeightOff, For, Neither, Memory),
        ],
    },
    Entry {
        cause: Cause::Animals,
        title: words::ANIMALS,
        says: words::ANIMALS_SAYS,
        says_basis: Memory,
        expects: &[
            on(AtEdge, For, Neither, Memory),
            on(Unguarded, For, Against, Memory),
            on(VinesMissing, For, Neither, Memory),
            on(FollowsBatch, Against, Neither, Memory),
        ],
    },
    Entry {
        cause: Cause::Planting,
        title: words::PLANTING,
        says: words::PLANTING_SAYS,
        says_basis: Memory,
        expects: &[
            on(FollowsDeclared, For, Neither, Memory),
            on(FollowsPlantingDay, For, Neither, Memory),
            on(LivingAreWeak, For, Neither, Memory),
            on(NeverGrew, Against, For, Memory),
            on(FollowsBatch, Against, Neither, Memory),
        ],
    },
    Entry {
        cause: Cause::HerbicideContact,
        title: words::HERBICIDE,
        says: words::HERBICIDE_SAYS,
        says_basis: Work("uga-extension-2018"),
        expects: &[
            on(Unguarded, For, Against, Work("uga-extension-2018")),
            on(AlongOneRow, For, Neither, Memory),
            on(AtEdge, For, Neither, Memory),
            on(NeverGrew, Against, For, Memory),
            on(FollowsBatch, Against, Neither, Memory),
        ],
    },
    Entry {
        cause: Cause::UnionHeight,
        title: words::UNION_HEIGHT,
        says: words::UNION_HEIGHT_SAYS,
        says_basis: Practice,
        expects: &[
            on(UnionHeightOff, For, Against, Practice),
            on(FollowsDeclared, For, Neither, Memory),
            on(LivingAreWeak, For, Neither, Memory),
        ],
    },
    Entry {
        cause: Cause::Soil,
        title: words::SOIL,
        says: words::SOIL_SAYS,
        says_basis: Work("stamp-2001"),
        expects: &[
            on(InPatches, For, Against, Memory),
            on(FollowsBatch, Against, Neither, Memory),
            on(LivingAreWeak, For, Neither, Memory),
        ],
    },
    Entry {
        cause: Cause::Taken,
        title: words::TAKEN,
        says: words::TAKEN_SAYS,
        says_basis: Practice,
        expects: &[on(VinesMissing, For, Against, Practice), on(AtEdge, For, Neither, Practice)],
    },
];
