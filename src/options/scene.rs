//! What the options start from: the places after this winter's triage, the materials, the calendar.

use super::Walked;
use super::catalogue::Catalogue;
use crate::base::words::{fill, options as words};
use crate::block::{Block, Do, Place, Plants, Step, Target, Which};
use crate::tally::Tally;
use crate::triage::key::seasons_grown;
use crate::triage::{Action, Calendar, Triage, counts, is_gap};

/// Places of one row that triage sorted alike: one place where vines are known, more where only counts are.
#[derive(Clone, Debug, PartialEq)]
pub struct Unit {
    /// Index in the layout; none where counts name no row of it.
    pub row: Option<u32>,
    pub place: Option<Place>,
    /// Index into [`Scene::batches`].
    pub batch: Option<usize>,
    pub action: Action,
    /// Whether something stands there that must be pulled before planting.
    pub body: bool,
    /// Leaf that the vine is in in year 1: 2 if it has one season behind it.
    pub leaf: i32,
    pub places: u64,
}

impl Unit {
    /// Failed: what the key replaces or holds. All else lives, as far as is known.
    pub fn is_failed(&self) -> bool {
        matches!(self.action, Action::Replace | Action::Hold)
    }

    fn is(&self, which: Which) -> bool {
        match which {
            Which::Failed => self.is_failed(),
            Which::Living => !self.is_failed(),
            Which::Weak => self.action == Action::CutBack,
            Which::All => true,
        }
    }
}

/// The scene.
pub struct Scene<'a> {
    pub block: &'a Block,
    pub units: Vec<Unit>,
    pub batches: Vec<String>,
    pub catalogue: Catalogue,
    /// Calendar year of year 1's harvest; none where the walk has no date.
    pub first_harvest: Option<i16>,
}

impl<'a> Scene<'a> {
    pub fn of(block: &'a Block, walked: &Walked) -> Self {
        let calendar = Calendar::of(block);
        let Walked { tally, draws, triage } = *walked;
        let walk = tally.walk.map(|w| w.1);
        let first_winter = |m: &crate::block::Material| match (walk, m.available_from) {
            (Some(walk), Some(from)) => calendar.first_winter(walk, from),
            _ => 0,
        };
        let catalogue = Catalogue::of(block, tally, draws, first_winter);
        let first_harvest = walk.map(|w| calendar.coming_harvest(w));
        let mut scene = Scene { block, units: Vec::new(), batches: Vec::new(), catalogue, first_harvest };
        match (&tally.field, triage.vines.value()) {
            (Some(_), Some(_)) => scene.add_places(tally, triage),
            _ => scene.add_counts(tally),
        }
        scene
    }

    fn add_places(&mut self, tally: &Tally, triage: &Triage) {
        let calendar = Calendar::of(self.block);
        let walk = tally.walk.map(|w| w.1);
        let places = tally.field.iter().flat_map(|f| &f.places);
        for (now, work) in places.zip(triage.vines.value().into_iter().flatten()) {
            let unit = Unit {
                row: Some(work.place.row),
                place: Some(work.place),
                batch: work.batch.as_deref().map(|b| self.batch(b)),
                action: work.action,
                body: !is_gap(now.standing),
                leaf: leaf_after(seasons_grown(self.block, &calendar, walk, now.vine)),
                places: 1,
            };
            self.units.push(unit);
        }
    }

    fn add_counts(&mut self, tally: &Tally) {
        let walk = tally.walk.map(|w| w.1);
        let leaf = leaf_after(seasons_grown(self.block, &Calendar::of(self.block), walk, None));
        for line in counts::sort(self.block, tally) {
            let batch = line.batch.as_deref().map(|b| self.batch(b));
            for (action, n) in &line.totals {
                let gaps = if *action == Action::Replace { line.gaps.min(*n) } else { 0 };
                for (body, places) in [(false, gaps), (true, n - gaps)] {
                    let unit = Unit { row: line.row, place: None, batch, action: *action, body, leaf, places };
                    self.units.extend((places > 0).then_some(unit));
                }
            }
        }
    }

    fn batch(&mut self, name: &str) -> usize {
        self.batches.iter().position(|b| b == name).unwrap_or_else(|| {
            self.batches.push(name.into());
            self.batches.len() - 1
        })
    }

    /// All places.
    pub fn places(&self) -> u64 {
        self.units.iter().map(|u| u.places).sum()
    }

    /// Places of units for which `which` holds.
    pub fn count(&self, which: impl Fn(&Unit) -> bool) -> u64 {
        self.units.iter().filter(|u| which(u)).map(|u| u.places).sum()
    }

    /// Whether a step's target takes in a unit, by its state at the walk.
    pub fn is_target(&self, unit: &Unit, target: &Target) -> bool {
        let in_rows = target.rows.is_empty() || unit.row.is_some_and(|r| target.rows.contains(&r));
        let of_batch = |b: &String| unit.batch.and_then(|i| self.batches.get(i)) == Some(b);
        unit.is(target.vines)
            && in_rows
            && target.batch.as_ref().is_none_or(of_batch)
            && (target.places.is_empty() || unit.place.is_some_and(|p| target.places.contains(&p)))
    }

    /// Whether a unit may receive the vines that `step` moves: by state, and not in the rows that are emptied.
    pub fn may_receive(&self, unit: &Unit, step: &Step) -> bool {
        let emptied = unit.row.is_some_and(|r| step.target.rows.contains(&r));
        step.to.is_some_and(|to| unit.is(to)) && !emptied
    }

    /// Whether single places can be named.
    pub fn knows_places(&self) -> bool {
        matches!(self.block.plants, Plants::Vines(_))
    }

    /// The harvest after a winter, in words; nothing where the walk has no date.
    pub fn season(&self, winter: u32) -> String {
        let harvest = self.first_harvest.map(|h| i64::from(h) + i64::from(winter));
        harvest.map_or(String::new(), |h| fill(words::BEFORE_HARVEST, &[("harvest", &h)]))
    }

    /// Labels of rows, as a list to read.
    pub fn row_labels(&self, rows: &[u32]) -> String {
        let label = |r: &u32| self.block.layout.rows.get(*r as usize).map(|r| r.label.as_str());
        rows.iter().filter_map(label).collect::<Vec<_>>().join(", ")
    }

    /// A step on vines of one kind, in some rows (none: all), with a stock, in the first winter it can be had.
    pub fn step(&self, vines: Which, rows: &[u32], action: Do, stock: Option<usize>) -> Step {
        let stock = stock.and_then(|s| self.catalogue.stocks.get(s));
        Step {
            target: Target { vines, rows: rows.to_vec(), batch: None, places: Vec::new() },
            action,
            to: (action == Do::Move).then_some(Which::Failed),
            material: stock.map(|s| s.name.clone()),
            winter: stock.map_or(0, |s| s.first_winter),
        }
    }
}

fn leaf_after(seasons: u32) -> i32 {
    i32::try_from(seasons).unwrap_or(i32::MAX - 1) + 1
}
