//! What things are called in the report, and the sign and ink by which a picture shows them.

use crate::base::Assumptions;
use crate::base::words::{fill, report as words};
use crate::block::State;
use crate::plot::{Ink, Shape};
use crate::tally::Standing;
use crate::triage::Action;

/// How a class of places is named and drawn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Look {
    pub label: &'static str,
    pub shape: Shape,
    pub ink: Ink,
}

const fn look(label: &'static str, shape: Shape, ink: Ink) -> Look {
    Look { label, shape, ink }
}

/// What stands on a place, from sound to gone; every shape once, so that grey is enough.
pub const STANDINGS: [(Standing, Look); 9] = [
    (Standing::Alive, look(words::STATE_ALIVE, Shape::Dot, Ink::Green)),
    (Standing::Failed(State::NoBudburst), look(words::STATE_NO_BUDBURST, Shape::Square, Ink::Vermillion)),
    (Standing::Failed(State::Died), look(words::STATE_DIED, Shape::Cross, Ink::Vermillion)),
    (Standing::Failed(State::Dead), look(words::STATE_DEAD, Shape::Diamond, Ink::Vermillion)),
    (Standing::Failed(State::ScionDead), look(words::STATE_SCION_DEAD, Shape::Triangle, Ink::Purple)),
    (Standing::Failed(State::Missing), look(words::STATE_MISSING, Shape::Ring, Ink::Text)),
    (Standing::Unsure, look(words::STATE_UNSURE, Shape::Plus, Ink::Blue)),
    (Standing::NotSeen, look(words::STATE_NOT_SEEN, Shape::Dash, Ink::Quiet)),
    (Standing::Empty, look(words::STATE_EMPTY, Shape::Frame, Ink::Quiet)),
];

/// An action: its tape letter (ours), what it means, and how the map shows it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ActionLook {
    pub action: Action,
    pub letter: &'static str,
    pub means: &'static str,
    pub look: Look,
}

const fn action(action: Action, letter: &'static str, means: &'static str, look: Look) -> ActionLook {
    ActionLook { action, letter, means, look }
}

/// The actions, the most pressing first.
pub const ACTIONS: [ActionLook; 7] = [
    action(Action::Replace, "R", words::REPLACE_MEANS, look(words::REPLACE, Shape::Cross, Ink::Vermillion)),
    action(Action::Hold, "H", words::HOLD_MEANS, look(words::HOLD, Shape::Frame, Ink::Text)),
    action(Action::LookAgain, "L", words::LOOK_AGAIN_MEANS, look(words::LOOK_AGAIN, Shape::Plus, Ink::Blue)),
    action(Action::Move, "M", words::MOVE_MEANS, look(words::MOVE, Shape::Diamond, Ink::Purple)),
    action(Action::CutBack, "C", words::CUT_BACK_MEANS, look(words::CUT_BACK, Shape::Wedge, Ink::Orange)),
    action(Action::TakeUp, "T", words::TAKE_UP_MEANS, look(words::TAKE_UP, Shape::Triangle, Ink::Sky)),
    action(Action::Leave, "", words::LEAVE_MEANS, look(words::LEAVE, Shape::Dot, Ink::Green)),
];

/// What a factor or an explanation is called: pairs as "batch and place in the block".
pub fn factor(name: &str) -> String {
    let one = |part: &str| {
        let known = words::FACTORS.iter().find(|(n, _)| *n == part);
        known.map_or_else(|| part.replace('_', " "), |(_, said)| (*said).to_string())
    };
    name.split('+').map(one).collect::<Vec<_>>().join(" and ")
}

/// What a field of a result is called, by its path such as `rates.stand`; a field below a listed one goes by its name.
pub fn field(path: &str) -> String {
    let below = |p: &str| path.strip_prefix(p).is_some_and(|rest| rest.is_empty() || rest.starts_with('.'));
    let known = words::FIELDS.iter().filter(|(p, _)| below(p)).max_by_key(|(p, _)| p.len());
    known.map_or_else(|| path.rsplit('.').next().unwrap_or(path).replace('_', " "), |(_, said)| (*said).to_string())
}

/// What an assumption, or a quantity of a material, is called; a name that isn't known stands as it is.
pub fn assumption(name: &str, table: &Assumptions) -> String {
    let of_material = || {
        let (material, field) = name.strip_prefix("materials.\"")?.rsplit_once("\".")?;
        let (_, said) = words::MATERIAL_FIELDS.iter().find(|(f, _)| *f == field)?;
        Some(fill(said, &[("material", &material)]))
    };
    table.title(name).map(str::to_string).or_else(of_material).unwrap_or_else(|| name.to_string())
}

/// A sentence of the engine, made to stand alone: a capital first, a full stop last.
pub fn sentence(text: &str) -> String {
    let mut letters = text.trim().chars();
    let first = letters.next().map(|c| c.to_uppercase().to_string()).unwrap_or_default();
    let mut out = first + letters.as_str();
    if !out.is_empty() && !out.ends_with(['.', '!', '?']) {
        out.push('.');
    }
    out
}

/// A clause of the engine, to stand inside a sentence: without its full stop.
pub fn clause(text: &str) -> &str {
    text.trim().trim_end_matches('.')
}

/// "a, b and c".
pub fn listed<T: AsRef<str>>(items: &[T]) -> String {
    let items: Vec<&str> = items.iter().map(AsRef::as_ref).collect();
    match items.split_last() {
        None => String::new(),
        Some((last, [])) => (*last).to_string(),
        Some((last, rest)) => format!("{} and {last}", rest.join(", ")),
    }
}

/// How strongly a p-value speaks, by the cut points among the assumptions.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Strength {
    Clear,
    Likely,
    Hint,
    Nothing,
}

impl Strength {
    pub fn of(p: f64, assumptions: &Assumptions) -> Self {
        match p {
            p if p < assumptions.get("evidence.clear_below") => Strength::Clear,
            p if p < assumptions.get("evidence.likely_below") => Strength::Likely,
            p if p < assumptions.get("evidence.hint_below") => Strength::Hint,
            _ => Strength::Nothing,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_state_and_action_has_a_shape_of_its_own() {
        for (name, state) in State::NAMES {
            let standing = match state {
                State::Alive => Standing::Alive,
                State::Unsure => Standing::Unsure,
                failed => Standing::Failed(failed),
            };
            assert_eq!(STANDINGS.iter().filter(|(s, _)| *s == standing).count(), 1, "{name}");
        }
        for action in Action::ALL {
            assert_eq!(ACTIONS.iter().filter(|a| a.action == action).count(), 1, "{action:?}");
        }
        let distinct = |looks: Vec<Look>| {
            for (i, a) in looks.iter().enumerate() {
                assert!(looks[i + 1..].iter().all(|b| b.shape != a.shape && b.label != a.label), "{a:?}");
            }
        };
        distinct(STANDINGS.iter().map(|(_, l)| *l).collect());
        distinct(ACTIONS.iter().map(|a| a.look).collect());
        let mut letters: Vec<_> = ACTIONS.iter().map(|a| a.letter).collect();
        letters.sort_unstable();
        letters.dedup();
        assert_eq!(letters.len(), ACTIONS.len());
    }

    #[test]
    fn sentences_stand_alone() {
        assert_eq!(sentence("it pays "), "It pays.");
        assert_eq!(sentence(""), "");
        assert_eq!(listed(&["a", "b", "c"]), "a, b and c");
        assert_eq!(factor("batch+place"), "batch and place in the block");
    }
}
