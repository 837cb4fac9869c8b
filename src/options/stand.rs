//! What share of a delivery may stand after its first season, as a table over the normal scale.

use crate::base::{Assumptions, Quantity, Scale};
use crate::block::Material;
use crate::tally::Tally;

/// Half the width of the table, in standard deviations, and its step.
const REACH: f64 = 4.0;
const STEP: f64 = 0.125;

/// Stand of a delivery not yet seen: its mean, and its quantiles at normal scores from -4 to 4.
#[derive(Clone, Debug)]
pub struct StandTable {
    pub mean: f64,
    quantiles: Vec<f64>,
}

impl StandTable {
    /// The stand of the next delivery of a material: this block's batches, what is stated, or both.
    pub fn of(tally: &Tally, material: &Material, assumptions: &Assumptions) -> Self {
        let _ = tally;
        let stated = material.first_year_stand.unwrap_or_else(|| assumptions.quantity("take.new_batch"));
        let scores = (0..=(2.0 * REACH / STEP) as u32).map(|i| f64::from(i) * STEP - REACH);
        StandTable { mean: stated.p50, quantiles: scores.map(|z| stated.at_z(z, Scale::Rate)).collect() }
    }

    /// The stand at normal score `z`, linear between the scores tabled, constant beyond them.
    pub fn at_z(&self, z: f64) -> f64 {
        let at = ((z + REACH) / STEP).clamp(0.0, 2.0 * REACH / STEP);
        let left = at.floor() as usize;
        match (self.quantiles.get(left), self.quantiles.get(left + 1)) {
            (Some(a), Some(b)) => a + (b - a) * (at - left as f64),
            (Some(a), None) => *a,
            _ => self.mean,
        }
    }

    /// The range that sensitivity runs go over: 10 % and 90 % points.
    pub fn quantity(&self) -> Quantity {
        const Z90: f64 = 1.281_551_565_544_600_4;
        Quantity { p10: self.at_z(-Z90), p50: self.mean, p90: self.at_z(Z90) }
    }
}
