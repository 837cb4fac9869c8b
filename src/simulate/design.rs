//! What plantings are drawn from: size and shape of the block, its deliveries, and how they were dealt out.

use super::random::{between_logs, happens, whole};
use super::scenario::{Consignment, Dealt, Scenario};
use crate::base::seed;
use crate::block::PlantingOrder;
use rand::Rng;

/// Ranges from which plantings are drawn. Explanations are weighed given the planting, so that calibration may be
/// asked for over any such ranges.
#[derive(Clone, Debug, PartialEq)]
pub struct Design {
    /// Number of vines, log-uniform; met to within half a row.
    pub vines: (u32, u32),
    /// Number of deliveries, uniform. There are at least two rows for each.
    pub batches: (u32, u32),
    /// Ways to deal them out, equally likely; none: in bundles of 25.
    pub dealt: Vec<Dealt>,
    /// Metres between rows, and between the vines of a row; log-uniform.
    pub row_spacing_m: (f64, f64),
    pub vine_spacing_m: (f64, f64),
    /// Amount of a delivery, log-uniform: only the ratios count.
    pub amount: (f64, f64),
    /// Share of the blocks planted as a serpentine, the others from the same end of every row.
    pub serpentine: f64,
}

/// Bundles as grafted vines are commonly tied (common practice, no source).
pub const BUNDLES: Dealt = Dealt::Bundles { size: 25 };
/// Rows for each vine of a row's length, log-uniform: from long rows to short ones.
const SHAPE: (f64, f64) = (0.4, 1.6);
/// Rows that a delivery fills at least, so that each of them has some where they lie in rows of their own.
const ROWS_PER_BATCH: u32 = 2;

impl Default for Design {
    fn default() -> Self {
        Design {
            vines: (200, 2_000),
            batches: (3, 6),
            dealt: vec![BUNDLES, Dealt::WholeRows, Dealt::OneAfterAnother],
            row_spacing_m: (1.8, 3.0),
            vine_spacing_m: (0.9, 1.5),
            amount: (0.75, 1.33),
            serpentine: 0.7,
        }
    }
}

impl Design {
    /// A planting in which nothing is the matter.
    pub(super) fn draw(&self, rng: &mut impl Rng) -> Scenario {
        let vines = between_logs(f64::from(self.vines.0), f64::from(self.vines.1), rng);
        let shape = between_logs(SHAPE.0, SHAPE.1, rng);
        let batches = whole(self.batches.0, self.batches.1, rng);
        let rows = ((vines * shape).sqrt().round() as u32).max(ROWS_PER_BATCH * batches).max(1);
        let delivery = |i: u32, rng: &mut _| Consignment {
            amount: between_logs(self.amount.0, self.amount.1, rng),
            ..Consignment::named(&format!("L{i}"))
        };
        Scenario {
            rows,
            places_per_row: ((vines / f64::from(rows)).round() as u32).max(1),
            row_spacing_m: centimetres(between_logs(self.row_spacing_m.0, self.row_spacing_m.1, rng)),
            vine_spacing_m: centimetres(between_logs(self.vine_spacing_m.0, self.vine_spacing_m.1, rng)),
            planted: if happens(self.serpentine, rng) { PlantingOrder::Serpentine } else { PlantingOrder::SameEnd },
            deliveries: (1..=batches).map(|i| delivery(i, rng)).collect(),
            dealt: self.one_of_the_ways(rng),
            ..Scenario::default()
        }
    }

    fn one_of_the_ways(&self, rng: &mut impl Rng) -> Dealt {
        let way = seed::below(rng, self.dealt.len().max(1));
        self.dealt.get(way).copied().unwrap_or(BUNDLES)
    }
}

/// As a grower writes a spacing.
fn centimetres(metres: f64) -> f64 {
    (metres * 100.0).round() / 100.0
}
