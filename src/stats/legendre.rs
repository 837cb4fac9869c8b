//! Gauss-Legendre quadrature.

/// Points and weights on (0, 1), rising: roots of the Legendre polynomial by Newton's method from Tricomi's starting
/// values (Abramowitz & Stegun 25.4.30; from memory).
pub fn gauss_legendre(n: usize) -> Vec<(f64, f64)> {
    let one = |i: usize| {
        let mut x = -(std::f64::consts::PI * (i as f64 + 0.75) / (n as f64 + 0.5)).cos();
        let mut slope = 1.0;
        for _ in 0..50 {
            let (mut below, mut value) = (1.0, x);
            for k in 2..=n {
                let k = k as f64;
                (below, value) = (value, ((2.0 * k - 1.0) * x * value - (k - 1.0) * below) / k);
            }
            slope = n as f64 * (x * value - below) / (x * x - 1.0);
            x -= value / slope;
        }
        (0.5 * (x + 1.0), 1.0 / ((1.0 - x * x) * slope * slope))
    };
    (0..n).map(one).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// n points integrate polynomials up to degree 2n - 1: the integral of x^k over (0, 1) is 1 / (k + 1).
    #[test]
    fn points_integrate_polynomials() {
        for n in [1, 6, 12] {
            let points = gauss_legendre(n);
            let moment = |k: i32| points.iter().map(|(x, w)| w * x.powi(k)).sum::<f64>();
            for k in 0..2 * n as i32 {
                assert!((moment(k) - 1.0 / f64::from(k + 1)).abs() < 1e-13, "{n} {k}");
            }
        }
    }
}
