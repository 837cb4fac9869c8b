//! Moran's I: whether neighbours' values are alike.

use super::grid::Graph;
use super::joins::Moments;

/// Moran's I with its moments under permutation of the values over the sites; none without joins, with fewer than
/// four sites, or where all values are the same.
///
/// Letters: n sites, x their values less the mean, J joins, d the sites' numbers of neighbours. With weights of 1 in
/// both directions S0 = 2J, S1 = 4J, S2 = sum (2d)^2, and b2 = n sum x^4 / (sum x^2)^2:
/// I = n / S0 * 2 sum over joins x_a x_b / sum x^2, E = -1/(n - 1),
/// E[I^2] = (n ((n^2 - 3n + 3) S1 - n S2 + 3 S0^2) - b2 ((n^2 - n) S1 - 2n S2 + 6 S0^2)) / ((n - 1)^(3) S0^2).
/// Source: Moran 1950 (`moran-1950`); moments under randomisation by Cliff & Ord 1981 (`cliff-ord-1981`), section 1.5.
pub fn moran(values: &[f64], graph: &Graph) -> Option<Moments> {
    let n = values.len() as f64;
    let mean = values.iter().sum::<f64>() / n;
    let x: Vec<f64> = values.iter().map(|v| v - mean).collect();
    let squares: f64 = x.iter().map(|x| x * x).sum();
    let tiny = 1e-14 * values.iter().map(|v| v * v).sum::<f64>();
    if values.len() < 4 || graph.joins.is_empty() || squares.is_nan() || squares <= tiny {
        return None;
    }
    let products: f64 = graph.joins.iter().map(|&(a, b)| x[a as usize] * x[b as usize]).sum();
    let joins = graph.joins.len() as f64;
    let expected = -1.0 / (n - 1.0);
    let b2 = n * x.iter().map(|x| x.powi(4)).sum::<f64>() / (squares * squares);
    let variance = mean_square(n, graph, b2) - expected * expected;
    Some(Moments { observed: n / joins * products / squares, expected, variance: variance.max(0.0) })
}

/// E[I^2] under permutation.
fn mean_square(n: f64, graph: &Graph, b2: f64) -> f64 {
    let s0 = 2.0 * graph.joins.len() as f64;
    let s1 = 2.0 * s0;
    let s2: f64 = graph.degrees().into_iter().map(|d| (2.0 * f64::from(d)).powi(2)).sum();
    let plain = n * ((n * n - 3.0 * n + 3.0) * s1 - n * s2 + 3.0 * s0 * s0);
    let kurtosis = b2 * ((n * n - n) * s1 - 2.0 * n * s2 + 6.0 * s0 * s0);
    (plain - kurtosis) / ((n - 1.0) * (n - 2.0) * (n - 3.0) * s0 * s0)
}
