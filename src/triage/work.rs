//! Labour and materials of this winter's work.

use super::Action;
use crate::base::Assumptions;
use std::collections::BTreeMap;

/// Numbers of vines (or places) by action; every action has an entry.
pub type Totals = BTreeMap<Action, u64>;

/// All actions at 0.
pub fn none() -> Totals {
    Action::ALL.iter().map(|a| (*a, 0)).collect()
}

/// Adds `n` places to an action.
pub fn add(totals: &mut Totals, action: Action, n: u64) {
    *totals.entry(action).or_insert(0) += n;
}

/// Hours of work. `gaps` of the places to replace hold nothing that must be pulled first.
pub fn hours(totals: &Totals, gaps: u64, assumptions: &Assumptions) -> f64 {
    let minutes = |name: &str, n: u64| assumptions.get(name) * n as f64;
    let n = |action| totals.get(&action).copied().unwrap_or(0);
    let replace = n(Action::Replace);
    let total = minutes("labour.take_up_minutes", n(Action::TakeUp))
        + minutes("labour.cut_back_minutes", n(Action::CutBack))
        + minutes("labour.look_again_minutes", n(Action::LookAgain))
        + minutes("labour.move_minutes", n(Action::Move))
        + minutes("labour.replant_minutes", replace)
        + minutes("labour.pull_minutes", replace.saturating_sub(gaps));
    total / 60.0
}

/// Things to buy: a vine and a guard for each place replaced, ties for these and the vines taken up.
pub fn materials(totals: &Totals, assumptions: &Assumptions) -> BTreeMap<&'static str, u64> {
    let n = |action| totals.get(&action).copied().unwrap_or(0);
    let replace = n(Action::Replace);
    let ties = (replace + n(Action::TakeUp)) as f64 * assumptions.get("material.ties_per_vine");
    BTreeMap::from([("guards", replace), ("ties", ties.ceil() as u64), ("vines", replace)])
}
