//! A plan followed through the years with one set of values.
//!
//! Letters: y a harvest, 1 the coming one; w a winter, 0 that of the walk, before harvest w + 1. A cohort of n places
//! bears in year y
//!
//! > n x take x survival(y) x ramp(leaf(y) - delay) x final share
//!
//! of a mature crop each. Take: 1 for vines found living, `take.moved` for moved ones, the delivery's stand for new
//! ones, times `take.replant_factor` in gaps among older vines. Survival: (1 - loss)^(y - w) for vines that stood
//! before w, one year less for vines planted or moved in w, whose first year the take covers. Of what doesn't take of a
//! planting, `options.refill_share` is replanted the winter after with the same material, once; the rest stays a gap.
//! It takes as a vine in a gap among older ones does.
//! The ramp is linear between leaves.

use super::plan::{Cohort, Job, Kind, Plan};
use super::values::Values;
use crate::stats::cashflow::npv;

/// Stages that evenness tells apart: leaf 0 (not yet) to leaf 5 (mature).
const STAGES: usize = 6;

/// Year by year; index 0 is the winter of the walk, index y the harvest y and the winter after it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Path {
    /// Money of the steps.
    pub work: Vec<f64>,
    /// Upkeep.
    pub upkeep: Vec<f64>,
    /// Crop, kg; 0 throughout where a crop isn't known.
    pub crop_kg: Vec<f64>,
    pub harvest_cost: Vec<f64>,
    /// 0 throughout where a price or a crop isn't known.
    pub income: Vec<f64>,
    /// Crop as a share of what the block bears with a mature vine in every place.
    pub share: Vec<f64>,
    /// Share of places at the commonest stage, gaps being at none.
    pub evenness: Vec<f64>,
    /// Hours of the steps of each winter.
    pub hours: Vec<f64>,
}

impl Path {
    /// Nothing paid and nothing borne.
    pub fn zeros(years: usize) -> Self {
        let zeros = || vec![0.0; years + 1];
        Path {
            work: zeros(),
            upkeep: zeros(),
            crop_kg: zeros(),
            harvest_cost: zeros(),
            income: zeros(),
            share: zeros(),
            evenness: zeros(),
            hours: zeros(),
        }
    }

    /// Costs by year.
    pub fn costs(&self) -> Vec<f64> {
        let running = self.upkeep.iter().zip(&self.harvest_cost).map(|(u, h)| u + h);
        self.work.iter().zip(running).map(|(w, r)| w + r).collect()
    }

    /// Income less costs by year: the flows that are discounted.
    pub fn flows(&self) -> Vec<f64> {
        self.income.iter().zip(self.costs()).map(|(income, cost)| income - cost).collect()
    }

    /// Adds another path of the same horizon, year by year.
    pub fn add(&mut self, other: &Path) {
        for (mine, theirs) in self.series_mut().into_iter().zip(other.series()) {
            mine.iter_mut().zip(theirs).for_each(|(m, t)| *m += t);
        }
    }

    /// Divides every number.
    pub fn divide(&mut self, by: f64) {
        self.series_mut().into_iter().flatten().for_each(|v| *v /= by);
    }

    fn series(&self) -> [&Vec<f64>; 8] {
        let Path { work, upkeep, crop_kg, harvest_cost, income, share, evenness, hours } = self;
        [work, upkeep, crop_kg, harvest_cost, income, share, evenness, hours]
    }

    fn series_mut(&mut self) -> [&mut Vec<f64>; 8] {
        let Path { work, upkeep, crop_kg, harvest_cost, income, share, evenness, hours } = self;
        [work, upkeep, crop_kg, harvest_cost, income, share, evenness, hours]
    }
}

/// Whether what the plan's cohorts bear has a price and a weight.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Priced {
    pub crop: bool,
    pub income: bool,
}

