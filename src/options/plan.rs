//! Steps compiled to cohorts of vines and paid jobs; knows no price and no rate, so one plan serves every draw.

use super::scene::{Scene, Unit};
use crate::base::words::{fill, options as words};
use crate::block::{Do, Step};
use crate::triage::Action;
use std::collections::BTreeMap;

/// How a cohort came to where it stands, which decides its take, its delay and its final share.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    OnTime,
    CutBack,
    /// Living, strength not known: partly on time, partly cut back.
    Unmeasured,
    Moved,
    /// Planted into a gap among older vines.
    Replanted,
    /// Planted where the ground is free.
    Planted,
}

/// Vines of one history.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Cohort {
    pub kind: Kind,
    /// Index of the stock.
    pub stock: usize,
    /// Leaf in year 1; a vine planted in winter w is in leaf y - w in year y.
    pub leaf: i32,
    /// Winter from which it stands here; 0 for vines found by the walk.
    pub from: u32,
    /// Winter in which it is removed.
    pub until: Option<u32>,
}

/// Work paid by the vine or place.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Job {
    TakeUp,
    CutBack,
    /// Look again, then take up or cut back.
    LookAgain,
    Pull,
    Move,
    Clear,
    /// Replant a gap with a stock.
    Replant(usize),
    /// Plant free ground with a stock.
    Plant(usize),
}

/// A course of action, priced by [`super::path::run`].
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Plan {
    /// Places of the block.
    pub places: f64,
    /// Cohorts with their places.
    pub cohorts: Vec<(Cohort, f64)>,
    /// Winter, job and number.
    pub jobs: Vec<(u32, Job, f64)>,
    /// Places without upkeep: from a winter until one in which they are planted again.
    pub idle: Vec<(u32, Option<u32>, f64)>,
}

impl Plan {
    /// Deliveries: stock and winter of every planting.
    pub fn deliveries(&self) -> impl Iterator<Item = (usize, u32)> {
        self.jobs.iter().filter_map(|(winter, job, _)| Some((job.stock()?, *winter)))
    }

    /// Places to fill by stock, and how many of them are gaps among older vines.
    pub fn places_to_fill(&self) -> BTreeMap<usize, (f64, f64)> {
        let mut needed = BTreeMap::new();
        for (_, job, n) in &self.jobs {
            if let Some(stock) = job.stock() {
                let (places, among_older) = needed.entry(stock).or_insert((0.0, 0.0));
                *places += n;
                *among_older += if matches!(job, Job::Replant(_)) { *n } else { 0.0 };
            }
        }
        needed
    }
}

impl Job {
    fn stock(self) -> Option<usize> {
        match self {
            Job::Replant(stock) | Job::Plant(stock) => Some(stock),
            _ => None,
        }
    }
}

/// Why steps can't be carried out, and the way out.
#[derive(Clone, Debug, PartialEq)]
pub struct Problem {
    pub problem: String,
    pub way_out: String,
}

impl Problem {
    pub fn new(problem: impl Into<String>, way_out: impl Into<String>) -> Self {
        Problem { problem: problem.into(), way_out: way_out.into() }
    }
}

/// Compiles the steps of one option, in order of their winters. `years` is the horizon.
///
/// Living vines that no step takes up, cuts back, moves or removes are worked on as triage says, in winter 0.
pub fn compile(scene: &Scene, steps: &[Step], years: u32) -> Result<Plan, Problem> {
    let mut ground = Ground::of(scene);
    let mut ordered: Vec<&Step> = steps.iter().collect();
    ordered.sort_by_key(|s| s.winter);
    for step in ordered {
        ground.check(step, years)?;
        ground.apply(step)?;
    }
    Ok(ground.finish())
}

/// What is on a place now.
#[derive(Clone, Copy, Debug)]
enum Now {
    /// A living vine, and whether a step has said what is done with it this winter.
    Living(Cohort, Told),
    /// A dead vine, to be pulled before planting.
    Body,
    /// Nothing, in a row that is kept.
    Gap,
    /// Freed or cleared in this winter.
    Idle(u32),
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Told {
    Nothing,
    Something,
}

/// Places of one unit in one condition; a unit of several places may come to stand in several.
#[derive(Clone, Copy, Debug)]
struct Spot {
    unit: usize,
    places: u64,
    now: Now,
}

struct Ground<'s, 'b> {
    scene: &'s Scene<'b>,
    spots: Vec<Spot>,
    past: BTreeMap<Cohort, u64>,
    jobs: BTreeMap<(u32, Job), u64>,
    idle: BTreeMap<(u32, Option<u32>), u64>,
}

impl<'s, 'b> Ground<'s, 'b> {
    fn of(scene: &'s Scene<'b>) -> Self {
        let spot = |(unit, u): (usize, &Unit)| Spot { unit, places: u.places, now: found(scene, u) };
        let spots = scene.units.iter().enumerate().map(spot).collect();
        Ground { scene, spots, past: BTreeMap::new(), jobs: BTreeMap::new(), idle: BTreeMap::new() }
    }

