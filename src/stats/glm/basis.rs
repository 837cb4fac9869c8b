//! Which columns of a design stand for themselves, and what the others equal.

use super::cholesky::dot;
use serde::Serialize;

/// A column that can't be told apart from those before it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Alias {
    pub column: usize,
    /// The column is the sum of these columns times these numbers; empty where no cell has it.
    pub equals: Vec<(usize, f64)>,
}

impl Alias {
    /// Whether a sum of coefficients with these weights gives the aliased column the weight of what it equals, so
    /// that setting its coefficient to 0 changes nothing.
    pub(in crate::stats) fn keeps(&self, weights: &[f64]) -> bool {
        let size = weights.iter().map(|w| w.abs()).fold(0.0, f64::max);
        let sum: f64 = self.equals.iter().map(|&(column, times)| times * weights[column]).sum();
        (sum - weights[self.column]).abs() <= 1e-6 * size
    }
}

/// The columns that stand for themselves, and what the others equal.
pub(crate) struct Basis {
    pub kept: Vec<usize>,
    pub aliased: Vec<Alias>,
}

impl Basis {
    /// Orthogonal factorisation (modified Gram-Schmidt, each column taken off twice: Golub 1965, `golub-1965`) in the
    /// order given; a column of which less than `tolerance` of its length is left is set aside, as pivoting to the
    /// end would.
    pub fn new(columns: Vec<Vec<f64>>, tolerance: f64) -> Self {
        let mut basis = Basis { kept: Vec::new(), aliased: Vec::new() };
        let (mut units, mut triangle): (Vec<Vec<f64>>, Vec<Vec<f64>>) = (Vec::new(), Vec::new());
        for (column, mut left) in columns.into_iter().enumerate() {
            let before = dot(&left, &left).sqrt();
            let mut shares = vec![0.0; units.len()];
            for _ in 0..2 {
                units.iter().zip(&mut shares).for_each(|(unit, share)| *share += take_off(&mut left, unit));
            }
            let length = dot(&left, &left).sqrt();
            if length <= tolerance * before || length == 0.0 {
                basis.aliased.push(Alias { column, equals: basis.sum_of(&triangle, shares) });
                continue;
            }
            left.iter_mut().for_each(|x| *x /= length);
            shares.push(length);
            units.push(left);
            triangle.push(shares);
            basis.kept.push(column);
        }
        basis
    }

    /// One value for each of `width` columns: those of the kept ones, 0 elsewhere.
    pub fn spread(&self, values: &[f64], width: usize) -> Vec<f64> {
        let mut all = vec![0.0; width];
        self.kept.iter().zip(values).for_each(|(&column, value)| all[column] = *value);
        all
    }

    /// Coefficients on the kept columns from shares on their unit vectors: back substitution.
    fn sum_of(&self, triangle: &[Vec<f64>], mut shares: Vec<f64>) -> Vec<(usize, f64)> {
        for k in (0..shares.len()).rev() {
            shares[k] /= triangle[k][k];
            let times = shares[k];
            shares.iter_mut().take(k).zip(&triangle[k]).for_each(|(share, t)| *share -= times * t);
        }
        let told = self.kept.iter().copied().zip(shares);
        told.filter(|(_, times)| times.abs() > 1e-9).collect()
    }
}

/// Takes the part along a unit vector off `left`, and returns its length.
fn take_off(left: &mut [f64], unit: &[f64]) -> f64 {
    let share = dot(left, unit);
    if share != 0.0 {
        left.iter_mut().zip(unit).for_each(|(x, u)| *x -= share * u);
    }
    share
}
