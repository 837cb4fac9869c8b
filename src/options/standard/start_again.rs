//! Clear the block and plant it again with the same material.

use super::Standard;
use crate::base::words::options as words;
use crate::block::{Do, Which};

pub const OPTION: Standard = Standard {
    name: words::START_AGAIN,
    what: words::START_AGAIN_WHAT,
    steps: |scene| {
        let plant = scene.step(Which::All, &[], Do::Plant, Some(scene.catalogue.own));
        let mut clear = scene.step(Which::All, &[], Do::Clear, None);
        clear.winter = plant.winter;
        Ok(vec![clear, plant])
    },
};
