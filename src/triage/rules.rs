//! The key: rules in order, the first that fires decides. A new rule is one entry of [`RULES`] and one function.
//!
//! Sources of the numbers stand with them in the table of assumptions; that a vine is judged by its cane at the wire
//! and cut back to buds otherwise is common practice.

use super::Action;
use super::key::{Key, Seen};
use crate::base::words::{fill, triage as words};
use crate::block::{Look, State, Union};
use crate::tally::Standing;

/// What a rule says of a vine.
#[derive(Clone, Debug, PartialEq)]
pub struct Verdict {
    pub action: Action,
    /// In plain words, with the vine's own numbers.
    pub why: String,
}

/// A rule of the key.
#[derive(Clone, Copy)]
pub struct Rule {
    /// Its name in results.
    pub name: &'static str,
    /// The verdict if it fires.
    pub judge: fn(&Seen, &Key) -> Option<Verdict>,
}

const fn rule(name: &'static str, judge: fn(&Seen, &Key) -> Option<Verdict>) -> Rule {
    Rule { name, judge }
}

/// The key. The last rule always fires.
pub const RULES: &[Rule] = &[
    rule("empty_place", empty_place),
    rule("missing", missing),
    rule("evidence_under_claim", evidence_under_claim),
    rule("never_grew", never_grew),
    rule("died", died),
    rule("dead", dead),
    rule("rootstock_only", rootstock_only),
    rule("union_gives_way", union_gives_way),
    rule("not_looked_at", not_looked_at),
    rule("not_told", not_told),
    rule("weak_again", weak_again),
    rule("trained", trained),
    rule("contradiction", contradiction),
    rule("short_of_the_wire", short_of_the_wire),
    rule("thick_at_the_wire", thick_at_the_wire),
    rule("thin_at_the_wire", thin_at_the_wire),
    rule("strong_by_eye", strong_by_eye),
    rule("weak_by_eye", weak_by_eye),
    rule("at_the_wire_by_eye", at_the_wire_by_eye),
    rule("unmeasured", unmeasured),
];

/// The first rule that fires, and what it says.
pub fn decide(seen: &Seen, key: &Key) -> (&'static str, Verdict) {
    let fired = RULES.iter().find_map(|r| Some((r.name, (r.judge)(seen, key)?)));
    fired.unwrap_or_else(|| ("unmeasured", verdict(Action::LookAgain, words::UNMEASURED.into())))
}

fn verdict(action: Action, why: String) -> Verdict {
    Verdict { action, why }
}

/// A verdict without numbers, if the vine failed in this way.
fn on_state(seen: &Seen, state: State, why: &str) -> Option<Verdict> {
    (seen.standing == Standing::Failed(state)).then(|| verdict(Action::Replace, why.into()))
}

/// The look at a living vine.
fn alive<'a>(seen: &Seen<'a>) -> Option<&'a Look> {
    seen.look.filter(|_| seen.standing == Standing::Alive)
}

fn empty_place(seen: &Seen, _: &Key) -> Option<Verdict> {
    (seen.standing == Standing::Empty).then(|| verdict(Action::Replace, words::EMPTY_PLACE.into()))
}

fn missing(seen: &Seen, _: &Key) -> Option<Verdict> {
    on_state(seen, State::Missing, words::MISSING)
}

fn evidence_under_claim(seen: &Seen, _: &Key) -> Option<Verdict> {
    let batch = seen.claimed?;
    let what = match seen.standing {
        Standing::Failed(state) => failed_words(state),
        _ => union_words(alive(seen)?.union?)?,
    };
    Some(verdict(Action::Hold, fill(words::EVIDENCE_UNDER_CLAIM, &[("what", &what), ("batch", &batch)])))
}

fn failed_words(state: State) -> &'static str {
    match state {
        State::NoBudburst => words::NEVER_GREW,
        State::Died => words::DIED,
        State::ScionDead => words::ROOTSTOCK_ONLY,
        State::Missing => words::MISSING,
        State::Dead | State::Alive | State::Unsure => words::DEAD,
    }
}

fn union_words(union: Union) -> Option<&'static str> {
    match union {
        Union::Moves => Some(words::UNION_MOVES),
        Union::Open => Some(words::UNION_OPEN),
        Union::Ok => None,
    }
}

fn never_grew(seen: &Seen, _: &Key) -> Option<Verdict> {
    on_state(seen, State::NoBudburst, words::NEVER_GREW)
}

fn died(seen: &Seen, _: &Key) -> Option<Verdict> {
    on_state(seen, State::Died, words::DIED)
}

fn dead(seen: &Seen, _: &Key) -> Option<Verdict> {
    on_state(seen, State::Dead, words::DEAD)
}

fn rootstock_only(seen: &Seen, _: &Key) -> Option<Verdict> {
    on_state(seen, State::ScionDead, words::ROOTSTOCK_ONLY)
}

