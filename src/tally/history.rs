//! What became of each vine, from its planting, its looks and its removal.

use crate::block::State;

/// What became of a vine by the chosen walk.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Outcome {
    /// Not yet planted at the walk, or the later record of a moved vine, which its first record already counts.
    NotCounted,
    /// Planted, and nobody looked at it in this walk; or replaced without ever having been seen failed.
    NotSeen,
    Alive,
    /// Left the block alive: moved, cleared or dug.
    LeftAlive,
    /// Failed, and how; a failure seen in an earlier walk stands.
    Failed(State),
    Unsure,
}

/// Outcomes by vine index.
pub type Histories = Vec<Outcome>;
