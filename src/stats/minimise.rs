//! Smooth minimisation with a gradient: BFGS (Nocedal & Wright 2006, `nocedal-wright-2006`, algorithm 6.1) with
//! backtracking and an approximate inverse Hessian that starts from given scales.

/// Settings of [`minimise`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Config {
    /// Stop where half the predicted decrease g'Hg is below this.
    pub tolerance: f64,
    pub most_steps: usize,
}

impl Default for Config {
    fn default() -> Self {
        Config { tolerance: 1e-8, most_steps: 200 }
    }
}

/// Where the search ended.
#[derive(Clone, Debug, PartialEq)]
pub struct Minimum {
    pub at: Vec<f64>,
    pub value: f64,
    pub converged: bool,
    /// Evaluations of the function.
    pub evaluations: usize,
}

/// Shortest step tried, as a share of the first.
const SHORTEST: f64 = 1e-10;
/// Share of the decrease that the slope promises which a step has to bring.
const SUFFICIENT: f64 = 1e-4;

/// Minimises `function` (value and gradient; none where it can't be evaluated) from `start`. `scale` is about how far
/// each coordinate has to move. None where the start can't be evaluated or lengths differ.
pub fn minimise(
    mut function: impl FnMut(&[f64]) -> Option<(f64, Vec<f64>)>,
    start: &[f64],
    scale: &[f64],
    config: &Config,
) -> Option<Minimum> {
    let n = start.len();
    let (mut value, mut gradient) =
        function(start).filter(|(v, g)| v.is_finite() && g.len() == n && scale.len() == n)?;
    let mut minimum = Minimum { at: start.to_vec(), value, converged: false, evaluations: 1 };
    let mut inverse = Inverse::diagonal(scale);
    for _ in 0..config.most_steps {
        let direction = inverse.downhill(&gradient);
        let slope = dot(&direction, &gradient);
        if -0.5 * slope < config.tolerance {
            minimum.converged = true;
            break;
        }
        let Some((step, next, next_gradient, tried)) = search(&mut function, &minimum.at, value, &direction, slope)
        else {
            // Rounding hides any further decrease.
            minimum.converged = -slope < 1e3 * config.tolerance;
            break;
        };
        minimum.evaluations += tried;
        let change: Vec<f64> = next_gradient.iter().zip(&gradient).map(|(a, b)| a - b).collect();
        inverse.update(&step, &change);
        minimum.at.iter_mut().zip(&step).for_each(|(x, s)| *x += s);
        (value, gradient) = (next, next_gradient);
        minimum.value = value;
    }
    Some(minimum)
}

type Found = (Vec<f64>, f64, Vec<f64>, usize);

/// Halves the step until the function falls by enough.
fn search(
    function: &mut impl FnMut(&[f64]) -> Option<(f64, Vec<f64>)>,
    at: &[f64],
    value: f64,
    direction: &[f64],
    slope: f64,
) -> Option<Found> {
    let (mut length, mut tried) = (1.0, 0);
    while length > SHORTEST {
        let step: Vec<f64> = direction.iter().map(|d| length * d).collect();
        let to: Vec<f64> = at.iter().zip(&step).map(|(x, s)| x + s).collect();
        tried += 1;
        match function(&to).filter(|(v, _)| v.is_finite()) {
            Some((next, gradient)) if next <= value + SUFFICIENT * length * slope => {
                return Some((step, next, gradient, tried));
            }
            // The minimum of the parabola through what is known, kept within a tenth and a half.
            Some((next, _)) => {
                let parabola = -0.5 * slope * length * length / (next - value - slope * length);
                length = parabola.clamp(0.1 * length, 0.5 * length);
            }
            None => length *= 0.25,
        }
    }
    None
}

/// An approximate inverse Hessian.
struct Inverse {
    rows: Vec<Vec<f64>>,
    fresh: bool,
}

impl Inverse {
    fn diagonal(scale: &[f64]) -> Self {
        let row = |i: usize| (0..scale.len()).map(|j| if i == j { scale[i] * scale[i] } else { 0.0 }).collect();
        Inverse { rows: (0..scale.len()).map(row).collect(), fresh: true }
    }

    /// -H g; the first step no longer than the scales.
    fn downhill(&self, gradient: &[f64]) -> Vec<f64> {
        let step: Vec<f64> = self.rows.iter().map(|row| -dot(row, gradient)).collect();
        let units = -dot(&step, gradient);
        let shrink = if self.fresh && units > 1.0 { 1.0 / units.sqrt() } else { 1.0 };
        step.iter().map(|s| shrink * s).collect()
    }

    fn update(&mut self, step: &[f64], change: &[f64]) {
        let curvature = dot(step, change);
        if curvature <= 1e-12 * dot(step, step).sqrt() * dot(change, change).sqrt() {
            return;
        }
        let h: Vec<f64> = self.rows.iter().map(|row| dot(row, change)).collect();
        let along = (1.0 + dot(&h, change) / curvature) / curvature;
        for (i, row) in self.rows.iter_mut().enumerate() {
            for (j, entry) in row.iter_mut().enumerate() {
                *entry += along * step[i] * step[j] - (h[i] * step[j] + step[i] * h[j]) / curvature;
            }
        }
        self.fresh = false;
    }
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Rosenbrock's valley, minimum 0 at (1, 1).
    #[test]
    fn follows_a_curved_valley() {
        let valley = |x: &[f64]| {
            let (a, b) = (1.0 - x[0], x[1] - x[0] * x[0]);
            Some((a * a + 100.0 * b * b, vec![-2.0 * a - 400.0 * x[0] * b, 200.0 * b]))
        };
        let found = minimise(valley, &[-1.2, 1.0], &[1.0, 1.0], &Config::default()).unwrap();
        assert!(found.converged && (found.at[0] - 1.0).abs() < 1e-4 && found.value < 1e-8, "{found:?}");
    }

    #[test]
    fn says_where_it_cannot_start() {
        assert_eq!(minimise(|_| None, &[0.0], &[1.0], &Config::default()), None);
    }
}
