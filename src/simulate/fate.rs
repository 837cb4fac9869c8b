//! What became of each vine, and how the living grew.

use super::random::normal;
use super::scenario::{Growth, Measured, Scenario};
use super::{effect::Truth, planting::Planting};
use crate::base::{Seed, seed};
use jiff::ToSpan;
use jiff::civil::Date;

/// What became of a vine by the last walk.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Fate {
    Lives,
    NeverGrew,
    /// Grew, and died on this day.
    Died(Date),
    /// Gone without a trace since this day.
    Gone(Date),
}

impl Fate {
    pub fn is_failed(self) -> bool {
        self != Fate::Lives
    }
}

/// Draws the fate of each vine from its probability of failure.
pub(super) fn draw(scenario: &Scenario, probability: &[f64], seed: Seed) -> Vec<Fate> {
    let mut fails = seed.stream("simulate.fail", 0);
    let mut how = seed.stream("simulate.how", 0);
    let mut one = |p: &f64| {
        if seed::uniform(&mut fails) >= *p {
            return Fate::Lives;
        }
        let (kind, when) = (seed::uniform(&mut how), seed::uniform(&mut how));
        failed(scenario, kind, when)
    };
    probability.iter().map(&mut one).collect()
}

/// The kind by the shares of [`super::Dying`], the day evenly between a month after planting and the last walk.
fn failed(scenario: &Scenario, kind: f64, when: f64) -> Fate {
    if kind < scenario.dying.never_grew {
        return Fate::NeverGrew;
    }
    let from = scenario.planted_on;
    let last = scenario.walks.iter().map(|w| w.date).max().unwrap_or(from);
    let days = (last - from).get_days().max(0);
    let day = i64::from(days.min(30)) + ((days - 30).max(0) as f64 * when) as i64;
    let on = later(from, day);
    if kind < scenario.dying.never_grew + scenario.dying.gone { Fate::Gone(on) } else { Fate::Died(on) }
}

/// The date so many days later.
pub(super) fn later(date: Date, days: i64) -> Date {
    date.saturating_add(days.clamp(0, 100_000).days())
}

/// A vine's cane at the end of the season.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Cane {
    pub height_cm: f32,
    /// At the height of the wire, were it that long.
    pub diameter_mm: f32,
}

/// Draws the canes; empty where no walk measures any.
pub(super) fn grow(scenario: &Scenario, planting: &Planting, truth: &Truth, seed: Seed) -> Vec<Cane> {
    if scenario.walks.iter().all(|w| w.measured == Measured::Nothing) {
        return Vec::new();
    }
    let mut rng = seed.stream("simulate.grow", 0);
    let vigour = |vine: usize| scenario.deliveries.get(planting.delivery[vine] as usize).map_or(0.0, |d| d.vigour);
    let place = |vine: usize| scenario.growth.place * truth.place[vine];
    let mut one = |vine| cane(&scenario.growth, vigour(vine) + place(vine), normal(&mut rng), normal(&mut rng));
    (0..scenario.places()).map(&mut one).collect()
}

/// Log-normal in height; diameter goes with a power of the height, log-normal about it.
fn cane(growth: &Growth, shift: f64, quality: f64, stoutness: f64) -> Cane {
    let longer = shift + growth.height_sd * quality;
    let thicker = growth.diameter_power * longer + growth.diameter_sd * stoutness;
    Cane {
        height_cm: (growth.height_cm * longer.exp()) as f32,
        diameter_mm: (growth.diameter_mm * thicker.exp()) as f32,
    }
}