    /// What can be known to be wrong with a step before it is tried.
    fn check(&self, step: &Step, years: u32) -> Result<(), Problem> {
        if step.winter >= years {
            let values: [(&str, &dyn std::fmt::Display); 2] = [("winter", &step.winter), ("years", &years)];
            return Err(Problem::new(fill(words::BEYOND_HORIZON, &values), words::BEYOND_HORIZON_WAY_OUT));
        }
        if !step.target.places.is_empty() && !self.scene.knows_places() {
            return Err(Problem::new(words::NO_PLACES, words::NO_PLACES_WAY_OUT));
        }
        Ok(())
    }

    fn apply(&mut self, step: &Step) -> Result<(), Problem> {
        match step.action {
            Do::Leave => self.tell(step, None),
            Do::TakeUp => self.tell(step, Some((Kind::OnTime, Job::TakeUp))),
            Do::CutBack => self.tell(step, Some((Kind::CutBack, Job::CutBack))),
            Do::Clear => self.clear(step),
            Do::Replant => self.plant(step, Kind::Replanted)?,
            Do::Plant => self.plant(step, Kind::Planted)?,
            Do::Move => self.relocate(step)?,
        }
        Ok(())
    }

    fn targets(&self, step: &Step) -> Vec<usize> {
        let is_target = |i: &usize| self.unit(*i).is_some_and(|u| self.scene.is_target(u, &step.target));
        (0..self.spots.len()).filter(is_target).collect()
    }

    fn unit(&self, spot: usize) -> Option<&Unit> {
        self.scene.units.get(self.spots.get(spot)?.unit)
    }

    fn job(&mut self, winter: u32, job: Job, n: u64) {
        *self.jobs.entry((winter, job)).or_insert(0) += n;
    }

    /// Says what is done with living vines; without a job: nothing.
    fn tell(&mut self, step: &Step, told: Option<(Kind, Job)>) {
        for at in self.targets(step) {
            let spot = self.spots[at];
            let Now::Living(mut cohort, _) = spot.now else { continue };
            if let Some((kind, job)) = told {
                cohort.kind = kind;
                self.job(step.winter, job, spot.places);
            }
            self.spots[at].now = Now::Living(cohort, Told::Something);
        }
    }

    fn clear(&mut self, step: &Step) {
        for at in self.targets(step) {
            let places = self.spots[at].places;
            self.vacate(at, step.winter);
            self.spots[at].now = Now::Idle(step.winter);
            self.job(step.winter, Job::Clear, places);
        }
    }

    /// Ends what stood on a spot: a cohort or an idle time.
    fn vacate(&mut self, at: usize, winter: u32) {
        let Spot { places, now, .. } = self.spots[at];
        match now {
            Now::Living(cohort, _) if winter > cohort.from => {
                *self.past.entry(Cohort { until: Some(winter), ..cohort }).or_insert(0) += places;
            }
            Now::Idle(since) if winter > since => *self.idle.entry((since, Some(winter))).or_insert(0) += places,
            // What lasted no season leaves no trace.
            Now::Living(..) | Now::Idle(_) | Now::Body | Now::Gap => {}
        }
    }

    fn plant(&mut self, step: &Step, kind: Kind) -> Result<(), Problem> {
        let stock = self.stock(step)?;
        let mut targets = self.targets(step);
        // What failed by the walk and lives now has been planted or moved there since.
        let filled = |at: usize| self.lives(at) && self.unit(at).is_some_and(Unit::is_failed);
        targets.retain(|at| !filled(*at));
        if kind == Kind::Planted {
            targets.retain(|at| !self.lives(*at));
            if targets.is_empty() {
                return Err(Problem::new(words::NOTHING_TO_PLANT, words::NOTHING_TO_PLANT_WAY_OUT));
            }
        }
        for at in targets {
            self.plant_spot(at, step.winter, stock, kind);
        }
        Ok(())
    }

    fn plant_spot(&mut self, at: usize, winter: u32, stock: usize, kind: Kind) {
        let spot = self.spots[at];
        self.vacate(at, winter);
        if matches!(spot.now, Now::Body | Now::Living(..)) {
            self.job(winter, Job::Pull, spot.places);
        }
        let job = if kind == Kind::Planted { Job::Plant(stock) } else { Job::Replant(stock) };
        self.job(winter, job, spot.places);
        let cohort = Cohort { kind, stock, leaf: 1 - winter as i32, from: winter, until: None };
        self.spots[at].now = Now::Living(cohort, Told::Something);
    }

