//! What became of each vine, from its planting, its looks and its removal.

use crate::block::{Block, Look, Place, Register, RemovedWhy, State, Vine, VineIx, Walk};
use jiff::civil::Date;
use std::collections::HashSet;

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

/// Every vine's past up to one walk.
pub(super) struct Lives<'a> {
    pub register: &'a Register,
    /// Vine indices in order of place, then of the register.
    pub by_place: Vec<VineIx>,
    default_planting: Option<Date>,
    last_day: Date,
    removals: Vec<Option<Removal>>,
    pasts: Vec<Past<'a>>,
}

/// A removal up to the walk; undated where the register doesn't say when.
#[derive(Clone, Copy)]
struct Removal {
    on: Option<Date>,
    why: RemovedWhy,
}

/// What the looks up to the walk say of one vine.
#[derive(Clone, Copy, Default)]
struct Past<'a> {
    /// The failure that stands, if one does.
    failure: Option<State>,
    seen_alive: bool,
    /// The look in the chosen walk.
    look: Option<&'a Look>,
}

impl<'a> Past<'a> {
    fn see(&mut self, look: &'a Look) {
        match look.state {
            State::Alive => (self.failure, self.seen_alive) = (None, true),
            State::Unsure => {}
            state => self.failure = Some(self.told(state)),
        }
    }

    /// What a failing look tells, given those before it: who was seen alive did grow, and "dead, can't tell how"
    /// doesn't undo what an earlier look could tell.
    fn told(&self, state: State) -> State {
        match (state, self.failure) {
            (State::NoBudburst, _) if self.seen_alive => State::Died,
            (State::Dead, Some(told @ (State::NoBudburst | State::Died))) => told,
            _ => state,
        }
    }

    /// As it stands at the walk, if it wasn't removed. Being alive is not carried forward from earlier walks.
    fn standing(&self) -> Outcome {
        match (self.failure, self.look.map(|l| l.state)) {
            (Some(failure), _) => Outcome::Failed(failure),
            (None, Some(State::Alive)) => Outcome::Alive,
            (None, Some(_)) => Outcome::Unsure,
            (None, None) => Outcome::NotSeen,
        }
    }
}

impl<'a> Lives<'a> {
    /// Reads the walks up to `walks[chosen]`, one after the other.
    pub fn up_to(block: &Block, register: &'a Register, chosen: usize) -> Option<Self> {
        let mut by_place: Vec<VineIx> = (0..register.vines.len() as VineIx).collect();
        by_place.sort_by_key(|&ix| register.vines[ix as usize].place);
        let mut lives = Lives {
            register,
            by_place,
            default_planting: block.planted_on,
            last_day: register.walks.get(chosen)?.last_day,
            removals: Vec::new(),
            pasts: vec![Past::default(); register.vines.len()],
        };
        lives.removals = register.vines.iter().map(|v| lives.recorded_removal(v)).collect();
        lives.add_moves();
        for (at, walk) in register.walks.iter().enumerate().take(chosen + 1) {
            lives.add_walk(walk, at == chosen);
        }
        Some(lives)
    }

    fn add_walk(&mut self, walk: &'a Walk, chosen: bool) {
        for look in &walk.looks {
            let ix = look.vine as usize;
            let (Some(past), Some(removal)) = (self.pasts.get_mut(ix), self.removals.get(ix)) else { continue };
            if removal.is_some_and(|r| r.is_before(look)) {
                continue;
            }
            past.see(look);
            if chosen {
                past.look = Some(look);
            }
        }
    }

    fn recorded_removal(&self, vine: &Vine) -> Option<Removal> {
        let recorded = vine.removed_on.is_some() || vine.removed_why.is_some();
        let by_now = vine.removed_on.is_none_or(|on| on <= self.last_day);
        (recorded && by_now)
            .then_some(Removal { on: vine.removed_on, why: vine.removed_why.unwrap_or(RemovedWhy::Other) })
    }

    /// A vine that stands elsewhere now has left its first place, whether or not its first line says so.
    fn add_moves(&mut self) {
        for (ix, vine) in self.register.vines.iter().enumerate() {
            let first = self.first_record(ix as VineIx).filter(|_| self.is_planted(vine));
            let Some(first) = first.map(|f| f as usize) else { continue };
            let before = &self.register.vines[first];
            if before.removed_on.is_none() && before.removed_why.is_none() {
                self.removals[first] = Some(Removal { on: vine.planted_on, why: RemovedWhy::Moved });
            }
        }
    }

