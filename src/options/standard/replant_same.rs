//! Replant what failed with the same material.

use super::Standard;
use crate::base::words::options as words;
use crate::block::{Do, Which};

pub const OPTION: Standard = Standard {
    name: words::REPLANT_SAME,
    what: words::REPLANT_WHAT,
    steps: |scene| Ok(vec![scene.step(Which::Failed, &[], Do::Replant, Some(scene.catalogue.own))]),
};
