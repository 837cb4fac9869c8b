//! Replant what failed with the same variety on another rootstock, or with another clone of it.

use super::Standard;
use crate::base::words::options as words;
use crate::block::{Do, Which};

pub const OPTION: Standard = Standard {
    name: words::REPLANT_OTHER,
    what: words::REPLANT_WHAT,
    steps: |scene| Ok(vec![scene.step(Which::Failed, &[], Do::Replant, Some(scene.catalogue.another_stock))]),
};
