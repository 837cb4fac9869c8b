//! Latin hypercube sampling: each coordinate's values are spread evenly over (0, 1), in an order of their own (McKay,
//! Beckman & Conover 1979, `mckay-1979`). What is additive in the coordinates is then estimated with far less noise.

use crate::base::Seed;
use crate::base::seed::{shuffle, uniform};
use rayon::prelude::*;

/// `count` points of `dimensions` coordinates.
pub(super) struct Hypercube {
    count: usize,
    /// Coordinate after coordinate.
    values: Vec<f64>,
}

impl Hypercube {
    pub fn new(count: usize, dimensions: usize, seed: Seed) -> Self {
        let mut values = vec![0.0; count * dimensions];
        values.par_chunks_mut(count.max(1)).enumerate().for_each(|(dimension, values)| {
            let mut rng = seed.stream("mixed.hypercube", dimension as u64);
            values.iter_mut().enumerate().for_each(|(i, v)| *v = (i as f64 + uniform(&mut rng)) / count as f64);
            shuffle(values, &mut rng);
        });
        Hypercube { count, values }
    }

    pub fn at(&self, point: usize, dimension: usize) -> f64 {
        self.values[dimension * self.count + point]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_stratum_holds_one_point() {
        let cube = Hypercube::new(50, 3, Seed::new(5));
        for dimension in 0..3 {
            let mut strata: Vec<usize> = (0..50).map(|i| (50.0 * cube.at(i, dimension)) as usize).collect();
            assert_ne!(strata, (0..50).collect::<Vec<_>>());
            strata.sort_unstable();
            assert_eq!(strata, (0..50).collect::<Vec<_>>());
        }
    }
}