fn union_gives_way(seen: &Seen, _: &Key) -> Option<Verdict> {
    let why = union_words(alive(seen)?.union?)?;
    Some(verdict(Action::Replace, why.into()))
}

fn not_looked_at(seen: &Seen, _: &Key) -> Option<Verdict> {
    (seen.standing == Standing::NotSeen).then(|| verdict(Action::LookAgain, words::NOT_LOOKED_AT.into()))
}

fn not_told(seen: &Seen, _: &Key) -> Option<Verdict> {
    (seen.standing == Standing::Unsure).then(|| verdict(Action::LookAgain, words::NOT_TOLD.into()))
}

fn weak_again(seen: &Seen, key: &Key) -> Option<Verdict> {
    alive(seen)?;
    let again = seen.winters_weak > 0 && f64::from(seen.winters_weak) >= key.winters_weak;
    let values: [(&str, &dyn std::fmt::Display); 2] = [("winters", &seen.winters_weak), ("most", &key.winters_weak)];
    again.then(|| verdict(Action::Replace, fill(words::WEAK_AGAIN, &values)))
}

fn trained(seen: &Seen, key: &Key) -> Option<Verdict> {
    let old = seen.standing == Standing::Alive && f64::from(seen.seasons) > key.seasons_until_trained;
    let values: [(&str, &dyn std::fmt::Display); 2] =
        [("seasons", &seen.seasons), ("most", &key.seasons_until_trained)];
    old.then(|| verdict(Action::Leave, fill(words::TRAINED, &values)))
}

fn contradiction(seen: &Seen, key: &Key) -> Option<Verdict> {
    let look = alive(seen)?;
    let (said, measured) = (look.reached_wire?, key.reached_by_height(look)?);
    let sentence = if said { words::SAID_REACHED_BUT_SHORT } else { words::SAID_SHORT_BUT_REACHED };
    let why = fill(sentence, &[("height", &look.height_cm?), ("wire", &key.wire_cm?)]);
    (said != measured).then(|| verdict(Action::LookAgain, why))
}

fn short_of_the_wire(seen: &Seen, key: &Key) -> Option<Verdict> {
    let look = alive(seen)?;
    if key.reached(look)? {
        return None;
    }
    let why = match (look.height_cm, key.wire_cm) {
        (Some(height), Some(wire)) => {
            fill(words::SHORT_OF_THE_WIRE, &[("height", &height), ("wire", &wire), ("buds", &key.buds)])
        }
        _ => fill(words::SHORT_BY_EYE, &[("buds", &key.buds)]),
    };
    Some(verdict(Action::CutBack, why))
}

/// Thickness at the wire of a vine that reached it.
fn trunk_mm(seen: &Seen, key: &Key) -> Option<f32> {
    let look = alive(seen)?;
    look.diameter_mm.filter(|_| key.reached(look) == Some(true))
}

fn thick_at_the_wire(seen: &Seen, key: &Key) -> Option<Verdict> {
    let mm = trunk_mm(seen, key).filter(|mm| f64::from(*mm) >= key.trunk_mm)?;
    Some(verdict(Action::TakeUp, fill(words::THICK_AT_THE_WIRE, &[("mm", &mm), ("least", &key.trunk_mm)])))
}

fn thin_at_the_wire(seen: &Seen, key: &Key) -> Option<Verdict> {
    let mm = trunk_mm(seen, key)?;
    let why = fill(words::THIN_AT_THE_WIRE, &[("mm", &mm), ("least", &key.trunk_mm), ("buds", &key.buds)]);
    Some(verdict(Action::CutBack, why))
}

fn strong_by_eye(seen: &Seen, key: &Key) -> Option<Verdict> {
    let class = alive(seen)?.vigour.filter(|v| f64::from(*v) >= key.strong_class)?;
    Some(verdict(Action::TakeUp, fill(words::STRONG_BY_EYE, &[("class", &class), ("least", &key.strong_class)])))
}

fn weak_by_eye(seen: &Seen, key: &Key) -> Option<Verdict> {
    let class = alive(seen)?.vigour?;
    let why = fill(words::WEAK_BY_EYE, &[("class", &class), ("least", &key.strong_class), ("buds", &key.buds)]);
    Some(verdict(Action::CutBack, why))
}

fn at_the_wire_by_eye(seen: &Seen, key: &Key) -> Option<Verdict> {
    let reached = key.reached(alive(seen)?)?;
    reached.then(|| verdict(Action::TakeUp, words::AT_THE_WIRE_BY_EYE.into()))
}

fn unmeasured(seen: &Seen, key: &Key) -> Option<Verdict> {
    let tall = seen.look.and_then(|l| l.height_cm).filter(|_| key.wire_cm.is_none());
    let why = match tall {
        Some(height) => fill(words::NO_WIRE_HEIGHT, &[("height", &height)]),
        None => words::UNMEASURED.into(),
    };
    Some(verdict(Action::LookAgain, why))
}