    /// The record of a moved vine at the place that it came from: the latest planted there before the move.
    fn first_record(&self, ix: VineIx) -> Option<VineIx> {
        let vine = self.register.vines.get(ix as usize)?;
        let before = |&other: &VineIx| other != ix && self.is_planted_by(other, self.planted_on(vine));
        self.at(vine.moved_from?).iter().copied().rfind(before)
    }

    /// Vines ever recorded at a place, in the order of planting.
    fn at(&self, place: Place) -> &[VineIx] {
        let key = |ix: &VineIx| self.register.vines[*ix as usize].place;
        let from = self.by_place.partition_point(|ix| key(ix) < place);
        let to = self.by_place.partition_point(|ix| key(ix) <= place);
        &self.by_place[from..to]
    }

    /// The day of its planting: its own, else the block's.
    pub fn planted_on(&self, vine: &Vine) -> Option<Date> {
        vine.planted_on.or(self.default_planting)
    }

    fn is_planted_by(&self, ix: VineIx, day: Option<Date>) -> bool {
        let planted = self.planted_on(&self.register.vines[ix as usize]);
        planted.is_none_or(|planted| day.is_none_or(|day| planted <= day))
    }

    /// Whether the vine had been planted by the walk's last day.
    pub fn is_planted(&self, vine: &Vine) -> bool {
        self.planted_on(vine).is_none_or(|on| on <= self.last_day)
    }

    /// The vine's look in the chosen walk.
    pub fn look(&self, ix: VineIx) -> Option<&'a Look> {
        self.pasts.get(ix as usize)?.look
    }

    pub fn is_removed(&self, ix: VineIx) -> bool {
        self.removals.get(ix as usize).is_some_and(Option::is_some)
    }

    /// How a vine that hasn't been removed stands.
    pub fn standing(&self, ix: VineIx) -> Outcome {
        self.pasts.get(ix as usize).map_or(Outcome::NotSeen, Past::standing)
    }

    /// The outcome of every vine of the register.
    pub fn outcomes(&self) -> Histories {
        let planted_over = self.planted_over();
        let vines = self.register.vines.iter().enumerate();
        vines.map(|(ix, vine)| self.outcome(ix as VineIx, vine, planted_over.contains(&(ix as VineIx)))).collect()
    }

    fn outcome(&self, ix: VineIx, vine: &Vine, planted_over: bool) -> Outcome {
        if !self.is_planted(vine) || self.first_record(ix).is_some() {
            return Outcome::NotCounted;
        }
        let standing = self.standing(ix);
        match (standing, self.removals.get(ix as usize).copied().flatten()) {
            (Outcome::Failed(_), _) => standing,
            (_, Some(removal)) => removal.outcome(),
            (_, None) if planted_over => Outcome::NotSeen,
            _ => standing,
        }
    }

    /// The vines that another one was planted after, at the same place and up to the walk.
    fn planted_over(&self) -> HashSet<VineIx> {
        let place = |ix: VineIx| self.register.vines[ix as usize].place;
        let planted = self.by_place.iter().copied().filter(|&ix| self.is_planted(&self.register.vines[ix as usize]));
        let planted: Vec<VineIx> = planted.collect();
        planted.windows(2).filter(|w| place(w[0]) == place(w[1])).map(|w| w[0]).collect()
    }
}

impl Removal {
    /// Whether a look came after it. Of an undated removal alive, a `missing` is taken to have come after.
    fn is_before(self, look: &Look) -> bool {
        match self.on {
            Some(on) => look.date > on,
            None => look.state == State::Missing && self.outcome() == Outcome::LeftAlive,
        }
    }

    /// What became of a vine that wasn't standing failed when removed.
    fn outcome(self) -> Outcome {
        match self.why {
            RemovedWhy::Failed => Outcome::Failed(State::Dead),
            RemovedWhy::Moved | RemovedWhy::Cleared | RemovedWhy::Dug => Outcome::LeftAlive,
            RemovedWhy::Other => Outcome::NotSeen,
        }
    }
}