/// Follows a plan. `deliveries` are those that the values' stands belong to.
pub fn run(plan: &Plan, v: &Values, deliveries: &[(usize, u32)], priced: Priced) -> Path {
    let mut path = Path::zeros(v.years);
    let mut stages = vec![[0.0; STAGES]; v.years + 1];
    pay_jobs(plan, v, &mut path);
    pay_upkeep(plan, v, &mut path);
    for (cohort, places) in &plan.cohorts {
        let took = take(cohort, v, deliveries);
        grow(cohort, places * took, v, priced, &mut path, &mut stages);
        if let Some(refill) = refill(cohort, v) {
            let n = places * (1.0 - took) * v.refill_share;
            pay(refill.from, Job::Pull, n, v, &mut path);
            pay(refill.from, Job::Replant(refill.stock), n, v, &mut path);
            let again = match cohort.kind {
                Kind::Replanted => took,
                _ => (took * v.replant_factor).min(1.0),
            };
            grow(&refill, n * again, v, priced, &mut path, &mut stages);
        }
    }
    let places = plan.places.max(1.0);
    path.share.iter_mut().for_each(|s| *s /= places);
    for (even, stages) in path.evenness.iter_mut().zip(&stages) {
        *even = stages.iter().copied().fold(0.0, f64::max) / places;
    }
    path
}

fn pay_jobs(plan: &Plan, v: &Values, path: &mut Path) {
    for (winter, job, n) in plan.jobs.iter().filter(|j| (j.0 as usize) <= v.years) {
        pay(*winter, *job, *n, v, path);
    }
}

fn pay(winter: u32, job: Job, n: f64, v: &Values, path: &mut Path) {
    let (minutes, things) = cost(job, v);
    let hours = n * minutes / 60.0;
    path.hours[winter as usize] += hours;
    path.work[winter as usize] += hours * v.labour_per_hour + n * things;
}

/// The cohort that takes the places of what fails of a planting, the winter after it; none of vines found or moved,
/// and none that would stand for no season.
fn refill(planted: &Cohort, v: &Values) -> Option<Cohort> {
    let from = planted.from + 1;
    let stands = from < planted.until.unwrap_or(u32::MAX) && (from as usize) < v.years;
    let is_new = matches!(planted.kind, Kind::Replanted | Kind::Planted);
    (is_new && stands).then_some(Cohort { kind: Kind::Replanted, leaf: planted.leaf - 1, from, ..*planted })
}

/// Minutes and money for things of one job on one vine or place.
fn cost(job: Job, v: &Values) -> (f64, f64) {
    let vine = |stock: usize| v.stocks.get(stock).map_or(0.0, |s| s.price_per_vine) + v.guard + v.ties;
    match job {
        Job::TakeUp => (v.take_up, v.ties),
        Job::CutBack => (v.cut_back, 0.0),
        Job::LookAgain => {
            let then = v.strong_share * v.take_up + (1.0 - v.strong_share) * v.cut_back;
            (v.look_again + then, v.strong_share * v.ties)
        }
        Job::Pull => (v.pull, 0.0),
        Job::Move => (v.shift, 0.0),
        Job::Clear => (0.0, v.clear),
        Job::Replant(stock) => (v.replant, vine(stock)),
        Job::Plant(stock) => (v.plant, vine(stock)),
    }
}

/// Upkeep of every place that isn't idle, gaps in rows that are kept included.
fn pay_upkeep(plan: &Plan, v: &Values, path: &mut Path) {
    for year in 1..=v.years {
        let is_idle = |from: u32, until: Option<u32>| year > from as usize && until.is_none_or(|u| year <= u as usize);
        let idle: f64 = plan.idle.iter().filter(|(from, until, _)| is_idle(*from, *until)).map(|i| i.2).sum();
        path.upkeep[year] = (plan.places - idle) * v.upkeep;
    }
}

/// Delay in years and final share of a full crop.
#[derive(Clone, Copy)]
struct Growth {
    delay: f64,
    full: f64,
}

/// How the vines of a kind grow, and which share of them so.
fn growths(kind: Kind, v: &Values) -> [(Growth, f64); 2] {
    let one = |delay, full| [(Growth { delay, full }, 1.0), (Growth { delay, full }, 0.0)];
    match kind {
        Kind::OnTime | Kind::Planted => one(0.0, 1.0),
        Kind::CutBack => one(v.cut_back_delay, 1.0),
        Kind::Moved => one(v.moved_delay, 1.0),
        Kind::Replanted => one(0.0, v.replant_final),
        Kind::Unmeasured => [
            (Growth { delay: 0.0, full: 1.0 }, v.strong_share),
            (Growth { delay: v.cut_back_delay, full: 1.0 }, 1.0 - v.strong_share),
        ],
    }
}

