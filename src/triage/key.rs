//! What the key looks at, and the thresholds it goes by.

use crate::block::{Block, Look, Plants, Register, VineIx};
use crate::tally::Calendar;
use crate::tally::{PlaceNow, Standing, Tally};
use jiff::civil::Date;

/// The thresholds in force.
#[derive(Clone, Debug)]
pub struct Key {
    /// Height of the wire, where block.toml gives it.
    pub wire_cm: Option<f64>,
    /// The trunk is measured this far below the wire; live wood up to there has reached it.
    pub below_wire_cm: f64,
    pub trunk_mm: f64,
    pub buds: f64,
    pub strong_class: f64,
    pub weak_class: f64,
    pub weak_height_share: f64,
    pub weak_mm: f64,
    /// Winters in a row a vine may be found weak before it is replaced.
    pub winters_weak: f64,
    /// A vine with more seasons than this is trained.
    pub seasons_until_trained: f64,
}

impl Key {
    /// The key of a block, from its layout and its assumptions.
    pub fn of(block: &Block) -> Self {
        let get = |name| block.assumptions.get(name);
        Key {
            wire_cm: block.layout.training_height_cm,
            below_wire_cm: get("triage.trunk_measured_below_wire_cm"),
            trunk_mm: get("triage.trunk_diameter_mm"),
            buds: get("triage.buds_when_cut_back"),
            strong_class: get("triage.strong_class_from"),
            weak_class: get("triage.weak_class_to"),
            weak_height_share: get("triage.weak_height_share"),
            weak_mm: get("triage.weak_diameter_mm"),
            winters_weak: get("triage.seasons_weak_before_replacing"),
            seasons_until_trained: get("triage.seasons_until_trained"),
        }
    }

    /// Whether the live wood reaches the wire: by its height, else as the walker said; none where neither is known.
    pub fn reached(&self, look: &Look) -> Option<bool> {
        self.reached_by_height(look).or(look.reached_wire)
    }

    /// Whether the measured height reaches the wire.
    pub fn reached_by_height(&self, look: &Look) -> Option<bool> {
        Some(f64::from(look.height_cm?) >= self.wire_cm? - self.below_wire_cm)
    }

    /// Weak: by the grower's class, or short of the share of the wire's height and not thick either.
    pub fn is_weak(&self, look: &Look) -> bool {
        let by_class = look.vigour.is_some_and(|v| f64::from(v) <= self.weak_class);
        let short = match (look.height_cm, self.wire_cm) {
            (Some(h), Some(wire)) => f64::from(h) < self.weak_height_share * wire,
            _ => false,
        };
        by_class || short && look.diameter_mm.is_none_or(|d| f64::from(d) < self.weak_mm)
    }
}

/// One place as the key sees it.
#[derive(Clone, Debug)]
pub struct Seen<'a> {
    pub standing: Standing,
    pub look: Option<&'a Look>,
    /// The batch, if terms are agreed for it.
    pub claimed: Option<&'a str>,
    /// Seasons that the vine has grown.
    pub seasons: u32,
    /// Winters in a row, this one included, in which the vine was found weak.
    pub winters_weak: u32,
}

/// Looks up what the key needs to know of each place.
pub struct Witness<'a> {
    block: &'a Block,
    register: Option<&'a Register>,
    walk: Option<Date>,
    calendar: Calendar,
    key: &'a Key,
}

impl<'a> Witness<'a> {
    pub fn new(block: &'a Block, tally: &Tally, key: &'a Key) -> Self {
        let register = match &block.plants {
            Plants::Vines(register) => Some(register),
            Plants::Counts(_) => None,
        };
        Witness { block, register, walk: tally.walk.map(|w| w.1), calendar: Calendar::of(block), key }
    }

    /// The place as the key sees it.
    pub fn see(&self, now: &'a PlaceNow) -> Seen<'a> {
        Seen {
            standing: now.standing,
            look: now.look.as_ref(),
            claimed: now.vine.and_then(|v| self.batch(v)).filter(|b| under_claim(self.block, b)),
            seasons: seasons_grown(self.block, &self.calendar, self.walk, now.vine),
            winters_weak: now.look.as_ref().map_or(0, |look| self.winters_weak(look)),
        }
    }

    /// The batch of a vine; none if unlabelled.
    pub fn batch(&self, vine: VineIx) -> Option<&'a str> {
        let factor = self.register?.factor("batch")?;
        factor.levels.get(*factor.codes.get(vine as usize)? as usize).map(String::as_str)
    }

    /// Winters in a row, back from this look, in which the vine was found weak. Walks of one winter count once, by
    /// the latest of them; a winter without a look ends the row.
    fn winters_weak(&self, look: &Look) -> u32 {
        if !self.key.is_weak(look) {
            return 0;
        }
        let mut winter = self.calendar.coming_harvest(look.date);
        let mut weak = 1;
        for earlier in self.earlier_looks(look) {
            let then = self.calendar.coming_harvest(earlier.date);
            if then == winter {
                continue;
            }
            if then != winter - 1 || !self.key.is_weak(earlier) {
                break;
            }
            winter = then;
            weak += 1;
        }
        weak
    }

    /// Looks at the same vine before this one, latest first.
    fn earlier_looks(&self, look: &Look) -> impl Iterator<Item = &'a Look> {
        let (vine, date) = (look.vine, look.date);
        let walks = self.register.map_or(&[][..], |r| &r.walks);
        let find = move |w: &'a crate::block::Walk| {
            let at = w.looks.binary_search_by_key(&vine, |l| l.vine).ok()?;
            w.looks.get(at)
        };
        walks.iter().rev().filter_map(find).filter(move |l| l.date < date)
    }
}

/// Whether terms are agreed for the batch, or for one of those that "L1|L3" may be.
pub fn under_claim(block: &Block, batch: &str) -> bool {
    block.terms.contains_key(batch) || batch.split('|').any(|one| block.terms.contains_key(one.trim()))
}

/// Seasons that a vine has behind it in the winter of the walk: from its planting date, else the block's, else one.
pub fn seasons_grown(block: &Block, calendar: &Calendar, walk: Option<Date>, vine: Option<VineIx>) -> u32 {
    let own = match (&block.plants, vine) {
        (Plants::Vines(register), Some(v)) => register.vines.get(v as usize).and_then(|v| v.planted_on),
        _ => None,
    };
    match (walk, own.or(block.planted_on)) {
        (Some(walk), Some(planted)) => calendar.seasons_grown(walk, planted),
        _ => 1,
    }
}
