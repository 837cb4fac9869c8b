//! Courses of action that the grower wants weighed (`[[option]]` in block.toml).

use super::register::Place;

/// Which vines a step is about, by state at the walk.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Which {
    Failed,
    Weak,
    Living,
    All,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Do {
    Leave,
    Replant,
    TakeUp,
    CutBack,
    Move,
    Clear,
    Plant,
}

/// The vines of a step: a state, narrowed by rows, batch or places (empty or none: not narrowed).
#[derive(Clone, Debug, PartialEq)]
pub struct Target {
    pub vines: Which,
    /// Indices of rows in the layout.
    pub rows: Vec<u32>,
    pub batch: Option<String>,
    pub places: Vec<Place>,
}

#[derive(Clone, Debug, PartialEq)]
pub struct Step {
    pub target: Target,
    pub action: Do,
    /// For `move`: the places that receive.
    pub to: Option<Which>,
    /// For `replant` and `plant`: a material's name.
    pub material: Option<String>,
    /// 0: the dormant season in progress on the walk's last day, else the next one; 1 the one after, and so on.
    pub winter: u32,
}

#[derive(Clone, Debug, PartialEq)]
pub struct Course {
    pub name: String,
    pub steps: Vec<Step>,
}