    /// The stock of a planting step, if it can be had by then.
    fn stock(&self, step: &Step) -> Result<usize, Problem> {
        let catalogue = &self.scene.catalogue;
        let known = || catalogue.stocks.iter().map(|s| format!("“{}”", s.name)).collect::<Vec<_>>().join(", ");
        let way_out = || fill(words::NAME_A_MATERIAL, &[("known", &known())]);
        let Some(name) = &step.material else { return Err(Problem::new(words::NO_MATERIAL, way_out())) };
        let Some(stock) = catalogue.named(name) else {
            return Err(Problem::new(fill(words::UNKNOWN_MATERIAL, &[("material", name)]), way_out()));
        };
        let first = catalogue.stocks[stock].first_winter;
        if step.winter < first {
            let values: [(&str, &dyn std::fmt::Display); 2] = [("material", name), ("winter", &step.winter)];
            return Err(Problem::new(
                fill(words::NOT_YET_TO_BE_HAD, &values),
                fill(words::FIRST_WINTER, &[("winter", &first), ("season", &self.scene.season(first))]),
            ));
        }
        Ok(stock)
    }

    /// Moves living vines into places that receive, one for one, until either runs out.
    fn relocate(&mut self, step: &Step) -> Result<(), Problem> {
        let receives =
            |at: &usize| !self.lives(*at) && self.unit(*at).is_some_and(|unit| self.scene.may_receive(unit, step));
        let mut receivers: Vec<usize> = (0..self.spots.len()).filter(receives).rev().collect();
        let mut sources: Vec<usize> = self.targets(step).into_iter().filter(|at| self.lives(*at)).rev().collect();
        if receivers.is_empty() && !sources.is_empty() {
            return Err(Problem::new(words::NO_RECEIVERS, words::NO_RECEIVERS_WAY_OUT));
        }
        while let (Some(source), Some(receiver)) = (sources.pop(), receivers.pop()) {
            let n = self.spots[source].places.min(self.spots[receiver].places);
            sources.extend(self.split(source, n));
            receivers.extend(self.split(receiver, n));
            self.move_all(source, receiver, step.winter);
        }
        Ok(())
    }

    fn lives(&self, at: usize) -> bool {
        matches!(self.spots[at].now, Now::Living(..))
    }

    /// Moves the vines of one spot to another of as many places.
    fn move_all(&mut self, source: usize, receiver: usize, winter: u32) {
        let Spot { places, now: Now::Living(cohort, _), .. } = self.spots[source] else { return };
        self.vacate(source, winter);
        self.vacate(receiver, winter);
        if matches!(self.spots[receiver].now, Now::Body) {
            self.job(winter, Job::Pull, places);
        }
        self.job(winter, Job::Move, places);
        let moved = Cohort { kind: Kind::Moved, from: winter, until: None, ..cohort };
        self.spots[receiver].now = Now::Living(moved, Told::Something);
        self.spots[source].now = Now::Idle(winter);
    }

    /// Cuts a spot down to `n` places and returns the spot that holds the others, if there are any.
    fn split(&mut self, at: usize, n: u64) -> Option<usize> {
        let rest = self.spots[at].places - n;
        self.spots[at].places = n;
        (rest > 0).then(|| {
            self.spots.push(Spot { places: rest, ..self.spots[at] });
            self.spots.len() - 1
        })
    }

    fn finish(mut self) -> Plan {
        for at in 0..self.spots.len() {
            let Spot { unit, places, now } = self.spots[at];
            match now {
                Now::Living(cohort, told) => {
                    *self.past.entry(cohort).or_insert(0) += places;
                    let action = self.scene.units.get(unit).map(|u| u.action);
                    if let Some(job) = action.and_then(work).filter(|_| told == Told::Nothing) {
                        self.job(0, job, places);
                    }
                }
                Now::Idle(since) => *self.idle.entry((since, None)).or_insert(0) += places,
                Now::Body | Now::Gap => {}
            }
        }
        Plan {
            places: self.scene.places() as f64,
            cohorts: self.past.into_iter().map(|(c, n)| (c, n as f64)).collect(),
            jobs: self.jobs.into_iter().map(|((winter, job), n)| (winter, job, n as f64)).collect(),
            idle: self.idle.into_iter().map(|((from, until), n)| (from, until, n as f64)).collect(),
        }
    }
}

/// What the walk found on the places of a unit.
fn found(scene: &Scene, unit: &Unit) -> Now {
    let kind = match unit.action {
        Action::TakeUp | Action::Leave | Action::Move => Kind::OnTime,
        Action::CutBack => Kind::CutBack,
        Action::LookAgain => Kind::Unmeasured,
        Action::Replace | Action::Hold if unit.body => return Now::Body,
        Action::Replace | Action::Hold => return Now::Gap,
    };
    let cohort = Cohort { kind, stock: scene.catalogue.own, leaf: unit.leaf, from: 0, until: None };
    Now::Living(cohort, Told::Nothing)
}

/// This winter's work on a vine that triage sorted so.
fn work(action: Action) -> Option<Job> {
    match action {
        Action::TakeUp => Some(Job::TakeUp),
        Action::CutBack => Some(Job::CutBack),
        Action::LookAgain => Some(Job::LookAgain),
        Action::Replace | Action::Move | Action::Hold | Action::Leave => None,
    }
}