fn take(cohort: &Cohort, v: &Values, deliveries: &[(usize, u32)]) -> f64 {
    let stand = || {
        let at = deliveries.iter().position(|d| *d == (cohort.stock, cohort.from));
        at.and_then(|at| v.stands.get(at)).copied().unwrap_or(0.0)
    };
    match cohort.kind {
        Kind::OnTime | Kind::CutBack | Kind::Unmeasured => 1.0,
        Kind::Moved => v.take_moved,
        Kind::Planted => stand(),
        Kind::Replanted => (stand() * v.replant_factor).min(1.0),
    }
}

/// Lets `n` vines of a cohort live, bear and be harvested.
fn grow(cohort: &Cohort, n: f64, v: &Values, priced: Priced, path: &mut Path, stages: &mut [[f64; STAGES]]) {
    for (growth, share) in growths(cohort.kind, v) {
        grow_so(cohort, n * share, growth, v, priced, path, stages);
    }
}

fn grow_so(
    cohort: &Cohort,
    n: f64,
    growth: Growth,
    v: &Values,
    priced: Priced,
    path: &mut Path,
    stages: &mut [[f64; STAGES]],
) {
    if n <= 0.0 {
        return;
    }
    let stock = v.stocks.get(cohort.stock);
    let crop = stock.and_then(|s| s.crop_kg).filter(|_| priced.crop).unwrap_or(0.0);
    let price = stock.and_then(|s| s.price_per_kg).filter(|_| priced.income).unwrap_or(0.0);
    let stood = matches!(cohort.kind, Kind::OnTime | Kind::CutBack | Kind::Unmeasured);
    let mut alive = if stood { n * (1.0 - v.loss) } else { n };
    let last = cohort.until.map_or(v.years, |u| v.years.min(u as usize));
    for (year, stages) in stages.iter_mut().enumerate().take(last + 1).skip(cohort.from as usize + 1) {
        let leaf = f64::from(cohort.leaf) + year as f64 - 1.0 - growth.delay;
        let full = alive * at_leaf(&v.ramp, leaf) * growth.full;
        path.share[year] += full;
        path.crop_kg[year] += full * crop;
        path.harvest_cost[year] += full * crop * v.harvest_per_kg;
        path.income[year] += full * crop * price;
        stages[stage(leaf)] += alive;
        alive *= 1.0 - v.loss;
    }
}

fn stage(leaf: f64) -> usize {
    (leaf + 1e-9).floor().clamp(0.0, STAGES as f64 - 1.0) as usize
}

/// Share of a full crop at a leaf, linear between leaves, constant from leaf 5 on.
fn at_leaf(ramp: &[f64; STAGES], leaf: f64) -> f64 {
    let below = stage(leaf);
    let after = (below + 1).min(STAGES - 1);
    let part = (leaf - below as f64).clamp(0.0, 1.0);
    ramp[below] + (ramp[after] - ramp[below]) * part
}

/// What an option comes to: what the goals rank by.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Score {
    /// Present value at the winter of the walk; none without a price.
    pub value: Option<f64>,
    /// Deepest point of the running balance, 0 or below.
    pub cash: f64,
    /// First year of a crop, and of a full one; the year after the horizon where it isn't reached.
    pub first: f64,
    pub full: f64,
    /// Mean evenness over the years.
    pub evenness: f64,
}

/// Scores a path.
pub fn score(path: &Path, v: &Values, priced: Priced) -> Score {
    let reached = |share: f64| (1..=v.years).find(|y| path.share[*y] >= share).unwrap_or(v.years + 1);
    let first = reached(v.first_from);
    Score {
        value: priced.income.then(|| present_value(v.rate, &path.flows())),
        cash: cash_low_point(path, priced, first),
        first: first as f64,
        full: reached(v.full_from) as f64,
        evenness: path.evenness.iter().skip(1).sum::<f64>() / v.years as f64,
    }
}

/// Present value of yearly flows, that of the walk's winter first and not discounted.
pub fn present_value(rate: f64, flows: &[f64]) -> f64 {
    npv(rate, flows)
}

/// Lowest running balance, at most 0. Without a price of the crop: what is laid out for all steps, and for upkeep
/// before the year of the first crop, from which on the crop is taken to carry the upkeep.
fn cash_low_point(path: &Path, priced: Priced, first_crop: usize) -> f64 {
    if !priced.income {
        let before = path.upkeep.iter().take(first_crop);
        return -(path.work.iter().sum::<f64>() + before.sum::<f64>());
    }
    let mut balance = 0.0;
    path.flows().iter().fold(0.0, |low: f64, flow| {
        balance += flow;
        low.min(balance)
    })
}
