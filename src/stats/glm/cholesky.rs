//! A Cholesky factor of an information matrix.

/// L L' = S A S with S the scale that gives A a unit diagonal. A direction without information gets no step.
pub(crate) struct Cholesky {
    scale: Vec<f64>,
    /// Rows of L.
    lower: Vec<Vec<f64>>,
}

impl Cholesky {
    pub fn new(matrix: Vec<Vec<f64>>) -> Self {
        let root = |d: f64| if d > 0.0 { 1.0 / d.sqrt() } else { 0.0 };
        let scale: Vec<f64> = matrix.iter().enumerate().map(|(k, row)| root(row[k])).collect();
        let mut lower: Vec<Vec<f64>> = Vec::with_capacity(matrix.len());
        for (i, values) in matrix.iter().enumerate() {
            let mut row = vec![0.0; i + 1];
            for j in 0..=i {
                let scaled = values[j] * scale[i] * scale[j];
                let left = scaled - dot(&row[..j], if j == i { &row[..j] } else { &lower[j][..j] });
                row[j] = match j == i {
                    true if left > 1e-15 => left.sqrt(),
                    true => f64::INFINITY,
                    false => left / lower[j][j],
                };
            }
            lower.push(row);
        }
        Cholesky { scale, lower }
    }

    pub fn solve(&self, right: &[f64]) -> Vec<f64> {
        let mut x: Vec<f64> = right.iter().zip(&self.scale).map(|(r, s)| r * s).collect();
        for i in 0..x.len() {
            x[i] = (x[i] - dot(&self.lower[i][..i], &x[..i])) / self.lower[i][i];
        }
        for i in (0..x.len()).rev() {
            x[i] /= self.lower[i][i];
            let known = x[i];
            x.iter_mut().take(i).zip(&self.lower[i]).for_each(|(x, l)| *x -= known * l);
        }
        x.iter().zip(&self.scale).map(|(x, s)| x * s).collect()
    }

    /// A^-1, row by row: S (M'M) S with M = L^-1.
    pub fn inverse(&self) -> Vec<Vec<f64>> {
        let rows = self.inverse_lower();
        let mut inverse = vec![vec![0.0; rows.len()]; rows.len()];
        for row in &rows {
            for (into, &x) in inverse.iter_mut().zip(row).filter(|(_, x)| **x != 0.0) {
                into.iter_mut().zip(row).for_each(|(sum, y)| *sum += x * y);
            }
        }
        for (row, x) in inverse.iter_mut().zip(&self.scale) {
            row.iter_mut().zip(&self.scale).for_each(|(value, y)| *value *= x * y);
        }
        inverse
    }

    /// Rows of L^-1: row i is the unit less the sum over k < i of L(i, k) times row k, over L(i, i).
    fn inverse_lower(&self) -> Vec<Vec<f64>> {
        let mut rows: Vec<Vec<f64>> = Vec::with_capacity(self.lower.len());
        for (i, lower) in self.lower.iter().enumerate() {
            let mut row = vec![0.0; i + 1];
            for (known, l) in rows.iter().zip(lower).filter(|(_, l)| **l != 0.0) {
                row.iter_mut().zip(known).for_each(|(x, k)| *x -= l * k);
            }
            row[i] = 1.0;
            row.iter_mut().for_each(|x| *x /= lower[i]);
            rows.push(row);
        }
        rows
    }

    /// ln det A; minus infinity where a direction is without information.
    pub fn ln_determinant(&self) -> f64 {
        let of = |(k, scale): (usize, &f64)| match self.lower[k][k] {
            root if root.is_finite() && *scale > 0.0 => 2.0 * (root / scale).ln(),
            _ => f64::NEG_INFINITY,
        };
        self.scale.iter().enumerate().map(of).sum()
    }
}

pub(crate) fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}
